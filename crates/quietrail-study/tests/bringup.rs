//! The bring-up of whole jobs: what stands in the circuit while a meter reads, mains at its ends, clamps, soaks.

use quietrail_bench::log::{HEADER, Log, Observed};
use quietrail_job::model::{Job, What};
use quietrail_job::read;
use quietrail_study::bringup::{
    Beside, BringUp, Caution, Expectation, Fit, Settled, Step, bring_up, power_off,
};
use quietrail_study::gate::Why;
use quietrail_study::options;
use quietrail_study::prove::prove;

#[path = "bringup/causes.rs"]
mod causes;
#[path = "bringup/charge.rs"]
mod charge;
#[path = "bringup/forming.rs"]
mod forming;
#[path = "bringup/rails.rs"]
mod rails;
#[path = "bringup/warmth.rs"]
mod warmth;
#[path = "bringup/windings.rs"]
mod windings;

const HEAD: &str = r#"
format = 1
[mains]
voltage = "230 V ±10 %"
frequency = "50 Hz"
flatness = "0"
[states]
on = "working"
[box]
room = "25 °C"
rise = "0 K"
[transformer.T1]
primary = [{ name = "P1", volts = "230 V", resistance = "30 Ω" }]
secondary = [{ name = "S1", open = "18 V at 230 V", resistance = "0.3 Ω" }]
to_air = "4 K/W"
weight = "0.8 kg"
[rectifier.D1]
from = "T1.S1"
into = "raw"
form = "bridge"
diode = "silicon 3 A"
[capacitor.C1]
at = "raw"
value = "4700 µF"
esr = "50 mΩ"
[regulator.U1]
from = "raw"
into = "out"
set = { fixed = "12 V" }
dropout = ["1 V at 1 A"]
rejection = ["70 dB at 100 Hz"]
noise = { density = "25 nV/√Hz", corner = "200 Hz" }
output_resistance = "0 Ω"
quiescent = "5 mA"
limit = "2 A"
[capacitor.C2]
at = "out"
value = "10 µF"
esr = "0.1 Ω"
[instrument.meter]
kind = "multimeter"
dc = { ranges = ["40 V ±(0.5 % + 1)"] }
dc_current = { ranges = ["400 mA ±(1 % + 3)"], burden = "1.8 Ω" }
[[limit]]
name = "noise"
of = "out"
what = "noise"
band = "10 Hz .. 100 kHz"
max = "1 mV"
from = "own rule"
"#;

fn job(tail: &str) -> Job {
    let text = format!("{HEAD}\n{tail}");
    let reading = read(&text, None);
    let job = reading.job.filter(|_| {
        reading
            .diagnostics
            .iter()
            .all(|one| one.severity < quietrail_job::Severity::Error)
    });
    job.unwrap_or_else(|| panic!("{:?}", reading.diagnostics))
}

const LOAD: &str = "[load.lamp]\nat = \"out\"\ndraws = { on = \"120 Ω\" }\n";

fn all(job: &Job, log: &Log) -> BringUp {
    bring_up(job, log, None, &options()).expect("it is solved")
}

#[track_caller]
fn step<'a>(found: &'a BringUp, name: &str) -> &'a Step {
    let own = found.steps.iter().find(|step| step.name == name);
    own.unwrap_or_else(|| panic!("no step {name}"))
}

#[track_caller]
fn expected<'a>(step: &'a Step, of: &str, what: What) -> &'a Expectation {
    let own = step
        .expect
        .iter()
        .find(|one| one.of == of && one.what == Observed::Statistic(what));
    own.unwrap_or_else(|| panic!("nothing of {of} in {}", step.name))
}

