//! Regulators that hold a rail under common. A supply and its mirror image, in which every diode, electrolytic and regulator is
//! turned round, are the same supply: every figure has the same size, every verdict is the same. That is so by symmetry and takes
//! no source.

use quietrail_job::model::{Job, Subject, What};
use quietrail_job::{Address, Change, Parameter, read};
use quietrail_study::backwards::{Backwards, Polar};
use quietrail_study::finding::{About, LimitFinding};
use quietrail_study::question::{Question, View};
use quietrail_study::ready::Ready;
use quietrail_study::solve::Plan;
use quietrail_study::{options, prove::prove, regulators, setpoint};

/// Above common, or its mirror image under it.
#[derive(Clone, Copy, PartialEq)]
enum Side {
    Above,
    Under,
}

impl Side {
    /// A part between two nodes, the outer one first.
    fn between(self, outer: &str, inner: &str) -> String {
        match self {
            Side::Above => format!("between = [\"{outer}\", \"{inner}\"]"),
            Side::Under => format!("between = [\"{inner}\", \"{outer}\"]"),
        }
    }

    /// A voltage with its tolerance, whose sign goes before the number.
    fn volts(self, text: &str) -> String {
        match self {
            Side::Above => text.to_owned(),
            Side::Under => format!("-{text}"),
        }
    }

    /// Limits on a level.
    fn limit(self, name: &str, node: &str, what: &str, (low, high): (&str, &str)) -> String {
        let (what, low, high) = match (self, what) {
            (Side::Above, what) => (what, low.to_owned(), high.to_owned()),
            (Side::Under, "valley") => ("peak", format!("-{high}"), format!("-{low}")),
            (Side::Under, "peak") => ("valley", format!("-{high}"), format!("-{low}")),
            (Side::Under, what) => (what, format!("-{high}"), format!("-{low}")),
        };
        format!(
            "[[limit]]\nname = \"{name}\"\nof = \"{node}\"\nwhat = \"{what}\"\nmin = \"{low}\"\nmax = \"{high}\"\n\
             from = \"the load\"\n"
        )
    }
}

