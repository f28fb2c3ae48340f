//! Single faults, as text and as data.

use quietrail_study::faults::{Clamp, Clears, Consequence, Faults, PinFaults};
use serde_json::{Value, json};

use crate::Style;
use crate::number;
use crate::verdicts::{printable, wrapped};
use crate::words::faults as words;

/// A fault raises a pin where it goes this share above what there is without one.
const RAISES: f64 = 1.02;

/// The lines that stand under the table of `prove`, an empty one first.
pub fn lines(found: &Faults, style: Style) -> Vec<String> {
    let columns = style.columns();
    let mut out = vec![String::new()];
    let mains = number::written(found.mains, "V");
    out.extend(wrapped(&words::heading(found.tried, &mains), columns));
    for pin in &found.pins {
        out.push(String::new());
        out.extend(of_pin(pin, columns));
    }
    for (state, why) in &found.unbegun {
        out.push(String::new());
        out.extend(wrapped(&words::unbegun(state, why), columns));
    }
    if !found.unsolved.is_empty() {
        out.push(String::new());
        out.push(words::UNSOLVED.to_owned());
        for one in &found.unsolved {
            let of = words::unsolved(&words::fault(&one.fault), &one.states);
            out.extend(wrapped(&format!("  {of}: {}", one.why), columns));
        }
    }
    out.push(String::new());
    if let Some(beyond) = words::beyond(found.exceeding()) {
        out.extend(wrapped(&beyond, columns));
    }
    out.extend(wrapped(words::HONEST, columns));
    out.iter().map(|line| printable(line)).collect()
}

/// The sentence that stands above the table of `prove`.
pub(crate) fn headline(found: &Faults) -> String {
    let beyond = found.pins.iter().flat_map(|pin| {
        let faults = pin.faults.iter();
        let bears = pin.bears;
        faults.filter_map(move |one| {
            Some((pin, one, bears?)).filter(|(_, one, bears)| one.peak > *bears)
        })
    });
    let worst = beyond.max_by(|a, b| (a.1.peak / a.2).total_cmp(&(b.1.peak / b.2)));
    let said = worst.map(|(pin, one, bears)| {
        let volts = [number::in_hand(one.peak, "V"), number::written(bears, "V")];
        (pin.load.as_str(), volts, words::fault(&one.fault))
    });
    let silent = found.pins.iter().filter(|pin| pin.bears.is_none());
    let silent: Vec<&str> = silent.map(|pin| pin.load.as_str()).collect();
    let worst = said
        .as_ref()
        .map(|(load, [peak, bears], fault)| (*load, peak.as_str(), bears.as_str(), fault.as_str()));
    printable(&words::headline(found.exceeding(), worst, &silent))
}

fn of_pin(pin: &PinFaults, columns: usize) -> Vec<String> {
    let bears = pin.bears.map(|volts| number::written(volts, "V"));
    let without = number::in_hand(pin.without, "V");
    let mut out = wrapped(&words::pin(&pin.load, bears.as_deref(), &without), columns);
    let raises = |one: &&Consequence| one.peak > RAISES * pin.without.max(0.1);
    let raising: Vec<&Consequence> = pin.faults.iter().filter(raises).collect();
    if raising.is_empty() {
        out.extend(wrapped(&words::none_above(&pin.load), columns));
        return out;
    }
    for one in &raising {
        let mark = if pin.bears.is_some_and(|bears| one.peak > bears) {
            "FAILS"
        } else {
            ""
        };
        let lasts = one.settles > pin.bears.unwrap_or(pin.without);
        let head = format!(
            "{mark:<6}{:>7} peak  {:>7} then  {}",
            number::in_hand(one.peak, "V"),
            number::in_hand(one.settles, "V"),
            words::fault(&one.fault)
        );
        out.push(head);
        let takes = words::takes(
            &number::si(one.joules, "J", 2),
            &number::si(one.above, "s", 2),
            lasts,
        );
        let under = if one.joules > 0.0 {
            format!("{takes}; {}", words::clears(one.clears))
        } else {
            words::clears(one.clears)
        };
        out.extend(
            wrapped(&under, columns.saturating_sub(6))
                .into_iter()
                .map(|line| format!("      {line}")),
        );
    }
    let rest = pin.faults.len() - raising.len();
    if rest > 0 {
        out.push(format!("      {}", words::others(rest)));
    }
    for clamp in &pin.clamps {
        out.extend(wrapped(&of_clamp(clamp, pin), columns));
    }
    out
}

