//! Addresses of everything adjustable, and changes to a job (contracts: one address each).

mod adjust;
#[cfg(test)]
mod tests;

use crate::keys::Bounds;
use crate::model::{Job, Part, PartKind, Spread, Transformer};
use crate::nearest::nearest;
use adjust::{Adjustable, walk, walk_where};
use std::fmt;
use std::sync::Arc;

/// The address of one adjustable figure: `C1.value`, `T1.S1.resistance`, `mains.voltage`,
/// `load.oven.cold`, `room`.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Address(pub String);

/// One adjustable figure of a job.
#[derive(Clone, Debug, PartialEq)]
pub struct Parameter {
    /// Where it is.
    pub address: Address,
    /// Lowest value within tolerance, SI.
    pub low: f64,
    /// Value as marked, SI.
    pub nominal: f64,
    /// Highest value within tolerance, SI.
    pub high: f64,
    /// How likely values are between these ends.
    pub shape: Shape,
    /// Unit symbol without prefix.
    pub unit: &'static str,
    /// Why this value, where the job leaves the figure out and a default stands in.
    pub why_default: Option<&'static str>,
}

/// How likely values are between the ends of a figure.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Shape {
    /// One as likely as another.
    #[default]
    Even,
    /// Normal around the nominal, each side with a deviation of its own, and cut off at the ends.
    Normal {
        /// Standard deviations from the nominal to either end.
        cut: f64,
    },
}

/// One change to a job.
#[derive(Clone, Debug, PartialEq)]
pub enum Change {
    /// Moves a figure; its tolerance moves along (percentages scale, absolute tolerances shift).
    Set {
        /// Which figure.
        address: Address,
        /// New nominal value, SI.
        value: f64,
    },
    /// Takes a part out, leaving its ends open. The job keeps the part, so that it can still be named:
    /// leaving it out is the work of whoever makes the circuit.
    Open(String),
    /// Puts a dead short in place of a part; as with [`Change::Open`], the job keeps the part.
    Short(String),
    /// Turns a winding round: `T1.S2`.
    Reverse(String),
    /// Puts another part where one was; the name stays, so that limits and readings still find it.
    Swap {
        /// Name of the part that goes.
        part: String,
        /// What comes.
        with: Box<Part>,
    },
    /// Adds a part under a name that is free.
    Insert(Box<Part>),
}

/// Why a change cannot be made.
#[derive(Clone, Debug, PartialEq)]
pub enum ChangeError {
    /// No figure has this address.
    UnknownAddress {
        /// As asked.
        address: String,
        /// The nearest known one.
        nearest: Option<String>,
    },
    /// No part or winding has this name.
    UnknownPart {
        /// As asked.
        name: String,
        /// The nearest known one.
        nearest: Option<String>,
    },
    /// A part of this name is there already.
    NameTaken {
        /// The name.
        name: String,
    },
    /// The value cannot be taken there (negative resistance, zero capacitance, not finite).
    Impossible {
        /// Which figure.
        address: String,
        /// The value asked for.
        value: f64,
    },
}

impl Spread {
    /// How far values reach that have this tolerance.
    pub(crate) fn reach(&self, low: f64, nominal: f64, high: f64) -> (f64, f64) {
        let by = self.cut / self.deviations;
        // What is cut at its tolerance ends there to the last bit.
        if by == 1.0 {
            return (low, high);
        }
        (
            nominal - by * (nominal - low),
            nominal + by * (high - nominal),
        )
    }
}

impl Job {
    /// Every adjustable figure, in the order of the file. Figures without tolerance have equal ends.
    pub fn parameters(&self) -> Vec<Parameter> {
        self.listed(|_, _| {})
    }

