//! A solution found again: from the equations as the circuit gives them, none eliminated, in adaptive steps a
//! hundred times as exact.
//!
//! Two distances are measured, for two questions. The equations reduced and whole, both as exact: is the
//! elimination right, and does the search lead to the same cycle? They must agree to a millionth. And the answer
//! as `prove` works with it, against the whole: is it as exact as
//! [`options`](quietrail_study::options) promises, a part in a hundred thousand?
//!
//! Where they are further apart than that, both are found once more in steps ten times as exact, and again: what steps err by
//! goes with their length (a loss of 0.7 mW in the ESR behind ideal diodes was a millionth off), what an elimination
//! errs by stays. The last distance counts.

use quietrail_engine::{
    ElementId, Options, Orbit, Output, Probe, Signal, System, steady_state_from,
};
use quietrail_study::lower::OUTLET;
use quietrail_study::solve::{Plan, Solved, assemble};

/// Tolerances and efforts of the other way. The search starts at the known cycle, so that some cycles suffice;
/// where they do not, nothing is compared. A later one is gone only where the one before leaves the two too far apart.
const EXACT: [Options; 3] = [
    exact(1e-8, 8_000),
    exact(1e-9, 40_000),
    exact(1e-10, 400_000),
];
/// Products that one of the two ways may take; where that is not enough, nothing is compared. A step takes about six
/// times the cube of the unknowns, which are many where none is eliminated.
const PRODUCTS: u64 = 60_000_000_000;
/// Largest distance of the reduced equations from the whole ones.
pub const APART: f64 = 1e-6;
/// Largest distance of the working answer from the exact one.
pub const INEXACT: f64 = 1e-5;

/// Levels below which a difference counts as one of this level: nothing that a builder asks of a supply is
/// smaller. V, A, W.
const LEAST_VOLTS: f64 = 0.1;
const LEAST_AMPS: f64 = 1e-3;
const LEAST_WATTS: f64 = 1e-3;
/// The same for a power, as a share of what flows through the outlet, there and back: an unloaded transformer takes a watt to and
/// fro a thousand times for each that it keeps.
const LEAST_OF_OUTLET: f64 = 0.01;

const fn exact(tolerance: f64, steps: u64) -> Options {
    Options {
        tolerance,
        cycles: 60,
        steps,
    }
}

/// What the other way found.
#[derive(Clone, Debug, PartialEq)]
pub enum Comparison {
    /// Figures to compare with.
    Found {
        /// Reduced equations against whole ones.
        reduced: Distance,
        /// The working answer against the whole ones.
        working: Distance,
    },
    /// The whole equations did not settle within their effort, or the reduced ones at this tolerance: how each
    /// ended, in the words of the code; nothing of the reduced ones where the whole ones alone took too long.
    Unsettled {
        /// The whole ones.
        whole: String,
        /// The reduced ones.
        reduced: String,
    },
}

impl Comparison {
    /// Whether both distances are as small as they must be; of what was not compared nothing better is known.
    fn agrees(&self) -> bool {
        match self {
            Comparison::Found { reduced, working } => {
                reduced.apart <= APART && working.apart <= INEXACT
            }
            Comparison::Unsettled { .. } => true,
        }
    }
}

/// The figure that two ways differ in most.
#[derive(Clone, Debug, PartialEq)]
pub struct Distance {
    /// The difference as a share of the figure's scale; infinite where one is no number.
    pub apart: f64,
    /// The figure, in the words of the code.
    pub figure: String,
    /// One way's.
    pub one: f64,
    /// The other's.
    pub other: f64,
}

/// Finds a solution again and says how far it is off.
pub fn compare(plan: &Plan, solved: &Solved) -> Comparison {
    let refused = |error: String| Comparison::Unsettled {
        whole: error.clone(),
        reduced: error,
    };
    let whole = match System::assemble(&solved.lowered.circuit) {
        Ok(whole) => whole,
        Err(error) => return refused(format!("{error:?}")),
    };
    let reduced = match assemble(&solved.lowered) {
        Ok(reduced) => reduced,
        Err(trouble) => return refused(format!("{trouble:?}")),
    };
    let mut last = found(plan, solved, (&reduced, &whole), &EXACT[0]);
    for options in &EXACT[1..] {
        if last.agrees() {
            break;
        }
        match found(plan, solved, (&reduced, &whole), options) {
            Comparison::Unsettled { .. } => break,
            finer => last = finer,
        }
    }
    last
}

