//! Filters behind a regulator against general-purpose libraries (`filter/filter.py`, `filter/behind.py`), and in a job.

mod supply;

use quietrail_checks::{Allowed, Figure, Section};
use quietrail_study::filter::{Ladder, Room, Stage, best_resistor};
use quietrail_study::regulators::{cards, quick_cards};
use quietrail_study::starting::Start;
use supply::{AIR, raw, read};

/// A stage of a chain: ohms, henries, across, farads, esr, beside ohms, beside farads; 0 where there is none.
fn stage(row: &[f64]) -> Stage {
    let beside = Stage {
        ohms: row[5],
        shunts: vec![(row[6], 0.0)],
        ..Stage::default()
    };
    Stage {
        ohms: row[0],
        henries: row[1],
        across: (row[2] > 0.0).then_some(row[2]).into_iter().collect(),
        shunts: vec![(row[3], row[4])],
        beside: (row[6] > 0.0).then_some(beside).into_iter().collect(),
        bleeders: Vec::new(),
    }
}

/// Two and three stages in a row.
fn chains(section: &mut Section, library: &str) {
    let (mut corners, mut gains, mut impedances) = (Vec::new(), Vec::new(), Vec::new());
    for row in rows("chain") {
        let count = row[0] as usize;
        let ladder = Ladder(row[1..=7 * count].chunks(7).map(stage).collect());
        let found = &row[1 + 7 * count..];
        corners.push(Figure::relative("Hz", found[0], ladder.corner(), 1e-9));
        for at in found[1..].chunks(3) {
            let (gain, ohms) = ladder.at(at[0]);
            gains.push(Figure::relative("gain", at[1], gain, 1e-9));
            impedances.push(Figure::relative("Ω", at[2], ohms, 1e-9));
        }
    }
    assert_eq!(corners.len(), 6);
    section
        .row(
            "filter-chain-corner",
            "frequency above which 3 dB are gone behind six chains of two and three stages, Hz",
            library,
        )
        .worst_of(&corners);
    section
        .row(
            "filter-chain-gain",
            "gain of these chains at three frequencies each",
            library,
        )
        .worst_of(&gains);
    section
        .row(
            "filter-chain-impedance",
            "impedance that their loads see there, Ω",
            library,
        )
        .worst_of(&impedances);
}

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
        let ladder = Ladder(vec![Stage {
            ohms: row[0],
            henries: row[1],
            shunts,
            ..Stage::default()
        }]);
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
    chains(&mut section, library);
    behind(&mut section);
    let (mut resistors, mut peaks) = (Vec::new(), Vec::new());
    for row in rows("damper") {
        let n = row[0];
        resistors.push(Figure::relative("resistor", row[1], best_resistor(n), 1e-5));
        let ladder = Ladder(vec![Stage {
            henries: 1.0,
            shunts: vec![(1.0, 0.0), (n, best_resistor(n))],
            ..Stage::default()
        }]);
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

/// The filter farthest from the regulator of a job with such stages, and the noise before and behind it.
fn noise(regulator: &str, stages: &[&[f64]]) -> (f64, f64) {
    let mut text = regulator.to_owned();
    let mut node = "out".to_owned();
    for (k, stage) in stages.iter().enumerate() {
        let next = if k + 1 == stages.len() {
            "clean".to_owned()
        } else {
            format!("n{k}")
        };
        let [ohms, henries, farads, esr] = stage else {
            panic!("{stage:?}");
        };
        let ends = format!("between = [\"{node}\", \"{next}\"]");
        text += &if *henries > 0.0 {
            format!("[inductor.L{k}]\n{ends}\nvalue = \"{henries} H\"\nresistance = \"{ohms} Ω\"\n")
        } else {
            format!("[resistor.R{k}]\n{ends}\nvalue = \"{ohms} Ω\"\n")
        };
        text += &format!(
            "[capacitor.C1{k}]\nat = \"{next}\"\nvalue = \"{farads} F\"\nesr = \"{esr} Ω\"\n"
        );
        node = next;
    }
    text += "[load.osc]\nat = \"clean\"\ndraws = { warm = \"60 mA\" }\n";
    let job = read(&text);
    let cards = cards(&job, &quietrail_study::options()).expect("cards");
    let last = cards[0].filters.last().expect("a filter");
    // A resistor in front of all capacitors keeps none from starting.
    let is_up = |start: &Start| start.after.is_some_and(|seconds| seconds < 0.5);
    assert!(cards[0].starts.iter().all(is_up), "{:?}", cards[0].starts);
    assert_eq!(last.filter.after.len() + 1, stages.len());
    assert!(!last.band.1, "no limit names a band there");
    let [through] = last.noise.as_slice() else {
        panic!("{:?}", last.noise);
    };
    (through.before, through.behind)
}

/// Noise through what stands behind a regulator.
fn behind(section: &mut Section) {
    let regulator = |noise: &str, output: &str| {
        // So much rejection that what is drawn from the reservoir does not come back.
        let head = head(&["warm"], "1 mΩ").replace("60 dB", "120 dB");
        head.replace("noise = { density = \"100 nV/√Hz\" }", noise) + output
    };
    // PWR-NOISE-08 in a band: ∫ df/(1 + (f/fc)²) = fc (atan fh/fc − atan fl/fc), and 4kTR of the resistor beside.
    let corner = 1.0 / (2.0 * std::f64::consts::PI * 100.0 * 100e-6);
    let square = 1e-14 + 4.0 * 1.380_649e-23 * 298.15 * 100.0;
    let closed = (square * corner * ((1e5 / corner).atan() - (10.0 / corner).atan())).sqrt();
    let flat = regulator("noise = { density = \"100 nV/√Hz\" }", "");
    section
        .row(
            "filter-noise-rc",
            "100 nV/√Hz of a regulator behind 100 Ω and 100 µF, 10 Hz .. 100 kHz, nV rms",
            "e √(fc (atan fh/fc − atan fl/fc)), with the resistor's thermal noise",
        )
        .near(
            1e9 * closed,
            1e9 * noise(&flat, &[&[100.0, 0.0, 100e-6, 1e-9]]).1,
            Allowed::Relative(2e-4),
        );
    let (mut before, mut after) = (Vec::new(), Vec::new());
    for line in include_str!("filter/behind.csv").lines() {
        let row: Vec<f64> = line
            .split(',')
            .map(|text| text.parse().expect("a number"))
            .collect();
        let [density, flicker, farads, esr, count, rest @ ..] = row.as_slice() else {
            panic!("{line}");
        };
        let stages: Vec<&[f64]> = rest.chunks(4).take(*count as usize).collect();
        let text = regulator(
            &format!("noise = {{ density = \"{density} V/√Hz\", corner = \"{flicker} Hz\" }}"),
            &format!("[capacitor.C2]\nat = \"out\"\nvalue = \"{farads} F\"\nesr = \"{esr} Ω\"\n"),
        )
        .replace("1 mΩ", "20 mΩ");
        let found = noise(&text, &stages);
        let wanted = &rest[4 * stages.len()..];
        before.push(Figure::relative("before, V", wanted[0], found.0, 2e-4));
        after.push(Figure::relative("behind, V", wanted[1], found.1, 2e-4));
    }
    assert_eq!(after.len(), 8);
    let library = "scipy and numpy (behind.py)";
    section
        .row(
            "filter-noise-before",
            "noise at the output of a regulator in front of eight random filters, V rms",
            library,
        )
        .worst_of(&before);
    section
        .row("filter-noise-behind", "noise behind them, V rms", library)
        .worst_of(&after);
}

fn job(rest: &str) -> quietrail_job::model::Job {
    read(&(head(&["cold", "warm"], "20 mΩ") + rest))
}

/// A job up to its regulator.
fn head(states: &[&str], output_resistance: &str) -> String {
    let regulator = format!(
        r#"[regulator.U1]
from = "raw"
into = "out"
set = {{ fixed = "12 V ±1 %" }}
dropout = ["1 V at 1 A"]
rejection = ["60 dB at 100 Hz"]
noise = {{ density = "100 nV/√Hz" }}
limit = "2 A"
output_resistance = "{output_resistance}"
"#
    );
    raw(50, states) + AIR + &regulator
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
    let Some(Room::For(proposal)) = all[0].proposal.as_ref() else {
        panic!("a proposal");
    };
    // 11.88 V less 11.4 V, half of it at 60 mA: 4 Ω, so 3.9 Ω of E12, and 4080 µF for 10 Hz.
    assert!((proposal.ohms - 3.9).abs() < 1e-9, "{proposal:?}");
    assert!((proposal.farads - 4.7e-3).abs() < 1e-9, "{proposal:?}");
}

/// R1 with C2 and R2 with C3 behind it, a lead between; the first rail feeds an oven, the second an oscillator.
#[test]
fn filters_in_a_row_count_together() {
    let row = job(
        "[wire.W1]\nbetween = [\"out\", \"far\"]\nresistance = \"10 mΩ\"\n[resistor.R1]\nbetween = [\"far\", \"mid\"]\nvalue = \"10 \
         Ω\"\n[capacitor.C2]\nat = \"mid\"\nvalue = \"100 µF\"\nesr = \"0 Ω\"\n[resistor.R2]\nbetween = [\"mid\", \"clean\"]\nvalue = \"10 \
         Ω\"\n[capacitor.C3]\nat = \"clean\"\nvalue = \"100 µF\"\nesr = \"0 Ω\"\n[load.oven]\nat = \"out\"\ndraws = { cold = \"500 mA\", warm = \
         \"100 mA\" }\n[load.osc]\nat = \"clean\"\ndraws = { cold = \"20 mA\", warm = \"5 mA\" }\n",
    );
    let all = quick_cards(&row);
    let [first, second] = all[0].filters.as_slice() else {
        panic!("{:?}", all[0].filters);
    };
    assert_eq!(
        (first.filter.part.as_str(), first.filter.after.len()),
        ("R1", 0)
    );
    assert_eq!(
        (second.filter.part.as_str(), second.filter.after.as_slice()),
        ("R2", &["R1".to_owned()][..])
    );
    // What the oven takes goes past both.
    let cold = &second.filter.drops[0];
    assert!(
        (cold.amps - 0.02).abs() < 1e-12 && (cold.volts - 0.2).abs() < 1e-12,
        "{cold:?}"
    );
    assert!((cold.in_all - (0.4 + 0.02 * 0.01)).abs() < 1e-9, "{cold:?}");
    // Two equal loaded sections of 159.155 Hz, 1/(1 + 3 jx − x²): 3 dB are gone at x = √((−7 + √53)/2).
    let x = ((53.0_f64.sqrt() - 7.0) / 2.0).sqrt();
    assert!(
        (second.filter.corner / (159.155 * x) - 1.0).abs() < 2e-3,
        "{}",
        second.filter.corner
    );
    // PWR-REG-28 has this form: |1 + 3 jx − x²| at twice the mains.
    let turn: f64 = 100.0 / 159.155;
    let kept = 1.0 / ((1.0 - turn * turn).powi(2) + (3.0 * turn).powi(2)).sqrt();
    assert!(
        (second.filter.at_ripple - 20.0 * kept.log10()).abs() < 0.02,
        "{}",
        second.filter.at_ripple
    );
}

/// A damper that is drawn as its own resistor and capacitor counts, and is no filter.
#[test]
fn a_damper_that_is_drawn_flattens_the_peak() {
    let choke = |more: &str| {
        job(&format!(
            "[inductor.L1]\nbetween = [\"out\", \"clean\"]\nvalue = \"1 mH\"\nresistance = \"0.1 Ω\"\n[capacitor.C2]\nat = \
             \"clean\"\nvalue = \"100 µF\"\nesr = \"50 mΩ\"\n[load.osc]\nat = \"clean\"\ndraws = {{ cold = \"20 mA\", warm = \"5 mA\" }}\n{more}"
        ))
    };
    let bare = &quick_cards(&choke(""))[0].filters[0].filter.clone();
    let damper = bare.damper.expect("a damper");
    let drawn = choke(&format!(
        "[resistor.R1]\nbetween = [\"clean\", \"damped\"]\nvalue = \"{} Ω\"\n[capacitor.C3]\nat = \"damped\"\nvalue = \"{} F\"\nesr = \"0 Ω\"\n",
        damper.ohms, damper.farads
    ));
    let all = quick_cards(&drawn);
    let [filter] = all[0].filters.as_slice() else {
        panic!("{:?}", all[0].filters);
    };
    let peak = filter.filter.peak.map_or(0.0, |(peak, _)| peak);
    assert!(
        (peak - damper.peak).abs() < 1e-6,
        "{peak} dB, foretold {} dB",
        damper.peak
    );
    // A resistor across the choke tames it too.
    let across = choke("[resistor.R1]\nbetween = [\"out\", \"clean\"]\nvalue = \"4.7 Ω\"\n");
    let all = quick_cards(&across);
    let [filter] = all[0].filters.as_slice() else {
        panic!("{:?}", all[0].filters);
    };
    assert_eq!(filter.filter.part, "L1");
    let tamed = filter.filter.peak.map_or(0.0, |(peak, _)| peak);
    let free = bare.peak.expect("a peak").0;
    assert!(tamed < free - 10.0, "{tamed} dB with, {free} dB without");
    // 0.1 Ω and 4.7 Ω side by side.
    assert!((filter.filter.drops[0].volts - 0.02 * 0.1 * 4.7 / 4.8).abs() < 1e-9);
}
