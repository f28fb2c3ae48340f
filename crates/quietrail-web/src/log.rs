//! The readings log on the disk: read whole, added to under a lock, made durable before anything is said.
//!
//! Command line and workbook write through here, so they take turns.

use quietrail_bench::log::{Draft, Log, NotKept, Row, Store, append};
use std::fs::{File, OpenOptions, TryLockError};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::Path;
use std::time::{Duration, Instant};

/// How long another writer is waited for.
const PATIENCE: Duration = Duration::from_secs(10);

/// The log at a path; empty where there is none yet.
///
/// # Errors
/// It is there and cannot be read.
pub fn read_log(path: &Path) -> io::Result<Log> {
    match std::fs::read(path) {
        Ok(bytes) => Ok(Log::read(&String::from_utf8_lossy(&bytes))),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(Log::default()),
        Err(error) => Err(error),
    }
}

/// Adds a row to the log at a path, and returns once it is on the disk.
///
/// # Errors
/// Why it is not kept.
pub fn keep_row(path: &Path, draft: &Draft) -> Result<Row, NotKept<io::Error>> {
    for _ in 0..REPLACED {
        let is_new = !path.exists();
        let mut store = Disk::lock(path).map_err(NotKept::Store)?;
        // A program that saves puts another file in the place of this one, and what is added to this one is then nowhere.
        if !store.is_at(path) {
            continue;
        }
        let row = append(&mut store, draft)?;
        if !store.is_at(path) {
            continue;
        }
        if is_new {
            // The name of a new file is part of its folder.
            sync_folder(path).map_err(NotKept::Store)?;
        }
        return Ok(row);
    }
    Err(NotKept::Store(io::Error::other(
        quietrail_report::words::readings::IN_USE,
    )))
}

/// Times that the file may be replaced under the hand of a writer.
const REPLACED: u32 = 20;

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
                    return Err(io::Error::other(quietrail_report::words::readings::IN_USE));
                }
                Err(TryLockError::Error(error)) => return Err(error),
            }
        }
    }
}

impl Disk {
    /// Whether this file is still the one at the path.
    #[cfg(unix)]
    fn is_at(&self, path: &Path) -> bool {
        use std::os::unix::fs::MetadataExt;
        let (own, there) = (self.0.metadata(), std::fs::metadata(path));
        matches!((own, there), (Ok(own), Ok(there)) if (own.dev(), own.ino()) == (there.dev(), there.ino()))
    }

    /// Elsewhere a file that is open is not replaced.
    #[cfg(not(unix))]
    fn is_at(&self, path: &Path) -> bool {
        path.exists()
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
pub(crate) fn sync_folder(path: &Path) -> io::Result<()> {
    let folder = path
        .parent()
        .filter(|folder| !folder.as_os_str().is_empty());
    File::open(folder.unwrap_or(Path::new(".")))?.sync_all()
}

/// Elsewhere a folder cannot be opened for it.
#[cfg(not(unix))]
pub(crate) fn sync_folder(_: &Path) -> io::Result<()> {
    Ok(())
}

/// The time now, as RFC 3339 writes it, in UTC.
pub fn now() -> String {
    let since = std::time::SystemTime::now()
        .duration_since(std::time::UNIX_EPOCH)
        .unwrap_or_default();
    moment(since.as_secs())
}

/// A moment as RFC 3339 writes it, from its seconds since 1970. Days become dates by counting from the first of March of a
/// year that 400 divides, so that a leap day is the last of its year.
fn moment(seconds: u64) -> String {
    let (days, rest) = (seconds / 86_400, seconds % 86_400);
    let shifted = days + 719_468;
    let era = shifted / 146_097;
    let of_era = shifted % 146_097;
    let year_of_era = (of_era - of_era / 1460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let month = (5 * of_year + 2) / 153;
    let day = of_year - (153 * month + 2) / 5 + 1;
    let (month, more) = if month < 10 {
        (month + 3, 0)
    } else {
        (month - 9, 1)
    };
    let year = era * 400 + year_of_era + more;
    let (hour, minute, second) = (rest / 3600, rest / 60 % 60, rest % 60);
    format!("{year:04}-{month:02}-{day:02}T{hour:02}:{minute:02}:{second:02}Z")
}

#[cfg(test)]
mod tests {
    use super::{keep_row, moment, read_log};
    use quietrail_bench::log::{Draft, HEADER};
    use std::fs;

    fn draft(value: &str) -> Draft {
        Draft {
            of: "raw".to_owned(),
            what: "mean".to_owned(),
            value: value.to_owned(),
            unit: "V".to_owned(),
            instrument: "meter".to_owned(),
            setup: "clips".to_owned(),
            ..Draft::default()
        }
    }

    #[test]
    #[cfg(unix)]
    fn a_log_that_another_program_saves_meanwhile_gets_the_row_all_the_same() {
        let folder = tempfile::TempDir::new().expect("a folder");
        let path = folder.path().join("readings.csv");
        keep_row(&path, &draft("1")).expect("kept");
        // A spreadsheet has it open, and saves in its own way: another file in the place of this one.
        let held = fs::File::open(&path).expect("it is there");
        held.lock().expect("it is locked");
        let writer = {
            let path = path.clone();
            std::thread::spawn(move || keep_row(&path, &draft("3")).expect("kept").row)
        };
        std::thread::sleep(std::time::Duration::from_millis(100));
        let saved = format!("{HEADER}\n{}\n{}\n", draft("1").line(1), draft("2").line(2));
        fs::write(folder.path().join("saved"), saved).expect("written");
        fs::rename(folder.path().join("saved"), &path).expect("replaced");
        drop(held);
        assert_eq!(writer.join().expect("it ends"), 3);
        let log = read_log(&path).expect("it is read");
        let typed: Vec<&str> = log.rows.iter().map(|row| row.typed.as_str()).collect();
        assert_eq!(typed, ["1", "2", "3"], "{log:?}");
    }

    #[test]
    fn seconds_become_dates() {
        // Dates that everybody can look up: `date -u -d @951782400`.
        assert_eq!(moment(0), "1970-01-01T00:00:00Z");
        assert_eq!(moment(951_782_400), "2000-02-29T00:00:00Z");
        assert_eq!(moment(1_000_000_000), "2001-09-09T01:46:40Z");
        assert_eq!(moment(1_767_225_599), "2025-12-31T23:59:59Z");
    }
}
