//! The worst of what takes an integration from some instant on: starts and hold-ups.
//!
//! No slope tells how they answer to a figure, and each takes as long as a hundred cycles. So each is asked with every figure at
//! its high end, and where that makes it better at its low end, all else as marked; and then with all of them at the ends that were
//! worse.
//!
//! A start may jump: a level that swings down to nothing when settled has started at once, one that stays above has not, and no figure by
//! itself leads from one to the other. So the corners that raise and lower its mean, valley and peak most are asked too; where one of them
//! is the worst, figures are moved one at a time from there.

use super::corner::{Corner, Position, changes_at, groups, with_group};
use super::{StateFindings, Watch, Worst};
use crate::finding::WhyNot;
use crate::question::{Ask, Question, View};
use crate::solve::{
    Cycled, MOST_LOOKED_AT, Plan, Seeds, Setting, Solved, Trouble, Wanted, seconds,
};
use quietrail_engine::Output;
use quietrail_job::Change;
use rayon::prelude::*;

/// Circuits that are followed together.
const TOGETHER: usize = 8;

/// Looks for the worst of each question that was put off.
pub(super) fn look(
    plan: &Plan,
    setting: Setting<'_>,
    found: &mut StateFindings,
    known: &[Corner],
    watch: &Watch,
) {
    for (q, question) in plan.questions.iter().enumerate() {
        if !question.is_integrated() || !question.states.contains(&setting.state) {
            continue;
        }
        let mut asked = Asked {
            question,
            plan: Plan::cycle_of(&found.nominal.lowered, question),
            setting,
            seeds: Seeds::of(&found.nominal.solution),
            solutions: 0,
        };
        found.worst[q] = asked.worst(found, known, watch);
        found.solutions += asked.solutions;
    }
}

/// A question that is asked by itself.
struct Asked<'a> {
    question: &'a Question,
    /// What is read of a steady cycle for it.
    plan: Plan,
    setting: Setting<'a>,
    seeds: Seeds,
    solutions: u64,
}

type Answer = Result<f64, WhyNot>;

/// Mean, valley and peak of a level whose start is asked for.
type Levels = [f64; 3];

/// What a corner came to: its answer, and where its level settles.
struct Come {
    answer: Answer,
    levels: Option<Levels>,
}

/// What comes of figures moved one at a time.
struct Singly {
    tried: Vec<(Corner, Answer)>,
    /// All those together that made it worse, each at the end that did.
    all_worse: Corner,
    /// By how much each made it worse.
    by: Vec<f64>,
    /// What each group's high end made of the levels: the group, and by how much.
    leaning: Vec<(usize, Levels)>,
}

/// Each as a share of all; one without a measure is all of it.
fn shares(by: Vec<f64>) -> Vec<f64> {
    let all: f64 = by.iter().filter(|own| own.is_finite()).sum();
    let share = |own: f64| {
        if own.is_finite() {
            own / all.max(f64::MIN_POSITIVE)
        } else {
            1.0
        }
    };
    by.into_iter().map(share).collect()
}

