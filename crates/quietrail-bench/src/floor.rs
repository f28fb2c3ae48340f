//! Readings close to the floor of the instrument: how much may be there, and how much this set-up could show at all.
//!
//! A reading holds what is there and the instrument's own noise, whose powers add where they are not the same wave. With
//! repeats the treatment is the ratio of two mean squares; without, intervals of the specification.

use crate::distribution::{bisect, noncentral_squares, normal, normal_quantile, ratio_of_squares};

/// A reading with the device on and one with the input shorted at the same place, each a mean square of repeats.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OverFloor {
    /// Reading, rms.
    pub reading: f64,
    /// Floor, rms.
    pub floor: f64,
    /// Degrees of freedom of the reading.
    pub nu_reading: f64,
    /// Degrees of freedom of the floor.
    pub nu_floor: f64,
    /// How well the floor repeats between set-ups, as a part of it.
    pub repeats: f64,
}

/// Beyond this many degrees of freedom no bench goes: a week of readings.
const MOST_NU: f64 = 1e7;
/// Error probability of a one-sided bound.
const ALPHA: f64 = 0.05;

impl OverFloor {
    /// Difference of the squares.
    pub fn square(&self) -> f64 {
        self.reading * self.reading - self.floor * self.floor
    }

    /// The same as a voltage, negative where the reading is below the floor.
    pub fn signed(&self) -> f64 {
        let square = self.square();
        libm::copysign(libm::sqrt(square.abs()), square)
    }

    /// Standard uncertainty of the difference of the squares.
    pub fn square_uncertainty(&self) -> f64 {
        let (r, f) = (self.reading * self.reading, self.floor * self.floor);
        let moved = 2.0 * f * self.repeats;
        libm::sqrt(2.0 * r * r / self.nu_reading + 2.0 * f * f / self.nu_floor + moved * moved)
    }

    /// Degrees of freedom of the floor with its repeatability folded in: no averaging removes that.
    pub fn effective_nu_floor(&self) -> f64 {
        2.0 / (2.0 / self.nu_floor + 4.0 * self.repeats * self.repeats)
    }

    /// How likely a ratio as small as this is if nothing is there.
    pub fn probability(&self) -> f64 {
        let ratio = self.reading * self.reading / (self.floor * self.floor);
        ratio_of_squares(ratio, self.nu_reading, self.effective_nu_floor())
    }

    /// Whether the floor can have been read in the same state of the instrument.
    pub fn is_consistent(&self) -> bool {
        self.probability() >= ALPHA / 2.0
    }

    /// Upper bound of what is there: never zero, and on the careful side near the floor.
    pub fn bound(&self) -> f64 {
        let nu_floor = self.effective_nu_floor();
        let ratio = self.reading * self.reading / (self.floor * self.floor);
        let wanted = ALPHA * ratio_of_squares(ratio, self.nu_reading, nu_floor);
        let left = |share: f64| ratio_of_squares(ratio / (1.0 + share), self.nu_reading, nu_floor);
        let mut far = 1.0;
        while left(far) > wanted {
            far *= 2.0;
            if far > 1e18 {
                return f64::INFINITY;
            }
        }
        let share = bisect(0.0, far, |share| wanted - left(share));
        self.floor * libm::sqrt(share)
    }

    /// The bound that this set-up gives where nothing is there: what it can show at best.
    pub fn sensitivity(&self) -> f64 {
        let blank = Self {
            reading: self.floor,
            ..*self
        };
        blank.bound()
    }

    /// The bound to decide with: a lucky low reading shows no more than the set-up can.
    pub fn decision_bound(&self) -> f64 {
        self.bound().max(self.sensitivity())
    }

    /// Lower bound of what is there: what the floor alone would not explain.
    pub fn lower_bound(&self) -> f64 {
        let nu_floor = self.effective_nu_floor();
        let ratio = self.reading * self.reading / (self.floor * self.floor);
        let left = |share: f64| ratio_of_squares(ratio / (1.0 + share), self.nu_reading, nu_floor);
        if left(0.0) < 1.0 - ALPHA {
            return 0.0;
        }
        let share = bisect(0.0, ratio, |share| 1.0 - ALPHA - left(share));
        self.floor * libm::sqrt(share.max(0.0))
    }

