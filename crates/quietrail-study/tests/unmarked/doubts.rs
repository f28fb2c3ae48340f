//! Readings that do not fit are named, and what cannot be told is not told.

use quietrail_job::model::Job;
use quietrail_job::read;
use quietrail_study::transformer::{
    Doubt, Known, NoModel, Pattern, ReadingKind, joins, know, wanted,
};

const HEAD: &str = "format = 1\n[mains]\nvoltage = \"230 V ±10 %\"\nfrequency = \"50 Hz\"\n[states]\non = \"working\"\n\
                    [unmarked.T1]\nleads = [\"p\", \"q\", \"a\", \"t\", \"b\"]\ncopper = \"20 °C\"\nnull = \"0 Ω .. 2 mΩ\"\n";
const PRIMARY: &str = "primary = [\"p\", \"q\"]\nprimary_because = \"the cord\"\n";

fn job(lines: &str) -> Job {
    let text = format!("{HEAD}{lines}");
    let reading = read(&text, None);
    reading
        .job
        .unwrap_or_else(|| panic!("{text}\n{:#?}", reading.diagnostics))
}

fn known(lines: &str) -> Known {
    let job = job(lines);
    know(&job.unmarked[0], &job).expect("a model")
}

const OHMS: &str = "ohms = [\n{ between = [\"p\", \"q\"], reads = \"43.2 Ω\" },\n{ between = [\"a\", \"t\"], reads = \"0.300 Ω\" },\n{ \
                    between = [\"t\", \"b\"], reads = \"0.320 Ω\" },\n{ between = [\"a\", \"b\"], reads = \"0.620 Ω\" },\n]\n";

/// Resistances add up along a winding, so the lead between the two that are furthest apart is its tap; half the turns lie
/// on either side when half the volts do.
#[test]
fn a_tap_is_found_and_its_share() {
    let volts = "volts = [\n{ driven = [\"p\", \"q\"], at = \"230.0 V\", across = [\"a\", \"t\"], reads = \"9.00 V\" },\n{ driven = \
                 [\"p\", \"q\"], at = \"230.0 V\", across = [\"a\", \"b\"], reads = \"18.00 V\" },\n]\n";
    let found = known(&format!("{PRIMARY}{OHMS}{volts}"));
    let winding = &found.windings[1];
    assert_eq!(winding.leads, ["a", "t", "b"]);
    let (tap, share) = &winding.taps[0];
    assert_eq!(tap, "t");
    assert!((share.low..=share.high).contains(&0.5), "{share:?}");
    assert!(share.high - share.low < 0.02, "{share:?}");
    assert!((winding.open.value - 18.0).abs() < 0.05);
}

#[test]
fn ohms_alone_tell_no_primary_no_volts_and_no_sense() {
    let found = known(OHMS);
    assert!(found.doubts.iter().any(
        |doubt| matches!(doubt, Doubt::PrimaryOnOhmsAlone { candidate } if candidate == "p - q")
    ));
    assert!(
        found
            .windings
            .iter()
            .all(|winding| winding.name.starts_with('W'))
    );
    assert!(!found.windings[1].open.is_told);
    assert!(found.no_load.is_none());
    assert_eq!(found.reads, [ReadingKind::Ohms]);
}

/// The whole reads 1.2 Ω where its parts read 0.62 Ω together: no sum is right, and each reading alone may be wrong.
#[test]
fn ohms_that_do_not_add_up_are_named_and_not_averaged() {
    let ohms = OHMS.replace("0.620", "1.200");
    let volts = "volts = [{ driven = [\"p\", \"q\"], at = \"230.0 V\", across = [\"a\", \"b\"], reads = \"18.00 V\" }]\n";
    let found = known(&format!("{PRIMARY}{ohms}{volts}"));
    let Some(Doubt::Contradiction { times, one_of, .. }) = found.doubts.first() else {
        panic!("{:?}", found.doubts);
    };
    assert!(*times > 5.0, "{times}");
    let texts: Vec<&str> = one_of.iter().map(|one| one.text.as_str()).collect();
    for text in ["1.200 Ω", "0.300 Ω", "0.320 Ω"] {
        assert!(texts.contains(&text), "{texts:?}");
    }
    // Whichever is wrong, its truth is in the range.
    let range = &found.windings[1].ohms;
    assert!(range.low < 0.63 && range.high > 1.19, "{range:?}");
}

/// Two readings of one ratio that differ by more than the digits allow.
#[test]
fn a_ratio_read_twice_is_held_against_itself() {
    let volts = "volts = [\n{ driven = [\"p\", \"q\"], at = \"230.0 V\", across = [\"a\", \"b\"], reads = \"18.00 V\" },\n{ driven = \
                 [\"p\", \"q\"], at = \"12.00 V\", across = [\"a\", \"b\"], reads = \"1.050 V\" },\n]\n";
    let found = known(&format!("{PRIMARY}{OHMS}{volts}"));
    assert!(found.is_contradicted(), "{:?}", found.doubts);
    assert!(found.windings[1].open.low < 18.05 && found.windings[1].open.high > 20.1);
}