impl Asked<'_> {
    fn worst(&mut self, found: &StateFindings, known: &[Corner], watch: &Watch) -> Worst {
        let as_marked: Corner = vec![Position::NOMINAL; found.parameters.len()];
        let marked = self.at(found, std::slice::from_ref(&as_marked)).remove(0);
        let (nominal, levels) = (marked.answer, marked.levels);
        let mut worst = Worst {
            nominal: nominal.as_ref().ok().copied(),
            worst: None,
            weights: vec![0.0; found.parameters.len()],
            why_not: nominal.as_ref().err().cloned(),
        };
        let Ok(marked) = nominal else { return worst };
        worst.worst = Some((marked, as_marked.clone()));
        if watch.is_first_look() || watch.is_stopped() {
            return worst;
        }
        let singly = self.singly(found, &as_marked, (marked, levels));
        let leading = self.leading(found, &singly.leaning);
        worst.weights = shares(singly.by);
        let mut last = vec![singly.all_worse];
        last.extend(known.iter().cloned());
        worst.take_all(self.question, singly.tried);
        worst.take_all(self.question, self.asked(found, last));
        let before = worst.worst.clone();
        worst.take_all(self.question, self.asked(found, leading));
        if worst.worst != before
            && let Some((value, corner)) = worst.worst.clone()
        {
            let again = self.singly(found, &corner, (value, None));
            worst.weights = shares(again.by);
            worst.take_all(self.question, again.tried);
            worst.take_all(self.question, self.asked(found, vec![again.all_worse]));
        }
        worst
    }

    /// Corners with what each came to.
    fn asked(&mut self, found: &StateFindings, corners: Vec<Corner>) -> Vec<(Corner, Answer)> {
        let came = self.at(found, &corners);
        let answers = came.into_iter().map(|came| came.answer);
        corners.into_iter().zip(answers).collect()
    }

    /// The corners that raise and lower each level most.
    fn leading(&self, found: &StateFindings, leaning: &[(usize, Levels)]) -> Vec<Corner> {
        if leaning.is_empty() {
            return Vec::new();
        }
        let groups = groups(&self.setting.job.same, &found.parameters);
        let nominal = vec![Position::NOMINAL; found.parameters.len()];
        let to = |level: usize, sign: f64| {
            leaning.iter().fold(nominal.clone(), |corner, (group, by)| {
                let end = if sign * by[level] > 0.0 {
                    Position::HIGH
                } else {
                    Position::LOW
                };
                with_group(&corner, &groups, *group, end)
            })
        };
        let levels = 0..3;
        let mut corners: Vec<Corner> = levels
            .flat_map(|level| [1.0, -1.0].map(|sign| to(level, sign)))
            .collect();
        corners.sort();
        corners.dedup();
        corners
    }

    /// Every figure at its ends by itself, from a corner and what it came to.
    fn singly(
        &mut self,
        found: &StateFindings,
        as_marked: &Corner,
        (marked, levels): (f64, Option<Levels>),
    ) -> Singly {
        let groups = groups(&self.setting.job.same, &found.parameters);
        let mut left: Vec<usize> = groups.clone();
        left.sort_unstable();
        left.dedup();
        let mut singly = Singly {
            tried: Vec::new(),
            all_worse: as_marked.clone(),
            by: vec![0.0; found.parameters.len()],
            leaning: Vec::new(),
        };
        // What makes it better at one end is asked at the other; what does nothing at one is taken to do nothing, but where the time stands
        // at an end of what is looked at, and has nowhere to go.
        let is_at_end = marked <= 0.0 || marked >= MOST_LOOKED_AT;
        for end in [Position::HIGH, Position::LOW] {
            let to = |&group: &usize| with_group(as_marked, &groups, group, end);
            let corners: Vec<Corner> = left.iter().map(to).collect();
            let answers = self.at(found, &corners);
            let mut better = Vec::new();
            for (
                (&group, corner),
                Come {
                    answer,
                    levels: own,
                },
            ) in left.iter().zip(corners).zip(answers)
            {
                if let (Position::HIGH, Some(own), Some(levels)) = (end, own, levels) {
                    let by = std::array::from_fn(|level| own[level] - levels[level]);
                    singly.leaning.push((group, by));
                }
                // What has no answer there is as bad as can be.
                let by = answer
                    .as_ref()
                    .map_or(f64::INFINITY, |value| self.worse(marked, *value));
                if by > 0.0 {
                    singly.all_worse = with_group(&singly.all_worse, &groups, group, end);
                    singly.by[group] = by;
                } else if by < 0.0 || is_at_end {
                    better.push(group);
                }
                singly.tried.push((corner, answer));
            }
            left = better;
        }
        singly
    }

    /// By how much a value is worse than another.
    fn worse(&self, than: f64, value: f64) -> f64 {
        self.question.margin(than) - self.question.margin(value)
    }

    /// The answers at some corners.
    fn at(&mut self, found: &StateFindings, corners: &[Corner]) -> Vec<Come> {
        let changes: Vec<Vec<Change>> = corners
            .iter()
            .map(|corner| changes_at(&found.parameters, corner))
            .collect();
        let wanted: Vec<Wanted<'_>> = changes
            .iter()
            .map(|changes| Wanted {
                plan: &self.plan,
                setting: self.setting,
                changes,
                begin: None,
            })
            .collect();
        let solved = self.seeds.solve(&wanted);
        let settled: Vec<&Solved> = solved.iter().filter_map(|one| one.as_ref().ok()).collect();
        self.solutions += settled.iter().map(|one| one.solution.rounds).sum::<u64>();
        let mut values = self.values(&settled).into_iter();
        let came = |solved: &Result<Solved, Trouble>| match solved {
            Ok(one) => Come {
                answer: values.next().expect("one for each that settled"),
                levels: self.levels(one),
            },
            Err(trouble) => Come {
                answer: Err(WhyNot::NotSettled(trouble.to_string())),
                levels: None,
            },
        };
        solved.iter().map(came).collect()
    }

    fn levels(&self, solved: &Solved) -> Option<Levels> {
        let Ask::Start(signal) = &self.question.ask else {
            return None;
        };
        let reading = self.plan.table.with(&solved.solution.values);
        let levels = [Output::Mean, Output::Valley, Output::Peak];
        Some(levels.map(|level| reading.get(&level(signal.clone()))))
    }

    /// What is integrated from steady cycles, on all cores.
    fn values(&self, all: &[&Solved]) -> Vec<Answer> {
        let integrated = |some: &[&Solved]| {
            let cycles: Vec<Cycled<'_>> = some.iter().map(|one| one.cycled()).collect();
            seconds(&self.plan, &self.question.ask, &cycles)
        };
        let seconds: Vec<f64> = all.par_chunks(TOGETHER).flat_map_iter(integrated).collect();
        let value = |(one, share): (&&Solved, f64)| {
            self.question.value(&View {
                lowered: &one.lowered,
                reading: self.plan.table.with(&one.solution.values),
                air: one.solution.temperatures.air,
                share,
            })
        };
        all.iter().zip(seconds).map(value).collect()
    }
}

impl Worst {
    /// Takes over what is worse, and why some have none.
    fn take_all(&mut self, question: &Question, tried: Vec<(Corner, Answer)>) {
        for (corner, answer) in tried {
            match answer {
                Ok(value) => self.take(question, value, corner),
                Err(why) => self.why_not = Some(why),
            }
        }
    }

    /// Takes a value over where it is worse.
    fn take(&mut self, question: &Question, value: f64, corner: Corner) {
        let is_worse = self
            .worst
            .as_ref()
            .is_none_or(|(known, _)| question.margin(value) < question.margin(*known));
        if is_worse {
            self.worst = Some((value, corner));
        }
    }
}
