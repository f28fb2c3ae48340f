//! How much of an answer's time went into solving, for whoever measures a drag: the rest is the page's own.
//!
//! An answer is made on one thread from beginning to end; the solving is counted there, whichever threads it uses itself.

use std::cell::Cell;
use std::time::{Duration, Instant};

thread_local! {
    static SOLVING: Cell<Duration> = const { Cell::new(Duration::ZERO) };
}

/// Counts the time that some work takes as solving.
pub(crate) fn solving<T>(work: impl FnOnce() -> T) -> T {
    let begun = Instant::now();
    let made = work();
    SOLVING.with(|all| all.set(all.get() + begun.elapsed()));
    made
}

/// What has been counted on this thread since it was last asked.
pub(crate) fn taken() -> Duration {
    SOLVING.with(Cell::take)
}

#[cfg(test)]
mod tests {
    use super::{solving, taken};
    use std::time::Duration;

    #[test]
    fn solving_is_counted_once_and_on_its_own_thread() {
        taken();
        solving(|| std::thread::sleep(Duration::from_millis(5)));
        let elsewhere = std::thread::spawn(taken).join().expect("a thread ends");
        assert_eq!(elsewhere, Duration::ZERO);
        assert!(taken() >= Duration::from_millis(5));
        assert_eq!(taken(), Duration::ZERO);
    }
}
