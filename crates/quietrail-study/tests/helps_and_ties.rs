//! What would help, against the changed job proved anew; and figures that are the same, against the divider's own sum.

use quietrail_job::model::Job;
use quietrail_study::finding::{Cost, Help, LimitFinding, Proof, With};
use quietrail_study::options;
use quietrail_study::prove::prove;
use std::sync::Arc;

/// A rail that falls short at low mains, with a divider that the limits at the load leave no freedom.
fn supply(divider: &str) -> String {
    format!(
        r#"format = 1
[mains]
voltage = "230 V -10/+6 %"
frequency = "50 Hz"
flatness = "0.03"
[box]
room = "25 °C"
rise = "8 K"
[states]
on = "running"
[transformer.T1]
primary = [{{ name = "P", volts = "230 V", resistance = "45 Ω" }}]
secondary = [{{ name = "S", open = "14 V at 230 V", resistance = "0.7 Ω" }}, {{ name = "B", open = "17 V at 230 V", resistance = "1 Ω" }}]
no_load = "20 mA at 230 V"
rise = "30 K"
[rectifier.D1]
from = "T1.S"
into = "raw"
form = "bridge"
diode = "silicon 3 A"
[capacitor.C1]
at = "raw"
value = "2200 µF ±20 %"
esr = "60 mΩ"
leakage = "0 S"
[regulator.U1]
from = "raw"
into = "rail"
set = {{ reference = "1.25 V", across = "upper", adjust = "0 A", {divider} }}
dropout = ["1.6 V at 100 mA", "2.0 V at 1 A"]
rejection = ["66 dB at 100 Hz"]
output_resistance = "5 mΩ"
quiescent = "5 mA"
minimum_load = "0 A"
limit = "2 A"
loop_time = "3 µs"
junction_to_case = "2 K/W"
case_to_sink = "0.5 K/W"
sink = "SK1"
rated = {{ input = "35 V", junction = "125 °C", current = "1.5 A" }}
[sink.SK1]
to_air = "8 K/W"
[load.oven]
at = "rail"
draws = {{ on = "500 mA ±10 %" }}
[[limit]]
name = "headroom"
of = "U1"
what = "headroom"
min = "0 V"
[[limit]]
name = "rail mean"
of = "rail"
what = "mean"
min = "11.4 V"
max = "12.4 V"
"#
    )
}

const DIVIDER: &str = r#"upper = "240R ±0.1 %", lower = "2050R ±0.1 %""#;

fn proved(job: &Job) -> Proof {
    prove(job, &options()).expect("the rail can be solved")
}

fn job(text: &str) -> Job {
    let reading = quietrail_job::read(text, None);
    reading
        .job
        .unwrap_or_else(|| panic!("{:#?}", reading.diagnostics))
}

fn row<'p>(proof: &'p Proof, name: &str) -> &'p LimitFinding {
    proof
        .limits
        .iter()
        .find(|row| row.name == name)
        .expect("such a limit")
}

#[test]
fn a_help_is_borne_out_by_the_changed_job_and_so_is_its_cost() {
    let job = job(&supply(DIVIDER));
    let proof = proved(&job);
    let headroom = row(&proof, "headroom");
    assert!(
        headroom.margin.is_some_and(|margin| margin < 0.0),
        "{headroom:#?}"
    );
    assert!(!headroom.help.is_empty());
    for Help {
        change,
        margin,
        costs,
        ..
    } in &headroom.help
    {
        assert!(Some(*margin) > headroom.margin, "{change:?} makes it worse");
        let again = proved(
            &job.with(std::slice::from_ref(change))
                .expect("a change that can be made"),
        );
        // Proved anew it can only be worse than at the old corner; that it is the same one here is what to expect.
        let found = row(&again, "headroom").margin.expect("a value");
        assert!(
            (found - margin).abs() < 0.02,
            "{change:?}: {margin} said, {found} found"
        );
        for cost in costs {
            let found = row(&again, &cost.limit).margin.expect("a value");
            let moved = (cost.before - cost.after).abs();
            assert!(
                (found - cost.after).abs() < 0.1 * moved,
                "{cost:?}: {found} found"
            );
        }
    }
    // The higher winding mends it, and the regulator pays with heat.
    let of_winding = |help: &&Help| help.with.is_some() && help.mends();
    let help = headroom
        .help
        .iter()
        .find(of_winding)
        .expect("a swap that mends");
    assert!(
        help.costs
            .iter()
            .any(|cost| cost.limit.starts_with("U1 junction")),
        "{help:#?}"
    );
    // Where something mends it and breaks nothing, what breaks another limit is not told.
    assert!(headroom.help.iter().all(Help::mends), "{headroom:#?}");
    assert!(
        headroom
            .help
            .iter()
            .all(|help| !help.costs.iter().any(Cost::fails)),
        "{headroom:#?}"
    );
}

