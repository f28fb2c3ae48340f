//! The binary as a person runs it: files in a folder, arguments, exit status, and what is printed.

#![allow(
    clippy::unwrap_used,
    reason = "a test that cannot write its folder has nothing to say"
)]

mod bad_input;
mod bench;
mod documents;
mod doubtful;
mod durable;
mod explain;
mod new;
mod open;
mod oscillator;
mod prove;
mod readings;
mod regulators;
mod ringing;
mod slips;
mod transformer;
mod translate;
mod waves;