#[test]
fn an_ammeter_is_in_the_circuit_while_it_reads_and_not_otherwise() {
    let found = all(&job(LOAD), &Log::default());
    let load = step(&found, "load connected");
    // MEAS-LOAD-01: 12 V over 120 Ω and a meter of 1.8 Ω.
    let amps = expected(load, "lamp", What::Current)
        .nominal
        .expect("there");
    // The regulator holds 12 V to two parts in ten thousand; the ratio below knows nothing of it.
    assert!((amps / 98.522_167_5e-3 - 1.0).abs() < 3e-4, "{amps}");
    let told = load.cautions.iter().find_map(|caution| match caution {
        Caution::Ammeter { of, volts, .. } if of == "lamp" => Some(*volts),
        _ => None,
    });
    assert!(
        (told.expect("there") / 177.339_901e-3 - 1.0).abs() < 1e-3,
        "{told:?}"
    );

    let without = HEAD.replace(", burden = \"1.8 Ω\"", "");
    let text = format!("{without}\n{LOAD}");
    let found = all(&read(&text, None).job.expect("there"), &Log::default());
    let alone = expected(step(&found, "load connected"), "lamp", What::Current);
    let alone = alone.nominal.expect("there");
    assert!((alone / 0.1 - 1.0).abs() < 3e-4, "{alone}");
    // MEAS-LOAD-01: −1.47783251 %.
    assert!(
        (amps / alone - 1.0 + 1.477_832_51e-2).abs() < 1e-6,
        "{}",
        amps / alone
    );
}

#[test]
fn noise_has_a_band_where_its_figures_are_known() {
    let job = job(LOAD);
    let found = all(&job, &Log::default());
    let noise = expected(step(&found, "load connected"), "out", What::Noise);
    let (low, nominal, high) = (
        noise.low.expect("there"),
        noise.nominal.expect("there"),
        noise.high.expect("there"),
    );
    assert!(low > 0.0 && low <= nominal && nominal <= high, "{noise:?}");
    let proof = prove(&job, &options()).expect("there");
    let predicted = proof
        .limits
        .iter()
        .find(|limit| limit.name == "noise")
        .expect("there");
    assert!(
        (nominal / predicted.nominal.expect("there") - 1.0).abs() < 1e-6,
        "{nominal}"
    );
}

#[test]
fn a_variable_transformer_sets_the_voltage_behind_it_whatever_the_outlet_has() {
    let plain = all(&job(LOAD), &Log::default());
    let with = format!("{LOAD}[bench]\nvariable_transformer = \"0 Ω\"\n");
    let varied = all(&job(&with), &Log::default());
    for name in ["over-voltage", "lowest mains"] {
        let one = expected(step(&plain, name), "raw", What::Mean)
            .nominal
            .expect("there");
        let other = expected(step(&varied, name), "raw", What::Mean)
            .nominal
            .expect("there");
        assert!((one / other - 1.0).abs() < 1e-6, "{name}: {one} {other}");
    }
}

#[test]
fn the_lowest_mains_is_where_the_raw_rail_is_lowest() {
    let found = all(&job(LOAD), &Log::default());
    let low = expected(step(&found, "lowest mains"), "raw", What::Mean);
    let any = expected(step(&found, "dummy load, on"), "raw", What::Mean);
    assert!(
        (low.low.expect("there") / any.low.expect("there") - 1.0).abs() < 1e-3,
        "{low:?} {any:?}"
    );
    assert!(
        low.high.expect("there") < any.nominal.expect("there"),
        "{low:?} {any:?}"
    );
}

#[test]
fn a_clamp_is_proven_before_the_load_goes_in() {
    let rated =
        "[load.lamp]\nat = \"out\"\ndraws = { on = \"120 Ω\" }\nrated = { volts = \"15 V\" }\n";
    let found = all(
        &job(&format!("{rated}clamp = \"13.5 V .. 15.5 V\"\n")),
        &Log::default(),
    );
    let names: Vec<&str> = found.steps.iter().map(|step| step.name.as_str()).collect();
    assert_eq!(&names[names.len() - 2..], ["clamp", "load connected"]);
    let clamp = expected(step(&found, "clamp"), "clamp at lamp", What::Mean);
    // What the pins bear ends the band before the clamp's own tolerance does.
    assert_eq!((clamp.low, clamp.high), (Some(13.5), Some(15.0)));
    assert!(clamp.is_awaited);
    let load = step(&found, "load connected");
    assert!(load.locked_by.iter().any(|lock| lock.of == "clamp at lamp"));
    assert!(
        !load
            .cautions
            .iter()
            .any(|one| matches!(one, Caution::NoClamp { .. }))
    );

    let bare = all(&job(rated), &Log::default());
    let load = step(&bare, "load connected");
    assert!(load.cautions.contains(&Caution::NoClamp {
        loads: vec!["lamp".to_owned()]
    }));
}

