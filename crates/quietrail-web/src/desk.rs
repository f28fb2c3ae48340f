//! What lies on the desk: the job file's versions, what is known of each, and the search that goes on behind.
//!
//! The file is the truth. Beside it the desk keeps only versions for undo, and answers that can be had again.

mod made;

use crate::folder::{Folder, FolderError, Texts, sum};
use crate::known::{Base, Known, Standing};
use crate::upload::Uploads;
use quietrail_job::model::Job;
use quietrail_job::{Change, Diagnostic, Severity};
pub(crate) use quietrail_report::difference::{DiffLine, difference};
use quietrail_study::finding::Proof;
use quietrail_study::prove::{Progress, prove_watched};
use quietrail_study::search::Watch;
use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, OnceLock, PoisonError, Weak};
use std::time::{Duration, Instant};

/// Versions that undo can go back to.
const VERSIONS: usize = 100;
/// Answers that are kept.
const ANSWERS: usize = 24;
/// How often the folder is looked at.
const LOOK: Duration = Duration::from_millis(300);
/// How long a hand that moves a slider may pause before the search goes on.
const REST: Duration = Duration::from_millis(600);

/// One text of the job file, with what it means.
pub(crate) struct Version {
    /// The texts; `job` is none where nothing has been written yet.
    pub(crate) texts: Texts,
    /// Sum of the job file's text.
    pub(crate) sum: String,
    /// What is wrong or doubtful in it.
    pub(crate) diagnostics: Vec<Diagnostic>,
    /// Why it could not even be read as text.
    pub(crate) unreadable: Option<String>,
    /// Its meaning, if it has one.
    pub(crate) job: Option<Arc<Job>>,
    base: OnceLock<Result<Arc<Base>, String>>,
}

impl Version {
    fn of(read: Result<Texts, FolderError>) -> Self {
        let (texts, unreadable) = match read {
            Ok(texts) => (texts, None),
            Err(error) => (Texts::default(), Some(error.to_string())),
        };
        let text = texts.job.as_deref().unwrap_or_default();
        let (job, diagnostics) = match &texts.job {
            Some(text) => {
                let reading = quietrail_job::read(text, texts.parts.as_deref());
                let broken = reading
                    .diagnostics
                    .iter()
                    .any(|one| one.severity >= Severity::Error);
                (reading.job.filter(|_| !broken), reading.diagnostics)
            }
            None => (None, Vec::new()),
        };
        Self {
            sum: sum(text),
            job: job.map(Arc::new),
            diagnostics,
            unreadable,
            texts,
            base: OnceLock::new(),
        }
    }

    /// The job made ready, solved when first asked for.
    pub(crate) fn base(&self) -> Option<Result<Arc<Base>, String>> {
        let job = self.job.as_ref()?;
        Some(
            self.base
                .get_or_init(|| Base::of(job).map(Arc::new))
                .clone(),
        )
    }
}

/// How far the search behind the page has come.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Searching {
    /// Corners solved.
    pub(crate) corners: u64,
    /// States done, and all of them.
    pub(crate) states: (usize, usize),
}

/// The desk.
pub(crate) struct Desk {
    /// Where the job lies.
    pub(crate) folder: Folder,
    /// Files that were sent and not yet kept.
    pub(crate) uploads: Uploads,
    inner: Mutex<Inner>,
    wake: Condvar,
    news: tokio::sync::watch::Sender<u64>,
    /// Itself, for work that outlives a request.
    own: Weak<Self>,
}

struct Inner {
    version: Arc<Version>,
    undo: Vec<String>,
    redo: Vec<String>,
    /// Texts by their sums, so that the difference to one of them can be shown.
    seen: VecDeque<(String, String)>,
    notice: Option<Notice>,
    known: VecDeque<(Key, Known)>,
    pads: BTreeMap<Key, Arc<dyn std::any::Any + Send + Sync>>,
    /// What is being made behind the pages, to be remembered.
    making: BTreeSet<Key>,
    wanted: VecDeque<Wanted>,
    running: Option<Running>,
    /// When a hand was last seen moving; the search waits until it rests.
    moved: Option<Instant>,
    closing: bool,
}

/// What the page says once about the file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Notice {
    /// The file was changed by something else; the lines that differ.
    ChangedElsewhere(Vec<DiffLine>),
}

/// A version and what is tried on it.
pub(crate) type Key = (String, String);

struct Wanted {
    key: Key,
    version: Arc<Version>,
    changes: Vec<Change>,
}

struct Running {
    key: Key,
    watch: Arc<Watch>,
    states: (usize, usize),
}

