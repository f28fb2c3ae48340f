//! 45° lines clipped to an outline, so that a shortfall needs no pattern and prints the same anywhere.

use super::scene::{Point, at};

/// Distance between neighbouring lines, measured across them, in CSS pixels.
const PITCH: f64 = 6.0;

/// The hatching of a closed outline: falling to the right, all outlines in register.
///
/// Each line is `y − x = c`; the outline cuts it into an even number of crossings, and the stretches
/// between the first and second, third and fourth … are inside.
pub(super) fn lines(outline: &[Point]) -> Vec<(Point, Point)> {
    let step = PITCH * std::f64::consts::SQRT_2;
    let offsets = || outline.iter().map(|point| point.y - point.x);
    let least = offsets().fold(f64::INFINITY, f64::min);
    let most = offsets().fold(f64::NEG_INFINITY, f64::max);
    if !(least.is_finite() && most.is_finite()) {
        return Vec::new();
    }
    let first = (least / step).ceil() as i64;
    let last = (most / step).floor() as i64;
    let mut lines = Vec::new();
    for index in first..=last {
        // A hair beside the multiple: a vertex exactly on the line would count twice.
        let offset = index as f64 * step + 1e-7;
        let mut crossings = crossings(outline, offset);
        crossings.sort_by(|a, b| a.x.total_cmp(&b.x));
        lines.extend(crossings.chunks_exact(2).map(|pair| (pair[0], pair[1])));
    }
    lines
}

fn crossings(outline: &[Point], offset: f64) -> Vec<Point> {
    let next = outline.iter().cycle().skip(1);
    let edges = outline.iter().zip(next);
    edges
        .filter_map(|(from, to)| {
            let (a, b) = (from.y - from.x - offset, to.y - to.x - offset);
            if (a < 0.0) == (b < 0.0) {
                return None;
            }
            let part = a / (a - b);
            Some(at(
                from.x + part * (to.x - from.x),
                from.y + part * (to.y - from.y),
            ))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::{PITCH, lines};
    use crate::svg::scene::at;

    #[test]
    fn a_square_is_hatched_inside_and_evenly() {
        let square = [at(0.0, 0.0), at(60.0, 0.0), at(60.0, 60.0), at(0.0, 60.0)];
        let drawn = lines(&square);
        // Offsets run from −60 to 60; 120 / (6 √2) is 14.1.
        assert_eq!(drawn.len(), 15);
        for (from, to) in &drawn {
            assert!((to.y - from.y - (to.x - from.x)).abs() < 1e-9, "45 degrees");
            for point in [from, to] {
                assert!((-1e-9..=60.0 + 1e-9).contains(&point.x));
                assert!((-1e-9..=60.0 + 1e-9).contains(&point.y));
            }
        }
        let across = |i: usize| (drawn[i].0.y - drawn[i].0.x) / std::f64::consts::SQRT_2;
        assert!((across(1) - across(0) - PITCH).abs() < 1e-6);
    }

    #[test]
    fn a_notch_is_left_out() {
        let notched = [
            at(0.0, 0.0),
            at(60.0, 0.0),
            at(60.0, 60.0),
            at(30.0, 10.0),
            at(0.0, 60.0),
        ];
        for (from, to) in lines(&notched) {
            let middle = at((from.x + to.x) / 2.0, (from.y + to.y) / 2.0);
            let floor = 10.0 + (middle.x - 30.0).abs() * 50.0 / 30.0;
            assert!(middle.y <= floor + 1e-6, "{middle:?}");
        }
    }

    #[test]
    fn nothing_has_no_lines() {
        assert!(lines(&[]).is_empty());
    }
}
