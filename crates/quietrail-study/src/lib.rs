//! The builder's questions, answered as data.

pub mod finding;
pub mod wave;
