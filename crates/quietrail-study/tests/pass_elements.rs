//! Pass elements: transistors, sense leads, shunt regulators. Against formulas, and against a dense integration by a
//! general-purpose ODE library (`pass/pass_elements.py`, its output `pass/pass_elements.csv`).

use quietrail_checks::{Allowed, Figure, Section};
use quietrail_engine::network::{Network, Operating};
use quietrail_engine::{
    Circuit, DiodeLaw, Element, ElementId, GROUND, Node, Signal, System, TransistorLaw, transient,
};
use quietrail_job::model::{Job, Origin, PartKind};
use quietrail_job::read;
use quietrail_study::finding::Assumption;
use quietrail_study::heat::Temperatures;
use quietrail_study::level::decibels;
use quietrail_study::lower::{Lowered, Step, lower};
use quietrail_study::prove::prove;
use std::collections::BTreeMap;

const SCRIPT: &str = "scipy, Radau, script in the project";

/// The source of the script. Copper and junctions stay at 25 °C.
const HEAD: &str = r#"format = 1
[mains]
voltage = "230 V"
frequency = "50 Hz"
flatness = "0 .. 0"
[box]
room = "25 °C"
rise = "0 K"
[states]
on = "on"
[transformer.T1]
read_at = "25 °C"
rise = "0 K"
primary = [{ name = "P1", volts = "230 V", resistance = "43 Ω" }]
secondary = [{ name = "S1", open = "16.8 V at 233 V", resistance = "0.57 Ω" }]
no_load = "22 mA at 230 V"
[rectifier.D1]
from = "T1.S1"
into = "raw"
form = "bridge"
law = { saturation = "14 nA", ideality = "1.98", series = "34 mΩ", at = "25 °C" }
[capacitor.C1]
at = "raw"
value = "2200 µF"
esr = "0 Ω"
[capacitor.C2]
at = "out"
value = "100 µF"
esr = "0 Ω"
"#;

fn job(rest: &str) -> Job {
    let reading = read(&format!("{HEAD}{rest}"), None);
    reading
        .job
        .unwrap_or_else(|| panic!("{:#?}", reading.diagnostics))
}

fn lowered(job: &Job) -> Lowered {
    let warmth = Temperatures::at_rest(job);
    lower(job, 0, &Step::default(), &[], &warmth).expect("a circuit")
}

fn regulator(limit: &str, load: &str) -> String {
    format!(
        "[regulator.U1]\nfrom = \"raw\"\ninto = \"out\"\nset = {{ fixed = \"12 V\" }}\ndropout = [\"0.68 V at 100 mA\", \
         \"1.4 V at 1 A\"]\nrejection = [\"60 dB at 100 Hz\"]\noutput_resistance = \"20 mΩ\"\nquiescent = \"0 A\"\n{limit}\n\
         [load.test]\nat = \"out\"\ndraws = {{ on = \"{load}\" }}\n"
    )
}

const MULTIPLIER: &str = r#"
[resistor.R1]
between = ["raw", "base"]
value = "68 Ω"
[capacitor.C3]
at = "base"
value = "470 µF"
esr = "0 Ω"
[transistor.Q1]
collector = "raw"
base = "base"
emitter = "out"
gain = "60"
base_emitter = ["0.7 V at 1 A"]
saturation = "0.3 V at 1 A"
early = "100 V"
[load.test]
at = "out"
draws = { on = "20 Ω" }
"#;

/// What the script found of a supply: figure and volts.
fn found(supply: &str) -> Vec<(String, f64)> {
    include_str!("pass/pass_elements.csv")
        .lines()
        .skip(1)
        .filter_map(|line| {
            let mut fields = line.split(',');
            let is_it = fields.next() == Some(supply);
            let figure = fields.next().expect("a figure").to_owned();
            let volts = fields.next().expect("volts").parse().expect("a number");
            is_it.then_some((figure, volts))
        })
        .collect()
}

/// Steps fine enough to see a valley where diodes take over in a few microseconds.
fn fine() -> quietrail_engine::Options {
    quietrail_engine::Options {
        tolerance: 1e-9,
        ..quietrail_study::options()
    }
}

