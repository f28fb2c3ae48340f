//! How a circuit ended, and whether that can stand.

use quietrail_engine::{Circuit, Ended, Options, Orbit, System, steady_state};

/// Steps after which a search of these tests must have ended, whatever its reason: a cycle takes about a hundred.
const STEPS: u64 = 50_000;

/// Share of the power in a circuit that may be missing from its balance.
const BALANCE: f64 = 1e-6;
/// Power below which a share of it means nothing, as a share of the volt-amperes in the circuit: a lossless
/// part takes and gives back far more than it keeps, and the integration damps it by this much.
const OF_APPARENT: f64 = 1e-5;
/// Watts that do not matter in any supply. Islands without a path for direct current are tied by 1 GΩ, which is
/// no element; at a hundred volts each tie takes this much.
const SPECK: f64 = 1e-5;

/// Ends of the unreduced and of the reduced equations.
///
/// # Panics
/// When a settled cycle does not balance, or more steps were made than allowed.
pub(crate) fn ends(name: &str, circuit: &Circuit) -> [Ended; 2] {
    let full = System::assemble(circuit).unwrap_or_else(|error| panic!("{name}: {error:?}"));
    [full.reduced(), full].map(|system| {
        let options = Options {
            steps: STEPS,
            ..Options::default()
        };
        let outcome = steady_state(&system, &options);
        let steps = outcome.effort.steps + outcome.effort.rejected;
        assert!(steps <= STEPS, "{name}: {steps} steps");
        if let Some(orbit) = outcome
            .orbit
            .as_ref()
            .filter(|_| outcome.ended.is_settled())
        {
            assert_balances(name, circuit, orbit);
        }
        outcome.ended
    })
}

fn assert_balances(name: &str, circuit: &Circuit, orbit: &Orbit<'_>) {
    let system = orbit.system();
    let (mut sum, mut size, mut apparent) = (0.0, 0.0, 0.0);
    for id in circuit.ids() {
        let power = orbit.power(id);
        sum += power;
        size += power.abs();
        for (voltage, current) in system.ports(id) {
            apparent += orbit.rms(&voltage) * orbit.rms(&current);
        }
    }
    let allowed = BALANCE * size + OF_APPARENT * apparent + SPECK;
    assert!(
        sum.abs() <= allowed,
        "{name}: {sum:e} W are missing of {size:e} W, {apparent:e} VA"
    );
}
