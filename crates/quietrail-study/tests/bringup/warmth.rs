//! Heat: which temperature a thermometer reads, and a caution in every step in which something burns.

use super::{HEAD, all, expected, row, step};
use quietrail_bench::decide::Shown;
use quietrail_bench::judge::{Taken, Why};
use quietrail_bench::log::{HEADER, Log};
use quietrail_job::model::{Job, What};
use quietrail_job::read;
use quietrail_study::bringup::{Beside, Caution, Fit};
use quietrail_study::gate::Gate;
use quietrail_study::measured::{Judged, Limited, judged};
use quietrail_study::options;

const HOT_LOAD: &str =
    "[load.lamp]\nat = \"out\"\ndraws = { on = \"500 mA\" }\n[sink.SK1]\nto_air = \"8 K/W\"\n";

/// The regulator on a sink: 0.5 A from about 22 V to 12 V, 5 W.
fn job(thermal: &str, max: &str) -> Job {
    let text = HEAD.replace(
        "quiescent = \"5 mA\"",
        &format!("quiescent = \"0 A\"\nsink = \"SK1\"\ncase_to_sink = \"1 K/W\"{thermal}"),
    );
    let tail = format!(
        "{HOT_LOAD}[instrument.thermometer]\nkind = \"thermometer\"\ntemperature = {{ ranges = [\"200 °C ±1 K\"] }}\n[[limit]]\nname = \
         \"hot\"\nof = \"U1\"\nwhat = \"temperature\"\nmax = \"{max}\"\n"
    );
    let reading = read(&format!("{text}\n{tail}"), None);
    reading
        .job
        .unwrap_or_else(|| panic!("{:?}", reading.diagnostics))
}

const KNOWN: &str = "\njunction_to_case = \"3 K/W\"";
const LAST: &str = "load connected";

/// The junction is at 5 W · (3 + 1 + 8) K/W over the air, the case at 5 W · (1 + 8) K/W: a thermometer is compared with its own.
#[test]
fn a_thermometer_is_compared_with_the_case() {
    let found = all(&job(KNOWN, "125 °C"), &Log::default());
    let of_case = expected(step(&found, LAST), "U1", What::Temperature);
    let sink = expected(step(&found, "soak"), "SK1", What::Temperature);
    let (case, sink) = (
        of_case.nominal.expect("there"),
        sink.nominal.expect("there"),
    );
    // Both are over 25 °C by the same watts; the soak is on dummies near that current.
    let watts = (case - 25.0) / 9.0;
    assert!((4.0..6.5).contains(&watts), "{watts} W");
    assert!((sink - 25.0) / 8.0 > 0.7 * watts, "{sink}");
    let [
        Beside::Case {
            junction: Some(junction),
        },
    ] = &of_case.beside[..]
    else {
        panic!("{:?}", of_case.beside);
    };
    let highest = of_case.high.expect("there");
    assert!(
        (junction - highest - 3.0 * (highest - 25.0) / 9.0).abs() < 0.01,
        "{junction} and {highest}"
    );

    let unknown = all(&job("", "125 °C"), &Log::default());
    let of_case = expected(step(&unknown, LAST), "U1", What::Temperature);
    assert_eq!(of_case.beside, [Beside::Case { junction: None }]);
    assert!((of_case.nominal.expect("there") - case).abs() < 1e-6);
}

fn verdict(thermal: &str, max: &str, celsius: f64) -> Judged {
    let job = job(thermal, max);
    let reading =
        format!("1,,,on,U1,temperature,{celsius},°C,thermometer,,,on the tab,230,,,,\r\n");
    let log = Log::read(&format!("{HEADER}\r\n{reading}"));
    assert!(log.damaged.is_empty(), "{:?}", log.damaged);
    let found = judged(
        &job,
        &Limited::of_job(&job),
        &log,
        &Gate::default(),
        &options(),
    );
    let own = found.into_iter().find(|one| one.limit == "hot");
    own.expect("it was read")
}

