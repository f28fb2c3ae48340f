//! What capacitors hold in a step, and for how long: when that is worth a caution.

use super::derive::Planned;
use super::expect::{Found, Watch};
use super::ohms::Net;
use super::{Caution, Touch};
use quietrail_job::model::{Capacitor, Job, PartKind};

/// A rail that empties to this is no longer a surprise to the fingers, V (common practice, no source).
const EMPTY: f64 = 10.0;
/// A charge that is gone in less than this meets no finger, s (common practice, no source).
const FOR_FINGERS: f64 = 1.0;
/// Above so many volts, V, a charge above this, C, is hazardous to touch: IEC 61010-1, 6.3.1 c (the charge as discussed on the IEEE
/// product-safety list, the volts from memory).
const TOUCHED: (f64, f64) = (60.0, 45e-6);
/// Less energy than this throws no metal and leaves no mark on a tool, J (common practice, no source).
const SPARK: f64 = 0.1;
/// Above this no resistor counts as emptying anything, Ω.
const NO_PATH: f64 = 1e9;

/// A caution for each capacitor whose charge stays when power goes.
pub(super) fn cautions(job: &Job, step: &Planned, found: &Found) -> Vec<Caution> {
    let there: Vec<(&str, &Capacitor)> = job
        .parts()
        .filter(|part| !step.out.contains(&part.name))
        .filter_map(|part| match &part.kind {
            PartKind::Capacitor(one) => Some((part.name.as_str(), one)),
            _ => None,
        })
        .collect();
    let net = Net::without(job, &step.out);
    let caution = |(name, capacitor): &(&str, &Capacitor)| {
        let (_, volts) = *found.get(&Watch::Volts((*name).to_owned()))?;
        if volts <= EMPTY || is_across_winding(job, capacitor) {
            return None;
        }
        let touch = touch(capacitor.value.value.high, volts)?;
        let seconds = seconds_to_empty(&net, &there, capacitor, volts);
        let stays = seconds.is_none_or(|seconds| seconds > FOR_FINGERS);
        stays.then(|| Caution::Charge {
            part: (*name).to_owned(),
            volts,
            seconds,
            touch,
        })
    };
    there.iter().filter_map(caution).collect()
}

/// What a charge does; `None` of one that nobody notices.
fn touch(farads: f64, volts: f64) -> Option<Touch> {
    let (coulombs, joules) = (farads * volts, 0.5 * farads * volts * volts);
    if volts > TOUCHED.0 && coulombs > TOUCHED.1 {
        return Some(Touch::Hazardous {
            coulombs,
            above: TOUCHED.1,
        });
    }
    (joules > SPARK).then_some(Touch::Sparks { joules })
}

/// Whether the copper of a winding is across it, which empties it.
fn is_across_winding(job: &Job, capacitor: &Capacitor) -> bool {
    let of = |end: &str| {
        let (name, _) = end.split_once('.')?;
        let part = job.part(name)?;
        matches!(part.kind, PartKind::Transformer(_)).then(|| name.to_owned())
    };
    let (plus, minus) = (of(&capacitor.between.plus), of(&capacitor.between.minus));
    plus.is_some() && plus == minus
}

/// Time until a capacitor is below ten volts through the resistors that are left with the dummies taken off, those of others that
/// empty through it with it; `None` where none is across it.
///
/// The delay of Elmore (*J. Appl. Phys.* 19 (1948) 55) stands for the time constant: the sum, over all capacitors, of their farads
/// times what they share of the resistance.
fn seconds_to_empty(
    net: &Net,
    there: &[(&str, &Capacitor)],
    capacitor: &Capacitor,
    volts: f64,
) -> Option<f64> {
    let ends = &capacitor.between;
    let at = net.at_an_ampere(&ends.plus, &ends.minus);
    let across = |plus: &str, minus: &str| Some(at.get(plus)? - at.get(minus)?);
    if across(&ends.plus, &ends.minus)? > NO_PATH {
        return None;
    }
    let delays = there.iter().filter_map(|(_, other)| {
        let shared = across(&other.between.plus, &other.between.minus)?;
        Some(other.value.value.high * shared.max(0.0))
    });
    let delay: f64 = delays.sum();
    Some(delay * quietrail_engine::math::ln(volts / EMPTY))
}

#[cfg(test)]
mod tests {
    use super::touch;
    use crate::bringup::Touch;

    /// By hand: 100 nF at 358 V is 35.8 µC, 220 nF 78.8 µC; 4700 µF at 20 V is 0.94 J, 100 µF at 24 V 29 mJ.
    #[test]
    fn charge_above_sixty_volts_and_energy_below_decide() {
        assert_eq!(touch(100e-9, 358.0), None);
        let Some(Touch::Hazardous { coulombs, .. }) = touch(220e-9, 358.0) else {
            panic!("220 nF at the mains");
        };
        assert!((coulombs - 78.76e-6).abs() < 1e-9);
        let Some(Touch::Sparks { joules }) = touch(4700e-6, 20.0) else {
            panic!("a reservoir");
        };
        assert!((joules - 0.94).abs() < 1e-9);
        assert_eq!(touch(100e-6, 24.0), None);
    }
}
