//! What readings of whole jobs prove: what a meter's input takes off, and what an averaging meter makes of the predicted wave.

mod supply;

use quietrail_bench::decide::Shown;
use quietrail_bench::judge::{Judgement, Prospect, Taken, Why};
use quietrail_bench::log::{HEADER, Log};
use quietrail_study::gate::Gate;
use quietrail_study::measured::{Limited, judged};
use quietrail_study::options;
use supply::{AIR, raw, read};

/// The judgement of the only limit, from rows of the log.
fn judgement(text: &str, rows: &str) -> Judgement {
    let job = read(text);
    let log = Log::read(&format!("{HEADER}\r\n{rows}"));
    assert!(log.damaged.is_empty(), "{:?}", log.damaged);
    let limits = Limited::of_job(&job);
    let found = judged(&job, &limits, &log, &Gate::default(), &options());
    let [one] = found.as_slice() else {
        panic!("{found:?}");
    };
    one.judgement.clone()
}

fn row(number: u32, what: &str, volts: f64, setup: &str) -> String {
    format!("{number},2026-11-20T10:00:00Z,,on,mid,{what},{volts},V,meter,,,{setup},230,,,,\r\n")
}

const LOAD: &str = "[load.lamp]\nat = \"raw\"\ndraws = { on = \"100 mA\" }\n";

/// MEAS-LOAD-02 has 10 MΩ on 1 MΩ: −9.0909 %. Two resistors of 2 MΩ in a divider are that 1 MΩ.
#[test]
fn a_meter_on_a_divider_of_megohms_reads_low_and_the_verdict_knows() {
    let text = |input: &str, max: &str| {
        raw(50, &["on"])
            + AIR
            + LOAD
            + &format!(
                "[resistor.R1]\nbetween = [\"raw\", \"mid\"]\nvalue = \"2 MΩ\"\n[resistor.R2]\nat = \"mid\"\nvalue = \"2 \
                 MΩ\"\n[instrument.meter]\nkind = \"multimeter\"\ndc = {{ ranges = [\"40 V ±1 mV\"]{input} }}\n[[limit]]\nname = \
                 \"middle\"\nof = \"mid\"\nwhat = \"mean\"\nmax = \"{max}\"\n"
            )
    };
    let reading = row(1, "mean", 10.0, "clips");
    let loading = ", input = \"10 MΩ 100 pF\"";
    let found = judgement(&text(loading, "10.5 V"), &reading);
    assert_eq!(found.shown, Shown::NotShown, "{found:?}");
    assert!((found.high - 11.0).abs() < 2e-3, "{found:?}");
    let is_told =
        |taken: &Taken| matches!(taken, Taken::Loading(grows) if (grows - 0.1).abs() < 1e-4);
    assert!(found.taken.iter().any(is_told), "{found:?}");
    assert_eq!(
        judgement(&text(loading, "11.1 V"), &reading).shown,
        Shown::Holds
    );
    // Without an input of the meter in the job nothing is known of it, and nothing moved.
    assert_eq!(judgement(&text("", "10.5 V"), &reading).shown, Shown::Holds);
    // The reservoir itself does not feel ten megohms.
    let stiff = text(loading, "20.5 V").replace("of = \"mid\"", "of = \"raw\"");
    let of_raw = row(1, "mean", 20.0, "clips").replace(",mid,", ",raw,");
    let found = judgement(&stiff, &of_raw);
    assert_eq!(found.shown, Shown::Holds, "{found:?}");
    assert!(
        !found
            .taken
            .iter()
            .any(|taken| matches!(taken, Taken::Loading(_))),
        "{found:?}"
    );
}

