//! Regulators against figures from outside: set points, limits, rejection in frequency and in time.

mod supply;

use quietrail_checks::{Allowed, Figure, Section};
use quietrail_engine::network::{Network, Operating, transfer};
use quietrail_engine::{
    Circuit, Dropout, Element, GROUND, Options, RegulatorLaw, System, Wave, steady_state,
};
use quietrail_job::built_in_entries;
use quietrail_job::model::{Job, SetPoint};
use quietrail_study::level;
use quietrail_study::lower::{fit_rejection, noise_gain, whole_rejection};
use quietrail_study::setpoint;
use std::collections::BTreeMap;
use std::f64::consts::PI;
use supply::{raw, read, regulator};

fn job(set: &str, more: &str) -> Job {
    let rest = format!(
        r#"[regulator.U1]
from = "raw"
into = "out"
set = {set}
dropout = ["1 V at 1 A"]
rejection = ["60 dB at 120 Hz"]
{more}
[load.osc]
at = "out"
draws = {{ on = "60 mA" }}
"#
    );
    read(&(raw(50, &["on"]) + &rest))
}

fn set(set: &str) -> setpoint::Finding {
    setpoint::of(regulator(&job(set, "limit = \"2 A\"")), None)
}

/// A capacitor on the adjust pin does the same whether the divider has a trimmer in it or the resistor that the trimmer makes up.
#[test]
fn a_bypass_counts_behind_a_trimmer_as_without_one() {
    let fixed = |bypass: &str| {
        format!(
            "{{ reference = \"1.25 V\", across = \"upper\", upper = \"240R\", lower = \"1488R\"{bypass} }}"
        )
    };
    let trimmed = |bypass: &str| {
        format!(
            "{{ reference = \"1.25 V\", across = \"upper\", upper = \"240R\", lower = \"1k3\", trimmer = \"500R\", to = \"9 V\"{bypass} }}"
        )
    };
    for bypass in ["", ", bypass = \"0 F\"", ", bypass = \"10 µF\""] {
        let jobs = [fixed(bypass), trimmed(bypass)].map(|set| job(&set, "limit = \"2 A\""));
        let [fixed, trimmed] = &jobs;
        for hertz in [1.0, 120.0, 10e3] {
            let [one, other] = [fixed, trimmed].map(|job| noise_gain(&regulator(job).set, hertz));
            assert!(
                (one / other - 1.0).abs() < 1e-9,
                "{bypass} {hertz}: {one} {other}"
            );
        }
        let [one, other] = [fixed, trimmed].map(|job| whole_rejection(regulator(job)));
        assert_eq!(one.sections.len(), other.sections.len(), "{bypass}");
        assert!(
            (one.direct - other.direct).abs() <= 1e-9 * one.direct.abs(),
            "{bypass}"
        );
        for (one, other) in one.sections.iter().zip(&other.sections) {
            assert!(
                (one.0 - other.0).abs() <= 1e-9 * one.0.abs(),
                "{bypass}: {one:?} {other:?}"
            );
            assert!(
                (one.1 / other.1 - 1.0).abs() < 1e-9,
                "{bypass}: {one:?} {other:?}"
            );
        }
    }
    // Bare, the ripple of a 9 V output is 17 dB above that of the reference: 20 log(9/1.25).
    let bare = job(&trimmed(", bypass = \"0 F\""), "limit = \"2 A\"");
    let gain = level::decibels(noise_gain(&regulator(&bare).set, 120.0));
    assert!((gain - 17.146_65).abs() < 1e-4, "{gain}");
}

