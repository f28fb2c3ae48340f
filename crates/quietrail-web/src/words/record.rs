//! What the record says of its own standing.

use crate::readings::Left;
use crate::views::record::Sought;

/// Marks a sheet whose figures are still being sought.
pub(crate) const PROVISIONAL: &str = "Provisional.";
/// In place of what is being computed.
pub(crate) const WORKING_OUT: &str = "Being worked out.";
/// Prints once everything is known.
pub(crate) const PRINT_WHEN_FOUND: &str = "Print when found";
/// Why it waits.
pub(crate) const PRINT_WAITS: &str = "Worst corners are still being looked for. Printed before that, the sheet says that it is provisional.";
/// Says the key once it was pressed while figures are sought.
pub(crate) const WILL_PRINT: &str = "Prints when found";
/// In the title block.
pub(crate) const BLOCK_STANDING: &str = "worst corners";

/// The search was stopped by hand.
pub(crate) const STOPPED: &str =
    "The search was stopped: these are the worst corners found so far.";
/// Searches on.
pub(crate) const LOOK_ON: &str = "Look on";

/// How far the figures of a sheet can be relied on.
pub(crate) fn standing(sought: Sought) -> &'static str {
    match sought {
        Sought::Marked => "Worst corners are not known yet: what is drawn is with parts as marked.",
        Sought::Part => {
            "The search for the worst corners goes on: a margin on this sheet may still get worse."
        }
        Sought::Stopped => {
            "The search for the worst corners was stopped by hand: a margin on this sheet may be worse."
        }
        Sought::Whole => "",
    }
}

/// The same in the title block.
pub(crate) fn in_block(sought: Sought) -> &'static str {
    match sought {
        Sought::Marked => "not looked for yet",
        Sought::Part => "search not ended",
        Sought::Stopped => "search stopped by hand",
        Sought::Whole => "search ended",
    }
}

/// Points that are named before the rest is counted.
const NAMED: usize = 6;

/// What is to be read before the load is connected, and what with it: points that some limit asks for and no reading shows yet.
pub(crate) fn read_first(is_begun: bool, left: &Left) -> String {
    let start = if is_begun {
        "Not every limit is shown by a reading"
    } else {
        "Predicted, nothing measured"
    };
    if left.before.is_empty() && left.with_load.is_empty() {
        return format!("{start}; what is left no instrument of the job reads.");
    }
    let mut text = format!("{start}.");
    if !left.before.is_empty() {
        let all = some_of(&left.before);
        text.push_str(&format!(" Before the load is connected read {all}."));
    }
    if !left.with_load.is_empty() {
        let all = some_of(&left.with_load);
        text.push_str(&format!(" With the load connected read {all}."));
    }
    text
}

fn some_of(all: &[String]) -> String {
    let named = all.iter().take(NAMED).map(String::as_str);
    let named: Vec<&str> = named.collect();
    match all.len() - named.len() {
        0 => named.join("; "),
        more => format!(
            "{}; {}",
            named.join("; "),
            quietrail_report::words::and_more(more)
        ),
    }
}

/// Over the boxes of the steps: they are no work sheet.
pub(crate) const STEPS_MEAN: &str = "Ticks alone. Mains is on in every step after the first, and reservoirs keep their charge: what is connected, what to be careful \
     about and when to stop stands on the sheet of each step (`quietrail bringup JOB --paper`). Plug out, and measured, before anything is touched.";

/// Heads the entries of catalogues that the job takes.
pub(crate) const ENTRIES: &str = "From the catalogue";

/// What they are for.
pub(crate) const ENTRIES_MEAN: &str = "What the job takes of its parts and instruments by name, as it stands in the catalogue or in parts.toml. With another part in its place these are \
     the figures to put beside that part's own.";
