//! The curve of a diode at a junction temperature, from a law or from data-sheet points.

use quietrail_engine::DiodeLaw;
use quietrail_engine::diode::LEAST_SLOPE;
use quietrail_engine::math::{exp, ln, pow, thermal_voltage};
use quietrail_job::model::DiodeCurve;

/// Ideality assumed when a data sheet gives two forward points only: between diffusion (1) and
/// recombination (2), as rectifiers at milliamperes to amperes are (common practice, no source).
const IDEALITY_OF_TWO_POINTS: f64 = 1.7;

/// Leakage of a blocking diode that is given by forward points, S (from memory: of the order of nanoamperes
/// at tens of volts for a cool silicon rectifier).
const LEAKAGE_OF_POINTS: f64 = 1e-9;

/// Volts of one silicon junction, V: tells how many a transistor has in a row.
const ONE_JUNCTION: f64 = 0.65;
/// Volts of a rectifying junction at its rated current, its series resistance taken off, V: tells how many a stack has in a row,
/// and whether two figures are one junction. Up to 1.35 V are one, as data sheets promise 1.1 V to 1.2 V at most of one.
const OF_A_STACK: f64 = 0.9;

/// Barrier of silicon, V: band gap at 300 K.
const SILICON: f64 = 1.12;
/// Barrier of a metal on silicon, V (from memory: 0.6 V to 0.8 V by metal).
const SCHOTTKY: f64 = 0.69;
/// Junction voltage at 1 A below which a curve is taken for a metal-semiconductor diode.
const SCHOTTKY_BELOW: f64 = 0.5;

/// The law of a diode with its junction at a temperature in °C.
pub fn law_at(curve: &DiodeCurve, celsius: f64) -> DiodeLaw {
    match curve {
        DiodeCurve::Law {
            saturation,
            ideality,
            series,
            leakage,
            at,
        } => {
            let known = Known {
                saturation: saturation.nominal(),
                ideality: ideality.nominal(),
                series: series.nominal(),
                leakage: leakage.nominal(),
                celsius: at.nominal(),
                junctions: 1.0,
            };
            let known = Known {
                junctions: stacked(known.at_one_ampere()),
                ..known
            };
            known.at(celsius)
        }
        DiodeCurve::Points { points, at } => {
            let pairs: Vec<(f64, f64)> = points
                .iter()
                .map(|(volts, amps)| (volts.nominal(), amps.nominal()))
                .collect();
            through(&pairs, at.nominal()).at(celsius)
        }
        DiodeCurve::Ideal { drop, slope } => DiodeLaw::Ideal {
            drop: drop.nominal(),
            // Both ways of solving have the same diode, and its loss.
            slope: slope.nominal().max(LEAST_SLOPE),
        },
    }
}

/// An exponential law at its own temperature.
#[derive(Clone, Copy)]
pub(super) struct Known {
    pub(super) saturation: f64,
    pub(super) ideality: f64,
    pub(super) series: f64,
    pub(super) leakage: f64,
    pub(super) celsius: f64,
    /// How many junctions in a row it stands for; `ideality` is that of all together.
    pub(super) junctions: f64,
}

impl Known {
    /// What its junctions drop at an ampere, V.
    fn at_one_ampere(&self) -> f64 {
        self.ideality * thermal_voltage(self.celsius) * ln(1.0 / self.saturation)
    }

    /// The saturation current rises with temperature as in every text on junctions:
    /// `Is(T) = Is(T0) (T/T0)^(3/n) exp((E/n)(1/Vt(T0) − 1/Vt(T)))`, with the `n` of one junction.
    pub(super) fn at(&self, celsius: f64) -> DiodeLaw {
        let (old, new) = (thermal_voltage(self.celsius), thermal_voltage(celsius));
        let barrier = if self.at_one_ampere() < SCHOTTKY_BELOW * self.junctions {
            SCHOTTKY
        } else {
            SILICON
        };
        let of_one = self.ideality / self.junctions;
        let rise = pow(new / old, 3.0 / of_one) * exp(barrier / of_one * (1.0 / old - 1.0 / new));
        DiodeLaw::Exponential {
            saturation: self.saturation * rise,
            slope_voltage: self.ideality * new,
            series: self.series,
            leakage: self.leakage,
        }
    }
}

