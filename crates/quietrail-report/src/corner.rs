//! A corner and a change, told in words: `oven cold +15 %, mains 207 V, C1 −20 %, T1 winding 85 °C`.

use quietrail_job::{Address, Change};
use quietrail_study::finding::{CornerTerm, Help, With};

use crate::{number, words};

/// Terms below this share of the move from nominal to worst are left out.
const TELLING: f64 = 0.01;

/// A change beyond this share of the nominal is told by its value: `60 µA` says more than `+118 %`.
const TOLD_AS_CHANGE: f64 = 0.5;

/// A plain number below this, but for nothing, is told in percent.
const SMALL_SHARE: f64 = 0.001;

/// Joins the words of a term.
const UNBROKEN: &str = "\u{a0}";

/// So many letters of a figure's name stand together in the narrowest column, with its value.
const TOGETHER: usize = 20;

/// How many terms are told; more would bury the one that matters.
const TOLD: usize = 4;

/// The corner in words, most telling first; empty for a corner where nothing moved.
///
/// A figure of a component is told by its change (`C1 −20 %`), mains, frequency and temperatures by
/// their value (`mains 207 V`). Terms that make less than a percent of the move are left out.
pub fn corner_words(terms: &[CornerTerm]) -> String {
    let (first, rest) = corner_parts(terms);
    if rest.is_empty() {
        return first;
    }
    format!("{first}, {}", words::and_more(rest.len()))
}

/// The same with every figure that tells, however many they are.
pub fn corner_whole(terms: &[CornerTerm]) -> String {
    let told: Vec<String> = telling(terms).iter().map(term_words).collect();
    told.join(", ")
}

/// The figures that [`corner_words`] tells, and those that it only counts.
pub fn corner_parts(terms: &[CornerTerm]) -> (String, Vec<String>) {
    let mut told: Vec<String> = telling(terms).iter().map(term_words).collect();
    let rest = told.split_off(told.len().min(TOLD));
    (told.join(", "), rest)
}

/// Whether one of the told terms already names the state (`oven cold +15 %`).
pub(crate) fn names_state(terms: &[CornerTerm], state: &str) -> bool {
    let mut told = telling(terms).into_iter().take(TOLD);
    told.any(|term| {
        let mut segments = term.address.0.split('.');
        segments.next() == Some("load") && segments.next_back() == Some(state)
    })
}

/// Addresses with values that are already printed, a text each: `mains 207 V`, `C1 2640 µF`.
pub(crate) fn printed_terms(terms: &[(String, String)]) -> Vec<String> {
    let mut told: Vec<(String, &str)> = Vec::new();
    for (address, value) in terms {
        let figure = figure_words(&Address(address.clone()));
        // Points of a curve move as one.
        if told.iter().all(|(known, _)| *known != figure) {
            told.push((figure, value));
        }
    }
    let first = told.into_iter().take(TOLD);
    first
        .map(|(figure, value)| format!("{figure} {value}"))
        .collect()
}

/// A change with the value it starts from: `C1 3300 → 4700 µF`.
pub(crate) fn change_words(help: &Help) -> String {
    told_change(help, |value| {
        number::written_change(help.before, value, help.unit)
    })
}

/// A change as an instruction: `C1 4700 µF`.
pub(crate) fn instruction(help: &Help) -> String {
    told_change(help, |value| number::written(value, help.unit))
}

fn told_change(help: &Help, value_words: impl Fn(f64) -> String) -> String {
    match &help.change {
        Change::Set { address, value } => {
            let figure = unbroken(figure_words(address));
            format!("{figure}{UNBROKEN}{}", value_words(*value))
        }
        Change::Open(part) => words::taken_out(part),
        Change::Short(part) => words::shorted(part),
        Change::Reverse(winding) => words::turned_round(winding),
        Change::Swap { part, .. } => match &help.with {
            Some(With::Entry(entry)) => words::in_place_of(entry, part),
            Some(With::Winding(winding)) => words::fed_from(part, winding),
            Some(With::Position(position)) => words::selector_at(part, position),
            None => words::swapped(part),
        },
        Change::Insert(part) => words::added(&part.name),
    }
}

