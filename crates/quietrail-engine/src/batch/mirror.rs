//! Circuits that do in each half cycle what they did in the other, mirrored.
//!
//! Half a cycle on, the mains has the other sign. Where a full-wave rectifier turns it back, every diode does then what
//! its partner did before, and windings carry the opposite current: the second half cycle of a steady state is known
//! from the first. What is looked for is that exchange, of devices, and of stores with signs, under which the equations
//! stay the same; it is found in the equations themselves, so it does not matter how the circuit is drawn.
//!
//! The linear part of a circuit ties what its stores hold, what its devices see and carry, and its sources together: these
//! move in a space of fewer dimensions than they are. The exchange is a mirror if it maps that space onto itself, that
//! is, if it leaves the projection onto the space as it is, and if what the stores' rates are stays the same.

use super::lanes::Lanes;
use crate::system::{Probe, System};
use crate::wave::Basis;

/// By how much entries of projections onto the same space may differ, and factors of the same function as a share of the
/// largest: rounding, and less than the leakage of any part.
const SAME: f64 = 1e-10;
/// Factors below this share of the largest are rounding.
const NOTHING: f64 = 1e-12;
/// What is left of a direction that lies in those before it.
const DEPENDENT: f64 = 1e-11;
/// Partners that are tried before a circuit is taken to have no mirror.
const MOST_TRIED: usize = 5_000;

/// What the second half of a cycle does in place of the first.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Mirror {
    /// The store that each becomes, and with which sign.
    stores: Vec<(usize, f64)>,
    /// The device that each becomes.
    devices: Vec<usize>,
}

/// A circuit in what its stores hold, its devices see and carry, and its sources: its traits, one after the other.
pub(crate) struct Traits<'s> {
    system: &'s System,
    /// First trait of each store, then of each device, then of the sources; at last, how many there are.
    firsts: Vec<usize>,
    /// Each as a function of the unknowns, then of the sources.
    rows: Vec<Vec<f64>>,
    /// An orthonormal basis of the space that they move in, trait by trait, and what turns unknowns into its coordinates.
    basis: Vec<Vec<f64>>,
    triangle: Vec<Vec<f64>>,
    /// Rates of the stores, as functions of unknowns and sources.
    rates: Vec<Vec<f64>>,
    /// Sign of each source half a cycle on.
    signs: Vec<f64>,
}

/// A linear function of unknowns, then of sources.
#[derive(Clone, Debug)]
pub(crate) struct Reading(Vec<f64>);

impl Mirror {
    /// The mirror of a circuit, reduced, if it has one.
    pub(crate) fn of(reduced: &System) -> Option<Self> {
        let traits = Traits::of(reduced)?;
        let count = traits.system.stores.len() + traits.system.devices.len();
        let mut exchange = Exchange {
            of: vec![None; count],
            projection: traits.projection(),
            traits: &traits,
            left: MOST_TRIED,
        };
        exchange.complete().then_some(())?;
        Self::told(exchange.of, traits.system.stores.len())
    }

    fn told(partners: Vec<Option<(usize, f64)>>, stores: usize) -> Option<Self> {
        let found: Vec<(usize, f64)> = partners.into_iter().collect::<Option<_>>()?;
        let (of_stores, of_devices) = found.split_at(stores);
        let devices = of_devices.iter().map(|(device, _)| device - stores);
        Some(Self {
            stores: of_stores.to_vec(),
            devices: devices.collect(),
        })
    }

    /// The store that each becomes, and with which sign.
    pub(crate) fn stores(&self) -> &[(usize, f64)] {
        &self.stores
    }

    /// The device that each becomes.
    pub(crate) fn devices(&self) -> &[usize] {
        &self.devices
    }

