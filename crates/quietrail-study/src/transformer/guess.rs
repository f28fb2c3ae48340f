//! Where the search for the model begins, and which way round each winding is.

use super::network::Hookup;
use super::rows::{Equations, Predicts, ReadingKind, Row, Source, Unknown};
use std::f64::consts::PI;

impl Equations {
    /// Where the search begins: ohms and ratios straight from the readings, the rest held near nothing so that the
    /// equations can be solved.
    pub(super) fn first_guess(&mut self) {
        let mut x = self.start.clone();
        // Ohms: what was read between neighbours; what was not, from the whole less the rest.
        for s in 0..self.layout.stretches.len() {
            let (from, to) = self.layout.stretches[s];
            let direct = self.rows.iter().find_map(|row| match row.predicts {
                Predicts::Ohms(a, b) if (a, b) == (from, to) || (b, a) == (from, to) => {
                    Some(row.value)
                }
                _ => None,
            });
            let null = self.get(&x, Unknown::Null);
            let place = self.place(Unknown::Ohms(s));
            if let (Some(ohms), Some(place)) = (direct, place) {
                x[place] = (ohms - null).max(0.1 * ohms);
            }
        }
        self.guess_turns(&mut x);
        self.guess_iron(&mut x);
        let ohms_of = x.clone();
        for (unknown, value) in self.unknowns.iter().zip(&mut x) {
            if let Unknown::Leakage(winding) = unknown {
                let own = &self.layout.windings[*winding].stretches;
                let ohms: f64 = own
                    .iter()
                    .map(|s| self.place(Unknown::Ohms(*s)).map_or(0.0, |k| ohms_of[k]))
                    .sum();
                let henries = 0.3 * ohms / (2.0 * PI * self.hertz);
                *value = henries * henries;
            }
        }
        self.start = x;
        self.hold();
        self.find_senses();
    }

    /// Turns by ratios, from windings that have them to those that do not yet.
    fn guess_turns(&self, x: &mut [f64]) {
        let mut known = vec![false; self.layout.stretches.len()];
        // Windings that share the mains: by their ohms, as if of one wire.
        let base = self.get(x, Unknown::Ohms(self.unit)).max(1e-6);
        known[self.unit] = true;
        for &s in &self.reference {
            if let Some(place) = self.place(Unknown::Turns(s)) {
                x[place] = self.get(x, Unknown::Ohms(s)) / base;
            }
            known[s] = true;
        }
        for _ in 0..self.layout.stretches.len() {
            for row in &self.rows {
                let Predicts::Volts { hookup, across, .. } = &row.predicts else {
                    continue;
                };
                let Some(driven) = self.driven_turns(x, hookup, &known) else {
                    continue;
                };
                let Some(path) = self.layout.path(across.0, across.1) else {
                    continue;
                };
                let open: Vec<usize> = path
                    .iter()
                    .map(|(s, _)| *s)
                    .filter(|s| !known[*s])
                    .collect();
                if open.is_empty() {
                    continue;
                }
                let done: f64 = path
                    .iter()
                    .filter(|(s, _)| known[*s])
                    .map(|(s, _)| self.turns(x, *s).abs())
                    .sum();
                let rest = (row.value / hookup.volts * driven - done).max(1e-6);
                let ohms: f64 = open
                    .iter()
                    .map(|s| self.get(x, Unknown::Ohms(*s)).max(1e-9))
                    .sum();
                for s in open {
                    if let Some(place) = self.place(Unknown::Turns(s)) {
                        x[place] = rest * self.get(x, Unknown::Ohms(s)).max(1e-9) / ohms;
                    }
                    known[s] = true;
                }
            }
        }
    }

    /// Turns between the driven leads, links followed; `None` where some are not known yet.
    pub(crate) fn driven_turns(&self, x: &[f64], hookup: &Hookup, known: &[bool]) -> Option<f64> {
        let mut best: Option<f64> = None;
        let mut open = vec![(hookup.driven.0, 0.0, vec![])];
        while let Some((lead, turns, seen)) = open.pop() {
            if lead == hookup.driven.1 {
                best = Some(best.map_or(turns, |best: f64| best.max(turns)));
                continue;
            }
            let Some(winding) = self.layout.winding_of(lead) else {
                continue;
            };
            for &other in &self.layout.windings[winding].leads {
                if other == lead || seen.contains(&other) {
                    continue;
                }
                let path = self.layout.path(lead, other)?;
                if path.iter().any(|(s, _)| !known[*s]) {
                    continue;
                }
                let more: f64 = path.iter().map(|(s, _)| self.turns(x, *s).abs()).sum();
                let mut seen = seen.clone();
                seen.extend([lead, other]);
                if other == hookup.driven.1 {
                    open.push((other, turns + more, seen));
                    continue;
                }
                for &(a, b) in &hookup.joined {
                    for (here, there) in [(a, b), (b, a)] {
                        if here == other && !seen.contains(&there) {
                            open.push((there, turns + more, seen.clone()));
                        }
                    }
                }
            }
        }
        best.filter(|turns| *turns > 0.0)
    }

