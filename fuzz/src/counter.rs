//! What a counter's log comes to.
//!
//! Input: a line with the frequency in Hz, then a log of any bytes.

use quietrail_bench::capture::read;
use quietrail_bench::counter::counted;

/// Works the log out.
///
/// # Panics
/// A reading is neither counted nor left out, or a figure is none.
pub fn check(input: &[u8]) {
    let text = String::from_utf8_lossy(input);
    let Some((hertz, log)) = text.split_once('\n') else {
        return;
    };
    let Some(hertz) = hertz.trim().parse::<f64>().ok().filter(|hertz| {
        // What a job file takes for an oscillator.
        (1.0..1e11).contains(hertz)
    }) else {
        return;
    };
    let Ok(capture) = read(log, None) else {
        return;
    };
    let Ok(found) = counted(&capture.samples, hertz) else {
        return;
    };
    assert_eq!(found.count + found.left_out, capture.samples.len());
    assert!(found.interval > 0.0, "{found:?}");
    assert!(found.settled >= 0.0, "{found:?}");
    assert!(found.offset.is_finite(), "{found:?}");
    for stable in &found.stability {
        let (low, high) = stable.range;
        assert!(
            stable.tau > 0.0
                && stable.deviation >= 0.0
                && low <= stable.deviation
                && stable.deviation <= high,
            "{stable:?}"
        );
    }
    for pair in found.stability.windows(2) {
        assert!(pair[0].tau < pair[1].tau, "{pair:?}");
    }
}
