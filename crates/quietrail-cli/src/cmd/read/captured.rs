//! The value of a reading from a capture: the file read, what was assumed said, the statistic taken out of it.

use super::Desk;
use crate::cmd::capture::read_capture;
use crate::shell::{Complaint, complain};
use quietrail_bench::capture::figures;
use quietrail_bench::log::{Draft, Observed};
use quietrail_job::model::What;
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
    if Observed::named(&draft.what) == Some(Observed::Esr) {
        let typed = asked
            .amps
            .as_deref()
            .ok_or_else(|| complain(readings::NO_AMPS))?;
        let amps = Quantity::<Amperes>::parse(typed)
            .map_err(|error| complain(format_args!("--amps: {error}")))?
            .nominal;
        let ohms = found.step.abs() / amps.abs();
        if !(ohms.is_finite() && ohms > 0.0) {
            return Err(complain(readings::NO_AMPS));
        }
        let text = said::capture(&draft.capture, &capture, &found)
            + &readings::esr_of(found.step, amps, ohms)
            + "\n";
        return Ok((format!("{ohms:e} Ω"), text));
    }
    let value = value.ok_or_else(|| complain(said::no_such_figure(&draft.what, found.cycles)))?;
    let text = said::capture(&draft.capture, &capture, &found);
    Ok((format!("{value:e} {}", capture.unit), text))
}
