//! What is said where readings are typed, and of captures.

/// Labels the choice of a capture.
pub(crate) const LAID_OVER: &str = "Measured wave";
/// No capture laid over.
pub(crate) const NOTHING_OVER: &str = "none";

/// `row 12, captures/raw.csv`
pub(crate) fn capture_of(row: &quietrail_bench::log::Row) -> String {
    format!("row {}, {}", row.row, row.capture)
}

/// `raw, measured`
pub(crate) fn measured_of(node: &str) -> String {
    format!("{node}, measured")
}

/// A capture that lies elsewhere.
pub(crate) const OUTSIDE_FOLDER: &str =
    "is not in the job's folder; the workbook opens nothing else";

/// The range of the instrument.
pub(crate) const RANGE: &str = "Range";
/// The instrument chose its range.
pub(crate) const RANGE_BY_ITSELF: &str = "automatic";
/// Leaves a point for later.
pub(crate) const NOT_NOW: &str = "Not now";
/// In the list: no instrument of the job reads it.
pub(crate) const NOBODY_READS: &str = "no instrument reads it";

/// In place of the field.
pub(crate) fn nobody_reads(what: &str) -> String {
    format!("No instrument of the job reads {what}. Write one into the job, or leave it.")
}

/// Averages that the instrument took.
pub(crate) const AVERAGES: &str = "Averages, if any";
/// The reading is a floor.
pub(crate) const IS_FLOOR: &str =
    "Input shorted at the same place: this is the floor, what the instrument reads of itself";
/// While the bands of a step are computed.
pub(crate) const COMING: &str = "What every point of this step should read is being computed; it will stand here in a moment. \
     Nothing is to be powered before.";
/// Mains is off: the step is locked.
pub(crate) const WAITS: &str = "Locked";
/// What the step is like once it is open.
pub(crate) const WILL_BE_LIVE: &str = "Nothing is powered yet. In this step:";
/// From what is said of the proof to all of it.
pub(crate) const TO_MARGINS: &str = "All limits and what would help";

/// Before each limit that fails, where the load would be connected.
pub(crate) const PROOF_FAILS: &str = "The proof fails:";

/// A point as it is said: `heater to pin` for the pair that the log writes `heater,pin`.
pub(crate) fn point(of: &str) -> String {
    match of.split_once(',') {
        Some((plus, minus)) if !minus.starts_with(' ') => format!("{plus} to {minus}"),
        _ => of.to_owned(),
    }
}

/// `7 rows not read, 1 does not fit`
pub(crate) fn waits_for(not_read: usize, read_again: usize, unfit: usize) -> String {
    let rows = |count: usize| if count == 1 { "row" } else { "rows" };
    let mut parts = Vec::new();
    if not_read > 0 {
        parts.push(format!("{not_read} {} not read", rows(not_read)));
    }
    if read_again > 0 {
        parts.push(format!(
            "{read_again} {} to be read again",
            rows(read_again)
        ));
    }
    if unfit > 0 {
        let verb = if unfit == 1 {
            "does not fit"
        } else {
            "do not fit"
        };
        parts.push(format!("{unfit} {} that {verb}", rows(unfit)));
    }
    parts.join(", ")
}

/// Leads to the step that is waited for.
pub(crate) fn to_step(name: &str) -> String {
    format!("Go to {name}")
}

/// What to do about a range that does not fit.
pub(crate) const RANGE_ANEW: &str =
    "choose the range that it was read on, or let the meter choose.";

/// Keeps a value that looks a thousand times off.
pub(crate) const AS_TYPED: &str = "Keep as typed";
/// A reading without its set-up.
pub(crate) const NO_SETUP: &str =
    "Instrument and set-up belong to a reading: a number without them is worth nothing later.";

/// Beside the field of a safety row, in place of a unit.
pub(crate) const WITH_UNIT: &str = "with its unit";

/// A number without a unit in a safety row: what it may be, said with the units that testers show.
pub(crate) fn bare(typed: &str, what: quietrail_bench::log::Observed, symbol: &str) -> String {
    let prefixes = match what {
        quietrail_bench::log::Observed::Insulation => ["M", "G"],
        _ => ["m", ""],
    };
    let [one, other] = prefixes.map(|prefix| format!("{typed}\u{a0}{prefix}{symbol}"));
    format!("A safety row takes no number without its unit: {one} or {other}?")
}

/// A range of another instrument.
pub(crate) fn not_its_range(instrument: &str, range: &str) -> String {
    format!(
        "{instrument} has no range {range}: choose the instrument that has it, or let it choose itself."
    )
}

/// A value that looks a thousand times off.
pub(crate) fn did_you_mean(
    typed: &str,
    meant: f64,
    one: &quietrail_study::bringup::Expectation,
) -> String {
    let band = quietrail_report::words::bringup::band(one.low, one.high, one.unit);
    let meant = quietrail_report::number::as_typed(meant, one.unit, typed);
    format!("Read {typed}, where {band} is expected. Did you mean {meant}?")
}