    /// As [`Job::parameters`], each between the ends that its values reach: those of its tolerance, unless the job says
    /// that some lie beyond, or that none comes so far.
    pub fn reaches(&self) -> Vec<Parameter> {
        self.listed(|parameter, bounds| {
            let mut spreads = self.spreads.iter();
            let own = spreads.find(|spread| spread.figures.contains(&parameter.address));
            let Some(spread) = own else { return };
            let (low, high) = spread.reach(parameter.low, parameter.nominal, parameter.high);
            // A figure that was moved may have come near zero; that end then stays within tolerance.
            if bounds.allow(low, parameter.nominal) {
                parameter.low = low;
            }
            if bounds.allow(parameter.nominal, high) {
                parameter.high = high;
            }
            parameter.shape = Shape::Normal { cut: spread.cut };
        })
    }

    fn listed(&self, finish: impl Fn(&mut Parameter, Bounds)) -> Vec<Parameter> {
        let mut parameters = Vec::new();
        walk(&mut self.clone(), &mut |address, figure, bounds| {
            let (low, nominal, high) = figure.range();
            let mut parameter = Parameter {
                address: Address(address.join(".")),
                low,
                nominal,
                high,
                shape: Shape::Even,
                unit: figure.unit(),
                why_default: figure.why_default(),
            };
            finish(&mut parameter, bounds);
            parameters.push(parameter);
        });
        parameters
    }

    /// A copy with all changes made in order. Parts are swapped and inserted before figures are set, so that
    /// the figures of what comes can be set too.
    ///
    /// [`Change::Open`] and [`Change::Short`] are only checked: the part stays in the job.
    ///
    /// # Errors
    /// The first change that cannot be made.
    pub fn with(&self, changes: &[Change]) -> Result<Job, ChangeError> {
        let mut job = self.clone();
        for change in changes {
            job.exchange(change)?;
        }
        let mut outcomes: Vec<Outcome> = changes.iter().map(|_| Outcome::NotFound).collect();
        let any_set = changes
            .iter()
            .any(|change| matches!(change, Change::Set { .. }));
        if any_set {
            let is_meant = |part: &Part| changes.iter().any(|change| is_of(change, part));
            walk_where(&mut job, is_meant, &mut |address, figure, bounds| {
                set_all(changes, &mut outcomes, address, figure, bounds);
            });
        }
        for (change, outcome) in changes.iter().zip(outcomes) {
            match change {
                Change::Set { address, value } => match outcome {
                    Outcome::Done => {}
                    Outcome::Impossible => {
                        let address = address.0.clone();
                        return Err(ChangeError::Impossible {
                            address,
                            value: *value,
                        });
                    }
                    Outcome::NotFound => return Err(self.unknown_address(&address.0)),
                },
                Change::Swap { .. } | Change::Insert(_) => {}
                Change::Open(name) | Change::Short(name) => {
                    if job.part(name).is_none() {
                        return Err(self.unknown_part(name));
                    }
                }
                Change::Reverse(name) => {
                    if !reverse(&mut job, name) {
                        return Err(self.unknown_winding(name));
                    }
                }
            }
        }
        Ok(job)
    }

    /// Swaps or inserts a part; other changes are not its business.
    fn exchange(&mut self, change: &Change) -> Result<(), ChangeError> {
        match change {
            Change::Swap { part, with } => {
                let Some(there) = self.parts.iter_mut().find(|known| known.name == *part) else {
                    return Err(self.unknown_part(part));
                };
                Arc::make_mut(there).kind = with.kind.clone();
            }
            Change::Insert(part) => {
                if self.part(&part.name).is_some() {
                    let name = part.name.clone();
                    return Err(ChangeError::NameTaken { name });
                }
                self.parts.push(Arc::new((**part).clone()));
            }
            Change::Set { .. } | Change::Open(_) | Change::Short(_) | Change::Reverse(_) => {}
        }
        Ok(())
    }

    fn unknown_address(&self, address: &str) -> ChangeError {
        let parameters = self.parameters();
        let known = parameters
            .iter()
            .map(|parameter| parameter.address.0.as_str());
        ChangeError::UnknownAddress {
            address: address.to_owned(),
            nearest: nearest(address, known),
        }
    }