/// A capacitance loads what swings: 100 pF behind 1 MΩ at 100 Hz, x = 2π·100·1e-4 beside 1 + 0.1.
#[test]
fn the_capacitance_of_a_probe_counts_where_something_swings() {
    let text = raw(50, &["on"])
        + AIR
        + LOAD
        + "[resistor.R1]\nbetween = [\"raw\", \"mid\"]\nvalue = \"2 MΩ\"\n[resistor.R2]\nat = \"mid\"\nvalue = \"2 \
           MΩ\"\n[instrument.meter]\nkind = \"multimeter\"\nac = { detector = \"true rms\", band = \"10 Hz .. 100 Hz\", ranges = [\"4 V ±1 \
           mV\"], input = \"10 MΩ 1 nF\" }\n[[limit]]\nname = \"middle\"\nof = \"mid\"\nwhat = \"ripple\"\nband = \"100 Hz .. 100 \
           Hz\"\nmax = \"100 mV\"\n";
    let text = text.replace("100 Hz .. 100 Hz", "99 Hz .. 101 Hz");
    let found = judgement(
        &text,
        &(row(1, "ripple", 0.05, "clips") + &row(2, "ripple", 0.0, "shorted")),
    );
    let x = 2.0 * std::f64::consts::PI * 101.0 * 1e-3;
    let size = (1.1_f64 * 1.1 + x * x).sqrt();
    let grown = found.taken.iter().find_map(|taken| match taken {
        Taken::Loading(grows) => Some(*grows),
        _ => None,
    });
    let grown = grown.unwrap_or_else(|| panic!("{found:?}"));
    assert!(
        (grown - (size - 1.0)).abs() < 1e-3,
        "{grown}, by hand {}",
        size - 1.0
    );
}

/// Ten repeats of noise-free volts: five name the step that the others are of. They are of one thing and count together.
#[test]
fn rows_that_name_their_step_count_with_those_that_do_not() {
    let text = raw(50, &["on"])
        + AIR
        + LOAD
        + "[instrument.meter]\nkind = \"multimeter\"\ndc = { ranges = [\"40 V ±(0.5 % + 1)\"] }\n[[limit]]\nname = \"raw, \
           low\"\nof = \"raw\"\nwhat = \"mean\"\nmin = \"1 V\"\n";
    let job = read(&text);
    let plain = row(1, "mean", 20.0, "clips").replace(",mid,", ",raw,");
    let gate = quietrail_study::bringup::gate(&job, &Log::default(), &options()).expect("steps");
    let log = Log::read(&format!("{HEADER}\r\n{plain}"));
    let step = gate.step_of(&log.rows[0]).expect("a step").to_owned();
    let named = plain
        .replacen("1,", "2,", 1)
        .replace("Z,,on", &format!("Z,\"{step}\",on"));
    let log = Log::read(&format!("{HEADER}\r\n{plain}{named}"));
    assert!(log.damaged.is_empty(), "{:?}", log.damaged);
    let found = judged(&job, &Limited::of_job(&job), &log, &gate, &options());
    let [one] = found.as_slice() else {
        panic!("{found:?}");
    };
    assert_eq!(one.judgement.rows, [1, 2]);
    // Both were read before any row of the bring-up.
    let held = one.held.as_ref().expect("held");
    assert!(held.was_locked && held.step == step, "{held:?}");
}

/// Above the limit and no floor read: it may be the instrument's own, so nothing is said of what is there.
#[test]
fn what_may_be_the_instruments_own_is_not_said_to_be_beyond_the_limit() {
    let text = raw(50, &["on"])
        + AIR
        + LOAD
        + "[instrument.scope]\npart = \"oscilloscope, 8 bits, 100 MHz, 1x probe\"\n[[limit]]\nname = \"quiet\"\nof = \
           \"raw\"\nwhat = \"ripple\"\nband = \"10 Hz .. 100 kHz\"\nmax = \"200 µV\"\n";
    let job = read(&text);
    let row = "1,2026-11-20T10:00:00Z,,on,raw,ripple,330,µV,scope,,,1x probe,230,,,,\r\n";
    let log = Log::read(&format!("{HEADER}\r\n{row}"));
    let found = judged(
        &job,
        &Limited::of_job(&job),
        &log,
        &Gate::default(),
        &options(),
    );
    let [one] = found.as_slice() else {
        panic!("{found:?}");
    };
    assert_eq!(one.judgement.why, Why::FloorNotRead, "{one:?}");
    assert_ne!(one.easier, Some(Prospect::NotMet), "{one:?}");
}