/// What reaches an oscillator where several tolerances together let its regulator drop out: no slope at the nominal tells of it.
#[test]
fn lines_are_read_where_the_regulator_drops_out() {
    let text = raw(50, &["on"])
        .replace(
            "voltage = \"230 V\"",
            "voltage = \"230 V (207 V .. 244 V)\"",
        )
        .replace("\"18 V at 230 V\"", "\"18 V ±6 % at 230 V\"")
        .replace("\"4700 µF\"", "\"4700 µF ±20 %\"");
    let rest = r#"[regulator.U1]
from = "raw"
into = "out"
set = { fixed = "17.5 V" }
dropout = ["2 V at 500 mA"]
rejection = ["70 dB at 120 Hz", "60 dB at 10 kHz"]
limit = "2 A"
[capacitor.C2]
at = "out"
value = "10 µF"
esr = "0.5 Ω"
[load.osc]
at = "out"
draws = { on = "500 mA" }
[oscillator.X1]
frequency = "10 MHz"
supply = { at = "out", shifts = "1 ppb/V" }
[[limit]]
name = "ripple"
of = "out"
what = "ripple"
max = "1 mV"
"#;
    let job = read(&(text + rest));
    let options = quietrail_study::options();
    let proof = quietrail_study::prove::prove(&job, &options).expect("it settles");
    let ripple = proof.limits.iter().find(|limit| limit.name == "ripple");
    let ripple = ripple.and_then(|limit| limit.worst).expect("a worst");
    let found = quietrail_study::sidebands::sidebands(&job, &options).expect("it settles");
    let square: f64 = found.pins[0]
        .lines
        .iter()
        .map(|line| line.rms * line.rms)
        .sum();
    assert!(ripple > 0.01, "{ripple}");
    assert!(square.sqrt() > 0.9 * ripple, "{} {ripple}", square.sqrt());
}

/// A diode that is drawn from output to input is named; one from input to output is another part.
#[test]
fn a_drawn_diode_counts() {
    let diode = |between: &str| {
        let more = format!(
            "limit = \"2 A\"\n[capacitor.C2]\nat = \"out\"\nvalue = \"1000 µF\"\nesr = \"0.1 Ω\"\n[diode.D5]\nbetween = \
             {between}\npart = \"silicon 1 A\""
        );
        let cards = quietrail_study::regulators::quick_cards(&job("{ fixed = \"12 V\" }", &more));
        cards[0].diode.clone()
    };
    let back = diode("[\"out\", \"raw\"]");
    assert!(
        back.wanted && back.drawn.as_deref() == Some("D5"),
        "{back:?}"
    );
    assert_eq!(diode("[\"raw\", \"out\"]").drawn, None);
}

