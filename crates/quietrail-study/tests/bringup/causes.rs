//! What could be wrong where a reading of a step does not fit.

use super::{HEAD, LOAD, expected, step};
use quietrail_bench::log::{HEADER, Log, Observed};
use quietrail_job::model::{Job, What};
use quietrail_study::bringup::{Causes, Suspect, bring_up, causes, planned};
use quietrail_study::faults::Kind;
use quietrail_study::options;

const STEP: &str = "raw on a dummy load";
const BENCH: &str = "[bench]\nresistors = [\"47 Ω 50 W\"]\n";

/// A rail whose reservoir has its usual tolerance.
fn job() -> Job {
    let head = HEAD.replace("value = \"4700 µF\"", "value = \"4700 µF ±20 %\"");
    let load = LOAD.replace("120 Ω", "24 Ω");
    let reading = quietrail_job::read(&format!("{head}\n{load}{BENCH}"), None);
    reading.job.expect("a job")
}

/// Readings of the raw rail on its dummy at 230 V: point, statistic, value, unit.
fn read(rows: &[(&str, &str, f64, &str)]) -> Option<Causes> {
    read_at("230", rows)
}

/// The same at a mains that was read, or at one that was not.
fn read_at(mains: &str, rows: &[(&str, &str, f64, &str)]) -> Option<Causes> {
    let job = job();
    let rows = rows.iter().enumerate();
    let lines = rows.map(|(k, (of, what, value, unit))| {
        let row = k + 1;
        format!("{row},,{STEP},,{of},{what},{value},{unit},,,,clips,{mains},,,,\n")
    });
    let log = Log::read(&format!("{HEADER}\n{}", lines.collect::<String>()));
    let found = bring_up(&job, &log, Some(STEP), &options()).expect("it is solved");
    let planned = planned(&job);
    let own = planned.iter().find(|one| one.name == STEP).expect("there");
    let mains_of = |row: u64| log.row(row)?.mains_v;
    causes(&job, own, step(&found, STEP), mains_of, &options()).expect("it is solved")
}

/// Mean and ripple of the healthy rail.
fn healthy() -> (f64, f64) {
    let job = job();
    let found = bring_up(&job, &Log::default(), Some(STEP), &options()).expect("it is solved");
    let own = step(&found, STEP);
    let of = |what| expected(own, "raw", what).nominal.expect("there");
    (of(What::Mean), of(What::RipplePeakToPeak))
}

fn is_diode(suspect: &Suspect, kind: Kind) -> bool {
    matches!(suspect, Suspect::Fault(fault) if fault.part == "D1" && fault.kind == kind)
}

fn is_half_dry(suspect: &Suspect) -> bool {
    *suspect
        == Suspect::Dried {
            part: "C1".to_owned(),
            left: 50,
        }
}

/// With one diode open the reservoir is charged once in a cycle and gives its charge for nearly all of it: I/(f C), which is
/// also what it loses in half a cycle with half of its capacitance.
#[test]
fn a_ripple_twice_as_high_is_half_the_diodes_or_half_the_capacitor() {
    let (mean, _) = healthy();
    let lost = mean / 47.0 / (50.0 * 4700e-6);
    let ripple = 0.9 * lost;
    let found = read(&[("raw", "ripple p-p", ripple, "V")]).expect("it is outside");
    assert_eq!(found.evidence.len(), 1);
    assert_eq!(found.mains, Some(230.0));
    let named = |found: &Causes, is: &dyn Fn(&Suspect) -> bool| {
        found.fitting.iter().any(|cause| is(&cause.suspect))
    };
    assert!(
        named(&found, &|one| is_diode(one, Kind::DiodeOpen)),
        "{found:#?}"
    );
    assert!(named(&found, &is_half_dry), "{found:#?}");
    // A short would not leave a rail, and the dummy left off would leave no ripple.
    assert!(!named(&found, &|one| matches!(one, Suspect::NoDummy(..))));
    for cause in &found.fitting {
        let foretold = cause.reads[0].expect("a ripple");
        assert!((foretold / ripple - 1.0).abs() < 0.35, "{cause:?} {ripple}");
    }
    // Parts that are not connected yet are not accused.
    let of_later = |suspect: &Suspect| match suspect {
        Suspect::Fault(fault) => fault.part == "U1" || fault.part == "C2",
        Suspect::Dried { part, .. } => part == "C2",
        Suspect::NoDummy(..) => false,
    };
    assert!(!named(&found, &of_later), "{found:#?}");
    // What tells the two apart: a reservoir that is charged once in a cycle hums at the mains frequency.
    let hum = found.hum.as_ref().expect("something tells them apart");
    assert_eq!(hum.of, "raw");
    for (cause, hertz) in found.fitting.iter().zip(&hum.hertz) {
        if is_diode(&cause.suspect, Kind::DiodeOpen) {
            assert_eq!(*hertz, Some(50.0), "{found:#?}");
        }
        if is_half_dry(&cause.suspect) {
            assert_eq!(*hertz, Some(100.0), "{found:#?}");
        }
    }
}

/// A mean that is too low does not say why; with what is to be read next fewer causes are left.
#[test]
fn the_next_reading_leaves_fewer_causes() {
    let (mean, _) = healthy();
    let low = ("raw", "mean", 0.8 * mean, "V");
    let first = read_at("", &[low]).expect("it is outside");
    assert_eq!(first.mains, None);
    assert!(first.fitting.len() > 1, "{first:#?}");
    let next = first.next.as_ref().expect("something tells them apart");
    let counts = first.fitting.iter().zip(&next.reads).map(|(cause, value)| {
        let value = value.expect("a value");
        let also = (next.of.as_str(), next.what.word(), value, next.unit);
        let further = read_at("", &[low, also]).expect("it is outside");
        let mut suspects = further.fitting.iter().map(|one| &one.suspect);
        assert!(suspects.any(|one| *one == cause.suspect), "{cause:?}");
        further.fitting.len()
    });
    let fewer = counts.filter(|count| *count < first.fitting.len());
    assert!(fewer.count() > 0, "{first:#?}");
}

/// A dummy that was forgotten leaves the crest without ripple.
#[test]
fn a_dummy_that_was_forgotten_is_named() {
    // 18 V rms open, two junctions at next to no current.
    let crest = 18.0 * 2.0_f64.sqrt() - 2.0 * 0.5;
    let found = read(&[
        ("raw", "mean", crest, "V"),
        ("raw", "ripple p-p", 0.001, "V"),
    ]);
    let found = found.expect("it is outside");
    let first = &found.fitting.first().expect("there").suspect;
    assert!(matches!(first, Suspect::NoDummy(..)), "{found:#?}");
}

/// Half the volts without more ripple is no single fault of these parts.
#[test]
fn what_no_single_fault_explains_is_said() {
    let (mean, ripple) = healthy();
    let found = read(&[
        ("raw", "mean", 0.5 * mean, "V"),
        ("raw", "ripple p-p", ripple, "V"),
    ]);
    let found = found.expect("it is outside");
    assert!(found.fitting.is_empty(), "{found:#?}");
    assert!(!found.nearest.is_empty() && found.nearest.iter().all(|one| one.off > 1.0));
    assert_eq!(found.next, None);
}

#[test]
fn what_fits_is_not_looked_into() {
    let (mean, ripple) = healthy();
    let found = read(&[
        ("raw", "mean", mean, "V"),
        ("raw", "ripple p-p", ripple, "V"),
    ]);
    assert_eq!(found, None);
    assert!(!quietrail_study::bringup::is_told_by_faults(
        Observed::Resistance
    ));
}
