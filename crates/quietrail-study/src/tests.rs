//! The study as a whole, on small jobs.

use crate::finding::{Predicted, Proof, WhyNot};
use crate::lower::{Step, lower};
use crate::prove::prove;
use crate::search::{Watch, changes_at, parameters, search, search_watched};
use crate::slopes::gradients;
use crate::solve::{Plan, Setting, answers, solve, solve_all};
use crate::{heat::Temperatures, options};
use quietrail_engine::Options;
use quietrail_job::model::Job;
use quietrail_job::{Address, Change};

/// One regulated rail, everything that a search turns: mains, reservoir, load, divider, winding.
pub(crate) const RAIL: &str = r#"
format = 1
[job]
title = "one rail"
region = "230 V 50 Hz"
[mains]
voltage = "230 V -10/+6 %"
frequency = "50 Hz"
flatness = "0 .. 0.05"
[box]
room = "15 °C .. 35 °C"
rise = "8 K"
[states]
on = "running"
[transformer.T1]
primary = [{ name = "P", volts = "230 V", resistance = "45 Ω" }]
secondary = [{ name = "S", open = "15.5 V ±0.2 V at 230 V", resistance = "0.6 Ω ±5 %" }]
no_load = "20 mA at 230 V"
to_air = "5 K/W"
[rectifier.D1]
from = "T1.S"
into = "raw"
form = "bridge"
diode = "silicon 3 A"
[capacitor.C1]
at = "raw"
value = "4700 µF ±20 %"
esr = "40 mΩ"
leakage = "0 S"
rated = { volts = "35 V", ripple = "2.5 A at 100 Hz", life = "3000 h at 105 °C" }
[regulator.U1]
from = "raw"
into = "rail"
set = { fixed = "12 V ±2 %" }
dropout = ["0.9 V at 100 mA", "1.3 V at 1 A"]
rejection = ["66 dB (60 dB .. 75 dB) at 100 Hz"]
output_resistance = "5 mΩ"
quiescent = "5 mA"
minimum_load = "0 A"
limit = "2 A"
junction_to_case = "2 K/W"
case_to_sink = "0.5 K/W"
sink = "SK1"
rated = { input = "35 V", junction = "125 °C" }
[sink.SK1]
to_air = "4 K/W"
[capacitor.C2]
at = "rail"
value = "100 µF ±20 %"
esr = "0.2 Ω"
leakage = "0 S"
[load.oven]
at = "rail"
draws = { on = "500 mA ±10 %" }
[[limit]]
name = "headroom"
of = "U1"
what = "headroom"
min = "0 V"
from = "a test"
[[limit]]
name = "rail low"
of = "rail"
what = "valley"
min = "11 V"
from = "a test"
[[limit]]
name = "ripple"
of = "rail"
what = "ripple"
max = "20 mV"
from = "a test"
"#;

#[track_caller]
pub(crate) fn job(text: &str) -> Job {
    let reading = quietrail_job::read(text, None);
    reading
        .job
        .unwrap_or_else(|| panic!("{:#?}", reading.diagnostics))
}

#[track_caller]
fn proof(text: &str) -> Proof {
    prove(&job(text), &options()).expect("the rail can be solved")
}

/// What the first state of a job is solved on, nothing of it disconnected.
struct Ground<'a> {
    job: &'a Job,
    step: Step,
    options: Options,
}

impl<'a> Ground<'a> {
    fn of(job: &'a Job, options: Options) -> Self {
        Self {
            job,
            step: Step::default(),
            options,
        }
    }

    fn setting(&self) -> Setting<'_> {
        Setting {
            job: self.job,
            state: 0,
            step: &self.step,
            options: &self.options,
        }
    }
}

fn worst(proof: &Proof, name: &str) -> f64 {
    let row = proof
        .limits
        .iter()
        .find(|row| row.name == name)
        .expect("such a limit");
    row.worst.expect("a value")
}