#[test]
fn a_soak_ends_when_its_readings_say_so() {
    let job = job(LOAD);
    let soak = |rows: &str| {
        let found = all(&job, &Log::read(&format!("{HEADER}\r\n{rows}")));
        let own = step(&found, "soak")
            .settling
            .iter()
            .find(|one| one.of == "T1");
        own.expect("there").clone()
    };
    let nothing = soak("");
    assert_eq!(nothing.read, None);
    // Three time constants of 0.8 kg, 440 J/(kg K), 4 K/W.
    assert!((nothing.by_weight.expect("there") - 3.0 * 0.8 * 440.0 * 4.0).abs() < 1e-6);
    // 24 °C rising by 30 K with 20 minutes: 30 (1 − e^(−t/20)) by hand at 0, 10, 25 min.
    let row = |number: u32, minute: u32, celsius: f64| {
        format!(
            "{number},2026-11-20T10:{minute:02}:00Z,soak,on,T1,temperature,{celsius:.3},°C,meter,,,on the core,,,,,\r\n"
        )
    };
    let two = row(1, 0, 24.0) + &row(2, 10, 35.804);
    assert_eq!(soak(&two).read, Some(Settled::TooFew(2)));
    let three = two + &row(3, 25, 45.405);
    let Some(Settled::Ends {
        end,
        tau,
        left,
        wait,
    }) = soak(&three).read
    else {
        panic!("no end: {:?}", soak(&three));
    };
    assert!(
        (end - 54.0).abs() < 0.05 && (tau - 1200.0).abs() < 6.0,
        "{end} {tau}"
    );
    assert!((left - 8.595).abs() < 0.05, "{left}");
    // 20 ln 30 min after the start one kelvin is left.
    assert!(
        (wait - (1200.0 * 30f64.ln() - 1500.0)).abs() < 20.0,
        "{wait}"
    );
}

#[test]
fn what_an_instrument_reads_of_itself_does_not_make_a_reading_wrong() {
    let scope = "[instrument.scope]\npart = \"oscilloscope, 8 bits, 100 MHz, 1x probe\"\n";
    let job = job(&format!("{LOAD}{scope}"));
    let row = |value: &str| {
        let rows =
            format!("1,,\"dummy load, on\",on,out,ripple,{value},µV,scope,8 mV,,1x probe,,,,,\r\n");
        let found = all(&job, &Log::read(&format!("{HEADER}\r\n{rows}")));
        expected(step(&found, "dummy load, on"), "out", What::Ripple).clone()
    };
    // Its floor is 360 µV; the ripple that is predicted is a small part of that.
    let quiet = row("370");
    assert!(quiet.high.expect("a band") < 100e-6, "{quiet:?}");
    assert_eq!(quiet.readings[0].fit, Fit::Unclear, "{quiet:?}");
    assert!(matches!(row("2000").readings[0].fit, Fit::Above(_)));
}

/// A divider of 1 MΩ and 1 MΩ on the regulated rail, which a meter of 10 MΩ reads.
const DIVIDER: &str = "[resistor.Ra]\nbetween = [\"out\", \"tap\"]\nvalue = \"1 MΩ\"\n\
     [resistor.Rb]\nat = \"tap\"\nvalue = \"1 MΩ\"\n\
     [[limit]]\nname = \"tap\"\nof = \"tap\"\nwhat = \"mean\"\nmax = \"7 V\"\nfrom = \"own rule\"\n";

