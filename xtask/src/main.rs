//! Tasks of this repository.
fn main() {}
