//! Along the ridge on which a question is worst.
//!
//! Where a regulator begins to drop out, say, a figure turns round: mains, and with it all that moves the same voltage, each at
//! a place that hangs on the others. The worst lies on a ridge, and what is asked is which way is worse *along* it: slopes at one
//! of its sides are nearly all across. But slopes at both sides tell. On either side the question is taken as a plane; the
//! worst of the lower of two planes lies where one figure is inside its tolerance, and all others are at an end.

use super::aim::Aim;
use super::begin::beginning;
use super::corner::{Corner, Position, changes_at, with_group};
use super::line::Line;
use super::{Search, solve_corners};
use crate::slopes::gradients;
use crate::solve::{Setting, answers};
use quietrail_engine::Options;
use quietrail_job::Parameter;
use rayon::prelude::*;

/// How far on either side of a winner slopes are taken, as a share of the way to an end: as near as lines are refined.
const ASIDE: f64 = 0.02;
/// How often it is gone on along a ridge from where the last stride led.
const STRIDES: usize = 4;
/// Places beside the winner that are crossed to, of a winner with nothing inside.
const CROSSED: usize = 3;
/// Tolerance of slopes beside a ridge. Where a regulator ceases to regulate moves with the figures, past steps a hundred times
/// shorter than its way: a top behind it is right to a ten-thousandth by steps that are told ten times its slope.
const FINELY: f64 = 1e-7;

/// A question on one side of a ridge. More is worse.
struct Plane {
    /// With all figures at their low ends.
    base: f64,
    /// What each group does from end to end.
    effects: Vec<f64>,
}

/// Where the lower of two planes is worst.
#[derive(Debug, PartialEq)]
struct Summit {
    /// Whether each figure is at its high end, where it tells.
    ends: Vec<bool>,
    /// The figure that is inside, and its share of the way from low to high.
    inside: Option<(usize, f64)>,
}

/// Two corners with a ridge between them, and the aim that has it.
struct Crossing {
    aim: usize,
    sides: [Corner; 2],
}

