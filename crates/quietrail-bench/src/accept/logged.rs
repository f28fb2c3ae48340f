//! What a counter's log shows: warm-up, offset, ageing, stability, and what counter and reference add of their own.

use super::{Accepted, Line, Log, Why, guard};
use crate::counter::Counted;
use crate::distribution::student_quantile;
use crate::floor::squares_quantile;
use crate::stability::{freedom, noise_power, overlapped};
use libm::{exp, log, sqrt};
use quietrail_job::model::Counting;

/// Seconds in a day.
const DAY: f64 = 86_400.0;
/// Standard uncertainties that an error exceeds on one side in 5 % of cases.
const PROBABLE: f64 = 1.645;
/// Single readings of a warm-up stay within so many short-term deviations.
const STAYS: f64 = 4.0;
/// Part of the log that tells where the warm-up ends.
const LAST: f64 = 0.1;
/// Differences at an averaging time that are told (common practice, no source).
const DIFFERENCES: usize = 10;
/// Averaging times below so many intervals are short for a counter that averages inside its gate.
const SHORT: usize = 4;

/// When the frequency stays within a share of where it ends, from the first reading on.
///
/// The end is the mean of the last tenth of the log. No shape is taken for granted: an oven may overshoot.
pub(super) fn warm_up(most: f64, within: f64, log: Option<Log<'_>>) -> Accepted {
    let mut found = Accepted::of(Line::WarmUp { within }, None, Some(most));
    let Some(log) = log else {
        return found;
    };
    found.rows = log.row.into_iter().collect();
    let all = &log.counted.readings;
    let part = ((LAST * all.len() as f64) as usize).max(1);
    let mean = |some: &[(f64, f64)]| some.iter().map(|(_, y)| y).sum::<f64>() / some.len() as f64;
    let (before, last) = (
        &all[all.len().saturating_sub(2 * part)..all.len() - part],
        &all[all.len() - part..],
    );
    let end = mean(last);
    let values: Vec<f64> = last.iter().map(|(_, y)| *y).collect();
    let scatter = overlapped(&values, 1).unwrap_or(0.0);
    // It may still be moving there.
    let moving = if before.is_empty() {
        0.0
    } else {
        (mean(before) - end).abs()
    };
    let unsure = STAYS * scatter + moving;
    if unsure >= within {
        return found.because(Why::Counter { floor: unsure });
    }
    if all[0].1 - end < within && end - all[0].1 < within {
        return found.because(Why::NoWarmUp);
    }
    let until = |distance: f64| {
        let outside = all.iter().rposition(|(_, y)| (y - end).abs() > distance);
        let next = outside.and_then(|index| all.get(index + 1));
        next.map_or(f64::INFINITY, |(t, _)| *t)
    };
    found.value = Some(until(within));
    // The moment itself lies up to an interval before its reading.
    let low = until(within + unsure) - log.counted.interval;
    found.within(low.max(0.0), until(within - unsure))
}

/// The offset, either way.
pub(super) fn offset(most: f64, log: Option<Log<'_>>) -> Accepted {
    let mut found = Accepted::of(Line::Offset, Some(-most), Some(most));
    let Some(log) = log else {
        return found;
    };
    found.rows = log.row.into_iter().collect();
    let value = log.counted.offset;
    found.value = Some(value);
    let Some(base) = log.counting.and_then(|counting| counting.time_base) else {
        return found.because(Why::NoFigure {
            instrument: log.counter.to_owned(),
            key: "counting.time_base",
        });
    };
    let wander = log.counted.stability.last().map_or(0.0, |one| one.range.1);
    let guard = guard(base) + PROBABLE * wander;
    found.within(value - guard, value + guard)
}

