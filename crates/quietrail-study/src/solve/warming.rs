//! The rounds in which powers and temperatures come to agree.

use super::{Plan, Setting, Solution, Trouble};
use crate::heat::{Bounds, Temperatures, temperatures};
use crate::is_only_looked_at;
use crate::lower::{Lowered, lower_changed};
use quietrail_engine::Options;
use quietrail_job::Change;
use quietrail_job::model::Job;
use std::sync::Arc;

/// Temperatures that change less between rounds are settled, K: copper that is so far off has dropped some parts in a hundred
/// thousand too much or too little.
const STEADY_HEAT: f64 = 0.01;
/// The same of what is only looked at: ten times as many.
const STEADY_ENOUGH: f64 = 0.1;
/// Those that change less between first looks have been looked at enough, K: a round leads some ten times nearer.
const NEARLY_STEADY: f64 = 0.02;
/// Rounds of heat before it counts as running away.
const ROUNDS: u64 = 24;

/// The rounds in which powers and temperatures come to agree.
pub(super) struct Warming {
    warmth: Temperatures,
    /// Those of the round before, and those that they led to.
    before: Option<(Temperatures, Temperatures)>,
    /// Share of that way that was gone.
    share: f64,
    /// The same of the air, each part and each lamp by itself.
    own_shares: Vec<f64>,
    bounds: Bounds,
    start: Option<Vec<f64>>,
    rounds: u64,
    /// The job with its changes made.
    changed: Option<Arc<Job>>,
}

impl Warming {
    pub(super) fn of(job: &Job, seed: Option<&Solution>) -> Self {
        Self {
            warmth: seed.map_or_else(
                || Temperatures::at_rest(job),
                |seed| seed.temperatures.clone(),
            ),
            before: None,
            share: 1.0,
            own_shares: Vec::new(),
            bounds: Bounds::default(),
            start: seed.map(|seed| seed.start.clone()),
            rounds: 0,
            changed: None,
        }
    }

    /// The same from temperatures and stores that are expected.
    pub(super) fn at(warmth: Temperatures, start: Vec<f64>) -> Self {
        Self {
            warmth,
            before: None,
            share: 1.0,
            own_shares: Vec::new(),
            bounds: Bounds::default(),
            start: Some(start),
            rounds: 0,
            changed: None,
        }
    }

    pub(super) fn start(&self) -> Option<&[f64]> {
        self.start.as_deref()
    }

    /// The circuit of the next round: of the same changes of the same job in all of them.
    pub(super) fn lower(
        &mut self,
        setting: Setting<'_>,
        changes: &[Change],
    ) -> Result<Lowered, Trouble> {
        let Setting {
            job, state, step, ..
        } = setting;
        let changed = match &self.changed {
            Some(changed) => changed.clone(),
            None => {
                let changed = Arc::new(job.with(changes).map_err(Trouble::Change)?);
                self.changed.insert(changed).clone()
            }
        };
        Ok(lower_changed(changed, state, step, changes, &self.warmth))
    }

    /// The temperatures at which the next round is made.
    pub(super) fn warmth(&self) -> &Temperatures {
        &self.warmth
    }

    /// Rounds taken, first looks aside.
    pub(super) fn rounds(&self) -> u64 {
        self.rounds
    }

    /// Takes the figures and the stores of a round that settled. Where it leads to the temperatures that it was made at,
    /// those; where not, the next round is made nearer to them.
    pub(super) fn take(
        &mut self,
        (plan, options): (&Plan, &Options),
        lowered: &Lowered,
        (values, start): (&[f64], &[f64]),
    ) -> Result<Option<Temperatures>, Trouble> {
        self.rounds += 1;
        let next = temperatures(lowered, &plan.table.with(values));
        let held = next.held();
        let change = held.distance(&self.warmth);
        let steady = if is_only_looked_at(options) {
            STEADY_ENOUGH
        } else {
            STEADY_HEAT
        };
        if change < steady {
            return match next.melting() {
                // At the bound, and it would be hotter still.
                Some(part) => Err(Trouble::Runaway {
                    part: part.to_owned(),
                }),
                None => Ok(Some(next)),
            };
        }
        if self.rounds == ROUNDS || !change.is_finite() {
            return Err(Trouble::Runaway {
                part: next.melting().unwrap_or_default().to_owned(),
            });
        }
        self.start = Some(start.to_vec());
        self.go_on(&held);
        Ok(None)
    }

    /// Takes the figures of a first look, and tells whether temperatures have come to rest.
    pub(super) fn look(&mut self, plan: &Plan, lowered: &Lowered, values: &[f64]) -> bool {
        let held = temperatures(lowered, &plan.table.with(values)).held();
        let change = held.distance(&self.warmth);
        // What is no number is left to the rounds that settle.
        if !change.is_finite() {
            return true;
        }
        self.go_on(&held);
        change < NEARLY_STEADY
    }

    fn go_on(&mut self, next: &Temperatures) {
        if let Some((before, then)) = &self.before {
            self.share = self.warmth.share(next, (before, then), self.share);
            self.own_shares = self
                .warmth
                .own_shares(next, (before, then), &self.own_shares);
        }
        self.bounds.learn(&self.warmth, next);
        let mut further = if self.bounds.looks_at_each() {
            self.warmth.towards_each(next, &self.own_shares)
        } else {
            self.warmth.towards(next, self.share)
        };
        self.bounds.hold(&mut further);
        let here = std::mem::replace(&mut self.warmth, further);
        self.before = Some((here, next.clone()));
    }
}
