//! What the Oscillator view says of its own.

use quietrail_bench::decide::Shown;

/// A job without an oscillator.
pub(crate) const NONE: &str =
    "The job has no oscillator. Its table says what its data sheet asks of it:";
/// The shape of the table.
pub(crate) const EXAMPLE: &str = "[oscillator.X1]
frequency = \"10 MHz\"
supply    = { at = [\"osc\", \"pin\"] }
level     = \"5 dBm .. 9 dBm\"
harmonics = \"-30 dBc\"
spurs     = \"-90 dBc\"
warm_up   = { time = \"5 min\", within = \"20 ppb\", current = \"1 A\" }
stability = [\"0.01 ppb at 1 s\"]";
/// An oscillator that states nothing.
pub(crate) const NO_LIMITS: &str = "It states no limits of its own yet: level, harmonics, spurs, warm_up, offset, ageing, stability of its table.";
/// Heads the drawing.
pub(crate) const STABILITY: &str =
    "Stability, Allan deviation: what was counted, with its 95 % range, and what is allowed";
/// The drawing's title.
pub(crate) fn plotted(from: f64, to: f64) -> String {
    let seconds = |value: f64| quietrail_report::number::si(value, "s", 3);
    format!("Allan deviation, {} to {}", seconds(from), seconds(to))
}

/// Under the name of the oscillator.
pub(crate) const LEDE: &str = "Each line of its own data sheet, and what the readings at its output and the counter's log show of it.";
/// Opens a log in words: `captures/counter.csv in figures`
pub(crate) fn log_whole(name: &str) -> String {
    format!("{name} in figures")
}
/// No log yet.
pub(crate) const NO_LOG: &str =
    "No log of a counter yet: warm-up, offset, ageing and stability wait for one.";
/// Heads the form of a reading.
pub(crate) const READING: &str = "Keep a reading";
/// Heads the form of a log.
pub(crate) const LOG: &str = "Name a counter's log";
/// What a log is.
pub(crate) const LOG_SAYS: &str = "A file in the job's folder: time and frequency in Hz. For the warm-up it begins with the power, the oven cold.";
/// What is read.
pub(crate) const WHAT: &str = "What";
/// The value.
pub(crate) const VALUE: &str = "Value";
/// Stands where nothing is chosen yet.
pub(crate) const CHOOSE: &str = "choose";
/// Its forms.
pub(crate) const VALUE_AS: &str = "with its unit";
/// Where in the spectrum.
pub(crate) const AT: &str = "At frequency";
/// Resolution bandwidth.
pub(crate) const RESOLUTION: &str = "Resolution bandwidth";
/// Attenuation.
pub(crate) const ATTENUATION: &str = "Attenuation";
/// Reference level.
pub(crate) const REFERENCE: &str = "Reference level";
/// What a voltage was read across.
pub(crate) const INTO: &str = "Of a voltage: into";
/// How far what was timed or noted may be off.
pub(crate) const ERROR: &str = "By hand: off by at most";
/// The file.
pub(crate) const FILE: &str = "File";
/// The column.
pub(crate) const COLUMN: &str = "Column, if it has several";
/// Keeps it.
pub(crate) const KEEP: &str = "Keep";
/// In the place of an instrument: what a watch or a note tells.
pub(crate) const BY_HAND: &str = "none, by hand";
/// No instrument.
pub(crate) const NO_INSTRUMENT: &str =
    "No instrument of the job reads this: an analyser has `spectrum`, a counter `counting`.";
/// Heads the record's part.
pub(crate) const RECORD: &str = "Acceptance of the oscillator";

/// Before the first reading.
pub(crate) fn nothing_read(lines: usize) -> String {
    match lines {
        1 => "Nothing read yet: one line to show.".to_owned(),
        lines => format!("Nothing read yet: {lines} lines to show."),
    }
}

/// Lines without a reading beside others that have one, said once.
pub(crate) fn not_read(count: usize) -> String {
    match count {
        1 => "Of one line nothing was read yet; it is not shown.".to_owned(),
        count => format!("Of {count} lines nothing was read yet; they are not shown."),
    }
}

/// `1 fails`, `6 hold`
pub(crate) fn count(count: usize, shown: Shown) -> String {
    let word = match (shown, count) {
        (Shown::Fails, 1) => "fails",
        (Shown::Fails, _) => "fail",
        (Shown::Holds, 1) => "holds",
        (Shown::Holds, _) => "hold",
        (Shown::NotShown, _) => "not shown",
    };
    format!("{count} {word}")
}

/// `there: 6.2 .. 8.0 dBm`
pub(crate) fn there(bounds: &str) -> String {
    format!("there: {bounds}")
}

/// An item of the set-up that is not understood.
pub(crate) fn not_an_item(label: &str, typed: &str) -> String {
    format!(
        "{label}: read {typed:?}; wanted is a value with its unit, such as 20 MHz, 1 kHz, 20 dB, 10 dBm"
    )
}
