//! `transformer`: readings in, a model out, and into the job.

use super::bench::Bench;

const READINGS: &str = include_str!("../../demo/beacon/job.toml");

#[test]
fn the_demo_is_made_out_and_kept_with_its_comments() {
    // The readings without the transformer that was once written by hand.
    let start = READINGS
        .find("[unmarked.T1]")
        .expect("readings in the demo");
    let own = format!(
        "format = 1\n[job]\nregion = \"230 V 50 Hz\"\n[mains]\nvoltage = \"230 V -10/+6 %\" # up the hill\n[states]\non = \
         \"working\"\n{}",
        &READINGS[start..]
    );
    let bench = Bench::with(&own);
    let ran = bench.run(&["transformer", "."]);
    assert_eq!(ran.status, 0, "{ran:?}");
    for words in [
        "P1 mains",
        "Next reading:",
        "mains on red - grey",
        "volt-amperes with copper at 105 °C",
        "no sign of saturation or of shorted turns",
        "The mains over the day, 4 readings",
        "regulation",
        "Turns, those of the first winding as 1: P1 1, P2",
        "Insulation red - yellow: 220 MΩ",
    ] {
        assert!(ran.out.contains(words), "{words}: {}", ran.out);
    }
    // What would change is shown first, and nothing is written.
    assert!(
        ran.out.contains("--changes shows them, --keep writes them"),
        "{}",
        ran.out
    );
    let before = bench.read("job.toml");
    let shown = bench.run(&["transformer", ".", "--changes"]);
    assert_eq!(shown.status, 0, "{shown:?}");
    assert!(shown.out.contains("\n+ [transformer.T1]"), "{}", shown.out);
    assert_eq!(bench.read("job.toml"), before);
    let ran = bench.run(&["transformer", ".", "--keep"]);
    assert_eq!(ran.status, 0, "{ran:?}");
    assert!(ran.out.contains("\n+ [transformer.T1]"), "{}", ran.out);
    let text = bench.read("job.toml");
    assert!(text.starts_with(&own), "nothing before it changes");
    assert!(
        text.contains("[transformer.T1]")
            && text.contains("selector = { \"230 V\" = \"P1 + P2\" }"),
        "{text}"
    );
    // Kept again, the figures are put in their places.
    let again = bench.run(&["transformer", ".", "--keep", "--json"]);
    assert_eq!(again.status, 0, "{again:?}");
    assert_eq!(bench.read("job.toml"), text);
    let none = bench.run(&["transformer", ".", "--changes"]);
    assert!(
        none.out.contains("has these figures already"),
        "{}",
        none.out
    );
    let data: serde_json::Value = serde_json::from_str(&again.out).expect("JSON");
    assert_eq!(data["format"], 1);
    assert_eq!(data["transformers"][0]["windings"][2]["name"], "S1");
    assert!(data["transformers"][0]["windings"][2]["open"]["low"].is_f64());
}

#[test]
fn what_cannot_be_kept_is_said_and_the_file_left_as_it_is() {
    let job = "format = 1\n[mains]\nvoltage = \"230 V\"\nfrequency = \"50 Hz\"\n[states]\non = \"working\"\n[unmarked.T1]\nleads = \
               [\"p\", \"q\"]\nohms = [{ between = [\"p\", \"q\"], reads = \"43 Ω\" }]\n";
    let bench = Bench::with(job);
    let ran = bench.run(&["transformer", ".", "--keep"]);
    assert_eq!(ran.status, 2, "{ran:?}");
    assert!(ran.err.contains("not kept: write `primary`"), "{}", ran.err);
    assert_eq!(bench.read("job.toml"), job);
    let ran = bench.run(&["transformer", ".", "--only", "T2"]);
    assert!(
        ran.err.contains("no unmarked transformer is called T2"),
        "{}",
        ran.err
    );
}

