//! The card of each regulator, as text and as data.

use quietrail_job::model::What;
use quietrail_study::catching::Diode;
use quietrail_study::level::decibels;
use quietrail_study::regulators::{Card, InState, Pass};
use quietrail_study::ringing::{NoRing, POOR, Ring, WELL};
use quietrail_study::stability::{Capacitor, Seen};
use quietrail_study::starting::{Place, Start};
use serde_json::{Value, json};

mod filters;

use crate::Style;
use crate::json::FORMAT;
use crate::lines::joined;
use crate::number;
use crate::verdicts::wrapped;
use crate::words::regulators as words;

/// For a terminal.
pub fn text(heading: &str, cards: &[Card], passes: &[Pass], style: Style) -> String {
    let mut out = wrapped(heading, style.columns());
    if cards.is_empty() && passes.is_empty() {
        out.push(words::NONE.to_owned());
    }
    for card in cards {
        out.push(String::new());
        let volts = |volts: f64| number::in_hand(volts, "V");
        out.push(words::set(
            &card.part,
            &volts(card.set.nominal),
            &volts(card.set.worst.0),
            &volts(card.set.worst.1),
        ));
        for line in lines(card) {
            let lines = wrapped(&line, style.columns().saturating_sub(4));
            for (index, line) in lines.iter().enumerate() {
                let indent = if index == 0 { "  " } else { "    " };
                out.push(format!("{indent}{line}"));
            }
        }
    }
    for pass in passes {
        out.push(String::new());
        out.push(words::transistor(&pass.part));
        for line in of_pass(pass) {
            let lines = wrapped(&line, style.columns().saturating_sub(4));
            for (index, line) in lines.iter().enumerate() {
                let indent = if index == 0 { "  " } else { "    " };
                out.push(format!("{indent}{line}"));
            }
        }
    }
    if !cards.is_empty() {
        out.push(String::new());
        out.extend(wrapped(words::HONEST, style.columns()));
    }
    joined(out)
}

/// Everything that is said of a transistor.
pub fn of_pass(pass: &Pass) -> Vec<String> {
    let gain = |gain: f64| number::si(gain, "", 3);
    let volts = |volts: f64| number::in_hand(volts, "V");
    let amps = |amps: f64| number::in_hand(amps, "A");
    let mut out = vec![pass_at(pass)];
    for state in &pass.states {
        out.push(words::passes(
            &state.state,
            &amps(state.amps),
            &volts(state.drop),
            &amps(state.base),
            &gain(pass.gain.0),
        ));
        // A sum: what stands behind it, what it needs, and what is left over.
        let needs = state.behind + state.saturation;
        let terms = [state.behind, state.saturation, state.headroom];
        let said = number::adding_up(&terms, needs + state.headroom, -2);
        let (behind, saturation, headroom) = (said[0], said[1], said[2]);
        if state.behind > 0.0 {
            out.push(words::needs(
                &state.state,
                &number::at(behind + saturation, "V", -2),
                (
                    &number::at(behind, "V", -2),
                    &number::at(saturation, "V", -2),
                ),
                &number::at(headroom.abs(), "V", -2),
                &gain(state.gain),
                state.headroom < 0.0,
            ));
        } else {
            out.push(words::needs_across(
                &state.state,
                &volts(state.saturation),
                &volts(state.headroom.abs()),
                &gain(state.gain),
                state.headroom < 0.0,
            ));
        }
        let (watts, mains) = state.heat;
        out.push(words::heat(
            &state.state,
            &number::si(watts, "W", 2),
            &number::written(mains, "V"),
        ));
        if let Some(kept) = state.ripple_kept.filter(|kept| *kept > 0.0) {
            out.push(words::kept(
                &state.state,
                &number::si(-decibels(kept), "dB", 2),
                &number::si(state.hertz, "Hz", 3),
            ));
        }
    }
    for (state, why) in &pass.unsettled {
        out.push(words::unsettled(state, why));
    }
    out
}

/// What is said of a transistor as a table: what, and its figure in each state; and where the figures are taken.
pub fn pass_rows(pass: &Pass) -> Vec<(&'static str, Vec<String>)> {
    let each = |say: &dyn Fn(&InState) -> String| pass.states.iter().map(say).collect();
    let volts = |volts: f64| number::in_hand(volts, "V");
    let amps = |amps: f64| number::in_hand(amps, "A");
    let needs = |state: &InState| {
        if state.behind > 0.0 {
            volts(state.behind + state.saturation)
        } else {
            volts(state.saturation)
        }
    };
    let is_across = pass.states.iter().any(|state| state.behind <= 0.0);
    let kept = |state: &InState| {
        let kept = state.ripple_kept.filter(|kept| *kept > 0.0);
        kept.map_or_else(
            || crate::words::ABSENT.to_owned(),
            |kept| number::si(-decibels(kept), "dB", 2),
        )
    };
    vec![
        (words::ROW_CARRIES, each(&|state| amps(state.amps))),
        (words::ROW_DROPS, each(&|state| volts(state.drop))),
        (words::ROW_BASE, each(&|state| amps(state.base))),
        (
            if is_across {
                words::ROW_NEEDS_ACROSS
            } else {
                words::ROW_NEEDS
            },
            each(&needs),
        ),
        (
            words::ROW_SATURATION,
            each(&|state| volts(state.saturation)),
        ),
        (words::ROW_SPARE, each(&|state| volts(state.headroom))),
        (
            words::ROW_HEAT,
            each(&|state| number::si(state.heat.0, "W", 2)),
        ),
        (words::ROW_KEPT, each(&kept)),
    ]
}

