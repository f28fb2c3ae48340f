//! With the power off: the safety rows, and what an ohmmeter reads between pins.
//!
//! Capacitors and semiconductors count as open: a meter that lights up a junction reads less, and a capacitor that charges
//! reads less for a while. So only the least is expected where such parts are at the point.

use super::{Expectation, Observed};
use quietrail_bench::safety::{Mains, SafetyRow, rows};
use quietrail_job::model::{Between, Job, JoinTerm, PartKind, Transformer};
use std::collections::BTreeMap;

/// Above this an ohmmeter on a bench shows no path.
const NO_PATH: f64 = 1e6;
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
            PartKind::Rectifier(rectifier) => want(&rectifier.into, &rectifier.ret),
            _ => {}
        }
    }
    let ends = |pick: fn(&quietrail_units::Quantity<quietrail_units::Ohms>) -> f64| -> Vec<_> {
        job.parts
            .iter()
            .filter_map(|part| match &part.kind {
                PartKind::Resistor(resistor) => {
                    Some((&resistor.between, pick(&resistor.value.value)))
                }
                PartKind::Wire(wire) => Some((&wire.between, pick(&wire.resistance.value))),
                PartKind::Inductor(inductor) => {
                    Some((&inductor.between, pick(&inductor.resistance.value)))
                }
                _ => None,
            })
            .collect()
    };
    let (low, nominal, high) = (ends(|q| q.low), ends(|q| q.nominal), ends(|q| q.high));
    wanted
        .into_iter()
        .map(|(plus, minus)| {
            let of = if minus == "common" {
                plus.clone()
            } else {
                format!("{plus},{minus}")
            };
            let middle = between(&nominal, &plus, &minus);
            if middle > NO_PATH {
                return resistance(of, NO_PATH, None, None);
            }
            let has_junctions = job.parts.iter().any(|part| match &part.kind {
                PartKind::Regulator(regulator) => regulator.into == plus || regulator.from == plus,
                PartKind::Rectifier(rectifier) => rectifier.into == plus,
                PartKind::Transistor(transistor) => {
                    [&transistor.collector, &transistor.base, &transistor.emitter].contains(&&plus)
                }
                PartKind::Shunt(shunt) => shunt.between.plus == plus || shunt.between.minus == plus,
                PartKind::Diode(diode) => diode.between.plus == plus || diode.between.minus == plus,
                _ => false,
            });
            // Junctions and the divider of a regulator stand beside the resistors.
            let least = between(&low, &plus, &minus) * if has_junctions { 0.1 } else { 0.95 };
            let most = between(&high, &plus, &minus) * 1.05 + LEADS;
            resistance(of, least, Some(middle), Some(most))
        })
        .collect()
}

/// Resistance between two nodes of a net of resistors, by elimination of its other nodes.
fn between(resistors: &[(&Between, f64)], plus: &str, minus: &str) -> f64 {
    let mut names: Vec<&str> = vec![plus];
    for (ends, _) in resistors {
        for name in [ends.plus.as_str(), ends.minus.as_str()] {
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
    for (ends, ohms) in resistors {
        let siemens = 1.0 / ohms.max(1e-6);
        let (a, b) = (index(&ends.plus), index(&ends.minus));
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
    matrix[0][n] / matrix[0][0]
}

#[cfg(test)]
mod tests {
    use super::between;
    use quietrail_job::model::Between;

    fn ends(plus: &str, minus: &str) -> Between {
        Between {
            plus: plus.to_owned(),
            minus: minus.to_owned(),
            span: 0..0,
        }
    }

    /// By hand: 1 kΩ beside 2 kΩ + 1 kΩ is 750 Ω; a bridge in balance carries nothing in its middle.
    #[test]
    fn nets_of_resistors_come_to_what_hand_sums_say() {
        let (a, b, c) = (ends("x", "common"), ends("x", "y"), ends("y", "common"));
        let net = [(&a, 1e3), (&b, 2e3), (&c, 1e3)];
        assert!((between(&net, "x", "common") - 750.0).abs() < 1e-3);
        assert!((between(&net, "x", "y") - 1e3).abs() < 1e-3);
        let (p, q, r, s, m) = (
            ends("in", "p"),
            ends("in", "q"),
            ends("p", "common"),
            ends("q", "common"),
            ends("p", "q"),
        );
        let bridge = [
            (&p, 100.0),
            (&q, 200.0),
            (&r, 100.0),
            (&s, 200.0),
            (&m, 7.0),
        ];
        assert!(
            (between(&bridge, "in", "common") - 1.0 / (1.0 / 200.0 + 1.0 / 400.0)).abs() < 1e-6
        );
        assert!(between(&net, "z", "common") > 1e9);
    }
}