    fn guess_iron(&self, x: &mut [f64]) {
        let known = vec![true; self.layout.stretches.len()];
        for row in &self.rows {
            let (
                Predicts::Amps(hookup),
                Source::Read {
                    kind: ReadingKind::NoLoad,
                    ..
                },
            ) = (&row.predicts, &row.source)
            else {
                continue;
            };
            if let (Some(turns), Some(place)) = (
                self.driven_turns(x, hookup, &known),
                self.place(Unknown::Susceptance),
            ) {
                x[place] = 0.9 * row.value * turns * turns / hookup.volts;
                if let Some(loss) = self.place(Unknown::Conductance) {
                    x[loss] = 0.3 * x[place];
                }
            }
        }
    }

    /// Wide rows for everything that a reading may or may not tell.
    fn hold(&mut self) {
        let held: Vec<(Unknown, f64, f64)> = self
            .unknowns
            .iter()
            .zip(&self.start)
            .filter_map(|(unknown, start)| match unknown {
                Unknown::Ohms(_) => Some((*unknown, *start, 3.0 * start.abs().max(1.0))),
                Unknown::Turns(_) => Some((*unknown, *start, 0.5 * start.abs().max(1e-6))),
                Unknown::Leakage(winding) => {
                    let ohms: f64 = self.layout.windings[*winding]
                        .stretches
                        .iter()
                        .map(|s| self.get(&self.start, Unknown::Ohms(*s)))
                        .sum();
                    let most = 4.0 * ohms.max(1e-3) / (2.0 * PI * self.hertz);
                    Some((*unknown, 0.0, most * most))
                }
                Unknown::Susceptance => Some((*unknown, *start, 4.0 * start.abs())),
                Unknown::Conductance => {
                    let size = self.get(&self.start, Unknown::Susceptance);
                    Some((*unknown, 0.3 * size, 0.3 * size))
                }
                Unknown::Existing(_) => Some((*unknown, 0.0, 10.0)),
                _ => None,
            })
            .collect();
        for (unknown, value, half) in held {
            self.rows.push(Row {
                predicts: Predicts::Given(unknown),
                value,
                parts: vec![half],
                source: Source::Nothing,
            });
        }
    }

    /// Which way round each winding is, by the readings in which leads are tied together.
    fn find_senses(&mut self) {
        let telling: Vec<usize> = (0..self.rows.len())
            .filter(|k| match &self.rows[*k].predicts {
                Predicts::Volts { hookup, .. }
                | Predicts::Amps(hookup)
                | Predicts::Watts(hookup) => !hookup.joined.is_empty(),
                _ => false,
            })
            .collect();
        if telling.is_empty() {
            return;
        }
        let windings: Vec<usize> = (0..self.layout.windings.len())
            .filter(|k| !self.layout.windings[*k].stretches.contains(&self.unit))
            .collect();
        let misfit = |x: &[f64]| -> f64 {
            telling
                .iter()
                .map(|k| {
                    let row = &self.rows[*k];
                    let off = (self.predict(row, x) - row.value) / (row.value.abs() + 1e-3);
                    if off.is_finite() {
                        off.abs().min(3.0)
                    } else {
                        3.0
                    }
                })
                .sum()
        };
        let turned = |bits: u32| {
            let mut x = self.start.clone();
            for (bit, winding) in windings.iter().enumerate() {
                if bits >> bit & 1 == 1 {
                    for &s in &self.layout.windings[*winding].stretches {
                        if let Some(place) = self.place(Unknown::Turns(s)) {
                            x[place] = -x[place];
                        }
                    }
                }
            }
            x
        };
        let all = 1_u32 << windings.len().min(10);
        let mut best = (misfit(&self.start), 0);
        for bits in 1..all {
            let found = misfit(&turned(bits));
            // As they are, unless turning is plainly better.
            if found < best.0 - 1e-9 {
                best = (found, bits);
            }
        }
        let start = turned(best.1);
        for (row, unknown) in self.rows.iter_mut().filter_map(|row| match row.predicts {
            Predicts::Given(unknown @ Unknown::Turns(_)) => Some((row, unknown)),
            _ => None,
        }) {
            if let Some(place) = self.unknowns.iter().position(|of| *of == unknown) {
                row.value = start[place];
            }
        }
        self.start = start;
    }
}
