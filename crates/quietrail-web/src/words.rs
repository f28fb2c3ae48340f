//! Everything that the pages say, in one file so that it can be translated whole. What drawings and findings say is in the
//! report's own words.

pub(crate) mod begin;
pub(crate) mod bench;
pub(crate) mod beside;
pub(crate) mod descent;
pub(crate) mod oscillator;
pub(crate) mod page;
pub(crate) mod record;
pub(crate) mod regulators;
pub(crate) mod unmarked;
pub(crate) mod waves;

use crate::desk::Searching;
use quietrail_job::model::{PartKind, Subject, What};
use quietrail_study::finding::{LimitFinding, Measured, Overall, Predicted};

/// Refused: another host name.
pub(crate) const REFUSED_HOST: &str =
    "Refused: this workbook answers to its own address on this machine only.\n";
/// Refused: another page.
pub(crate) const REFUSED_ORIGIN: &str = "Refused: sent by another page.\n";
/// Refused: no token.
pub(crate) const REFUSED_TOKEN: &str = "Refused: the address is not complete, or of an earlier start. Copy all of the one in the terminal.\n";
/// Refused: other methods.
pub(crate) const REFUSED_METHOD: &str =
    "Refused: pages are read and forms are sent, nothing else.\n";
/// Refused: too large.
pub(crate) const REFUSED_SIZE: &str =
    "Refused: larger than any job file, or than 50 MB for a capture.\n";
/// No such page.
pub(crate) const NOTHING_HERE: &str = "There is no such page in this workbook.\n";

/// Names the row of views.
pub(crate) const VIEWS: &str = "Views";
/// Labels the choice of a view on a small screen.
pub(crate) const VIEW: &str = "View";
/// Sends a form where nothing does so by itself.
pub(crate) const SHOW: &str = "Show";
/// Takes the last kept change back.
pub(crate) const UNDO: &str = "Undo";
/// Keeps it again.
pub(crate) const REDO: &str = "Redo";
/// First stop of the keyboard.
pub(crate) const SKIP: &str = "To the answer";
/// A page that failed.
pub(crate) const FAILED: &str = "This page failed";
/// What that means.
pub(crate) const FAILED_MORE: &str =
    "A fault of quietrail, not of the job. The workbook goes on, and job.toml is as it was.";
/// Back to the first view.
pub(crate) const BACK: &str = "Back to the Descent";

/// Heads the file's errors.
pub(crate) fn cannot_be_read(file: &str, errors: usize) -> String {
    let s = if errors == 1 { "" } else { "s" };
    format!("{file} cannot be read yet: {errors} error{s}")
}

/// Under the file's errors.
pub(crate) const MEND_HERE: &str = "Change it here, or in an editor of your own: this page follows the file. Nothing is written until you press Write it; Undo takes that back.";
/// Heads the warnings.
pub(crate) const DOUBTFUL: &str = "Doubtful in the job file";
/// Labels the text of the job file.
pub(crate) const JOB_TEXT: &str = "Text of the job file";
/// Writes the text.
pub(crate) const WRITE: &str = "Write it";
/// The file could not be written as it was sent.
pub(crate) const NOT_WRITTEN: &str = "Not written. The file is as it was.";
/// Heads the text as it was sent.
pub(crate) const AS_SENT: &str = "As you sent it";

/// The file changed.
pub(crate) fn changed_elsewhere(file: &str) -> String {
    format!("{file} was changed elsewhere. You see it as it is now.")
}

/// Shows what changed.
pub(crate) const WHAT_CHANGED: &str = "What changed";
/// Takes a notice away.
pub(crate) const SEEN: &str = "Seen";
/// A write that came too late.
pub(crate) fn stale(file: &str) -> String {
    format!("Not kept: {file} changed after this page was made. Between the two:")
}

/// Goes on with the file as it is now.
pub(crate) const LOOK_AGAIN: &str = "Look at it as it is now";
/// Nothing to undo.
pub(crate) const NOTHING_TO_UNDO: &str = "There is nothing to take back.";