/// Means, valleys and ripple of a steady cycle beside those of the script.
fn steady(rest: &str, supply: &str) -> Vec<Figure> {
    let lowered = lowered(&job(rest));
    let system = System::assemble(&lowered.circuit)
        .expect("equations")
        .reduced();
    let outcome = quietrail_engine::steady_state(&system, &fine());
    let orbit = outcome.orbit.expect("a cycle");
    found(supply)
        .into_iter()
        .map(|(figure, volts)| {
            let (of, what) = figure.split_once(' ').expect("two words");
            let node = |name: &str| lowered.node(name).expect("a node");
            let signal = match of {
                "across" => Signal::Voltage(node("raw"), node("out")),
                name => Signal::Voltage(node(name), GROUND),
            };
            let probe = signal.probe(&system);
            let got = match what {
                "mean" => orbit.mean(&probe),
                "valley" => orbit.valley(&probe).value,
                _ => orbit.ripple_rms(&probe),
            };
            // The engine is asked for a millionth; a ripple is a small difference of large volts.
            let allowed = if what == "ripple" { 1e-3 } else { 1e-4 };
            Figure::relative(&figure, volts, got, allowed)
        })
        .collect()
}

#[test]
fn pass_elements_agree_with_a_general_purpose_integration() {
    let mut section = Section::new("pass-elements", "Pass elements");
    let row = "a regulator that drops out in a part of each cycle: means, valleys, ripple, V";
    section
        .row("partial dropout", row, SCRIPT)
        .worst_of(&steady(&regulator("limit = \"3 A\"", "7 Ω"), "dropout"));
    let row = "a capacitance multiplier that comes near saturation at its valleys, V";
    section
        .row("multiplier", row, SCRIPT)
        .worst_of(&steady(MULTIPLIER, "multiplier"));
    let folds = "limit = \"2 A\"\nfoldback = [\"1.5 A at 4 V\", \"0.3 A at 14 V\"]";
    for (supply, load, row) in [
        (
            "starts",
            "250 mA",
            "foldback from zero volts into 250 mA, which it starts: instants of the output, V",
        ),
        (
            "stays",
            "800 mA",
            "foldback from zero volts into 800 mA, at which it stays: instants of the output, V",
        ),
    ] {
        section
            .row("foldback start", row, SCRIPT)
            .worst_of(&instants(&regulator(folds, load), supply));
    }
    formulas(&mut section);
    section.finish();
}

/// Instants of the output from zero volts beside those of the script.
fn instants(rest: &str, supply: &str) -> Vec<Figure> {
    let text = format!("{HEAD}{rest}").replace("100 µF", "2200 µF");
    let reading = read(&text, None);
    let job = reading
        .job
        .unwrap_or_else(|| panic!("{:#?}", reading.diagnostics));
    let lowered = lowered(&job);
    let system = System::assemble(&lowered.circuit)
        .expect("equations")
        .reduced();
    let empty = vec![0.0; system.store_count()];
    let options = quietrail_study::options();
    let run = transient(&system, &empty, 0.0, 20.5, &options).expect("it runs");
    let out = Signal::Voltage(lowered.node("out").expect("a node"), GROUND).probe(&system);
    found(supply)
        .into_iter()
        .map(|(figure, volts)| {
            let cycles: f64 = figure.parse().expect("cycles");
            Figure {
                what: format!("{figure} cycles"),
                expected: volts,
                got: run.value(&out, cycles),
                allowed: Allowed::Absolute(2e-3),
            }
        })
        .collect()
}