/// A choke-input rail with a fixed regulator, an adjustable one that senses at its load, a shunt, a diode across a regulator, and a
/// transistor.
fn supply(side: Side) -> String {
    let (into, ret, start, finish, kind) = match side {
        Side::Above => ("rough", "common", "S", "S", "npn"),
        // The winding is turned too: what the rectifier sees is the same, half a cycle later.
        Side::Under => ("common", "rough", "S", "-S", "pnp"),
    };
    let join = match side {
        Side::Above => String::new(),
        Side::Under => format!("joins = {{ R = \"{finish}\" }}\n"),
    };
    let from = if side == Side::Above { start } else { "R" };
    let between = |outer: &str, inner: &str| side.between(outer, inner);
    let volts = |text: &str| side.volts(text);
    let limit = |name: &str, node: &str, what: &str, ends| side.limit(name, node, what, ends);
    format!(
        r#"format = 1
[mains]
voltage = "230 V (207 V .. 244 V)"
frequency = "50 Hz"
flatness = "0 .. 0.03"
[states]
idle = "idle"
busy = "busy"
[transformer.T1]
primary = [{{ name = "P", volts = "230 V", resistance = "30 Ω ±5 %" }}]
secondary = [{{ name = "S", open = "22 V ±2 % at 230 V", resistance = "0.6 Ω ±5 %", rated = "1.5 A" }}]
no_load = "22 mA at 230 V"
rise = "20 K"
{join}[rectifier.D1]
from = "T1.{from}"
into = "{into}"
return = "{ret}"
form = "bridge"
diode = "silicon 3 A"
[resistor.R1]
{r1}
value = "0.5 Ω ±10 %"
[capacitor.C0]
{c0}
value = "1000 µF ±20 %"
esr = "0.1 Ω"
[capacitor.C1]
{c1}
value = "2200 µF ±20 %"
esr = "60 mΩ"
rated = {{ volts = "40 V", ripple = "2 A at 100 Hz" }}
[regulator.U1]
from = "raw"
into = "twelve"
set = {{ fixed = "{fixed}" }}
dropout = ["1.2 V ±20 % at 100 mA", "2 V ±20 % at 1 A"]
rejection = ["60 dB ±3 dB at 120 Hz", "45 dB at 10 kHz"]
load_regulation = "0.2 % (0 % .. 1 %) at 1 A"
quiescent = "4 mA ±50 %"
limit = "1.2 A .. 2 A"
noise = {{ total = "90 µV", band = "10 Hz .. 100 kHz", at = "12 V" }}
stable_with = [{{ least = "1 µF" }}]
junction_to_case = "5 K/W"
sink = "SK1"
rated = {{ input = "35 V", differential = "30 V", current = "1 A", junction = "125 °C" }}
[diode.D2]
{d2}
part = "1N4001"
[regulator.U2]
from = "raw"
into = "six"
sense = "far"
set = {{ reference = "{reference}", across = "upper", upper = "120R ±1 %", lower = "470R ±1 %", adjust = "65 µA ±50 %", bypass = "10 µF ±20 %", reference_drift = "50 ppm" }}
dropout = ["1.8 V ±10 % at 500 mA"]
rejection = ["60 dB at 120 Hz"]
quiescent = "65 µA"
minimum_load = "5 mA"
limit = "1.5 A .. 2.2 A"
noise = {{ total = "0.003 %", band = "10 Hz .. 10 kHz" }}
junction_to_air = "50 K/W"
rated = {{ differential = "40 V", current = "1.5 A", junction = "125 °C" }}
[sink.SK1]
to_air = "6 K/W"
[wire.W1]
{w1}
resistance = "0.2 Ω ±10 %"
[capacitor.C2]
{c2}
value = "47 µF ±20 %"
esr = "0.3 Ω"
[capacitor.C3]
{c3}
value = "22 µF ±20 %"
esr = "0.3 Ω"
[resistor.R2]
{r2}
value = "1k5 ±5 %"
[shunt.Z1]
{z1}
fixed = "6.2 V ±5 %"
resistance = "6 Ω"
rated = {{ power = "400 mW" }}
[transistor.Q1]
collector = "raw"
base = "reference"
emitter = "lamps"
kind = "{kind}"
gain = "40 .. 160"
base_emitter = ["0.6 V at 5 mA", "0.8 V at 500 mA"]
saturation = "0.25 V at 500 mA"
[load.amplifier]
{l1}
draws = {{ idle = "50 mA ±10 %", busy = "400 mA ±10 %" }}
rated = {{ volts = "15 V" }}
[load.logic]
{l2}
draws = {{ idle = "60 mA ±10 %", busy = "1 W ±10 %" }}
[load.lamp]
{l3}
draws = {{ idle = "20 mA ±10 %", busy = "180R ±10 %" }}
{twelve}{twelve_valley}{six}{six_peak}{lamps}
[[limit]]
name = "twelve ripple"
of = "twelve"
what = "ripple and noise"
band = "10 Hz .. 100 kHz"
max = "1 mV"
from = "the load"
[[limit]]
name = "six noise"
of = "six"
what = "noise"
band = "20 Hz .. 5 kHz"
max = "1 mV"
from = "the load"
"#,
        r1 = between("rough", "raw"),
        c0 = between("rough", "common"),
        c1 = between("raw", "common"),
        fixed = volts("12 V ±4 %"),
        d2 = between("twelve", "raw"),
        reference = volts("1.25 V ±3 %"),
        w1 = between("six", "far"),
        c2 = between("twelve", "common"),
        c3 = between("six", "common"),
        r2 = between("raw", "reference"),
        z1 = between("reference", "common"),
        l1 = between("twelve", "common"),
        l2 = between("far", "common"),
        l3 = between("lamps", "common"),
        twelve = limit("twelve", "twelve", "mean", ("11.3 V", "12.6 V")),
        twelve_valley = limit("twelve at its least", "twelve", "valley", ("11 V", "13 V")),
        six = limit("six", "far", "mean", ("5.5 V", "6.6 V")),
        six_peak = limit("six at its most", "far", "peak", ("5 V", "6.7 V")),
        lamps = limit("lamps", "lamps", "mean", ("5 V", "7 V")),
    )
}

