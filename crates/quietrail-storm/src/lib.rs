//! A storm of made-up jobs over the engine: does each state of each settle, and to what another way finds?
//!
//! 1. [`chance`]: choices that a seed settles;
//! 2. [`make`]: jobs as text, in the quotas that issue by issue were agreed on;
//! 3. [`solve`]: every state of one job, and how each ended;
//! 4. [`compare`]: one solution in fifty, found again without reducing the equations;
//! 5. [`tally`]: what a storm came to.

pub mod chance;
pub mod compare;
pub mod make;
pub mod solve;
pub mod tally;
