//! The band that tolerances leave around figures of one circuit: few corners, each solved.
//!
//! Exact derivatives point to the corner that moves each figure furthest, up and down; these corners are solved, and the band
//! of a figure runs over all of them. It is the widest found, not proven widest.

use crate::finding::WhyNot;
use crate::slopes::gradients;
use crate::solve::{Plan, Setting, Trouble, answers, solve, solve_all, together};
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
    let corners = corners(tolerances, &slopes[..led.min(slopes.len())]);
    let solved: Vec<Vec<Result<f64, WhyNot>>> = corners
        .par_chunks(together(corners.len()))
        .flat_map_iter(|some| solve_all(plan, setting, some, &nominal.solution))
        .filter_map(Result::ok)
        .map(|solved| answers(plan, &solved))
        .collect();
    let at_nominal = answers(plan, &nominal);
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

/// The corners that move some figure furthest, each once.
fn corners(tolerances: &[Parameter], slopes: &[Vec<f64>]) -> Vec<Vec<Change>> {
    let mut all: Vec<Vec<Change>> = Vec::new();
    for row in slopes {
        for up in [true, false] {
            let corner: Vec<Change> = tolerances
                .iter()
                .zip(row)
                .filter(|(_, slope)| **slope != 0.0)
                .map(|(parameter, slope)| Change::Set {
                    address: parameter.address.clone(),
                    value: if (*slope > 0.0) == up {
                        parameter.high
                    } else {
                        parameter.low
                    },
                })
                .collect();
            if !corner.is_empty() && !all.contains(&corner) {
                all.push(corner);
            }
        }
    }
    all
}