#[test]
fn set_points_and_limits() {
    let mut section = Section::new("regulators", "Regulators");
    let near = Allowed::Relative(1e-6);
    let sheet = "formula and figures: LD1117 series data sheet, p. 17";
    let three = "{ reference = \"1.25 V ±1 %\", across = \"upper\", upper = \"121R ±1 %\", lower = \"1k3 ±1 %\", adjust = \"60 µA (0 A .. 120 µA)\" }";
    let found = set(three);
    section
        .row(
            "PWR-REG-01",
            "adjustable three-terminal, 121 Ω and 1300 Ω, V",
            sheet,
        )
        .near(14.757_75, found.nominal, near);
    section
        .row("PWR-REG-02", "the same over its tolerances, V", sheet)
        .worst_of(&[
            Figure::relative("lowest", 14.269_68, found.worst.0, 1e-6),
            Figure::relative("highest", 15.258_13, found.worst.1, 1e-6),
        ]);
    let exact = set(
        "{ reference = \"1.25 V\", across = \"upper\", upper = \"121R\", lower = \"1034.591R\", adjust = \"60 µA\" }",
    );
    section
        .row(
            "PWR-REG-03",
            "lower resistor for 12 V, output with it, V",
            sheet,
        )
        .near(12.0, exact.nominal, near);
    // The bypass capacitor at which its reactance is the upper resistor: the gain above it is √2 of one for a large lower one.
    let reactance = |ohms: f64, hertz: f64| 1.0 / (2.0 * PI * hertz * ohms);
    let bypassed = |farads: f64| {
        let text = format!(
            "{{ reference = \"1.25 V\", across = \"upper\", upper = \"100R\", lower = \"100 MΩ\", bypass = \"{farads} F\" }}"
        );
        noise_gain(&regulator(&job(&text, "limit = \"2 A\"")).set, 120.0)
    };
    section
        .row(
            "PWR-REG-04",
            "gain of a bare 100 Ω divider where the bypass capacitor has its reactance at 120 Hz (13.26 µF)",
            "LT1086 series data sheet, ripple rejection: 13 µF",
        )
        .near(2.0_f64.sqrt(), bypassed(reactance(100.0, 120.0)), Allowed::Relative(1e-4));
    let bare = |volts: f64| {
        let lower = 100.0 * (volts / 1.25 - 1.0);
        let text = format!(
            "{{ reference = \"1.25 V\", across = \"upper\", upper = \"100R\", lower = \"{lower}R\", bypass = \"0 F\" }}"
        );
        level::decibels(noise_gain(
            &regulator(&job(&text, "limit = \"2 A\"")).set,
            120.0,
        ))
    };
    section
        .row(
            "PWR-REG-05",
            "ripple with a bare adjust pin at 5 V and 12 V, dB more",
            "LT1086 series data sheet: 12 dB at 5 V",
        )
        .worst_of(&[
            Figure::relative("5 V", 12.041_20, bare(5.0), 1e-5),
            Figure::relative("12 V", 19.645_42, bare(12.0), 1e-5),
        ]);
    section
        .row("PWR-REG-07", "divider of 121 Ω at 1.25 V, mA", "Ohm's law")
        .near(10.330_58, 1e3 * exact.divider.expect("a divider"), near);
    let limited = |resistors: &str, volts: &str| {
        let job = job(
            "{ fixed = \"12 V\" }",
            &format!("limit_resistor = {resistors}\nlimit_volts = \"{volts}\""),
        );
        regulator(&job).limit.nominal()
    };
    section
        .row(
            "PWR-REG-23",
            "limit by a base-emitter voltage across 0.47 Ω at 25 °C and 100 °C, A",
            "I = V/R; the voltage is common practice",
        )
        .worst_of(&[
            Figure::relative("25 °C", 1.382_979, limited("\"0.47 Ω\"", "0.65 V"), 1e-6),
            Figure::relative("100 °C", 1.063_830, limited("\"0.47 Ω\"", "0.5 V"), 1e-6),
            Figure::relative(
                "two of 0.94 Ω",
                1.382_979,
                limited("[\"0.94 Ω\", \"0.94 Ω\"]", "0.65 V"),
                1e-6,
            ),
        ]);
    let trimmed = set(
        "{ reference = \"2.5 V ±1 %\", across = \"lower\", upper = \"9k09 ±1 %\", lower = \"2k49 ±1 %\", trimmer = \"1k ±20 %\", to = \"12 V\", turns = \"25\" }",
    );
    let reach = trimmed.reach.expect("a reach");
    section
        .row(
            "PWR-REG-24",
            "reach of a trimmer, and where it stands for 12 V",
            "divider",
        )
        .worst_of(&[
            Figure::relative("lowest, V", 11.626_51, reach.nominal.0, 1e-6),
            Figure::relative("highest, V", 12.630_52, reach.nominal.1, 1e-6),
            Figure::relative("Ω for 12 V", 372.0, reach.at, 1e-6),
        ]);
    section
        .row(
            "PWR-REG-25",
            "what can be set in every corner, V",
            "divider, worst of all corners",
        )
        .worst_of(&[
            Figure::relative("lowest", 11.928_99, reach.sure.0, 1e-6),
            Figure::relative("highest", 12.118_63, reach.sure.1, 1e-6),
        ]);
    section
        .row(
            "PWR-REG-26",
            "reference of 7 V above the output, V",
            "divider",
        )
        .near(
            2.998_008,
            set("{ reference = \"7 V\", across = \"both\", upper = \"2k87\", lower = \"2k15\" }")
                .nominal,
            near,
        );
    curves(&mut section);
    near_dropout(&mut section);
    in_time(&mut section);
    section.finish();
}

