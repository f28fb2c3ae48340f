//! Where builders stand in the tolerances.

use super::normal::share_below;
use super::sequence::Sequence;
use super::{RANKED, SCRAMBLINGS, TELLING};
use crate::finding::LimitFinding;
use crate::search::{Corner, Known, Position, at, changes_at, groups, position_of};
use quietrail_job::model::Job;
use quietrail_job::{Address, Change, Parameter, Shape};
use std::collections::BTreeSet;

/// Where mains and room stand.
pub(super) enum Stand {
    /// Anywhere in their range, drawn for each sample.
    Drawn,
    /// At these values, and nominal where none is named.
    At(Vec<(Address, f64)>),
}

/// Where builders stand in the tolerances.
pub(super) struct Builders {
    pub(super) parameters: Vec<Parameter>,
    /// For each parameter the first of those that move with it.
    leaders: Vec<usize>,
    /// For each parameter the coordinate that moves it.
    coordinates: Vec<usize>,
    /// Samples, scrambling by scrambling: coordinates, all even between 0 and 1.
    pub(super) a: Vec<Vec<f64>>,
    /// As many others, for what decides.
    pub(super) b: Vec<Vec<f64>>,
    /// Samples of one scrambling.
    pub(super) each: usize,
}

/// Whether a figure is nobody's own: every supply meets all of its range.
pub(super) fn is_condition(address: &Address) -> bool {
    matches!(address.0.as_str(), "room" | "box.rise") || address.0.starts_with("mains.")
}

impl Builders {
    pub(super) fn of(job: &Job, seed: u64, each: u64) -> Self {
        let mut parameters = job.reaches();
        parameters.retain(|parameter| parameter.high > parameter.low);
        let leaders = groups(&job.same, &parameters);
        let mut own = leaders.clone();
        own.sort_unstable();
        own.dedup();
        let coordinates = leaders
            .iter()
            .map(|group| own.binary_search(group).unwrap_or_default())
            .collect();
        let dimensions = own.len();
        let sequence = Sequence::new(2 * dimensions, each as usize);
        let (mut a, mut b) = (Vec::new(), Vec::new());
        for scrambling in 0..SCRAMBLINGS {
            for mut point in sequence.scrambled(seed, scrambling) {
                b.push(point.split_off(dimensions));
                a.push(point);
            }
        }
        Self {
            parameters,
            leaders,
            coordinates,
            a,
            b,
            each: each as usize,
        }
    }

    /// The place of a builder in the tolerances, mains and room as they stand; without a point, of one with all parts as
    /// marked.
    pub(super) fn corner(&self, point: Option<&[f64]>, stand: &Stand) -> Corner {
        let place = |index: usize| {
            let parameter = &self.parameters[index];
            match stand {
                Stand::At(values) if is_condition(&parameter.address) => values
                    .iter()
                    .find(|(address, _)| *address == parameter.address)
                    .map_or(Position::NOMINAL, |(_, value)| {
                        position_of(parameter, *value)
                    }),
                // What moves together stands at the same place, as in the search.
                Stand::At(_) | Stand::Drawn => point.map_or(Position::NOMINAL, |point| {
                    let leader = &self.parameters[self.leaders[index]];
                    place_of(leader, point[self.coordinates[index]])
                }),
            }
        };
        (0..self.parameters.len()).map(place).collect()
    }

    /// Where a builder stands on each coordinate: −1 at its low end, 1 at its high one, even in the value.
    pub(super) fn place(&self, point: &[f64], stand: &Stand) -> Vec<f64> {
        let values = self.values(Some(point), stand);
        let leads = |coordinate: usize| {
            let mut own = self.coordinates.iter();
            own.position(|known| *known == coordinate)
        };
        let places = (0..point.len()).filter_map(leads).map(|index| {
            let parameter = &self.parameters[index];
            let width = parameter.high - parameter.low;
            2.0 * (values[index] - parameter.low) / width - 1.0
        });
        places.collect()
    }

    /// The changes that make a builder's supply.
    pub(super) fn changes(&self, point: Option<&[f64]>, stand: &Stand) -> Vec<Change> {
        changes_at(&self.parameters, &self.corner(point, stand))
    }

    /// The values of its parameters.
    pub(super) fn values(&self, point: Option<&[f64]>, stand: &Stand) -> Vec<f64> {
        let corner = self.corner(point, stand);
        let places = self.parameters.iter().zip(corner);
        places
            .map(|(parameter, place)| at(parameter, place))
            .collect()
    }

    /// The values of a builder's supply in a state, as a place to look at.
    pub(super) fn known(&self, point: &[f64], stand: &Stand, state: &str) -> Known {
        let addresses = self.parameters.iter().map(|own| own.address.clone());
        Known {
            state: state.to_owned(),
            values: addresses.zip(self.values(Some(point), stand)).collect(),
        }
    }

    /// Figures that are not as likely at one place of their range as at another.
    pub(super) fn spread(&self) -> u64 {
        let spread = self.parameters.iter();
        super::count(spread.filter(|parameter| parameter.shape != Shape::Even))
    }

    /// Builders A, each with one figure of its B.
    pub(super) fn mixed(&self, coordinate: usize) -> Vec<Vec<f64>> {
        let mut mixed = self.a.clone();
        for (point, other) in mixed.iter_mut().zip(&self.b) {
            point[coordinate] = other[coordinate];
        }
        mixed
    }

    /// The figure that a coordinate moves: of several points of a curve, the curve.
    pub(super) fn address(&self, coordinate: usize) -> Address {
        let mut moved = self
            .parameters
            .iter()
            .zip(&self.coordinates)
            .filter(|(_, own)| **own == coordinate)
            .map(|(parameter, _)| &parameter.address);
        let first = moved.next().expect("every coordinate moves a parameter");
        let of_curve = |address: &Address| {
            let (curve, _) = address.0.rsplit_once('.')?;
            Some(curve.to_owned())
        };
        // Of figures that the job says are the same, the first stands for all.
        match (of_curve(first), moved.next().and_then(of_curve)) {
            (Some(curve), Some(next)) if curve == next => Address(curve),
            _ => first.clone(),
        }
    }

    /// The coordinates that tell most on the way to the worst corner of some limit, as many for each: what decides one of them may do
    /// nothing to another.
    pub(super) fn telling(&self, rows: &[&LimitFinding]) -> Vec<usize> {
        let each = rows.iter().flat_map(|row| self.telling_of(row));
        let all: BTreeSet<usize> = each.collect();
        all.into_iter().collect()
    }

    fn telling_of(&self, row: &LimitFinding) -> Vec<usize> {
        let mut weights = vec![0.0; self.a.first().map_or(0, Vec::len)];
        for term in &row.corner {
            let mut all = self.parameters.iter();
            if let Some(index) = all.position(|parameter| parameter.address == term.address) {
                weights[self.coordinates[index]] += term.weight;
            }
        }
        let mut order: Vec<usize> = (0..weights.len()).collect();
        order.retain(|&coordinate| weights[coordinate] >= TELLING);
        order.sort_by(|&a, &b| weights[b].total_cmp(&weights[a]));
        order.truncate(RANKED);
        order
    }
}

/// Where a figure stands that has a draw of 0 to 1.
fn place_of(parameter: &Parameter, draw: f64) -> Position {
    match parameter.shape {
        Shape::Even => {
            let value = parameter.low + draw * (parameter.high - parameter.low);
            position_of(parameter, value)
        }
        Shape::Normal { cut } => Position::between(share_below(draw, cut)),
    }
}