/// Swaps of windings, diodes and regulators are solved beside each other: none may leave a trace in another.
#[test]
fn helps_are_the_same_to_the_last_bit_for_any_number_of_threads() {
    let job = job(&supply(DIVIDER));
    let with = |threads: usize| -> Vec<(f64, Vec<f64>)> {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
        let proof = pool.expect("threads can be had").install(|| proved(&job));
        let helps = proof.limits.iter().flat_map(|row| &row.help);
        let costs = |help: &Help| help.costs.iter().map(|cost| cost.after).collect();
        helps.map(|help| (help.margin, costs(help))).collect()
    };
    let one = with(1);
    assert!(one.len() > 2, "{one:?}");
    for threads in [2, 7] {
        assert_eq!(with(threads), one);
    }
}

/// Output of an adjustable regulator: reference (1 + lower/upper). Both resistors 5 % off the same way leave it alone;
/// each its own way they move it by about a tenth.
#[test]
fn figures_that_are_the_same_leave_a_ratio_alone() {
    let divider = r#"upper = "240R ±5 %", lower = "1440R ±5 %""#;
    let free = supply(divider);
    let tied = format!(
        "{free}[[same]]\nfigures = [\"U1.set.upper\", \"U1.set.lower\"]\nbecause = \"one reel\"\n"
    );
    let lowest = |text: &str| {
        let mut job = job(text);
        let limit = Arc::make_mut(&mut job.limits)
            .iter_mut()
            .find(|limit| limit.name == "rail mean")
            .expect("there");
        limit.max = None;
        row(&proved(&job), "rail mean").worst.expect("a value")
    };
    let drop = 0.005 * 0.55;
    let expected = |ratio: f64| 1.25 * (1.0 + 1440.0 / 240.0 * ratio) - drop;
    let (free, tied) = (lowest(&free), lowest(&tied));
    assert!((free - expected(0.95 / 1.05)).abs() < 2e-3, "{free}");
    assert!((tied - expected(1.0)).abs() < 2e-3, "{tied}");
}

/// A rail behind a resistor, whose load fades below 5 V. It asks for more at the valley of the raw rail than there is.
fn behind_a_resistor() -> Job {
    let text = supply(DIVIDER);
    let (before, _) = text.split_once("[regulator.U1]").expect("it has one");
    let own = r#"
[resistor.R1]
between = ["raw", "rail"]
value = "15 Ω"
[load.oven]
at = "rail"
below = "5 V"
draws = { on = "500 mA" }
[[limit]]
name = "raw, low"
of = "raw"
what = "valley"
min = "14.4 V"
"#;
    job(&format!("{before}{own}"))
}

