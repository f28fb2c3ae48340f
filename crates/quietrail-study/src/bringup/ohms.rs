//! With the power off: the safety rows, and what an ohmmeter reads between pins.
//!
//! Resistors, wires and the dividers of regulators are one net. Where it joins two points, that is what is read, once what
//! charges has its charge. Where it does not, a capacitor makes the reading climb: a meter that sends a steady current shows time over
//! capacitance, so that no bench sees the end of it; and paths inside regulators and transistors count with it, which no job gives.
//! Then the least alone is expected, as much as tells a short from the rest.

use super::raws::{raw_rails, raw_rails_of};
use super::{Beside, Expectation, Observed, copper, taps};
use quietrail_bench::safety::{Mains, SafetyRow, rows};
use quietrail_job::model::{Between, Job, JoinTerm, Part, PartKind, SetPoint, Transformer};
use quietrail_units::{Ohms, Quantity};
use std::collections::BTreeMap;

/// Above this an ohmmeter on a bench shows no path.
const NO_PATH: f64 = 1e6;
/// Least of a point at which reservoirs charge and rectifiers leak a little: nobody waits at it for more (common practice, no
/// source).
const CHARGING: f64 = 1e3;
/// So long somebody holds the leads on, s (common practice, no source).
const HELD_ON: f64 = 10.0;
/// Least of a point with paths inside parts that nobody knows: below it is a short (common practice, no source).
const SHORT: f64 = 100.0;
/// Capacitors within so many ohms of a point charge with it.
const NEAR: f64 = 10.0;
/// Shorter times to settle are those of the meter itself, s.
const NOTICED: f64 = 3.0;
/// Conductance that stands for none, so that every node has a voltage.
const LEAK: f64 = 1e-12;
/// Error of a reading with hand-held leads, Ω: contact and lead (common practice, no source). The words of the step say it.
const LEADS: f64 = 0.3;
/// Copper in a warm room against that at the temperature of the job, either way.
const COPPER: f64 = 0.05;

/// All rows of the step with the power off.
pub(super) fn expectations(job: &Job) -> Vec<Expectation> {
    let joins_primaries = job.parts.iter().any(|part| match &part.kind {
        PartKind::Transformer(transformer) => transformer.primary.len() > 1,
        _ => false,
    });
    let has_fuse = job
        .parts
        .iter()
        .any(|part| matches!(part.kind, PartKind::Fuse(_)));
    let mains = Mains {
        has_fuse,
        joins_primaries,
    };
    let mut all: Vec<Expectation> = rows(mains).into_iter().map(of_safety).collect();
    for part in &job.parts {
        if let PartKind::Transformer(transformer) = &part.kind {
            all.extend(windings(&part.name, transformer));
        }
    }
    all.extend(pins(job));
    all
}

fn of_safety(row: &'static SafetyRow) -> Expectation {
    let is_check = row.what == Observed::Check;
    Expectation {
        of: row.id.to_owned(),
        what: row.what,
        low: row
            .limit
            .and_then(|limit| limit.min)
            .or(is_check.then_some(1.0)),
        nominal: None,
        high: row.limit.and_then(|limit| limit.max),
        unit: row.what.kind().symbol(),
        safety: Some(row),
        is_awaited: true,
        beside: Vec::new(),
        readings: Vec::new(),
    }
}

fn resistance(of: String, low: f64, nominal: Option<f64>, high: Option<f64>) -> Expectation {
    Expectation {
        of,
        what: Observed::Resistance,
        low: Some(low),
        nominal,
        high,
        unit: "Ω",
        safety: None,
        is_awaited: false,
        beside: Vec::new(),
        readings: Vec::new(),
    }
}

