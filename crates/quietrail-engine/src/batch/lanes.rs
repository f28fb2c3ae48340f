//! Eight numbers that go the same way at once.
//!
//! Plain arrays and loops over them: the compiler turns each into the widest instructions that the caller's
//! instruction set has. Products and sums are never contracted, so every width gives the same bits; and no
//! lane looks at another, so a number does not depend on its neighbours.

#![expect(
    clippy::needless_range_loop,
    reason = "lanes, stages and stores index several arrays at once"
)]

use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub, SubAssign};

/// How many samples go together.
pub(crate) const WIDTH: usize = 8;

/// From here on `ln(1 + e^x)` is `x` and its slope 1: `e^-x` is less than half of what rounding makes of 1.
const STRAIGHT: f64 = 37.0;

/// One number for each of the samples that go together.
#[derive(Clone, Copy, Debug, PartialEq)]
#[repr(align(64))]
pub(crate) struct Lanes(pub(crate) [f64; WIDTH]);

/// A yes or no for each of the samples that go together: all bits of a word, or none, so that choosing is a matter of
/// bits and no branch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(align(64))]
pub(crate) struct Mask([u64; WIDTH]);

/// Numbers, each the same in all lanes.
pub(crate) fn spread(values: &[f64]) -> Vec<Lanes> {
    values.iter().map(|value| Lanes::all(*value)).collect()
}

impl Lanes {
    pub(crate) const ZERO: Lanes = Lanes([0.0; WIDTH]);
    pub(crate) const ONE: Lanes = Lanes([1.0; WIDTH]);

    #[inline(always)]
    pub(crate) fn all(value: f64) -> Self {
        Lanes([value; WIDTH])
    }

    #[inline(always)]
    pub(crate) fn map(self, f: impl Fn(f64) -> f64) -> Self {
        let mut out = [0.0; WIDTH];
        for k in 0..WIDTH {
            out[k] = f(self.0[k]);
        }
        Lanes(out)
    }

    #[inline(always)]
    pub(crate) fn with(self, other: Self, f: impl Fn(f64, f64) -> f64) -> Self {
        let mut out = [0.0; WIDTH];
        for k in 0..WIDTH {
            out[k] = f(self.0[k], other.0[k]);
        }
        Lanes(out)
    }

    /// Whether all lanes hold the same bits.
    pub(crate) fn repeats(&self) -> bool {
        self.0
            .iter()
            .all(|own| own.to_bits() == self.0[0].to_bits())
    }

    #[inline(always)]
    pub(crate) fn abs(self) -> Self {
        self.map(f64::abs)
    }

    #[inline(always)]
    pub(crate) fn sqrt(self) -> Self {
        self.map(f64::sqrt)
    }

    /// The larger; of a number and a NaN the number.
    #[inline(always)]
    pub(crate) fn max(self, other: Self) -> Self {
        self.with(other, |a, b| if a > b { a } else { b })
    }

    #[inline(always)]
    pub(crate) fn min(self, other: Self) -> Self {
        self.with(other, |a, b| if a < b { a } else { b })
    }

    #[inline(always)]
    fn against(self, other: Self, f: impl Fn(f64, f64) -> bool) -> Mask {
        let mut out = [0; WIDTH];
        for k in 0..WIDTH {
            out[k] = word(f(self.0[k], other.0[k]));
        }
        Mask(out)
    }

    #[inline(always)]
    pub(crate) fn below(self, other: Self) -> Mask {
        self.against(other, |a, b| a < b)
    }

    #[inline(always)]
    pub(crate) fn differs(self, other: Self) -> Mask {
        self.against(other, |a, b| a != b)
    }

    #[inline(always)]
    pub(crate) fn is_finite(self) -> Mask {
        self.abs().below(Lanes::all(f64::INFINITY))
    }

