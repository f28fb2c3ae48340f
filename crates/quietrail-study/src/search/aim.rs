//! One way in which a question can get worse, what its slopes say about it, and where to look next.

use super::corner::{Corner, Position, at, with_group};
use super::together::Pointed;
use quietrail_job::Parameter;

/// Effects below this share of the strongest are rounding, and not worth another corner.
const ROUNDING: f64 = 1e-6;
/// Effects below this share of the strongest cannot move the worst by a part in a thousand.
const TELLING: f64 = 1e-3;
/// Effects from end to end below this share of the limit: half of that, on a figure that turns in the middle, is less
/// than anybody reads from an answer.
const SLIGHT: f64 = 5e-4;
/// Slopes that are wrong about a winner by more than so many slight differences may have turned on the way there.
const DOUBTFUL: f64 = 3.0;
/// Figures are shared out among questions down to this part of the floor: forty of them left where another question wants
/// them are still less than what is promised.
const SHARED: f64 = 0.2;
/// A figure whose weakest support is at least this share of its strongest effect will not turn, and is not flipped.
const FIRM: f64 = 0.25;
/// No figure does more from end to end than so many times what was found between all corners.
const WILD: f64 = 4.0;
/// Groups flipped one by one around a winner.
const FLIPS: usize = 4;
/// Random vertices around a winner.
const RANDOM: usize = 3;
/// Groups scanned along a line through a winner.
const SCANNED: usize = 3;
/// Groups that are flipped while a turning figure is followed; and of a winner on a ridge, where slopes of many point both ways
/// and those of least effect stand last.
const FOLLOWED: usize = 5;
const FOLLOWED_ON_RIDGE: usize = 12;

/// One side of one question.
#[derive(Clone, Debug)]
pub(super) struct Aim {
    /// Index of the question.
    pub(super) q: usize,
    /// 1 where more is worse, −1 where less is.
    pub(super) sign: f64,
    /// The limit; zero where it is zero.
    limit: f64,
    /// Worst value found and its corner.
    pub(super) best: Option<(f64, Corner)>,
    /// The winner around which it was last looked, and its value.
    looked_at: Option<(f64, Corner)>,
    /// Lowest and highest value found.
    range: (f64, f64),
    /// Where slopes were taken, and what they say.
    places: Vec<Place>,
}

/// What slopes at a corner say.
#[derive(Clone, Debug)]
struct Place {
    corner: Corner,
    /// The value there.
    value: f64,
    /// What each parameter does to it, per unit of the parameter.
    slopes: Vec<f64>,
    /// What each group does to it from end to end, counted positive towards worse.
    effects: Vec<f64>,
}

impl Aim {
    /// An aim at a limit; of a limit of zero, all that tells beside its strongest figure counts.
    pub(super) fn new(q: usize, sign: f64, limit: f64, nominal: Option<(f64, Corner)>) -> Self {
        Self {
            q,
            sign,
            limit: limit.abs(),
            range: nominal
                .as_ref()
                .map_or((0.0, 0.0), |(value, _)| (*value, *value)),
            best: nominal,
            looked_at: None,
            places: Vec::new(),
        }
    }

    /// Effects below this, in the unit of the question, cannot bring a telling part of its limit.
    fn floor(&self) -> f64 {
        SLIGHT * self.limit
    }

    /// Differences below this, in the unit of the question, are not worth another solution.
    pub(super) fn slight(&self) -> f64 {
        if self.limit > 0.0 {
            return SLIGHT * SHARED * self.limit;
        }
        // Of a limit of zero, by what there is between as marked and the worst.
        let values = self.places.iter().map(|place| place.value);
        let nominal = self.places.first().map_or(0.0, |place| place.value);
        let way = |value: f64| (value - nominal).abs();
        let best = self.best.as_ref().map_or(0.0, |(value, _)| way(*value));
        SLIGHT * values.map(way).fold(best, f64::max)
    }

    /// Takes a value at a corner if it is worse than what is known.
    pub(super) fn take(&mut self, value: f64, corner: &Corner) {
        self.range = (self.range.0.min(value), self.range.1.max(value));
        let is_worse = self
            .best
            .as_ref()
            .is_none_or(|(known, _)| self.sign * value > self.sign * known);
        if is_worse {
            self.best = Some((value, corner.clone()));
        }
    }

