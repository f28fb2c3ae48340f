//! How far a storm has come, told on stderr while that is a terminal; and which job takes too long.

use std::collections::BTreeMap;
use std::io::IsTerminal;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// How often it is told.
const TICK: Duration = Duration::from_millis(200);
/// Time after which a job in hand is named, terminal or not, so that a hang can be found.
const LONG: Duration = Duration::from_secs(60);

/// Watches a storm.
pub(crate) struct Watch {
    shared: Arc<Shared>,
    teller: Mutex<Option<JoinHandle<()>>>,
}

struct Shared {
    total: u64,
    done: AtomicU64,
    is_over: AtomicBool,
    is_terminal: bool,
    /// Jobs in hand, since when, and whether they were named already.
    in_hand: Mutex<BTreeMap<String, (Instant, bool)>>,
}

/// A job in hand, until it is dropped.
pub(crate) struct Seen<'a> {
    shared: &'a Shared,
    name: String,
}

impl Watch {
    /// Begins to watch so many jobs.
    pub(crate) fn start(total: u64) -> Self {
        let shared = Arc::new(Shared {
            total,
            done: AtomicU64::new(0),
            is_over: AtomicBool::new(false),
            is_terminal: std::io::stderr().is_terminal(),
            in_hand: Mutex::default(),
        });
        let watched = Arc::clone(&shared);
        let teller = std::thread::spawn(move || {
            while !watched.is_over.load(Ordering::Relaxed) {
                watched.tell();
                std::thread::park_timeout(TICK);
            }
        });
        Self {
            shared,
            teller: Mutex::new(Some(teller)),
        }
    }

    /// Jobs in hand.
    pub(crate) fn in_hand(&self) -> Vec<String> {
        self.shared.jobs().keys().cloned().collect()
    }

    /// Takes a job in hand.
    pub(crate) fn begin(&self, name: String) -> Seen<'_> {
        let entry = (Instant::now(), false);
        self.shared.jobs().insert(name.clone(), entry);
        Seen {
            shared: &self.shared,
            name,
        }
    }

    /// Tells of an offence, in a line of its own.
    pub(crate) fn offence(&self, line: &str) {
        self.shared.clear();
        eprintln!("{line}");
    }

    /// Ends the watch.
    pub(crate) fn end(&self) {
        self.shared.is_over.store(true, Ordering::Relaxed);
        let teller = self
            .teller
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .take();
        if let Some(teller) = teller {
            teller.thread().unpark();
            // It only tells: should it have panicked, the counts stand all the same.
            let _ = teller.join();
        }
        self.shared.clear();
    }
}

impl Shared {
    fn jobs(&self) -> std::sync::MutexGuard<'_, BTreeMap<String, (Instant, bool)>> {
        // A panic of another thread leaves a map of names as good as it was.
        self.in_hand.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn tell(&self) {
        for (name, (since, is_named)) in self.jobs().iter_mut() {
            if !*is_named && since.elapsed() > LONG {
                *is_named = true;
                self.clear();
                eprintln!("{name}: in hand for over {} s", LONG.as_secs());
            }
        }
        if self.is_terminal {
            let done = self.done.load(Ordering::Relaxed);
            eprint!("\r{done} of {} jobs", self.total);
        }
    }

    fn clear(&self) {
        if self.is_terminal {
            eprint!("\r\x1b[K");
        }
    }
}

impl Drop for Seen<'_> {
    fn drop(&mut self) {
        self.shared.jobs().remove(&self.name);
        self.shared.done.fetch_add(1, Ordering::Relaxed);
    }
}
