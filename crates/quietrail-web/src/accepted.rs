//! The acceptance of the job's oscillators: readings of the log and the counter's log that it names, judged.

use crate::sheet::Sheet;
use quietrail_bench::accept::{Accepted, Log as Logged, accept, kept_logs};
use quietrail_bench::capture::read;
use quietrail_bench::counter::{Counted, counted};
use quietrail_bench::log::Log;
use quietrail_job::model::Oscillator;
use quietrail_report::words as said;

/// An oscillator with what is shown of it.
pub(crate) struct Acceptance {
    /// Its name.
    pub(crate) name: String,
    /// Carrier, Hz.
    pub(crate) hertz: f64,
    /// Lines of its data sheet.
    pub(crate) lines: Vec<Accepted>,
    /// Logs that were kept and cannot be worked out any more, and why.
    pub(crate) gone: Vec<String>,
    /// The counter's logs that were kept and can be worked out, by the file's name, the last one last.
    pub(crate) counted: Vec<(String, Counted)>,
}

/// Of every oscillator of the file's version.
pub(crate) fn all(sheet: &Sheet<'_>, log: &Log) -> Vec<Acceptance> {
    let Some(job) = sheet.version.job.as_deref() else {
        return Vec::new();
    };
    let standing = log.standing();
    let of = |own: &Oscillator| {
        let rows = kept_logs(&standing, &own.name);
        let counted: Vec<Result<Counted, String>> = rows
            .iter()
            .map(|row| worked_out(sheet, own, &row.capture, row.setup.column.as_deref()))
            .collect();
        let counter = |name: &str| job.instruments.iter().find(|one| one.name == name);
        let logs: Vec<Logged<'_>> = rows
            .iter()
            .zip(&counted)
            .filter_map(|(row, counted)| {
                Some(Logged {
                    counted: counted.as_ref().ok()?,
                    counting: counter(&row.instrument).and_then(|one| one.counting.as_ref()),
                    counter: &row.instrument,
                    row: Some(row.row),
                    gate: row.setup.gate(),
                })
            })
            .collect();
        let lines = accept(own, &standing, &logs, &job.instruments);
        Acceptance {
            name: own.name.clone(),
            hertz: own.frequency.nominal(),
            lines,
            gone: counted
                .iter()
                .filter_map(|one| one.as_ref().err().cloned())
                .collect(),
            counted: rows
                .iter()
                .zip(counted)
                .filter_map(|(row, counted)| Some((row.capture.clone(), counted.ok()?)))
                .collect(),
        }
    };
    job.oscillators.iter().map(of).collect()
}

/// A counter's log in the job's folder.
pub(crate) fn worked_out(
    sheet: &Sheet<'_>,
    own: &Oscillator,
    name: &str,
    column: Option<&str>,
) -> Result<Counted, String> {
    let why = |said: String| format!("{name}: {said}");
    let text = sheet.desk.folder.capture(name).map_err(why)?;
    let capture = read(&text, column).map_err(|fault| why(said::captures::fault(&fault)))?;
    if capture.unit != "Hz" {
        return Err(why(said::counted::not_hertz(capture.unit)));
    }
    let hertz = own.frequency.nominal();
    counted(&capture.samples, hertz)
        .map(|found| found.in_steps_of(capture.step / hertz))
        .map_err(|fault| why(said::counted::not_counted(fault)))
}
