//! What the plates of a transformer say, turned into off-load voltages and copper resistances.
//!
//! A plate voltage holds at full resistive load. With the regulation `r` (rise from full load to no load as
//! a part of the plate voltage) the off-load voltage is `V (1 + r)`, and `V r` is lost in copper at full
//! load. That is known as well as the regulation is; how much of it is lost in the secondary is not: about half, since
//! copper is shared out that way for the least heat (common practice, no source). So regulation and share are what is free,
//! and the resistances follow: what one side has more the other has less. A winding resistance that was measured takes its
//! place, and where all of one side were, the other side has what is left of the loss.

use crate::model::{Figure, Origin, Plate, Transformer};
use crate::read::derived::{default_exact, range};
use quietrail_units::{Ohms, Quantity, Ratio, Unit, Volts};

/// Why a plate voltage belongs to the rated primary voltage.
pub(crate) const AT_PRIMARY: &str = "a plate voltage is that at the rated primary voltage";

/// The secondaries' part of the copper loss: lowest, nominal, highest.
const SHARE: (f64, f64, f64) = (0.3, 0.5, 0.7);

const SHARE_NOT_GIVEN: &str = "how primary and secondaries share the copper loss not given; half of it each, 30 % to 70 % in \
                               the secondaries, common practice, no source";

/// Why copper follows from a plate.
const FROM_PLATE: &str =
    "from plate and regulation, shared by primary and secondaries as secondary_share says";
/// Why copper of one side follows from that of the other.
const WHAT_IS_LEFT: &str = "from plate, regulation and the resistances measured on the other side: what is left of \
                            the loss at full load";
/// The same where less is left than any transformer has.
const HARDLY_LEFT: &str = "the resistances measured on the other side lose nearly all or more than plate and \
                           regulation say together: one of these is wrong; the least share of the loss on this side \
                           stands in";
/// The same where the regulation is not known.
const AS_MUCH: &str = "from plate and the resistances measured on the other side, by secondary_share: as much loss as \
                       there where that is a half";

/// How the loss is shared where the job does not say.
pub(crate) fn secondary_share() -> Figure<Ratio> {
    let (low, nominal, high) = SHARE;
    Figure::default_of(range(low, nominal, high), SHARE_NOT_GIVEN)
}

/// Copper that is put in once all windings are read.
pub(crate) fn to_follow() -> Figure<Ohms> {
    default_exact(0.0, FROM_PLATE)
}

impl Plate {
    /// Off-load voltage.
    pub(crate) fn open(&self) -> Figure<Volts> {
        let at = |end| PlateAt::of(self, end, end).open();
        let origin = match &self.regulation.origin {
            Origin::Default { why } => Origin::Default { why },
            _ => self.volts.origin.clone(),
        };
        Figure {
            value: range(at(End::Low), at(End::Nominal), at(End::High)),
            origin,
            span: self.volts.span.clone(),
        }
    }

    fn says_regulation(&self) -> bool {
        !matches!(self.regulation.origin, Origin::Default { .. })
    }
}

impl Transformer {
    /// Puts what follows from plates where plates, regulations, the share and measured resistances now are.
    pub fn follow_plates(&mut self) {
        for winding in &mut self.secondary {
            if let Some(plate) = &winding.plate {
                winding.open = plate.open();
            }
        }
        let is_measured = |of_plates: bool| !of_plates;
        if self
            .primary
            .iter()
            .all(|winding| is_measured(winding.is_of_plates))
            && self
                .secondary
                .iter()
                .all(|winding| is_measured(winding.is_of_plates))
        {
            return;
        }
        let nominal = Copper::at(self, &Ends::NOMINAL);
        let ends: Vec<Copper> = Ends::all().map(|ends| Copper::at(self, &ends)).collect();
        let figure = |of: &dyn Fn(&Copper) -> f64, why| {
            let low = ends.iter().map(of).fold(of(&nominal), f64::min);
            let high = ends.iter().map(of).fold(of(&nominal), f64::max);
            Figure::default_of(range(low, of(&nominal), high), why)
        };
        let primary: Vec<_> = (0..self.primary.len())
            .map(|index| figure(&|copper| copper.primary[index], nominal.why))
            .collect();
        let secondary: Vec<_> = (0..self.secondary.len())
            .map(|index| figure(&|copper| copper.secondary[index], nominal.why))
            .collect();
        for (winding, ohms) in self.primary.iter_mut().zip(primary) {
            if winding.is_of_plates {
                winding.resistance = ohms;
            }
        }
        for (winding, ohms) in self.secondary.iter_mut().zip(secondary) {
            if winding.is_of_plates {
                let span = winding
                    .plate
                    .as_ref()
                    .map_or(0..0, |plate| plate.volts.span.clone());
                winding.resistance = Figure { span, ..ohms };
            }
        }
    }

