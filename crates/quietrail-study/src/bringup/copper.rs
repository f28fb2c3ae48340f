//! Secondaries as an ohmmeter finds them: the copper of each part of a winding, and the leads that joins tie together.

use super::taps;
use quietrail_job::model::{JoinTerm, Transformer};

/// A part of a winding between two of its leads.
pub(super) struct Copper {
    /// Its leads.
    pub(super) ends: (String, String),
    /// Lowest, as marked, highest, Ω.
    pub(super) ohms: [f64; 3],
}

/// The parts of all secondaries.
pub(super) fn secondaries(name: &str, transformer: &Transformer) -> Vec<Copper> {
    let mut all = Vec::new();
    for winding in &transformer.secondary {
        let ohms = &winding.resistance.value;
        let ohms = [ohms.low, ohms.nominal, ohms.high];
        let parts = taps::parts(name, winding);
        if parts.is_empty() {
            let lead = |end: &str| format!("{name}.{}.{end}", winding.name);
            let ends = (lead("start"), lead("finish"));
            all.push(Copper { ends, ohms });
        }
        all.extend(parts.into_iter().map(|part| Copper {
            ends: (part.plus, part.minus),
            ohms: [0, 1, 2].map(|k| part.share[k] * ohms[k]),
        }));
    }
    all
}

/// Leads that the joins of a transformer's secondaries make one.
pub(super) fn ties(name: &str, transformer: &Transformer) -> Vec<(String, String)> {
    let mut all = Vec::new();
    for join in &transformer.joins {
        let lead = |end: &str| format!("{name}.{}.{end}", join.name);
        let (start, finish) = ends(name, &join.term, &mut all);
        if let JoinTerm::Series(terms) = &join.term
            && let [first, _] = terms.as_slice()
        {
            let (_, centre) = ends(name, first, &mut Vec::new());
            all.push((lead("centre"), centre));
        }
        all.push((lead("start"), start));
        all.push((lead("finish"), finish));
    }
    all
}

/// Start and finish of a term; what it ties inside goes with the rest.
fn ends(name: &str, term: &JoinTerm, ties: &mut Vec<(String, String)>) -> (String, String) {
    let mut of = |terms: &[JoinTerm]| -> Vec<(String, String)> {
        terms.iter().map(|term| ends(name, term, ties)).collect()
    };
    match term {
        JoinTerm::Winding {
            name: winding,
            reversed,
        } => {
            let (start, finish) = (
                format!("{name}.{winding}.start"),
                format!("{name}.{winding}.finish"),
            );
            if *reversed {
                (finish, start)
            } else {
                (start, finish)
            }
        }
        JoinTerm::Series(terms) => {
            let all = of(terms);
            ties.extend(
                all.windows(2)
                    .map(|pair| (pair[0].1.clone(), pair[1].0.clone())),
            );
            (all[0].0.clone(), all[all.len() - 1].1.clone())
        }
        JoinTerm::Parallel(terms) => {
            let all = of(terms);
            for other in &all[1..] {
                ties.push((all[0].0.clone(), other.0.clone()));
                ties.push((all[0].1.clone(), other.1.clone()));
            }
            all[0].clone()
        }
    }
}
