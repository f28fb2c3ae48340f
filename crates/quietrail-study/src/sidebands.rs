//! What the supply does to the oscillator: lines, phase noise and pull through each pin, and when to stop improving it.
//!
//! In each state the corner with most ripple on the pin is looked for; lines are read there. Noise is the higher of that with parts as
//! marked and that at the same corner. Sensitivities are taken as flat beyond the frequency to which they were measured, and it is said.

use crate::finding::{CornerTerm, WhyNot};
use crate::level::{from_decibels, sideband};
use crate::lower::Step;
use crate::noise;
use crate::question::{Ask, Question, View, unit_of};
use crate::reading::OutputTable;
use crate::search::{Position, changes_at, search, terms};
use crate::solve::{Plan, Setting, Solved, Trouble, assemble, solve};
use crate::spectrum::Spectrum;
use quietrail_engine::math::ln;
use quietrail_engine::{Node, Options, Output, Signal, steady_state_from};
use quietrail_job::model::{Job, Oscillator, PartKind, Pin, Subject, What};
use quietrail_job::{Address, Change};

/// Everything that was found.
#[derive(Clone, Debug)]
pub struct Sidebands {
    /// Title of the job.
    pub title: String,
    /// `230 V 50 Hz`
    pub region: String,
    /// One for each pin of each oscillator in each state.
    pub pins: Vec<PinFinding>,
    /// Slow pulls, one for each pin.
    pub pulls: Vec<PullFinding>,
}

/// A pin in a state.
#[derive(Clone, Debug)]
pub struct PinFinding {
    /// The oscillator.
    pub oscillator: String,
    /// `supply` or `tuning`.
    pub pin: &'static str,
    /// The state.
    pub state: String,
    /// Why nothing could be computed.
    pub why_not: Option<WhyNot>,
    /// Lines of the mains, lowest first, at the worst corner found.
    pub lines: Vec<Line>,
    /// What the limit on lines comes to.
    pub verdict: Verdict,
    /// Highest line allowed, dBc.
    pub allowed: Option<f64>,
    /// Frequency up to which the sensitivity was measured, Hz.
    pub flat_to: Option<f64>,
    /// Phase noise that the supply makes, beside the oscillator's own.
    pub noise: Vec<Noise>,
    /// Corner with most ripple on the pin.
    pub corner: Vec<CornerTerm>,
}

/// A line of the mains on a pin and what it makes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// Frequency, Hz.
    pub hertz: f64,
    /// rms on the pin, V.
    pub rms: f64,
    /// Sideband through the frequency, dBc.
    pub through_frequency: Option<f64>,
    /// Sideband through the amplitude, dBc.
    pub through_amplitude: Option<f64>,
    /// rms that would make the line that is allowed, V.
    pub allowed_rms: Option<f64>,
}

impl Line {
    /// The stronger of both, dBc; where both are there they may add to this.
    pub fn level(&self) -> Option<f64> {
        let both = [self.through_frequency, self.through_amplitude];
        both.into_iter().flatten().reduce(f64::max)
    }

    /// Both adding up at worst, dBc.
    pub fn worst(&self) -> Option<f64> {
        match (self.through_frequency, self.through_amplitude) {
            (Some(fm), Some(am)) => {
                let sum = from_decibels(fm) + from_decibels(am);
                Some(crate::level::decibels(sum))
            }
            (Some(one), None) | (None, Some(one)) => Some(one),
            (None, None) => None,
        }
    }
}

/// What a limit on lines comes to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Verdict {
    /// No limit is given.
    NotAsked,
    /// The strongest line is below.
    Holds {
        /// dBc
        strongest: f64,
    },
    /// It is above.
    Fails {
        /// dBc
        strongest: f64,
    },
    /// It would be below, but the sensitivity is not known at that frequency.
    NotMeasuredThere {
        /// dBc
        strongest: f64,
        /// Hz
        hertz: f64,
    },
    /// No sensitivity is given.
    NoSensitivity,
}