#[test]
fn contradicting_readings_have_a_status_of_their_own() {
    let job = "format = 1\n[mains]\nvoltage = \"230 V\"\nfrequency = \"50 Hz\"\n[states]\non = \"working\"\n[unmarked.T1]\nleads = \
               [\"p\", \"q\", \"a\", \"b\"]\nvolts = [\n{ driven = [\"p\", \"q\"], at = \"230.0 V\", across = [\"a\", \"b\"], reads = \
               \"18.00 V\" },\n{ driven = [\"p\", \"q\"], at = \"12.00 V\", across = [\"a\", \"b\"], reads = \"1.050 V\" },\n]\n";
    let bench = Bench::with(job);
    let ran = bench.run(&["transformer", "."]);
    assert_eq!(ran.status, 1, "{ran:?}");
    assert!(
        ran.out.contains("Readings contradict each other"),
        "{}",
        ran.out
    );
    assert!(ran.out.contains("line 11"), "{}", ran.out);
}

#[test]
fn a_job_without_readings_says_where_they_go() {
    let ran = Bench::with(super::bench::RAIL).run(&["transformer", "."]);
    assert_eq!(ran.status, 2, "{ran:?}");
    assert!(ran.err.contains("[unmarked.T1]"), "{}", ran.err);
}

#[test]
fn joins_first_cycles_and_capacitors_of_the_demo() {
    let bench = Bench::with(READINGS);
    let joins = bench.run(&["transformer", ".", "--joins"]);
    assert_eq!(joins.status, 0, "{joins:?}");
    for words in [
        "S1 + S2",
        "centre tap",
        "S1 | -S2",
        "about 24.0 V",
        "This mains, 230 V: in series.",
        "green to blue",
        "DC at most",
        "Insulate every lead",
    ] {
        assert!(joins.out.contains(words), "{words}: {}", joins.out);
    }
    let on = bench.run(&["transformer", ".", "--switch-on"]);
    assert_eq!(on.status, 0, "{on:?}");
    for words in [
        "Core inrush: not shown",
        "F1 of 250 mA is fitted",
        "sheet 5",
        "which no link in its leads sees",
        "a UL-rated one",
        "C1 holds up to",
    ] {
        assert!(on.out.contains(words), "{words}: {}", on.out);
    }
    let data = bench.run(&["transformer", ".", "--switch-on", "--json"]);
    let data: serde_json::Value = serde_json::from_str(&data.out).expect("JSON");
    assert_eq!(data["first_cycles"].as_array().map(Vec::len), Some(21));
    let old = bench.run(&["transformer", ".", "--capacitors"]);
    assert_eq!(old.status, 0, "{old:?}");
    assert!(old.out.contains("C1, 3300 µF"), "{}", old.out);
    assert!(old.out.contains("the ten-degree rule"), "{}", old.out);
}

#[test]
fn an_old_capacitor_that_is_not_fit_is_said_to_be() {
    let job = super::bench::RAIL.replace(
        "value = \"4700 µF\"\nesr = \"40 mΩ\"",
        "value = { drawn = \"4700 µF\", measured = \"2100 µF\" }\nesr = { drawn = \"40 mΩ\", measured = \"0.6 Ω\" }\nunused = \"30 years\"",
    );
    let ran = Bench::with(job).run(&["transformer", ".", "--capacitors"]);
    assert_eq!(ran.status, 1, "{ran:?}");
    for words in [
        "NOT FIT",
        "beyond ±45 %",
        "It lay for 30 years",
        "series resistance makes a quarter",
    ] {
        assert!(ran.out.contains(words), "{words}: {}", ran.out);
    }
}

#[test]
fn options_that_make_no_sense() {
    let bench = Bench::with(READINGS);
    for (arguments, words) in [
        (
            &["transformer", ".", "--joins", "--amps", "0 A"][..],
            "more than zero",
        ),
        (
            &["transformer", ".", "--joins", "--reservoir", "12 V"],
            "--reservoir",
        ),
        (&["transformer", ".", "--amps", "1 A"], "--joins"),
    ] {
        let ran = bench.run(arguments);
        assert_eq!(ran.status, 2, "{ran:?}");
        assert!(ran.err.contains(words), "{}", ran.err);
    }
}
