//! Numbers as the bench says them: unit always, true minus, no digit that the model cannot carry.
//!
//! Between number and unit stands a no-break space, so that wrapping cannot part them; text for
//! terminals and scripts replaces it with [`spaced`].

use quietrail_job::model::What;
use quietrail_units::{UNKNOWN, format_si};

/// Between a number and its unit.
pub const NO_BREAK: char = '\u{a0}';

/// U+2212: as wide as a plus, never taken for a dash.
pub const MINUS: char = '\u{2212}';

/// Replaces no-break spaces by plain ones, so that text can be searched from a keyboard.
pub fn spaced(text: &str) -> String {
    text.replace(NO_BREAK, " ")
}

/// A value with `digits` significant digits and the prefix that suits it: `2.10 A`, `370 µV`.
pub fn si(value: f64, unit: &str, digits: usize) -> String {
    format_si(value, unit, digits)
}

/// A value that was meant, with as many digits as somebody typed for another: no more is known of it.
pub fn as_typed(value: f64, unit: &str, typed: &str) -> String {
    let number = typed.trim_start_matches(['+', '-', MINUS]);
    let number = number.split(|c: char| !(c.is_ascii_digit() || c == '.' || c == ','));
    let digits = number.into_iter().next().unwrap_or_default();
    let digits = digits.trim_start_matches(['0', '.', ',']);
    let count = digits.chars().filter(char::is_ascii_digit).count();
    si(value, unit, count.max(1))
}

/// A level of a circuit at a corner, wherever it is drawn or said: volts and amperes to 10 of their thousandths, smaller ones to
/// three digits, and none to more than four.
pub fn in_hand(value: f64, unit: &str) -> String {
    if value.abs() < 0.995 {
        return si(value, unit, 3);
    }
    at_quantum(value, unit, quantum_of(value, 4).max(-2))
}

/// A value to a digit: `10^quantum` of its unit.
pub(crate) fn at(value: f64, unit: &str, quantum: i32) -> String {
    at_quantum(value, unit, quantum)
}

/// The same without a prefix, all its digits shown: what stands under one another in a sum.
pub(crate) fn unprefixed(value: f64, unit: &str, quantum: i32) -> String {
    if !value.is_finite() {
        return UNKNOWN.to_owned();
    }
    let decimals = (-quantum).max(0) as usize;
    let rounded = rounded(value, quantum);
    let minus = if rounded < 0.0 { "\u{2212}" } else { "" };
    with_unit(&format!("{minus}{:.decimals$}", rounded.abs()), 0, unit)
}

/// The terms of a sum rounded to `10^quantum` so that they add up to their total, rounded alike: those that rounding down took
/// most from get back what is left over, a unit of the last digit each. None is off by more than that. Where they are no
/// sum of the total, each is rounded by itself.
pub(crate) fn adding_up(terms: &[f64], total: f64, quantum: i32) -> Vec<f64> {
    let step = ten_to(quantum);
    let floor = |term: f64| (term / step).floor();
    let left = (total / step).round() - terms.iter().map(|term| floor(*term)).sum::<f64>();
    if !(left >= 0.0 && left <= terms.len() as f64) {
        return terms.iter().map(|term| rounded(*term, quantum)).collect();
    }
    let mut order: Vec<usize> = (0..terms.len()).collect();
    let taken = |k: usize| terms[k] / step - floor(terms[k]);
    order.sort_by(|&a, &b| taken(b).total_cmp(&taken(a)));
    let mut whole: Vec<f64> = terms.iter().map(|term| floor(*term)).collect();
    for &k in order.iter().take(left as usize) {
        whole[k] += 1.0;
    }
    whole.iter().map(|units| units * step).collect()
}

/// A value as somebody wrote it: up to four digits, no trailing zeros: `4700 µF`, `11.4 V`.
pub fn written(value: f64, unit: &str) -> String {
    let (figure, prefix) = written_figure(value, unit);
    with_unit(&figure, prefix, unit)
}

/// Two values of one unit, the prefix of the second: `3300 → 4700 µF`.
pub fn written_change(before: f64, after: f64, unit: &str) -> String {
    let (first, first_prefix) = written_figure(before, unit);
    let (second, second_prefix) = written_figure(after, unit);
    let after = with_unit(&second, second_prefix, unit);
    if first_prefix == second_prefix || before == 0.0 {
        return format!("{first}{NO_BREAK}→{NO_BREAK}{after}");
    }
    format!(
        "{}{NO_BREAK}→{NO_BREAK}{after}",
        with_unit(&first, first_prefix, unit)
    )
}