/// A follower as good as ideal, with sections at its base: ripple at its emitter over ripple before, at a frequency.
fn follower(sections: &[(f64, f64)], hertz: f64) -> f64 {
    let mut circuit = Circuit::new(hertz);
    let (raw, out) = (circuit.node(), circuit.node());
    let short = circuit.add(Element::Resistor {
        a: raw,
        b: GROUND,
        ohms: 1e-6,
    });
    let mut last: Node = raw;
    for &(ohms, farads) in sections {
        let next = circuit.node();
        circuit.add(Element::Resistor {
            a: last,
            b: next,
            ohms,
        });
        circuit.add(Element::Capacitor {
            a: next,
            b: GROUND,
            farads,
            esr: 0.0,
            leakage: 0.0,
        });
        last = next;
    }
    let junction = DiodeLaw::Exponential {
        saturation: 1e-12,
        slope_voltage: 0.0257,
        series: 0.0,
        leakage: 0.0,
    };
    let id: ElementId = circuit.add(Element::Transistor {
        collector: raw,
        base: last,
        emitter: out,
        law: TransistorLaw {
            is_pnp: false,
            emitter: junction,
            collector: junction,
            forward: 1.0 - 1e-9,
            reverse: 0.5,
            feedback: 0.0,
        },
    });
    circuit.add(Element::Resistor {
        a: out,
        b: GROUND,
        ohms: 1e6,
    });
    let means = Operating {
        amps: 1.5,
        base: 1.5e-9,
        volts: 0.0,
    };
    let network = Network::of(&circuit, GROUND, &BTreeMap::from([(id, means)]));
    let reach = network.reach(out, GROUND, hertz).expect("determined");
    reach.of_series(short).size()
}

fn formulas(section: &mut Section) {
    let near = Allowed::Relative(1e-5);
    let one = follower(&[(100.0, 4700e-6)], 120.0);
    section
        .row(
            "PWR-REG-27",
            "multiplier of 100 Ω and 4700 µF at 120 Hz, dB",
            "1/√(1 + (ωRC)²)",
        )
        .near(-50.989_21, decibels(one), near);
    let two = follower(&[(470.0, 470e-6), (470.0, 470e-6)], 120.0);
    section
        .row(
            "PWR-REG-28",
            "two sections of 470 Ω and 470 µF, dB",
            "1/|1 + 3jωRC + (jωRC)²|",
        )
        .near(-88.863_37, decibels(two), near);
    section
        .row(
            "PWR-REG-29",
            "drop of that follower at 1.5 A, gain 100, 0.75 V, V",
            "I R/(β + 1) + Vbe",
        )
        .near(2.235_149, dropped(), Allowed::Relative(1e-4));
    // Its own output resistance of 0.1 mΩ comes on top.
    let of_its_own = Allowed::Absolute(0.15);
    let (at_pin, at_load) = (lead("upper"), lead("lower"));
    section
        .row(
            "PWR-REG-30",
            "20 mΩ in the output lead at 1 A, 12 V: nothing sensed beyond it, reference resistor at the load end, divider at both load ends, mV",
            "I R; I R Vout/Vref; Kelvin connection in the LD1117 and LT1086 data sheets",
        )
        .worst_of(&[
            Figure {
                what: "not sensed".to_owned(),
                expected: 20.0,
                got: lead("none"),
                allowed: of_its_own,
            },
            Figure::relative("reference resistor at the load", 192.0, at_pin, 1e-3),
            Figure {
                what: "divider at the load".to_owned(),
                expected: 0.0,
                got: at_load,
                allowed: of_its_own,
            },
        ]);
    let h1 = 0.370_196_1 * one * quietrail_engine::math::pow(10.0, -62.0 / 20.0);
    section
        .row(
            "PWR-REG-33",
            "that multiplier before 62 dB, 0.3702 V rms at 120 Hz: µV rms left",
            "decibels add",
        )
        .near(0.829_796, 1e6 * h1, near);
}

/// Volts from a constant supply to the emitter of a follower with a base resistor.
fn dropped() -> f64 {
    let text = HEAD.replace("[capacitor.C2]", "[capacitor.C9]")
        + "[resistor.RB]\nbetween = [\"raw\", \"base\"]\nvalue = \"100 Ω\"\n[capacitor.C4]\nat = \"base\"\nvalue = \"1 F\"\nesr = \
           \"0 Ω\"\n[transistor.Q1]\ncollector = \"raw\"\nbase = \"base\"\nemitter = \"out\"\ngain = \"100\"\nbase_emitter = \
           [\"0.75 V at 1.5 A\"]\nsaturation = \"0.2 V at 3 A\"\nearly = \"1 GV\"\n[load.test]\nat = \"out\"\ndraws = { on = \"1.5 \
           A\" }\n";
    let reading = read(&text, None);
    let job = reading
        .job
        .unwrap_or_else(|| panic!("{:#?}", reading.diagnostics));
    let mut lowered = lowered(&job);
    // A stiff supply in place of the raw one.
    let raw = lowered.node("raw").expect("a node");
    lowered.circuit.add(Element::Source {
        plus: raw,
        minus: GROUND,
        wave: quietrail_engine::Wave::constant(20.0),
        ohms: 0.01,
    });
    let system = System::assemble(&lowered.circuit)
        .expect("equations")
        .reduced();
    let outcome = quietrail_engine::steady_state(&system, &quietrail_study::options());
    let orbit = outcome.orbit.expect("a cycle");
    let out = lowered.node("out").expect("a node");
    orbit.mean(&Signal::Voltage(raw, out).probe(&system))
}

