//! Steps that were made, so that the next cycle begins where they ended.

use super::super::lanes::Lanes;
use super::operator::{Operator, STAGES};
use super::plan::{Course, Part, along};
use crate::step::Tableau;
use std::ops::Range;

/// Steps made, one after the other: coordinates at their stages, stores at their starts, and the derivatives of both against
/// those at the start of the cycle, row-major.
#[derive(Default)]
pub(super) struct Kept {
    /// First coordinate of each step; at last, how many there are.
    pub(super) firsts: Vec<usize>,
    pub(super) coordinates: Vec<Lanes>,
    pub(super) moved: Vec<Lanes>,
    pub(super) stores: Vec<Lanes>,
    pub(super) map: Vec<Lanes>,
    /// What sources make of inputs, then of the stores at the end of each step; and where it begins.
    pub(super) driven: Vec<Lanes>,
    pub(super) driven_firsts: Vec<usize>,
}

impl Kept {
    /// Makes room for steps. What is in it is of no meaning.
    pub(super) fn make_room(&mut self, course: &Course, operators: &[Operator], stores: usize) {
        self.firsts.clear();
        self.driven_firsts.clear();
        let (mut count, mut driven) = (0, 0);
        for leg in &course.legs {
            let operator = &operators[leg.operator];
            self.firsts.push(count);
            self.driven_firsts.push(driven);
            count += STAGES * operator.sizes.ports;
            driven += operator.inputs.count + stores;
        }
        self.firsts.push(count);
        self.driven_firsts.push(driven);
        let legs = course.legs.len();
        let sizes = [
            (&mut self.coordinates, count),
            (&mut self.moved, count * stores),
            (&mut self.stores, legs * stores),
            (&mut self.map, legs * stores * stores),
            (&mut self.driven, driven),
        ];
        for (list, size) in sizes {
            list.resize(size, Lanes::ZERO);
        }
    }

    /// Begins steps where others were, or parts of them.
    pub(super) fn follow(&mut self, before: &Kept, from: &[(usize, Part)], m: usize) {
        let nodes = Tableau::new().nodes;
        for (at, &(other, part)) in from.iter().enumerate() {
            let (own, others) = (self.coordinates_of(at), before.coordinates_of(other));
            let ports = own.len() / STAGES;
            for i in 0..STAGES {
                let weights = along(part, nodes[i]);
                for port in 0..ports {
                    let (mut value, place) = (Lanes::ZERO, own.start + i * ports + port);
                    let of = |j: usize| others.start + j * ports + port;
                    for j in 0..STAGES {
                        value += Lanes::all(weights[j]) * before.coordinates[of(j)];
                    }
                    self.coordinates[place] = value;
                    for k in 0..m {
                        let mut moved = Lanes::ZERO;
                        for j in 0..STAGES {
                            moved += Lanes::all(weights[j]) * before.moved[of(j) * m + k];
                        }
                        self.moved[place * m + k] = moved;
                    }
                }
            }
        }
    }

    /// Places of a step's coordinates.
    pub(super) fn coordinates_of(&self, at: usize) -> Range<usize> {
        self.firsts[at]..self.firsts[at + 1]
    }

    pub(super) fn driven_of(&self, at: usize) -> Range<usize> {
        self.driven_firsts[at]..self.driven_firsts[at + 1]
    }
}
