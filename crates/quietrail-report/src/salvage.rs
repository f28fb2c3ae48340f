//! Joins of windings, switching on and faults, and old capacitors: as text and as data.

use quietrail_study::capacitors::Vetted;
use quietrail_study::switch_on::fuse::{Clears, Sheet, ul_least};
use quietrail_study::switch_on::{Shorted, SwitchOn};
use quietrail_study::transformer::{Join, Joins};
use serde_json::{Value, json};

use crate::json::FORMAT;
use crate::lines::{deeper, indented, table};
use crate::verdicts::{printable, wrapped};
use crate::words::salvage as words;
use crate::{Style, number};
use number::si;

/// Hours of a year.
const YEAR: f64 = 8766.0;

/// Joins for a terminal.
pub fn joins(found: &Joins, style: Style) -> String {
    let columns = style.columns();
    let wanted = &found.wanted;
    let said = words::wanted(
        &si(wanted.amps, "A", 3),
        &number::written(wanted.farads, "F"),
        wanted.is_from_loads,
    );
    let mut out = wrapped(&said, columns);
    out.push(String::new());
    if let Some(dual) = &found.dual {
        let (one, other) = &dual.names;
        let tie = format!("{} and {}", dual.series_tie.0, dual.series_tie.1);
        let said = words::dual(
            one,
            other,
            &printable(&tie),
            &number::written(dual.series_volts, "V"),
            &number::written(dual.parallel_volts, "V"),
        );
        out.extend(wrapped(&said, columns));
        let mains = number::written(found.mains, "V");
        out.extend(wrapped(
            &words::dual_here(&mains, dual.is_series_here),
            columns,
        ));
        let said = words::phase_test(
            &number::written(dual.low, "V"),
            one,
            &si(dual.right, "V", 3),
            &si(dual.wrong, "V", 2),
        );
        out.extend(wrapped(&said, columns));
        out.extend(wrapped(
            &words::fight(&si(dual.fight.0, "A", 2), &si(dual.fight.1, "A", 2)),
            columns,
        ));
        out.push(String::new());
    }
    out.push(words::JOINS.to_owned());
    let mut rows = vec![words::JOIN_HEAD.map(str::to_owned)];
    for join in &found.joins {
        let shares: Vec<String> = join
            .shares
            .iter()
            .map(|(name, amps)| format!("{name} {}", si(*amps, "A", 3)))
            .collect();
        rows.push([
            join.text.clone(),
            rectifier(join).to_owned(),
            si(join.open, "V", 3),
            si(join.valley, "V", 3),
            si(join.mean, "V", 3),
            si(join.peak, "V", 3),
            shares.join(" "),
            si(join.copper, "W", 2),
            join.direct_most()
                .map_or_else(String::new, |amps| si(amps, "A", 2)),
        ]);
    }
    out.extend(table(&rows));
    let is_limited = found.joins.iter().any(|join| join.direct_most().is_some());
    let said = if is_limited {
        words::DIRECT_MOST
    } else {
        words::NO_DIRECT_MOST
    };
    out.extend(wrapped(said, columns));
    out.push(String::new());
    out.push(words::WIRING.to_owned());
    out.extend(wiring(found));
    for join in found.joins.iter().filter(|join| !join.is_centre_tapped) {
        if let Some(error) = join.sharing_error.filter(|error| *error > 0.005) {
            out.extend(indented(
                &format!("{}: {}", join.text, words::sharing(error)),
                columns,
            ));
        }
    }
    if !found.refused.is_empty() {
        out.push(words::REFUSED.to_owned());
        for refused in &found.refused {
            out.push(format!(
                "  {}: {}",
                refused.text,
                si(refused.circulating, "A", 2)
            ));
        }
    }
    if !found.sense_open.is_empty() {
        out.extend(wrapped(
            &words::sense_open(&found.sense_open.join(", ")),
            columns,
        ));
    }
    if let Some(buck) = &found.buck {
        let size = buck.amps.zip(buck.volt_amperes);
        let size = size.map(|(amps, of)| (si(amps, "A", 2), si(of, "VA", 2)));
        let size = size.as_ref().map(|(amps, of)| (amps.as_str(), of.as_str()));
        out.extend(wrapped(
            &words::buck(&si(buck.volts, "V", 2), size, &si(buck.left, "V", 3)),
            columns,
        ));
    }
    out.extend(wrapped(words::INSULATE, columns));
    out.push(String::new());
    number::spaced(&out.join("\n"))
}