/// Phase noise at a distance.
#[derive(Clone, Debug, PartialEq)]
pub struct Noise {
    /// Distance from the carrier, Hz.
    pub hertz: f64,
    /// Density on the pin, V/√Hz, and the phase noise that it makes, dBc/Hz.
    pub supply: Result<(f64, f64), WhyNot>,
    /// The oscillator's own, dBc/Hz.
    pub own: Option<f64>,
}

/// How far below its own an oscillator no longer feels a supply: 10 dB add 0.4 dB (common practice, no source).
pub const STOP: f64 = 10.0;

impl Noise {
    /// The louder of two, or the one of which nothing is known. A regulator that has given up makes none of its own, and where there
    /// is most ripple is not where there is most noise.
    fn or_louder(self, other: Self) -> Self {
        match (&self.supply, &other.supply) {
            (Err(_), _) => self,
            (Ok(one), Ok(two)) if one.0 >= two.0 => self,
            (Ok(_), _) => other,
        }
    }

    /// Decibels by which the supply's share is below the oscillator's own.
    pub fn below(&self) -> Option<f64> {
        let (_, supply) = self.supply.as_ref().ok()?;
        Some(self.own? - supply)
    }
}

/// Slow pull of the frequency through a pin.
#[derive(Clone, Debug, PartialEq)]
pub struct PullFinding {
    /// The oscillator.
    pub oscillator: String,
    /// `supply` or `tuning`.
    pub pin: &'static str,
    /// Its causes.
    pub causes: Vec<Pull>,
}

/// What moves the mean voltage on a pin.
#[derive(Clone, Debug, PartialEq)]
pub enum Cause {
    /// The load going from one state to another: its own step, and the shift of a shared return.
    State {
        /// From this state.
        from: String,
        /// To this one.
        to: String,
    },
    /// The mains from its lowest to its highest.
    Mains {
        /// In this state.
        state: String,
    },
    /// The set point with temperature, over the range of the room.
    Temperature {
        /// The regulator.
        part: String,
        /// Share per kelvin.
        drift: f64,
        /// Kelvins.
        kelvins: f64,
    },
}

/// One cause with its size.
#[derive(Clone, Debug, PartialEq)]
pub struct Pull {
    /// What moves it.
    pub cause: Cause,
    /// Change of the mean on the pin, V.
    pub volts: f64,
    /// Share of the carrier.
    pub share: f64,
}

/// Distances at which phase noise is told, Hz.
const DISTANCES: [f64; 5] = [1.0, 10.0, 100.0, 1e3, 1e4];
/// Harmonics of the mains that are told.
const HARMONICS: usize = 10;
/// Ripple below this is rounding, V.
const ROUNDING: f64 = 1e-12;
/// Lines of a pin below this share of the strongest are not told.
const TELLING: f64 = 1e-3;

/// What the supply does to the job's oscillators.
///
/// # Errors
/// Why not even the first figures could be had.
pub fn sidebands(job: &Job, options: &Options) -> Result<Sidebands, Trouble> {
    let step = Step::default();
    let mut pins = Vec::new();
    let mut pulls = Vec::new();
    for oscillator in job.oscillators.iter() {
        for pin in &oscillator.pins {
            let mut means = Vec::new();
            for (state, declared) in job.states.iter().enumerate() {
                let setting = Setting {
                    job,
                    state,
                    step: &step,
                    options,
                };
                let found = of_pin(setting, oscillator, pin)?;
                if let Some(mean) = found.means {
                    means.push((declared.name.clone(), mean));
                }
                pins.push(found.finding);
            }
            pulls.push(pull(job, oscillator, pin, &means));
        }
    }
    Ok(Sidebands {
        title: job.title.clone(),
        region: job.region.name.clone(),
        pins,
        pulls,
    })
}

struct Found {
    finding: PinFinding,
    /// Mean on the pin: parts as marked, and at both ends of the mains.
    means: Option<[f64; 3]>,
}