fn with_input(input: &str) -> Job {
    let meter = "dc = { ranges = [\"40 V ±(0.5 % + 1)\"] }";
    let loaded = format!(
        "dc = {{ ranges = [\"40 V ±(0.5 % + 1)\"], input = \"{input}\", band = \"0 Hz .. 10 Hz\" }}"
    );
    let text = format!("{}\n{LOAD}{DIVIDER}", HEAD.replace(meter, &loaded));
    let reading = read(&text, None);
    reading
        .job
        .unwrap_or_else(|| panic!("{:?}", reading.diagnostics))
}

#[test]
fn a_voltmeter_loads_what_it_reads() {
    let mean = |job: &Job| {
        let found = all(job, &Log::default());
        let load = step(&found, "load connected");
        let told = load
            .cautions
            .iter()
            .any(|one| matches!(one, Caution::Input { of, .. } if of == "tap"));
        let tap = expected(load, "tap", What::Mean).clone();
        (tap.nominal.expect("there"), told, tap)
    };
    let (alone, told, _) = mean(&job(&format!("{LOAD}{DIVIDER}")));
    assert!(!told, "nothing is said where the input is not given");
    assert!((alone / 6.0 - 1.0).abs() < 3e-4, "{alone}");
    // The source of the tap is 0.5 MΩ: by hand 10 / 10.5 of it is left. MEAS-LOAD-02 has the same formula at 1 MΩ.
    let (loaded, told, tap) = mean(&with_input("10 MΩ 100 pF"));
    assert!(told);
    assert!(
        (loaded / alone - 10.0 / 10.5).abs() < 1e-6,
        "{loaded} {alone}"
    );
    assert!(tap.low.expect("there") < loaded && loaded < tap.high.expect("there") + 1e-9);
    // 0.5 MΩ over 10 kΩ and more: a probe of little resistance.
    let (loaded, told, _) = mean(&with_input("500 kΩ 10 pF"));
    assert!(told && (loaded / alone - 0.5).abs() < 1e-6, "{loaded}");
    // The stiff rail feels nothing of either.
    let found = all(&with_input("10 MΩ 100 pF"), &Log::default());
    let out = expected(step(&found, "load connected"), "raw", What::Mean);
    let plain = all(&job(&format!("{LOAD}{DIVIDER}")), &Log::default());
    let before = expected(step(&plain, "load connected"), "raw", What::Mean);
    assert_eq!(out.nominal, before.nominal);
}

#[test]
fn an_ammeter_stands_in_the_lead_of_any_part() {
    use quietrail_study::bringup::{At, Book, band_at, planned};
    let read_at = |job: &Job, of: &str, ammeter: Option<(&str, f64)>| {
        let steps = planned(job);
        let load = steps
            .iter()
            .find(|step| step.name == "load connected")
            .expect("there");
        let at = At {
            mains: Some(230.0),
            ammeter,
            ..At::default()
        };
        let mean = Observed::Statistic(What::Mean);
        let band =
            band_at((&Book::default(), job), load, of, mean, at, &options()).expect("solved");
        band.expect("there").0
    };
    let plain = job(LOAD);
    let alone = read_at(&plain, "raw", None);
    // The same ohms drawn as a resistor in that lead.
    for (part, drawn, between) in [
        ("U1", "from = \"raw\"", "[\"raw\", \"lead\"]"),
        ("D1", "into = \"raw\"", "[\"lead\", \"raw\"]"),
    ] {
        let lead = drawn.replace("raw", "lead");
        let tail = format!(
            "{LOAD}[resistor.R1]\nbetween = {between}\nvalue = \"1.8 Ω\"\n\
             [[limit]]\nname = \"raw\"\nof = \"raw\"\nwhat = \"mean\"\nmax = \"40 V\"\nfrom = \"own rule\"\n"
        );
        let text = format!("{}\n{tail}", HEAD.replacen(drawn, &lead, 1));
        let reading = read(&text, None);
        let other = reading
            .job
            .unwrap_or_else(|| panic!("{:?}", reading.diagnostics));
        let (metered, drawn) = (
            read_at(&plain, "raw", Some((part, 1.8))),
            read_at(&other, "raw", None),
        );
        assert!(
            (metered / drawn - 1.0).abs() < 1e-6,
            "{part}: {metered} {drawn}"
        );
        assert!(
            (metered - alone).abs() > 1e-6,
            "{part} is felt: {metered} {alone}"
        );
    }
    // In the primary more ohms leave less.
    let primary = read_at(&plain, "raw", Some(("T1", 30.0)));
    let more = read_at(&plain, "raw", Some(("T1", 60.0)));
    assert!(
        alone > primary && primary > more,
        "{alone} {primary} {more}"
    );
}

