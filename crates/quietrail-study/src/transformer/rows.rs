//! Every reading as an equation: what the model says it would read, and how far chance may have moved it.

use super::layout::{Layout, pair};
use super::network::{Flow, Hookup, Iron, Stretch, flow};
use super::rectified::{Point, Rectified};
use quietrail_job::model::Span;
use quietrail_job::model::unmarked::{DirectLoad, Drive, Reading, TestLoad, Unmarked};
use std::f64::consts::PI;

/// Temperature coefficient of copper at 20 °C, per kelvin (IEC 60028 gives 0.00393).
pub(crate) const COPPER: f64 = 0.003_93;

/// Error of a DC voltmeter, as a share: common practice, no source.
const DIRECT_ERROR: f64 = 0.005;

/// What the readings are explained by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Unknown {
    /// Resistance of a stretch.
    Ohms(usize),
    /// Turns of a stretch.
    Turns(usize),
    /// Square of the leakage seen at a winding, H²: what a test reads is straight in it, also near nothing.
    Leakage(usize),
    /// Magnetising and loss of the core, per turn.
    Susceptance,
    Conductance,
    /// Test leads of the ohmmeter.
    Null,
    /// Shared errors of the meter.
    OhmsGain,
    VoltsGain,
    AmpsGain,
    WattsGain,
    /// Copper above that of the resistance readings during a loaded reading.
    Warmer(usize),
    /// Drop of a test rectifier's diodes.
    Drop(usize),
    /// A test load, as a share of what it was read as.
    Load(usize),
    /// Third harmonic of the mains.
    Flatness,
    /// An existing load, S.
    Existing(usize),
}

/// What a row predicts.
#[derive(Clone, Debug)]
pub(crate) enum Predicts {
    /// An unknown itself: what is known of it before any reading.
    Given(Unknown),
    /// Resistance between leads.
    Ohms(usize, usize),
    /// Volts across leads for volts put in.
    Volts {
        hookup: Hookup,
        across: (usize, usize),
        warmer: Option<usize>,
        existing: Option<usize>,
    },
    /// Amperes from the source.
    Amps(Hookup),
    /// Watts from the source.
    Watts(Hookup),
    /// Mean volts behind a rectifier.
    Mean {
        hookup: Hookup,
        across: (usize, usize),
        test: usize,
    },
}

/// One equation.
#[derive(Clone, Debug)]
pub(crate) struct Row {
    /// What is predicted.
    pub(crate) predicts: Predicts,
    /// What was read, or is known before.
    pub(crate) value: f64,
    /// Half-ranges of the independent errors in it.
    pub(crate) parts: Vec<f64>,
    /// Which reading it is, in words' terms.
    pub(crate) source: Source,
}

/// Where a row comes from.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Source {
    /// A reading at a place in the job.
    Read {
        kind: ReadingKind,
        span: Span,
        text: String,
    },
    /// Known before: a range given or taken as default.
    Range,
    /// Only there so that the equations can be solved: what rests on it is not shown.
    Nothing,
}

/// The kinds of reading, in the order in which they are best taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum ReadingKind {
    /// Ohms between leads.
    Ohms,
    /// Volts off load.
    Volts,
    /// A short-circuit test.
    Shorted,
    /// No-load current.
    NoLoad,
    /// Volts under load.
    Loaded,
    /// What the instrument draws.
    Existing,
    /// A hot run.
    Hot,
    /// Insulation.
    Insulation,
}

/// The equations of all readings.
#[derive(Clone, Debug)]
pub(crate) struct Equations {
    pub(crate) layout: Layout,
    pub(crate) unknowns: Vec<Unknown>,
    pub(crate) start: Vec<f64>,
    pub(crate) rows: Vec<Row>,
    pub(crate) tests: Vec<Rectified>,
    pub(crate) hertz: f64,
    pub(crate) copper: f64,
    /// Stretch whose turns are the unit.
    pub(crate) unit: usize,
    /// Stretches of the windings that the leakage of others is counted against.
    pub(crate) reference: Vec<usize>,
    /// How the mains is put on: leads and links of the reading at the highest volts.
    pub(crate) drive: Option<Drive>,
}

impl Equations {
    /// Position of an unknown.
    pub(crate) fn place(&self, unknown: Unknown) -> Option<usize> {
        self.unknowns.iter().position(|of| *of == unknown)
    }

    pub(super) fn get(&self, x: &[f64], unknown: Unknown) -> f64 {
        self.place(unknown).map_or(0.0, |place| x[place])
    }

