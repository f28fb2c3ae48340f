//! What is said of a counter's log of an oscillator.

use crate::number::{self, NO_BREAK};
use quietrail_bench::counter::{Counted, NotCounted, Stable};

/// How near to its end a warm-up is told.
const NEAR: [f64; 4] = [1e-7, 1e-8, 1e-9, 1e-10];
/// Seconds in a day.
const DAY: f64 = 86_400.0;

/// Everything, in lines.
pub fn lines(name: &str, hertz: f64, found: &Counted) -> Vec<String> {
    let span = found.count as f64 * found.interval;
    let mut all = vec![format!(
        "{name}, {}: {} readings, one each {}, over {}.",
        number::si(hertz, "Hz", 4),
        found.count,
        number::si(found.interval, "s", 3),
        time(span)
    )];
    if found.before > 0 {
        all.push(format!(
            "The first {} readings are none of this frequency: times count from the last of them, before the power.",
            found.before
        ));
    }
    if found.left_out > 0 {
        all.push(format!(
            "{} readings beyond a gap are left out: no deviation runs across a gap.",
            found.left_out
        ));
    }
    if found.nowhere > 0 {
        all.push(format!(
            "Nowhere near this frequency, and left out like a gap: {} more.",
            found.nowhere
        ));
    }
    if let Some(apart) = &found.apart {
        let first = apart.times[0];
        let when = if apart.times.len() == 1 {
            format!("One reading, at {}, stands", time(first))
        } else {
            format!(
                "{} single readings, the first at {}, stand",
                apart.times.len(),
                time(first)
            )
        };
        all.push(format!(
            "{when} far apart from both neighbours, and counts in what follows. A counter that is triggered once too often reads so; nothing fails by that alone."
        ));
    }
    let last = found.readings.last().map_or(0.0, |(t, _)| *t);
    match &found.warm_up {
        Some(warm) if !found.is_settled => {
            all.push(format!(
                "Warm-up: not over yet. It begins {:.2e} from where one exponential would end, 63{NO_BREAK}% of the way each {}, and {:.2e} are left at the end of the log.",
                warm.off,
                time(warm.tau),
                warm.left(last)
            ));
            all.push(format!(
                "Offset of the last tenth: {:+.2} ppb from {}. Drift and stability are told of what follows the warm-up: let it run on.",
                1e9 * found.offset,
                number::si(hertz, "Hz", 4)
            ));
            return all;
        }
        Some(warm) => {
            let told: Vec<String> = NEAR
                .into_iter()
                .filter(|near| *near < warm.off.abs() && warm.time_until(*near) < last)
                .map(|near| format!("{near:.0e} after {}", time(warm.time_until(near))))
                .collect();
            all.push(format!(
                "Warm-up: begins {:.2e} from its end, 63{NO_BREAK}% of the way each {}; within {}. One exponential; what follows is from {} on.",
                warm.off,
                time(warm.tau),
                told.join(", "),
                time(found.settled)
            ));
        }
        None => all.push("Warm-up: none to be seen in this log.".to_owned()),
    }
    all.push(format!(
        "Offset: {:+.2} ppb from {}, by the counter's own time base.",
        1e9 * found.offset,
        number::si(hertz, "Hz", 4)
    ));
    if let Some(drift) = &found.drift {
        let stepped = if found.is_coarse() {
            1.5 * found.step / (last - found.settled)
        } else {
            0.0
        };
        let (slope, within) = (DAY * drift.slope, DAY * (drift.within(0.95) + stepped));
        let word = if slope.abs() > within {
            "seen"
        } else {
            "not shown: less than its own uncertainty"
        };
        all.push(format!(
            "Drift: {slope:+.1e} ± {within:.1e} a day ({word}), if what is left scatters as white noise. One day of data proves one day."
        ));
    }
    if found.is_coarse() {
        all.push(format!(
            "Stability: not told. The readings come in steps of {:.0e} and scatter by less: what goes on within a step nobody sees.",
            found.step
        ));
        return all;
    }
    all.push("Stability, Allan deviation, overlapped, with its 95 % range:".to_owned());
    let slope = found.drift.as_ref().map_or(0.0, |drift| drift.slope);
    all.extend(found.stability.iter().map(|one| line(one, slope)));
    all.push(
        "No longer time than a tenth of the log. The counter and its reference are in every figure: they have to be three times better (common practice, no source)."
            .to_owned(),
    );
    all
}