    /// Whether copper hangs on how primary and secondaries share the loss.
    pub(crate) fn shares_loss(&self) -> bool {
        match self.side_of_plates() {
            Side::Neither => false,
            Side::Both => true,
            Side::Primary | Side::Secondary => !self.says_regulation(),
        }
    }

    fn side_of_plates(&self) -> Side {
        let primary = self.primary.iter().any(|winding| winding.is_of_plates);
        let secondary = self.secondary.iter().any(|winding| winding.is_of_plates);
        match (primary, secondary) {
            (false, false) => Side::Neither,
            (true, false) => Side::Primary,
            // What the primary loses is known by the load of all secondaries only.
            (false, true) if self.secondary.iter().all(|winding| winding.plate.is_some()) => {
                Side::Secondary
            }
            (_, true) => Side::Both,
        }
    }

    fn says_regulation(&self) -> bool {
        let plates = self
            .secondary
            .iter()
            .filter_map(|winding| winding.plate.as_ref());
        plates.into_iter().all(Plate::says_regulation)
    }
}

/// The side whose copper follows from plates.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Side {
    Neither,
    Primary,
    Secondary,
    Both,
}

/// Where a figure stands in its tolerance.
#[derive(Clone, Copy, Debug)]
enum End {
    Low,
    Nominal,
    High,
}

impl End {
    fn of<U: Unit>(self, quantity: &Quantity<U>) -> f64 {
        match self {
            Self::Low => quantity.low,
            Self::Nominal => quantity.nominal,
            Self::High => quantity.high,
        }
    }

    fn turned(self) -> Self {
        match self {
            Self::Low => Self::High,
            Self::Nominal => Self::Nominal,
            Self::High => Self::Low,
        }
    }
}

/// Where all that copper follows from stands.
struct Ends {
    share: End,
    plate: End,
    regulation: End,
    measured: End,
}

impl Ends {
    const NOMINAL: Self = Self {
        share: End::Nominal,
        plate: End::Nominal,
        regulation: End::Nominal,
        measured: End::Nominal,
    };

    fn all() -> impl Iterator<Item = Self> {
        let end = |bits: u8, bit: u8| if bits & bit == 0 { End::Low } else { End::High };
        (0..16).map(move |bits| Self {
            share: end(bits, 1),
            plate: end(bits, 2),
            regulation: end(bits, 4),
            measured: end(bits, 8),
        })
    }
}

/// A plate with its figures at their ends.
struct PlateAt {
    volts: f64,
    amperes: f64,
    rise: f64,
}

impl PlateAt {
    /// Few amperes at full load are much copper, as many volts are.
    fn of(plate: &Plate, stands: End, regulation: End) -> Self {
        Self {
            volts: stands.of(&plate.volts.value),
            amperes: stands.turned().of(&plate.amperes.value),
            rise: regulation.of(&plate.regulation.value),
        }
    }

    fn open(&self) -> f64 {
        self.volts * (1.0 + self.rise)
    }
}

/// Ohms of all windings, those that were measured among them.
struct Copper {
    primary: Vec<f64>,
    secondary: Vec<f64>,
    why: &'static str,
}

