//! What a hand gets wrong at the bench, and what opens a lock that should stay shut.

use super::bench::{Bench, Ran};
use super::readings::{TYPED, job};

/// The rail with an insulation tester, a bond tester and an oscilloscope.
fn bench() -> Bench {
    let more = "[instrument.insulation]\npart = \"insulation tester, 500 V\"\n\
                [instrument.bond]\npart = \"earth bond tester, four leads\"\n\
                [instrument.scope]\npart = \"oscilloscope, 8 bits, 100 MHz, 1x probe\"\n";
    Bench::with(format!("{}{more}", job()))
}

fn off(bench: &Bench, of: &str, what: &str, value: &str, with: &str) -> Ran {
    bench.run(&[
        "read",
        ".",
        of,
        what,
        value,
        "--step",
        "power off",
        "--with",
        with,
        "--setup",
        "leads nulled, plug out",
    ])
}

fn check(bench: &Bench, of: &str, value: &str) {
    let ran = bench.run(&["read", ".", of, "check", value, "--step", "power off"]);
    assert_eq!(ran.status, i32::from(value == "no"), "{ran:?}");
}

/// A winding has its ohms with the power off and its volts later: the step that is named is the one of what was read.
#[test]
fn the_step_that_a_reading_lacks_is_that_of_its_quantity() {
    let bench = bench();
    let said = |what: &str, value: &str| {
        let ran = bench.run(&[
            "read", ".", "T1.S1", what, value, "--with", "meter", "--setup", "clips",
        ]);
        assert_eq!(ran.status, 2, "{ran:?}");
        ran.err
    };
    let ohms = said("resistance", "0.6 Ω");
    assert!(ohms.contains("say --step \"power off\""), "{ohms}");
    let volts = said("volts rms", "15.5 V");
    assert!(
        volts.contains("say --step \"transformer through a lamp\""),
        "{volts}"
    );
}

/// What keeps the first step with power locked.
fn locks(bench: &Bench) -> Vec<(String, String)> {
    let ran = bench.run(&["bringup", ".", "--json"]);
    let answer: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    let text = |value: &serde_json::Value| value.as_str().unwrap().to_owned();
    let all = answer["steps"][1]["locked_by"].as_array().unwrap();
    all.iter()
        .map(|lock| (text(&lock["of"]), text(&lock["why"])))
        .collect()
}

/// Each safety row in turn reads something that nobody would power up on, all others what they should: the lock stays. The
/// figures are those of the documents that the rows name.
#[test]
fn no_bad_reading_of_a_safety_row_opens_a_power_step() {
    let rows = [
        ("earth bond", "resistance", "bond", "0.04 Ω", "0.4 Ω"),
        (
            "insulation, mains to chassis",
            "insulation",
            "insulation",
            "> 200 MΩ",
            "0.8 MΩ",
        ),
        (
            "insulation, mains to secondaries",
            "insulation",
            "insulation",
            "150 MΩ",
            "1.2 MΩ",
        ),
        ("fuse and switch in live", "check", "", "yes", "no"),
        ("fuse as drawn", "check", "", "yes", "no"),
        ("cord and cover", "check", "", "yes", "no"),
    ];
    let bench = bench();
    let all: Vec<String> = locks(&bench).into_iter().map(|(of, _)| of).collect();
    for of in &all {
        assert!(rows.iter().any(|row| row.0 == of), "{of} is walked too");
    }
    let rows: Vec<_> = rows
        .into_iter()
        .filter(|row| all.iter().any(|of| of == row.0))
        .collect();
    assert!(rows.len() >= 5, "{all:?}");
    let take = |(of, what, with, _, _): (&str, &str, &str, &str, &str), value: &str| match what {
        "check" => check(&bench, of, value),
        _ => assert!(off(&bench, of, what, value, with).status < 2),
    };
    for row in &rows {
        take(*row, row.3);
    }
    assert_eq!(locks(&bench), [], "all is read and fits");
    for row in &rows {
        take(*row, row.4);
        let after = locks(&bench);
        assert_eq!(after, [(row.0.to_owned(), "does not fit".to_owned())]);
        take(*row, row.3);
    }
    // As much outside as the instrument may err shows nothing, and opens nothing: 3 % and three counts.
    off(
        &bench,
        "insulation, mains to chassis",
        "insulation",
        "0.99 MΩ",
        "insulation",
    );
    assert_eq!(
        locks(&bench),
        [(
            "insulation, mains to chassis".to_owned(),
            "not shown".to_owned()
        )]
    );
}

