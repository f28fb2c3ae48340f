//! Lines through a corner along one figure, for figures whose worst may lie inside their tolerance.
//!
//! A figure that turns round has its worst where something else gives way: mains, for instance, where a regulator
//! begins to drop out. Where that is moves with the other figures. So it is scanned through the winner, and
//! *followed*: each other figure is put to its other end, and the turning one scanned again there. A flip alone
//! would leave the turning figure at a place that is the worst no more, and hide what the flip brings.

use super::Search;
use super::corner::{Corner, Position, with_group};

/// Points of a line, as shares of the way from the nominal to the ends; the ends are added.
const SCAN: [f64; 5] = [-2.0 / 3.0, -1.0 / 3.0, 0.0, 1.0 / 3.0, 2.0 / 3.0];
/// How often a line that is worst inside is refined, by a few points each time.
const REFINED: usize = 3;
/// Points nearer to each other than this share of the way to an end are not told apart.
const FINE: f64 = 0.01;
/// Figures that are followed for one question.
const TURNING: usize = 1;

/// Corners that differ in one figure.
pub(super) struct Line {
    /// Index of the aim on whose behalf it is scanned.
    aim: usize,
    /// The figure.
    group: usize,
    points: Vec<Corner>,
}

impl Line {
    pub(super) fn through(aim: usize, corner: &Corner, groups: &[usize], group: usize) -> Self {
        let inside = SCAN.map(Position::between);
        let points = [Position::LOW, Position::HIGH, corner[group]]
            .into_iter()
            .chain(inside)
            .map(|position| with_group(corner, groups, group, position))
            .collect();
        Self { aim, group, points }
    }
}

impl Search<'_> {
    /// Scans figures whose slope turns, along lines through the winner, one figure after the other.
    pub(super) fn scan(&mut self, near: &[usize]) {
        let turning: Vec<Vec<usize>> = near.iter().map(|&a| self.aims[a].turning()).collect();
        let longest = turning.iter().map(Vec::len).max().unwrap_or(0);
        for turn in 0..longest {
            let lines = near
                .iter()
                .zip(&turning)
                .filter_map(|(&a, turning)| {
                    let group = *turning.get(turn)?;
                    let (_, winner) = self.aims[a].best.as_ref()?;
                    Some(Line::through(a, winner, &self.groups, group))
                })
                .collect();
            self.scan_lines(lines);
        }
    }

    /// Follows the figures that turn most to where they are worst with others at their other ends.
    pub(super) fn follow(&mut self, near: &[usize]) {
        let mut lines = Vec::new();
        for &a in near {
            for group in self.aims[a].turning().into_iter().take(TURNING) {
                let beside = self.aims[a].beside(&self.groups, group);
                lines.extend(
                    beside
                        .iter()
                        .map(|corner| Line::through(a, corner, &self.groups, group)),
                );
            }
        }
        self.scan_lines(lines);
    }

    pub(super) fn scan_lines(&mut self, mut lines: Vec<Line>) {
        let points: Vec<(usize, Corner)> = lines
            .iter()
            .flat_map(|line| {
                let q = self.aims[line.aim].q;
                line.points.iter().map(move |corner| (q, corner.clone()))
            })
            .collect();
        self.try_all(&points);
        for _ in 0..REFINED {
            let mut refined = Vec::new();
            for line in &mut lines {
                let aim = &self.aims[line.aim];
                let best = aim.best.as_ref().map_or(0.0, |(value, _)| aim.sign * value);
                // What cannot come to more than is known elsewhere is left.
                for share in next(&self.values(line), best + aim.slight()) {
                    let to = Position::between(share);
                    let corner = with_group(&line.points[0], &self.groups, line.group, to);
                    line.points.push(corner.clone());
                    refined.push((aim.q, corner));
                }
            }
            if refined.is_empty() {
                return;
            }
            self.try_all(&refined);
        }
    }

    /// Where the points of a line stand and what they come to, more being worse.
    fn values(&self, line: &Line) -> Vec<(f64, f64)> {
        let aim = &self.aims[line.aim];
        let point = |corner: &Corner| {
            let value = self.seen.get(corner)?.as_ref()?.values[aim.q]?;
            Some((corner[line.group].share(), aim.sign * value))
        };
        let mut points: Vec<(f64, f64)> = line.points.iter().filter_map(point).collect();
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        points.dedup_by(|a, b| a.0 == b.0);
        points
    }
}

