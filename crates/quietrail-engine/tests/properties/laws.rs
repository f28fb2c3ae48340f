//! Conservation of energy and charge, and the scaling laws of circuits.

use crate::properties::random::{Figures, agree, allowed, figures, supply};
use crate::supplies::{Feeds, Supply, settle};
use proptest::prelude::{ProptestConfig, prop_assert, prop_assume, proptest};
use proptest::test_runner::RngSeed;
use quietrail_engine::{DiodeLaw, Options};

/// Two figures that are each good to 1e-9 may lie on either side of the truth.
const ALLOWED: f64 = 2e-9;

/// Share of power and charge that the default tolerance may lose.
const BALANCE: f64 = 1e-7;

fn scaled_ohms(feeds: Feeds, ohms: f64, amps: f64) -> Feeds {
    match feeds {
        Feeds::Ohms(value) => Feeds::Ohms(ohms * value),
        Feeds::Amps(value) => Feeds::Amps(amps * value),
        Feeds::Nothing => Feeds::Nothing,
    }
}

/// A diode with its volts and amperes multiplied.
fn scaled_diode(law: DiodeLaw, volts: f64, amps: f64) -> DiodeLaw {
    let ohms = volts / amps;
    match law {
        DiodeLaw::Exponential {
            saturation,
            slope_voltage,
            series,
            leakage,
        } => DiodeLaw::Exponential {
            saturation: amps * saturation,
            slope_voltage: volts * slope_voltage,
            series: ohms * series,
            leakage: leakage / ohms,
        },
        DiodeLaw::Ideal { drop, slope } => DiodeLaw::Ideal {
            drop: volts * drop,
            slope: ohms * slope,
        },
    }
}

/// All volts and all amperes multiplied, at the same frequency.
fn scaled(supply: &Supply, volts: f64, amps: f64) -> Supply {
    let ohms = volts / amps;
    Supply {
        peak: volts * supply.peak,
        source_ohms: ohms * supply.source_ohms,
        leakage_henries: ohms * supply.leakage_henries,
        diode: scaled_diode(supply.diode, volts, amps),
        farads: supply.farads / ohms,
        esr: ohms * supply.esr,
        feeds: scaled_ohms(supply.feeds, ohms, amps),
        ..*supply
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, rng_seed: RngSeed::Fixed(1943), ..ProptestConfig::default() })]

    #[test]
    fn energy_and_charge_balance(supply in supply()) {
        let built = supply.build();
        let system = built.system();
        let orbit = settle(&system, &Options::default());
        prop_assert!(orbit.energy_balance() < BALANCE, "energy {:e}", orbit.energy_balance());
        prop_assert!(orbit.charge_balance() < 10.0 * BALANCE, "charge {:e}", orbit.charge_balance());
        // Not by the same sums: what the wave gives is what the winding and all the rest take.
        let current = system.current(built.source);
        prop_assert!(orbit.rms(&current) > 0.0);
        prop_assert!(orbit.power(built.source) < 0.0, "a source that takes power");
        prop_assert!(orbit.power(built.diode) >= 0.0, "a diode that gives power");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 16, failure_persistence: None, rng_seed: RngSeed::Fixed(1943), ..ProptestConfig::default() })]

    #[test]
    fn volts_scale(supply in supply(), k in 0.5..3.0_f64) {
        let factors = [1.0 / k, 1.0 / k, 1.0 / k, 1.0, 1.0, 1.0, 1.0 / k];
        let (first, second) = (figures(&supply), figures(&scaled(&supply, k, 1.0)));
        // A starved current load fades below half a volt, which does not scale.
        let is_fed = |figures: &Figures| figures[1].1 > 0.5;
        prop_assume!(is_fed(&first) && is_fed(&second));
        agree(&first, &second, factors, allowed(&supply, ALLOWED))?;
    }

    #[test]
    fn impedances_scale(supply in supply(), k in 0.2..5.0_f64) {
        let factors = [1.0, 1.0, 1.0, k, k, k, k];
        agree(&figures(&supply), &figures(&scaled(&supply, 1.0, 1.0 / k)), factors, allowed(&supply, ALLOWED))?;
    }

    #[test]
    fn time_scales(supply in supply(), k in 0.2..8.0_f64) {
        let faster = Supply {
            frequency: k * supply.frequency,
            farads: supply.farads / k,
            leakage_henries: supply.leakage_henries / k,
            ..supply
        };
        agree(&figures(&supply), &figures(&faster), [1.0; 7], allowed(&supply, ALLOWED))?;
    }
}
