//! The curves of devices, eight at a time. [`crate::system::Law`] states what they mean.

use super::equations::Swings;
use super::lanes::{Lanes, Mask, WIDTH};
use crate::diode::{BLOCKING, DiodeLaw, LEAST_SLOPE, STEEPEST};
use crate::load::LoadLaw;
use crate::regulator::RegulatorLaw;
use crate::system::Law;
use smallvec::{SmallVec, smallvec};

/// Amperes below which a pass element gives nothing.
const LEAST_GIVEN: f64 = 1e-280;

/// A law with the figures of each lane.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum LaneLaw {
    Diode {
        saturation: Lanes,
        slope_voltage: Lanes,
        inverse: Lanes,
        leakage: Lanes,
        /// Voltage from which on advances are cut.
        critical: Lanes,
    },
    Ideal {
        drop: Lanes,
        slope: Lanes,
    },
    Current {
        amps: Lanes,
        below: Lanes,
    },
    Power {
        watts: Lanes,
        below: Lanes,
    },
    Pass {
        softness: Lanes,
        /// Headroom of each bend, and by how much the slope changes there.
        bends: Vec<(Lanes, Lanes)>,
        /// The softness as volts along the first slope.
        volts: Lanes,
        inverse_softness: Lanes,
        inverse_volts: Lanes,
        limit: Lanes,
        exponent: u32,
    },
}

impl LaneLaw {
    /// The same law of eight systems; `None` where they differ in kind.
    pub(crate) fn gather(laws: [&Law; WIDTH]) -> Option<Self> {
        match laws[0] {
            Law::Diode(DiodeLaw::Exponential { .. }) => {
                let mut figures = [[0.0; 3]; WIDTH];
                for (figures, law) in figures.iter_mut().zip(laws) {
                    let Law::Diode(DiodeLaw::Exponential {
                        saturation,
                        slope_voltage,
                        leakage,
                        ..
                    }) = law
                    else {
                        return None;
                    };
                    *figures = [*saturation, *slope_voltage, leakage.max(BLOCKING)];
                }
                let [saturation, slope_voltage, leakage] = columns(figures);
                Some(LaneLaw::Diode {
                    saturation,
                    slope_voltage,
                    inverse: Lanes::ONE / slope_voltage,
                    leakage,
                    critical: slope_voltage
                        * (slope_voltage / (Lanes::all(std::f64::consts::SQRT_2) * saturation))
                            .ln(),
                })
            }
            Law::Diode(DiodeLaw::Ideal { .. }) => {
                let mut figures = [[0.0; 2]; WIDTH];
                for (figures, law) in figures.iter_mut().zip(laws) {
                    let Law::Diode(DiodeLaw::Ideal { drop, slope }) = law else {
                        return None;
                    };
                    *figures = [*drop, slope.max(LEAST_SLOPE)];
                }
                let [drop, slope] = columns(figures);
                Some(LaneLaw::Ideal { drop, slope })
            }
            Law::Load(LoadLaw::Current { .. }) => {
                let mut figures = [[0.0; 2]; WIDTH];
                for (figures, law) in figures.iter_mut().zip(laws) {
                    let Law::Load(LoadLaw::Current { amps, below }) = law else {
                        return None;
                    };
                    *figures = [*amps, *below];
                }
                let [amps, below] = columns(figures);
                Some(LaneLaw::Current { amps, below })
            }
            Law::Load(LoadLaw::Power { .. }) => {
                let mut figures = [[0.0; 2]; WIDTH];
                for (figures, law) in figures.iter_mut().zip(laws) {
                    let Law::Load(LoadLaw::Power { watts, below }) = law else {
                        return None;
                    };
                    *figures = [*watts, *below];
                }
                let [watts, below] = columns(figures);
                Some(LaneLaw::Power { watts, below })
            }
            Law::Pass(first) => {
                let mut all = [first.as_ref(); WIDTH];
                for (kept, law) in all.iter_mut().zip(laws) {
                    let Law::Pass(law) = law else { return None };
                    if law.exponent != first.exponent
                        || law.dropout.bends.len() != first.dropout.bends.len()
                    {
                        return None;
                    }
                    *kept = law.as_ref();
                }
                Some(Self::pass(all))
            }
        }
    }

