//! Rings on the oscilloscope: what one after a step of the load says of a regulating loop, and what two of a rectifier say of
//! what rings there and of the snubber that would damp it.

use quietrail_units::series::Series;
use std::f64::consts::PI;

/// Phase margin below which a loop counts as badly damped, degrees (common practice, no source).
pub const POOR: f64 = 30.0;
/// Phase margin from which a loop counts as well damped, degrees (common practice, no source).
pub const WELL: f64 = 45.0;

/// What the swings after a step say.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ring {
    /// Damping ratio that fits all swings best.
    pub damping: f64,
    /// Phase margin of a loop with two poles that rings so, degrees.
    pub margin: f64,
    /// The same from the two neighbours that fall least, and from those that fall most.
    pub between: (f64, f64),
    /// Whole periods until a swing is a twentieth of the first.
    pub rings: f64,
}

/// Why swings say nothing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NoRing {
    /// Fewer than two.
    TooFew,
    /// A swing of nothing, or less.
    NotAbove,
    /// They do not fall: it oscillates.
    Oscillates,
}

/// Reads the swings that follow a step: their heights from where the output comes to rest, alternately above and below, V.
///
/// A ring `e^(−ζωt) sin(ω√(1−ζ²) t)` loses `π ζ/√(1−ζ²)` of its logarithm from each swing to the next (the logarithmic
/// decrement, over half a period).
///
/// # Errors
/// Why they say nothing.
pub fn ring(swings: &[f64]) -> Result<Ring, NoRing> {
    if swings.len() < 2 {
        return Err(NoRing::TooFew);
    }
    if swings.iter().any(|swing| *swing <= 0.0) {
        return Err(NoRing::NotAbove);
    }
    let logs: Vec<f64> = swings.iter().map(|swing| swing.ln()).collect();
    let fall = -slope(&logs);
    if fall <= 0.0 {
        return Err(NoRing::Oscillates);
    }
    let falls = logs.windows(2).map(|pair| pair[0] - pair[1]);
    let least = falls.clone().fold(f64::INFINITY, f64::min).max(0.0);
    let most = falls.fold(f64::NEG_INFINITY, f64::max);
    let damping = damping_of(fall);
    Ok(Ring {
        damping,
        margin: phase_margin(damping),
        between: (
            phase_margin(damping_of(least)),
            phase_margin(damping_of(most)),
        ),
        rings: 20.0_f64.ln() / (2.0 * fall),
    })
}

/// Damping ratio of a ring whose swings fall so much in logarithm from each to the next.
pub fn damping_of(fall: f64) -> f64 {
    fall / fall.hypot(PI)
}

/// Phase margin, degrees, of a loop of two poles, `ω²/(s (s + 2ζω))`, that closes to this damping ratio.
pub fn phase_margin(damping: f64) -> f64 {
    let square = damping * damping;
    // Where its gain is one: (ω/ω₀)² = √(1 + 4ζ⁴) − 2ζ².
    let crossing = ((1.0 + 4.0 * square * square).sqrt() - 2.0 * square).sqrt();
    (2.0 * damping).atan2(crossing).to_degrees()
}

/// Slope of the straight line that fits best, over the index.
fn slope(values: &[f64]) -> f64 {
    let middle = 0.5 * (values.len() as f64 - 1.0);
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    let (mut over, mut under) = (0.0, 0.0);
    for (index, value) in values.iter().enumerate() {
        let from = index as f64 - middle;
        over += from * (value - mean);
        under += from * from;
    }
    over / under
}

/// Two readings of a ring: by itself, and with a capacitor put across.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TwoRings {
    /// Frequency by itself, Hz, lowest and highest.
    pub alone: (f64, f64),
    /// Capacitor put across, F, lowest and highest.
    pub added: (f64, f64),
    /// Frequency with it, Hz, lowest and highest.
    pub with: (f64, f64),
}

/// What rings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tank {
    /// Capacitance, F, with its bounds.
    pub farads: (f64, f64, f64),
    /// Inductance, H, with its bounds.
    pub henries: (f64, f64, f64),
    /// Its impedance √(L/C), Ω.
    pub ohms: f64,
}

/// What rings, from two readings: `C = Ca/((f0/f1)² − 1)`, `L = 1/((2π f0)² C)`. `None` where it might not ring slower with the
/// capacitor.
pub fn tank(rings: &TwoRings) -> Option<Tank> {
    let of = |alone: f64, added: f64, with: f64| {
        let ratio = alone / with;
        let farads = added / (ratio * ratio - 1.0);
        let turn = 2.0 * PI * alone;
        (farads, 1.0 / (turn * turn * farads))
    };
    if rings.alone.0 <= rings.with.1 {
        return None;
    }
    let middle = |ends: (f64, f64)| 0.5 * (ends.0 + ends.1);
    let (farads, henries) = of(middle(rings.alone), middle(rings.added), middle(rings.with));
    let mut bounds = ((farads, farads), (henries, henries));
    for alone in [rings.alone.0, rings.alone.1] {
        for added in [rings.added.0, rings.added.1] {
            for with in [rings.with.0, rings.with.1] {
                let (farads, henries) = of(alone, added, with);
                bounds.0 = (bounds.0.0.min(farads), bounds.0.1.max(farads));
                bounds.1 = (bounds.1.0.min(henries), bounds.1.1.max(henries));
            }
        }
    }
    Some(Tank {
        farads: (farads, bounds.0.0, bounds.0.1),
        henries: (henries, bounds.1.0, bounds.1.1),
        ohms: (henries / farads).sqrt(),
    })
}

