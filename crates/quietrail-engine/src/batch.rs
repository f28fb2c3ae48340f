//! Circuits of one shape solved fast: figures of their steady states, eight at a time.
//!
//! The same equations ([`crate::system`]) and the same steps (`step`) as everywhere, by other means: a
//! sparse elimination whose order is settled once for a shape (`elimination`), eight circuits in step (`lanes`),
//! figures gathered on the way (`gauge`) instead of an orbit kept. What does not lead to a solution here is told as
//! `None`, and [`crate::steady`] may try.
//!
//! A circuit's figures do not depend on those solved beside it, nor on the width of the machine's instructions.

mod approach;
mod between;
mod closing;
mod collocation;
mod cubic;
mod cycle;
mod elimination;
mod equations;
mod falling;
mod following;
mod gauge;
mod instructions;
pub(crate) mod lanes;
mod law;
mod mirror;
mod passage;
mod patience;
mod ports;
mod slopes;
mod spans;
mod states;
mod strides;
mod terms;
mod together;
mod turning;

use crate::march::Effort;
use crate::sensitivity::Direction;
use crate::signal::{Output, Signal};
use crate::steady::{Options, is_unstable, largest_multiplier};
use crate::system::{Law, Probe, System};
use crate::{Ended, LoadLaw};
use approach::Anchor;
use closing::{Closing, Left, Lost, Pace};
use cycle::{Begin, Cycler, Exact, Gather};
use equations::{Equations, Shape};
use gauge::{Gauges, Tally};
use lanes::{Mask, WIDTH, spread};
use mirror::{Mirror, Traits};
use ports::Origin;
use slopes::Carried;
use std::sync::Arc;

/// Error of steps as a share of the one that [`Options`] allow: figures gathered on the way keep a little less of it
/// than those read from an orbit.
const FINER: f64 = 1.0;
/// Largest multiplier of a circuit near which others are solved together: slower ones may not stay on its side of one.
const SLOWEST: f64 = 1.0 - 1e-8;
/// Cycles by which a search of one circuit is tried another way: most that lead somewhere take fewer.
const FEW_CYCLES: u64 = 60;
/// Share of the work that a search may take where it begins near what is known, and those of the ways from rest, one after the
/// other.
const LED: f64 = 0.3;
const WAYS: [(f64, Pace, u64); 5] = [
    (0.25, Pace::Hasty, FEW_CYCLES),
    (0.15, Pace::Rested, FEW_CYCLES),
    (0.2, Pace::Followed, FEW_CYCLES),
    (0.25, Pace::Damped, u64::MAX),
    (1.0, Pace::Followed, u64::MAX),
];

/// A shape of circuit, and what is read from each of its kind.
#[derive(Clone, Debug)]
pub struct Kind {
    /// The thinned equations of one of its circuits: others' are thinned alike.
    model: System,
    shape: Shape,
    gauges: Gauges,
    outputs: Vec<Output>,
    traced: Vec<Signal>,
    /// The equations of one of its circuits, reduced: others' are reduced alike.
    reduced: System,
    /// How half a cycle tells the whole, if it does.
    folding: Option<Folding>,
    /// Whether a steady state may be one of several, so that each must be reached and judged by itself.
    stands_alone: bool,
}

/// What half a cycle of a kind is read with.
#[derive(Clone, Debug)]
struct Folding {
    mirror: Mirror,
    gauges: Gauges,
}

impl Folding {
    fn of(reduced: &System, model: &System, asked: Asked<'_>, gauges: &Gauges) -> Option<Self> {
        let mirror = Mirror::of(reduced)?;
        Some(Self {
            gauges: gauges.folded(asked, (model, reduced), &mirror)?,
            mirror,
        })
    }
}

/// Figures and traced signals.
type Asked<'a> = (&'a [Output], &'a [Signal]);

/// A circuit whose equations are those of a kind.
#[derive(Clone, Debug)]
pub(crate) struct Ready {
    pub(crate) system: System,
    /// Whether half a cycle tells the whole.
    is_half: bool,
    /// What each signal that is read is of its unknowns.
    probes: Vec<Probe>,
}

/// Figures of a steady state, without its orbit.
#[derive(Clone, Debug)]
pub struct Figures {
    /// In the order of the outputs asked for.
    pub values: Vec<f64>,
    /// Each traced signal at [`TRACE`] even points of the cycle, from its start.
    pub traces: Vec<Vec<f64>>,
    /// Stores at the start of the cycle.
    pub start: Vec<f64>,
    /// How the search ended: settled or unstable.
    pub ended: Ended,
    /// Largest Floquet multiplier; of circuits solved together, that of the one they were begun from.
    pub floquet: f64,
    /// Work done.
    pub effort: Effort,
    /// What solving others from here begins with.
    seed: Seed,
}

