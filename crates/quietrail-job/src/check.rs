//! Checks of the whole job, one file each.

pub(crate) mod alternating;
pub(crate) mod asked;
pub(crate) mod names;
pub(crate) mod nodes;
pub(crate) mod references;
pub(crate) mod sides;
pub(crate) mod sources;
