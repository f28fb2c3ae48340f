//! Codes against the checks of the reference notes (ids PWR-PREF).

use super::{ToleranceLetter, print, read, three_digits};
use crate::{Farads, Kind, Ohms, Quantity};

/// PWR-PREF-07, IEC 60062 as summarised in retrieved encyclopaedia pages.
#[test]
fn resistance_codes() {
    let table = [
        ("R47", 0.47),
        ("4R7", 4.7),
        ("470R", 470.0),
        ("4K7", 4700.0),
        ("47K", 47e3),
        ("47K3", 47.3e3),
        ("470K", 470e3),
        ("4M7", 4.7e6),
        ("R10", 0.1),
        ("1K0", 1000.0),
        ("2M2", 2.2e6),
    ];
    for (code, ohms) in table {
        assert_eq!(read(code, Kind::Ohms), Some(ohms), "{code}");
        assert_eq!(print(ohms, Kind::Ohms).as_deref(), Some(code));
        let quantity = Quantity::<Ohms>::parse(code).unwrap_or_else(|e| panic!("{code}: {e}"));
        assert_eq!(quantity, Quantity::exact(ohms), "{code}");
    }
    // Lower-case k and a leading zero on input.
    assert_eq!(read("4k7", Kind::Ohms), Some(4700.0));
    assert_eq!(read("0R47", Kind::Ohms), Some(0.47));
    assert_eq!(read("4L7", Kind::Ohms), Some(4.7e-3));
    assert_eq!(read("1G5", Kind::Ohms), Some(1.5e9));
}

/// PWR-PREF-08, as above.
#[test]
fn capacitance_codes() {
    for (code, farads) in [
        ("10p", 10e-12),
        ("4n7", 4.7e-9),
        ("1u0", 1e-6),
        ("2n2", 2.2e-9),
    ] {
        assert_eq!(read(code, Kind::Farads), Some(farads), "{code}");
        assert_eq!(print(farads, Kind::Farads).as_deref(), Some(code));
        let quantity = Quantity::<Farads>::parse(code).unwrap_or_else(|e| panic!("{code}: {e}"));
        assert_eq!(quantity, Quantity::exact(farads), "{code}");
    }
    assert_eq!(read("1\u{b5}0", Kind::Farads), Some(1e-6));
    assert_eq!(read("1\u{3bc}0", Kind::Farads), Some(1e-6));
}

/// PWR-PREF-09, retrieved capacitor-marking page (103); ab × 10^c pF.
#[test]
fn three_digit_codes() {
    for (code, farads) in [("103", 10e-9), ("472", 4.7e-9), ("104", 100e-9)] {
        assert_eq!(three_digits(code), Some(farads), "{code}");
    }
    for other in ["10", "1034", "1k3", "013", ""] {
        assert_eq!(three_digits(other), None, "{other}");
    }
}

fn percent(letter: char) -> (f64, f64) {
    let text = format!("4K7{letter}");
    let quantity = Quantity::<Ohms>::parse(&text).unwrap_or_else(|e| panic!("{text}: {e}"));
    let part = |limit: f64| (limit / quantity.nominal - 1.0) * 100.0;
    (part(quantity.low), part(quantity.high))
}

fn is_near((low, high): (f64, f64), expected: (f64, f64)) -> bool {
    (low - expected.0).abs() < 1e-9 && (high - expected.1).abs() < 1e-9
}

/// PWR-PREF-10, retrieved tables (a capacitor-code table and a Sanyo chart).
#[test]
fn symmetric_letters() {
    let table = [
        ('B', 0.1),
        ('C', 0.25),
        ('D', 0.5),
        ('F', 1.0),
        ('G', 2.0),
        ('J', 5.0),
        ('K', 10.0),
        ('M', 20.0),
        ('N', 30.0),
    ];
    for (letter, expected) in table {
        assert!(
            is_near(percent(letter), (-expected, expected)),
            "{letter}: {:?}",
            percent(letter)
        );
    }
}

/// PWR-PREF-10: below 10 pF, B, C and D are picofarads.
#[test]
fn letters_of_small_capacitors() {
    for (text, picofarads) in [("4p7B", 0.1), ("4p7C", 0.25), ("4p7D", 0.5)] {
        let found = Quantity::<Farads>::parse(text).unwrap_or_else(|e| panic!("{text}: {e}"));
        let off = [
            (found.high, 4.7 + picofarads),
            (found.low, 4.7 - picofarads),
        ];
        for (limit, expected) in off {
            assert!((limit * 1e12 - expected).abs() < 1e-9, "{text}: {limit:e}");
        }
    }
    let large = Quantity::<Farads>::parse("47pC").expect("47 pF in percent");
    assert!((large.high / 47e-12 - 1.0025).abs() < 1e-12);
}

/// PWR-PREF-11. The letters T and Z, and the older P, stand in a Sanyo chart.
#[test]
fn asymmetric_letters_of_the_chart() {
    assert!(is_near(percent('T'), (-10.0, 50.0)));
    assert!(is_near(percent('Z'), (-20.0, 80.0)));
    let letter = ToleranceLetter::of('P', Kind::Farads).expect("P is a letter");
    assert_eq!(letter.choices(1e-9)[1], "-0/+100\u{a0}%");
    assert!(
        Quantity::<Farads>::parse("1n0P").is_err(),
        "two tables in use: a question"
    );
}

/// PWR-PREF-11, FROM MEMORY: shows that the letters are read and ordered; their figures are as remembered
/// of IEC 60062 and are not asserted.
#[test]
fn letters_from_memory_are_read() {
    for letter in ['E', 'L', 'P', 'W', 'Q', 'S'] {
        let (low, high) = percent(letter);
        assert!(low < 0.0 && 0.0 < high, "{letter}: {low} {high}");
    }
}

#[test]
fn what_is_no_code() {
    assert_eq!(read("4700", Kind::Ohms), None);
    assert_eq!(read("4x7", Kind::Ohms), None);
    assert_eq!(read("k", Kind::Ohms), None);
    assert_eq!(read("4k7J", Kind::Ohms), None);
    assert_eq!(print(0.0, Kind::Ohms), None);
    assert_eq!(print(1e15, Kind::Ohms), None);
    assert_eq!(print(12.0, Kind::Volts), None);
    assert_eq!(ToleranceLetter::of('J', Kind::Volts), None);
    assert_eq!(ToleranceLetter::of('X', Kind::Ohms), None);
}
