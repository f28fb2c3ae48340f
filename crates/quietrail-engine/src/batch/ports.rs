//! Circuits near a solved one, reduced to what is nonlinear in them.
//!
//! The solved one tells beforehand which steps will do and which devices bend in each: of a bridge's four diodes two, and
//! between charges none. What is straight is solved once for all steps of a length (`operator`), and a step is left with its
//! ports alone, a few unknowns for each device that bends. The steps are the same in all lanes (`plan`); Newton's method
//! closes the cycle with each lane's own derivative, and every cycle begins its steps where the last one left them (`orbit`).
//!
//! All that was foretold is looked at in the end: that the quiet devices stayed quiet, and that no step erred by more than it
//! may. A lane of which it does not hold goes the longer way.

#![expect(
    clippy::needless_range_loop,
    reason = "lanes, stages and stores index several arrays at once"
)]

mod operator;
mod orbit;
mod plan;

use super::closing::{LEAST_OF_LEVEL, LEAST_SWING};
use super::cycle::{Begin, Cycler, Exact, Gather};
use super::equations::Equations;
use super::lanes::{Lanes, Mask, WIDTH};
use super::law::LaneLaw;
use super::mirror::{Mirror, Traits};
use super::together::spread;
use super::{Figures, Kind, Near, Seed, Start};
use crate::Ended;
use crate::dense::Lu;
use crate::march::Effort;
use crate::steady::Options;
use crate::step::Tableau;
use crate::system::{Probe, System};
use operator::{Linear, Operator};
use orbit::{Orbit, Passed};
use plan::Plan;
pub(super) use plan::Seen;
use std::sync::OnceLock;

/// Cycles, at most.
const MOST_PASSES: usize = 6;
/// What is left after a move, as a share of a store's swing, that counts as closed.
const CLOSED: f64 = 1e-8;
/// How a move curves the cycle at least, as far as is known.
const CURVED: f64 = 1.0;
/// Error of a step, as so many times that of the solved circuit's, up to which it serves: the estimate is that of a method
/// two orders lower.
const LENIENT: f64 = 8.0;
/// Tolerance of the plan, as so many times that asked for: steps are as short wherever something may happen as the solved
/// circuit's where it does, and what they err by is far less than the estimate.
const COARSER: f64 = 10.0;
/// The longest move, as a share of the largest source: what would go further may pass by another solution.
const FAR: f64 = 0.4;
/// A move, as a share of what stores swing, within which a cycle does as the one before it did.
const NEAR: f64 = 0.5;
/// Swing of a store, as a share of its level, below which it may only be leaking.
const DRIFTS: f64 = 1e-8;
/// How many times the move by the solved one's derivative a lane's own may be at first: far from its cycle it may answer to
/// no move at all, and ask for a leap.
const LEAP: f64 = 4.0;
/// How much a later move must shrink.
const SHRINKS: f64 = 0.5;

/// What circuits near a solved one are planned with.
#[derive(Debug)]
pub(crate) struct Origin {
    /// Its equations, as they were assembled.
    system: System,
    plan: OnceLock<Option<Plan>>,
}

impl Origin {
    pub(crate) fn new(system: System) -> Self {
        Self {
            system,
            plan: OnceLock::new(),
        }
    }

    /// Steps for circuits near it, found the first time that they are asked for.
    fn plan(&self, kind: &Kind, of: &Figures, options: &Options) -> Option<&Plan> {
        let found = self.plan.get_or_init(|| self.planned(kind, of, options));
        found.as_ref()
    }

    fn planned(&self, kind: &Kind, of: &Figures, options: &Options) -> Option<Plan> {
        let ready = kind.ready(&self.system, of.seed.is_half)?;
        let systems = [&ready.system; WIDTH];
        let equations = Equations::gather(&kind.shape, systems)?;
        let scale = spread(&of.seed.scale);
        let mut seen: Vec<Seen> = Vec::new();
        let exact = Exact::followed(COARSER * options.tolerance, &scale);
        let gather = Gather {
            seen: Some(&mut seen),
            ..Gather::default()
        };
        let begin = spread(&of.seed.unknowns);
        let turn = Cycler::new(&equations, systems, kind.mirror(&ready)).run(
            &spread(&of.start),
            Begin::Guess(&begin),
            exact,
            Mask::ALL,
            gather,
        );
        if turn.ok.not().any() {
            return None;
        }
        Plan::of(&self.system.reduced_as(&kind.reduced), &seen)
    }
}

