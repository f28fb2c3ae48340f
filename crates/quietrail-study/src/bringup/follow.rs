//! Where transistors pass current on.

use quietrail_job::model::{Job, PartKind};

/// Nodes that transistors feed from a node.
pub(super) fn nodes<'j>(job: &'j Job, node: &'j str) -> impl Iterator<Item = &'j str> {
    let ends = job.parts.iter().filter_map(|part| match &part.kind {
        PartKind::Transistor(transistor) => Some(transistor.ends()),
        _ => None,
    });
    ends.filter(move |(plus, _)| *plus == node)
        .map(|(_, minus)| minus)
}
