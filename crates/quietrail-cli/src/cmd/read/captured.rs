//! The value of a reading from a capture: the file read, what was assumed said, the statistic taken out of it.

use super::Desk;
use crate::shell::{Complaint, complain, words};
use quietrail_bench::capture::{MAX_CAPTURE_BYTES, figures, read};
use quietrail_bench::log::{Draft, Observed};
use quietrail_job::model::What;
use quietrail_report::words::captures as said;
use std::fs::File;
use std::io::Read;

/// The value as typed would be, and what to say about the capture.
pub(super) fn value(
    desk: &Desk,
    draft: &Draft,
    column: Option<&str>,
) -> Result<(String, String), Complaint> {
    let path = desk.job_path.with_file_name(&draft.capture);
    let because =
        |error: std::io::Error| complain(format_args!("{}: {}", path.display(), words(&error)));
    let mut bytes = Vec::new();
    File::open(&path)
        .map_err(because)?
        .take(MAX_CAPTURE_BYTES as u64 + 1)
        .read_to_end(&mut bytes)
        .map_err(because)?;
    let text = String::from_utf8_lossy(&bytes);
    let fault = |fault| complain(format_args!("{}: {}", path.display(), said::fault(&fault)));
    let capture = read(&text, column).map_err(fault)?;
    let found = figures(&capture.samples, desk.job.mains.frequency.nominal());
    let value = match Observed::named(&draft.what) {
        Some(Observed::Statistic(what)) => match what {
            What::Mean | What::Current => Some(found.mean),
            What::Valley => Some(found.valley),
            What::Peak | What::PeakCurrent => Some(found.peak),
            What::RipplePeakToPeak => Some(found.peak - found.valley),
            What::Ripple => (found.cycles > 0).then_some(found.ripple),
            What::Noise => (found.cycles > 0).then_some(found.noise),
            What::RippleAndNoise => Some(found.ac_rms),
            _ => None,
        },
        Some(Observed::Frequency) => Some(found.hertz),
        _ => None,
    };
    let value = value.ok_or_else(|| complain(said::no_such_figure(&draft.what, found.cycles)))?;
    let text = said::capture(&draft.capture, &capture, &found);
    Ok((format!("{value:e} {}", capture.unit), text))
}
