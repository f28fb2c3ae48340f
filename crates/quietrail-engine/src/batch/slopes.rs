//! Derivatives of a cycle's figures against parameters, eight at a time.
//!
//! As [`crate::sensitivity`] has it: a parameter enters as two systems, a little to either side of the one solved, whose
//! residuals at the known solution are compared; how the solution itself moves follows from the steps' own matrices, and
//! from the cycle having to stay closed. Here the solved circuit is the same in all lanes, and each lane is a direction:
//! first every store at the start of the cycle, then every parameter.
//!
//! Of a circuit that does in each half cycle what it did in the other, mirrored, in all directions, half a cycle tells the
//! whole: what its end moves by is mirrored like the end itself.

#![expect(
    clippy::needless_range_loop,
    reason = "lanes, stages and stores index several arrays at once"
)]

use super::Slopes;
use super::collocation::{STAGES, Step};
use super::cubic::{through, where_extreme};
use super::equations::Equations;
use super::gauge::{Figure, Gauges, Tally};
use super::instructions::in_widest;
use super::lanes::{Lanes, WIDTH};
use super::law::LaneLaw;
use super::mirror::Mirror;
use super::terms::{Factors, Terms};
use crate::dense::Lu;
use crate::signal::{Output, Signal};
use crate::system::{Probe, System};

/// What is gathered of all directions.
pub(crate) struct Carried<'g> {
    gauges: &'g Gauges,
    lists: Vec<List>,
    stores: usize,
    parameters: usize,
    /// Extremes so far of the signals that are followed, to see which step has moved them.
    low: Vec<f64>,
    high: Vec<f64>,
    has_begun: bool,
    right: Vec<Lanes>,
    rates: Vec<Lanes>,
    own: [Vec<Lanes>; STAGES],
}

/// Eight directions.
struct List {
    /// Derivative of each store where the last step ended.
    moved: Vec<Lanes>,
    linear: Vec<(usize, usize, Lanes)>,
    drive: Vec<(usize, usize, Lanes)>,
    /// (row, store, derivative).
    charges: Vec<(usize, usize, Lanes)>,
    /// Stores whose own formula moves.
    values: Vec<(usize, Moving)>,
    devices: Vec<MovingDevice>,
    /// Signals whose own formula moves.
    signals: Vec<(usize, Moving)>,
    inverse_span: Lanes,
    /// Derivatives of the signals: at the stages of a step, and at its start.
    course: Vec<[Lanes; STAGES]>,
    start: Vec<Lanes>,
    means: Vec<Lanes>,
    /// Of each product of signals: the first's derivative with the second's value, and the other way round.
    products: Vec<[Lanes; 2]>,
    low: Vec<Lanes>,
    high: Vec<Lanes>,
}

/// Derivative of a linear function's factors.
struct Moving {
    x: Vec<(usize, Lanes)>,
    s: Vec<(usize, Lanes)>,
}

/// A device with its parameter higher, and lower.
struct MovingDevice {
    index: usize,
    row: usize,
    sides: [(LaneLaw, Vec<Factors>); 2],
}

impl Moving {
    /// Of a function that is the same in every lane but for the parameter; `None` where nothing moves.
    fn of(terms: &Terms, plus: &Factors, minus: &Factors, inverse_span: Lanes) -> Option<Self> {
        let list = |places: &[usize], plus: &[Lanes], minus: &[Lanes]| -> Vec<(usize, Lanes)> {
            let pairs = places.iter().zip(plus.iter().zip(minus));
            pairs
                .filter(|(_, (p, m))| p.0 != m.0)
                .map(|(place, (p, m))| (*place, (*p - *m) * inverse_span))
                .collect()
        };
        let moving = Self {
            x: list(&terms.x, &plus.x, &minus.x),
            s: list(&terms.s, &plus.s, &minus.s),
        };
        (!moving.x.is_empty() || !moving.s.is_empty()).then_some(moving)
    }

    #[inline(always)]
    fn at(&self, x: &[Lanes], s: &[Lanes]) -> Lanes {
        let mut sum = Lanes::ZERO;
        for &(place, factor) in &self.x {
            sum += factor * x[place];
        }
        for &(place, factor) in &self.s {
            sum += factor * s[place];
        }
        sum
    }
}

