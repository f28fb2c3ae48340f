//! What of a regulator's noise comes through a filter behind it.

use crate::filter::Filter;
use crate::finding::WhyNot;
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
    /// Why it is not known in the others: of the first of them.
    pub unknown: Option<WhyNot>,
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

/// Puts noise beside a filter, parts as marked at nominal mains.
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
    let (mut noise, mut unknown) = (Vec::new(), None);
    for (state, declared) in job.states.iter().enumerate() {
        match in_state(job, regulator, &filter, state, &band, options) {
            Ok((before, behind)) => noise.push(Through {
                state: declared.name.clone(),
                before,
                behind,
            }),
            Err(why) => unknown = unknown.or(Some(why)),
        }
    }
    Filtered {
        filter,
        noise,
        unknown,
        band: (band, named.is_some()),
    }
}

/// A filter without the noise through it.
pub(super) fn without_noise(filter: Filter) -> Filtered {
    Filtered {
        filter,
        noise: Vec::new(),
        unknown: None,
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
) -> Result<(f64, f64), WhyNot> {
    let step = Step::default();
    let warmth = crate::heat::Temperatures::at_rest(job);
    let unsettled = |why: &dyn std::fmt::Display| WhyNot::NotSettled(why.to_string());
    let lowered =
        crate::lower::lower(job, state, &step, &[], &warmth).map_err(|why| unsettled(&why))?;
    let node = |name: &str| lowered.node(name).ok_or(WhyNot::NotComputed);
    let before = node(&regulator.into)?;
    let (behind, ret) = (node(&filter.node)?, node(&regulator.ret)?);
    let mut table = OutputTable::of(&lowered);
    noise::register(&lowered, &mut table);
    table.add(Output::Mean(Signal::Voltage(behind, ret)));
    let setting = Setting {
        job,
        state,
        step: &step,
        options,
    };
    let solved =
        solve(&Plan::reading(table.clone()), setting, &[], None).map_err(|why| unsettled(&why))?;
    let view = View {
        lowered: &solved.lowered,
        reading: table.with(&solved.solution.values),
        air: solved.solution.temperatures.air,
        share: 1.0,
    };
    let total = |node| Ok(noise::budget(&view, (node, ret), band)?.total);
    Ok((total(before)?, total(behind)?))
}