/// The terms that tell. Points of a curve move as one, so that they are one term: of the point that tells most, with the weight of
/// all.
fn telling(terms: &[CornerTerm]) -> Vec<CornerTerm> {
    let mut told: Vec<(CornerTerm, f64)> = Vec::new();
    for term in terms.iter().filter(|term| term.value != term.nominal) {
        let address = whole_curve(&term.address);
        match told.iter_mut().find(|(own, _)| own.address == address) {
            Some((own, most)) => {
                let weight = own.weight + term.weight;
                if term.weight > *most {
                    *most = term.weight;
                    *own = term.clone();
                    own.address = address;
                }
                own.weight = weight;
            }
            None => {
                let own = CornerTerm {
                    address,
                    ..term.clone()
                };
                told.push((own, term.weight));
            }
        }
    }
    let mut told: Vec<CornerTerm> = told.into_iter().map(|(term, _)| term).collect();
    told.retain(|term| term.weight >= TELLING);
    told.sort_by(|a, b| b.weight.total_cmp(&a.weight));
    told
}

/// A figure's words joined: a line may break between terms, not within one, unless a column could not hold it: that broke within a word.
fn unbroken(figure: String) -> String {
    if figure.chars().count() > TOGETHER {
        return figure;
    }
    figure.replace(' ', UNBROKEN)
}

fn term_words(term: &CornerTerm) -> String {
    let figure = unbroken(figure_words(&term.address));
    if is_told_by_value(term) {
        // A small share is said as data sheets do: 0.005 %.
        let is_small = term.value != 0.0 && term.value.abs() < SMALL_SHARE;
        let last = term.address.0.rsplit('.').next().unwrap_or_default();
        let value = if term.unit.is_empty() && (is_small || is_in_percent(last)) {
            number::written(100.0 * term.value, "%")
        } else {
            number::written(term.value, term.unit)
        };
        return format!("{figure}{UNBROKEN}{value}");
    }
    format!(
        "{figure}{UNBROKEN}{}",
        number::percent(term.value / term.nominal - 1.0)
    )
}

/// Whether the last segment of an address is a share that plates give in percent.
fn is_in_percent(segment: &str) -> bool {
    matches!(segment, "regulation" | "secondary_share")
}

/// Mains, frequencies, temperatures and plain numbers have a scale that a percentage hides; a figure
/// whose nominal is zero has no percentage.
fn is_told_by_value(term: &CornerTerm) -> bool {
    let about_mains = term.address.0.starts_with("mains.") && term.unit != "Ω";
    let far = (term.value / term.nominal - 1.0).abs() > TOLD_AS_CHANGE;
    about_mains || matches!(term.unit, "°C" | "K" | "Hz" | "") || term.nominal == 0.0 || far
}

/// The curve that a point belongs to, `U1.dropout` of `U1.dropout.2`; any other address as it is.
fn whole_curve(address: &Address) -> Address {
    match address.0.rsplit_once('.') {
        Some((curve, number))
            if number.bytes().all(|digit| digit.is_ascii_digit())
                && curve.rsplit('.').next().is_some_and(words::is_curve) =>
        {
            Address(curve.to_owned())
        }
        _ => address.clone(),
    }
}