impl<'g> Carried<'g> {
    /// For one circuit and its directions, all reduced alike; `None` where one has entries that the circuit lacks.
    pub(crate) fn of(
        gauges: &'g Gauges,
        asked: (&[Output], &[Signal]),
        base: &Equations<'_>,
        directions: &[(System, System, f64)],
    ) -> Option<Self> {
        let stores = base.shape.stores.len();
        let parameters = directions.len();
        let mut lists = Vec::new();
        for list in 0..stores.div_ceil(WIDTH) {
            let unit = |k: usize| {
                Lanes(std::array::from_fn(|lane| {
                    f64::from(u8::from(list * WIDTH + lane == k))
                }))
            };
            lists.push(List::still(gauges, (0..stores).map(unit).collect()));
        }
        for chunk in directions.chunks(WIDTH) {
            // Lanes left over repeat the first and are not read.
            let lane = |k: usize| chunk.get(k).unwrap_or(&chunk[0]);
            let plus: [&System; WIDTH] = std::array::from_fn(|k| &lane(k).0);
            let minus: [&System; WIDTH] = std::array::from_fn(|k| &lane(k).1);
            let inverse_span = Lanes(std::array::from_fn(|k| 1.0 / lane(k).2));
            let above = Equations::gather(base.shape, plus)?;
            let below = Equations::gather(base.shape, minus)?;
            let read = |systems: [&System; WIDTH]| {
                let probes = systems.map(|system| gauges.probes(asked, system, None));
                let probes: Vec<Vec<Probe>> = probes.into_iter().collect::<Option<_>>()?;
                gauges.tally(std::array::from_fn(|lane| probes[lane].as_slice()))
            };
            let (read_above, read_below) = (read(plus)?, read(minus)?);
            let mut list = List::still(gauges, vec![Lanes::ZERO; stores]);
            list.inverse_span = inverse_span;
            list.learn(&above, &below);
            for (k, terms) in gauges.signals.iter().enumerate() {
                let (p, m) = (&read_above.factors[k], &read_below.factors[k]);
                if let Some(moving) = Moving::of(terms, p, m, inverse_span) {
                    list.signals.push((k, moving));
                }
            }
            lists.push(list);
        }
        Some(Self {
            gauges,
            lists,
            stores,
            parameters,
            low: vec![f64::INFINITY; gauges.signals.len()],
            high: vec![f64::NEG_INFINITY; gauges.signals.len()],
            has_begun: false,
            right: vec![Lanes::ZERO; STAGES * base.shape.n],
            rates: vec![Lanes::ZERO; stores],
            own: std::array::from_fn(|_| vec![Lanes::ZERO; stores]),
        })
    }

    /// Takes a step from stores `z`, `h` cycles long, that the tally has taken already.
    pub(crate) fn take(
        &mut self,
        step: &mut Step,
        equations: &Equations<'_>,
        (z, h): (&[Lanes], Lanes),
        tally: &Tally<'_>,
    ) {
        let mut extremes: Vec<(usize, bool, f64)> = Vec::new();
        for &k in &self.gauges.extremes {
            let course = tally.course[k].map(|value| value.0[0]);
            let start = tally.start[k].0[0];
            let (lowest, low) = where_extreme(step.nodes(), start, course, false);
            if low < self.low[k] {
                self.low[k] = low;
                extremes.push((k, false, lowest));
            }
            let (highest, high) = where_extreme(step.nodes(), start, course, true);
            if high > self.high[k] {
                self.high[k] = high;
                extremes.push((k, true, highest));
            }
        }
        for list in &mut self.lists {
            let scratch = (&mut self.right, &mut self.rates, &mut self.own);
            carry(list, step, equations, (z, h), scratch);
            gather(list, self.gauges, step, equations, h, tally);
            if !self.has_begun {
                // As the tally has it of the values themselves.
                for (start, course) in list.start.iter_mut().zip(&list.course) {
                    *start = course[0];
                }
            }
            for &(k, is_high, theta) in &extremes {
                let w = through(step.nodes(), theta);
                let [p, q, r] = list.course[k];
                let value = Lanes::all(w[0]) * list.start[k]
                    + Lanes::all(w[1]) * p
                    + Lanes::all(w[2]) * q
                    + Lanes::all(w[3]) * r;
                let kept = if is_high {
                    &mut list.high
                } else {
                    &mut list.low
                };
                kept[k] = value;
            }
            for (start, course) in list.start.iter_mut().zip(&list.course) {
                *start = course[2];
            }
        }
        self.has_begun = true;
    }