fn job(side: Side) -> Job {
    let reading = read(&supply(side), None);
    reading
        .job
        .unwrap_or_else(|| panic!("{:#?}", reading.diagnostics))
}

/// Whether a figure is a set point, which has the other sign in the mirror.
fn is_set_point(address: &Address) -> bool {
    ["set.fixed", "set.reference"]
        .iter()
        .any(|key| address.0.ends_with(key))
}

/// A corner of a job and the same one in its mirror: each figure at an end of its tolerance, or as marked, chosen by the seed.
fn corner(job: &Job, seed: u64, side: Side) -> Vec<Change> {
    let mut random = seed;
    let of_figure = |parameter: Parameter| {
        random = random
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1);
        let is_turned = side == Side::Under && is_set_point(&parameter.address);
        let ends = match is_turned {
            false => [parameter.low, parameter.nominal, parameter.high],
            true => [parameter.high, parameter.nominal, parameter.low],
        };
        Change::Set {
            address: parameter.address,
            value: ends[(random >> 33) as usize % 3],
        }
    };
    job.parameters().into_iter().map(of_figure).collect()
}

/// What every question of a job comes to in a state at a corner.
fn figures(ready: &Ready, state: usize, changes: &[Change]) -> Vec<(Question, f64)> {
    let solved = ready.solve_one(state, changes).expect("it settles");
    let view = View {
        lowered: &solved.lowered,
        reading: ready.plan.table.with(&solved.solution.values),
        air: solved.solution.temperatures.air,
        share: 1.0,
    };
    let value = |question: &Question| (question.clone(), question.value(&view).expect("a value"));
    let asked = ready.plan.questions.iter();
    let asked = asked.filter(|question| question.states.contains(&state));
    asked.map(value).collect()
}

/// Whether a question is about a level, which has the other sign in the mirror.
fn is_level(question: &Question) -> bool {
    let of_nodes = !matches!(question.of, Subject::Part(_));
    let is_level = matches!(question.what, What::Mean | What::Valley | What::Peak);
    of_nodes && is_level && !question.is_rating
}

#[test]
fn a_supply_and_its_mirror_image_come_to_the_same() {
    let ready = |side| {
        let job = job(side);
        let plan = Plan::of(&job).expect("a plan");
        Ready::of(job, plan, &options())
    };
    let (above, under) = (ready(Side::Above), ready(Side::Under));
    let jobs = (job(Side::Above), job(Side::Under));
    let mut levels = 0;
    for seed in 0..6 {
        for state in 0..2 {
            let ours = figures(&above, state, &corner(&jobs.0, seed, Side::Above));
            let theirs = figures(&under, state, &corner(&jobs.1, seed, Side::Under));
            assert_eq!(ours.len(), theirs.len());
            for (question, value) in ours {
                let twin = theirs.iter().find(|(twin, _)| twin.name == question.name);
                let (_, twin) = twin.unwrap_or_else(|| panic!("{}", question.name));
                let sign = if is_level(&question) { -1.0 } else { 1.0 };
                levels += usize::from(is_level(&question));
                // A cycle is closed to 1e-7 of its levels, and of these two each from its own side; the engine's own test of the
                // mirror (`mirrored.rs`) closes to 1e-11 and compares to 1e-9.
                assert!(
                    (value - sign * twin).abs() <= 2e-7 * value.abs(),
                    "{}, state {state}, corner {seed}: {value} {twin}",
                    question.name
                );
            }
        }
    }
    assert_eq!(levels, 6 * 2 * 5, "of five limits on levels");
}

