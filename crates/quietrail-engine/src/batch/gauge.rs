//! Figures of a cycle, gathered while it is integrated.

#![expect(
    clippy::needless_range_loop,
    reason = "lanes, stages and stores index several arrays at once"
)]

use super::collocation::{STAGES, Step};
use super::cubic::through;
use super::instructions::in_widest;
use super::lanes::{Lanes, Mask, WIDTH};
use super::mirror::{Mirror, Reading, Traits};
use super::terms::{Factors, Terms};
use super::turning::{Lengths, Range, Way};
use crate::signal::{Output, Signal};
use crate::system::{Probe, System};

/// Even points of a cycle at which traced signals are given.
pub const TRACE: usize = 1024;

/// What is gathered: signals, and what of each.
#[derive(Clone, Debug, Default)]
pub(crate) struct Gauges {
    pub(super) signals: Vec<Terms>,
    /// Pairs of signals whose product is integrated.
    pub(super) products: Vec<(usize, usize)>,
    /// Signals whose extremes are followed.
    pub(super) extremes: Vec<usize>,
    pub(super) figures: Vec<Figure>,
    /// Signals that are traced.
    traced: Vec<usize>,
    /// Where half a cycle is gathered, what reads there what these read in the other half.
    folded: Option<Folded>,
}

/// What is gathered beside the signals asked for, so that half a cycle tells all of it.
#[derive(Clone, Debug)]
struct Folded {
    /// Signal of the other half, and its sign, of each that was asked for.
    others: Vec<(usize, f64)>,
    /// Product of the other half.
    products: Vec<usize>,
    /// Signals asked for of which the other half is gathered only for its own sake; theirs follow those asked for.
    added: Vec<usize>,
}

/// An output in terms of what is gathered.
#[derive(Clone, Debug)]
pub(super) enum Figure {
    Mean(usize),
    /// Signal, product.
    Rms(usize, usize),
    RippleRms(usize, usize),
    Peak(usize),
    Valley(usize),
    /// (signal, signal, product) of each port.
    Power(Vec<(usize, usize, usize)>),
}

/// What has been gathered.
#[derive(Clone, Debug)]
pub(crate) struct Tally<'g> {
    gauges: &'g Gauges,
    pub(super) factors: Vec<Factors>,
    /// Values at the start of the cycle, from which all are counted.
    pub(super) base: Vec<Lanes>,
    now: Vec<Lanes>,
    /// Values at the start of the step taken last.
    pub(super) start: Vec<Lanes>,
    nodes: [f64; STAGES],
    /// Lengths of the step before last and of the last one.
    lengths: [Lanes; 2],
    /// Ways of the signals whose extremes are followed, in the order of these.
    ways: Vec<Way>,
    /// Length of the first step, and values of the same signals at its stages.
    first: (Lanes, Vec<[Lanes; STAGES]>),
    /// Values at the stages of a step.
    pub(super) course: Vec<[Lanes; STAGES]>,
    /// Lanes that have taken a step.
    begun: Mask,
    /// Steps taken: where each began, its length (none for lanes that did not take it), and traced values at its
    /// start and stages.
    path: Vec<(Lanes, Lanes, Vec<[Lanes; 4]>)>,
    pub(super) means: Vec<Lanes>,
    pub(super) products: Vec<Lanes>,
    pub(super) low: Vec<Lanes>,
    pub(super) high: Vec<Lanes>,
}

/// A figure's signals as probes, in the order in which [`Gauges::of`] meets them.
fn probes(output: &Output, system: &System) -> Option<Vec<Probe>> {
    with_rates(output, system)
        .into_iter()
        .map(|probe| system.without_rates(&probe))
        .collect()
}

/// The same, rates of stores among them.
fn with_rates(output: &Output, system: &System) -> Vec<Probe> {
    match output {
        Output::Mean(signal)
        | Output::Rms(signal)
        | Output::RippleRms(signal)
        | Output::Peak(signal)
        | Output::Valley(signal) => vec![signal.probe(system)],
        Output::Power(element) => system
            .ports(*element)
            .into_iter()
            .flat_map(|(voltage, current)| [voltage, current])
            .collect(),
    }
}

