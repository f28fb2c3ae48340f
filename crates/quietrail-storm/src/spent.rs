//! Time that a computation takes of its core.

use std::fs;
use std::time::{Duration, Instant};

/// Since when a computation is under way, in its own thread.
pub(crate) struct Spent {
    on_core: Option<Duration>,
    begun: Instant,
}

impl Spent {
    /// From now on.
    pub(crate) fn now() -> Self {
        Self {
            on_core: on_core(),
            begun: Instant::now(),
        }
    }

    /// Time of this thread's core since then; of the clock where the system does not tell it.
    pub(crate) fn since(&self) -> Duration {
        match (on_core(), self.on_core) {
            (Some(now), Some(then)) => now.saturating_sub(then),
            _ => self.begun.elapsed(),
        }
    }
}

/// Time that this thread has had of a core: the first figure of Linux's `schedstat`, in nanoseconds.
fn on_core() -> Option<Duration> {
    let text = fs::read_to_string("/proc/thread-self/schedstat").ok()?;
    let nanoseconds = text.split_whitespace().next()?.parse().ok()?;
    Some(Duration::from_nanos(nanoseconds))
}

#[cfg(test)]
mod tests {
    use super::Spent;
    use std::time::Duration;

    #[test]
    fn what_waits_takes_no_more_than_the_clock() {
        let spent = Spent::now();
        std::thread::sleep(Duration::from_millis(30));
        let took = spent.since();
        assert!(took <= spent.begun.elapsed(), "{took:?}");
        if spent.on_core.is_some() {
            assert!(
                took < Duration::from_millis(25),
                "asleep, not at work: {took:?}"
            );
        }
    }
}
