//! The answer of `prove` as data for scripts.
//!
//! Form 1, with every key always present and in this order; what is absent is `null`. Values are SI
//! (temperatures in °C, life in hours), each float the shortest text that reads back as the same bits.
//!
//! | key | holds |
//! |---|---|
//! | `format` | 1 |
//! | `job`, `region` | title and mains practice |
//! | `limits[]` | `name`, `of`, `what`, `state`, `min`, `max`, `unit`, `nominal`, `worst`, `margin`, `predicted`, `measured`, `overall`, `corner`, `corner_words`, `help[]`, `read` of `value`, `low`, `high`, `mains`, `mains_left`, `locked_step`, `regardless`, `why`, `rating`, `from` |
//! | `remarks[]` | `part`, `kind`, `fails`, `said` |
//! | `nodes[]` | `node`, `state`, `mains`, `mean`, `valley`, `peak`, `ripple_rms`, `ripple_pp` |
//! | `parts[]` | `part`, `state`, `stress[]` of `what`, `value`, `unit` |
//! | `ended[]` | `state`, `settled`, `reason`, `residual`, `charge_balance`, `energy_balance`, `floquet` |
//! | `assumptions[]` | `address`, `value`, `why` |
//! | `unrated[]` | `part`, `ratings[]` |
//! | `effort` | `solutions`, `corners` |
//! | `yield` | `samples`, `scramblings`, `seed`, `all`, `limits[]`, `taken_to_hold`, `left_out[]`, `unsettled`, `supplies`, `solved`, `solutions` |
//!
//! The guide's page on `--json` documents each key.

use quietrail_job::Change;
use quietrail_job::model::Subject;
use quietrail_study::finding::{
    Assumption, CornerTerm, Cost, Ending, Help, LimitFinding, NodeFinding, PartFinding, Predicted,
    Proof, Read, With,
};
use quietrail_study::yields::indices::Estimate;
use quietrail_study::yields::interval::{Basis, Share};
use quietrail_study::yields::{Harvest, Influence, LimitYield};
use serde_json::{Map, Value, json};

use crate::corner::corner_words;
use crate::help::help_words;
use crate::remarks::Source;
use crate::{number, words};

/// Number of the form that [`proof`] writes.
pub const FORMAT: u32 = 1;

/// Everything that `prove` found, limits in the order of the job.
pub fn proof(proof: &Proof) -> Value {
    proof_with(proof, None, None)
}

/// The same with the yield that was sampled, and with the places of remarks in the job file.
pub fn proof_with(proof: &Proof, harvest: Option<&Harvest>, source: Option<Source<'_>>) -> Value {
    let remarks = proof.remarks.iter();
    let remarks = remarks.map(|remark| crate::remarks::to_json(remark, source));
    json!({
        "format": FORMAT,
        "job": proof.title,
        "region": proof.region,
        "limits": proof.limits.iter().map(limit).collect::<Vec<_>>(),
        "remarks": remarks.collect::<Vec<_>>(),
        "nodes": proof.nodes.iter().map(node).collect::<Vec<_>>(),
        "parts": proof.parts.iter().map(part).collect::<Vec<_>>(),
        "ended": proof.endings.iter().map(ending).collect::<Vec<_>>(),
        "assumptions": proof.assumptions.iter().map(assumption).collect::<Vec<_>>(),
        "unrated": proof.unrated.iter().map(|one| {
            json!({ "part": one.part, "ratings": one.ratings })
        }).collect::<Vec<_>>(),
        "effort": {
            "solutions": proof.effort.solutions,
            "corners": proof.effort.corners,
        },
        "yield": harvest.map(yielded),
    })
}

fn limit(limit: &LimitFinding) -> Value {
    let why = match &limit.predicted {
        Predicted::NotShown(why) => Value::from(number::spaced(&words::why_not(why, limit.unit))),
        Predicted::Holds | Predicted::Fails => Value::Null,
    };
    json!({
        "name": limit.name,
        "of": subject(&limit.of),
        "what": words::what(limit.what),
        "state": limit.state,
        "min": limit.min,
        "max": limit.max,
        "unit": limit.unit,
        "nominal": limit.nominal,
        "worst": limit.worst,
        "margin": limit.margin,
        "predicted": words::predicted(&limit.predicted),
        "measured": words::measured(limit.measured),
        "overall": words::overall(limit.overall),
        "corner": corner(&limit.corner),
        "corner_words": number::spaced(&corner_words(&limit.corner)),
        "help": limit.help.iter().map(|help| helping(help, limit)).collect::<Vec<_>>(),
        "read": limit.read.as_ref().map(read),
        "why": why,
        "rating": limit.is_rating,
        "from": limit.from,
    })
}

