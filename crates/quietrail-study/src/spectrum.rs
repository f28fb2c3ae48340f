//! Harmonics of the mains in a signal, and what a band or a rating makes of them.

use quietrail_engine::math::{cos, sin};
use quietrail_engine::{Orbit, Probe};
use quietrail_job::model::{Band, RippleRating};
use std::f64::consts::PI;

/// Points per cycle that harmonics are computed from.
const POINTS: usize = quietrail_engine::batch::TRACE;
/// Highest harmonic computed one by one; what lies above is what the total leaves over.
const HARMONICS: usize = 200;

/// rms of each harmonic of the mains in a signal, from the first.
#[derive(Clone)]
pub struct Spectrum {
    frequency: f64,
    /// rms by harmonic; index 0 is the first.
    rms: Vec<f64>,
    /// Mean square of everything above.
    rest: f64,
}

impl Spectrum {
    /// Of a probe of a cycle.
    pub fn of(orbit: &Orbit<'_>, probe: &Probe, frequency: f64) -> Self {
        let samples: Vec<f64> = (0..POINTS)
            .map(|k| orbit.value(probe, k as f64 / POINTS as f64))
            .collect();
        Self::of_samples(&samples, orbit.ripple_rms(probe), frequency)
    }

    /// Of even samples of a cycle (a power of two of them), whose alternating part has the rms `total`.
    pub fn of_samples(samples: &[f64], total: f64, frequency: f64) -> Self {
        let points = samples.len() as f64;
        let rms: Vec<f64> = transform(samples)[1..=HARMONICS]
            .iter()
            .map(|(a, b)| (2.0 * (a * a + b * b)).sqrt() / points)
            .collect();
        let known: f64 = rms.iter().map(|v| v * v).sum();
        Self {
            frequency,
            rms,
            rest: (total * total - known).max(0.0),
        }
    }

    /// The same harmonics of mains of another frequency.
    pub fn at_mains(&self, frequency: f64) -> Self {
        Self {
            frequency,
            ..self.clone()
        }
    }

    /// Number and rms of each harmonic computed one by one, from the first.
    pub fn harmonics(&self) -> impl Iterator<Item = (usize, f64)> + use<'_> {
        let numbered = self.rms.iter().enumerate();
        numbered.map(|(index, rms)| (index + 1, *rms))
    }

    /// rms inside a band.
    pub fn in_band(&self, band: &Band) -> f64 {
        self.weighted(|hertz| match *band {
            Band::BrickWall { low, high } => f64::from(u8::from(hertz >= low && hertz <= high)),
            Band::Poles { low, high } => {
                let (l, h) = (low / hertz, hertz / high);
                1.0 / ((1.0 + l * l) * (1.0 + h * h))
            }
        })
    }

    /// The rms current at the rating's frequency that would heat a capacitor alike:
    /// `sqrt(Σ (I_n / k_n)²)` with the multipliers `k` of its data sheet at each frequency; without any, that of its own frequency alone.
    pub fn equivalent(&self, rating: &RippleRating) -> f64 {
        let alone = [(rating.hertz.nominal(), 1.0)];
        let multipliers = if rating.multipliers.is_empty() {
            &alone[..]
        } else {
            &rating.multipliers
        };
        self.by(multipliers)
    }

    fn by(&self, multipliers: &[(f64, f64)]) -> f64 {
        self.weighted(|hertz| {
            let k = multiplier(multipliers, hertz);
            1.0 / (k * k)
        })
    }

    fn weighted(&self, weight: impl Fn(f64) -> f64) -> f64 {
        let mut sum = self.rest * weight((HARMONICS + 1) as f64 * self.frequency);
        for (index, rms) in self.rms.iter().enumerate() {
            sum += rms * rms * weight((index + 1) as f64 * self.frequency);
        }
        sum.sqrt()
    }
}

/// Discrete Fourier transform, real and imaginary parts, of a power of two of samples: by halves (Cooley and Tukey,
/// *Math. Comp.* 19 (1965) 297). Its own, so that every machine gives the same bits.
fn transform(samples: &[f64]) -> Vec<(f64, f64)> {
    let n = samples.len();
    debug_assert!(n.is_power_of_two());
    let turns: Vec<(f64, f64)> = (0..n / 2)
        .map(|k| {
            let angle = 2.0 * PI * k as f64 / n as f64;
            (cos(angle), -sin(angle))
        })
        .collect();
    let bits = n.trailing_zeros();
    let mut values: Vec<(f64, f64)> = (0..n)
        .map(|k| (samples[k.reverse_bits() >> (usize::BITS - bits)], 0.0))
        .collect();
    let mut half = 1;
    while half < n {
        for first in (0..n).step_by(2 * half) {
            for k in 0..half {
                let (c, s) = turns[k * (n / 2 / half)];
                let (a, b) = values[first + half + k];
                let turned = (a * c - b * s, a * s + b * c);
                let (p, q) = values[first + k];
                values[first + k] = (p + turned.0, q + turned.1);
                values[first + half + k] = (p - turned.0, q - turned.1);
            }
        }
        half *= 2;
    }
    values
}