    /// Whether it is the mirror of another circuit of the kind too.
    pub(crate) fn holds(&self, traits: &Traits<'_>) -> bool {
        let stores = traits.system.stores.len();
        if (stores, traits.system.devices.len()) != (self.stores.len(), self.devices.len()) {
            return false;
        }
        let devices = self.devices.iter().map(|d| Some((d + stores, 1.0)));
        let exchange = Exchange {
            of: self
                .stores
                .iter()
                .copied()
                .map(Some)
                .chain(devices)
                .collect(),
            projection: traits.projection(),
            traits,
            left: 0,
        };
        let mut all = 0..exchange.of.len();
        all.all(|k| exchange.is_alike(k) && exchange.fits(k)) && exchange.keeps_rates()
    }

    /// Numbers of each store as those half a cycle on, in which each stands at the place of its partner.
    pub(crate) fn exchanged<T: Copy>(&self, of: &[T], signed: impl Fn(T, f64) -> T) -> Vec<T> {
        let mut mirrored = of.to_vec();
        for (value, &(store, sign)) in of.iter().zip(&self.stores) {
            mirrored[store] = signed(*value, sign);
        }
        mirrored
    }

    /// Lowest and highest value of each store over both halves, given those over one.
    pub(crate) fn ranges(&self, (low, high): (Vec<Lanes>, Vec<Lanes>)) -> (Vec<Lanes>, Vec<Lanes>) {
        // A store that changes sign is lowest in one half where it is highest in the other.
        let ends: Vec<(Lanes, Lanes)> = low.into_iter().zip(high).collect();
        let others = self.exchanged(&ends, |(low, high), sign| {
            if sign < 0.0 {
                (-high, -low)
            } else {
                (low, high)
            }
        });
        let both = ends.iter().zip(others);
        both.map(|((low, high), (least, most))| (low.min(least), high.max(most)))
            .unzip()
    }

    /// Sign and place of the trait that stands for one half a cycle on.
    fn partner(&self, traits: &Traits<'_>, of: usize) -> (f64, usize) {
        let stores = self.stores.len();
        let part = traits.firsts.partition_point(|first| *first <= of) - 1;
        let place = of - traits.firsts[part];
        match part.checked_sub(stores) {
            None => (self.stores[part].1, traits.firsts[self.stores[part].0]),
            Some(device) if device < self.devices.len() => {
                (1.0, traits.firsts[stores + self.devices[device]] + place)
            }
            Some(_) => (traits.signs[place], of),
        }
    }

    /// What reads in the first half cycle what another reads in the second.
    pub(crate) fn reading(&self, of: &Reading, traits: &Traits<'_>) -> Reading {
        let mut mirrored = vec![0.0; of.0.len()];
        for (k, share) in traits.shares(of).into_iter().enumerate() {
            let (sign, place) = self.partner(traits, k);
            for (sum, factor) in mirrored.iter_mut().zip(&traits.rows[place]) {
                *sum += sign * share * factor;
            }
        }
        Reading(mirrored)
    }

    /// The same as a probe of the circuit in other unknowns.
    pub(crate) fn probe(
        &self,
        of: &Reading,
        traits: &Traits<'_>,
        system: &System,
    ) -> Option<Probe> {
        let stores = system.stores.iter().map(|store| &store.value);
        let inputs = system.devices.iter().flat_map(|device| &device.inputs);
        let own: Vec<&Probe> = stores.chain(inputs).collect();
        let mut sum = Probe::default();
        for (k, share) in traits.shares(of).into_iter().enumerate() {
            let (sign, place) = self.partner(traits, k);
            match own.get(place) {
                Some(probe) => sum.add(probe, sign * share),
                None => sum.s.push((place - own.len(), sign * share)),
            }
        }
        let mut probe = Probe::default();
        for (terms, of) in [(&mut probe.x, sum.x), (&mut probe.s, sum.s)] {
            let mut all = of;
            all.sort_unstable_by_key(|term| term.0);
            all.dedup_by(|next, kept| {
                let is_same = next.0 == kept.0;
                if is_same {
                    kept.1 += next.1;
                }
                is_same
            });
            let largest = all.iter().fold(0.0, |m: f64, term| m.max(term.1.abs()));
            terms.extend(
                all.iter()
                    .copied()
                    .filter(|term| term.1.abs() > NOTHING * largest),
            );
        }
        sum.rate.is_empty().then_some(probe)
    }
}

