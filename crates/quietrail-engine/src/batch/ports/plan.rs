//! What is settled once for all circuits near a solved one: which steps are made, and what in each of them is nonlinear.

use super::super::mirror::Mirror;
use super::halves::Glass;
use super::kept::Whence;
use super::linear::Frame;
use super::newton::Sorts;
use super::operator::STAGES;
use crate::diode::{BLOCKING, DiodeLaw};
use crate::load::LoadLaw;
use crate::step::Tableau;
use crate::system::{Device, Kind, Law, Probe, System};
use crate::wave::Basis;

/// How far from where it would begin to conduct a diode must stay to count as blocking throughout: so many times its slope
/// voltage, and such a share of the largest source.
const FAR_FROM_CONDUCTING: (f64, f64) = (25.0, 0.15);
/// How many times the voltage below which it fades a load must have to count as constant.
const FAR_FROM_FADING: f64 = 2.0;
/// By how much earlier or later than in the solved circuit anything may happen in one near it, in cycles: devices may bend, and
/// short steps be wanted. A step too long is found and parted, a device that bends unforeseen sends its circuit the longer way.
const ASTRAY: f64 = 0.02;
const WANTED_ASTRAY: f64 = 0.01;
/// Steps by whose lengths the search felt its way at the start of the cycle.
const FELT: usize = 6;
/// Partings of a cycle, at most, that make a step.
const MOST_PARTED: u32 = 16;
/// Longest step, in cycles.
pub(super) const LONGEST: f64 = 1.0 / 32.0;
/// How much longer steps are of a cycle that is only gone through to see where the next one is to begin.
const ROUGHER: f64 = 2.0;
/// Steps beyond which going this way is not worth its memory.
const MOST_LEGS: usize = 400;
/// Ports and stores up to which dense equations are cheaper than sparse ones of the whole circuit.
pub(super) const MOST_PORTS: usize = 8;
const MOST_STORES: usize = 10;
/// Share of a row that must be new for it to tell something.
const NEW: f64 = 1e-4;

/// A step that the solved circuit made: where it began, its length, and what its devices saw at the stages.
#[derive(Clone, Debug)]
pub(crate) struct Seen {
    pub(crate) t: f64,
    pub(crate) h: f64,
    pub(crate) inputs: [Vec<[f64; 3]>; 3],
}

/// Steps of a cycle, or of half of one, and what is nonlinear in them.
#[derive(Clone, Debug)]
pub(crate) struct Plan {
    pub(super) arrangements: Vec<Arrangement>,
    /// How the linear part is solved in each.
    pub(super) frames: Vec<Frame>,
    /// What half cycles are mirrored with, if this is one.
    pub(super) glass: Option<Glass>,
    pub(super) course: Course,
    /// Longer steps, to go through a cycle roughly; and where after it the coordinates of the others are looked for.
    pub(super) rough: Course,
    pub(super) whence: Vec<Whence>,
}

/// Steps in order.
#[derive(Clone, Debug, Default)]
pub(super) struct Course {
    /// Arrangement and length of each operator.
    pub(super) operators: Vec<(usize, f64)>,
    pub(super) legs: Vec<Leg>,
    sources: Vec<Basis>,
}

/// A step.
#[derive(Clone, Debug)]
pub(super) struct Leg {
    /// Where it begins, in cycles.
    pub(super) t: f64,
    /// What solves its linear part.
    pub(super) operator: usize,
    pub(super) sorts: Sorts,
    /// Coordinates of the solved circuit, in their places.
    pub(super) guess: Vec<f64>,
    /// Sources, then 1, stage by stage.
    pub(super) sources: Vec<f64>,
}

/// Which devices are bent, and which as good as straight.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Arrangement {
    pub(super) ports: Vec<Port>,
    /// The others.
    pub(super) quiet: Vec<usize>,
}

/// A nonlinear device, and which of its inputs is the unknown.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Port {
    pub(super) device: usize,
    pub(super) coordinate: usize,
    /// How many inputs it has.
    pub(super) inputs: usize,
}

