//! Circuits followed from stores of their own, eight at a time, with what their signals do in each cycle.

use super::approach::{Anchor, approach};
use super::closing::LEAST_OF_LEVEL;
use super::collocation::Step;
use super::cycle::{Begin, Cycler, Exact, Gather};
use super::equations::Equations;
use super::lanes::{Lanes, Mask, WIDTH, spread};
use super::{Kind, Ready};
use crate::steady::Options;
use crate::system::{self, System};

/// A cycle of a circuit on its way.
#[derive(Clone, Debug)]
pub struct Passage {
    /// Each traced signal at [`super::TRACE`] even points of the cycle, from its start.
    pub traces: Vec<Vec<f64>>,
    /// Stores at its end.
    pub end: Vec<f64>,
}

impl Kind {
    /// Follows circuits (their equations as they were assembled), each from stores of its own. After each cycle `goes_on` is told
    /// which of them it was and what happened, and says whether it is wanted to go on; all end with the cycles of the options.
    ///
    /// Whether each came so far: not one of another kind, nor one with a cycle that cannot be followed.
    pub fn accompany(
        &self,
        circuits: &[(&System, &[f64])],
        options: &Options,
        mut goes_on: impl FnMut(usize, &Passage) -> bool,
    ) -> Vec<bool> {
        self.each_eight(circuits, |way, of| {
            let mut tally = way.of_kind.tally(way.ready)?;
            for _ in 0..options.cycles {
                let gather = Gather {
                    tally: Some(&mut tally),
                    ..Gather::default()
                };
                let came = way.go(Lanes::ONE, options.tolerance, gather);
                for (lane, of) in of.iter().enumerate().filter(|(lane, _)| came.at(*lane)) {
                    let passage = Passage {
                        traces: tally.traces(lane),
                        end: way.stores(lane),
                    };
                    way.wanted[lane] = goes_on(*of, &passage);
                }
                if !way.wanted.contains(&true) {
                    break;
                }
            }
            Some(())
        })
    }

    /// Stores of circuits (their equations as they were assembled) after a share of the cycle that begins with some.
    ///
    /// `None` where a circuit is of another kind, or its cycle cannot be followed so far.
    pub fn stores_at(
        &self,
        circuits: &[(&System, &[f64])],
        shares: &[f64],
        options: &Options,
    ) -> Vec<Option<Vec<f64>>> {
        let mut all: Vec<Option<Vec<f64>>> = vec![None; circuits.len()];
        self.each_eight(circuits, |way, of| {
            let share = |lane: usize| shares[*of.get(lane).unwrap_or(&of[0])];
            let until = Lanes(std::array::from_fn(share));
            for (lane, of) in of.iter().enumerate() {
                // One that is there already has nowhere to go.
                way.wanted[lane] = shares[*of] > 0.0;
            }
            let came = way.go(until, options.tolerance, Gather::default());
            for (lane, of) in of.iter().enumerate() {
                all[*of] = (came.at(lane) || shares[*of] <= 0.0).then(|| way.stores(lane));
            }
            Some(())
        });
        all
    }

    /// Puts circuits of the kind together by eight and goes their way; whether each came through.
    fn each_eight(
        &self,
        circuits: &[(&System, &[f64])],
        mut go: impl FnMut(&mut Way<'_, '_>, &[usize]) -> Option<()>,
    ) -> Vec<bool> {
        let mut came = vec![false; circuits.len()];
        let fits = |k: usize| Some((k, self.ready(circuits[k].0, false)?));
        let fitting: Vec<(usize, Ready)> = (0..circuits.len()).filter_map(fits).collect();
        for chunk in fitting.chunks(WIDTH) {
            let of: Vec<usize> = chunk.iter().map(|(k, _)| *k).collect();
            // Lanes left over repeat the first: a lane does not know its neighbours.
            let ready = std::array::from_fn(|lane| &chunk.get(lane).unwrap_or(&chunk[0]).1);
            let systems = ready.map(|one| &one.system);
            let starts: Vec<&[f64]> = of.iter().map(|k| circuits[*k].1).collect();
            let Some(equations) = Equations::gather(&self.shape, systems) else {
                continue;
            };
            let mut way = Way::from(self, &equations, ready, &starts);
            if go(&mut way, &of).is_some() {
                for (lane, k) in of.into_iter().enumerate() {
                    came[k] = !way.lost[lane];
                }
            }
        }
        came
    }
}