/// A resistor and a capacitor in series across what rings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Snubber {
    /// Its capacitor, F.
    pub farads: f64,
    /// Its resistor, Ω.
    pub ohms: f64,
    /// Damping ratio with it, of what rings longest.
    pub damping: f64,
    /// The lowest over the bounds of what rings.
    pub at_least: f64,
}

/// Times the capacitance of what rings that a snubber needs for no ring at all: the three roots then coincide.
const CRITICAL: f64 = 8.0;

/// A snubber of preferred values that damps a tank to a ratio, with the smallest capacitor that will; `None` where none does.
pub fn snubber(tank: &Tank, damping: f64) -> Option<Snubber> {
    let least = (1..=4000)
        .map(|step| f64::from(step) * 0.0025 * CRITICAL)
        .find(|times| best(*times).1 >= damping)?;
    let farads = next_above(Series::E6, least * tank.farads.0)?;
    // Just the ratio asked for would stand at its very edge; the best resistor for this capacitor stands inside.
    let ohms = Series::E12.nearest(best(farads / tank.farads.0).0 * tank.ohms)?;
    Some(snubbed(tank, farads, ohms))
}

/// What a snubber of given values does to a tank.
pub fn snubbed(tank: &Tank, farads: f64, ohms: f64) -> Snubber {
    let with = |c: f64, l: f64| damped(farads / c, ohms / (l / c).sqrt());
    let corners = [
        (tank.farads.1, tank.henries.1),
        (tank.farads.1, tank.henries.2),
        (tank.farads.2, tank.henries.1),
        (tank.farads.2, tank.henries.2),
    ];
    let damping = with(tank.farads.0, tank.henries.0);
    Snubber {
        farads,
        ohms,
        damping,
        at_least: corners
            .iter()
            .map(|(c, l)| with(*c, *l))
            .fold(damping, f64::min),
    }
}

/// Highest power in a snubber's resistor, W: twice a cycle its capacitor is charged through the whole swing of the winding.
/// That is what it cannot exceed; a winding that falls gently takes far less.
pub fn snubber_watts(farads: f64, peak: f64, hertz: f64) -> f64 {
    let swing = 2.0 * peak;
    2.0 * hertz * 0.5 * farads * swing * swing
}

/// The best resistor, over the tank's impedance, for a capacitor of so many times its capacitance, and the damping ratio.
pub fn best(times: f64) -> (f64, f64) {
    let mut found = (1.0, 0.0);
    // Two passes over a grid of ratios: coarse, then fine around the best.
    let (mut low, mut high) = (0.05_f64.ln(), 20.0_f64.ln());
    for _ in 0..6 {
        let width = (high - low) / 40.0;
        for step in 0..=40 {
            let ohms = (low + width * f64::from(step)).exp();
            let damping = damped(times, ohms);
            if damping > found.1 {
                found = (ohms, damping);
            }
        }
        let middle = found.0.ln();
        (low, high) = (middle - width, middle + width);
    }
    found
}

/// Damping ratio of a tank with a snubber, of the roots that ring: those of `x³ r k + x² (1 + k) + x r k + 1`, where `k` is its
/// capacitor over the tank's, `r` its resistor over the tank's impedance, and `x` the frequency over the tank's. One where
/// nothing rings.
pub fn damped(times: f64, ohms: f64) -> f64 {
    let (a, b, c) = ((1.0 + times) / (ohms * times), 1.0, 1.0 / (ohms * times));
    // The real root of x³ + a x² + b x + c, between −a and 0 since all coefficients are positive.
    let value = |x: f64| ((x + a) * x + b) * x + c;
    let (mut low, mut high) = (-a, 0.0);
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if value(middle) > 0.0 {
            high = middle;
        } else {
            low = middle;
        }
    }
    let root = 0.5 * (low + high);
    // What is left is x² + p x + q.
    let (p, q) = (a + root, -c / root);
    let damping = p / (2.0 * q.sqrt());
    damping.min(1.0)
}

/// The smallest value of a series that is not below.
fn next_above(series: Series, wanted: f64) -> Option<f64> {
    let near = series.nearest(wanted)?;
    if near >= wanted * (1.0 - 1e-9) {
        return Some(near);
    }
    // One step of the series further on.
    (1..=100)
        .filter_map(|step| series.nearest(near * (1.0 + 0.01 * f64::from(step))))
        .find(|value| *value > near)
}
