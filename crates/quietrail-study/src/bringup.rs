//! The bring-up: what is connected when, and what every meter should read before power comes on.
//!
//! 1. `derive`: the ordered steps for this very job; the builder's own `[[step]]`s change or add some;
//! 2. `ohms`: what an ohmmeter reads with the power off; the safety rows;
//! 3. `expect`: each step solved, lamp and variable transformer in the circuit, with the band that tolerances leave;
//! 4. readings of the log beside what is expected, and what keeps a step locked;
//! 5. `gate`: what of that decides which readings may decide a limit.

mod across;
mod alternating;
mod causes;
mod cautions;
mod charge;
mod clamp;
mod copper;
mod derive;
mod dummy;
mod ends;
mod expect;
mod follow;
mod forming;
mod gate;
mod instruments;
mod ohms;
mod plates;
mod rails;
mod raws;
mod slips;
mod soak;
mod taps;
mod warmth;

pub use across::highest_across;
pub use causes::{Cause, Causes, Evidence, Next, Suspect, causes, is_told_by_faults};
pub use cautions::{Caution, Touch};
pub use derive::{Kind, Planned, Point, Through, planned};
pub use dummy::{Dummy, best as best_dummy};
pub use ends::{ShortOfEnd, short_of_end};
pub use expect::{Book, Reading as At};
pub use gate::gate;
pub use instruments::{
    ammeter_of, error_of, function_of, is_apt_range, is_of_alternating_part, offered, reads,
    suited, suits,
};
pub use slips::{
    Misfit, end_shown, is_impossible, is_level_instead, is_of_path, is_other_mains, is_overload,
    meant, meant_by_limit, misfit,
};
pub use soak::{Settled, Settling};
pub use warmth::read_outside;

use crate::case::Outside;
use crate::gate::{Lock, Why};
use crate::lower::DummyLoad;
use crate::solve::Trouble;
use derive::Where;
use ends::{anywhere_in_range, bands_at_mains, end_of, marks};
use quietrail_bench::log::{Log, Observed, Row};
use quietrail_bench::safety::SafetyRow;
use quietrail_engine::Options;
use quietrail_job::model::{Job, Subject};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// The whole bring-up.
#[derive(Clone, Debug, PartialEq)]
pub struct BringUp {
    /// Title of the job.
    pub title: String,
    /// `230 V 50 Hz`
    pub region: String,
    /// The steps, in order.
    pub steps: Vec<Step>,
    /// Rows of the log that correct others, each with the number under which the reading was first written.
    pub first_written: BTreeMap<u64, u64>,
}

/// One step.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// Its name: that of the log.
    pub name: String,
    /// What kind of step it is.
    pub kind: Kind,
    /// State of the loads, where loads or dummies draw.
    pub state: String,
    /// What stands between outlet and job.
    pub through: Option<Through>,
    /// Parts that are not fitted or not connected yet.
    pub out: Vec<String>,
    /// Parts that are bridged.
    pub short: Vec<String>,
    /// Dummy loads.
    pub dummies: Vec<Dummy>,
    /// What to be careful about.
    pub cautions: Vec<Caution>,
    /// What every point should read.
    pub expect: Vec<Expectation>,
    /// How long what is warm takes to settle, in a step that waits for it.
    pub settling: Vec<Settling>,
    /// Why nothing could be computed for it.
    pub trouble: Option<String>,
    /// What keeps it locked; empty where it is free.
    pub locked_by: Vec<Lock>,
    /// Why it is done regardless, as last logged.
    pub overridden: Option<String>,
    /// Rows of the log that say so.
    pub gone_on: Vec<u64>,
    /// Whether that was logged after all that keeps it locked was there.
    pub is_gone_past: bool,
}

