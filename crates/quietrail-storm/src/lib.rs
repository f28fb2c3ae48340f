//! A storm of made-up jobs: does each state of each settle, and to what another way finds?
//!
//! 1. [`chance`]: choices that a seed settles;
//! 2. [`make`]: jobs as text, and [`census`]: what is in a job, in the quotas that were agreed on;
//! 3. [`figures`]: what is read from each solution;
//! 4. [`solve`]: every state of one job, and how each ended;
//! 5. [`judge`]: whether a refusal is one of physics;
//! 6. [`compare`]: one solution in fifty, found again from the equations as the circuit gives them;
//! 7. [`tally`] and [`digest`]: what a storm came to.

pub mod census;
pub mod chance;
pub mod compare;
pub mod digest;
pub mod figures;
pub mod judge;
pub mod make;
pub mod solve;
mod spent;
pub mod tally;
