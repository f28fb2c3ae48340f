//! What `prove` finds, as data. Reports turn it into words; nothing here is prose.

use crate::backwards::Backwards;
use crate::catching::Diode;
use crate::core_current::CoreCurrent;
use crate::noise::Source;
use crate::ringing::{NoRing, Ring};
use crate::stability::Capacitor;
use quietrail_job::model::{Subject, What};
use quietrail_job::{Address, Change};

/// Everything that `prove` found.
#[derive(Clone, Debug)]
pub struct Proof {
    /// Title of the job.
    pub title: String,
    /// `230 V 50 Hz`
    pub region: String,
    /// Names of the states, in the job's order.
    pub states: Vec<String>,
    /// One row per limit and state: the job's limits first, then the part ratings.
    pub limits: Vec<LimitFinding>,
    /// What was found about regulators that no limit asks for, in the order of the job.
    pub remarks: Vec<Remark>,
    /// Node voltages at nominal parts: lowest, nominal and highest mains, each state.
    pub nodes: Vec<NodeFinding>,
    /// Stress of each part at nominal parts and mains, each state.
    pub parts: Vec<PartFinding>,
    /// How the solution of each state at nominal ended.
    pub endings: Vec<Ending>,
    /// Figures that the job leaves out and that the answer leans on.
    pub assumptions: Vec<Assumption>,
    /// Ratings that the job does not give and that nothing is judged by.
    pub unrated: Vec<Unrated>,
    /// What the search spent.
    pub effort: Effort,
}

/// A part and the ratings that the job does not give of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unrated {
    /// The part.
    pub part: String,
    /// What they are called: `ripple current`.
    pub ratings: Vec<String>,
}

/// Something found about a part beside the limits.
#[derive(Clone, Debug, PartialEq)]
pub struct Remark {
    /// The part.
    pub part: String,
    /// What.
    pub about: About,
}

impl Remark {
    /// Addresses of what it is about in the job's text, the nearest first; the part itself comes last.
    pub fn written_at(&self) -> Vec<String> {
        let keys: &[&str] = match &self.about {
            About::LimitBelowLoad { .. } => &["limit", "limit_resistor", "part"],
            About::NeverStarts { .. } => &["foldback", "part"],
            About::OutputCapacitor(_) => &["stable_with", "part"],
            About::Rang(_) => &["rang"],
            About::MayNotReach { .. } => &["set.to", "set"],
            About::Diode(_) | About::AdjustDiode(_) => &["rated.backwards", "part"],
            About::Backwards(_) => &["between", "at"],
            About::CoreCurrent(_) => &[],
        };
        let keys = keys.iter().map(|key| format!("{}.{key}", self.part));
        keys.chain([self.part.clone()]).collect()
    }
}

/// What a remark is about.
#[derive(Clone, Debug, PartialEq)]
pub enum About {
    /// A current limit may be below what the loads ask for.
    LimitBelowLoad {
        /// The state that asks for most.
        state: String,
        /// Most that is asked for, A.
        asked: f64,
        /// Lowest that the limit may be, A.
        limit: f64,
    },
    /// A foldback meets a load that keeps the output down.
    NeverStarts {
        /// The state.
        state: String,
        /// Mains voltage, V.
        mains: f64,
        /// Where it stays, V.
        ends: f64,
        /// Whether it starts with parts as marked, and only not with the limit at its lowest and the load at its highest.
        is_corner: bool,
    },
    /// The output capacitor is outside the window of the data sheet, or may be; or none is drawn.
    OutputCapacitor(Capacitor),
    /// It rang too long when its load was stepped.
    Rang(Result<Ring, NoRing>),
    /// A diode from output to input is wanted, and none is drawn.
    Diode(Diode),
    /// A diode from adjust pin to output is wanted; the job cannot draw one.
    AdjustDiode(Diode),
    /// Direct current in a transformer's core, beside which what it takes off load is little.
    CoreCurrent(CoreCurrent),
    /// An electrolytic or a zener diode stands the wrong way round.
    Backwards(Backwards),
    /// The voltage asked for cannot be set whatever the tolerances do.
    MayNotReach {
        /// Asked for, V.
        to: f64,
        /// What can be set whatever the tolerances do, V; the first above the second where nothing can.
        sure: (f64, f64),
    },
}

impl About {
    /// Whether the supply fails by it, as by a limit. What shows as soon as it is set does not.
    pub fn fails(&self) -> bool {
        match self {
            About::LimitBelowLoad { .. }
            | About::NeverStarts { .. }
            | About::OutputCapacitor(_)
            | About::Backwards(_)
            | About::Rang(Err(_)) => true,
            About::Rang(Ok(ring)) => ring.margin < crate::ringing::POOR,
            // Nothing fails without it until an input is shorted.
            // How much a core bears of it nobody here computes.
            About::MayNotReach { .. }
            | About::Diode(_)
            | About::AdjustDiode(_)
            | About::CoreCurrent(_) => false,
        }
    }
}