impl Copper {
    fn at(of: &Transformer, ends: &Ends) -> Self {
        let share = ends.share.of(&of.secondary_share.value);
        let plate = |plate: &Plate| PlateAt::of(plate, ends.plate, ends.regulation);
        let plates: Vec<Option<PlateAt>> = of
            .secondary
            .iter()
            .map(|winding| winding.plate.as_ref().map(plate))
            .collect();
        let primary: Vec<f64> = of
            .primary
            .iter()
            .map(|own| ends.measured.of(&own.resistance.value))
            .collect();
        let secondary: Vec<f64> = of
            .secondary
            .iter()
            .map(|own| ends.measured.of(&own.resistance.value))
            .collect();
        match plates
            .iter()
            .map(Option::as_ref)
            .collect::<Option<Vec<_>>>()
        {
            Some(plates) => {
                let load = FullLoad {
                    of,
                    plates: &plates,
                    share,
                };
                load.copper(primary, secondary)
            }
            // What the other secondaries take is not known, and so not what the primary drops.
            None => Self {
                secondary: plates
                    .iter()
                    .zip(&of.secondary)
                    .zip(secondary)
                    .map(|((plate, winding), ohms)| match plate {
                        Some(plate) if winding.is_of_plates => {
                            share * plate.volts * plate.rise / plate.amperes
                        }
                        _ => ohms,
                    })
                    .collect(),
                primary,
                why: FROM_PLATE,
            },
        }
    }
}

/// A transformer with the full load of every plate on it.
struct FullLoad<'a> {
    of: &'a Transformer,
    plates: &'a [&'a PlateAt],
    share: f64,
}

impl FullLoad<'_> {
    /// The copper of all windings; `primary` and `secondary` are what was measured.
    fn copper(&self, primary: Vec<f64>, secondary: Vec<f64>) -> Copper {
        let volts: f64 = self
            .of
            .primary
            .iter()
            .map(|winding| winding.volts.nominal())
            .sum();
        let apparent: f64 = self
            .plates
            .iter()
            .map(|plate| plate.open() * plate.amperes)
            .sum();
        let amperes = apparent / volts;
        let (lost, mut why) = self.lost_in_primary(&primary, &secondary, amperes);
        // Every secondary falls by the same part of its off-load voltage for what the primary loses.
        let fall = lost / apparent;
        let follow = |(index, own): (usize, f64)| {
            if !self.of.secondary[index].is_of_plates {
                return own;
            }
            let (drop, hardly) = self.dropped_in(index, fall);
            why = if hardly { HARDLY_LEFT } else { why };
            drop / self.plates[index].amperes
        };
        let secondary = secondary.into_iter().enumerate().map(follow).collect();
        let windings = self.of.primary.iter().zip(primary);
        let primary = windings
            .map(|(winding, own)| {
                if winding.is_of_plates {
                    winding.volts.nominal() / volts * lost / amperes.powi(2)
                } else {
                    own
                }
            })
            .collect();
        Copper {
            primary,
            secondary,
            why,
        }
    }

    /// Watts lost in all primaries at full load, and why.
    fn lost_in_primary(
        &self,
        primary: &[f64],
        secondary: &[f64],
        amperes: f64,
    ) -> (f64, &'static str) {
        let all: f64 = self
            .plates
            .iter()
            .map(|plate| plate.rise * plate.volts * plate.amperes)
            .sum();
        match self.of.side_of_plates() {
            Side::Both => ((1.0 - self.share) * all, FROM_PLATE),
            Side::Neither | Side::Secondary => {
                let why = if self.of.says_regulation() {
                    WHAT_IS_LEFT
                } else {
                    AS_MUCH
                };
                (primary.iter().sum::<f64>() * amperes.powi(2), why)
            }
            Side::Primary => {
                let own = self.plates.iter().zip(secondary);
                let there: f64 = own.map(|(plate, ohms)| ohms * plate.amperes.powi(2)).sum();
                if !self.of.says_regulation() {
                    return (there * (1.0 - self.share) / self.share, AS_MUCH);
                }
                let most = self.of.secondary_share.value.high;
                let floor = there * (1.0 - most) / most;
                let why = if all - there < floor {
                    HARDLY_LEFT
                } else {
                    WHAT_IS_LEFT
                };
                ((all - there).max(floor), why)
            }
        }
    }

    /// Volts dropped in a secondary at full load, `fall` of its off-load voltage having gone in the primary, and whether
    /// that is hardly anything.
    fn dropped_in(&self, index: usize, fall: f64) -> (f64, bool) {
        let plate = self.plates[index];
        let there = fall * plate.open();
        let is_one_side = self.of.side_of_plates() == Side::Secondary;
        if is_one_side
            && !self.of.secondary[index]
                .plate
                .as_ref()
                .is_some_and(Plate::says_regulation)
        {
            return (there * self.share / (1.0 - self.share), false);
        }
        let here = plate.rise * plate.volts - there;
        let least = self.of.secondary_share.value.low;
        let floor = there * least / (1.0 - least);
        (here.max(floor), is_one_side && here < floor)
    }
}

