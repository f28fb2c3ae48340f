//! What `ringing` says.

/// Nothing was given.
pub const NOTHING: &str = "give the swings after a step of the load (--swings \"40 mV, 14 mV\"), or two readings of a ring (--alone, --added, --with)";
/// One swing.
pub const TOO_FEW: &str =
    "--swings: two swings at least tell how a ring dies away, for instance \"40 mV, 14 mV\"";
/// More than critical.
pub const TOO_MUCH: &str = "--damping: a ratio from 0 to 1 is wanted; at 1 nothing rings any more";
/// The second ring is not the slower one.
pub const NOT_SLOWER: &str = "--with: the ring has to be slower with the capacitor than by itself, by more than both readings are uncertain. Take a larger \
     capacitor, or put it nearer to what rings";

/// How to step a load.
pub const HOW: &str = "How to read it: a resistor through a switch or a transistor across the output, so that the load steps by a fifth to a half. \
     Trigger on the step, AC coupled, probe with its short spring at the capacitor. Measure each swing from where the output comes to rest, \
     not from where it came. Leave the first out where the sharp step of the series resistance is on it. Do it cold and hot, \
     with the least load and the most.";
/// What the figure leans on.
pub const TWO_POLES: &str = "The margin is that of a loop with two poles that rings the same way. From 45° on a loop counts as well damped, below 30° as \
     badly (common practice, no source).";

/// What the swings say.
pub fn step(damping: f64, margin: f64, low: f64, high: f64, rings: f64) -> String {
    format!(
        "damping ratio {damping:.2}, phase margin {margin:.0}° ({low:.0}° .. {high:.0}° from swing to swing), down to a twentieth after \
         {rings:.1} periods"
    )
}

/// Verdicts.
pub const WELL: &str = "well damped";
/// Between.
pub const LITTLE: &str = "little in hand: look again cold, hot, and with the least load";
/// Poor.
pub const POOR: &str = "FAILS: badly damped. Try a resistance in series with the output capacitor, another capacitor, or shorter leads to it";
/// It grows.
pub const OSCILLATES: &str = "FAILS: the swings do not get smaller: it oscillates. Try a resistance in series with the output capacitor, another capacitor, or \
     shorter leads to it";

/// What rings.
pub fn tank(farads: &str, c: (&str, &str), henries: &str, l: (&str, &str), ohms: &str) -> String {
    format!(
        "what rings: {farads} ({} .. {}) with {henries} ({} .. {}), {ohms} at its ring",
        c.0, c.1, l.0, l.1
    )
}

/// The snubber.
pub fn snubber(farads: &str, ohms: &str, damping: f64, at_least: f64) -> String {
    format!(
        "snubber: {farads} and {ohms} in series, across what rings, leads short. Damping ratio {damping:.2}, {at_least:.2} at least over \
         the readings"
    )
}

/// None does it.
pub fn none(damping: f64) -> String {
    format!("no snubber of preferred values gives a damping ratio of {damping:.2}")
}

/// Its heat.
pub fn watts(watts: &str) -> String {
    format!(
        "its resistor takes {watts} at most: twice a cycle the whole swing of the winding. Take one rated for more, and a capacitor for \
         the peak of the winding at the highest mains"
    )
}

/// What was left out.
pub const NO_LOSSES: &str = "Losses of what rings are left out: it is damped a little better than that. What the ring itself does to the output is not judged: \
     look at the output with and without the snubber before it stays.";