/// Two searches need not end at the same corner, for the worst found is not proven worst; what they find is the same verdict.
#[test]
fn a_supply_and_its_mirror_image_are_judged_alike() {
    let above = prove(&job(Side::Above), &options()).expect("it settles");
    let under = prove(&job(Side::Under), &options()).expect("it settles");
    assert_eq!(above.limits.len(), under.limits.len());
    for one in &above.limits {
        let twin = |row: &&LimitFinding| row.name == one.name && row.state == one.state;
        let twin = under.limits.iter().find(twin);
        let twin = twin.unwrap_or_else(|| panic!("{}, {}", one.name, one.state));
        let name = format!("{}, {}", one.name, one.state);
        assert_eq!(one.predicted, twin.predicted, "{name}");
        let (a, b) = (one.worst.expect("a value"), twin.worst.expect("a value"));
        assert!(
            (a.abs() - b.abs()).abs() <= 1e-3 * a.abs(),
            "{name}: {a} {b}"
        );
    }
}

/// Cards are of amounts, but for what is written as a level.
#[test]
fn cards_of_its_regulators_are_the_same_too() {
    let (above, under) = (job(Side::Above), job(Side::Under));
    let cards = |job: &Job| regulators::cards(job, &options()).expect("they start");
    for (one, other) in cards(&above).iter().zip(&cards(&under)) {
        let near = |a: f64, b: f64| (a - b).abs() <= 1e-9 * a.abs();
        assert!(near(one.set.nominal, -other.set.nominal));
        assert!(near(one.set.worst.0, -other.set.worst.1));
        assert!(near(one.set.worst.1, -other.set.worst.0));
        assert_eq!(one.set.drift, other.set.drift);
        let preferred = |set: &setpoint::Finding| -> Vec<(f64, f64)> {
            let all = set.preferred.iter();
            all.map(|one| (one.ohms, one.volts.abs())).collect()
        };
        assert_eq!(preferred(&one.set), preferred(&other.set));
        assert_eq!(one.limits, other.limits);
        assert_eq!(one.least, other.least);
        assert_eq!(one.capacitor, other.capacitor);
        assert_eq!(one.diode, other.diode);
        assert_eq!(one.adjust_diode, other.adjust_diode);
        assert_eq!(one.proposal, other.proposal);
        for (a, b) in one.starts.iter().zip(&other.starts) {
            assert_eq!((&a.state, a.after.is_some()), (&b.state, b.after.is_some()));
            assert!(near(a.ends.expect("known"), b.ends.expect("known")));
        }
    }
    let drawn = |job: &Job| cards(job)[0].diode.drawn.clone();
    assert_eq!(drawn(&above).as_deref(), Some("D2"));
    assert_eq!(drawn(&under).as_deref(), Some("D2"));
}

/// What a transistor takes off the ripple is the same on either side of common: under it, 0.3 dB were told where 39 dB are.
#[test]
fn a_transistor_under_common_takes_as_much_off_the_ripple() {
    let kept = |side| {
        let passes = regulators::passes(&job(side), &options()).expect("it settles");
        let states = passes[0].states.iter();
        states
            .map(|state| state.ripple_kept.expect("it reaches both"))
            .collect::<Vec<f64>>()
    };
    let (above, under) = (kept(Side::Above), kept(Side::Under));
    assert!(!above.is_empty() && above.len() == under.len());
    for (above, under) in above.iter().zip(&under) {
        assert!(*above < 0.5, "{above}");
        // As near as the two come to the same cycle.
        assert!((above / under - 1.0).abs() < 1e-4, "{above} {under}");
    }
}

