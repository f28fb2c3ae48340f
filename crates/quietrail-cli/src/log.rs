//! The readings log on the disk: read whole, added to under a lock, made durable before anything is said.

use crate::shell::{Complaint, complain, words};
use quietrail_bench::log::{Draft, Log, NotKept, Row, Store, append};
use quietrail_report::words::bringup;
use quietrail_report::words::readings;
use std::fs::{File, OpenOptions, TryLockError};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// How long another writer is waited for.
const PATIENCE: Duration = Duration::from_secs(10);

/// Where the log of a job lies.
pub(crate) fn path(job_path: &Path) -> PathBuf {
    job_path.with_file_name("readings.csv")
}

/// The log of a job; empty where there is none yet.
pub(crate) fn read(job_path: &Path) -> Result<Log, Complaint> {
    let path = path(job_path);
    match std::fs::read(&path) {
        Ok(bytes) => Ok(Log::read(&String::from_utf8_lossy(&bytes))),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(Log::default()),
        Err(error) => Err(complain(format_args!(
            "{}: {}",
            path.display(),
            words(&error)
        ))),
    }
}

/// Says on stderr which lines do not count.
pub(crate) fn report_damage(log: &Log) {
    for damaged in &log.damaged {
        eprintln!(
            "{}",
            bringup::damaged(damaged.line, &readings::fault(&damaged.fault))
        );
    }
}

/// Adds a row, and returns once it is on the disk.
pub(crate) fn keep(job_path: &Path, draft: &Draft) -> Result<Row, Complaint> {
    let path = path(job_path);
    let because =
        |error: &io::Error| complain(format_args!("{}: {}", path.display(), words(error)));
    let is_new = !path.exists();
    let mut store = Disk::lock(&path).map_err(|error| because(&error))?;
    let row = append(&mut store, draft).map_err(|not_kept| match not_kept {
        NotKept::Row(fault) => complain(readings::fault(&fault)),
        NotKept::NoSuchRow(row) => complain(readings::no_such_row(row)),
        NotKept::Store(error) => because(&error),
    })?;
    if is_new {
        // The name of a new file is part of its folder.
        sync_folder(&path).map_err(|error| because(&error))?;
    }
    Ok(row)
}

/// The file, held by this writer alone.
struct Disk(File);

impl Disk {
    fn lock(path: &Path) -> io::Result<Self> {
        let file = OpenOptions::new()
            .read(true)
            .append(true)
            .create(true)
            .open(path)?;
        let begun = Instant::now();
        loop {
            match file.try_lock() {
                Ok(()) => return Ok(Self(file)),
                Err(TryLockError::WouldBlock) if begun.elapsed() < PATIENCE => {
                    std::thread::sleep(Duration::from_millis(5));
                }
                Err(TryLockError::WouldBlock) => {
                    return Err(io::Error::other(readings::IN_USE));
                }
                Err(TryLockError::Error(error)) => return Err(error),
            }
        }
    }
}

impl Store for Disk {
    type Error = io::Error;

    fn bytes(&mut self) -> io::Result<Vec<u8>> {
        let mut bytes = Vec::new();
        self.0.seek(SeekFrom::Start(0))?;
        self.0.read_to_end(&mut bytes)?;
        Ok(bytes)
    }

    fn append(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.0.write_all(bytes)
    }

    fn sync(&mut self) -> io::Result<()> {
        self.0.sync_all()
    }
}

#[cfg(unix)]
fn sync_folder(path: &Path) -> io::Result<()> {
    let folder = path
        .parent()
        .filter(|folder| !folder.as_os_str().is_empty());
    File::open(folder.unwrap_or(Path::new(".")))?.sync_all()
}

/// Elsewhere a folder cannot be opened for it.
#[cfg(not(unix))]
fn sync_folder(_: &Path) -> io::Result<()> {
    Ok(())
}