impl Plan {
    /// From what a circuit (as it was assembled, and reduced) did over a cycle, or by a mirror half of one; `None` where this
    /// way does not fit it.
    pub(crate) fn of(
        (system, reduced): (&System, &System),
        seen: &[Seen],
        mirror: Option<&Mirror>,
    ) -> Option<Self> {
        let until = seen.last().map(|last| last.t + last.h)?;
        let fits = |device: &Device| match &device.law {
            Law::Diode(DiodeLaw::Exponential { .. }) | Law::Load(_) | Law::Pass(_) => true,
            Law::Diode(DiodeLaw::Ideal { .. }) => false,
        };
        if !reduced.devices.iter().all(fits) || !(1..=MOST_STORES).contains(&reduced.stores.len()) {
            return None;
        }
        let mut plan = Self {
            arrangements: Vec::new(),
            frames: Vec::new(),
            glass: None,
            course: Course {
                sources: reduced.sources.clone(),
                ..Course::default()
            },
            rough: Course::default(),
            whence: Vec::new(),
        };
        let halves = if until < 0.75 { 0.5 } else { 1.0 };
        plan.go((system, reduced), (seen, halves), ROUGHER)?;
        plan.rough = plan.course.clone();
        plan.course.legs.clear();
        plan.go((system, reduced), (seen, halves), 1.0)?;
        plan.whence = plan.whence();
        if let Some(mirror) = mirror {
            plan.glass = Some(Glass::of(mirror, (system, reduced))?);
        }
        Some(plan)
    }

    /// Adds the steps of a cycle, so many times as long as they were seen to be.
    fn go(
        &mut self,
        of: (&System, &System),
        (seen, until): (&[Seen], f64),
        longer: f64,
    ) -> Option<()> {
        let mut spans = vec![(0.0, until, 0_u32)];
        // From the last to the first, so that they come out in order.
        while let Some((t, h, parted)) = spans.pop() {
            let around = (t - WANTED_ASTRAY, t + h + WANTED_ASTRAY);
            let wanted = (longer * shortest(seen, until, around)).min(LONGEST);
            if h > wanted && parted < MOST_PARTED {
                // Three where they will do: with halves alone steps are a third too short.
                let count = if 0.5 * h > wanted && h <= 3.0 * wanted {
                    3
                } else {
                    2
                };
                let part = h / f64::from(count);
                for k in (0..count).rev() {
                    spans.push((t + f64::from(k) * part, part, parted + 1));
                }
                continue;
            }
            if self.course.legs.len() == MOST_LEGS {
                return None;
            }
            self.add(of, (seen, until), (t, h))?;
        }
        Some(())
    }

    fn add(
        &mut self,
        (system, reduced): (&System, &System),
        (seen, until): (&[Seen], f64),
        (t, h): (f64, f64),
    ) -> Option<()> {
        let around = (t - ASTRAY, t + h + ASTRAY);
        let arrangement = Arrangement::of(reduced, |device, input| {
            extremes(seen, until, around, device, input)
        })?;
        let known = self.arrangements.iter().position(|k| *k == arrangement);
        let place = match known {
            Some(place) => place,
            None => {
                self.frames.push(Frame::of(system, &arrangement)?);
                self.arrangements.push(arrangement);
                self.arrangements.len() - 1
            }
        };
        let sorts = self.frames[place].sizes.sorts;
        let mut leg = self.course.leg(place, sorts, (t, h));
        for (stage, node) in Tableau::get().nodes.iter().enumerate() {
            for (k, port) in self.arrangements[place].ports.iter().enumerate() {
                let found = value(seen, t + node * h, port.device, port.coordinate);
                leg.guess[sorts.place(stage, k)] = found;
            }
        }
        self.course.legs.push(leg);
        Some(())
    }

    /// Where the coordinates of the steps are looked for after the rough ones were made.
    fn whence(&self) -> Vec<Whence> {
        let (rough, course) = (&self.rough, &self.course);
        let mut firsts = vec![0];
        for leg in &rough.legs {
            firsts.push(firsts[firsts.len() - 1] + leg.guess.len());
        }
        let arrangement = |leg: &Leg| &self.arrangements[course.operators[leg.operator].0];
        let mut all = Vec::new();
        for leg in &course.legs {
            let from = all.len();
            all.extend(leg.guess.iter().map(|guess| Whence::guessed(*guess)));
            let h = course.operators[leg.operator].1;
            for (stage, node) in Tableau::get().nodes.iter().enumerate() {
                let at = leg.t + node * h;
                let begun = rough.legs.partition_point(|rough| rough.t < at);
                let before = &rough.legs[begun - 1];
                let share = (at - before.t) / course.operators[before.operator].1;
                let known = &arrangement(before).ports;
                for (k, port) in arrangement(leg).ports.iter().enumerate() {
                    if let Some(other) = known.iter().position(|known| known == port) {
                        let way = (before.sorts, firsts[begun - 1], other);
                        all[from + leg.sorts.place(stage, k)] = Whence::along(way, (0, 1), share);
                    }
                }
            }
        }
        all
    }
}

