//! Whether what the equations lack is rounding alone.
//!
//! A floating winding whose diodes all block is held by their leakage alone: the last bits of an ampere beside it move it by a
//! fraction of a millivolt, this way and that, however short the step.

use super::{Bent, Equations, Instant};
use crate::batch::lanes::{Lanes, Mask};

/// Last bits of a row's terms that its sum may lack.
const ROUNDING: f64 = 8.0;

impl Equations<'_> {
    /// Lanes in which the rows of all stages, as [`Self::lack`] has them, lack no more than what their own terms are rounded to:
    /// as exact as numbers can say, for equations whose figures are off by their last bits alone (Oettli and Prager, *Numer.
    /// Math.* 6 (1964) 405).
    ///
    /// Rates are those of the method, `over_h`, from stores `z`.
    pub(crate) fn lack_is_rounding(
        &self,
        lack: &[Lanes],
        (x, now, at): (&[Vec<Lanes>; 3], &[Instant; 3], &[Bent; 3]),
        (z, over_h): (&[Lanes], [[Lanes; 3]; 3]),
    ) -> Mask {
        let shape = self.shape;
        let n = shape.n;
        let mut terms = vec![Lanes::ZERO; lack.len()];
        for i in 0..3 {
            let terms = &mut terms[i * n..(i + 1) * n];
            let (mut driven, mut linear) = (0, 0);
            for (sum, (drive_end, linear_end)) in terms.iter_mut().zip(&shape.row_ends) {
                for at in driven..*drive_end {
                    *sum += (self.drive[at] * now[i].s[shape.drive[at].1]).abs();
                }
                for at in linear..*linear_end {
                    *sum += (self.linear[at] * x[i][shape.linear[at].1]).abs();
                }
                (driven, linear) = (*drive_end, *linear_end);
            }
            for (k, (rows, charges)) in shape.charges.iter().zip(&self.charges).enumerate() {
                let mut moved = Lanes::ZERO;
                for (d, (x, now)) in over_h[i].iter().zip(x.iter().zip(now)) {
                    let stored = self.stores[k].size(&shape.stores[k], x, &now.s);
                    moved += d.abs() * (stored + z[k].abs());
                }
                for (&row, charge) in rows.iter().zip(charges) {
                    terms[row] += (self.frequency * *charge * moved).abs();
                }
            }
            let devices = shape.devices.iter().zip(&self.devices);
            for ((device, (_, inputs)), slopes) in devices.zip(&at[i].slopes) {
                for ((factors, places), slope) in inputs.iter().zip(&device.inputs).zip(slopes) {
                    // A small voltage may be the difference of large ones.
                    let terms_of_input = factors.size(places, &x[i], &now[i].s);
                    terms[device.row] += slope.abs() * terms_of_input;
                }
            }
        }
        let rounding = Lanes::all(ROUNDING * f64::EPSILON);
        let mut all = Mask::ALL;
        for (lack, terms) in lack.iter().zip(&terms) {
            // No number is no rounding.
            all = all.and((rounding * *terms).below(lack.abs()).not());
            all = all.and(Mask::of(|lane| lack.0[lane].is_finite()));
        }
        all
    }
}
