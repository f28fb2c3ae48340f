//! Drawings: a small scene of marks, one writer, one file a drawing.
//!
//! 1. A drawing (`waves.rs`) turns data into a [`Scene`]: marks in the order of painting.
//! 2. `writer.rs` alone writes SVG: it escapes, rounds, and brings the colours for light, dark and
//!    grey print.
//!
//! Text is placed from a table of widths (`face.rs`), so that labels are known not to overlap before
//! a browser has seen them.

mod axis;
pub mod descent;
mod face;
mod hatch;
mod labels;
mod noise;
mod scene;
mod trace;
mod waves;
mod writer;

pub use face::{fitted, text_width};
pub use noise::{noise, noise_middle, noise_narrow};
pub use scene::{Align, Frame, Ink, Mark, Point, Scene, Weight};
pub use waves::{waves, waves_middle, waves_narrow, waves_panels, waves_paper, waves_scene};

/// A drawing for a page that brings [`style`] once for all of its drawings.
pub fn bare(scene: &Scene) -> String {
    writer::write_bare(scene)
}

/// Colours and lines of all drawings, as a style sheet.
pub fn style() -> &'static str {
    writer::STYLE
}
