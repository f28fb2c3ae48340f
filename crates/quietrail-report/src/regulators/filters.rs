//! What is said of the filters behind a regulator.

use crate::number;
use crate::words::regulators as words;
use quietrail_job::model::Band;
use quietrail_study::filter::{Drop, Room};
use quietrail_study::regulators::Card;
use serde_json::{Value, json};

pub(super) fn lines(card: &Card) -> Vec<String> {
    let hertz = |value: f64| number::si(value, "Hz", 3);
    let volts = |value: f64| number::in_hand(value, "V");
    let level = |value: f64| format!("{value:.1}{}dB", number::NO_BREAK);
    let mut out = Vec::new();
    for one in &card.filters {
        let filter = &one.filter;
        out.push(words::filter(
            &filter.part,
            &filter.node,
            &filter.after,
            &hertz(filter.corner),
            &level(-filter.at_ripple),
        ));
        out.push(words::filter_drops(&drops(&filter.drops)));
        if let Some((peak, at)) = filter.peak {
            let ohms = number::si(filter.impedance.0, "Ω", 3);
            out.push(words::filter_peak(&level(peak), &hertz(at), &ohms));
        }
        out.extend(filter.damper.map(|damper| {
            words::damper(
                &number::written(damper.farads, "F"),
                &number::written(damper.ohms, "Ω"),
                &level(damper.peak),
            )
        }));
        let (low, high) = match one.band.0 {
            Band::BrickWall { low, high } | Band::Poles { low, high } => (low, high),
        };
        let ends = [low, high].map(|end| number::written(end, "Hz"));
        let band = ends.join(" .. ");
        out.extend(one.noise.iter().map(|noise| {
            words::through(
                &noise.state,
                &volts(noise.before),
                &volts(noise.behind),
                &band,
                one.band.1,
            )
        }));
        out.extend(
            one.unknown
                .as_ref()
                .map(|why| words::not_through(why, &band)),
        );
    }
    out.extend(card.proposal.as_ref().map(|room| match room {
        Room::For(proposal) => words::proposal(
            &number::written(proposal.ohms, "Ω"),
            &number::written(proposal.farads, "F"),
            &hertz(proposal.corner),
            &drops(&proposal.drops),
        ),
        Room::ForNone {
            ohms,
            farads,
            largest,
        } => words::no_filter(
            &number::written(*ohms, "Ω"),
            &number::written(*farads, "F"),
            &number::written(*largest, "F"),
        ),
    }));
    out
}

fn drops(all: &[Drop]) -> String {
    let all: Vec<String> = all
        .iter()
        .map(|drop| {
            let more = drop.in_all > drop.volts;
            words::filter_drop(
                &drop.state,
                &number::in_hand(drop.amps, "A"),
                &number::in_hand(drop.volts, "V"),
                more.then(|| number::in_hand(drop.in_all, "V")).as_deref(),
            )
        })
        .collect();
    all.join(", ")
}

pub(super) fn to_json(card: &Card) -> Vec<Value> {
    card.filters
        .iter()
        .map(|one| {
            let drops = one.filter.drops.iter();
            let noise = one.noise.iter();
            json!({
                "part": one.filter.part, "node": one.filter.node, "after": one.filter.after,
                "corner_hz": one.filter.corner,
                "peak_db": one.filter.peak.map(|peak| peak.0),
                "peak_hz": one.filter.peak.map(|peak| peak.1),
                "highest_ohm": one.filter.impedance.0,
                "drops": drops.map(|drop| json!({
                    "state": drop.state, "amps_a": drop.amps, "drop_v": drop.volts, "in_all_v": drop.in_all,
                })).collect::<Vec<_>>(),
                "noise": noise.map(|noise| json!({
                    "state": noise.state, "before_v": noise.before, "behind_v": noise.behind,
                })).collect::<Vec<_>>(),
            })
        })
        .collect()
}