    /// `e^x`, within a unit in the last place; 0 below −708.8, the value at 709 above it.
    #[inline(always)]
    pub(crate) fn exp(self) -> Self {
        const SHIFT: f64 = 6_755_399_441_055_744.0; // 1.5 · 2^52: adding it rounds to a whole number
        // ln 2 in two parts, the first short enough that whole multiples of it are exact.
        const LN2_HIGH: f64 = 6.931_471_803_691_238e-1;
        const LN2_LOW: f64 = 1.908_214_929_270_587_7e-10;
        let x = self.min(Lanes::all(709.0)).max(Lanes::all(-709.0));
        let shifted = x * Lanes::all(std::f64::consts::LOG2_E) + Lanes::all(SHIFT);
        let whole = shifted - Lanes::all(SHIFT);
        let r = (x - whole * Lanes::all(LN2_HIGH)) - whole * Lanes::all(LN2_LOW);
        // Taylor to r^13 in pairs; |r| ≤ 0.3466.
        const C: [f64; 14] = [
            1.0,
            1.0,
            1.0 / 2.0,
            1.0 / 6.0,
            1.0 / 24.0,
            1.0 / 120.0,
            1.0 / 720.0,
            1.0 / 5_040.0,
            1.0 / 40_320.0,
            1.0 / 362_880.0,
            1.0 / 3_628_800.0,
            1.0 / 39_916_800.0,
            1.0 / 479_001_600.0,
            1.0 / 6_227_020_800.0,
        ];
        let r2 = r * r;
        let r4 = r2 * r2;
        let low = pair(&C, 0, r) + r2 * pair(&C, 2, r);
        let middle = pair(&C, 4, r) + r2 * pair(&C, 6, r);
        let high = pair(&C, 8, r) + r2 * pair(&C, 10, r) + r4 * pair(&C, 12, r);
        let series = low + r4 * (middle + r4 * high);
        // No choice between two results: the compiler would branch on each lane by itself.
        let mut power = [0.0; WIDTH];
        for k in 0..WIDTH {
            power[k] = f64::from_bits(shifted.0[k].to_bits().wrapping_add(1023) << 52);
        }
        series * Lanes(power)
    }

    /// `ln x` of a normal number above 0.
    #[inline(always)]
    pub(crate) fn ln(self) -> Self {
        let (mut mantissa, mut exponent) = ([0.0; WIDTH], [0.0; WIDTH]);
        for k in 0..WIDTH {
            let bits = self.0[k].to_bits();
            // The mantissa between √½ and √2, so that the series below converges alike on both sides of 1.
            let half = (bits.wrapping_add(0x0009_5f61_9980_c433)) >> 52;
            mantissa[k] = f64::from_bits(bits.wrapping_sub((half.wrapping_sub(1023)) << 52));
            // 2^52 + half, less 2^52 and the bias.
            exponent[k] = f64::from_bits(0x4330_0000_0000_0000 | half) - 4_503_599_627_371_519.0;
        }
        let (m, e) = (Lanes(mantissa), Lanes(exponent));
        let f = m - Lanes::ONE;
        let s = f / (m + Lanes::ONE);
        let z = s * s;
        // 2 artanh(s) = 2 s Σ z^k/(2k+1); z ≤ 0.02944.
        const C: [f64; 11] = [
            2.0,
            2.0 / 3.0,
            2.0 / 5.0,
            2.0 / 7.0,
            2.0 / 9.0,
            2.0 / 11.0,
            2.0 / 13.0,
            2.0 / 15.0,
            2.0 / 17.0,
            2.0 / 19.0,
            2.0 / 21.0,
        ];
        let z2 = z * z;
        let z4 = z2 * z2;
        let low = pair(&C, 1, z) + z2 * pair(&C, 3, z);
        let high = pair(&C, 5, z) + z2 * pair(&C, 7, z) + z4 * pair(&C, 9, z);
        let series = s * Lanes::all(2.0) + s * z * (low + z4 * high);
        const LN2_HIGH: f64 = 6.931_471_803_691_238e-1;
        const LN2_LOW: f64 = 1.908_214_929_270_587_7e-10;
        e * Lanes::all(LN2_HIGH) + (series + e * Lanes::all(LN2_LOW))
    }

    /// `ln(1 + y)` for `y ≥ 0`, exact for small `y` too.
    #[inline(always)]
    pub(crate) fn ln_1p(self) -> Self {
        let u = self + Lanes::ONE;
        let kept = u - Lanes::ONE;
        let scaled = u.ln() * (self / kept);
        kept.differs(Lanes::ZERO).select(scaled, self)
    }

    /// `ln(1 + e^x)` and its slope.
    #[inline(always)]
    pub(crate) fn softplus(self) -> (Self, Self) {
        // So far above zero that nothing of the bend is left, to the last bit.
        if !self.below(Lanes::all(STRAIGHT)).any() && !self.is_finite().not().any() {
            return (self, Lanes::ONE);
        }
        // By e^-|x|, which cannot overflow.
        let e = (-self.abs()).exp();
        let tail = e.ln_1p();
        let one = Lanes::ONE / (Lanes::ONE + e);
        let is_negative = self.below(Lanes::ZERO);
        (
            is_negative.select(tail, self + tail),
            is_negative.select(e * one, one),
        )
    }