fn of_pin(setting: Setting<'_>, oscillator: &Oscillator, pin: &Pin) -> Result<Found, Trouble> {
    let mut finding = PinFinding {
        oscillator: oscillator.name.clone(),
        pin: pin.name,
        state: setting.job.states[setting.state].name.clone(),
        why_not: None,
        lines: Vec::new(),
        verdict: Verdict::NotAsked,
        allowed: oscillator.spurs.as_ref().map(|spurs| spurs.nominal()),
        flat_to: pin.flat_to.as_ref().map(|hertz| hertz.nominal()),
        noise: Vec::new(),
        corner: Vec::new(),
    };
    let (plan, nodes) = plan(setting, pin)?;
    let found = match search(&plan, setting) {
        Ok(found) => found,
        Err(trouble) => {
            finding.why_not = Some(WhyNot::NotSettled(trouble.to_string()));
            return Ok(Found {
                finding,
                means: None,
            });
        }
    };
    let worst = &found.worst[0];
    let as_marked = vec![Position::NOMINAL; found.parameters.len()];
    let corner = worst
        .worst
        .as_ref()
        .map_or(&as_marked, |(_, corner)| corner);
    finding.corner = terms(&found.parameters, corner, &found.worst[0].weights);
    let changes = changes_at(&found.parameters, corner);
    let seed = Some(&found.nominal.solution);
    let solved = solve(&plan, setting, &changes, seed)?;
    finding.lines = lines(setting, &solved, nodes, oscillator, pin);
    finding.verdict = verdict(&finding, pin);
    let noise_of = |solved: &Solved| phase_noise(&plan, solved, nodes, oscillator, pin);
    let at_corner = noise_of(&solved);
    finding.noise = std::iter::zip(noise_of(&found.nominal), at_corner)
        .map(|(marked, corner)| marked.or_louder(corner))
        .collect();
    let mean = |volts: f64| {
        let address = Address("mains.voltage".to_owned());
        let changes = [Change::Set {
            address,
            value: volts,
        }];
        let solved = solve(&plan, setting, &changes, seed).ok()?;
        let signal = Signal::Voltage(nodes.0, nodes.1);
        let reading = plan.table.with(&solved.solution.values);
        Some(reading.get(&Output::Mean(signal)))
    };
    let mains = &setting.job.mains.voltage.value;
    let means = [mains.nominal, mains.low, mains.high].map(mean);
    let means = match means {
        [Some(a), Some(b), Some(c)] => Some([a, b, c]),
        _ => None,
    };
    Ok(Found { finding, means })
}

/// The ripple on the pin, and the headroom of what may give way before it: where a regulator has dropped out the raw ripple is
/// there, and no slope of the ripple leads there from afar.
fn plan(setting: Setting<'_>, pin: &Pin) -> Result<(Plan, (Node, Node)), Trouble> {
    let warmth = crate::heat::Temperatures::at_rest(setting.job);
    let lowered = crate::lower::lower(setting.job, setting.state, setting.step, &[], &warmth)
        .map_err(Trouble::Change)?;
    let node = |name: &str| {
        lowered.node(name).ok_or_else(|| {
            Trouble::Change(quietrail_job::ChangeError::UnknownPart {
                name: name.to_owned(),
                nearest: None,
            })
        })
    };
    let nodes = (node(&pin.nodes.0)?, node(&pin.nodes.1)?);
    let signal = Signal::Voltage(nodes.0, nodes.1);
    let question = Question {
        name: format!("{} pin", pin.name),
        of: Subject::Pair(pin.nodes.0.clone(), pin.nodes.1.clone()),
        what: What::Ripple,
        states: vec![setting.state],
        min: None,
        max: Some(f64::MIN_POSITIVE.sqrt()),
        unit: unit_of(What::Ripple),
        from: String::new(),
        is_rating: false,
        is_quiet: false,
        ask: Ask::Largest(vec![(Output::RippleRms(signal.clone()), 1.0)]),
    };
    let parts = setting.job.parts.iter();
    let headroom = |name: &str| Question {
        name: format!("{name} headroom"),
        of: Subject::Part(name.to_owned()),
        what: What::Headroom,
        min: Some(0.0),
        max: None,
        unit: unit_of(What::Headroom),
        is_quiet: true,
        ask: Ask::Headroom(name.to_owned()),
        ..question.clone()
    };
    let dropping = parts
        .filter(|part| matches!(part.kind, PartKind::Regulator(_) | PartKind::Transistor(_)))
        .map(|part| headroom(&part.name));
    let questions: Vec<Question> = std::iter::once(question.clone()).chain(dropping).collect();
    let mut table = OutputTable::of(&lowered);
    for question in &questions {
        question.register(&lowered, &mut table);
    }
    noise::register(&lowered, &mut table);
    table.add(Output::Mean(signal));
    let plan = Plan { questions, table };
    Ok((plan, nodes))
}

