//! The worst of what takes an integration from some instant on: starts and hold-ups.
//!
//! No slope tells how they answer to a figure, and each takes as long as a hundred cycles. So each is asked with every figure at
//! its high end, and where that makes it better at its low end, all else as marked; and then with all of them at the ends that were
//! worse.

use super::corner::{Corner, Position, changes_at, groups, with_group};
use super::{StateFindings, Watch, Worst};
use crate::finding::WhyNot;
use crate::question::{Question, View};
use crate::solve::{Cycled, Plan, Seeds, Setting, Solved, Trouble, Wanted, seconds};
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

/// What comes of figures moved one at a time.
struct Singly {
    tried: Vec<(Corner, Answer)>,
    /// All those together that made it worse, each at the end that did.
    all_worse: Corner,
    /// By how much each made it worse.
    by: Vec<f64>,
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
        let nominal = self.at(found, std::slice::from_ref(&as_marked)).remove(0);
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
        let Singly {
            mut tried,
            all_worse,
            by,
        } = self.singly(found, &as_marked, marked);
        worst.weights = shares(by);
        let mut last = vec![all_worse];
        last.extend(known.iter().cloned());
        let told = self.at(found, &last);
        tried.extend(last.into_iter().zip(told));
        for (corner, answer) in tried {
            match answer {
                Ok(value) => worst.take(self.question, value, corner),
                Err(why) => worst.why_not = Some(why),
            }
        }
        worst
    }

    /// Every figure at its ends by itself, from a value with all as marked.
    fn singly(&mut self, found: &StateFindings, as_marked: &Corner, marked: f64) -> Singly {
        let groups = groups(&self.setting.job.same, &found.parameters);
        let mut left: Vec<usize> = groups.clone();
        left.sort_unstable();
        left.dedup();
        let mut singly = Singly {
            tried: Vec::new(),
            all_worse: as_marked.clone(),
            by: vec![0.0; found.parameters.len()],
        };
        // What makes it better at one end is asked at the other; what does nothing at one is taken to do nothing.
        for end in [Position::HIGH, Position::LOW] {
            let to = |&group: &usize| with_group(as_marked, &groups, group, end);
            let corners: Vec<Corner> = left.iter().map(to).collect();
            let answers = self.at(found, &corners);
            let mut better = Vec::new();
            for ((&group, corner), answer) in left.iter().zip(corners).zip(answers) {
                // What has no answer there is as bad as can be.
                let by = answer
                    .as_ref()
                    .map_or(f64::INFINITY, |value| self.worse(marked, *value));
                if by > 0.0 {
                    singly.all_worse = with_group(&singly.all_worse, &groups, group, end);
                    singly.by[group] = by;
                } else if by < 0.0 {
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
    fn at(&mut self, found: &StateFindings, corners: &[Corner]) -> Vec<Answer> {
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
        let answer = |solved: &Result<Solved, Trouble>| match solved {
            Ok(_) => values.next().expect("one for each that settled"),
            Err(trouble) => Err(WhyNot::NotSettled(trouble.to_string())),
        };
        solved.iter().map(answer).collect()
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