/// Every slope that the search follows, against solutions on either side.
#[test]
fn slopes_of_every_question_are_those_of_whole_solutions() {
    // Copper at a stated rise: rounds of heat stop within a tenth of a kelvin, which differences would see.
    let job = job(&RAIL.replace("to_air = \"5 K/W\"\n[rect", "rise = \"30 K\"\n[rect"));
    let plan = Plan::of(&job).expect("no change");
    let options = Options {
        tolerance: 1e-9,
        ..Options::default()
    };
    let ground = Ground::of(&job, options);
    let setting = ground.setting();
    let nominal = solve(&plan, setting, &[], None).expect("settles");
    // The room moves copper and junctions, which the slopes hold fixed powers for: a little off is owed.
    let turned: Vec<_> = parameters(&job, 0)
        .into_iter()
        .filter(|p| p.address.0 != "room")
        .collect();
    let slopes = gradients(&plan, setting, &[], &nominal, &turned).expect("settles");
    let slopes = slopes.questions;
    for (column, parameter) in turned.iter().enumerate() {
        let by = 0.01 * (parameter.high - parameter.low);
        let at = |value: f64| {
            let change = Change::Set {
                address: parameter.address.clone(),
                value,
            };
            let solved =
                solve(&plan, setting, &[change], Some(&nominal.solution)).expect("settles");
            answers(&plan, &solved)
        };
        let (high, low) = (at(parameter.nominal + by), at(parameter.nominal - by));
        for (row, question) in plan.questions.iter().enumerate() {
            let (Ok(high), Ok(low)) = (&high[row], &low[row]) else {
                continue;
            };
            let wanted = (high - low) / (2.0 * by) * (parameter.high - parameter.low);
            let found = slopes[row][column] * (parameter.high - parameter.low);
            let size = high.abs().max(1e-6);
            assert!(
                (found - wanted).abs() < 0.03 * wanted.abs() + 2e-4 * size,
                "{} against {}: {found:.6e}, differences give {wanted:.6e}",
                question.name,
                parameter.address
            );
        }
    }
}

/// What a ripple current counts for hangs on its frequency itself, beside what that does to the current.
#[test]
fn a_ripple_current_answers_to_the_frequency_of_the_mains() {
    let text = RAIL
        .replace("to_air = \"5 K/W\"\n[rect", "rise = \"30 K\"\n[rect")
        .replace("\"50 Hz\"", "\"50 Hz ±2 %\"")
        .replace("2.5 A at 100 Hz", "2.5 A at 120 Hz");
    let job = job(&text);
    let plan = Plan::of(&job).expect("no change");
    let ground = Ground::of(&job, options());
    let setting = ground.setting();
    let nominal = solve(&plan, setting, &[], None).expect("settles");
    let mut frequency = parameters(&job, 0);
    frequency.retain(|parameter| parameter.address.0 == "mains.frequency");
    let slopes = gradients(&plan, setting, &[], &nominal, &frequency).expect("settles");
    let mut names = plan.questions.iter().map(|question| &question.name);
    let row = names
        .position(|name| name == "C1 ripple current")
        .expect("a rating");
    let at = |value: f64| {
        let change = Change::Set {
            address: frequency[0].address.clone(),
            value,
        };
        let solved = solve(&plan, setting, &[change], Some(&nominal.solution)).expect("settles");
        *answers(&plan, &solved)[row].as_ref().expect("a current")
    };
    let wanted = at(50.5) - at(49.5);
    let found = slopes.questions[row][0];
    assert!(
        (found - wanted).abs() < 0.1 * wanted.abs(),
        "{found:.4e} A/Hz, differences give {wanted:.4e}"
    );
}