/// A figure as it is said; of a curve, whose points move as one, the curve: `U1 dropout`. `C1.esr` is `C1 ESR`, `load.oven.cold` is `oven cold`, `mains.voltage` is `mains`.
pub(crate) fn figure_words(address: &Address) -> String {
    let address = whole_curve(address);
    let mut segments: Vec<&str> = address.0.split('.').collect();
    if segments.len() > 1 && segments[0] == "load" {
        segments.remove(0);
    }
    if segments == ["mains", "voltage"] {
        segments.pop();
    }
    // `U1.set.reference` is U1's reference; `U1.set.to` is its set point.
    if let Some(at) = segments.iter().position(|segment| *segment == "set") {
        if segments.get(at + 1) == Some(&"to") {
            segments.truncate(at);
            segments.push("set point");
        } else {
            segments.remove(at);
        }
    }
    let named = segments.iter().enumerate().filter_map(|(i, segment)| {
        if i > 0 {
            words::figure_name(segment)
        } else {
            Some((*segment).to_owned())
        }
    });
    named.collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::{corner_whole, corner_words};
    use crate::{number::spaced, specimen::term};

    #[test]
    fn each_kind_of_figure_is_told_its_own_way() {
        let terms = [
            term("load.oven.cold", 0.9775, 0.85, "A", 0.4),
            term("mains.voltage", 207.0, 230.0, "V", 0.3),
            term("C1.value", 0.00264, 0.0033, "F", 0.2),
            term("T1.winding", 85.0, 20.0, "°C", 0.1),
        ];
        assert_eq!(
            spaced(&corner_words(&terms)),
            "oven cold +15 %, mains 207 V, C1 −20 %, T1 winding 85 °C"
        );
    }

    /// In a narrow column a name that was held together broke within a word: *warming up from c / old*.
    #[test]
    fn a_long_name_may_be_broken_between_its_words() {
        let short = corner_words(&[term("load.oven.cold", 0.9775, 0.85, "A", 0.4)]);
        assert_eq!(short, "oven\u{a0}cold\u{a0}+15\u{a0}%");
        let address = "load.oven_of_the_reference.warming_up_from_cold";
        let long = corner_words(&[term(address, 0.9775, 0.85, "A", 0.4)]);
        assert_eq!(
            long,
            "oven_of_the_reference warming up from cold\u{a0}+15\u{a0}%"
        );
    }

    /// As a plain number it is nothing that a data sheet says, and a column of the record cuts it in two.
    #[test]
    fn a_small_share_is_told_in_percent() {
        let terms = [
            term("U1.noise.total", 5e-5, 3e-5, "", 0.4),
            term("mains.flatness", 0.0, 0.025, "", 0.1),
        ];
        assert_eq!(
            spaced(&corner_words(&terms)),
            "U1 noise total 0.005 %, mains flatness 0"
        );
    }

    #[test]
    fn the_most_telling_comes_first_and_the_rest_is_counted() {
        let terms = [
            term("C1.esr", 0.06, 0.045, "Ω", 0.05),
            term("mains.voltage", 207.0, 230.0, "V", 0.5),
            term("U1.upper", 1060.5, 1050.0, "Ω", 0.03),
            term("U1.lower", 119.79, 121.0, "Ω", 0.02),
            term("room", 35.0, 25.0, "°C", 0.015),
            term("mains.flatness", 0.05, 0.025, "", 0.011),
            term("T1.S1.resistance", 0.29, 0.28, "Ω", 0.009),
        ];
        assert_eq!(
            spaced(&corner_words(&terms)),
            "mains 207 V, C1 ESR +33 %, U1 upper +1 %, U1 lower −1 %, and 2 more"
        );
        assert_eq!(
            spaced(&corner_whole(&terms)),
            "mains 207 V, C1 ESR +33 %, U1 upper +1 %, U1 lower −1 %, room 35 °C, mains flatness 0.05"
        );
    }

    #[test]
    fn points_of_a_curve_are_one_term() {
        let terms = [
            term("D1.points.1", 0.66, 0.72, "V", 0.05),
            term("D1.points.2", 0.86, 0.95, "V", 0.2),
            term("mains.voltage", 207.0, 230.0, "V", 0.22),
            term("U2.rejection.1", 53.3, 65.0, "dB", 0.006),
            term("U2.rejection.2", 36.9, 45.0, "dB", 0.006),
        ];
        assert_eq!(
            spaced(&corner_words(&terms)),
            "D1 drop −9.5 %, mains 207 V, U2 rejection −18 %"
        );
    }

    #[test]
    fn figures_at_their_nominal_and_tiny_ones_are_left_out() {
        let terms = [
            term("C1.value", 0.0033, 0.0033, "F", 0.5),
            term("C1.esr", 0.05, 0.045, "Ω", 0.004),
        ];
        assert_eq!(corner_words(&terms), "");
    }
}
