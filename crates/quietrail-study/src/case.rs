//! What a thermometer finds on the outside of a part, and how much hotter it is inside.
//!
//! Ratings and predictions are of junctions and of copper; nobody puts a thermometer there. Of a part on a sink, or one whose data
//! sheet gives both its ways to the case and to the air, the case follows. Of others only this is known: outside it is no hotter
//! than inside.

use crate::heat::{power, sink_temperature, temperature};
use crate::lower::Lowered;
use crate::reading::Reading;
use quietrail_job::model::{Figure, Part, PartKind};
use quietrail_units::KelvinsPerWatt;

/// What the outside of a part is to what is predicted of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outside {
    /// What is predicted is the outside: a sink, a can.
    Same,
    /// A case, whose temperature is predicted too.
    Case,
    /// Something cooler than what is predicted, by nobody knows how much.
    Cooler,
}

/// The thermal figures of a part with a junction and a case.
struct Ways<'a> {
    sink: Option<&'a str>,
    to_case: Option<&'a Figure<KelvinsPerWatt>>,
    case_to_sink: &'a Figure<KelvinsPerWatt>,
    to_air: Option<&'a Figure<KelvinsPerWatt>>,
}

fn ways(part: &Part) -> Option<Ways<'_>> {
    match &part.kind {
        PartKind::Regulator(one) => Some(Ways {
            sink: one.sink.as_deref(),
            to_case: one.junction_to_case.as_ref(),
            case_to_sink: &one.case_to_sink,
            to_air: one.junction_to_air.as_ref(),
        }),
        PartKind::Transistor(one) => Some(Ways {
            sink: one.sink.as_deref(),
            to_case: one.junction_to_case.as_ref(),
            case_to_sink: &one.case_to_sink,
            to_air: one.junction_to_air.as_ref(),
        }),
        _ => None,
    }
}

/// What a thermometer on a part reads.
pub fn outside(part: &Part) -> Outside {
    match &part.kind {
        PartKind::Sink(_) | PartKind::Capacitor(_) => Outside::Same,
        _ => match ways(part) {
            Some(ways) if ways.sink.is_some() => Outside::Case,
            Some(ways) if ways.to_case.is_some() && ways.to_air.is_some() => Outside::Case,
            _ => Outside::Cooler,
        },
    }
}

/// Whether the junction of a part follows from its case.
pub fn is_inside_known(part: &Part) -> bool {
    let has_way = ways(part).is_some_and(|ways| ways.to_case.is_some());
    has_way && outside(part) == Outside::Case
}

/// Kelvins by which a junction is hotter than its case; `None` where the job does not say.
pub fn inside(lowered: &Lowered, reading: &Reading<'_>, part: &Part) -> Option<f64> {
    let to_case = ways(part)?.to_case?.nominal();
    Some(power(lowered, reading, &part.name) * to_case)
}

/// Temperature of a case, °C.
pub fn case(lowered: &Lowered, reading: &Reading<'_>, part: &Part, air: f64) -> Option<f64> {
    let ways = ways(part)?;
    match ways.sink {
        Some(sink) => {
            let to_sink = ways.case_to_sink.nominal();
            let own = power(lowered, reading, &part.name);
            Some(sink_temperature(lowered, reading, sink, air)? + own * to_sink)
        }
        None => {
            let junction = temperature(lowered, reading, part, air)?;
            Some(junction - inside(lowered, reading, part)?)
        }
    }
}
