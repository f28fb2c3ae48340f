//! Steps that were made, so that the next cycle begins where they ended.

use super::super::lanes::Lanes;
use super::newton::Sorts;
use super::operator::{Operator, STAGES};
use super::plan::{Course, Part, along};
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

/// Where a coordinate of a step is looked for that was not made yet: along the stages of one that was, by their places and
/// shares, or where the solved circuit's was.
#[derive(Clone, Debug)]
pub(super) struct Whence {
    places: [usize; STAGES],
    weights: [f64; STAGES],
    guess: f64,
}

impl Whence {
    pub(super) fn guessed(guess: f64) -> Self {
        Self {
            places: [0; STAGES],
            weights: [0.0; STAGES],
            guess,
        }
    }

    /// At a share of a part of a step whose coordinates begin at some place, of one of its ports.
    pub(super) fn along(
        (sorts, first, port): (Sorts, usize, usize),
        part: Part,
        share: f64,
    ) -> Self {
        Self {
            places: std::array::from_fn(|stage| first + sorts.place(stage, port)),
            weights: along(part, share),
            guess: 0.0,
        }
    }
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
            count += leg.guess.len();
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

    /// Begins steps where others were.
    pub(super) fn follow(&mut self, before: &Kept, from: &[Whence], m: usize) {
        for (place, whence) in from.iter().enumerate() {
            let mut value = Lanes::all(whence.guess);
            self.moved[place * m..][..m].fill(Lanes::ZERO);
            for (&other, &weight) in whence.places.iter().zip(&whence.weights) {
                value += Lanes::all(weight) * before.coordinates[other];
                for k in 0..m {
                    self.moved[place * m + k] += Lanes::all(weight) * before.moved[other * m + k];
                }
            }
            self.coordinates[place] = value;
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
