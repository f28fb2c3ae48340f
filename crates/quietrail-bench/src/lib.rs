//! Readings: how they are kept, and what they prove.
//!
//! Pure: texts, numbers and times come in, values go out. The shell touches files and clock.
//!
//! 1. [`log`]: the readings log, kept line by line; [`capture`]: files of instruments;
//! 2. [`meter`] and [`floor`]: what instruments do to what they read;
//! 3. [`gum`] and [`decide`]: uncertainty, and deciding with it;
//! 4. [`judge`]: what the readings of a limit prove, and what would show it;
//! 5. [`safety`]: what has to hold a reading before mains comes on;
//! 6. [`settle`]: where what warms up will end, and when; [`stability`] and [`counter`]: what a log of a
//!    frequency says;
//! 7. [`accept`]: what readings show of an oscillator's own limits.

pub mod accept;
pub mod capture;
pub mod counter;
pub mod decide;
pub mod distribution;
pub mod floor;
pub mod gum;
pub mod judge;
pub mod log;
pub mod meter;
pub mod safety;
pub mod settle;
pub mod stability;
