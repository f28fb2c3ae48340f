//! One way in which a question can get worse, what its slopes say about it, and where to look next.

use super::corner::{Corner, Position, with_group};
use quietrail_job::Parameter;

/// Effects below this share of the strongest are rounding, and not worth another corner.
const ROUNDING: f64 = 1e-6;
/// Effects below this share of the strongest cannot move the worst by a part in a thousand.
const TELLING: f64 = 1e-3;
/// Effects from end to end below this share of the limit: half of that, on a figure that turns in the middle, is less
/// than anybody reads from an answer.
const SLIGHT: f64 = 5e-4;
/// Groups flipped one by one around a winner.
const FLIPS: usize = 4;
/// Random vertices around a winner.
const RANDOM: usize = 3;
/// Groups scanned along a line through a winner.
const SCANNED: usize = 3;
/// Groups that are flipped while a turning figure is followed.
const FOLLOWED: usize = 5;
/// One side of one question.
#[derive(Clone, Debug)]
pub(super) struct Aim {
    /// Index of the question.
    pub(super) q: usize,
    /// 1 where more is worse, −1 where less is.
    pub(super) sign: f64,
    /// Effects below this, in the unit of the question, cannot bring a telling part of its limit.
    floor: f64,
    /// Worst value found and its corner.
    pub(super) best: Option<(f64, Corner)>,
    /// The winner around which it was last looked.
    pub(super) looked_at: Option<Corner>,
    /// What each group does to it from end to end, counted positive towards worse; one list for each place
    /// where slopes were taken.
    effects: Vec<Vec<f64>>,
    /// Those at the place where slopes were taken last, and that place.
    latest: Option<(Corner, Vec<f64>)>,
}

impl Aim {
    /// An aim at a limit; of a limit of zero, all that tells beside its strongest figure counts.
    pub(super) fn new(q: usize, sign: f64, limit: f64, nominal: Option<(f64, Corner)>) -> Self {
        Self {
            q,
            sign,
            floor: SLIGHT * limit.abs(),
            best: nominal,
            looked_at: None,
            effects: Vec::new(),
            latest: None,
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
        self.latest = Some((from.clone(), effects.clone()));
        self.effects.push(effects);
        corner
    }

    /// Vertices around the winner: those flips that known slopes speak against least, and random ones.
    pub(super) fn around(&self, groups: &[usize], random: &mut Random) -> Vec<Corner> {
        let Some((_, corner)) = &self.best else {
            return Vec::new();
        };
        let flip = |corner: &Corner, group: usize| {
            with_group(corner, groups, group, corner[group].flipped())
        };
        let telling = self.least_supported(corner);
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

    /// Places to follow a figure that turns to: the winner with another telling figure at its other end, or at
    /// both where it stands inside.
    pub(super) fn beside(&self, groups: &[usize], turning: usize) -> Vec<Corner> {
        let Some((_, corner)) = &self.best else {
            return Vec::new();
        };
        self.least_supported(corner)
            .into_iter()
            .filter(|&group| group != turning)
            .take(FOLLOWED)
            .flat_map(|group| {
                [Position::LOW, Position::HIGH]
                    .into_iter()
                    .filter(move |end| *end != corner[group])
                    .map(move |end| with_group(corner, groups, group, end))
            })
            .collect()
    }

    /// Groups that tell, those first whose place the slopes known support least.
    fn least_supported(&self, corner: &Corner) -> Vec<usize> {
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
        telling
    }

    /// Groups whose worst may lie inside, the strongest first: their slopes point both ways, or the slope at the
    /// winner points away from the end at which they stand.
    pub(super) fn turning(&self) -> Vec<usize> {
        let mut turning: Vec<(usize, f64)> = self
            .telling()
            .filter_map(|group| {
                let (mut least, mut most) = (0.0_f64, 0.0_f64);
                for effects in &self.effects {
                    let share = effects[group] / strongest(effects).max(f64::MIN_POSITIVE);
                    if effects[group].abs() > self.floor {
                        (least, most) = (least.min(share), most.max(share));
                    }
                }
                let both = most.min(-least).max(self.inwards(group));
                (both > TELLING).then_some((group, both))
            })
            .collect();
        turning.sort_by(|a, b| b.1.total_cmp(&a.1));
        turning
            .into_iter()
            .take(SCANNED)
            .map(|(group, _)| group)
            .collect()
    }

    /// How strongly the slope at the winner points inwards from the end at which a group stands, as a share of the
    /// strongest there. The other end is tried whenever slopes point to it; where it is no worse, the worst lies
    /// between.
    fn inwards(&self, group: usize) -> f64 {
        match (&self.latest, &self.best) {
            (Some((place, effects)), Some((_, winner))) if place == winner => {
                if effects[group].abs() <= self.floor {
                    return 0.0;
                }
                let strongest = strongest(effects).max(f64::MIN_POSITIVE);
                -winner[group].share() * effects[group] / strongest
            }
            _ => 0.0,
        }
    }

    /// Groups that can move it by a part in a thousand of what the strongest does, and by something that counts beside
    /// its limit, somewhere.
    fn telling(&self) -> impl Iterator<Item = usize> + '_ {
        let count = self.effects.first().map_or(0, Vec::len);
        (0..count).filter(|&group| {
            self.effects
                .iter()
                .any(|effects| effects[group].abs() > self.floor.max(TELLING * strongest(effects)))
        })
    }
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
