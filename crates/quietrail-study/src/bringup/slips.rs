//! Slips of the hand: a value a thousand times off, one that nothing has, one that its range does not hold.

use super::{Expectation, Through, function_of};
use quietrail_bench::log::{Observed, Row};
use quietrail_job::model::{Detector, Instrument, Job};

/// A value this many times outside what is expected is not believed, if a thousand times either way it would be.
const BELIEVABLE: f64 = 20.0;
/// How near to the band the value then has to be.
const MEANT: f64 = 3.0;

/// What a display says where it can show no more (common practice, no source).
const OVERLOADS: [&str; 7] = ["OL", "0L", "O.L", "0.L", "OVLD", "OVERLOAD", "OVER"];

/// Whether what was typed is a display that can show no more: `OL`, with or without a unit.
pub fn is_overload(typed: &str) -> bool {
    let first = typed.split_whitespace().next().unwrap_or_default();
    let bare = first.trim_matches(['.', '+', '-']).to_uppercase();
    OVERLOADS.contains(&bare.as_str())
}

/// Whether an open path is a reading too, so that more than an instrument shows is one.
pub fn is_of_path(what: Observed) -> bool {
    matches!(what, Observed::Resistance | Observed::Insulation)
}

/// The most that an instrument shows of something: on the range that is named, else on its highest; `None` where the job does not
/// say.
pub fn end_shown(
    instruments: &[Instrument],
    name: &str,
    what: Observed,
    range: &str,
) -> Option<f64> {
    let own = instruments.iter().find(|one| one.name == name)?;
    let function = function_of(own, what)?;
    if !range.is_empty() {
        return function.end_of(range);
    }
    function
        .ranges
        .iter()
        .map(|range| range.full)
        .reduce(f64::max)
}

/// Whether nothing has such a value: what was taken off for the leads was more than they have, or a sign slipped in.
pub fn is_impossible(what: Observed, value: f64) -> bool {
    let is_of_part = matches!(
        what,
        Observed::Resistance | Observed::Insulation | Observed::Capacitance | Observed::Esr
    );
    is_of_part && value < 0.0
}

/// Below this a resistance between earth pin and chassis is a slip of its unit, Ω: a contact alone has more (common practice, no
/// source).
const NO_CONTACT: f64 = 1e-3;

/// What was meant, where a value is far outside and a thousand or a million times more or less of it is near, or the same with
/// its sign turned round.
///
/// A resistance far below what is expected is not taken for a slip: it may be the short that the row is there to find.
pub fn meant(expectation: &Expectation, value: f64) -> Option<f64> {
    if expectation.safety.is_some() && expectation.what == Observed::Resistance {
        return (value > 0.0 && value < NO_CONTACT).then_some(value * 1e3);
    }
    // No tester of insulation shows a part of an ohm: m stands for M.
    if expectation.what == Observed::Insulation && value > 0.0 && value < 1.0 {
        return Some(value * 1e9);
    }
    let (low, high) = (expectation.low?, expectation.high?);
    // Below common: as its mirror image.
    if high < 0.0 {
        let mut mirrored = expectation.clone();
        (mirrored.low, mirrored.high) = (Some(-high), Some(-low));
        return meant(&mirrored, -value).map(|meant| -meant);
    }
    let near = |value: f64, by: f64| value >= low / by && value <= high * by;
    // The same volts with the sign turned round: the leads were.
    let turned = -value;
    if turned * low > 0.0
        && turned * high > 0.0
        && turned.abs() >= low.abs().min(high.abs()) / MEANT
        && turned.abs() <= low.abs().max(high.abs()) * MEANT
    {
        return Some(turned);
    }
    let may_be_short = value < low
        && matches!(
            expectation.what,
            Observed::Resistance | Observed::Insulation
        );
    if low <= 0.0 || near(value, BELIEVABLE) || may_be_short {
        return None;
    }
    [1e-3, 1e3, 1e-6, 1e6]
        .into_iter()
        .map(|factor| value * factor)
        .find(|meant| near(*meant, MEANT))
}

/// The same from the ends of a limit, where no step says what is expected: no more than what the limit allows is believed far
/// outside of it.
pub fn meant_by_limit(min: Option<f64>, max: Option<f64>, value: f64) -> Option<f64> {
    // Below common: as its mirror image. There it is also asked whether the leads were turned round.
    if max.is_some_and(|max| max < 0.0) {
        let (low, high) = (max.map(|max| -max), min.map(|min| -min));
        let is_within = |volts: f64| {
            low.is_none_or(|low| volts >= low / MEANT)
                && high.is_none_or(|high| volts <= high * MEANT)
        };
        if value > 0.0 && is_within(value) {
            return Some(-value);
        }
        return meant_by_limit(low, high, value).map(|meant| -meant);
    }
    let size = value.abs();
    let above = max.filter(|max| *max > 0.0 && size > BELIEVABLE * max);
    let below = min.filter(|min| *min > 0.0 && size > 0.0 && size < min / BELIEVABLE);
    let factors: &[f64] = match (above, below) {
        (Some(_), _) => &[1e-3, 1e-6],
        (None, Some(_)) => &[1e3, 1e6],
        (None, None) => return None,
    };
    let is_near = |meant: f64| {
        max.is_none_or(|max| meant <= MEANT * max) && min.is_none_or(|min| meant >= min / MEANT)
    };
    factors
        .iter()
        .map(|factor| size * factor)
        .find(|meant| is_near(*meant))
}