    /// Takes the worst of some values at corners, whatever was known before; where there are none, what was known stands.
    pub(super) fn take_anew<'c>(&mut self, all: impl Iterator<Item = (f64, &'c Corner)>) {
        let known = self.best.take();
        for (value, corner) in all {
            self.take(value, corner);
        }
        self.best = self.best.take().or(known);
    }

    /// Whether its winner has not been looked around yet. One that is hardly worse than the one before is no other place to
    /// look around: of corners that come to the same, the next would always be a little worse than the last.
    pub(super) fn is_changed(&self) -> bool {
        match (&self.best, &self.looked_at) {
            (Some((value, corner)), Some((known, at))) => {
                corner != at && (value - known).abs() > self.slight()
            }
            (best, _) => best.is_some(),
        }
    }

    /// Takes its winner as looked around.
    pub(super) fn look(&mut self) {
        self.looked_at.clone_from(&self.best);
    }

    /// Learns from slopes at a corner.
    pub(super) fn learn(
        &mut self,
        at: (&Corner, f64),
        slopes: &[f64],
        parameters: &[Parameter],
        groups: &[usize],
    ) {
        if self.place_at(at.0).is_none() {
            self.learn_better(at, slopes, parameters, groups);
        }
    }

    /// Learns from slopes at a corner that are better than those known there, if any are. What is known of it as marked stays
    /// first.
    pub(super) fn learn_better(
        &mut self,
        (corner, value): (&Corner, f64),
        slopes: &[f64],
        parameters: &[Parameter],
        groups: &[usize],
    ) {
        let mut effects = vec![0.0; parameters.len()];
        for ((parameter, slope), &group) in parameters.iter().zip(slopes).zip(groups) {
            effects[group] += self.sign * slope * (parameter.high - parameter.low);
        }
        let place = Place {
            corner: corner.clone(),
            value,
            slopes: slopes.to_vec(),
            effects,
        };
        match self.place_at(corner) {
            Some(known) => self.places[known] = place,
            None => self.places.push(place),
        }
    }

    /// What the slopes of a place say of a corner.
    fn predicted(&self, place: usize, corner: &[Position], parameters: &[Parameter]) -> f64 {
        let place = &self.places[place];
        let moves = parameters.iter().zip(&place.slopes);
        let places = place.corner.iter().zip(corner);
        let sum: f64 = moves
            .zip(places)
            .filter(|(_, (from, to))| from != to)
            .map(|((parameter, slope), (from, to))| {
                slope * (at(parameter, *to) - at(parameter, *from))
            })
            .sum();
        place.value + sum
    }

    /// The place whose slopes say best what was found at the winner, and by how much they are wrong there.
    pub(super) fn nearest(&self, parameters: &[Parameter]) -> Option<(usize, f64)> {
        let (value, corner) = self.best.as_ref()?;
        let wrong = |place: usize| (self.predicted(place, corner, parameters) - value).abs();
        let all = 0..self.places.len();
        all.filter(|&place| {
            !self.is_wild(&self.places[place]) || self.places[place].corner == *corner
        })
        .map(|place| (place, wrong(place)))
        .min_by(|a, b| a.1.total_cmp(&b.1))
    }

    /// The corner of that place.
    pub(super) fn nearest_place(&self, parameters: &[Parameter]) -> Option<&Corner> {
        let (place, _) = self.nearest(parameters)?;
        Some(&self.places[place].corner)
    }

    /// Whether slopes known do not tell how it stands at the winner, so that they are wanted there.
    pub(super) fn is_in_doubt(&self, parameters: &[Parameter]) -> bool {
        self.nearest(parameters)
            .is_none_or(|(_, wrong)| wrong > DOUBTFUL * self.slight())
    }

    /// The place where slopes were taken, by its corner.
    pub(super) fn place_at(&self, corner: &Corner) -> Option<usize> {
        self.places.iter().position(|place| place.corner == *corner)
    }

    /// Its value at a corner where slopes were taken, and what each group does to it from end to end, counted positive towards
    /// worse.
    pub(super) fn known_at(&self, corner: &Corner) -> Option<(f64, &[f64])> {
        let place = &self.places[self.place_at(corner)?];
        Some((place.value, &place.effects))
    }

    /// All corners where slopes were taken, as [`Aim::known_at`] has them.
    pub(super) fn known(&self) -> impl Iterator<Item = (&Corner, f64, &[f64])> {
        let places = self.places.iter();
        let tame = places.filter(|place| !self.is_wild(place));
        tame.map(|place| (&place.corner, place.value, place.effects.as_slice()))
    }

    /// What a group does to it from end to end, at most.
    pub(super) fn most(&self, group: usize) -> f64 {
        let sizes = self.effects().map(|effects| effects[group].abs());
        sizes.fold(0.0, f64::max)
    }

    /// The corner that the slopes of a place point to from `from`.
    pub(super) fn point(&self, place: usize, from: &Corner, groups: &[usize]) -> Pointed {
        let effects = &self.places[place].effects;
        let strongest = strongest(effects);
        let telling = (SHARED * self.floor()).max(TELLING * strongest);
        // Where a limit is exceeded a thousand times over, a millionth of that still is a thousandth of the limit.
        let rounding = (ROUNDING * strongest).min(self.slight());
        let mut tells = vec![false; groups.len()];
        let corner = groups
            .iter()
            .zip(from)
            .enumerate()
            .map(|(index, (&group, &from))| {
                let effect = effects[group];
                // What was found worst inside its tolerance has no slope worth following, and stays.
                tells[index] = from.is_inside() || effect.abs() > telling;
                if from.is_inside() || effect.abs() <= rounding {
                    from
                } else {
                    Position::end(effect)
                }
            })
            .collect();
        Pointed {
            q: self.q,
            corner,
            tells,
        }
    }

    /// What the slopes of a place promise a corner over the winner, counted positive towards worse.
    pub(super) fn promise(&self, place: usize, corner: &Corner, parameters: &[Parameter]) -> f64 {
        let Some((_, winner)) = &self.best else {
            return f64::INFINITY;
        };
        let by = |corner: &Corner| self.predicted(place, corner, parameters);
        self.sign * (by(corner) - by(winner))
    }

    /// Vertices around the winner: flips of figures that may turn, those first that known slopes speak against least, and
    /// random ones.
    pub(super) fn around(&self, groups: &[usize], random: &mut Random) -> Vec<Corner> {
        let Some((_, corner)) = &self.best else {
            return Vec::new();
        };
        let flip = |corner: &Corner, group: usize| {
            with_group(corner, groups, group, corner[group].flipped())
        };
        let shaky = self.least_supported(corner);
        let mut all: Vec<Corner> = shaky
            .iter()
            .take(FLIPS)
            .map(|&group| flip(corner, group))
            .collect();
        // Of one or two figures the flips are all there is, or nearly.
        if shaky.len() < 3 {
            return all;
        }
        for _ in 0..RANDOM {
            let mut vertex = corner.clone();
            for &group in &shaky {
                if random.one_in_four() {
                    vertex = flip(&vertex, group);
                }
            }
            all.push(vertex);
        }
        all
    }

    /// Places to follow a figure that turns to: the winner with another figure that may turn at its other end, or at
    /// both where it stands inside.
    pub(super) fn beside(&self, groups: &[usize], turning: usize) -> Vec<Corner> {
        let Some((_, corner)) = &self.best else {
            return Vec::new();
        };
        let followed = if corner[turning].is_inside() {
            FOLLOWED_ON_RIDGE
        } else {
            FOLLOWED
        };
        self.least_supported(corner)
            .into_iter()
            .filter(|&group| group != turning)
            .take(followed)
            .flat_map(|group| {
                [Position::LOW, Position::HIGH]
                    .into_iter()
                    .filter(move |end| *end != corner[group])
                    .map(move |end| with_group(corner, groups, group, end))
            })
            .collect()
    }

    /// Groups that tell and may turn, those first whose place the slopes known support least.
    fn least_supported(&self, corner: &Corner) -> Vec<usize> {
        // Along a parabola the slope in the middle tells what the whole way brings, so the weakest slope
        // seen towards a figure's position is the one that a flip is measured by.
        let support = |group: usize| {
            let towards = if corner[group] > Position::NOMINAL {
                1.0
            } else {
                -1.0
            };
            self.effects()
                .map(|effects| towards * effects[group])
                .fold(f64::INFINITY, f64::min)
        };
        let mut shaky: Vec<usize> = self
            .telling()
            .filter(|&group| support(group) < FIRM * self.most(group))
            .collect();
        shaky.sort_by(|&a, &b| support(a).total_cmp(&support(b)));
        shaky
    }

    fn effects(&self) -> impl Iterator<Item = &[f64]> {
        let places = self.places.iter();
        let tame = places.filter(|place| !self.is_wild(place));
        tame.map(|place| place.effects.as_slice())
    }

    /// Whether slopes say nothing of anywhere else: at the edge of a cliff, or where steps were too rough for them.
    fn is_wild(&self, place: &Place) -> bool {
        let (low, high) = self.range;
        high > low && strongest(&place.effects) > WILD * (high - low)
    }

    /// Groups whose worst may lie inside, the strongest first: their slopes point both ways, or the slope at the
    /// winner points away from the end at which they stand.
    pub(super) fn turning(&self) -> Vec<usize> {
        let mut turning: Vec<(usize, f64)> = self
            .telling()
            .filter_map(|group| {
                let (mut least, mut most) = (0.0_f64, 0.0_f64);
                for effects in self.effects() {
                    let share = effects[group] / strongest(effects).max(f64::MIN_POSITIVE);
                    if effects[group].abs() > self.floor() {
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
        let Some((_, winner)) = &self.best else {
            return 0.0;
        };
        let Some(place) = self.place_at(winner) else {
            return 0.0;
        };
        let effects = &self.places[place].effects;
        if effects[group].abs() <= self.floor() {
            return 0.0;
        }
        let strongest = strongest(effects).max(f64::MIN_POSITIVE);
        -winner[group].share() * effects[group] / strongest
    }

    /// Groups that can move it by a part in a thousand of what the strongest does, and by something that counts beside
    /// its limit, somewhere.
    fn telling(&self) -> impl Iterator<Item = usize> + '_ {
        let count = self.places.first().map_or(0, |place| place.effects.len());
        (0..count).filter(|&group| {
            self.effects().any(|effects| {
                effects[group].abs() > self.floor().max(TELLING * strongest(effects))
            })
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

#[cfg(test)]
mod tests {
    use super::Aim;
    use crate::search::Position;

    #[test]
    fn a_winner_that_is_hardly_worse_is_no_other_place_to_look_around() {
        let (one, other) = (vec![Position::LOW], vec![Position::HIGH]);
        let mut aim = Aim::new(0, 1.0, 12.0, None);
        assert!(!aim.is_changed(), "nothing was found yet");
        aim.take(10.0, &one);
        assert!(aim.is_changed());
        aim.look();
        aim.take(10.0 + 0.5 * aim.slight(), &other);
        assert_eq!(aim.best.as_ref().map(|best| &best.1), Some(&other));
        assert!(!aim.is_changed());
        aim.take(10.0 + 2.0 * aim.slight(), &one);
        assert!(!aim.is_changed(), "looked around there");
        aim.take(10.0 + 3.0 * aim.slight(), &other);
        assert!(aim.is_changed());
    }

    /// Of a limit of zero all is measured from what it is as marked, which is the place learned first.
    #[test]
    fn what_is_learned_better_as_marked_stays_first() {
        let (marked, other) = (vec![Position::NOMINAL], vec![Position::LOW]);
        let mut aim = Aim::new(0, -1.0, 0.0, None);
        aim.learn((&marked, 2.0), &[], &[], &[]);
        aim.learn((&other, 1.0), &[], &[], &[]);
        let slight = aim.slight();
        aim.learn((&marked, 5.0), &[], &[], &[]);
        assert_eq!(aim.slight(), slight, "known already");
        aim.learn_better((&marked, 3.0), &[], &[], &[]);
        assert_eq!(aim.place_at(&marked), Some(0));
        assert!((aim.slight() / slight - 2.0).abs() < 1e-12);
    }
}
