//! The band that tolerances leave around figures of one circuit: few corners, each solved.
//!
//! Exact derivatives point to the corner that moves each figure furthest, up and down; these corners are solved, and the band
//! of a figure runs over all of them. Where such a corner hardly moves its figure, slopes have turned on the way, and one without those
//! that turned is solved as well. It is the widest found, not proven widest.

use crate::finding::WhyNot;
use crate::slopes::gradients;
use crate::solve::{Plan, Setting, Solved, Trouble, answers, solve, solve_all, together};
use quietrail_job::{Change, Parameter};
use rayon::prelude::*;

/// The band of a figure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Band {
    /// Lowest found.
    pub(crate) low: f64,
    /// Parts as marked.
    pub(crate) nominal: f64,
    /// Highest found.
    pub(crate) high: f64,
}

/// Bands of the questions of a plan, in their order; `None` where one has no value. Of `led` questions, the first ones, the corners
/// are looked for; of the others the band runs over the same.
pub(crate) fn bands(
    plan: &Plan,
    setting: Setting<'_>,
    tolerances: &[Parameter],
    led: usize,
) -> Result<Vec<Option<Band>>, Trouble> {
    let nominal = solve(plan, setting, &[], None)?;
    let slopes = gradients(plan, setting, &[], &nominal, tolerances)?.questions;
    let led = &slopes[..led.min(slopes.len())];
    let corners = corners(tolerances, led);
    let solve_each = |corners: &[Vec<Change>]| -> Vec<Option<Solved>> {
        let all = corners.par_chunks(together(corners.len()));
        all.flat_map_iter(|some| solve_all(plan, setting, some, &nominal.solution))
            .map(Result::ok)
            .collect()
    };
    let mut solved = solve_each(&corners);
    let at_nominal = answers(plan, &nominal);
    let look = Look {
        plan,
        setting,
        tolerances,
        slopes: led,
        nominal: &at_nominal,
    };
    let astray: Vec<Vec<Change>> = corners
        .par_iter()
        .zip(&solved)
        .flat_map_iter(|(corner, solved)| look.back_from(corner, solved.as_ref()))
        .collect();
    solved.extend(solve_each(&astray));
    let solved: Vec<Vec<Result<f64, WhyNot>>> = solved
        .iter()
        .flatten()
        .map(|solved| answers(plan, solved))
        .collect();
    let band = |index: usize| {
        let nominal = *at_nominal[index].as_ref().ok()?;
        let mut band = Band {
            low: nominal,
            nominal,
            high: nominal,
        };
        for value in solved
            .iter()
            .filter_map(|values| values[index].as_ref().ok())
        {
            band.low = band.low.min(*value);
            band.high = band.high.max(*value);
        }
        nominal.is_finite().then_some(band)
    };
    Ok((0..plan.questions.len()).map(band).collect())
}

/// A corner that moved its figure by less than this part of what slopes foretold led astray.
const ASTRAY: f64 = 0.25;

/// What is known at the nominal solution.
struct Look<'a> {
    plan: &'a Plan,
    setting: Setting<'a>,
    tolerances: &'a [Parameter],
    /// Of each question that leads to corners, against each tolerance.
    slopes: &'a [Vec<f64>],
    nominal: &'a [Result<f64, WhyNot>],
}

impl Look<'_> {
    /// Corners in place of one that led astray, some figure having its lowest or highest inside: two halves of a winding that differ
    /// make more ripple whichever is the higher. Figures whose slope has turned on the way stay as marked, or go as far as where the
    /// slope is none if it changes evenly.
    fn back_from(&self, corner: &[Change], solved: Option<&Solved>) -> Vec<Vec<Change>> {
        let Some(solved) = solved else {
            return Vec::new();
        };
        let there = answers(self.plan, solved);
        let astray: Vec<usize> = (0..self.slopes.len())
            .filter(|index| self.is_astray(*index, corner, &there))
            .collect();
        if astray.is_empty() {
            return Vec::new();
        }
        let Ok(found) = gradients(self.plan, self.setting, corner, solved, self.tolerances) else {
            return Vec::new();
        };
        let mut all = Vec::new();
        for index in astray {
            let turning = Turning {
                before: &self.slopes[index],
                after: &found.questions[index],
            };
            all.push(self.turned_back(corner, &turning, |_, _| 0.0));
            all.push(self.turned_back(corner, &turning, |before, after| before / (before - after)));
        }
        all
    }

    /// Whether it is a corner of that question's own, and moved it by far less than foretold.
    fn is_astray(&self, index: usize, corner: &[Change], there: &[Result<f64, WhyNot>]) -> bool {
        let own = |up: bool| corner_of(self.tolerances, &self.slopes[index], up) == corner;
        let (Ok(nominal), Ok(there)) = (&self.nominal[index], &there[index]) else {
            return false;
        };
        let foretold: f64 = self
            .tolerances
            .iter()
            .zip(&self.slopes[index])
            .map(|(parameter, slope)| {
                let up = (slope * (parameter.high - parameter.nominal)).abs();
                up.min((slope * (parameter.nominal - parameter.low)).abs())
            })
            .sum();
        let moved = there - nominal;
        (own(true) && moved < ASTRAY * foretold) || (own(false) && -moved < ASTRAY * foretold)
    }

    /// The corner, with each figure whose slope has turned only so much of its way.
    fn turned_back(
        &self,
        corner: &[Change],
        turning: &Turning<'_>,
        share: impl Fn(f64, f64) -> f64,
    ) -> Vec<Change> {
        let mut back = corner.to_vec();
        for change in &mut back {
            let Change::Set { address, value } = change else {
                continue;
            };
            let own = |parameter: &Parameter| parameter.address == *address;
            let Some(column) = self.tolerances.iter().position(own) else {
                continue;
            };
            let (before, after) = (turning.before[column], turning.after[column]);
            if before * after < 0.0 {
                let nominal = self.tolerances[column].nominal;
                *value = nominal + share(before, after) * (*value - nominal);
            }
        }
        back
    }
}

/// Slopes of one question at the nominal solution and at a corner.
struct Turning<'a> {
    before: &'a [f64],
    after: &'a [f64],
}

/// The corners that move some figure furthest, each once.
fn corners(tolerances: &[Parameter], slopes: &[Vec<f64>]) -> Vec<Vec<Change>> {
    let mut all: Vec<Vec<Change>> = Vec::new();
    for row in slopes {
        for up in [true, false] {
            let corner = corner_of(tolerances, row, up);
            if !corner.is_empty() && !all.contains(&corner) {
                all.push(corner);
            }
        }
    }
    all
}

/// The corner that moves a figure with these slopes furthest up, or down.
fn corner_of(tolerances: &[Parameter], slopes: &[f64], up: bool) -> Vec<Change> {
    tolerances
        .iter()
        .zip(slopes)
        .filter(|(_, slope)| **slope != 0.0)
        .map(|(parameter, slope)| Change::Set {
            address: parameter.address.clone(),
            value: if (*slope > 0.0) == up {
                parameter.high
            } else {
                parameter.low
            },
        })
        .collect()
}
