//! What nears its end, against curves that are known.

use quietrail_bench::settle::{Approach, NoEnd, approach};

fn readings(tau: f64, end: f64, off: f64, times: &[f64]) -> Vec<(f64, f64)> {
    let value = |t: &f64| (*t, end + off * (-t / tau).exp());
    times.iter().map(value).collect()
}

#[test]
fn the_end_of_an_exponential_is_found_from_any_three_readings() {
    for (tau, times) in [
        (900.0, [0.0, 600.0, 1200.0].as_slice()),
        (900.0, [0.0, 300.0, 2000.0].as_slice()),
        (240.0, [0.0, 100.0, 300.0, 900.0, 1500.0].as_slice()),
    ] {
        let found = approach(&readings(tau, 61.0, -38.0, times)).expect("an end");
        assert!((found.end - 61.0).abs() < 1e-3, "{found:?}");
        assert!((found.tau / tau - 1.0).abs() < 1e-4, "{found:?}");
        assert!(found.scatter < 1e-4);
    }
}

#[test]
fn the_warm_up_of_an_oven_ends_when_the_reference_says() {
    // MEAS-TB-09: −2e−7 exp(−t/4 min); within 5e−9 after 14.7555178 min, within 1e−9 after 21.1932695 min.
    let times: Vec<f64> = (0..60).map(|k| f64::from(k) * 30.0).collect();
    let found = approach(&readings(240.0, 0.0, -2e-7, &times)).expect("an end");
    assert!(
        (found.time_until(5e-9) / 60.0 - 14.755_517_8).abs() < 1e-4,
        "{found:?}"
    );
    assert!(
        (found.time_until(1e-9) / 60.0 - 21.193_269_5).abs() < 1e-4,
        "{found:?}"
    );
    assert!((found.left(600.0) / -1.641_699_97e-8 - 1.0).abs() < 1e-5);
}

#[test]
fn what_does_not_bend_has_no_end_yet() {
    let straight: Vec<(f64, f64)> = (0..6)
        .map(|k| (f64::from(k) * 60.0, 20.0 + f64::from(k)))
        .collect();
    assert_eq!(approach(&straight), Err(NoEnd::Straight));
    let bends_up: Vec<(f64, f64)> = (0..6)
        .map(|k| (f64::from(k) * 60.0, f64::from(k * k)))
        .collect();
    assert_eq!(approach(&bends_up), Err(NoEnd::Straight));
    assert_eq!(approach(&straight[..2]), Err(NoEnd::TooFew));
    assert_eq!(
        approach(&[(0.0, 1.0), (0.0, 2.0), (0.0, 3.0)]),
        Err(NoEnd::TooFew)
    );
}

#[test]
fn what_stands_still_has_settled() {
    let still = [(0.0, 40.0), (600.0, 40.0), (1200.0, 40.0)];
    let found = approach(&still).expect("an end");
    assert_eq!(
        (found.end, found.left(1200.0), found.time_until(1.0)),
        (40.0, 0.0, 0.0)
    );
    let again = Approach { off: 0.5, ..found };
    assert_eq!(again.time_until(1.0), 0.0);
}
