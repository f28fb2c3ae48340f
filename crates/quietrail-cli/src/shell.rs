//! The outside world: files, terminals, exit statuses. The only place that touches them.

use quietrail_job::model::Job;
use quietrail_job::{Diagnostic, FileId, MAX_JOB_BYTES, Severity, decode, read};
use quietrail_report::{Style, diagnostics};
use std::fmt;
use std::fs;
use std::io::{self, IsTerminal, Read};
use std::path::{Path, PathBuf};

/// Exit status when a job could not be read, or a command not be carried out.
pub(crate) const UNREADABLE: u8 = 2;

/// Exit status when nothing fails, but something is not shown.
pub(crate) const NOT_SHOWN: u8 = 3;

/// The texts of a job folder.
pub(crate) struct Sources {
    /// `job.toml` as the person named it.
    pub(crate) job_path: PathBuf,
    /// What stands in it.
    pub(crate) job_text: String,
    parts_path: PathBuf,
    parts_text: Option<String>,
}

/// What went wrong, ready to be printed to stderr, newline at the end.
#[derive(Debug)]
pub(crate) struct Complaint(String);

impl fmt::Display for Complaint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// A complaint of one sentence.
pub(crate) fn complain(sentence: impl fmt::Display) -> Complaint {
    Complaint(format!("quietrail: {sentence}\n"))
}

/// Reads the texts of a job: a folder, or its `job.toml`.
pub(crate) fn gather(job: &Path) -> Result<Sources, Complaint> {
    let job_path = if job.is_dir() {
        job.join("job.toml")
    } else {
        job.to_owned()
    };
    let job_text = read_text(&job_path, FileId::Job)?;
    let parts_path = job_path.with_file_name("parts.toml");
    let parts_text = if parts_path.exists() {
        Some(read_text(&parts_path, FileId::Parts)?)
    } else {
        None
    };
    Ok(Sources {
        job_path,
        job_text,
        parts_path,
        parts_text,
    })
}

impl Sources {
    /// The text of the job.
    pub(crate) fn job_text(&self) -> &str {
        &self.job_text
    }

    /// The job, warnings printed to stderr; every diagnostic at once where it has no meaning.
    pub(crate) fn job(&self) -> Result<Job, Complaint> {
        let reading = read(&self.job_text, self.parts_text.as_deref());
        let text = self.rendered(&reading.diagnostics);
        match reading.job {
            Some(job)
                if reading
                    .diagnostics
                    .iter()
                    .all(|d| d.severity < Severity::Error) =>
            {
                eprint!("{text}");
                Ok(job)
            }
            _ => Err(Complaint(text)),
        }
    }

    /// All diagnostics as data.
    pub(crate) fn diagnostics_json(&self) -> serde_json::Value {
        let reading = read(&self.job_text, self.parts_text.as_deref());
        diagnostics::to_json(
            &reading.diagnostics,
            &self.job_text,
            self.parts_text.as_deref(),
            &self.job_path.display().to_string(),
            &self.parts_path.display().to_string(),
        )
    }

    fn rendered(&self, all: &[Diagnostic]) -> String {
        diagnostics::render(
            all,
            &self.job_text,
            self.parts_text.as_deref(),
            &self.job_path.display().to_string(),
            &self.parts_path.display().to_string(),
            style_of(&io::stderr()),
        )
    }
}

/// A text file of bearable size, in UTF-8.
fn read_text(path: &Path, file_id: FileId) -> Result<String, Complaint> {
    let because =
        |error: io::Error| complain(format_args!("{}: {}", path.display(), words(&error)));
    if path.is_dir() {
        return Err(complain(format_args!(
            "{}: a folder, where a file was expected",
            path.display()
        )));
    }
    let file = fs::File::open(path).map_err(because)?;
    // One byte more than is allowed tells a file that is too large without reading all of it.
    let mut bytes = Vec::new();
    file.take(MAX_JOB_BYTES as u64 + 1)
        .read_to_end(&mut bytes)
        .map_err(because)?;
    decode(&bytes, file_id).map(str::to_owned).map_err(|fault| {
        let path = path.display().to_string();
        let style = style_of(&io::stderr());
        Complaint(diagnostics::render(
            &[*fault],
            "",
            Some(""),
            &path,
            &path,
            style,
        ))
    })
}