/// Whatever reads outside its band with the power off keeps it off, though nothing waits for that row; going on regardless says
/// what it goes past.
#[test]
fn a_winding_of_three_times_its_ohms_keeps_the_power_off() {
    let bench = bench();
    let primary = |value: &str| off(&bench, "T1 primary", "resistance", value, "meter");
    assert_eq!(primary("140 Ω").status, 1);
    let lock = ("T1 primary".to_owned(), "does not fit".to_owned());
    assert!(locks(&bench).contains(&lock), "{:?}", locks(&bench));
    let ran = bench.run(&[
        "read",
        ".",
        "--go-on",
        "transformer on mains",
        "--because",
        "tried on paper first",
    ]);
    assert_eq!(ran.status, 0, "{ran:?}");
    for said in [
        "This goes past what is not in order.",
        "T1 primary, resistance (power off, row 1): does not fit",
    ] {
        assert!(ran.out.contains(said), "{said}: {ran:?}");
    }
    let proved = bench.run(&["prove", "."]).out;
    assert!(proved.contains("Read and not in order"), "{proved}");
    assert_eq!(primary("45.2 Ω").status, 0);
    assert!(!locks(&bench).contains(&lock), "{:?}", locks(&bench));
}

#[test]
fn what_nothing_can_have_is_asked_about_and_not_kept() {
    let bench = bench();
    for (of, what, value, with, said) in [
        (
            "earth bond",
            "resistance",
            "-0.02 Ω",
            "bond",
            "nothing has less than none",
        ),
        (
            "earth bond",
            "resistance",
            "0.04 mΩ",
            "bond",
            "did you mean 40 mΩ?",
        ),
        (
            "insulation, mains to chassis",
            "insulation",
            "-5 MΩ",
            "insulation",
            "less than none",
        ),
        (
            "insulation, mains to chassis",
            "insulation",
            "50 MΩ",
            "meter",
            "does not read",
        ),
        (
            "earth bond",
            "resistance",
            "0.04 V",
            "bond",
            "a resistance is wanted",
        ),
    ] {
        let ran = off(&bench, of, what, value, with);
        assert_eq!(ran.status, 2, "{value}: {ran:?}");
        assert!(ran.err.contains(said), "{value}: {ran:?}");
    }
    assert!(!bench.path("readings.csv").exists());
    // An open path is a reading; the note keeps what the end of the range stands for.
    let ran = off(
        &bench,
        "insulation, mains to chassis",
        "insulation",
        ">2000 MΩ",
        "insulation",
    );
    assert_eq!(ran.status, 0, "{ran:?}");
    assert!(ran.out.contains("more than 2000 MΩ"), "{ran:?}");
    assert!(bench.read("readings.csv").contains("more than that"));
}

/// What an insulation tester makes of a bond is within its error of anything, and 99.5 mΩ within that of a good meter of 100: neither opens
/// a lock.
#[test]
fn a_safety_row_within_what_the_meter_may_err_of_its_limit_is_not_shown() {
    let bench = bench();
    for (value, with) in [("0.04 Ω", "insulation"), ("0.0995 Ω", "meter")] {
        let ran = off(&bench, "earth bond", "resistance", value, with);
        assert_eq!(ran.status, 3, "{with}: {ran:?}");
        assert!(ran.out.contains("not shown: nearer"), "{with}: {ran:?}");
        let why = locks(&bench).into_iter().find(|(of, _)| of == "earth bond");
        assert!(why.is_some(), "{with} opens the lock");
    }
    let ran = off(&bench, "earth bond", "resistance", "0.04 Ω", "bond");
    assert_eq!(ran.status, 0, "{ran:?}");
    assert!(!locks(&bench).iter().any(|(of, _)| of == "earth bond"));
}