/// A limit in a state: what was predicted, measured, and what both come to.
#[derive(Clone, Debug)]
pub struct LimitFinding {
    /// Name of the limit: the job's, or the part's name and the rating.
    pub name: String,
    /// What it is about.
    pub of: Subject,
    /// The statistic.
    pub what: What,
    /// Name of the state.
    pub state: String,
    /// Lowest allowed, SI.
    pub min: Option<f64>,
    /// Highest allowed, SI.
    pub max: Option<f64>,
    /// Unit symbol without prefix.
    pub unit: &'static str,
    /// The document that asks for it, or `rating` with the origin of the figure.
    pub from: String,
    /// Whether it is a part rating rather than a limit of the job.
    pub is_rating: bool,
    /// Value with all parts as marked at nominal mains.
    pub nominal: Option<f64>,
    /// Worst value found.
    pub worst: Option<f64>,
    /// Distance from the worst value to the nearer limit; negative when it fails.
    pub margin: Option<f64>,
    /// The same as a part of the limit (1 = all of it), for sorting; absent for a limit of zero
    /// (headroom), which sorts by volts.
    pub margin_share: Option<f64>,
    /// Where the worst was found: every figure that is not at its nominal, with its value there.
    pub corner: Vec<CornerTerm>,
    /// The computed verdict.
    pub predicted: Predicted,
    /// What readings say.
    pub measured: Measured,
    /// Both together.
    pub overall: Overall,
    /// What was read, where anything was.
    pub read: Option<Read>,
    /// Single changes that would help, best first.
    pub help: Vec<Help>,
    /// What a starved load gets, with parts as marked.
    pub gets: Option<Gets>,
    /// What makes most of a noise, at the worst corner found.
    pub mostly: Option<Mostly>,
}

/// What the readings of a limit come to.
#[derive(Clone, Debug, PartialEq)]
pub struct Read {
    /// Best estimate of what is there, SI.
    pub value: f64,
    /// One-sided bound below it.
    pub low: f64,
    /// One-sided bound above it.
    pub high: f64,
    /// Mains voltages at which it was read, each once, rising; empty where nobody looked.
    pub mains: Vec<f64>,
    /// The range that the mains may have, where the readings do not reach both its ends.
    pub mains_left: Option<(f64, f64)>,
    /// The step of the bring-up that is locked, or was when they were taken, where that keeps the readings from showing anything.
    pub locked_step: Option<String>,
    /// Whether it was locked when they were taken; else it has come to be locked since.
    pub was_locked: bool,
    /// Whether a step was done regardless of what kept it locked when this was read.
    pub regardless: bool,
}

/// The largest of the terms that make a noise.
#[derive(Clone, Debug, PartialEq)]
pub struct Mostly {
    /// Which source; `None` for the ripple, where both are asked for.
    pub source: Option<Source>,
    /// Its rms, V.
    pub rms: f64,
    /// Its share of the power.
    pub share: f64,
}

/// What a starved load gets.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gets {
    /// Mean current that it asks for, A.
    pub asked: f64,
    /// Mean current that it gets, A.
    pub amps: f64,
    /// Mean voltage across it, V.
    pub volts: f64,
}

/// One figure at a corner.
#[derive(Clone, Debug, PartialEq)]
pub struct CornerTerm {
    /// Which figure.
    pub address: Address,
    /// Its value there, SI.
    pub value: f64,
    /// Unit symbol without prefix.
    pub unit: &'static str,
    /// Its nominal, SI.
    pub nominal: f64,
    /// How much of the change from nominal to worst this figure makes (0 to 1): terms that matter come
    /// first, and words may leave out those below a percent.
    pub weight: f64,
}

/// Verdict of the computation.
#[derive(Clone, Debug, PartialEq)]
pub enum Predicted {
    /// Holds at the worst corner found.
    Holds,
    /// Fails at the worst corner found.
    Fails,
    /// No verdict.
    NotShown(WhyNot),
}

/// Why there is no predicted verdict.
#[derive(Clone, Debug, PartialEq)]
pub enum WhyNot {
    /// The solution did not settle; the reason and the part or node it names.
    NotSettled(String),
    /// A figure is missing from the job; its address or key.
    Missing(String),
    /// This statistic needs a part of quietrail that is not there yet.
    NotComputed,
    /// The node named has no path to common, so no voltage against it: a pair would have one.
    ApartFromCommon(String),
    /// The level does not settle within the time that is looked at after switching on.
    NeverStarts,
    /// What comes after the mains has gone could not be followed.
    NotFollowed,
    /// Diodes cut off the choke named, and how it then rings is up to capacitances that no job gives.
    CutOff(String),
    /// The same of the leakage inductance of the transformer named.
    LeakageCutOff(String),
    /// A noise figure is not known over the whole band that is asked.
    NoiseBeyond {
        /// Its address.
        figure: String,
        /// Frequencies between which it is known, Hz.
        known: (f64, f64),
        /// Those asked for, Hz.
        wanted: (f64, f64),
    },
    /// Noise that rises towards low frequencies has no end in a band from nothing.
    EndlessNoise {
        /// Its address.
        figure: String,
    },
    /// The value moves too much with the assumed loop time (tenfold either way).
    LeansOnLoopTime {
        /// Value with a tenth of the loop time.
        faster: f64,
        /// Value with ten times the loop time.
        slower: f64,
    },
}

