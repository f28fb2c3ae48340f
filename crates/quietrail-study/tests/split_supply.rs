//! A supply with a rail on either side of common: the harbour tide gauge of the demo, whose halves carry very different currents.

use quietrail_bench::log::{HEADER, Log, Observed};
use quietrail_job::model::{Job, What};
use quietrail_job::read;
use quietrail_study::bringup::{BringUp, Caution, Expectation, bring_up};
use quietrail_study::descent;
use quietrail_study::finding::{About, LimitFinding, Predicted};
use quietrail_study::lower::Step;
use quietrail_study::options;
use quietrail_study::prove::prove;
use quietrail_study::solve::{Setting, solve};
use quietrail_study::switch_on::{Shorted, SwitchOn, switch_on};
use quietrail_study::waves::waves;

const TIDE: &str = include_str!("../../quietrail-cli/demo/tide-gauge/job.toml");

fn job(text: &str) -> Job {
    let reading = read(text, None);
    let diagnostics = reading.diagnostics;
    reading.job.unwrap_or_else(|| panic!("{diagnostics:#?}"))
}

/// The text with pieces of it replaced, each of which is there.
fn with(changes: &[(&str, &str)]) -> String {
    changes.iter().fold(TIDE.to_owned(), |text, (from, to)| {
        assert!(text.contains(from), "{from}");
        text.replace(from, to)
    })
}

fn step(job: &Job, name: &str) -> BringUp {
    bring_up(job, &Log::default(), Some(name), &options()).expect("it is worked out")
}

fn row<'a>(found: &'a BringUp, step: &str, of: &str, what: Observed) -> &'a Expectation {
    let mut steps = found.steps.iter();
    let step = steps.find(|one| one.name == step).expect("the step");
    let mut rows = step.expect.iter();
    rows.find(|one| one.of == of && one.what == what)
        .unwrap_or_else(|| panic!("{of} in {:#?}", step.expect))
}

#[test]
fn the_example_holds_every_limit_and_says_so() {
    let proof = prove(&job(TIDE), &options()).expect("it settles");
    let fails: Vec<&LimitFinding> = proof
        .limits
        .iter()
        .filter(|limit| limit.margin.is_none_or(|margin| margin < 0.0))
        .collect();
    assert!(fails.is_empty(), "{fails:#?}");
    let under = proof
        .limits
        .iter()
        .find(|limit| limit.name == "U2 headroom");
    assert!(under.is_some_and(|limit| limit.worst.is_some_and(|volts| volts > 1.0)));
}

/// Which reservoir is the larger is all the same to the diodes: each half fills its own through the same copper.
#[test]
fn the_first_cycle_and_what_stays_charged_are_those_of_both_reservoirs() {
    let found = |first: &str, second: &str| -> SwitchOn {
        let job = job(&with(&[
            (
                "value = \"4700 µF ±20 %\"\nesr   = \"50 mΩ (25 mΩ .. 90 mΩ)\"",
                first,
            ),
            ("value   = \"1000 µF ±20 %\"", second),
            // Both halves alike, so that only the reservoirs differ.
            (
                "resistance = \"0.44 Ω ±2 %\"",
                "resistance = \"0.42 Ω ±2 %\"",
            ),
        ]));
        switch_on(&job, &options()).expect("a supply")
    };
    let large = "value = \"4700 µF ±20 %\"\nesr = \"50 mΩ\"";
    let small = "value = \"470 µF ±20 %\"\nesr = \"50 mΩ\"";
    let (one, other) = (found(large, small), found(small, large));
    let peak = |found: &SwitchOn| (found.surges[0].peak, found.surges[0].i2t);
    let ((a, a2), (b, b2)) = (peak(&one), peak(&other));
    assert!((a / b - 1.0).abs() < 0.02, "{a} A, {b} A");
    // What the oven draws meanwhile is in one and not in the other.
    assert!((a2 / b2 - 1.0).abs() < 0.1, "{a2} A²s, {b2} A²s");
    let kept: Vec<(&str, f64)> = one
        .discharges
        .iter()
        .map(|one| (one.part.as_str(), one.volts))
        .collect();
    assert_eq!(kept.len(), 2, "{kept:?}");
    assert!(
        kept.iter().all(|(_, volts)| (22.0..27.0).contains(volts)),
        "{kept:?}"
    );
}

