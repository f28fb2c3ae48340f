//! Readings of temperature: a thermometer is on the outside of a part.

use super::derive::{Point, Where};
use super::expect::{Found, Watch};
use super::{Beside, Expectation, Observed};
use crate::case::{Outside, outside};
use quietrail_job::model::{Job, PartKind, Subject, What};

/// What a thermometer reads of a part; `None` of what is no temperature of one.
pub fn read_outside(job: &Job, of: &str, what: Observed) -> Option<Outside> {
    let is_temperature = what == Observed::Statistic(What::Temperature);
    job.part(of).filter(|_| is_temperature).map(outside)
}

/// Says which temperature a row is of. Where only the inside is known, the outside is at most as hot, and no more is expected.
pub(super) fn on_the_outside(job: &Job, point: &Point, found: &Found, one: &mut Expectation) {
    let Where::Subject(Subject::Part(name)) = &point.subject else {
        return;
    };
    let Some(part) = job
        .part(name)
        .filter(|_| point.what == Observed::Statistic(What::Temperature))
    else {
        return;
    };
    let inside = found.get(&Watch::Heat(name.clone())).copied();
    match outside(part) {
        Outside::Same => {}
        Outside::Case => one.beside.push(Beside::Case {
            junction: inside.map(|(_, high)| high),
        }),
        Outside::Cooler => {
            let Some(inside) = one.low.zip(one.high).or(inside) else {
                return;
            };
            (one.low, one.nominal) = (None, None);
            one.beside.push(Beside::Cooler {
                inside,
                is_copper: matches!(part.kind, PartKind::Transformer(_)),
            });
        }
    }
}