    fn pass(laws: [&RegulatorLaw; WIDTH]) -> Self {
        let of = |figure: &dyn Fn(&RegulatorLaw) -> f64| {
            let mut out = [0.0; WIDTH];
            for (out, law) in out.iter_mut().zip(laws) {
                *out = figure(law);
            }
            Lanes(out)
        };
        let bends = (0..laws[0].dropout.bends.len())
            .map(|b| {
                let headroom = of(&|law| law.dropout.bends[b].0);
                let step = of(&|law| {
                    let before = b.checked_sub(1).map_or(0.0, |b| law.dropout.bends[b].1);
                    law.dropout.bends[b].1 - before
                });
                (headroom, step)
            })
            .collect();
        let softness = of(&|law| law.softness);
        let volts = of(&|law| law.softness / law.dropout.bends[0].1);
        LaneLaw::Pass {
            softness,
            bends,
            volts,
            inverse_softness: Lanes::ONE / softness,
            inverse_volts: Lanes::ONE / volts,
            limit: of(&|law| law.limit),
            exponent: laws[0].exponent,
        }
    }

    /// Lanes in which it is the same as another.
    pub(crate) fn same(&self, other: &Self) -> Mask {
        let (own, others) = (self.figures(), other.figures());
        if std::mem::discriminant(self) != std::mem::discriminant(other)
            || own.len() != others.len()
        {
            return Mask::NONE;
        }
        let alike = |all: Mask, (a, b): (&Lanes, &Lanes)| all.and(a.differs(*b).not());
        own.iter().zip(&others).fold(Mask::ALL, alike)
    }

    /// All that tells it from others of its sort.
    fn figures(&self) -> SmallVec<[Lanes; 4]> {
        match self {
            LaneLaw::Diode {
                saturation,
                slope_voltage,
                leakage,
                ..
            } => smallvec![*saturation, *slope_voltage, *leakage],
            LaneLaw::Ideal { drop, slope } => smallvec![*drop, *slope],
            LaneLaw::Current { amps, below } => smallvec![*amps, *below],
            LaneLaw::Power { watts, below } => smallvec![*watts, *below],
            LaneLaw::Pass {
                softness,
                bends,
                volts,
                limit,
                exponent,
                ..
            } => {
                let exponent = Lanes::all(f64::from(*exponent));
                let mut all = smallvec![*softness, *volts, *limit, exponent];
                all.extend(bends.iter().flat_map(|(headroom, step)| [*headroom, *step]));
                all
            }
        }
    }

    /// `ρ` and its slopes at inputs.
    #[inline(always)]
    pub(crate) fn residual(&self, u: &[Lanes; 3]) -> (Lanes, [Lanes; 3]) {
        match self {
            LaneLaw::Diode {
                saturation,
                inverse,
                leakage,
                ..
            } => {
                let x = u[0] * *inverse;
                let steepest = Lanes::all(STEEPEST);
                let over = (x - steepest).max(Lanes::ZERO);
                let e = x.min(steepest).exp();
                let law = *saturation * (e * (Lanes::ONE + over) - Lanes::ONE);
                let slope = *saturation * e * *inverse;
                (
                    u[1] - law - *leakage * u[0],
                    [-(slope + *leakage), Lanes::ONE, Lanes::ZERO],
                )
            }
            LaneLaw::Ideal { drop, slope } => {
                let over = u[0] - *drop;
                let conducts = Lanes::ZERO.below(over - *slope * u[1] + u[1]);
                let blocking = Lanes::all(BLOCKING);
                // Divided by the slope, so that the current has a pivot of one on both pieces.
                let inverse = Lanes::ONE / *slope;
                let conductance = conducts.select(inverse, blocking);
                (
                    u[1] - conductance * over,
                    [-conductance, Lanes::ONE, Lanes::ZERO],
                )
            }
            LaneLaw::Current { amps, below } => {
                let (share, slope) = taper(u[0], *below);
                (
                    u[1] - *amps * share,
                    [-(*amps * slope), Lanes::ONE, Lanes::ZERO],
                )
            }
            LaneLaw::Power { watts, below } => {
                let (current, slope) = power(*watts, *below, u[0]);
                (u[1] - current, [-slope, Lanes::ONE, Lanes::ZERO])
            }
            LaneLaw::Pass {
                softness,
                bends,
                volts,
                inverse_softness,
                inverse_volts,
                limit,
                exponent,
            } => {
                let (ask, ask_slope) = (u[0] * *inverse_softness).softplus();
                let ask = *softness * ask;
                let (mut allow, mut allow_slope) = (Lanes::ZERO, Lanes::ZERO);
                for (bend, step) in bends {
                    let (soft, slope) = ((u[1] - *bend) * *inverse_volts).softplus();
                    allow += *step * *volts * soft;
                    allow_slope += *step * slope;
                }
                let (current, [da, dh]) = smallest(
                    (ask, ask_slope),
                    (allow.max(Lanes::ZERO), allow_slope),
                    *limit,
                    *exponent,
                );
                (u[2] - current, [-da, -dh, Lanes::ONE])
            }
        }
    }

