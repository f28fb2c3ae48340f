//! What the plate of a transformer says, turned into off-load voltage and copper resistance.
//!
//! A plate voltage holds at full resistive load. With the regulation `r` (rise from full load to no load as
//! a part of the plate voltage) the off-load voltage is `V (1 + r)`, and `V r` is lost in copper at full
//! load: about half of it in the secondary, half in the primary, since copper is shared out that way for the
//! least heat. Common practice, no source; a winding resistance that was measured takes its place, and where all of one
//! side were, the other side has what is left of the loss.

use super::derived::{default_range, range};
use super::fields::Fields;
use crate::model::{Figure, Origin};
use quietrail_units::{Amperes, Ohms, Quantity, Ratio, Volts};

/// Why a plate voltage belongs to the rated primary voltage.
pub(crate) const AT_PRIMARY: &str = "a plate voltage is that at the rated primary voltage";

/// The secondary's part of the copper loss: lowest, nominal, highest.
const SHARE: (f64, f64, f64) = (0.3, 0.5, 0.7);

/// Why copper follows from a plate.
const FROM_PLATE: &str = "from plate and regulation: half of the loss in each of primary and secondary, 30 % to \
                          70 %, common practice, no source";

/// Why copper of one side follows from that of the other.
const WHAT_IS_LEFT: &str = "from plate, regulation and the resistances measured on the other side: what is left of \
                            the loss at full load";
/// The same where less is left than any transformer has.
const HARDLY_LEFT: &str = "the resistances measured on the other side lose nearly all or more than plate and \
                           regulation say together: one of these is wrong; 30 % of the loss on this side stands in, \
                           common practice, no source";
/// The same where the regulation is not known.
const AS_MUCH: &str = "from plate and the resistances measured on the other side: as much loss as there, 30 % to 70 % \
                       of all, common practice, no source";

/// The plate of one secondary.
#[derive(Clone, Debug)]
pub(crate) struct Plate {
    volts: Figure<Volts>,
    /// Full-load current.
    pub(crate) amperes: Figure<Amperes>,
    regulation: Figure<Ratio>,
    says_regulation: bool,
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
        says_regulation: winding.has("regulation"),
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

/// A transformer at full load: every secondary's plate, and the volts of all primaries in series.
#[derive(Clone, Copy, Debug)]
pub(crate) struct FullLoad<'a> {
    pub(crate) plates: &'a [Plate],
    pub(crate) in_series: f64,
}

/// A drop at full load, or a power: lowest, nominal, highest.
type Lost = [f64; 3];

impl FullLoad<'_> {
    /// Current of the primaries in series.
    fn primary_amperes(&self) -> f64 {
        let shares = self.plates.iter();
        shares
            .map(|plate| plate.open().nominal() / self.in_series * plate.amperes.nominal())
            .sum()
    }

    fn says_regulation(&self) -> bool {
        self.plates.iter().all(|plate| plate.says_regulation)
    }

    /// Copper resistance of a secondary where those of all primaries were measured.
    pub(crate) fn secondary_resistance(
        &self,
        plate: &Plate,
        primaries: &[Figure<Ohms>],
    ) -> Figure<Ohms> {
        let by = plate.open().nominal() / self.in_series * self.primary_amperes();
        let there = ends(|end| primaries.iter().map(|ohms| by * end(&ohms.value)).sum());
        let (volts, rise) = (&plate.volts.value, &plate.regulation.value);
        let all = [
            volts.low * rise.low,
            volts.nominal * rise.nominal,
            volts.high * rise.high,
        ];
        let (lost, why) = left(there, plate.says_regulation.then_some(all));
        let amperes = &plate.amperes.value;
        Figure {
            value: range(
                lost[0] / amperes.high,
                lost[1] / amperes.nominal,
                lost[2] / amperes.low,
            ),
            origin: Origin::Default { why },
            span: plate.volts.span.clone(),
        }
    }

    /// Copper resistance of a primary of `volts` where those of all secondaries, in the order of the plates, were
    /// measured.
    pub(crate) fn primary_resistance(
        &self,
        secondaries: &[Figure<Ohms>],
        volts: f64,
    ) -> Figure<Ohms> {
        let pairs = || self.plates.iter().zip(secondaries);
        let power = |plate: &Plate, ohms: f64| ohms * plate.amperes.nominal().powi(2);
        let there = ends(|end| {
            pairs()
                .map(|(plate, ohms)| power(plate, end(&ohms.value)))
                .sum()
        });
        let whole = |rise: fn(&Plate) -> f64| -> f64 {
            let plates = self.plates.iter();
            plates
                .map(|plate| rise(plate) * plate.volts.nominal() * plate.amperes.nominal())
                .sum()
        };
        let all = [
            whole(|plate| plate.regulation.value.low),
            whole(|plate| plate.regulation.value.nominal),
            whole(|plate| plate.regulation.value.high),
        ];
        let (lost, why) = left(there, self.says_regulation().then_some(all));
        let share = volts / self.in_series / self.primary_amperes().powi(2);
        default_range(share * lost[0], share * lost[1], share * lost[2], why)
    }
}