/// The law through data-sheet points (V, A): `v = a + b ln i + r i`, which is linear in its three unknowns.
///
/// Three points or more fix all of them (least squares); two fix `a` and `r` at an assumed ideality; one
/// fixes `a` alone. Slopes outside what junctions show are drawn back to the nearest that they do.
///
/// A stack of plates, a string of diodes and a valve drop more than a junction ever does; they are taken for as many in a row.
/// One junction of so many volts would have a saturation current that no arithmetic holds, and never conduct.
fn through(points: &[(f64, f64)], celsius: f64) -> Known {
    let junctions = stacked(at_no_current(points));
    with_ideality(points, celsius, (IDEALITY_OF_TWO_POINTS, junctions))
}

/// How many rectifying junctions in a row drop so much.
fn stacked(volts: f64) -> f64 {
    (volts / OF_A_STACK).round().max(1.0)
}

/// Where the straight line through the ends of a curve meets no current, V; of one point its volts.
fn at_no_current(points: &[(f64, f64)]) -> f64 {
    let ((v1, i1), (v2, i2)) = (points[0], points[points.len() - 1]);
    if i2 > i1 {
        (v1 * i2 - v2 * i1) / (i2 - i1)
    } else {
        v1
    }
}

/// Base and emitter of a transistor: the collector's current is all diffusion, so its ideality is 1 where the points do not say
/// otherwise, and twice that for a Darlington.
pub(super) fn base_emitter(points: &[(f64, f64)], celsius: f64) -> Known {
    Known {
        leakage: 0.0,
        ..with_ideality(points, celsius, (1.0, junctions(points[0].0)))
    }
}

/// How many silicon junctions in a row drop so much.
pub(super) fn junctions(volts: f64) -> f64 {
    (volts / ONE_JUNCTION).round().max(1.0)
}

/// The law with the ideality of one junction that is assumed, and how many are in a row.
fn with_ideality(points: &[(f64, f64)], celsius: f64, (assumed, junctions): (f64, f64)) -> Known {
    let vt = junctions * thermal_voltage(celsius);
    let mut ideality = assumed;
    if points.len() >= 3
        && let Some(b) = free_slope(points)
    {
        ideality = (b / vt).clamp(1.0, 2.2);
    }
    let mut series = series_of(points, ideality * vt);
    if series < 0.0 {
        // The points are steeper than this junction: no resistance, and an ideality that meets the ends.
        series = 0.0;
        let (first, last) = (points[0], points[points.len() - 1]);
        let b = (last.0 - first.0) / ln(last.1 / first.1);
        ideality = (b / vt).clamp(0.8, 2.2);
    }
    // Through the largest current, where the drop matters most.
    let (volts, amps) = points[points.len() - 1];
    let junction = volts - series * amps;
    let saturation = amps / exp(junction / (ideality * vt));
    Known {
        saturation,
        ideality: ideality * junctions,
        series,
        leakage: LEAKAGE_OF_POINTS,
        celsius,
        junctions,
    }
}

/// Least-squares `b` of `v = a + b ln i + r i`.
fn free_slope(points: &[(f64, f64)]) -> Option<f64> {
    let count = points.len() as f64;
    let mean = |f: &dyn Fn(&(f64, f64)) -> f64| points.iter().map(f).sum::<f64>() / count;
    let (mv, ml, mi) = (mean(&|p| p.0), mean(&|p| ln(p.1)), mean(&|p| p.1));
    let (mut ll, mut li, mut ii, mut lv, mut iv) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for &(v, i) in points {
        let (dl, di, dv) = (ln(i) - ml, i - mi, v - mv);
        ll += dl * dl;
        li += dl * di;
        ii += di * di;
        lv += dl * dv;
        iv += di * dv;
    }
    let det = ll * ii - li * li;
    (det > 1e-12 * ll * ii).then(|| (lv * ii - iv * li) / det)
}

/// Least-squares `r` of `v − b ln i = a + r i`; 0 for a single point.
fn series_of(points: &[(f64, f64)], b: f64) -> f64 {
    let count = points.len() as f64;
    let rest = |&(v, i): &(f64, f64)| v - b * ln(i);
    let mean_v = points.iter().map(rest).sum::<f64>() / count;
    let mean_i = points.iter().map(|p| p.1).sum::<f64>() / count;
    let (mut above, mut below) = (0.0, 0.0);
    for point in points {
        let di = point.1 - mean_i;
        above += di * (rest(point) - mean_v);
        below += di * di;
    }
    if below > 0.0 { above / below } else { 0.0 }
}

