//! A series regulator: one model in time for set point, rejection, dropout and limit.
//!
//! The loop asks for a current `x` with one lag; the pass element delivers the smaller of what the loop
//! asks, what the headroom allows and the limit, smoothly:
//!
//! ```text
//! tau x'  = G (set + H (v_in − line) − v_out) − x
//! ask     = w softplus(x / w)
//! allow   = sum over the dropout line's pieces of w softplus(...)
//! i_pass  = (ask^-k + allow^-k + limit^-k)^(-1/k)
//! ```
//!
//! `H` is the ripple rejection as one transfer from input to set point. No second rejection is applied
//! afterwards. Of a negative regulator all voltages count from the node towards the reference and the current flows from
//! output to input: the same formulas then hold.

use crate::math;

/// Everything that shapes a regulator.
#[derive(Clone, Debug, PartialEq)]
pub struct RegulatorLaw {
    /// Output voltage with the input at `line` and no load, V.
    pub set: f64,
    /// Input voltage at which the set point is as stated, V.
    pub line: f64,
    /// Transfer from input to set point.
    pub rejection: Transfer,
    /// G: current asked per volt of error, S. The static output resistance is 1/G.
    pub transconductance: f64,
    /// tau, s.
    pub loop_time: f64,
    /// Dropout: what current the pass element can deliver at a headroom.
    pub dropout: Dropout,
    /// Current limit, A.
    pub limit: f64,
    /// w, A: how softly one rule hands over to the next.
    pub softness: f64,
    /// k: how sharply the smallest is taken.
    pub exponent: u32,
    /// Current from input to reference that does no work, A.
    pub quiescent: f64,
    /// Whether input and output lie under the reference. All figures stay above zero; voltages and currents are turned round.
    pub is_negative: bool,
}

/// `H(s) = direct + Σ gain_k / (s + pole_k)`: constant plus first-order sections.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Transfer {
    /// V/V.
    pub direct: f64,
    /// (gain in V/V·rad/s, pole in rad/s, above 0).
    pub sections: Vec<(f64, f64)>,
}

/// Current that the pass element can deliver against headroom: a line with bends.
///
/// From `offset` upwards the current rises with the first slope; at each further bend the slope changes.
#[derive(Clone, Debug, PartialEq)]
pub struct Dropout {
    /// (headroom in V, slope beyond it in S); rising headrooms.
    pub bends: Vec<(f64, f64)>,
}

impl Dropout {
    /// One line: `current = (headroom − offset) / ohms`.
    pub fn line(offset: f64, ohms: f64) -> Self {
        Self {
            bends: vec![(offset, 1.0 / ohms)],
        }
    }
}

impl RegulatorLaw {
    /// Current of the pass element at what the loop asks and the headroom, with both slopes.
    pub(crate) fn pass(&self, asked: f64, headroom: f64) -> (f64, [f64; 2]) {
        let w = self.softness;
        let ask = w * math::softplus(asked / w);
        let ask_slope = math::logistic(asked / w);
        let (mut allow, mut allow_slope) = (0.0, 0.0);
        let mut last = 0.0;
        for &(bend, slope) in &self.dropout.bends {
            let step = slope - last;
            // Softness of w amperes along the first slope, the same volts at later bends.
            let volts = w / self.dropout.bends[0].1;
            let x = (headroom - bend) / volts;
            allow += step * volts * math::softplus(x);
            allow_slope += step * math::logistic(x);
            last = slope;
        }
        smallest(
            ask,
            ask_slope,
            allow.max(0.0),
            allow_slope,
            self.limit,
            self.exponent,
        )
    }
}

/// `(a^-k + b^-k + c^-k)^(-1/k)` with slopes, scaled by the smallest so that nothing overflows.
fn smallest(a: f64, da: f64, b: f64, db: f64, c: f64, k: u32) -> (f64, [f64; 2]) {
    let m = a.min(b).min(c);
    if m <= 0.0 {
        // exp has underflowed: no current, and the slope that lifts it again is the steeper rule's.
        return (
            0.0,
            [if a <= b { da } else { 0.0 }, if b <= a { db } else { 0.0 }],
        );
    }
    let power = |x: f64| {
        let ratio = m / x;
        let mut p = 1.0;
        for _ in 0..k {
            p *= ratio;
        }
        p
    };
    let (pa, pb, pc) = (power(a), power(b), power(c));
    let sum = pa + pb + pc;
    let root = math::exp(-math::ln(sum) / f64::from(k));
    let current = m * root;
    // d/da: (i/a) · a^-k / Σ
    (
        current,
        [current / a * (pa / sum) * da, current / b * (pb / sum) * db],
    )
}

#[cfg(test)]
mod tests {
    use super::{Dropout, RegulatorLaw, Transfer};
    use proptest::prelude::*;

    fn law() -> RegulatorLaw {
        RegulatorLaw {
            set: 12.0,
            line: 15.0,
            rejection: Transfer::default(),
            transconductance: 20.0,
            loop_time: 2e-5,
            dropout: Dropout {
                bends: vec![(0.6, 4.0), (1.0, 1.0)],
            },
            limit: 1.2,
            softness: 2e-3,
            exponent: 6,
            quiescent: 5e-3,
            is_negative: false,
        }
    }

    proptest! {
        #[test]
        fn slopes_are_those_of_the_curve(asked in -0.01..3.0_f64, headroom in 0.55..4.0_f64) {
            let law = law();
            let d = 1e-7;
            let (_, [da, db]) = law.pass(asked, headroom);
            let na = (law.pass(asked + d, headroom).0 - law.pass(asked - d, headroom).0) / (2.0 * d);
            let nb = (law.pass(asked, headroom + d).0 - law.pass(asked, headroom - d).0) / (2.0 * d);
            prop_assert!((da - na).abs() < 1e-5 * (1.0 + na.abs()), "{da} {na}");
            prop_assert!((db - nb).abs() < 1e-5 * (1.0 + nb.abs()), "{db} {nb}");
        }

        #[test]
        fn never_more_than_any_rule_allows(asked in -100.0..100.0_f64, headroom in -30.0..30.0_f64) {
            let (i, slopes) = law().pass(asked, headroom);
            prop_assert!((0.0..=1.2).contains(&i) && slopes.iter().all(|s| s.is_finite()));
        }
    }
}