    /// Gaussian bound, for many degrees of freedom only: a cross-check.
    pub fn gaussian_bound(&self) -> f64 {
        let u = self.square_uncertainty();
        libm::sqrt(gaussian_limit(self.square() / u) * u)
    }

    /// Upper limit of the square by the modified large-sample method: a cross-check, negative where the reading is low.
    pub fn large_sample_limit(&self) -> f64 {
        let (r, f) = (self.reading * self.reading, self.floor * self.floor);
        let h = self.nu_reading / squares_quantile(ALPHA, self.nu_reading) - 1.0;
        let g = 1.0 - self.nu_floor / squares_quantile(1.0 - ALPHA, self.nu_floor);
        let q = f_quantile(ALPHA, self.nu_reading, self.nu_floor);
        let k = ((1.0 - q) * (1.0 - q) - h * h * q * q - g * g) / q;
        r - f + libm::sqrt((h * h * r * r + g * g * f * f + k * r * f).max(0.0))
    }
}

/// Upper bound in units of the standard uncertainty, for a value that cannot be negative and was read as `x`.
pub fn gaussian_limit(x: f64) -> f64 {
    x + normal_quantile(1.0 - ALPHA * normal(x))
}

/// Averages (degrees of freedom of reading and floor alike) after which a limit could be shown where nothing is there.
///
/// `None` where no number of them is enough.
pub fn needed_nu(floor: f64, limit: f64, repeats: f64) -> Option<f64> {
    let at = |nu: f64| {
        OverFloor {
            reading: floor,
            floor,
            nu_reading: nu,
            nu_floor: nu,
            repeats,
        }
        .sensitivity()
    };
    let mut enough = 1.0;
    while at(enough) > limit {
        enough *= 2.0;
        if enough > MOST_NU {
            return None;
        }
    }
    Some(bisect(0.5 * enough, enough, |nu| limit - at(nu)))
}

/// The range of what is there without repeats: each reading is right within its specification, `reading_error` and
/// `floor_error`, and powers add.
pub fn interval(reading: f64, reading_error: f64, floor: f64, floor_error: f64) -> (f64, f64) {
    let most = reading + reading_error;
    let floor_least = (floor - floor_error).max(0.0);
    let least = (reading - reading_error).max(0.0);
    let floor_most = floor + floor_error;
    let root = |square: f64| libm::sqrt(square.max(0.0));
    (
        root(least * least - floor_most * floor_most),
        root(most * most - floor_least * floor_least),
    )
}

/// The same where reading and floor may hold the same wave, so that they add or cancel: between `|R − F|` and `R + F`.
pub fn coherent(reading: f64, reading_error: f64, floor: f64, floor_error: f64) -> (f64, f64) {
    let apart = (reading - floor).abs() - reading_error - floor_error;
    (
        apart.max(0.0),
        reading + reading_error + floor + floor_error,
    )
}

/// Upper bound of a line in noise of known power: the exact law, for a record of `nu` degrees of freedom.
pub fn line_bound(reading: f64, floor: f64, nu: f64) -> f64 {
    let x = nu * reading * reading / (floor * floor);
    let wanted = ALPHA * noncentral_squares(x, nu, 0.0);
    let left = |apart: f64| noncentral_squares(x, nu, apart);
    let mut far = 1.0;
    while left(far) > wanted && far < 1e9 {
        far *= 2.0;
    }
    let apart = bisect(0.0, far, |apart| wanted - left(apart));
    floor * libm::sqrt(apart / nu)
}

pub(crate) fn squares_quantile(p: f64, nu: f64) -> f64 {
    let cdf = |x: f64| statrs::function::gamma::gamma_lr(0.5 * nu, 0.5 * x);
    bisect(1e-12, nu + 40.0 * libm::sqrt(2.0 * nu) + 40.0, |x| {
        cdf(x) - p
    })
}

fn f_quantile(p: f64, nu_above: f64, nu_below: f64) -> f64 {
    bisect(1e-12, 1e6, |x| ratio_of_squares(x, nu_above, nu_below) - p)
}