    fn unknown_part(&self, name: &str) -> ChangeError {
        let known = self.parts.iter().map(|part| part.name.as_str());
        ChangeError::UnknownPart {
            name: name.to_owned(),
            nearest: nearest(name, known),
        }
    }

    fn unknown_winding(&self, name: &str) -> ChangeError {
        let windings = self.windings();
        let near = nearest(name, windings.iter().map(String::as_str));
        ChangeError::UnknownPart {
            name: name.to_owned(),
            nearest: near,
        }
    }

    /// Every winding with its transformer: `T1.S2`.
    fn windings(&self) -> Vec<String> {
        let of_part = |name: &str, transformer: &Transformer| {
            let primary = transformer.primary.iter().map(|winding| &winding.name);
            let secondary = transformer.secondary.iter().map(|winding| &winding.name);
            primary
                .chain(secondary)
                .map(|of| format!("{name}.{of}"))
                .collect::<Vec<_>>()
        };
        let of_parts = self.parts.iter().filter_map(|part| match &part.kind {
            PartKind::Transformer(transformer) => Some(of_part(&part.name, transformer)),
            _ => None,
        });
        of_parts.flatten().collect()
    }
}

/// Whether a change sets a figure of a part, by the first names of its address: `C1.value`, `load.oven.cold`.
fn is_of(change: &Change, part: &Part) -> bool {
    let Change::Set { address, .. } = change else {
        return false;
    };
    let mut names = address.0.split('.');
    let first = names.next();
    first == Some(&part.name) || first == Some("load") && names.next() == Some(&part.name)
}

/// What became of one change.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Outcome {
    NotFound,
    Impossible,
    Done,
}

/// Makes all changes to one figure, in their order.
fn set_all(
    changes: &[Change],
    outcomes: &mut [Outcome],
    address: &[&str],
    figure: &mut dyn Adjustable,
    bounds: Bounds,
) {
    for (change, outcome) in changes.iter().zip(outcomes) {
        let Change::Set {
            address: wanted,
            value,
        } = change
        else {
            continue;
        };
        if !wanted.0.split('.').eq(address.iter().copied()) {
            continue;
        }
        if value.is_finite() && bounds.allow(*value, *value) {
            figure.move_to(*value, bounds);
            *outcome = Outcome::Done;
        } else {
            *outcome = Outcome::Impossible;
        }
    }
}

/// Turns a winding round; false if there is none of that name.
fn reverse(job: &mut Job, name: &str) -> bool {
    let Some((part, winding)) = name.split_once('.') else {
        return false;
    };
    let Some(part) = job
        .parts
        .iter_mut()
        .find(|candidate| candidate.name == part)
    else {
        return false;
    };
    let PartKind::Transformer(transformer) = &mut Arc::make_mut(part).kind else {
        return false;
    };
    let primary = transformer
        .primary
        .iter_mut()
        .map(|one| (&one.name, &mut one.reversed));
    let secondary = transformer
        .secondary
        .iter_mut()
        .map(|one| (&one.name, &mut one.reversed));
    for (of, reversed) in primary.chain(secondary) {
        if of == winding {
            *reversed = !*reversed;
            return true;
        }
    }
    false
}

impl fmt::Display for Address {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl fmt::Display for ChangeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (what, name, nearest) = match self {
            ChangeError::Impossible { address, value } => {
                return write!(f, "{address} cannot be {value}");
            }
            ChangeError::NameTaken { name } => return write!(f, "{name} is there already"),
            ChangeError::UnknownAddress { address, nearest } => ("figure", address, nearest),
            ChangeError::UnknownPart { name, nearest } => ("part or winding", name, nearest),
        };
        write!(f, "no {what} is called {name}")?;
        match nearest {
            Some(nearest) => write!(f, "; the nearest is {nearest}"),
            None => Ok(()),
        }
    }
}

impl std::error::Error for ChangeError {}