/// Where the figures of that table are taken.
pub fn pass_at(pass: &Pass) -> String {
    let gain = |gain: f64| number::si(gain, "", 3);
    words::gain(&gain(pass.gain.0), &gain(pass.gain.1))
}

/// Everything that is said of one.
pub fn lines(card: &Card) -> Vec<String> {
    let volts = |volts: f64| number::in_hand(volts, "V");
    let amps = |amps: f64| number::in_hand(amps, "A");
    let mut out = Vec::new();
    if let Some(reach) = &card.set.reach {
        let sure =
            (reach.sure.0 <= reach.sure.1).then(|| (volts(reach.sure.0), volts(reach.sure.1)));
        out.push(words::reach(
            &volts(reach.nominal.0),
            &volts(reach.nominal.1),
            sure.as_ref()
                .map(|(low, high)| (low.as_str(), high.as_str())),
            &number::si(reach.at, "Ω", 3),
            reach
                .per_turn
                .map(|turn| number::si(turn, "V", 3))
                .as_deref(),
        ));
        if card.set.nominal < reach.sure.0 || card.set.nominal > reach.sure.1 {
            out.push(words::NOT_SURE.to_owned());
        }
    }
    if let Some(drift) = card.set.drift {
        let of: Vec<(&str, String)> = words::DRIFTS
            .into_iter()
            .zip(card.set.drift_of)
            .filter(|(_, volts)| *volts > 0.0)
            .map(|(name, volts)| (name, number::si(volts, "V", 2)))
            .collect();
        out.push(words::drift(&number::si(drift, "V", 3), &of));
    }
    for one in &card.set.preferred {
        out.push(words::preferred(
            one.key,
            &number::written(one.ohms, "Ω"),
            &format!("{:?}", one.series),
            &volts(one.volts),
            card.set.reach.is_some(),
        ));
    }
    let short: Vec<String> = card
        .limits
        .iter()
        .filter(|limit| limit.is_short())
        .map(|limit| words::short(&limit.state, &amps(limit.limit), &amps(limit.asked)))
        .collect();
    if short.is_empty() {
        let most = card
            .limits
            .iter()
            .max_by(|a, b| a.asked.total_cmp(&b.asked));
        if let Some(most) = most {
            out.push(words::limit(
                &amps(most.limit),
                &amps(most.asked),
                &most.state,
            ));
        }
    }
    out.extend(short);
    out.extend(starts(card));
    if let Some(least) = &card.least {
        let bleeder = least.bleeder.map(|ohms| number::si(ohms, "Ω", 2));
        out.push(words::least(
            &amps(least.needs),
            &amps(least.has),
            bleeder.as_deref(),
        ));
    }
    // What was tried says more than a window that is not known.
    if card.rang.is_none() || card.capacitor != Capacitor::NoWindow {
        out.push(of_capacitor(&card.capacitor));
    }
    out.extend(card.rang.iter().map(of_ring));
    for (ohms, watts) in &card.sense {
        out.push(words::sense(
            &number::written(*ohms, "Ω"),
            &number::si(*watts, "W", 2),
        ));
    }
    out.extend(filters::lines(card));
    out.push(of_diode(&card.diode));
    out.extend(card.adjust_diode.as_ref().map(of_adjust_diode));
    out
}

/// How it starts in each state and at each mains voltage: as marked, and where that is hardest.
fn starts(card: &Card) -> Vec<String> {
    let is_at_both = card
        .starts
        .windows(2)
        .any(|pair| pair[0].mains != pair[1].mains);
    let (marked, hardest): (Vec<&Start>, Vec<&Start>) = card
        .starts
        .iter()
        .partition(|start| start.place == Place::Marked);
    let said = |start: &Start| match (start.after, start.ends) {
        (Some(seconds), _) => words::starts(seconds),
        (None, Some(ends)) if start.lacks_headroom() => {
            words::short_of_set(&number::in_hand(ends, "V"))
        }
        (None, Some(ends)) => words::never(&number::in_hand(ends, "V"), start.rises),
        (None, None) => words::NOT_FOLLOWED.to_owned(),
    };
    let other = |start: &Start| {
        let same = |one: &&&Start| one.state == start.state && one.mains == start.mains;
        hardest.iter().find(same).copied()
    };
    let fails = |start: &Start| start.stays_down();
    marked
        .iter()
        .map(|start| {
            let mains = number::written(start.mains, "V");
            let state = words::started(&start.state, is_at_both.then_some(mains.as_str()));
            let hard = other(start);
            let verdict = fails(start) || hard.is_some_and(fails);
            words::started_twice(&state, &said(start), hard.map(said).as_deref(), verdict)
        })
        .collect()
}

