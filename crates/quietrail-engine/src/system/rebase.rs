//! Unknowns chosen so that what a capacitor stores is one of them.
//!
//! Two nodes joined by a capacitor move together, however high both may float. As two voltages against a
//! reference they differ by what they store, and what ties them to it, the leakage of blocking diodes perhaps, is lost
//! in the rounding of `C/h`. So one of the two is replaced by the difference, and its row of Kirchhoff's law by that of
//! both together: a change of basis by ones and minus ones, which is exact.

use super::{Few, Kind, Probe, System};
use smallvec::smallvec;

/// `y_c = sign · (z − Σ b_j y_j)`: an unknown given by a store and other unknowns.
struct Substitution {
    unknown: usize,
    sign: f64,
    others: Few,
}

impl System {
    /// The same equations in unknowns of which as many as possible are stores; and which of them are.
    pub(super) fn rebased(&self) -> (System, Vec<bool>) {
        let mut system = self.clone();
        let mut is_store = vec![false; self.n];
        for k in 0..self.stores.len() {
            let store = &system.stores[k];
            if let [(unknown, factor)] = store.value.x.as_slice()
                && *factor == 1.0
            {
                is_store[*unknown] = true;
                continue;
            }
            if store.kind == Kind::Amperes || !store.value.s.is_empty() {
                continue;
            }
            if let Some(substitution) = Substitution::of(&store.value, &is_store) {
                is_store[substitution.unknown] = true;
                system.substitute(&substitution);
            }
        }
        (system, is_store)
    }

    fn substitute(&mut self, by: &Substitution) {
        let (n, sources) = (self.n, self.sources.len());
        let c = by.unknown;
        for row in 0..n {
            let old = self.linear[row * n + c];
            if old != 0.0 {
                self.linear[row * n + c] = by.sign * old;
                for &(j, b) in &by.others {
                    self.linear[row * n + j] -= by.sign * b * old;
                }
            }
        }
        // Rows go as columns do: Kirchhoff's law of the two nodes together, and of the one alone.
        for column in 0..n {
            let old = self.linear[c * n + column];
            if old != 0.0 {
                self.linear[c * n + column] = by.sign * old;
                for &(j, b) in &by.others {
                    self.linear[j * n + column] -= by.sign * b * old;
                }
            }
        }
        for source in 0..sources {
            let old = self.drive[c * sources + source];
            if old != 0.0 {
                self.drive[c * sources + source] = by.sign * old;
                for &(j, b) in &by.others {
                    self.drive[j * sources + source] -= by.sign * b * old;
                }
            }
        }
        for store in &mut self.stores {
            by.apply(&mut store.value.x);
            by.apply(&mut store.charge);
        }
        for device in &mut self.devices {
            for input in &mut device.inputs {
                by.apply(&mut input.x);
            }
        }
        let unreduced = self.unreduced.get_or_insert_with(|| identity(self.n));
        for probe in unreduced {
            by.apply(&mut probe.x);
        }
    }
}

/// Unknowns as probes of themselves.
fn identity(n: usize) -> Vec<Probe> {
    let probe = |index: usize| Probe {
        x: smallvec![(index, 1.0)],
        ..Probe::default()
    };
    (0..n).map(probe).collect()
}

impl Substitution {
    /// For a store whose value is a sum of unknowns, one of which is not a store yet.
    fn of(value: &Probe, is_store: &[bool]) -> Option<Self> {
        let own = |&&(unknown, factor): &&(usize, f64)| !is_store[unknown] && factor.abs() == 1.0;
        let &(unknown, sign) = value.x.iter().find(own)?;
        let others = value.x.iter().copied().filter(|term| term.0 != unknown);
        Some(Self {
            unknown,
            sign,
            others: others.collect(),
        })
    }

    /// Replaces the unknown in a list of terms.
    fn apply(&self, terms: &mut Few) {
        let Some(at) = terms.iter().position(|term| term.0 == self.unknown) else {
            return;
        };
        let factor = terms[at].1;
        terms[at].1 = self.sign * factor;
        let others: Few = self
            .others
            .iter()
            .map(|&(j, b)| (j, -self.sign * b))
            .collect();
        super::add_terms(terms, &others, factor);
    }
}
