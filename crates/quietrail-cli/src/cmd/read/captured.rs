//! The value of a reading from a capture: the file read, what was assumed said, the statistic taken out of it.

use super::Desk;
use crate::cmd::capture::read_capture;
use crate::shell::{Complaint, complain};
use quietrail_bench::capture::{doubt, figures};
use quietrail_bench::log::{Draft, Observed};
use quietrail_report::words::captures as said;
use quietrail_report::words::readings;
use quietrail_units::{Amperes, Quantity};

/// The value as typed would be, and what to say about the capture.
pub(super) fn value(
    desk: &Desk,
    draft: &Draft,
    asked: &super::Read,
) -> Result<(String, String), Complaint> {
    let path = desk.job_path.with_file_name(&draft.capture);
    let capture = read_capture(&path, asked.column.as_deref())?;
    let found = figures(&capture.samples, desk.job.mains.frequency.nominal());
    let what = Observed::named(&draft.what);
    if !asked.as_typed
        && let Some(odd) =
            what.and_then(|what| doubt(&capture, what, desk.job.mains.frequency.nominal()))
    {
        let said = said::doubt(odd, capture.unit);
        return Err(complain(readings::doubtful_capture(&draft.capture, &said)));
    }
    let value = what.and_then(|what| found.of(what));
    if what == Some(Observed::Esr) {
        let typed = asked
            .amps
            .as_deref()
            .ok_or_else(|| complain(readings::NO_AMPS))?;
        let amps = Quantity::<Amperes>::parse(typed)
            .map_err(|error| complain(format_args!("--amps: {error}")))?
            .nominal;
        let ohms = found.esr(amps).ok_or_else(|| complain(readings::NO_AMPS))?;
        let text = said::capture(&draft.capture, &capture, &found)
            + &readings::esr_of(found.step, amps, ohms)
            + "\n";
        return Ok((format!("{ohms:e} Ω"), text));
    }
    let value = value.ok_or_else(|| complain(said::no_such_figure(&draft.what, found.cycles)))?;
    let text = said::capture(&draft.capture, &capture, &found);
    let unit = match what {
        Some(Observed::Frequency) => "Hz",
        _ => capture.unit,
    };
    Ok((format!("{value:e} {unit}"), text))
}