/// How far outside the band of what alternates a value has to be to be looked for elsewhere.
const FAR: f64 = 10.0;
/// How near it is then to the level at the same point, as a factor on its ends.
const AT_LEVEL: f64 = 1.25;

/// Whether a value typed for a ripple or a noise is the level of its point: the meter was on direct volts.
pub fn is_level_instead(expectation: &Expectation, level: &Expectation, value: f64) -> bool {
    let is_far = expectation
        .high
        .is_some_and(|high| value.abs() > FAR * high);
    let ends = level.low.zip(level.high);
    is_far
        && ends.is_some_and(|(low, high)| {
            let (least, most) = (low.abs().min(high.abs()), low.abs().max(high.abs()));
            low * high > 0.0 && value.abs() >= least / AT_LEVEL && value.abs() <= most * AT_LEVEL
        })
}

/// Why a value was not read on the range that its row names.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Misfit {
    /// It is more than the range holds, seen at the point.
    Beyond {
        /// End of the range.
        end: f64,
    },
    /// It has digits that the range does not show.
    TooFine {
        /// One count of the range.
        count: f64,
    },
}

/// Digits finer than this part of a count are not of that range: some meters show a digit more where they average.
const FINER: f64 = 0.2;
/// The same where the count was not said, but taken from the first digits of the range.
const FINER_THAN_TAKEN: f64 = 0.02;

/// Why the value of a row does not fit the range that it names; `None` where it does, or where nothing is known of the range.
pub fn misfit(instruments: &[Instrument], row: &Row) -> Option<Misfit> {
    let named = |name: &str| instruments.iter().find(|one| one.name == name);
    let function = function_of(named(&row.instrument)?, row.what)?;
    let range = function.range_named(&row.range)?;
    let front = row.setup.through.as_deref().and_then(named);
    let gain = front
        .and_then(|one| one.amplifier.as_ref())
        .map_or(1.0, |one| one.gain.nominal());
    let end = function.end_of(&row.range)? / gain;
    if row.value.abs() > end * (1.0 + 1e-9) {
        return Some(Misfit::Beyond { end });
    }
    let count = range.resolution / gain;
    let share = if range.is_resolution_default {
        FINER_THAN_TAKEN
    } else {
        FINER
    };
    let is_finer = function.detector != Some(Detector::Sample)
        && last_digit(row).is_some_and(|digit| digit < share * count);
    is_finer.then_some(Misfit::TooFine { count })
}

/// One in the last place of a value as it was typed, SI; `None` where it was worked out.
fn last_digit(row: &Row) -> Option<f64> {
    let plain = row.typed.replace(',', ".");
    let number: f64 = plain.parse().ok()?;
    if row.typed.contains(['e', 'E']) || number == 0.0 {
        return None;
    }
    let places = plain.split_once('.').map_or(0, |(_, rest)| rest.len());
    Some((0..places).fold((row.value / number).abs(), |digit, _| digit / 10.0))
}

/// A mains voltage this far outside that of the job is one of another socket, as a share.
const OTHER_MAINS: f64 = 0.25;

/// Whether a mains voltage is none of the job's socket. Behind a variable transformer it may be anything below.
pub fn is_other_mains(job: &Job, through: Option<Through>, volts: f64) -> bool {
    let own = &job.mains.voltage.value;
    let is_turned = matches!(through, Some(Through::Variable { .. }));
    volts > own.high * (1.0 + OTHER_MAINS) || (volts < own.low * (1.0 - OTHER_MAINS) && !is_turned)
}

#[cfg(test)]
mod tests {
    use super::{is_level_instead, meant_by_limit};
    use crate::bringup::Expectation;
    use quietrail_bench::log::Observed;
    use quietrail_job::model::What;

    /// Where only a limit says what is expected, a positive reading of a rail under common had its leads turned round.
    #[test]
    fn a_limit_below_zero_asks_for_the_sign() {
        let (min, max) = (Some(-12.6), Some(-11.4));
        assert_eq!(meant_by_limit(min, max, 12.03), Some(-12.03));
        assert_eq!(meant_by_limit(min, max, -12.03), None);
        let thousand = meant_by_limit(min, max, -12_030.0).expect("millivolts");
        assert!((thousand + 12.03).abs() < 1e-9);
        assert_eq!(meant_by_limit(None, max, 12.03), Some(-12.03));
        assert_eq!(meant_by_limit(Some(11.4), Some(12.6), 12.03), None);
    }

    fn expected(what: What, low: f64, high: f64) -> Expectation {
        Expectation {
            of: "raw".to_owned(),
            what: Observed::Statistic(what),
            low: Some(low),
            nominal: None,
            high: Some(high),
            unit: "V",
            safety: None,
            is_awaited: false,
            beside: Vec::new(),
            readings: Vec::new(),
        }
    }

    /// 23.1 V is no ripple of a rail of 22 V to 24 V; 0.9 V may be one, however bad.
    #[test]
    fn a_level_typed_for_a_ripple_is_told_from_a_large_ripple() {
        let ripple = expected(What::Ripple, 0.1, 0.3);
        let level = expected(What::Mean, 22.0, 24.0);
        assert!(is_level_instead(&ripple, &level, 23.1));
        assert!(!is_level_instead(&ripple, &level, 0.9));
        assert!(!is_level_instead(&ripple, &level, 8.0));
        let under = expected(What::Mean, -24.0, -22.0);
        assert!(is_level_instead(&ripple, &under, -23.1));
    }
}