    /// The windings as the unknowns have them, copper warmer by some kelvins.
    pub(crate) fn stretches(&self, x: &[f64], kelvins: f64) -> Vec<Stretch> {
        let warm =
            (1.0 + COPPER * (self.copper + kelvins - 20.0)) / (1.0 + COPPER * (self.copper - 20.0));
        let layout = &self.layout;
        layout
            .stretches
            .iter()
            .enumerate()
            .map(|(s, &(from, to))| {
                let turns = self.turns(x, s);
                let winding = layout.winding_with(s);
                let whole: f64 = layout.windings[winding]
                    .stretches
                    .iter()
                    .map(|of| self.turns(x, *of).abs())
                    .sum();
                let share = if whole > 0.0 {
                    turns.abs() / whole
                } else {
                    0.0
                };
                let henries = self.get(x, Unknown::Leakage(winding)).max(0.0).sqrt();
                Stretch {
                    from,
                    to,
                    turns,
                    ohms: warm * self.get(x, Unknown::Ohms(s)),
                    reactance: 2.0 * PI * self.hertz * henries * share,
                }
            })
            .collect()
    }

    /// Turns of a stretch.
    pub(crate) fn turns(&self, x: &[f64], stretch: usize) -> f64 {
        if stretch == self.unit {
            return 1.0;
        }
        self.get(x, Unknown::Turns(stretch))
    }

    /// The core as the unknowns have it.
    pub(crate) fn iron(&self, x: &[f64]) -> Iron {
        Iron {
            susceptance: self.get(x, Unknown::Susceptance),
            conductance: self.get(x, Unknown::Conductance),
        }
    }

    /// What flows with something connected.
    pub(crate) fn flow(&self, x: &[f64], kelvins: f64, hookup: &Hookup) -> Option<Flow> {
        flow(
            self.layout.leads,
            &self.stretches(x, kelvins),
            self.iron(x),
            hookup,
        )
    }

    /// What a row would read; not a number where the model has no answer.
    ///
    /// A square of leakage may come out below nothing, by the readings' errors. What it predicts there goes on as straight
    /// as it comes from above.
    pub(crate) fn predict(&self, row: &Row, x: &[f64]) -> f64 {
        if matches!(row.predicts, Predicts::Given(_) | Predicts::Ohms(..)) {
            return self.predict_from(row, x);
        }
        let below: Vec<usize> = (0..x.len())
            .filter(|k| x[*k] < 0.0 && matches!(self.unknowns[*k], Unknown::Leakage(_)))
            .collect();
        if below.is_empty() {
            return self.predict_from(row, x);
        }
        let mut at = x.to_vec();
        for &k in &below {
            at[k] = 0.0;
        }
        let base = self.predict_from(row, &at);
        let mut found = base;
        for &k in &below {
            at[k] = -x[k];
            found -= self.predict_from(row, &at) - base;
            at[k] = 0.0;
        }
        found
    }

    fn predict_from(&self, row: &Row, x: &[f64]) -> f64 {
        let volts = 1.0 / (1.0 + self.get(x, Unknown::VoltsGain));
        let found = match &row.predicts {
            Predicts::Given(unknown) => Some(self.get(x, *unknown)),
            Predicts::Ohms(a, b) => self.layout.path(*a, *b).map(|path| {
                let sum: f64 = path
                    .iter()
                    .map(|(s, _)| self.get(x, Unknown::Ohms(*s)))
                    .sum();
                (sum + self.get(x, Unknown::Null)) * (1.0 + self.get(x, Unknown::OhmsGain))
            }),
            Predicts::Volts {
                hookup,
                across,
                warmer,
                existing,
            } => {
                let kelvins = warmer.map_or(0.0, |row| self.get(x, Unknown::Warmer(row)));
                let mut hookup = hookup.clone();
                if let Some(test) = warmer {
                    let share = self.get(x, Unknown::Load(*test));
                    hookup.loads.iter_mut().for_each(|load| load.2 *= share);
                }
                if let Some(load) = existing {
                    let siemens = self.get(x, Unknown::Existing(*load)).max(1e-12);
                    hookup.loads.push((across.0, across.1, 1.0 / siemens));
                }
                // Volts put in and volts read are of one meter: its shared error falls out.
                self.flow(x, kelvins, &hookup)
                    .map(|flow| flow.across(*across).size())
            }
            Predicts::Amps(hookup) => self
                .flow(x, 0.0, hookup)
                .map(|flow| flow.source.size() * volts * (1.0 + self.get(x, Unknown::AmpsGain))),
            Predicts::Watts(hookup) => self
                .flow(x, 0.0, hookup)
                .map(|flow| flow.watts() * volts * volts * (1.0 + self.get(x, Unknown::WattsGain))),
            Predicts::Mean {
                hookup,
                across,
                test,
            } => Some(self.tests[*test].mean(self.point(x, hookup, *across, *test))),
        };
        found.unwrap_or(f64::NAN)
    }

