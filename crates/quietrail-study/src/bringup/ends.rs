//! At which mains something was read, and the bands there: steps for an end of its range are read at that end.

use super::derive::{Kind, Planned};
use super::expect::{Band, Book};
use crate::gate::NEAR_END;
use quietrail_bench::log::Row;
use quietrail_engine::Options;
use quietrail_job::model::Job;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// A reading of a step for an end of the mains range that was taken elsewhere in it, or nobody knows where: it is compared there,
/// and does not stand for the step's row.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShortOfEnd {
    /// The mains that was read, V; `None` where nobody looked.
    pub read: Option<f64>,
    /// The end that the step is for, V.
    pub end: f64,
}

/// How far a mains is from the end that a step is for; `None` at it or beyond, and in steps for any mains. One that nobody read
/// may be anywhere.
pub fn short_of_end(job: &Job, kind: Kind, read: Option<f64>) -> Option<ShortOfEnd> {
    let end = end_of(job, kind)?;
    let is_there = |read: f64| match kind {
        Kind::LowestMains => read <= end * (1.0 + NEAR_END),
        _ => read >= end * (1.0 - NEAR_END),
    };
    let is_short = !read.is_some_and(is_there);
    is_short.then_some(ShortOfEnd { read, end })
}

/// The end of the mains range that a step is for; `None` of steps for any mains, and where the range has no such end.
pub(super) fn end_of(job: &Job, kind: Kind) -> Option<f64> {
    let own = &job.mains.voltage.value;
    match kind {
        Kind::LowestMains => Some(own.low),
        Kind::OverVoltage if own.high > own.nominal => Some(own.high),
        _ => None,
    }
}

/// Bands at the mains voltages that rows of a step tell, by the bits of the voltage and the place of the point.
pub(super) fn bands_at_mains(
    (book, job): (&Book, &Job),
    planned: &Planned,
    rows: &[Vec<&Row>],
    options: &Options,
) -> BTreeMap<(u64, usize), Band> {
    let mut read: BTreeMap<u64, Vec<usize>> = BTreeMap::new();
    for (index, rows) in rows.iter().enumerate() {
        let mut at: Vec<f64> = rows.iter().filter_map(|row| row.mains_v).collect();
        if end_of(job, planned.kind).is_some() && rows.iter().any(|row| row.mains_v.is_none()) {
            at.extend(marks(job));
        }
        for volts in at {
            let points = read.entry(volts.to_bits()).or_default();
            if !points.contains(&index) {
                points.push(index);
            }
        }
    }
    let of_voltage = |(bits, points): (&u64, &Vec<usize>)| {
        let volts = Some(f64::from_bits(*bits));
        let found = book.bands(job, planned, points, volts, options);
        let found = found.unwrap_or_default().into_iter();
        let bits = *bits;
        let own = found.filter_map(move |(index, band)| Some(((bits, index), band?)));
        own.collect::<Vec<_>>()
    };
    read.par_iter().flat_map_iter(of_voltage).collect()
}

/// Voltages between which a mains lies that nobody read.
pub(super) fn marks(job: &Job) -> [f64; 3] {
    let own = &job.mains.voltage.value;
    [own.low, own.nominal, own.high]
}

/// The band of a point of a step for an end of the mains, where nobody read the mains: all that its range may do. `None` of other
/// steps, whose bands are such by themselves.
pub(super) fn anywhere_in_range(
    job: &Job,
    kind: Kind,
    at: impl Fn(f64) -> Option<Band>,
) -> Option<Band> {
    end_of(job, kind)?;
    let found = marks(job).into_iter().filter_map(at);
    found.reduce(|one, other| Band {
        low: one.low.min(other.low),
        high: one.high.max(other.high),
        ..one
    })
}
