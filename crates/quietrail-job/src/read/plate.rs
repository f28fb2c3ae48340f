//! What the plate of a transformer says, turned into off-load voltage and copper resistance.
//!
//! A plate voltage holds at full resistive load. With the regulation `r` (rise from full load to no load as
//! a part of the plate voltage) the off-load voltage is `V (1 + r)`, and `V r` is lost in copper at full
//! load: about half of it in the secondary, half in the primary, since copper is shared out that way for the
//! least heat. Common practice, no source; a winding resistance that was measured takes its place.

use super::derived::{default_range, range};
use super::fields::Fields;
use crate::model::{Figure, Origin};
use quietrail_units::{Amperes, Ohms, Ratio, Volts};

/// Why a plate voltage belongs to the rated primary voltage.
pub(crate) const AT_PRIMARY: &str = "a plate voltage is that at the rated primary voltage";

/// The secondary's part of the copper loss: lowest, nominal, highest.
const SHARE: (f64, f64, f64) = (0.3, 0.5, 0.7);

/// Why copper follows from a plate.
const FROM_PLATE: &str = "from plate and regulation: half of the loss in each of primary and secondary, 30 % to \
                          70 %, common practice, no source";

/// The plate of one secondary.
#[derive(Clone, Debug)]
pub(crate) struct Plate {
    volts: Figure<Volts>,
    /// Full-load current.
    pub(crate) amperes: Figure<Amperes>,
    regulation: Figure<Ratio>,
}

/// The plate of a winding, if it gives one that can be read.
pub(crate) fn of(winding: &Fields<'_>) -> Option<Plate> {
    let (volts, amperes) = winding.pair("plate")?;
    let why =
        "regulation not given; 8 % .. 25 % of small mains transformers, common practice, no source";
    let regulation = if winding.has("regulation") {
        winding.figure("regulation")?
    } else {
        default_range(0.08, 0.15, 0.25, why)
    };
    Some(Plate {
        volts,
        amperes,
        regulation,
    })
}

impl Plate {
    /// Off-load voltage.
    pub(crate) fn open(&self) -> Figure<Volts> {
        let (volts, rise) = (&self.volts.value, &self.regulation.value);
        let value = range(
            volts.low * (1.0 + rise.low),
            volts.nominal * (1.0 + rise.nominal),
            volts.high * (1.0 + rise.high),
        );
        let origin = match &self.regulation.origin {
            Origin::Default { why } => Origin::Default { why },
            _ => self.volts.origin.clone(),
        };
        Figure {
            value,
            origin,
            span: self.volts.span.clone(),
        }
    }

    /// Copper resistance of the secondary.
    pub(crate) fn secondary_resistance(&self) -> Figure<Ohms> {
        let (volts, amperes, rise) = (
            &self.volts.value,
            &self.amperes.value,
            &self.regulation.value,
        );
        let value = range(
            SHARE.0 * volts.low * rise.low / amperes.high,
            SHARE.1 * volts.nominal * rise.nominal / amperes.nominal,
            SHARE.2 * volts.high * rise.high / amperes.low,
        );
        Figure {
            value,
            origin: Origin::Default { why: FROM_PLATE },
            span: self.volts.span.clone(),
        }
    }
}

/// Copper resistance of a primary winding of `volts`, where all primaries in series make `in_series`:
/// `r/2 · in_series · volts / ΣVA`, so that the whole primary loses its half at full load.
pub(crate) fn primary_resistance(plates: &[Plate], in_series: f64, volts: f64) -> Figure<Ohms> {
    let apparent: f64 = plates
        .iter()
        .map(|plate| plate.volts.nominal() * plate.amperes.nominal())
        .sum();
    let weighted = |rise: fn(&Plate) -> f64| {
        let loss: f64 = plates
            .iter()
            .map(|plate| rise(plate) * plate.volts.nominal() * plate.amperes.nominal())
            .sum();
        loss / apparent * in_series * volts / apparent
    };
    let low = SHARE.0 * weighted(|plate| plate.regulation.value.low);
    let nominal = SHARE.1 * weighted(|plate| plate.regulation.value.nominal);
    let high = SHARE.2 * weighted(|plate| plate.regulation.value.high);
    default_range(low, nominal, high, FROM_PLATE)
}