/// With next to nothing on the lower half the diodes of the upper one carry what those of two diodes and a centre tap do.
#[test]
fn the_hottest_diode_of_a_split_rectifier_is_judged() {
    let alone = "[load.oven]                     # oven and oscillator have one supply pin\n";
    let text = with(&[(alone, "[load.oven]\n")]);
    let from = text.find("[regulator.U2]").expect("the lower rail");
    let to = text.find("[sink.SK1]").expect("the sink");
    let upper = format!("{}{}", &text[..from], &text[to..]);
    let cut = |text: &str, head: &str| -> String {
        let from = text.find(head).unwrap_or_else(|| panic!("{head}"));
        let to = text[from + 1..]
            .find("\n[")
            .map_or(text.len(), |at| from + 1 + at + 1);
        format!("{}{}", &text[..from], &text[to..])
    };
    let mut upper = cut(&upper, "[load.comparator]");
    for name in ["minus 12 window", "minus 12 ripple", "U2 headroom"] {
        let at = upper.find(&format!("name = \"{name}\"")).expect(name);
        let head = upper[..at].rfind("[[limit]]").expect("its head");
        let end = upper[at..]
            .find("\n\n")
            .map_or(upper.len(), |end| at + end + 2);
        upper = format!("{}{}", &upper[..head], &upper[end..]);
    }
    let tapped = cut(&cut(&upper, "[capacitor.C2]"), "[resistor.R2]").replace(
        "negative = \"minus_raw\"\nform     = \"split\"",
        "form = \"centre-tap\"",
    );
    let junction = |text: &str| {
        let proof = prove(&job(text), &options()).expect("it settles");
        let mut limits = proof.limits.into_iter();
        limits
            .find(|limit| limit.name == "D1 junction")
            .and_then(|limit| limit.worst)
            .expect("its rating is judged")
    };
    let (split, tapped) = (junction(&upper), junction(&tapped));
    assert!((split - tapped).abs() < 0.5, "{split} °C, {tapped} °C");
    assert!(split > 43.0, "something is warm: {split} °C");
}

/// Two halves that differ make more ripple whichever is the higher, so the band of a healthy build has its lower end where they are
/// alike, and not at a corner. One with equal halves and a large C2, all within tolerance, has to be inside.
#[test]
fn the_ripple_of_a_healthy_build_is_within_its_band() {
    let ripple = Observed::Statistic(What::RipplePeakToPeak);
    let name = "dummy load, warm";
    let drawn = step(&job(TIDE), name);
    let band = row(&drawn, name, "minus_raw", ripple);
    let healthy = job(&with(&[
        ("value   = \"1000 µF ±20 %\"", "value   = \"1190 µF\""),
        ("resistance = \"0.44 Ω ±2 %\"", "resistance = \"0.43 Ω\""),
        ("resistance = \"0.42 Ω ±2 %\"", "resistance = \"0.43 Ω\""),
    ]));
    let healthy = step(&healthy, name);
    let there = row(&healthy, name, "minus_raw", ripple)
        .nominal
        .expect("a figure");
    let (low, high) = (
        band.low.expect("a lower end"),
        band.high.expect("an upper end"),
    );
    assert!(
        low < there && there < high,
        "{there} V is outside {low} .. {high} V"
    );
    // And no wider than what may be there: C2 at its largest and the lightest load leave three fifths of what is drawn.
    assert!(low > 0.6 * band.nominal.expect("as drawn"), "{low} V");
}

/// The comparator hangs between both rails, so the lower one is read against common by itself; and two dummies at one node are told apart.
#[test]
fn each_rail_is_read_against_common_and_each_dummy_by_both_ends() {
    let found = step(&job(TIDE), "power off");
    let ohms = row(&found, "power off", "common,minus12", Observed::Resistance);
    assert!(
        ohms.high
            .is_some_and(|high| (2000.0..2500.0).contains(&high)),
        "{ohms:#?}"
    );
    let found = step(&job(TIDE), "dummy load, warm");
    let step = found
        .steps
        .iter()
        .find(|step| step.name == "dummy load, warm");
    let cautions = &step.expect("the step").cautions;
    let ends: Vec<(&str, &str)> = cautions
        .iter()
        .filter_map(|one| match one {
            Caution::HotDummy { plus, minus, .. } => Some((plus.as_str(), minus.as_str())),
            _ => None,
        })
        .collect();
    assert_eq!(ends, [("plus12", "common"), ("plus12", "minus12")]);
}

/// The sections of a job, and their figures in its first state with parts as marked.
fn descended(job: &Job) -> (Vec<descent::Section>, descent::Figures) {
    let plan = descent::plan(job).expect("a circuit");
    let (step, options) = (Step::default(), options());
    let setting = Setting {
        job,
        state: 0,
        step: &step,
        options: &options,
    };
    let solved = solve(&plan, setting, &[], None).expect("it settles");
    let sections = descent::sections(job);
    let figures = descent::figures(&sections, &plan, &solved);
    (sections, figures)
}

