//! Random supplies of the usual kinds, and figures by which two solutions are compared.

use crate::supplies::{Built, Feeds, Form, Supply, settle};
use proptest::prelude::{Just, Strategy, prop_oneof};
use proptest::test_runner::TestCaseError;
use quietrail_engine::{DiodeLaw, Options, Orbit, System};

/// Tolerance at which outputs are good to 1e-9, by comparison with ten times less.
pub(crate) const TIGHT: Options = Options {
    tolerance: 2e-12,
    cycles: 600,
    steps: 2_000_000,
};

/// Figures of one solution: name, value, and the size that a difference of it is measured against.
pub(crate) type Figures = [(&'static str, f64, f64); 7];

fn form() -> impl Strategy<Value = Form> {
    prop_oneof![
        Just(Form::Bridge),
        Just(Form::CentreTap),
        Just(Form::HalfWave),
        Just(Form::Delon),
        Just(Form::Cascade),
    ]
}

fn diode() -> impl Strategy<Value = DiodeLaw> {
    prop_oneof![
        (1e-10..1e-7, 0.026..0.06, 0.0..0.1).prop_map(|(saturation, slope_voltage, series)| {
            DiodeLaw::Exponential {
                saturation,
                slope_voltage,
                series,
                leakage: 1e-9,
            }
        }),
        (0.0..1.0, 0.005..0.1).prop_map(|(drop, slope)| DiodeLaw::Ideal { drop, slope }),
    ]
}

fn feeds() -> impl Strategy<Value = Feeds> {
    prop_oneof![
        (0.01..1.5).prop_map(Feeds::Amps),
        (5.0..2000.0).prop_map(Feeds::Ohms),
    ]
}

/// A supply that works: 12 to 60 V peak, loads from milliamperes to a good ampere.
pub(crate) fn supply() -> impl Strategy<Value = Supply> {
    let source = (
        40.0..70.0,
        12.0..60.0,
        0.05..2.0,
        prop_oneof![Just(0.0), 1e-5..5e-4],
    );
    let reservoir = (1e-4..1e-2, prop_oneof![Just(0.0), 0.01..0.3]);
    (form(), source, diode(), reservoir, feeds()).prop_map(
        |(form, (frequency, peak, source_ohms, leakage_henries), diode, (farads, esr), feeds)| {
            // A cascade doubler behind leakage inductance is a known fault of the engine: it may end without a
            // step where the waiting diodes leave the inductor no path. Until then it stays out.
            let leakage_henries = if form == Form::Cascade {
                0.0
            } else {
                leakage_henries
            };
            Supply {
                form,
                frequency,
                peak,
                source_ohms,
                leakage_henries,
                diode,
                farads,
                esr,
                feeds,
            }
        },
    )
}

/// Figures of a supply at the tight tolerance.
pub(crate) fn figures(supply: &Supply) -> Figures {
    let built = supply.build();
    figures_of(&built, &built.system())
}

/// Figures of a built supply by given equations of it.
pub(crate) fn figures_of(built: &Built, system: &System) -> Figures {
    read(built, &settle(system, &TIGHT))
}

/// Figures of a settled cycle.
pub(crate) fn read(built: &Built, orbit: &Orbit<'_>) -> Figures {
    let system = orbit.system();
    let output = built.output(system);
    let diode = system.current(built.diode);
    let source = system.current(built.source);
    let peak = orbit.peak(&output).value;
    let rms = orbit.rms(&source);
    let diode_peak = orbit.peak(&diode).value;
    // A valley may come near zero, a difference of it not: it is held against the peak.
    [
        ("mean", orbit.mean(&output), peak),
        ("valley", orbit.valley(&output).value, peak),
        ("peak", peak, peak),
        ("diode peak", diode_peak, diode_peak),
        ("source rms", rms, rms),
        (
            "capacitor rms",
            orbit.rms(&system.current(built.reservoir)),
            rms,
        ),
        ("source power", orbit.power(built.source), peak * rms),
    ]
}

/// How far figures of a supply may differ: `smooth` where its diodes are curves. An ideal diode makes corners, at
/// which the engine finds extremes and rms values to a few 1e-8 only, however tight the tolerance (1.8e-8 has been
/// seen); it promises 1e-6.
pub(crate) fn allowed(supply: &Supply, smooth: f64) -> f64 {
    match supply.diode {
        DiodeLaw::Exponential { .. } => smooth,
        DiodeLaw::Ideal { .. } => 1e-7,
    }
}

/// Whether two sets of figures agree to a share, after each of the second is multiplied by its factor.
pub(crate) fn agree(
    first: &Figures,
    second: &Figures,
    factors: [f64; 7],
    allowed: f64,
) -> Result<(), TestCaseError> {
    for ((&(name, a, size), &(_, b, _)), factor) in first.iter().zip(second).zip(factors) {
        let b = factor * b;
        let difference = (a - b).abs() / size;
        let agrees = difference <= allowed;
        if !agrees {
            return Err(TestCaseError::fail(format!(
                "{name}: {a:.12e} and {b:.12e}, difference {difference:.1e}"
            )));
        }
    }
    Ok(())
}
