//! Two sources never drive one node, windings side by side have equal volts, and halves about a centre swing against each other.

use crate::fault::{Fault, Faults};
use crate::model::{Join, JoinTerm, Part, PartKind, RectifierForm, Transformer};
use crate::wiring::{End, Role, Wiring};
use quietrail_units::format_si;

/// How far apart the volts of windings side by side may be, as a part of the higher. Beyond it the
/// circulating current heats the copper with nothing connected. Common practice, no source.
const SAME_VOLTS: f64 = 0.02;

/// A regulator shares its output with no other source. Rectifiers may share one: the higher feeds it.
pub(crate) fn check_nodes(wiring: &Wiring, faults: &mut Faults) {
    let drives = |end: &&End| {
        matches!(
            end.role,
            Role::Rectified | Role::Regulated | Role::Delivered
        )
    };
    let sources: Vec<&End> = wiring.ends.iter().filter(drives).collect();
    for (index, second) in sources.iter().enumerate() {
        let fights = |first: &&&End| {
            first.node == second.node
                && first.part != second.part
                && (first.role != Role::Rectified || second.role != Role::Rectified)
        };
        let Some(first) = sources[..index].iter().find(fights) else {
            continue;
        };
        let fault = Fault::SourcesFight {
            node: second.node.clone(),
            first: first.owner.clone(),
            second: second.owner.clone(),
        };
        let also = vec![(first.place.span.clone(), "the first one".to_owned())];
        faults.also(second.place.clone(), &fault, also);
    }
}

/// Voltage and resistance of a term, off load.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Branch {
    volts: f64,
    ohms: f64,
}

/// Windings side by side, in the selector and in the joins.
pub(crate) fn check_windings(parts: &[Part], faults: &mut Faults) {
    for part in parts {
        let PartKind::Transformer(transformer) = &part.kind else {
            continue;
        };
        for (_, join) in &transformer.selector.positions {
            branch(&join.term, join, &|name| primary(transformer, name), faults);
        }
        for join in &transformer.joins {
            branch(
                &join.term,
                join,
                &|name| secondary(transformer, name),
                faults,
            );
        }
    }
}

/// No joins tie both ends of a winding together between them.
pub(crate) fn check_ties(parts: &[Part], faults: &mut Faults) {
    for part in parts {
        let PartKind::Transformer(transformer) = &part.kind else {
            continue;
        };
        let mut ties = Ties::default();
        for join in &transformer.joins {
            ties.ends(&join.term);
            let names = transformer
                .secondary
                .iter()
                .map(|winding| winding.name.as_str());
            let shorted =
                names.filter(|name| ties.first(&(*name, false)) == ties.first(&(*name, true)));
            let shorted: Vec<&str> = shorted.collect();
            if let Some(winding) = shorted.first() {
                let fault = Fault::JoinShorts {
                    winding: format!("{}.{winding}", part.name),
                    join: join.name.clone(),
                };
                faults.job(join.span.clone(), &fault);
                break;
            }
        }
    }
}

/// An end of a winding: its name, and whether it is the finish.
type Lead<'a> = (&'a str, bool);

/// Leads that are tied together: each with one of those that it is tied to.
#[derive(Default)]
struct Ties<'a>(Vec<(Lead<'a>, Lead<'a>)>);

impl<'a> Ties<'a> {
    /// The lead that stands for all that one is tied to.
    fn first(&self, lead: &Lead<'a>) -> Lead<'a> {
        let tied = self.0.iter().find(|(one, _)| one == lead);
        tied.map_or(*lead, |(_, other)| self.first(other))
    }

    fn tie(&mut self, one: Lead<'a>, other: Lead<'a>) {
        let (one, other) = (self.first(&one), self.first(&other));
        if one != other {
            self.0.push((one, other));
        }
    }

    /// Ties what a term ties; its start and its finish.
    fn ends(&mut self, term: &'a JoinTerm) -> Option<(Lead<'a>, Lead<'a>)> {
        match term {
            JoinTerm::Winding { name, reversed } => Some(((name, *reversed), (name, !reversed))),
            JoinTerm::Series(terms) => {
                let all: Vec<_> = terms.iter().filter_map(|term| self.ends(term)).collect();
                for pair in all.windows(2) {
                    self.tie(pair[0].1, pair[1].0);
                }
                Some((all.first()?.0, all.last()?.1))
            }
            JoinTerm::Parallel(terms) => {
                let all: Vec<_> = terms.iter().filter_map(|term| self.ends(term)).collect();
                for pair in all.windows(2) {
                    self.tie(pair[0].0, pair[1].0);
                    self.tie(pair[0].1, pair[1].1);
                }
                all.first().copied()
            }
        }
    }
}

/// Behind a rectifier on a centre the two halves of a join swing against each other.
pub(crate) fn check_centres(parts: &[Part], faults: &mut Faults) {
    for part in parts {
        let PartKind::Rectifier(rectifier) = &part.kind else {
            continue;
        };
        let is_on_centre = matches!(
            rectifier.form,
            RectifierForm::CentreTap | RectifierForm::Split { .. }
        );
        let Some((transformer, join)) = joined(parts, &rectifier.from).filter(|_| is_on_centre)
        else {
            continue;
        };
        let JoinTerm::Series(terms) = &join.term else {
            continue;
        };
        let [first, second] = terms.as_slice() else {
            continue;
        };
        // What is wrong inside a term is found with the windings.
        let mut elsewhere = faults.scratch();
        let mut volts = |term: &JoinTerm| {
            let of = |name: &str| secondary(transformer, name);
            branch(term, join, &of, &mut elsewhere).map(|one| one.volts)
        };
        if let (Some(one), Some(other)) = (volts(first), volts(second))
            && one * other < 0.0
        {
            let fault = Fault::HalvesTogether {
                join: join.name.clone(),
                mended: format!("{} + {}", words(first), words(&turned(second))),
            };
            faults.job(rectifier.span.clone(), &fault);
        }
    }
}

/// The join of windings of that address.
fn joined<'a>(parts: &'a [Part], from: &str) -> Option<(&'a Transformer, &'a Join)> {
    let (name, winding) = from.split_once('.')?;
    let part = parts.iter().find(|part| part.name == name)?;
    let PartKind::Transformer(transformer) = &part.kind else {
        return None;
    };
    let join = transformer.joins.iter().find(|join| join.name == winding)?;
    Some((transformer, join))
}

