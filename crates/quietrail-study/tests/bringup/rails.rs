//! Reservoirs under common, rails behind transistors and shunts, and which instrument suits which row.

use super::{HEAD, LOAD, all, job, step};
use quietrail_bench::log::{HEADER, Log, MORE_THAN, Observed};
use quietrail_job::model::{Job, What};
use quietrail_job::read;
use quietrail_study::bringup::{Caution, Fit, power_off};

/// Two reservoirs on a tapped winding, the lower one under common.
fn split() -> Job {
    let text = HEAD
        .replace(
            "open = \"18 V at 230 V\"",
            "open = \"36 V at 230 V\", taps = { ct = \"50 %\" }",
        )
        .replace("form = \"bridge\"", "form = \"split\"\nnegative = \"neg\"");
    let tail = "[capacitor.C9]\nbetween = [\"common\", \"neg\"]\nvalue = \"4700 µF\"\nesr = \"50 mΩ\"\n\
        [load.below]\nbetween = [\"common\", \"neg\"]\ndraws = { on = \"100 mA\" }\n";
    let reading = read(&format!("{text}\n{LOAD}{tail}"), None);
    reading
        .job
        .unwrap_or_else(|| panic!("{:?}", reading.diagnostics))
}

/// What is stored under common bites as well: a row at every step where the reservoir above has one, its caution, its dummy.
#[test]
fn a_reservoir_under_common_has_its_rows_and_its_caution() {
    let job = split();
    let found = all(&job, &Log::default());
    let mut rows = 0;
    for step in &found.steps {
        let of = |name: &str, what: What| {
            let mut own = step.expect.iter();
            own.find(|one| one.of == name && one.what == Observed::Statistic(what))
        };
        for what in [What::Mean, What::RipplePeakToPeak] {
            let (above, below) = (of("raw", what), of("neg", what));
            assert_eq!(above.is_some(), below.is_some(), "{}", step.name);
            let (Some(above), Some(below)) = (above, below) else {
                continue;
            };
            assert_eq!(above.is_awaited, below.is_awaited, "{}", step.name);
            rows += 1;
            let below = below.high.expect("there");
            if what == What::Mean {
                // Half of 36 V rms on either side, at most the crest of 110 % of that.
                assert!(below < 0.0 && below > -28.1, "{}: {below}", step.name);
            }
        }
        let charged = |part: &str| {
            let mut all = step.cautions.iter();
            all.any(|one| matches!(one, Caution::Charge { part: own, .. } if own == part))
        };
        assert_eq!(charged("C1"), charged("C9"), "{}", step.name);
    }
    assert!(rows > 8, "{rows}");
    let dummies = &step(&found, "raw on a dummy load").dummies;
    let own = dummies
        .iter()
        .find(|one| one.minus == "neg")
        .expect("there");
    // 25.5 V of crest for 100 mA: the nearest of twelve is 270 Ω.
    assert_eq!((own.plus.as_str(), own.ohms), ("common", 270.0));
    assert!(power_off(&job).iter().any(|one| one.of == "common,neg"));
}

