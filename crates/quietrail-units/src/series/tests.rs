//! Preferred values against the lists and checks of the reference notes (ids PWR-PREF).

use super::{Series, parallel};

/// IEC 60063:2015, values as printed in public lists, in units of the decade.
#[rustfmt::skip]
const LISTS: [(Series, &[f64]); 7] = [
    (Series::E3, &[
        1.0, 2.2, 4.7,
    ]),
    (Series::E6, &[
        1.0, 1.5, 2.2, 3.3, 4.7, 6.8,
    ]),
    (Series::E12, &[
        1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2,
    ]),
    (Series::E24, &[
        1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0, 3.3, 3.6, 3.9, 4.3,
        4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1,
    ]),
    (Series::E48, &[
        1.00, 1.05, 1.10, 1.15, 1.21, 1.27, 1.33, 1.40, 1.47, 1.54, 1.62, 1.69, 1.78,
        1.87, 1.96, 2.05, 2.15, 2.26, 2.37, 2.49, 2.61, 2.74, 2.87, 3.01, 3.16, 3.32,
        3.48, 3.65, 3.83, 4.02, 4.22, 4.42, 4.64, 4.87, 5.11, 5.36, 5.62, 5.90, 6.19,
        6.49, 6.81, 7.15, 7.50, 7.87, 8.25, 8.66, 9.09, 9.53,
    ]),
    (Series::E96, &[
        1.00, 1.02, 1.05, 1.07, 1.10, 1.13, 1.15, 1.18, 1.21, 1.24, 1.27, 1.30, 1.33,
        1.37, 1.40, 1.43, 1.47, 1.50, 1.54, 1.58, 1.62, 1.65, 1.69, 1.74, 1.78, 1.82,
        1.87, 1.91, 1.96, 2.00, 2.05, 2.10, 2.15, 2.21, 2.26, 2.32, 2.37, 2.43, 2.49,
        2.55, 2.61, 2.67, 2.74, 2.80, 2.87, 2.94, 3.01, 3.09, 3.16, 3.24, 3.32, 3.40,
        3.48, 3.57, 3.65, 3.74, 3.83, 3.92, 4.02, 4.12, 4.22, 4.32, 4.42, 4.53, 4.64,
        4.75, 4.87, 4.99, 5.11, 5.23, 5.36, 5.49, 5.62, 5.76, 5.90, 6.04, 6.19, 6.34,
        6.49, 6.65, 6.81, 6.98, 7.15, 7.32, 7.50, 7.68, 7.87, 8.06, 8.25, 8.45, 8.66,
        8.87, 9.09, 9.31, 9.53, 9.76,
    ]),
    (Series::E192, &[
        1.00, 1.01, 1.02, 1.04, 1.05, 1.06, 1.07, 1.09, 1.10, 1.11, 1.13, 1.14, 1.15,
        1.17, 1.18, 1.20, 1.21, 1.23, 1.24, 1.26, 1.27, 1.29, 1.30, 1.32, 1.33, 1.35,
        1.37, 1.38, 1.40, 1.42, 1.43, 1.45, 1.47, 1.49, 1.50, 1.52, 1.54, 1.56, 1.58,
        1.60, 1.62, 1.64, 1.65, 1.67, 1.69, 1.72, 1.74, 1.76, 1.78, 1.80, 1.82, 1.84,
        1.87, 1.89, 1.91, 1.93, 1.96, 1.98, 2.00, 2.03, 2.05, 2.08, 2.10, 2.13, 2.15,
        2.18, 2.21, 2.23, 2.26, 2.29, 2.32, 2.34, 2.37, 2.40, 2.43, 2.46, 2.49, 2.52,
        2.55, 2.58, 2.61, 2.64, 2.67, 2.71, 2.74, 2.77, 2.80, 2.84, 2.87, 2.91, 2.94,
        2.98, 3.01, 3.05, 3.09, 3.12, 3.16, 3.20, 3.24, 3.28, 3.32, 3.36, 3.40, 3.44,
        3.48, 3.52, 3.57, 3.61, 3.65, 3.70, 3.74, 3.79, 3.83, 3.88, 3.92, 3.97, 4.02,
        4.07, 4.12, 4.17, 4.22, 4.27, 4.32, 4.37, 4.42, 4.48, 4.53, 4.59, 4.64, 4.70,
        4.75, 4.81, 4.87, 4.93, 4.99, 5.05, 5.11, 5.17, 5.23, 5.30, 5.36, 5.42, 5.49,
        5.56, 5.62, 5.69, 5.76, 5.83, 5.90, 5.97, 6.04, 6.12, 6.19, 6.26, 6.34, 6.42,
        6.49, 6.57, 6.65, 6.73, 6.81, 6.90, 6.98, 7.06, 7.15, 7.23, 7.32, 7.41, 7.50,
        7.59, 7.68, 7.77, 7.87, 7.96, 8.06, 8.16, 8.25, 8.35, 8.45, 8.56, 8.66, 8.76,
        8.87, 8.98, 9.09, 9.20, 9.31, 9.42, 9.53, 9.65, 9.76, 9.88,
    ]),
];

fn decade(series: Series) -> Vec<u16> {
    series.decade().collect()
}

fn is_part_of(coarse: Series, fine: Series) -> bool {
    let fine = decade(fine);
    coarse.decade().all(|digits| fine.contains(&digits))
}

