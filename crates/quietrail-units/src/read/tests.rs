//! Texts as people write them.

use crate::{Kind, QuantityFault, read};

fn limits(text: &str, kind: Kind) -> (f64, f64, f64) {
    let reading = read::quantity(text, kind).unwrap_or_else(|e| panic!("{text}: {e}"));
    (reading.low, reading.nominal, reading.high)
}

fn nominal(text: &str, kind: Kind) -> f64 {
    limits(text, kind).1
}

#[test]
fn contract_spellings() {
    assert_eq!(nominal("4700 \u{b5}F", Kind::Farads), 4700e-6);
    assert_eq!(nominal("4700u", Kind::Farads), 4700e-6);
    assert_eq!(nominal("4k7", Kind::Ohms), 4700.0);
    assert_eq!(
        limits("230 V (207 V .. 244 V)", Kind::Volts),
        (207.0, 230.0, 244.0)
    );
    assert_eq!(
        limits("4700 \u{b5}F -20/+50 %", Kind::Farads).2,
        4700e-6 * 1.5
    );
    let error = read::quantity("1 M", Kind::Ohms).expect_err("a question");
    assert!(matches!(error.fault, QuantityFault::Ambiguous { .. }));
}