/// What a point should read.
#[derive(Clone, Debug, PartialEq)]
pub struct Expectation {
    /// The point, as in the log.
    pub of: String,
    /// What is read.
    pub what: Observed,
    /// Lowest value that a healthy build gives; none where only the other end counts.
    pub low: Option<f64>,
    /// With parts as marked.
    pub nominal: Option<f64>,
    /// Highest.
    pub high: Option<f64>,
    /// Unit symbol.
    pub unit: &'static str,
    /// The safety row that it is.
    pub safety: Option<&'static SafetyRow>,
    /// Whether later steps wait for it.
    pub is_awaited: bool,
    /// What else is in a reading, or stands behind it.
    pub beside: Vec<Beside>,
    /// Readings of it that stand, latest last.
    pub readings: Vec<Reading>,
}

/// What else is in a reading, or stands behind it.
#[derive(Clone, Debug, PartialEq)]
pub enum Beside {
    /// It is read through these resistors.
    Through {
        /// Names of the parts; of a regulator, its divider.
        parts: Vec<String>,
    },
    /// It stands once these capacitors have their charge, after so many seconds.
    Settles {
        /// Names of the parts.
        parts: Vec<String>,
        /// How long it takes.
        seconds: f64,
    },
    /// No resistor is there: it climbs as long as these capacitors charge.
    Climbs {
        /// Names of the parts.
        parts: Vec<String>,
        /// What they come to, F.
        farads: f64,
    },
    /// Paths inside these parts count with it, and nobody knows them.
    Inside {
        /// Names of the parts.
        parts: Vec<String>,
    },
    /// It is part of a winding: turns further out are longer, and have more resistance for the same volts.
    PartOfWinding,
    /// With any one of these windings the wrong way round the join reads so many volts.
    Turned {
        /// Names of the windings.
        windings: Vec<String>,
        /// What it then reads, V.
        volts: f64,
    },
    /// Windings side by side: one the wrong way round is a short circuit.
    Shorted,
    /// One stage of forming an electrolytic.
    Forming {
        /// The part.
        part: String,
        /// What the bench supply is set to, V.
        volts: f64,
        /// Resistor in front, Ω.
        ohms: f64,
        /// How long to hold, at least, s.
        seconds: f64,
        /// How long it takes to charge, s: no more than the band stands across the resistor after that.
        settled: f64,
        /// What stands there at the end with one that is in order, V at most.
        in_order: f64,
    },
    /// The plate of a winding has no tolerance: this was taken.
    PlateTaken {
        /// Either way, as a share.
        share: f64,
    },
    /// The current off load has no tolerance, and iron is not linear: this was taken.
    IronTaken {
        /// At least, over what was given.
        least: f64,
        /// At most.
        most: f64,
    },
    /// A thermometer reads the case; the junction in it is hotter.
    Case {
        /// How hot at most, °C, where the job says what it takes to know.
        junction: Option<f64>,
    },
    /// A thermometer reads the outside; inside it is hotter, and nothing tells by how much.
    Cooler {
        /// Lowest and highest temperature inside, °C.
        inside: (f64, f64),
        /// Whether that is of copper, not of a junction.
        is_copper: bool,
    },
}

/// A reading beside what was expected.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// Row of the log.
    pub row: u64,
    /// That row as it was typed: value and unit; `None` of what was worked out of a capture.
    pub typed: Option<(String, String)>,
    /// Whether what is there is more than the value.
    pub is_more_than: bool,
    /// Value, SI.
    pub value: f64,
    /// Largest error of the instrument, where the job gives it.
    pub error: Option<f64>,
    /// Whether it fits.
    pub fit: Fit,
    /// The band that it was compared with, where that is of the mains at which it was taken and not the row's.
    pub band: Option<(Option<f64>, Option<f64>)>,
    /// Whether it was taken while its step was locked, so that it opens nothing and decides nothing.
    pub is_held: bool,
    /// The mains at which it was taken, where its step is one for an end of the mains range and that is short of it, or was not read.
    pub short_of_end: Option<ShortOfEnd>,
}

/// Whether a reading fits what was expected.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fit {
    /// Within the band.
    Fits,
    /// Below the band by so much.
    Below(f64),
    /// Above it by so much.
    Above(f64),
    /// Nearer to an edge of the band, on either side, than the instrument may err: what is there may lie beyond it.
    Unclear,
    /// It is the end of what the instrument shows, and what is there is more: that may be within the band or above it.
    MoreThan,
    /// There is nothing to compare it with.
    NotCompared,
}

