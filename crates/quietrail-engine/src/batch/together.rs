//! Eight circuits closed together, each from stores near those of one that is solved.
//!
//! The derivative of the solved one's cycle stands in for theirs and is corrected, lane by lane, by what each
//! cycle shows (Broyden, *Math. Comp.* 19 (1965) 577, the inverse form). A lane that is there is read and rests.

#![expect(
    clippy::needless_range_loop,
    reason = "lanes, stages and stores index several arrays at once"
)]

use super::closing::{ALIKE, LEAST_OF_LEVEL, LEAST_SWING};
use super::cycle::{Begin, Cycler, Exact, Gather, Turn, Wanted};
use super::equations::Equations;
use super::gauge::Tally;
use super::lanes::{Lanes, Mask, WIDTH, spread};
use super::strides::CHOSEN_ANEW;
use super::{FINER, Figures, Glance, Grid, Kind, Ready, Seed, Start, of_cycle};
use crate::Ended;

use crate::dense::Lu;
use crate::march::Effort;
use crate::steady::Options;

/// Tolerance of the cycle that shows how cycles answer to moves, and of first looks.
const ROUGH: f64 = 1e-4;
/// Tolerance at which a cycle is closed as nearly as a circuit's by itself; one asked to be finer is closed more nearly.
const USUAL: f64 = 1e-5;
/// Largest move still to make that counts as none: as a share of swing and of level.
const THERE: (f64, f64) = (1e-5, 1e-7);
/// How many times the move by the solved one's answer a lane's own may be.
const LEAP: f64 = 4.0;
/// How many times the tolerance of rough cycles a move must be to correct the derivative.
const TELLING: f64 = 30.0;
/// Drift of a capacitor that only leaks, and the way that it has to go, as shares of its level.
const DRIFTS: f64 = 1e-8;
const FAR: f64 = 1e-3;
/// Steps of a cycle, and cycles in all, before lanes still on their way are given up.
const MOST_STEPS: u64 = 1_200;
const MOST_CYCLES: usize = 14;

/// What a look at a circuit near a solved one came to.
#[derive(Clone, Debug)]
pub enum Look {
    /// Its cycle closes as nearly as was asked: it is settled.
    Settled(Figures),
    /// It nearly does.
    Near(Glance),
}