/// Which leads are tied, go to the rectifier, and are left over.
fn wiring(found: &Joins) -> Vec<String> {
    let mut rows = vec![words::WIRING_HEAD.map(str::to_owned)];
    for join in &found.joins {
        let ties: Vec<String> = join
            .ties
            .iter()
            .map(|(a, b)| format!("{a} to {b}"))
            .collect();
        let centre = join
            .centre
            .as_ref()
            .map_or_else(String::new, |leads| format!(", centre {leads}"));
        rows.push([
            join.text.clone(),
            rectifier(join).to_owned(),
            printable(&ties.join(", ")),
            printable(&format!("{}, {}{centre}", join.ends.0, join.ends.1)),
            printable(&join.unused.join(", ")),
        ]);
    }
    table(&rows)
}

fn rectifier(join: &Join) -> &'static str {
    if join.is_centre_tapped {
        words::CENTRE_TAP
    } else {
        words::BRIDGE
    }
}

/// Joins as data.
pub fn joins_json(name: &str, found: &Joins) -> Value {
    let pair = |(a, b): &(String, String)| json!([a, b]);
    json!({
        "name": name,
        "wanted": { "amps": found.wanted.amps, "reservoir": found.wanted.farads, "drop": found.wanted.drop },
        "joins": found.joins.iter().map(|join| json!({
            "join": join.text,
            "rectifier": rectifier(join),
            "centre": join.centre,
            "insulate": join.unused,
            "direct_by_heat": join.direct_by_heat,
            "direct_by_rating": join.direct_by_rating,
            "ties": join.ties.iter().map(pair).collect::<Vec<_>>(),
            "ends": pair(&join.ends),
            "open": join.open,
            "source_resistance": join.ohms,
            "valley": join.valley,
            "mean": join.mean,
            "peak": join.peak,
            "windings": join.shares.iter().map(|(name, rms)| json!({ "name": name, "rms": rms })).collect::<Vec<_>>(),
            "sharing_error": join.sharing_error,
            "copper": join.copper,
        })).collect::<Vec<_>>(),
        "refused": found.refused.iter().map(|one| json!({ "join": one.text, "circulating": one.circulating })).collect::<Vec<_>>(),
        "sense_open": found.sense_open,
        "dual": found.dual.as_ref().map(|dual| json!({
            "names": pair(&dual.names),
            "series_tie": pair(&dual.series_tie),
            "series_volts": dual.series_volts,
            "parallel_volts": dual.parallel_volts,
            "series_here": dual.is_series_here,
            "low": dual.low,
            "right": dual.right,
            "wrong": dual.wrong,
            "fight_series": dual.fight.0,
            "fight_parallel": dual.fight.1,
        })),
        "buck": found.buck.map(|buck| json!({
            "volts": buck.volts, "amps": buck.amps, "volt_amperes": buck.volt_amperes, "left": buck.left,
        })),
    })
}

