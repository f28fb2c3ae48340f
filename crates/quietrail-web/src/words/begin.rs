//! What the guided start says.

/// Heads the guided start.
pub(crate) const BEGIN_TITLE: &str = "A new job begins here";

/// Under it.
pub(crate) fn begin_lede(folder: &str, file: &str) -> String {
    format!(
        "{folder} holds no {file} yet. Answer what you know; what stands in a field already is a default. \
         A commented job file comes of it, which you can change in every line."
    )
}

/// Labels the region.
pub(crate) const REGION: &str = "Mains of the region";
/// Heads what decides which questions there are.
pub(crate) const BEGIN_FIRST: &str = "First, what there is";
/// Labels the number of rails.
pub(crate) const HOW_MANY_RAILS: &str = "Rails, one regulator each";
/// Labels the states.
pub(crate) const STATES_OF_LOADS: &str =
    "What the loads may be doing, with commas: cold, warm, idle …";
/// Shows the questions that belong to the choice.
pub(crate) const ASK_FOR_THESE: &str = "Ask for these";
/// Heads the questions about transformer and reservoir.
pub(crate) const BEGIN_BOARD: &str = "Mains, transformer, reservoir";

/// Heads the questions about a rail.
pub(crate) fn rail_number(number: usize) -> String {
    format!("Rail {number}")
}

/// Labels a rail's load.
pub(crate) const RAIL_LOAD: &str = "Name of what it feeds";
/// Labels a rail's voltage.
pub(crate) const RAIL_VOLTS: &str = "Voltage that it wants";
/// Labels a rail's lower limit.
pub(crate) const RAIL_LOW: &str = "Lowest voltage that it allows";
/// Labels a rail's upper limit.
pub(crate) const RAIL_HIGH: &str = "Highest voltage that it allows";
/// Labels a rail's ripple.
pub(crate) const RAIL_RIPPLE: &str = "Ripple that it allows, rms";
/// Labels a rail's heat sink.
pub(crate) const RAIL_SINK: &str = "Heat sink of its regulator to air";

/// Labels what a load draws in a state.
pub(crate) fn draws_in(state: &str) -> String {
    format!("What it draws, {state}")
}

/// The answers together make no job yet.
pub(crate) const NOT_YET_A_JOB: &str = "These answers do not go together yet; nothing is written.";
/// Writes the first job.
pub(crate) const WRITE_JOB: &str = "Write the job file";
/// What is not asked.
pub(crate) const NOT_ASKED: &str =
    "Not asked, taken as default; change it in the file where it is not so";
/// Beside the guided start.
pub(crate) const CAUTION: &str = "Resistances are read with the plug out and the capacitors empty. The volts off load are read \
                                  behind mains: read the cautions of the guide first.";
