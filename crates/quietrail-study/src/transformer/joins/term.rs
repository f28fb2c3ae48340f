//! How windings are joined, as terms: what they are called, which leads they tie, and what volts they have.

use super::super::Known;

/// Most windings that are joined at a time.
const MOST: usize = 3;

/// How windings are joined; numbers are those of the windings.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Term {
    One(usize),
    /// Part of a tapped winding: from and to, counted along its leads.
    Part(usize, usize, usize),
    Series(Vec<Term>),
    Parallel(Vec<Term>),
}

/// How far the halves about a centre may be from equal turns.
const UNEQUAL_HALVES: f64 = 0.02;

/// Half of a term about its centre, and the lead or leads there; `None` where it has none.
pub(super) fn centre(known: &Known, term: &Term) -> Option<(Term, String)> {
    match term {
        Term::Series(parts) if parts.len() == 2 => {
            let mut ties = Vec::new();
            let (_, finish) = wire(known, &parts[0], &mut ties);
            let (start, _) = wire(known, &parts[1], &mut ties);
            Some((parts[0].clone(), format!("{finish} and {start}")))
        }
        Term::One(k) => {
            let winding = &known.windings[*k];
            let at = winding
                .taps
                .iter()
                .position(|(_, share)| (share.value - 0.5).abs() <= 0.5 * UNEQUAL_HALVES)?;
            Some((Term::Part(*k, 0, at + 1), winding.taps[at].0.clone()))
        }
        Term::Part(..) | Term::Series(_) | Term::Parallel(_) => None,
    }
}

/// Share of a winding's turns from its first lead to another.
fn share_at(known: &Known, k: usize, lead: usize) -> f64 {
    let taps = &known.windings[k].taps;
    match lead {
        0 => 0.0,
        at if at <= taps.len() => taps[at - 1].1.value,
        _ => 1.0,
    }
}

pub(super) fn subsets(all: &[usize]) -> Vec<Vec<usize>> {
    let mut found = Vec::new();
    for bits in 1_u32..(1 << all.len().min(8)) {
        let chosen: Vec<usize> = all
            .iter()
            .enumerate()
            .filter(|(bit, _)| bits >> bit & 1 == 1)
            .map(|(_, k)| *k)
            .collect();
        if chosen.len() <= MOST {
            found.push(chosen);
        }
    }
    found
}

pub(super) fn arrangements(chosen: &[usize]) -> Vec<Term> {
    let one = |k: usize| Term::One(k);
    match *chosen {
        [a] => vec![one(a)],
        [a, b] => vec![
            Term::Series(vec![one(a), one(b)]),
            Term::Parallel(vec![one(a), one(b)]),
        ],
        [a, b, c] => {
            let mut all = vec![
                Term::Series(vec![one(a), one(b), one(c)]),
                Term::Parallel(vec![one(a), one(b), one(c)]),
            ];
            for (x, y, z) in [(a, b, c), (a, c, b), (b, c, a)] {
                all.push(Term::Series(vec![
                    Term::Parallel(vec![one(x), one(y)]),
                    one(z),
                ]));
                all.push(Term::Parallel(vec![
                    Term::Series(vec![one(x), one(y)]),
                    one(z),
                ]));
            }
            all
        }
        _ => Vec::new(),
    }
}

/// Leads at both ends of a term, dots first, and the ties inside.
pub(super) fn wire(
    known: &Known,
    term: &Term,
    ties: &mut Vec<(String, String)>,
) -> (String, String) {
    match term {
        Term::One(k) => {
            let leads = &known.windings[*k].leads;
            (leads[0].clone(), leads[leads.len() - 1].clone())
        }
        Term::Part(k, from, to) => {
            let leads = &known.windings[*k].leads;
            (leads[*from].clone(), leads[*to].clone())
        }
        Term::Series(parts) => {
            let ends: Vec<(String, String)> =
                parts.iter().map(|part| wire(known, part, ties)).collect();
            for two in ends.windows(2) {
                ties.push((two[0].1.clone(), two[1].0.clone()));
            }
            (ends[0].0.clone(), ends[ends.len() - 1].1.clone())
        }
        Term::Parallel(parts) => {
            let ends: Vec<(String, String)> =
                parts.iter().map(|part| wire(known, part, ties)).collect();
            for two in ends.windows(2) {
                ties.push((two[0].0.clone(), two[1].0.clone()));
                ties.push((two[0].1.clone(), two[1].1.clone()));
            }
            ends[0].clone()
        }
    }
}

pub(super) fn text(known: &Known, term: &Term, is_inner: bool) -> String {
    let join = |parts: &[Term], sign: &str| {
        let all: Vec<String> = parts.iter().map(|part| text(known, part, true)).collect();
        let joined = all.join(sign);
        if is_inner {
            format!("({joined})")
        } else {
            joined
        }
    };
    match term {
        Term::One(k) => known.windings[*k].name.clone(),
        Term::Part(k, from, to) => {
            let winding = &known.windings[*k];
            format!(
                "{} ({} - {})",
                winding.name, winding.leads[*from], winding.leads[*to]
            )
        }
        Term::Series(parts) => join(parts, " + "),
        Term::Parallel(parts) => join(parts, " | "),
    }
}

pub(super) fn volts(known: &Known, term: &Term) -> f64 {
    match term {
        Term::One(k) => known.windings[*k].open.value,
        Term::Part(k, from, to) => {
            known.windings[*k].open.value * (share_at(known, *k, *to) - share_at(known, *k, *from))
        }
        Term::Series(parts) => parts.iter().map(|part| volts(known, part)).sum(),
        Term::Parallel(parts) => volts(known, &parts[0]),
    }
}

pub(super) fn windings(term: &Term) -> Vec<usize> {
    match term {
        Term::One(k) | Term::Part(k, ..) => vec![*k],
        Term::Series(parts) | Term::Parallel(parts) => parts.iter().flat_map(windings).collect(),
    }
}