fn lines(
    setting: Setting<'_>,
    solved: &Solved,
    nodes: (Node, Node),
    oscillator: &Oscillator,
    pin: &Pin,
) -> Vec<Line> {
    let Ok(system) = assemble(&solved.lowered) else {
        return Vec::new();
    };
    let outcome = steady_state_from(&system, &solved.solution.start, setting.options);
    let Some(orbit) = outcome.orbit else {
        return Vec::new();
    };
    let frequency = solved.lowered.job.mains.frequency.nominal();
    let probe = Signal::Voltage(nodes.0, nodes.1).probe(&system);
    let spectrum = Spectrum::of(&orbit, &probe, frequency);
    let all: Vec<(f64, f64)> = spectrum
        .harmonics()
        .take(HARMONICS)
        .map(|(n, rms)| (n as f64 * frequency, rms))
        .collect();
    let strongest = all.iter().map(|line| line.1).fold(0.0, f64::max);
    let carrier = oscillator.frequency.nominal();
    all.into_iter()
        .filter(|(_, rms)| *rms > TELLING * strongest && *rms > ROUNDING)
        .map(|(hertz, rms)| {
            let peak = rms * 2.0_f64.sqrt();
            let slope = pin.shifts.as_ref().map(|s| s.hertz_per_volt(carrier));
            let depth = pin.amplitude.as_ref().map(|slope| slope.nominal());
            let through_frequency = slope
                .filter(|slope| *slope > 0.0)
                .map(|slope| sideband::of_frequency(slope, peak, hertz));
            let through_amplitude = depth
                .filter(|slope| *slope > 0.0)
                .map(|slope| sideband::of_depth(slope * peak));
            let mut line = Line {
                hertz,
                rms,
                through_frequency,
                through_amplitude,
                allowed_rms: None,
            };
            // Both ways are proportional to the ripple, so what is allowed is in proportion too.
            line.allowed_rms = oscillator
                .spurs
                .as_ref()
                .zip(line.worst())
                .map(|(spurs, level)| rms * from_decibels(spurs.nominal() - level));
            line
        })
        .collect()
}

fn verdict(finding: &PinFinding, pin: &Pin) -> Verdict {
    let Some(allowed) = finding.allowed else {
        return Verdict::NotAsked;
    };
    if pin.shifts.is_none() && pin.amplitude.is_none() {
        return Verdict::NoSensitivity;
    }
    let Some((strongest, hertz)) = finding
        .lines
        .iter()
        .filter_map(|line| Some((line.worst()?, line.hertz)))
        .max_by(|a, b| a.0.total_cmp(&b.0))
    else {
        return Verdict::Holds {
            strongest: f64::NEG_INFINITY,
        };
    };
    if strongest > allowed {
        return Verdict::Fails { strongest };
    }
    let unmeasured = finding
        .lines
        .iter()
        .map(|line| line.hertz)
        .find(|hertz| finding.flat_to.is_none_or(|to| *hertz > to));
    match unmeasured {
        Some(_) => Verdict::NotMeasuredThere { strongest, hertz },
        None => Verdict::Holds { strongest },
    }
}