/// Heads what is tried.
pub(crate) const TRYING: &str = "Trying";
/// Between the new and the old value.
pub(crate) const IN_PLACE_OF: &str = "in place of";
/// Writes what is tried into the file.
pub(crate) const KEEP: &str = "Keep";
/// Forgets what is tried.
pub(crate) const PUT_BACK: &str = "Put back";
/// Under what is tried.
pub(crate) fn unchanged(file: &str) -> String {
    format!("{file} is unchanged until you keep it.")
}

/// Tries a value.
pub(crate) const TRY: &str = "Try";

/// While nothing is known yet.
pub(crate) const LOOKING: &str = "Looking for the worst corners";
/// Ends the search.
pub(crate) const STOP_HERE: &str = "Stop here";
/// What an answer is before the search is through.
pub(crate) const PROVISIONAL: &str = "provisional: the search goes on";

/// How far a search has come.
pub(crate) fn searching(searching: &Searching) -> String {
    let (done, all) = searching.states;
    format!(
        "{} corners solved, {done} of {all} states done",
        searching.corners
    )
}

/// Corners that a state takes, roughly: for the length of the line only.
const CORNERS_OF_A_STATE: f64 = 220.0;

/// How much of a search is done, 0 to 1: by states, and within one by corners against what one usually takes.
pub(crate) fn share_searched(searching: &Searching) -> f64 {
    let (done, all) = searching.states;
    let all = all.max(1) as f64;
    let by_states = done as f64 / all;
    let by_corners = searching.corners as f64 / (all * CORNERS_OF_A_STATE);
    by_corners.clamp(by_states, (by_states + 1.0 / all).min(0.99))
}

/// A mains voltage that nobody means.
pub(crate) fn far_from_mains(asked: &str, nominal: &str) -> String {
    format!("{asked} is far from this job's {nominal}")
}

/// No state of that name; another one is shown.
pub(crate) fn no_such_state<'a>(typed: &str, known: impl Iterator<Item = &'a str>) -> String {
    let known: Vec<&str> = known.collect();
    format!(
        "no state of this job is called {typed}; there are {}",
        known.join(", ")
    )
}

/// No part of that name.
pub(crate) fn no_such_part(typed: &str) -> String {
    format!("No part of this job is called {typed}.")
}

/// No figure and no part of that name.
pub(crate) fn no_such_figure(address: &str) -> String {
    format!("no figure of this job is called {address}")
}

/// `1 fails`, `22 hold`
pub(crate) fn fails(count: usize) -> String {
    if count == 1 {
        "1 fails".to_owned()
    } else {
        format!("{count} fail")
    }
}

/// `3 not shown`
pub(crate) fn not_shown(count: usize) -> String {
    format!("{count} not shown")
}

/// `28 predicted to hold`
pub(crate) fn predicted(count: usize) -> String {
    format!("{count} predicted to hold")
}

/// `4 hold by reading`, `1 holds by reading, at the mains read`
pub(crate) fn hold(count: usize, in_part: usize) -> String {
    let verb = if count == 1 { "holds" } else { "hold" };
    let mains = match in_part {
        0 => "",
        part if part == count => ", at the mains read",
        _ => ", some only at the mains read",
    };
    format!("{count} {verb} by reading{mains}")
}

/// What decided a verdict, in a few words under it; for a *holds* of readings that leave part of the mains range out, where
/// the mains stood.
pub(crate) fn decided_by(row: &LimitFinding) -> String {
    let read = row.read.as_ref();
    let mains = read.map_or_else(String::new, quietrail_report::words::readings::mains_of);
    let held = read.is_some_and(|read| read.locked_step.is_some());
    let is_regardless = read.is_some_and(|read| read.regardless);
    match (row.overall, decided(row)) {
        (Overall::Holds, by) if is_regardless => bench::regardless(by, &mains),
        (Overall::Holds, by) if !mains.is_empty() => format!("{by}, {mains}"),
        (Overall::NotShown, _) if held => HELD.to_owned(),
        (_, by) => by.to_owned(),
    }
}

