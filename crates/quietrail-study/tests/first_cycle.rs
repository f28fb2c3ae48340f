//! The first cycle after switching on against a dense integration of the same circuit by a general-purpose ODE library:
//! `surge/first_cycle.py`, its output `surge/first_cycle.csv`.

use quietrail_checks::{Figure, Section};
use quietrail_job::read;
use quietrail_study::switch_on::{Shorted, switch_on};

/// The circuit of the script, but for the rectifier and what is behind it. Copper and junctions stay at 25 °C.
const JOB: &str = r#"format = 1
[mains]
voltage = "230 V ±10 %"
frequency = "50 Hz"
flatness = "0 .. 0"
[box]
room = "25 °C"
rise = "0 K"
[states]
on = "a resistor"
[transformer.T1]
read_at = "25 °C"
rise = "0 K"
primary = [{ name = "P1", volts = "230 V", resistance = "43 Ω" }]
secondary = [
    { name = "S1", open = "16.8 V at 233 V", resistance = "0.57 Ω" },
    { name = "S2", open = "16.8 V at 233 V", resistance = "0.57 Ω" },
]
joins = { S = "S1 + S2" }
no_load = "22 mA at 230 V"
[load.test]
at = "raw"
draws = { on = "40 Ω" }
[rectifier.D1]
law = { saturation = "14 nA", ideality = "1.98", series = "34 mΩ", at = "25 °C" }
into = "raw"
"#;

/// The rest: the rectifier's own keys, and the ends of its capacitors, all alike.
fn job(form: &str) -> String {
    let (keys, ends): (&str, &[&str]) = match form {
        "bridge" | "half-wave" => ("from = \"T1.S1\"", &["\"raw\", \"common\""]),
        "centre-tap" => ("from = \"T1.S\"", &["\"raw\", \"common\""]),
        "split" => (
            "from = \"T1.S\"\nnegative = \"below\"",
            &["\"raw\", \"common\"", "\"common\", \"below\""],
        ),
        "doubler" => (
            "from = \"T1.S1\"\nmiddle = \"middle\"",
            &["\"raw\", \"middle\"", "\"middle\", \"common\""],
        ),
        "cascade doubler" => (
            "from = \"T1.S1\"\npump = \"pump\"",
            &["\"raw\", \"common\"", "\"pump\", \"T1.S1.start\""],
        ),
        other => panic!("no form is called {other}"),
    };
    let mut text = format!("{JOB}form = \"{form}\"\n{keys}\n");
    for (number, ends) in ends.iter().enumerate() {
        text.push_str(&format!(
            "[capacitor.C{}]\nbetween = [{ends}]\nvalue = \"4700 µF\"\nesr = \"45 mΩ\"\n",
            number + 1
        ));
    }
    if form == "split" {
        text.push_str(
            "[load.below]\nbetween = [\"common\", \"below\"]\ndraws = { on = \"40 Ω\" }\n",
        );
    }
    text
}

#[test]
fn first_cycles_agree_with_a_general_purpose_integration() {
    let mut section = Section::new("switch-on", "First cycle through the circuit of a job");
    let source = "scipy, Radau, script in the project";
    let mut last = (String::new(), Vec::new());
    for line in include_str!("surge/first_cycle.csv").lines().skip(1) {
        let (form, rest) = line.split_once(',').expect("a form first");
        let values: Vec<f64> = rest
            .split(',')
            .map(|value| value.parse().expect("a number"))
            .collect();
        let [angle, peak, i2t, primary] = values[..] else {
            panic!("five columns: {line}");
        };
        if last.0 != form {
            let text = job(form);
            let reading = read(&text, None);
            let job = reading
                .job
                .unwrap_or_else(|| panic!("{text}\n{:#?}", reading.diagnostics));
            let found = switch_on(&job, &quietrail_study::options());
            last = (form.to_owned(), found.expect("a supply").first);
        }
        let cycle = last
            .1
            .iter()
            .find(|cycle| cycle.angle == angle && cycle.charge == 0.0)
            .expect("the angle is tried");
        let what = format!("{form}: peak, I²t and I²t of the primary, switched on at {angle}°");
        // The engine is asked for a millionth, the script for a billionth; Simpson's rule over the corner of a pulse costs more.
        section.row("first cycle", &what, source).worst_of(&[
            Figure::relative("peak", peak, cycle.peak, 1e-3),
            Figure::relative("I²t", i2t, cycle.i2t, 1e-3),
            Figure::relative("primary I²t", primary, cycle.primary_i2t, 1e-3),
        ]);
    }
    section.finish();
}