    /// Derivatives against each parameter, of half a cycle by what it is mirrored with; `None` for a cycle without them.
    pub(crate) fn read(&mut self, tally: &Tally<'_>, mirror: Option<&Mirror>) -> Option<Slopes> {
        if let Some(mirror) = mirror {
            for list in &mut self.lists {
                list.moved = mirror.exchanged(&list.moved, |lanes, sign| Lanes::all(sign) * lanes);
            }
        }
        let (stores, parameters) = (self.stores, self.parameters);
        let own = stores.div_ceil(WIDTH);
        let of_store = |k: usize| (&self.lists[k / WIDTH], k % WIDTH);
        let of_parameter = |p: usize| (&self.lists[own + p / WIDTH], p % WIDTH);
        // How the start of the cycle moves with each parameter for it to stay closed.
        let mut matrix = vec![0.0; stores * stores];
        for row in 0..stores {
            for column in 0..stores {
                let (list, lane) = of_store(column);
                matrix[row * stores + column] =
                    f64::from(u8::from(row == column)) - list.moved[row].0[lane];
            }
        }
        let mut lu = Lu::default();
        if stores > 0 {
            lu.factor(&matrix, stores).ok()?;
        }
        let mut slopes = Slopes {
            figures: vec![vec![0.0; parameters]; self.gauges.figures.len()],
            start: vec![vec![0.0; parameters]; stores],
        };
        for p in 0..parameters {
            let (list, lane) = of_parameter(p);
            let drift: Vec<f64> = list.moved.iter().map(|moved| moved.0[lane]).collect();
            let mut start = vec![0.0; stores];
            if stores > 0 {
                lu.solve(&drift, &mut start);
            }
            let figures = slopes.figures.iter_mut().zip(&self.gauges.figures);
            for (row, figure) in figures {
                let mut slope = list.slope(self.gauges, figure, tally, lane);
                for (k, moved) in start.iter().enumerate() {
                    let (list, lane) = of_store(k);
                    slope += moved * list.slope(self.gauges, figure, tally, lane);
                }
                row[p] = slope;
            }
            for (row, moved) in slopes.start.iter_mut().zip(start) {
                row[p] = moved;
            }
        }
        Some(slopes)
    }
}

impl List {
    /// Directions in which no equation moves.
    fn still(gauges: &Gauges, moved: Vec<Lanes>) -> Self {
        let signals = gauges.signals.len();
        Self {
            moved,
            linear: Vec::new(),
            drive: Vec::new(),
            charges: Vec::new(),
            values: Vec::new(),
            devices: Vec::new(),
            signals: Vec::new(),
            inverse_span: Lanes::ZERO,
            course: vec![[Lanes::ZERO; STAGES]; signals],
            start: vec![Lanes::ZERO; signals],
            means: vec![Lanes::ZERO; signals],
            products: vec![[Lanes::ZERO; 2]; gauges.products.len()],
            low: vec![Lanes::ZERO; signals],
            high: vec![Lanes::ZERO; signals],
        }
    }

    /// What differs between the systems above and below.
    fn learn(&mut self, above: &Equations<'_>, below: &Equations<'_>) {
        let by = self.inverse_span;
        let shape = above.shape;
        for (entry, (p, m)) in shape
            .linear
            .iter()
            .zip(above.linear.iter().zip(&below.linear))
        {
            if p.0 != m.0 {
                self.linear.push((entry.0, entry.1, (*p - *m) * by));
            }
        }
        for (entry, (p, m)) in shape.drive.iter().zip(above.drive.iter().zip(&below.drive)) {
            if p.0 != m.0 {
                self.drive.push((entry.0, entry.1, (*p - *m) * by));
            }
        }
        for (k, rows) in shape.charges.iter().enumerate() {
            for (at, &row) in rows.iter().enumerate() {
                let p = above.frequency * above.charges[k][at];
                let m = below.frequency * below.charges[k][at];
                if p.0 != m.0 {
                    self.charges.push((row, k, (p - m) * by));
                }
            }
            let terms = &shape.stores[k];
            if let Some(moving) = Moving::of(terms, &above.stores[k], &below.stores[k], by) {
                self.values.push((k, moving));
            }
        }
        for (index, device) in shape.devices.iter().enumerate() {
            let (p, m) = (&above.devices[index], &below.devices[index]);
            if p != m {
                self.devices.push(MovingDevice {
                    index,
                    row: device.row,
                    sides: [p.clone(), m.clone()],
                });
            }
        }
    }