impl Step {
    /// Whether it may be done: nothing before it is wanting, or going on regardless is logged.
    pub fn is_open(&self) -> bool {
        self.locked_by.is_empty() || self.is_gone_past
    }
}

impl Expectation {
    /// The latest reading that counts: none that was taken while its step was locked, or short of the mains that its step is for,
    /// unless it does not fit.
    pub fn last(&self) -> Option<&Reading> {
        let counts = |one: &&Reading| one.stands_for_row() || one.fit.is_outside();
        self.readings.iter().rev().find(counts)
    }

    /// Whether nothing was read of it yet, or only short of the mains that its step is for.
    pub fn is_to_be_read(&self) -> bool {
        let elsewhere = |one: &Reading| one.short_of_end.is_some() && !one.fit.is_outside();
        self.readings.iter().all(elsewhere)
    }
}

impl Reading {
    /// Whether its row counts as read with it.
    pub fn stands_for_row(&self) -> bool {
        !self.is_held && self.short_of_end.is_none()
    }
}

impl Fit {
    /// Whether it is outside the band by more than the instrument may err.
    pub fn is_outside(self) -> bool {
        matches!(self, Self::Below(_) | Self::Above(_))
    }
}

/// In place of the name of a step: only what the locks need is computed.
pub const LOCKS_ALONE: &str = "";

/// The bring-up of a job, with the readings of its log.
///
/// `only` names the step that is computed; without it all are. Of the others that is computed with which a reading
/// has to be compared. A step that cannot be solved says why and stands without figures.
///
/// # Errors
/// A change that cannot be made: a fault of the job that its reading did not find.
pub fn bring_up(
    job: &Job,
    log: &Log,
    only: Option<&str>,
    options: &Options,
) -> Result<BringUp, Trouble> {
    bring_up_by(&Book::default(), job, log, only, options)
}

/// The same with the bands that a book holds of this very job: what it lacks is computed, and written in.
///
/// # Errors
/// As [`bring_up`].
pub fn bring_up_by(
    book: &Book,
    job: &Job,
    log: &Log,
    only: Option<&str>,
    options: &Options,
) -> Result<BringUp, Trouble> {
    let planned = planned(job);
    let placed: Vec<Row> = log
        .standing()
        .into_iter()
        .map(|row| placed(row, job, &planned))
        .collect();
    let standing: Vec<&Row> = placed.iter().collect();
    let steps: Result<Vec<Step>, Trouble> = planned
        .into_par_iter()
        .map(|planned| {
            let is_asked = only.is_none_or(|name| name == planned.name);
            step((book, job), &standing, planned, is_asked, options)
        })
        .collect();
    let mut steps = steps?;
    let corrections = standing.iter().filter(|row| row.corrects.is_some());
    let first_written = corrections
        .map(|row| (row.row, log.first_written(row)))
        .collect();
    for one in steps.iter_mut().flat_map(|step| &mut step.expect) {
        one.readings
            .sort_by_key(|one| first_of(&first_written, one.row));
    }
    gate::lock(&mut steps, &standing, &first_written);
    Ok(BringUp {
        title: job.title.clone(),
        region: job.region.name.clone(),
        steps,
        first_written,
    })
}

/// A row with the step that it is of: one that names none is of the first in which the job is whole and draws what its state says, as
/// limits have it ([`crate::gate`]).
fn placed(row: &Row, job: &Job, planned: &[Planned]) -> Row {
    let mut row = row.clone();
    if row.step.is_empty() && crate::gate::needs_power(row.what) && !row.setup.is_shorted {
        let mut whole = planned.iter().filter(|one| counts_for_limits(one.kind));
        let own = whole.find(|one| state_name(job, one) == row.state);
        row.step = own.map(|one| one.name.clone()).unwrap_or_default();
    }
    row
}