const SECOND: &str = r#"
[transformer.T2]
primary = [{ name = "P1", volts = "115 V", resistance = "40 Ω" }, { name = "P2", volts = "115 V", resistance = "40 Ω" }]
selector = { "230 V" = "P1 + P2", "115 V" = "P1 | P2" }
secondary = [{ name = "S1", open = "9 V at 230 V", resistance = "0.5 Ω" }]
[rectifier.D2]
from = "T2.S1"
into = "aux"
form = "bridge"
diode = "silicon 3 A"
[capacitor.C3]
at = "aux"
value = "2200 µF"
esr = "50 mΩ"
[load.fan]
at = "aux"
draws = { on = "150 mA" }
"#;

#[test]
fn an_ammeter_in_one_of_two_transformers_leaves_the_other_alone() {
    use quietrail_study::bringup::{At, Book, band_at, planned};
    let job = job(&format!("{LOAD}{SECOND}"));
    let steps = planned(&job);
    let load = steps
        .iter()
        .find(|step| step.name == "load connected")
        .expect("there");
    let mean = |of: &str, ammeter: Option<(&str, f64)>| {
        let at = At {
            mains: Some(230.0),
            ammeter,
            ..At::default()
        };
        let what = Observed::Statistic(What::Mean);
        band_at((&Book::default(), &job), load, of, what, at, &options())
            .expect("solved")
            .expect("there")
            .0
    };
    let with = Some(("T2", 40.0));
    assert!((mean("raw", with) / mean("raw", None) - 1.0).abs() < 1e-9);
    assert!(mean("aux", with) < mean("aux", None) - 0.01);
}

#[test]
fn the_primary_current_is_that_of_all_halves_in_parallel() {
    let amps = |at: &str, volts: &str| {
        let text = format!("{HEAD}\n{LOAD}{SECOND}")
            .replace(
                "voltage = \"230 V ±10 %\"",
                &format!("voltage = \"{volts}\""),
            )
            .replace(
                "}\nsecondary = [{ name = \"S1\", open = \"9 V",
                &format!("}}\nselected = \"{at}\"\nsecondary = [{{ name = \"S1\", open = \"9 V"),
            )
            // T1 on either mains: its turns do not matter here.
            .replace(
                "volts = \"230 V\", resistance = \"30 Ω\"",
                &format!("volts = \"{volts}\", resistance = \"30 Ω\""),
            );
        let reading = read(&text, None);
        let job = reading
            .job
            .unwrap_or_else(|| panic!("{:?}", reading.diagnostics));
        let found = all(&job, &Log::default());
        let step = step(&found, "transformer on mains");
        let own = expected(step, "T2", What::RmsCurrent).nominal;
        own.expect("there")
    };
    // The same ampere-turns in each half: twice the current at half the voltage.
    let (series, parallel) = (amps("230 V", "230 V"), amps("115 V", "115 V"));
    assert!(
        (parallel / series - 2.0).abs() < 0.05,
        "{series} {parallel}"
    );
}

#[track_caller]
fn pin(job: &Job, of: &str) -> Expectation {
    let mut own = power_off(job).into_iter();
    own.find(|one| one.of == of && one.what == Observed::Resistance)
        .unwrap_or_else(|| panic!("no row {of}"))
}