    /// Sine and cosine of `2π` times a number of cycles between 0 and 2.
    #[inline(always)]
    pub(crate) fn turn(self) -> (Self, Self) {
        const SHIFT: f64 = 6_755_399_441_055_744.0;
        let shifted = self * Lanes::all(4.0) + Lanes::all(SHIFT);
        let quarter = shifted - Lanes::all(SHIFT);
        let a = (self - quarter * Lanes::all(0.25)) * Lanes::all(2.0 * std::f64::consts::PI);
        let z = a * a;
        let z2 = z * z;
        let z4 = z2 * z2;
        // Taylor to a^17 and a^16, |a| ≤ π/4: below the last place.
        let sine = {
            let low = (Lanes::all(-1.0 / 6.0) + Lanes::all(1.0 / 120.0) * z)
                + z2 * (Lanes::all(-1.0 / 5_040.0) + Lanes::all(1.0 / 362_880.0) * z);
            let high = (Lanes::all(-1.0 / 39_916_800.0) + Lanes::all(1.0 / 6_227_020_800.0) * z)
                + z2 * (Lanes::all(-1.0 / 1_307_674_368_000.0)
                    + Lanes::all(1.0 / 355_687_428_096_000.0) * z);
            a + a * z * (low + z4 * high)
        };
        let cosine = {
            let low = (Lanes::all(-0.5) + Lanes::all(1.0 / 24.0) * z)
                + z2 * (Lanes::all(-1.0 / 720.0) + Lanes::all(1.0 / 40_320.0) * z);
            let high = (Lanes::all(-1.0 / 3_628_800.0) + Lanes::all(1.0 / 479_001_600.0) * z)
                + z2 * (Lanes::all(-1.0 / 87_178_291_200.0)
                    + Lanes::all(1.0 / 20_922_789_888_000.0) * z);
            Lanes::ONE + z * (low + z4 * high)
        };
        let (mut s, mut c) = (sine, cosine);
        for k in 0..WIDTH {
            let q = shifted.0[k].to_bits() & 3;
            let (from_s, from_c) = if q & 1 == 1 {
                (cosine.0[k], sine.0[k])
            } else {
                (sine.0[k], cosine.0[k])
            };
            s.0[k] = if q & 2 == 2 { -from_s } else { from_s };
            c.0[k] = if q == 1 || q == 2 { -from_c } else { from_c };
        }
        (s, c)
    }
}

/// Two terms of a series. No closure of the functions above: those are not inlined everywhere.
#[inline(always)]
fn pair(coefficients: &[f64], k: usize, x: Lanes) -> Lanes {
    Lanes::all(coefficients[k]) + Lanes::all(coefficients[k + 1]) * x
}

/// All bits of a yes, none of a no.
#[inline(always)]
fn word(yes: bool) -> u64 {
    if yes { u64::MAX } else { 0 }
}

impl Mask {
    pub(crate) const NONE: Mask = Mask([0; WIDTH]);
    pub(crate) const ALL: Mask = Mask([u64::MAX; WIDTH]);

    /// By lane.
    pub(crate) fn of(each: impl Fn(usize) -> bool) -> Self {
        Mask(std::array::from_fn(|lane| word(each(lane))))
    }

    /// Whether it is so in a lane.
    #[inline(always)]
    pub(crate) fn at(self, lane: usize) -> bool {
        self.0[lane] != 0
    }

    #[inline(always)]
    pub(crate) fn and(self, other: Self) -> Self {
        self.with(other, |a, b| a & b)
    }

    #[inline(always)]
    pub(crate) fn or(self, other: Self) -> Self {
        self.with(other, |a, b| a | b)
    }

    #[inline(always)]
    pub(crate) fn not(self) -> Self {
        self.with(self, |a, _| !a)
    }

    #[inline(always)]
    fn with(self, other: Self, f: impl Fn(u64, u64) -> u64) -> Self {
        let mut out = [0; WIDTH];
        for k in 0..WIDTH {
            out[k] = f(self.0[k], other.0[k]);
        }
        Mask(out)
    }

    #[inline(always)]
    pub(crate) fn any(self) -> bool {
        self.0.iter().fold(0, |any, word| any | word) != 0
    }

    /// One number where it is so, another where not.
    #[inline(always)]
    pub(crate) fn select(self, yes: Lanes, no: Lanes) -> Lanes {
        let mut out = [0.0; WIDTH];
        for k in 0..WIDTH {
            let (yes, no) = (yes.0[k].to_bits(), no.0[k].to_bits());
            out[k] = f64::from_bits((yes & self.0[k]) | (no & !self.0[k]));
        }
        Lanes(out)
    }
}