pub use following::Beat;
pub use gauge::TRACE;
pub use instructions::Instructions;
pub use passage::Passage;
pub use together::Look;

/// What a first look at a circuit near a solved one shows: right to a few parts in a thousand, and no steady state.
#[derive(Clone, Debug)]
pub struct Glance {
    /// In the order of the outputs asked for.
    pub values: Vec<f64>,
    /// Stores with which its cycle nearly closes.
    start: Vec<f64>,
    /// Derivative of its cycle.
    map: Vec<f64>,
    /// What errors of the stores are shares of.
    scale: Vec<f64>,
    /// Whether the derivative is that of half a cycle.
    is_half: bool,
    /// Steps of its cycle.
    grid: Grid,
    /// Where the unknowns of its cycle may begin.
    anchor: Option<Anchor>,
    /// Work done.
    pub effort: Effort,
}

/// Steps of a cycle, to be made again near it.
#[derive(Clone, Debug, Default)]
pub(crate) struct Grid {
    /// Their ends, as shares of the cycle.
    ends: Vec<f64>,
    /// Error that was allowed in each.
    tolerance: f64,
}

impl Grid {
    /// Ends of steps to make again where so much error is allowed; none where they were made for another.
    fn at(&self, tolerance: f64) -> &[f64] {
        if self.tolerance == tolerance {
            &self.ends
        } else {
            &[]
        }
    }
}

/// Where a circuit near a solved one may begin.
#[derive(Clone, Copy, Debug)]
pub enum Near<'a> {
    /// At the stores of the solved one, or of another like it.
    Stores(&'a [f64]),
    /// Where a first look at it led to.
    Glanced(&'a Glance),
    /// Where it stood before a small change.
    Settled(&'a Figures),
    /// At stores foretold for it from those of one like it, whose cycle answers to moves nearly as its own does.
    Foretold(&'a [f64], &'a Figures),
}

/// How a steady state answers to parameters.
#[derive(Clone, Debug)]
pub struct Slopes {
    /// Derivative of each figure (rows, in the order of the outputs) against each parameter (columns).
    pub figures: Vec<Vec<f64>>,
    /// The same of each store at the start of the cycle.
    pub start: Vec<Vec<f64>>,
}

/// Where one of eight begins.
#[derive(Clone, Copy, Debug)]
struct Start<'a> {
    stores: &'a [f64],
    /// Derivative of its own cycle, or of one that answers to moves nearly as that does, if it is known.
    map: Option<&'a [f64]>,
    /// Whether it is of its own.
    is_own: bool,
    /// What errors of the stores are shares of, the same.
    scale: Option<&'a [f64]>,
    /// Whether the derivative is that of half a cycle.
    is_half: bool,
    /// Steps of that cycle, if they are known.
    grid: Option<&'a Grid>,
    /// Where the unknowns of its own cycle may begin, the same.
    anchor: Option<&'a Anchor>,
}

impl Start<'_> {
    /// Whether it may begin half cycles.
    fn may_fold(&self) -> bool {
        self.map.is_none() || self.is_half
    }

    /// The derivative of its own cycle, or of half of it.
    fn map(&self, is_half: bool) -> Option<Vec<f64>> {
        Some(of_cycle(self.map?, self.is_half && !is_half))
    }
}

/// The derivative of a cycle from that of half of it.
fn of_cycle(map: &[f64], is_half: bool) -> Vec<f64> {
    if !is_half {
        return map.to_vec();
    }
    let stores = map.len().isqrt();
    let entry = |k: usize| {
        let (row, column) = (k / stores * stores, k % stores);
        (0..stores)
            .map(|m| map[row + m] * map[m * stores + column])
            .sum()
    };
    (0..map.len()).map(entry).collect()
}

