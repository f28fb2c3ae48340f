//! Findings as text for a terminal, JSON for scripts and SVG for pages and paper.
//!
//! Pure: data in, text out. What is said is in [`words`], how numbers are said in [`number`], how a
//! corner is told in [`corner`]; the other modules only arrange them.

pub mod acceptance;
pub mod bringup;
pub mod causes;
pub mod corner;
pub mod diagnostics;
pub mod difference;
pub mod explain;
pub mod faults;
pub mod help;
pub mod json;
pub mod number;
pub mod readings;
pub mod regulators;
pub mod remarks;
pub mod ringing;
pub mod salvage;
pub mod sidebands;
pub mod svg;
pub mod take_over;
pub mod transformer;
pub mod translate;
pub mod verdicts;
pub mod words;
pub mod yields;

mod lines;
mod style;

pub use style::Style;

#[cfg(test)]
mod specimen;
