//! What nodes and parts see with all parts as marked: a table to read, not a verdict.

use super::nodes_against_common;
use crate::finding::{NodeFinding, PartFinding};
use crate::heat;
use crate::question::{current_of, unit_of};
use crate::reading::{OutputTable, four};
use crate::search::StateFindings;
use crate::solve::{Plan, Setting, solve_all};
use quietrail_engine::{Output, Signal};
use quietrail_job::model::What;
use quietrail_job::{Address, Change};

/// Nodes at lowest, nominal and highest mains; parts at nominal mains.
pub(super) fn of(
    setting: Setting<'_>,
    found: &StateFindings,
) -> (Vec<NodeFinding>, Vec<PartFinding>) {
    let lowered = &found.nominal.lowered;
    let nodes = nodes_against_common(lowered);
    let currents: Vec<(String, Signal)> = setting
        .job
        .parts
        .iter()
        .filter_map(|part| Some((part.name.clone(), current_of(lowered, &part.name)?)))
        .collect();
    let mut table = OutputTable::of(lowered);
    for (_, signal) in &nodes {
        four(signal)
            .into_iter()
            .for_each(|output| table.add(output));
    }
    for (_, signal) in &currents {
        table.add(Output::Mean(signal.clone()));
        table.add(Output::Rms(signal.clone()));
        table.add(Output::Peak(signal.clone()));
        table.add(Output::Valley(signal.clone()));
    }
    for elements in setting
        .job
        .parts
        .iter()
        .filter_map(|part| lowered.parts.get(&part.name))
    {
        elements
            .own
            .iter()
            .for_each(|&element| table.add(Output::Power(element)));
    }
    let plan = Plan::reading(table);

    let state = setting.job.states[setting.state].name.clone();
    let mains = &setting.job.mains.voltage.value;
    let mut levels = vec![mains.low, mains.nominal, mains.high];
    levels.dedup();
    let mut node_rows = Vec::new();
    let mut part_rows = Vec::new();
    let changes: Vec<Vec<Change>> = levels
        .iter()
        .map(|&value| {
            let address = Address("mains.voltage".to_owned());
            vec![Change::Set { address, value }]
        })
        .collect();
    let solved = solve_all(&plan, setting, &changes, &found.nominal.solution);
    for (volts, solved) in levels.into_iter().zip(solved) {
        let Ok(solved) = solved else { continue };
        let reading = plan.table.with(&solved.solution.values);
        for (name, signal) in &nodes {
            let [mean, valley, peak, ripple_rms] = four(signal).map(|output| reading.get(&output));
            node_rows.push(NodeFinding {
                node: name.clone(),
                state: state.clone(),
                mains: volts,
                mean,
                valley,
                peak,
                ripple_rms,
                ripple_pp: peak - valley,
            });
        }
        if volts != mains.nominal {
            continue;
        }
        for part in &setting.job.parts {
            let mut stress = Vec::new();
            if let Some((_, signal)) = currents.iter().find(|(name, _)| *name == part.name) {
                let [peak, back] = [Output::Peak(signal.clone()), Output::Valley(signal.clone())]
                    .map(|output| reading.get(&output));
                let figures = [
                    (What::Current, reading.get(&Output::Mean(signal.clone()))),
                    (What::RmsCurrent, reading.get(&Output::Rms(signal.clone()))),
                    (What::PeakCurrent, peak.max(-back)),
                ];
                stress.extend(figures.map(|(what, value)| (what, value, unit_of(what))));
                let power = heat::power(&solved.lowered, &reading, &part.name);
                stress.push((What::Power, power, unit_of(What::Power)));
            }
            let air = solved.solution.temperatures.air;
            if let Some(celsius) = heat::temperature(&solved.lowered, &reading, part, air) {
                stress.push((What::Temperature, celsius, unit_of(What::Temperature)));
            }
            if !stress.is_empty() {
                part_rows.push(PartFinding {
                    part: part.name.clone(),
                    state: state.clone(),
                    stress,
                });
            }
        }
    }
    (node_rows, part_rows)
}