/// The state in which a step is done; nothing where it is the same in all.
fn state_name(job: &Job, planned: &Planned) -> String {
    let state = planned.state.map(|state| job.states[state].name.clone());
    state.unwrap_or_default()
}

/// One step. Where it is not asked for, only what its readings have to be compared with is computed.
fn step(
    (book, job): (&Book, &Job),
    log: &[&Row],
    planned: Planned,
    is_asked: bool,
    options: &Options,
) -> Result<Step, Trouble> {
    let mut trouble = None;
    let mut expect = Vec::new();
    let mut cautions = planned.cautions.clone();
    let of_point = |of: &str, what: Observed| -> Vec<&Row> {
        let own = log.iter().copied().filter(|row| {
            row.step == planned.name && row.of == of && row.what == what && !row.setup.is_shorted
        });
        own.collect()
    };
    let is_computed = planned.kind.is_powered();
    if planned.kind == Kind::PowerOff {
        expect = ohms::expectations(job);
    } else if planned.kind == Kind::Forming {
        expect = forming::expectations(job, &planned);
    } else if planned.kind == Kind::ClampProof {
        expect = clamp::expectations(job, &planned);
    } else {
        let is_wanted = |index: &usize| {
            let point = &planned.points[*index];
            let mut own = of_point(&point.of, point.what).into_iter();
            is_asked || own.any(|row| row.mains_v.is_none())
        };
        let wanted: Vec<usize> = (0..planned.points.len()).filter(is_wanted).collect();
        let bands = match book.bands(job, &planned, &wanted, None, options) {
            Ok(bands) => bands,
            Err(Trouble::Change(error)) => return Err(Trouble::Change(error)),
            Err(other) => {
                trouble = Some(other.to_string());
                BTreeMap::new()
            }
        };
        for (index, point) in planned.points.iter().enumerate() {
            let band = bands.get(&index).copied().flatten();
            cautions.extend(band.and_then(|band| cautions::of_input(job, point, band.loaded)));
            expect.push(Expectation {
                of: point.of.clone(),
                what: point.what,
                low: band.map(|band| band.low),
                nominal: band.map(|band| band.nominal),
                high: band.map(|band| band.high),
                unit: point.what.kind().symbol(),
                safety: None,
                is_awaited: point.is_awaited,
                beside: beside(job, &planned, point, band),
                readings: Vec::new(),
            });
        }
        let found = book.watched(&planned);
        for (one, point) in expect.iter_mut().zip(&planned.points) {
            warmth::on_the_outside(job, point, &found, one);
        }
        cautions.extend(cautions::cautions_of(job, &planned, &expect, &found));
    }
    let rows: Vec<Vec<&Row>> = expect
        .iter()
        .map(|one| of_point(&one.of, one.what))
        .collect();
    let at_mains = if is_computed {
        bands_at_mains((book, job), &planned, &rows, options)
    } else {
        BTreeMap::new()
    };
    for (index, expectation) in expect.iter_mut().enumerate() {
        // At a mains that was read the band is that of this voltage alone.
        let at = |row: &Row| match row.mains_v {
            Some(volts) => at_mains.get(&(volts.to_bits(), index)).copied(),
            None => anywhere_in_range(job, planned.kind, |volts| {
                at_mains.get(&(volts.to_bits(), index)).copied()
            }),
        };
        expectation.readings = rows[index]
            .iter()
            .map(|row| {
                let mut reading = reading(job, expectation, row, at(row));
                reading.short_of_end = short_of_end(job, planned.kind, row.mains_v);
                reading
            })
            .collect();
    }
    let settling = if planned.kind == Kind::Soak {
        soak::settling(job, log, &planned)
    } else {
        Vec::new()
    };
    Ok(Step {
        settling,
        state: state_name(job, &planned),
        name: planned.name,
        kind: planned.kind,
        through: planned.through,
        out: planned.out,
        short: planned.short,
        dummies: planned.dummies,
        cautions,
        expect,
        trouble,
        locked_by: Vec::new(),
        overridden: None,
        gone_on: Vec::new(),
        is_gone_past: false,
    })
}