/// What was read. `mains_left` is the range that the mains may have, where the readings do not reach both its ends.
fn read(read: &Read) -> Value {
    let finite = |value: f64| value.is_finite().then_some(value);
    json!({
        "value": read.value,
        "low": finite(read.low),
        "high": finite(read.high),
        "mains": read.mains,
        "mains_left": read.mains_left.map(|(low, high)| [low, high]),
        "locked_step": read.locked_step,
        "was_locked": read.was_locked,
        "regardless": read.regardless,
    })
}

/// Shares and indices from 0 to 1.
fn yielded(harvest: &Harvest) -> Value {
    let estimate = |of: &Estimate| json!({ "value": of.value, "low": of.low, "high": of.high });
    let influence = |of: &Influence| {
        json!({
            "address": of.address.0,
            "first": estimate(&of.indices.first),
            "total": estimate(&of.indices.total),
        })
    };
    let limit = |of: &LimitYield| {
        json!({
            "name": of.name,
            "state": of.state,
            "holds": counted(&of.holds),
            "decides": of.decides.iter().map(influence).collect::<Vec<_>>(),
        })
    };
    json!({
        "samples": harvest.samples,
        "scramblings": harvest.scramblings,
        "seed": harvest.seed,
        "all": harvest.all.as_ref().map(counted),
        "limits": harvest.limits.iter().map(limit).collect::<Vec<_>>(),
        "taken_to_hold": harvest.taken_to_hold,
        "left_out": harvest.left_out,
        "unsettled": harvest.unsettled,
        "spread": harvest.spread,
        "promoted": harvest.promoted,
        "supplies": harvest.supplies,
        "solved": harvest.solved,
        "solutions": harvest.solutions,
    })
}

fn counted(share: &Share) -> Value {
    json!({
        "count": share.count,
        "of": share.of,
        "share": share.share(),
        "low": share.low,
        "high": share.high,
        "basis": match share.basis {
            Basis::Spread => "spread",
            Basis::All => "all",
            Basis::None => "none",
        },
    })
}

/// A node or a part by its name, a pair of nodes as a list of two.
fn subject(of: &Subject) -> Value {
    match of {
        Subject::Node(name) | Subject::Part(name) => json!(name),
        Subject::Pair(first, second) => json!([first, second]),
    }
}

/// Every term, also those that words leave out: setting them all gives the worst value back.
fn corner(terms: &[CornerTerm]) -> Value {
    let entries = terms
        .iter()
        .map(|term| (term.address.0.clone(), json!(term.value)));
    Value::Object(entries.collect::<Map<_, _>>())
}

fn helping(help: &Help, limit: &LimitFinding) -> Value {
    let (verb, target, value) = match &help.change {
        Change::Set { address, value } => ("set", &address.0, Some(*value)),
        Change::Open(part) => ("open", part, None),
        Change::Short(part) => ("short", part, None),
        Change::Reverse(winding) => ("reverse", winding, None),
        Change::Swap { part, .. } => ("swap", part, None),
        Change::Insert(part) => ("insert", &part.name, None),
    };
    let with = match &help.with {
        Some(With::Entry(name) | With::Winding(name) | With::Position(name)) => Some(name),
        None => None,
    };
    json!({
        "change": verb,
        "target": target,
        "before": value.map(|_| help.before),
        "after": value,
        "unit": help.unit,
        "with": with,
        "margin": help.margin,
        "mends": help.mends(),
        "costs": help.costs.iter().map(cost).collect::<Vec<_>>(),
        "words": number::spaced(&help_words(help, limit)),
    })
}

fn cost(cost: &Cost) -> Value {
    json!({
        "limit": cost.limit,
        "before": cost.before,
        "after": cost.after,
        "unit": cost.unit,
        "fails": cost.fails(),
    })
}

fn node(node: &NodeFinding) -> Value {
    json!({
        "node": node.node,
        "state": node.state,
        "mains": node.mains,
        "mean": node.mean,
        "valley": node.valley,
        "peak": node.peak,
        "ripple_rms": node.ripple_rms,
        "ripple_pp": node.ripple_pp,
    })
}