impl Search<'_> {
    /// Goes along the ridges on which winners stand, to where they are worst.
    pub(super) fn along_ridges(&mut self, near: &[usize]) {
        let mut going = near.to_vec();
        for _ in 0..STRIDES {
            let known: Vec<f64> = going.iter().map(|&a| self.aims[a].worst()).collect();
            let crossings = self.crossings(&going);
            let lines = crossings.iter().filter_map(|one| self.beyond(one));
            let lines: Vec<Line> = lines.collect();
            self.scan_lines(lines);
            let is_worse = |(&a, known): (&usize, &f64)| {
                let aim = &self.aims[a];
                aim.worst() > known + aim.slight()
            };
            let worse = going.iter().zip(&known).filter(|one| is_worse(*one));
            going = worse.map(|(&a, _)| a).collect();
            if going.is_empty() {
                return;
            }
        }
    }

    /// Where to cross the ridges on which winners stand: on both sides of a figure inside its tolerance, with slopes taken there;
    /// of a winner without one, from where slopes tell of it to where some point the other way.
    fn crossings(&mut self, going: &[usize]) -> Vec<Crossing> {
        let mut crossings = Vec::new();
        let mut sides: Vec<Corner> = Vec::new();
        for &a in going {
            let aim = &self.aims[a];
            if let Some(aside) = aim.aside(&self.groups) {
                sides.extend(aside.iter().cloned());
                crossings.push(Crossing {
                    aim: a,
                    sides: aside,
                });
            } else {
                let opposed = aim.opposed(&self.parameters).into_iter();
                crossings.extend(opposed.map(|sides| Crossing { aim: a, sides }));
            }
        }
        self.learn_finely(sides);
        crossings
    }

    /// Takes slopes at corners by fine steps, whatever was known there.
    fn learn_finely(&mut self, mut corners: Vec<Corner>) {
        corners.sort();
        corners.dedup();
        corners.retain(|corner| !self.crossed.contains(corner));
        let options = Options {
            tolerance: self.setting.options.tolerance.min(FINELY),
            ..*self.setting.options
        };
        let setting = Setting {
            options: &options,
            ..self.setting
        };
        if self.watch.is_stopped() {
            return;
        }
        let (plan, parameters) = (self.plan, self.parameters.as_slice());
        let near = |corner| beginning(corner, &self.seen, &self.slopes, parameters);
        let begin: Vec<_> = corners.iter().map(near).collect();
        let solved = solve_corners(
            (plan, setting, parameters),
            &corners,
            &begin,
            &mut self.seeds,
        );
        let learned: Vec<_> = corners
            .par_iter()
            .zip(solved)
            .filter_map(|(corner, solved)| {
                let solved = solved.ok()?;
                let changes = changes_at(parameters, corner);
                let slopes = gradients(plan, setting, &changes, &solved, parameters).ok()?;
                Some((
                    corner,
                    answers(plan, &solved),
                    slopes,
                    solved.solution.rounds,
                ))
            })
            .collect();
        for (corner, answers, slopes, rounds) in learned {
            self.solutions += rounds + 1;
            for aim in &mut self.aims {
                if let Ok(value) = answers[aim.q] {
                    let at = (corner, value);
                    aim.learn_better(at, &slopes.questions[aim.q], &self.parameters, &self.groups);
                }
            }
            self.slopes.insert(corner.clone(), slopes);
        }
        self.crossed.extend(corners);
    }

    /// The line through where the planes at both sides of a ridge put its worst.
    fn beyond(&self, crossing: &Crossing) -> Option<Line> {
        let aim = &self.aims[crossing.aim];
        let (_, winner) = aim.best.as_ref()?;
        let [one, other] = crossing.sides.each_ref();
        let planes = [one, other].map(|at| aim.plane(at, &self.parameters, &self.groups));
        let [Some(one), Some(other)] = planes else {
            return None;
        };
        let planes = [one, other];
        let Summit { ends, inside } = summit(&planes);
        let mut corner = winner.clone();
        for (group, is_high) in ends.iter().enumerate() {
            let tells = |plane: &Plane| plane.effects[group].abs() > aim.slight();
            if planes.iter().any(tells) {
                let end = if *is_high {
                    Position::HIGH
                } else {
                    Position::LOW
                };
                corner = with_group(&corner, &self.groups, group, end);
            }
        }
        let (group, share) = inside?;
        let to = Position::between(2.0 * share - 1.0);
        let corner = with_group(&corner, &self.groups, group, to);
        Some(Line::through(crossing.aim, &corner, &self.groups, group))
    }
}

impl Aim {
    /// How bad it is at its winner; more is worse.
    fn worst(&self) -> f64 {
        let best = self.best.as_ref();
        best.map_or(f64::NEG_INFINITY, |(value, _)| self.sign * value)
    }

    /// Places on both sides of the winner along the figure inside its tolerance that tells most; `None` where none is.
    fn aside(&self, groups: &[usize]) -> Option<[Corner; 2]> {
        let (_, winner) = self.best.as_ref()?;
        let inside = (0..groups.len()).filter(|&k| groups[k] == k && winner[k].is_inside());
        let most = inside.max_by(|&a, &b| self.most(a).total_cmp(&self.most(b)))?;
        let share = winner[most].share();
        let aside = |by: f64| with_group(winner, groups, most, Position::between(share + by));
        Some([-ASIDE, ASIDE].map(aside))
    }

    /// The place whose slopes tell of the winner, beside others at which a figure that turns is pulled the other way, those first
    /// at which it is worst.
    fn opposed(&self, parameters: &[Parameter]) -> Vec<[Corner; 2]> {
        let own = self.nearest_place(parameters);
        let Some((own, (_, effects))) = own.and_then(|own| Some((own, self.known_at(own)?))) else {
            return Vec::new();
        };
        let turning = self.turning();
        let tells = |effect: f64| effect.abs() > self.slight();
        let is_opposed = |others: &[f64]| {
            let mut pairs = turning.iter().map(|&k| (effects[k], others[k]));
            pairs.any(|(own, other)| own * other < 0.0 && tells(own) && tells(other))
        };
        let mut others: Vec<(f64, &Corner)> = self
            .known()
            .filter(|(_, _, others)| is_opposed(others))
            .map(|(corner, value, _)| (self.sign * value, corner))
            .collect();
        others.sort_by(|a, b| b.0.total_cmp(&a.0));
        let crossed = others.into_iter().take(CROSSED);
        crossed
            .map(|(_, other)| [own.clone(), other.clone()])
            .collect()
    }

