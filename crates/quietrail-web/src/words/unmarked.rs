//! What the forms for readings of an unmarked transformer say.

/// Heads the forms.
pub(crate) const TAKE: &str = "Take a reading";
/// Under it.
pub(crate) const TAKE_HOW: &str = "In this order; mains comes last, and through a lamp. A bare number gets the unit beside its field; ± says what chance \
     adds. What is kept goes into the job file, and Undo takes it out again.";
/// Keeps a reading.
pub(crate) const KEEP: &str = "Keep";
/// The source.
pub(crate) const DRIVEN: &str = "source on";
/// Its volts.
pub(crate) const AT: &str = "volts there";
/// Links.
pub(crate) const JOINED: &str = "leads tied together";
/// As what they are written.
pub(crate) const TIES_LIKE: &str = "black + white, green + blue";
/// As what they have to be written.
pub(crate) const TIES_HOW: &str =
    "leads tied together are written in pairs: black + white, green + blue";
/// Where it is read.
pub(crate) const ACROSS: &str = "read across";
/// Between two leads.
pub(crate) const BETWEEN: &str = "between";
/// What the meter reads.
pub(crate) const READS: &str = "reads";
/// The insulation tester's volts.
pub(crate) const TEST_VOLTS: &str = "test voltage";
/// How it was kept.
pub(crate) const AIR: &str = "kept";
/// Shorted leads.
pub(crate) const SHORT: &str = "shorted";
/// Current into the driven leads.
pub(crate) const AMPS: &str = "current there";
/// Watts into the driven leads.
pub(crate) const WATTS: &str = "watts there, if read";
/// A resistor.
pub(crate) const LOAD_OHMS: &str = "load resistor";
/// Behind a rectifier.
pub(crate) const LOAD_AMPS: &str = "or direct current";
/// Its reservoir.
pub(crate) const RESERVOIR: &str = "reservoir, if behind a bridge";
/// Existing load.
pub(crate) const UNPLUGGED: &str = "load unplugged";
/// With it.
pub(crate) const PLUGGED: &str = "load plugged in";
/// Cold resistance.
pub(crate) const COLD: &str = "ohms before";
/// Its temperature.
pub(crate) const COLD_AT: &str = "copper then";
/// Hot resistances.
pub(crate) const AFTER: &str = "ohms after switching off";
/// As what they are written.
pub(crate) const TIMES_LIKE: &str = "23.4 Ω at 12 s, 23.3 Ω at 40 s";
/// Air.
pub(crate) const ROOM: &str = "air at the end";
/// Copper loss.
pub(crate) const COPPER_LOSS: &str = "heat in the copper";
/// Core loss.
pub(crate) const CORE_LOSS: &str = "heat in the core";
/// Carried.
pub(crate) const CARRIED: &str = "carried";
/// Unit of a resistance reading.
pub(crate) const OHMS_OR_OPEN: &str = "Ω, or open";
/// Nothing chosen.
pub(crate) const NOT_SAID: &str = "not said";
/// The mains over a day.
pub(crate) const DAY: &str = "mains over a day";
/// How.
pub(crate) const DAY_HOW: &str = "the mains now and then: morning, noon, evening";
/// Which leads the mains was on.
pub(crate) const PRIMARY: &str = "mains side";
/// How.
pub(crate) const PRIMARY_HOW: &str = "which leads the mains was on, and what says so: the cord, the selector, the fuse. Ohms alone do not.";
/// Its leads.
pub(crate) const PRIMARY_LEADS: &str = "leads, separated by commas";
/// Its reason.
pub(crate) const PRIMARY_BECAUSE: &str = "what says so";
/// Heads the form of a job without readings.
pub(crate) const BEGIN: &str = "Begin with its leads";
/// Its name.
pub(crate) const NAME: &str = "name";
/// Its leads.
pub(crate) const LEADS: &str = "all its leads, by names of your own, separated by commas";
/// No name.
pub(crate) const NO_NAME: &str = "a name has letters, digits, - and _ alone";
/// Not enough leads.
pub(crate) const FEW_LEADS: &str = "at least two leads, separated by commas";
/// No reason.
pub(crate) const NO_BECAUSE: &str = "say what tells that the mains was on these leads";
/// Nothing typed.
pub(crate) const EMPTY: &str = "nothing was typed";
/// The file changed meanwhile.
pub(crate) const STALE: &str =
    "the job file changed meanwhile; look at the page again, what you typed is still here";

/// First of two leads.
pub(crate) fn first(of: &str) -> String {
    format!("{of}, first lead")
}

/// Second of two leads.
pub(crate) fn second(of: &str) -> String {
    format!("{of}, second lead")
}

/// How many were taken.
pub(crate) fn taken(count: usize) -> String {
    if count == 0 {
        "– not yet".to_owned()
    } else {
        format!("✓ {count}")
    }
}

/// A field that was left empty.
pub(crate) fn lacks(label: &str) -> String {
    format!("{label}: nothing was typed")
}

/// Twice the same lead.
pub(crate) fn same(label: &str) -> String {
    format!("{label}: two different leads are needed")
}

/// What the drawing of an unmarked transformer shows.
pub(crate) fn windings_drawn(name: &str, mains: usize, others: usize) -> String {
    format!(
        "{name}: windings on the mains side, {mains}, and others, {others}, each with its leads, off-load volts and copper"
    )
}
/// A lead along a winding.
pub(crate) fn tap_at(lead: &str) -> String {
    format!("tap {lead}")
}
/// While it is worked out what the readings come to.
pub(crate) const MODEL_COMING: &str =
    "What the readings come to is being worked out; it will stand here in a moment.";

/// Heads the taking over of the model.
pub(crate) const OVER: &str = "Into the job";
/// What the key does.
pub(crate) const OVER_HOW: &str =
    "These lines of the job file change; comments and order stay, and Undo takes it back.";
/// The key.
pub(crate) const OVER_KEY: &str = "Take over into the job";
/// Nothing would change.
pub(crate) const OVER_ALREADY: &str = "The job has these figures already.";

/// Why the model is not taken over.
pub(crate) fn not_over(why: &str) -> String {
    format!("Not taken over into the job: {why}.")
}