fn part(part: &PartFinding) -> Value {
    let stress = part.stress.iter().map(
        |(what, value, unit)| json!({ "what": words::what(*what), "value": value, "unit": unit }),
    );
    json!({
        "part": part.part,
        "state": part.state,
        "stress": stress.collect::<Vec<_>>(),
    })
}

fn ending(ending: &Ending) -> Value {
    json!({
        "state": ending.state,
        "settled": ending.settled,
        "reason": ending.reason,
        "residual": ending.residual,
        "charge_balance": ending.charge_balance,
        "energy_balance": ending.energy_balance,
        "floquet": ending.floquet,
    })
}

fn assumption(assumption: &Assumption) -> Value {
    json!({
        "address": assumption.address,
        "value": assumption.value,
        "why": assumption.why,
    })
}

#[cfg(test)]
mod tests {
    use super::proof;
    use crate::specimen;
    use serde_json::Value;

    fn keys(value: &Value) -> Vec<&str> {
        value
            .as_object()
            .expect("an object")
            .keys()
            .map(String::as_str)
            .collect()
    }

    #[test]
    fn the_keys_are_those_of_the_contract_in_order() {
        let text = proof(&specimen::proof()).to_string();
        let answer: Value = serde_json::from_str(&text).expect("valid JSON");
        assert_eq!(
            keys(&answer),
            [
                "format",
                "job",
                "region",
                "limits",
                "remarks",
                "nodes",
                "parts",
                "ended",
                "assumptions",
                "unrated",
                "effort",
                "yield",
            ]
        );
        let contract = [
            "name",
            "of",
            "what",
            "state",
            "min",
            "max",
            "unit",
            "nominal",
            "worst",
            "margin",
            "predicted",
            "measured",
            "overall",
            "corner",
            "corner_words",
            "help",
        ];
        for limit in answer["limits"].as_array().expect("a list") {
            assert_eq!(keys(limit)[..contract.len()], contract);
        }
        assert_eq!(
            keys(&answer["nodes"][0]),
            [
                "node",
                "state",
                "mains",
                "mean",
                "valley",
                "peak",
                "ripple_rms",
                "ripple_pp"
            ]
        );
    }

    #[test]
    fn floats_come_back_bit_for_bit_and_absent_is_null() {
        let mut found = specimen::proof();
        found.limits[0].worst = Some(0.1 + 0.2);
        found.endings[0].residual = f64::NAN;
        let answer: Value = serde_json::from_str(&proof(&found).to_string()).expect("valid JSON");
        assert_eq!(answer["limits"][0]["worst"].as_f64(), Some(0.1 + 0.2));
        assert_eq!(answer["limits"][0]["min"], Value::Null);
        assert_eq!(answer["ended"][0]["residual"], Value::Null);
    }

    #[test]
    fn the_corner_keeps_what_words_leave_out() {
        let mut found = specimen::proof();
        found.limits[2]
            .corner
            .push(specimen::term("C1.esr", 0.05, 0.045, "Ω", 0.001));
        let answer = proof(&found);
        assert_eq!(answer["limits"][2]["corner"]["C1.esr"], 0.05);
        assert!(
            !answer["limits"][2]["corner_words"]
                .as_str()
                .expect("words")
                .contains("ESR")
        );
    }

    /// The guide names every key, and its example has exactly those that the answer has.
    #[test]
    fn the_guide_s_example_has_the_same_keys() {
        let guide = include_str!("../../../guide/json.md");
        let start = guide.find("```json\n").expect("an example") + "```json\n".len();
        let end = start + guide[start..].find("```").expect("its end");
        let example: Value = serde_json::from_str(&guide[start..end]).expect("valid JSON");
        let answer = proof(&specimen::proof());
        assert_eq!(keys(&example), keys(&answer));
        assert_eq!(keys(&example["limits"][0]), keys(&answer["limits"][2]));
        assert_eq!(
            keys(&example["limits"][0]["help"][0]),
            keys(&answer["limits"][2]["help"][0])
        );
        for lists in ["limits", "nodes", "parts", "ended", "assumptions"] {
            for key in keys(&answer[lists][0]) {
                let told = [format!("`{key}`"), format!("`{key}[]`")];
                assert!(told.iter().any(|told| guide.contains(told)), "{key}");
            }
        }
    }

    #[test]
    fn one_limit_whole() {
        let answer = proof(&specimen::proof());
        let text = serde_json::to_string_pretty(&answer["limits"][2]).expect("writes");
        insta::assert_snapshot!("limit_json", text);
    }
}