    /// The question as its slopes at a corner have it.
    fn plane(&self, at: &Corner, parameters: &[Parameter], groups: &[usize]) -> Option<Plane> {
        let (value, effects) = self.known_at(at)?;
        let from_low = |k: usize| 0.5 * (at[k].share() + 1.0) * effects[k];
        let own = (0..parameters.len()).filter(|&k| groups[k] == k);
        Some(Plane {
            base: self.sign * value - own.map(from_low).sum::<f64>(),
            effects: effects.to_vec(),
        })
    }
}

/// Where the lower of two planes is worst.
///
/// With weights on both, each figure is at the end that the weighted planes want. The more weight the first has, the more it
/// has the better of the second; where they come to the same, one figure changes ends, and is left on the way.
fn summit(planes: &[Plane; 2]) -> Summit {
    let [first, second] = planes;
    let mut ends: Vec<bool> = second.effects.iter().map(|effect| *effect > 0.0).collect();
    let above = |k: usize| first.effects[k] - second.effects[k];
    let high = (0..ends.len()).filter(|&k| ends[k]);
    let mut lead = first.base - second.base + high.map(above).sum::<f64>();
    let is_pulled = |k: &usize| first.effects[*k] * second.effects[*k] < 0.0;
    let mut changing: Vec<usize> = (0..ends.len()).filter(is_pulled).collect();
    let weight = |k: usize| -second.effects[k] / above(k);
    changing.sort_by(|&a, &b| weight(a).total_cmp(&weight(b)));
    let mut inside = None;
    for k in changing {
        if lead >= 0.0 {
            break;
        }
        let gains = above(k).abs();
        ends[k] = !ends[k];
        if lead + gains >= 0.0 {
            let way = -lead / gains;
            inside = Some((k, if ends[k] { way } else { 1.0 - way }));
        }
        lead += gains;
    }
    Summit { ends, inside }
}

#[cfg(test)]
mod tests {
    use super::{Plane, Summit, summit};

    fn lower(planes: &[Plane; 2], at: &[f64]) -> f64 {
        let value = |plane: &Plane| {
            let terms = plane.effects.iter().zip(at);
            plane.base + terms.map(|(effect, share)| effect * share).sum::<f64>()
        };
        value(&planes[0]).min(value(&planes[1]))
    }

    /// Against all ends of all figures, one of them gone through inside.
    #[test]
    fn no_other_place_with_one_figure_inside_is_worse() {
        let plane = |base: f64, effects: &[f64]| Plane {
            base,
            effects: effects.to_vec(),
        };
        let planes = [
            plane(1.0, &[4.0, -2.0, 1.0, 0.5]),
            plane(3.5, &[-3.0, 1.5, 1.5, -0.75]),
        ];
        let Summit { ends, inside } = summit(&planes);
        let (inner, share) = inside.expect("one is inside");
        let mut at: Vec<f64> = ends.iter().map(|&high| f64::from(u8::from(high))).collect();
        at[inner] = share;
        let found = lower(&planes, &at);
        for vertex in 0..16_u32 {
            for free in 0..4 {
                for step in 0..=100 {
                    let mut at: Vec<f64> = (0..4).map(|k| f64::from((vertex >> k) & 1)).collect();
                    at[free] = f64::from(step) / 100.0;
                    assert!(lower(&planes, &at) <= found + 1e-12, "{at:?}");
                }
            }
        }
    }

    #[test]
    fn where_one_plane_is_lower_everywhere_nothing_is_inside() {
        let planes = [10.0, 0.0].map(|base| Plane {
            base,
            effects: vec![1.0, -1.0],
        });
        let Summit { ends, inside } = summit(&planes);
        assert_eq!((ends, inside), (vec![true, false], None));
    }
}
