//! Supplies written as job files, beside the same circuits written down a second time.
//!
//! `drawn/solve.py` states every circuit by its node equations, with numbers of its own, and solves them without anything of this
//! repository: three-stage Radau steps of 2.8 to 3.3 µs over the unreduced equations, closed by shooting. It prints `drawn/figures.csv`.
//! What is compared is the whole way from the text: turns from open volts, joins, taps, selectors, forms of rectifiers, the way a
//! current is counted. Twice the steps move no figure by more than a millionth.

use quietrail_checks::{Allowed, Figure, Section};
use quietrail_study::finding::Proof;
use quietrail_study::options;
use quietrail_study::prove::prove;

const FIGURES: &str = include_str!("drawn/figures.csv");

/// Most differ by a millionth; a valley of millivolts, and ripple that is a hundredth of the peaks it is the difference of, by more.
const APART: f64 = 1e-5;

/// Each circuit with its file.
const CIRCUITS: [(&str, &str); 9] = [
    ("bridge", include_str!("drawn/bridge.toml")),
    ("centre-tap", include_str!("drawn/centre-tap.toml")),
    ("half-wave", include_str!("drawn/half-wave.toml")),
    ("doubler", include_str!("drawn/doubler.toml")),
    (
        "cascade-doubler",
        include_str!("drawn/cascade-doubler.toml"),
    ),
    ("choke-input", include_str!("drawn/choke-input.toml")),
    ("two-sections", include_str!("drawn/two-sections.toml")),
    ("shunt", include_str!("drawn/shunt.toml")),
    ("split", include_str!("drawn/split.toml")),
];

#[test]
fn circuits_drawn_twice_come_to_the_same() {
    let mut section = Section::new(
        "drawn",
        "Supplies written as job files, drawn a second time",
    );
    for (name, text) in CIRCUITS {
        let reading = quietrail_job::read(text, None);
        let job = reading
            .job
            .unwrap_or_else(|| panic!("{name}: {:#?}", reading.diagnostics));
        let proof = prove(&job, &options()).expect("it settles");
        let figures: Vec<Figure> = expected(name)
            .map(|(what, expected)| Figure {
                what: what.to_owned(),
                expected,
                got: figure(&proof, what),
                allowed: Allowed::Relative(APART),
            })
            .collect();
        assert!(figures.len() >= 14, "{name}");
        // The comment at the head of the file.
        let said = text.lines().next().unwrap_or_default();
        let said = said.trim_start_matches("# ").trim_end_matches('.');
        section
            .row(
                &format!("drawn-{name}"),
                said,
                "node equations in Python, `tests/drawn/solve.py`",
            )
            .worst_of(&figures);
    }
    section.finish();
}

/// Figures of a circuit: part or node with its quantity, and the value.
fn expected(circuit: &str) -> impl Iterator<Item = (&'static str, f64)> {
    let rows = FIGURES
        .lines()
        .skip(1)
        .filter_map(|row| row.split_once(','));
    rows.filter(move |(own, _)| *own == circuit)
        .map(|(_, rest)| {
            let (what, value) = rest.rsplit_once(',').expect("a figure and its value");
            (what, value.parse().expect("a number"))
        })
}

/// The same of a proof: `raw ripple_pp`, `D1 rms current`.
fn figure(proof: &Proof, what: &str) -> f64 {
    let (of, what) = what.split_once(' ').expect("whose it is");
    let node = proof.nodes.iter().find(|row| row.node == of);
    if let Some(row) = node {
        return match what {
            "mean" => row.mean,
            "valley" => row.valley,
            "peak" => row.peak,
            "ripple_rms" => row.ripple_rms,
            "ripple_pp" => row.ripple_pp,
            other => panic!("{of} {other}"),
        };
    }
    let part = proof.parts.iter().find(|row| row.part == of);
    let stress = part.unwrap_or_else(|| panic!("{of} is there"));
    let mut own = stress.stress.iter();
    own.find(|(known, _, _)| known.word() == what)
        .map_or_else(|| panic!("{of} {what}"), |(_, value, _)| *value)
}