fn of_clamp(clamp: &Clamp, pin: &PinFaults) -> String {
    match *clamp {
        Clamp::Zener { volts, peak, watts } => words::zener(
            &number::in_hand(volts, "V"),
            &number::in_hand(peak, "V"),
            &number::si(watts, "W", 2),
            pin.bears.is_none_or(|bears| peak <= bears),
        ),
        Clamp::Crowbar {
            trips,
            within,
            amps,
            first,
            lasting,
            in_all,
            clears,
        } => {
            let text = words::crowbar(
                &number::in_hand(trips, "V"),
                &number::si(within, "s", 2),
                &words::clears(clears),
            );
            let thyristor = words::thyristor(
                &number::si(amps, "A", 2),
                &number::si(first, "A²s", 2),
                &number::si(lasting, "A", 2),
                &number::si(in_all, "A²s", 2),
                matches!(clears, Clears::After(_)),
            );
            if clears == Clears::Never {
                format!("{text} {} {thyristor}", words::FUSE_IN_RAIL)
            } else {
                format!("{text} {thyristor}")
            }
        }
    }
}

/// As data: what `--json` adds under `faults`.
pub fn to_json(found: &Faults, states: &[String]) -> Value {
    let pins: Vec<Value> = found
        .pins
        .iter()
        .map(|pin| {
            let faults: Vec<Value> = pin
                .faults
                .iter()
                .map(|one| {
                    json!({
                        "part": one.fault.part, "fault": words::key(one.fault.kind),
                        "state": states.get(one.state), "peak_v": one.peak, "settles_v": one.settles,
                        "joules": one.joules, "above_s": one.above,
                        "clears_s": match one.clears { Clears::After(s) => Some(s), _ => None },
                        "clears": words::clears(one.clears),
                        "exceeds": pin.bears.map(|bears| one.peak > bears),
                    })
                })
                .collect();
            let clamps: Vec<Value> = pin
                .clamps
                .iter()
                .map(|clamp| match *clamp {
                    Clamp::Zener { volts, peak, watts } => {
                        json!({ "kind": "zener", "volts": volts, "peak_v": peak, "watts": watts })
                    }
                    Clamp::Crowbar {
                        trips,
                        within,
                        amps,
                        first,
                        lasting,
                        in_all,
                        clears,
                    } => json!({
                        "kind": "crowbar", "trips_v": trips, "within_s": within, "amps": amps,
                        "first_half_cycle_a2s": first, "lasting_a": lasting, "in_all_a2s": in_all,
                        "clears": words::clears(clears),
                    }),
                })
                .collect();
            json!({
                "load": pin.load, "bears_v": pin.bears, "without_v": pin.without, "faults": faults,
                "clamps": clamps,
            })
        })
        .collect();
    let not_shown: Vec<Value> = found
        .unsolved
        .iter()
        .map(|one| {
            json!({
                "part": one.fault.part, "fault": words::key(one.fault.kind), "states": one.states, "why": one.why,
            })
        })
        .collect();
    let not_begun: Vec<Value> = found
        .unbegun
        .iter()
        .map(|(state, why)| json!({ "state": state, "why": why }))
        .collect();
    json!({
        "mains_v": found.mains, "tried": found.tried, "pins": pins, "not_shown": not_shown, "not_begun": not_begun,
    })
}