/// Why a write was refused.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Refused {
    /// The file is no longer the one that the page was made from: what changed meanwhile.
    Stale(Vec<DiffLine>),
    /// The new text would not be read: what is wrong with it.
    Broken(String),
    /// The folder does not let it be written.
    Folder(String),
    /// There is nothing to undo or redo.
    Nothing,
}

impl Desk {
    /// A desk for a folder; its search and its look at the folder run until [`Desk::close`].
    pub(crate) fn open(folder: Folder) -> Arc<Self> {
        let version = Arc::new(Version::of(folder.read()));
        let desk = Arc::new_cyclic(|own| Self {
            own: own.clone(),
            folder,
            uploads: Uploads::default(),
            inner: Mutex::new(Inner {
                version: version.clone(),
                undo: Vec::new(),
                redo: Vec::new(),
                seen: VecDeque::new(),
                notice: None,
                known: VecDeque::new(),
                pads: BTreeMap::new(),
                making: BTreeSet::new(),
                wanted: VecDeque::new(),
                running: None,
                moved: None,
                closing: false,
            }),
            wake: Condvar::new(),
            news: tokio::sync::watch::Sender::new(1),
        });
        let searcher = desk.clone();
        std::thread::spawn(move || searcher.search());
        let watcher = desk.clone();
        std::thread::spawn(move || watcher.watch_folder());
        desk.want(&version, &[], String::new());
        desk
    }

    /// Ends the search and the look at the folder.
    pub(crate) fn close(&self) {
        let mut inner = self.lock();
        inner.closing = true;
        if let Some(running) = &inner.running {
            running.watch.stop();
        }
        drop(inner);
        self.wake.notify_all();
        self.tell();
    }

    pub(crate) fn is_closing(&self) -> bool {
        self.lock().closing
    }

    /// What is on the desk now.
    pub(crate) fn version(&self) -> Arc<Version> {
        self.lock().version.clone()
    }

    /// Told of whatever pages may want to show anew.
    pub(crate) fn news(&self) -> tokio::sync::watch::Receiver<u64> {
        self.news.subscribe()
    }

    /// The number of the latest news.
    pub(crate) fn number(&self) -> u64 {
        *self.news.borrow()
    }

    /// What is to be said about the file.
    pub(crate) fn notice(&self) -> Option<Notice> {
        self.lock().notice.clone()
    }

    /// Takes the notice away.
    pub(crate) fn forget_notice(&self) {
        self.lock().notice = None;
        self.tell();
    }

    /// Whether there is something to undo, and to redo.
    pub(crate) fn can_undo(&self) -> (bool, bool) {
        let inner = self.lock();
        (!inner.undo.is_empty(), !inner.redo.is_empty())
    }

    /// How far the search for a key has come.
    pub(crate) fn searching(&self) -> Option<Searching> {
        let inner = self.lock();
        let running = inner.running.as_ref()?;
        Some(Searching {
            corners: running.watch.corners(),
            states: running.states,
        })
    }

    /// Ends the search early: what is found so far counts.
    pub(crate) fn stop_search(&self) {
        if let Some(running) = &self.lock().running {
            running.watch.stop();
        }
    }

    /// Searches on where a search was stopped by hand.
    pub(crate) fn look_on(&self) {
        let mut inner = self.lock();
        inner
            .known
            .retain(|(_, known)| known.standing != Standing::Stopped);
        let version = inner.version.clone();
        drop(inner);
        self.want(&version, &[], String::new());
        self.tell();
    }

    /// A hand moves: the search leaves the machine to it until it rests.
    pub(crate) fn hand_moves(&self) {
        let mut inner = self.lock();
        inner.moved = Some(Instant::now());
        if let Some(running) = &inner.running {
            running.watch.hold(true);
        }
    }

    /// Lets the search go on where the hand has come to rest.
    pub(crate) fn hand_rests(&self, at_once: bool) {
        let mut inner = self.lock();
        if at_once || inner.moved.is_some_and(|moved| moved.elapsed() > REST) {
            inner.moved = None;
            if let Some(running) = &inner.running {
                running.watch.hold(false);
            }
        }
    }

    /// What is known of a version with changes, if anything.
    pub(crate) fn known(&self, key: &Key) -> Option<Known> {
        let inner = self.lock();
        let found = inner.known.iter().find(|(known, _)| known == key);
        found.map(|(_, known)| known.clone())
    }

    /// Keeps what has become known, unless more was known already.
    pub(crate) fn learn(&self, key: Key, known: Known) {
        let mut inner = self.lock();
        let old = inner.known.iter().position(|(old, _)| *old == key);
        if let Some(old) = old {
            if inner.known[old].1.standing > known.standing {
                return;
            }
            inner.known.remove(old);
        }
        inner.known.push_back((key, known));
        // What is known of the file itself stays; of what was tried, the latest.
        while inner.known.len() > ANSWERS {
            let sum = inner.version.sum.clone();
            let oldest = inner
                .known
                .iter()
                .position(|((of, tried), _)| *of != sum || !tried.is_empty());
            inner.known.remove(oldest.unwrap_or(0));
        }
    }

