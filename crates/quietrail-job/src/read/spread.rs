//! `[[spread]]`: figures whose values crowd around the nominal.

use super::fields::Fields;
use crate::change::{Address, Parameter};
use crate::fault::{Fault, Faults};
use crate::model::{Job, Spread};
use crate::nearest::nearest;
use crate::written::Value;
use quietrail_units::Ratio;

/// Standard deviations that a tolerance is where nothing is said.
const DEVIATIONS: f64 = 3.0;

/// All of them; each address is that of a figure that has a tolerance, and stands in one of them only.
pub(crate) fn spreads(tables: &[Fields<'_>], job: &Job, faults: &mut Faults) -> Vec<Spread> {
    if tables.is_empty() {
        return Vec::new();
    }
    let parameters = job.parameters();
    let mut all: Vec<Spread> = Vec::new();
    let mut places: Vec<(Address, &Value)> = Vec::new();
    for fields in tables {
        let number = |key| {
            let figure = fields.figure::<Ratio>(key)?;
            Some(figure.nominal())
        };
        let deviations = number("deviations").unwrap_or(DEVIATIONS);
        let mut spread = Spread {
            figures: Vec::new(),
            deviations,
            cut: number("cut").unwrap_or(deviations),
            because: fields.words("because"),
        };
        for (name, value) in fields.names("figures") {
            let known = parameters.iter().find(|known| known.address.0 == name);
            let Some(parameter) = known else {
                let known = parameters.iter().map(|known| known.address.0.as_str());
                let nearest = nearest(name, known);
                let name = name.to_owned();
                faults.of(value, &Fault::UnknownFigure { name, nearest });
                continue;
            };
            let is_taken = places.iter().any(|(taken, _)| *taken == parameter.address);
            if let Some(why) = (is_taken.then_some(TAKEN)).or_else(|| refused(parameter, &spread)) {
                faults.of(value, &not_spread(name, why));
                continue;
            }
            places.push((parameter.address.clone(), value));
            spread.figures.push(parameter.address.clone());
        }
        all.push(spread);
    }
    check_ties(&all, &places, job, &parameters, faults);
    all
}

const TAKEN: &str = "it is in a [[spread]] already";

/// Why a figure cannot be spread so.
fn refused(parameter: &Parameter, spread: &Spread) -> Option<&'static str> {
    let address = parameter.address.0.as_str();
    if matches!(address, "room" | "box.rise") || address.starts_with("mains.") {
        return Some("every supply meets all of its range, and nobody has one of it to himself");
    }
    if parameter.high <= parameter.low {
        return Some("it has no tolerance; write one with its value");
    }
    let (low, _) = spread.reach(parameter.low, parameter.nominal, parameter.high);
    (parameter.low > 0.0 && low <= 0.0)
        .then_some("with this `cut` it would come to zero or below; write a smaller one")
}

/// What moves together spreads together.
fn check_ties(
    spreads: &[Spread],
    places: &[(Address, &Value)],
    job: &Job,
    parameters: &[Parameter],
    faults: &mut Faults,
) {
    let of = |address: &Address| {
        spreads
            .iter()
            .position(|spread| spread.figures.contains(address))
    };
    for (address, value) in places {
        let same = job
            .same
            .iter()
            .filter(|same| same.figures.contains(address));
        let tied = same.flat_map(|same| &same.figures);
        let beside = parameters.iter().map(|parameter| &parameter.address);
        let beside =
            beside.filter(|other| curve(other).is_some() && curve(other) == curve(address));
        if tied.chain(beside).any(|other| of(other) != of(address)) {
            let why = "what moves with it is not in the same [[spread]]; name all of them in one";
            faults.of(value, &not_spread(&address.0, why));
        }
    }
}

/// The curve that a figure is a point of: `U1.dropout` of `U1.dropout.2`.
fn curve(address: &Address) -> Option<&str> {
    let (curve, point) = address.0.rsplit_once('.')?;
    point.bytes().all(|c| c.is_ascii_digit()).then_some(curve)
}

fn not_spread(name: &str, why: &'static str) -> Fault {
    Fault::NotSpread {
        name: name.to_owned(),
        why,
    }
}