/// Readings of a step that is locked.
const HELD: &str = "computed; what was read is of a locked step, and decides nothing";

fn decided(row: &LimitFinding) -> &'static str {
    let is_predicted = matches!(row.predicted, Predicted::Holds);
    match (row.overall, row.measured) {
        (Overall::Holds, _) => "by reading",
        (Overall::Fails, Measured::Fails) if is_predicted => "by reading; computed to hold",
        (Overall::Fails, Measured::Fails) => "by reading too",
        (Overall::Fails, _) => "by computation",
        (Overall::Predicted, _) => "",
        (Overall::NotShown, Measured::NotShown) if is_predicted => {
            "computed to hold; the reading cannot show it"
        }
        (Overall::NotShown, _) => "not computed",
    }
}

/// `read 11.96 V, warm, mains at 231 V`
pub(crate) fn read_as(value: &str, state: &str, mains: &str) -> String {
    match mains {
        "" => format!("read {value}, {state}"),
        mains => format!("read {value}, {state}, {mains}"),
    }
}

/// Under a margin beside a reading.
pub(crate) const COMPUTED: &str = "computed";
/// Before a figure that no reading is behind.
pub(crate) const COMPUTED_WORST: &str = "computed worst";

/// Before what readings say of a limit.
pub(crate) const READINGS: &str = "Readings";
/// What is tried was not read.
pub(crate) const READINGS_STAND_ASIDE: &str =
    "Readings are of what the file says, so they stand aside meanwhile.";

/// Heads the big figure.
pub(crate) const WORST_HEADROOM: &str = "Worst headroom found";
/// The same before corners are known.
pub(crate) const HEADROOM_HERE: &str = "Headroom in this corner";

/// `U1 (heater) runs out of headroom.`
pub(crate) fn on_rail(part: &str, node: Option<&str>, fails: bool) -> String {
    let part = node.map_or_else(|| part.to_owned(), |node| format!("{part} ({node})"));
    if fails {
        return format!("{part} runs out of headroom.");
    }
    format!("{part} is predicted to keep its headroom.")
}

/// `This corner: cold, 207 V, parts as marked`
pub(crate) fn this_corner(state: &str, mains: &str, worst: bool) -> String {
    let parts = if worst { WORST_PARTS } else { AS_MARKED };
    format!("This corner: {state}, {mains}, {parts}")
}

/// Heads the choice of the corner.
pub(crate) const CHOOSE: &str = "Choose the corner";
/// Labels the choice of the state.
pub(crate) const STATE: &str = "State";
/// Labels the choice of the parts.
pub(crate) const PARTS: &str = "Parts";
/// Labels the mains slider.
pub(crate) const MAINS: &str = "Mains";
/// Parts at their nominal.
pub(crate) const AS_MARKED: &str = "parts as marked";
/// Parts at the worst corner found.
pub(crate) const WORST_PARTS: &str = "worst parts";
/// Above the chart of the mains slider.
pub(crate) const PAD_KEY: &str =
    "Tightest headroom against mains. Line: parts as marked. Pale: worst parts.";
/// The chart's title.
pub(crate) const PAD_TITLE: &str =
    "Tightest headroom of any regulator against mains voltage, by state";
/// A key of the drawing.
pub(crate) const KEY_LOWEST: &str = "lowest valley found";
/// A key of the drawing.
pub(crate) const KEY_NEEDS: &str = "what the regulator needs";
/// A key of the drawing.
pub(crate) const KEY_SHORT: &str = "falls short";
/// Before the margin that a change would lead to: it is not what the change adds.
pub(crate) const LEAVES: &str = "leaves";
/// Before a margin that stands among other figures.
pub(crate) const MARGIN: &str = "margin";
/// What is meant by it.
pub(crate) const WORST_FOUND_MEANS: &str =
    "Worst found: the worst corner found for each limit, in every state. It is not proven worst.";