/// Every rejection curve of the catalogue, at its points.
fn curves(section: &mut Section) {
    let mut figures = Vec::new();
    for entry in built_in_entries()
        .iter()
        .filter(|entry| entry.kind == "regulator")
    {
        let text = include_str!("../../quietrail-job/catalogue/regulators.toml");
        let points = points_of(text, &entry.name);
        assert!(!points.is_empty(), "{}", entry.name);
        let fitted = fit_rejection(&points);
        for (hertz, decibels) in points {
            let got = -level::decibels(transfer(&fitted, 2.0 * PI * hertz).size());
            figures.push(Figure {
                what: format!("{}, {hertz} Hz", entry.name),
                expected: decibels,
                got,
                allowed: Allowed::Absolute(1.0),
            });
        }
    }
    section
        .row(
            "rejection-curves",
            "rejection of every catalogue part at all its points, dB",
            "the catalogue's data sheets",
        )
        .worst_of(&figures);
}

/// Nominal points of an entry's rejection: `"73 dB (62 dB .. 75 dB) at 120 Hz"`.
fn points_of(catalogue: &str, name: &str) -> Vec<(f64, f64)> {
    let from = catalogue.find(&format!("\"{name}\"]")).expect("the entry");
    let line = catalogue[from..]
        .lines()
        .find(|line| line.starts_with("rejection"))
        .expect("a curve");
    line.split('"')
        .filter(|text| text.contains(" dB") && text.contains(" at "))
        .map(|text| {
            let decibels = text.split_whitespace().next().expect("a number");
            let at = text.rsplit(" at ").next().expect("a frequency");
            let (number, unit) = at.split_once(' ').expect("a unit");
            let scale = match unit {
                "Hz" => 1.0,
                "kHz" => 1e3,
                "MHz" => 1e6,
                _ => panic!("{unit}"),
            };
            let number: f64 = number.parse().expect("a number");
            (number * scale, decibels.parse().expect("a number"))
        })
        .collect()
}

/// A swing of the input of every catalogue part, solved in time, against its data sheet: the same transfer, once.
fn in_time(section: &mut Section) {
    let text = include_str!("../../quietrail-job/catalogue/regulators.toml");
    let mut figures = Vec::new();
    for entry in built_in_entries()
        .iter()
        .filter(|entry| entry.kind == "regulator")
    {
        let points = points_of(text, &entry.name);
        let fitted = fit_rejection(&points);
        for (hertz, decibels) in points {
            figures.push(Figure {
                what: format!("{}, {hertz} Hz", entry.name),
                expected: decibels,
                got: swung(fitted.clone(), hertz),
                allowed: Allowed::Absolute(1.0),
            });
        }
    }
    section
        .row(
            "rejection-in-time",
            "a swing of the input of every catalogue part at all its points, solved in time, dB",
            "the catalogue's data sheets",
        )
        .worst_of(&figures);
}

/// Rejection of a swing at a frequency, from a steady cycle of it.
fn swung(rejection: quietrail_engine::Transfer, hertz: f64) -> f64 {
    let mut circuit = Circuit::new(hertz);
    let (low, input, output) = (circuit.node(), circuit.node(), circuit.node());
    circuit.add(Element::Source {
        plus: low,
        minus: GROUND,
        wave: Wave::constant(17.0),
        ohms: 0.0,
    });
    circuit.add(Element::Source {
        plus: input,
        minus: low,
        wave: Wave::mains(0.5, 0.0),
        ohms: 0.0,
    });
    let law = RegulatorLaw {
        set: 12.0,
        line: 17.0,
        rejection,
        transconductance: 1e3,
        loop_time: 1e-7,
        dropout: Dropout::line(1.0, 0.2),
        limit: 3.0,
        softness: 3e-3,
        exponent: 8,
        quiescent: 0.0,
        is_negative: false,
    };
    circuit.add(Element::Regulator {
        input,
        output,
        reference: GROUND,
        sense: None,
        law,
    });
    circuit.add(Element::Resistor {
        a: output,
        b: GROUND,
        ohms: 24.0,
    });
    let system = System::assemble(&circuit).expect("equations").reduced();
    let options = Options {
        tolerance: 1e-9,
        ..Options::default()
    };
    let outcome = steady_state(&system, &options);
    let orbit = outcome.orbit.expect("a cycle");
    -level::decibels(orbit.ripple_rms(&system.voltage(output, GROUND)) / 0.5)
}

