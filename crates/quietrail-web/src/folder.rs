//! The job's folder: read whole, written whole or not at all. Nothing outside it is touched.

use quietrail_bench::capture::MAX_CAPTURE_BYTES;
use quietrail_bench::log::{Draft, Log, NotKept};
use quietrail_job::{FileId, MAX_JOB_BYTES, decode};
use quietrail_report::words::readings;
use sha2::{Digest, Sha256};
use std::fmt;
use std::fs;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

/// Where a job lies.
#[derive(Clone, Debug)]
pub struct Folder {
    /// The folder, resolved.
    folder: PathBuf,
    /// `job.toml` in it.
    job: PathBuf,
}

/// What a folder held when it was read.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Texts {
    /// `job.toml`; none where there is no such file yet.
    pub(crate) job: Option<String>,
    /// `parts.toml`, if there is one.
    pub(crate) parts: Option<String>,
}

/// Why a folder cannot be used.
#[derive(Debug)]
pub struct FolderError {
    path: PathBuf,
    said: String,
}

impl fmt::Display for FolderError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.path.display(), self.said)
    }
}

impl std::error::Error for FolderError {}

impl Folder {
    /// The folder of a job: the path of the folder, or of its `job.toml`. The file need not be there yet.
    ///
    /// # Errors
    /// There is no such folder.
    pub fn of(path: &Path) -> Result<Self, FolderError> {
        let is_file = path.is_file() || path.extension().is_some_and(|end| end == "toml");
        let folder = match (is_file, path.parent()) {
            (true, Some(parent)) if parent.as_os_str().is_empty() => Path::new("."),
            (true, Some(parent)) => parent,
            _ => path,
        };
        let because = |error: io::Error| FolderError {
            path: folder.to_owned(),
            said: said(&error),
        };
        let name = path.file_name().filter(|_| is_file);
        let folder = folder.canonicalize().map_err(because)?;
        if !folder.is_dir() {
            let said = "a file, where a folder was expected".to_owned();
            return Err(FolderError { path: folder, said });
        }
        let job = folder.join(name.unwrap_or("job.toml".as_ref()));
        Ok(Self { folder, job })
    }

    /// The folder as the person knows it.
    pub(crate) fn shown(&self) -> String {
        self.folder.display().to_string()
    }

    /// The job file's own name.
    pub(crate) fn file_name(&self) -> String {
        let name = self.job.file_name().unwrap_or_default();
        name.to_string_lossy().into_owned()
    }

    /// Reads the texts of the job.
    pub(crate) fn read(&self) -> Result<Texts, FolderError> {
        Ok(Texts {
            job: text_of(&self.job, FileId::Job)?,
            parts: text_of(&self.folder.join("parts.toml"), FileId::Parts)?,
        })
    }

    /// Where the readings log lies.
    fn log_path(&self) -> PathBuf {
        self.folder.join("readings.csv")
    }

    /// The readings log; empty where there is none yet.
    pub(crate) fn log(&self) -> Result<Log, FolderError> {
        let path = self.log_path();
        crate::log::read_log(&path).map_err(|error| FolderError {
            said: said(&error),
            path,
        })
    }

    /// Adds a row to the log; comes back once it is on the disk, or with why it is not kept.
    pub(crate) fn keep(&self, draft: &Draft) -> Result<(), String> {
        let path = self.log_path();
        match crate::log::keep_row(&path, draft) {
            Ok(_) => Ok(()),
            Err(NotKept::Row(fault)) => Err(readings::fault(&fault)),
            Err(NotKept::NoSuchRow(row)) => Err(readings::no_such_row(row)),
            Err(NotKept::Store(error)) => {
                let file = path.display().to_string();
                Err(readings::not_kept(&file, &said(&error)))
            }
        }
    }