/// Writes a file that must not be there yet.
pub(crate) fn write_new(path: &Path, text: &str) -> Result<(), Complaint> {
    use std::io::Write;
    let because =
        |error: io::Error| complain(format_args!("{}: {}", path.display(), words(&error)));
    if let Some(folder) = path.parent() {
        fs::create_dir_all(folder).map_err(because)?;
    }
    let mut file = fs::File::create_new(path).map_err(because)?;
    file.write_all(text.as_bytes())
        .and_then(|()| file.sync_all())
        .map_err(because)
}

/// Puts a new text in the place of a job's: written beside it, on the disk, and only then renamed.
pub(crate) fn write_kept(path: &Path, text: &str) -> Result<(), Complaint> {
    use std::io::Write;
    let because =
        |error: io::Error| complain(format_args!("{}: {}", path.display(), words(&error)));
    let beside = path.with_extension("toml.new");
    let mut file = fs::File::create(&beside).map_err(because)?;
    file.write_all(text.as_bytes())
        .and_then(|()| file.sync_all())
        .and_then(|()| fs::rename(&beside, path))
        .map_err(because)
}

/// Prints an answer to standard output. A reader that goes away early (`| head`) ends the printing, not the
/// command.
pub(crate) fn say(text: &str) -> Result<(), Complaint> {
    use std::io::Write;
    match io::stdout().lock().write_all(text.as_bytes()) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            Err(complain(format_args!("standard output: {}", words(&error))))
        }
        _ => Ok(()),
    }
}

/// Writes a drawing, over an older one if there is one.
pub(crate) fn write_over(path: &Path, text: &str) -> Result<(), Complaint> {
    fs::write(path, text)
        .map_err(|error| complain(format_args!("{}: {}", path.display(), words(&error))))
}

/// Whether somebody types the input, rather than a file or another program.
pub(crate) fn is_terminal_input() -> bool {
    io::stdin().is_terminal()
}

/// One line on stderr that says how far a long run has come; silent where stderr is no terminal.
pub(crate) struct ProgressLine {
    is_shown: bool,
}

/// Back to the start of the line, which is then empty.
const CLEAR: &str = "\r\u{1b}[2K";

impl ProgressLine {
    /// Nothing said yet.
    pub(crate) fn new() -> Self {
        Self {
            is_shown: io::stderr().is_terminal(),
        }
    }

    /// Says something in place of what was said before.
    pub(crate) fn say(&self, text: &str) {
        if self.is_shown {
            eprint!("{CLEAR}{text}");
        }
    }
}

impl Drop for ProgressLine {
    fn drop(&mut self) {
        self.say("");
    }
}

/// What the system's refusals mean, in our words.
pub(crate) fn words(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::NotFound => "there is no such file or folder".to_owned(),
        io::ErrorKind::PermissionDenied => "no permission".to_owned(),
        io::ErrorKind::StorageFull => "the disk is full, make room".to_owned(),
        io::ErrorKind::ReadOnlyFilesystem => "the disk can only be read".to_owned(),
        io::ErrorKind::AlreadyExists => "already there, and left as it is".to_owned(),
        _ => error.to_string(),
    }
}

/// Colour and width for a stream: plain when it is no terminal or `NO_COLOR` is set.
pub(crate) fn style_of(stream: &impl IsTerminal) -> Style {
    let is_terminal = stream.is_terminal();
    let color = is_terminal && std::env::var_os("NO_COLOR").is_none_or(|value| value.is_empty());
    let columns = std::env::var("COLUMNS")
        .ok()
        .and_then(|text| text.parse().ok());
    Style {
        color,
        width: columns.unwrap_or(100),
    }
}