/// Half of a winding shorted inside: half the turns and half the copper, so that the primary sees 43 Ω and
/// 0.285 Ω/(0.0361)²; what the supply draws beside it is small. Only the link of the primary is asked.
#[test]
fn a_short_of_half_a_winding_is_seen_by_the_primary_alone() {
    let reading = read(&job("bridge"), None);
    let job = reading.job.expect("a job");
    let found = switch_on(&job, &quietrail_study::options()).expect("a supply");
    let half = found
        .faults
        .iter()
        .find(|fault| fault.what == Shorted::HalfWinding)
        .expect("it is computed for a winding without a tap");
    let (primary, winding) = half.amps.expect("it comes to rest");
    let turns = 0.5 * 16.8 / 233.0;
    let ohms = 43.0 + 0.5 * 0.57 / (turns * turns);
    assert!((primary / (253.0 / ohms) - 1.0).abs() < 0.06, "{primary}");
    assert!((winding * turns / primary - 1.0).abs() < 0.06, "{winding}");
    assert!(!half.clears.is_empty() && half.clears.iter().all(|(place, ..)| place == "primary"));
    // A sheet 3 link of 100 mA may not have to break more than 35 A, and these are far below.
    let whole = found
        .faults
        .iter()
        .find(|fault| fault.what == Shorted::Winding);
    let whole = whole.expect("it is there");
    assert!(whole.clears.iter().any(|(place, ..)| place == "T1.S1"));
}

/// Behind a choke the charge that is left is the capacitor's: it was given to the choke, as amperes, and 36 A were told where 4 A flow. Of
/// capacitors side by side all are charged, not the one that moves their volts most.
#[test]
fn charge_is_left_in_the_capacitors_whatever_is_before_and_beside_them() {
    let peaks = |behind: &str| -> Vec<f64> {
        let into = if behind.contains("rect") {
            "rect"
        } else {
            "raw"
        };
        let head = JOB.replace("into = \"raw\"", &format!("into = \"{into}\""));
        let text = format!("{head}form = \"centre-tap\"\nfrom = \"T1.S\"\n{behind}");
        let reading = read(&text, None);
        let job = reading
            .job
            .unwrap_or_else(|| panic!("{:?}", reading.diagnostics));
        let found = switch_on(&job, &quietrail_study::options()).expect("it is solved");
        let highest = |charge: f64| {
            let own = found.first.iter().filter(|one| one.charge == charge);
            own.map(|one| one.peak).fold(0.0, f64::max)
        };
        [0.0, 0.5, 0.9].map(highest).to_vec()
    };
    let capacitor = |name: &str, at: &str, value: &str, esr: &str| {
        format!("[capacitor.{name}]\nat = \"{at}\"\nvalue = \"{value}\"\nesr = \"{esr}\"\n")
    };
    let choke =
        "[inductor.L1]\nbetween = [\"rect\", \"raw\"]\nvalue = \"80 mH\"\nresistance = \"1 Ω\"\n";
    let behind = peaks(&(capacitor("C1", "raw", "2200 µF", "45 mΩ") + choke));
    // At most the crest over the choke's and the capacitor's impedance, √(L/C): 23 V over 6 Ω.
    assert!(behind.iter().all(|amps| *amps < 4.5), "{behind:?}");
    assert!(behind[2] < behind[0], "{behind:?}");
    let alone = peaks(&capacitor("C1", "raw", "4700 µF", "45 mΩ"));
    let beside = peaks(
        &(capacitor("C1", "raw", "2350 µF", "90 mΩ") + &capacitor("C2", "raw", "2350 µF", "90 mΩ")),
    );
    for (alone, beside) in alone.iter().zip(&beside) {
        assert!((alone / beside - 1.0).abs() < 1e-3, "{alone} and {beside}");
    }
    assert!(alone[2] < 0.5 * alone[0], "{alone:?}");
}