/// An ammeter in the primary says nothing of the winding's rating; in the lead of a fuse it says what its rating is about.
#[test]
fn a_current_of_the_primary_proves_no_rating_of_a_secondary() {
    let text = raw(50, &["on"]).replace(
        "resistance = \"0.3 Ω\" }]",
        "resistance = \"0.3 Ω\", rated = \"1.5 A\" }]",
    ) + AIR
        + LOAD
        + "[fuse.F1]\nbetween = [\"inlet.live\", \"T1.primary.in\"]\nrated = \"200 mA time-lag\"\n[instrument.meter]\nkind = \
           \"multimeter\"\nac_current = { detector = \"true rms\", band = \"40 Hz .. 2 kHz\", ranges = [\"400 mA ±(1 % + 3)\"], burden = \
           \"1 Ω\" }\n";
    let job = read(&text);
    let proof = quietrail_study::prove::prove(&job, &options()).expect("a proof");
    let limits = Limited::of_findings(&proof.limits);
    for name in ["T1 S1 current", "F1 current"] {
        assert!(limits.iter().any(|one| one.name == name), "{limits:?}");
    }
    let of = |part: &str| {
        let row = format!("1,,,on,{part},rms current,40,mA,meter,,,clips,230,,,,\r\n");
        let log = Log::read(&format!("{HEADER}\r\n{row}"));
        assert!(log.damaged.is_empty(), "{:?}", log.damaged);
        let found = judged(&job, &limits, &log, &Gate::default(), &options());
        found.into_iter().map(|one| one.limit).collect::<Vec<_>>()
    };
    assert_eq!(of("T1"), Vec::<String>::new());
    assert_eq!(of("F1"), ["F1 current"]);
    // All diodes together are not each of them.
    assert_eq!(of("D1"), Vec::<String>::new());
}

/// With its leads the other way round an ammeter shows less than nothing, and the wire carries as much.
#[test]
fn a_current_counts_whichever_way_round_the_ammeter_was() {
    let text = raw(50, &["on"])
        + "[wire.W1]\nbetween = [\"far\", \"common\"]\nresistance = \"25 mΩ\"\n\
           [load.lamp]\nbetween = [\"raw\", \"far\"]\ndraws = { on = \"100 mA\" }\n\
           [instrument.meter]\nkind = \"multimeter\"\ndc_current = { ranges = [\"400 mA ±(1 % + 3)\"], burden = \"1 Ω\" }\n\
           [[limit]]\nname = \"wire\"\nof = \"W1\"\nwhat = \"current\"\nmax = \"90 mA\"\n";
    for reads in ["100", "-100"] {
        let row = format!("1,,,on,W1,current,{reads},mA,meter,,,in the lead,230,,,,\r\n");
        assert_eq!(judgement(&text, &row).shown, Shown::Fails, "{reads} mA");
    }
}

/// A fuse behind the reservoir carries 100 mA and next to no ripple: an ammeter for alternating current that shows 5 mA has shown nothing of
/// its rms, one that is coupled directly has.
#[test]
fn an_ammeter_for_alternating_current_leaves_the_direct_part_out() {
    let text = |coupling: &str, max: &str| {
        raw(50, &["on"])
            + AIR
            + "[fuse.F2]\nbetween = [\"raw\", \"mid\"]\nrated = \"1 A time-lag\"\n[load.lamp]\nat = \"mid\"\ndraws = { on = \"100 mA\" }\n"
            + &format!(
                "[instrument.meter]\nkind = \"multimeter\"\nac_current = {{ detector = \"true rms\", band = \"40 Hz .. 1 kHz\", ranges = [\"4 A \
                 ±0.1 mA\"]{coupling} }}\n[[limit]]\nname = \"behind\"\nof = \"F2\"\nwhat = \"rms current\"\nmax = \"{max}\"\n"
            )
    };
    let read = |amps: f64| {
        format!(
            "1,2026-11-20T10:00:00Z,,on,F2,rms current,{amps},A,meter,,,in its place,230,,,,\r\n"
        )
    };
    let found = judgement(&text("", "80 mA"), &read(0.005));
    assert_eq!(found.shown, Shown::NotShown, "{found:?}");
    let is_told =
        |taken: &Taken| matches!(taken, Taken::DirectLeftOut(amps) if (amps - 0.1).abs() < 1e-3);
    assert!(found.taken.iter().any(is_told), "{found:?}");
    // All of it, and twice the prediction at most.
    assert_eq!(
        judgement(&text("", "250 mA"), &read(0.005)).shown,
        Shown::Holds
    );
    let direct = ", coupling = \"dc\"";
    assert_eq!(
        judgement(&text(direct, "80 mA"), &read(0.1)).shown,
        Shown::Fails
    );
    assert_eq!(
        judgement(&text(direct, "120 mA"), &read(0.1)).shown,
        Shown::Holds
    );
}