/// A term with all its windings the other way round.
fn turned(term: &JoinTerm) -> JoinTerm {
    match term {
        JoinTerm::Winding { name, reversed } => JoinTerm::Winding {
            name: name.clone(),
            reversed: !reversed,
        },
        JoinTerm::Series(terms) => JoinTerm::Series(terms.iter().rev().map(turned).collect()),
        JoinTerm::Parallel(terms) => JoinTerm::Parallel(terms.iter().map(turned).collect()),
    }
}

fn primary(transformer: &Transformer, name: &str) -> Option<Branch> {
    let winding = transformer
        .primary
        .iter()
        .find(|winding| winding.name == name)?;
    Some(Branch {
        volts: winding.volts.nominal(),
        ohms: winding.resistance.nominal(),
    })
}

/// Off-load volts of all secondaries at one primary voltage, that of the first.
fn secondary(transformer: &Transformer, name: &str) -> Option<Branch> {
    let common = transformer.secondary.first()?.at_primary.nominal();
    let winding = transformer
        .secondary
        .iter()
        .find(|winding| winding.name == name)?;
    let volts = winding.open.nominal() * common / winding.at_primary.nominal();
    Some(Branch {
        volts,
        ohms: winding.resistance.nominal(),
    })
}

fn branch(
    term: &JoinTerm,
    join: &Join,
    winding: &dyn Fn(&str) -> Option<Branch>,
    faults: &mut Faults,
) -> Option<Branch> {
    match term {
        JoinTerm::Winding { name, reversed } => {
            let found = winding(name)?;
            Some(Branch {
                volts: if *reversed { -found.volts } else { found.volts },
                ..found
            })
        }
        JoinTerm::Series(terms) => {
            let mut sum = Branch {
                volts: 0.0,
                ohms: 0.0,
            };
            for term in terms {
                let one = branch(term, join, winding, faults)?;
                sum = Branch {
                    volts: sum.volts + one.volts,
                    ohms: sum.ohms + one.ohms,
                };
            }
            Some(sum)
        }
        JoinTerm::Parallel(terms) => parallel(terms, join, winding, faults),
    }
}

fn parallel(
    terms: &[JoinTerm],
    join: &Join,
    winding: &dyn Fn(&str) -> Option<Branch>,
    faults: &mut Faults,
) -> Option<Branch> {
    let branches: Vec<Branch> = terms
        .iter()
        .map(|term| branch(term, join, winding, faults))
        .collect::<Option<_>>()?;
    let first = branches.first()?;
    for (term, other) in terms.iter().zip(&branches).skip(1) {
        let apart = (first.volts - other.volts).abs();
        if apart <= SAME_VOLTS * first.volts.abs().max(other.volts.abs()) {
            continue;
        }
        let ohms = first.ohms + other.ohms;
        let circulating = if ohms > 0.0 {
            format_si(apart / ohms, "A", 2)
        } else {
            "a current that nothing limits".to_owned()
        };
        let fault = Fault::WindingsFight {
            join: join.name.clone(),
            first: words(&terms[0]),
            second: words(term),
            circulating,
        };
        faults.job(join.span.clone(), &fault);
    }
    let count = branches.len() as f64;
    let volts = branches.iter().map(|branch| branch.volts).sum::<f64>() / count;
    let siemens: f64 = branches.iter().map(|branch| 1.0 / branch.ohms).sum();
    Some(Branch {
        volts,
        ohms: 1.0 / siemens,
    })
}

/// A term as one would write it.
fn words(term: &JoinTerm) -> String {
    let inner = |terms: &[JoinTerm], sign: &str| {
        let words = terms.iter().map(words).collect::<Vec<_>>().join(sign);
        format!("({words})")
    };
    match term {
        JoinTerm::Winding {
            name,
            reversed: false,
        } => name.clone(),
        JoinTerm::Winding {
            name,
            reversed: true,
        } => format!("-{name}"),
        JoinTerm::Series(terms) => inner(terms, " + "),
        JoinTerm::Parallel(terms) => inner(terms, " | "),
    }
}