    /// The text of a capture in the folder, or why it cannot be had.
    pub(crate) fn capture(&self, name: &str) -> Result<String, String> {
        let is_inside = Path::new(name)
            .components()
            .all(|part| matches!(part, std::path::Component::Normal(_)));
        if !is_inside {
            return Err(crate::words::bench::OUTSIDE_FOLDER.to_owned());
        }
        let mut bytes = Vec::new();
        fs::File::open(self.folder.join(name))
            .and_then(|file| {
                file.take(MAX_CAPTURE_BYTES as u64 + 1)
                    .read_to_end(&mut bytes)
            })
            .map_err(|error| said(&error))?;
        Ok(quietrail_bench::capture::text_of(&bytes))
    }

    /// Puts a capture into `captures/`, synced, and gives its name from the job's folder; the same file again keeps its name, another
    /// of that name gets a number.
    pub(crate) fn keep_capture(&self, name: &str, bytes: &[u8]) -> Result<String, String> {
        let folder = self.folder.join(CAPTURES);
        let because = |error: io::Error| format!("{}: {}", folder.display(), said(&error));
        fs::create_dir_all(&folder).map_err(because)?;
        // A link that leads elsewhere would put it there.
        let is_own = folder
            .canonicalize()
            .is_ok_and(|real| real.starts_with(&self.folder));
        if !is_own {
            return Err(format!(
                "{CAPTURES}: {}",
                crate::words::bench::OUTSIDE_FOLDER
            ));
        }
        let (stem, end) = name.rsplit_once('.').unwrap_or((name, "csv"));
        for number in 1..=MOST_OF_A_NAME {
            let own = match number {
                1 => name.to_owned(),
                more => format!("{stem}-{more}.{end}"),
            };
            let path = folder.join(&own);
            let made = fs::OpenOptions::new()
                .write(true)
                .create_new(true)
                .open(&path);
            match made {
                Ok(mut file) => {
                    let written = file.write_all(bytes).and_then(|()| file.sync_all());
                    if let Err(error) = written {
                        // Half a capture is none.
                        let _ = fs::remove_file(&path);
                        return Err(because(error));
                    }
                    crate::log::sync_folder(&path).map_err(because)?;
                    return Ok(format!("{CAPTURES}/{own}"));
                }
                Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {
                    if is_same(&path, bytes) {
                        return Ok(format!("{CAPTURES}/{own}"));
                    }
                }
                Err(error) => return Err(because(error)),
            }
        }
        Err(because(io::ErrorKind::AlreadyExists.into()))
    }

    /// When and how long the job's files are: changes whenever their text may have.
    pub(crate) fn trace(&self) -> [Trace; 2] {
        [
            trace_of(&self.job),
            trace_of(&self.folder.join("parts.toml")),
        ]
    }

    /// The same of the readings log.
    pub(crate) fn log_trace(&self) -> Trace {
        trace_of(&self.log_path())
    }

    /// Puts a new text in place of the job file, whole and synced, with the rights that the file had.
    pub(crate) fn write(&self, text: &str) -> Result<(), FolderError> {
        let because = |error: io::Error| FolderError {
            path: self.job.clone(),
            said: said(&error),
        };
        // A job file that is a link stays one: what it leads to is replaced.
        let target = self.job.canonicalize().unwrap_or_else(|_| self.job.clone());
        let mut file = atomic_write_file::AtomicWriteFile::open(target).map_err(because)?;
        file.write_all(text.as_bytes()).map_err(because)?;
        file.commit().map_err(because)
    }
}

/// Where captures that come through a page lie.
const CAPTURES: &str = "captures";
/// Files of one name that are told apart by a number.
const MOST_OF_A_NAME: u32 = 1000;

/// Whether a file holds just these bytes; one that is no plain file does not.
fn is_same(path: &Path, bytes: &[u8]) -> bool {
    let about = fs::symlink_metadata(path);
    about.is_ok_and(|about| about.is_file() && about.len() == bytes.len() as u64)
        && fs::read(path).is_ok_and(|own| own == bytes)
}

/// When a file was changed last, and how long it is; none where there is no such file.
pub(crate) type Trace = Option<(std::time::SystemTime, u64)>;

fn trace_of(path: &Path) -> Trace {
    let about = fs::metadata(path).ok()?;
    Some((about.modified().ok()?, about.len()))
}

