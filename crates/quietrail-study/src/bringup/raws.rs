//! Reservoirs behind rectifiers: where each is read, what it is loaded with for a first look, and what draws from it.
//!
//! A split rectifier has two: the one below its return is read with the black lead on the return, so its volts are negative. Behind a
//! choke or a resistor the reservoir is where its capacitor is, not at the rectifier.

use super::Caution;
use super::derive::{
    Kind, Planned, Point, Through, blank, draw_amps, dummy_for, heaviest_state, is_beyond_raw,
    loads, names, of_pair, primary_currents, regulators,
};
use quietrail_job::model::{
    Job, JoinTerm, OnHand, Part, PartKind, Rectifier, RectifierForm, Transformer, What,
};

/// A reservoir's two ends.
pub(super) struct RawRail<'a> {
    /// Its positive end.
    pub(super) plus: &'a str,
    /// Its negative end.
    pub(super) minus: &'a str,
    /// The rectifier that fills it.
    rectifier: &'a Rectifier,
    /// Whether it lies below the return.
    is_below: bool,
    /// Whether a choke stands before it, so that under load it has the mean of what is rectified, not the peak.
    is_choked: bool,
}

impl<'a> RawRail<'a> {
    /// The node that names it.
    pub(super) fn node(&self) -> &'a str {
        if self.is_below { self.minus } else { self.plus }
    }

    /// The other one.
    pub(super) fn ret(&self) -> &'a str {
        if self.is_below { self.plus } else { self.minus }
    }

    /// Whether it is what an ohmmeter sees between two nodes: its positive end, against whatever; of one below the return, both.
    pub(super) fn is_between(&self, plus: &str, minus: &str) -> bool {
        self.plus == plus && (!self.is_below || self.minus == minus)
    }

    /// Peak that fills it, roughly, at its node against the other one: to choose a dummy, not to expect a reading.
    pub(super) fn volts(&self, job: &Job) -> f64 {
        let share = match &self.rectifier.form {
            RectifierForm::Doubler { .. } | RectifierForm::CascadeDoubler { .. } => 2.0,
            RectifierForm::CentreTap | RectifierForm::Split { .. } => 0.5,
            RectifierForm::Bridge | RectifierForm::HalfWave => 1.0,
        };
        let ratio = ratio(job, &self.rectifier.from).abs();
        let sign = if self.is_below { -1.0 } else { 1.0 };
        sign * std::f64::consts::SQRT_2 * share * ratio * job.mains.voltage.nominal()
    }

    /// The same under load, for the size of a dummy: behind a choke the mean of a rectified sine, 2/π of its peak.
    fn loaded_volts(&self, job: &Job) -> f64 {
        let share = if self.is_choked {
            std::f64::consts::FRAC_2_PI
        } else {
            1.0
        };
        (share * self.volts(job)).abs()
    }

    /// Mean current that the loads of a state draw from it, through all that passes it on.
    fn amps(&self, job: &Job, state: usize) -> f64 {
        behind(job, (self.node(), self.is_below), state, &mut Vec::new())
    }
}

/// The reservoirs that a part fills; none of a part that is no rectifier.
pub(super) fn raw_rails_of<'a>(job: &'a Job, part: &'a Part) -> Vec<RawRail<'a>> {
    let PartKind::Rectifier(rectifier) = &part.kind else {
        return Vec::new();
    };
    // Written from common down, the whole reservoir lies under it.
    if rectifier.into == "common" {
        let (minus, is_choked) = reservoir(job, &rectifier.ret, &rectifier.into);
        return vec![RawRail {
            plus: &rectifier.into,
            minus,
            rectifier,
            is_below: true,
            is_choked,
        }];
    }
    let (into, is_choked) = match &rectifier.form {
        // Of a doubler two in series from plus to minus, and no other.
        RectifierForm::Doubler { .. } => (rectifier.into.as_str(), false),
        _ => reservoir(job, &rectifier.into, &rectifier.ret),
    };
    let mut all = vec![RawRail {
        plus: into,
        minus: &rectifier.ret,
        rectifier,
        is_below: false,
        is_choked,
    }];
    if let RectifierForm::Split { negative } = &rectifier.form {
        let (negative, is_choked) = reservoir(job, negative, &rectifier.ret);
        all.push(RawRail {
            plus: &rectifier.ret,
            minus: negative,
            rectifier,
            is_below: true,
            is_choked,
        });
    }
    all
}