macro_rules! by_lane {
    ($trait:ident, $method:ident, $sign:tt) => {
        impl $trait for Lanes {
            type Output = Lanes;

            #[inline(always)]
            fn $method(self, other: Lanes) -> Lanes {
                self.with(other, |a, b| a $sign b)
            }
        }
    };
}

by_lane!(Add, add, +);
by_lane!(Sub, sub, -);
by_lane!(Mul, mul, *);
by_lane!(Div, div, /);

impl Neg for Lanes {
    type Output = Lanes;

    #[inline(always)]
    fn neg(self) -> Lanes {
        self.map(|a| -a)
    }
}

impl AddAssign for Lanes {
    #[inline(always)]
    fn add_assign(&mut self, other: Lanes) {
        *self = *self + other;
    }
}

impl SubAssign for Lanes {
    #[inline(always)]
    fn sub_assign(&mut self, other: Lanes) {
        *self = *self - other;
    }
}

#[cfg(test)]
mod tests {
    use super::{Lanes, WIDTH};
    use crate::math;
    use proptest::prelude::*;

    fn ulps(got: f64, want: f64) -> f64 {
        (got - want).abs() / (want.abs() * f64::EPSILON).max(f64::MIN_POSITIVE)
    }

    proptest! {
        #[test]
        fn functions_are_those_of_the_library(x in prop::array::uniform8(-700.0..700.0_f64), y in prop::array::uniform8(0.0..2.0_f64)) {
            let e = Lanes(x).exp();
            let small = Lanes(x).map(|v| v * 1e-3);
            let e_small = small.exp();
            let (soft, slope) = Lanes(x).map(|v| 0.1 * v).softplus();
            let positive = e;
            let l = positive.ln();
            let (s, c) = Lanes(y).turn();
            for k in 0..WIDTH {
                prop_assert!(ulps(e.0[k], math::exp(x[k])) <= 2.0, "exp {}", x[k]);
                prop_assert!(ulps(e_small.0[k], math::exp(small.0[k])) <= 2.0);
                prop_assert!(ulps(l.0[k], math::ln(positive.0[k])) <= 4.0, "ln {} {}", l.0[k], math::ln(positive.0[k]));
                prop_assert!(ulps(soft.0[k], math::softplus(0.1 * x[k])) <= 8.0, "{}", x[k]);
                prop_assert!(ulps(slope.0[k], math::logistic(0.1 * x[k])) <= 8.0);
                let angle = 2.0 * std::f64::consts::PI * (y[k] - y[k].floor());
                prop_assert!((s.0[k] - math::sin(angle)).abs() < 2e-15, "sin {}", y[k]);
                prop_assert!((c.0[k] - math::cos(angle)).abs() < 2e-15, "cos {}", y[k]);
            }
        }
    }

    #[test]
    fn a_bend_far_below_is_the_same_by_itself_and_beside_one_that_is_near() {
        for x in [37.0, 38.5, 709.0, 1e6] {
            let (alone, slope_alone) = Lanes::all(x).softplus();
            let mut beside = Lanes::all(x);
            beside.0[3] = 0.5;
            let (value, slope) = beside.softplus();
            assert_eq!((alone.0[0], slope_alone.0[0]), (value.0[0], slope.0[0]));
        }
        let lost = Lanes::all(f64::NAN).softplus();
        assert!(lost.0.0[0].is_nan());
    }

    #[test]
    fn logarithm_near_one_and_at_its_seams() {
        for x in [
            1.0,
            1.0 + 1e-15,
            0.999_999,
            std::f64::consts::FRAC_1_SQRT_2 - 1e-9,
            std::f64::consts::FRAC_1_SQRT_2 + 1e-9,
            std::f64::consts::SQRT_2 - 1e-9,
            std::f64::consts::SQRT_2 + 1e-9,
            2.0,
            1e-300,
            1e300,
        ] {
            let got = Lanes::all(x).ln().0[0];
            let want = math::ln(x);
            assert!(
                (got - want).abs() <= 4.0 * f64::EPSILON * want.abs().max(1e-16),
                "{x}: {got} {want}"
            );
        }
        for y in [0.0, 1e-300, 1e-17, 1e-9, 0.3, 1.0] {
            let got = Lanes::all(y).ln_1p().0[0];
            assert!(
                (got - math::ln_1p(y)).abs() <= 4.0 * f64::EPSILON * y,
                "{y}: {got}"
            );
        }
    }
}