/// Where a search begins that slopes lead to, half a tolerance away: far nearer to what it comes to than where they lead from.
#[test]
fn slopes_foretell_where_a_corner_begins() {
    let job = job(RAIL);
    let plan = Plan::of(&job).expect("no change");
    let ground = Ground::of(&job, options());
    let setting = ground.setting();
    let nominal = solve(&plan, setting, &[], None).expect("settles");
    let all = parameters(&job, 0);
    let moves = gradients(&plan, setting, &[], &nominal, &all).expect("settles");
    let moves = moves.moves.expect("the fast way leads there");
    let from = &nominal.solution;
    for address in ["mains.voltage", "C1.value", "load.oven.on"] {
        let index = all.iter().position(|p| p.address.0 == address);
        let index = index.expect("it has a tolerance");
        let value = 0.5 * (all[index].nominal + all[index].high);
        let change = Change::Set {
            address: all[index].address.clone(),
            value,
        };
        let solved = solve(&plan, setting, &[change], Some(from)).expect("settles");
        let to = &solved.solution;
        let mut by = vec![0.0; all.len()];
        by[index] = value - all[index].nominal;
        let foretold = moves.foretell(from, &by);
        // The reservoir, the largest of the stores.
        let largest = (0..to.start.len())
            .max_by(|&a, &b| to.start[a].abs().total_cmp(&to.start[b].abs()))
            .expect("there are stores");
        let way = (to.start[largest] - from.start[largest]).abs();
        let left = (to.start[largest] - foretold.start[largest]).abs();
        assert!(left < 0.25 * way, "{address}: {left:e} of {way:e} V");
        let way = to.temperatures.distance(&from.temperatures);
        let left = to.temperatures.distance(&foretold.warmth);
        assert!(left < 0.25 * way.max(0.04), "{address}: {left} of {way} K");
    }
}

#[test]
fn the_corner_found_is_no_better_than_any_vertex() {
    let job = job(RAIL);
    let proof = prove(&job, &options()).expect("solved");
    let found = worst(&proof, "headroom");
    let plan = Plan::of(&job).expect("no change");
    let ground = Ground::of(&job, options());
    let setting = ground.setting();
    // The five figures that move it, each at both ends; the others cannot help by more than a hair.
    let telling = [
        "mains.voltage",
        "mains.flatness",
        "C1.value",
        "load.oven.on",
        "U1.set.fixed",
    ];
    let all: Vec<_> = parameters(&job, 0);
    let row = plan
        .questions
        .iter()
        .position(|q| q.name == "headroom")
        .expect("there");
    for vertex in 0..1_u32 << telling.len() {
        let changes: Vec<Change> = telling
            .iter()
            .enumerate()
            .filter_map(|(bit, address)| {
                let parameter = all.iter().find(|p| p.address.0 == *address)?;
                let value = if vertex >> bit & 1 == 1 {
                    parameter.high
                } else {
                    parameter.low
                };
                Some(Change::Set {
                    address: Address((*address).to_owned()),
                    value,
                })
            })
            .collect();
        assert_eq!(changes.len(), telling.len(), "{all:#?}");
        let solved = solve(&plan, setting, &changes, None).expect("settles");
        let value = answers(&plan, &solved)[row].clone().expect("a value");
        assert!(
            found <= value + 1e-4,
            "vertex {vertex:b} has {value}, the search found {found}"
        );
    }
}

#[test]
fn a_wider_tolerance_never_comes_out_better() {
    let wider = RAIL
        .replace("4700 µF ±20 %", "4700 µF ±35 %")
        .replace("500 mA ±10 %", "500 mA ±20 %");
    let (narrow, wide) = (proof(RAIL), proof(&wider));
    for row in &narrow.limits {
        let other = wide
            .limits
            .iter()
            .find(|other| other.name == row.name)
            .expect("the same limits");
        let (Some(narrow), Some(wide)) = (row.margin, other.margin) else {
            continue;
        };
        assert!(
            wide <= narrow + 1e-6 * narrow.abs(),
            "{}: {wide} after {narrow}",
            row.name
        );
    }
}

/// Corners are only looked at while the worst is searched for; what is told of the worst is as exact as if nothing else had
/// been solved.
#[test]
fn the_worst_is_told_as_exactly_as_one_corner_alone() {
    let job = job(RAIL);
    let plan = Plan::of(&job).expect("no change");
    let ground = Ground::of(&job, options());
    let setting = ground.setting();
    let found = search(&plan, setting).expect("it settles");
    let nominal = Some(&found.nominal.solution);
    let mut seen = 0;
    for (q, worst) in found.worst.iter().enumerate() {
        let Some((told, corner)) = &worst.worst else {
            continue;
        };
        let changes = changes_at(&found.parameters, corner);
        let alone = solve(&plan, setting, &changes, nominal).expect("it settles");
        let value = *answers(&plan, &alone)[q].as_ref().expect("a value");
        let off = (told - value).abs() / value.abs();
        assert!(off < 1e-5, "{} is {off:.1e} off", plan.questions[q].name);
        seen += 1;
    }
    assert!(seen > 10, "{seen} told");
}

