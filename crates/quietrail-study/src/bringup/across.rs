//! Voltages between any two points of a step, from what is expected at its rows.

use super::{Expectation, Observed};
use quietrail_job::model::What;

/// Highest voltage, either way round, that is expected between two points of a step; `None` where nothing tells.
pub fn highest_across(expect: &[Expectation], plus: &str, minus: &str) -> Option<f64> {
    let mean = |of: &str| {
        let mut means = expect
            .iter()
            .filter(|one| one.what == Observed::Statistic(What::Mean));
        let own = means.find(|one| one.of == of)?;
        own.low.zip(own.high)
    };
    let size = |(low, high): (f64, f64)| low.abs().max(high.abs());
    let pair = mean(&format!("{plus},{minus}")).or_else(|| mean(&format!("{minus},{plus}")));
    if let Some(own) = pair {
        return Some(size(own));
    }
    let against_any = |node: &str| {
        let start = format!("{node},");
        let own = expect.iter().find(|one| {
            one.what == Observed::Statistic(What::Mean) && one.of.starts_with(&start)
        })?;
        own.low.zip(own.high)
    };
    let at = |node: &str| match node {
        "common" => Some((0.0, 0.0)),
        // The end of a winding swings about the return.
        winding if winding.contains('.') => Some((0.0, 0.0)),
        node => mean(node).or_else(|| against_any(node)),
    };
    if plus.contains('.') && minus.contains('.') {
        return None;
    }
    match (at(plus), at(minus)) {
        (Some(plus), Some(minus)) => Some(size((plus.0 - minus.1, plus.1 - minus.0))),
        (Some(_), None) => against_any(plus).map(size),
        _ => None,
    }
}