/// Those of all figures, then of the signals that are traced.
fn all_probes(outputs: &[Output], traced: &[Signal], system: &System) -> Option<Vec<Probe>> {
    let mut all = Vec::new();
    for output in outputs {
        all.extend(probes(output, system)?);
    }
    for signal in traced {
        all.push(system.without_rates(&signal.probe(system))?);
    }
    Some(all)
}

impl Gauges {
    /// For figures of systems like one; `None` where a signal cannot be had from the unknowns.
    pub(crate) fn of(outputs: &[Output], traced: &[Signal], system: &System) -> Option<Self> {
        let mut gauges = Self::default();
        let mut known: Vec<Probe> = Vec::new();
        let mut place = |probe: Probe, signals: &mut Vec<Terms>| {
            known.iter().position(|k| *k == probe).unwrap_or_else(|| {
                signals.push(Terms::of(&probe));
                known.push(probe);
                known.len() - 1
            })
        };
        for output in outputs {
            let mut indices = Vec::new();
            for probe in probes(output, system)? {
                indices.push(place(probe, &mut gauges.signals));
            }
            let mut product = |a: usize, b: usize| {
                let pair = (a.min(b), a.max(b));
                let all = &mut gauges.products;
                all.iter().position(|k| *k == pair).unwrap_or_else(|| {
                    all.push(pair);
                    all.len() - 1
                })
            };
            let mut extreme = |signal: usize| {
                if !gauges.extremes.contains(&signal) {
                    gauges.extremes.push(signal);
                }
            };
            gauges.figures.push(match output {
                Output::Mean(_) => Figure::Mean(indices[0]),
                Output::Rms(_) => Figure::Rms(indices[0], product(indices[0], indices[0])),
                Output::RippleRms(_) => {
                    Figure::RippleRms(indices[0], product(indices[0], indices[0]))
                }
                Output::Peak(_) => {
                    extreme(indices[0]);
                    Figure::Peak(indices[0])
                }
                Output::Valley(_) => {
                    extreme(indices[0]);
                    Figure::Valley(indices[0])
                }
                Output::Power(_) => Figure::Power(
                    indices
                        .chunks_exact(2)
                        .map(|pair| (pair[0], pair[1], product(pair[0], pair[1])))
                        .collect(),
                ),
            });
        }
        for signal in traced {
            let probe = system.without_rates(&signal.probe(system))?;
            let index = place(probe, &mut gauges.signals);
            gauges.traced.push(index);
        }
        Some(gauges)
    }

    /// The same from the first half of a cycle, of systems that mirror it in the second. The system's equations, and the
    /// same reduced.
    pub(crate) fn folded(
        &self,
        (outputs, traced): (&[Output], &[Signal]),
        (system, reduced): (&System, &System),
        mirror: &Mirror,
    ) -> Option<Self> {
        let mut gauges = self.clone();
        let met = all_probes(outputs, traced, reduced)?;
        let asked = self.signals.len();
        let mut known: Vec<Reading> = (0..asked)
            .map(|signal| Reading::of(&met[self.first_met(signal)?], reduced))
            .collect::<Option<_>>()?;
        let traits = Traits::of(reduced)?;
        let (mut others, mut added) = (Vec::new(), Vec::new());
        for signal in 0..asked {
            let other = mirror.reading(&known[signal], &traits);
            others.push(match other.among(&known) {
                Some(found) => found,
                None => {
                    let probe = mirror.probe(&known[signal], &traits, system)?;
                    gauges.signals.push(Terms::of(&probe));
                    added.push(signal);
                    known.push(other);
                    (known.len() - 1, 1.0)
                }
            });
        }
        for signal in &self.extremes {
            let other = others[*signal].0;
            if !gauges.extremes.contains(&other) {
                gauges.extremes.push(other);
            }
        }
        let products = self.products.iter().map(|&(a, b)| {
            let (a, b) = (others[a].0, others[b].0);
            let pair = (a.min(b), a.max(b));
            let all = &mut gauges.products;
            all.iter().position(|k| *k == pair).unwrap_or_else(|| {
                all.push(pair);
                all.len() - 1
            })
        });
        let products = products.collect();
        gauges.folded = Some(Folded {
            others,
            products,
            added,
        });
        Some(gauges)
    }