#[test]
fn decades_are_the_published_lists() {
    for (series, list) in LISTS {
        let found: Vec<f64> = series
            .decade()
            .map(|digits| f64::from(digits) / 100.0)
            .collect();
        assert_eq!(found, list, "{series:?}");
    }
}

/// PWR-PREF-01, IEC 60063:2015 (values as in public lists).
#[test]
fn counts_and_subsets() {
    let counts = Series::ALL.map(|series| series.decade().count());
    assert_eq!(counts, [3, 6, 12, 24, 48, 96, 192]);
    assert_eq!(counts, Series::ALL.map(Series::per_decade));
    for (coarse, fine) in [
        (Series::E3, Series::E6),
        (Series::E6, Series::E12),
        (Series::E12, Series::E24),
        (Series::E48, Series::E96),
        (Series::E96, Series::E192),
    ] {
        assert!(is_part_of(coarse, fine), "{coarse:?} in {fine:?}");
    }
    assert!(!is_part_of(Series::E24, Series::E192));
}

/// The geometric series that a list of `count` values rounds to `unit`s.
fn rounded_geometric(index: usize, count: u32, decade: f64) -> f64 {
    (decade * 10_f64.powf(f64::from(u32::try_from(index).expect("short")) / f64::from(count)))
        .round()
}

/// PWR-PREF-02, computed: where E24 is not the rounded geometric series.
#[test]
fn e24_departs_from_the_formula() {
    let departures: Vec<(u16, f64)> = Series::E24
        .decade()
        .enumerate()
        .map(|(index, digits)| (digits / 10, rounded_geometric(index, 24, 10.0)))
        .filter(|(value, formula)| f64::from(*value) != *formula)
        .collect();
    let expected = [
        (27, 26.0),
        (30, 29.0),
        (33, 32.0),
        (36, 35.0),
        (39, 38.0),
        (43, 42.0),
        (47, 46.0),
        (82, 83.0),
    ];
    assert_eq!(departures, expected);
}

/// PWR-PREF-03, eight public source lists print 298, one 297; 920 where the formula gives 919.
#[test]
fn e192_traps() {
    let values = decade(Series::E192);
    assert_eq!(values[185], 920);
    assert_eq!(values[91], 298);
    for (index, digits) in values.iter().enumerate().filter(|(index, _)| *index != 185) {
        assert_eq!(
            f64::from(*digits),
            rounded_geometric(index, 192, 100.0),
            "index {index}"
        );
    }
}

/// PWR-PREF-04, computed: the geometric mean of 4.7 k and 5.1 k is 4895.917.
#[test]
fn nearest_is_by_ratio() {
    assert_eq!(Series::E24.nearest(4850.0), Some(4700.0));
    assert_eq!(Series::E24.nearest(4897.0), Some(5100.0));
    assert_eq!(Series::E24.nearest(4895.9), Some(4700.0));
    assert_eq!(Series::E24.nearest(4895.93), Some(5100.0));
}

#[test]
fn neighbours_cross_decades() {
    assert_eq!(Series::E24.next_up(910.0), Some(1000.0));
    assert_eq!(Series::E24.next_down(1000.0), Some(910.0));
    assert_eq!(Series::E24.at_or_above(911.0), Some(1000.0));
    assert_eq!(Series::E24.at_or_below(999.9), Some(910.0));
    assert_eq!(Series::E24.at_or_below(4.7e-9), Some(4.7e-9));
    assert_eq!(Series::E96.next_up(1e-6), Some(1.02e-6));
    assert!(Series::E3.holds(2.2e6));
    assert!(!Series::E3.holds(3.3e6));
    for nothing in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert_eq!(Series::E24.nearest(nothing), None);
    }
}

/// PWR-PREF-05, exhaustive search in the reference notes: decades from 1 Ω to 910 kΩ.
#[test]
fn best_parallel_pair() {
    let pair = Series::E24
        .parallel_pair(3141.59, 1.0, 910e3)
        .expect("there are pairs");
    assert_eq!((pair.smaller, pair.larger), (5100.0, 8200.0));
    assert!((pair.together - 3144.361).abs() < 5e-4, "{}", pair.together);
    let percent_off = (pair.together / 3141.59 - 1.0) * 100.0;
    assert!((percent_off - 0.0882006).abs() < 5e-7, "{percent_off} %");
}

/// PWR-PREF-06, product over sum.
#[test]
fn product_over_sum() {
    assert_eq!(parallel(1000.0, 2200.0), 687.5);
    assert_eq!(parallel(10.0, 15.0), 6.0);
    let pair = Series::E24
        .parallel_pair(687.5, 1.0, 910e3)
        .expect("there are pairs");
    assert_eq!(
        (pair.smaller, pair.larger, pair.together),
        (1000.0, 2200.0, 687.5)
    );
}

#[test]
fn no_pair_without_values_or_target() {
    assert_eq!(Series::E3.parallel_pair(100.0, 23.0, 46.0), None);
    assert_eq!(Series::E24.parallel_pair(-5.0, 1.0, 10.0), None);
}

/// Found by the fuzzer: where numbers lose their digits there are no decades to count in.
#[test]
fn values_smaller_than_numbers_can_tell_have_no_neighbours() {
    for value in [5e-324, 1e-305, 2e300, f64::MAX] {
        assert_eq!(Series::E3.next_down(value), None);
        assert_eq!(Series::E3.at_or_above(value), None);
    }
    assert_eq!(Series::E3.next_down(1e-299), Some(4.7e-300));
}
