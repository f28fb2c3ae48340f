//! Filters behind a regulator against general-purpose libraries (`filter/filter.py`), and in a job.

use quietrail_checks::{Allowed, Figure, Section};
use quietrail_job::read;
use quietrail_study::filter::{Ladder, best_resistor};
use quietrail_study::regulators::quick_cards;

fn rows(kind: &str) -> Vec<Vec<f64>> {
    include_str!("filter/filter.csv")
        .lines()
        .filter_map(|line| line.strip_prefix(kind)?.strip_prefix(','))
        .map(|line| {
            line.split(',')
                .map(|text| text.parse().expect("a number"))
                .collect()
        })
        .collect()
}

#[test]
fn filters_behind_a_regulator() {
    let mut section = Section::new("filters", "Filters behind a regulator");
    let library = "scipy and numpy (filter.py)";
    let (mut gains, mut impedances) = (Vec::new(), Vec::new());
    for row in rows("ladder") {
        let mut shunts = vec![(row[2], row[3])];
        if row[4] > 0.0 {
            shunts.push((row[4], row[5]));
        }
        let ladder = Ladder {
            ohms: row[0],
            henries: row[1],
            shunts,
        };
        let (peak, hertz) = ladder.peak();
        gains.push(Figure {
            what: "peak, dB".to_owned(),
            expected: row[6],
            got: peak,
            allowed: Allowed::Absolute(1e-6),
        });
        if row[6] > 0.5 {
            gains.push(Figure::relative("at, Hz", row[7], hertz, 1e-3));
        }
        impedances.push(Figure::relative(
            "impedance, Ω",
            row[8],
            ladder.impedance().0,
            1e-6,
        ));
    }
    assert!(gains.len() > 8);
    section
        .row(
            "filter-peak",
            "highest gain of eight chokes with one or two capacitors, dB, and where",
            library,
        )
        .worst_of(&gains);
    section
        .row(
            "filter-impedance",
            "highest impedance that their loads see, Ω",
            library,
        )
        .worst_of(&impedances);
    let (mut resistors, mut peaks) = (Vec::new(), Vec::new());
    for row in rows("damper") {
        let n = row[0];
        resistors.push(Figure::relative("resistor", row[1], best_resistor(n), 1e-5));
        let ladder = Ladder {
            ohms: 0.0,
            henries: 1.0,
            shunts: vec![(1.0, 0.0), (n, best_resistor(n))],
        };
        peaks.push(Figure::relative("peak", row[2], ladder.impedance().0, 1e-5));
    }
    section
        .row(
            "filter-damper",
            "the best resistor of a damper with 1, 2, 4 and 8 times the capacitance, over √(L/C)",
            "R. W. Erickson, Optimal Single Resistor Damping of Input Filters; found again by scipy (filter.py)",
        )
        .worst_of(&resistors);
    section
        .row(
            "filter-damper-peak",
            "the highest impedance with it, over √(L/C): √(2 (2 + n))/n",
            "the same",
        )
        .worst_of(&peaks);
    section.finish();
}

fn job(rest: &str) -> quietrail_job::model::Job {
    let text = format!(
        r#"
format = 1
[mains]
voltage = "230 V"
frequency = "50 Hz"
[states]
cold = "cold"
warm = "warm"
[transformer.T1]
primary = [{{ name = "P1", volts = "230 V", resistance = "20 Ω" }}]
secondary = [{{ name = "S1", open = "18 V at 230 V", resistance = "0.3 Ω" }}]
[rectifier.D1]
from = "T1.S1"
into = "raw"
form = "bridge"
diode = "silicon 3 A"
[capacitor.C1]
at = "raw"
value = "4700 µF"
esr = "50 mΩ"
[regulator.U1]
from = "raw"
into = "out"
set = {{ fixed = "12 V ±1 %" }}
dropout = ["1 V at 1 A"]
rejection = ["60 dB at 100 Hz"]
noise = {{ density = "100 nV/√Hz" }}
limit = "2 A"
{rest}
"#
    );
    let reading = read(&text, None);
    reading
        .job
        .unwrap_or_else(|| panic!("{:#?}", reading.diagnostics))
}

#[test]
fn a_resistor_and_a_capacitor_take_volts_cold_and_warm() {
    let job = job(
        "[resistor.R1]\nbetween = [\"out\", \"clean\"]\nvalue = \"100 Ω\"\n[capacitor.C2]\nat = \"clean\"\nvalue = \"100 µF\"\nesr = \"0 \
         Ω\"\n[load.osc]\nat = \"clean\"\ndraws = { cold = \"20 mA\", warm = \"5 mA\" }\n",
    );
    let all = quick_cards(&job);
    let [filter] = all[0].filters.as_slice() else {
        panic!("{:?}", all[0].filters);
    };
    // PWR-NOISE-08 has the same filter: 15.91549 Hz.
    assert!((filter.filter.corner - 15.915_49).abs() < 1e-4);
    assert!(filter.filter.peak.is_none() && filter.filter.damper.is_none());
    let drops: Vec<f64> = filter.filter.drops.iter().map(|drop| drop.volts).collect();
    assert!((drops[0] - 2.0).abs() < 1e-9 && (drops[1] - 0.5).abs() < 1e-9);
}

#[test]
fn a_choke_peaks_and_is_damped_and_a_bare_rail_gets_a_proposal() {
    let choke = job(
        "[inductor.L1]\nbetween = [\"out\", \"clean\"]\nvalue = \"1 mH\"\nresistance = \"0.1 Ω\"\n[capacitor.C2]\nat = \
         \"clean\"\nvalue = \"100 µF\"\nesr = \"50 mΩ\"\n[load.osc]\nat = \"clean\"\ndraws = { cold = \"20 mA\", warm = \"5 mA\" }\n",
    );
    let all = quick_cards(&choke);
    let filter = &all[0].filters[0].filter;
    let (peak, at) = filter.peak.expect("a peak");
    assert!(
        peak > 20.0 && (at - 503.0).abs() < 5.0,
        "{peak} dB at {at} Hz"
    );
    let damper = filter.damper.expect("a damper");
    assert!(damper.peak < 5.0, "{damper:?}");
    let bare = job(
        "[capacitor.C2]\nat = \"out\"\nvalue = \"100 µF\"\nesr = \"50 mΩ\"\n[load.osc]\nat = \"out\"\ndraws = { cold = \"60 mA\", warm \
         = \"5 mA\" }\n[[limit]]\nname = \"window\"\nof = \"out\"\nwhat = \"valley\"\nmin = \"11.4 V\"\n",
    );
    let all = quick_cards(&bare);
    assert!(all[0].filters.is_empty());
    let proposal = all[0].proposal.as_ref().expect("a proposal");
    // 11.88 V less 11.4 V, half of it at 60 mA: 4 Ω, so 3.9 Ω of E12, and 4080 µF for 10 Hz.
    assert!((proposal.ohms - 3.9).abs() < 1e-9, "{proposal:?}");
    assert!((proposal.farads - 4.7e-3).abs() < 1e-9, "{proposal:?}");
}