/// By hand: a steady current I through C makes V = I t / C, so that an ohmmeter shows t / C, whatever its current: 1 kΩ every 4.7 s for
/// 4700 µF. No bench sees a megohm there, which takes 78 minutes.
#[test]
fn across_a_reservoir_no_megohm_is_expected() {
    let bare = job(LOAD);
    let raw = pin(&bare, "raw");
    assert_eq!((raw.low, raw.high), (Some(100.0), None));
    let climbs = Beside::Climbs {
        parts: vec!["C1".to_owned()],
        farads: 4700e-6,
    };
    let inside = Beside::Inside {
        parts: vec!["U1".to_owned()],
    };
    assert_eq!(raw.beside, [climbs, inside.clone()]);
    let out = pin(&bare, "out");
    assert_eq!(
        out.low,
        Some(100.0),
        "a fixed regulator has a divider inside"
    );
    assert!(out.beside.contains(&inside), "{:?}", out.beside);
    // A bleeder is what is read, after three times 1 kΩ · 4700 µF.
    let bled = job(&format!(
        "{LOAD}[resistor.R1]\nat = \"raw\"\nvalue = \"1 kΩ ±5 %\"\n"
    ));
    let raw = pin(&bled, "raw");
    assert_eq!(raw.nominal.map(f64::round), Some(1000.0));
    let settles = Beside::Settles {
        parts: vec!["C1".to_owned()],
        seconds: 3.0 * 1e3 * 4700e-6,
    };
    let through = Beside::Through {
        parts: vec!["R1".to_owned()],
    };
    assert_eq!(raw.beside[0], through);
    match (&raw.beside[1], settles) {
        (
            Beside::Settles { parts, seconds },
            Beside::Settles {
                parts: own,
                seconds: wanted,
            },
        ) => assert!(*parts == own && (seconds - wanted).abs() < 1e-3),
        (other, _) => panic!("{other:?}"),
    }
    // The divider of an adjustable one stands across its output: 121 Ω and 1.05 kΩ.
    let text = HEAD.replace(
        "set = { fixed = \"12 V\" }",
        "set = { reference = \"1.25 V\", across = \"upper\", upper = \"121 Ω\", lower = \"1.05 kΩ\", adjust = \"50 µA\" }",
    );
    let adjustable = read(&format!("{text}\n{LOAD}"), None);
    let adjustable = adjustable
        .job
        .unwrap_or_else(|| panic!("{:?}", adjustable.diagnostics));
    let out = pin(&adjustable, "out");
    assert_eq!(out.nominal.map(f64::round), Some(1171.0), "{out:?}");
    assert!(out.low.is_some_and(|low| low < 1171.0) && out.high.is_some_and(|high| high > 1171.0));
}

/// Rows of the log for the steps up to the raw rail: everything read as it should be, whatever it is.
fn up_to_raw(job: &Job) -> String {
    let mut rows = String::new();
    let mut number = 0;
    let found = all(job, &Log::default());
    for step in found.steps.iter().take_while(|step| step.name != RAW) {
        for one in step.expect.iter().filter(|one| one.is_awaited) {
            number += 1;
            let value = match one.what {
                Observed::Check => 1.0,
                Observed::Resistance if one.safety.is_some() => 0.04,
                Observed::Insulation => 2e8,
                _ => one.nominal.unwrap_or(1.0),
            };
            rows.push_str(&row(number, &step.name, one, value));
        }
    }
    rows
}

fn row(number: usize, step: &str, one: &Expectation, value: f64) -> String {
    format!(
        "{number},,{step},,\"{}\",{},{value},{},meter,,,clips,,,,,\r\n",
        one.of,
        one.what.word(),
        one.unit
    )
}

const RAW: &str = "raw on a dummy load";

