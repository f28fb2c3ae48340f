//! The readings log of a job, and what is said of it.

use crate::shell::{Complaint, complain, words};
use quietrail_bench::log::{Draft, Log, NotKept, Row};
use quietrail_report::words::bringup;
use quietrail_report::words::readings;
use quietrail_web::{keep_row, read_log};
use std::path::{Path, PathBuf};

/// Where the log of a job lies.
pub(crate) fn path(job_path: &Path) -> PathBuf {
    job_path.with_file_name("readings.csv")
}

/// The log of a job; empty where there is none yet.
pub(crate) fn read(job_path: &Path) -> Result<Log, Complaint> {
    let path = path(job_path);
    read_log(&path).map_err(|error| complain(format_args!("{}: {}", path.display(), words(&error))))
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
    keep_row(&path, draft).map_err(|not_kept| match not_kept {
        NotKept::Row(fault) => complain(readings::fault(&fault)),
        NotKept::NoSuchRow(row) => complain(readings::no_such_row(row)),
        NotKept::Store(error) => complain(readings::not_kept(
            &path.display().to_string(),
            &words(&error),
        )),
    })
}