    /// Derivative of a figure in one direction, the start of the cycle aside.
    fn slope(&self, gauges: &Gauges, figure: &Figure, tally: &Tally<'_>, lane: usize) -> f64 {
        let mean = |k: usize| {
            let of_other = gauges
                .other(k)
                .map(|(k, sign)| sign * self.means[k].0[lane]);
            self.means[k].0[lane] + of_other.unwrap_or(0.0)
        };
        let covariance = |p: usize| {
            let other = gauges.other_product(p);
            let of_other = other.map(|(p, sign)| sign * self.covariance(gauges, p, tally, lane));
            self.covariance(gauges, p, tally, lane) + of_other.unwrap_or(0.0)
        };
        let end = |k: usize, is_high: bool| {
            let (_, (k, as_high, sign)) = tally.end(k, is_high, lane);
            sign * if as_high { &self.high } else { &self.low }[k].0[lane]
        };
        match figure {
            Figure::Mean(k) => mean(*k),
            Figure::Rms(k, p) => {
                let level = tally.mean(*k, lane);
                let rms = (tally.covariance(*p, lane).max(0.0) + level * level).sqrt();
                (0.5 * covariance(*p) + level * mean(*k)) / rms.max(f64::MIN_POSITIVE)
            }
            Figure::RippleRms(_, p) => {
                let ripple = tally.covariance(*p, lane).max(0.0).sqrt();
                0.5 * covariance(*p) / ripple.max(f64::MIN_POSITIVE)
            }
            Figure::Peak(k) => end(*k, true),
            Figure::Valley(k) => end(*k, false),
            Figure::Power(ports) => ports
                .iter()
                .map(|(a, b, p)| {
                    let level = |k: usize| tally.mean(k, lane);
                    covariance(*p) + level(*b) * mean(*a) + level(*a) * mean(*b)
                })
                .sum(),
        }
    }

    /// What the cycle, or the half, adds to the derivative of the mean of a product of what two signals have over their means.
    fn covariance(&self, gauges: &Gauges, p: usize, tally: &Tally<'_>, lane: usize) -> f64 {
        let (a, b) = gauges.products[p];
        let [of_first, of_second] = self.products[p].map(|sum| sum.0[lane]);
        of_first
            + of_second
            + tally.base_over_mean(b, lane) * self.means[a].0[lane]
            + tally.base_over_mean(a, lane) * self.means[b].0[lane]
    }
}

/// Room for a step's right-hand side, for rates, and for what stores' own formulas do at the stages.
type Scratch<'a> = (
    &'a mut Vec<Lanes>,
    &'a mut Vec<Lanes>,
    &'a mut [Vec<Lanes>; STAGES],
);

in_widest!(
    /// Carries the directions over the step; leaves derivatives of the unknowns as the step's answer.
    fn carry(
        list: &mut List,
        step: &mut Step,
        equations: &Equations<'_>,
        at: (&[Lanes], Lanes),
        scratch: Scratch<'_>,
    ) = carry_lanes
);

