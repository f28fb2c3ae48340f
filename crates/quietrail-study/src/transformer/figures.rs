//! What a fit says about a transformer: each figure as a function of the unknowns.

use super::fit::{Fit, Ranged};
use super::layout::Layout;
use super::network::Hookup;
use super::rows::{Equations, Predicts, Source, Unknown, hookup};
use quietrail_job::model::unmarked::Unmarked;

/// A figure of a transformer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FigureOf {
    /// Resistance of a winding, at the copper temperature of the readings, Ω.
    Ohms(usize),
    /// Off-load volts of a winding with the mains on as it was driven at the highest volts.
    Open(usize),
    /// Volts of a winding of the mains side as its share of the mains.
    Share(usize),
    /// Resistance seen at a winding, all windings' in it, at that copper temperature, Ω.
    Source(usize),
    /// Leakage inductance seen at a winding, H.
    Leakage(usize),
    /// Turns of a winding over those of the first winding of the mains side.
    Turns(usize),
    /// Share of the turns from a winding's first lead to a tap.
    Tap(usize, usize),
    /// Current with nothing connected, A.
    NoLoad,
    /// Watts with nothing connected.
    NoLoadWatts,
    /// Siemens of an existing load.
    Existing(usize),
}

/// One or several fits that the readings allow: several where readings contradict and which is wrong cannot be told.
#[derive(Clone, Debug)]
pub(crate) struct Fits {
    pub(crate) all: Vec<Fit>,
    pub(crate) mains: Hookup,
}

impl Fits {
    /// Fits that share one way of putting the mains on.
    pub(crate) fn of(all: Vec<Fit>, unmarked: &Unmarked, volts: f64) -> Option<Self> {
        let first = all.first()?;
        let mains = mains(&first.equations, unmarked, volts)?;
        Some(Self { all, mains })
    }

    pub(crate) fn first(&self) -> &Fit {
        &self.all[0]
    }

    pub(crate) fn layout(&self) -> &Layout {
        &self.first().equations.layout
    }

    /// A figure over all fits: the widest range.
    pub(crate) fn ranged(&self, of: FigureOf) -> Ranged {
        let mut found = self
            .all
            .iter()
            .map(|fit| fit.figure(|x| value(&fit.equations, &self.mains, x, of)));
        let first = found.next().expect("at least one fit");
        let mut hull = found.fold(first, |hull, next| Ranged {
            value: hull.value,
            low: hull.low.min(next.low),
            high: hull.high.max(next.high),
            is_told: hull.is_told && next.is_told,
        });
        let bound_by_nothing = matches!(
            of,
            FigureOf::Ohms(_)
                | FigureOf::Source(_)
                | FigureOf::Leakage(_)
                | FigureOf::NoLoad
                | FigureOf::NoLoadWatts
                | FigureOf::Existing(_)
        );
        if bound_by_nothing && hull.value.is_finite() {
            hull.low = hull.low.max(0.0);
            hull.high = hull.high.max(0.0);
            hull.value = hull.value.max(0.0);
        }
        if matches!(of, FigureOf::Leakage(_)) {
            for end in [&mut hull.low, &mut hull.value, &mut hull.high] {
                *end = end.sqrt();
            }
        }
        hull
    }

    /// Whether the readings tell which way round a winding is.
    pub(crate) fn is_sense_told(&self, winding: usize) -> bool {
        let fit = self.first();
        let equations = &fit.equations;
        let own = &equations.layout.windings[winding].stretches;
        if own.contains(&equations.unit) {
            return true;
        }
        let mut turned = fit.x.clone();
        for s in own {
            if let Some(place) = equations.place(Unknown::Turns(*s)) {
                turned[place] = -turned[place];
            }
        }
        equations.rows.iter().any(|row| {
            if !matches!(row.source, Source::Read { .. })
                || matches!(row.predicts, Predicts::Ohms(..))
            {
                return false;
            }
            let (as_is, other) = (
                equations.predict(row, &fit.x),
                equations.predict(row, &turned),
            );
            let bound: f64 = row.parts.iter().sum();
            !other.is_finite() || (as_is - other).abs() > 3.0 * bound
        })
    }
}

/// The mains on the leads that were driven at the highest volts.
pub(crate) fn mains(equations: &Equations, unmarked: &Unmarked, volts: f64) -> Option<Hookup> {
    let mut found = match &equations.drive {
        Some(drive) => hookup(unmarked, drive)?,
        None => Hookup {
            driven: *equations.layout.stretches.get(equations.unit)?,
            ..Hookup::default()
        },
    };
    found.volts = volts;
    Some(found)
}

/// Both ends of a winding.
pub(crate) fn ends(layout: &Layout, winding: usize) -> (usize, usize) {
    let leads = &layout.windings[winding].leads;
    (leads[0], leads[leads.len() - 1])
}

/// The value of a figure.
pub(crate) fn value(equations: &Equations, mains: &Hookup, x: &[f64], of: FigureOf) -> f64 {
    let layout = &equations.layout;
    let get = |unknown| equations.place(unknown).map_or(f64::NAN, |place| x[place]);
    match of {
        FigureOf::Ohms(winding) => layout.windings[winding]
            .stretches
            .iter()
            .map(|s| get(Unknown::Ohms(*s)))
            .sum(),
        FigureOf::Open(winding) | FigureOf::Share(winding) => equations
            .flow(x, 0.0, mains)
            .map_or(f64::NAN, |flow| flow.across(ends(layout, winding)).size()),
        FigureOf::Source(winding) => equations.seen(x, mains, ends(layout, winding), 0.0).1,
        // As its square; see `Fits::ranged`.
        FigureOf::Leakage(winding) => get(Unknown::Leakage(winding)),
        FigureOf::Turns(winding) => {
            let turns = |k: usize| -> f64 {
                let own = &layout.windings[k].stretches;
                own.iter().map(|s| equations.turns(x, *s)).sum()
            };
            (turns(winding) / turns(layout.winding_with(equations.unit))).abs()
        }
        FigureOf::Tap(winding, tap) => {
            let stretches = &layout.windings[winding].stretches;
            let turns = |of: &[usize]| -> f64 { of.iter().map(|s| equations.turns(x, *s)).sum() };
            turns(&stretches[..tap]) / turns(stretches)
        }
        FigureOf::NoLoad => match equations.place(Unknown::Susceptance) {
            Some(_) => equations
                .flow(x, 0.0, mains)
                .map_or(f64::NAN, |flow| flow.source.size()),
            None => f64::NAN,
        },
        FigureOf::NoLoadWatts => match equations.place(Unknown::Conductance) {
            Some(_) => equations
                .flow(x, 0.0, mains)
                .map_or(f64::NAN, |flow| flow.watts()),
            None => f64::NAN,
        },
        FigureOf::Existing(load) => get(Unknown::Existing(load)),
    }
}