impl Course {
    /// A step of an arrangement that begins at some time and is so long, with nothing guessed.
    fn leg(&mut self, place: usize, sorts: Sorts, (t, h): (f64, f64)) -> Leg {
        let known = self.operators.iter().position(|k| *k == (place, h));
        let operator = known.unwrap_or_else(|| {
            self.operators.push((place, h));
            self.operators.len() - 1
        });
        let mut sources = Vec::new();
        for node in Tableau::get().nodes {
            let at = t + node * h;
            sources.extend(self.sources.iter().map(|basis| basis.at(at)));
            sources.push(1.0);
        }
        Leg {
            t,
            operator,
            sorts,
            guess: vec![0.0; sorts.coordinates()],
            sources,
        }
    }

    /// A part of a step.
    pub(super) fn part(&mut self, of: &Leg, part: Part) -> Leg {
        let (place, h) = self.operators[of.operator];
        let h_of_part = h / part.1 as f64;
        let begins = of.t + part.0 as f64 * h_of_part;
        let mut leg = self.leg(place, of.sorts, (begins, h_of_part));
        for (stage, node) in Tableau::get().nodes.into_iter().enumerate() {
            let weights = along(part, node);
            for port in 0..of.sorts.ports() {
                let known = |j: usize| weights[j] * of.guess[of.sorts.place(j, port)];
                leg.guess[of.sorts.place(stage, port)] = (0..STAGES).map(known).sum();
            }
        }
        leg
    }
}

/// Which part of a step, of how many that are as long.
pub(super) type Part = (usize, usize);

/// Weights of the parabola through the stages of a step, at a share of the length of a part; of the whole, exact at stages.
pub(super) fn along((part, count): Part, share: f64) -> [f64; STAGES] {
    let nodes = Tableau::get().nodes;
    let theta = (part as f64 + share) / count as f64;
    std::array::from_fn(|j| {
        let others = (0..STAGES).filter(|&k| k != j);
        others
            .map(|k| (theta - nodes[k]) / (nodes[j] - nodes[k]))
            .product()
    })
}

impl Arrangement {
    /// By the lowest and highest that an input of a device comes to; `None` where nothing tells the unknowns.
    fn of(reduced: &System, range: impl Fn(usize, usize) -> (f64, f64)) -> Option<Self> {
        let (mut bent, mut quiet) = (Vec::new(), Vec::new());
        for (k, device) in reduced.devices.iter().enumerate() {
            if is_quiet(device, range(k, 0), reduced.volts_scale) {
                quiet.push(k);
            } else {
                bent.push(k);
            }
        }
        (bent.len() <= MOST_PORTS).then(|| Self::told(reduced, &bent, quiet))?
    }

    /// With every device bent.
    pub(super) fn all_bent(reduced: &System) -> Option<Self> {
        let all: Vec<usize> = (0..reduced.devices.len()).collect();
        Self::told(reduced, &all, Vec::new())
    }

    /// With coordinates that tell the unknowns.
    fn told(reduced: &System, bent: &[usize], quiet: Vec<usize>) -> Option<Self> {
        let mut known = Known::default();
        for store in &reduced.stores {
            known.learn(reduced, &store.value);
        }
        for &k in &quiet {
            known.learn(reduced, &quiet_row(&reduced.devices[k]));
        }
        // Currents first: where the last of those that meet is told by the others, the voltage is asked.
        let mut ports = Vec::new();
        let mut told = Vec::new();
        for &device in bent {
            let inputs = &reduced.devices[device].inputs;
            let current = inputs.len() - 1;
            if known.learn(reduced, &inputs[current]) > NEW {
                ports.push(Port {
                    device,
                    coordinate: current,
                    inputs: inputs.len(),
                });
            } else {
                told.push(device);
            }
        }
        // Diodes last: in series with others, they may be left out where these are solved.
        told.sort_by_key(|&device| is_diode(&reduced.devices[device]));
        for device in told {
            let inputs = &reduced.devices[device].inputs;
            if inputs.len() > 2 || known.learn(reduced, &inputs[0]) <= NEW {
                return None;
            }
            ports.push(Port {
                device,
                coordinate: 0,
                inputs: inputs.len(),
            });
        }
        Some(Self { ports, quiet })
    }

    /// How many of the last ports are diodes whose currents others tell.
    pub(super) fn diodes_in_series(&self, system: &System) -> usize {
        let in_series =
            |port: &&Port| port.coordinate == 0 && is_diode(&system.devices[port.device]);
        self.ports.iter().rev().take_while(in_series).count()
    }
}