/// Copper of the primary join in use and of each secondary.
fn windings(name: &str, transformer: &Transformer) -> Vec<Expectation> {
    let mut all = Vec::new();
    let copper = |of: String, low: f64, nominal: f64, high: f64| {
        resistance(
            of,
            low * (1.0 - COPPER),
            Some(nominal),
            Some(high * (1.0 + COPPER) + LEADS),
        )
    };
    let selected = transformer
        .selector
        .positions
        .iter()
        .find(|(at, _)| *at == transformer.selector.at);
    if let Some((_, join)) = selected {
        let of_primary = |pick: fn(&quietrail_units::Quantity<quietrail_units::Ohms>) -> f64| {
            let ohms: BTreeMap<&str, f64> = transformer
                .primary
                .iter()
                .map(|primary| (primary.name.as_str(), pick(&primary.resistance.value)))
                .collect();
            joined(&join.term, &ohms)
        };
        let (low, nominal, high) = (
            of_primary(|q| q.low),
            of_primary(|q| q.nominal),
            of_primary(|q| q.high),
        );
        all.push(copper(format!("{name} primary"), low, nominal, high));
    }
    for secondary in &transformer.secondary {
        let ohms = &secondary.resistance.value;
        all.push(copper(
            format!("{name}.{}", secondary.name),
            ohms.low,
            ohms.nominal,
            ohms.high,
        ));
        let parts = taps::parts(name, secondary);
        let last = parts.len().saturating_sub(1);
        for (index, part) in parts.into_iter().enumerate() {
            let [low, nominal, high] = part.share;
            let mut own = copper(
                part.of(),
                ohms.low * low,
                ohms.nominal * nominal,
                ohms.high * high,
            );
            if index == last {
                own.beside.push(Beside::PartOfWinding);
            }
            all.push(own);
        }
    }
    all
}

fn joined(term: &JoinTerm, ohms: &BTreeMap<&str, f64>) -> f64 {
    match term {
        JoinTerm::Winding { name, .. } => ohms.get(name.as_str()).copied().unwrap_or(0.0),
        JoinTerm::Series(terms) => terms.iter().map(|term| joined(term, ohms)).sum(),
        JoinTerm::Parallel(terms) => {
            1.0 / terms
                .iter()
                .map(|term| 1.0 / joined(term, ohms))
                .sum::<f64>()
        }
    }
}

/// What an ohmmeter reads at the pins of each load and at each rail, loads not connected.
fn pins(job: &Job) -> Vec<Expectation> {
    let mut wanted: Vec<(String, String)> = Vec::new();
    let mut want = |plus: &str, minus: &str| {
        let pair = (plus.to_owned(), minus.to_owned());
        if plus != minus && !wanted.contains(&pair) {
            wanted.push(pair);
        }
    };
    for part in &job.parts {
        match &part.kind {
            PartKind::Load(load) => want(&load.between.plus, &load.between.minus),
            PartKind::Rectifier(_) => {
                raw_rails_of(job, part)
                    .iter()
                    .for_each(|raw| want(raw.plus, raw.minus));
            }
            PartKind::Regulator(regulator) if !has_load_alone(job, &regulator.into) => {
                let (upper, lower) = regulator.output();
                want(upper, lower);
            }
            _ => {}
        }
    }
    let net = Net::of(job);
    wanted
        .into_iter()
        .map(|(plus, minus)| pin(job, &net, &plus, &minus))
        .collect()
}

/// Whether a load hangs on this rail and on no other: at its pins the rail itself is read.
fn has_load_alone(job: &Job, rail: &str) -> bool {
    let is_rail = |node: &str| {
        job.parts().any(
            |part| matches!(&part.kind, PartKind::Regulator(regulator) if regulator.into == node),
        )
    };
    job.parts().any(|part| {
        let PartKind::Load(load) = &part.kind else {
            return false;
        };
        let (plus, minus) = (load.between.plus.as_str(), load.between.minus.as_str());
        (plus == rail && !is_rail(minus)) || (minus == rail && !is_rail(plus))
    })
}