/// A capacitor this part of another is there against spikes, and no reservoir beside it (common practice, no source).
const SNUBBER: f64 = 1e-3;

/// Where the reservoir of a rectifier is, from its output on through chokes, resistors, wires and fuses; and whether a choke is on the way.
fn reservoir<'a>(job: &'a Job, from: &'a str, ret: &str) -> (&'a str, bool) {
    let farads = |node: &str| -> f64 {
        let there = job.parts().filter_map(|part| match &part.kind {
            PartKind::Capacitor(one) => {
                let ends = [one.between.plus.as_str(), one.between.minus.as_str()];
                let is_own = ends.contains(&node) && ends.contains(&ret);
                is_own.then_some(one.value.nominal())
            }
            _ => None,
        });
        there.sum()
    };
    let (mut at, mut is_choked) = (from, false);
    let mut seen = vec![from];
    loop {
        let next = job.parts().find_map(|part| {
            let (between, chokes) = match &part.kind {
                PartKind::Inductor(one) => (&one.between, true),
                PartKind::Resistor(one) => (&one.between, false),
                PartKind::Wire(one) => (&one.between, false),
                PartKind::Fuse(one) => (&one.between, false),
                PartKind::Switch(one) => (&one.between, false),
                _ => return None,
            };
            let other = match (between.plus.as_str(), between.minus.as_str()) {
                (one, other) if one == at => other,
                (one, other) if other == at => one,
                _ => return None,
            };
            let is_on = other != ret && other != "common" && !seen.contains(&other);
            let is_larger = farads(at) < SNUBBER * farads(other);
            (is_on && is_larger).then_some((other, chokes))
        });
        let Some((node, chokes)) = next else {
            return (at, is_choked);
        };
        seen.push(node);
        (at, is_choked) = (node, is_choked || chokes);
    }
}

/// All reservoirs of a job, in the order of its file.
pub(super) fn raw_rails(job: &Job) -> Vec<RawRail<'_>> {
    let parts = job.parts.iter();
    parts.flat_map(|part| raw_rails_of(job, part)).collect()
}

/// The middle of a doubler and its like: another capacitor keeps its charge there.
fn middle(rectifier: &Rectifier) -> Option<&str> {
    match &rectifier.form {
        RectifierForm::Doubler { middle } => Some(middle),
        RectifierForm::CascadeDoubler { pump } => Some(pump),
        _ => None,
    }
}

/// What is read at the reservoirs, and the current that fills them.
pub(super) fn raw_points(job: &Job, ripple: bool) -> Vec<Point> {
    let mut all = Vec::new();
    for raw in raw_rails(job) {
        all.push(of_pair(raw.node(), raw.ret(), What::Mean, true));
        if ripple {
            let what = What::RipplePeakToPeak;
            all.push(of_pair(raw.node(), raw.ret(), what, false));
        }
        if let Some(middle) = middle(raw.rectifier) {
            all.push(of_pair(middle, raw.ret(), What::Mean, false));
        }
    }
    all.extend(primary_currents(job));
    all
}