/// Opens the table of a drawing.
pub(crate) const AS_TABLE: &str = "The figures as a table";
/// Takes it away as a file.
pub(crate) const AS_CSV: &str = "as CSV";

/// Heads a part's limits.
pub(crate) const WHAT_HELPS: &str = "What would help";
/// Heads a part's figures.
pub(crate) const FIGURES: &str = "Figures, and what to try";
/// Before a change to this part that helps another's limit.
pub(crate) fn for_limit(limit: &str) -> String {
    format!("For {limit}:")
}

/// Closes a card.
pub(crate) const CLOSE: &str = "Close";
/// Asks for the sum.
pub(crate) fn why(value: &str) -> String {
    format!("Why {value}?")
}

/// Nothing helps.
pub(crate) const NO_HELP: &str =
    "Nothing: no limit of this part fails or is tight, so no change was looked for.";
/// Names the row of all parts.
pub(crate) const ALL_PARTS: &str = "All parts";
/// Puts the drawing into the corner of a sum.
pub(crate) const SHOW_CORNER: &str = "Show this corner in the drawing";
/// Comes closest.
pub(crate) const CLOSEST: &str = "not enough alone";
/// A job without rectifier.
pub(crate) const NO_SECTION: &str = "No rectifier yet";
/// What is missing then.
pub(crate) const NO_SECTION_MORE: &str = "The Descent begins where a rectifier feeds a node. Add a transformer, a rectifier and a capacitor to the job file.";
/// A figure that stands in.
pub(crate) const DEFAULT: &str = "default";
/// No value.
pub(crate) const UNKNOWN: &str = "unknown";

/// A figure that follows from another key.
pub(crate) fn computed_from(address: &str, from: &str) -> String {
    format!("{address} follows from {from}; change that")
}

/// An address that holds no single value.
pub(crate) fn not_one_value(address: &str) -> String {
    format!("{address} is not one value in the file; change it there")
}

/// `U1 headroom`
pub(crate) fn headroom_of(part: &str) -> String {
    format!("{part} headroom")
}

/// `wall, peak`
pub(crate) fn peak_of(what: &str) -> String {
    format!("{what}, peak")
}

/// Head of the table of levels.
pub(crate) const STATION: &str = "station";
/// `+5060 mV at 207 V`
pub(crate) fn at_mains(headroom: &str, mains: &str) -> String {
    format!("{headroom} at {mains}")
}

/// Under the big figure while the search goes on.
pub(crate) const LOOKING_FOR_WORST: &str = "The worst corners are being looked for.";
/// The same, short.
pub(crate) const PROVISIONAL_SHORT: &str = "provisional";
/// In this corner the level is above what is needed.
pub(crate) const ABOVE_HERE: &str = "above the line";
/// In this corner it is not.
pub(crate) const SHORT_HERE: &str = "falls short";
/// Where a part comes from.
pub(crate) const CATALOGUE: &str = "catalogue";
/// Names a table.
pub(crate) const LIMITS: &str = "Limits and ratings";
/// A slider beside a field.
pub(crate) const SLIDER: &str = "slider";

/// Something fails, and no change that was tried helps.
pub(crate) const NONE_HELPS: &str = "No single change that was tried helps.";

/// No help is known, now or at all.
pub(crate) fn no_help(goes_on: bool, fails: bool) -> &'static str {
    if goes_on {
        "Looked for when the worst corners are found."
    } else if fails {
        NONE_HELPS
    } else {
        NO_HELP
    }
}

/// Nothing settled.
pub(crate) fn did_not_settle(why: &str) -> String {
    format!("No steady state in this corner: {why}.")
}