/// What an ohmmeter reads between two nodes, its red lead on the first.
fn pin(job: &Job, net: &Net, plus: &str, minus: &str) -> Expectation {
    let of = if minus == "common" {
        plus.to_owned()
    } else {
        format!("{plus},{minus}")
    };
    let middle = net.between(plus, minus, |one| one.nominal);
    // Under common the rail is the lower of the two.
    let inside = inside(job, if plus == "common" { minus } else { plus });
    let (charging, farads) = charging(job, net, plus, minus);
    let feeds = raw_rails(job).iter().any(|raw| raw.is_between(plus, minus));
    let mut beside = Vec::new();
    let mut expected = if middle > NO_PATH {
        let least = if !inside.is_empty() {
            SHORT
        } else if feeds || farads > 0.0 {
            // A steady current through a capacitor: what the meter shows is the time over the capacitance.
            (HELD_ON / farads.max(1e-12)).min(CHARGING)
        } else {
            NO_PATH
        };
        if farads > 0.0 {
            let parts = charging;
            beside.push(Beside::Climbs { parts, farads });
        }
        resistance(of, least, None, None)
    } else {
        beside.push(Beside::Through {
            parts: net.decisive(plus, minus, middle),
        });
        let seconds = 3.0 * middle * farads;
        if seconds > NOTICED {
            let parts = charging;
            beside.push(Beside::Settles { parts, seconds });
        }
        // Junctions stand beside the resistors.
        let share = if feeds || !inside.is_empty() {
            0.1
        } else {
            0.95
        };
        let least = net.between(plus, minus, |one| one.low) * share;
        let most = net.between(plus, minus, |one| one.high) * 1.05 + LEADS;
        resistance(of, least, Some(middle), Some(most))
    };
    if !inside.is_empty() {
        beside.push(Beside::Inside { parts: inside });
    }
    expected.beside = beside;
    expected
}

/// Parts at a node that have paths of their own to others.
fn inside(job: &Job, rail: &str) -> Vec<String> {
    let is_there = |part: &&Part| match &part.kind {
        PartKind::Regulator(regulator) => regulator.into == rail || regulator.from == rail,
        PartKind::Transistor(transistor) => {
            [&transistor.collector, &transistor.base, &transistor.emitter]
                .iter()
                .any(|node| *node == rail)
        }
        PartKind::Shunt(shunt) => shunt.between.plus == rail || shunt.between.minus == rail,
        PartKind::Diode(diode) => diode.between.plus == rail || diode.between.minus == rail,
        _ => false,
    };
    let there = job.parts().filter(is_there);
    there.map(|part| part.name.clone()).collect()
}

/// Capacitors that charge with the two nodes, and what they come to.
fn charging(job: &Job, net: &Net, plus: &str, minus: &str) -> (Vec<String>, f64) {
    let near = |one: &str, other: &str| {
        one == other || net.between(one, other, |resistor| resistor.nominal) < NEAR
    };
    let mut names = Vec::new();
    let mut farads = 0.0;
    for part in &job.parts {
        let PartKind::Capacitor(capacitor) = &part.kind else {
            continue;
        };
        let ends = &capacitor.between;
        if near(&ends.plus, plus) && near(&ends.minus, minus) {
            names.push(part.name.clone());
            farads += capacitor.value.value.nominal;
        }
    }
    (names, farads)
}

/// A resistance between two nodes, and the part that it is of.
struct Resistor {
    part: String,
    plus: String,
    minus: String,
    low: f64,
    nominal: f64,
    high: f64,
}

/// All that conducts without a junction in it.
pub(super) struct Net(Vec<Resistor>);

impl Net {
    fn of(job: &Job) -> Self {
        Self::without(job, &[])
    }

