//! Circuits near a solved one, reduced to what is nonlinear in them.
//!
//! The solved one tells beforehand which steps will do and which devices bend in each: of a bridge's four diodes two, and
//! between charges none. What is straight is solved once for all steps of a length (`operator`), and a step is left with its
//! ports alone, a few unknowns for each device that bends. The steps are the same in all lanes at first (`plan`); Newton's
//! method closes the cycle with each lane's own derivative, and every cycle begins its steps where the last one left them
//! (`orbit`).
//!
//! All that was foretold is looked at in the end: that the quiet devices stayed quiet, and that no step erred by more than it
//! may. A lane in which one did makes two or four of it; one of which the rest does not hold goes the longer way.

#![expect(
    clippy::needless_range_loop,
    reason = "lanes, stages and stores index several arrays at once"
)]

mod eight;
mod halves;
mod kept;
mod linear;
mod newton;
mod operator;
mod orbit;
mod plan;
mod rows;
mod series;

use super::closing::{LEAST_OF_LEVEL, LEAST_SWING};
use super::cycle::{Begin, Cycler, Exact, Gather};
use super::equations::Equations;
use super::gauge::{Gauges, Tally};
use super::lanes::{Lanes, Mask, WIDTH, spread};
use super::law::LaneLaw;
use super::mirror::Mirror;
use super::{Figures, Grid, Kind, Near, Seed, Start};
use crate::Ended;
use crate::dense::Lu;
use crate::march::Effort;
use crate::steady::Options;
use crate::step::Tableau;
use crate::system::{Probe, System};
use eight::{Eight, Row};
use halves::Halves;
use linear::Linear;
use operator::Readings;
use orbit::{Orbit, Passed};
pub(super) use plan::Seen;
use plan::{Arrangement, Plan};
use std::sync::OnceLock;

/// Cycles, at most.
const MOST_PASSES: usize = 6;
/// What is left after a move, as a share of a store's swing, that counts as closed: such a share of the tolerance, and no
/// less than rounding leaves.
const CLOSED: f64 = 0.03;
const LEAST_LEFT: f64 = 1e-9;
/// How a move curves the cycle at least, as far as is known.
const CURVED: f64 = 1.0;
/// Error of a step, as so many times that of the solved circuit's, up to which it serves: the estimate is that of a method
/// two orders lower.
const LENIENT: f64 = 16.0;
/// The same from which on a step is made two, four and eight, where some are too long; and how often.
const TOO_LONG: [f64; orbit::LEVELS] = [2.0, 16.0, 64.0];
const MOST_ROUNDS: usize = 5;
/// Tolerance of the plan, as so many times that asked for: steps are as short wherever something may happen as the solved
/// circuit's where it does, and what they err by is far less than the estimate.
const COARSER: f64 = 10.0;
/// The longest move, as a share of the largest source: what would go further may pass by another solution.
const FAR: f64 = 0.4;
/// A move, as a share of what stores swing, within which a cycle does as the one before it did.
const NEAR: f64 = 0.5;
/// A move, as a share of what stores swing, that a cycle gone through roughly may miss by.
const ROUGH: f64 = 5e-3;
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
        let reduced = self.system.reduced_as(&kind.reduced);
        Plan::of((&self.system, &reduced), &seen, kind.mirror(&ready))
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
    let planned = origin.and_then(|origin| Some((origin, origin.plan(kind, from, options)?)));
    let Some((origin, plan)) = planned else {
        return all;
    };
    let is_begun = |k: usize| Start::from(circuits[k].1).stores.len() == from.start.len();
    let mut space = Space::default();
    let mut too_long: Vec<Option<TooLong>> = circuits.iter().map(|_| None).collect();
    // Those for which the steps of the plan are too long go together, on shorter ones.
    for rounds in [1, MOST_ROUNDS] {
        let left = (0..circuits.len()).filter(|&k| all[k].is_none() && is_begun(k));
        let left: Vec<usize> = left.collect();
        let mut solve = |some: &[usize]| {
            // Lanes left over repeat the first: a lane does not know its neighbours.
            let lane = |k: usize| *some.get(k).unwrap_or(&some[0]);
            let systems = std::array::from_fn(|k| circuits[lane(k)].0);
            let begun = std::array::from_fn(|k| Begun {
                near: Start::from(circuits[lane(k)].1).stores,
                after: too_long[lane(k)].as_ref(),
            });
            let solving = (kind, origin, plan);
            let going = (&mut space, rounds);
            let came = solve_eight(solving, systems, &begun, (from, options), going)?;
            for (came, &k) in came.into_iter().zip(some) {
                match came {
                    Came::Home(figures) => all[k] = Some(*figures),
                    Came::TooLong(how) => too_long[k] = Some(how),
                    Came::Astray => {}
                }
            }
            Some(())
        };
        for chunk in left.chunks(WIDTH) {
            if solve(chunk).is_none() {
                // One of another kind keeps none of the others from going this way.
                for k in chunk {
                    solve(&[*k]);
                }
            }
        }
    }
    all
}

