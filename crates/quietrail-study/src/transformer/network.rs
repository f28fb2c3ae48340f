//! What a transformer does at one frequency: windings on one core, sources, links and loads at their leads.
//!
//! Each stretch of a winding between two neighbouring leads has turns, resistance and leakage; all share the volts per
//! turn of the core, which takes its magnetising current and its loss.

use super::phasor::{Phasor, solve};

/// A stretch of winding between two neighbouring leads; the dot is at `from` where `turns` is positive.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Stretch {
    pub(crate) from: usize,
    pub(crate) to: usize,
    pub(crate) turns: f64,
    pub(crate) ohms: f64,
    /// Leakage reactance at the frequency of the circuit, Ω.
    pub(crate) reactance: f64,
}

/// The core: what one turn would take, at one volt a turn.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Iron {
    /// Amperes per volt of magnetising, one turn.
    pub(crate) susceptance: f64,
    /// Amperes per volt of loss, one turn.
    pub(crate) conductance: f64,
}

/// What is at the leads.
#[derive(Clone, Debug, Default)]
pub(crate) struct Hookup {
    pub(crate) driven: (usize, usize),
    pub(crate) volts: f64,
    /// Leads tied together.
    pub(crate) joined: Vec<(usize, usize)>,
    /// Resistors between leads.
    pub(crate) loads: Vec<(usize, usize, f64)>,
}

/// Volts of all leads, and the currents.
#[derive(Clone, Debug)]
pub(crate) struct Flow {
    volts: Vec<Phasor>,
    /// Out of the source, into the first driven lead.
    pub(crate) source: Phasor,
    /// Into each stretch at `from`.
    pub(crate) stretches: Vec<Phasor>,
    driven: f64,
}

/// Leak from every lead, so that a winding that floats has a voltage: a teraohm draws nothing.
const FLOATING: f64 = 1e-12;

/// Solves what flows.
pub(crate) fn flow(
    leads: usize,
    stretches: &[Stretch],
    iron: Iron,
    hookup: &Hookup,
) -> Option<Flow> {
    // Leads that are tied together are one node.
    let mut node: Vec<usize> = (0..leads).collect();
    for &(a, b) in &hookup.joined {
        let (from, to) = (node[a], node[b]);
        for n in &mut node {
            if *n == from {
                *n = to;
            }
        }
    }
    let mut names: Vec<usize> = node.clone();
    names.sort_unstable();
    names.dedup();
    let ground = node[hookup.driven.1];
    names.retain(|name| *name != ground);
    let index = |lead: usize| names.iter().position(|name| *name == node[lead]);

    // Unknowns: node volts, stretch currents, volts per turn, source current.
    let (nodes, count) = (names.len(), stretches.len());
    let (turn, source) = (nodes + count, nodes + count + 1);
    let size = source + 1;
    let mut rows = vec![vec![Phasor::ZERO; size + 1]; size];
    for (k, row) in rows.iter_mut().enumerate().take(nodes) {
        row[k] = Phasor::real(FLOATING);
    }
    for (s, stretch) in stretches.iter().enumerate() {
        let row = nodes + s;
        for (lead, sign) in [(stretch.from, 1.0), (stretch.to, -1.0)] {
            if let Some(k) = index(lead) {
                rows[row][k] = rows[row][k] + Phasor::real(sign);
                rows[k][nodes + s] = rows[k][nodes + s] + Phasor::real(sign);
            }
        }
        rows[row][turn] = Phasor::real(-stretch.turns);
        rows[row][nodes + s] = rows[row][nodes + s] - Phasor::new(stretch.ohms, stretch.reactance);
        rows[turn][nodes + s] = Phasor::real(stretch.turns);
    }
    rows[turn][turn] = Phasor::new(-iron.conductance, iron.susceptance);
    for &(a, b, ohms) in &hookup.loads {
        let siemens = Phasor::real(1.0 / ohms);
        let (a, b) = (index(a), index(b));
        for (one, other) in [(a, b), (b, a)] {
            if let Some(one) = one {
                rows[one][one] = rows[one][one] + siemens;
                if let Some(other) = other {
                    rows[one][other] = rows[one][other] - siemens;
                }
            }
        }
    }
    let live = index(hookup.driven.0)?;
    rows[source][live] = Phasor::ONE;
    rows[source][size] = Phasor::real(hookup.volts);
    rows[live][source] = -Phasor::ONE;
    let x = solve(rows)?;
    let volts = (0..leads)
        .map(|lead| index(lead).map_or(Phasor::ZERO, |k| x[k]))
        .collect();
    Some(Flow {
        volts,
        source: x[source],
        stretches: x[nodes..nodes + count].to_vec(),
        driven: hookup.volts,
    })
}