    /// The net of the parts that are connected.
    pub(super) fn without(job: &Job, out: &[String]) -> Self {
        let mut all = Vec::new();
        for part in job.parts().filter(|part| !out.contains(&part.name)) {
            if let PartKind::Transformer(one) = &part.kind {
                all.extend(of_secondaries(&part.name, one));
            }
            let mut add = |plus: &str, minus: &str, ohms: [&Quantity<Ohms>; 2]| {
                let sum = |pick: fn(&Quantity<Ohms>) -> f64| ohms.into_iter().map(pick).sum();
                all.push(Resistor {
                    part: part.name.clone(),
                    plus: plus.to_owned(),
                    minus: minus.to_owned(),
                    low: sum(|q| q.low),
                    nominal: sum(|q| q.nominal),
                    high: sum(|q| q.high),
                });
            };
            match &part.kind {
                PartKind::Resistor(one) => one_of(&mut add, &one.between, &one.value.value),
                PartKind::Wire(one) => one_of(&mut add, &one.between, &one.resistance.value),
                PartKind::Inductor(one) => one_of(&mut add, &one.between, &one.resistance.value),
                PartKind::Fuse(one) => one_of(&mut add, &one.between, &one.resistance.value),
                PartKind::Switch(one) if one.closed => {
                    one_of(&mut add, &one.between, &one.resistance.value);
                }
                PartKind::Regulator(one) => {
                    let (plus, minus) = match &one.sense {
                        Some((plus, minus)) => (plus, minus),
                        None => (&one.into, &one.ret),
                    };
                    // A divider across the output; one across a reference above it is not between these.
                    if let SetPoint::AcrossUpper { upper, lower, .. }
                    | SetPoint::AcrossLower { upper, lower, .. } = &one.set
                    {
                        add(plus, minus, [&upper.value, &lower.value]);
                    }
                }
                _ => {}
            }
        }
        Self(all)
    }

    fn between(&self, plus: &str, minus: &str, pick: fn(&Resistor) -> f64) -> f64 {
        let all: Vec<(&str, &str, f64)> = self
            .0
            .iter()
            .map(|one| (one.plus.as_str(), one.minus.as_str(), pick(one)))
            .collect();
        between(&all, plus, minus)
    }

    /// Volts of every node against `minus` with an ampere into `plus` and out there, all resistances at their highest.
    pub(super) fn at_an_ampere(&self, plus: &str, minus: &str) -> BTreeMap<String, f64> {
        let all: Vec<(&str, &str, f64)> = self
            .0
            .iter()
            .map(|one| (one.plus.as_str(), one.minus.as_str(), one.high))
            .collect();
        let found = potentials(&all, plus, minus).into_iter();
        found
            .map(|(node, volts)| (node.to_owned(), volts))
            .chain([(minus.to_owned(), 0.0)])
            .collect()
    }

    /// Parts without which a reading would be higher by a tenth.
    fn decisive(&self, plus: &str, minus: &str, middle: f64) -> Vec<String> {
        let mut names: Vec<String> = Vec::new();
        for out in &self.0 {
            let rest: Vec<(&str, &str, f64)> = self
                .0
                .iter()
                .filter(|one| one.part != out.part)
                .map(|one| (one.plus.as_str(), one.minus.as_str(), one.nominal))
                .collect();
            if !names.contains(&out.part) && between(&rest, plus, minus) > 1.1 * middle {
                names.push(out.part.clone());
            }
        }
        names
    }
}

/// The copper of a transformer's secondaries, and what joins make one.
fn of_secondaries(name: &str, transformer: &Transformer) -> Vec<Resistor> {
    let resistor = |plus, minus, [low, nominal, high]: [f64; 3]| Resistor {
        part: name.to_owned(),
        plus,
        minus,
        low: low * (1.0 - COPPER),
        nominal,
        high: high * (1.0 + COPPER),
    };
    let windings = copper::secondaries(name, transformer).into_iter();
    let ties = copper::ties(name, transformer).into_iter();
    windings
        .map(|one| resistor(one.ends.0, one.ends.1, one.ohms))
        .chain(ties.map(|(one, other)| resistor(one, other, [0.0; 3])))
        .collect()
}

