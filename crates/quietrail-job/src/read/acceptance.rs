//! The limits of an oscillator by itself, and what analyser and counter can show of them.

use super::fields::Fields;
use super::instrument::{DETECTS, band, of_list};
use super::part::rising;
use crate::fault::Faults;
use crate::keys::{DETECTORS, GATES};
use crate::model::{Acceptance, Counting, Figure, Spectrum, WarmUp};
use quietrail_units::{DecibelMilliwatts, Decibels, Ratio, Seconds, Unit};

/// What the table of an oscillator asks of it.
pub(super) fn acceptance(fields: &Fields<'_>, faults: &mut Faults) -> Option<Acceptance> {
    let warm_up = match fields.inner("warm_up") {
        Some(inner) => Some(WarmUp {
            time: inner.figure("time")?,
            within: inner.figure("within")?,
            current: inner.figure("current"),
        }),
        None => None,
    };
    Some(Acceptance {
        level: fields.figure("level"),
        harmonics: fields.figure("harmonics"),
        warm_up,
        offset: fields.figure("offset"),
        ageing: fields.figure("ageing"),
        retrace: fields.figure("retrace"),
        stability: deviations("stability", fields, faults)?,
    })
}

/// Deviations at rising averaging times.
fn deviations(
    key: &'static str,
    fields: &Fields<'_>,
    faults: &mut Faults,
) -> Option<Vec<(Figure<Ratio>, Figure<Seconds>)>> {
    if !fields.has(key) {
        return Some(Vec::new());
    }
    let points = fields.points::<Ratio, Seconds>(key)?;
    rising(
        key,
        points.iter().map(|(_, tau, at)| (tau.nominal(), *at)),
        faults,
    );
    Some(points.into_iter().map(|(dev, tau, _)| (dev, tau)).collect())
}

/// `spectrum` of an instrument.
pub(super) fn spectrum(fields: &Fields<'_>) -> Option<Spectrum> {
    let size = |key: &str| nominal::<Decibels>(fields, key);
    Some(Spectrum {
        band: band(fields, "band")?,
        level: size("level"),
        ratio: size("ratio"),
        noise: nominal::<DecibelMilliwatts>(fields, "noise"),
        harmonics: fields
            .figure_at::<Decibels, DecibelMilliwatts>("harmonics")
            .map(|(own, at)| (own.nominal(), at.nominal())),
        display: size("display"),
        detector: of_list(fields.text("detector"), DETECTORS, DETECTS),
    })
}

/// `counting` of an instrument.
pub(super) fn counting(fields: &Fields<'_>, faults: &mut Faults) -> Option<Counting> {
    let reference = deviations("reference", fields, faults)?;
    Some(Counting {
        timing: nominal::<Seconds>(fields, "timing"),
        time_base: nominal::<Ratio>(fields, "time_base"),
        reference: reference
            .iter()
            .map(|(dev, tau)| (tau.nominal(), dev.nominal()))
            .collect(),
        averages_inside: of_list(fields.text("gate"), GATES, &[false, true]),
    })
}

fn nominal<U: Unit>(fields: &Fields<'_>, key: &str) -> Option<f64> {
    fields.figure::<U>(key).map(|figure| figure.nominal())
}