/// A text file of bearable size; none where there is no such file.
fn text_of(path: &Path, id: FileId) -> Result<Option<String>, FolderError> {
    let because = |said: String| FolderError {
        path: path.to_owned(),
        said,
    };
    let file = match fs::File::open(path) {
        Ok(file) => file,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
        Err(error) => return Err(because(said(&error))),
    };
    let mut bytes = Vec::new();
    file.take(MAX_JOB_BYTES as u64 + 1)
        .read_to_end(&mut bytes)
        .map_err(|error| because(said(&error)))?;
    decode(&bytes, id)
        .map(|text| Some(text.to_owned()))
        .map_err(|fault| because(fault.message))
}

fn said(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::NotFound => "there is no such file or folder".to_owned(),
        io::ErrorKind::PermissionDenied => "no permission".to_owned(),
        io::ErrorKind::StorageFull => "the disk is full, make room".to_owned(),
        io::ErrorKind::ReadOnlyFilesystem => "the disk can only be read".to_owned(),
        _ => error.to_string(),
    }
}

/// The sum of a text (SHA-256, as `sha256sum` prints it).
pub(crate) fn sum(text: &str) -> String {
    sum_of(text.as_bytes())
}

/// The same of bytes.
pub(crate) fn sum_of(bytes: &[u8]) -> String {
    let digest = Sha256::digest(bytes);
    digest.iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::{Folder, sum};

    /// The sum of "abc" as FIPS 180-4's published example gives it.
    #[test]
    fn the_sum_is_the_published_one() {
        let abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(sum("abc"), abc);
    }

    #[test]
    fn a_file_is_replaced_whole_and_keeps_its_rights() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("job.toml");
        std::fs::write(&path, "format = 1\n").expect("written");
        let before = std::fs::metadata(&path).expect("there").permissions();
        let job = Folder::of(folder.path()).expect("a job folder");
        job.write("format = 1\n# new\n").expect("written");
        assert_eq!(
            job.read().expect("read").job.as_deref(),
            Some("format = 1\n# new\n")
        );
        assert_eq!(
            std::fs::metadata(&path).expect("there").permissions(),
            before
        );
    }

    #[test]
    fn a_capture_is_put_beside_the_job_and_never_over_another() {
        let folder = tempfile::tempdir().expect("a folder");
        std::fs::write(folder.path().join("job.toml"), "format = 1\n").expect("written");
        let job = Folder::of(folder.path()).expect("a job folder");
        let keep = |bytes: &[u8]| job.keep_capture("raw.csv", bytes).expect("kept");
        assert_eq!(keep(b"1"), "captures/raw.csv");
        assert_eq!(keep(b"2"), "captures/raw-2.csv");
        assert_eq!(keep(b"1"), "captures/raw.csv");
        assert_eq!(keep(b"3"), "captures/raw-3.csv");
        assert_eq!(job.capture("captures/raw-2.csv").as_deref(), Ok("2"));
    }

    #[test]
    #[cfg(unix)]
    fn a_folder_of_captures_that_leads_elsewhere_is_left_alone() {
        let folder = tempfile::tempdir().expect("a folder");
        let other = tempfile::tempdir().expect("a folder");
        std::fs::write(folder.path().join("job.toml"), "format = 1\n").expect("written");
        let link = folder.path().join("captures");
        std::os::unix::fs::symlink(other.path(), link).expect("linked");
        let job = Folder::of(folder.path()).expect("a job folder");
        assert!(job.keep_capture("raw.csv", b"1").is_err());
        assert_eq!(std::fs::read_dir(other.path()).expect("read").count(), 0);
    }

    #[test]
    fn a_folder_without_a_job_is_one_to_begin_in() {
        let folder = tempfile::tempdir().expect("a folder");
        let job = Folder::of(folder.path()).expect("a folder");
        assert_eq!(job.read().expect("read").job, None);
        assert!(Folder::of(&folder.path().join("gone")).is_err());
    }
}