/// A part that is one resistance.
fn one_of(
    add: &mut impl FnMut(&str, &str, [&Quantity<Ohms>; 2]),
    ends: &Between,
    ohms: &Quantity<Ohms>,
) {
    let none = Quantity::exact(0.0);
    add(&ends.plus, &ends.minus, [ohms, &none]);
}

/// Resistance between two nodes of a net of resistors.
fn between(resistors: &[(&str, &str, f64)], plus: &str, minus: &str) -> f64 {
    let found = potentials(resistors, plus, minus);
    found.first().map_or(0.0, |(_, volts)| *volts)
}

/// Volts of the nodes of a net of resistors against one of them with an ampere into another, that one first: by elimination.
fn potentials<'a>(
    resistors: &[(&'a str, &'a str, f64)],
    plus: &'a str,
    minus: &str,
) -> Vec<(&'a str, f64)> {
    let mut names: Vec<&str> = vec![plus];
    for (one, other, _) in resistors {
        for name in [*one, *other] {
            if name != minus && !names.contains(&name) {
                names.push(name);
            }
        }
    }
    let index = |name: &str| names.iter().position(|known| *known == name);
    let n = names.len();
    let mut matrix = vec![vec![0.0; n + 1]; n];
    for (row, line) in matrix.iter_mut().enumerate() {
        line[row] = LEAK;
    }
    for (one, other, ohms) in resistors {
        let siemens = 1.0 / ohms.max(1e-6);
        let (a, b) = (index(one), index(other));
        for node in [a, b].into_iter().flatten() {
            matrix[node][node] += siemens;
        }
        if let (Some(a), Some(b)) = (a, b) {
            matrix[a][b] -= siemens;
            matrix[b][a] -= siemens;
        }
    }
    matrix[0][n] = 1.0;
    // Diagonally dominant: no pivoting is needed. The last to go is the first node.
    for k in (1..n).rev() {
        let line = matrix[k].clone();
        for other in matrix.iter_mut().take(k) {
            let factor = other[k] / line[k];
            for (value, by) in other.iter_mut().zip(&line) {
                *value -= factor * by;
            }
        }
    }
    // Each line now knows only nodes before its own.
    let mut volts: Vec<f64> = Vec::with_capacity(n);
    for (k, line) in matrix.iter().enumerate() {
        let before: f64 = volts.iter().zip(line).map(|(volts, by)| volts * by).sum();
        volts.push((line[n] - before) / line[k]);
    }
    names.into_iter().zip(volts).collect()
}

#[cfg(test)]
mod tests {
    use super::{between, potentials};

    /// By hand: 1 kΩ beside 2 kΩ + 1 kΩ is 750 Ω; a bridge in balance carries nothing in its middle.
    #[test]
    fn nets_of_resistors_come_to_what_hand_sums_say() {
        let net = [("x", "common", 1e3), ("x", "y", 2e3), ("y", "common", 1e3)];
        assert!((between(&net, "x", "common") - 750.0).abs() < 1e-3);
        assert!((between(&net, "x", "y") - 1e3).abs() < 1e-3);
        let bridge = [
            ("in", "p", 100.0),
            ("in", "q", 200.0),
            ("p", "common", 100.0),
            ("q", "common", 200.0),
            ("p", "q", 7.0),
        ];
        assert!(
            (between(&bridge, "in", "common") - 1.0 / (1.0 / 200.0 + 1.0 / 400.0)).abs() < 1e-6
        );
        assert!(between(&net, "z", "common") > 1e9);
        // By hand: an ampere into x is 750 V there, and y stands at 1 kΩ of the 3 kΩ below it.
        let volts = potentials(&net, "x", "common");
        let y = volts.iter().find(|(node, _)| *node == "y").expect("there");
        assert!((y.1 - 250.0).abs() < 1e-3, "{volts:?}");
    }
}