impl Reading {
    /// A probe of a circuit; `None` where it reads rates.
    pub(crate) fn of(probe: &Probe, system: &System) -> Option<Self> {
        let mut factors = vec![0.0; system.n + system.sources.len()];
        for &(unknown, factor) in &probe.x {
            factors[unknown] += factor;
        }
        for &(source, factor) in &probe.s {
            factors[system.n + source] += factor;
        }
        probe.rate.is_empty().then_some(Self(factors))
    }

    /// One that it is, and with which sign.
    pub(crate) fn among(&self, others: &[Reading]) -> Option<(usize, f64)> {
        [1.0, -1.0].into_iter().find_map(|sign| {
            let at = others
                .iter()
                .position(|other| same(&self.0, sign, &other.0));
            at.map(|at| (at, sign))
        })
    }
}

/// Whether factors are those of others with a sign.
fn same(own: &[f64], sign: f64, others: &[f64]) -> bool {
    let largest = own.iter().fold(0.0, |m: f64, v| m.max(v.abs()));
    let mut pairs = own.iter().zip(others);
    pairs.all(|(a, b)| (a - sign * b).abs() <= SAME * largest)
}

/// Sign of each source half a cycle on; `None` where none has another.
pub(crate) fn signs(system: &System) -> Option<Vec<f64>> {
    let sign = |basis: &Basis| match basis {
        Basis::One => Some(1.0),
        Basis::Sine(order) => Some(if order % 2 == 0 { 1.0 } else { -1.0 }),
        Basis::Step { .. } => None,
    };
    let signs = system
        .sources
        .iter()
        .map(sign)
        .collect::<Option<Vec<f64>>>()?;
    signs.contains(&-1.0).then_some(signs)
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

impl<'s> Traits<'s> {
    /// Of a reduced circuit; `None` where they do not tell its unknowns.
    pub(crate) fn of(system: &'s System) -> Option<Self> {
        // What is left beside rows of stores and devices would tie unknowns together.
        let rows = system.stores.iter().flat_map(|store| &store.charge);
        let mut rows: Vec<usize> = rows.map(|term| term.0).collect();
        rows.extend(system.devices.iter().map(|device| device.row));
        rows.sort_unstable();
        rows.dedup();
        let is_alone = |device: &crate::system::Device| {
            let own = &system.linear[device.row * system.n..(device.row + 1) * system.n];
            own.iter().all(|entry| *entry == 0.0)
        };
        if rows.len() < system.n || !system.devices.iter().all(is_alone) {
            return None;
        }
        let read = |probe: &Probe| Some(Reading::of(probe, system)?.0);
        let mut rates = Vec::new();
        for store in 0..system.stores.len() {
            let rate = Probe {
                rate: smallvec::smallvec![(store, 1.0)],
                ..Probe::default()
            };
            rates.push(read(&system.without_rates(&rate)?)?);
        }
        let (mut firsts, mut rows) = (Vec::new(), Vec::new());
        for store in &system.stores {
            firsts.push(rows.len());
            rows.push(read(&store.value)?);
        }
        for device in &system.devices {
            firsts.push(rows.len());
            for input in &device.inputs {
                rows.push(read(input)?);
            }
        }
        firsts.push(rows.len());
        let columns = system.n + system.sources.len();
        for source in system.n..columns {
            let mut row = vec![0.0; columns];
            row[source] = 1.0;
            rows.push(row);
        }
        firsts.push(rows.len());
        let mut traits = Self {
            system,
            firsts,
            basis: Vec::new(),
            triangle: Vec::new(),
            rows,
            rates,
            signs: signs(system)?,
        };
        traits.orthonormalise(columns)?;
        Some(traits)
    }

    /// Gram and Schmidt, twice for the sake of digits (Björck, *Numerical Methods for Least Squares Problems*, 1996,
    /// section 2.4).
    fn orthonormalise(&mut self, columns: usize) -> Option<()> {
        for column in 0..columns {
            let mut direction: Vec<f64> = self.rows.iter().map(|row| row[column]).collect();
            let length = dot(&direction, &direction).sqrt();
            let mut shares = vec![0.0; columns];
            for _ in 0..2 {
                for (share, known) in shares.iter_mut().zip(&self.basis) {
                    let part = dot(known, &direction);
                    *share += part;
                    for (value, known) in direction.iter_mut().zip(known) {
                        *value -= part * known;
                    }
                }
            }
            let left = dot(&direction, &direction).sqrt();
            if left.is_nan() || left <= DEPENDENT * length {
                return None;
            }
            shares[column] = left;
            self.basis
                .push(direction.iter().map(|v| v / left).collect());
            self.triangle.push(shares);
        }
        Some(())
    }

    /// The projection onto the space of the traits, row by row.
    fn projection(&self) -> Vec<Vec<f64>> {
        let count = self.rows.len();
        let entry = |a: usize, b: usize| self.basis.iter().map(|q| q[a] * q[b]).sum();
        (0..count)
            .map(|a| (0..count).map(|b| entry(a, b)).collect())
            .collect()
    }

    /// What sum of traits a reading is.
    fn shares(&self, of: &Reading) -> Vec<f64> {
        // Its coordinates in the basis: what the triangle makes of them are its factors, column by column.
        let mut coordinates: Vec<f64> = Vec::new();
        for (column, shares) in self.triangle.iter().enumerate() {
            let known = dot(shares, &coordinates);
            coordinates.push((of.0[column] - known) / shares[column]);
        }
        let share = |k: usize| {
            self.basis
                .iter()
                .zip(&coordinates)
                .map(|(q, c)| q[k] * c)
                .sum()
        };
        (0..self.rows.len()).map(share).collect()
    }
}

/// Partners as far as they are known, each with a sign: of stores, then of devices.
struct Exchange<'a, 's> {
    traits: &'a Traits<'s>,
    projection: Vec<Vec<f64>>,
    of: Vec<Option<(usize, f64)>>,
    /// Partners that may still be tried.
    left: usize,
}

impl Exchange<'_, '_> {
    /// Finds partners for those that have none yet, devices first: what drives them tells them apart.
    fn complete(&mut self) -> bool {
        let (stores, count) = (self.traits.system.stores.len(), self.of.len());
        let Some(first) = (stores..count)
            .chain(0..stores)
            .find(|&k| self.of[k].is_none())
        else {
            return self.keeps_rates();
        };
        let own = if first < stores {
            0..stores
        } else {
            stores..count
        };
        let signs: &[f64] = if first < stores { &[1.0, -1.0] } else { &[1.0] };
        // Most stay what they are.
        for partner in std::iter::once(first).chain(own.filter(|&k| k != first)) {
            for sign in signs {
                if self.left == 0 || self.of[partner].is_some() {
                    continue;
                }
                self.left -= 1;
                self.of[first] = Some((partner, *sign));
                self.of[partner] = Some((first, *sign));
                let mut both = [first, partner].into_iter();
                if self.is_alike(first) && both.all(|k| self.fits(k)) && self.complete() {
                    return true;
                }
                self.of[first] = None;
                self.of[partner] = None;
            }
        }
        false
    }

    /// Whether one and its partner are of the same nature.
    fn is_alike(&self, k: usize) -> bool {
        let (Some((partner, _)), system) = (self.of[k], self.traits.system) else {
            return false;
        };
        let stores = system.stores.len();
        match k.checked_sub(stores) {
            None => system.stores[k].kind == system.stores[partner].kind,
            Some(device) => system.devices[device].law == system.devices[partner - stores].law,
        }
    }

    /// Whether the projection between one and all whose partners are known, and the sources, is that between partners.
    fn fits(&self, k: usize) -> bool {
        let Some((partner, own_sign)) = self.of[k] else {
            return false;
        };
        let firsts = &self.traits.firsts;
        let of = |part: usize| firsts[part]..firsts[part + 1];
        let is_same = |a: usize, b: usize, sign: f64| {
            let mut pairs = of(k).zip(of(partner));
            pairs.all(|(row, other)| {
                let (entry, wanted) = (self.projection[row][a], self.projection[other][b]);
                (entry - sign * wanted).abs() <= SAME
            })
        };
        let of_known = self.of.iter().enumerate().all(|(part, of_part)| {
            of_part.is_none_or(|(place, sign)| {
                let mut pairs = of(part).zip(of(place));
                pairs.all(|(a, b)| is_same(a, b, own_sign * sign))
            })
        });
        let sources = of(self.of.len());
        let of_sources = sources.zip(&self.traits.signs);
        of_known
            && of_sources
                .into_iter()
                .all(|(a, sign)| is_same(a, a, own_sign * sign))
    }

    /// Whether each store's rate is that of its partner half a cycle on, all partners known.
    fn keeps_rates(&self) -> bool {
        let stores = self.traits.system.stores.len();
        let Some(mirror) = Mirror::told(self.of.clone(), stores) else {
            return false;
        };
        mirror
            .stores
            .iter()
            .enumerate()
            .all(|(store, (partner, sign))| {
                let own = Reading(self.traits.rates[store].clone());
                let later = mirror.reading(&own, self.traits);
                same(&later.0, *sign, &self.traits.rates[*partner])
            })
    }
}

#[cfg(test)]
mod tests {
    use super::{Mirror, Traits};
    use crate::{Circuit, DiodeLaw, Element, GROUND, LoadLaw, System, Wave};

    /// A bridge with a reservoir and a load; the diodes' slope voltages, and what each half of the source comes with.
    fn bridge(slopes: [f64; 4], ohms: [f64; 2]) -> System {
        let mut circuit = Circuit::new(50.0);
        let (a, middle, b, raw) = (
            circuit.node(),
            circuit.node(),
            circuit.node(),
            circuit.node(),
        );
        for (plus, minus, ohms) in [(a, middle, ohms[0]), (middle, b, ohms[1])] {
            let wave = Wave::sine(8.0);
            circuit.add(Element::Source {
                plus,
                minus,
                wave,
                ohms,
            });
        }
        let ends = [(a, raw), (b, raw), (GROUND, a), (GROUND, b)];
        for ((anode, cathode), slope_voltage) in ends.into_iter().zip(slopes) {
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
        circuit.add(Element::Capacitor {
            a: raw,
            b: GROUND,
            farads: 1e-3,
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
        System::assemble(&circuit).expect("physical")
    }

    fn holds(mirror: &Mirror, reduced: &System) -> bool {
        mirror.holds(&Traits::of(reduced).expect("traits"))
    }

    const ALIKE: [f64; 4] = [0.05; 4];

    #[test]
    fn a_bridge_mirrors_its_first_half_cycle_in_its_second() {
        let reduced = bridge(ALIKE, [0.4, 0.4]).reduced();
        let mirror = Mirror::of(&reduced).expect("a mirror");
        assert_eq!(mirror.stores, [(0, 1.0)], "the reservoir stays what it is");
        let partner = |diode: usize| mirror.devices[diode];
        assert!([1, 3].contains(&partner(0)) && partner(partner(0)) == 0);
        assert!((0..4).all(|diode| partner(diode) != diode));
        assert_eq!(partner(4), 4, "and so does the load");
        assert!(holds(&mirror, &reduced));
        // Unlike halves of a winding are one winding to the bridge.
        assert!(holds(&mirror, &bridge(ALIKE, [0.3, 0.6]).reduced()));
    }

    #[test]
    fn unlike_diodes_mirror_nothing() {
        let alike = Mirror::of(&bridge(ALIKE, [0.4, 0.4]).reduced()).expect("a mirror");
        let unlike = bridge([0.05, 0.05, 0.05, 0.051], [0.4, 0.4]).reduced();
        assert_eq!(Mirror::of(&unlike), None);
        assert!(!holds(&alike, &unlike));
    }
}
