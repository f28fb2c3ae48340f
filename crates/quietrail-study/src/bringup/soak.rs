//! How long a soak takes: from weights before anything is read, from readings once three of a point are there.

use super::derive::{Planned, Where};
use quietrail_bench::log::{Observed, Row, moment};
use quietrail_bench::settle::{NoEnd, approach};
use quietrail_job::model::{Job, PartKind, Subject, What};

/// How long a point takes to settle.
#[derive(Clone, Debug, PartialEq)]
pub struct Settling {
    /// The point.
    pub of: String,
    /// Seconds to 95 % of its rise, from its weight; `None` without one.
    pub by_weight: Option<f64>,
    /// What its readings say; `None` where there are none.
    pub read: Option<Settled>,
}

/// What readings of a temperature say of its end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Settled {
    /// Fewer than three.
    TooFew(usize),
    /// It still rises in a straight line.
    Straight,
    /// It has an end.
    Ends {
        /// Where, °C.
        end: f64,
        /// Time constant, s.
        tau: f64,
        /// How far below its end the last reading is, K.
        left: f64,
        /// Seconds after the last reading until it is within a kelvin of its end; 0 where it is.
        wait: f64,
    },
}

/// Specific heat of aluminium, J/(kg K) (from memory; a guide, compared with nothing).
const ALUMINIUM: f64 = 900.0;
/// Of iron and copper together, as in a transformer, J/(kg K) (from memory; a guide, compared with nothing).
const IRON_AND_COPPER: f64 = 440.0;
/// This close to its end a temperature counts as settled, K.
const CLOSE: f64 = 1.0;
/// Time constants to 95 %.
const TO_95: f64 = 3.0;

/// Every temperature of a step.
pub(super) fn settling(job: &Job, log: &[&Row], planned: &Planned) -> Vec<Settling> {
    let is_warm = |what: Observed| what == Observed::Statistic(What::Temperature);
    let points = planned.points.iter().filter(|point| is_warm(point.what));
    points
        .map(|point| {
            let own = log
                .iter()
                .filter(|row| row.step == planned.name && row.of == point.of && is_warm(row.what));
            let readings: Vec<(f64, f64)> = own
                .filter_map(|row| Some((moment(&row.time)?, row.value)))
                .collect();
            let part = match &point.subject {
                Where::Subject(Subject::Part(name)) => job.part(name),
                _ => None,
            };
            Settling {
                of: point.of.clone(),
                by_weight: part.and_then(|part| by_weight(&part.kind)),
                read: read(readings),
            }
        })
        .collect()
}

fn by_weight(kind: &PartKind) -> Option<f64> {
    let (kilograms, heat, to_air) = match kind {
        PartKind::Sink(sink) => (sink.weight.as_ref()?, ALUMINIUM, &sink.to_air),
        PartKind::Transformer(one) => (one.weight.as_ref()?, IRON_AND_COPPER, one.to_air.as_ref()?),
        _ => return None,
    };
    Some(TO_95 * kilograms.nominal() * heat * to_air.nominal())
}

fn read(mut readings: Vec<(f64, f64)>) -> Option<Settled> {
    readings.sort_by(|a, b| a.0.total_cmp(&b.0));
    let begun = readings.first()?.0;
    for (time, _) in &mut readings {
        *time -= begun;
    }
    Some(match approach(&readings) {
        Err(NoEnd::TooFew) => Settled::TooFew(readings.len()),
        Err(NoEnd::Straight) => Settled::Straight,
        Ok(found) => {
            let last = readings.last().map_or(0.0, |(time, _)| *time);
            Settled::Ends {
                end: found.end,
                tau: found.tau,
                left: -found.left(last),
                wait: (found.time_until(CLOSE) - last).max(0.0),
            }
        }
    })
}