    /// Where in the list of all probes a signal is first met.
    fn first_met(&self, signal: usize) -> Option<usize> {
        let of_figures = self.figures.iter().flat_map(Figure::signals);
        let mut all = of_figures.chain(self.traced.iter().copied());
        all.position(|k| k == signal)
    }

    /// What each signal is of a system's unknowns; of half a cycle, with the same system reduced. `None` where one has terms
    /// in other places.
    pub(crate) fn probes(
        &self,
        (outputs, traced): (&[Output], &[Signal]),
        system: &System,
        half: Option<(&Mirror, &System)>,
    ) -> Option<Vec<Probe>> {
        let mut probes: Vec<Option<Probe>> = vec![None; self.signals.len()];
        // Each signal once, at the place where it was first met.
        let met = all_probes(outputs, traced, system)?;
        let of_figures = self.figures.iter().flat_map(Figure::signals);
        for (signal, probe) in of_figures.chain(self.traced.iter().copied()).zip(met) {
            probes[signal].get_or_insert(probe);
        }
        if let (Some(folded), Some((mirror, reduced))) = (&self.folded, half)
            && !folded.added.is_empty()
        {
            let met = all_probes(outputs, traced, reduced)?;
            let traits = Traits::of(reduced)?;
            let first = folded.others.len();
            for (k, signal) in folded.added.iter().enumerate() {
                let own = Reading::of(&met[self.first_met(*signal)?], reduced)?;
                probes[first + k] = Some(mirror.probe(&own, &traits, system)?);
            }
        }
        let probes: Vec<Probe> = probes.into_iter().collect::<Option<_>>()?;
        let mut pairs = self.signals.iter().zip(&probes);
        pairs
            .all(|(terms, probe)| terms.take(probe))
            .then_some(probes)
    }

    /// What each signal that was asked for is of a system's unknowns and the rates of its stores.
    pub(crate) fn asked_probes(
        &self,
        (outputs, traced): (&[Output], &[Signal]),
        system: &System,
    ) -> Option<Vec<Probe>> {
        let mut probes: Vec<Option<Probe>> = vec![None; self.asked()];
        let of_figures = outputs.iter().flat_map(|output| with_rates(output, system));
        let of_traced = traced.iter().map(|signal| signal.probe(system));
        let signals = self.figures.iter().flat_map(Figure::signals);
        let met = signals.chain(self.traced.iter().copied());
        for (signal, probe) in met.zip(of_figures.chain(of_traced)) {
            probes[signal].get_or_insert(probe);
        }
        probes.into_iter().collect()
    }

    /// How many signals were asked for.
    fn asked(&self) -> usize {
        let folded = self.folded.as_ref();
        folded.map_or(self.signals.len(), |folded| folded.others.len())
    }

    /// Signals of which, behind those asked for, another reads the other half of the cycle.
    pub(crate) fn added(&self) -> &[usize] {
        self.folded.as_ref().map_or(&[], |folded| &folded.added)
    }

    /// Of half a cycle, what reads in it what a signal reads in the other half, and its sign.
    pub(super) fn other(&self, signal: usize) -> Option<(usize, f64)> {
        let Folded { others, added, .. } = self.folded.as_ref()?;
        let of_added = || (added[signal - others.len()], 1.0);
        Some(others.get(signal).copied().unwrap_or_else(of_added))
    }

    /// The same of a product of two signals.
    pub(super) fn other_product(&self, product: usize) -> Option<(usize, f64)> {
        let (a, b) = self.products[product];
        let sign = self.other(a)?.1 * self.other(b)?.1;
        Some((self.folded.as_ref()?.products[product], sign))
    }