#[test]
fn a_range_that_does_not_hold_the_value_is_chosen_anew() {
    let bench = bench();
    let read = |value: &str, range: &str| {
        let mut all = TYPED.to_vec();
        all[4] = value;
        all.extend(["--range", range]);
        bench.run(&all)
    };
    let ran = read("41.2 V", "40 V");
    assert_eq!(ran.status, 2, "{ran:?}");
    assert!(ran.err.contains("which ends at 40.0 V"), "{ran:?}");
    assert!(
        ran.err.contains("say the range anew with --range"),
        "{ran:?}"
    );
    let ran = read("17.05012 V", "40 V");
    assert_eq!(ran.status, 2, "{ran:?}");
    assert!(ran.err.contains("one count is 10 mV"), "{ran:?}");
    let ran = read("17.05 V", "400 Ω");
    assert_eq!(ran.status, 2, "a range of another function: {ran:?}");
    assert!(!bench.path("readings.csv").exists());
    assert_ne!(read("17.05 V", "40 V").status, 2);
    // Asked for in the interactive mode, where Enter kept the range of the last row.
    let typed = "power off\nmeter\n400 Ω\nleads nulled\n612 Ω\n\nq\n";
    let ran = bench.run_typing(&["read", "."], typed);
    assert_eq!(ran.status, 1, "{ran:?}");
    assert!(ran.err.contains("which ends at 400 Ω"), "{ran:?}");
}

#[test]
fn another_sort_of_row_asks_for_another_instrument() {
    let bench = bench();
    // The bond with its tester; the meter's set-up does not serve for the insulation, and is not offered.
    let typed =
        "power off\nbond\n\nat the inlet\n40\n40 mΩ\ninsulation\n\nlive and neutral\n50 MΩ\nq\n";
    let ran = bench.run_typing(&["read", "."], typed);
    assert_eq!(ran.status, 0, "{ran:?}");
    let log = bench.read("readings.csv");
    // A safety row takes no number without its unit here either, and is asked again.
    assert!(ran.err.contains("40 has no unit"), "{ran:?}");
    assert!(log.contains(",resistance,40,mΩ,bond,"), "{log}");
    assert!(log.contains(",insulation,50,MΩ,insulation,"), "{log}");
    // The row is named before its instrument is asked for.
    let bond = ran
        .out
        .find("earth bond, resistance, expect at most 100 mΩ");
    let asked = ran
        .out
        .find("Instrument (meter suits it; there is also bond;");
    assert!(bond.is_some() && bond < asked, "{ran:?}");
    // And back: Enter repeats the set-up of the instrument that reads such a row.
    let ran = bench.run_typing(
        &["read", ".", "--step", "power off"],
        "\n50 mΩ\n\n60 MΩ\nq\n",
    );
    assert_eq!(ran.status, 0, "{ran:?}");
    let log = bench.read("readings.csv");
    assert_eq!(log.matches("at the inlet").count(), 2, "{log}");
    assert_eq!(log.matches("live and neutral").count(), 2, "{log}");
}

/// Mean and valley are of one sort, and a meter reads but one of them: it is not offered for the other.
#[test]
fn an_instrument_that_does_not_read_the_row_is_not_repeated() {
    let bench = bench();
    let step = "load connected";
    let why = "tried on paper first";
    let ran = bench.run(&["read", ".", "--go-on", step, "--because", why]);
    assert_eq!(ran.status, 0, "{ran:?}");
    let typed = "meter\n\nclips\n228\n17.4\nscope\n\nspring on the board\n228\n16.9\nq\n";
    let ran = bench.run_typing(&["read", ".", "--step", step], typed);
    assert!(!ran.err.contains("does not read"), "{ran:?}");
    let log = bench.read("readings.csv");
    assert!(log.contains(",raw,mean,17.4,V,meter,"), "{ran:?} {log}");
    assert!(log.contains(",raw,valley,16.9,V,scope,"), "{ran:?} {log}");
}