/// Each half of the winding is lighter loaded where it fills the lower reservoir: what stands at its copper there is what that reservoir
/// has with a diode's volts more, not what is left of it under the oven.
#[test]
fn the_way_down_to_each_reservoir_goes_through_one_diode() {
    let job = job(TIDE);
    let (_, figures) = descended(&job);
    assert_eq!(figures.sections.len(), 2);
    for one in &figures.sections {
        let diode = one.winding - one.peak;
        assert!((0.5..1.3).contains(&diode), "{diode} V: {one:#?}");
    }
}

/// At a mains that was read a band is far narrower than over the range of the mains: what is said of a reading is of that one, and it
/// goes with the reading.
#[test]
fn a_reading_carries_the_band_that_it_is_compared_with() {
    let job = job(TIDE);
    let name = "transformer on mains";
    let row_of = "1,2026-11-20T10:00:00Z,transformer on mains,,T1.S1,rms voltage,16.63,V,meter,,,lugs,230,,,,";
    let log = Log::read(&format!("{HEADER}\r\n{row_of}\r\n"));
    let found = bring_up(&job, &log, Some(name), &options()).expect("it is worked out");
    let row = row(&found, name, "T1.S1", Observed::RmsVoltage);
    let (low, high) = row.low.zip(row.high).expect("a band");
    let reading = row.readings.first().expect("it is there");
    let (Some(own_low), Some(own_high)) = reading.band.expect("that of its mains") else {
        panic!("{reading:?}");
    };
    assert!(low < own_low && own_low < 16.63 && 16.63 < own_high && own_high < high);
    assert!(
        own_high - own_low < 0.1 * (high - low),
        "{own_low} .. {own_high} V"
    );
}

/// The current that is drawn with the lower reservoir is what charges that: on the mean what hangs on it draws, by hand the comparator,
/// R2 and R3 and what U2 takes for itself. With the upper one it is the oven's half ampere besides.
#[test]
fn the_current_that_charges_the_lower_reservoir_is_its_own() {
    let job = job(TIDE);
    let mean = |node: &str| {
        let drawing = waves(&job, node, (0, &Step::default()), &[], &options()).expect("waves");
        let current = drawing.current.expect("it is charged");
        current.amps.iter().sum::<f64>() / current.amps.len() as f64
    };
    let by_hand = 18e-3 + 21.2 / 3300.0 + 12.0 / 2200.0 + 2.5e-3;
    let lower = mean("minus_raw");
    assert!(
        (lower / by_hand - 1.0).abs() < 0.03,
        "{lower} A, {by_hand} A"
    );
    assert!(mean("raw") > 0.5);
}

/// Either reservoir may short, and each is told by its ends. With windings and loads alike, what flows is the same.
#[test]
fn a_short_of_either_reservoir_is_looked_at() {
    let found = switch_on(&job(TIDE), &options()).expect("a supply");
    let shorted: Vec<_> = found
        .faults
        .iter()
        .filter(|fault| fault.what == Shorted::Reservoir)
        .map(|fault| {
            let between = fault.between.clone().expect("there are two");
            (between, fault.amps.expect("it comes to rest").0)
        })
        .collect();
    let ends = |upper: &str, lower: &str| (upper.to_owned(), lower.to_owned());
    assert_eq!(shorted[0].0, ends("raw", "common"));
    assert_eq!(shorted[1].0, ends("common", "minus_raw"));
    // Half of the winding feeds a short in each half cycle, 0.42 Ω in one and 0.44 Ω in the other, whichever reservoir it is; what the
    // other rail draws beside it is small.
    assert!(
        (shorted[0].1 / shorted[1].1 - 1.0).abs() < 0.05,
        "{shorted:?}"
    );
}

/// Pad and grease are those to a sink: a part without one has no such figure, and none is listed as taken.
#[test]
fn a_part_without_a_sink_takes_no_grease() {
    let listed = |job: &Job, address: &str| {
        let mut all = job.parameters().into_iter();
        all.any(|parameter| parameter.address.0 == address)
    };
    assert!(!listed(&job(TIDE), "U2.case_to_sink"));
    let on_sink = with(&[(
        "from = \"minus_raw\"\n",
        "from = \"minus_raw\"\nsink = \"SK1\"\n",
    )]);
    assert!(listed(&job(&on_sink), "U2.case_to_sink"));
}