/// Switching on and faults for a terminal.
pub fn switch_on(title: &str, found: &SwitchOn, style: Style) -> String {
    let columns = style.columns();
    let mut out = wrapped(
        &words::switch_on(title, &found.state, &number::written(found.mains, "V")),
        columns,
    );
    out.push(String::new());
    if !found.first.is_empty() {
        out.push(words::FIRST.to_owned());
    }
    let mut rows = vec![words::FIRST_HEAD.map(str::to_owned)];
    for cycle in &found.first {
        rows.push([
            cycle.part.clone(),
            format!("{:.0} %", 100.0 * cycle.charge),
            format!("{:.0}°", cycle.angle),
            si(cycle.peak, "A", 3),
            si(cycle.i2t, "A²s", 2),
            si(cycle.primary_i2t, "A²s", 2),
        ]);
    }
    if !found.first.is_empty() {
        out.extend(table(&rows));
    }
    for surge in &found.surges {
        let rated = surge
            .rated
            .zip(surge.holds())
            .map(|((amps, seconds), holds)| {
                (
                    number::written(amps, "A"),
                    number::written(seconds, "s"),
                    si(surge.rated_i2t.unwrap_or(f64::NAN), "A²s", 2),
                    holds,
                )
            });
        let rated = rated.as_ref().map(|(amps, seconds, i2t, holds)| {
            (amps.as_str(), seconds.as_str(), i2t.as_str(), *holds)
        });
        let said = words::surge(
            &surge.part,
            &si(surge.peak, "A", 3),
            surge.angle,
            &si(surge.i2t, "A²s", 2),
            rated,
        );
        out.extend(wrapped(&said, columns));
    }
    if let Some(core) = &found.core {
        out.extend(wrapped(
            &words::core(
                &si(core.peak, "A", 2),
                &si(core.i2t, "A²s", 2),
                core.cores == 1,
            ),
            columns,
        ));
    }
    out.push(String::new());
    out.extend(wrapped(words::FUSES, columns));
    for place in &found.places {
        let mut said = words::place(
            &place.name,
            &si(place.rms, "A", 3),
            &place.state,
            &si(place.peak, "A", 3),
            &si(place.pulse, "A²s", 2),
        );
        said.push_str(": ");
        match &place.choice {
            Some(choice) => said.push_str(&words::choice(
                &number::written(choice.rated, "A"),
                choice.is_for_pulse,
                choice.is_pulse_judged,
            )),
            None => said.push_str(words::NO_LINK),
        }
        said.push_str("; ");
        said.push_str(&words::ul(&si(ul_least(place.rms), "A", 2)));
        if let Some((name, rated)) = &place.fitted {
            said.push_str("; ");
            said.push_str(&words::fitted(name, &number::written(*rated, "A")));
        }
        out.extend(indented(&said, columns));
    }
    if !found.faults.is_empty() {
        out.push(String::new());
        out.extend(wrapped(words::FAULTS, columns));
    }
    for fault in &found.faults {
        let what = words::shorted(fault.what, &fault.of, fault.between.as_ref());
        let Some((primary, winding)) = fault.amps else {
            out.extend(indented(&words::no_fault(&what), columns));
            continue;
        };
        out.extend(indented(
            &words::fault(&what, &si(primary, "A", 3), &si(winding, "A", 3)),
            columns,
        ));
        for (place, rated, sheet, clears) in &fault.clears {
            let said = words::clears(place, &number::written(*rated, "A"), *sheet, *clears);
            out.extend(deeper(&said, columns));
        }
    }
    out.push(String::new());
    if !found.discharges.is_empty() {
        out.push(words::DISCHARGE.to_owned());
        for one in &found.discharges {
            out.extend(indented(
                &words::discharge(&one.part, &si(one.volts, "V", 3), &si(one.joules, "J", 2)),
                columns,
            ));
            if let (Some(ohms), Some((touchable, quiet))) = (one.bleeder, one.with) {
                let said = words::times(&words::bleeder(&si(ohms, "Ω", 3)), touchable, quiet);
                out.extend(deeper(&said, columns));
            }
            match one.without {
                Some((touchable, quiet)) => {
                    let said = words::times(words::OWN_LEAKAGE, touchable, quiet);
                    out.extend(deeper(&said, columns));
                }
                None => out.extend(deeper(words::NO_LEAKAGE, columns)),
            }
            if let Some((ohms, watts)) = one.proposed {
                let said = words::proposed(&si(ohms, "Ω", 2), &si(watts, "W", 2));
                out.extend(deeper(&said, columns));
            }
        }
        out.extend(indented(words::LEVELS, columns));
        out.push(String::new());
    }
    number::spaced(&out.join("\n"))
}