/// What is integrated for many at once: the reservoir gives C (V - level) / I from its valley on, in slow mains and in fast,
/// which goes through more cycles in the time that is looked at.
#[test]
fn hold_ups_beside_each_other_are_looked_at_for_as_long() {
    const LEVEL: f64 = 9.0;
    let limits = format!(
        "[[limit]]\nname = \"valley\"\nof = \"raw\"\nwhat = \"valley\"\nmin = \"9 V\"\n\
         [[limit]]\nname = \"hold-up\"\nof = \"raw\"\nwhat = \"hold-up\"\ndown_to = \"{LEVEL} V\"\nmin = \"1 ms\"\n"
    );
    let job = job(&format!(
        "{}{limits}",
        RAIL.replace("500 mA ±10 %", "25 mA")
    ));
    let plan = Plan::of(&job).expect("no change");
    let ground = Ground::of(&job, options());
    let nominal = solve(&plan, ground.setting(), &[], None).expect("it settles");
    let at = |hertz: f64| {
        vec![Change::Set {
            address: Address("mains.frequency".into()),
            value: hertz,
        }]
    };
    let both = solve_all(
        &plan,
        ground.setting(),
        &[at(45.0), at(65.0)],
        &nominal.solution,
    );
    for solved in both {
        let solved = solved.expect("it settles");
        let all = answers(&plan, &solved);
        let told = |name: &str| {
            let place = plan.questions.iter().position(|one| one.name == name);
            *all[place.expect("such a limit")].as_ref().expect("a value")
        };
        // The oven and what the regulator takes itself.
        let by_hand = 4700e-6 * (told("valley") - LEVEL) / 30e-3;
        assert!((1.5..1.95).contains(&by_hand), "{by_hand}");
        let off = told("hold-up") / by_hand - 1.0;
        assert!(off.abs() < 0.01, "{} s, by hand {by_hand}", told("hold-up"));
    }
}

#[test]
fn names_and_order_of_parts_change_nothing() {
    let renamed = RAIL
        .replace("C1", "C99")
        .replace("\"raw\"", "\"bulk\"")
        .replace("U1", "VR7");
    // The last capacitor first.
    let start = renamed.find("[capacitor.C2]").expect("there");
    let end = renamed.find("[load.oven]").expect("there");
    let block = &renamed[start..end];
    let shuffled = renamed
        .replace(block, "")
        .replace("[transformer.T1]", &format!("{block}[transformer.T1]"));
    let (one, other) = (proof(RAIL), proof(&shuffled));
    for name in ["headroom", "rail low", "ripple"] {
        let (a, b) = (worst(&one, name), worst(&other, name));
        assert!((a - b).abs() < 1e-5 * a.abs(), "{name}: {a} and {b}");
    }
}

#[test]
fn heat_sums_along_its_path() {
    let job = job(RAIL);
    let plan = Plan::of(&job).expect("no change");
    let ground = Ground::of(&job, options());
    let setting = ground.setting();
    let solved = solve(&plan, setting, &[], None).expect("settles");
    let reading = plan.table.with(&solved.solution.values);
    let watts = crate::heat::power(&solved.lowered, &reading, "U1");
    let row = plan
        .questions
        .iter()
        .position(|q| q.name == "U1 junction")
        .expect("there");
    let junction = answers(&plan, &solved)[row].clone().expect("a value");
    // Room 25 °C, box 8 K, then sink, pad and case.
    let expected = 25.0 + 8.0 + watts * (4.0 + 0.5 + 2.0);
    assert!(
        (junction - expected).abs() < 1e-9,
        "{junction} and {expected}"
    );
}