/// A reservoir is loaded with what is drawn from it, also through a choke, and under common through the resistor of a shunt; what
/// that shunt holds is what its dummy is for.
#[test]
fn a_dummy_stands_for_all_that_hangs_behind_a_reservoir() {
    let text = HEAD
        .replace(
            "open = \"18 V at 230 V\"",
            "open = \"36 V at 230 V\", taps = { ct = \"50 %\" }",
        )
        .replace("form = \"bridge\"", "form = \"split\"\nnegative = \"neg\"")
        .replace(
            "[regulator.U1]\nfrom = \"raw\"",
            "[regulator.U1]\nfrom = \"mid\"",
        );
    let tail = "[inductor.L1]\nbetween = [\"raw\", \"mid\"]\nvalue = \"2 mH\"\nresistance = \"0.3 Ω\"\n\
        [capacitor.C8]\nat = \"mid\"\nvalue = \"1000 µF\"\nesr = \"0.1 Ω\"\n\
        [capacitor.C9]\nbetween = [\"common\", \"neg\"]\nvalue = \"1000 µF\"\nesr = \"0.1 Ω\"\n\
        [resistor.R9]\nbetween = [\"neg\", \"bias\"]\nvalue = \"1k\"\n\
        [shunt.Z1]\nbetween = [\"common\", \"bias\"]\nfixed = \"5.1 V\"\nresistance = \"12 Ω\"\n\
        [load.bias]\nbetween = [\"common\", \"bias\"]\ndraws = { on = \"3 mA\" }\n";
    let reading = read(&format!("{text}\n{LOAD}{tail}"), None);
    let job = reading
        .job
        .unwrap_or_else(|| panic!("{:?}", reading.diagnostics));
    let found = all(&job, &Log::default());
    let ends = |name: &str| -> Vec<(String, String, f64)> {
        let dummies = step(&found, name).dummies.iter();
        dummies
            .map(|one| (one.plus.clone(), one.minus.clone(), one.ohms))
            .collect()
    };
    let own = |plus: &str, minus: &str, ohms: f64| (plus.to_owned(), minus.to_owned(), ohms);
    // 25.5 V of crest for 100 mA and for 3 mA, then 12 V and 5.1 V for the same, each to the nearest of twelve in a decade.
    assert_eq!(
        ends("raw on a dummy load"),
        [own("raw", "common", 270.0), own("common", "neg", 8200.0)]
    );
    assert_eq!(
        ends("dummy load, on"),
        [own("out", "common", 120.0), own("common", "bias", 1800.0)]
    );
    // It has one name in every step that reads it, with volts or with ripple.
    let mut read = 0;
    for one in found.steps.iter().flat_map(|step| &step.expect) {
        let is_volts = matches!(one.what, Observed::Statistic(What::Mean | What::Ripple));
        if is_volts && one.of.contains("bias") {
            assert_eq!(one.of, "bias");
            read += 1;
        }
    }
    assert!(read > 3, "{read}");
}

/// A fuse behind the reservoir leads to the loads as a wire does, and the mains is not on it. What hangs on two regulators in a row counts.
#[test]
fn a_fuse_behind_the_reservoir_is_on_the_way_and_not_on_the_mains() {
    let text = HEAD.replace(
        "[regulator.U1]\nfrom = \"raw\"",
        "[regulator.U1]\nfrom = \"fused\"",
    );
    let tail = "[fuse.F1]\nbetween = [\"inlet.live\", \"T1.primary.in\"]\nrated = \"250 mA time-lag\"\n\
        [resistor.R7]\nbetween = [\"T1.primary.out\", \"inlet.neutral\"]\nvalue = \"10 Ω\"\n\
        [fuse.F2]\nbetween = [\"raw\", \"fused\"]\nrated = \"1 A time-lag\"\n\
        [regulator.U2]\nfrom = \"out\"\ninto = \"low\"\nset = { fixed = \"5 V\" }\ndropout = [\"1 V at 1 A\"]\n\
        rejection = [\"60 dB at 100 Hz\"]\nlimit = \"1 A\"\nquiescent = \"0 A\"\n\
        [load.logic]\nat = \"low\"\ndraws = { on = \"50 mA\" }\n";
    let reading = read(&format!("{text}\n{LOAD}{tail}"), None);
    let job = reading
        .job
        .unwrap_or_else(|| panic!("{:?}", reading.diagnostics));
    let found = all(&job, &Log::default());
    let dummies = &step(&found, "raw on a dummy load").dummies;
    // 25.5 V of crest for 150 mA.
    assert_eq!(dummies.len(), 1);
    assert_eq!((dummies[0].plus.as_str(), dummies[0].ohms), ("raw", 180.0));
    let at: Vec<_> = step(&found, "dummy load, on")
        .cautions
        .iter()
        .filter_map(|one| match one {
            Caution::Mains { at } => Some(at.join(" ")),
            _ => None,
        })
        .collect();
    assert_eq!(at, ["inlet T1 F1 R7"]);
}