/// Switching on as data.
pub fn switch_on_json(title: &str, found: &SwitchOn) -> Value {
    let clears = |clears: &Clears| match clears {
        Clears::Never => json!({ "clears": "no" }),
        Clears::Unsure => json!({ "clears": "unsure" }),
        Clears::BeyondBreaking => json!({ "clears": "beyond breaking capacity" }),
        Clears::Within { least, most } => json!({ "clears": "yes", "least": least, "most": most }),
    };
    let sheet = |sheet: &Sheet| match sheet {
        Sheet::Three => 3,
        Sheet::Five => 5,
    };
    let shorted = |what: Shorted| match what {
        Shorted::Winding => "winding",
        Shorted::HalfWinding => "half winding",
        Shorted::Diode => "diode",
        Shorted::Reservoir => "reservoir",
    };
    json!({
        "format": FORMAT,
        "job": title,
        "state": found.state,
        "mains": found.mains,
        "first_cycles": found.first.iter().map(|cycle| json!({
            "rectifier": cycle.part, "charge": cycle.charge, "angle": cycle.angle, "peak": cycle.peak, "i2t": cycle.i2t,
            "primary_i2t": cycle.primary_i2t,
        })).collect::<Vec<_>>(),
        "surges": found.surges.iter().map(|surge| json!({
            "rectifier": surge.part, "peak": surge.peak, "angle": surge.angle, "i2t": surge.i2t,
            "rated": surge.rated.map(|(amps, _)| amps), "rated_time": surge.rated.map(|(_, seconds)| seconds),
            "rated_i2t": surge.rated_i2t, "holds": surge.holds(),
        })).collect::<Vec<_>>(),
        "core_at_most": found.core.map(|core| json!({ "peak": core.peak, "i2t": core.i2t })),
        "fuses": found.places.iter().map(|place| json!({
            "place": place.name, "rms": place.rms, "state": place.state, "peak": place.peak, "pulse": place.pulse,
            "ul_at_least": ul_least(place.rms),
            "rated": place.choice.map(|choice| choice.rated), "melting": place.choice.and_then(|choice| choice.melting),
            "fitted": place.fitted.as_ref().map(|(name, rated)| json!({ "name": name, "rated": rated })),
        })).collect::<Vec<_>>(),
        "faults": found.faults.iter().map(|fault| json!({
            "shorted": shorted(fault.what), "of": fault.of, "between": fault.between,
            "primary": fault.amps.map(|amps| amps.0), "winding": fault.amps.map(|amps| amps.1),
            "links": fault.clears.iter().map(|(place, rated, of, when)| json!({
                "place": place, "rated": rated, "sheet": sheet(of), "when": clears(when),
            })).collect::<Vec<_>>(),
        })).collect::<Vec<_>>(),
        "discharge": found.discharges.iter().map(|one| json!({
            "part": one.part, "volts": one.volts, "energy": one.joules, "bleeder": one.bleeder,
            "proposed_bleeder": one.proposed.map(|(ohms, watts)| json!({ "ohms": ohms, "watts": watts })),
            "with": one.with.map(|(a, b)| json!({ "to_60_v": a, "to_5_v": b })),
            "without": one.without.map(|(a, b)| json!({ "to_60_v": a, "to_5_v": b })),
        })).collect::<Vec<_>>(),
    })
}