    /// Off-load volts, and the resistance and reactance behind them, at two leads.
    pub(crate) fn seen(
        &self,
        x: &[f64],
        hookup: &Hookup,
        across: (usize, usize),
        kelvins: f64,
    ) -> (f64, f64, f64) {
        let nan = (f64::NAN, f64::NAN, f64::NAN);
        let Some(open) = self
            .flow(x, kelvins, hookup)
            .map(|flow| flow.across(across))
        else {
            return nan;
        };
        // A load that takes about a tenth leaves enough digits for what is behind.
        let ohms = 10.0
            * self
                .layout
                .path(across.0, across.1)
                .map_or(1.0, |path| {
                    path.iter()
                        .map(|(s, _)| self.get(x, Unknown::Ohms(*s)).abs())
                        .sum::<f64>()
                })
                .max(1e-3);
        let mut loaded = hookup.clone();
        loaded.loads.push((across.0, across.1, ohms));
        let Some(under) = self
            .flow(x, kelvins, &loaded)
            .map(|flow| flow.across(across))
        else {
            return nan;
        };
        let behind =
            (open / under - super::phasor::Phasor::ONE) * super::phasor::Phasor::real(ohms);
        (open.size(), behind.re, behind.im)
    }

    /// What the mean behind a test's rectifier depends on.
    fn point(&self, x: &[f64], hookup: &Hookup, across: (usize, usize), test: usize) -> Point {
        let kelvins = self.get(x, Unknown::Warmer(test));
        let (open, ohms, reactance) = self.seen(x, hookup, across, kelvins);
        [
            open / (1.0 + self.get(x, Unknown::VoltsGain)),
            ohms,
            reactance,
            self.get(x, Unknown::Drop(test)),
            self.get(x, Unknown::Flatness),
            self.get(x, Unknown::Load(test)),
        ]
    }

    /// Brings the rectifier tests' straight lines to where the unknowns are.
    pub(crate) fn follow(&mut self, x: &[f64]) {
        let points: Vec<(usize, Point)> = self
            .rows
            .iter()
            .filter_map(|row| match &row.predicts {
                Predicts::Mean {
                    hookup,
                    across,
                    test,
                } => Some((*test, self.point(x, hookup, *across, *test))),
                _ => None,
            })
            .collect();
        for (test, point) in points {
            self.tests[test].follow(point);
        }
    }
}

/// How leads are driven, as a circuit; `None` where a lead is unknown.
pub(crate) fn hookup(unmarked: &Unmarked, drive: &Drive) -> Option<Hookup> {
    Some(Hookup {
        driven: pair(unmarked, &drive.driven)?,
        volts: drive.at.value,
        joined: drive
            .joined
            .iter()
            .map(|leads| pair(unmarked, leads))
            .collect::<Option<_>>()?,
        loads: Vec::new(),
    })
}