/// Verdict of the readings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "the names are the contract's words")]
pub enum Measured {
    None,
    Holds,
    Fails,
    NotShown,
}

/// Prediction and readings together.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[allow(missing_docs, reason = "the names are the contract's words")]
pub enum Overall {
    Fails,
    NotShown,
    Predicted,
    Holds,
}

/// A single change that would help a limit.
#[derive(Clone, Debug, PartialEq)]
pub struct Help {
    /// The change.
    pub change: Change,
    /// Value of the figure before the change, SI; not a number for a swap.
    pub before: f64,
    /// Unit symbol without prefix.
    pub unit: &'static str,
    /// What a swap brings.
    pub with: Option<With>,
    /// Margin with it, at the same corner otherwise.
    pub margin: f64,
    /// Other limits of the same state that it makes worse by a telling amount, each at its own worst corner; the
    /// tightest first.
    pub costs: Vec<Cost>,
}

impl Help {
    /// Whether the limit holds with it.
    pub fn mends(&self) -> bool {
        self.margin >= 0.0
    }
}

/// What a swap brings.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum With {
    /// A catalogue entry: `Schottky 3 A`.
    Entry(String),
    /// The same part, fed from another winding: `T1.S2`.
    Winding(String),
    /// The same transformer, its selector at another position: `240 V`.
    Position(String),
}

/// What a change costs another limit.
#[derive(Clone, Debug, PartialEq)]
pub struct Cost {
    /// Name of the other limit.
    pub limit: String,
    /// Its statistic.
    pub what: What,
    /// Its unit.
    pub unit: &'static str,
    /// Its margin at its own worst corner without the change.
    pub before: f64,
    /// The same with the change.
    pub after: f64,
}

impl Cost {
    /// Whether it holds without the change and fails with it.
    pub fn fails(&self) -> bool {
        self.before >= 0.0 && self.after < 0.0
    }
}

/// Voltage of a node in a state, over one mains cycle.
#[derive(Clone, Debug, PartialEq)]
pub struct NodeFinding {
    /// Its name.
    pub node: String,
    /// The state.
    pub state: String,
    /// Mains voltage, rms.
    pub mains: f64,
    /// Mean over the cycle.
    pub mean: f64,
    /// Lowest instant.
    pub valley: f64,
    /// Highest instant.
    pub peak: f64,
    /// rms of the alternating part.
    pub ripple_rms: f64,
    /// Peak minus valley.
    pub ripple_pp: f64,
}

/// Stress of a part in a state, parts as marked, nominal mains.
#[derive(Clone, Debug, PartialEq)]
pub struct PartFinding {
    /// Its name.
    pub part: String,
    /// The state.
    pub state: String,
    /// What and how much, SI: (`rms current`, 1.2, `A`).
    pub stress: Vec<(What, f64, &'static str)>,
}

/// How the solution of a state ended.
#[derive(Clone, Debug, PartialEq)]
pub struct Ending {
    /// The state.
    pub state: String,
    /// Whether it settled.
    pub settled: bool,
    /// In words of the engine, with names put back.
    pub reason: String,
    /// Largest change over one more cycle, relative.
    pub residual: f64,
    /// Charge balance, relative.
    pub charge_balance: f64,
    /// Energy balance, relative.
    pub energy_balance: f64,
    /// Largest Floquet multiplier.
    pub floquet: f64,
}

/// A figure that the job leaves out.
#[derive(Clone, Debug, PartialEq)]
pub struct Assumption {
    /// Its address or key.
    pub address: String,
    /// The value taken, printed with its unit.
    pub value: String,
    /// Why this value.
    pub why: &'static str,
}

/// What the search spent.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Effort {
    /// Steady states solved.
    pub solutions: u64,
    /// Distinct corners among them.
    pub corners: u64,
}

impl Overall {
    /// Merges prediction and readings as the contract says.
    pub fn of(predicted: &Predicted, measured: Measured) -> Self {
        match (predicted, measured) {
            (Predicted::Fails, _) | (_, Measured::Fails) => Overall::Fails,
            (_, Measured::Holds) => Overall::Holds,
            (Predicted::NotShown(_), _) | (Predicted::Holds, Measured::NotShown) => {
                Overall::NotShown
            }
            (Predicted::Holds, Measured::None) => Overall::Predicted,
        }
    }
}