/// `raw to heater`
pub(crate) fn where_of(kind: Option<&PartKind>) -> String {
    match kind {
        Some(PartKind::Regulator(part)) => format!("{} to {}", part.from, part.into),
        Some(PartKind::Rectifier(part)) => {
            format!("{} to {}", part.from.replace('.', " "), part.into)
        }
        Some(PartKind::Transformer(_)) => "transformer".to_owned(),
        Some(PartKind::Sink(_)) => "heat sink".to_owned(),
        Some(kind) => kind.between().map_or_else(String::new, |ends| {
            if ends.minus == "common" {
                format!("at {}", ends.plus)
            } else {
                format!("{} to {}", ends.plus, ends.minus)
            }
        }),
        None => String::new(),
    }
}

/// The statistic of a limit without its part: `junction`, `headroom`.
pub(crate) fn short_name(limit: &LimitFinding) -> String {
    let name = match &limit.of {
        Subject::Part(part) => limit
            .name
            .strip_prefix(part.as_str())
            .unwrap_or(&limit.name),
        Subject::Node(_) | Subject::Pair(..) => &limit.name,
    };
    name.trim().to_owned()
}

/// What a figure is called beside its field: its address without the part.
pub(crate) fn figure_label(address: &str) -> String {
    let rest = address.strip_prefix("load.").unwrap_or(address);
    rest.split_once('.')
        .map_or(rest, |(_, rest)| rest)
        .replace(['.', '_'], " ")
}

/// Heads a sum.
pub(crate) fn why_title(limit: &str) -> String {
    format!("Why this figure of {limit}?")
}

/// Heads a sum with its value.
pub(crate) fn why_value(limit: &str, state: &str, value: &str) -> String {
    format!("Why {value}? {limit}, {state}")
}

/// Under it.
pub(crate) fn asked(allowed: &str, margin: &str) -> String {
    format!("Allowed: {allowed}. Margin: {margin}.")
}

/// Where a figure is read that no limit is about.
pub(crate) const NO_LIMIT_ON_IT: &str = "No limit is about this figure.";

/// `Figures of raw`
pub(crate) fn figures_of(node: &str) -> String {
    format!("Figures of {node}")
}

/// No such limit.
pub(crate) fn no_such_limit(limit: &str) -> String {
    format!("No limit of this job is called {limit}, or its figure is not known yet.")
}

/// Before the corner.
pub(crate) const AT_CORNER: &str = "At the corner:";
/// Heads what moves a figure.
pub(crate) const MOVERS: &str = "What moves it most";
/// Over the values beside them.
pub(crate) const IF_ALONE: &str = "the figure, were this alone as marked";
/// Opens how a figure was computed.
pub(crate) const HOW_SOLVED: &str = "How it was solved, and how closely";
/// Opens what went in.
pub(crate) const INPUTS: &str = "What went in, and where it comes from";

/// Opens the choice of the corner where it is not the main thing.
pub(crate) const CORNER_HERE: &str = "Compare with a corner of your choice";
/// Names the filter of rows.
pub(crate) const ROWS: &str = "Rows";

/// `all 32`
pub(crate) fn all_rows(count: usize) -> String {
    format!("all {count}")
}

/// `fails or not shown 4`
pub(crate) fn open_rows(count: usize) -> String {
    format!("fails or not shown {count}")
}

/// Before the next step.
pub(crate) const NEXT: &str = "Next:";

/// One change that mends the worst row.
pub(crate) fn try_for(change: &str, limit: &str) -> String {
    format!("try {change}. It is the change that helps {limit} most.")
}

/// `2 other changes`, each of which would do instead of the first, or only comes less close
pub(crate) fn other_helps(count: usize, is_enough: bool) -> String {
    match (count, is_enough) {
        (1, true) => "or instead, 1 other change".to_owned(),
        (more, true) => format!("or instead, any of {more} other changes"),
        (1, false) => "1 other change".to_owned(),
        (more, false) => format!("{more} other changes"),
    }
}

/// One change that does not quite.
pub(crate) fn closest_for(change: &str, limit: &str) -> String {
    format!("no single change tried is enough for {limit}; {change} comes closest.")
}