/// Multiplier at a frequency: on the line through the data sheet's points over the logarithm of frequency,
/// level above its end. Below its end it falls with the root of the frequency: loss in the oxide makes a series resistance that goes as one
/// over the frequency, and nothing in a capacitor rises faster. Makers give up to 0.8 of the rating at 120 Hz for 60 Hz, 0.92 for 100 Hz
/// and 0.86 of that at 100 Hz for 50 Hz (lowest of several data sheets), where this gives 0.71, 0.91 and 0.71. 1 where there are no points.
fn multiplier(points: &[(f64, f64)], hertz: f64) -> f64 {
    let (Some(first), Some(last)) = (points.first(), points.last()) else {
        return 1.0;
    };
    if hertz <= first.0 {
        return first.1 * (hertz / first.0).sqrt();
    }
    for pair in points.windows(2) {
        if hertz <= pair[1].0 {
            let ln = quietrail_engine::math::ln;
            let share = ln(hertz / pair[0].0) / ln(pair[1].0 / pair[0].0);
            return pair[0].1 + share * (pair[1].1 - pair[0].1);
        }
    }
    last.1
}

#[cfg(test)]
mod tests {
    use super::{Spectrum, multiplier};
    use quietrail_engine::math::sin;
    use quietrail_job::model::Band;
    use std::f64::consts::PI;

    #[test]
    fn harmonics_are_found_where_they_were_put() {
        let samples: Vec<f64> = (0..1024)
            .map(|k| {
                let at = 2.0 * PI * f64::from(k) / 1024.0;
                5.0 + 0.3 * 2.0_f64.sqrt() * sin(2.0 * at + 0.4)
                    + 1e-4 * 2.0_f64.sqrt() * sin(200.0 * at)
            })
            .collect();
        let spectrum = Spectrum::of_samples(&samples, 0.300_000_02, 50.0);
        assert!((spectrum.rms[1] - 0.3).abs() < 1e-12, "{}", spectrum.rms[1]);
        assert!((spectrum.rms[199] - 1e-4).abs() < 1e-12);
        assert!(spectrum.rms[0] < 1e-12);
    }

    /// PWR-CAP-05: 2.0 A at 2f and 1.2 A at 4f with multipliers 1.00 and 1.05 make 2.303502 A.
    #[test]
    fn ripple_currents_add_by_their_heat() {
        let mut rms = vec![0.0; super::HARMONICS];
        rms[1] = 2.0;
        rms[3] = 1.2;
        let spectrum = Spectrum {
            frequency: 50.0,
            rms,
            rest: 0.0,
        };
        let got = spectrum.by(&[(100.0, 1.0), (200.0, 1.05)]);
        assert!((got / 2.303_502 - 1.0).abs() < 1e-6, "{got}");
    }

    #[test]
    fn a_wall_keeps_what_is_inside_and_poles_halve_at_their_corner() {
        let mut rms = vec![0.0; super::HARMONICS];
        rms[1] = 3.0;
        rms[9] = 4.0;
        let spectrum = Spectrum {
            frequency: 50.0,
            rms,
            rest: 0.0,
        };
        assert_eq!(
            spectrum.in_band(&Band::BrickWall {
                low: 10.0,
                high: 1e5
            }),
            5.0
        );
        assert_eq!(
            spectrum.in_band(&Band::BrickWall {
                low: 10.0,
                high: 200.0
            }),
            3.0
        );
        let poles = spectrum.in_band(&Band::Poles {
            low: 0.0,
            high: 100.0,
        });
        assert!((poles - (4.5_f64 + 16.0 / 26.0).sqrt()).abs() < 1e-12);
    }

    #[test]
    fn multipliers_are_read_between_their_points() {
        let points = [(50.0, 0.8), (100.0, 1.0), (1000.0, 1.3)];
        // A quarter of the frequency halves what it bears.
        assert!((multiplier(&points, 12.5) - 0.4).abs() < 1e-12);
        assert_eq!(multiplier(&[], 20.0), 1.0);
        assert_eq!(multiplier(&points, 1e6), 1.3);
        assert!((multiplier(&points, 316.227_766) - 1.15).abs() < 1e-9);
    }
}
