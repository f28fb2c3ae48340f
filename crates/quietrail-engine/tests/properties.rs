//! What holds for every supply: energy, scaling laws, and indifference to how the circuit is written down.

mod supplies;

mod properties {
    mod laws;
    mod random;
    mod rewritten;
}