/// A circuit reduced, with what each signal is of the unknowns that are left.
struct Ported {
    reduced: System,
    signals: Vec<Probe>,
    is_half: bool,
}

impl Ported {
    fn of(kind: &Kind, system: &System, may_fold: bool) -> Option<Self> {
        if !system.is_like(&kind.model) {
            return None;
        }
        let asked = (kind.outputs.as_slice(), kind.traced.as_slice());
        let reduced = system.reduced_as(&kind.reduced);
        let folding = kind.folding.as_ref().filter(|_| may_fold);
        let of_half = folding.and_then(|folding| {
            let traits = Traits::of(&reduced)?;
            let mirror = &folding.mirror;
            let half = mirror.holds(&traits).then_some((mirror, &traits));
            folding.gauges.probes_reduced(asked, &reduced, Some(half?))
        });
        let is_half = of_half.is_some();
        Some(Self {
            signals: of_half.or_else(|| kind.gauges.probes_reduced(asked, &reduced, None))?,
            reduced,
            is_half,
        })
    }
}

/// Figures of circuits near a solved one, each begun from stores of its own; `None` for those that this way does not
/// lead to.
pub(crate) fn solve(
    kind: &Kind,
    circuits: &[(&System, Near<'_>)],
    from: &Figures,
    options: &Options,
) -> Vec<Option<Figures>> {
    let mut all: Vec<Option<Figures>> = circuits.iter().map(|_| None).collect();
    // A curve that is drawn needs the steps that follow it.
    if !kind.may_go_together(from) || !kind.traced.is_empty() {
        return all;
    }
    let origin = from.seed.origin.as_deref();
    let Some(plan) = origin.and_then(|origin| origin.plan(kind, from, options)) else {
        return all;
    };
    let mut fitting: Vec<(usize, Ported, Start<'_>)> = Vec::new();
    for (k, (system, near)) in circuits.iter().enumerate() {
        let start = Start::from(*near);
        if start.stores.len() == from.start.len()
            && let Some(ported) = Ported::of(kind, system, from.seed.is_half)
            && ported.is_half == from.seed.is_half
        {
            fitting.push((k, ported, start));
        }
    }
    for chunk in fitting.chunks(WIDTH) {
        // Lanes left over repeat the first: a lane does not know its neighbours.
        let lane = |k: usize| chunk.get(k).unwrap_or(&chunk[0]);
        let ported = std::array::from_fn(|k| &lane(k).1);
        let near = std::array::from_fn(|k| lane(k).2.stores);
        let Some(found) = solve_eight((kind, plan), ported, near, from, options) else {
            continue;
        };
        for (found, (k, ..)) in found.into_iter().zip(chunk) {
            all[*k] = found;
        }
    }
    all
}

fn solve_eight(
    (kind, plan): (&Kind, &Plan),
    circuits: [&Ported; WIDTH],
    near: [&[f64]; WIDTH],
    from: &Figures,
    options: &Options,
) -> Option<Vec<Option<Figures>>> {
    let laws = laws(circuits)?;
    let linear: Vec<Vec<Linear>> = plan
        .arrangements
        .iter()
        .map(|arrangement| {
            let of = circuits.iter();
            of.map(|one| Linear::of(&one.reduced, arrangement, &one.signals))
                .collect()
        })
        .collect::<Option<_>>()?;
    let method = Tableau::new().method();
    let operators = plan.operators.iter().map(|&(place, h)| {
        let of = std::array::from_fn(|lane| &linear[place][lane]);
        Operator::of(of, h, &method)
    });
    let operators: Vec<Operator> = operators.collect::<Option<_>>()?;
    let bounds = linear.iter().map(|lanes| bounds(lanes)).collect();
    let mut orbit = Orbit::new(plan, operators, bounds, &laws, options.tolerance);
    let mirror = kind.folding.as_ref().filter(|_| from.seed.is_half);
    let room = Lanes(circuits.map(|one| one.reduced.volts_scale.max(1e-3)));
    let mut close = Close::new(from, mirror.map(|folding| &folding.mirror), room, near);
    for _ in 0..MOST_PASSES {
        let passed = orbit.pass(&close.z, &close.moved, close.near(), close.waiting);
        close.take(passed);
        if !close.waiting.any() {
            break;
        }
    }
    let mut tally = kind.gauges(from.seed.is_half).tally_of_courses();
    let allowed: Vec<Lanes> = close
        .scale
        .iter()
        .map(|scale| Lanes::all(COARSER * options.tolerance) * *scale)
        .collect();
    let read = orbit.read(&close.further, &allowed, close.done, &mut tally);
    let errs_little = read.error.below(Lanes::all(LENIENT));
    let holds = close.done.and(read.quiet).and(errs_little);
    let effort = Effort {
        cycles: close.passes,
        steps: orbit.steps,
        iterations: orbit.iterations,
        ..Effort::default()
    };
    let of_lane =
        |of: &[Lanes], lane: usize| -> Vec<f64> { of.iter().map(|v| v.0[lane]).collect() };
    let found = (0..WIDTH).map(|lane| {
        holds.at(lane).then(|| Figures {
            values: tally.read(lane),
            traces: tally.traces(lane),
            ended: Ended::Settled {
                residual: close.left.0[lane],
            },
            floquet: from.floquet,
            effort,
            seed: Seed {
                unknowns: from.seed.unknowns.clone(),
                map: of_lane(&close.map, lane),
                scale: of_lane(&close.scale, lane),
                is_half: from.seed.is_half,
                origin: None,
            },
            start: close.start(lane),
        })
    });
    Some(found.collect())
}

/// What quiet devices must stay beyond, and on which side.
fn bounds(lanes: &[Linear]) -> Vec<(Lanes, Lanes)> {
    let bound = |k: usize| {
        let of = |lane: usize| lanes[lane].bounds[k].0;
        (
            Lanes(std::array::from_fn(of)),
            Lanes::all(lanes[0].bounds[k].1),
        )
    };
    (0..lanes[0].bounds.len()).map(bound).collect()
}

/// Laws of all devices, with how many inputs they have.
fn laws(circuits: [&Ported; WIDTH]) -> Option<Vec<(LaneLaw, usize)>> {
    let devices = circuits.map(|one| one.reduced.devices.as_slice());
    let law = |k: usize| {
        let laws = LaneLaw::gather(devices.map(|of| &of[k].law))?;
        Some((laws, devices[0][k].inputs.len()))
    };
    (0..devices[0].len()).map(law).collect()
}

/// Cycles on their way to being closed.
struct Close<'a> {
    from: &'a Figures,
    mirror: Option<&'a Mirror>,
    /// Largest source of each lane, V.
    room: Lanes,
    /// Stores where the cycle gone through last began, and by how much that had moved.
    z: Vec<Lanes>,
    moved: Vec<Lanes>,
    /// The move that closes it, of lanes that are done.
    further: Vec<Lanes>,
    map: Vec<Lanes>,
    scale: Vec<Lanes>,
    /// The last move, as a share of what stores swing; and what it leaves.
    size: Lanes,
    left: Lanes,
    waiting: Mask,
    done: Mask,
    passes: u64,
}

impl<'a> Close<'a> {
    fn new(
        from: &'a Figures,
        mirror: Option<&'a Mirror>,
        room: Lanes,
        near: [&[f64]; WIDTH],
    ) -> Self {
        let stores = near[0].len();
        let zero = vec![Lanes::ZERO; stores];
        let begin = (0..stores).map(|k| Lanes(near.map(|stores| stores[k])));
        Self {
            from,
            mirror,
            room,
            z: begin.collect(),
            moved: zero.clone(),
            further: zero.clone(),
            map: vec![Lanes::ZERO; stores * stores],
            scale: zero,
            size: Lanes::all(f64::INFINITY),
            left: Lanes::ZERO,
            waiting: Mask::ALL,
            done: Mask::NONE,
            passes: 0,
        }
    }

    /// Lanes whose next cycle is near the last one.
    fn near(&self) -> Mask {
        self.size.below(Lanes::all(NEAR))
    }

    /// Takes a cycle gone through: where the next one is to begin, and which lanes need none.
    fn take(&mut self, passed: Passed) {
        self.passes += 1;
        let stores = self.z.len();
        let passed = match self.mirror {
            Some(mirror) => passed.folded(mirror),
            None => passed,
        };
        let mut step = self.step(&passed.end, |lane, k| passed.map[k].0[lane]);
        if self.passes == 1 {
            let known = &self.from.seed.map;
            let by_solved = self.step(&passed.end, |_, k| known[k]);
            let leaps = far_apart(&step, &by_solved);
            for (step, other) in step.iter_mut().zip(by_solved) {
                *step = leaps.select(other, *step);
            }
        }
        let mut lost = passed.ok.not();
        let mut size = Lanes::ZERO;
        for k in 0..stores {
            let level = passed.high[k].abs().max(passed.low[k].abs());
            let swing = passed.high[k] - passed.low[k];
            let least =
                (Lanes::all(LEAST_OF_LEVEL) * level).max(Lanes::all(LEAST_SWING) * self.room);
            self.scale[k] = self.waiting.select(swing.max(least), self.scale[k]);
            let share = step[k].abs() / self.scale[k];
            size = size.max(finite(share));
            let is_far = (Lanes::all(FAR) * self.room).below(step[k].abs());
            let drifts = swing.below(Lanes::all(DRIFTS) * level);
            lost = lost.or(is_far).or(drifts);
        }
        let curved = (size / (self.size * self.size)).max(Lanes::all(CURVED));
        let left = curved * size * size;
        // A cycle that was only gone through roughly closes nothing.
        let is_closed = left.below(Lanes::all(CLOSED)).and(self.near());
        let is_slow = (Lanes::all(SHRINKS) * self.size).below(size);
        self.waiting = self.waiting.and(lost.not());
        self.waiting = self.waiting.and(is_slow.and(is_closed.not()).not());
        let done = self.waiting.and(is_closed);
        let goes = self.waiting.and(done.not());
        for k in 0..stores {
            self.further[k] = done.select(step[k], self.further[k]);
            self.moved[k] = goes.select(step[k], Lanes::ZERO);
            self.z[k] += self.moved[k];
        }
        for (kept, entry) in self.map.iter_mut().zip(&passed.map) {
            *kept = self.waiting.select(*entry, *kept);
        }
        self.left = done.select(left, self.left);
        self.size = self.waiting.select(size, self.size);
        self.done = self.done.or(done);
        self.waiting = goes;
    }

    /// The move that closes a cycle by a derivative of each lane.
    fn step(&self, end: &[Lanes], map: impl Fn(usize, usize) -> f64) -> Vec<Lanes> {
        let stores = self.z.len();
        let mut step = vec![Lanes::all(f64::INFINITY); stores];
        let mut lu = Lu::default();
        let mut solved = vec![0.0; stores];
        for lane in 0..WIDTH {
            if !self.waiting.at(lane) {
                continue;
            }
            let entry = |k: usize| {
                let unit = if k / stores == k % stores { 1.0 } else { 0.0 };
                unit - map(lane, k)
            };
            let matrix: Vec<f64> = (0..stores * stores).map(entry).collect();
            let lack: Vec<f64> = (0..stores).map(|k| (end[k] - self.z[k]).0[lane]).collect();
            if lu.factor(&matrix, stores).is_err() {
                continue;
            }
            lu.solve(&lack, &mut solved);
            for (step, solved) in step.iter_mut().zip(&solved) {
                step.0[lane] = *solved;
            }
        }
        step
    }

    fn start(&self, lane: usize) -> Vec<f64> {
        let ends = self.z.iter().zip(&self.further);
        ends.map(|(z, further)| (*z + *further).0[lane]).collect()
    }
}

/// Lanes in which a move is many times another.
fn far_apart(own: &[Lanes], other: &[Lanes]) -> Mask {
    let size = |moves: &[Lanes]| {
        moves
            .iter()
            .fold(Lanes::ZERO, |most, step| most.max(step.abs()))
    };
    let is_finite = own
        .iter()
        .fold(Mask::ALL, |all, step| all.and(step.is_finite()));
    is_finite
        .not()
        .or((Lanes::all(LEAP) * size(other)).below(size(own)))
}

/// A share, or what is larger than any where it is none.
fn finite(share: Lanes) -> Lanes {
    share.is_finite().select(share, Lanes::all(f64::INFINITY))
}

#[cfg(test)]
mod tests {
    use super::super::{Kind, Near};
    use super::solve;
    use crate::{
        Circuit, DiodeLaw, Element, GROUND, LoadLaw, Options, Output, Signal, System, Wave,
    };

    const OPTIONS: fn() -> Options = || Options {
        tolerance: 1e-6,
        ..Options::default()
    };

    /// Sources of some crests, each through a diode of its own, into one reservoir with a load.
    fn joined(crests: [f64; 2]) -> (System, Vec<Output>) {
        let mut circuit = Circuit::new(50.0);
        let raw = circuit.node();
        for crest in crests {
            let end = circuit.node();
            circuit.add(Element::Source {
                plus: end,
                minus: GROUND,
                wave: Wave::sine(crest),
                ohms: 0.5,
            });
            circuit.add(Element::Diode {
                anode: end,
                cathode: raw,
                law: DiodeLaw::Exponential {
                    saturation: 1e-9,
                    slope_voltage: 0.05,
                    series: 0.03,
                    leakage: 1e-9,
                },
            });
        }
        circuit.add(Element::Capacitor {
            a: raw,
            b: GROUND,
            farads: 2.2e-3,
            esr: 0.05,
            leakage: 0.0,
        });
        circuit.add(Element::Load {
            plus: raw,
            minus: GROUND,
            law: LoadLaw::Current {
                amps: 0.3,
                below: 1.0,
            },
        });
        let raw = Signal::Voltage(raw, GROUND);
        let outputs = vec![
            Output::Mean(raw.clone()),
            Output::RippleRms(raw.clone()),
            Output::Valley(raw),
        ];
        (System::assemble(&circuit).expect("physical"), outputs)
    }

    /// What this way alone, and all ways together, make of a circuit near a solved one; and what it comes to by itself.
    fn three_ways(solved: [f64; 2], near: [f64; 2]) -> (Option<Vec<f64>>, Vec<f64>, Vec<f64>) {
        let (system, outputs) = joined(solved);
        let kind = Kind::of(&system, &outputs, &[]).expect("a kind");
        let from = kind.solve(&system, None, &OPTIONS()).expect("it settles");
        let (other, _) = joined(near);
        let circuits = [(&other, Near::Stores(&from.start))];
        let alone = kind.solve(&other, None, &OPTIONS()).expect("it settles");
        let here = solve(&kind, &circuits, &from, &OPTIONS()).remove(0);
        let all = kind.solve_near(&circuits, &from, &OPTIONS()).remove(0);
        (
            here.map(|figures| figures.values),
            all.expect("it settles").values,
            alone.values,
        )
    }

    /// As near as `tests/batch.rs` holds every way to the orbit.
    fn are_alike(some: &[f64], others: &[f64]) -> bool {
        let mut pairs = some.iter().zip(others);
        pairs.all(|(a, b)| (a - b).abs() < 1e-5 * b.abs())
    }

    #[test]
    fn what_bends_as_foretold_comes_to_the_same() {
        for near in [[20.0, 8.0], [20.5, 8.5], [19.0, 7.0]] {
            let (here, all, alone) = three_ways([20.0, 8.0], near);
            let here = here.expect("the second diode blocks as foretold");
            assert!(are_alike(&here, &alone), "{near:?}: {here:?} and {alone:?}");
            assert_eq!(here, all);
        }
    }

    #[test]
    fn what_does_not_bend_as_foretold_goes_the_longer_way() {
        // The second diode was taken to block for good, and conducts now.
        let (here, all, alone) = three_ways([20.0, 8.0], [20.0, 21.0]);
        assert!(are_alike(&all, &alone), "{all:?} and {alone:?}");
        assert_eq!(here, None);
    }
}