/// What is said of a capacitor on a rail of some -17 V that stands the wrong way round.
fn backwards(capacitor: &str) -> Vec<(String, Backwards)> {
    let text = format!(
        "format = 1\n[mains]\nvoltage = \"230 V ±10 %\"\nfrequency = \"50 Hz\"\nflatness = \"0\"\n[states]\non = \"on\"\noff = \"off\"\n\
         [transformer.T1]\nprimary = [{{ name = \"P\", volts = \"230 V\", resistance = \"60 Ω\" }}]\nsecondary = [{{ name = \"S\", open = \
         \"12 V at 230 V\", resistance = \"0.5 Ω\" }}]\n[rectifier.D1]\nfrom = \"T1.S\"\ninto = \"common\"\nreturn = \"bias\"\nform = \
         \"bridge\"\ndiode = \"silicon 1 A\"\n[capacitor.C1]\nesr = \"50 mΩ\"\n{capacitor}\n[load.lamp]\nbetween = [\"common\", \"bias\"]\n\
         draws = {{ on = \"100 mA\", off = \"1 mA\" }}\n"
    );
    let reading = read(&text, None);
    let job = reading
        .job
        .unwrap_or_else(|| panic!("{:?}", reading.diagnostics));
    let proof = prove(&job, &options()).expect("it settles");
    let remarks = proof.remarks.into_iter();
    remarks
        .filter_map(|remark| match remark.about {
            About::Backwards(found) => Some((remark.part, found)),
            _ => None,
        })
        .collect()
}

/// A reversed electrolytic held its voltage rating. It is told at the highest mains, where least is drawn; what is of film, marked for
/// alternating voltage or drawn the right way round is not.
#[test]
fn an_electrolytic_the_wrong_way_round_is_told() {
    let found = backwards("at = \"bias\"\nvalue = \"1000 µF\"\nrated = { volts = \"35 V\" }");
    let [(part, found)] = found.as_slice() else {
        panic!("{found:?}");
    };
    assert_eq!((part.as_str(), found.state.as_str()), ("C1", "off"));
    assert_eq!(found.polar, Polar::Electrolytic);
    assert_eq!(found.ends, ("bias".to_owned(), "common".to_owned()));
    // The crest at the highest mains less two diodes that carry milliamperes.
    let crest = 12.0 * 1.1 * 2.0_f64.sqrt();
    assert!(
        found.volts < crest - 0.8 && found.volts > crest - 1.6,
        "{found:?}"
    );
    for right in [
        "between = [\"common\", \"bias\"]\nvalue = \"1000 µF\"",
        "at = \"bias\"\nvalue = \"1000 µF\"\npolar = false",
        "at = \"bias\"\nvalue = \"0.47 µF\"",
        "at = \"bias\"\nvalue = \"4 µF\"\nrated = { ac = \"250 V\" }",
    ] {
        assert!(backwards(right).is_empty(), "{right}");
    }
    assert_eq!(
        backwards("at = \"bias\"\nvalue = \"0.47 µF\"\npolar = true").len(),
        1
    );
}

/// A zener diode the wrong way round drew nothing, and the whole rail was told across it; it conducts as any diode does.
#[test]
fn a_zener_diode_the_wrong_way_round_is_told() {
    let zener = |ends: &str| {
        format!(
            "between = [\"common\", \"bias\"]\nvalue = \"1000 µF\"\n[resistor.R1]\nbetween = [\"bias\", \"held\"]\nvalue = \"1 kΩ\"\n\
             [shunt.Z1]\nbetween = {ends}\nfixed = \"5.1 V ±5 %\"\nresistance = \"10 Ω\""
        )
    };
    assert!(backwards(&zener("[\"common\", \"held\"]")).is_empty());
    let found = backwards(&zener("[\"held\", \"common\"]"));
    let [(part, found)] = found.as_slice() else {
        panic!("{found:?}");
    };
    assert_eq!((part.as_str(), found.polar), ("Z1", Polar::Shunt));
}
