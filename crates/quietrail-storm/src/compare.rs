//! A solution found again without reducing the equations, both tighter than usual.

use quietrail_engine::{GROUND, Node, Options, Orbit, Signal, System, steady_state};
use quietrail_study::lower::Lowered;

/// Tolerance of both ways.
const TOLERANCE: f64 = 1e-8;
/// Difference that counts, as a share of the level, or of a volt where that is more.
const APART: f64 = 1e-6;

/// Where two ways led to different figures.
#[derive(Clone, Debug, PartialEq)]
pub enum Disagreement {
    /// A figure of a node differs by a share of its level.
    Figure {
        /// The node.
        node: String,
        /// `mean`, `valley` or `peak`.
        what: &'static str,
        /// By the reduced equations, V.
        reduced: f64,
        /// By all of them, V.
        whole: f64,
    },
    /// Only one way settled, or neither at this tolerance: how each ended, in the words of the code.
    Ended {
        /// By the reduced equations.
        reduced: String,
        /// By all of them.
        whole: String,
    },
}

/// The largest disagreement over the named nodes that count, if any does.
pub fn disagreement(lowered: &Lowered) -> Option<Disagreement> {
    let whole = System::assemble(&lowered.circuit).ok()?;
    let reduced = whole.reduced();
    let options = Options {
        tolerance: TOLERANCE,
        ..Options::default()
    };
    let (one, other) = (
        steady_state(&reduced, &options),
        steady_state(&whole, &options),
    );
    let settled = one.ended.is_settled() && other.ended.is_settled();
    let (Some(one_orbit), Some(other_orbit), true) = (&one.orbit, &other.orbit, settled) else {
        return Some(Disagreement::Ended {
            reduced: format!("{:?}", one.ended),
            whole: format!("{:?}", other.ended),
        });
    };
    let reached = lowered.reached_from_common();
    let mut worst: Option<(f64, Disagreement)> = None;
    for (name, node) in lowered
        .named_nodes()
        .filter(|(_, node)| reached.contains(node))
    {
        let pairs = three(one_orbit, node)
            .into_iter()
            .zip(three(other_orbit, node));
        for ((what, reduced), (_, whole)) in pairs {
            let apart = (reduced - whole).abs() / whole.abs().max(1.0);
            let is_worse = worst.as_ref().is_none_or(|(most, _)| apart > *most);
            // A figure that is no number is apart from all.
            if (apart.is_nan() || apart > APART) && is_worse {
                let node = name.to_owned();
                let found = Disagreement::Figure {
                    node,
                    what,
                    reduced,
                    whole,
                };
                worst = Some((apart, found));
            }
        }
    }
    worst.map(|(_, found)| found)
}

fn three(orbit: &Orbit<'_>, node: Node) -> [(&'static str, f64); 3] {
    let probe = Signal::Voltage(node, GROUND).probe(orbit.system());
    [
        ("mean", orbit.mean(&probe)),
        ("valley", orbit.valley(&probe).value),
        ("peak", orbit.peak(&probe).value),
    ]
}
