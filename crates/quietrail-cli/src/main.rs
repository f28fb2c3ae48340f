//! The `quietrail` command.
fn main() {}