/// The change in a day, either way, by the straight line through the readings after the warm-up.
pub(super) fn ageing(most: f64, log: Option<Log<'_>>) -> Accepted {
    let mut found = Accepted::of(Line::Ageing, Some(-most), Some(most));
    let Some(log) = log else {
        return found;
    };
    found.rows = log.row.into_iter().collect();
    let last = log.counted.readings.last().map_or(0.0, |(t, _)| *t);
    if last - log.counted.settled < DAY {
        return found.because(Why::TooShort(DAY));
    }
    let Some(drift) = &log.counted.drift else {
        return found.because(Why::TooShort(DAY));
    };
    let value = DAY * drift.slope;
    found.value = Some(value);
    let guard = DAY * drift.u * student_quantile(0.95, drift.nu);
    found.within(value - guard, value + guard)
}

/// The deviation at an averaging time.
pub(super) fn stability(most: f64, tau: f64, log: Option<Log<'_>>) -> Accepted {
    let mut found = Accepted::of(Line::Stability { tau }, None, Some(most));
    let Some(log) = log else {
        return found;
    };
    found.rows = log.row.into_iter().collect();
    let interval = log.counted.interval;
    let count = libm::round(tau / interval);
    if count < 1.0 || (count * interval - tau).abs() > 0.01 * tau {
        return found.because(Why::NoSuchTime { interval });
    }
    let m = count as usize;
    let y = log.counted.after_warm_up();
    if y.len() + 1 < (2 + DIFFERENCES) * m {
        return found.because(Why::TooShort((2 + DIFFERENCES) as f64 * tau));
    }
    let Some(deviation) = overlapped(&y, m) else {
        return found.because(Why::TooShort((2 + DIFFERENCES) as f64 * tau));
    };
    found.value = Some(deviation);
    let nu = freedom(power_at(log.counted, &y, m), y.len() + 1, m).max(1.0);
    let end = |p: f64| deviation * sqrt(nu / squares_quantile(p, nu));
    let floor = log.counting.and_then(|counting| floor_at(counting, tau));
    let low = match floor {
        Some(floor) => sqrt((end(0.95) * end(0.95) - floor * floor).max(0.0)),
        // All of it may be the counter's own.
        None => 0.0,
    };
    let found = found.within(low, end(0.05));
    let plain = log.counting.and_then(|counting| counting.averages_inside) == Some(false);
    match (found.shown, floor) {
        (crate::decide::Shown::Holds, _) if m < SHORT && !plain => found.because(Why::Gate),
        (crate::decide::Shown::NotShown, Some(floor)) if 3.0 * floor > most => {
            found.because(Why::Counter { floor })
        }
        (crate::decide::Shown::NotShown, None) => found.because(Why::CounterUnknown),
        _ => found,
    }
}

/// Kind of noise at a time: of the longest shorter one that tells it.
fn power_at(counted: &Counted, y: &[f64], m: usize) -> i32 {
    let told = noise_power(y, m);
    let before = counted
        .stability
        .iter()
        .take_while(|one| one.tau <= m as f64 * counted.interval)
        .last();
    told.or(before.map(|one| one.power)).unwrap_or(0)
}

/// What counter and reference make of a deviation by themselves: √3 times the timing over the time (white phase noise), and the
/// reference's own. `None` where the job gives neither, or not for that time.
fn floor_at(counting: &Counting, tau: f64) -> Option<f64> {
    let timing = counting.timing.map(|timing| sqrt(3.0) * timing / tau);
    let reference = reference_at(&counting.reference, tau);
    if timing.is_none() || (reference.is_none() && !counting.reference.is_empty()) {
        return None;
    }
    let (timing, reference) = (timing.unwrap_or(0.0), reference.unwrap_or(0.0));
    Some(sqrt(timing * timing + reference * reference))
}

/// Straight between the points where both axes are logarithmic.
fn reference_at(points: &[(f64, f64)], tau: f64) -> Option<f64> {
    let near = |point: &&(f64, f64)| (point.0 / tau - 1.0).abs() < 0.01;
    if let Some((_, deviation)) = points.iter().find(near) {
        return Some(*deviation);
    }
    let pair = points
        .windows(2)
        .find(|pair| pair[0].0 < tau && tau < pair[1].0)?;
    let ((t0, d0), (t1, d1)) = (pair[0], pair[1]);
    let share = log(tau / t0) / log(t1 / t0);
    Some(exp(log(d0) + share * log(d1 / d0)))
}