impl Flow {
    /// Volts of one lead against another.
    pub(crate) fn across(&self, leads: (usize, usize)) -> Phasor {
        self.volts[leads.0] - self.volts[leads.1]
    }

    /// Watts out of the source.
    pub(crate) fn watts(&self) -> f64 {
        self.driven * self.source.re
    }
}

#[cfg(test)]
mod tests {
    use super::{Hookup, Iron, Stretch, flow};

    fn stretch(from: usize, to: usize, turns: f64, ohms: f64) -> Stretch {
        Stretch {
            from,
            to,
            turns,
            ohms,
            reactance: 0.0,
        }
    }

    fn near(found: f64, wanted: f64) {
        assert!(
            (found - wanted).abs() < 1e-6 * wanted.abs().max(1e-3),
            "{found} for {wanted}"
        );
    }

    /// PWR-XFMR-01, 02: resistance seen at the secondary, primaries in parallel and in series alike.
    #[test]
    fn resistance_is_referred_by_the_square_of_turns() {
        let one = [stretch(0, 1, 120.0, 22.0), stretch(2, 3, 18.0, 0.30)];
        let seen = |stretches: &[Stretch], driven, volts, joined: Vec<(usize, usize)>| {
            let at = |loads| {
                let hookup = Hookup {
                    driven,
                    volts,
                    joined: joined.clone(),
                    loads,
                };
                flow(6, stretches, Iron::default(), &hookup)
                    .expect("a flow")
                    .across((2, 3))
                    .size()
            };
            let (open, loaded) = (at(vec![]), at(vec![(2, 3, 1000.0)]));
            (open - loaded) / (loaded / 1000.0)
        };
        near(seen(&one, (0, 1), 120.0, vec![]), 0.795);
        let two = [
            stretch(0, 1, 120.0, 22.0),
            stretch(4, 5, 120.0, 22.0),
            stretch(2, 3, 18.0, 0.30),
        ];
        near(seen(&two, (0, 1), 120.0, vec![(0, 4), (1, 5)]), 0.5475);
        near(seen(&two, (0, 5), 240.0, vec![(1, 4)]), 0.5475);
    }

    /// PWR-XFMR-03: in series aiding twice the volts, opposing none.
    #[test]
    fn two_windings_aid_or_oppose() {
        let two = [stretch(0, 1, 120.0, 22.0), stretch(2, 3, 120.0, 22.0)];
        let read = |joined, across| {
            let hookup = Hookup {
                driven: (0, 1),
                volts: 12.0,
                joined: vec![joined],
                loads: vec![],
            };
            flow(4, &two, Iron::default(), &hookup)
                .expect("a flow")
                .across(across)
                .size()
        };
        near(read((1, 2), (0, 3)), 24.0);
        assert!(read((1, 3), (0, 2)) < 1e-6);
    }

    /// Magnetising current lags; core loss is watts.
    #[test]
    fn the_core_takes_its_share() {
        let one = [stretch(0, 1, 1.0, 0.0)];
        let iron = Iron {
            susceptance: 3e-3,
            conductance: 4e-3,
        };
        let hookup = Hookup {
            driven: (0, 1),
            volts: 10.0,
            ..Hookup::default()
        };
        let found = flow(2, &one, iron, &hookup).expect("a flow");
        near(found.source.size(), 0.05);
        near(found.watts(), 0.4);
        assert!(found.source.im < 0.0);
    }
}