/// 0.62 Ω + 43.2 Ω · (18/230)² = 0.885 Ω, XFMR-01's formula; a short-circuit test of just that leaves no leakage.
#[test]
fn the_short_circuit_test_bounds_the_leakage() {
    let ohms: f64 = 0.62 + 43.2 * (18.0_f64 / 230.0).powi(2);
    let referred = ohms * (230.0_f64 / 18.0).powi(2);
    let with = |reactance: f64| {
        let amps = 12.0 / referred.hypot(reactance * (230.0_f64 / 18.0).powi(2));
        let lines = format!(
            "{PRIMARY}{OHMS}volts = [{{ driven = [\"p\", \"q\"], at = \"230.0 V\", across = [\"a\", \"b\"], reads = \"18.00 V\" }}]\n\
             shorted = [{{ driven = [\"p\", \"q\"], at = \"12.00 V\", short = [\"a\", \"b\"], amps = \"{:.2} mA\" }}]\n",
            1e3 * amps
        );
        known(&lines).windings[1]
            .leakage
            .clone()
            .expect("a secondary")
    };
    // 0.5 Ω at 50 Hz is 1.59 mH.
    let much = with(0.5);
    let henries = 0.5 / (2.0 * std::f64::consts::PI * 50.0);
    assert!(
        much.is_told && much.low < henries && henries < much.high,
        "{much:?}"
    );
    assert!(much.low > 0.7 * henries, "{much:?}");
    let none = with(0.0);
    assert!(none.low == 0.0 && none.high < 0.6 * henries, "{none:?}");
}

#[test]
fn the_core_the_marking_and_the_insulation_have_their_say() {
    let lines = format!(
        "{PRIMARY}marked = \"220 V 60 Hz\"\nday = [\"231 V\", \"255 V\"]\ncore = {{ tongue = \"25 mm\", stack = \"32 mm\" }}\n{OHMS}\
         no_load = [\n{{ driven = [\"p\", \"q\"], at = \"200 V\", amps = \"20 mA\" }},\n{{ driven = [\"p\", \"q\"], at = \"230 V\", amps = \
         \"45 mA\" }},\n]\ninsulation = [\n{{ between = [\"p\", \"a\"], reads = \"1 MΩ\", at = \"500 V\" }},\n{{ between = [\"p\", \
         \"core\"], reads = \"900 MΩ\", at = \"250 V\" }},\n]\n"
    );
    let found = known(&lines);
    let has = |of: &dyn Fn(&Doubt) -> bool| found.doubts.iter().any(of);
    // (230/50)/(220/60) = 1.2545.
    assert!(has(
        &|doubt| matches!(doubt, Doubt::Flux { nominal, .. } if (nominal - 1.254_545).abs() < 1e-6)
    ));
    assert!(has(
        &|doubt| matches!(doubt, Doubt::MainsBeyond { high, .. } if *high == 255.0)
    ));
    // ln(45/20)/ln(230/200) = 5.80.
    assert!(has(
        &|doubt| matches!(doubt, Doubt::Saturating { power, .. } if (power - 5.802).abs() < 0.01)
    ));
    assert!(has(
        &|doubt| matches!(doubt, Doubt::Insulation { ohms, .. } if *ohms == 1e6)
    ));
    assert!(has(&|doubt| matches!(doubt, Doubt::InsulationVolts { .. })));
    // 640 000 mm⁴/16042 = 39.9 VA.
    assert!((found.core_rules[0].volt_amperes - 39.895).abs() < 0.01);
}

/// Turns and falls of a transformer whose figures are known: 18 V of 230 V, 40 VA by its core, and 0.885 Ω behind it.
#[test]
fn turns_regulation_flux_and_the_day_are_told() {
    let lines = format!(
        "{PRIMARY}marked = \"230 V 60 Hz\"\nday = [\"207 V\", \"241.5 V\"]\ncore = {{ tongue = \"25 mm\", stack = \"32 mm\" }}\n{OHMS}volts \
         = [{{ driven = [\"p\", \"q\"], at = \"230.0 V\", across = [\"a\", \"b\"], reads = \"18.00 V\" }}]\nno_load = [\n{{ driven = [\"p\", \
         \"q\"], at = \"115 V\", amps = \"10 mA\" }},\n{{ driven = [\"p\", \"q\"], at = \"230 V\", amps = \"25 mA\" }},\n]\n"
    );
    let found = known(&lines);
    let turns = &found.windings[1].turns;
    assert!(
        (turns.low..=turns.high).contains(&(18.0 / 230.0)),
        "{turns:?}"
    );
    let one = &found.regulation[0];
    let ohms: f64 = 0.62 + 43.2 * (18.0_f64 / 230.0).powi(2);
    let load = 18.0 * 18.0 / 39.895;
    let share = (18.0 - 18.0 * load / (load + ohms)) / (18.0 * load / (load + ohms));
    assert!(
        (one.share.value - share).abs() < 0.01 * share,
        "{one:?} {share}"
    );
    let flux = found.iron.flux.expect("it is marked");
    assert!(
        (flux.nominal - 1.2).abs() < 1e-9 && (flux.permitted - 230.0 * 50.0 / 60.0).abs() < 1e-9
    );
    let day = found.iron.day.expect("it was read");
    assert!((day.shares.0 - 0.9).abs() < 1e-9 && (day.shares.1 - 1.05).abs() < 1e-9);
    let curve = found.iron.curve.expect("it was read");
    assert_eq!(curve.pattern, Pattern::Ordinary);
    assert!((curve.power.expect("two points") - 2.5_f64.ln() / 2.0_f64.ln()).abs() < 1e-9);
}