#[cfg(test)]
pub(super) mod tests {
    use super::{base_emitter, law_at, through};
    use quietrail_engine::DiodeLaw;
    use quietrail_engine::math::{exp, thermal_voltage};
    use quietrail_job::model::{DiodeCurve, Figure};
    use quietrail_units::Quantity;

    fn figure<U: quietrail_units::Unit>(value: f64) -> Figure<U> {
        Figure::default_of(Quantity::exact(value), "a test")
    }

    #[test]
    fn points_of_a_law_give_the_law_back() {
        let (n, r, is) = (1.5, 0.03, 2e-9);
        let vt = thermal_voltage(25.0);
        let volts = |i: f64| n * vt * quietrail_engine::math::ln(i / is) + r * i;
        let points: Vec<_> = [0.01, 0.3, 3.0].map(|i| (volts(i), i)).to_vec();
        let found = through(&points, 25.0);
        assert!((found.ideality - n).abs() < 1e-9 && (found.series - r).abs() < 1e-9);
        assert!((found.saturation / is - 1.0).abs() < 1e-7);
    }

    /// A silicon junction at constant current falls by about 2 mV per kelvin (common practice, no source).
    #[test]
    fn warm_junctions_drop_less() {
        let law = |celsius| {
            let curve = DiodeCurve::Law {
                saturation: figure(1.4e-8),
                ideality: figure(1.98),
                series: figure(0.034),
                leakage: figure(1e-9),
                at: figure(25.0),
            };
            let DiodeLaw::Exponential {
                saturation,
                slope_voltage,
                ..
            } = law_at(&curve, celsius)
            else {
                panic!("an exponential law")
            };
            slope_voltage * quietrail_engine::math::ln(1.0 / saturation)
        };
        let per_kelvin = (law(75.0) - law(25.0)) / 50.0;
        assert!((-2.5e-3..-0.7e-3).contains(&per_kelvin), "{per_kelvin}");
        assert!(exp(0.0) == 1.0);
    }

    /// Volts at a current by a law.
    pub(in crate::lower) fn volts(law: DiodeLaw, amps: f64) -> f64 {
        let DiodeLaw::Exponential {
            saturation,
            slope_voltage,
            series,
            ..
        } = law
        else {
            panic!("an exponential law")
        };
        slope_voltage * quietrail_engine::math::ln(amps / saturation + 1.0) + series * amps
    }

    /// Two junctions in a row fall twice as fast as one (data sheets of Darlingtons draw 3 mV to 4 mV a kelvin; from memory). As one
    /// of 1.12 V that drops 1.4 V it would rise.
    #[test]
    fn a_darlingtons_base_falls_twice_as_fast_as_one_junction() {
        let of =
            |points: &[(f64, f64)], celsius| volts(base_emitter(points, 25.0).at(celsius), 0.5);
        let per_kelvin = |points| (of(points, 95.0) - of(points, 25.0)) / 70.0;
        let one = per_kelvin(&[(0.65, 0.05), (0.75, 0.5)]);
        let two = per_kelvin(&[(1.3, 0.05), (1.5, 0.5)]);
        assert!((-2.2e-3..-1.2e-3).contains(&one), "{one}");
        assert!((two / one - 2.0).abs() < 0.02, "{one} {two}");
    }

    /// What drops more than one junction goes through its points all the same, by figures that the engine's exponential holds, and
    /// falls as it warms.
    #[test]
    fn stacks_and_valves_go_through_their_points() {
        let valve: &[(f64, f64)] = &[(15.0, 0.05), (30.0, 0.15)];
        let plates: &[(f64, f64)] = &[(4.6, 0.1), (6.4, 1.0)];
        let string: &[(f64, f64)] = &[(5.2, 0.01), (5.9, 0.1), (6.7, 1.0)];
        for points in [valve, plates, string, &[(12.0, 0.005)]] {
            let law = through(points, 25.0);
            let DiodeLaw::Exponential { saturation, .. } = law.at(25.0) else {
                panic!("an exponential law")
            };
            for &(at, amps) in points {
                assert!(
                    (volts(law.at(25.0), amps) / at - 1.0).abs() < 0.03,
                    "{at} V"
                );
                assert!((1e-18..amps * 1e-3).contains(&saturation), "{saturation} A");
                assert!(volts(law.at(75.0), amps) < at, "{at} V");
            }
        }
    }
}