#[inline(always)]
fn carry_lanes(
    list: &mut List,
    step: &mut Step,
    equations: &Equations<'_>,
    (z, h): (&[Lanes], Lanes),
    (right, rates, own): Scratch<'_>,
) {
    let n = equations.shape.n;
    let stores = list.moved.len();
    right.fill(Lanes::ZERO);
    for i in 0..STAGES {
        own[i].fill(Lanes::ZERO);
        for (k, moving) in &list.values {
            own[i][*k] = moving.at(&step.x[i], &step.sources[i].s);
        }
    }
    let inverse_h = Lanes::ONE / h;
    for i in 0..STAGES {
        let d = step.inverse()[i].map(Lanes::all);
        let out = &mut right[i * n..(i + 1) * n];
        for k in 0..stores {
            let from_start = (d[0] + d[1] + d[2]) * list.moved[k];
            let of_own = d[0] * own[0][k] + d[1] * own[1][k] + d[2] * own[2][k];
            rates[k] = (from_start - of_own) * inverse_h;
        }
        equations.add_charges(rates, out);
        for &(row, column, slope) in &list.linear {
            out[row] -= slope * step.x[i][column];
        }
        for &(row, source, slope) in &list.drive {
            out[row] -= slope * step.sources[i].s[source];
        }
        for &(row, k, slope) in &list.charges {
            let rate = d[0] * (step.z[0][k] - z[k])
                + d[1] * (step.z[1][k] - z[k])
                + d[2] * (step.z[2][k] - z[k]);
            out[row] -= slope * rate * inverse_h;
        }
        for device in &list.devices {
            out[device.row] -= device.slope(step, equations, i) * list.inverse_span;
        }
    }
    step.answer(equations, right);
    for (k, moved) in list.moved.iter_mut().enumerate() {
        *moved = equations.store_change(k, &step.answered()[2 * n..]) + own[2][k];
    }
}

in_widest!(
    /// Gathers from the step's answer.
    fn gather(
        list: &mut List,
        gauges: &Gauges,
        step: &Step,
        equations: &Equations<'_>,
        h: Lanes,
        tally: &Tally<'_>,
    ) = gather_lanes
);

#[inline(always)]
fn gather_lanes(
    list: &mut List,
    gauges: &Gauges,
    step: &Step,
    equations: &Equations<'_>,
    h: Lanes,
    tally: &Tally<'_>,
) {
    let n = equations.shape.n;
    let weights = step.weights().map(|w| Lanes::all(w) * h);
    for (k, (terms, factors)) in gauges.signals.iter().zip(&tally.factors).enumerate() {
        for i in 0..STAGES {
            let moved = &step.answered()[i * n..(i + 1) * n];
            list.course[k][i] = factors.linear(terms, moved);
        }
    }
    for (k, moving) in &list.signals {
        for i in 0..STAGES {
            list.course[*k][i] += moving.at(&step.x[i], &step.sources[i].s);
        }
    }
    for (mean, course) in list.means.iter_mut().zip(&list.course) {
        for i in 0..STAGES {
            *mean += weights[i] * course[i];
        }
    }
    for (sums, &(a, b)) in list.products.iter_mut().zip(&gauges.products) {
        for i in 0..STAGES {
            sums[0] += weights[i] * list.course[a][i] * tally.course[b][i];
            sums[1] += weights[i] * tally.course[a][i] * list.course[b][i];
        }
    }
}

impl MovingDevice {
    /// Difference of its row between the two sides at a stage: the law's own at the inputs between, and the law's slopes
    /// times that of the inputs. A junction that moves by millivolts is no straight line.
    #[inline(always)]
    fn slope(&self, step: &Step, equations: &Equations<'_>, i: usize) -> Lanes {
        let terms = &equations.shape.devices[self.index].inputs;
        let inputs = |factors: &[Factors]| {
            let mut inputs = [Lanes::ZERO; 3];
            for ((input, terms), factors) in inputs.iter_mut().zip(terms).zip(factors) {
                *input = factors.at(terms, &step.x[i], &step.sources[i].s);
            }
            inputs
        };
        let [(above, above_inputs), (below, below_inputs)] = &self.sides;
        let (high, low) = (inputs(above_inputs), inputs(below_inputs));
        let middle: [Lanes; 3] = std::array::from_fn(|m| Lanes::all(0.5) * (high[m] + low[m]));
        let ((rho_above, slopes_above), (rho_below, slopes_below)) =
            (above.residual(&middle), below.residual(&middle));
        let mut slope = rho_above - rho_below;
        for m in 0..3 {
            let between = Lanes::all(0.5) * (slopes_above[m] + slopes_below[m]);
            slope += between * (high[m] - low[m]);
        }
        slope
    }
}