    /// An empty tally for eight systems, by what each signal is of their unknowns.
    pub(crate) fn tally(&self, probes: [&[Probe]; WIDTH]) -> Option<Tally<'_>> {
        let signals = self.signals.iter().enumerate();
        let factors = signals.map(|(k, terms)| terms.gather(probes.map(|of| &of[k])));
        let factors = factors.collect::<Option<_>>()?;
        Some(Tally {
            factors,
            ..self.tally_of_courses()
        })
    }

    /// An empty tally that takes the values of signals, not unknowns.
    pub(crate) fn tally_of_courses(&self) -> Tally<'_> {
        let zero = vec![Lanes::ZERO; self.signals.len()];
        Tally {
            gauges: self,
            factors: Vec::new(),
            base: zero.clone(),
            now: zero.clone(),
            start: zero.clone(),
            nodes: crate::step::Tableau::get().nodes,
            lengths: [Lanes::ZERO; 2],
            ways: vec![Way::unknown(); self.extremes.len()],
            first: (
                Lanes::ZERO,
                vec![[Lanes::ZERO; STAGES]; self.extremes.len()],
            ),
            begun: Mask::NONE,
            course: vec![[Lanes::ZERO; STAGES]; self.signals.len()],
            path: Vec::new(),
            means: zero.clone(),
            products: vec![Lanes::ZERO; self.products.len()],
            low: zero.clone(),
            high: zero,
        }
    }
}

impl Figure {
    /// Its signals in the order of [`probes`].
    fn signals(&self) -> Vec<usize> {
        match self {
            Figure::Mean(a)
            | Figure::Rms(a, _)
            | Figure::RippleRms(a, _)
            | Figure::Peak(a)
            | Figure::Valley(a) => vec![*a],
            Figure::Power(ports) => ports.iter().flat_map(|(a, b, _)| [*a, *b]).collect(),
        }
    }
}