#[test]
fn a_node_apart_from_common_has_no_voltage_against_it() {
    let apart = RAIL.replace(
        "[[limit]]\nname = \"rail low\"\nof = \"rail\"",
        "[resistor.R9]\nbetween = [\"T1.S.start\", \"x\"]\nvalue = \"1k\"\n[capacitor.C9]\nbetween = [\"x\", \"T1.S.finish\"]\nvalue = \"1 nF\"\nesr = \"1 Ω\"\n[[limit]]\nname = \"rail low\"\nof = \"rail\"",
    );
    // Joined through the bridge it does reach common; the winding of a transformer of its own does not.
    let proof = proof(&apart);
    let row = proof
        .limits
        .iter()
        .find(|row| row.name == "rail low")
        .expect("there");
    assert!(!matches!(
        row.predicted,
        Predicted::NotShown(WhyNot::ApartFromCommon(_))
    ));
}

/// Turned round, a capacitor above its rating and a wire with too much in it once held with plenty in hand: both figures were
/// below zero.
#[test]
fn it_is_no_matter_which_end_is_named_first() {
    let behind = |[plus, minus]: [&str; 2]| {
        format!(
            "[wire.W1]\nbetween = [\"{plus}\", \"{minus}\"]\nresistance = \"25 mΩ\"\n\
             [load.lamp]\nbetween = [\"raw\", \"far\"]\ndraws = {{ on = \"100 mA\" }}\n\
             [[limit]]\nname = \"in the wire\"\nof = \"W1\"\nwhat = \"current\"\nmax = \"90 mA\"\n\
             [[limit]]\nname = \"into the reservoir\"\nof = \"C1\"\nwhat = \"peak current\"\nmax = \"1 A\"\n"
        )
    };
    let text = RAIL.replace("volts = \"35 V\"", "volts = \"16 V\"");
    let turned = text.replace(
        "[capacitor.C1]\nat = \"raw\"",
        "[capacitor.C1]\nbetween = [\"common\", \"raw\"]",
    );
    let one = proof(&(text + &behind(["far", "common"])));
    let other = proof(&(turned + &behind(["common", "far"])));
    for name in ["C1 voltage", "in the wire", "into the reservoir"] {
        let row = other.limits.iter().find(|row| row.name == name);
        assert!(row.is_some_and(|row| row.predicted == Predicted::Fails));
        let (one, other) = (worst(&one, name), worst(&other, name));
        assert!((one / other - 1.0).abs() < 1e-6, "{name}: {one} {other}");
    }
}

#[test]
fn changes_reach_the_circuit() {
    let job = job(RAIL);
    let warmth = Temperatures::at_rest(&job);
    let whole = lower(&job, 0, &Step::default(), &[], &warmth).expect("lowers");
    let opened = lower(
        &job,
        0,
        &Step::default(),
        &[Change::Open("C1".into())],
        &warmth,
    )
    .expect("lowers");
    assert_eq!(
        opened.circuit.elements().len() + 1,
        whole.circuit.elements().len()
    );
    assert!(!opened.parts.contains_key("C1"));
    let shorted = lower(
        &job,
        0,
        &Step::default(),
        &[Change::Short("C1".into())],
        &warmth,
    )
    .expect("lowers");
    assert_eq!(
        shorted.circuit.elements().len(),
        whole.circuit.elements().len()
    );
    let step = Step {
        out: vec!["U1".into()],
        dummy: vec![crate::lower::DummyLoad {
            plus: "raw".into(),
            minus: "common".into(),
            ohms: 22.0,
        }],
        ..Step::default()
    };
    let partial = lower(&job, 0, &step, &[], &warmth).expect("lowers");
    assert!(!partial.parts.contains_key("U1"));
    let corner = vec![crate::search::Position::LOW; parameters(&job, 0).len()];
    assert_eq!(
        changes_at(&parameters(&job, 0), &corner).len(),
        corner.len()
    );
}