/// The two capacitors of a doubler are its reservoir, between its outer ends: a resistor to the base of a follower with a capacitor
/// there leads away from it.
#[test]
fn the_reservoir_of_a_doubler_is_at_its_outer_ends() {
    let text = HEAD
        .replace("form = \"bridge\"", "form = \"doubler\"\nmiddle = \"mid\"")
        .replace(
            "[capacitor.C1]\nat = \"raw\"",
            "[capacitor.C1]\nbetween = [\"raw\", \"mid\"]",
        );
    let tail = "[capacitor.C9]\nat = \"mid\"\nvalue = \"4700 µF\"\nesr = \"50 mΩ\"\n\
        [resistor.R9]\nbetween = [\"raw\", \"base\"]\nvalue = \"1k\"\n\
        [capacitor.C8]\nat = \"base\"\nvalue = \"100 µF\"\nesr = \"0.3 Ω\"\n\
        [shunt.Z1]\nat = \"base\"\nfixed = \"16 V\"\nresistance = \"15 Ω\"\n";
    let reading = read(&format!("{text}\n{LOAD}{tail}"), None);
    let job = reading
        .job
        .unwrap_or_else(|| panic!("{:?}", reading.diagnostics));
    let found = all(&job, &Log::default());
    let raw = step(&found, "raw on a dummy load");
    let ends: Vec<_> = raw
        .dummies
        .iter()
        .map(|one| (&*one.plus, one.ohms))
        .collect();
    // Twice 25.5 V for 100 mA is 510 Ω: the nearest of twelve.
    assert_eq!(ends, [("raw", 470.0)]);
    let mean = raw.expect.iter().find(|one| one.of == "raw");
    let low = mean.and_then(|one| one.low).expect("it is expected");
    assert!(low > 36.0, "{low}");
    // The long section draws both.
    let section = &quietrail_study::descent::sections(&job)[0];
    assert_eq!(section.reservoirs, ["C1", "C9"]);
}

/// A resistor stands in one place at a time, and one that bears the watts is taken before a nearer one that does not; `m` for `M`
/// is asked about.
#[test]
fn a_resistor_of_the_bench_is_used_once() {
    use quietrail_study::bringup::{best_dummy, meant};
    let two = "[load.lamp]\nat = \"out\"\ndraws = { on = \"120 Ω\" }\n[load.more]\nat = \"out\"\ndraws = { on = \"100 mA\" }\n\
        [bench]\nresistors = [\"120 Ω 5 W\", \"100 Ω 5 W\"]\n";
    let job = job(two);
    let found = all(&job, &Log::default());
    let dummies = &step(&found, "dummy load, on").dummies;
    let made_of: Vec<f64> = dummies.iter().flat_map(|one| one.made_of.clone()).collect();
    assert_eq!(made_of, [120.0, 100.0]);
    let (ohms, ..) = best_dummy(&job.on_hand, 140.0, 60.0).expect("one is near");
    assert_eq!(
        ohms, 120.0,
        "25.7 W or 30 W on 5 W: neither bears it, the nearer is taken"
    );
    let off = power_off(&job);
    let row = off
        .iter()
        .find(|one| one.what == Observed::Insulation)
        .expect("there");
    assert_eq!(meant(row, 0.15), Some(0.15e9));
    assert_eq!(meant(row, 150e3), None, "that may be the fault");
}

/// What an ohmmeter shows as its end is more than that: within a band above it, it shows nothing.
#[test]
fn more_than_the_meter_shows_is_told_from_the_value() {
    use quietrail_study::bringup::{end_shown, fit_of, is_overload, suited, suits};
    let tail = "[instrument.bond]\nkind = \"multimeter\"\nresistance = { ranges = [\"2 Ω ±(1 % + 5)\"] }\n\
        [instrument.ohms]\nkind = \"multimeter\"\nresistance = { ranges = [\"400 Ω ±(1 % + 3)\", \"40 MΩ ±(2 % + 5)\"] }\n\
        [instrument.iso]\npart = \"insulation tester, 500 V\"\n";
    let job = job(&format!("{LOAD}{tail}"));
    let more = |row: u64, value: &str| {
        format!("{row},,power off,,raw,resistance,{value},Ω,ohms,,,clips,,,,,{MORE_THAN}\n")
    };
    let log = Log::read(&format!("{HEADER}\n{}{}", more(1, "40"), more(2, "400")));
    let off = power_off(&job);
    let of = |name: &str| off.iter().find(|one| one.of == name).expect("there");
    // At least 100 Ω: more than 40 Ω may be that or not, more than 400 Ω is.
    assert_eq!(fit_of(of("raw"), &log.rows[0], None), Fit::MoreThan);
    assert_eq!(fit_of(of("raw"), &log.rows[1], None), Fit::Fits);
    assert!(of("T1 primary").high.is_some_and(|high| high < 400.0));
    assert!(matches!(
        fit_of(of("T1 primary"), &log.rows[1], None),
        Fit::Above(_)
    ));
    assert!(
        ["OL", " o.l", "0L MΩ", "OVLD"]
            .iter()
            .all(|typed| is_overload(typed))
    );
    assert!(
        ["4.7", "0", "1 Ω", "old"]
            .iter()
            .all(|typed| !is_overload(typed))
    );
    let resistance = Observed::Resistance;
    assert_eq!(
        end_shown(&job.instruments, "ohms", resistance, "400 Ω"),
        Some(400.0)
    );
    assert_eq!(
        end_shown(&job.instruments, "ohms", resistance, ""),
        Some(40e6)
    );

    // Each row with the instrument for it: the bond with its tester, kilohms not with that, and 500 V across nothing but insulation.
    let named = |name: &str| {
        job.instruments
            .iter()
            .find(|one| one.name == name)
            .expect("there")
    };
    let best = |of_row: &str| suited(&job.instruments, of(of_row)).map(|one| one.name.as_str());
    assert_eq!(best("earth bond"), Some("bond"));
    assert_eq!(best("raw"), Some("ohms"));
    assert_eq!(best("insulation, mains to chassis"), Some("iso"));
    assert!(
        !suits(named("ohms"), of("earth bond")),
        "3 counts of 0.1 Ω hide the limit"
    );
    assert!(!suits(named("bond"), of("raw")) && !suits(named("iso"), of("raw")));
}

