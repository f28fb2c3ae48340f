//! What is timed and noted by hand: a warm-up without a log, and where the frequency comes back to after a pause.

use super::{Accepted, Line, Why};
use crate::log::{Observed, Row};
use quietrail_units::Kind;

/// The latest warm-up that was timed by hand; it errs by what its set-up says.
pub(super) fn warm_up(most: f64, within: f64, rows: &[&Row]) -> Option<Accepted> {
    let row = latest(rows, Observed::WarmUp)?;
    let mut found = Accepted::of(Line::WarmUp { within }, None, Some(most));
    found.value = Some(row.value);
    found.rows = vec![row.row];
    Some(match row.setup.error(Kind::Seconds) {
        Some(error) => found.within((row.value - error).max(0.0), row.value + error),
        None => found.because(Why::NoSetting("error")),
    })
}

/// The retrace: the largest of those that were noted, either way.
pub(super) fn retrace(most: f64, rows: &[&Row]) -> Accepted {
    let mut found = Accepted::of(Line::Retrace, Some(-most), Some(most));
    let noted = rows.iter().filter(|row| row.what == Observed::Retrace);
    let Some(row) = noted.max_by(|a, b| a.value.abs().total_cmp(&b.value.abs())) else {
        return found;
    };
    found.value = Some(row.value);
    found.rows = vec![row.row];
    match row.setup.error(Kind::Ratio) {
        Some(error) => found.within(row.value - error, row.value + error),
        None => found.because(Why::NoSetting("error")),
    }
}

fn latest<'a>(rows: &[&'a Row], what: Observed) -> Option<&'a Row> {
    rows.iter().rev().find(|row| row.what == what).copied()
}