/// Part of a deviation above which it is the drift's.
const OF_DRIFT: f64 = 0.7;

/// A deviation at a time, and what makes it: a straight drift makes so much a second times the time over √2.
fn line(one: &Stable, slope: f64) -> String {
    let drift = slope.abs() * one.tau / std::f64::consts::SQRT_2;
    let kind = match one.power {
        _ if drift > OF_DRIFT * one.deviation => "the drift",
        2 => "white phase noise",
        1 => "flicker of phase",
        0 => "white frequency noise",
        -1 => "flicker of frequency",
        _ => "random walk of frequency, or drift",
    };
    format!(
        "  {:>8}  {:.2e}  {:.2e} .. {:.2e}  {kind}",
        number::si(one.tau, "s", 3),
        one.deviation,
        one.range.0,
        one.range.1
    )
}

/// A time as it is spoken of.
pub fn time(seconds: f64) -> String {
    if seconds < 120.0 {
        number::si(seconds, "s", 2)
    } else if seconds < 7200.0 {
        format!("{:.1}{NO_BREAK}min", seconds / 60.0)
    } else {
        format!("{:.1}{NO_BREAK}h", seconds / 3600.0)
    }
}

/// Why a log cannot be worked out.
pub fn not_counted(why: NotCounted) -> String {
    match why {
        NotCounted::TooFew(count) => {
            format!(
                "{count} readings without a gap, and thirty are the least that tell anything: a line that is no number is a gap"
            )
        }
        NotCounted::SameTimes => {
            "many readings have the time of the one before: the log needs times as fine as its readings are, or a line `Sample Interval: 0.5 s` above them in place of times".to_owned()
        }
        NotCounted::FarOff => {
            "the readings are not near the oscillator's frequency: is it another signal, or another unit? Wanted is the frequency itself, not its difference from the nominal one".to_owned()
        }
    }
}

/// A signal that is no frequency.
pub fn not_hertz(unit: &str) -> String {
    format!(
        "that signal counts as one in {unit}, and a frequency is wanted: name its unit in the heading, as in `f (Hz)` or `f (MHz)`; where the file has other signals beside it, --column names which it is"
    )
}

/// No such oscillator.
pub const WHICH: &str = "the job has several oscillators: say --oscillator";

#[cfg(test)]
mod tests {
    use super::lines;
    use quietrail_bench::counter::counted;

    /// A drift of 1 ppb a day makes 1e-9 · 2560/86400/√2 = 2.1e-11 at 2560 s, a hundred times what a noise of 1e-12 each ten seconds does.
    #[test]
    fn a_deviation_that_is_the_drifts_is_called_so() {
        let noise = |k: u32| {
            let x = (f64::from(k) * 12.9898).sin() * 43_758.545_3;
            x - x.floor() - 0.5
        };
        let log: Vec<(f64, f64)> = (0..17_280)
            .map(|k| {
                let t = 10.0 * f64::from(k);
                (t, 1e7 * (1.0 + 1e-9 * t / 86_400.0 + 1e-12 * noise(k)))
            })
            .collect();
        let said = lines("X1", 1e7, &counted(&log, 1e7).expect("a log"));
        let of = |time: &str| {
            let own = said.iter().find(|line| line.trim_start().starts_with(time));
            own.cloned().unwrap_or_default()
        };
        assert!(of("2560").ends_with("the drift"), "{said:#?}");
        assert!(of("10.0").ends_with("white frequency noise"), "{said:#?}");
    }
}
