//! How an electrolytic that lay for years is brought up: through a resistor, in steps, with a current above which to stop.

use quietrail_engine::math::exp;

/// Leakage that an electrolytic in order may have after some minutes at its rated voltage: `0.01 C V + 3 µA`. From memory.
pub fn leakage_limit(farads: f64, volts: f64) -> f64 {
    0.01 * farads * volts + 3e-6
}

/// A plan to bring up a capacitor that lay for years.
#[derive(Clone, Debug, PartialEq)]
pub struct Reforming {
    /// Series resistor, Ω.
    pub ohms: f64,
    /// Its most heat, the capacitor a short, W.
    pub watts: f64,
    /// Volts of each step.
    pub steps: Vec<FormingStep>,
    /// Seconds in all, at least.
    pub seconds: f64,
}

/// One step of it.
#[derive(Clone, Debug, PartialEq)]
pub struct FormingStep {
    /// Volts of the supply.
    pub volts: f64,
    /// Seconds to hold, at least.
    pub seconds: f64,
    /// Seconds since the step and the most current then, A, in a part that is coming back.
    pub expect: Vec<(f64, f64)>,
    /// Current above which to stop, after five time constants.
    pub abort: f64,
}

/// Steps of the plan, as shares of the working voltage.
const SHARES: [f64; 5] = [0.2, 0.4, 0.6, 0.8, 1.0];
/// Hours without voltage after which it is brought up slowly: half a year. Workshop practice, no source.
pub(crate) const IDLE: f64 = 4383.0;
/// Series resistor times capacitance, s, and its heat at most, W. Our own rule: at the leakage of one in order it drops less than a
/// third of the volts.
const TIME_CONSTANT: f64 = 30.0;
const MOST_WATTS: f64 = 1.0;
/// Five minutes, and one for each month unused: workshop practice, no source.
const LEAST_SECONDS: f64 = 300.0;
const HOURS_A_MONTH: f64 = 730.5;

/// How to bring up a capacitor to some volts after it lay for some hours.
pub fn reforming(farads: f64, volts: f64, unused_hours: f64) -> Reforming {
    let ohms = (TIME_CONSTANT / farads).max(volts * volts / MOST_WATTS);
    let constant = ohms * farads;
    let seconds = LEAST_SECONDS + 60.0 * unused_hours / HOURS_A_MONTH;
    let each = (seconds / SHARES.len() as f64).max(5.0 * constant);
    let mut before = 0.0;
    let steps = SHARES
        .iter()
        .map(|share| {
            let now = share * volts;
            let limit = leakage_limit(farads, now);
            let rise = now - before;
            before = now;
            let expect = [0.0, 1.0, 2.0, 3.0, 5.0]
                .iter()
                .map(|constants: &f64| {
                    (constants * constant, rise / ohms * exp(-constants) + limit)
                })
                .collect();
            FormingStep {
                volts: now,
                seconds: each,
                expect,
                abort: 3.0 * limit,
            }
        })
        .collect();
    Reforming {
        ohms,
        watts: volts * volts / ohms,
        steps,
        seconds: each * SHARES.len() as f64,
    }
}

#[cfg(test)]
mod tests {
    use super::reforming;

    /// 47 µF to 300 V after ten years: the resistor is the larger of 30 s/C and V²/1 W; the first current of a step is the rise
    /// over the resistor, and falls by e in each time constant down to what it leaks.
    #[test]
    fn a_plan_has_the_currents_of_its_resistor() {
        let plan = reforming(47e-6, 300.0, 87_660.0);
        assert!((plan.ohms - 30.0 / 47e-6).abs() < 1.0);
        assert!(plan.seconds >= 300.0 + 60.0 * 120.0 - 1.0);
        let step = &plan.steps[1];
        let leak = 0.01 * 47e-6 * 120.0 + 3e-6;
        assert!((step.expect[0].1 - (60.0 / plan.ohms + leak)).abs() < 1e-9);
        assert!((step.expect[1].1 - leak) / (step.expect[0].1 - leak) - (-1.0_f64).exp() < 1e-9);
        assert!(plan.watts <= 1.0);
    }
}
