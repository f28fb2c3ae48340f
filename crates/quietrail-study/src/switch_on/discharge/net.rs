//! Capacitors that empty each other through resistors.

use super::{HAZARDOUS, QUIET, SPARKS, TOUCHABLE};
use quietrail_job::model::{Between, Job, PartKind, Regulator, SetPoint};
use std::collections::BTreeMap;

/// What lies between any node and its reference where capacitors are left out, S: nothing that empties one.
const NOTHING: f64 = 1e-11;
/// The most that counts as a way by which one empties, Ω.
const MOST: f64 = 1e8;
/// Resistance of what is a wire here, Ω: far under any bleeder's.
const WIRE: f64 = 0.1;
/// The longest that is looked at, s: a week.
const LONGEST: f64 = 7.0 * 86400.0;
/// The first step, s, and how much longer the time is after each.
const FIRST: f64 = 1e-6;
const GROWTH: f64 = 1.02;

/// A charged capacitor.
#[derive(Clone, Debug)]
pub(super) struct Store {
    pub(super) name: String,
    ends: (usize, usize),
    /// At its largest, F.
    pub(super) farads: f64,
    /// From its first end to its second, at switching off.
    pub(super) volts: f64,
}

impl Store {
    /// Whether it may hurt, or sparks.
    pub(super) fn is_worth_knowing(&self) -> bool {
        let volts = self.volts.abs();
        let sparks = volts > QUIET && 0.5 * self.farads * volts * volts >= SPARKS;
        sparks || (volts > TOUCHABLE && self.farads * volts >= HAZARDOUS)
    }
}

/// All that is there when nothing draws: diodes block, regulators let nothing back.
pub(super) struct Net {
    nodes: BTreeMap<String, usize>,
    pub(super) stores: Vec<Store>,
    /// Ends, and conductance.
    ways: Vec<(usize, usize, f64)>,
    /// Ends of what is as good as a wire for direct current.
    links: Vec<(usize, usize)>,
    /// The row of each node; none of one that the others it hangs together with are counted from.
    rows: Vec<Option<usize>>,
}

impl Net {
    pub(super) fn of(job: &Job, held: &[(String, f64)]) -> Self {
        let mut net = Self {
            nodes: BTreeMap::from([("common".to_owned(), 0)]),
            stores: Vec::new(),
            ways: Vec::new(),
            links: Vec::new(),
            rows: Vec::new(),
        };
        for part in job.parts() {
            match &part.kind {
                PartKind::Capacitor(one) => {
                    let volts = held.iter().find(|(name, _)| *name == part.name);
                    let ends = net.ends(&one.between);
                    net.stores.push(Store {
                        name: part.name.clone(),
                        ends,
                        farads: one.value.value.high,
                        volts: volts.map_or(0.0, |(_, volts)| *volts),
                    });
                }
                PartKind::Resistor(one) => net.way(&one.between, one.value.value.high, false),
                PartKind::Inductor(one) => net.way(&one.between, one.resistance.value.high, true),
                PartKind::Wire(one) => net.way(&one.between, one.resistance.value.high, true),
                PartKind::Fuse(one) => net.way(&one.between, one.resistance.value.high, true),
                PartKind::Switch(one) if one.closed => {
                    net.way(&one.between, one.resistance.value.high, true);
                }
                PartKind::Regulator(one) => {
                    if let Some(ohms) = divider(one) {
                        let ends = (net.node(&one.into), net.node(&one.ret));
                        net.ways.push((ends.0, ends.1, 1.0 / ohms));
                    }
                }
                _ => {}
            }
        }
        let together = net.ways.iter().map(|way| (way.0, way.1));
        let together: Vec<_> = together
            .chain(net.stores.iter().map(|one| one.ends))
            .collect();
        let first = grouped(net.nodes.len(), &together);
        let mut count = 0;
        net.rows = (0..first.len())
            .map(|node| {
                (first[node] != node).then(|| {
                    count += 1;
                    count - 1
                })
            })
            .collect();
        net
    }

    fn node(&mut self, name: &str) -> usize {
        let next = self.nodes.len();
        *self.nodes.entry(name.to_owned()).or_insert(next)
    }

    fn ends(&mut self, between: &Between) -> (usize, usize) {
        (self.node(&between.plus), self.node(&between.minus))
    }

    fn way(&mut self, between: &Between, ohms: f64, is_link: bool) {
        let ends = self.ends(between);
        self.ways.push((ends.0, ends.1, 1.0 / ohms.max(WIRE)));
        if is_link || ohms <= WIRE {
            self.links.push(ends);
        }
    }

    /// Conductances between the nodes, and of each store by its capacitance; what lies beside each row.
    fn matrix(&self, per_farad: f64, beside: f64) -> Vec<Vec<f64>> {
        let n = self.rows.iter().flatten().count();
        let mut all = vec![vec![0.0; n]; n];
        let stores = self.stores.iter();
        let stores = stores.map(|one| (one.ends.0, one.ends.1, one.farads * per_farad));
        for (a, b, siemens) in self.ways.iter().copied().chain(stores) {
            for (one, other) in [(a, b), (b, a)] {
                let Some(row) = self.rows[one] else { continue };
                all[row][row] += siemens;
                if let Some(column) = self.rows[other] {
                    all[row][column] -= siemens;
                }
            }
        }
        for (k, row) in all.iter_mut().enumerate() {
            row[k] += beside;
        }
        all
    }

    /// Lets a current into a node and out of another.
    fn feed(&self, currents: &mut [f64], (into, out): (usize, usize), amps: f64) {
        if let Some(row) = self.rows[into] {
            currents[row] += amps;
        }
        if let Some(row) = self.rows[out] {
            currents[row] -= amps;
        }
    }