/// What stands behind a reading with the power on.
fn beside(job: &Job, planned: &Planned, point: &Point, band: Option<expect::Band>) -> Vec<Beside> {
    let is_transformer = matches!(planned.kind, Kind::TransformerSoftly | Kind::Transformer);
    match (&point.subject, band) {
        (Where::Winding(of), Some(band)) if is_transformer => {
            let mut all = taps::turned(job, of, band.nominal);
            if plates::taken(job, of) {
                all.push(Beside::PlateTaken { share: plates::OFF });
            }
            all
        }
        (Where::Subject(Subject::Part(part)), Some(_))
            if is_transformer
                && job
                    .part(part)
                    .is_some_and(|part| plates::has_exact_iron(&part.kind)) =>
        {
            let (least, most) = plates::IRON;
            vec![Beside::IronTaken { least, most }]
        }
        _ => Vec::new(),
    }
}

/// The band of a point at a mains voltage that was read, also of one that the step does not list; where nobody read it, over the
/// whole range.
///
/// # Errors
/// As [`bring_up`], and why the step could not be solved.
pub fn band_at(
    (book, job): (&Book, &Job),
    planned: &Planned,
    of: &str,
    what: Observed,
    at: At<'_>,
    options: &Options,
) -> Result<Option<(f64, f64)>, Trouble> {
    let is_own = |point: &Point| point.of == of && point.what == what;
    let listed = planned.points.iter().position(is_own);
    if !planned.kind.is_powered() {
        let all = clamp::expectations(job, planned);
        return Ok(listed.and_then(|index| all[index].low.zip(all[index].high)));
    }
    let mut planned = planned.clone();
    let index = listed.unwrap_or(planned.points.len());
    if listed.is_none() {
        planned.points.push(expect::anywhere(job, of, what));
    }
    let band = if at.mains.is_none() && end_of(job, planned.kind).is_some() {
        let mut found = Vec::new();
        for volts in marks(job) {
            let mains = Some(volts);
            let at = At { mains, ..at };
            let band = book.band_of(job, &planned, (index, listed.is_some()), at, options)?;
            found.extend(band.map(|band| (volts, band)));
        }
        anywhere_in_range(job, planned.kind, |volts| {
            let own = found.iter().find(|(known, _)| *known == volts);
            own.map(|(_, band)| *band)
        })
    } else {
        book.band_of(job, &planned, (index, listed.is_some()), at, options)?
    };
    Ok(band.map(|band| (band.low, band.high)))
}

fn reading(job: &Job, expectation: &Expectation, row: &Row, at: Option<expect::Band>) -> Reading {
    let error = error_of(&job.instruments, row);
    let mut own = expectation.clone();
    if let Some(band) = at {
        let is_cooler = read_outside(job, &own.of, own.what) == Some(Outside::Cooler);
        own.low = (!is_cooler).then_some(band.low);
        own.high = Some(band.high);
    }
    Reading {
        row: row.row,
        typed: row
            .is_typed()
            .then(|| (row.typed.clone(), row.unit.clone())),
        is_more_than: row.is_more_than(),
        value: row.value,
        error,
        fit: fit_of(&own, row, error),
        band: at.map(|_| (own.low, own.high)),
        is_held: false,
        short_of_end: None,
    }
}

/// What is read with the power off.
pub fn power_off(job: &Job) -> Vec<Expectation> {
    ohms::expectations(job)
}

/// Names of the job's own nodes.
pub fn node_names(job: &Job) -> Vec<String> {
    let warmth = crate::heat::Temperatures::at_rest(job);
    let Ok(lowered) = crate::lower::lower(job, 0, &crate::lower::Step::default(), &[], &warmth)
    else {
        return Vec::new();
    };
    let names = lowered.named_nodes().map(|(name, _)| name.to_owned());
    names.collect()
}