/// The steps with rectifiers and reservoirs alone.
pub(super) fn raw_steps(job: &Job, through: Through) -> Vec<Planned> {
    let raws = raw_rails(job);
    if raws.is_empty() {
        return Vec::new();
    }
    let out = names(job, is_beyond_raw);
    let word = match through {
        Through::Lamp { .. } => "rectifier through the lamp",
        Through::Variable { .. } => "rectifier on low voltage",
    };
    let mut first = blank(word, Kind::RectifierSoftly);
    first.through = Some(through);
    first.out.clone_from(&out);
    first.points = raw_points(job, false);
    first.cautions.push(Caution::Electrolytics);
    let mut second = blank("raw on a dummy load", Kind::RawOnDummy);
    second.out = out;
    second.points = raw_points(job, true);
    let heaviest = heaviest_state(job);
    let mut on_hand = OnHand::clone(&job.on_hand);
    for raw in raws {
        let amps = heaviest.map_or(0.0, |state| raw.amps(job, state));
        let volts = raw.loaded_volts(job);
        if amps > 0.0 && volts > 0.0 {
            let ends = (raw.plus, raw.minus);
            let own = dummy_for(&mut on_hand, ends, volts, amps);
            second.dummies.push(own);
        }
    }
    vec![first, second]
}

/// Current that loads behind a node draw from it, or push into it where it is below common, through linear regulators; `seen` are
/// the nodes on the way.
fn behind<'j>(
    job: &'j Job,
    (node, is_below): (&'j str, bool),
    state: usize,
    seen: &mut Vec<&'j str>,
) -> f64 {
    if seen.contains(&node) {
        return 0.0;
    }
    seen.push(node);
    let hangs = |part: &Part| match &part.kind {
        PartKind::Load(load) if is_below => load.between.minus == node,
        PartKind::Load(load) => load.between.plus == node,
        _ => false,
    };
    let direct: f64 = loads(job)
        .iter()
        .filter(|(_, part)| hangs(part))
        .map(|(_, part)| draw_amps(job, part, state))
        .sum();
    let through = regulators(job)
        .filter(|regulator| regulator.from == node && regulator.into != node)
        .map(|regulator| regulator.into.as_str());
    let next: Vec<&str> = through.chain(super::follow::nodes(job, node)).collect();
    let further = next.into_iter();
    direct
        + further
            .map(|next| behind(job, (next, is_below), state, seen))
            .sum::<f64>()
}

/// Volts of a winding or join for each volt on the primary; 0 where there is no such winding.
pub(super) fn ratio(job: &Job, from: &str) -> f64 {
    let Some((transformer, winding)) = from.split_once('.') else {
        return 0.0;
    };
    let Some(PartKind::Transformer(transformer)) = job.part(transformer).map(|part| &part.kind)
    else {
        return 0.0;
    };
    let joined = || {
        let join = transformer.joins.iter().find(|join| join.name == winding)?;
        Some(joined_ratio(transformer, &join.term))
    };
    of_winding(transformer, winding)
        .or_else(joined)
        .unwrap_or(0.0)
}

fn of_winding(transformer: &Transformer, name: &str) -> Option<f64> {
    let own = transformer.secondary.iter().find(|one| one.name == name);
    own.map(|one| one.open.nominal() / one.at_primary.nominal())
}

fn joined_ratio(transformer: &Transformer, term: &JoinTerm) -> f64 {
    let all = signed_ratios(transformer, term);
    all.into_iter().map(|(_, ratio)| ratio).sum()
}

/// The windings that a join adds up, of those side by side the first, each with its volts for each volt on the primary: below zero
/// where it is turned round.
pub(super) fn signed_ratios(transformer: &Transformer, term: &JoinTerm) -> Vec<(String, f64)> {
    match term {
        JoinTerm::Winding { name, reversed } => {
            let ratio = of_winding(transformer, name).unwrap_or(0.0);
            vec![(name.clone(), if *reversed { -ratio } else { ratio })]
        }
        JoinTerm::Series(terms) => {
            let terms = terms.iter();
            terms
                .flat_map(|term| signed_ratios(transformer, term))
                .collect()
        }
        JoinTerm::Parallel(terms) => terms
            .first()
            .map_or_else(Vec::new, |term| signed_ratios(transformer, term)),
    }
}