    fn across(&self, volts: &[f64], store: &Store) -> f64 {
        let at = |node: usize| self.rows[node].map_or(0.0, |row| volts[row]);
        at(store.ends.0) - at(store.ends.1)
    }

    fn no_currents(&self) -> Vec<f64> {
        vec![0.0; self.rows.iter().flatten().count()]
    }

    /// Seconds until each store is down to both levels for good; `None` where it is not within a week.
    ///
    /// Steps of the two-stage method of Alexander (SIAM J. Numer. Anal. 14 (1977) 1006), of second order, in which what is fast dies away.
    pub(super) fn emptied(&self) -> Vec<Option<(f64, f64)>> {
        let gamma = 1.0 - 0.5_f64.sqrt();
        let mut volts: Vec<f64> = self.stores.iter().map(|store| store.volts).collect();
        let above = |volts: f64, level: f64| volts.abs() > level;
        let mut last: Vec<[f64; 2]> = vec![[0.0; 2]; volts.len()];
        let (mut t, mut h) = (0.0, FIRST);
        while t < LONGEST && volts.iter().any(|volts| above(*volts, QUIET)) {
            // Rates at two places within the step; each place begins where those before it lead to.
            let rate = |from: &[f64]| -> Vec<f64> {
                let there = self.after(from, gamma * h);
                let pairs = there.iter().zip(from);
                pairs
                    .map(|(there, from)| (there - from) / (gamma * h))
                    .collect()
            };
            let first = rate(&volts);
            let begun = moved(&volts, &first, (1.0 - gamma) * h);
            let second = rate(&begun);
            let next = moved(&begun, &second, gamma * h);
            for ((last, before), after) in last.iter_mut().zip(&volts).zip(&next) {
                for (last, level) in last.iter_mut().zip([TOUCHABLE, QUIET]) {
                    if above(*after, level) {
                        *last = f64::INFINITY;
                    } else if above(*before, level) {
                        let share = (before.abs() - level) / (before.abs() - after.abs());
                        *last = t + share * h;
                    }
                }
            }
            volts = next;
            t += h;
            h = (GROWTH - 1.0) * t + FIRST;
        }
        let found = last.into_iter();
        found
            .map(|[touchable, quiet]| quiet.is_finite().then_some((touchable, quiet)))
            .collect()
    }

    /// Volts of the stores after a step backwards in time from the end: what they would have there if the rates there held all through it.
    fn after(&self, volts: &[f64], h: f64) -> Vec<f64> {
        let mut currents = self.no_currents();
        for (store, volts) in self.stores.iter().zip(volts) {
            self.feed(&mut currents, store.ends, store.farads / h * volts);
        }
        let nodes = solved(self.matrix(1.0 / h, 0.0), currents);
        let stores = self.stores.iter();
        stores.map(|store| self.across(&nodes, store)).collect()
    }

    /// Resistance between the ends of a store, capacitors left out.
    pub(super) fn ohms(&self, store: &Store) -> Option<f64> {
        let mut currents = self.no_currents();
        self.feed(&mut currents, store.ends, 1.0);
        let ohms = self.across(&solved(self.matrix(0.0, NOTHING), currents), store);
        (ohms < MOST).then_some(ohms)
    }

    /// Capacitance of a store and of all side by side with it, chokes and wires between them or not.
    pub(super) fn beside(&self, store: &Store) -> f64 {
        let group = grouped(self.nodes.len(), &self.links);
        let of = |one: &Store| {
            let (a, b) = (group[one.ends.0], group[one.ends.1]);
            (a.min(b), a.max(b))
        };
        let alike = self.stores.iter().filter(|one| of(one) == of(store));
        alike.map(|one| one.farads).sum()
    }
}

/// What a regulator's divider leads from its output to its return.
fn divider(regulator: &Regulator) -> Option<f64> {
    match &regulator.set {
        SetPoint::AcrossUpper { upper, lower, .. } | SetPoint::AcrossLower { upper, lower, .. } => {
            Some(upper.value.high + lower.value.high)
        }
        _ => None,
    }
}

/// Of each node the first one that it hangs together with.
fn grouped(count: usize, pairs: &[(usize, usize)]) -> Vec<usize> {
    let mut group: Vec<usize> = (0..count).collect();
    let mut is_new = true;
    while is_new {
        is_new = false;
        for &(a, b) in pairs {
            let least = group[a].min(group[b]);
            is_new |= group[a] != least || group[b] != least;
            (group[a], group[b]) = (least, least);
        }
    }
    group
}

fn moved(from: &[f64], rates: &[f64], h: f64) -> Vec<f64> {
    let pairs = from.iter().zip(rates);
    pairs.map(|(from, rate)| from + h * rate).collect()
}

/// By elimination; the matrix is symmetric with a heavy diagonal, so its pivots stand in their order.
fn solved(mut matrix: Vec<Vec<f64>>, mut right: Vec<f64>) -> Vec<f64> {
    let n = right.len();
    for k in 0..n {
        let (above, below) = matrix.split_at_mut(k + 1);
        let pivot = &above[k];
        for (row, lower) in below.iter_mut().enumerate() {
            let factor = lower[k] / pivot[k];
            if factor != 0.0 {
                for (to, from) in lower[k..].iter_mut().zip(&pivot[k..]) {
                    *to -= factor * from;
                }
                right[k + 1 + row] -= factor * right[k];
            }
        }
    }
    for k in (0..n).rev() {
        let known: f64 = (k + 1..n).map(|j| matrix[k][j] * right[j]).sum();
        right[k] = (right[k] - known) / matrix[k][k];
    }
    right
}
