//! How signals go through the cycle of a solution, for drawings.
//!
//! Courses that were kept while it was solved are used as they are; only where one is missing is the cycle solved a
//! second time, with its orbit.

use crate::solve::{Plan, Solved, Trouble, assemble};
use quietrail_engine::{Options, Orbit, Output, Signal, steady_state_from};

/// How signals go through a cycle.
pub(crate) enum Course<'a> {
    /// Kept while it was solved, at even points.
    Kept(&'a Plan, &'a Solved),
    /// The orbit itself.
    Orbit(&'a Orbit<'a>),
}

/// Gives `draw` the course of signals in a solution; it is not called where the cycle cannot be had again.
///
/// # Errors
/// The equations cannot be assembled.
pub(crate) fn with_course(
    (plan, solved): (&Plan, &Solved),
    signals: &[Signal],
    options: &Options,
    draw: impl FnOnce(&Course<'_>),
) -> Result<(), Trouble> {
    let is_kept = |signal: &Signal| solved.solution.course(plan, signal).is_some();
    if signals.iter().all(is_kept) {
        draw(&Course::Kept(plan, solved));
        return Ok(());
    }
    let system = assemble(&solved.lowered)?;
    let outcome = steady_state_from(&system, &solved.solution.start, options);
    if let Some(orbit) = &outcome.orbit {
        draw(&Course::Orbit(orbit));
    }
    Ok(())
}

impl Course<'_> {
    /// A signal's values at even points from the start of the cycle on.
    pub(crate) fn values(&self, signal: &Signal, per_cycle: usize, count: usize) -> Vec<f64> {
        let phase = |k: usize| k as f64 / per_cycle as f64;
        match self {
            Self::Kept(plan, solved) => {
                let samples = solved.solution.course(plan, signal).unwrap_or_default();
                (0..count).map(|k| between(samples, phase(k))).collect()
            }
            Self::Orbit(orbit) => {
                let probe = signal.probe(orbit.system());
                (0..count).map(|k| orbit.value(&probe, phase(k))).collect()
            }
        }
    }

    /// A figure of the cycle.
    pub(crate) fn figure(&self, output: &Output) -> f64 {
        match self {
            Self::Kept(plan, solved) => {
                let reading = plan.table.with(&solved.solution.values);
                reading.find(output).unwrap_or(f64::NAN)
            }
            Self::Orbit(orbit) => crate::reading::value(orbit, output),
        }
    }

    /// Stretches of the cycle during which a signal is above a level; one may begin before the end of the cycle and go on
    /// past 1.
    pub(crate) fn spans_above(&self, signal: &Signal, level: f64) -> Vec<(f64, f64)> {
        match self {
            Self::Kept(plan, solved) => spans(
                solved.solution.course(plan, signal).unwrap_or_default(),
                level,
            ),
            Self::Orbit(orbit) => orbit.spans_above(&signal.probe(orbit.system()), level),
        }
    }
}

/// The value at a phase, on the line between the samples to either side.
fn between(samples: &[f64], phase: f64) -> f64 {
    let count = samples.len();
    if count == 0 {
        return f64::NAN;
    }
    let place = (phase - phase.floor()) * count as f64;
    let first = (place as usize).min(count - 1);
    let next = samples[(first + 1) % count];
    samples[first] + (place - first as f64) * (next - samples[first])
}

fn spans(samples: &[f64], level: f64) -> Vec<(f64, f64)> {
    let count = samples.len();
    let mut crossings = Vec::new();
    for k in 0..count {
        let (a, b) = (samples[k], samples[(k + 1) % count]);
        if (a > level) != (b > level) {
            let at = (k as f64 + (level - a) / (b - a)) / count as f64;
            crossings.push((at, b > level));
        }
    }
    if crossings.is_empty() {
        let all = samples.first().is_some_and(|value| *value > level);
        return if all { vec![(0.0, 1.0)] } else { Vec::new() };
    }
    let downs = || crossings.iter().filter(|(_, up)| !up).map(|(at, _)| *at);
    let ups = crossings.iter().filter(|(_, up)| *up).map(|(at, _)| *at);
    ups.map(|up| {
        let down = downs().find(|down| *down > up);
        let wrapped = || downs().next().map_or(up, |down| down + 1.0);
        (up, down.unwrap_or_else(wrapped))
    })
    .collect()
}

#[cfg(test)]
mod tests {
    use super::{between, spans};

    /// A triangle with its peak at a share of the cycle: above its mean for half of it.
    #[test]
    fn a_triangle_is_above_its_mean_for_half_the_cycle() {
        let triangle = |peak: f64| -> Vec<f64> {
            let away = |k: i32| (f64::from(k) / 1024.0 - peak).rem_euclid(1.0);
            (0..1024)
                .map(|k| 1.0 - 4.0 * away(k).min(1.0 - away(k)))
                .collect()
        };
        let one = spans(&triangle(0.5), 0.01);
        assert_eq!(one.len(), 1);
        assert!((one[0].0 - 0.2525).abs() < 1e-9, "{one:?}");
        assert!((one[0].1 - 0.7475).abs() < 1e-9, "{one:?}");
        let turned = spans(&triangle(0.0), 0.01);
        assert_eq!(turned.len(), 1);
        assert!((turned[0].0 - 0.7525).abs() < 1e-9, "{turned:?}");
        assert!((turned[0].1 - 1.2475).abs() < 1e-9, "{turned:?}");
    }

    #[test]
    fn between_samples_it_is_a_line_round_the_end_too() {
        let samples = [1.0, 3.0, 5.0, 3.0];
        assert!((between(&samples, 0.125) - 2.0).abs() < 1e-12);
        assert!((between(&samples, 0.875) - 2.0).abs() < 1e-12);
        assert!((between(&samples, 1.5) - 5.0).abs() < 1e-12);
    }
}
