//! The hot run: how far the copper rose, how the transformer loses heat, and the volt-amperes that follow.

use super::fit::Ranged;
use super::fit::SHARE;
use super::spread::half_range;
use quietrail_engine::math::{ln, pow};
use quietrail_job::model::unmarked::HotRun;

/// Constant of copper in the resistance method, °C: 234.5, as in the product standards.
pub const COPPER_K: f64 = 234.5;
/// That of aluminium of the electrical grade: 225, in the wording of the same standards. A handbook page gives 228.
pub const ALUMINIUM_K: f64 = 225.0;
/// Kelvins that halve the life of insulation: 8 by one wire maker's note, 10 by a note on motors. Both are told.
pub(super) const HALVES_INSULATION: (f64, f64) = (8.0, 10.0);

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
    /// Heat that the copper may make at its class in the hottest air, W, at the upper end of its thermal resistance, and that class,
    /// °C.
    pub copper_most: Option<(f64, f64)>,
    /// What the same run would do in the hottest air of the box, where the class is given.
    pub in_box: Option<InBox>,
    /// Whether the windings are aluminium.
    pub is_aluminium: bool,
}

/// The load of the hot run in the hottest air of the box.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InBox {
    /// Copper there, °C: the rise of the run on top of that air.
    pub copper: f64,
    /// Kelvins that it stays below its class; negative above it.
    pub below: f64,
    /// How many times as long its insulation lasts as at its class: halved for every 8 K, or for every 10 K.
    pub life: (f64, f64),
}

/// How many times as long insulation lasts so many kelvins below a temperature as at it, by either rule.
pub fn insulation_life(kelvins: f64) -> (f64, f64) {
    (
        pow(2.0, kelvins / HALVES_INSULATION.0),
        pow(2.0, kelvins / HALVES_INSULATION.1),
    )
}

/// Rise of copper by its resistance: `(R2 − R1)/R1 · (k + t1) − (t2 − t1)`, the method of the product standards
/// with `k` of [`COPPER_K`] or [`ALUMINIUM_K`].
pub fn rise(k: f64, cold: f64, cold_at: f64, hot: f64, room: f64) -> f64 {
    (hot - cold) / cold * (k + cold_at) - (room - cold_at)
}

/// Reads a hot run; `copper_max` is the class, `air` the hottest air in the box.
pub(crate) fn read(
    run: &HotRun,
    copper_max: Option<f64>,
    air: f64,
    is_aluminium: bool,
) -> HotFound {
    let k = if is_aluminium { ALUMINIUM_K } else { COPPER_K };
    let room = run.room.nominal();
    let (hot, cooling, half) = at_switch_off(run);
    let cold = run.cold.value;
    let cold_at = run.cold_at.nominal();
    let value = rise(k, cold, cold_at, hot, room);
    // Errors: hot and cold readings by chance (their common error falls out), temperatures as given.
    let parts = [
        half / cold * (k + cold_at),
        run.cold.half * hot / (cold * cold) * (k + cold_at),
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
            let hot_factor = (k + most) / (k + rise.value + room);
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
    let copper_most = match (&to_air, heat, copper_max) {
        (Some(to_air), Some((copper, watts, _)), Some(most)) if most > air => {
            let left = (most - air) / to_air.high - (watts - copper);
            (left > 0.0).then_some((left, most))
        }
        _ => None,
    };
    HotFound {
        copper_most,
        copper: room + value,
        rise,
        is_led_back: run.after.len() > 1,
        cooling,
        to_air,
        volt_amperes,
        limits: copper_max.map(|most| (most, air)),
        in_box: copper_max.map(|most| {
            let copper = air + value;
            InBox {
                copper,
                below: most - copper,
                life: insulation_life(most - copper),
            }
        }),
        is_aluminium,
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
    use super::{COPPER_K, insulation_life, rise};

    /// PWR-XFMR-05.
    #[test]
    fn rise_by_resistance() {
        let found = rise(COPPER_K, 2.300, 22.0, 2.750, 25.0);
        assert!((found / 47.184_78 - 1.0).abs() < 1e-6, "{found}");
    }

    /// Sixteen kelvins are two halvings of eight; ten are one of ten.
    #[test]
    fn insulation_lasts_longer_when_cooler() {
        assert!((insulation_life(16.0).0 - 4.0).abs() < 1e-12);
        assert!((insulation_life(-10.0).1 - 0.5).abs() < 1e-12);
    }
}