/// The stop rule of a powered step: "any reading outside its band: go no further". It holds for rows that nothing waits for too.
#[test]
fn a_powered_step_outside_its_band_locks_what_follows() {
    let job = job(LOAD);
    let before = up_to_raw(&job);
    let count = before.lines().count();
    let of = |rows: &str| all(&job, &Log::read(&format!("{HEADER}\r\n{rows}")));
    let clean = of(&before);
    let raw = step(&clean, RAW);
    assert!(raw.is_open(), "{:?}", raw.locked_by);
    let ripple = expected(raw, "raw", What::RipplePeakToPeak);
    let mean = expected(raw, "raw", What::Mean);
    assert!(!ripple.is_awaited && mean.is_awaited);
    let good = row(count + 1, RAW, mean, mean.nominal.expect("a band"));
    let next = "board without load";
    assert!(step(&of(&(before.clone() + &good)), next).is_open());

    // Twice its highest: nothing waits for it, and all the same the board stays off.
    let twice = 2.0 * ripple.high.expect("a band");
    let with = before + &good + &row(count + 2, RAW, ripple, twice);
    let found = of(&with);
    let locked = step(&found, next);
    assert!(!locked.is_open());
    let [lock] = locked.locked_by.as_slice() else {
        panic!("{:?}", locked.locked_by);
    };
    assert_eq!((lock.of.as_str(), lock.why), ("raw", Why::DoesNotFit));
    assert_eq!(lock.row, Some(count as u64 + 2));
    assert!(step(&found, RAW).is_open(), "its own step may be repeated");

    // A reason goes past what stood there when it was written, and not past what is read later.
    let reason = |number: usize| {
        format!("{number},,{next},,{next},override,1,,,,,,,,,,the dummy is inductive\r\n")
    };
    let gone = with.clone() + &reason(count + 3);
    assert!(step(&of(&gone), next).is_open());
    let again = gone + &row(count + 4, RAW, mean, 0.5 * mean.low.expect("a band"));
    assert!(!step(&of(&again), next).is_open());
    let once_more = again + &reason(count + 5);
    assert!(step(&of(&once_more), next).is_open());
    // Read again within its band, it locks nothing.
    let mended = with + &row(count + 3, RAW, ripple, ripple.nominal.expect("a band"));
    assert!(step(&of(&mended), next).is_open());
}

/// A correction stands where the slip stood: what was read after the slip was read after the right value.
#[test]
fn a_corrected_slip_does_not_lock_what_was_read_after_it() {
    let job = job(LOAD);
    let before = up_to_raw(&job);
    let count = before.lines().count();
    let clean = all(&job, &Log::read(&format!("{HEADER}\r\n{before}")));
    let mean = expected(step(&clean, RAW), "raw", What::Mean).clone();
    let board = expected(step(&clean, "board without load"), "out", What::Mean).clone();
    let slip = row(count + 1, RAW, &mean, 0.1 * mean.nominal.expect("a band"));
    let after = row(
        count + 2,
        "board without load",
        &board,
        board.nominal.expect("a band"),
    );
    let of = |rows: &str| {
        let found = all(&job, &Log::read(&format!("{HEADER}\r\n{rows}")));
        expected(step(&found, "board without load"), "out", What::Mean).readings[0].is_held
    };
    let with_slip = before + &slip + &after;
    assert!(of(&with_slip));
    let right = row(count + 3, RAW, &mean, mean.nominal.expect("a band"));
    assert!(
        of(&(with_slip.clone() + &right)),
        "read anew, it comes after"
    );
    let corrects = right.replace(",,,,,\r\n", &format!(",,,,{},\r\n", count + 1));
    assert!(!of(&(with_slip + &corrects)));
}