/// What is left of a rejection of 62 dB at 120 Hz with so much headroom, dB: 0.2 V and half an ohm below which nothing is
/// regulated.
fn left_of_rejection(headroom: f64) -> f64 {
    let mut circuit = Circuit::new(50.0);
    let (input, output) = (circuit.node(), circuit.node());
    let source = circuit.add(Element::Resistor {
        a: input,
        b: GROUND,
        ohms: 1e-3,
    });
    let id = circuit.add(Element::Regulator {
        input,
        output,
        reference: GROUND,
        sense: None,
        law: RegulatorLaw {
            set: 12.0,
            line: 17.0,
            rejection: fit_rejection(&[(120.0, 62.0)]),
            transconductance: 50.0,
            loop_time: 2e-5,
            dropout: Dropout::line(0.2, 0.5),
            limit: 2.0,
            softness: 2e-3,
            exponent: 8,
            quiescent: 0.0,
            is_negative: false,
        },
    });
    circuit.add(Element::Resistor {
        a: output,
        b: GROUND,
        ohms: 1e6,
    });
    // What the headroom lets through, or half an ampere.
    let amps = ((headroom - 0.2) / 0.5_f64).clamp(0.0, 0.5) * 0.999;
    let operating = BTreeMap::from([(
        id,
        Operating {
            base: 0.0,
            amps,
            volts: headroom,
        },
    )]);
    let network = Network::of(&circuit, GROUND, &operating);
    let reach = network
        .reach(output, GROUND, 120.0)
        .expect("it is determined");
    -level::decibels(reach.of_series(source).size())
}

/// Below its dropout a pass element is a resistance, so what is rejected falls with headroom, to nothing.
fn near_dropout(section: &mut Section) {
    let all: Vec<f64> = (0..40)
        .map(|step| left_of_rejection(0.35 + 0.05 * f64::from(step)))
        .collect();
    let falls = all.windows(2).map(|pair| pair[0] - pair[1]);
    let one = |what: &str, got: f64, most: f64| Figure {
        what: what.to_owned(),
        expected: 0.0,
        got,
        allowed: Allowed::Absolute(most),
    };
    section
        .row(
            "PWR-REG-17",
            "62 dB at 120 Hz near dropout: what is left in dropout, and the most that it falls while headroom grows, dB",
            "TI, TPS75003 and TPS795 data sheets, dropout sections",
        )
        .worst_of(&[
            one("in dropout", all[0], 1.0),
            one("falls by", falls.fold(0.0, f64::max), 0.01),
        ]);
    let last = all[all.len() - 1];
    assert!(last > 60.0, "{last} dB with headroom to spare");
}

#[test]
fn a_fixed_part_has_no_reach() {
    let found = set("{ fixed = \"12 V ±4 %\" }");
    assert!(found.reach.is_none() && found.preferred.is_empty());
    assert!((found.worst.0 - 11.52).abs() < 1e-12);
    assert!(matches!(
        regulator(&job("{ fixed = \"12 V\" }", "limit = \"2 A\"")).set,
        SetPoint::Fixed(_)
    ));
}