/// The mains of one step is not that of another: a variable transformer may stand between. It is asked anew, and not repeated.
#[test]
fn the_mains_of_one_step_is_not_carried_to_the_next() {
    let bench = bench();
    let go = |step: &str| {
        let why = "tried on paper first";
        let ran = bench.run(&["read", ".", "--go-on", step, "--because", why]);
        assert_eq!(ran.status, 0, "{ran:?}");
    };
    go("raw on a dummy load");
    go("load connected");
    let typed = "meter\n\nclips\n228\n17.4\nq\n";
    bench.run_typing(&["read", ".", "--step", "raw on a dummy load"], typed);
    let log = bench.read("readings.csv");
    assert!(log.contains(",17.4,V,meter,,,clips,228,"), "{log}");
    // Enter repeats the set-up, and the mains of this step is asked.
    bench.run_typing(
        &["read", ".", "--step", "load connected"],
        "\n231\n17.3\nq\n",
    );
    let log = bench.read("readings.csv");
    assert!(log.contains(",17.3,V,meter,,,clips,231,"), "{log}");
    let all = [
        "read",
        ".",
        "raw",
        "mean",
        "17.4 V",
        "--again",
        "--step",
        "raw on a dummy load",
    ];
    bench.run(&all);
    let log = bench.read("readings.csv");
    assert!(
        log.lines().last().unwrap().contains("meter,,,clips,,"),
        "{log}"
    );
}

#[test]
fn ranges_of_a_screen_are_named_by_a_division() {
    let bench = bench();
    let read = |value: &str, range: &str| {
        bench.run(&[
            "read",
            ".",
            "raw",
            "ripple p-p",
            value,
            "--state",
            "on",
            "--with",
            "scope",
            "--range",
            range,
            "--setup",
            "1x probe",
        ])
    };
    let ran = read("0.61 V", "100 mV/div");
    assert!(
        ran.status < 4 && ran.out.contains("Kept as row 1"),
        "{ran:?}"
    );
    assert!(bench.read("readings.csv").contains(",scope,100 mV/div,"));
    // Eight divisions of 50 mV.
    let ran = read("0.61 V", "50 mV/div");
    assert_eq!(ran.status, 2, "{ran:?}");
    assert!(ran.err.contains("which ends at 400 mV"), "{ran:?}");
    for wrong in ["10 mV/dvi", "10 A/div", "-5 mV/div", "/div"] {
        let ran = read("0.61 V", wrong);
        assert_eq!(ran.status, 2, "{wrong}: {ran:?}");
        assert!(ran.err.contains("10 mV/div"), "{wrong}: {ran:?}");
    }
    // A meter has no divisions.
    let mut all = TYPED.to_vec();
    all.extend(["--range", "10 V/div"]);
    assert_eq!(bench.run(&all).status, 2);
}

#[test]
fn away_from_all_limits_a_reading_is_put_beside_the_prediction() {
    let bench = bench();
    let said = |ran: &Ran, words: &[&str]| {
        for word in words {
            assert!(ran.out.contains(word), "{word}: {ran:?}");
        }
    };
    let read = |of: &str, what: &str, value: &str| {
        bench.run(&[
            "read", ".", of, what, value, "--state", "on", "--with", "scope", "--setup", "1x probe",
        ])
    };
    let ran = read("raw", "peak", "17.6 V");
    said(
        &ran,
        &[
            "Predicted for \"load connected\":",
            "No limit is about its peak in on. Limits about raw: raw, low (valley; on); raw, mean (mean; on).",
        ],
    );
    assert!(
        ran.out.contains("fits") || ran.out.contains("not shown"),
        "{ran:?}"
    );
    let ran = read("raw", "peak", "9 V");
    assert_eq!(ran.status, 1, "{ran:?}");
    said(&ran, &["below the band", "No limit is about its peak"]);
    // A slip is one without a step, too.
    let ran = read("raw", "peak", "17.6 mV");
    assert_eq!(ran.status, 2, "{ran:?}");
    assert!(ran.err.contains("did you mean 17.6 V?"), "{ran:?}");
}

