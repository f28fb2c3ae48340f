//! How far a search has come, for whoever waits for it, and the ways to hold it up or end it early.

use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Condvar, Mutex, PoisonError};

/// Shared between a search and whoever waits for it.
#[derive(Debug, Default)]
pub struct Watch {
    corners: AtomicU64,
    stopped: AtomicBool,
    first_look: bool,
    without_helps: bool,
    held: Mutex<bool>,
    freed: Condvar,
}

impl Watch {
    /// For a search that only looks where the slopes of the nominal solution point: quick, and not thorough.
    pub fn first_look() -> Self {
        Self {
            first_look: true,
            ..Self::default()
        }
    }

    /// For a search as thorough as any, of which only the verdicts are wanted.
    pub fn without_helps() -> Self {
        Self {
            without_helps: true,
            ..Self::default()
        }
    }

    /// Corners solved so far.
    pub fn corners(&self) -> u64 {
        self.corners.load(Ordering::Relaxed)
    }

    /// Ends the search: it gives what it found so far.
    pub fn stop(&self) {
        self.stopped.store(true, Ordering::Relaxed);
        self.hold(false);
    }

    /// Holds the search up between two lots of corners, so that the machine is free for something else, or lets it go on.
    /// What it finds does not depend on it.
    pub fn hold(&self, is_held: bool) {
        *self.held.lock().unwrap_or_else(PoisonError::into_inner) = is_held && !self.is_stopped();
        self.freed.notify_all();
    }

    /// Whether it was ended early.
    pub fn is_stopped(&self) -> bool {
        self.stopped.load(Ordering::Relaxed)
    }

    /// Whether it only takes a first look.
    pub fn is_first_look(&self) -> bool {
        self.first_look
    }

    /// Whether only verdicts are wanted.
    pub(crate) fn is_for_verdicts(&self) -> bool {
        self.without_helps
    }

    /// Whether what takes long is left out.
    pub(crate) fn is_brief(&self) -> bool {
        self.first_look || self.without_helps || self.is_stopped()
    }

    pub(super) fn solved(&self, corners: usize) {
        self.corners.fetch_add(corners as u64, Ordering::Relaxed);
        let held = self.held.lock().unwrap_or_else(PoisonError::into_inner);
        let waited = self.freed.wait_while(held, |held| *held);
        drop(waited);
    }
}