    /// Asks for the whole search of a version with changes. Of what is tried, only the latest is searched.
    pub(crate) fn want(&self, version: &Arc<Version>, changes: &[Change], tried: String) {
        if version.job.is_none() {
            return;
        }
        let key = (version.sum.clone(), tried);
        let mut inner = self.lock();
        let is_whole =
            |(known, of): &(Key, Known)| *known == key && of.standing >= Standing::Stopped;
        let is_running = inner
            .running
            .as_ref()
            .is_some_and(|running| running.key == key);
        if inner.known.iter().any(is_whole) || is_running {
            inner
                .wanted
                .retain(|wanted| wanted.key.1.is_empty() || wanted.key == key);
            return;
        }
        let sum = version.sum.clone();
        inner
            .wanted
            .retain(|wanted| wanted.key.1.is_empty() && wanted.key.0 == sum);
        if let Some(running) = &inner.running
            && (!running.key.1.is_empty() || running.key.0 != sum)
        {
            running.watch.stop();
        }
        if inner.wanted.iter().all(|wanted| wanted.key != key) {
            inner.wanted.push_back(Wanted {
                key,
                version: version.clone(),
                changes: changes.to_vec(),
            });
        }
        drop(inner);
        self.wake.notify_all();
    }

    /// The search behind the pages, one at a time.
    fn search(&self) {
        loop {
            let mut inner = self.lock();
            let wanted = loop {
                if inner.closing {
                    return;
                }
                if let Some(wanted) = inner.wanted.pop_front() {
                    break wanted;
                }
                inner = self
                    .wake
                    .wait(inner)
                    .unwrap_or_else(PoisonError::into_inner);
            };
            drop(inner);
            // A fault in the search must not end it for good.
            let outcome = catch_unwind(AssertUnwindSafe(|| self.search_for(&wanted)));
            if outcome.is_err() {
                eprintln!("quietrail: the search ended by a fault of its own");
            }
            self.lock().running = None;
            self.tell();
        }
    }

    fn search_for(&self, wanted: &Wanted) {
        let Some(Ok(base)) = wanted.version.base() else {
            return;
        };
        let Ok(job) = base.ready.job.with(&wanted.changes) else {
            return;
        };
        self.tell();
        let is_stopped =
            wanted.changes.is_empty() && self.search_with(wanted, &base, &job, Standing::FirstLook);
        if !is_stopped {
            self.search_with(wanted, &base, &job, Standing::Whole);
        }
    }

    /// Searches, and says whether that was stopped by hand.
    fn search_with(&self, wanted: &Wanted, base: &Base, job: &Job, standing: Standing) -> bool {
        let watch = Arc::new(match standing {
            Standing::FirstLook => Watch::first_look(),
            Standing::Provisional | Standing::Stopped | Standing::Whole => Watch::default(),
        });
        let all = job.states.len();
        {
            let mut inner = self.lock();
            if inner.closing || inner.version.sum != wanted.key.0 {
                return false;
            }
            watch.hold(inner.moved.is_some());
            inner.running = Some(Running {
                key: wanted.key.clone(),
                watch: watch.clone(),
                states: (0, all),
            });
        }
        self.tell();
        let mut begun = 0;
        let proof = prove_watched(job, &quietrail_study::options(), &watch, &mut |progress| {
            if matches!(progress, Progress::Searching { .. }) {
                begun += 1;
                if let Some(running) = &mut self.lock().running {
                    running.states = (begun - 1, all);
                }
            }
        });
        let is_wanted = {
            let inner = self.lock();
            // Ended because something else is wanted: half an answer for nobody.
            !inner.closing && (!watch.is_stopped() || inner.wanted.is_empty())
        };
        let standing = if watch.is_stopped() {
            Standing::Stopped
        } else {
            standing
        };
        if let (Ok(proof), true) = (proof, is_wanted) {
            self.settle(wanted, base, job, proof, standing);
        }
        is_wanted && watch.is_stopped()
    }

    fn settle(&self, wanted: &Wanted, base: &Base, job: &Job, proof: Proof, standing: Standing) {
        let known = base.proved(proof, job, &wanted.changes, standing);
        self.learn(wanted.key.clone(), known);
        self.tell();
    }

