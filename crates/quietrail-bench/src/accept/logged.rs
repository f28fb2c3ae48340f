//! What a counter's log shows: warm-up, offset, ageing, stability, and what counter and reference add of their own.

use super::{Accepted, Line, Log, Why, guard};
use crate::counter::Counted;
use crate::decide::Shown;
use crate::distribution::student_quantile;
use crate::floor::squares_quantile;
use crate::stability::{Slope, freedom, overlapped, prevailing_power};
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
/// Averages that tell which noise it is.
const AVERAGES: usize = 30;
/// Part of the time between readings that a gate is open for which is all of it, but for what the counter takes to arm anew.
const OPEN: f64 = 0.9;
/// Averaging times below so many intervals are short for a counter that averages inside its gate.
const SHORT: usize = 4;

/// A verdict by a log. What single readings fail that stand far apart from their neighbours is not shown: such may be the counter's.
pub(super) fn but_for_slips<'a>(
    log: Log<'a>,
    judge: &dyn Fn(Option<Log<'a>>) -> Accepted,
) -> Accepted {
    let found = judge(Some(log));
    let Some(apart) = log.counted.apart.as_ref() else {
        return found;
    };
    let counted: &'a Counted = &apart.without;
    let without = || judge(Some(Log { counted, ..log }));
    if found.shown == Shown::Fails && without().shown != Shown::Fails {
        return found.because(Why::Apart(apart.times.len()));
    }
    found
}

/// What the steps of the readings leave open of one of them, as a share: a count either way (common practice, no source). Where the
/// readings scatter by a step and more, that is in their scatter.
fn steps(counted: &Counted) -> f64 {
    if counted.is_coarse() {
        counted.step
    } else {
        0.0
    }
}

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
    let last = &all[all.len() - part..];
    let end = mean(last);
    let values: Vec<f64> = last.iter().map(|(_, y)| *y).collect();
    let scatter = overlapped(&values, 1).unwrap_or(0.0);
    let tenth = |k: usize| {
        let to = all.len() - k * part;
        mean(&all[to - part..to])
    };
    let unsure = STAYS * scatter + left([tenth(2), tenth(1), end]) + steps(log.counted);
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

/// How far it still goes after three stretches of equal length: what falls off by the same part in each has so much left; what hardly
/// falls off, as much as it would go in as many stretches again as the log has.
fn left([first, second, third]: [f64; 3]) -> f64 {
    let (before, now) = ((second - first).abs(), (third - second).abs());
    if now >= before {
        return now / LAST;
    }
    now * (now / (before - now)).clamp(1.0, 1.0 / LAST)
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
    if !log.counted.is_settled {
        return found.because(Why::StillWarming);
    }
    let Some(base) = log.counting.and_then(|counting| counting.time_base) else {
        return found.because(Why::NoFigure {
            instrument: log.counter.to_owned(),
            key: "counting.time_base",
        });
    };
    // An oven that moves by as much as it may be off has not come to its end.
    let moved = log.counted.drift.map_or(0.0, |drift| {
        drift.slope * (end_of(log.counted) - log.counted.settled)
    });
    if moved.abs() > most {
        return found.because(Why::StillMoving(moved));
    }
    let wander = log.counted.stability.last().map_or(0.0, |one| one.range.1);
    let guard = guard(base) + PROBABLE * wander + steps(log.counted);
    found.within(value - guard, value + guard)
}

/// The change in a day, either way, by the straight line through the readings after the warm-up. What the reference itself may change
/// by is in it.
pub(super) fn ageing(most: f64, log: Option<Log<'_>>) -> Accepted {
    let mut found = Accepted::of(Line::Ageing, Some(-most), Some(most));
    let Some(log) = log else {
        return found;
    };
    found.rows = log.row.into_iter().collect();
    let counted = log.counted;
    let begun = counted
        .readings
        .first()
        .map_or(0.0, |(t, _)| t.max(counted.settled));
    // A reading stands for the interval that it was counted over.
    let span = end_of(counted) - begun + counted.interval;
    let drift = counted
        .drift
        .filter(|_| span > DAY - 0.5 * counted.interval);
    let Some(drift) = drift else {
        return found.because(Why::TooShort(DAY));
    };
    found.value = Some(DAY * drift.slope);
    let reference = log
        .counting
        .and_then(|counting| drift_of_reference(counting, span));
    let Some(reference) = reference else {
        return found.because(Why::NoFigure {
            instrument: log.counter.to_owned(),
            key: "counting.reference",
        });
    };
    let (value, own, reference) = (
        DAY * drift.slope,
        DAY * drift_guard(counted, &drift),
        DAY * reference,
    );
    let alone = crate::decide::within(value - own, value + own, Some(-most), Some(most));
    // The steepest line through what stays within half a step either way.
    let stepped = DAY * 1.5 * steps(counted) / span;
    let guard = own + reference + stepped;
    let found = found.within(value - guard, value + guard);
    if found.shown == Shown::NotShown && stepped > reference && alone != Shown::NotShown {
        return found.because(Why::Steps(counted.step));
    }
    if found.shown == Shown::NotShown && alone != Shown::NotShown {
        return found.because(Why::ReferenceMoves(reference));
    }
    found
}