/// How far a circuit came.
enum Came {
    Home(Box<Figures>),
    TooLong(TooLong),
    Astray,
}

/// A cycle that closed on steps some of which are too long.
struct TooLong {
    /// Stores where it begins.
    start: Vec<f64>,
    /// Error of each step, as a share of that allowed.
    errors: Vec<f64>,
}

/// Where a circuit begins: at stores given, or where it closed before on steps too long.
struct Begun<'a> {
    near: &'a [f64],
    after: Option<&'a TooLong>,
}

impl Begun<'_> {
    fn stores(&self) -> &[f64] {
        self.after.map_or(self.near, |after| &after.start)
    }

    fn error(&self, step: usize) -> f64 {
        self.after.map_or(0.0, |after| after.errors[step])
    }
}

/// Room for eight circuits, to be used for others after them.
#[derive(Default)]
struct Space {
    /// Of each arrangement.
    linear: Vec<(Linear, Readings)>,
    orbit: orbit::Space,
}

impl Space {
    /// Solves the linear parts of eight circuits, for each arrangement of a plan and each length of step.
    fn solve(
        &mut self,
        plan: &Plan,
        of: (&Eight, &[Row]),
        halves: (&[usize], Option<&Halves<'_>>),
    ) {
        let arrangements = plan.arrangements.iter().zip(&plan.frames);
        self.linear
            .resize_with(plan.arrangements.len(), Default::default);
        for ((arrangement, frame), (linear, read)) in arrangements.zip(&mut self.linear) {
            linear.solve(of.0, (frame, arrangement));
            readings(of, (arrangement, linear), halves, read);
        }
        let method = &Tableau::get().method;
        let operators = &mut self.orbit.operators;
        operators.resize_with(plan.course.operators.len(), Default::default);
        for (operator, &(place, h)) in operators.iter_mut().zip(&plan.course.operators) {
            let (linear, readings) = &self.linear[place];
            operator.solve(linear, readings, h, method);
        }
    }
}

/// What is read of eight circuits in one arrangement.
fn readings(
    (eight, signals): (&Eight, &[Row]),
    (arrangement, linear): (&Arrangement, &Linear),
    (added, halves): (&[usize], Option<&Halves<'_>>),
    readings: &mut Readings,
) {
    readings.inputs.clear();
    readings.quiet.clear();
    readings.signals.clear();
    for port in &arrangement.ports {
        let inputs = &eight.devices[port.device].inputs;
        for input in (0..port.inputs).filter(|input| *input != port.coordinate) {
            linear.read(eight, inputs[input], &mut readings.inputs);
        }
    }
    for &quiet in &arrangement.quiet {
        linear.read(eight, eight.devices[quiet].inputs[0], &mut readings.quiet);
    }
    for signal in signals {
        linear.read(eight, *signal, &mut readings.signals);
    }
    if let Some(halves) = halves {
        for &signal in added {
            halves.later(signals[signal], (linear, eight), &mut readings.signals);
        }
    }
}

/// What each signal that is asked for is of the unknowns of eight circuits.
fn signals(
    eight: &mut Eight,
    (kind, gauges): (&Kind, &Gauges),
    systems: [&System; WIDTH],
) -> Option<Vec<Row>> {
    let asked = (kind.outputs.as_slice(), kind.traced.as_slice());
    let probes: Vec<Vec<Probe>> = systems
        .iter()
        .map(|system| gauges.asked_probes(asked, system))
        .collect::<Option<_>>()?;
    let count = probes[0].len();
    let row = |k: usize| {
        let of = std::array::from_fn(|lane| &probes[lane][k]);
        eight.row(of, &probes[0][k])
    };
    (0..count).map(row).collect()
}

fn solve_eight(
    (kind, origin, plan): (&Kind, &Origin, &Plan),
    systems: [&System; WIDTH],
    begun: &[Begun<'_>; WIDTH],
    (from, options): (&Figures, &Options),
    (space, rounds): (&mut Space, usize),
) -> Option<Vec<Came>> {
    let gauges = kind.gauges(from.seed.is_half);
    let mut eight = Eight::of(systems, &origin.system)?;
    let signals = signals(&mut eight, (kind, gauges), systems)?;
    let halves = plan.glass.as_ref().map(|glass| Halves::of(&eight, glass));
    let mirrored = halves
        .as_ref()
        .map_or(Mask::ALL, |halves| halves.hold(&eight));
    let of = (&eight, signals.as_slice());
    space.solve(plan, of, (gauges.added(), halves.as_ref()));
    let bounds = plan.arrangements.iter().map(|of| bounds(of, &eight));
    let bounds = bounds.collect();
    let Space { linear, orbit } = space;
    // Those that closed before are near their cycles.
    let (is_begun_roughly, course) = match rounds {
        1 => (true, &plan.rough),
        _ => (false, &plan.course),
    };
    let mut orbit = Orbit::new((plan, course, &eight), bounds, options.tolerance, orbit);
    let mirror = plan.glass.as_ref().map(|glass| &glass.mirror);
    let room = eight.volts_scale.max(Lanes::all(1e-3));
    let near = begun.each_ref().map(Begun::stores);
    let mut close = Close::new((from, mirror), room, near, options);
    close.waiting = mirrored;
    if begun.iter().any(|lane| lane.after.is_some()) {
        let error = |step: usize| Lanes(begun.each_ref().map(|lane| lane.error(step)));
        let errors: Vec<Lanes> = (0..plan.course.legs.len()).map(error).collect();
        orbit.refine(&marked(&errors), Mask::ALL, linear);
    }
    let mut came: Vec<Came> = (0..WIDTH).map(|_| Came::Astray).collect();
    for round in 1..=rounds {
        for pass in 0..MOST_PASSES {
            if is_begun_roughly && pass == 1 {
                orbit.go_finely(plan);
            }
            // Lanes that go no further hold up none of the others.
            let near = close.near().or(close.waiting.not());
            let passed = orbit.pass(&close.z, &close.moved, near, close.waiting);
            close.take(passed);
            if !close.waiting.any() {
                break;
            }
        }
        let mut tally = gauges.tally_of_courses();
        let allowed = Lanes::all(COARSER * options.tolerance);
        let allowed: Vec<Lanes> = close.scale.iter().map(|scale| allowed * *scale).collect();
        let read = orbit.read(&close.further, &allowed, close.done, &mut tally);
        let done = close.done.and(read.quiet);
        let errs_little = read.error.below(Lanes::all(LENIENT));
        let going = done.and(errs_little.not());
        for (lane, came) in came.iter_mut().enumerate() {
            if done.and(errs_little).at(lane) {
                *came = Came::Home(Box::new(close.figures(lane, &tally, &orbit)));
            } else if going.at(lane) && rounds == 1 {
                *came = Came::TooLong(TooLong {
                    start: close.start(lane),
                    errors: read.errors.iter().map(|error| error.0[lane]).collect(),
                });
            }
        }
        if round == rounds || !going.any() {
            break;
        }
        orbit.refine(&marked(&read.errors), going, linear);
        close.reopen(going);
    }
    Some(came)
}

/// Into how many each step is to be parted, by what it errs by.
fn marked(errors: &[Lanes]) -> Vec<orbit::Parted> {
    let too_long = |error: &Lanes| TOO_LONG.map(|share| Lanes::all(share).below(*error));
    let mut marked: Vec<orbit::Parted> = errors.iter().map(too_long).collect();
    // All figures are counted from what signals are in the first step.
    marked[0] = [Mask::NONE; orbit::LEVELS];
    marked
}

/// What the quiet devices of an arrangement must stay beyond, and on which side.
fn bounds(arrangement: &Arrangement, eight: &Eight) -> Vec<(Lanes, f64)> {
    let bound = |quiet: &usize| match &eight.devices[*quiet].law {
        // e^-15 of the saturation current is less than any leakage.
        LaneLaw::Diode { slope_voltage, .. } => (Lanes::all(-15.0) * *slope_voltage, -1.0),
        LaneLaw::Current { below, .. } => (*below, 1.0),
        _ => (Lanes::all(f64::INFINITY), 1.0),
    };
    arrangement.quiet.iter().map(bound).collect()
}

/// Cycles on their way to being closed.
struct Close<'a> {
    from: &'a Figures,
    mirror: Option<&'a Mirror>,
    /// Largest source of each lane, V.
    room: Lanes,
    /// What may be left after the last move, as a share of what stores swing.
    closed: Lanes,
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
        (from, mirror): (&'a Figures, Option<&'a Mirror>),
        room: Lanes,
        near: [&[f64]; WIDTH],
        options: &Options,
    ) -> Self {
        let stores = near[0].len();
        let zero = vec![Lanes::ZERO; stores];
        let begin = (0..stores).map(|k| Lanes(near.map(|stores| stores[k])));
        Self {
            from,
            mirror,
            room,
            closed: Lanes::all((CLOSED * options.tolerance).max(LEAST_LEFT)),
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
        let is_closed = left.below(self.closed).and(self.near());
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
        // What a cycle asks for that was gone through roughly is no smaller than that is rough: the next may ask for as much.
        let told = self.near().select(size, size.max(Lanes::all(ROUGH)));
        self.size = self.waiting.select(told, self.size);
        self.done = self.done.or(done);
        self.waiting = goes;
    }

    /// The move that closes a cycle by a derivative of each lane.
    fn step(&self, end: &[Lanes], map: impl Fn(usize, usize) -> f64) -> Vec<Lanes> {
        let stores = self.z.len();
        let mut step = vec![Lanes::all(f64::INFINITY); stores];
        let mut lu = Lu::default();
        let mut solved = vec![0.0; stores];
        let (mut matrix, mut lack) = (Vec::new(), Vec::new());
        for lane in 0..WIDTH {
            if !self.waiting.at(lane) {
                continue;
            }
            let entry = |k: usize| {
                let unit = if k / stores == k % stores { 1.0 } else { 0.0 };
                unit - map(lane, k)
            };
            matrix.clear();
            matrix.extend((0..stores * stores).map(entry));
            lack.clear();
            lack.extend((0..stores).map(|k| (end[k] - self.z[k]).0[lane]));
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

    /// What a lane that is done came to.
    fn figures(&self, lane: usize, tally: &Tally<'_>, orbit: &Orbit<'_>) -> Figures {
        let of_lane = |of: &[Lanes]| -> Vec<f64> { of.iter().map(|v| v.0[lane]).collect() };
        Figures {
            values: tally.read(lane),
            traces: tally.traces(lane),
            ended: Ended::Settled {
                residual: self.left.0[lane],
            },
            floquet: self.from.floquet,
            effort: Effort {
                cycles: self.passes,
                steps: orbit.steps,
                iterations: orbit.iterations,
                ..Effort::default()
            },
            seed: Seed {
                unknowns: self.from.seed.unknowns.clone(),
                map: of_lane(&self.map),
                scale: of_lane(&self.scale),
                is_half: self.from.seed.is_half,
                grid: Grid::default(),
                origin: None,
            },
            start: self.start(lane),
        }
    }

    /// Goes on with lanes that were done, from where they came to, on other steps.
    fn reopen(&mut self, going: Mask) {
        for k in 0..self.z.len() {
            self.moved[k] = going.select(self.further[k], Lanes::ZERO);
            self.z[k] += self.moved[k];
        }
        self.size = going.select(Lanes::all(ROUGH), self.size);
        self.done = Mask::NONE;
        self.waiting = going;
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
    use super::super::{Figures, Kind, Near};
    use super::solve;
    use crate::{
        Circuit, DiodeLaw, Dropout, Element, GROUND, LoadLaw, Options, Output, RegulatorLaw,
        Signal, System, Transfer, Wave,
    };

    fn within(tolerance: f64) -> Options {
        Options {
            tolerance,
            ..Options::default()
        }
    }

    /// Sources of some crests, each through a diode of its own, into one reservoir with a load.
    fn joined(crests: &[f64]) -> (System, Vec<Output>) {
        let mut circuit = Circuit::new(50.0);
        let raw = circuit.node();
        for &crest in crests {
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

    /// A bridge into a reservoir, and from that a regulated rail; the crest, and the slope voltage of its last diode.
    fn regulated(crest: f64, last_slope: f64) -> (System, Vec<Output>) {
        let mut circuit = Circuit::new(50.0);
        let [a, b, raw, rail] = std::array::from_fn(|_| circuit.node());
        circuit.add(Element::Source {
            plus: a,
            minus: b,
            wave: Wave::sine(crest),
            ohms: 0.5,
        });
        let ends = [(a, raw), (b, raw), (GROUND, a), (GROUND, b)];
        for ((anode, cathode), slope_voltage) in
            ends.into_iter().zip([0.05, 0.05, 0.05, last_slope])
        {
            let law = DiodeLaw::Exponential {
                saturation: 1e-9,
                slope_voltage,
                series: 0.03,
                leakage: 1e-9,
            };
            circuit.add(Element::Diode {
                anode,
                cathode,
                law,
            });
        }
        for (at, farads) in [(raw, 2.2e-3), (rail, 1e-4)] {
            circuit.add(Element::Capacitor {
                a: at,
                b: GROUND,
                farads,
                esr: 0.05,
                leakage: 0.0,
            });
        }
        circuit.add(Element::Regulator {
            input: raw,
            output: rail,
            reference: GROUND,
            sense: None,
            law: RegulatorLaw {
                set: 12.0,
                line: 15.0,
                rejection: Transfer {
                    direct: 1e-3,
                    sections: Vec::new(),
                },
                transconductance: 20.0,
                loop_time: 2e-5,
                dropout: Dropout::line(0.5, 0.5),
                limit: 1.5,
                softness: 2e-3,
                exponent: 6,
                quiescent: 5e-3,
                is_negative: false,
            },
        });
        circuit.add(Element::Load {
            plus: rail,
            minus: GROUND,
            law: LoadLaw::Current {
                amps: 0.4,
                below: 1.0,
            },
        });
        let (raw, rail) = (Signal::Voltage(raw, GROUND), Signal::Voltage(rail, GROUND));
        let outputs = vec![
            Output::RippleRms(raw.clone()),
            Output::Valley(raw),
            Output::Mean(rail.clone()),
            Output::Valley(rail),
        ];
        (System::assemble(&circuit).expect("physical"), outputs)
    }

    /// What this way alone, and all ways together, make of a circuit near a solved one, begun where another settles; and what it
    /// comes to by itself.
    fn three_ways(
        (solved, outputs): &(System, Vec<Output>),
        begun: &System,
        near: &System,
        options: &Options,
    ) -> (Option<Vec<f64>>, Vec<f64>, Vec<f64>) {
        let kind = Kind::of(solved, outputs, &[]).expect("a kind");
        let from = kind.solve(solved, None, options).expect("it settles");
        let begun = kind.solve(begun, None, options).expect("it settles");
        let circuits = [(near, Near::Stores(&begun.start))];
        let alone = kind.solve(near, None, options).expect("it settles");
        let here = solve(&kind, &circuits, &from, options).remove(0);
        let all = kind.solve_near(&circuits, &from, options).remove(0);
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
            let solved = joined(&[20.0, 8.0]);
            let (here, all, alone) =
                three_ways(&solved, &solved.0, &joined(&near).0, &within(1e-6));
            let here = here.expect("the second diode blocks as foretold");
            assert!(are_alike(&here, &alone), "{near:?}: {here:?} and {alone:?}");
            assert_eq!(here, all);
        }
    }

    #[test]
    fn what_does_not_bend_as_foretold_goes_the_longer_way() {
        // The second diode was taken to block for good, and conducts now.
        let (solved, near) = (joined(&[20.0, 8.0]), joined(&[20.0, 21.0]).0);
        let (here, all, alone) = three_ways(&solved, &solved.0, &near, &within(1e-6));
        assert!(are_alike(&all, &alone), "{all:?} and {alone:?}");
        assert_eq!(here, None);
    }

    #[test]
    fn a_regulator_that_gives_up_is_followed() {
        // 17 V leave it headroom all the time, 14.9 V not in the valleys.
        let [begun, near] = [14.92, 14.9].map(|crest| regulated(crest, 0.05).0);
        let (here, all, alone) = three_ways(&regulated(17.0, 0.05), &begun, &near, &within(1e-5));
        assert!(alone[3] < 11.99, "it gives up: {alone:?}");
        let here = here.expect("the steps follow it");
        assert!(are_alike(&here, &alone), "{here:?} and {alone:?}");
        assert_eq!(here, all);
    }

    #[test]
    fn halves_that_are_not_alike_are_gone_through_whole() {
        let solved = regulated(17.0, 0.05);
        let [alike, unlike] = [0.05, 0.055].map(|slope| regulated(17.0, slope).0);
        assert!(
            three_ways(&solved, &solved.0, &alike, &within(1e-6))
                .0
                .is_some()
        );
        let (here, all, alone) = three_ways(&solved, &solved.0, &unlike, &within(1e-6));
        assert_eq!(here, None);
        assert!(are_alike(&all, &alone), "{all:?} and {alone:?}");
    }

    #[test]
    fn one_of_another_kind_keeps_none_of_the_others_from_going_this_way() {
        let (solved, outputs) = joined(&[20.0, 8.0]);
        let kind = Kind::of(&solved, &outputs, &[]).expect("a kind");
        let options = within(1e-6);
        let from = kind.solve(&solved, None, &options).expect("it settles");
        let systems = [[20.5, 8.5].as_slice(), &[20.5], &[19.0, 7.0]].map(|of| joined(of).0);
        let circuits = systems
            .each_ref()
            .map(|one| (one, Near::Stores(&from.start)));
        let together = solve(&kind, &circuits, &from, &options);
        assert!(together[1].is_none());
        for k in [0, 2] {
            let alone = solve(&kind, &circuits[k..=k], &from, &options).remove(0);
            let values = |of: &Option<Figures>| of.as_ref().expect("it settles").values.clone();
            assert_eq!(values(&together[k]), values(&alone));
        }
    }
}