/// Where to look next on a line that is worst inside and may come to more than `least`: at the extreme of a parabola, at the
/// ridge of a roof, and in the middle of the gaps beside the worst point that leave room. A ridge has no parabola, and an edge
/// neither.
fn next(points: &[(f64, f64)], least: f64) -> Vec<f64> {
    let worst = (0..points.len()).max_by(|&a, &b| points[a].1.total_cmp(&points[b].1));
    let Some(worst) = worst.filter(|&worst| worst > 0 && worst + 1 < points.len()) else {
        return Vec::new();
    };
    let around = [points[worst - 1], points[worst], points[worst + 1]];
    let [left, middle, right] = around.map(|(share, _)| share);
    // The way up to the worst point goes on at most as steeply; without a way up, as steeply as it goes down.
    let outer = |k: Option<usize>| k.and_then(|k| points.get(k)).copied();
    let (before, after) = (outer(worst.checked_sub(2)), outer(Some(worst + 2)));
    let rise = |a: (f64, f64), b: (f64, f64)| (b.1 - a.1) / (b.0 - a.0);
    let steepest =
        |one: f64, other: Option<f64>| other.map_or(one, |other| one.abs().max(other.abs()));
    let up = steepest(
        rise(around[0], around[1]).abs(),
        before.map(|before| rise(before, around[0])),
    );
    let down = steepest(
        rise(around[1], around[2]).abs(),
        after.map(|after| rise(around[2], after)),
    );
    let room_left = around[1].1 + (middle - left) * down;
    let room_right = around[1].1 + (right - middle) * up;
    if right - left < 2.0 * FINE || room_left.max(room_right) < least {
        return Vec::new();
    }
    let half_left = (room_left >= least).then_some(0.5 * (left + middle));
    let half_right = (room_right >= least).then_some(0.5 * (middle + right));
    let mut found: Vec<f64> = Vec::new();
    let ridges = [
        before.and_then(|before| ridge(before, around[0], around[1], around[2])),
        after.and_then(|after| ridge(around[0], around[1], around[2], after)),
    ];
    let all = [extreme(around), ridges[0], ridges[1], half_left, half_right];
    for share in all.into_iter().flatten() {
        let known = [left, middle, right]
            .into_iter()
            .chain(found.iter().copied());
        if known.into_iter().all(|known| (known - share).abs() >= FINE) {
            found.push(share);
        }
    }
    found
}

/// Where the straight lines through two points and through two further on meet, if that is between the pairs.
fn ridge(a: (f64, f64), b: (f64, f64), c: (f64, f64), d: (f64, f64)) -> Option<f64> {
    let (up, down) = ((b.1 - a.1) / (b.0 - a.0), (d.1 - c.1) / (d.0 - c.0));
    let x = (c.1 - b.1 + up * b.0 - down * c.0) / (up - down);
    (x > b.0 && x < c.0).then_some(x)
}

/// Where the parabola through three points (rising abscissa) has its extreme, if it has one between them.
fn extreme(points: [(f64, f64); 3]) -> Option<f64> {
    let [(x0, y0), (x1, y1), (x2, y2)] = points;
    let (left, right) = ((y1 - y0) / (x1 - x0), (y2 - y1) / (x2 - x1));
    let bend = (right - left) / (x2 - x0);
    let x = 0.5 * (x0 + x1) - left / (2.0 * bend);
    (x > x0 && x < x2).then_some(x)
}

#[cfg(test)]
mod tests {
    use super::{REFINED, extreme, next};

    #[test]
    fn a_parabola_has_its_extreme_where_it_is() {
        let parabola = |x: f64| (x, 3.0 - 2.0 * (x - 0.3) * (x - 0.3));
        let found = extreme([parabola(-1.0), parabola(0.0), parabola(1.0)]).expect("inside");
        assert!((found - 0.3).abs() < 1e-12, "{found}");
        assert_eq!(extreme([(-1.0, 0.0), (0.0, 1.0), (1.0, 2.0)]), None);
    }

    /// A roof, and an edge behind which all is flat: neither has a parabola.
    #[test]
    fn a_kink_and_an_edge_are_closed_in_on() {
        let roof = |x: f64| -(x - 0.23_f64).abs();
        let edge = |x: f64| if x < 0.23 { x } else { -1.0 };
        for shape in [roof as fn(f64) -> f64, edge] {
            let mut points: Vec<(f64, f64)> =
                [-1.0, -2.0 / 3.0, -1.0 / 3.0, 0.0, 1.0 / 3.0, 2.0 / 3.0, 1.0]
                    .map(|x| (x, shape(x)))
                    .to_vec();
            for _ in 0..REFINED {
                for share in next(&points, f64::NEG_INFINITY) {
                    points.push((share, shape(share)));
                }
                points.sort_by(|a, b| a.0.total_cmp(&b.0));
            }
            let best = points
                .iter()
                .max_by(|a, b| a.1.total_cmp(&b.1))
                .expect("points");
            assert!((best.0 - 0.23).abs() < 0.05, "{points:?}");
        }
    }

    /// Nothing is spent on a line that cannot come to more than is known.
    #[test]
    fn a_line_without_promise_is_left() {
        let hill: Vec<(f64, f64)> = [-1.0, -0.5, 0.0, 0.5, 1.0]
            .map(|x: f64| (x, -x * x))
            .to_vec();
        assert!(!next(&hill, 0.1).is_empty());
        assert!(next(&hill, 1.0).is_empty());
    }
}