/// One line of reason opens a step; what is read in it counts, and wears a mark wherever it counts.
#[test]
fn readings_on_a_lock_overridden_are_marked() {
    let bench = bench();
    let early = bench.run(&TYPED);
    assert_eq!(early.status, 3, "{early:?}");
    let ran = bench.run(&[
        "read",
        ".",
        "--go-on",
        "load connected",
        "--because",
        "tested by the electrician",
    ]);
    assert_eq!(ran.status, 0, "{ran:?}");
    let late = bench.run(&TYPED);
    assert_eq!(late.status, 0, "{late:?}");
    assert!(
        late.out
            .contains("Taken with \"load connected\" locked, going on regardless (row 2)"),
        "{late:?}"
    );
    let ran = bench.run(&["prove", "."]);
    let flat = ran.out.split_whitespace().collect::<Vec<_>>().join(" ");
    for said in [
        "Row 3 was taken with \"load connected\" locked, going on regardless (row 2).",
        "its step locked at the time: holds",
    ] {
        assert!(flat.contains(said), "{said}: {flat}");
    }
    let ran = bench.run(&["prove", ".", "--json"]);
    let answer: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    // What was read before the reason was written does not count by it.
    assert_eq!(answer["readings"][0]["regardless"], serde_json::json!([3]));
    assert_eq!(answer["readings"][0]["rows"], serde_json::json!([3]));
}

#[test]
fn the_mains_of_another_socket_is_asked_about() {
    let bench = bench();
    let mut all = TYPED.to_vec();
    all.extend(["--mains", "117 V"]);
    let ran = bench.run(&all);
    assert_eq!(ran.status, 2, "{ran:?}");
    assert!(
        ran.err.contains("where the job has 207 .. 253 V"),
        "{ran:?}"
    );
    all.push("--as-typed");
    assert_ne!(bench.run(&all).status, 2);
}

/// A reading beside the band of its own mains, not of all that the mains may have: low for a high mains, it fits the whole and
/// does not fit its own, and later steps wait for it.
#[test]
fn a_reading_is_held_against_the_mains_that_was_read() {
    let bench = bench();
    let step = "raw on a dummy load";
    let typed = |value: &str, mains: &str| {
        let ran = bench.run(&[
            "read",
            ".",
            "--go-on",
            step,
            "--because",
            "tried on paper first",
        ]);
        assert_eq!(ran.status, 0, "{ran:?}");
        bench.run(&[
            "read", ".", "raw", "mean", value, "--step", step, "--with", "meter", "--setup",
            "clips", "--mains", mains,
        ])
    };
    let ran = bench.run(&["bringup", ".", "--json"]);
    let answer: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    let steps = answer["steps"].as_array().unwrap();
    let own = steps.iter().find(|one| one["name"] == step).unwrap();
    let raw = own["expect"]
        .as_array()
        .unwrap()
        .iter()
        .find(|one| one["of"] == "raw")
        .unwrap();
    let low = format!("{:.2} V", raw["low"].as_f64().unwrap() + 0.2);
    assert_eq!(typed(&low, "252 V").status, 1, "{low}");
    let fit = || {
        let ran = bench.run(&["bringup", ".", "--json"]);
        let answer: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
        let steps = answer["steps"].as_array().unwrap().clone();
        let own = steps
            .iter()
            .find(|one| one["name"] == step)
            .unwrap()
            .clone();
        let raw = own["expect"]
            .as_array()
            .unwrap()
            .iter()
            .find(|one| one["of"] == "raw")
            .unwrap()
            .clone();
        raw["readings"].as_array().unwrap().last().unwrap()["fit"]
            .as_str()
            .unwrap()
            .to_owned()
    };
    assert!(fit().contains("below the band"), "{}", fit());
    assert_ne!(typed(&low, "207 V").status, 1, "{low}");
    assert_eq!(fit(), "fits");
}