/// No regulator, and a board all the same: an emitter follower on a zener, and a shunt behind a resistor.
#[test]
fn rails_behind_transistors_and_shunts_are_read_on_dummies() {
    let (start, end) = HEAD.split_once("[regulator.U1]").expect("there");
    let (_, rest) = end.split_once("[capacitor.C2]").expect("there");
    let (_, meters) = rest.split_once("[instrument.meter]").expect("there");
    let (meters, _) = meters.split_once("[[limit]]").expect("there");
    let parts = "[resistor.R1]\nbetween = [\"raw\", \"base\"]\nvalue = \"680R\"\n\
        [shunt.Z1]\nat = \"base\"\nfixed = \"12.7 V\"\nresistance = \"8 Ω\"\n\
        [transistor.Q1]\ncollector = \"raw\"\nbase = \"base\"\nemitter = \"out\"\ngain = \"100\"\n\
        base_emitter = [\"0.6 V at 5 mA\", \"0.78 V at 300 mA\"]\nsaturation = \"0.3 V at 300 mA\"\n\
        [resistor.R3]\nbetween = [\"raw\", \"ref\"]\nvalue = \"470R\"\n\
        [shunt.Z2]\nat = \"ref\"\nfixed = \"9.1 V\"\nresistance = \"5 Ω\"\n\
        [resistor.R4]\nat = \"out\"\nvalue = \"1k\"\n\
        [load.xo]\nat = \"ref\"\ndraws = { on = \"10 mA\" }\n";
    let text = format!("{start}[instrument.meter]{meters}{parts}{LOAD}");
    let reading = read(&text, None);
    let job = reading
        .job
        .unwrap_or_else(|| panic!("{:?}", reading.diagnostics));
    let found = all(&job, &Log::default());
    for name in [
        "board without load",
        "dummy load, on",
        "over-voltage",
        "soak",
    ] {
        let step = step(&found, name);
        for (of, near) in [("out", 12.0), ("ref", 9.1)] {
            let is_own = |one: &&quietrail_study::bringup::Expectation| {
                one.of == of && one.what == Observed::Statistic(What::Mean)
            };
            let own = step
                .expect
                .iter()
                .find(is_own)
                .unwrap_or_else(|| panic!("{of} in {name}"));
            assert!(own.is_awaited, "{of} in {name}");
            let nominal = own.nominal.expect("there");
            assert!((nominal - near).abs() < 1.0, "{of} in {name}: {nominal}");
        }
    }
    // 12 V for 100 mA, and 9.1 V for 10 mA: of twelve in a decade 1 kΩ is nearer to 910 Ω than 820 Ω.
    let dummies = &step(&found, "dummy load, on").dummies;
    let ohms: Vec<f64> = dummies.iter().map(|one| one.ohms).collect();
    assert_eq!(ohms, [1000.0, 120.0]);
}