impl Tally<'_> {
    /// Begins a cycle. Values are counted from those at unknowns near its start, so that small ripples keep
    /// their digits.
    pub(crate) fn begin(&mut self, x: &[Lanes], s: &[Lanes]) {
        let signals = self.gauges.signals.iter().zip(&self.factors);
        let values: Vec<Lanes> = signals
            .map(|(terms, factors)| factors.at(terms, x, s))
            .collect();
        self.begin_at(values.into_iter());
    }

    /// The same from values of the signals there.
    pub(crate) fn begin_at(&mut self, values: impl Iterator<Item = Lanes>) {
        for (k, value) in values.enumerate() {
            self.base[k] = value;
            self.now[k] = Lanes::ZERO;
            self.means[k] = Lanes::ZERO;
            self.low[k] = Lanes::all(f64::INFINITY);
            self.high[k] = Lanes::all(f64::NEG_INFINITY);
        }
        self.ways.fill(Way::unknown());
        self.begun = Mask::NONE;
        self.path.clear();
        for product in &mut self.products {
            *product = Lanes::ZERO;
        }
    }

    /// Takes a step in the lanes that accepted it.
    pub(crate) fn take(&mut self, step: &Step, (t, h): (Lanes, Lanes), accepted: Mask) {
        take(self, step, h, accepted);
        self.draw((t, h), accepted);
    }

    /// Takes a step by the values of each signal at its stages, a method's nodes and weights.
    #[inline(always)]
    pub(crate) fn take_courses(
        &mut self,
        courses: &[[Lanes; STAGES]],
        method: ([f64; STAGES], [f64; STAGES]),
        (t, h): (Lanes, Lanes),
        accepted: Mask,
    ) {
        for ((course, values), base) in self.course.iter_mut().zip(courses).zip(&self.base) {
            *course = values.map(|value| value - *base);
        }
        add_lanes(self, method, h, accepted);
        self.draw((t, h), accepted);
    }

    #[inline(always)]
    fn draw(&mut self, (t, h): (Lanes, Lanes), accepted: Mask) {
        if !self.gauges.traced.is_empty() {
            let length = accepted.select(h, Lanes::ZERO);
            let values = self.drawn().into_iter().map(|(k, _)| {
                let [p, q, r] = self.course[k];
                [self.start[k], p, q, r]
            });
            self.path.push((t, length, values.collect()));
        }
    }

    /// Signals that are drawn, each with its sign; of half a cycle, then those that make the other half.
    fn drawn(&self) -> Vec<(usize, f64)> {
        let own = self.gauges.traced.iter();
        let others = self.gauges.folded.iter().flat_map(|folded| {
            let traced = self.gauges.traced.iter();
            traced.map(|&k| folded.others[k])
        });
        own.map(|&k| (k, 1.0)).chain(others).collect()
    }

    /// The traced signals of one lane at even points of the cycle.
    pub(crate) fn traces(&self, lane: usize) -> Vec<Vec<f64>> {
        let count = self.gauges.traced.len();
        let mut traces = vec![vec![0.0; TRACE]; count];
        let drawn = self.drawn();
        for (t, h, values) in &self.path {
            let (t, h) = (t.0[lane], h.0[lane]);
            if h == 0.0 {
                continue;
            }
            let first = (t * TRACE as f64).ceil() as usize;
            let beyond = ((t + h) * TRACE as f64).ceil() as usize;
            for point in first..beyond.min(TRACE) {
                let theta = (point as f64 / TRACE as f64 - t) / h;
                let w = through(self.nodes, theta);
                for (at, (values, &(k, sign))) in values.iter().zip(&drawn).enumerate() {
                    let value = self.base[k].0[lane]
                        + (0..4).map(|i| w[i] * values[i].0[lane]).sum::<f64>();
                    let half_on = at / count.max(1) * TRACE / 2;
                    traces[at % count][(point + half_on) % TRACE] = sign * value;
                }
            }
        }
        traces
    }

    /// The figures of one lane.
    pub(crate) fn read(&self, lane: usize) -> Vec<f64> {
        let mean = |k: usize| self.mean(k, lane);
        let covariance = |p: usize| self.covariance(p, lane);
        let figures = self.gauges.figures.iter();
        figures
            .map(|figure| match figure {
                Figure::Mean(k) => mean(*k),
                Figure::RippleRms(_, p) => covariance(*p).max(0.0).sqrt(),
                Figure::Rms(k, p) => {
                    let level = mean(*k);
                    (covariance(*p).max(0.0) + level * level).sqrt()
                }
                Figure::Peak(k) => self.end(*k, true, lane).0,
                Figure::Valley(k) => self.end(*k, false, lane).0,
                Figure::Power(ports) => ports
                    .iter()
                    .map(|(a, b, p)| covariance(*p) + mean(*a) * mean(*b))
                    .sum(),
            })
            .collect()
    }

    /// Mean of a signal over the whole cycle.
    pub(super) fn mean(&self, k: usize, lane: usize) -> f64 {
        let base = |k: usize| self.base[k].0[lane];
        // Of what it has over its base: of half a cycle, half as much as its mean there.
        let over = |k: usize| self.means[k].0[lane];
        match self.gauges.other(k) {
            None => base(k) + over(k),
            Some((other, sign)) => {
                0.5 * (base(k) + sign * base(other)) + over(k) + sign * over(other)
            }
        }
    }

    /// Mean over the whole cycle of a product of what two signals have over their means.
    pub(super) fn covariance(&self, p: usize, lane: usize) -> f64 {
        let over = |k: usize| self.means[k].0[lane];
        let (a, b) = self.gauges.products[p];
        let Some((of_other, sign)) = self.gauges.other_product(p) else {
            return self.products[p].0[lane] - over(a) * over(b);
        };
        // What each half has over the means: base and mean differ by about the ripple.
        let half = |p: usize| {
            let (a, b) = self.gauges.products[p];
            let (a_base, b_base) = (self.base_over_mean(a, lane), self.base_over_mean(b, lane));
            self.products[p].0[lane] + a_base * over(b) + b_base * over(a) + 0.5 * a_base * b_base
        };
        half(p) + sign * half(of_other)
    }

    /// What the value at the start of the cycle has over the mean.
    pub(super) fn base_over_mean(&self, k: usize, lane: usize) -> f64 {
        match self.gauges.other(k) {
            None => -self.means[k].0[lane],
            Some(_) => self.base[k].0[lane] - self.mean(k, lane),
        }
    }

    /// Lowest and highest value of a signal whose extremes are followed, over its base, also where the end of what was gathered
    /// leads into the start of another signal, of this sign.
    fn range(&self, signal: usize, (next, sign): (usize, f64)) -> Range {
        let within = (self.low[signal], self.high[signal]);
        let place = |signal: usize| self.gauges.extremes.iter().position(|k| *k == signal);
        let (Some(own), Some(other)) = (place(signal), place(next)) else {
            return within;
        };
        let sign = Lanes::all(sign);
        let first =
            self.first.1[other].map(|value| sign * (self.base[next] + value) - self.base[signal]);
        let [before_last, last] = self.lengths;
        let lengths = Lengths::of(self.nodes, [before_last, last, self.first.0]);
        self.ways[own].around(first, &lengths, within)
    }

    /// Highest or lowest value of a signal over the whole cycle; which signal came to it, whether as its highest, and the sign
    /// with which it counts.
    pub(super) fn end(&self, k: usize, is_high: bool, lane: usize) -> (f64, (usize, bool, f64)) {
        let own = |k: usize, is_high: bool, next: (usize, f64)| {
            let (low, high) = self.range(k, next);
            let over = if is_high { high } else { low };
            self.base[k].0[lane] + over.0[lane]
        };
        let Some((other, sign)) = self.gauges.other(k) else {
            return (own(k, is_high, (k, 1.0)), (k, is_high, 1.0));
        };
        // The end of either half leads into the start of the other.
        let here = (own(k, is_high, (other, sign)), (k, is_high, 1.0));
        let as_high = is_high == (sign > 0.0);
        let there = own(other, as_high, (k, sign));
        let there = (sign * there, (other, as_high, sign));
        if (there.0 > here.0) == is_high && there.0 != here.0 {
            there
        } else {
            here
        }
    }
}