    /// The first input at which to linearise next, as [`DiodeLaw::limit`] has it.
    #[inline(always)]
    pub(crate) fn limit(&self, last: Lanes, proposed: Lanes) -> Lanes {
        let LaneLaw::Diode {
            slope_voltage,
            inverse,
            critical,
            ..
        } = self
        else {
            return proposed;
        };
        let advance = proposed - last;
        let is_free = critical
            .below(proposed)
            .not()
            .or(advance.abs().below(Lanes::all(2.0) * *slope_voltage));
        if !is_free.not().any() {
            return proposed;
        }
        let is_forward = Lanes::ZERO.below(last);
        let rises = Lanes::ZERO.below(advance);
        // From forward upwards, and from below zero up: by the logarithm of the way.
        let way = is_forward.select(advance, proposed).max(Lanes::ZERO);
        let up = is_forward.select(last, Lanes::ZERO) + *slope_voltage * (way * *inverse).ln_1p();
        let down = proposed.max(last - Lanes::all(10.0) * *slope_voltage);
        let falls = is_forward.and(rises.not());
        is_free.select(proposed, falls.select(down, up))
    }

    /// What a pass element is asked for next, and its headroom, where iterations go on. What drives it may ask it for far more
    /// than it can give and then for less than nothing, and it answers to neither: between the two it is asked for half of what
    /// it can give. Headroom beyond what it needs, and then none, is the same: between the two it gets half.
    #[inline(always)]
    pub(crate) fn by_its_middle(&self, last: &[Lanes; 3], proposed: &[Lanes; 3]) -> [Lanes; 2] {
        let LaneLaw::Pass {
            softness,
            bends,
            volts,
            limit,
            ..
        } = self
        else {
            return [proposed[0], proposed[1]];
        };
        let asked = halved((last[0], proposed[0]), (Lanes::ZERO, *softness, *limit));
        let needs = *limit * *volts / *softness;
        let headroom = halved((last[1], proposed[1]), (bends[0].0, *volts, needs));
        [asked, headroom]
    }

    /// The same where iterations have only begun. A loop that closes through what it drives asks a pass element for far more
    /// than it can give and then for less than nothing, where it answers to neither; it is asked within what it can give, or
    /// no further out than it was.
    #[inline(always)]
    pub(crate) fn limit_at_first(&self, last: Lanes, proposed: Lanes) -> Lanes {
        match self {
            LaneLaw::Pass {
                softness, limit, ..
            } => proposed
                .max((Lanes::all(4.0) * *softness).min(last))
                .min((Lanes::all(0.8) * *limit).max(last)),
            _ => self.limit(last, proposed),
        }
    }

    /// The input to go on with where swings are held: of a load that may let go as [`LoadLaw::let_go`] and
    /// [`LoadLaw::on_its_way`] have it, of others as proposed.
    pub(crate) fn on_its_way(
        &self,
        at: Lanes,
        proposed: Lanes,
        swings: &Swings,
        may: Mask,
    ) -> Lanes {
        let LaneLaw::Power { watts, below } = self else {
            return proposed;
        };
        let next = |lane: usize| {
            let law = LoadLaw::Power {
                watts: watts.0[lane],
                below: below.0[lane],
            };
            let (at, proposed) = (at.0[lane], proposed.0[lane]);
            if swings.are_new {
                law.let_go(at, proposed)
            } else {
                law.on_its_way(at, proposed)
            }
        };
        let next = Lanes(std::array::from_fn(next));
        swings.lanes.and(may).select(next, proposed)
    }

    /// Whether it is a load that may let go.
    pub(crate) fn may_let_go(&self) -> bool {
        matches!(self, LaneLaw::Power { .. })
    }

    /// The input along which Newton's method may swing across a bend: of a pass element the headroom.
    #[inline(always)]
    pub(crate) fn swings_in(&self) -> Option<usize> {
        match self {
            LaneLaw::Pass { .. } => Some(1),
            LaneLaw::Power { .. } | LaneLaw::Current { .. } => Some(0),
            LaneLaw::Diode { .. } | LaneLaw::Ideal { .. } => None,
        }
    }

    /// What is above zero where an ideal diode conducts; `None` for any other law.
    #[inline(always)]
    pub(crate) fn conducting(&self, u: &[Lanes; 3]) -> Option<Lanes> {
        match self {
            LaneLaw::Ideal { drop, slope } => Some(u[0] - *drop - *slope * u[1] + u[1]),
            _ => None,
        }
    }