fn is_diode(device: &Device) -> bool {
    matches!(device.law, Law::Diode(_))
}

/// Whether a device whose first input keeps within a range is as good as straight.
fn is_quiet(device: &Device, (low, high): (f64, f64), volts: f64) -> bool {
    match &device.law {
        Law::Diode(DiodeLaw::Exponential { slope_voltage, .. }) => {
            let (slopes, share) = FAR_FROM_CONDUCTING;
            high < -(slopes * slope_voltage).max(share * volts)
        }
        Law::Load(LoadLaw::Current { below, .. }) => low > FAR_FROM_FADING * below,
        _ => false,
    }
}

/// What stays the same of a quiet device, as a function of its inputs.
fn quiet_row(device: &Device) -> Probe {
    let mut row = device.inputs[device.inputs.len() - 1].clone();
    if let Law::Diode(DiodeLaw::Exponential { leakage, .. }) = &device.law {
        row.add(&device.inputs[0], -leakage.max(BLOCKING));
    }
    row
}

/// What rows told so far tell of others: an orthonormal basis of them, volts as shares of the largest source.
#[derive(Default)]
struct Known {
    basis: Vec<Vec<f64>>,
}

impl Known {
    /// Takes a row in, and says what share of it is new.
    fn learn(&mut self, system: &System, row: &Probe) -> f64 {
        let mut new = vec![0.0; system.n];
        for &(unknown, factor) in &row.x {
            new[unknown] += factor
                * match system.kinds[unknown] {
                    Kind::Volts => system.volts_scale,
                    Kind::Amperes => 1.0,
                };
        }
        let length = norm(&new);
        // Twice, for the sake of digits.
        for _ in 0..2 {
            for known in &self.basis {
                let part: f64 = known.iter().zip(&new).map(|(a, b)| a * b).sum();
                for (value, known) in new.iter_mut().zip(known) {
                    *value -= part * known;
                }
            }
        }
        let left = norm(&new);
        let share = left / length.max(f64::MIN_POSITIVE);
        if share > NEW {
            self.basis
                .push(new.iter().map(|value| value / left).collect());
        }
        share
    }
}

fn norm(of: &[f64]) -> f64 {
    of.iter().map(|v| v * v).sum::<f64>().sqrt()
}

/// Steps seen that overlap a range of times, which may lie beyond either end of the cycle, or of the half.
fn overlapping(
    seen: &[Seen],
    until: f64,
    (from, to): (f64, f64),
) -> impl Iterator<Item = (usize, &Seen)> {
    let is_within = move |step: &Seen| {
        [-until, 0.0, until]
            .iter()
            .any(|shift| step.t + shift < to && step.t + step.h + shift > from)
    };
    seen.iter()
        .enumerate()
        .filter(move |(_, step)| is_within(step))
}

/// The shortest step in a range of times, those aside by which the search felt its way at first.
fn shortest(seen: &[Seen], until: f64, range: (f64, f64)) -> f64 {
    overlapping(seen, until, range)
        .filter(|(k, step)| *k >= FELT || seen.get(k + 1).is_none_or(|next| next.h < 3.0 * step.h))
        .fold(LONGEST, |least, (_, step)| least.min(step.h))
}

/// Lowest and highest of a device's input in a range of times. Beyond an end of half a cycle another device does what this
/// one did, so only what lies within counts there.
fn extremes(
    seen: &[Seen],
    until: f64,
    range: (f64, f64),
    device: usize,
    input: usize,
) -> (f64, f64) {
    let within = (range.0.max(0.0), range.1.min(until));
    let values = overlapping(seen, until, within)
        .flat_map(|(_, step)| step.inputs.iter().map(move |stage| stage[device][input]));
    values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
        (low.min(value), high.max(value))
    })
}

/// An input of a device at a time, along straight lines between stages.
fn value(seen: &[Seen], at: f64, device: usize, input: usize) -> f64 {
    let nodes = Tableau::get().nodes;
    let mut before: Option<(f64, f64)> = None;
    for step in seen {
        for (node, stage) in nodes.iter().zip(&step.inputs) {
            let here = (step.t + node * step.h, stage[device][input]);
            if here.0 >= at {
                let Some(before) = before else { return here.1 };
                let share = (at - before.0) / (here.0 - before.0);
                return before.1 + share * (here.1 - before.1);
            }
            before = Some(here);
        }
    }
    before.map_or(0.0, |last| last.1)
}