/// A reading to the first digit of how far it may be off: `12.03 V` where the truth is within 60 mV of it.
///
/// Where nothing is known of that, to four digits.
pub fn read(value: f64, off: f64, unit: &str) -> String {
    if !(off.is_finite() && off > 0.0) {
        return si(value, unit, 4);
    }
    // No coarser than two digits of its own: a value that may be nothing is still said as it was read.
    let quantum = quantum_of(off, 1).min(quantum_of(value, 2));
    at_quantum(value, unit, quantum)
}

/// Two values of one unit: `17.4 .. 18.4 V`.
pub fn range(low: &str, high: &str) -> String {
    let shared = high.split_once(NO_BREAK).map_or("", |(_, unit)| unit);
    let low = match low.split_once(NO_BREAK) {
        Some((figure, own)) if own == shared => figure,
        _ => low,
    };
    format!("{low}{NO_BREAK}..{NO_BREAK}{high}")
}

/// A relative change, always signed: `+15 %`, `−0.5 %`.
pub fn percent(share: f64) -> String {
    let percent = share * 100.0;
    let figure = if percent.abs() < 9.95 {
        trimmed(&format!("{:.1}", percent.abs()))
    } else {
        format!("{:.0}", percent.abs())
    };
    format!("{}{figure}{NO_BREAK}%", sign(percent))
}

/// Share of the distance to its limit below which a value is nothing.
const NOTHING: f64 = 1e-7;

/// The worst value of a statistic, with as many digits as the statistic carries. `margin` is its
/// distance to the limit: where that would vanish in the last digit, one more digit is shown.
pub fn statistic(what: What, value: f64, unit: &str, margin: Option<f64>) -> String {
    if unit.is_empty() {
        return statistic(
            what,
            100.0 * value,
            "%",
            margin.map(|margin| 100.0 * margin),
        );
    }
    // Next to nothing beside what is allowed is what the computation left over.
    let is_nothing = margin.is_some_and(|margin| value.abs() < NOTHING * margin.abs());
    let value = if is_nothing { 0.0 } else { value };
    let quantum = quantum_of_statistic(what, value, margin);
    let text = if what == What::Headroom {
        with_prefix(value, unit, quantum, -3)
    } else {
        at_quantum(value, unit, quantum)
    };
    format!("{text}{}", of_statistic(what))
}

/// What stands behind the unit of a value that is no plain one, and behind that of its limit.
pub(crate) fn of_statistic(what: What) -> &'static str {
    match what {
        What::Ripple | What::Noise | What::RippleAndNoise | What::RmsCurrent => "\u{a0}rms",
        What::RipplePeakToPeak => "\u{a0}p-p",
        What::Mean
        | What::Valley
        | What::Peak
        | What::Headroom
        | What::Current
        | What::PeakCurrent
        | What::ReverseVoltage
        | What::Power
        | What::Temperature
        | What::Life
        | What::Drift
        | What::Start
        | What::HoldUp => "",
    }
}

/// A limit of a statistic: as written, headroom in millivolts.
pub fn limit(what: What, value: f64, unit: &str) -> String {
    if unit.is_empty() {
        return limit(what, 100.0 * value, "%");
    }
    if what == What::Headroom {
        return with_prefix(value, unit, -2, -3);
    }
    format!("{}{}", written(value, unit), of_statistic(what))
}

/// A margin, always signed, to the last digit of its worst value. It never rounds to nothing: a
/// shortfall of 2 mV reads `−2 mV` even where values stand to 10 mV.
pub fn margin(what: What, margin: f64, unit: &str, worst: Option<f64>) -> String {
    format!("{}{}", sign(margin), size(what, margin, unit, worst))
}

/// A margin that a change leaves, in place of another: where it would read like that one, with as many more digits as tell them
/// apart, up to two. Margins that are the same to these read the same.
pub fn margin_left(
    what: What,
    (left, before): (f64, f64),
    unit: &str,
    worst: Option<f64>,
) -> String {
    let (plain, known) = (
        margin(what, left, unit, worst),
        margin(what, before, unit, worst),
    );
    if plain != known {
        return plain;
    }
    let finer = |digits: usize| {
        let of = |margin: f64| format!("{}{}", sign(margin), size_to(what, margin, unit, digits));
        (of(left), of(before))
    };
    let apart = [1, 2, 3].map(finer).into_iter().find(|(a, b)| a != b);
    apart.map_or(plain, |(left, _)| left)
}

