//! Preferred values and markings, for the register of outside checks. The full lists of IEC 60063 are compared
//! element by element in the crate's own tests; here stand the figures that a reader can check at a glance.

use quietrail_checks::{Allowed, Section};
use quietrail_units::code::{read, three_digits};
use quietrail_units::series::{Series, parallel};
use quietrail_units::{Farads, Ohms, Quantity, Unit};

const SERIES: &str = "IEC 60063:2015, values as in public lists";
const CODE: &str = "IEC 60062, as summarised in encyclopaedias";

#[test]
fn preferred_values() {
    let mut section = Section::new("preferred-values", "Preferred values and markings");
    for (series, count) in [
        (Series::E3, 3.0),
        (Series::E6, 6.0),
        (Series::E12, 12.0),
        (Series::E24, 24.0),
        (Series::E48, 48.0),
        (Series::E96, 96.0),
        (Series::E192, 192.0),
    ] {
        let got = series.decade().count() as f64;
        let what = format!("values in a decade of {series:?}");
        section
            .row("PWR-PREF-01", &what, SERIES)
            .near(count, got, Allowed::Absolute(0.0));
    }
    let from_memory: Vec<u16> = Series::E24.decade().collect();
    for (index, value) in [
        (10, 270),
        (11, 300),
        (12, 330),
        (13, 360),
        (14, 390),
        (15, 430),
        (16, 470),
        (22, 820),
    ] {
        let what = format!("E24 value {index}, where the rounded series differs");
        let got = f64::from(from_memory[index]);
        section.row("PWR-PREF-02", &what, SERIES).near(
            f64::from(value),
            got,
            Allowed::Absolute(0.0),
        );
    }
    let fine: Vec<u16> = Series::E192.decade().collect();
    for (index, value) in [(185, 920.0), (91, 298.0)] {
        let what = format!("E192 value {index}");
        section.row("PWR-PREF-03", &what, SERIES).near(
            value,
            f64::from(fine[index]),
            Allowed::Absolute(0.0),
        );
    }
    let nearest = |value| {
        Series::E24
            .nearest(value)
            .expect("a positive value has a neighbour")
    };
    for (value, wanted) in [(4850.0, 4700.0), (4897.0, 5100.0)] {
        let what = format!("E24 nearest to {value} Ω by ratio");
        section
            .row("PWR-PREF-04", &what, "geometric mean of neighbours")
            .near(wanted, nearest(value), Allowed::Relative(1e-12));
    }
    let pair = Series::E24
        .parallel_pair(3141.59, 1.0, 910e3)
        .expect("a pair");
    section
        .row(
            "PWR-PREF-05",
            "best two E24 in parallel for 3141.59 Ω",
            "exhaustive search",
        )
        .near(3144.361, pair.together, Allowed::Relative(1e-6));
    for (one, other, wanted) in [(1e3, 2.2e3, 687.5), (10.0, 15.0, 6.0)] {
        let what = format!("{one} Ω with {other} Ω");
        section.row("PWR-PREF-06", &what, "product over sum").near(
            wanted,
            parallel(one, other),
            Allowed::Relative(1e-12),
        );
    }
    for (mark, ohms) in [
        ("R47", 0.47),
        ("4R7", 4.7),
        ("470R", 470.0),
        ("4K7", 4700.0),
        ("47K", 47e3),
        ("47K3", 47.3e3),
        ("470K", 470e3),
        ("4M7", 4.7e6),
        ("R10", 0.1),
        ("1K0", 1e3),
        ("2M2", 2.2e6),
    ] {
        let got = read(mark, Ohms::KIND).expect("a code");
        let row = section.row("PWR-PREF-07", &format!("mark {mark}, Ω"), CODE);
        row.near(ohms, got, Allowed::Relative(1e-12));
        let written = Quantity::<Ohms>::parse(mark).expect("a quantity").nominal;
        assert_eq!(
            written, got,
            "the reader of quantities reads the mark alike"
        );
    }
    for (mark, farads) in [
        ("10p", 10e-12),
        ("4n7", 4.7e-9),
        ("1u0", 1e-6),
        ("2n2", 2.2e-9),
    ] {
        let got = Quantity::<Farads>::parse(mark).expect("a quantity").nominal;
        let row = section.row("PWR-PREF-08", &format!("mark {mark}, F"), CODE);
        row.near(farads, got, Allowed::Relative(1e-12));
    }
    for (mark, picofarads) in [("103", 10e3), ("472", 4700.0), ("104", 100e3)] {
        // The code counts picofarads.
        let got = three_digits(mark).expect("a code") * 1e12;
        let row = section.row(
            "PWR-PREF-09",
            &format!("mark {mark}, pF"),
            "capacitor-marking pages",
        );
        row.near(picofarads, got, Allowed::Relative(1e-12));
    }
    section.note(
        "PWR-PREF-10, -11",
        "Tolerance letters are read and written; those of IEC 60062 that were not seen in a source are from memory.",
    );
    section.finish();
}
