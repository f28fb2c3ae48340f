//! Integration from given stores over some time: starting, and steps of the load.

use crate::ended::Ended;
use crate::march::{Keep, March};
use crate::orbit::most;
use crate::record::{Extreme, Record};
use crate::steady::{Options, ended};
use crate::system::{Probe, System};

/// What happened between two times, in cycles.
pub struct Transient<'s> {
    record: Record<'s>,
    /// Stores at the end.
    pub end: Vec<f64>,
}

/// Integrates from stores `start` at time `from` to time `to`, both in mains cycles.
///
/// # Errors
/// How the integration ended where it did not reach `to`.
pub fn transient<'s>(
    system: &'s System,
    start: &[f64],
    from: f64,
    to: f64,
    options: &Options,
) -> Result<Transient<'s>, Ended> {
    let mut march = March::new(system, options.steps);
    // A rough run first tells how far each store moves, which its errors are then compared with.
    let rough = march.run(start, from, to, Keep::End).map_err(ended)?;
    march.learn_scale(&rough);
    march.set_tolerance(options.tolerance);
    let path = march.run(start, from, to, Keep::All).map_err(ended)?;
    let tolerance = march.stepper.newton_tolerance;
    Ok(Transient {
        record: Record::new(system, path.steps, false, tolerance),
        end: path.end,
    })
}

impl Transient<'_> {
    /// Highest instant between two times (cycles).
    pub fn peak(&self, probe: &Probe, from: f64, to: f64) -> Extreme {
        self.extreme(probe, (from, to), 1.0)
    }

    /// Lowest instant between two times (cycles).
    pub fn valley(&self, probe: &Probe, from: f64, to: f64) -> Extreme {
        self.extreme(probe, (from, to), -1.0)
    }

    /// Value at the end.
    pub fn end(&self, probe: &Probe) -> f64 {
        self.record.sample(probe, self.record.steps.len() - 1, 2)
    }

    /// Value at a time (cycles), by the polynomial of the step that covers it.
    pub fn value(&self, probe: &Probe, cycles: f64) -> f64 {
        self.record.value(probe, cycles)
    }

    fn extreme(&self, probe: &Probe, window: (f64, f64), sign: f64) -> Extreme {
        let mut points = self.record.points(probe);
        // The start itself, by the polynomial of the first step: a surge may be highest there.
        let start = self.record.steps[0].t;
        points.insert(0, (start, self.record.value(probe, start)));
        points.retain(|(t, _)| *t >= window.0 && *t <= window.1);
        let best = most(&points, sign);
        if best == 0 || best + 1 == points.len() {
            return Extreme {
                value: points[best].1,
                at: points[best].0,
            };
        }
        self.record.chase(
            probe,
            [points[best - 1], points[best], points[best + 1]],
            sign,
        )
    }
}