/// Old capacitors for a terminal.
pub fn capacitors(all: &[Vetted], style: Style) -> String {
    let columns = style.columns();
    let mut out = Vec::new();
    if all.is_empty() {
        out.push(words::NO_CAPACITORS.to_owned());
    }
    for one in all {
        let is_fit = !one.against.iter().any(|against| against.rejects());
        let head = words::capacitor(
            &one.part,
            &number::written(one.farads, "F"),
            &si(one.esr, "Ω", 2),
            is_fit,
            one.is_measured.0 && one.is_measured.1,
        );
        out.extend(wrapped(&head, columns));
        let rated = one.rated_ripple.map(|rated| number::written(rated, "A"));
        let mut say = |text: &str| out.extend(indented(text, columns));
        say(&words::duty(
            &si(one.rms, "A", 3),
            rated.as_deref(),
            &si(one.heat, "W", 2),
            &one.state,
        ));
        say(&words::ripple(
            &si(one.ripple.0, "V", 3),
            &si(one.ripple.1, "V", 3),
        ));
        let rated = one.volts.1.map(|rated| number::written(rated, "V"));
        say(&words::volts(&si(one.volts.0, "V", 3), rated.as_deref()));
        if let Some((leaks, limit)) = one.leakage {
            say(&words::leakage(&si(leaks, "A", 2), &si(limit, "A", 2)));
        }
        if let Some(life) = &one.life {
            say(&words::life(
                life.hours,
                life.hottest.0,
                &life.hottest.1,
                life.equally,
                life.as_at,
            ));
        }
        for against in &one.against {
            say(&words::against(*against));
        }
        if let (Some(plan), Some(hours)) = (&one.plan, one.unused) {
            say(&words::plan(
                hours / YEAR,
                &si(plan.ohms, "Ω", 2),
                &si(plan.watts, "W", 2),
                plan.seconds / 60.0,
            ));
            for step in &plan.steps {
                let expect: Vec<String> = step
                    .expect
                    .iter()
                    .map(|(seconds, amps)| {
                        format!("{} at {}", si(*amps, "A", 2), si(*seconds, "s", 2))
                    })
                    .collect();
                let said = words::step(
                    &si(step.volts, "V", 3),
                    step.seconds / 60.0,
                    &expect.join(", "),
                    &si(step.abort, "A", 2),
                );
                out.extend(indented(&said, columns));
            }
        }
        out.push(String::new());
    }
    number::spaced(&out.join("\n"))
}

/// Old capacitors as data.
pub fn capacitors_json(title: &str, all: &[Vetted]) -> Value {
    json!({
        "format": FORMAT,
        "job": title,
        "capacitors": all.iter().map(|one| json!({
            "part": one.part, "value": one.farads, "drawn": one.drawn, "esr": one.esr, "state": one.state,
            "rms": one.rms, "rated_ripple": one.rated_ripple, "heat": one.heat,
            "ripple_pp": one.ripple.0, "ripple_pp_without_esr": one.ripple.1,
            "volts": one.volts.0, "rated_volts": one.volts.1,
            "leakage": one.leakage.map(|of| of.0), "leakage_limit": one.leakage.map(|of| of.1),
            "fit": !one.against.iter().any(|against| against.rejects()),
            "against": one.against.iter().map(|against| number::spaced(&words::against(*against))).collect::<Vec<_>>(),
            "life": one.life.as_ref().map(|life| json!({
                "hours": life.hours, "state": life.hottest.1, "celsius": life.hottest.0, "equally": life.equally, "as_at": life.as_at,
            })),
            "unused_hours": one.unused,
            "plan": one.plan.as_ref().map(|plan| json!({
                "resistor": plan.ohms, "watts": plan.watts, "seconds": plan.seconds,
                "steps": plan.steps.iter().map(|step| json!({
                    "volts": step.volts, "seconds": step.seconds, "abort": step.abort,
                    "expect": step.expect.iter().map(|(seconds, amps)| json!([seconds, amps])).collect::<Vec<_>>(),
                })).collect::<Vec<_>>(),
            })),
        })).collect::<Vec<_>>(),
    })
}
