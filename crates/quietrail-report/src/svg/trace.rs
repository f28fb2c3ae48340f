//! A curve with fewer points that looks the same.

use super::scene::Point;

/// Drops points that lie within `tolerance` pixels of the line between their kept neighbours (the
/// Ramer-Douglas-Peucker method, 1972/1973). Ends and extremes stay within the tolerance.
pub(super) fn simplified(points: &[Point], tolerance: f64) -> Vec<Point> {
    if points.len() < 3 {
        return points.to_vec();
    }
    let mut keep = vec![false; points.len()];
    keep[0] = true;
    keep[points.len() - 1] = true;
    let mut stretches = vec![(0, points.len() - 1)];
    while let Some((first, last)) = stretches.pop() {
        let farthest = (first + 1..last)
            .map(|i| (i, distance(points[i], points[first], points[last])))
            .max_by(|a, b| a.1.total_cmp(&b.1));
        if let Some((i, away)) = farthest
            && away > tolerance
        {
            keep[i] = true;
            stretches.push((first, i));
            stretches.push((i, last));
        }
    }
    points
        .iter()
        .zip(keep)
        .filter_map(|(point, keep)| keep.then_some(*point))
        .collect()
}

fn distance(point: Point, from: Point, to: Point) -> f64 {
    let (dx, dy) = (to.x - from.x, to.y - from.y);
    let length = dx.hypot(dy);
    let (px, py) = (point.x - from.x, point.y - from.y);
    if length == 0.0 {
        px.hypot(py)
    } else {
        (dx * py - dy * px).abs() / length
    }
}

#[cfg(test)]
mod tests {
    use super::simplified;
    use crate::svg::scene::{Point, at};

    #[test]
    fn a_straight_line_needs_two_points_and_a_spike_stays() {
        let mut line: Vec<Point> = (0..100).map(|i| at(f64::from(i), 50.0)).collect();
        assert_eq!(simplified(&line, 0.1).len(), 2);
        line[40].y = 10.0;
        let kept = simplified(&line, 0.1);
        assert!(kept.contains(&at(40.0, 10.0)));
        assert!(kept.len() <= 5);
    }
}
