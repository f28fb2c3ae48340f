//! Noise over frequency at a pair of nodes, with what makes it: data for a picture.

use crate::finding::WhyNot;
use crate::heat::Temperatures;
use crate::lower::{Step, lower};
use crate::noise::{self, Budget, Source};
use crate::question::View;
use crate::reading::OutputTable;
use crate::solve::{Plan, Setting, solve};
use quietrail_engine::math::exp;
use quietrail_engine::{Node, Options, Output, Signal};
use quietrail_job::Change;
use quietrail_job::model::{Band, Job};

/// Noise over a band.
#[derive(Clone, Debug, PartialEq)]
pub struct Picture {
    /// Frequencies, evenly spaced in their logarithm, Hz.
    pub hertz: Vec<f64>,
    /// All together at each, V/√Hz.
    pub total: Vec<f64>,
    /// Each source at each, V/√Hz; the one that makes most of the whole first.
    pub terms: Vec<(Source, Vec<f64>)>,
    /// Over the whole band, rms.
    pub budget: Budget,
    /// What of the band is left out because figures are not known there.
    pub cut: Option<Cut>,
}

/// Figures that are known over a part of a band only, so that noise is told over that part.
#[derive(Clone, Debug, PartialEq)]
pub struct Cut {
    /// Addresses of the figures.
    pub figures: Vec<String>,
    /// The part that is known, Hz.
    pub known: (f64, f64),
    /// The whole band, Hz.
    pub wanted: (f64, f64),
}

/// Points of a picture.
const POINTS: usize = 97;
/// Share of the upper end at which a band from nothing begins in a picture.
const FROM: f64 = 1e-6;

/// The picture of a pair of nodes in a state under changes.
///
/// # Errors
/// Why there is none.
pub fn picture(
    job: &Job,
    state: usize,
    changes: &[Change],
    (plus, minus): (&str, &str),
    band: &Band,
    options: &Options,
) -> Result<Picture, WhyNot> {
    let warmth = Temperatures::at_rest(job);
    let step = Step::default();
    let lowered = lower(job, state, &step, changes, &warmth)
        .map_err(|why| WhyNot::NotSettled(why.to_string()))?;
    let node = |name: &str| {
        if name == "common" {
            Some(quietrail_engine::GROUND)
        } else {
            lowered.node(name)
        }
    };
    let (Some(plus), Some(minus)) = (node(plus), node(minus)) else {
        return Err(WhyNot::NotComputed);
    };
    let mut table = OutputTable::of(&lowered);
    noise::register(&lowered, &mut table);
    table.add(Output::Mean(Signal::Voltage(plus, minus)));
    let setting = Setting {
        job,
        state,
        step: &step,
        options,
    };
    let plan = Plan::reading(table.clone());
    let solved =
        solve(&plan, setting, changes, None).map_err(|why| WhyNot::NotSettled(why.to_string()))?;
    let view = View {
        lowered: &solved.lowered,
        reading: table.with(&solved.solution.values),
        air: solved.solution.temperatures.air,
        share: 1.0,
    };
    let (budget, cut) = over_what_is_known(&view, (plus, minus), band)?;
    let (Band::BrickWall { low, high } | Band::Poles { low, high }) = *band;
    let (low, high) = cut.as_ref().map_or((low, high), |cut| cut.known);
    let low = low.max(FROM * high);
    let ratio = (high / low).ln();
    let hertz: Vec<f64> = (0..POINTS)
        .map(|k| low * exp(ratio * k as f64 / (POINTS - 1) as f64))
        .collect();
    let found = noise::densities(&view, (plus, minus), &hertz)?;
    let at = |source: &Source, at: &[(Source, f64)]| {
        let own = at.iter().find(|(known, _)| known == source);
        own.map_or(0.0, |(_, density)| *density)
    };
    Ok(Picture {
        total: found
            .iter()
            .map(|terms| terms.iter().map(|(_, one)| one * one).sum::<f64>().sqrt())
            .collect(),
        terms: budget
            .terms
            .iter()
            .map(|(source, _)| {
                let own = found.iter().map(|terms| at(source, terms)).collect();
                (source.clone(), own)
            })
            .collect(),
        hertz,
        budget,
        cut,
    })
}

/// Noise over a band; where figures are known over a part of it alone, over that part.
fn over_what_is_known(
    view: &View<'_>,
    nodes: (Node, Node),
    band: &Band,
) -> Result<(Budget, Option<Cut>), WhyNot> {
    let mut cut: Option<Cut> = None;
    loop {
        let part = cut.as_ref().map_or(*band, |cut| Band::BrickWall {
            low: cut.known.0,
            high: cut.known.1,
        });
        let why = match noise::budget(view, nodes, &part) {
            Ok(budget) => return Ok((budget, cut)),
            Err(why) => why,
        };
        // What lies beyond a corner is not cut off: it counts.
        let (WhyNot::NoiseBeyond { figure, known, .. }, Band::BrickWall { low, high }) =
            (&why, band)
        else {
            return Err(why);
        };
        let so_far = cut.as_ref().map_or((*low, *high), |cut| cut.known);
        let left = (so_far.0.max(known.0), so_far.1.min(known.1));
        if left.0 >= left.1 || left == so_far {
            return Err(why);
        }
        let mut figures = cut.map_or_else(Vec::new, |cut| cut.figures);
        figures.push(figure.clone());
        cut = Some(Cut {
            figures,
            known: left,
            wanted: (*low, *high),
        });
    }
}