    /// Lanes in which an ideal diode conducts; `None` for any other law.
    #[inline(always)]
    pub(crate) fn conducts(&self, u: &[Lanes; 3]) -> Option<Mask> {
        self.conducting(u).map(|side| Lanes::ZERO.below(side))
    }
}

/// Half of what there is beyond `begin`, where an input goes from next to nothing of it to nearly all or back.
#[inline(always)]
fn halved(
    (last, proposed): (Lanes, Lanes),
    (begin, softness, all): (Lanes, Lanes, Lanes),
) -> Lanes {
    let none = begin + (Lanes::all(4.0) * softness).min(Lanes::all(0.25) * all);
    let most = begin + Lanes::all(0.8) * all;
    let rises = last.below(none).and(most.below(proposed));
    let falls = most.below(last).and(proposed.below(none));
    let half = begin + Lanes::all(0.5) * all;
    rises.or(falls).select(half, proposed)
}

fn columns<const N: usize>(rows: [[f64; N]; WIDTH]) -> [Lanes; N] {
    let mut out = [Lanes::ZERO; N];
    for (k, row) in rows.iter().enumerate() {
        for (column, value) in out.iter_mut().zip(row) {
            column.0[k] = *value;
        }
    }
    out
}

/// As [`LoadLaw`]'s.
#[inline(always)]
fn taper(voltage: Lanes, below: Lanes) -> (Lanes, Lanes) {
    let c = Lanes::all;
    let inside = Lanes::ZERO.below(voltage).and(voltage.below(below));
    let u = inside.select(voltage / below, Lanes::ZERO);
    let u2 = u * u;
    let u4 = u2 * u2;
    let t = u4 * (c(35.0) + u * (c(-84.0) + u * (c(70.0) - c(20.0) * u)));
    let dt = u2 * u * (c(140.0) + u * (c(-420.0) + u * (c(420.0) - c(140.0) * u)));
    let is_whole = Lanes::ZERO.below(below).and(voltage.below(below)).not();
    (
        is_whole.select(Lanes::ONE, t),
        inside.select(dt / below, Lanes::ZERO),
    )
}

#[inline(always)]
fn power(watts: Lanes, below: Lanes, voltage: Lanes) -> (Lanes, Lanes) {
    let c = Lanes::all;
    let is_alive = Lanes::ZERO.below(voltage);
    let is_faint = is_alive.and(voltage.below(below));
    let whole = is_alive.select(voltage, Lanes::ONE);
    let amps = watts / whole;
    let u = is_faint.select(voltage / below, Lanes::ZERO);
    let t = c(35.0) + u * (c(-84.0) + u * (c(70.0) - c(20.0) * u));
    let dt = c(-84.0) + u * (c(140.0) - c(60.0) * u);
    let full = watts / below;
    let faint = full * u * u * u * t;
    let faint_slope = full / below * u * u * (c(3.0) * t + u * dt);
    let none = is_alive.not();
    let current = is_faint.select(faint, amps);
    let slope = is_faint.select(faint_slope, -(amps / whole));
    (
        none.select(Lanes::ZERO, current),
        none.select(Lanes::ZERO, slope),
    )
}

/// `(a^-k + b^-k + c^-k)^(-1/k)` with slopes against the causes of `a` and `b`.
#[inline(always)]
fn smallest(
    (a, da): (Lanes, Lanes),
    (b, db): (Lanes, Lanes),
    c: Lanes,
    k: u32,
) -> (Lanes, [Lanes; 2]) {
    let m = a.min(b).min(c);
    // What has no inverse is nothing.
    let is_none = Lanes::all(LEAST_GIVEN).below(m).not();
    let m = is_none.select(Lanes::ONE, m);
    // A division takes as long as ten products, so each is made once.
    let inverses = [
        is_none.select(Lanes::ONE, a),
        is_none.select(Lanes::ONE, b),
        c,
    ];
    let [ia, ib, ic] = inverses.map(|x| Lanes::ONE / x);
    let [pa, pb, pc] = powers([m * ia, m * ib, m * ic], k);
    let sum = pa + pb + pc;
    let root = (sum.ln() * Lanes::all(-1.0 / f64::from(k))).exp();
    let current = m * root;
    let share = current / sum;
    let a_is_least = b.below(a).not();
    let b_is_least = a.below(b).not();
    (
        is_none.select(Lanes::ZERO, current),
        [
            is_none.select(a_is_least.select(da, Lanes::ZERO), share * pa * ia * da),
            is_none.select(b_is_least.select(db, Lanes::ZERO), share * pb * ib * db),
        ],
    )
}

