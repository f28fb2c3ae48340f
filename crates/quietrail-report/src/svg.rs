//! Drawings: a small scene of marks, one writer, one file a drawing.
//!
//! 1. A drawing (`waves.rs`) turns data into a [`Scene`]: marks in the order of painting.
//! 2. `writer.rs` alone writes SVG: it escapes, rounds, and brings the colours for light, dark and
//!    grey print.
//!
//! Text is placed from a table of widths (`face.rs`), so that labels are known not to overlap before
//! a browser has seen them.

mod axis;
mod face;
mod hatch;
mod labels;
mod scene;
mod trace;
mod waves;
mod writer;

pub use face::text_width;
pub use scene::{Align, Frame, Ink, Mark, Point, Scene, Weight};
pub use waves::{waves, waves_scene};