/// Nothing tried helps.
pub(crate) const NOTHING_HELPS: &str = "No single change that was tried helps the failing row.";
/// Nothing fails.
pub(crate) const NOTHING_FAILS: &str =
    "Nothing fails. Predicted is not proven: measure the tightest first.";
/// Heads of tables.
pub(crate) const HEAD_VERDICT: &str = "verdict";
/// Heads of tables.
pub(crate) const HEAD_LIMIT: &str = "limit";
/// Heads of tables.
pub(crate) const HEAD_STRIP: &str = "margin, as a part of the limit";
/// Heads of tables.
pub(crate) const HEAD_MARGIN: &str = "margin";
/// Heads of tables.
pub(crate) const HEAD_CORNER: &str = "worst corner";
/// Heads of tables.
pub(crate) const HEAD_ALLOWED: &str = "allowed";
/// Heads of tables.
pub(crate) const HEAD_WORST: &str = "worst";
/// Heads of tables.
pub(crate) const HEAD_READING: &str = "reading";
/// Heads of tables.
pub(crate) const HEAD_SETUP: &str = "instrument, range, set-up";
/// What a strip shows.
pub(crate) const MARGIN_MEANS: &str = "Margin is the distance from the computed worst value to the limit, whatever was read; a reading stands under its limit, and is of the mains voltage that it names. The strip draws it as a part of the limit; headroom, whose limit \
     is zero, on a scale of 2.5 V to a tick. Rows: what fails, what is not shown, then by that part: least left first.";
/// Keys of the strips: a class of the key, and what it means.
pub(crate) const MARGIN_KEYS: [(&str, &str); 7] = [
    ("k-fails", "short of the limit"),
    ("k-not", "not shown"),
    ("k-predicted", "predicted to hold"),
    ("k-holds", "holds by reading"),
    ("k-here", "with the state, mains and parts chosen"),
    ("k-read", "reading, with where the true value may be"),
    ("k-past", "further than drawn"),
];

/// Heads the unmarked transformer.
pub(crate) const TRANSFORMER_TITLE: &str = "The unmarked transformer";
/// Under it.
pub(crate) const TRANSFORMER_LEDE: &str = "Readings in the order in which they are best taken, what each narrowed, and what it is by them. They stand in [unmarked] of the job \
     file; the mains comes last.";
/// A job without readings.
pub(crate) const NO_READINGS_OF_IT: &str =
    "The job has no readings of a transformer. Write them as [unmarked.T1]; the guide says how.";
/// Heads the readings.
pub(crate) const READINGS_IN_ORDER: &str =
    "Readings in order, and the widest range of the secondaries after each";
/// Heads of that table.
pub(crate) const READING_HEADS: [&str; 5] =
    ["reading", "taken", "off load", "source ohms", "leakage"];
/// Taken.
pub(crate) const IS_READ: &str = "✓ read";
/// Not taken.
pub(crate) const NOT_READ: &str = "– not yet";

/// Heads the needs.
pub(crate) const NEEDS_TITLE: &str = "What the load asks";
/// Under it.
pub(crate) const NEEDS_LEDE: &str =
    "Each limit as its document states it, and what the supply comes to at the worst corner found.";
/// Opens a limit in other units.
pub(crate) const OTHER_UNITS: &str = "in other units";
/// Labels the choice of a shape.
pub(crate) const LOOKS_LIKE: &str = "What it looks like";
/// No shape is assumed.
pub(crate) const NOT_KNOWN: &str = "not known";

/// How the units of an oscillator are had.
pub(crate) const UNITS_MORE: &str = "p-p and meters depend on what it looks like. Power wants a resistance, sidebands what a volt does to the oscillator: \
     quietrail translate takes both.";

/// Names the table of draws.
pub(crate) const DRAWS: &str = "What it draws";
/// Heads the loads.
pub(crate) const LOAD: &str = "load";
/// A limit in every state.
pub(crate) const ALL_STATES: &str = "all states";

/// `at raw`
pub(crate) fn at(node: &str) -> String {
    format!("at {node}")
}