/// Gathers the equations of the readings that `takes` wants.
pub(crate) fn equations(
    unmarked: &Unmarked,
    hertz: f64,
    flatness: (f64, f64),
    takes: impl Fn(ReadingKind) -> bool,
) -> Option<Equations> {
    let layout = Layout::of(unmarked);
    if layout.windings.is_empty() {
        return None;
    }
    let drive = highest(unmarked);
    let reference = reference(unmarked, &layout, drive.as_ref());
    let unit = layout.windings[*reference.first()?].stretches[0];
    let mut made = Equations {
        unknowns: Vec::new(),
        start: Vec::new(),
        rows: Vec::new(),
        tests: Vec::new(),
        hertz,
        copper: unmarked.copper.nominal(),
        unit,
        reference: reference
            .iter()
            .flat_map(|winding| layout.windings[*winding].stretches.clone())
            .collect(),
        drive,
        layout,
    };
    made.known_before(unmarked, &reference, flatness);
    for reading in &unmarked.ohms {
        let (Some((a, b)), Some(reads)) = (pair(unmarked, &reading.between), &reading.reads) else {
            continue;
        };
        if takes(ReadingKind::Ohms) {
            made.read(
                ReadingKind::Ohms,
                reads,
                Predicts::Ohms(a, b),
                vec![reads.half],
            );
        }
    }
    if takes(ReadingKind::Volts) {
        for reading in &unmarked.volts {
            made.volts_row(
                unmarked,
                ReadingKind::Volts,
                &reading.drive,
                &reading.across,
                &reading.reads,
                None,
            );
        }
    }
    if takes(ReadingKind::Shorted) {
        for test in &unmarked.shorted {
            let (Some(mut hookup), Some(short)) =
                (hookup(unmarked, &test.drive), pair(unmarked, &test.short))
            else {
                continue;
            };
            hookup.joined.push(short);
            made.source_rows(
                ReadingKind::Shorted,
                &hookup,
                &test.drive,
                &test.amps,
                test.watts.as_ref(),
            );
        }
    }
    if takes(ReadingKind::NoLoad) {
        // The iron is not linear: the reading nearest to the mains counts, the others tell of its shape.
        let top = unmarked
            .no_load
            .iter()
            .max_by(|a, b| a.drive.at.value.total_cmp(&b.drive.at.value));
        if let Some(reading) = top
            && let Some(hookup) = hookup(unmarked, &reading.drive)
        {
            made.source_rows(
                ReadingKind::NoLoad,
                &hookup,
                &reading.drive,
                &reading.amps,
                reading.watts.as_ref(),
            );
        }
    }
    if takes(ReadingKind::Loaded) {
        made.loaded_rows(unmarked);
    }
    if takes(ReadingKind::Existing) {
        for (index, reading) in unmarked.existing.iter().enumerate() {
            made.volts_row(
                unmarked,
                ReadingKind::Existing,
                &reading.drive,
                &reading.across,
                &reading.unplugged,
                None,
            );
            made.unknown(Unknown::Existing(index), 1e-3);
            made.volts_row(
                unmarked,
                ReadingKind::Existing,
                &reading.drive,
                &reading.across,
                &reading.plugged,
                Some(index),
            );
        }
    }
    made.first_guess();
    Some(made)
}

/// The drive at the highest volts.
fn highest(unmarked: &Unmarked) -> Option<Drive> {
    let volts = unmarked.volts.iter().map(|reading| &reading.drive);
    let no_load = unmarked.no_load.iter().map(|reading| &reading.drive);
    let loaded = unmarked.loaded.iter().map(|reading| &reading.drive);
    volts
        .chain(no_load)
        .chain(loaded)
        .reduce(|best, next| {
            if next.at.value > best.at.value {
                next
            } else {
                best
            }
        })
        .cloned()
}

/// The windings that the mains is put on: as stated, else those that were driven at the highest volts.
fn reference(unmarked: &Unmarked, layout: &Layout, drive: Option<&Drive>) -> Vec<usize> {
    let stated: Vec<usize> = (0..layout.windings.len())
        .filter(|k| layout.windings[*k].is_primary)
        .collect();
    if !stated.is_empty() {
        return stated;
    }
    let mut found = Vec::new();
    if let Some(drive) = drive {
        let leads = [&drive.driven].into_iter().chain(&drive.joined);
        for leads in leads {
            if let Some((a, b)) = pair(unmarked, leads) {
                for lead in [a, b] {
                    if let Some(winding) = layout.winding_of(lead)
                        && !found.contains(&winding)
                    {
                        found.push(winding);
                    }
                }
            }
        }
    }
    if found.is_empty() { vec![0] } else { found }
}

impl Equations {
    fn unknown(&mut self, unknown: Unknown, start: f64) {
        if self.place(unknown).is_none() {
            self.unknowns.push(unknown);
            self.start.push(start);
        }
    }

    fn given(&mut self, unknown: Unknown, low: f64, high: f64, source: Source) {
        let value = 0.5 * (low + high);
        self.unknown(unknown, value);
        self.rows.push(Row {
            predicts: Predicts::Given(unknown),
            value,
            parts: vec![(0.5 * (high - low)).max(1e-12)],
            source,
        });
    }

    fn read(&mut self, kind: ReadingKind, reading: &Reading, predicts: Predicts, parts: Vec<f64>) {
        self.rows.push(Row {
            predicts,
            value: reading.value,
            parts,
            source: Source::Read {
                kind,
                span: reading.span.clone(),
                text: reading.text.clone(),
            },
        });
    }

