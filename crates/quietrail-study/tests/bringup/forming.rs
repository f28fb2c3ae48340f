//! Electrolytics that lay for years have a step of their own before the rectifier charges them.

use super::{HEAD, LOAD, all, job, row, step};
use quietrail_bench::log::{HEADER, Log};
use quietrail_job::model::Job;
use quietrail_job::read;
use quietrail_study::bringup::{Beside, Fit, Kind};
use quietrail_study::gate::Why;

fn old(unused: &str) -> Job {
    let text = HEAD.replace(
        "value = \"4700 µF\"\nesr = \"50 mΩ\"",
        &format!("value = \"4700 µF\"\nesr = \"50 mΩ\"\nunused = \"{unused}\"\nrated = {{ volts = \"40 V\" }}"),
    );
    let reading = read(&format!("{text}\n{LOAD}"), None);
    reading
        .job
        .unwrap_or_else(|| panic!("{:?}", reading.diagnostics))
}

#[test]
fn an_old_electrolytic_is_formed_before_mains_reaches_it() {
    let found = all(&old("20 years"), &Log::default());
    let names: Vec<&str> = found.steps.iter().map(|step| step.name.as_str()).collect();
    assert_eq!(names[..2], ["power off", "forming C1"]);
    let forming = step(&found, "forming C1");
    assert!(forming.kind == Kind::Forming && !forming.kind.is_powered());
    assert_eq!(forming.expect.len(), 5);
    // Up to √2 · 18 V at 253 V of mains, 28.0 V, which is less than its 40 V; in fifths of that.
    let (mut before, mut least) = (0.0, f64::INFINITY);
    for one in &forming.expect {
        let [
            Beside::Forming {
                volts,
                ohms,
                seconds,
                in_order,
                ..
            },
        ] = &one.beside[..]
        else {
            panic!("{:?}", one.beside);
        };
        assert!((volts - before - 5.6).abs() < 0.01, "{volts}");
        before = *volts;
        // 30 s over 4700 µF is 6.4 kΩ, in which a short behind 28 V makes 0.12 W.
        assert!((ohms - 6382.98).abs() < 0.1, "{ohms}");
        // Five minutes and one for each of 240 months, in five stages.
        assert!((seconds - 60.0 * 49.0).abs() < 1.0, "{seconds}");
        // Leakage of one in order, 0.01 C V + 3 µA, and three times that to stop.
        let leak = 0.01 * 4700e-6 * volts + 3e-6;
        assert!((in_order / (leak * ohms) - 1.0).abs() < 1e-9);
        assert_eq!((one.low, one.is_awaited), (None, true));
        assert!((one.high.expect("a stop") / (3.0 * leak * ohms) - 1.0).abs() < 1e-9);
        least = least.min(one.high.expect("a stop"));
    }

    // Above the band it locks all that follows; read well, it lets go.
    let first = &forming.expect[0];
    let locks = |volts: f64| {
        let log = Log::read(&format!(
            "{HEADER}\r\n{}",
            row(1, "forming C1", first, volts)
        ));
        assert!(log.damaged.is_empty(), "{:?}", log.damaged);
        let found = all(&old("20 years"), &log);
        let fit = step(&found, "forming C1").expect[0].readings[0].fit;
        let mut locks = step(&found, "rectifier through the lamp")
            .locked_by
            .clone()
            .into_iter();
        (
            fit,
            locks.find(|lock| lock.of == first.of).map(|lock| lock.why),
        )
    };
    let (fit, why) = locks(1.01 * first.high.expect("a stop"));
    assert!(
        matches!(fit, Fit::Above(_)) && why == Some(Why::DoesNotFit),
        "{fit:?} {why:?}"
    );
    // Read while the rows before it were not, it is kept and opens nothing.
    let (fit, why) = locks(0.1);
    assert!(
        fit == Fit::Fits && why == Some(Why::ReadAgain),
        "{fit:?} {why:?}"
    );
}

/// A few weeks in a drawer, or nothing said: no step.
#[test]
fn one_that_is_not_old_has_no_step() {
    for job in [old("1500 h"), job(LOAD)] {
        let found = all(&job, &Log::default());
        assert!(found.steps.iter().all(|step| step.kind != Kind::Forming));
    }
}