/// `heater to pin`
pub(crate) fn between(plus: &str, minus: &str) -> String {
    format!("{plus} to {minus}")
}

/// What a limit asks for, rms where it counts as that.
pub(crate) fn asked_for(what: What) -> String {
    let name = quietrail_report::words::what(what);
    match what {
        What::Ripple | What::Noise | What::RippleAndNoise => format!("{name}, rms"),
        _ => name.to_owned(),
    }
}

/// `pin: where oven and osc return`
pub(crate) fn is_return_of(node: &str, loads: &[&str]) -> String {
    let verb = if loads.len() == 1 {
        "returns"
    } else {
        "return"
    };
    format!("{node}: where {} {verb}", loads.join(" and "))
}

/// A band with poles.
pub(crate) fn poles(low: &str, high: &str) -> String {
    format!("poles at {low} and {high}")
}

/// Where the file lies.
pub(crate) fn in_folder(folder: &str) -> String {
    format!("in {folder}")
}

/// Prints the page.
pub(crate) const PRINT: &str = "Print";
/// How it prints.
pub(crate) const PRINT_MORE: &str = "A4 or Letter, black ink only";
/// Under the title of the record.
pub(crate) fn record_of(has_rows: bool) -> &'static str {
    if has_rows {
        "Record of the design, its readings and its verdicts"
    } else {
        "Record of the design and its predicted verdicts; nothing read yet"
    }
}

/// The region whose defaults the job takes.
pub(crate) fn region(name: &str) -> String {
    format!("region {name}")
}

/// Heads what the readings prove.
pub(crate) const RECORD_PROVES: &str = "What the readings prove";
/// Heads the steps, for ticks.
pub(crate) const RECORD_STEPS: &str = "Bring-up, step by step";

/// Heads the rows of the log.
pub(crate) fn record_log(rows: usize) -> String {
    let s = if rows == 1 { "" } else { "s" };
    format!("Bring-up log, {rows} row{s}")
}

/// Heads the numbers of rows.
pub(crate) const HEAD_ROW: &str = "row, UTC";
/// Heads the steps.
pub(crate) const HEAD_STEP: &str = "step, state";
/// Heads the points.
pub(crate) const HEAD_POINT: &str = "point";
/// Heads what was expected.
pub(crate) const HEAD_EXPECTED: &str = "expected";
/// Heads values read.
pub(crate) const HEAD_READ: &str = "read";
/// A reading of nothing: the instrument's own floor.
pub(crate) const FLOOR_READ: &str = "input shorted: the floor";

/// `mains 229.4 V`
pub(crate) fn mains_at(volts: &str) -> String {
    format!("mains {volts}")
}

/// A row that counts no longer.
pub(crate) fn replaced_by(row: u64) -> String {
    format!("replaced by row {row}")
}

/// A line of the log that is kept and does not count.
pub(crate) fn damaged(line: usize, why: &str) -> String {
    format!("Line {line} of readings.csv is kept and does not count: {why}.")
}

/// Above the text of the job file.
pub(crate) const WHOLE_FILE: &str = "The whole job file, for another person to start from.";
/// Nothing is known yet.
pub(crate) const NOT_YET: &str = "Worst corners are still being looked for.";
/// Something fails.
pub(crate) const DO_NOT_CONNECT: &str = "Do not connect the load yet.";
/// All measured.
pub(crate) const ALL_SHOWN: &str = "Every limit is measured and holds.";

/// Over the drawing of the record.
pub(crate) fn record_figure(corner: &str) -> String {
    format!("Descent. {corner}. Pale: worst found. Hatched: falls short.")
}

/// Over the table of the record.
pub(crate) fn record_limits(count: usize) -> String {
    format!("Limits and ratings, tightest first ({count})")
}

