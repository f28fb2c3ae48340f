//! What the readings do not fit, leave open, or warn of.

use super::rows::ReadingKind;
use quietrail_job::model::Span;

/// A reading, by where it stands and what was written.
#[derive(Clone, Debug, PartialEq)]
pub struct ReadingAt {
    /// What kind it is.
    pub kind: ReadingKind,
    /// Where it stands in the job.
    pub span: Span,
    /// As written.
    pub text: String,
    /// What the other readings say it should be, SI.
    pub others_say: f64,
    /// Unit of that.
    pub unit: &'static str,
}

/// Something to know before the model is relied on.
#[derive(Clone, Debug, PartialEq)]
pub enum Doubt {
    /// Readings that cannot all be right. Leaving out any one of `one_of` brings the others to agree; empty where no
    /// single one does.
    Contradiction {
        /// The one that fits worst.
        worst: ReadingAt,
        /// Its distance from what honest errors allow, in times of that.
        times: f64,
        /// Those of which one may be wrong.
        one_of: Vec<ReadingAt>,
    },
    /// Nothing but ohms says which winding the mains was on.
    PrimaryOnOhmsAlone {
        /// The winding with the most ohms.
        candidate: String,
    },
    /// Which way round a winding is has not been read.
    SenseOpen {
        /// The winding.
        winding: String,
    },
    /// The order of three or more leads leaves a choice.
    OrderOpen {
        /// The winding.
        winding: String,
    },
    /// A lead that belongs to no winding: nothing read to it, or all open.
    Alone {
        /// The lead.
        lead: String,
        /// Whether everything read to it is open.
        is_open: bool,
    },
    /// Open between leads that other readings say are one winding.
    OpenInside {
        /// The leads.
        between: (String, String),
        /// Where it stands.
        span: Span,
    },
    /// No-load current rises much faster than the volts.
    Saturating {
        /// Power of the volts with which the current rises at the top.
        power: f64,
        /// Highest volts read.
        volts: f64,
    },
    /// No-load current is large from the lowest volts on, and in phase with them.
    ShortedTurns {
        /// No-load volt-amperes at the highest volts.
        volt_amperes: f64,
        /// Their share of what the core may carry, where its size is known.
        share: Option<f64>,
        /// Power factor, where watts were read.
        power_factor: Option<f64>,
    },
    /// More volts per hertz than what is marked.
    Flux {
        /// At the mains as written, nominal and highest.
        nominal: f64,
        /// Highest.
        highest: f64,
    },
    /// The mains over a day goes beyond what the job says of it.
    MainsBeyond {
        /// Lowest and highest read.
        low: f64,
        /// Highest.
        high: f64,
    },
    /// Insulation that should not go on the mains as it is.
    Insulation {
        /// Between what.
        between: (String, String),
        /// Ohms.
        ohms: f64,
        /// What to do.
        advice: InsulationAdvice,
        /// Where it stands.
        span: Span,
    },
    /// The heat of the hot run is none that these windings make for what it carried.
    HotLoss {
        /// As written, W.
        copper: f64,
        /// What it carried, VA.
        carried: f64,
        /// What that makes in these windings: spread as well as can be, and all on the worst one into a rectifier, W.
        between: (f64, f64),
        /// Where the run stands.
        span: Span,
    },
    /// A test voltage too low to tell much.
    InsulationVolts {
        /// Volts.
        volts: f64,
        /// Where it stands.
        span: Span,
    },
}

/// What an insulation reading leads to. Limits from memory; see the guide.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum InsulationAdvice {
    /// Dry it out and read again.
    DryAndRetest,
    /// Do not put it on the mains.
    Reject,
}
