//! The reader of captures.
//!
//! Input: a file of any bytes.

use quietrail_bench::capture::{figures, read};

/// Reads the input as a capture.
///
/// # Panics
/// Its samples are not in the order of time, or its figures contradict each other.
pub fn check(input: &[u8]) {
    let Ok(capture) = read(&String::from_utf8_lossy(input), None) else {
        return;
    };
    assert!(
        capture
            .samples
            .windows(2)
            .all(|pair| pair[0].0 <= pair[1].0)
    );
    let found = figures(&capture.samples, 50.0);
    assert!(found.valley <= found.peak);
    assert!(!(found.ripple > found.ac_rms * 1.000_001));
}
