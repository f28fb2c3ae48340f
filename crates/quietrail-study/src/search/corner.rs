//! Where each toleranced figure stands: at an end, as marked, or between.

use crate::finding::CornerTerm;
use quietrail_job::model::Same;
use quietrail_job::{Address, Change, Parameter};

/// Where each parameter stands, in the order of the parameters.
pub type Corner = Vec<Position>;

/// How far a figure is from its nominal: a whole number of steps, so that equal corners are equal.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Position(i32);

/// Steps from the nominal to an end: a millionth of a tolerance is finer than any solution.
const STEPS: i32 = 1_000_000;

impl Position {
    /// At the low end.
    pub const LOW: Self = Self(-STEPS);
    /// As marked.
    pub const NOMINAL: Self = Self(0);
    /// At the high end.
    pub const HIGH: Self = Self(STEPS);

    /// A share of the way from the nominal to the low end (−1) or the high end (1).
    pub fn between(share: f64) -> Self {
        Self((share.clamp(-1.0, 1.0) * f64::from(STEPS)).round() as i32)
    }

    /// The end that a positive or a negative effect points to.
    pub(super) fn end(effect: f64) -> Self {
        if effect > 0.0 { Self::HIGH } else { Self::LOW }
    }

    /// The other side of the nominal; of the nominal itself, the high end.
    pub(super) fn flipped(self) -> Self {
        if self > Self::NOMINAL {
            Self::LOW
        } else {
            Self::HIGH
        }
    }

    /// −1 at the low end, 0 at the nominal, 1 at the high end.
    pub fn share(self) -> f64 {
        f64::from(self.0) / f64::from(STEPS)
    }

    /// Neither at an end nor as marked.
    pub fn is_inside(self) -> bool {
        ![Self::LOW, Self::NOMINAL, Self::HIGH].contains(&self)
    }
}

/// A parameter's value at a position.
pub fn at(parameter: &Parameter, position: Position) -> f64 {
    let Parameter {
        low, nominal, high, ..
    } = *parameter;
    match position {
        Position::LOW => low,
        Position::HIGH => high,
        Position(steps) if steps < 0 => nominal + (nominal - low) * position.share(),
        Position(_) => nominal + (high - nominal) * position.share(),
    }
}

/// The position of a value; values beyond an end stand at the end.
pub fn position_of(parameter: &Parameter, value: f64) -> Position {
    let way = value - parameter.nominal;
    let whole = if way < 0.0 {
        parameter.nominal - parameter.low
    } else {
        parameter.high - parameter.nominal
    };
    if whole > 0.0 {
        Position::between(way / whole)
    } else {
        Position::NOMINAL
    }
}

/// The corner at which figures have the values given; others as marked.
pub(super) fn corner_at(parameters: &[Parameter], values: &[(Address, f64)]) -> Corner {
    parameters
        .iter()
        .map(|parameter| {
            values
                .iter()
                .find(|(address, _)| *address == parameter.address)
                .map_or(Position::NOMINAL, |(_, value)| {
                    position_of(parameter, *value)
                })
        })
        .collect()
}

/// The changes that put a job at a corner.
pub fn changes_at(parameters: &[Parameter], corner: &[Position]) -> Vec<Change> {
    parameters
        .iter()
        .zip(corner)
        .filter(|(_, position)| **position != Position::NOMINAL)
        .map(|(parameter, position)| Change::Set {
            address: parameter.address.clone(),
            value: at(parameter, *position),
        })
        .collect()
}

/// For each parameter the first of those that move with it: the points of one curve of one part
/// (`U1.dropout.1`, `U1.dropout.2`) come from the same piece of silicon and go up or down together, and so do the
/// figures that the job says are the same.
pub fn groups(same: &[Same], parameters: &[Parameter]) -> Vec<usize> {
    let mut groups = curves(parameters);
    for same in same {
        let tied: Vec<usize> = (0..parameters.len())
            .filter(|&index| same.figures.contains(&parameters[index].address))
            .map(|index| groups[index])
            .collect();
        let Some(&first) = tied.iter().min() else {
            continue;
        };
        for group in &mut groups {
            if tied.contains(group) {
                *group = first;
            }
        }
    }
    groups
}

