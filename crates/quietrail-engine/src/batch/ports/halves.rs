//! Whether eight circuits do in each half cycle what they did in the other, mirrored; and what is read of the other half.
//!
//! The mirror is that of the kind ([`super::super::mirror`]). Whether it is each circuit's too is tried on states made up of
//! numbers that have nothing to do with each other: what ties stores, devices and sources together is linear, and a linear
//! law that is broken holds at no such state but by a freak.

use super::super::lanes::{Lanes, Mask};
use super::super::mirror::{self, Mirror};
use super::eight::{Eight, Row};
use super::linear::{Frame, Linear};
use super::plan::Arrangement;
use crate::system::System;

/// By how much what should be the same may differ, as a share of what it is a sum of: rounding, and less than the leakage of
/// any part.
const SAME: f64 = 1e-10;
/// States that are tried.
const TRIED: usize = 2;
/// Currents of those, A; voltages are about one.
const AMPERES: f64 = 0.01;

/// The kind's mirror, with all that it exchanges as one linear part: every device a port.
#[derive(Clone, Debug)]
pub(super) struct Glass {
    pub(super) mirror: Mirror,
    arrangement: Arrangement,
    frame: Frame,
    /// Sign of each source half a cycle on, and of what is constant.
    signs: Vec<f64>,
}

impl Glass {
    /// From a solved circuit, as it was assembled and reduced.
    pub(super) fn of(mirror: &Mirror, (system, reduced): (&System, &System)) -> Option<Self> {
        let arrangement = Arrangement::all_bent(reduced)?;
        let mut signs = mirror::signs(system)?;
        signs.push(1.0);
        Some(Self {
            frame: Frame::of(system, &arrangement)?,
            arrangement,
            signs,
            mirror: mirror.clone(),
        })
    }
}

/// Eight circuits in it.
pub(super) struct Halves<'a> {
    glass: &'a Glass,
    whole: Linear,
    /// What each input of each device is.
    inputs: Vec<Vec<Vec<Lanes>>>,
}

impl<'a> Halves<'a> {
    pub(super) fn of(eight: &Eight, glass: &'a Glass) -> Self {
        let mut whole = Linear::default();
        whole.solve(eight, (&glass.frame, &glass.arrangement));
        let read = |row: &Row| {
            let mut of = Vec::new();
            whole.read(eight, *row, &mut of);
            of
        };
        let devices = eight.devices.iter();
        Self {
            inputs: devices
                .map(|device| device.inputs.iter().map(read).collect())
                .collect(),
            whole,
            glass,
        }
    }

    /// Lanes whose second half cycle mirrors the first.
    pub(super) fn hold(&self, eight: &Eight) -> Mask {
        let devices = self.glass.mirror.devices();
        let laws = eight.devices.iter().zip(devices);
        let alike = laws.fold(Mask::ALL, |all, (device, &partner)| {
            all.and(device.law.same(&eight.devices[partner].law))
        });
        (0..TRIED).fold(alike, |all, k| all.and(self.hold_at(k)))
    }

    /// Whether what ties them together holds, mirrored, at a state.
    fn hold_at(&self, tried: usize) -> Mask {
        let (glass, columns) = (self.glass, self.whole.sizes.columns());
        let stores = self.whole.sizes.stores;
        let is_current = |column: usize| {
            let port = column
                .checked_sub(stores)
                .and_then(|k| glass.arrangement.ports.get(k));
            port.is_some_and(|port| port.coordinate != 0)
        };
        let made_up = |column: usize| {
            let number = ((column + 1) as f64 * 0.618_034 + tried as f64 * 0.414_214).fract() - 0.5;
            let size = if is_current(column) { AMPERES } else { 1.0 };
            Lanes::all(size * (number + 0.5_f64.copysign(number)))
        };
        let now: Vec<Lanes> = (0..columns).map(made_up).collect();
        let later = self.mirrored(&now);
        let mut all = Mask::ALL;
        let mut is_same = |row: &[Lanes], sign: f64, partner: &[Lanes]| {
            let (own, size) = value(row, &later);
            let (wanted, other_size) = value(partner, &now);
            let off = (own - Lanes::all(sign) * wanted).abs();
            let may = Lanes::all(SAME) * size.max(other_size);
            all = all.and(off.below(may).or(Lanes::ZERO.below(off).not()));
        };
        for (own, &partner) in self.inputs.iter().zip(glass.mirror.devices()) {
            for (row, other) in own.iter().zip(&self.inputs[partner]) {
                is_same(row, 1.0, other);
            }
        }
        let rate = |store: usize| &self.whole.rates[store * columns..(store + 1) * columns];
        for (store, &(partner, sign)) in glass.mirror.stores().iter().enumerate() {
            is_same(rate(store), sign, rate(partner));
        }
        all
    }

    /// Stores, coordinates and sources half a cycle on.
    fn mirrored(&self, now: &[Lanes]) -> Vec<Lanes> {
        let (mirror, stores) = (&self.glass.mirror, self.whole.sizes.stores);
        let signed = |value: Lanes, sign: f64| Lanes::all(sign) * value;
        let mut later = mirror.exchanged(&now[..stores], signed);
        for port in &self.glass.arrangement.ports {
            let row = &self.inputs[mirror.devices()[port.device]][port.coordinate];
            later.push(value(row, now).0);
        }
        let sources = now[later.len()..].iter().zip(&self.glass.signs);
        later.extend(sources.map(|(value, sign)| signed(*value, *sign)));
        later
    }

    /// What reads, in an arrangement of the first half cycle, what a row reads in the second.
    pub(super) fn later(
        &self,
        row: Row,
        (linear, eight): (&Linear, &Eight),
        into: &mut Vec<Lanes>,
    ) {
        let (glass, mirror) = (self.glass, &self.glass.mirror);
        let stores = self.whole.sizes.stores;
        let mut own = Vec::new();
        self.whole.read(eight, row, &mut own);
        let mut sum = vec![Lanes::ZERO; linear.sizes.columns()];
        let of_stores = own.iter().zip(mirror.stores());
        for (share, &(partner, sign)) in of_stores {
            sum[partner] += Lanes::all(sign) * *share;
        }
        let mut of_input = Vec::new();
        for (port, share) in glass.arrangement.ports.iter().zip(&own[stores..]) {
            let partner = &eight.devices[mirror.devices()[port.device]];
            of_input.clear();
            linear.read(eight, partner.inputs[port.coordinate], &mut of_input);
            for (sum, factor) in sum.iter_mut().zip(&of_input) {
                *sum += *share * *factor;
            }
        }
        let first = stores + glass.arrangement.ports.len();
        let after = sum.len() - glass.signs.len();
        for (k, sign) in glass.signs.iter().enumerate() {
            sum[after + k] += Lanes::all(*sign) * own[first + k];
        }
        into.extend(sum);
    }
}

/// A row's value, and what the sizes of its terms come to.
fn value(row: &[Lanes], at: &[Lanes]) -> (Lanes, Lanes) {
    let mut sums = (Lanes::ZERO, Lanes::ZERO);
    for (factor, value) in row.iter().zip(at) {
        let term = *factor * *value;
        sums.0 += term;
        sums.1 += term.abs();
    }
    sums
}