fn phase_noise(
    plan: &Plan,
    solved: &Solved,
    nodes: (Node, Node),
    oscillator: &Oscillator,
    pin: &Pin,
) -> Vec<Noise> {
    let Some(shifts) = &pin.shifts else {
        return Vec::new();
    };
    let slope = shifts.hertz_per_volt(oscillator.frequency.nominal());
    let solution = &solved.solution;
    let view = View {
        lowered: &solved.lowered,
        reading: plan.table.with(&solution.values),
        air: solution.temperatures.air,
        share: 1.0,
    };
    DISTANCES
        .iter()
        .map(|&hertz| {
            let supply = noise::densities(&view, nodes, &[hertz]).map(|all| {
                let square: f64 = all[0].iter().map(|term| term.1 * term.1).sum();
                let density = square.sqrt();
                (density, sideband::phase_noise(slope, density, hertz))
            });
            Noise {
                hertz,
                supply,
                own: own(oscillator, hertz),
            }
        })
        .collect()
}

/// The oscillator's own phase noise, straight between its points over the logarithm of the distance; `None` beyond.
fn own(oscillator: &Oscillator, hertz: f64) -> Option<f64> {
    let points: Vec<(f64, f64)> = oscillator
        .noise
        .iter()
        .map(|(hertz, level)| (hertz.nominal(), level.nominal()))
        .collect();
    let exact = points.iter().find(|point| point.0 == hertz);
    if let Some(point) = exact {
        return Some(point.1);
    }
    let pair = points
        .windows(2)
        .find(|pair| pair[0].0 <= hertz && hertz <= pair[1].0)?;
    let share = ln(hertz / pair[0].0) / ln(pair[1].0 / pair[0].0);
    Some(pair[0].1 + share * (pair[1].1 - pair[0].1))
}

fn pull(
    job: &Job,
    oscillator: &Oscillator,
    pin: &Pin,
    means: &[(String, [f64; 3])],
) -> PullFinding {
    let carrier = oscillator.frequency.nominal();
    let per_volt = pin
        .shifts
        .as_ref()
        .map_or(f64::NAN, |shifts| shifts.hertz_per_volt(carrier) / carrier);
    let mut causes = Vec::new();
    let mut push = |cause: Cause, volts: f64| {
        causes.push(Pull {
            cause,
            volts,
            share: volts * per_volt,
        });
    };
    for pair in means.windows(2) {
        let (from, to) = (&pair[0], &pair[1]);
        let cause = Cause::State {
            from: from.0.clone(),
            to: to.0.clone(),
        };
        push(cause, to.1[0] - from.1[0]);
    }
    for (state, mean) in means {
        let cause = Cause::Mains {
            state: state.clone(),
        };
        push(cause, mean[2] - mean[1]);
    }
    let kelvins = job.air.room.value.high - job.air.room.value.low;
    for part in &job.parts {
        let PartKind::Regulator(regulator) = &part.kind else {
            continue;
        };
        // The regulator that feeds the pin's node itself.
        if regulator.into != pin.nodes.0 {
            continue;
        }
        let drift = &regulator.drift;
        let of = |figure: &Option<quietrail_job::model::Figure<quietrail_units::Ratio>>| {
            figure.as_ref().map_or(0.0, |figure| figure.value.high)
        };
        let sum = of(&drift.reference) + of(&drift.divider) + of(&drift.trimmer);
        if sum > 0.0 {
            let cause = Cause::Temperature {
                part: part.name.clone(),
                drift: sum,
                kelvins,
            };
            push(cause, sum * kelvins * regulator.set.size());
        }
    }
    PullFinding {
        oscillator: oscillator.name.clone(),
        pin: pin.name,
        causes,
    }
}