/// What is said of a diode from output to input.
pub(crate) fn of_diode(diode: &Diode) -> String {
    words::diode(
        &number::si(diode.farads, "F", 3),
        &number::si(diode.joules, "J", 2),
        &number::si(diode.bears, "F", 3),
        diode.is_stated,
        diode.wanted,
        diode.drawn.as_deref(),
    )
}

/// What is said of a diode from adjust pin to output.
pub(crate) fn of_adjust_diode(diode: &Diode) -> String {
    words::adjust_diode(
        &number::si(diode.farads, "F", 3),
        &number::si(diode.joules, "J", 2),
        &number::si(diode.bears, "F", 3),
        diode.wanted,
    )
}

/// What is said of an output capacitor.
pub(crate) fn of_capacitor(capacitor: &Capacitor) -> String {
    let ohms = |ohms: f64| number::si(ohms, "Ω", 3);
    let has = |seen: &Seen| {
        format!(
            "{} at least, with {} .. {}",
            number::si(seen.farads, "F", 3),
            ohms(seen.esr.0),
            ohms(seen.esr.1)
        )
    };
    let over = |seen: &Seen| {
        let (cold, hot) = seen.celsius;
        let celsius = |value: f64| number::statistic(What::Temperature, value, "°C", None);
        words::over(&celsius(cold), &celsius(hot), seen.is_followed)
    };
    match capacitor {
        Capacitor::NoWindow => words::NO_WINDOW.to_owned(),
        Capacitor::NoneDrawn => words::NONE_DRAWN.to_owned(),
        Capacitor::Inside(seen) => words::inside(&has(seen), &over(seen)),
        Capacitor::Outside {
            seen,
            least,
            window,
            add,
        } => {
            let wants = match window {
                Some((low, high)) => format!(
                    "{} with {} .. {}",
                    number::si(*least, "F", 3),
                    ohms(*low),
                    ohms(*high)
                ),
                None => number::si(*least, "F", 3),
            };
            let add = add.map(|(least, most)| (ohms(least), ohms(most)));
            let add = add
                .as_ref()
                .map(|(least, most)| (least.as_str(), most.as_str()));
            words::outside(&has(seen), &over(seen), &wants, add)
        }
    }
}

/// What is said of how it rang.
pub(crate) fn of_ring(rang: &Result<Ring, NoRing>) -> String {
    match rang {
        Ok(ring) => words::rang(
            ring.margin,
            ring.between,
            ring.damping,
            ring.margin < POOR,
            ring.margin >= WELL,
        ),
        Err(_) => words::OSCILLATES.to_owned(),
    }
}

/// As data.
pub fn to_json(title: &str, cards: &[Card], passes: &[Pass]) -> Value {
    let all: Vec<Value> = cards
        .iter()
        .map(|card| {
            let said: Vec<String> = lines(card).iter().map(|line| number::spaced(line)).collect();
            json!({
                "part": card.part,
                "set": { "nominal_v": card.set.nominal, "low_v": card.set.worst.0, "high_v": card.set.worst.1 },
                "reach": card.set.reach.map(|reach| json!({
                    "low_v": reach.nominal.0, "high_v": reach.nominal.1, "sure_low_v": reach.sure.0,
                    "sure_high_v": reach.sure.1, "at_ohms": reach.at, "per_turn_v": reach.per_turn,
                })),
                "filters": filters::to_json(card),
                "starts": card.starts.iter().map(|start| json!({
                    "state": start.state, "mains_v": start.mains, "after_s": start.after, "ends_v": start.ends,
                    "hardest": start.place == Place::Hardest, "fails": start.stays_down(),
                })).collect::<Vec<_>>(),
                "limits": card.limits.iter().map(|limit| json!({
                    "state": limit.state, "asked_a": limit.asked, "limit_a": limit.limit,
                    "short": limit.is_short(),
                })).collect::<Vec<_>>(),
                "said": said,
            })
        })
        .collect();
    let transistors: Vec<Value> = passes
        .iter()
        .map(|pass| {
            let states: Vec<Value> = pass
                .states
                .iter()
                .map(|state| {
                    json!({
                        "state": state.state, "gain": state.gain, "drop_v": state.drop, "headroom_v": state.headroom,
                        "current_a": state.amps, "base_a": state.base, "saturation_v": state.saturation,
                        "behind_v": state.behind, "heat_w": state.heat.0, "heat_at_mains_v": state.heat.1,
                        "ripple_db": state.ripple_kept.map(decibels), "at_hz": state.hertz,
                    })
                })
                .collect();
            let said: Vec<String> = of_pass(pass).iter().map(|line| number::spaced(line)).collect();
            json!({
                "part": pass.part, "gain": pass.gain.0, "gain_highest": pass.gain.1, "states": states, "said": said,
                "not_shown": pass.unsettled.iter().map(|(state, why)| json!({ "state": state, "why": why })).collect::<Vec<_>>(),
            })
        })
        .collect();
    json!({ "format": FORMAT, "job": title, "regulators": all, "transistors": transistors })
}