/// The last moment of a log.
fn end_of(counted: &Counted) -> f64 {
    counted.readings.last().map_or(0.0, |(t, _)| *t)
}

/// The most that a reference can change by in a second, straight on: the Allan deviation of a straight change is that times the time over √2
/// (by its definition), and it stays within its largest error for as long as the log is. The smaller is taken; `None` where neither is stated.
fn drift_of_reference(counting: &Counting, span: f64) -> Option<f64> {
    let deviations = counting.reference.iter();
    let by_deviation = deviations.map(|(tau, deviation)| sqrt(2.0) * deviation / tau);
    // The steepest line through what stays within ±1 over a length of 1.
    let by_base = counting.time_base.map(|base| 3.0 * base / span);
    by_deviation.chain(by_base).reduce(f64::min)
}

/// One-sided 95 % guard of the slope of a straight line through the readings after the warm-up, by the noise that is left about it.
///
/// Of white noise of the frequency the usual error of a slope is right. What wanders lays itself along any line, and its slope scatters by
/// far more: for flicker by 9 h₋₁/T², for a random walk by 12 π² h₋₂/(5 T), which is the variance of the least-squares slope over a
/// spectrum of h/f and h/f² (integrals of the squared spherical Bessel function of order one); with the deviation at τ in place of h
/// (NIST SP 1065, table 3) that is what stands below.
fn drift_guard(counted: &Counted, drift: &Slope) -> f64 {
    let white = drift.u * student_quantile(0.95, drift.nu);
    let rest = counted
        .readings
        .iter()
        .filter(|(t, _)| *t >= counted.settled);
    let left: Vec<f64> = rest
        .map(|(t, y)| y - drift.start - drift.slope * t)
        .collect();
    let m = (left.len() / AVERAGES).max(1);
    let (Some(deviation), Some(power)) = (overlapped(&left, m), prevailing_power(&left, m)) else {
        return white;
    };
    let (tau, span) = (
        m as f64 * counted.interval,
        left.len() as f64 * counted.interval,
    );
    let variance = match power {
        0.. => 12.0 * tau / span,
        -1 => 9.0 / (2.0 * std::f64::consts::LN_2),
        _ => 18.0 / 5.0 * span / tau,
    } * deviation
        * deviation
        / (span * span);
    let nu = freedom(power, left.len() + 1, m).max(1.0);
    white.max(student_quantile(0.95, nu) * sqrt(variance))
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
    if !log.counted.is_settled {
        return found.because(Why::StillWarming);
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
    let nu = freedom(prevailing_power(&y, m).unwrap_or(0), y.len() + 1, m).max(1.0);
    let end = |p: f64| deviation * sqrt(nu / squares_quantile(p, nu));
    let floor = log.counting.and_then(|counting| floor_at(counting, tau));
    let low = match floor {
        Some(floor) => sqrt((end(0.95) * end(0.95) - floor * floor).max(0.0)),
        // All of it may be the counter's own.
        None => 0.0,
    };
    // Half a step either way on each reading is a step on the difference of two means, however long those are.
    let stepped = steps(log.counted) / std::f64::consts::SQRT_2;
    let found = found.within((low - stepped).max(0.0), end(0.05) + stepped);
    if found.shown == Shown::NotShown && end(0.05) <= most && stepped > 0.0 {
        return found.because(Why::Steps(log.counted.step));
    }
    let plain = log.counting.and_then(|counting| counting.averages_inside) == Some(false);
    let dead = log.gate.filter(|gate| *gate < OPEN * interval);
    if let Some(gate) = dead.filter(|_| found.shown == Shown::Fails) {
        return found.because(Why::DeadTime { gate, interval });
    }
    match (found.shown, floor) {
        (Shown::Holds, _) if m < SHORT && !plain => found.because(Why::Gate),
        (Shown::NotShown, Some(floor)) if 3.0 * floor > most => {
            found.because(Why::Counter { floor })
        }
        (Shown::NotShown, None) => found.because(Why::CounterUnknown),
        _ => found,
    }
}

/// What counter and reference make of a deviation by themselves: √3 times the timing over the time (white phase noise), and the
/// reference's own. `None` where the job lacks one of them, or has it not for that time.
fn floor_at(counting: &Counting, tau: f64) -> Option<f64> {
    let timing = sqrt(3.0) * counting.timing? / tau;
    let reference = reference_at(&counting.reference, tau)?;
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
