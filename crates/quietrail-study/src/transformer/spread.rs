//! How far sums of errors reach: each error lies anywhere between its two ends, none knows of another.

/// Points from the middle of a distribution to its end.
const POINTS: usize = 600;

/// The half-range that holds a share of all sums `Σ cₖ uₖ`, with each `uₖ` anywhere in −1 .. 1. `parts` are the `cₖ`.
///
/// The density is built up by adding one error after the other on a grid, the widest first; each addition is a
/// running mean. Errors that are small beside the whole go together as one of their joint spread.
pub(crate) fn half_range(parts: &[f64], share: f64) -> f64 {
    let mut widths: Vec<f64> = parts
        .iter()
        .map(|part| part.abs())
        .filter(|part| part.is_finite() && *part > 0.0)
        .collect();
    widths.sort_by(|a, b| b.total_cmp(a));
    let Some(&widest) = widths.first() else {
        return 0.0;
    };
    let variance: f64 = widths.iter().map(|width| width * width / 3.0).sum();
    // Beyond six deviations nothing is left of a sum; a single error ends at its own end.
    let reach = widths
        .iter()
        .sum::<f64>()
        .min((6.0 * variance.sqrt()).max(1.01 * widest));
    let step = reach / POINTS as f64;
    let mut density = vec![0.0; 2 * POINTS + 1];
    let mut small = 0.0;
    let mut first = true;
    for width in widths {
        if width < 2.0 * step {
            small += width * width;
            continue;
        }
        if first {
            uniform(&mut density, width / step);
            first = false;
        } else {
            widen(&mut density, width / step);
        }
    }
    if small > 0.0 {
        widen(&mut density, small.sqrt() / step);
    }
    quantile(&density, share) * step
}

/// Fills in the density of one error of a half-width in steps, shares of cells at its ends counted.
fn uniform(density: &mut [f64], half: f64) {
    let middle = POINTS as f64;
    for (index, cell) in density.iter_mut().enumerate() {
        let distance = (index as f64 - middle).abs();
        *cell = (half + 0.5 - distance).clamp(0.0, 1.0);
    }
}

/// Adds an error of a half-width in steps: each cell becomes the mean over that width.
fn widen(density: &mut [f64], half: f64) {
    let mut sums = Vec::with_capacity(density.len() + 1);
    let mut sum = 0.0;
    sums.push(0.0);
    for cell in density.iter() {
        sum += cell;
        sums.push(sum);
    }
    // Sum of all cells below a place, cells counted in parts.
    let below = |place: f64| {
        let place = place.clamp(0.0, density.len() as f64);
        let whole = place.floor();
        let index = whole as usize;
        let part = density.get(index).copied().unwrap_or(0.0);
        sums[index] + (place - whole) * part
    };
    let next: Vec<f64> = (0..density.len())
        .map(|index| {
            let centre = index as f64 + 0.5;
            (below(centre + half) - below(centre - half)) / (2.0 * half)
        })
        .collect();
    density.copy_from_slice(&next);
}

/// The distance from the middle, in steps, within which a share lies.
fn quantile(density: &[f64], share: f64) -> f64 {
    let total: f64 = density.iter().sum();
    let mut within = density[POINTS];
    // The middle cell reaches half a step to either side.
    if within >= share * total {
        return 0.5 * share * total / within;
    }
    for distance in 1..=POINTS {
        let ring = density[POINTS - distance] + density[POINTS + distance];
        if within + ring >= share * total {
            return distance as f64 - 0.5 + (share * total - within) / ring;
        }
        within += ring;
    }
    POINTS as f64
}

#[cfg(test)]
mod tests {
    use super::half_range;

    fn near(found: f64, wanted: f64, by: f64) {
        assert!((found - wanted).abs() < by, "{found} for {wanted}");
    }

    /// Closed forms: one error is even, two equal ones make a triangle, many a bell.
    #[test]
    fn sums_reach_as_far_as_closed_forms_say() {
        near(half_range(&[2.0], 0.95), 1.9, 0.01);
        // Triangle on −2 .. 2: 1 − (2 − q)²/4 = 0.95.
        near(half_range(&[1.0, 1.0], 0.95), 2.0 - 0.2_f64.sqrt(), 0.005);
        // Trapezoid of 1 and 0.25: beyond 0.75 the tail falls as a parabola of (1.25 − q)²/(2 · 1 · 0.5 · 2).
        let q = 1.25 - (0.05_f64 * 2.0 * 0.25).sqrt() * 2.0_f64.sqrt();
        near(half_range(&[1.0, 0.25], 0.95), q, 0.005);
        let many = [0.1; 300];
        near(half_range(&many, 0.95), 1.959_964, 0.02);
        assert_eq!(half_range(&[], 0.95), 0.0);
    }
}
