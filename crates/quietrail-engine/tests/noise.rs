//! Noise behind filters: closed forms, and random filters by a general-purpose quadrature library.

use quietrail_checks::{Allowed, Figure, Section};
use quietrail_engine::math::{exp, ln};
use quietrail_engine::network::Network;
use quietrail_engine::quadrature::integrate;
use quietrail_engine::{Circuit, Element, ElementId, GROUND, Node};
use serde_json::Value;
use std::collections::BTreeMap;
use std::f64::consts::PI;

/// A chain of stages behind a source without resistance, and its first series element.
struct Chain {
    circuit: Circuit,
    first: ElementId,
    output: Node,
}

impl Chain {
    fn of(stages: &[[f64; 4]], load: f64) -> Self {
        let mut circuit = Circuit::new(50.0);
        let mut at = circuit.node();
        circuit.add(Element::Resistor {
            a: at,
            b: GROUND,
            ohms: 0.0,
        });
        let mut first = None;
        for &[ohms, henries, farads, esr] in stages {
            let next = circuit.node();
            let series = circuit.add(if henries > 0.0 {
                Element::Inductor {
                    a: at,
                    b: next,
                    henries,
                    ohms,
                }
            } else {
                Element::Resistor {
                    a: at,
                    b: next,
                    ohms,
                }
            });
            first.get_or_insert(series);
            circuit.add(Element::Capacitor {
                a: next,
                b: GROUND,
                farads,
                esr,
                leakage: 0.0,
            });
            at = next;
        }
        circuit.add(Element::Resistor {
            a: at,
            b: GROUND,
            ohms: load,
        });
        Self {
            circuit,
            first: first.expect("a stage"),
            output: at,
        }
    }

    /// rms for a density of one.
    fn rms(&self, low: f64, high: f64) -> f64 {
        let network = Network::of(&self.circuit, GROUND, &BTreeMap::new());
        let mut density = |log: f64, out: &mut [f64]| {
            let hertz = exp(log);
            let reach = network
                .reach(self.output, GROUND, hertz)
                .expect("a filter is determined");
            out[0] = reach.of_series(self.first).square() * hertz;
        };
        let (from, to) = (ln(low), ln(high));
        let pieces = (2.0 * (to - from) / ln(10.0)).ceil() as usize;
        integrate(&mut density, 1, (from, to), pieces, 1e-7)[0].sqrt()
    }
}

fn number(value: &Value, key: &str) -> f64 {
    value[key].as_f64().expect("a number")
}

#[test]
fn filters() {
    let mut section = Section::new("noise", "Noise through filters");
    // PWR-NOISE-08: 100 Ω and 100 µF; nearly all of the band is inside.
    let rc = Chain::of(&[[100.0, 0.0, 100e-6, 1e-9]], 1e12);
    let corner = 1.0 / (2.0 * PI * 100.0 * 100e-6);
    section
        .row(
            "PWR-NOISE-08",
            "100 nV/√Hz behind 100 Ω and 100 µF, nV rms",
            "noise bandwidth 1/(4RC)",
        )
        .near(
            500.0,
            100.0 * rc.rms(corner * 1e-7, corner * 1e7),
            Allowed::Relative(1e-6),
        );
    // PWR-NOISE-09: equal poles, apart from each other by a follower each: the product of their gains.
    let equal: Vec<Figure> = [PI / 2.0, 1.220_331, 1.155_395, 1.128_499, 1.113_845]
        .iter()
        .zip(1..)
        .map(|(expected, n)| {
            let single = Chain::of(&[[1.0, 0.0, 1.0 / (2.0 * PI), 1e-12]], 1e12);
            let network = Network::of(&single.circuit, GROUND, &BTreeMap::new());
            let mut density = |log: f64, out: &mut [f64]| {
                let hertz = exp(log);
                let reach = network
                    .reach(single.output, GROUND, hertz)
                    .expect("one pole");
                let one = reach.of_series(single.first).square();
                out[0] = (0..n).fold(hertz, |product, _| product * one);
            };
            let square = integrate(&mut density, 1, (ln(1e-8), ln(1e8)), 32, 1e-9)[0];
            // Overall −3 dB: (1 + x²)^n = 2.
            let edge = (exp(ln(2.0) / f64::from(n)) - 1.0).sqrt();
            Figure::relative(&format!("{n}"), *expected, square / edge, 1e-6)
        })
        .collect();
    section
        .row(
            "PWR-NOISE-09",
            "noise bandwidth over −3 dB of 1 to 5 equal poles",
            "a public table of such factors",
        )
        .worst_of(&equal);
    // A series resonance: ∫|H|² df = (π/2) f0 Q for 1/(1 + s/(Q w0) + s²/w0²).
    let (henries, farads, ohms) = (1e-3_f64, 100e-6_f64, 0.1_f64);
    let natural = 1.0 / (2.0 * PI * (henries * farads).sqrt());
    let quality = (henries / farads).sqrt() / ohms;
    let lc = Chain::of(&[[ohms, henries, farads, 1e-12]], 1e12);
    section
        .row(
            "noise-lc",
            "flat noise behind 1 mH with 0.1 Ω and 100 µF, rms for 1 V/√Hz",
            "∫|H|² df = (π/2) f0 Q",
        )
        .near(
            (PI / 2.0 * natural * quality).sqrt(),
            lc.rms(natural * 1e-8, natural * 1e6),
            Allowed::Relative(1e-6),
        );
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/tests/data/noise/random_filters.json"
    );
    let text = std::fs::read_to_string(path).expect("the data");
    let data: Value = serde_json::from_str(&text).expect("JSON");
    let filters = data["filters"].as_array().expect("a list");
    assert_eq!(filters.len(), 24);
    let random: Vec<Figure> = filters
        .iter()
        .enumerate()
        .map(|(k, filter)| {
            let stages: Vec<[f64; 4]> = filter["stages"]
                .as_array()
                .expect("stages")
                .iter()
                .map(|stage| ["ohms", "henries", "farads", "esr"].map(|key| number(stage, key)))
                .collect();
            let chain = Chain::of(&stages, number(filter, "load"));
            let got = chain.rms(number(filter, "low"), number(filter, "high"));
            Figure::relative(
                &format!("filter {}", k + 1),
                number(filter, "rms_per_density"),
                got,
                1e-6,
            )
        })
        .collect();
    section
        .row(
            "noise-random",
            "flat noise behind 24 random filters of one to four stages",
            "QUADPACK by scipy 1.17; script beside the data",
        )
        .worst_of(&random);
    section.finish();
}