/// A regulator that feeds another gives what hangs on that one too, with what the other draws itself.
#[test]
fn a_regulator_before_another_gives_what_that_one_asks() {
    let more = "limit = \"300 mA\"\n[capacitor.C2]\nat = \"out\"\nvalue = \"10 µF\"\nesr = \"0.5 Ω\"\n\
        [regulator.U2]\nfrom = \"out\"\ninto = \"low\"\nset = { reference = \"1.25 V\", across = \"upper\", \
        upper = \"125R\", lower = \"375R\", adjust = \"0 A\" }\ndropout = [\"1 V at 1 A\"]\n\
        rejection = [\"60 dB at 100 Hz\"]\nlimit = \"1 A\"\nquiescent = \"3 mA .. 6 mA\"\n\
        [load.logic]\nat = \"low\"\ndraws = { on = \"280 mA ±5 %\" }\n";
    let cards = quietrail_study::regulators::quick_cards(&job("{ fixed = \"12 V\" }", more));
    let first = &cards[0].limits[0];
    // 60 mA of its own, 294 mA, 10 mA through 125 Ω, 6 mA.
    assert!((first.asked - 0.370).abs() < 1e-9, "{first:?}");
    assert!(first.is_short());
    assert!((cards[1].limits[0].asked - 0.304).abs() < 1e-9);
}

/// What is asked at most is asked at the highest set point by what has ohms, and at the lowest by what has watts; the least there is,
/// the other way round. Both were told at the set point as marked: a least load of 10 mA stood beside a proof that fails by it.
#[test]
fn what_hangs_on_a_regulator_is_told_over_the_tolerance_of_its_set_point() {
    let set = "{ reference = \"1.25 V ±4 %\", across = \"upper\", upper = \"125R ±5 %\", lower = \"1k125\", adjust = \"0 A\" }";
    let more = "limit = \"1 A\"\nminimum_load = \"10 mA\"\n[resistor.R9]\nat = \"out\"\nvalue = \"1k25\"\n\
        [load.relay]\nat = \"out\"\ndraws = { on = \"2 W\" }\n";
    let text = format!(
        "[regulator.U1]\nfrom = \"raw\"\ninto = \"out\"\nset = {set}\ndropout = [\"1 V at 1 A\"]\n\
         rejection = [\"60 dB at 120 Hz\"]\n{more}"
    );
    let cards = quietrail_study::regulators::quick_cards(&read(&(raw(50, &["on"]) + &text)));
    // By hand: 1.25 V × (1 + 1125/125), each end of the reference with the other end of the upper resistor.
    let (lowest, highest) = (1.2 * (1.0 + 1125.0 / 131.25), 1.3 * (1.0 + 1125.0 / 118.75));
    let asked = 2.0 / lowest + highest / 1250.0 + 1.3 / 118.75;
    let has = 2.0 / highest + lowest / 1250.0 + 1.2 / 131.25;
    assert!(
        (cards[0].limits[0].asked / asked - 1.0).abs() < 1e-9,
        "{cards:?}"
    );
    let least = cards[0].least.as_ref().expect("it has one");
    assert!(
        (least.has / has - 1.0).abs() < 1e-9,
        "{least:?}, by hand {has}"
    );
}

/// Past a regulator with a transistor around it goes most of the load. Its own part is what drops the base-emitter voltage over the resistor,
/// and the base current.
#[test]
fn a_transistor_past_a_regulator_takes_its_part_of_the_load() {
    let text = "[regulator.U1]\nfrom = \"vin\"\ninto = \"out\"\nset = { fixed = \"12 V\" }\ndropout = [\"1 V at 1 A\"]\n\
        rejection = [\"60 dB at 120 Hz\"]\nlimit = \"500 mA\"\n[capacitor.C2]\nat = \"out\"\nvalue = \"10 µF\"\nesr = \"0.5 Ω\"\n\
        [resistor.R1]\nbetween = [\"raw\", \"vin\"]\nvalue = \"2R0 ±5 %\"\n\
        [transistor.Q1]\nkind = \"pnp\"\nemitter = \"raw\"\nbase = \"vin\"\ncollector = \"out\"\ngain = \"19 .. 70\"\n\
        base_emitter = [\"0.6 V at 50 mA\", \"0.76 V at 4 A\"]\nsaturation = \"0.6 V at 4 A\"\n\
        [load.oven]\nat = \"out\"\ndraws = { on = \"1.8 A\" }\n";
    let cards = quietrail_study::regulators::quick_cards(&read(&(raw(50, &["on"]) + text)));
    let own = &cards[0].limits[0];
    // 0.76 V over 1.9 Ω, and 1.8 A over a gain of 19 and one.
    assert!((own.asked - (0.4 + 0.09)).abs() < 1e-9, "{own:?}");
    assert!(!own.is_short());
}

