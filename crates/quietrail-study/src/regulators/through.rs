//! What of a regulator's noise comes through a filter behind it.

use crate::filter::Filter;
use crate::lower::Step;
use crate::noise;
use crate::question::View;
use crate::reading::OutputTable;
use crate::solve::{Plan, Setting, solve};
use quietrail_engine::{Options, Output, Signal};
use quietrail_job::model::{Band, Job, Regulator, Subject};

/// A drawn filter with the noise before and behind it.
#[derive(Clone, Debug, PartialEq)]
pub struct Filtered {
    /// The filter.
    pub filter: Filter,
    /// Noise in each state whose noise is known over the band.
    pub noise: Vec<Through>,
    /// The band, and whether a limit of the job names it.
    pub band: (Band, bool),
}

/// Noise on both sides of a filter in a state, rms, V.
#[derive(Clone, Debug, PartialEq)]
pub struct Through {
    /// The state.
    pub state: String,
    /// At the regulator's output.
    pub before: f64,
    /// Behind the filter.
    pub behind: f64,
}

/// Band in which noise is told where no limit names one.
const USUAL: Band = Band::BrickWall {
    low: 10.0,
    high: 100e3,
};

/// Puts noise beside a filter, parts as marked at nominal mains. A state that does not settle, or whose noise is not known, is left
/// out.
pub(super) fn through(
    job: &Job,
    regulator: &Regulator,
    filter: Filter,
    options: &Options,
) -> Filtered {
    let named = job.limits.iter().find_map(|limit| {
        let at = match &limit.of {
            Subject::Node(node) | Subject::Pair(node, _) => node,
            Subject::Part(_) => return None,
        };
        limit.band.filter(|_| *at == filter.node)
    });
    let band = named.unwrap_or(USUAL);
    let noise = (0..job.states.len())
        .filter_map(|state| {
            let (before, behind) = in_state(job, regulator, &filter, state, &band, options)?;
            Some(Through {
                state: job.states[state].name.clone(),
                before,
                behind,
            })
        })
        .collect();
    Filtered {
        filter,
        noise,
        band: (band, named.is_some()),
    }
}

/// A filter without the noise through it.
pub(super) fn without_noise(filter: Filter) -> Filtered {
    Filtered {
        filter,
        noise: Vec::new(),
        band: (USUAL, false),
    }
}

fn in_state(
    job: &Job,
    regulator: &Regulator,
    filter: &Filter,
    state: usize,
    band: &Band,
    options: &Options,
) -> Option<(f64, f64)> {
    let step = Step::default();
    let warmth = crate::heat::Temperatures::at_rest(job);
    let lowered = crate::lower::lower(job, state, &step, &[], &warmth).ok()?;
    let before = lowered.node(&regulator.into)?;
    let (behind, ret) = (lowered.node(&filter.node)?, lowered.node(&regulator.ret)?);
    let mut table = OutputTable::of(&lowered);
    noise::register(&lowered, &mut table);
    table.add(Output::Mean(Signal::Voltage(behind, ret)));
    let setting = Setting {
        job,
        state,
        step: &step,
        options,
    };
    let solved = solve(&Plan::reading(table.clone()), setting, &[], None).ok()?;
    let view = View {
        lowered: &solved.lowered,
        reading: table.with(&solved.solution.values),
        air: solved.solution.temperatures.air,
        share: 1.0,
    };
    let total = |node| Some(noise::budget(&view, (node, ret), band).ok()?.total);
    Some((total(before)?, total(behind)?))
}