/// A run that carried little and is said to have made much heat: 16 VA in windings that make a watt of it.
#[test]
fn a_hot_run_that_the_windings_cannot_have_made_is_named() {
    let run = |copper: &str| {
        let lines = format!(
            "{PRIMARY}class = \"A\"\n{OHMS}volts = [{{ driven = [\"p\", \"q\"], at = \"230.0 V\", across = [\"a\", \"b\"], reads = \"18.00 V\" \
             }}]\nhot = {{ between = [\"p\", \"q\"], cold = \"43.2 Ω\", cold_at = \"20 °C\", after = [\"47.0 Ω at 10 s\", \"46.9 Ω at 40 s\"], \
             room = \"22 °C\", copper_loss = \"{copper}\", core_loss = \"1.5 W\", carried = \"16 VA\" }}\n"
        );
        let found = known(&lines);
        let named = found
            .doubts
            .iter()
            .any(|doubt| matches!(doubt, Doubt::HotLoss { .. }));
        (named, found)
    };
    // (16/18)² · 0.885 Ω = 0.70 W, a tenth more when warm.
    assert!(!run("0.75 W").0);
    assert!(run("4.6 W").0);
    assert!(run("0.2 W").0);
    // Class A is 105 °C; 22.3 K of rise in 35 °C .. of air stay below it.
    let hot = run("0.75 W").1.hot.expect("it was read");
    assert_eq!(hot.limits.expect("a class").0, 105.0);
    let in_box = hot.in_box.expect("a class");
    assert!((in_box.copper + in_box.below - 105.0).abs() < 1e-9 && in_box.below > 0.0);
    assert!((in_box.life.1 - 2.0_f64.powf(in_box.below / 10.0)).abs() < 1e-9);
}

/// A tap in the middle makes a centre tap, and each half a winding of half the volts; what is left over is named.
#[test]
fn a_tapped_winding_is_joined_about_its_tap() {
    let volts = "volts = [\n{ driven = [\"p\", \"q\"], at = \"230.0 V\", across = [\"a\", \"t\"], reads = \"9.00 V\" },\n{ driven = \
                 [\"p\", \"q\"], at = \"230.0 V\", across = [\"a\", \"b\"], reads = \"18.00 V\" },\n]\n";
    let job = job(&format!("{PRIMARY}{OHMS}{volts}"));
    let known = know(&job.unmarked[0], &job).expect("a model");
    let found = joins(&known, &job, wanted(&job, Some(0.3), Some(4.7e-3)));
    let tapped = found.joins.iter().find(|join| join.is_centre_tapped);
    let tapped = tapped.expect("a centre tap");
    assert_eq!(tapped.centre.as_deref(), Some("t"));
    assert!(tapped.unused.is_empty(), "{tapped:?}");
    let half = found.joins.iter().find(|join| join.text == "S1 (a - t)");
    let half = half.expect("a half");
    assert!((half.open - 9.0).abs() < 0.05, "{half:?}");
    assert_eq!(half.unused, ["b"]);
    // A bridge on a half and a centre tap on both give the same volts, but for a diode.
    assert!(
        (tapped.peak - half.peak - 0.9).abs() < 0.05,
        "{} {}",
        tapped.peak,
        half.peak
    );
}

#[test]
fn a_shorted_turn_draws_in_phase_from_low_volts_on() {
    let lines = format!(
        "{PRIMARY}core = {{ tongue = \"25 mm\", stack = \"32 mm\" }}\n{OHMS}no_load = [\n{{ driven = [\"p\", \"q\"], at = \"60 V\", amps \
         = \"30 mA\" }},\n{{ driven = [\"p\", \"q\"], at = \"120 V\", amps = \"60 mA\", watts = \"6.9 W\" }},\n]\n"
    );
    let found = known(&lines);
    assert!(
        found.doubts.iter().any(|doubt| matches!(
            doubt,
            Doubt::ShortedTurns {
                power_factor: Some(_),
                ..
            }
        )),
        "{:?}",
        found.doubts
    );
}

#[test]
fn without_readings_there_is_no_model() {
    let job = job("");
    assert_eq!(
        know(&job.unmarked[0], &job).err(),
        Some(NoModel::NoReadings)
    );
}