/// At 230 V neither the lowest nor the highest mains was tried: such a reading is compared where it was taken, and the row stays.
#[test]
fn a_step_for_an_end_of_the_mains_is_read_there() {
    let job = job(LOAD);
    let clean = all(&job, &Log::default());
    for (name, end, near, next) in [
        ("lowest mains", 207.0, 208.5, "soak"),
        ("over-voltage", 253.0, 251.0, "load connected"),
    ] {
        let one = expected(step(&clean, name), "out", What::Mean);
        let at = |volts: &str, value: f64| {
            let row = row(1, name, one, value);
            let row = row.replace(",clips,,", &format!(",clips,{volts},"));
            let found = all(&job, &Log::read(&format!("{HEADER}\r\n{row}")));
            let own = expected(step(&found, name), "out", What::Mean).clone();
            let locks = step(&found, next).locked_by.clone();
            let mut locks = locks.into_iter();
            let lock = locks.find(|lock| lock.step == name && lock.of == "out");
            (own, lock.map(|lock| lock.why))
        };
        let (short, why) = at("230", 12.0);
        let found = short.readings[0].short_of_end.expect("short of the end");
        assert_eq!((found.read, found.end), (Some(230.0), end));
        assert!(!short.readings[0].fit.is_outside(), "{short:?}");
        assert!(short.is_to_be_read() && short.last().is_none());
        assert_eq!(why, Some(Why::ReadAgain), "{name}");
        // Outside its band it is a failure wherever it was taken.
        let (_, why) = at("230", 3.0);
        assert_eq!(why, Some(Why::DoesNotFit), "{name}");
        // Nobody looked at the mains: it may have been anywhere in its range, and is compared with all of it.
        let (unread, why) = at("", 12.0);
        let found = unread.readings[0]
            .short_of_end
            .expect("not known to be at the end");
        assert_eq!((found.read, found.end), (None, end));
        assert!(unread.is_to_be_read() && unread.last().is_none());
        assert_eq!(why, Some(Why::ReadAgain), "{name}");
        let (_, why) = at("", 3.0);
        assert_eq!(why, Some(Why::DoesNotFit), "{name}");
        let raw = expected(step(&clean, name), "raw", What::Mean);
        let row = row(
            1,
            name,
            raw,
            raw.nominal.expect("there") * if end > 230.0 { 0.9 } else { 1.1 },
        );
        let found = all(&job, &Log::read(&format!("{HEADER}\r\n{row}")));
        let raw = expected(step(&found, name), "raw", What::Mean).readings[0].fit;
        assert_eq!(
            raw,
            Fit::Fits,
            "{name}: read at another mains, it is not outside"
        );
        let (own, _) = at(&near.to_string(), 12.0);
        assert_eq!(own.readings[0].short_of_end, None);
        assert!(!own.is_to_be_read());
    }
}

/// What limits ask of a rail is read on dummies too, before the load is there; what is of the load, with it alone.
#[test]
fn limits_of_rails_are_read_before_the_load_is_connected() {
    let tail = format!(
        "{LOAD}[[limit]]\nname = \"lamp current\"\nof = \"lamp\"\nwhat = \"current\"\nmax = \"110 mA\"\n[[limit]]\nname = \"hot \
         core\"\nof = \"T1\"\nwhat = \"temperature\"\nmax = \"90 °C\"\n"
    );
    let found = all(&job(&tail), &Log::default());
    let lists = |name: &str, of: &str, what: What| {
        let mut own = step(&found, name).expect.iter();
        own.any(|one| one.of == of && one.what == Observed::Statistic(what))
    };
    assert!(lists("dummy load, on", "out", What::Noise));
    assert!(lists("soak", "T1", What::Temperature));
    assert!(!lists("dummy load, on", "lamp", What::Current));
    assert!(lists("load connected", "lamp", What::Current));
}

/// A reading that names no step stands at the row that it counts for, of the first step with the whole board in its state, and at no other.
#[test]
fn a_reading_without_a_step_stands_at_its_row() {
    let rows = "1,,,on,out,mean,12.0,V,meter,40 V,,probe,230,,,,\n2,,,on,out,mean,0.0,V,meter,40 V,,shorted,230,,,,\n";
    let found = all(&job(LOAD), &Log::read(&format!("{HEADER}\n{rows}")));
    let rows = found
        .steps
        .iter()
        .flat_map(|step| step.expect.iter().map(move |one| (step, one)));
    let read: Vec<_> = rows
        .flat_map(|(step, one)| one.readings.iter().map(|own| (step.name.as_str(), own.row)))
        .collect();
    assert_eq!(read, [("dummy load, on", 1)]);
}
