//! One way in which a question can get worse, what its slopes say about it, and where to look next.

use super::corner::{Corner, Position, with_group};
use quietrail_job::Parameter;

/// Effects below this share of the strongest are rounding, and not worth another corner.
const ROUNDING: f64 = 1e-6;
/// Effects below this share of the strongest cannot move the worst by a part in a thousand.
const TELLING: f64 = 1e-3;
/// Groups flipped one by one around a winner.
const FLIPS: usize = 4;
/// Random vertices around a winner.
const RANDOM: usize = 3;
/// Groups scanned along a line through a winner.
const SCANNED: usize = 3;
/// Points of a line scan, as shares of the way from the nominal to the ends.
const SCAN: [f64; 5] = [-2.0 / 3.0, -1.0 / 3.0, 0.0, 1.0 / 3.0, 2.0 / 3.0];

/// One side of one question.
#[derive(Clone, Debug)]
pub(super) struct Aim {
    /// Index of the question.
    pub(super) q: usize,
    /// 1 where more is worse, −1 where less is.
    pub(super) sign: f64,
    /// Worst value found and its corner.
    pub(super) best: Option<(f64, Corner)>,
    /// The winner around which it was last looked.
    pub(super) looked_at: Option<Corner>,
    /// What each group does to it from end to end, counted positive towards worse; one list for each place
    /// where slopes were taken.
    effects: Vec<Vec<f64>>,
}

impl Aim {
    pub(super) fn new(q: usize, sign: f64, nominal: Option<(f64, Corner)>) -> Self {
        Self {
            q,
            sign,
            best: nominal,
            looked_at: None,
            effects: Vec::new(),
        }
    }

    /// Takes a value at a corner if it is worse than what is known.
    pub(super) fn take(&mut self, value: f64, corner: &Corner) {
        let is_worse = self
            .best
            .as_ref()
            .is_none_or(|(known, _)| self.sign * value > self.sign * known);
        if is_worse {
            self.best = Some((value, corner.clone()));
        }
    }

    /// Learns from slopes somewhere, and gives the corner that they point to from `from`.
    pub(super) fn point(
        &mut self,
        from: &Corner,
        slopes: &[f64],
        parameters: &[Parameter],
        groups: &[usize],
    ) -> Corner {
        let mut effects = vec![0.0; parameters.len()];
        for ((parameter, slope), &group) in parameters.iter().zip(slopes).zip(groups) {
            effects[group] += self.sign * slope * (parameter.high - parameter.low);
        }
        let floor = ROUNDING * strongest(&effects);
        let corner = groups
            .iter()
            .zip(from)
            .map(|(&group, &from)| {
                let effect = effects[group];
                // What was found best inside its tolerance has no slope worth following.
                if from.is_inside() || effect.abs() <= floor {
                    from
                } else {
                    Position::end(effect)
                }
            })
            .collect();
        self.effects.push(effects);
        corner
    }

    /// Vertices around the winner: those flips that known slopes speak against least, and random ones.
    pub(super) fn around(&self, groups: &[usize], random: &mut Random) -> Vec<Corner> {
        let Some((_, corner)) = &self.best else {
            return Vec::new();
        };
        let mut telling: Vec<usize> = self.telling().collect();
        // Along a parabola the slope in the middle tells what the whole way brings, so the weakest slope
        // seen towards a figure's position is the one that a flip is measured by.
        let support = |group: usize| {
            let towards = if corner[group] > Position::NOMINAL {
                1.0
            } else {
                -1.0
            };
            self.effects
                .iter()
                .map(|effects| towards * effects[group])
                .fold(f64::INFINITY, f64::min)
        };
        telling.sort_by(|&a, &b| support(a).total_cmp(&support(b)));
        let flip = |corner: &Corner, group: usize| {
            with_group(corner, groups, group, corner[group].flipped())
        };
        let mut all: Vec<Corner> = telling
            .iter()
            .take(FLIPS)
            .map(|&group| flip(corner, group))
            .collect();
        for _ in 0..RANDOM {
            let mut vertex = corner.clone();
            for &group in &telling {
                if random.one_in_four() {
                    vertex = flip(&vertex, group);
                }
            }
            all.push(vertex);
        }
        all
    }

    /// Groups whose slopes point both ways, the strongest first: their worst may lie inside.
    pub(super) fn turning(&self) -> Vec<usize> {
        let mut turning: Vec<(usize, f64)> = self
            .telling()
            .filter_map(|group| {
                let shares = self
                    .effects
                    .iter()
                    .map(|effects| effects[group] / strongest(effects).max(f64::MIN_POSITIVE));
                let (least, most) = shares.fold((0.0, 0.0), |(least, most): (f64, f64), share| {
                    (least.min(share), most.max(share))
                });
                let turns = least < -TELLING && most > TELLING;
                turns.then_some((group, most.min(-least)))
            })
            .collect();
        turning.sort_by(|a, b| b.1.total_cmp(&a.1));
        turning
            .into_iter()
            .take(SCANNED)
            .map(|(group, _)| group)
            .collect()
    }

    /// Groups that can move it by a part in a thousand of what the strongest does, somewhere.
    fn telling(&self) -> impl Iterator<Item = usize> + '_ {
        let count = self.effects.first().map_or(0, Vec::len);
        (0..count).filter(|&group| {
            self.effects
                .iter()
                .any(|effects| effects[group].abs() > TELLING * strongest(effects))
        })
    }
}

/// The points of a line through a corner along one group: its ends, points inside, the corner itself.
pub(super) fn line(corner: &Corner, groups: &[usize], group: usize) -> Vec<Corner> {
    let inside = SCAN.map(Position::between);
    [Position::LOW, Position::HIGH, corner[group]]
        .into_iter()
        .chain(inside)
        .map(|position| with_group(corner, groups, group, position))
        .collect()
}

/// Where the parabola through three points (rising abscissa) has its extreme, if it has one between them.
pub(super) fn extreme(points: [(f64, f64); 3]) -> Option<f64> {
    let [(x0, y0), (x1, y1), (x2, y2)] = points;
    let (left, right) = ((y1 - y0) / (x1 - x0), (y2 - y1) / (x2 - x1));
    let bend = (right - left) / (x2 - x0);
    let x = 0.5 * (x0 + x1) - left / (2.0 * bend);
    (x > x0 && x < x2).then_some(x)
}

fn strongest(effects: &[f64]) -> f64 {
    effects
        .iter()
        .fold(0.0, |largest: f64, effect| largest.max(effect.abs()))
}

/// A generator of random bits whose every number is settled by its seed.
///
/// The mixing function and its constants: Steele, Lea and Flood, "Fast splittable pseudorandom number
/// generators", OOPSLA 2014.
pub(super) struct Random(u64);

impl Random {
    pub(super) fn seeded(seed: u64) -> Self {
        Self(seed)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    fn one_in_four(&mut self) -> bool {
        self.next() >> 62 == 0
    }
}

#[cfg(test)]
mod tests {
    use super::extreme;

    #[test]
    fn a_parabola_has_its_extreme_where_it_is() {
        let parabola = |x: f64| (x, 3.0 - 2.0 * (x - 0.3) * (x - 0.3));
        let found = extreme([parabola(-1.0), parabola(0.0), parabola(1.0)]).expect("inside");
        assert!((found - 0.3).abs() < 1e-12, "{found}");
        assert_eq!(extreme([(-1.0, 0.0), (0.0, 1.0), (1.0, 2.0)]), None);
    }
}
