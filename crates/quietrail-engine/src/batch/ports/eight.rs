//! The equations of eight circuits at once, as they were assembled.

use super::super::lanes::{Lanes, WIDTH};
use super::super::law::LaneLaw;
use crate::system::{Few, Probe, System};
use smallvec::SmallVec;

/// Equations of circuits that differ in their figures alone. [`System`] states what they mean.
#[derive(Debug)]
pub(super) struct Eight {
    pub(super) frequency: Lanes,
    pub(super) volts_scale: Lanes,
    /// Entries of `K` and of `S`: row, unknown or source, value.
    pub(super) linear: Vec<(usize, usize, Lanes)>,
    pub(super) drive: Vec<(usize, usize, Lanes)>,
    /// Row, store, what its rate is multiplied by there.
    pub(super) charges: Vec<(usize, usize, Lanes)>,
    /// What each store holds.
    pub(super) stores: Vec<Row>,
    pub(super) devices: Vec<Device>,
    /// Index and factor of each term of each row: one list, for the sake of few allocations.
    terms: Vec<(usize, Lanes)>,
}

/// A nonlinear device of eight circuits.
#[derive(Debug)]
pub(super) struct Device {
    pub(super) row: usize,
    pub(super) law: LaneLaw,
    pub(super) inputs: SmallVec<[Row; 3]>,
}

/// A linear function of unknowns, sources and rates of stores: where its terms are in [`Eight::terms`].
#[derive(Clone, Copy, Debug)]
pub(super) struct Row {
    pub(super) x: Terms,
    pub(super) s: Terms,
    pub(super) rate: Terms,
}

/// First and last but one of a list of terms.
#[derive(Clone, Copy, Debug)]
pub(super) struct Terms(u32, u32);

impl Eight {
    /// Of circuits whose entries stand in the same places as those of a model; `None` where one's do not.
    pub(super) fn of(systems: [&System; WIDTH], model: &System) -> Option<Self> {
        let is_like = |one: &&System| one.n == model.n && one.is_like(model);
        if !systems.iter().all(is_like) {
            return None;
        }
        let (stores, sources) = (model.stores.len(), model.sources.len());
        let mut eight = Self {
            frequency: Lanes(systems.map(|one| one.frequency)),
            volts_scale: Lanes(systems.map(|one| one.volts_scale)),
            linear: entries(
                systems.map(|one| one.linear.as_slice()),
                &model.linear,
                model.n,
            )?,
            drive: entries(
                systems.map(|one| one.drive.as_slice()),
                &model.drive,
                sources,
            )?,
            charges: Vec::with_capacity(2 * stores),
            stores: Vec::with_capacity(stores),
            devices: Vec::with_capacity(model.devices.len()),
            terms: Vec::with_capacity(4 * model.n),
        };
        for k in 0..stores {
            let like = &model.stores[k];
            let terms = eight.gather(systems.map(|one| &one.stores[k].charge), &like.charge)?;
            let charges = eight.terms[terms.range()].iter();
            eight.charges.extend(charges.map(|&(row, by)| (row, k, by)));
            let value = eight.row(systems.map(|one| &one.stores[k].value), &like.value)?;
            eight.stores.push(value);
        }
        for k in 0..model.devices.len() {
            let device = eight.device(systems.map(|one| &one.devices[k]), &model.devices[k])?;
            eight.devices.push(device);
        }
        Some(eight)
    }

    /// Terms of a row.
    #[inline(always)]
    pub(super) fn terms(&self, of: Terms) -> &[(usize, Lanes)] {
        &self.terms[of.range()]
    }

    fn device(
        &mut self,
        all: [&crate::system::Device; WIDTH],
        like: &crate::system::Device,
    ) -> Option<Device> {
        let is_alike = |one: &&crate::system::Device| {
            one.row == like.row && one.inputs.len() == like.inputs.len()
        };
        if !all.iter().all(is_alike) {
            return None;
        }
        let inputs = like.inputs.iter().enumerate();
        let inputs = inputs.map(|(k, like)| self.row(all.map(|one| &one.inputs[k]), like));
        Some(Device {
            row: like.row,
            inputs: inputs.collect::<Option<_>>()?,
            law: LaneLaw::gather(all.map(|one| &one.law))?,
        })
    }

    /// Takes in probes with terms in the same places as another.
    pub(super) fn row(&mut self, probes: [&Probe; WIDTH], like: &Probe) -> Option<Row> {
        Some(Row {
            x: self.gather(probes.map(|probe| &probe.x), &like.x)?,
            s: self.gather(probes.map(|probe| &probe.s), &like.s)?,
            rate: self.gather(probes.map(|probe| &probe.rate), &like.rate)?,
        })
    }

    fn gather(&mut self, of: [&Few; WIDTH], like: &Few) -> Option<Terms> {
        let is_alike = |terms: &&Few| {
            let mut pairs = terms.iter().zip(like);
            terms.len() == like.len() && pairs.all(|(one, other)| one.0 == other.0)
        };
        if !of.iter().all(is_alike) {
            return None;
        }
        let begin = self.terms.len();
        let lanes = |k: usize| (like[k].0, Lanes(of.map(|terms| terms[k].1)));
        self.terms.extend((0..like.len()).map(lanes));
        Some(Terms(begin as u32, self.terms.len() as u32))
    }
}

impl Terms {
    fn range(self) -> std::ops::Range<usize> {
        self.0 as usize..self.1 as usize
    }
}

/// Entries of matrices (row-major, so many columns) where a model has any; `None` where one has another.
fn entries(
    of: [&[f64]; WIDTH],
    model: &[f64],
    columns: usize,
) -> Option<Vec<(usize, usize, Lanes)>> {
    let count = |values: &[f64]| values.iter().filter(|value| **value != 0.0).count();
    let places = model.iter().enumerate().filter(|(_, value)| **value != 0.0);
    let mut own = [0; WIDTH];
    let mut entries = Vec::with_capacity(count(model));
    for (at, _) in places {
        let values = of.map(|values| values[at]);
        for (own, value) in own.iter_mut().zip(values) {
            *own += usize::from(value != 0.0);
        }
        entries.push((at / columns, at % columns, Lanes(values)));
    }
    let has_no_other = |(values, own): (&[f64], usize)| count(values) == own;
    of.into_iter().zip(own).all(has_no_other).then_some(entries)
}
