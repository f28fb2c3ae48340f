//! Harmonics of the mains in a signal, and what a band or a rating makes of them.

use quietrail_engine::math::{cos, sin};
use quietrail_engine::{Orbit, Probe};
use quietrail_job::model::Band;
use std::f64::consts::PI;

/// Points per cycle that harmonics are computed from.
const POINTS: usize = 1024;
/// Highest harmonic computed one by one; what lies above is what the total leaves over.
const HARMONICS: usize = 200;

/// rms of each harmonic of the mains in a signal, from the first.
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
        let (cosines, sines): (Vec<f64>, Vec<f64>) = (0..POINTS)
            .map(|k| {
                let angle = 2.0 * PI * k as f64 / POINTS as f64;
                (cos(angle), sin(angle))
            })
            .unzip();
        let rms: Vec<f64> = (1..=HARMONICS)
            .map(|n| {
                let (mut a, mut b) = (0.0, 0.0);
                for (k, sample) in samples.iter().enumerate() {
                    let at = n * k % POINTS;
                    a += sample * cosines[at];
                    b += sample * sines[at];
                }
                (2.0 * (a * a + b * b)).sqrt() / POINTS as f64
            })
            .collect();
        let total = orbit.ripple_rms(probe);
        let known: f64 = rms.iter().map(|v| v * v).sum();
        Self {
            frequency,
            rms,
            rest: (total * total - known).max(0.0),
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
    /// `sqrt(Σ (I_n / k_n)²)` with the multipliers `k` of its data sheet at each frequency.
    pub fn equivalent(&self, multipliers: &[(f64, f64)]) -> f64 {
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

/// Multiplier at a frequency: on the line through the data sheet's points over the logarithm of frequency,
/// level beyond its ends; 1 where there are none.
fn multiplier(points: &[(f64, f64)], hertz: f64) -> f64 {
    let (Some(first), Some(last)) = (points.first(), points.last()) else {
        return 1.0;
    };
    if hertz <= first.0 {
        return first.1;
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
    use quietrail_job::model::Band;

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
        let got = spectrum.equivalent(&[(100.0, 1.0), (200.0, 1.05)]);
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
        assert_eq!(multiplier(&points, 20.0), 0.8);
        assert_eq!(multiplier(&points, 1e6), 1.3);
        assert!((multiplier(&points, 316.227_766) - 1.15).abs() < 1e-9);
    }
}