/// 5 V lifted by a zener diode of 4.3 V is a rail of 9.3 V: a resistor to common draws by that, and a capacitor to common is at the output.
#[test]
fn what_hangs_on_a_lifted_regulator_has_all_its_volts() {
    let text = "[regulator.U1]\nfrom = \"raw\"\ninto = \"out\"\nreturn = \"lift\"\nset = { fixed = \"5 V\" }\n\
        dropout = [\"1 V at 1 A\"]\nrejection = [\"60 dB at 120 Hz\"]\nlimit = \"500 mA\"\n\
        stable_with = [{ least = \"10 µF\" }]\n\
        [shunt.Z1]\nat = \"lift\"\nfixed = \"4.3 V\"\nresistance = \"20 Ω\"\n\
        [resistor.R1]\nbetween = [\"out\", \"lift\"]\nvalue = \"500R\"\n\
        [resistor.R2]\nat = \"out\"\nvalue = \"930R\"\n\
        [capacitor.C2]\nat = \"out\"\nvalue = \"100 µF\"\nesr = \"0.5 Ω\"\n\
        [load.lamp]\nat = \"out\"\ndraws = { on = \"93 Ω\" }\n";
    let cards = quietrail_study::regulators::quick_cards(&read(&(raw(50, &["on"]) + text)));
    // 5 V over 500 Ω, 9.3 V over 930 Ω and over 93 Ω.
    let asked = cards[0].limits[0].asked;
    assert!((asked - 0.120).abs() < 1e-9, "{asked}");
    let diode = &cards[0].diode;
    assert!(
        diode.wanted && (diode.joules - 0.5 * 100e-6 * 9.3 * 9.3).abs() < 1e-12,
        "{diode:?}"
    );
    let capacitor = &cards[0].capacitor;
    assert!(
        matches!(capacitor, quietrail_study::stability::Capacitor::Inside(_)),
        "{capacitor:?}"
    );
}

/// Of a limit on what stands between two rails neither regulator is to make it all: for 24 V between ±12 V the resistors of a 24 V rail were told.
#[test]
fn what_stands_between_two_rails_is_no_set_point() {
    const LOW: &str = "limit = \"1 A\"\n[regulator.U2]\nfrom = \"out\"\ninto = \"low\"\nset = { fixed = \"5 V\" }\n\
        dropout = [\"1 V at 1 A\"]\nrejection = [\"60 dB at 100 Hz\"]\nlimit = \"1 A\"\n\
        [resistor.RL]\nbetween = [\"far\", \"common\"]\nvalue = \"0.1 Ω\"\n";
    let middle = |of: &str| {
        let limit = format!(
            "[[limit]]\nname = \"asked\"\nof = {of}\nwhat = \"mean\"\nmin = \"6.5 V\"\nmax = \"7.5 V\"\n"
        );
        let set =
            "{ reference = \"7.15 V\", across = \"lower\", upper = \"6k8\", lower = \"10k\" }";
        let cards = quietrail_study::regulators::quick_cards(&job(set, &format!("{LOW}{limit}")));
        let found = &cards[0].set.preferred;
        found.iter().map(|one| one.volts).fold(0.0, f64::max)
    };
    // Its own 12.01 V, with nothing that asks for another.
    assert!((middle("[\"out\", \"low\"]") - 12.01).abs() < 0.3);
    for own in ["\"out\"", "[\"out\", \"common\"]", "[\"out\", \"far\"]"] {
        let volts = middle(own);
        assert!(volts < 7.6, "{own}: {volts} V");
    }
}