/// For each parameter the first point of its curve, or itself.
fn curves(parameters: &[Parameter]) -> Vec<usize> {
    let curve = |parameter: &Parameter| {
        let (curve, point) = parameter.address.0.rsplit_once('.')?;
        point
            .chars()
            .all(|c| c.is_ascii_digit())
            .then(|| curve.to_owned())
    };
    let curves: Vec<Option<String>> = parameters.iter().map(curve).collect();
    curves
        .iter()
        .enumerate()
        .map(|(index, own)| match own {
            Some(_) => curves
                .iter()
                .position(|other| other == own)
                .unwrap_or(index),
            None => index,
        })
        .collect()
}

/// A corner with one group of figures moved.
pub(super) fn with_group(
    corner: &[Position],
    groups: &[usize],
    group: usize,
    to: Position,
) -> Corner {
    corner
        .iter()
        .zip(groups)
        .map(|(&position, &own)| if own == group { to } else { position })
        .collect()
}

/// The figures of a corner that are not at their nominal, most telling first.
pub(crate) fn terms(parameters: &[Parameter], corner: &Corner, weights: &[f64]) -> Vec<CornerTerm> {
    let mut terms: Vec<CornerTerm> = parameters
        .iter()
        .zip(corner)
        .zip(weights)
        .filter(|((_, position), _)| **position != Position::NOMINAL)
        .map(|((parameter, position), weight)| CornerTerm {
            address: parameter.address.clone(),
            value: at(parameter, *position),
            unit: parameter.unit,
            nominal: parameter.nominal,
            weight: *weight,
        })
        .collect();
    terms.sort_by(|a, b| b.weight.total_cmp(&a.weight));
    terms
}

#[cfg(test)]
mod tests {
    use super::{Position, at, corner_at, groups};
    use quietrail_job::model::Same;
    use quietrail_job::{Address, Parameter, Shape};

    fn lopsided() -> Parameter {
        Parameter {
            address: Address("C1.value".to_owned()),
            low: 8.0,
            nominal: 10.0,
            high: 15.0,
            shape: Shape::Even,
            unit: "F",
            why_default: None,
        }
    }

    #[test]
    fn points_of_a_curve_and_figures_that_are_the_same_move_together() {
        let addresses = [
            "C1.value",
            "U1.dropout.1",
            "U1.dropout.2",
            "C2.value",
            "R1.value",
        ];
        let parameters = addresses.map(|address| Parameter {
            address: Address(address.to_owned()),
            ..lopsided()
        });
        assert_eq!(groups(&[], &parameters), [0, 1, 1, 3, 4]);
        let tie = |figures: [&str; 2]| Same {
            figures: figures.map(|figure| Address(figure.to_owned())).to_vec(),
            because: String::new(),
        };
        let batch = tie(["C2.value", "C1.value"]);
        assert_eq!(
            groups(std::slice::from_ref(&batch), &parameters),
            [0, 1, 1, 0, 4]
        );
        // A point of a curve takes the whole curve along.
        let silicon = tie(["R1.value", "U1.dropout.2"]);
        assert_eq!(groups(&[batch, silicon], &parameters), [0, 1, 1, 0, 1]);
    }

    #[test]
    fn values_and_positions_lead_to_each_other() {
        let parameter = lopsided();
        let ends = [
            (Position::LOW, 8.0),
            (Position::NOMINAL, 10.0),
            (Position::HIGH, 15.0),
        ];
        for (position, value) in ends {
            assert_eq!(at(&parameter, position), value);
        }
        for value in [8.0, 8.5, 10.0, 11.0, 14.9, 15.0] {
            let set = [(parameter.address.clone(), value)];
            let corner = corner_at(std::slice::from_ref(&parameter), &set);
            let back = at(&parameter, corner[0]);
            assert!((back - value).abs() < 1e-5, "{value} came back as {back}");
        }
        let beyond = [(parameter.address.clone(), 99.0)];
        assert_eq!(
            corner_at(&[parameter], &beyond),
            [Position::HIGH],
            "a value beyond the tolerance stands at its end"
        );
    }
}
