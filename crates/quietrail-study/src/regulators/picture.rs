//! Noise over frequency at a pair of nodes, with what makes it: data for a picture.

use crate::heat::Temperatures;
use crate::lower::{Step, lower};
use crate::noise::{self, Budget, Source};
use crate::question::View;
use crate::reading::OutputTable;
use crate::solve::{Plan, Setting, solve};
use quietrail_engine::math::exp;
use quietrail_engine::{Options, Output, Signal};
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
}

/// Points of a picture.
const POINTS: usize = 97;
/// Share of the upper end at which a band from nothing begins in a picture.
const FROM: f64 = 1e-6;

/// The picture of a pair of nodes in a state under changes.
///
/// # Errors
/// Why there is none, in words of the engine or as a figure that is missing.
pub fn picture(
    job: &Job,
    state: usize,
    changes: &[Change],
    (plus, minus): (&str, &str),
    band: &Band,
    options: &Options,
) -> Result<Picture, String> {
    let warmth = Temperatures::at_rest(job);
    let step = Step::default();
    let lowered = lower(job, state, &step, changes, &warmth).map_err(|why| why.to_string())?;
    let node = |name: &str| {
        if name == "common" {
            Some(quietrail_engine::GROUND)
        } else {
            lowered.node(name)
        }
    };
    let (Some(plus), Some(minus)) = (node(plus), node(minus)) else {
        return Err(format!("{plus} and {minus} are not both in the circuit"));
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
    let solved = solve(&plan, setting, changes, None).map_err(|why| why.to_string())?;
    let view = View {
        lowered: &solved.lowered,
        reading: table.with(&solved.solution.values),
        air: solved.solution.temperatures.air,
        share: 1.0,
    };
    let budget = noise::budget(&view, (plus, minus), band).map_err(|why| said(&why))?;
    let (Band::BrickWall { low, high } | Band::Poles { low, high }) = *band;
    let low = low.max(FROM * high);
    let ratio = (high / low).ln();
    let hertz: Vec<f64> = (0..POINTS)
        .map(|k| low * exp(ratio * k as f64 / (POINTS - 1) as f64))
        .collect();
    let found = noise::densities(&view, (plus, minus), &hertz).map_err(|why| said(&why))?;
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
    })
}

/// Why a budget has no figure, by the figure that it names.
fn said(why: &crate::finding::WhyNot) -> String {
    use crate::finding::WhyNot;
    match why {
        WhyNot::Missing(figure) => format!("{figure} is missing"),
        WhyNot::NoiseBeyond { figure, .. } => format!("{figure} is not known over the whole band"),
        WhyNot::EndlessNoise { figure } => {
            format!("{figure} rises towards low frequencies, and the band has no lower end")
        }
        _ => "it is not computed".to_owned(),
    }
}
