//! States side by side: what is found in one does not depend on another.

use std::panic::resume_unwind;
use std::sync::atomic::{AtomicUsize, Ordering};

/// What comes of each of so many states, in their order; as many at a time as there are cores.
///
/// Each has a thread of its own and not one of the cores' own: a search may be held up, and those are for whoever holds it up.
/// Within a task of the cores, or with one core, they go one after the other.
pub(super) fn each<T: Send>(count: usize, of: &(dyn Fn(usize) -> T + Sync)) -> Vec<T> {
    let is_inside = rayon::current_thread_index().is_some();
    let threads = rayon::current_num_threads().min(count);
    if is_inside || threads < 2 {
        return (0..count).map(of).collect();
    }
    let next = AtomicUsize::new(0);
    let take = || {
        let mut done = Vec::new();
        loop {
            let state = next.fetch_add(1, Ordering::Relaxed);
            if state >= count {
                return done;
            }
            done.push((state, of(state)));
        }
    };
    let mut all: Vec<(usize, T)> = std::thread::scope(|scope| {
        let under_way: Vec<_> = (0..threads).map(|_| scope.spawn(take)).collect();
        under_way
            .into_iter()
            .flat_map(|one| one.join().unwrap_or_else(|fault| resume_unwind(fault)))
            .collect()
    });
    all.sort_by_key(|(state, _)| *state);
    all.into_iter().map(|(_, own)| own).collect()
}

#[cfg(test)]
mod tests {
    use super::each;

    #[test]
    fn states_come_in_their_order() {
        let squares = |state: usize| state * state;
        assert_eq!(each(7, &squares), [0, 1, 4, 9, 16, 25, 36]);
        assert_eq!(each(0, &squares), [0_usize; 0]);
    }

    #[test]
    #[should_panic(expected = "the third")]
    fn a_panic_is_passed_on() {
        each(4, &|state| assert!(state != 2, "the third"));
    }
}