    /// Looks at the folder again and again; a file that changed is read.
    fn watch_folder(&self) {
        let mut trace = self.folder.trace();
        let mut log = self.folder.log_trace();
        // At first for what changed before it; then a file that changes is read once it rests, so that one half written
        // does not become a version.
        let mut is_moving = true;
        loop {
            std::thread::sleep(LOOK);
            if self.is_closing() {
                return;
            }
            self.hand_rests(false);
            let now = self.folder.trace();
            if now != trace {
                trace = now;
                is_moving = true;
            } else if is_moving {
                is_moving = false;
                self.reload();
            }
            let now = self.folder.log_trace();
            if now != log {
                log = now;
                self.tell();
            }
        }
    }

    /// Reads the folder; says so where the file is not what it was.
    fn reload(&self) {
        // Read under the lock: of two that read at once, the one that read earlier must not have the last word.
        let mut inner = self.lock();
        let read = self.folder.read();
        let old = inner.version.clone();
        let is_same = match &read {
            Ok(texts) => *texts == old.texts && old.unreadable.is_none(),
            Err(error) => old.unreadable.as_ref() == Some(&error.to_string()),
        };
        if is_same {
            return;
        }
        let new = Arc::new(Version::of(read));
        let before = old.texts.job.clone().unwrap_or_default();
        let after = new.texts.job.clone().unwrap_or_default();
        inner.remember(&old);
        if before != after {
            push_bounded(&mut inner.undo, before.clone());
            inner.redo.clear();
            inner.notice = Some(Notice::ChangedElsewhere(difference(&before, &after)));
        }
        inner.version = new.clone();
        drop(inner);
        self.tell();
        self.want(&new, &[], String::new());
    }

    /// The version now, if it is the one with this sum, and the text of its job file.
    fn based_on(
        &self,
        sum: &str,
    ) -> Result<(MutexGuard<'_, Inner>, Arc<Version>, String), Refused> {
        self.reload();
        let inner = self.lock();
        let version = inner.version.clone();
        let now = version.texts.job.clone().unwrap_or_default();
        if version.sum != sum {
            let known = inner.seen.iter().find(|(known, _)| known == sum);
            let before = known.map(|(_, text)| text.clone()).unwrap_or_default();
            return Err(Refused::Stale(difference(&before, &now)));
        }
        Ok((inner, version, now))
    }

    /// Writes a new text that was made from the version with this sum.
    pub(crate) fn write(
        &self,
        based_on: &str,
        make: impl FnOnce(&str) -> Result<String, String>,
    ) -> Result<(), Refused> {
        let (mut inner, version, now) = self.based_on(based_on)?;
        let text = make(&now).map_err(Refused::Broken)?;
        if text == now {
            return Ok(());
        }
        inner.put(&self.folder, text, version.texts.parts.clone())?;
        push_bounded(&mut inner.undo, now);
        inner.redo.clear();
        self.written(inner);
        Ok(())
    }

    /// Goes back to the text before, or forward again.
    pub(crate) fn step_back(&self, based_on: &str, forward: bool) -> Result<(), Refused> {
        let (mut inner, version, now) = self.based_on(based_on)?;
        let stack = if forward {
            &mut inner.redo
        } else {
            &mut inner.undo
        };
        let text = stack.pop().ok_or(Refused::Nothing)?;
        inner.put(&self.folder, text, version.texts.parts.clone())?;
        let other = if forward {
            &mut inner.undo
        } else {
            &mut inner.redo
        };
        push_bounded(other, now);
        self.written(inner);
        Ok(())
    }

    fn written(&self, mut inner: MutexGuard<'_, Inner>) {
        inner.notice = None;
        let version = inner.version.clone();
        drop(inner);
        self.tell();
        self.want(&version, &[], String::new());
    }

    fn tell(&self) {
        self.news.send_modify(|number| *number += 1);
    }

    fn lock(&self) -> MutexGuard<'_, Inner> {
        // What is inside is whole between any two of its lines: a fault elsewhere does not spoil it.
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Inner {
    fn put(&mut self, folder: &Folder, text: String, parts: Option<String>) -> Result<(), Refused> {
        folder
            .write(&text)
            .map_err(|error| Refused::Folder(error.to_string()))?;
        let old = self.version.clone();
        self.remember(&old);
        let texts = Texts {
            job: Some(text),
            parts,
        };
        self.version = Arc::new(Version::of(Ok(texts)));
        Ok(())
    }

    fn remember(&mut self, version: &Version) {
        if let Some(text) = &version.texts.job {
            self.seen.push_back((version.sum.clone(), text.clone()));
            if self.seen.len() > VERSIONS {
                self.seen.pop_front();
            }
        }
    }
}

fn push_bounded(stack: &mut Vec<String>, text: String) {
    stack.push(text);
    if stack.len() > VERSIONS {
        stack.remove(0);
    }
}

#[cfg(test)]
mod tests;
