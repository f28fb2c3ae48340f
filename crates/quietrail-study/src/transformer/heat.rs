//! The hot run: how far the copper rose, how the transformer loses heat, and the volt-amperes that follow.

use super::fit::Ranged;
use super::fit::SHARE;
use super::spread::half_range;
use quietrail_engine::math::ln;
use quietrail_job::model::unmarked::HotRun;

/// Constant of copper in the resistance method, °C: 234.5, as in the product standards.
const COPPER_K: f64 = 234.5;

/// What a hot run says.
#[derive(Clone, Debug, PartialEq)]
pub struct HotFound {
    /// Rise of the copper above the air at the end, K.
    pub rise: Ranged,
    /// Copper temperature at switching off, °C.
    pub copper: f64,
    /// Whether resistances at two times or more led back to switching off; else the rise is a lower bound.
    pub is_led_back: bool,
    /// Time constant of the first cooling, s, where it can be told.
    pub cooling: Option<f64>,
    /// Copper to air, K/W, where the heat of the run is given.
    pub to_air: Option<Ranged>,
    /// Volt-amperes at which copper is as hot as it may be, where all that takes is given.
    pub volt_amperes: Option<Ranged>,
    /// Highest copper and air for that, °C.
    pub limits: Option<(f64, f64)>,
}

/// Rise of copper by its resistance: `(R2 − R1)/R1 · (k + t1) − (t2 − t1)`, the method of the product standards
/// (constant 234.5 for copper).
pub fn rise(cold: f64, cold_at: f64, hot: f64, room: f64) -> f64 {
    (hot - cold) / cold * (COPPER_K + cold_at) - (room - cold_at)
}

/// Reads a hot run; `copper_max` is the class, `air` the hottest air in the box.
pub(crate) fn read(run: &HotRun, copper_max: Option<f64>, air: f64) -> HotFound {
    let room = run.room.nominal();
    let (hot, cooling, half) = at_switch_off(run);
    let cold = run.cold.value;
    let cold_at = run.cold_at.nominal();
    let value = rise(cold, cold_at, hot, room);
    // Errors: hot and cold readings by chance (their common error falls out), temperatures as given.
    let parts = [
        half / cold * (COPPER_K + cold_at),
        run.cold.half * hot / (cold * cold) * (COPPER_K + cold_at),
        0.5 * (run.cold_at.value.high - run.cold_at.value.low) * hot / cold,
        0.5 * (run.room.value.high - run.room.value.low),
    ];
    let rise = around(value, &parts);
    let heat = run.copper_loss.as_ref().map(|copper| {
        let core = run.core_loss.as_ref();
        let watts = copper.value + core.map_or(0.0, |core| core.value);
        let half = copper.half.hypot(core.map_or(0.0, |core| core.half));
        (copper.value, watts, half)
    });
    let to_air = heat.map(|(_, watts, half)| {
        let value = rise.value / watts;
        let mut all: Vec<f64> = parts.iter().map(|part| part / watts).collect();
        all.push(value * half / watts);
        around(value, &all)
    });
    let volt_amperes = match (&to_air, heat, copper_max, &run.carried) {
        (Some(to_air), Some((copper, watts, _)), Some(most), Some(carried)) if most > air => {
            let core = watts - copper;
            let hot_factor = (COPPER_K + most) / (COPPER_K + rise.value + room);
            let allowed = |to_air: f64| {
                let left = (most - air) / to_air - core;
                carried.value * (left.max(0.0) / (copper * hot_factor)).sqrt()
            };
            let value = allowed(to_air.value);
            let share = carried.half / carried.value;
            Some(Ranged {
                value,
                low: allowed(to_air.high) * (1.0 - share),
                high: allowed(to_air.low) * (1.0 + share),
                is_told: true,
            })
        }
        _ => None,
    };
    HotFound {
        copper: room + rise.value,
        rise,
        is_led_back: run.after.len() > 1,
        cooling,
        to_air,
        volt_amperes,
        limits: copper_max.map(|most| (most, air)),
    }
}

fn around(value: f64, parts: &[f64]) -> Ranged {
    let half = half_range(parts, SHARE);
    Ranged {
        value,
        low: value - half,
        high: value + half,
        is_told: value.is_finite(),
    }
}

/// Resistance at switching off: a straight line of the logarithm of what is above the cold value, led back to nothing
/// past. Its time constant where the readings fall, and the half-range by chance.
fn at_switch_off(run: &HotRun) -> (f64, Option<f64>, f64) {
    let first = &run.after[0].0;
    if run.after.len() < 2 {
        return (first.value, None, first.half);
    }
    let cold = run.cold.value;
    let points: Vec<(f64, f64, f64)> = run
        .after
        .iter()
        .filter(|(reading, _)| reading.value > cold)
        .map(|(reading, seconds)| {
            let above = reading.value - cold;
            (*seconds, ln(above), reading.half / above)
        })
        .collect();
    let n = points.len() as f64;
    if points.len() < 2 {
        return (first.value, None, first.half);
    }
    let mean_t = points.iter().map(|(t, _, _)| t).sum::<f64>() / n;
    let mean_y = points.iter().map(|(_, y, _)| y).sum::<f64>() / n;
    let square: f64 = points.iter().map(|(t, _, _)| (t - mean_t).powi(2)).sum();
    let slope = points
        .iter()
        .map(|(t, y, _)| (t - mean_t) * (y - mean_y))
        .sum::<f64>()
        / square;
    // Copper does not warm up by itself once switched off.
    let slope = slope.min(0.0);
    let above = quietrail_engine::math::exp(mean_y - slope * mean_t);
    let parts: Vec<f64> = points
        .iter()
        .map(|(t, _, half)| above * half * (1.0 / n - mean_t * (t - mean_t) / square))
        .collect();
    let half = parts.iter().map(|part| part * part).sum::<f64>().sqrt();
    let cooling = (slope < 0.0).then(|| -1.0 / slope);
    (cold + above, cooling, half)
}

#[cfg(test)]
mod tests {
    use super::rise;

    /// PWR-XFMR-05.
    #[test]
    fn rise_by_resistance() {
        let found = rise(2.300, 22.0, 2.750, 25.0);
        assert!((found / 47.184_78 - 1.0).abs() < 1e-6, "{found}");
    }
}
