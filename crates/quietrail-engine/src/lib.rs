//! Numerics of mains-powered linear supplies: circuits, device curves, and their periodic steady state.
//!
//! SI `f64` inside, ids instead of names, no files, no clock. The way through it:
//!
//! 1. [`circuit`]: elements between nodes;
//! 2. [`system`]: their equations, unreduced or reduced;
//! 3. `step` and `march`: implicit integration in time, adaptive, with exact derivatives;
//! 4. [`steady`]: the cycle that closes on itself, and how the search for it ended;
//! 5. [`orbit`]: means, peaks, powers read from that cycle;
//! 6. [`network`]: small signals around it, for noise;
//! 7. [`batch`]: the same figures fast, eight circuits of one shape at a time.
//!
//! The same input gives the same bits on every machine: see [`math`].

pub mod batch;
pub mod circuit;
pub mod complex;
mod dense;
pub mod diode;
pub mod ended;
pub mod load;
mod march;
pub mod math;
pub mod network;
pub mod orbit;
pub mod quadrature;
mod record;
pub mod regulator;
pub mod sensitivity;
pub mod signal;
pub mod steady;
mod step;
pub mod system;
pub mod transient;
pub mod transistor;
pub mod wave;

pub use circuit::{Circuit, Element, ElementId, GROUND, Node, Sense, Winding};
pub use diode::DiodeLaw;
pub use ended::Ended;
pub use load::LoadLaw;
pub use march::Effort;
pub use orbit::Orbit;
pub use record::Extreme;
pub use regulator::{Dropout, RegulatorLaw, Transfer};
pub use sensitivity::{Direction, sensitivities};
pub use signal::{Output, Signal};
pub use steady::{Options, Outcome, steady_state, steady_state_from};
pub use system::{AssembleError, Place, Probe, System};
pub use transient::{Transient, transient};
pub use transistor::TransistorLaw;
pub use wave::{Basis, Wave};
