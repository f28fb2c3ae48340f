//! What is made once for a version and remembered: while a page waits, or behind the pages where it takes long.

use super::{ANSWERS, Desk, Inner, Key};
use std::any::Any;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Arc, PoisonError};
use std::time::{Duration, Instant};

/// How long a page waits for what is made behind it: work that is done by then stands on it at once.
const MOMENT: Duration = Duration::from_millis(250);

impl Desk {
    /// A drawing's data that was made before, or makes it.
    pub(crate) fn remembered<T: Send + Sync + 'static>(
        &self,
        key: &Key,
        make: impl FnOnce() -> T,
    ) -> Arc<T> {
        let found = self.lock().pads.get(key).cloned();
        if let Some(found) = found.and_then(|found| found.downcast::<T>().ok()) {
            return found;
        }
        let made = Arc::new(make());
        self.lock().keep(key.clone(), made.clone());
        made
    }

    /// What was made before under a key; else it is made behind the pages, and nothing comes back unless that takes a moment
    /// only. When it is made, that is news.
    pub(crate) fn later<T: Send + Sync + 'static>(
        &self,
        key: &Key,
        make: impl FnOnce() -> T + Send + 'static,
    ) -> Option<Arc<T>> {
        let found = |inner: &Inner| inner.pads.get(key).cloned()?.downcast::<T>().ok();
        let mut inner = self.lock();
        if let Some(found) = found(&inner) {
            return Some(found);
        }
        if inner.making.insert(key.clone()) {
            let desk = self.own.upgrade()?;
            let key = key.clone();
            std::thread::spawn(move || {
                // What fails is not tried again for this version: the page goes on saying that it is not there.
                let made = catch_unwind(AssertUnwindSafe(make));
                let mut inner = desk.lock();
                if let Ok(made) = made {
                    inner.keep(key.clone(), Arc::new(made));
                    inner.making.remove(&key);
                }
                drop(inner);
                desk.wake.notify_all();
                desk.tell();
            });
        }
        let begun = Instant::now();
        while let Some(left) = MOMENT.checked_sub(begun.elapsed()) {
            let waited = self.wake.wait_timeout(inner, left);
            (inner, _) = waited.unwrap_or_else(PoisonError::into_inner);
            if let Some(found) = found(&inner) {
                return Some(found);
            }
        }
        None
    }

    /// Whether something is being made for the pages besides the search.
    pub(crate) fn is_making(&self) -> bool {
        !self.lock().making.is_empty()
    }
}

impl Inner {
    /// Remembers something that was made.
    fn keep(&mut self, key: Key, made: Arc<dyn Any + Send + Sync>) {
        if self.pads.len() >= ANSWERS {
            self.pads.clear();
        }
        self.pads.insert(key, made);
    }
}