impl<'a> From<Near<'a>> for Start<'a> {
    fn from(near: Near<'a>) -> Self {
        match near {
            Near::Stores(stores) => Self {
                stores,
                map: None,
                is_own: false,
                scale: None,
                is_half: false,
                grid: None,
                anchor: None,
            },
            Near::Glanced(glance) => Self {
                stores: &glance.start,
                map: Some(&glance.map),
                is_own: true,
                scale: Some(&glance.scale),
                is_half: glance.is_half,
                grid: Some(&glance.grid),
                anchor: glance.anchor.as_ref(),
            },
            Near::Settled(figures) => Self {
                is_own: true,
                ..Self::from(Near::Foretold(&figures.start, figures))
            },
            Near::Foretold(stores, figures) => Self {
                stores,
                map: Some(&figures.seed.map),
                is_own: false,
                scale: Some(&figures.seed.scale),
                is_half: figures.seed.is_half,
                grid: Some(&figures.seed.grid),
                anchor: None,
            },
        }
    }
}

/// Where like circuits' searches begin.
#[derive(Clone, Debug)]
pub(crate) struct Seed {
    /// Unknowns at the start of the cycle.
    unknowns: Vec<f64>,
    /// Derivative of the stores after a cycle against those before.
    map: Vec<f64>,
    /// What errors of the stores are shares of.
    scale: Vec<f64>,
    /// Whether the derivative is that of half a cycle.
    is_half: bool,
    /// Steps of the cycle.
    grid: Grid,
    /// What circuits near it are planned with; none for one that was solved together with others.
    origin: Option<Arc<Origin>>,
}

impl Kind {
    /// The kind of a circuit (its equations as they were assembled), with the figures and traces that are wanted.
    ///
    /// `None` where this way of solving does not fit it: sources that do not repeat, no order of elimination that
    /// serves all its states.
    pub fn of(system: &System, outputs: &[Output], traced: &[Signal]) -> Option<Self> {
        let stands_alone = system
            .devices
            .iter()
            .any(|device| matches!(device.law, Law::Load(LoadLaw::Power { .. })));
        let (model, shape) = cheapest(system)?;
        let gauges = Gauges::of(outputs, traced, &model)?;
        let reduced = system.reduced();
        Some(Self {
            folding: Folding::of(&reduced, &model, (outputs, traced), &gauges),
            reduced,
            shape,
            gauges,
            model,
            outputs: outputs.to_vec(),
            traced: traced.to_vec(),
            stands_alone,
        })
    }

    /// Whether a circuit of this kind may have several steady states, so that none is begun from another's.
    pub fn stands_alone(&self) -> bool {
        self.stands_alone
    }

    /// Products that a Newton iteration of one of its circuits takes: what a step costs, as far as that depends on the
    /// kind.
    pub fn products(&self) -> u64 {
        self.shape.stages.elimination.products() as u64
    }

    /// Whether a circuit (its equations as they were assembled) is one of it: as many rows, stores and devices, and all
    /// in the same places. One whose parts are joined otherwise may have as many, and is none.
    pub fn is_of(&self, system: &System) -> bool {
        self.ready(system, false).is_some()
    }

    /// Whether circuits of another kind are of this one too: thinned in the same order, they have entries in the same places.
    pub fn is_like(&self, other: &Self) -> bool {
        self.model.is_thinned_as(&other.model) && self.shape.takes(&other.model)
    }

    /// Whether half a cycle tells the whole of a circuit: in the other half it does the same, mirrored.
    pub fn folds(&self, system: &System) -> bool {
        let ready = self.ready(system, true);
        ready.is_some_and(|ready| ready.is_half)
    }

    /// A circuit (its equations as they were assembled) made ready, for half cycles where it may and can be; `None` where
    /// it is of another kind.
    fn ready(&self, system: &System, may_fold: bool) -> Option<Ready> {
        if !system.is_like(&self.model) {
            return None;
        }
        let asked = (self.outputs.as_slice(), self.traced.as_slice());
        let Some(folding) = self.folding.as_ref().filter(|_| may_fold) else {
            return self.ready_whole(system.reduced_as(&self.model));
        };
        let (system, reduced) = system.both_reduced_as((&self.model, &self.reduced));
        let mirror = &folding.mirror;
        let is_mirrored = Traits::of(&reduced).is_some_and(|traits| mirror.holds(&traits));
        let probes = is_mirrored
            .then(|| {
                folding
                    .gauges
                    .probes(asked, &system, Some((mirror, &reduced)))
            })
            .flatten();
        let Some(probes) = probes.filter(|_| self.shape.takes(&system)) else {
            return self.ready_whole(system);
        };
        Some(Ready {
            probes,
            system,
            is_half: true,
        })
    }

    /// A circuit, thinned like the model, made ready for whole cycles.
    fn ready_whole(&self, system: System) -> Option<Ready> {
        let asked = (self.outputs.as_slice(), self.traced.as_slice());
        if !self.shape.takes(&system) {
            return None;
        }
        Some(Ready {
            probes: self.gauges.probes(asked, &system, None)?,
            system,
            is_half: false,
        })
    }