/// Millivolts by which a regulator of 12 V with a lead in its output falls at the load, with its sensing as told.
fn lead(how: &str) -> f64 {
    let (set, sense) = match how {
        "upper" => (
            "reference = \"1.25 V\", across = \"upper\", upper = \"100 Ω\", lower = \"860 Ω\"",
            "sense = \"far\"",
        ),
        "lower" => (
            "reference = \"1.25 V\", across = \"lower\", upper = \"860 Ω\", lower = \"100 Ω\"",
            "sense = [\"far\", \"common\"]",
        ),
        _ => (
            "reference = \"1.25 V\", across = \"upper\", upper = \"100 Ω\", lower = \"860 Ω\"",
            "",
        ),
    };
    // The divider's own current goes through the lead where it hangs beyond: 12.5 mA, in both readings.
    let at = |amps: &str| {
        let text = HEAD.replace("230 V\"\nfreq", "250 V\"\nfreq")
            + &format!(
                "[regulator.U1]\nfrom = \"raw\"\ninto = \"out\"\nset = {{ {set} }}\n{sense}\ndropout = [\"0.1 V at 1 \
                 A\"]\nrejection = [\"120 dB at 100 Hz\"]\noutput_resistance = \"0.1 mΩ\"\nquiescent = \"0 A\"\nlimit = \"3 \
                 A\"\n[wire.W1]\nbetween = [\"out\", \"far\"]\nresistance = \"20 mΩ\"\n[load.test]\nat = \"far\"\ndraws = {{ \
                 on = \"{amps}\" }}\n"
            );
        let reading = read(&text, None);
        let job = reading
            .job
            .unwrap_or_else(|| panic!("{:#?}", reading.diagnostics));
        let lowered = lowered(&job);
        let system = System::assemble(&lowered.circuit)
            .expect("equations")
            .reduced();
        let outcome = quietrail_engine::steady_state(&system, &quietrail_study::options());
        let orbit = outcome.orbit.expect("a cycle");
        let far = lowered.node("far").expect("a node");
        orbit.mean(&Signal::Voltage(far, GROUND).probe(&system))
    };
    1e3 * (at("0 A") - at("1 A"))
}

