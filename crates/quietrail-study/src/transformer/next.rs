//! The one next reading that would narrow most what the job leans on.
//!
//! 1. What is leaned on: the tightest margin of the job, where the transformer is in its circuit and known under these
//!    names; else the volts under load of the secondary that is known worst.
//! 2. Every reading that could be taken is tried as one more equation, with the errors that such a reading has; the one
//!    that leaves the least spread wins.

use super::Known;
use super::figures::{FigureOf, ends, value};
use super::fit::Fit;
use super::rows::{ReadingKind, Unknown};
use crate::lower::Step;
use crate::slopes::gradients;
use crate::solve::{Plan, Setting, answers, solve};
use quietrail_job::model::unmarked::Unmarked;
use quietrail_job::model::{Job, PartKind};
use quietrail_job::{Address, Change};
use std::f64::consts::SQRT_2;

/// A reading to take.
#[derive(Clone, Debug, PartialEq)]
pub struct Next {
    /// What kind.
    pub kind: ReadingKind,
    /// Leads to read at, or to short.
    pub leads: (String, String),
    /// Leads to drive.
    pub driven: (String, String),
    /// Volts to put on them.
    pub volts: f64,
    /// What to expect there, and its unit.
    pub expect: (f64, &'static str),
    /// Half-range of the figure that it narrows, before and after, in its unit.
    pub before: f64,
    /// After.
    pub after: f64,
    /// What it narrows.
    pub narrows: Narrows,
}

/// What a next reading narrows.
#[derive(Clone, Debug, PartialEq)]
pub enum Narrows {
    /// Volts of a winding under a load.
    UnderLoad {
        /// The winding.
        winding: String,
        /// Amperes.
        amperes: f64,
    },
    /// The margin of a limit of the job.
    Margin {
        /// The limit.
        limit: String,
        /// The state in which it is tightest.
        state: String,
        /// Unit of the margin.
        unit: &'static str,
    },
}

/// Error that a further reading would have by chance, as a share: last digits and the mains.
const CHANCE: f64 = 0.004;
/// Half-range of a 95 % range over its standard deviation.
const HALF: f64 = 1.96;

/// What is leaned on, and how it moves with the unknowns.
struct Target {
    narrows: Narrows,
    slope: Vec<f64>,
}

/// Chooses the reading.
pub(super) fn next(known: &Known, unmarked: &Unmarked, job: &Job) -> Option<Next> {
    let fit = known.fits.first();
    let covariance = fit.covariance();
    let target = margin(known, job).or_else(|| under_load(known, &covariance))?;
    let through = |slope: &[f64]| -> Vec<f64> {
        covariance
            .iter()
            .map(|row| row.iter().zip(slope).map(|(a, b)| a * b).sum())
            .collect()
    };
    let along = |a: &[f64], b: &[f64]| -> f64 { a.iter().zip(b).map(|(a, b)| a * b).sum() };
    let before = along(&target.slope, &through(&target.slope))
        .max(0.0)
        .sqrt();
    let best = candidates(known, fit)
        .into_iter()
        .filter_map(|one| {
            // One more equation with its own chance: the covariance that it takes away.
            let moved = through(&one.slope);
            let total = along(&one.slope, &moved) + (CHANCE * one.expect.0).powi(2);
            let shared = along(&target.slope, &moved);
            let after = (before * before - shared * shared / total).max(0.0).sqrt();
            after.is_finite().then_some((one, after))
        })
        .min_by(|a, b| a.1.total_cmp(&b.1))?;
    let (one, after) = best;
    // A reading that leaves things as they are is not worth the walk.
    if after > 0.95 * before {
        return None;
    }
    let named = |pair: (usize, usize)| {
        (
            unmarked.leads[pair.0].clone(),
            unmarked.leads[pair.1].clone(),
        )
    };
    Some(Next {
        kind: one.kind,
        leads: named(one.leads),
        driven: named(known.fits.mains.driven),
        volts: one.volts,
        expect: one.expect,
        before: HALF * before,
        after: HALF * after,
        narrows: target.narrows,
    })
}

/// The tightest margin of the job at the lowest mains, where the transformer is in its circuit.
fn margin(known: &Known, job: &Job) -> Option<Target> {
    let part = job.part(&known.name)?;
    let PartKind::Transformer(transformer) = &part.kind else {
        return None;
    };
    let plan = Plan::of(job).ok()?;
    let step = Step::default();
    let options = crate::options();
    let low = [Change::Set {
        address: Address("mains.voltage".to_owned()),
        value: job.mains.voltage.value.low,
    }];
    let mut tightest: Option<(f64, usize, usize)> = None;
    let mut solved = Vec::new();
    for state in 0..job.states.len() {
        let setting = Setting {
            job,
            state,
            step: &step,
            options: &options,
        };
        let found = solve(&plan, setting, &low, None).ok()?;
        for (index, (question, answer)) in plan
            .questions
            .iter()
            .zip(answers(&plan, &found))
            .enumerate()
        {
            let is_asked = question.states.contains(&state) && !question.is_quiet;
            let share = answer.ok().and_then(|value| question.margin_share(value));
            if let Some(share) = share.filter(|share| is_asked && share.is_finite())
                && tightest.is_none_or(|(least, ..)| share < least)
            {
                tightest = Some((share, state, index));
            }
        }
        solved.push(found);
    }
    let (_, state, index) = tightest?;
    let own = format!("{}.", known.name);
    let mut parameters = job.parameters();
    parameters.retain(|parameter| parameter.address.0.starts_with(&own));
    let setting = Setting {
        job,
        state,
        step: &step,
        options: &options,
    };
    let slopes = gradients(&plan, setting, &low, &solved[state], &parameters);
    let slopes = slopes.ok()?.questions;
    let fit = known.fits.first();
    let equations = &fit.equations;
    let mut slope = vec![0.0; fit.x.len()];
    for (parameter, by) in parameters.iter().zip(&slopes[index]) {
        let words: Vec<&str> = parameter.address.0.split('.').collect();
        let [_, winding, figure] = words.as_slice() else {
            continue;
        };
        let Some(k) = known.windings.iter().position(|of| of.name == *winding) else {
            continue;
        };
        let (of, scale) = match *figure {
            "resistance" => (FigureOf::Ohms(k), 1.0),
            "open" => {
                let read = transformer
                    .secondary
                    .iter()
                    .find(|of| of.name == *winding)?;
                (FigureOf::Open(k), read.at_primary.nominal() / known.mains.0)
            }
            "leakage" => {
                // The square is what is fitted: dL = dq / 2L.
                let place = equations.place(Unknown::Leakage(k))?;
                let henries = fit.x[place].max(0.0).sqrt();
                if henries > 0.0 {
                    slope[place] += by / (2.0 * henries);
                }
                continue;
            }
            _ => continue,
        };
        let at = |x: &[f64]| value(equations, &known.fits.mains, x, of);
        for (sum, own) in slope.iter_mut().zip(fit.slope(&at, at(&fit.x))) {
            *sum += by * scale * own;
        }
    }
    let question = &plan.questions[index];
    slope.iter().any(|by| *by != 0.0).then(|| Target {
        narrows: Narrows::Margin {
            limit: question.name.clone(),
            state: job.states[state].name.clone(),
            unit: question.unit,
        },
        slope,
    })
}

/// The secondary whose volts under load are known worst.
fn under_load(known: &Known, covariance: &[Vec<f64>]) -> Option<Target> {
    let fits = &known.fits;
    let fit = fits.first();
    let equations = &fit.equations;
    let mut worst: Option<(f64, Target)> = None;
    for (k, winding) in known.windings.iter().enumerate() {
        if winding.is_primary {
            continue;
        }
        let ohms = value(equations, &fits.mains, &fit.x, FigureOf::Source(k));
        let open = value(equations, &fits.mains, &fit.x, FigureOf::Open(k));
        if !(ohms > 0.0 && open > 0.0) {
            continue;
        }
        let ends_of = ends(&equations.layout, k);
        let mut hookup = fits.mains.clone();
        hookup.loads.push((ends_of.0, ends_of.1, 9.0 * ohms));
        let of = |x: &[f64]| {
            equations
                .flow(x, 0.0, &hookup)
                .map_or(f64::NAN, |flow| flow.across(ends_of).size() * SQRT_2)
        };
        let slope = fit.slope(&of, of(&fit.x));
        let mut square = 0.0;
        for (a, row) in slope.iter().zip(covariance) {
            square += a * row.iter().zip(&slope).map(|(c, b)| c * b).sum::<f64>();
        }
        let share = square.max(0.0).sqrt() / open;
        if share.is_finite() && worst.as_ref().is_none_or(|(least, _)| share > *least) {
            let narrows = Narrows::UnderLoad {
                winding: winding.name.clone(),
                amperes: 0.1 * open / ohms,
            };
            worst = Some((share, Target { narrows, slope }));
        }
    }
    worst.map(|(_, target)| target)
}

/// A reading that could be taken.
struct Candidate {
    kind: ReadingKind,
    leads: (usize, usize),
    volts: f64,
    expect: (f64, &'static str),
    slope: Vec<f64>,
}

fn candidates(known: &Known, fit: &Fit) -> Vec<Candidate> {
    let equations = &fit.equations;
    let mains = &known.fits.mains;
    let mut all = Vec::new();
    for (k, winding) in known.windings.iter().enumerate() {
        let leads = ends(&equations.layout, k);
        let mut add = |kind, volts: f64, unit, of: &dyn Fn(&[f64]) -> f64| {
            let expect = of(&fit.x);
            all.push(Candidate {
                kind,
                leads,
                volts,
                expect: (expect, unit),
                slope: fit.slope(&|x: &[f64]| of(x), expect),
            });
        };
        let at = |of: FigureOf| move |x: &[f64]| value(equations, mains, x, of);
        add(ReadingKind::Ohms, 0.0, "Ω", &at(FigureOf::Ohms(k)));
        if winding.is_primary {
            continue;
        }
        add(ReadingKind::Volts, mains.volts, "V", &at(FigureOf::Open(k)));
        // As low as lets a tenth of the volts drive what the winding may bear for a moment.
        let low = (0.05 * mains.volts).clamp(2.0, 12.0);
        let mut shorted = mains.clone();
        shorted.volts = low;
        shorted.joined.push(leads);
        add(ReadingKind::Shorted, low, "A", &|x: &[f64]| {
            equations
                .flow(x, 0.0, &shorted)
                .map_or(f64::NAN, |flow| flow.source.size())
        });
        let ohms = value(equations, mains, &fit.x, FigureOf::Source(k)).max(1e-3);
        let mut loaded = mains.clone();
        loaded.loads.push((leads.0, leads.1, 9.0 * ohms));
        add(ReadingKind::Loaded, mains.volts, "V", &|x: &[f64]| {
            equations
                .flow(x, 0.0, &loaded)
                .map_or(f64::NAN, |flow| flow.across(leads).size())
        });
    }
    all
}