/// Whether a row fits an expectation; of one beyond what its instrument shows the value is only where that ends.
pub fn fit_of(expectation: &Expectation, row: &Row, error: Option<f64>) -> Fit {
    let found = fit(expectation, row.value, error);
    let is_open = expectation.high.is_none() && matches!(found, Fit::Fits | Fit::Unclear);
    let is_told = matches!(found, Fit::Above(_) | Fit::NotCompared) || is_open;
    if row.is_more_than() && !is_told {
        return Fit::MoreThan;
    }
    found
}

/// Whether a value fits an expectation.
///
/// A safety row has to be shown to hold, so what the instrument may err by must fit too. Of other rows a reading inside the band
/// fits, unless the instrument may err by more than the band is wide.
pub fn fit(expectation: &Expectation, value: f64, error: Option<f64>) -> Fit {
    let compared = expectation
        .safety
        .and_then(|row| row.limit)
        .is_none_or(|limit| limit.is_compared());
    if !compared || (expectation.low.is_none() && expectation.high.is_none()) {
        return Fit::NotCompared;
    }
    let slack = error.unwrap_or(0.0);
    let below = expectation.low.map_or(0.0, |low| low - value);
    let above = expectation.high.map_or(0.0, |high| value - high);
    if below <= 0.0 && above <= 0.0 {
        let width = expectation.low.zip(expectation.high);
        let is_blunt = width.is_some_and(|(low, high)| slack > high - low);
        let room = |edge: Option<f64>, away: f64| edge.is_none_or(|_| slack <= -away);
        let is_shown = room(expectation.low, below) && room(expectation.high, above);
        let is_safety = expectation.safety.is_some();
        if is_blunt || (is_safety && !is_shown) {
            Fit::Unclear
        } else {
            Fit::Fits
        }
    } else if below <= slack && above <= slack {
        Fit::Unclear
    } else if below > 0.0 {
        Fit::Below(below)
    } else {
        Fit::Above(above)
    }
}

/// The number under which the reading of a row was first written.
fn first_of(first_written: &BTreeMap<u64, u64>, row: u64) -> u64 {
    first_written.get(&row).copied().unwrap_or(row)
}

/// Why a row keeps later steps locked with that as its last reading; `None` where it does not.
///
/// A safety row has to be shown to hold: what is compared with nothing shows nothing.
fn keeps(expectation: &Expectation, last: Option<&Reading>) -> Option<Why> {
    let is_safety = expectation.safety.is_some();
    match last.map(|reading| reading.fit) {
        None => Some(Why::NotRead),
        Some(Fit::Below(_) | Fit::Above(_)) => Some(Why::DoesNotFit),
        Some(Fit::Unclear | Fit::MoreThan) if is_safety => Some(Why::NotShown),
        Some(Fit::NotCompared) if is_safety => Some(Why::NotCompared),
        Some(Fit::Fits | Fit::Unclear | Fit::MoreThan | Fit::NotCompared) => None,
    }
}

/// Whether readings of a step are readings of the job as drawn: whole, on the mains as it is, its loads or dummies drawing
/// what a state says.
pub fn counts_for_limits(kind: Kind) -> bool {
    matches!(
        kind,
        Kind::DummyLoad | Kind::LowestMains | Kind::Soak | Kind::OverVoltage | Kind::Load
    )
}

/// The circuit of a step.
pub fn lowered_step(planned: &Planned) -> crate::lower::Step {
    let (lamp, variable) = match planned.through {
        Some(Through::Lamp { watts, volts, .. }) => (Some((watts, volts)), None),
        Some(Through::Variable { setting, ohms, .. }) => (None, Some((setting, ohms))),
        None => (None, None),
    };
    crate::lower::Step {
        lamp,
        variable,
        out: planned.out.clone(),
        short: planned.short.clone(),
        dummy: planned
            .dummies
            .iter()
            .map(|dummy| DummyLoad {
                plus: dummy.plus.clone(),
                minus: dummy.minus.clone(),
                ohms: dummy.ohms,
            })
            .collect(),
        ammeters: Vec::new(),
        inputs: Vec::new(),
    }
}