/// With nothing on its output a follower charges the capacitor there until what it gives is what leaks: a tenth of the 0.01 C V of
/// the sheets. The junction is ideal with one point, so its voltage is that of the point and 25.69 mV (k T/q at 25 °C) for each e times less. Any
/// voltage above that would keep for months: 489 kV was once told.
#[test]
fn an_unloaded_follower_comes_to_rest_where_its_capacitor_leaks() {
    let follower = "[resistor.R1]\nbetween = [\"raw\", \"base\"]\nvalue = \"1k ±5 %\"\n\
        [shunt.Z1]\nat = \"base\"\nfixed = \"12 V ±5 %\"\nresistance = \"0 Ω\"\n\
        [transistor.Q1]\ncollector = \"raw\"\nbase = \"base\"\nemitter = \"out\"\ngain = \"100\"\n\
        base_emitter = [\"0.65 V ±8 % at 10 mA\"]\nsaturation = \"0.2 V at 1 A\"\nearly = \"100 V\"\n\
        [load.test]\nat = \"out\"\ndraws = { on = \"0 A\" }\n\
        [[limit]]\nname = \"out\"\nof = \"out\"\nwhat = \"mean\"\nmax = \"12.6 V\"\n";
    let proof = prove(&job(follower), &quietrail_study::options()).expect("it settles");
    let found = proof.limits.iter().find(|one| one.name == "out");
    let found = found.expect("it is asked");
    let leaks = |out: f64| 100e-6 / 1000.0 * out;
    let at_rest = |base: f64, drop: f64| base - drop - 0.025_69 * (leaks(base) / 10e-3_f64).ln();
    let nominal = found.nominal.expect("it is known");
    assert!((nominal - at_rest(12.0, 0.65)).abs() < 5e-3, "{nominal}");
    let (worst, want) = (found.worst.expect("one is found"), at_rest(12.6, 0.598));
    assert!((worst - want).abs() < 5e-3, "{worst} {want}");
    let told_of_c2 = |one: &&Assumption| one.address == "C2.leakage";
    let told: Vec<_> = proof.assumptions.iter().filter(told_of_c2).collect();
    assert_eq!(told.len(), 1);
    assert_eq!(told[0].value, "100\u{a0}nS");
    assert!(told[0].why.starts_with("nothing else draws"));
    // What the job writes is not told as left out.
    let mut job = job(follower);
    let own = job.parts_mut().find(|part| part.name == "C2");
    if let Some(PartKind::Capacitor(own)) = own.map(|part| &mut part.kind) {
        own.leakage.origin = Origin::Drawn;
    }
    let proof = prove(&job, &quietrail_study::options()).expect("it settles");
    let why = proof.assumptions.iter().find(told_of_c2).map(|one| one.why);
    assert!(why.is_some_and(|why| why.starts_with("the job gives less")));
}

/// A follower whose zener diode starves at low mains: its warmth answers so steeply there that slopes foretold junctions below absolute zero,
/// and four limits were not shown for a saturation current of -1.7e32 A.
#[test]
fn no_junction_is_foretold_colder_than_its_air() {
    let text = r#"format = 1
[mains]
voltage = "230 V (207 V .. 253 V)"
frequency = "50 Hz"
[box]
room = "20 °C (15 °C .. 35 °C)"
rise = "15 K (5 K .. 20 K)"
[states]
warm = "tube warm"
[transformer.T1]
primary = [{ name = "P", volts = "230 V", resistance = "90 Ω ±3 %" }]
secondary = [{ name = "HT", open = "290 V ±2 % at 230 V", resistance = "320 Ω ±5 %" }]
no_load = "15 mA ±20 % at 230 V"
rise = "20 K (5 K .. 35 K)"
[rectifier.D1]
from = "T1.HT"
into = "raw"
form = "bridge"
diode = "1N4007"
[capacitor.C1]
at = "raw"
value = "22 µF ±20 %"
esr = "2 Ω"
[resistor.RB]
at = "raw"
value = "220 kΩ ±5 %"
[resistor.RZ]
between = ["raw", "ref"]
value = "33 kΩ ±5 %"
[shunt.Z1]
at = "ref"
fixed = "302 V ±5 %"
resistance = "1.5 kΩ ±30 %"
least = "0.5 mA"
rated = { current = "5 mA" }
[capacitor.C2]
at = "ref"
value = "1 µF ±10 %"
esr = "1 Ω"
leakage = "0 S"
[transistor.Q1]
collector = "raw"
base = "ref"
emitter = "ht"
gain = "40 .. 160"
base_emitter = ["0.6 V at 1 mA", "0.7 V at 10 mA"]
saturation = "0.5 V at 10 mA"
junction_to_air = "60 K/W"
rated = { volts = "400 V", current = "100 mA", reverse = "5 V" }
[capacitor.C3]
at = "ht"
value = "4.7 µF ±20 %"
esr = "2 Ω"
[load.tube]
at = "ht"
draws = { warm = "5 mA ±10 %" }
[[limit]]
name = "Q1 head"
of = "Q1"
what = "headroom"
min = "0 V"
"#;
    let reading = read(text, None);
    let job = reading
        .job
        .unwrap_or_else(|| panic!("{:#?}", reading.diagnostics));
    let proof = prove(&job, &quietrail_study::options()).expect("it can be solved");
    for row in &proof.limits {
        let verdict = format!("{:?}", row.predicted);
        assert!(!verdict.contains("NotSettled"), "{}: {verdict}", row.name);
    }
}