    /// An empty tally for eight circuits, all for half cycles or none.
    pub(crate) fn tally(&self, all: [&Ready; WIDTH]) -> Option<Tally<'_>> {
        let is_half = all[0].is_half;
        if all.iter().any(|one| one.is_half != is_half) {
            return None;
        }
        self.gauges(is_half)
            .tally(all.map(|one| one.probes.as_slice()))
    }

    /// What a whole cycle, or half of one, is read with.
    fn gauges(&self, is_half: bool) -> &Gauges {
        match &self.folding {
            Some(folding) if is_half => &folding.gauges,
            _ => &self.gauges,
        }
    }

    /// The mirror of a circuit that is ready for half cycles.
    pub(crate) fn mirror(&self, of: &Ready) -> Option<&Mirror> {
        let folding = self.folding.as_ref().filter(|_| of.is_half);
        folding.map(|folding| &folding.mirror)
    }

    /// Whether these are the figures and traces that it gives.
    pub fn reads(&self, outputs: &[Output], traced: &[Signal]) -> bool {
        self.outputs == outputs && self.traced == traced
    }

    /// The steady state of one circuit, near given stores or as reached from rest.
    ///
    /// `None` where the circuit is of another kind, or none was found.
    pub fn solve(
        &self,
        system: &System,
        near: Option<Near<'_>>,
        options: &Options,
    ) -> Option<Figures> {
        let tolerance = FINER * options.tolerance;
        let (mut figures, effort) =
            self.by_itself(system, near, options, |closing, mut tally, near| {
                // Stores alone may be far off; what comes with the derivative of its cycle is near.
                let begin = match near.filter(|near| near.map.is_some()) {
                    Some(near) => {
                        closing.measure_by(near);
                        near.stores.to_vec()
                    }
                    None => {
                        let seen = closing.look(near, self.stands_alone, None, tolerance)?;
                        closing.next(&seen)
                    }
                };
                let found = closing.find(begin, tolerance, &mut tally)?;
                let is_half = closing.is_half;
                let map = of_cycle(&found.map, is_half);
                let floquet = largest_multiplier(&map, found.z.len());
                let ended = if is_unstable(floquet) {
                    Ended::Unstable {
                        multiplier: floquet,
                    }
                } else {
                    Ended::Settled {
                        residual: found.residual(),
                    }
                };
                Ok(Figures {
                    values: tally.read(0),
                    traces: tally.traces(0),
                    ended,
                    floquet,
                    effort: Effort::default(),
                    seed: Seed {
                        unknowns: closing.unknowns(),
                        map: found.map,
                        scale: std::mem::take(&mut closing.scale),
                        is_half,
                        grid: std::mem::take(&mut closing.grid),
                        origin: Some(Arc::new(Origin::new(system.clone()))),
                    },
                    start: found.z,
                })
            })?;
        figures.effort = effort;
        Some(figures)
    }

    /// A first look at one circuit, near given stores or as reached from rest.
    ///
    /// `None` where the circuit is of another kind, or no cycle nearly closes.
    pub fn glance(
        &self,
        system: &System,
        near: Option<Near<'_>>,
        options: &Options,
    ) -> Option<Glance> {
        let tolerance = FINER * options.tolerance;
        let (mut glance, effort) =
            self.by_itself(system, near, options, |closing, mut tally, near| {
                let found = closing.look(near, self.stands_alone, Some(&mut tally), tolerance)?;
                Ok(Glance {
                    values: tally.read(0),
                    start: closing.next(&found),
                    map: found.map,
                    is_half: closing.is_half,
                    effort: Effort::default(),
                    scale: std::mem::take(&mut closing.scale),
                    grid: std::mem::take(&mut closing.grid),
                    anchor: Some(found.anchor),
                })
            })?;
        glance.effort = effort;
        Some(glance)
    }

    /// What a search of one circuit comes to near where it may begin, or else from rest; and all the work that it took, that of
    /// ways that led nowhere too.
    fn by_itself<T>(
        &self,
        system: &System,
        near: Option<Near<'_>>,
        options: &Options,
        search: impl Fn(&mut Closing<'_, '_, '_>, Tally<'_>, Option<Start<'_>>) -> Result<T, Lost>,
    ) -> Option<(T, Effort)> {
        let near = near
            .map(Start::from)
            .filter(|near| near.stores.len() == system.store_count());
        let ready = self.ready(system, near.is_none_or(|near| near.may_fold()))?;
        let equations = Equations::gather(&self.shape, [&ready.system; WIDTH])?;
        // Whether a way leads anywhere mostly shows soon, and where one leads in circles another may not: each is tried for
        // its share of the work before one is tried for all that is left, as restarts are of what takes at random short or
        // very long (Luby, Sinclair and Zuckerman, *Inf. Process. Lett.* 47 (1993) 173).
        let mut effort = Effort::default();
        let led = near.map(|near| (Some(near), (LED, Pace::Hasty, FEW_CYCLES)));
        let from_rest = WAYS.map(|way| (None, way));
        for (near, (share, pace, cycles)) in led.into_iter().chain(from_rest) {
            let left = options.steps.saturating_sub(effort.usual_steps());
            let steps = left.min((share * options.steps as f64) as u64);
            let cycles = cycles.min(options.cycles);
            let mirror = self.mirror(&ready);
            let left = Left {
                cycles,
                steps,
                for_the_end: left - steps,
            };
            let mut closing = Closing::new(&ready.system, &equations, mirror, (left, pace));
            let found = search(&mut closing, self.tally([&ready; WIDTH])?, near);
            effort = effort.and(closing.effort);
            if let Ok(found) = found {
                return Some((found, effort));
            }
        }
        None
    }

    /// Steady states of many circuits, each begun from stores of its own near those of a solved one.
    ///
    /// `None` for those of another kind, and for those that this quick way does not settle.
    pub fn solve_near(
        &self,
        circuits: &[(&System, Near<'_>)],
        from: &Figures,
        options: &Options,
    ) -> Vec<Option<Figures>> {
        let mut found = ports::solve(self, circuits, from, options);
        let left: Vec<usize> = (0..found.len()).filter(|&k| found[k].is_none()).collect();
        let others: Vec<(&System, Near<'_>)> = left.iter().map(|&k| circuits[k]).collect();
        let of_others = self.eight_at_a_time(&others, from, |systems, near| {
            together::solve(self, systems, near, from, options)
        });
        for (k, other) in left.into_iter().zip(of_others) {
            found[k] = other;
        }
        found
    }

    /// Looks at many circuits, each begun from stores of its own near those of a solved one: a cycle of each, or two where nothing
    /// is known of its own. Where no more is asked than they can tell, those that close are settled.
    ///
    /// `None` for those of another kind, and for those that do not come through a cycle.
    pub fn look_near(
        &self,
        circuits: &[(&System, Near<'_>)],
        from: &Figures,
        options: &Options,
    ) -> Vec<Option<Look>> {
        self.eight_at_a_time(circuits, from, |systems, near| {
            together::look(self, systems, near, from, options)
        })
    }

    /// Whether circuits may be solved together near a solved one.
    fn may_go_together(&self, from: &Figures) -> bool {
        !self.stands_alone && from.floquet <= SLOWEST && from.ended.is_settled()
    }

    /// Puts circuits together by eight, those that begin alike.
    fn eight_at_a_time<T>(
        &self,
        circuits: &[(&System, Near<'_>)],
        from: &Figures,
        go: impl Fn([&Ready; WIDTH], [Start<'_>; WIDTH]) -> Option<Vec<Option<T>>>,
    ) -> Vec<Option<T>> {
        let mut all: Vec<Option<T>> = circuits.iter().map(|_| None).collect();
        if !self.may_go_together(from) {
            return all;
        }
        // Those that have been looked at apart from those that have not, and halves of cycles apart from whole ones.
        let mut fitting: [Vec<(usize, Ready, Start<'_>)>; 4] = Default::default();
        for (k, (system, near)) in circuits.iter().enumerate() {
            let start = Start::from(*near);
            let may_fold = from.seed.is_half && start.may_fold();
            if start.stores.len() == from.start.len()
                && let Some(ready) = self.ready(system, may_fold)
            {
                let is_half = ready.is_half;
                let group = usize::from(start.map.is_some()) + 2 * usize::from(is_half);
                fitting[group].push((k, ready, start));
            }
        }
        // All wait for the one that takes most steps: those of as many go together.
        for fitting in &mut fitting {
            fitting.sort_by_key(|(.., start)| start.grid.map_or(0, |grid| grid.ends.len()));
        }
        for chunk in fitting.iter().flat_map(|fitting| fitting.chunks(WIDTH)) {
            // Lanes left over repeat the first: a lane does not know its neighbours.
            let lane = |k: usize| chunk.get(k).unwrap_or(&chunk[0]);
            let systems = std::array::from_fn(|k| &lane(k).1);
            let near = std::array::from_fn(|k| lane(k).2);
            let Some(found) = go(systems, near) else {
                continue;
            };
            for (found, (k, ..)) in found.into_iter().zip(chunk) {
                all[*k] = found;
            }
        }
        all
    }

    /// The kind of like circuits, with other figures and traces.
    pub fn reading(&self, outputs: &[Output], traced: &[Signal]) -> Option<Self> {
        let gauges = Gauges::of(outputs, traced, &self.model)?;
        Some(Self {
            folding: self.folding.as_ref().and_then(|folding| {
                let (of, mirror) = ((&self.model, &self.reduced), &folding.mirror);
                Some(Folding {
                    gauges: gauges.folded((outputs, traced), of, mirror)?,
                    ..folding.clone()
                })
            }),
            gauges,
            outputs: outputs.to_vec(),
            traced: traced.to_vec(),
            ..self.clone()
        })
    }

    /// Derivatives of a solved circuit's figures and stores against parameters, exact through its steady state as its steps
    /// have it. Systems as they were assembled.
    ///
    /// `mixed` is the circuit moved in all directions at once, in each by a share of its own, as far as it is known: where
    /// that too does in each half cycle what it did in the other, mirrored, no direction breaks the mirror, and half a cycle
    /// tells all.
    ///
    /// `None` where a direction is of another kind, or the cycle has no derivative.
    pub fn slopes(
        &self,
        system: &System,
        figures: &Figures,
        (directions, mixed): (&[Direction<'_>], Option<&System>),
        options: &Options,
    ) -> Option<Slopes> {
        let alike = |other: &System| {
            other
                .is_like(&self.model)
                .then(|| other.reduced_as(&self.model))
        };
        let system = &alike(system)?;
        let directions: Vec<(System, System, f64)> = directions
            .iter()
            .map(|d| Some((alike(d.plus)?, alike(d.minus)?, d.span)))
            .collect::<Option<_>>()?;
        let systems = [system; WIDTH];
        let equations = Equations::gather(&self.shape, systems)?;
        let asked = (self.outputs.as_slice(), self.traced.as_slice());
        let folding = self.folding.as_ref().filter(|folding| {
            // What is read of the other half for its own sake would have to be found anew for each direction.
            let is_told = figures.seed.is_half && folding.gauges.added().is_empty();
            is_told && mixed.is_some_and(|mixed| self.folds(mixed))
        });
        let gauges = self.gauges(folding.is_some());
        let mirror = folding.map(|folding| &folding.mirror);
        let probes = gauges.probes(asked, system, None)?;
        let mut tally = gauges.tally([probes.as_slice(); WIDTH])?;
        let mut slopes = Carried::of(gauges, asked, &equations, &directions)?;
        let scale = spread(&figures.seed.scale);
        let tolerance = FINER * options.tolerance;
        // Its own steps again, unless they are those of a half and the whole is wanted.
        let is_alike = figures.seed.is_half == folding.is_some();
        let ends = if is_alike {
            figures.seed.grid.at(tolerance)
        } else {
            &[]
        };
        let exact = Exact {
            grids: [ends; WIDTH],
            ..Exact::followed(tolerance, &scale)
        };
        let gather = Gather {
            tally: Some(&mut tally),
            slopes: Some(&mut slopes),
            seen: None,
        };
        let begin = spread(&figures.seed.unknowns);
        let turn = Cycler::new(&equations, systems, mirror).run(
            &spread(&figures.start),
            Begin::Guess(&begin),
            exact,
            Mask::ALL,
            gather,
        );
        if turn.ok.not().any() {
            return None;
        }
        slopes.read(&tally, mirror)
    }
}

/// A circuit's equations with an order of elimination. Few entries are cheapest; where no order that is trusted serves them,
/// few unknowns may be.
fn cheapest(system: &System) -> Option<(System, Shape)> {
    let shaped = |model: System| Some((Shape::of(&model)?, model));
    let thinned = shaped(system.thinned());
    let found = match thinned {
        Some((shape, model)) if shape.is_trusted() => Some((shape, model)),
        thinned => {
            let both = [thinned, shaped(system.reduced())];
            let found = both.into_iter().flatten();
            found.min_by_key(|(shape, _)| shape.cost())
        }
    };
    found.map(|(shape, model)| (model, shape))
}