/// A single diode drawn as a part is hit as hard as the same diode of a half-wave rectifier, and its fuse with it. It was left out: its
/// surge rating was not judged, and a supply of single diodes was told a first pulse of 0 A²s.
#[test]
fn a_single_diode_is_hit_as_a_half_wave_rectifier_is() {
    let law = "law = { saturation = \"14 nA\", ideality = \"1.98\", series = \"34 mΩ\", at = \"25 °C\" }\n\
               rated = { surge = \"20 A at 8.3 ms\" }\n";
    let head = JOB.split("[rectifier.D1]").next().expect("the job's head");
    let behind = "[capacitor.C1]\nat = \"raw\"\nvalue = \"4700 µF\"\nesr = \"45 mΩ\"\n";
    let of = |rectifier: &str| {
        let text = format!("{head}{rectifier}{law}{behind}");
        let reading = read(&text, None);
        let job = reading
            .job
            .unwrap_or_else(|| panic!("{:?}", reading.diagnostics));
        switch_on(&job, &quietrail_study::options()).expect("it is solved")
    };
    let rectifier = of("[rectifier.D1]\nfrom = \"T1.S1\"\ninto = \"raw\"\nform = \"half-wave\"\n");
    // A second one, which guards nothing here and only blocks, is not told of.
    let single = of(&format!(
        "[wire.W1]\nbetween = [\"T1.S1.finish\", \"common\"]\nresistance = \"0 Ω\"\n\
         [diode.D2]\nbetween = [\"common\", \"raw\"]\n{law}[diode.D1]\nbetween = [\"T1.S1.start\", \"raw\"]\n"
    ));
    assert_eq!(single.first.len(), rectifier.first.len());
    for (one, other) in single.first.iter().zip(&rectifier.first) {
        assert_eq!((&one.part, one.angle), (&other.part, other.angle));
        assert!(
            (one.peak / other.peak - 1.0).abs() < 1e-3,
            "{one:?} {other:?}"
        );
        assert!(
            (one.i2t / other.i2t - 1.0).abs() < 2e-3,
            "{one:?} {other:?}"
        );
    }
    let (own, like) = (&single.surges[0], &rectifier.surges[0]);
    assert_eq!((own.holds(), own.rated), (like.holds(), like.rated));
    assert_eq!(own.holds(), Some(false), "{own:?}");
    let pulse = |found: &quietrail_study::switch_on::SwitchOn| found.places[0].pulse;
    assert!(pulse(&single) > 0.0);
    assert!((pulse(&single) / pulse(&rectifier) - 1.0).abs() < 2e-3);
}

/// What passes when both cores are driven into saturation is the sum of what passes through each copper: 230 V and a tenth more, by its
/// crest, over 43 Ω and over 20 Ω beside it.
#[test]
fn the_bound_of_the_inrush_counts_every_core() {
    let second = "[transformer.T2]\nread_at = \"25 °C\"\nrise = \"0 K\"\nno_load = \"10 mA at 230 V\"\n\
                  primary = [{ name = \"P1\", volts = \"230 V\", resistance = \"20 Ω\" }]\n\
                  secondary = [{ name = \"S1\", open = \"6.3 V at 230 V\", resistance = \"0.3 Ω\" }]\n";
    let bound = |text: &str| {
        let job = read(text, None).job.expect("a job");
        let found = switch_on(&job, &quietrail_study::options()).expect("a supply");
        found.core.expect("copper is known")
    };
    let crest = 253.0 * std::f64::consts::SQRT_2;
    let (one, both) = (bound(&job("bridge")), bound(&(job("bridge") + second)));
    assert!(
        (one.peak / (crest / 43.0) - 1.0).abs() < 1e-9 && one.cores == 1,
        "{one:?}"
    );
    let sum = crest / 43.0 + crest / 20.0;
    assert!(
        (both.peak / sum - 1.0).abs() < 1e-9 && both.cores == 2,
        "{both:?}"
    );
}