in_widest!(
    fn take(tally: &mut Tally<'_>, step: &Step, h: Lanes, accepted: Mask) = take_lanes
);

#[inline(always)]
fn take_lanes(tally: &mut Tally<'_>, step: &Step, h: Lanes, accepted: Mask) {
    for (k, (terms, factors)) in tally.gauges.signals.iter().zip(&tally.factors).enumerate() {
        for i in 0..STAGES {
            let value = factors.at(terms, &step.x[i], &step.sources[i].s);
            tally.course[k][i] = value - tally.base[k];
        }
    }
    add_lanes(tally, (step.nodes(), step.weights()), h, accepted);
}

/// Adds what the courses of a step come to.
#[inline(always)]
fn add_lanes(
    tally: &mut Tally<'_>,
    (nodes, weights): ([f64; STAGES], [f64; STAGES]),
    h: Lanes,
    accepted: Mask,
) {
    for (mean, course) in tally.means.iter_mut().zip(&tally.course) {
        let mut sum = Lanes::ZERO;
        for i in 0..STAGES {
            sum += Lanes::all(weights[i]) * course[i];
        }
        *mean += accepted.select(h * sum, Lanes::ZERO);
    }
    for (sum, &(a, b)) in tally.products.iter_mut().zip(&tally.gauges.products) {
        let mut part = Lanes::ZERO;
        for i in 0..STAGES {
            part += Lanes::all(weights[i]) * tally.course[a][i] * tally.course[b][i];
        }
        *sum += accepted.select(h * part, Lanes::ZERO);
    }
    for k in 0..tally.start.len() {
        tally.start[k] = tally.begun.select(tally.now[k], tally.course[k][0]);
    }
    follow_extremes(tally, nodes, h, accepted);
    for (now, course) in tally.now.iter_mut().zip(&tally.course) {
        *now = accepted.select(course[2], *now);
    }
    tally.begun = tally.begun.or(accepted);
}

/// Follows the signals whose extremes are asked for through a step.
#[inline(always)]
fn follow_extremes(tally: &mut Tally<'_>, nodes: [f64; STAGES], h: Lanes, accepted: Mask) {
    let [before_last, last] = tally.lengths;
    let lengths = Lengths::of(nodes, [before_last, last, h]);
    let is_first = accepted.and(tally.begun.not());
    for (at, &k) in tally.gauges.extremes.iter().enumerate() {
        let mut range = (tally.low[k], tally.high[k]);
        tally.ways[at].take(tally.course[k], &lengths, accepted, &mut range);
        (tally.low[k], tally.high[k]) = range;
        if is_first.any() {
            for (kept, value) in tally.first.1[at].iter_mut().zip(tally.course[k]) {
                *kept = is_first.select(value, *kept);
            }
        }
    }
    tally.first.0 = is_first.select(h, tally.first.0);
    tally.lengths = [accepted.select(last, before_last), accepted.select(h, last)];
}