/// Eight circuits on their way.
struct Way<'e, 'p> {
    of_kind: &'e Kind,
    ready: [&'e Ready; WIDTH],
    cycler: Cycler<'e, 'p>,
    z: Vec<Lanes>,
    /// What errors of stores are shares of: what they have come to, and no less than a part of what they may.
    scale: Vec<Lanes>,
    /// Unknowns near the start of the next cycle.
    guess: Vec<Lanes>,
    /// How many lanes are no repeats, those that are wanted to go on, and those that could not.
    count: usize,
    wanted: [bool; WIDTH],
    lost: [bool; WIDTH],
}

impl<'e, 'p> Way<'e, 'p> {
    fn from(
        of_kind: &'e Kind,
        equations: &'e Equations<'p>,
        ready: [&'e Ready; WIDTH],
        starts: &[&[f64]],
    ) -> Self {
        let systems = ready.map(|one| &one.system);
        let stores = systems[0].stores.len();
        let start = |lane: usize| *starts.get(lane).unwrap_or(&starts[0]);
        let of_lanes = |value: &dyn Fn(usize) -> f64| Lanes(std::array::from_fn(value));
        let z: Vec<Lanes> = (0..stores)
            .map(|k| of_lanes(&|lane| start(lane)[k]))
            .collect();
        let least = |k: usize| {
            of_lanes(&|lane| match systems[lane].stores[k].kind {
                system::Kind::Volts => LEAST_OF_LEVEL * systems[lane].volts_scale.max(1e-3),
                system::Kind::Amperes => LEAST_OF_LEVEL,
            })
        };
        let begun: Vec<Vec<f64>> = (0..starts.len())
            .map(|lane| unknowns(of_kind, systems[lane], start(lane)))
            .collect();
        let unknown = |k: usize| of_lanes(&|lane| begun.get(lane).unwrap_or(&begun[0])[k]);
        Self {
            of_kind,
            ready,
            cycler: Cycler::new(equations, systems, None),
            scale: (0..stores).map(|k| z[k].abs().max(least(k))).collect(),
            z,
            guess: (0..systems[0].n).map(unknown).collect(),
            count: starts.len(),
            wanted: std::array::from_fn(|lane| lane < starts.len()),
            lost: [false; WIDTH],
        }
    }

    /// Goes through so much of a cycle; lanes that came through it.
    fn go(&mut self, until: Lanes, tolerance: f64, gather: Gather<'_, '_, '_>) -> Mask {
        let exact = Exact {
            until,
            ..Exact::followed(tolerance, &self.scale)
        };
        // Of one circuit all lanes go the same way.
        let goes = |lane: usize| self.wanted[if self.count == 1 { 0 } else { lane }];
        let wanted = Mask::of(goes);
        let begin = Begin::Guess(&self.guess);
        let turn = self.cycler.run(&self.z, begin, exact, wanted, gather);
        let came = wanted.and(turn.ok);
        for lane in 0..self.count {
            if self.wanted[lane] && !came.at(lane) {
                (self.wanted[lane], self.lost[lane]) = (false, true);
            }
        }
        self.guess.copy_from_slice(self.cycler.unknowns());
        for k in 0..self.z.len() {
            let most = turn.low[k].abs().max(turn.high[k].abs());
            self.scale[k] = self.scale[k].max(most);
            self.z[k] = came.select(turn.end[k], self.z[k]);
        }
        came
    }

    fn stores(&self, lane: usize) -> Vec<f64> {
        self.z.iter().map(|z| z.0[lane]).collect()
    }
}

/// Unknowns of a circuit at stores where a cycle begins, reached from nothing; nothing where they are not.
fn unknowns(kind: &Kind, system: &System, stores: &[f64]) -> Vec<f64> {
    let nothing = Anchor::nothing(stores.len(), system.n);
    let systems = [system; WIDTH];
    let Some(equations) = Equations::gather(&kind.shape, systems) else {
        return nothing.unknowns;
    };
    let mut step = Step::new(&equations, systems);
    if !approach(&mut step, &equations, &nothing, &spread(stores)) {
        return nothing.unknowns;
    }
    step.end().iter().map(|lanes| lanes.0[0]).collect()
}