/// The size of a margin to so many digits of its own.
fn size_to(what: What, margin: f64, unit: &str, digits: usize) -> String {
    if unit.is_empty() {
        return size_to(what, 100.0 * margin, "%", digits);
    }
    let unit = if unit == "°C" { "K" } else { unit };
    let quantum = quantum_of(margin, digits);
    if what == What::Headroom {
        return with_prefix(margin.abs(), unit, quantum, -3);
    }
    at_quantum(margin.abs(), unit, quantum)
}

/// The size of a margin, without sign: `380 mV`.
pub fn size(what: What, margin: f64, unit: &str, worst: Option<f64>) -> String {
    if unit.is_empty() {
        return size(what, 100.0 * margin, "%", worst.map(|worst| 100.0 * worst));
    }
    let size = margin.abs();
    let of = worst.unwrap_or(margin);
    // No finer than its own third digit: the last digits of a small value say nothing of a wide margin.
    let own = quantum_of(size, 3);
    let mut quantum = quantum_of_statistic(what, of, Some(margin)).max(own);
    if size > 0.0 && size < 0.5 * ten_to(quantum) {
        quantum = quantum_of(size, 1);
    }
    // A distance of temperatures is in kelvins.
    let unit = if unit == "°C" { "K" } else { unit };
    if what == What::Headroom {
        return with_prefix(size, unit, quantum, -3);
    }
    at_quantum(size, unit, quantum)
}

/// `+`, or the true minus.
fn sign(value: f64) -> char {
    if value < 0.0 { MINUS } else { '+' }
}

/// Exponent of the last digit that a statistic shows (design of the numbers: headroom to 10 mV, heat
/// and ripple to two digits, degrees whole, the rest to three digits).
fn quantum_of_statistic(what: What, value: f64, margin: Option<f64>) -> i32 {
    // Nothing at all has no digits of its own; its distance to the limit has.
    let value = if value == 0.0 {
        margin.unwrap_or(value)
    } else {
        value
    };
    let quantum = match what {
        What::Headroom => return -2,
        What::Temperature => return 0,
        What::Mean
        | What::Valley
        | What::Peak
        | What::ReverseVoltage
        | What::Current
        | What::RmsCurrent
        | What::PeakCurrent => quantum_of(value, 3),
        What::Ripple
        | What::RipplePeakToPeak
        | What::Noise
        | What::RippleAndNoise
        | What::Power
        | What::Life
        | What::Drift
        | What::Start
        | What::HoldUp => quantum_of(value, 2),
    };
    match margin {
        Some(margin) if margin.abs() < 5.0 * ten_to(quantum) => quantum - 1,
        Some(_) | None => quantum,
    }
}

/// Exponent of the last of `digits` significant digits, after rounding.
///
/// Below a trillionth of a unit nothing on a bench can be told from nothing, so it goes no finer.
pub(crate) fn quantum_of(value: f64, digits: usize) -> i32 {
    let digits = digits.max(1);
    if value.abs() < 1e-12 || !value.is_finite() {
        return 0;
    }
    let scientific = format!("{:.*e}", digits - 1, value);
    let exponent = scientific
        .split_once('e')
        .and_then(|(_, exponent)| exponent.parse::<i32>().ok());
    (exponent.unwrap_or(0) - digits as i32 + 1).max(FINEST)
}

/// Exponent of the finest digit that is ever shown.
const FINEST: i32 = -12;

/// A value rounded to `10^quantum`, with the prefix that suits it.
fn at_quantum(value: f64, unit: &str, quantum: i32) -> String {
    let rounded = rounded(value, quantum);
    with_prefix(value, unit, quantum, prefix_for(rounded, unit))
}

fn with_prefix(value: f64, unit: &str, quantum: i32, prefix: i32) -> String {
    if !value.is_finite() {
        return UNKNOWN.to_owned();
    }
    let rounded = rounded(value, quantum);
    let decimals = if rounded == 0.0 {
        0
    } else {
        (prefix - quantum).max(0) as usize
    };
    let figure = format!("{:.*}", decimals, rounded.abs() / ten_to(prefix));
    let minus = if rounded < 0.0 {
        MINUS.to_string()
    } else {
        String::new()
    };
    with_unit(&format!("{minus}{figure}"), prefix, unit)
}

fn rounded(value: f64, quantum: i32) -> f64 {
    let step = ten_to(quantum);
    (value / step).round() * step
}