/// Three numbers to the `k`-th power, side by side.
#[inline(always)]
fn powers(of: [Lanes; 3], k: u32) -> [Lanes; 3] {
    let [mut a, mut b, mut c] = [Lanes::ONE; 3];
    for _ in 0..k {
        (a, b, c) = (a * of[0], b * of[1], c * of[2]);
    }
    [a, b, c]
}

#[cfg(test)]
mod tests {
    use super::{LaneLaw, Lanes, WIDTH};
    use crate::diode::DiodeLaw;
    use crate::load::LoadLaw;
    use crate::regulator::{Dropout, RegulatorLaw, Transfer};
    use crate::system::{Device, Law};
    use proptest::prelude::*;
    use std::sync::Arc;

    fn laws() -> Vec<Law> {
        let pass = RegulatorLaw {
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
        };
        vec![
            Law::Diode(DiodeLaw::Exponential {
                saturation: 1e-9,
                slope_voltage: 0.045,
                series: 0.02,
                leakage: 1e-8,
            }),
            Law::Diode(DiodeLaw::Ideal {
                drop: 0.7,
                slope: 0.02,
            }),
            Law::Load(LoadLaw::Current {
                amps: 0.5,
                below: 2.0,
            }),
            Law::Load(LoadLaw::Power {
                watts: 4.0,
                below: 2.0,
            }),
            Law::Pass(Arc::new(pass)),
        ]
    }

    #[test]
    fn a_pass_element_is_looked_at_in_its_middle_on_the_way_from_nothing_to_all() {
        let pass = &laws()[4];
        let lanes = LaneLaw::gather([pass; WIDTH]).expect("one kind");
        let next = |last: f64, proposed: f64| {
            let [asked, _] = lanes.by_its_middle(
                &[last, 2.0, 0.0].map(Lanes::all),
                &[proposed, 2.0, 0.0].map(Lanes::all),
            );
            asked.0[0]
        };
        // Its limit is 1.2 A.
        assert_eq!((next(-5.0, 13.0), next(13.0, -5.0)), (0.6, 0.6));
        assert_eq!((next(0.6, 13.0), next(0.6, -5.0)), (13.0, -5.0));
        assert_eq!((next(-5.0, 0.3), next(13.0, 5.0)), (0.3, 5.0));
        let next = |last: f64, proposed: f64| {
            let [_, headroom] = lanes.by_its_middle(
                &[0.5, last, 0.0].map(Lanes::all),
                &[0.5, proposed, 0.0].map(Lanes::all),
            );
            headroom.0[0]
        };
        // From 0.6 V on it gives 4 A a volt.
        assert_eq!((next(0.1, 3.0), next(3.0, 0.1)), (0.75, 0.75));
        assert_eq!((next(0.75, 3.0), next(0.75, 0.1)), (3.0, 0.1));
        assert_eq!((next(0.1, 0.7), next(3.0, 0.9)), (0.7, 0.9));
    }

    proptest! {
        #[test]
        fn a_lane_says_what_the_law_says(u in prop::array::uniform8(-3.0..6.0_f64), w in prop::array::uniform8(-0.2..4.0_f64)) {
            for law in laws() {
                let lanes = LaneLaw::gather([&law; WIDTH]).expect("one kind");
                let third = Lanes(w).map(|w| 0.3 * w);
                let (rho, slopes) = lanes.residual(&[Lanes(u), Lanes(w), third]);
                let is_ideal = matches!(law, Law::Diode(DiodeLaw::Ideal { .. }));
                let device = Device { row: 0, law, inputs: Vec::new() };
                for k in 0..WIDTH {
                    let (want, want_slopes) = device.residual(&[u[k], w[k], 0.3 * w[k]]);
                    if is_ideal {
                        // Its row is scaled differently; the zero is the same.
                        prop_assert_eq!(want.abs() < 1e-12, rho.0[k].abs() < 1e-10);
                        continue;
                    }
                    let scale = want.abs().max(1.0);
                    prop_assert!((rho.0[k] - want).abs() <= 1e-13 * scale, "{:?} {} {}", device.law, rho.0[k], want);
                    for m in 0..3 {
                        let scale = want_slopes[m].abs().max(1e-6);
                        prop_assert!((slopes[m].0[k] - want_slopes[m]).abs() <= 1e-12 * scale, "{:?} slope {m} at {}: {} {}", device.law, u[k], slopes[m].0[k], want_slopes[m]);
                    }
                }
            }
        }
    }
}