#[cfg(test)]
mod tests {
    use super::{AS_MUCH, HARDLY_LEFT, WHAT_IS_LEFT};
    use crate::model::{Figure, Origin, PartKind, Transformer};
    use quietrail_units::Ohms;

    /// A transformer of a job with these windings, each written as in the file.
    fn transformer(primary: &[&str], secondary: &[&str]) -> Transformer {
        let list = |windings: &[&str]| windings.join(", ");
        let selector = match primary {
            [_] => "",
            _ => "selector = { \"230 V\" = \"P1 + P2\" }\n",
        };
        let (primary, secondary) = (list(primary), list(secondary));
        let text = format!(
            "format = 1\n[mains]\nvoltage = \"230 V\"\nfrequency = \"50 Hz\"\n[states]\non = \"on\"\n\
             [transformer.T1]\nprimary = [{primary}]\n{selector}secondary = [{secondary}]\n"
        );
        let read = crate::read(&text, None);
        let job = read
            .job
            .unwrap_or_else(|| panic!("{:?}\n{text}", read.diagnostics));
        match &job.part("T1").expect("it is there").kind {
            PartKind::Transformer(transformer) => transformer.clone(),
            _ => panic!("T1 is a transformer"),
        }
    }

    fn why(figure: &Figure<Ohms>) -> &'static str {
        match &figure.origin {
            Origin::Default { why } => why,
            _ => panic!("copper from a plate is a default"),
        }
    }

    /// What a secondary keeps at full resistive load on all of them, the rated volts on the primaries in series.
    fn at_full_load(of: &Transformer, index: usize) -> f64 {
        let amperes = |k: usize| {
            of.secondary[k]
                .plate
                .as_ref()
                .expect("a plate")
                .amperes
                .nominal()
        };
        let volts: f64 = of.primary.iter().map(|own| own.volts.nominal()).sum();
        let ratio = |k: usize| of.secondary[k].open.nominal() / volts;
        let primary: f64 = (0..of.secondary.len()).map(|k| ratio(k) * amperes(k)).sum();
        let copper: f64 = of.primary.iter().map(|own| own.resistance.nominal()).sum();
        (volts - primary * copper) * ratio(index)
            - of.secondary[index].resistance.nominal() * amperes(index)
    }

    const P1: &str = "{ name = \"P1\", volts = \"230 V\" }";

    /// 12 V, 1.5 A, 12 %: 13.44 V off load and 1.44 V lost between the two sides. Reckoned by hand: in the secondary
    /// 0.72 V / 1.5 A, in the primary 1.08 W by the square of 20.16 VA / 230 V.
    #[test]
    fn at_full_load_the_plate_voltage_is_there_however_the_loss_is_shared() {
        let mut one = transformer(
            &[P1],
            &["{ name = \"S1\", plate = \"12 V 1.5 A\", regulation = \"12 %\" }"],
        );
        assert!((one.secondary[0].open.nominal() - 13.44).abs() < 1e-9);
        assert!((one.secondary[0].resistance.nominal() - 0.48).abs() < 1e-9);
        let copper = &one.primary[0].resistance.value;
        assert!(
            (copper.nominal - 140.572).abs() < 1e-3,
            "{}",
            copper.nominal
        );
        assert!(
            (copper.low - 0.6 * copper.nominal).abs() < 1e-9,
            "{}",
            copper.low
        );
        assert!(
            (copper.high - 1.4 * copper.nominal).abs() < 1e-9,
            "{}",
            copper.high
        );
        for share in [0.3, 0.41, 0.5, 0.7] {
            one.secondary_share.value.nominal = share;
            one.follow_plates();
            let kept = at_full_load(&one, 0);
            assert!(
                (kept - 12.0).abs() < 1e-9,
                "{kept} V with {share} of the loss in the secondary"
            );
        }
    }

    #[test]
    fn of_several_plates_each_has_its_voltage_with_all_of_them_loaded() {
        let of = transformer(
            &[
                "{ name = \"P1\", volts = \"115 V\" }",
                "{ name = \"P2\", volts = \"115 V\" }",
            ],
            &[
                "{ name = \"S1\", plate = \"12 V 1.5 A\", regulation = \"12 %\" }",
                "{ name = \"S2\", plate = \"24 V 0.5 A\", regulation = \"15 %\" }",
            ],
        );
        for (index, volts) in [12.0, 24.0].into_iter().enumerate() {
            let kept = at_full_load(&of, index);
            assert!((kept - volts).abs() < 1e-9, "{kept} V of {volts} V");
        }
        let [one, other] = [0, 1].map(|index| of.primary[index].resistance.nominal());
        assert!(
            (one - other).abs() < 1e-12 && one > 0.0,
            "{one} and {other}"
        );
    }

    /// Drop at full load, both sides, is what plate and regulation say: reckoned by hand, 29 V · 14 % less 38 Ω by the
    /// square of 33.06 / 230.
    #[test]
    fn a_secondary_has_what_the_primary_leaves() {
        let with = |ohms: &str| {
            let primary =
                format!("{{ name = \"P1\", volts = \"230 V\", resistance = \"{ohms}\" }}");
            transformer(
                &[&primary],
                &["{ name = \"S1\", plate = \"29 V 1 A\", regulation = \"14 %\" }"],
            )
        };
        let left = &with("36 Ω .. 40 Ω").secondary[0].resistance;
        assert!((left.nominal() - 3.275).abs() < 1e-3, "{}", left.nominal());
        assert!((left.value.low - 3.234).abs() < 1e-3 && (left.value.high - 3.316).abs() < 1e-3);
        assert_eq!(why(left), WHAT_IS_LEFT);
        // 300 ohms would lose more than the plate says in all.
        let left = &with("300 Ω").secondary[0].resistance;
        assert!(left.value.low > 0.0 && why(left) == HARDLY_LEFT);
    }

    #[test]
    fn a_primary_has_what_the_secondaries_leave() {
        let secondary = [
            "{ name = \"S1\", plate = \"12 V 1.5 A\", regulation = \"12 %\", resistance = \"0.5 Ω\" }",
            "{ name = \"S2\", plate = \"24 V 0.5 A\", regulation = \"15 %\", resistance = \"3 Ω\" }",
        ];
        let of = transformer(&[P1], &secondary);
        let amperes = (1.12 * 12.0 * 1.5 + 1.15 * 24.0 * 0.5) / 230.0;
        let here = of.primary[0].resistance.nominal() * amperes * amperes;
        let there = 0.5 * 1.5 * 1.5 + 3.0 * 0.5 * 0.5;
        let all = 0.12 * 12.0 * 1.5 + 0.15 * 24.0 * 0.5;
        assert!((here + there - all).abs() < 1e-9, "{here} + {there}, {all}");
        assert_eq!(why(&of.primary[0].resistance), WHAT_IS_LEFT);
        // Without regulations as much goes in the primary as in the secondaries, within the share.
        let secondary = secondary.map(|own| {
            own.replace(", regulation = \"12 %\"", "")
                .replace(", regulation = \"15 %\"", "")
        });
        let of = transformer(&[P1], &secondary.each_ref().map(String::as_str));
        let copper = &of.primary[0].resistance;
        assert_eq!(why(copper), AS_MUCH);
        assert!((copper.value.low * 7.0 / 3.0 / copper.nominal() - 1.0).abs() < 0.2);
    }
}