fn written_figure(value: f64, unit: &str) -> (String, i32) {
    let value = if unit == "m²" { value * 1e6 } else { value };
    let quantum = quantum_of(value, 4);
    let value = rounded(value, quantum);
    let prefix = prefix_for(value, unit);
    let decimals = (prefix - quantum).max(0) as usize;
    let figure = trimmed(&format!("{:.*}", decimals, value.abs() / ten_to(prefix)));
    let minus = if value < 0.0 {
        MINUS.to_string()
    } else {
        String::new()
    };
    (format!("{minus}{figure}"), prefix)
}

fn with_unit(figure: &str, prefix: i32, unit: &str) -> String {
    if unit.is_empty() {
        return figure.to_owned();
    }
    // Cross-sections are stored in square metres and said in square millimetres.
    let unit = if unit == "m²" { "mm²" } else { unit };
    // An angle is written close, everything else apart.
    if unit == "°" {
        return format!("{figure}°");
    }
    format!("{figure}{NO_BREAK}{}{unit}", prefix_letter(prefix))
}

fn trimmed(figure: &str) -> String {
    if !figure.contains('.') {
        return figure.to_owned();
    }
    figure
        .trim_end_matches('0')
        .trim_end_matches('.')
        .to_owned()
}

/// Prefixes in use for a unit, largest first. Capacitors are never in millifarads: `mF` has meant
/// both milli and micro on drawings (common practice, no source).
fn prefixes(unit: &str) -> &'static [i32] {
    match unit {
        "F" => &[0, -6, -9, -12],
        "Ω" | "Hz" => &[6, 3, 0, -3],
        "V" | "A" | "W" => &[3, 0, -3, -6, -9],
        "m" => &[0, -3, -6],
        "H" | "s" | "J" | "S" => &[0, -3, -6, -9],
        "V/√Hz" => &[0, -3, -6, -9, -12],
        _ => &[0],
    }
}

fn prefix_for(value: f64, unit: &str) -> i32 {
    let usual = prefixes(unit);
    if value == 0.0 {
        return if usual.contains(&0) { 0 } else { usual[0] };
    }
    let fitting = usual
        .iter()
        .find(|&&prefix| value.abs() >= 0.9999995 * ten_to(prefix));
    *fitting.unwrap_or(&usual[usual.len() - 1])
}

fn prefix_letter(prefix: i32) -> &'static str {
    match prefix {
        6 => "M",
        3 => "k",
        -3 => "m",
        -6 => "µ",
        -9 => "n",
        -12 => "p",
        _ => "",
    }
}

fn ten_to(exponent: i32) -> f64 {
    // Division by an exact power keeps 0.3 from becoming 0.30000000000000004.
    if exponent < 0 {
        1.0 / 10f64.powi(-exponent)
    } else {
        10f64.powi(exponent)
    }
}

#[cfg(test)]
mod tests {
    use super::{limit, margin, percent, si, spaced, statistic, written, written_change};
    use quietrail_job::model::What;

    /// A diode that blocks carries what the computation leaves over, and no average of -6.94 nA; a leakage is still told.
    #[test]
    fn next_to_nothing_beside_its_limit_is_nothing() {
        check(&statistic(What::Current, -6.94e-9, "A", Some(3.0)), "0 A");
        check(&statistic(What::Current, 20e-6, "A", Some(0.1)), "20.0 µA");
        check(&statistic(What::Noise, 14e-9, "V", Some(1e-3)), "14 nV rms");
    }

    #[track_caller]
    fn check(text: &str, expected: &str) {
        assert_eq!(spaced(text), expected);
    }

    /// Twenty point one volts with the sign turned round are no more exact than they were.
    #[test]
    fn what_was_meant_has_the_digits_that_were_typed() {
        let check = |value, typed: &str, want: &str| {
            assert_eq!(super::spaced(&super::as_typed(value, "V", typed)), want);
        };
        check(-20.1, "20.1 V", "−20.1 V");
        check(12.0, "12000 V", "12.000 V");
        check(0.0123, "12,3 V", "12.3 mV");
        check(4.7, "0.0047 V", "4.7 V");
        check(20.1, "-20.1", "20.1 V");
    }

    #[test]
    fn prefixes_follow_the_rounded_value() {
        check(&si(0.9996, "V", 3), "1.00 V");
        check(&si(0.000_37, "V", 2), "370 µV");
        check(&si(4.7e-3, "F", 2), "4700 µF");
        check(&si(-0.38, "V", 2), "−380 mV");
        check(&si(0.0, "A", 3), "0 A");
        check(&si(12_345.0, "h", 2), "12000 h");
        check(&si(f64::NAN, "V", 3), "unknown");
        check(&statistic(What::Mean, f64::INFINITY, "V", None), "unknown");
    }