/// The reduced equations' figures and the working ones beside those of the whole ones, so exact.
fn found(
    plan: &Plan,
    solved: &Solved,
    (reduced, whole): (&System, &System),
    options: &Options,
) -> Comparison {
    let start = &solved.solution.start;
    let other = steady_state_from(whole, start, &bounded(options, whole, PRODUCTS));
    if !other.ended.is_settled() {
        return Comparison::Unsettled {
            whole: format!("{:?}", other.ended),
            reduced: String::new(),
        };
    }
    let one = steady_state_from(reduced, start, &bounded(options, reduced, PRODUCTS));
    let settled = one.ended.is_settled() && other.ended.is_settled();
    let (Some(one_orbit), Some(other_orbit), true) = (&one.orbit, &other.orbit, settled) else {
        return Comparison::Unsettled {
            whole: format!("{:?}", other.ended),
            reduced: format!("{:?}", one.ended),
        };
    };
    let exact = plan.table.read(other_orbit);
    let scales = scales(plan, solved, other_orbit, &exact);
    Comparison::Found {
        reduced: distance(plan, &plan.table.read(one_orbit), &exact, &scales),
        working: distance(plan, &solved.solution.values, &exact, &scales),
    }
}

/// Products that a step of the patient way takes.
pub(crate) fn products(system: &System) -> u64 {
    6 * (system.unknowns() as u64).pow(3).max(1)
}

/// Options with so few steps that they take at most so many products.
pub(crate) fn bounded(options: &Options, system: &System, most: u64) -> Options {
    Options {
        steps: options.steps.min(most / products(system)),
        ..*options
    }
}

fn distance(plan: &Plan, one: &[f64], other: &[f64], scales: &[f64]) -> Distance {
    let mut furthest = Distance {
        apart: 0.0,
        figure: String::new(),
        one: 0.0,
        other: 0.0,
    };
    for (k, output) in plan.table.outputs().iter().enumerate() {
        let apart = (one[k] - other[k]).abs() / scales[k];
        let apart = if apart.is_nan() { f64::INFINITY } else { apart };
        if apart > furthest.apart {
            furthest = Distance {
                apart,
                figure: format!("{output:?}"),
                one: one[k],
                other: other[k],
            };
        }
    }
    furthest
}

/// What a difference of each figure is a share of.
///
/// All figures of a signal are on the scale of its level, the largest of them: microvolts of ripple on twelve
/// volts are known as exactly as the volts are. A power is on its own scale, but not below a hundredth of what
/// the outlet gives: losses of an ESR are a small difference within a large flow.
fn scales(plan: &Plan, solved: &Solved, orbit: &Orbit<'_>, exact: &[f64]) -> Vec<f64> {
    let outputs = plan.table.outputs();
    let outlet = solved.lowered.element(OUTLET);
    let flow = outlet.map_or(0.0, |outlet| apparent_power(orbit, outlet));
    let least_watts = LEAST_WATTS.max(LEAST_OF_OUTLET * flow);
    let scale = |k: usize| match signal(&outputs[k]) {
        None => exact[k].abs().max(least_watts),
        Some(signal_here) => {
            let least = match signal_here {
                Signal::Current(..) => LEAST_AMPS,
                Signal::Voltage(..) | Signal::Headroom(_) | Signal::Sum(_) => LEAST_VOLTS,
            };
            outputs
                .iter()
                .zip(exact)
                .filter(|(output, _)| signal(output) == Some(signal_here))
                .fold(least, |most, (_, value)| most.max(value.abs()))
        }
    };
    (0..outputs.len()).map(scale).collect()
}

/// Volts times amperes of an element's ports, VA.
fn apparent_power(orbit: &Orbit<'_>, element: ElementId) -> f64 {
    let ports = orbit.system().ports(element);
    let of_port = |(volts, amps): &(Probe, Probe)| orbit.rms(volts) * orbit.rms(amps);
    ports.iter().map(of_port).sum()
}

fn signal(output: &Output) -> Option<&Signal> {
    match output {
        Output::Power(_) => None,
        Output::Mean(signal)
        | Output::Rms(signal)
        | Output::RippleRms(signal)
        | Output::Peak(signal)
        | Output::Valley(signal) => Some(signal),
    }
}
