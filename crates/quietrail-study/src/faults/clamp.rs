//! What would hold the pins of a load under the worst fault.

use super::{Clears, PinFaults, Run};
use crate::single_fault;
use quietrail_engine::batch::TRACE;
use quietrail_engine::{DiodeLaw, Element, Signal};

/// A clamp, put across the pins and tried with the worst fault.
#[derive(Clone, Debug, PartialEq)]
pub enum Clamp {
    /// A zener diode.
    Zener {
        /// Its voltage.
        volts: f64,
        /// Highest instant at the pins with it, V.
        peak: f64,
        /// What it has to bear for as long as the fault lasts, W.
        watts: f64,
    },
    /// A thyristor that shorts the pins, and a fuse that then opens.
    Crowbar {
        /// Where it trips, V.
        trips: f64,
        /// Seconds from the fault until then, at most.
        within: f64,
        /// Highest current through it, A.
        amps: f64,
        /// ∫i² dt through it in its first half cycle, A²s: what a thyristor's rating for a single pulse is compared with.
        first: f64,
        /// rms through it in the last cycles that were integrated, A.
        lasting: f64,
        /// ∫i² dt through it until a fuse opens at the latest, A²s; without a fuse that opens, and with one of which that is not
        /// known, within what was integrated.
        in_all: f64,
        /// What the mains fuses make of the short.
        clears: Clears,
    },
}

/// Above the highest voltage without a fault a clamp must not conduct: a tenth for tolerance and temperature (common
/// practice, no source).
const ABOVE: f64 = 1.1;
/// Slope of a zener, Ω (common practice, no source: a 5 W type about 13 V).
const SLOPE: f64 = 2.0;
/// Thyristor that conducts: drop and slope (common practice, no source).
const THYRISTOR: (f64, f64) = (1.0, 0.03);

/// Both clamps with the worst fault, where it goes beyond what the pins bear.
pub(super) fn of(run: &Run<'_>, pin: &PinFaults) -> Vec<Clamp> {
    let Some(worst) = pin.faults.first() else {
        return Vec::new();
    };
    let Some(bears) = pin.bears else {
        return Vec::new();
    };
    if worst.peak <= bears || pin.without * ABOVE >= bears {
        return Vec::new();
    }
    let volts = pin.without * ABOVE;
    let mut all = Vec::new();
    let with = |drop: f64, slope: f64| {
        let mut lowered = run.lowered().ok()?;
        single_fault::make(&mut lowered, &worst.fault);
        let Some(Signal::Voltage(anode, cathode)) = super::across(&lowered, &pin.load) else {
            return None;
        };
        let law = DiodeLaw::Ideal { drop, slope };
        let added = lowered.circuit.add(Element::Diode {
            anode,
            cathode,
            law,
        });
        run.integrate(&lowered, std::slice::from_ref(pin), Some(added))
            .ok()
    };
    if let Some(trace) = with(volts, SLOPE)
        && let Some((across, through)) = &trace.added
    {
        let last = TRACE;
        let tail = across.len() - last;
        let watts = across[tail..]
            .iter()
            .zip(&through[tail..])
            .map(|(v, i)| v * i)
            .sum::<f64>()
            / last as f64;
        let peak = trace.volts[0].iter().copied().fold(f64::MIN, f64::max);
        all.push(Clamp::Zener { volts, peak, watts });
    }
    // When the pins pass the level where it trips, without it.
    let trip = run.lowered().ok().and_then(|mut lowered| {
        single_fault::make(&mut lowered, &worst.fault);
        let trace = run
            .integrate(&lowered, std::slice::from_ref(pin), None)
            .ok()?;
        let index = trace.volts[0].iter().position(|v| *v > volts)?;
        Some((index + 1) as f64 * trace.step)
    });
    if let (Some(within), Some(trace)) = (trip, with(THYRISTOR.0, THYRISTOR.1))
        && let Some((_, through)) = &trace.added
    {
        let sum = |amps: &[f64]| amps.iter().map(|i| i * i).sum::<f64>() * trace.step;
        let half = TRACE / 2;
        let tail = &through[through.len() - super::TAIL..];
        let lasting = (sum(tail) / (tail.len() as f64 * trace.step)).sqrt();
        let clears = run.clears(&trace);
        let integrated = through.len() as f64 * trace.step;
        let further = match clears {
            Clears::After(seconds) => (seconds - integrated).max(0.0) * lasting * lasting,
            Clears::Never | Clears::NotTold => 0.0,
        };
        all.push(Clamp::Crowbar {
            trips: volts,
            within,
            amps: through.iter().copied().fold(0.0, f64::max),
            first: sum(&through[..half.min(through.len())]),
            lasting,
            in_all: sum(through) + further,
            clears,
        });
    }
    all
}
