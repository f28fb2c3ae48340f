//! What to be careful about in a step, from what is expected there: mains, stored charge, heat.

use super::derive::{Planned, Point, names};
use super::rails::rail_volts;
use super::{Caution, Expectation, Observed, highest_across};
use quietrail_job::model::{Capacitor, InstrumentKind, Job, PartKind, What};

/// A rail that empties to this is no longer a surprise to the fingers, V.
const EMPTY: f64 = 10.0;
/// A charge that is gone in less than this meets no finger, s.
const FOR_FINGERS: f64 = 1.0;
/// A part hotter than this burns skin, °C (common practice, no source).
const BURNS: f64 = 60.0;

/// Cautions that follow from what is expected.
pub(super) fn cautions_of(job: &Job, step: &Planned, expect: &[Expectation]) -> Vec<Caution> {
    let mut at: Vec<String> = vec!["inlet".to_owned()];
    at.extend(names(job, |part| {
        matches!(
            part.kind,
            PartKind::Fuse(_) | PartKind::Switch(_) | PartKind::Transformer(_)
        ) && !step.out.contains(&part.name)
    }));
    let mut all = vec![Caution::Mains { at }];
    let has_scope = job
        .instruments
        .iter()
        .any(|one| one.kind == InstrumentKind::Oscilloscope);
    if has_scope {
        all.push(Caution::EarthedClip);
    }
    for part in &job.parts {
        let PartKind::Capacitor(capacitor) = &part.kind else {
            continue;
        };
        let ends = &capacitor.between;
        let volts = highest_across(expect, &ends.plus, &ends.minus);
        let Some(volts) = volts.filter(|volts| *volts > EMPTY) else {
            continue;
        };
        if step.out.contains(&part.name) {
            continue;
        }
        let seconds = seconds_to_empty(job, step, capacitor, volts);
        if seconds.is_none_or(|seconds| seconds > FOR_FINGERS) {
            all.push(Caution::Charge {
                part: part.name.clone(),
                volts,
                seconds,
            });
        }
    }
    for dummy in &step.dummies {
        let volts = highest_across(expect, &dummy.plus, &dummy.minus)
            .unwrap_or_else(|| rail_volts(job, &dummy.plus, &dummy.minus));
        if let Some(rated) = dummy.rated {
            all.push(Caution::HotDummy {
                at: dummy.plus.clone(),
                watts: dummy.watts(volts),
                rated,
            });
        }
    }
    for one in expect {
        let Observed::Statistic(what) = one.what else {
            continue;
        };
        if let Some((instrument, ohms)) = super::ammeter_of(job, what, None)
            && let Some(amps) = one.high
        {
            all.push(Caution::Ammeter {
                of: one.of.clone(),
                instrument: instrument.to_owned(),
                ohms,
                volts: ohms * amps,
            });
        }
    }
    if step.kind == super::Kind::Load {
        let bare = names(
            job,
            |part| matches!(&part.kind, PartKind::Load(load) if load.clamp.is_none()),
        );
        if !bare.is_empty() {
            all.push(Caution::NoClamp { loads: bare });
        }
    }
    for one in expect {
        let is_hot = one.what == Observed::Statistic(What::Temperature);
        if let Some(celsius) = one.high.filter(|celsius| is_hot && *celsius > BURNS) {
            all.push(Caution::Hot {
                part: one.of.clone(),
                celsius,
            });
        }
    }
    all
}

/// An input that takes this part off is worth a word.
const WORTH_A_WORD: f64 = 1e-3;

/// What an instrument takes off a point, where that is worth a word.
pub(super) fn of_input(job: &Job, point: &Point, share: f64) -> Option<Caution> {
    if share.abs() < WORTH_A_WORD {
        return None;
    }
    let input = super::expect::input_of(job, point, super::At::default())?;
    let instrument = job
        .instruments
        .iter()
        .find(|one| super::function_of(one, point.what).is_some())?;
    Some(Caution::Input {
        of: point.of.clone(),
        what: point.what,
        instrument: instrument.name.clone(),
        ohms: input.ohms,
        share,
    })
}

/// Time until a capacitor is below ten volts, through the resistors and dummies across it; `None` where none is.
fn seconds_to_empty(job: &Job, step: &Planned, capacitor: &Capacitor, volts: f64) -> Option<f64> {
    let is_across = |plus: &str, minus: &str| {
        plus == capacitor.between.plus && minus == capacitor.between.minus
    };
    let bleeders: f64 = job
        .parts
        .iter()
        .filter(|part| !step.out.contains(&part.name))
        .filter_map(|part| match &part.kind {
            PartKind::Resistor(one) if is_across(&one.between.plus, &one.between.minus) => {
                Some(1.0 / one.value.value.high)
            }
            _ => None,
        })
        .sum();
    // A dummy may come off first: it is not counted.
    let farads = capacitor.value.value.high;
    (bleeders > 0.0).then(|| farads / bleeders * quietrail_engine::math::ln(volts / EMPTY))
}