    #[test]
    fn headroom_stands_in_millivolts_to_ten() {
        check(&statistic(What::Headroom, 1.7234, "V", None), "1720 mV");
        check(
            &margin(What::Headroom, -0.3761, "V", Some(-0.3761)),
            "−380 mV",
        );
        check(&limit(What::Headroom, 0.0, "V"), "0 mV");
    }

    #[test]
    fn a_small_shortfall_never_rounds_to_nothing() {
        check(
            &margin(What::Headroom, -0.0021, "V", Some(-0.0021)),
            "−2 mV",
        );
        check(
            &margin(What::Temperature, -0.2, "°C", Some(125.2)),
            "−0.2 K",
        );
        check(&margin(What::Mean, -0.0004, "V", Some(11.3996)), "−400 µV");
    }

    #[test]
    fn a_tight_value_gets_the_digit_that_shows_its_margin() {
        check(&statistic(What::Valley, 11.60, "V", Some(0.2)), "11.60 V");
        check(&statistic(What::Peak, 22.26, "V", Some(7.74)), "22.3 V");
        check(&margin(What::Peak, 7.74, "V", Some(22.26)), "+7.7 V");
        check(&margin(What::Valley, 0.2, "V", Some(11.6)), "+200 mV");
        check(&margin(What::Ripple, 0.0179, "V", Some(0.0021)), "+17.9 mV");
    }

    #[test]
    fn temperatures_are_whole_and_differ_in_kelvins() {
        check(
            &statistic(What::Temperature, 117.7, "°C", Some(7.3)),
            "118 °C",
        );
        check(&margin(What::Temperature, 7.3, "°C", Some(117.7)), "+7 K");
    }

    #[test]
    fn limits_say_which_statistic_they_are_of_and_shares_are_percent() {
        check(&limit(What::Ripple, 2e-4, "V"), "200 µV rms");
        check(&limit(What::RipplePeakToPeak, 0.02, "V"), "20 mV p-p");
        check(&limit(What::Valley, 11.4, "V"), "11.4 V");
        check(&statistic(What::Current, 0.408, "", Some(-0.591)), "40.8 %");
        check(&limit(What::Current, 0.999, ""), "99.9 %");
        check(&margin(What::Current, -0.591, "", Some(0.408)), "−59.1 %");
    }

    #[test]
    fn written_values_read_as_people_write_them() {
        check(&written(0.0047, "F"), "4700 µF");
        check(&written(11.4, "V"), "11.4 V");
        check(&written(1050.0, "Ω"), "1.05 kΩ");
        check(&written(0.2e-3, "V"), "200 µV");
        check(&written(35.0, "°C"), "35 °C");
        check(&written(0.05, ""), "0.05");
        check(&written(0.75e-6, "m²"), "0.75 mm²");
        check(&written_change(0.0033, 0.0047, "F"), "3300 → 4700 µF");
        check(&written_change(0.5, 1.5, "Ω"), "500 mΩ → 1.5 Ω");
    }

    #[test]
    fn terms_of_a_sum_add_up_as_printed() {
        // 12.046 + 1.147 is 13.193: rounded each by itself, 12.05 and 1.15 would make 13.20.
        let said = super::adding_up(&[12.046, 1.147], 13.193, -2);
        let text: Vec<String> = said
            .iter()
            .map(|value| spaced(&super::at(*value, "V", -2)))
            .collect();
        assert_eq!(text, ["12.04 V", "1.15 V"]);
        assert_eq!(spaced(&super::at(13.193, "V", -2)), "13.19 V");
        // With signs: 13.1964 less 12.3626 less 1.2996 is −0.4658.
        let terms = [13.1964, -12.3626, -1.2996];
        let said = super::adding_up(&terms, -0.4658, -3);
        assert!((said.iter().sum::<f64>() - -0.466).abs() < 1e-12);
        assert!(
            said.iter()
                .zip(terms)
                .all(|(said, term)| (said - term).abs() < 1e-3)
        );
        // What is no sum of its total is rounded and no more.
        assert_eq!(super::adding_up(&[1.04, 2.04], 9.0, -1), [1.0, 2.0]);
    }

    #[test]
    fn changes_are_signed() {
        check(&percent(0.15), "+15 %");
        check(&percent(-0.005), "−0.5 %");
        check(&percent(-0.2), "−20 %");
    }
}