/// A larger resistor starves the load, which then draws less, and the raw rail stands higher: that is no help to anybody.
#[test]
fn what_would_starve_a_load_is_not_offered() {
    let job = behind_a_resistor();
    let proof = proved(&job);
    let low = row(&proof, "raw, low");
    assert!(low.margin.is_some_and(|margin| margin < 0.0), "{low:#?}");
    let larger = quietrail_job::Change::Set {
        address: quietrail_job::Address("R1.value".to_owned()),
        value: 22.0,
    };
    // It would help the limit, and take from the load what it asks for: the trap is there.
    let starved = proved(
        &job.with(std::slice::from_ref(&larger))
            .expect("it can be made"),
    );
    assert!(row(&starved, "raw, low").margin > low.margin);
    let load = |proof: &Proof| {
        let mut rows = proof.limits.iter();
        rows.any(|row| row.name.starts_with("oven") && row.margin.is_some_and(|left| left < 0.0))
    };
    assert!(load(&starved) && !load(&proof), "{:#?}", starved.limits);
    assert!(!low.help.is_empty(), "{low:#?}");
    assert!(
        low.help.iter().all(|help| help.change != larger),
        "{:#?}",
        low.help
    );
}

/// A Schottky diode drops less and bears less backwards: whoever is offered one is told so.
#[test]
fn what_a_swap_bears_less_is_told_with_it() {
    let is_schottky = |help: &&Help| matches!(&help.with, Some(With::Entry(entry)) if entry.starts_with("Schottky"));
    // A winding with which the rail falls short by less than the diodes could give back.
    let offered = ["14.8 V", "15.2 V", "15.6 V", "16 V"]
        .iter()
        .find_map(|open| {
            let open = format!("open = \"{open} at 230 V\"");
            let text = supply(DIVIDER).replacen("open = \"14 V at 230 V\"", &open, 1);
            let proof = proved(&job(&text));
            row(&proof, "headroom")
                .help
                .iter()
                .find(is_schottky)
                .cloned()
        });
    let help = offered.expect("a diode that drops less");
    let cost = help
        .costs
        .iter()
        .find(|cost| cost.limit == "D1 reverse voltage");
    let cost = cost.unwrap_or_else(|| panic!("{help:#?}"));
    assert!(cost.after < 0.5 * cost.before, "{cost:?}");
}

/// A transformer of which the plate speaks, 12 V 1.5 A with 10 % to 14 % of regulation, under a heater that takes full load,
/// half and twice of it.
///
/// The plate holds at full load whatever the regulation, and whichever side loses it. By hand for the others: off load
/// 12 V (1 + r), behind it r · 12 V / 1.5 A, both with the same r. Half the load at least: r = 10 %; twice the load at most: r = 10 % too.
#[test]
fn copper_of_a_plate_loses_what_its_regulation_says_and_no_more() {
    let limit = |name: &str, end: &str, value: &str, state: &str| {
        format!(
            "[[limit]]\nname = \"{name}\"\nof = \"heater\"\nwhat = \"rms current\"\n{end} = \"{value}\"\nstates = [\"{state}\"]\n"
        )
    };
    let text = r#"format = 1
[mains]
voltage = "230 V"
frequency = "50 Hz"
flatness = "0"
[box]
room = "20 °C"
rise = "0 K"
[states]
full = "as the plate says"
half = "half of that"
over = "twice that"
[transformer.T1]
primary = [{ name = "P", volts = "230 V" }]
secondary = [{ name = "S", plate = "12 V 1.5 A", regulation = "10 % .. 14 %", rated = "9 A" }]
no_load = "0.1 mA at 230 V"
rise = "0 K"
[load.heater]
between = ["T1.S.start", "T1.S.finish"]
draws = { full = "8 Ω", half = "16 Ω", over = "4 Ω" }
"#
    .to_owned()
        + &limit("full, least", "min", "1 A", "full")
        + &limit("full, most", "max", "9 A", "full")
        + &limit("half, least", "min", "0.1 A", "half")
        + &limit("over, most", "max", "9 A", "over");
    let proof = proved(&job(&text));
    let by_hand = |rise: f64, ohms: f64| 12.0 * (1.0 + rise) / (ohms + rise * 8.0);
    for (name, expected) in [
        ("full, least", 1.5),
        ("full, most", 1.5),
        ("half, least", by_hand(0.10, 16.0)),
        ("over, most", by_hand(0.10, 4.0)),
    ] {
        let found = row(&proof, name).worst.expect("a value");
        assert!(
            (found / expected - 1.0).abs() < 1e-4,
            "{name}: {found} A, by hand {expected} A"
        );
    }
}