/// Heads of the table of a step's points.
pub(crate) const POINT_HEADS: [&str; 7] = [
    "point",
    "what",
    "low",
    "as marked",
    "high",
    "read",
    "beside what is expected",
];
/// Leads to the sum behind what a point should read with parts as marked.
pub(crate) const WHERE_FROM: &str = "where this comes from";

/// `by reading, mains at 231 V, taken with its step locked, regardless`
pub(crate) fn regardless(by: &str, mains: &str) -> String {
    let mains = if mains.is_empty() {
        String::new()
    } else {
        format!(", {mains}")
    };
    format!("{by}{mains}, taken with its step locked, regardless")
}

/// A mains voltage that the job's socket does not have.
pub(crate) fn other_mains(read: f64, low: f64, high: f64) -> String {
    let own = quietrail_report::words::bringup::band(Some(low), Some(high), "V");
    let read = quietrail_report::number::si(read, "V", 3);
    format!("Mains {read}, where the job has {own}: is that the mains of this job?")
}

/// Leads to the bring-up.
pub(crate) const TO_BENCH: &str = "To the steps of the bring-up";

/// Nothing is chosen yet.
pub(crate) const CHOOSE: &str = "choose";

/// Under the choice of an instrument, where none is chosen: the first that suits the row.
pub(crate) fn suits(best: Option<&str>) -> String {
    match best {
        Some(name) => format!("{name} suits this row."),
        None => "No instrument of the job quite suits this row.".to_owned(),
    }
}

/// All that instruments read is read, and some is left.
pub(crate) const READ_AS_FAR: &str = "Every row of this step that an instrument of the job reads has a reading. Choose one to read it again.";

/// Leads on.
pub(crate) fn next_step(name: &str) -> String {
    format!("Next step: {name}")
}

/// Folds the choice of a capture.
pub(crate) const FROM_CAPTURE: &str = "From a capture";
/// The file of a capture.
pub(crate) const CAPTURE_FILE: &str = "File of an oscilloscope, meter or recorder";
/// What becomes of it.
pub(crate) const CAPTURE_MEANS: &str = "Choose it, or drop it here: a table as CSV or text, up to 50 MB. It is looked at first; kept, it goes into the folder \
     captures beside the job.";
/// Sends the file, to be looked at.
pub(crate) const LOOK_AT_IT: &str = "Look at it";
/// Heads what was taken for granted.
pub(crate) const TAKEN: &str = "Taken for granted:";
/// Which signal of several.
pub(crate) const SIGNAL: &str = "Signal";
/// The current of a step in a capture.
pub(crate) const SWITCHED: &str = "Current that was switched, if any";
/// A step that is no series resistance.
pub(crate) const NO_ESR: &str =
    "The wave has no step over that current, so there is no series resistance in it.";
/// Keeps a capture with the value that it gives.
pub(crate) const KEEP_CAPTURE: &str = "Keep file and value";
/// Leaves a capture.
pub(crate) const LEAVE_IT: &str = "Back to the field";
/// In the list: leads to the capture of a reading.
pub(crate) const ITS_WAVE: &str = "its wave";
/// A file that was sent and is gone.
pub(crate) const NO_LONGER_HELD: &str =
    "That file is no longer held; choose it again. What is in the log is as it was.";
/// No wave of that point is predicted.
pub(crate) const NOT_DRAWN: &str =
    "Laid over a prediction are voltages of nodes and windings alone; this is another figure.";

/// A signal in another unit than the row.
pub(crate) fn other_unit(found: &str, wanted: &str) -> String {
    format!(
        "that signal is in {found}, and this row wants {wanted}; choose another signal, or write the unit above its column"
    )
}

/// A form without a file.
pub(crate) const NO_FILE: &str = "No file was chosen.";

/// Before how a capture's value fits.
pub(crate) const BESIDE_EXPECTED: &str = "Beside what is expected:";

/// What the predicted wave is of.
pub(crate) fn predicted_at(volts: f64) -> String {
    let volts = quietrail_report::number::si(volts, "V", 3);
    format!("Predicted for this step with parts as marked, mains {volts}.")
}

/// Before the choice of a capacitor.
pub(crate) const ESR_OF: &str = "Series resistance of";

/// Keeps a series resistance as a row of its own.
pub(crate) fn keep_esr(ohms: &str) -> String {
    format!("Keep file and {ohms}")
}

/// A series resistance of a part that is no capacitor of the job.
pub(crate) const NO_CAPACITOR: &str = "That is no capacitor of the job.";

/// Asked of a step with a reading outside its band.
pub(crate) const WHY: &str = "What single fault would read so?";