/// Figures of each lane that settled; `None` where the eight cannot be put together at all.
pub(crate) fn solve(
    kind: &Kind,
    circuits: [&Ready; WIDTH],
    near: [Start<'_>; WIDTH],
    from: &Figures,
    options: &Options,
) -> Option<Vec<Option<Figures>>> {
    let systems = circuits.map(|one| &one.system);
    let equations = Equations::gather(&kind.shape, systems)?;
    let mut tally = kind.tally(circuits)?;
    let cycler = Cycler::new(&equations, systems, kind.mirror(circuits[0]));
    let mut eight = Eight::new(cycler, circuits, near, from)?;
    let closed = closed(options);
    let mut found: Vec<Option<Figures>> = (0..WIDTH).map(|_| None).collect();
    if near.iter().any(|near| near.map.is_none()) {
        eight.begin(ROUGH.max(options.tolerance));
        eight.show(ROUGH.max(options.tolerance), None, Mask::ALL);
    }
    for _ in 0..MOST_CYCLES {
        let went = eight.go(FINER * options.tolerance, Wanted::End, Some(&mut tally));
        let there = eight.there(&went, closed);
        for lane in 0..WIDTH {
            if there.at(lane) {
                found[lane] = Some(eight.figures(&went, lane, (&tally, from)));
            }
        }
        eight.waiting = eight.waiting.and(there.not());
        if !eight.waiting.any() {
            break;
        }
        eight.move_on(went);
    }
    Some(found)
}

/// How far from closed a cycle may be, as a share of what counts as none.
fn closed(options: &Options) -> Lanes {
    Lanes::all((options.tolerance / USUAL).clamp(0.01, 10.0))
}

/// What one more cycle of each lane shows: figures, and the stores with which it nearly closes; or, where no more is asked than
/// such a look can tell, that it does.
pub(crate) fn look(
    kind: &Kind,
    circuits: [&Ready; WIDTH],
    near: [Start<'_>; WIDTH],
    from: &Figures,
    options: &Options,
) -> Option<Vec<Option<Look>>> {
    let systems = circuits.map(|one| &one.system);
    let equations = Equations::gather(&kind.shape, systems)?;
    let mut tally = kind.tally(circuits)?;
    let cycler = Cycler::new(&equations, systems, kind.mirror(circuits[0]));
    let mut eight = Eight::new(cycler, circuits, near, from)?;
    let tolerance = ROUGH.max(options.tolerance);
    let went = if near.iter().any(|near| near.map.is_none()) {
        eight.begin(tolerance);
        eight.shown(tolerance, Some(&mut tally), Mask::ALL)
    } else if near.iter().all(|near| near.is_own) {
        eight.go(tolerance, Wanted::End, Some(&mut tally))
    } else {
        let others = Mask::of(|lane| !near[lane].is_own);
        eight.shown(tolerance, Some(&mut tally), others)
    };
    let there = if options.tolerance < ROUGH {
        Mask::NONE
    } else {
        eight.there(&went, closed(options))
    };
    let settled: Vec<Option<Figures>> = (0..WIDTH)
        .map(|lane| {
            there
                .at(lane)
                .then(|| eight.figures(&went, lane, (&tally, from)))
        })
        .collect();
    eight.move_on(went);
    let seen = settled.into_iter().enumerate().map(|(lane, settled)| {
        if !eight.waiting.at(lane) {
            return None;
        }
        let Some(figures) = settled else {
            return Some(Look::Near(eight.glance(lane, &tally)));
        };
        Some(Look::Settled(figures))
    });
    Some(seen.collect())
}

/// Eight circuits on the way to closed cycles.
struct Eight<'e, 'p> {
    cycler: Cycler<'e, 'p>,
    /// Whether its cycles are halves.
    is_half: bool,
    /// Derivative of each lane's cycle.
    maps: [Vec<f64>; WIDTH],
    /// `(1 − m)⁻¹` of each lane, as far as it is known.
    inverse: Vec<Lanes>,
    /// Unknowns near the start of the cycle.
    guess: Vec<Lanes>,
    /// Stores at the start of the cycle, and what errors of each are shares of.
    z: Vec<Lanes>,
    scale: Vec<Lanes>,
    room: Lanes,
    /// The last move and what it was made for.
    last: Option<(Vec<Lanes>, Vec<Lanes>)>,
    /// Steps of each lane's last cycle, and lanes whose next is near enough to make them again.
    grids: [Grid; WIDTH],
    alike: Mask,
    /// Lanes that are neither there nor lost.
    waiting: Mask,
    effort: Effort,
}

/// A cycle gone through, by how much it does not close, and the move that should close it.
struct Went {
    turn: Turn,
    lack: Vec<Lanes>,
    step: Vec<Lanes>,
}

impl<'e, 'p> Eight<'e, 'p> {
    fn new(
        cycler: Cycler<'e, 'p>,
        circuits: [&Ready; WIDTH],
        near: [Start<'_>; WIDTH],
        from: &Figures,
    ) -> Option<Self> {
        let stores = from.start.len();
        let is_half = circuits[0].is_half;
        let map = of_cycle(&from.seed.map, from.seed.is_half && !is_half);
        let of_solved = inverse(&map, stores)?;
        let mut eight = Self {
            cycler,
            is_half,
            inverse: spread(&of_solved),
            maps: std::array::from_fn(|_| map.clone()),
            guess: spread(&from.seed.unknowns),
            z: (0..stores)
                .map(|k| Lanes(std::array::from_fn(|lane| near[lane].stores[k])))
                .collect(),
            scale: spread(&from.seed.scale),
            room: Lanes(circuits.map(|one| one.system.volts_scale.max(1e-3))),
            last: None,
            grids: Default::default(),
            alike: Mask::ALL,
            waiting: Mask::ALL,
            effort: Effort::default(),
        };
        for (lane, near) in near.iter().enumerate() {
            if let Some(map) = near.map(is_half) {
                eight.learn(lane, map);
            }
            if let Some(grid) = near.grid.filter(|_| near.is_own && near.is_half == is_half) {
                eight.grids[lane] = grid.clone();
            }
            if let Some(scale) = near.scale {
                for (all, own) in eight.scale.iter_mut().zip(scale) {
                    all.0[lane] = *own;
                }
            }
        }
        Some(eight)
    }

    /// Takes a map as that of a lane's cycle; one that answers to no move is left aside.
    fn learn(&mut self, lane: usize, map: Vec<f64>) {
        if let Some(inverse) = inverse(&map, self.z.len()) {
            for (all, own) in self.inverse.iter_mut().zip(inverse) {
                all.0[lane] = own;
            }
            self.maps[lane] = map;
        }
    }

    /// Goes through a cycle with the solved one's answer to moves.
    fn begin(&mut self, tolerance: f64) {
        let went = self.go(tolerance, Wanted::End, None);
        self.move_on(went);
    }

    /// Goes through a cycle that shows some lanes their own answer to moves, and on.
    fn show(&mut self, tolerance: f64, tally: Option<&mut Tally<'_>>, lanes: Mask) {
        let went = self.shown(tolerance, tally, lanes);
        self.move_on(went);
    }

    /// Goes through a cycle that shows some lanes their own answer to moves.
    fn shown(&mut self, tolerance: f64, tally: Option<&mut Tally<'_>>, lanes: Mask) -> Went {
        let mut went = self.go(tolerance, Wanted::Maps, tally);
        let before = (self.inverse.clone(), self.maps.clone());
        for lane in (0..WIDTH).filter(|lane| lanes.at(*lane)) {
            self.learn(lane, map_of(&went.turn, lane));
        }
        let step = self.step(&went.lack);
        // Far from its cycle a lane may answer to no move at all, and ask for a leap.
        let leaps = (Lanes::all(LEAP) * self.size(&went.step))
            .max(Lanes::all(ROUGH))
            .below(self.size(&step));
        let stuck = self.stuck(&went.turn, &went.lack, &step).and(lanes);
        self.waiting = self.waiting.and(stuck.not());
        for lane in 0..WIDTH {
            if leaps.at(lane) {
                for (own, before) in self.inverse.iter_mut().zip(&before.0) {
                    own.0[lane] = before.0[lane];
                }
                self.maps[lane].clone_from(&before.1[lane]);
            }
        }
        went.step = self.step(&went.lack);
        went
    }

    /// Lanes with a capacitor above the crest of what feeds it, which only leaks and would do so for ages. Beside the
    /// solved one, whose capacitor is charged, it would seem to have come to rest there.
    fn stuck(&self, turn: &Turn, lack: &[Lanes], step: &[Lanes]) -> Mask {
        let mut stuck = Mask::NONE;
        for (k, step) in step.iter().enumerate() {
            let level = turn.high[k].abs().max(turn.low[k].abs());
            let hardly_drifts = lack[k].abs().below(Lanes::all(DRIFTS) * level);
            let leads_far = (Lanes::all(FAR) * level).below(step.abs());
            let falls = (*step * self.z[k]).below(Lanes::ZERO);
            stuck = stuck.or(hardly_drifts.and(leads_far).and(falls));
        }
        stuck
    }

    /// Lanes with a store that a cycle moves by no more than a leak would.
    fn hardly_moves(&self, went: &Went) -> Mask {
        let mut still = Mask::NONE;
        for (high, low) in went.turn.high.iter().zip(&went.turn.low) {
            let level = high.abs().max(low.abs());
            still = still.or((*high - *low).below(Lanes::all(DRIFTS) * level));
        }
        still
    }

    /// Which of some lanes that seem to be there would go on by how their own cycles answer to moves. What the search
    /// knows is left as it is: a lane does not know its neighbours.
    fn is_led_astray(&mut self, lanes: Mask) -> Mask {
        let stores = self.z.len();
        let exact = Exact {
            tolerance: ROUGH,
            scale: &self.scale,
            wanted: Wanted::Maps,
            most_steps: MOST_STEPS,
            most_iterations: u64::MAX,
            grids: CHOSEN_ANEW,
            least_step: 0.0,
            comes_down: false,
            until: Lanes::ONE,
        };
        let gather = Gather {
            tally: None,
            slopes: None,
            seen: None,
        };
        let begin = Begin::Guess(&self.guess);
        let turn = self.cycler.run(&self.z, begin, exact, lanes, gather);
        self.effort.cycles += 1;
        self.effort.steps += turn.steps;
        self.effort.iterations += turn.iterations;
        let lack: Vec<Lanes> = (0..stores).map(|k| self.z[k] - turn.end[k]).collect();
        let known = self.inverse.clone();
        for lane in 0..WIDTH {
            if let Some(own) = inverse(&map_of(&turn, lane), stores) {
                for (all, own) in self.inverse.iter_mut().zip(own) {
                    all.0[lane] = own;
                }
            }
        }
        let step = self.step(&lack);
        self.inverse = known;
        self.stuck(&turn, &lack, &step).and(turn.ok).and(lanes)
    }

    /// Goes through a cycle, and learns from it how cycles answer to moves.
    fn go(&mut self, tolerance: f64, wanted: Wanted, tally: Option<&mut Tally<'_>>) -> Went {
        let stores = self.z.len();
        let exact = Exact {
            tolerance,
            scale: &self.scale,
            wanted,
            most_steps: MOST_STEPS,
            most_iterations: u64::MAX,
            grids: std::array::from_fn(|lane| {
                if self.alike.at(lane) {
                    self.grids[lane].at(tolerance)
                } else {
                    &[]
                }
            }),
            least_step: 0.0,
            comes_down: true,
            until: Lanes::ONE,
        };
        let gather = Gather {
            tally,
            slopes: None,
            seen: None,
        };
        let begin = Begin::Guess(&self.guess);
        let mut turn = self.cycler.run(&self.z, begin, exact, self.waiting, gather);
        for (own, ends) in self.grids.iter_mut().zip(&mut turn.grids) {
            if !ends.is_empty() {
                let ends = std::mem::take(ends);
                *own = Grid { ends, tolerance };
            }
        }
        self.effort.cycles += 1;
        self.effort.steps += turn.steps;
        self.effort.iterations += turn.iterations;
        self.waiting = self.waiting.and(turn.ok);
        self.guess.copy_from_slice(self.cycler.unknowns());
        let lack: Vec<Lanes> = (0..stores).map(|k| self.z[k] - turn.end[k]).collect();
        if let Some((moved, last_lack)) = &self.last {
            let change: Vec<Lanes> = (0..stores).map(|k| lack[k] - last_lack[k]).collect();
            // A move within the errors of the steps would teach their noise.
            let tells = Lanes::all(TELLING * ROUGH).below(self.size(moved));
            correct(&mut self.inverse, moved, &change, tells);
        }
        let step = self.step(&lack);
        Went { turn, lack, step }
    }

    /// The move that should close a cycle that lacks so much.
    fn step(&self, lack: &[Lanes]) -> Vec<Lanes> {
        let stores = lack.len();
        (0..stores)
            .map(|row| {
                let mut sum = Lanes::ZERO;
                for (column, lack) in lack.iter().enumerate() {
                    sum -= self.inverse[row * stores + column] * *lack;
                }
                sum
            })
            .collect()
    }

    /// The largest move of a store, as a share of its scale.
    fn size(&self, step: &[Lanes]) -> Lanes {
        let shares = step.iter().zip(&self.scale);
        shares.fold(Lanes::ZERO, |most, (step, scale)| {
            most.max(step.abs() / *scale)
        })
    }

    /// Moves to where the next cycle should close.
    fn move_on(&mut self, went: Went) {
        let Went { turn, lack, step } = went;
        for k in 0..self.z.len() {
            let least = (Lanes::all(LEAST_OF_LEVEL) * turn.high[k].abs().max(turn.low[k].abs()))
                .max(Lanes::all(LEAST_SWING) * self.room);
            self.scale[k] = (turn.high[k] - turn.low[k]).max(least);
            self.z[k] = self.waiting.select(self.z[k] + step[k], self.z[k]);
        }
        self.alike = self.size(&step).below(Lanes::all(ALIKE));
        self.last = Some((step, lack));
    }

    /// How far a cycle gone through is from closing, as a share of what counts as closed.
    fn left(&self, went: &Went) -> Lanes {
        let mut left = Lanes::ZERO;
        for k in 0..self.z.len() {
            let (high, low) = (went.turn.high[k], went.turn.low[k]);
            let level = high.abs().max(low.abs());
            let near = (Lanes::all(THERE.0) * (high - low)).max(Lanes::all(THERE.1) * level);
            let near = near.max(Lanes::all(LEAST_SWING * THERE.1) * self.room);
            left = left.max(went.step[k].abs() / near);
        }
        left
    }

    /// Lanes that wait and whose cycle closes as nearly as that. One that only seems to be there waits no more.
    fn there(&mut self, went: &Went, closed: Lanes) -> Mask {
        let there = self.left(went).below(closed).and(self.waiting);
        let still = self.hardly_moves(went).and(there);
        if !still.any() {
            return there;
        }
        let stuck = self.is_led_astray(still);
        self.waiting = self.waiting.and(stuck.not());
        there.and(stuck.not())
    }

    /// What a lane came to that is there.
    fn figures(&self, went: &Went, lane: usize, (tally, from): (&Tally<'_>, &Figures)) -> Figures {
        let stores = 0..self.z.len();
        let residual = stores
            .map(|k| went.lack[k].0[lane].abs() / self.scale[k].0[lane])
            .fold(0.0, f64::max);
        Figures {
            values: tally.read(lane),
            traces: tally.traces(lane),
            start: self.start(lane),
            ended: Ended::Settled { residual },
            floquet: from.floquet,
            effort: self.effort,
            seed: Seed {
                unknowns: self.guess.iter().map(|x| x.0[lane]).collect(),
                map: self.maps[lane].clone(),
                scale: self.scale_of(lane),
                is_half: self.is_half,
                grid: self.grids[lane].clone(),
                origin: None,
            },
        }
    }

    /// What a lane's cycle showed that is not there.
    fn glance(&self, lane: usize, tally: &Tally<'_>) -> Glance {
        Glance {
            values: tally.read(lane),
            start: self.start(lane),
            map: self.maps[lane].clone(),
            scale: self.scale_of(lane),
            is_half: self.is_half,
            grid: self.grids[lane].clone(),
            anchor: None,
            effort: self.effort,
        }
    }

    /// Stores of a lane at the start of the cycle.
    fn start(&self, lane: usize) -> Vec<f64> {
        self.z.iter().map(|z| z.0[lane]).collect()
    }

    /// What errors of a lane's stores are shares of.
    fn scale_of(&self, lane: usize) -> Vec<f64> {
        self.scale.iter().map(|scale| scale.0[lane]).collect()
    }
}

/// The derivative of a lane's cycle, row-major.
fn map_of(turn: &Turn, lane: usize) -> Vec<f64> {
    let stores = turn.maps.len();
    let entry = |k: usize| turn.maps[k % stores][k / stores].0[lane];
    (0..stores * stores).map(entry).collect()
}

/// `H += (s − H y) sᵀ H / (sᵀ H y)`, where that says something.
fn correct(inverse: &mut [Lanes], s: &[Lanes], y: &[Lanes], tells: Mask) {
    let stores = s.len();
    let hy: Vec<Lanes> = (0..stores)
        .map(|row| {
            let mut sum = Lanes::ZERO;
            for (column, y) in y.iter().enumerate() {
                sum += inverse[row * stores + column] * *y;
            }
            sum
        })
        .collect();
    let sh: Vec<Lanes> = (0..stores)
        .map(|column| {
            let mut sum = Lanes::ZERO;
            for (row, s) in s.iter().enumerate() {
                sum += *s * inverse[row * stores + column];
            }
            sum
        })
        .collect();
    let (mut below, mut length) = (Lanes::ZERO, Lanes::ZERO);
    for k in 0..stores {
        below += s[k] * hy[k];
        length += s[k] * s[k];
    }
    // A cycle that hardly answers to a move tells nothing about the derivative.
    let tells = tells.and((Lanes::all(0.05) * length).below(below.abs()));
    let by = tells.select(Lanes::ONE / below, Lanes::ZERO);
    for row in 0..stores {
        for column in 0..stores {
            inverse[row * stores + column] += (s[row] - hy[row]) * sh[column] * by;
        }
    }
}

/// `(1 − m)⁻¹`, row-major, if there is one.
fn inverse(map: &[f64], stores: usize) -> Option<Vec<f64>> {
    let mut matrix: Vec<f64> = map.iter().map(|v| -v).collect();
    for k in 0..stores {
        matrix[k * stores + k] += 1.0;
    }
    let mut lu = Lu::default();
    if stores > 0 {
        lu.factor(&matrix, stores).ok()?;
    }
    let mut inverse = vec![0.0; stores * stores];
    let (mut unit, mut solution) = (vec![0.0; stores], vec![0.0; stores]);
    for column in 0..stores {
        unit.fill(0.0);
        unit[column] = 1.0;
        lu.solve(&unit, &mut solution);
        for row in 0..stores {
            inverse[row * stores + column] = solution[row];
        }
    }
    Some(inverse)
}