/// The same at the low end of ranges, at nominal and at the high end.
fn ends(at: impl Fn(&dyn Fn(&Quantity<Ohms>) -> f64) -> f64) -> Lost {
    [
        at(&|ohms| ohms.low),
        at(&|ohms| ohms.nominal),
        at(&|ohms| ohms.high),
    ]
}

/// What is lost on one side, by what is lost on the other and by what all is, if that is known.
fn left(there: Lost, all: Option<Lost>) -> (Lost, &'static str) {
    let (least, most) = (SHARE.0 / SHARE.2, SHARE.2 / SHARE.0);
    let Some(all) = all else {
        return ([least * there[0], there[1], most * there[2]], AS_MUCH);
    };
    let here = [all[0] - there[2], all[1] - there[1], all[2] - there[0]];
    let floor = least * there[1];
    let why = if here[1] < floor {
        HARDLY_LEFT
    } else {
        WHAT_IS_LEFT
    };
    let nominal = here[1].max(floor);
    (
        [
            here[0].max(least * there[0]).min(nominal),
            nominal,
            here[2].max(nominal),
        ],
        why,
    )
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

#[cfg(test)]
mod tests {
    use super::super::derived::default_exact;
    use super::{FullLoad, HARDLY_LEFT, Ohms, Plate, WHAT_IS_LEFT, default_range};
    use crate::model::{Figure, Origin};

    fn plate(volts: f64, amperes: f64, regulation: f64) -> Plate {
        Plate {
            volts: default_exact(volts, "given"),
            amperes: default_exact(amperes, "given"),
            regulation: default_exact(regulation, "given"),
            says_regulation: true,
        }
    }

    fn why(figure: &Figure<Ohms>) -> &'static str {
        match &figure.origin {
            Origin::Default { why } => why,
            _ => panic!("copper from a plate is a default"),
        }
    }

    /// Drop at full load, both sides, is what plate and regulation say: reckoned by hand, 29 V · 14 % less 38 Ω by the
    /// square of 33.06 / 230.
    #[test]
    fn a_secondary_has_what_the_primary_leaves() {
        let plates = [plate(29.0, 1.0, 0.14)];
        let full = FullLoad {
            plates: &plates,
            in_series: 230.0,
        };
        let left =
            full.secondary_resistance(&plates[0], &[default_range(36.0, 38.0, 40.0, "read")]);
        assert!((left.nominal() - 3.275).abs() < 1e-3, "{}", left.nominal());
        assert!((left.value.low - 3.234).abs() < 1e-3 && (left.value.high - 3.316).abs() < 1e-3);
        assert_eq!(why(&left), WHAT_IS_LEFT);
        // 300 ohms would lose more than the plate says in all.
        let left = full.secondary_resistance(&plates[0], &[default_exact(300.0, "read")]);
        assert!(left.value.low > 0.0 && why(&left) == HARDLY_LEFT);
    }

    #[test]
    fn both_sides_together_lose_what_the_plates_say() {
        let plates = [plate(12.0, 1.5, 0.12), plate(24.0, 0.5, 0.15)];
        let full = FullLoad {
            plates: &plates,
            in_series: 230.0,
        };
        let copper: [Figure<Ohms>; 2] = [default_exact(0.5, "read"), default_exact(3.0, "read")];
        let halves = [115.0, 115.0].map(|volts| full.primary_resistance(&copper, volts));
        let here: f64 = halves
            .iter()
            .map(|ohms| ohms.nominal() * full.primary_amperes().powi(2))
            .sum();
        let there = 0.5 * 1.5 * 1.5 + 3.0 * 0.5 * 0.5;
        let all = 0.12 * 12.0 * 1.5 + 0.15 * 24.0 * 0.5;
        assert!(
            (here + there - all).abs() < 1e-12,
            "{here} + {there}, {all}"
        );
        // And back: what these primaries leave each secondary is, by power, what was put in.
        let back: f64 = plates
            .iter()
            .map(|plate| {
                full.secondary_resistance(plate, &halves).nominal()
                    * plate.amperes.nominal().powi(2)
            })
            .sum();
        assert!((back - there).abs() < 1e-12, "{back} {there}");
    }
}