/// The comparator hangs from +12 V to -12 V. Of either rail its end stands at that rail's 12 V; it was drawn on the lower one, as a line up to 24 V.
#[test]
fn a_load_between_two_rails_ends_on_each_at_its_level() {
    let job = job(TIDE);
    let (sections, figures) = descended(&job);
    let mut ends = 0;
    for (section, figures) in sections.iter().zip(&figures.sections) {
        for (rail, figures) in section.rails.iter().zip(&figures.rails) {
            for (load, level) in rail.loads.iter().zip(&figures.loads) {
                assert!((level.0 - 12.0).abs() < 0.1, "{}: {level:?}", load.part);
                ends += usize::from(load.part == "comparator");
            }
        }
    }
    assert_eq!(ends, 2);
}

/// Half a wave takes its mean current from the winding, and none of that crosses: 0.5 A at 12 V is 26 mA at 230 V that magnetise the
/// core one way, by ampere-turns. A bridge leaves nothing.
#[test]
fn what_half_a_wave_leaves_in_the_core_is_said() {
    let supply = |form: &str| {
        format!(
            "format = 1\n[mains]\nvoltage = \"230 V\"\nfrequency = \"50 Hz\"\nflatness = \"0\"\n[states]\non = \"on\"\n\
             [transformer.T1]\nprimary = [{{ name = \"P\", volts = \"230 V\", resistance = \"60 Ω\" }}]\n\
             secondary = [{{ name = \"S\", open = \"12 V at 230 V\", resistance = \"0.5 Ω\" }}]\nno_load = \"20 mA at 230 V\"\n\
             [rectifier.D1]\nfrom = \"T1.S\"\ninto = \"raw\"\nform = \"{form}\"\ndiode = \"silicon 3 A\"\n\
             [capacitor.C1]\nat = \"raw\"\nvalue = \"4700 µF\"\nesr = \"50 mΩ\"\n[load.lamp]\nat = \"raw\"\n\
             draws = {{ on = \"500 mA\" }}\n"
        )
    };
    let core = |form: &str| {
        let proof = prove(&job(&supply(form)), &options()).expect("it settles");
        proof
            .remarks
            .into_iter()
            .find_map(|remark| match remark.about {
                About::CoreCurrent(core) => Some(core),
                _ => None,
            })
    };
    let found = core("half-wave").expect("26 mA beside 20 mA are told");
    // The winding has a little more turns than 12 to 230: it was read behind the drop of the no-load current.
    assert!(
        (found.amps / (0.5 * 12.0 / 230.0) - 1.0).abs() < 5e-3,
        "{found:?}"
    );
    assert_eq!(core("bridge"), None);
}

/// A limit on the temperature of a capacitor's can brought the program down. It is the air and what its ripple current adds, 5 K at its
/// rated current; without a rating nothing tells that, and it is not shown.
#[test]
fn the_can_of_a_capacitor_is_judged_by_air_and_ripple() {
    let text = |rated: &str| {
        format!(
            "format = 1\n[mains]\nvoltage = \"230 V\"\nfrequency = \"50 Hz\"\nflatness = \"0\"\n[box]\nroom = \"30 °C\"\nrise = \"10 K\"\n\
             [states]\non = \"on\"\n[transformer.T1]\nprimary = [{{ name = \"P\", volts = \"230 V\", resistance = \"60 Ω\" }}]\n\
             secondary = [{{ name = \"S\", open = \"12 V at 230 V\", resistance = \"0.5 Ω\" }}]\n\
             [rectifier.D1]\nfrom = \"T1.S\"\ninto = \"raw\"\nform = \"bridge\"\ndiode = \"silicon 3 A\"\n\
             [capacitor.C1]\nat = \"raw\"\nvalue = \"4700 µF\"\nesr = \"50 mΩ\"\n{rated}[load.lamp]\nat = \"raw\"\n\
             draws = {{ on = \"500 mA\" }}\n[[limit]]\nname = \"can\"\nof = \"C1\"\nwhat = \"temperature\"\nmax = \"60 °C\"\n\
             [[limit]]\nname = \"amps\"\nof = \"C1\"\nwhat = \"rms current\"\nmax = \"9 A\"\n"
        )
    };
    let found = |rated: &str| {
        let proof = prove(&job(&text(rated)), &options()).expect("it settles");
        let of = |name: &str| proof.limits.iter().find(|one| one.name == name).cloned();
        (of("can").expect("there"), of("amps").expect("there"))
    };
    let (can, amps) = found("rated = { ripple = \"1 A at 100 Hz\" }\n");
    let amps = amps.worst.expect("a current");
    let celsius = can.worst.expect("a temperature");
    assert!(
        (celsius - (40.0 + 5.0 * amps * amps)).abs() < 1e-3,
        "{celsius} with {amps}"
    );
    let (unknown, _) = found("");
    assert!(
        matches!(unknown.predicted, Predicted::NotShown(_)),
        "{unknown:?}"
    );
}