    /// Ranges known before any reading.
    fn known_before(&mut self, unmarked: &Unmarked, reference: &[usize], flatness: (f64, f64)) {
        let null = &unmarked.null.value;
        self.given(Unknown::Null, null.low, null.high, Source::Range);
        let errors = &unmarked.errors;
        for (unknown, share) in [
            (Unknown::OhmsGain, errors.ohms.nominal()),
            (Unknown::VoltsGain, errors.volts.nominal()),
            (Unknown::AmpsGain, errors.amps.nominal()),
            (Unknown::WattsGain, errors.watts.nominal()),
        ] {
            self.given(unknown, -share, share, Source::Range);
        }
        let bridged = |of: &quietrail_job::model::unmarked::LoadedReading| {
            matches!(of.load, TestLoad::Bridge(_))
        };
        if unmarked.loaded.iter().any(bridged) {
            self.given(Unknown::Flatness, flatness.0, flatness.1, Source::Range);
        }
        for s in 0..self.layout.stretches.len() {
            self.unknown(Unknown::Ohms(s), 1.0);
            if s != self.unit {
                self.unknown(Unknown::Turns(s), 1.0);
            }
        }
        for winding in 0..self.layout.windings.len() {
            if !reference.contains(&winding) {
                self.unknown(Unknown::Leakage(winding), 0.0);
            }
        }
        if !unmarked.no_load.is_empty() {
            self.unknown(Unknown::Susceptance, 1e-4);
            self.unknown(Unknown::Conductance, 0.0);
        }
    }

    fn volts_row(
        &mut self,
        unmarked: &Unmarked,
        kind: ReadingKind,
        drive: &Drive,
        across: &(String, String),
        reads: &Reading,
        existing: Option<usize>,
    ) {
        let (Some(hookup), Some(across)) = (hookup(unmarked, drive), pair(unmarked, across)) else {
            return;
        };
        let ratio = reads.value / drive.at.value;
        let parts = vec![reads.half, ratio * drive.at.half];
        let predicts = Predicts::Volts {
            hookup,
            across,
            warmer: None,
            existing,
        };
        self.read(kind, reads, predicts, parts);
    }

    fn source_rows(
        &mut self,
        kind: ReadingKind,
        hookup: &Hookup,
        drive: &Drive,
        amps: &Reading,
        watts: Option<&Reading>,
    ) {
        let share = drive.at.half / drive.at.value;
        let parts = vec![amps.half, share * amps.value];
        self.read(kind, amps, Predicts::Amps(hookup.clone()), parts);
        if let Some(watts) = watts {
            let parts = vec![watts.half, 2.0 * share * watts.value];
            self.read(kind, watts, Predicts::Watts(hookup.clone()), parts);
        }
    }

    fn loaded_rows(&mut self, unmarked: &Unmarked) {
        for (index, reading) in unmarked.loaded.iter().enumerate() {
            // Every test has its place, so that numbers of tests and of readings are the same.
            self.tests.push(Rectified::of(&reading.load, self.hertz));
            let (Some(mut hookup), Some(across)) = (
                hookup(unmarked, &reading.drive),
                pair(unmarked, &reading.across),
            ) else {
                continue;
            };
            let warmer = &reading.warmer.value;
            self.given(
                Unknown::Warmer(index),
                warmer.low,
                warmer.high,
                Source::Range,
            );
            let ratio = reading.reads.value / reading.drive.at.value;
            match &reading.load {
                TestLoad::Resistor(ohms) => {
                    let share = ohms.half / ohms.value;
                    self.given(
                        Unknown::Load(index),
                        1.0 - share,
                        1.0 + share,
                        Source::Range,
                    );
                    hookup.loads.push((across.0, across.1, ohms.value));
                    let parts = vec![reading.reads.half, ratio * reading.drive.at.half];
                    let predicts = Predicts::Volts {
                        hookup,
                        across,
                        warmer: Some(index),
                        existing: None,
                    };
                    self.read(ReadingKind::Loaded, &reading.reads, predicts, parts);
                }
                TestLoad::Bridge(bridge) => {
                    let drop = &bridge.drop;
                    self.given(
                        Unknown::Drop(index),
                        drop.value.low,
                        drop.value.high,
                        Source::Range,
                    );
                    let (DirectLoad::Amperes(of) | DirectLoad::Ohms(of)) = &bridge.load;
                    let share = of.half / of.value;
                    self.given(
                        Unknown::Load(index),
                        1.0 - share,
                        1.0 + share,
                        Source::Range,
                    );
                    let parts = vec![
                        reading.reads.half,
                        DIRECT_ERROR * reading.reads.value,
                        ratio * reading.drive.at.half,
                    ];
                    let predicts = Predicts::Mean {
                        hookup,
                        across,
                        test: index,
                    };
                    self.read(ReadingKind::Loaded, &reading.reads, predicts, parts);
                }
            }
        }
    }
}