/// Under the table of the record: corners are told by what moves most.
pub(crate) const CORNERS_WHOLE: &str = "A corner is told by the figures that move a value most; `quietrail explain JOB LIMIT` prints all of them.";
/// Under a table of the record in which something was read.
pub(crate) const COMPUTED_AND_READ: &str = "Worst, margin and corner are computed; what was read is of the mains voltage beside it, and says nothing of others.";
/// A row of the log that names no step.
pub(crate) fn no_step(step: &str) -> String {
    format!("no step named; of \"{step}\"")
}
/// The step of a row is locked.
pub(crate) const DECIDES_NOTHING: &str = "step locked: decides nothing";
/// Over what was assumed.
pub(crate) const ASSUMED: &str = "Not in the job, taken as default";
/// Over the empty boxes.
pub(crate) const TO_READ: &str = "To be read by hand";
/// Heads what an instrument is put to.
pub(crate) const HEAD_TO_READ: &str = "read";

/// What an instrument is put to for a limit.
pub(crate) fn to_read(limit: &LimitFinding, from: Option<&str>) -> String {
    let what = quietrail_report::words::what(limit.what);
    match (&limit.of, from) {
        (Subject::Part(part), Some(from)) if limit.what == What::Headroom => {
            format!("valley of {from}, less what {part} needs there")
        }
        (Subject::Part(name) | Subject::Node(name), _) => format!("{what} of {name}"),
        (Subject::Pair(plus, minus), _) => format!("{what}, {}", between(plus, minus)),
    }
}

/// At the foot of the record.
pub(crate) const NOT_A_CERTIFICATE: &str = "This record is not a certificate. A limit that is predicted to hold is not a limit that holds; worst found is not proven worst. \
     Local codes and licensed practice come first.";
/// Title block.
pub(crate) const BLOCK_JOB: &str = "job";
/// Title block.
pub(crate) const BLOCK_SUM: &str = "job file, first 8 of its SHA-256";
/// Title block.
pub(crate) const BLOCK_DATE: &str = "date";
/// Title block.
pub(crate) const BLOCK_CHECKED: &str = "checked by";

/// `in this corner: cold, 207 V, parts as marked`
pub(crate) fn in_corner(state: &str, mains: &str, worst: bool) -> String {
    let parts = if worst { WORST_PARTS } else { AS_MARKED };
    format!("in this corner: {state}, {mains}, {parts}")
}

/// Mains is on in this step.
pub(crate) const LIVE: &str = "Live";
/// Nothing to bring up.
pub(crate) const NO_BENCH: &str = "The steps cannot be made of this job.";
/// Stands before what a point should read.
pub(crate) const EXPECT: &str = "Expect";
/// Keeps a reading and goes on.
pub(crate) const KEEP_NEXT: &str = "Keep, go on";
/// Every row of a step has a reading.
pub(crate) const ALL_READ: &str = "Every row of this step is read. Choose one to read it again.";
/// A check is as it should be.
pub(crate) const YES: &str = "yes";
/// It is not.
pub(crate) const NO: &str = "no";
/// The instrument.
pub(crate) const WITH: &str = "Instrument";
/// How it was connected.
pub(crate) const SETUP: &str = "Set-up";
/// Mains voltage while reading.
pub(crate) const MAINS_READ: &str = "Mains, V";
/// A row without a reading.
pub(crate) const NOT_READ_YET: &str = "not read yet";
/// A step whose rows are read and fit.
pub(crate) const STEP_DONE: &str = "read and fits";
/// A step with a reading that does not fit.
pub(crate) const STEP_FAILS: &str = "a reading does not fit";
/// A step that can be done.
pub(crate) const STEP_OPEN: &str = "open";
/// A step that waits.
pub(crate) const STEP_LOCKED: &str = "This step is locked";
/// Offers to go on regardless.
pub(crate) const GO_ON: &str = "Go on anyway, and log why";
/// Asks for the reason.
pub(crate) const GO_ON_WHY: &str = "Why, so that another person understands it";
/// Goes on regardless.
pub(crate) const GO_ON_LOGGED: &str = "Log it and go on";
/// Heads what the readings of a step prove.
pub(crate) const PROVES: &str = "What these readings prove";