/// States whose circuits are of one kind go eight at a time together, and each comes to what it comes to by itself.
#[test]
fn states_that_go_together_come_to_the_same() {
    use crate::ready::{Beside, Ready};
    let two_states = RAIL
        .replace("on = \"running\"", "on = \"running\"\nidle = \"oven off\"")
        .replace(
            "on = \"500 mA ±10 %\"",
            "on = \"500 mA ±10 %\", idle = \"60 mA\"",
        );
    let job = job(&two_states);
    let plan = Plan::of(&job).expect("a plan");
    let ready = Ready::of(job, plan, &options());
    let nominal: Vec<_> = ready.nominal.iter().flatten().collect();
    assert!(nominal[0].solution.is_like(&nominal[1].solution));
    let changes = [Change::Set {
        address: Address("C1.value".to_owned()),
        value: 5.1e-3,
    }];
    let beside = |state: usize| Beside {
        state,
        changes: &changes,
        last: nominal[state],
    };
    let together = ready.solve_beside(&[beside(0), beside(1)]);
    for (state, solved) in together.iter().enumerate() {
        let solved = solved.as_ref().expect("it settles");
        let alone = ready.solve_one(state, &changes).expect("it settles");
        let pairs = solved.solution.values.iter().zip(&alone.solution.values);
        for (one, other) in pairs {
            // Heat is settled to a hundredth of a kelvin.
            let off = (one - other).abs() / other.abs().max(1e-3);
            assert!(off < 1e-4, "state {state}: {one} and {other}");
        }
    }
}

/// What is solved from where the hand was comes to what is solved from the nominal solution, and the curve that it keeps for a
/// drawing is that of the cycle solved again the patient way, with its orbit.
#[test]
fn following_a_hand_comes_to_the_same() {
    use crate::descent::{plan, sections, surfaces};
    let job = job(RAIL);
    let sections = sections(&job);
    let ready = crate::ready::Ready::of(job.clone(), plan(&job).expect("a plan"), &options());
    let without_curves = Plan::of(&job).expect("a plan");
    let mut last = None;
    // Across the whole range and back at once: near the low end the regulator gives up.
    for volts in [230.0, 236.0, 215.0, 200.0, 185.0, 243.0] {
        let changes = [Change::Set {
            address: Address("mains.voltage".to_owned()),
            value: volts,
        }];
        let followed = ready
            .solve_on(0, &changes, last.as_ref())
            .expect("it settles");
        let alone = ready.solve_one(0, &changes).expect("it settles");
        let figures = |solved| crate::descent::figures(&sections, &ready.plan, solved);
        let (one, other) = (figures(&followed), figures(&alone));
        let (one, other) = (&one.sections[0], &other.sections[0]);
        for (one, other) in [
            (one.valley, other.valley),
            (one.peak, other.peak),
            (one.rails[0].headroom, other.rails[0].headroom),
        ] {
            // Temperatures are settled to a hundredth of a kelvin: a few parts in a hundred thousand of the copper's drop.
            assert!((one - other).abs() < 1e-3, "{volts} V: {one} and {other}");
        }
        let kept = surfaces(&sections, (&ready.plan, &followed), 160, &options());
        let patient = surfaces(&sections, (&without_curves, &followed), 160, &options());
        for (one, other) in kept[0].iter().zip(&patient[0]) {
            assert!((one - other).abs() < 1e-3, "{volts} V: {one} and {other}");
        }
        assert_eq!(kept[0].len(), patient[0].len());
        let curve = followed
            .solution
            .course(&ready.plan, &ready.plan.table.drawn()[0]);
        assert!(curve.is_some() || volts < 200.0, "{volts} V has no curve");
        last = Some(followed);
    }
}

/// What is in hand is finished, and no more: whoever waits for it does not wait for the whole search.
#[test]
fn a_search_that_is_stopped_ends_with_the_corners_in_hand() {
    let job = job(RAIL);
    let plan = Plan::of(&job).expect("no change");
    let ground = Ground::of(&job, options());
    let setting = ground.setting();
    let whole = search(&plan, setting).expect("the rail can be solved");
    // Held up after its first lot, so that it is stopped just there.
    let watch = Watch::default();
    watch.hold(true);
    let found = std::thread::scope(|scope| {
        let running = scope.spawn(|| search_watched(&plan, setting, &[], &watch));
        while watch.corners() == 0 && !running.is_finished() {
            std::thread::yield_now();
        }
        watch.stop();
        running.join().expect("no panic")
    });
    let found = found.expect("the rail can be solved");
    assert_eq!(found.corners, watch.corners());
    assert!(
        found.corners < whole.corners,
        "{} of {}",
        found.corners,
        whole.corners
    );
}