/// A limit on a junction read at the case: what the junction has more is counted; where that is not known nothing holds by it, and a
/// case above the limit fails all the same.
#[test]
fn a_limit_of_a_junction_is_judged_from_the_case() {
    let one = verdict(KNOWN, "80 °C", 65.0);
    assert_eq!(one.judgement.shown, Shown::NotShown, "{one:?}");
    let told = one.judgement.taken.iter().find_map(|taken| match taken {
        Taken::HotterInside { least, most } => Some((*least, *most)),
        _ => None,
    });
    let (least, most) = told.expect("what is counted");
    // 3 K/W times 0.5 A times what stands across it: raw at 207 V and at 253 V, less 12 V.
    assert!(
        least > 8.0 && most > least + 5.0 && most < 27.0,
        "{least} .. {most}"
    );
    let cool = 80.0 - most - 2.0;
    assert_eq!(verdict(KNOWN, "80 °C", cool).judgement.shown, Shown::Holds);
    assert_eq!(
        verdict(KNOWN, "80 °C", 79.0).judgement.shown,
        Shown::Fails,
        "the case alone"
    );

    let unknown = verdict("", "80 °C", 30.0);
    assert_eq!(unknown.judgement.shown, Shown::NotShown);
    assert_eq!(unknown.judgement.why, Why::HotterInside);
    assert_eq!(verdict("", "80 °C", 90.0).judgement.shown, Shown::Fails);
}

/// Outside copper a thermometer reads less than the copper has: only the upper end is compared.
#[test]
fn outside_of_copper_only_the_upper_end_is_compared() {
    let job = job(KNOWN, "125 °C");
    let clean = all(&job, &Log::default());
    let copper = expected(step(&clean, "soak"), "T1", What::Temperature);
    assert!(copper.low.is_none() && copper.high.is_some(), "{copper:?}");
    assert!(matches!(
        copper.beside[..],
        [Beside::Cooler {
            is_copper: true,
            ..
        }]
    ));
    let high = copper.high.expect("there");
    for (celsius, fits) in [(26.0, true), (high - 1.0, true), (high + 20.0, false)] {
        for mains in ["", "230"] {
            let row =
                row(1, "soak", copper, celsius).replace(",clips,,", &format!(",clips,{mains},"));
            let found = all(&job, &Log::read(&format!("{HEADER}\r\n{row}")));
            let fit = expected(step(&found, "soak"), "T1", What::Temperature).readings[0].fit;
            assert_eq!(fit == Fit::Fits, fits, "{celsius} °C at {mains:?}: {fit:?}");
        }
    }
}

/// A hot sink stood in the soak alone; it is as hot in every step in which the regulator works on a dummy, and a dummy burns too.
#[test]
fn a_caution_of_heat_stands_in_every_step_that_has_it() {
    let job = job(KNOWN, "125 °C");
    let found = all(&job, &Log::default());
    let hot = |name: &str, part: &str| {
        step(&found, name)
            .cautions
            .iter()
            .find_map(|one| match one {
                Caution::Hot {
                    part: own, celsius, ..
                } if own == part => Some(*celsius),
                _ => None,
            })
    };
    for name in ["dummy load, on", "soak", LAST] {
        // 0.5 A from up to 25 V to 12 V: more than 6 W in 8 K/W.
        let celsius = hot(name, "SK1").unwrap_or_else(|| panic!("{name}"));
        assert!((70.0..85.0).contains(&celsius), "{name}: {celsius}");
        assert_eq!(hot(name, "U1"), None, "it is the sink that is touched");
    }
    // Nothing drawn, nothing hot.
    for name in ["board without load", "transformer on mains", "over-voltage"] {
        assert_eq!(hot(name, "SK1"), None, "{name}");
    }
    let dummies = |name: &str| {
        let mut all = step(&found, name).cautions.iter();
        all.any(|one| matches!(one, Caution::HotDummy { rated: None, .. }))
    };
    assert!(dummies("dummy load, on") && dummies("soak") && !dummies(LAST));
}
