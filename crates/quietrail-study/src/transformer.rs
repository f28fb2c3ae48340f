//! An unmarked transformer, from its readings: the model that fits them, how far each figure may be from it, what does
//! not fit, and what to read next.
//!
//! 1. `layout`: leads become windings;
//! 2. `rows`: each reading becomes an equation with its own spread;
//! 3. `fit`: all are solved together, and errors are followed into every figure;
//! 4. `figures`, `heat`: what the builder wants to know;
//! 5. `doubt`: what contradicts, what is left open, what warns.

mod doubt;
mod figures;
mod fit;
mod guess;
mod heat;
mod iron;
mod joins;
mod layout;
mod network;
mod next;
mod phasor;
mod rectified;
mod regulation;
mod rows;
mod spread;

pub use doubt::{Doubt, InsulationAdvice, ReadingAt};
pub use figures::FigureOf;
pub use fit::Ranged;
pub use heat::{ALUMINIUM_K, COPPER_K, HotFound, InBox, insulation_life, rise};
pub use iron::{Curve, Flux, InsulationFound, Iron, MainsDay, Pattern, area_rule, weight_rule};
pub use joins::{
    Buck, Dual, Join, Joins, Refused, Wanted, direct_of, joins, wanted, winding_factor,
};
pub use next::{Narrows, Next};
pub use regulation::{Regulation, VoltAmperesBy, loaded_volts, regulation_of};
pub use rows::ReadingKind;

use figures::Fits;
use fit::{Fit, fit};
use quietrail_job::model::Job;
use quietrail_job::model::unmarked::{Core, Unmarked};
use rows::{Predicts, Source, equations};

/// An unmarked transformer as its readings show it.
#[derive(Clone, Debug)]
pub struct Known {
    /// `T1`
    pub name: String,
    /// The mains that figures are for: volts, hertz.
    pub mains: (f64, f64),
    /// Lowest and highest mains as the job has it, V.
    pub mains_range: (f64, f64),
    /// How the mains is put on: the driven leads and the links between leads.
    pub driven: ((String, String), Vec<(String, String)>),
    /// Copper temperature that resistances are for, °C.
    pub copper: f64,
    /// What says which winding the mains was on; empty where nothing but ohms does.
    pub primary_because: String,
    /// Windings.
    pub windings: Vec<WindingKnown>,
    /// Current with nothing connected, A.
    pub no_load: Option<Ranged>,
    /// Watts with nothing connected.
    pub no_load_watts: Option<Ranged>,
    /// What the instrument draws: leads, amperes at off-load volts.
    pub existing: Vec<((String, String), Ranged)>,
    /// The hot run.
    pub hot: Option<HotFound>,
    /// Volt-amperes by rules for the core's size, guides only: rule, value.
    pub core_rules: Vec<CoreRule>,
    /// What the core, the mains over a day and the insulation are, doubtful or not.
    pub iron: Iron,
    /// How far each secondary falls under the volt-amperes that are known.
    pub regulation: Vec<Regulation>,
    /// Doubts, the gravest first.
    pub doubts: Vec<Doubt>,
    /// What each kind of reading narrowed, in order.
    pub narrowed: Vec<Narrowed>,
    /// The reading that would narrow most.
    pub next: Option<Next>,
    /// The kinds of reading that there are.
    pub reads: Vec<ReadingKind>,
    /// Figures that were taken as default.
    pub defaults: Vec<&'static str>,
    pub(crate) fits: Fits,
    /// Names of the leads, in the builder's order.
    pub(crate) lead_names: Vec<String>,
}

/// A winding as the readings show it.
#[derive(Clone, Debug, PartialEq)]
pub struct WindingKnown {
    /// `P1`, `S1`; `W1` where nothing says which is which.
    pub name: String,
    /// Leads from one end to the other; with the sense told, the dot is at the first.
    pub leads: Vec<String>,
    /// Whether figures are those with the mains put on it; see [`Known::is_mains`].
    pub is_primary: bool,
    /// Whether which way round it is has been read.
    pub is_sense_told: bool,
    /// Copper, Ω.
    pub ohms: Ranged,
    /// Off-load volts at the mains; of a primary its share of the mains.
    pub open: Ranged,
    /// Its turns, those of the first winding of the mains side being 1.
    pub turns: Ranged,
    /// Resistance seen at it, Ω; none at a primary.
    pub source: Option<Ranged>,
    /// Leakage seen at it, H; none at a primary.
    pub leakage: Option<Ranged>,
    /// Taps: lead and share of the turns from the first lead.
    pub taps: Vec<(String, Ranged)>,
}

/// A rule for the volt-amperes of a core.
#[derive(Clone, Debug, PartialEq)]
pub struct CoreRule {
    /// What the rule goes by.
    pub by: RuleBy,
    /// What it gives at the job's frequency, VA.
    pub volt_amperes: f64,
    /// Frequency, Hz.
    pub hertz: f64,
}

/// What a core rule goes by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RuleBy {
    /// Area of the middle limb.
    Area,
    /// Weight of a toroid.
    Weight,
}

/// What was known after readings of a kind were added to those before.
#[derive(Clone, Debug, PartialEq)]
pub struct Narrowed {
    /// The kind added.
    pub kind: ReadingKind,
    /// How many there are.
    pub count: usize,
    /// Off-load volts.
    pub open: Widest,
    /// Resistance behind them.
    pub source: Widest,
    /// Leakage.
    pub leakage: Widest,
}

/// The widest range of one figure over the secondaries.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Widest {
    /// Half of it as a share of the value, over those that the readings tell.
    pub half_share: Option<f64>,
    /// How many they tell.
    pub told: usize,
    /// Of how many.
    pub of: usize,
}

/// Why there is no model.
#[derive(Clone, Debug, PartialEq)]
pub enum NoModel {
    /// No two leads with a reading between them.
    NoReadings,
    /// The equations do not come to rest.
    NoFit,
}

/// Makes the model of an unmarked transformer of a job.
///
/// # Errors
/// [`NoModel`].
pub fn know(unmarked: &Unmarked, job: &Job) -> Result<Known, NoModel> {
    let volts = job.mains.voltage.nominal();
    let hertz = unmarked
        .frequency
        .as_ref()
        .map_or(job.mains.frequency.nominal(), |figure| figure.nominal());
    let flatness = (job.mains.flatness.value.low, job.mains.flatness.value.high);
    let whole = equations(unmarked, hertz, flatness, |_| true).ok_or(NoModel::NoReadings)?;
    let reads = |of: &Source| matches!(of, Source::Read { .. });
    if !whole.rows.iter().any(|row| reads(&row.source)) {
        return Err(NoModel::NoReadings);
    }
    let first = fit(whole).ok_or(NoModel::NoFit)?;
    let (all, contradictions) = reconcile(first);
    let fits = Fits::of(all, unmarked, volts).ok_or(NoModel::NoReadings)?;
    let named = |pair: (usize, usize)| {
        (
            unmarked.leads[pair.0].clone(),
            unmarked.leads[pair.1].clone(),
        )
    };
    let air = crate::heat::hottest_air(job);
    let hot = unmarked.hot.as_ref().map(|run| {
        heat::read(
            run,
            unmarked.copper_max.as_ref().map(|most| most.nominal()),
            air,
            unmarked.is_aluminium,
        )
    });
    let no_load = Some(fits.ranged(FigureOf::NoLoad)).filter(|found| found.value.is_finite());
    let has_watts = unmarked
        .no_load
        .iter()
        .any(|reading| reading.watts.is_some());
    let no_load_watts = Some(fits.ranged(FigureOf::NoLoadWatts))
        .filter(|found| has_watts && found.value.is_finite());
    let core_rules = core_rules(unmarked, job.mains.frequency.nominal());
    let mut known = Known {
        name: unmarked.name.clone(),
        mains: (volts, job.mains.frequency.nominal()),
        mains_range: (job.mains.voltage.value.low, job.mains.voltage.value.high),
        driven: (
            named(fits.mains.driven),
            fits.mains.joined.iter().map(|pair| named(*pair)).collect(),
        ),
        copper: unmarked.copper.nominal(),
        primary_because: unmarked.primary_because.clone(),
        windings: windings(&fits, unmarked),
        no_load,
        no_load_watts,
        existing: existing(&fits, unmarked),
        hot,
        core_rules,
        iron: iron::found(unmarked, job),
        regulation: Vec::new(),
        doubts: contradictions,
        narrowed: narrowed(unmarked, hertz, flatness, volts),
        next: None,
        reads: reads_of(unmarked)
            .into_iter()
            .map(|(kind, _)| kind)
            .collect(),
        defaults: defaults(unmarked),
        fits,
        lead_names: unmarked.leads.clone(),
    };
    iron::doubts(unmarked, &mut known);
    known.regulation = regulation::of(&known);
    known.doubts.extend(hot_loss(unmarked, &known));
    leftovers(unmarked, &mut known);
    known.next = next::next(&known, unmarked, job);
    Ok(known)
}

impl Known {
    /// Whether the mains was on this winding, as far as something other than ohms says so.
    pub fn is_mains(&self, winding: &WindingKnown) -> bool {
        winding.is_primary && !self.primary_because.is_empty()
    }

    /// Whether readings contradict each other.
    pub fn is_contradicted(&self) -> bool {
        self.doubts
            .iter()
            .any(|doubt| matches!(doubt, Doubt::Contradiction { .. }))
    }
}

/// Kinds of readings that there are, in their order, and how many of each.
fn reads_of(unmarked: &Unmarked) -> Vec<(ReadingKind, usize)> {
    let counts = [
        (ReadingKind::Ohms, unmarked.ohms.len()),
        (ReadingKind::Volts, unmarked.volts.len()),
        (ReadingKind::Shorted, unmarked.shorted.len()),
        (ReadingKind::NoLoad, unmarked.no_load.len()),
        (ReadingKind::Loaded, unmarked.loaded.len()),
        (ReadingKind::Existing, unmarked.existing.len()),
        (ReadingKind::Hot, usize::from(unmarked.hot.is_some())),
        (ReadingKind::Insulation, unmarked.insulation.len()),
    ];
    counts.into_iter().filter(|(_, count)| *count > 0).collect()
}

/// Where readings contradict: the fits with one of them left out, each of which the others allow.
fn reconcile(first: Fit) -> (Vec<Fit>, Vec<Doubt>) {
    /// How many of the worst are tried.
    const TRIED: usize = 8;
    let against = first.contradictions();
    let Some(&(worst, times)) = against.first() else {
        return (vec![first], Vec::new());
    };
    let at = |row: usize| reading_at(&first, row);
    let mut agreeing = Vec::new();
    let mut fits = Vec::new();
    for &(row, _) in against.iter().take(TRIED) {
        if let Some(without) = without(&first, row)
            && without.contradictions().is_empty()
        {
            agreeing.push(at(row));
            fits.push(without);
        }
    }
    let doubt = Doubt::Contradiction {
        worst: at(worst),
        times,
        one_of: agreeing,
    };
    // Whichever is left out, the range of a figure holds what either way gives.
    let mut all = vec![first];
    all.append(&mut fits);
    (all, vec![doubt])
}

fn without(fit_of: &Fit, row: usize) -> Option<Fit> {
    let mut equations = fit_of.equations.clone();
    equations.rows.remove(row);
    equations.start.clone_from(&fit_of.x);
    fit(equations)
}

fn reading_at(fit_of: &Fit, row: usize) -> ReadingAt {
    let of = &fit_of.equations.rows[row];
    let others =
        without(fit_of, row).map_or(f64::NAN, |other| other.equations.predict(of, &other.x));
    let unit = match of.predicts {
        Predicts::Ohms(..) => "Ω",
        Predicts::Volts { .. } | Predicts::Mean { .. } => "V",
        Predicts::Amps(_) => "A",
        Predicts::Watts(_) => "W",
        Predicts::Given(_) => "",
    };
    match &of.source {
        Source::Read { kind, span, text } => ReadingAt {
            kind: *kind,
            span: span.clone(),
            text: text.clone(),
            others_say: others,
            unit,
        },
        Source::Range | Source::Nothing => ReadingAt {
            kind: ReadingKind::Ohms,
            span: 0..0,
            text: String::new(),
            others_say: others,
            unit,
        },
    }
}

fn windings(fits: &Fits, unmarked: &Unmarked) -> Vec<WindingKnown> {
    let layout = fits.layout();
    let equations = &fits.first().equations;
    (0..layout.windings.len())
        .map(|k| {
            let winding = &layout.windings[k];
            let is_primary = winding
                .stretches
                .iter()
                .any(|s| equations.reference.contains(s));
            let turns: f64 = winding
                .stretches
                .iter()
                .map(|s| equations.turns(&fits.first().x, *s))
                .sum();
            let is_sense_told = fits.is_sense_told(k);
            let mut leads: Vec<String> = winding
                .leads
                .iter()
                .map(|lead| unmarked.leads[*lead].clone())
                .collect();
            let mut taps: Vec<(String, Ranged)> = (1..winding.stretches.len())
                .map(|tap| (leads[tap].clone(), fits.ranged(FigureOf::Tap(k, tap))))
                .collect();
            // The dot is at the first lead.
            if turns < 0.0 {
                leads.reverse();
                taps.reverse();
                for (_, share) in &mut taps {
                    *share = Ranged {
                        value: 1.0 - share.value,
                        low: 1.0 - share.high,
                        high: 1.0 - share.low,
                        is_told: share.is_told,
                    };
                }
            }
            WindingKnown {
                name: winding.name.clone(),
                leads,
                is_primary,
                is_sense_told,
                ohms: fits.ranged(FigureOf::Ohms(k)),
                open: fits.ranged(FigureOf::Open(k)),
                turns: fits.ranged(FigureOf::Turns(k)),
                source: (!is_primary).then(|| fits.ranged(FigureOf::Source(k))),
                leakage: (!is_primary).then(|| fits.ranged(FigureOf::Leakage(k))),
                taps,
            }
        })
        .collect()
}

fn existing(fits: &Fits, unmarked: &Unmarked) -> Vec<((String, String), Ranged)> {
    unmarked
        .existing
        .iter()
        .enumerate()
        .map(|(index, reading)| {
            let siemens = fits.ranged(FigureOf::Existing(index));
            // At the off-load volts that were read, brought to the mains of the job.
            let volts = reading.unplugged.value * fits.mains.volts / reading.drive.at.value;
            let amperes = Ranged {
                value: siemens.value * volts,
                low: siemens.low * volts,
                high: siemens.high * volts,
                is_told: siemens.is_told,
            };
            (reading.across.clone(), amperes)
        })
        .collect()
}

/// The readings in their order, and what the ranges were after each kind.
fn narrowed(unmarked: &Unmarked, hertz: f64, flatness: (f64, f64), volts: f64) -> Vec<Narrowed> {
    // What narrows no winding comes after these.
    let narrows = |kind: &ReadingKind| !matches!(kind, ReadingKind::Hot | ReadingKind::Insulation);
    let mut all = Vec::new();
    for (kind, count) in reads_of(unmarked)
        .into_iter()
        .filter(|(kind, _)| narrows(kind))
    {
        let found = equations(unmarked, hertz, flatness, |of| of <= kind)
            .and_then(fit)
            .and_then(|one| Fits::of(vec![one], unmarked, volts));
        let widest = |of: fn(usize) -> FigureOf| -> Widest {
            let mut widest = Widest::default();
            let Some(fits) = &found else { return widest };
            let equations = &fits.first().equations;
            for (k, winding) in fits.layout().windings.iter().enumerate() {
                let is_mains = |s: &usize| equations.reference.contains(s);
                if winding.stretches.iter().any(is_mains) {
                    continue;
                }
                widest.of += 1;
                let ranged = fits.ranged(of(k));
                if ranged.is_told && ranged.value > 0.0 {
                    widest.told += 1;
                    let share = ranged.share();
                    widest.half_share = Some(widest.half_share.map_or(share, |of| of.max(share)));
                }
            }
            widest
        };
        all.push(Narrowed {
            kind,
            count,
            open: widest(FigureOf::Open),
            source: widest(FigureOf::Source),
            leakage: widest(FigureOf::Leakage),
        });
    }
    all
}

fn core_rules(unmarked: &Unmarked, hertz: f64) -> Vec<CoreRule> {
    match &unmarked.core {
        Some(Core::Laminations { tongue, stack, .. }) => vec![CoreRule {
            by: RuleBy::Area,
            volt_amperes: area_rule(tongue.nominal(), stack.nominal(), hertz),
            hertz,
        }],
        Some(Core::Toroid {
            weight: Some(weight),
            ..
        }) => vec![CoreRule {
            by: RuleBy::Weight,
            volt_amperes: weight_rule(weight.nominal(), hertz),
            hertz,
        }],
        Some(Core::Toroid { .. }) | None => Vec::new(),
    }
}

fn defaults(unmarked: &Unmarked) -> Vec<&'static str> {
    use quietrail_job::model::Origin;
    let mut all = Vec::new();
    let mut add = |origin: &Origin| {
        if let Origin::Default { why } = origin
            && !all.contains(why)
        {
            all.push(*why);
        }
    };
    add(&unmarked.null.origin);
    add(&unmarked.copper.origin);
    let errors = &unmarked.errors;
    for error in [&errors.ohms, &errors.volts, &errors.amps, &errors.watts] {
        add(&error.origin);
    }
    for loaded in &unmarked.loaded {
        add(&loaded.warmer.origin);
        if let quietrail_job::model::unmarked::TestLoad::Bridge(bridge) = &loaded.load {
            add(&bridge.drop.origin);
        }
    }
    all
}

/// A hot run whose heat is none that the windings make for what it carried.
fn hot_loss(unmarked: &Unmarked, known: &Known) -> Option<Doubt> {
    let run = unmarked.hot.as_ref()?;
    let (copper, carried) = (run.copper_loss.as_ref()?, run.carried.as_ref()?);
    let between = regulation::heat_between(known, carried.value, known.hot.as_ref()?.copper)?;
    let is_outside =
        copper.value + copper.half < between.0 || copper.value - copper.half > between.1;
    is_outside.then(|| Doubt::HotLoss {
        copper: copper.value,
        carried: carried.value,
        between,
        span: copper.span.clone(),
    })
}

/// Doubts about leads and senses.
fn leftovers(unmarked: &Unmarked, known: &mut Known) {
    let layout = known.fits.layout().clone();
    if unmarked.primary.is_empty() {
        let candidate = known
            .windings
            .iter()
            .filter(|winding| winding.ohms.is_told)
            .max_by(|a, b| a.ohms.value.total_cmp(&b.ohms.value));
        if let Some(candidate) = candidate {
            known.doubts.push(Doubt::PrimaryOnOhmsAlone {
                candidate: candidate.leads.join(" - "),
            });
        }
    }
    for winding in &layout.windings {
        if winding.is_order_open {
            known.doubts.push(Doubt::OrderOpen {
                winding: winding.name.clone(),
            });
        }
    }
    for winding in &known.windings {
        if !winding.is_sense_told {
            known.doubts.push(Doubt::SenseOpen {
                winding: winding.name.clone(),
            });
        }
    }
    for (index, lead) in unmarked.leads.iter().enumerate() {
        if layout.winding_of(index).is_none() {
            let is_open = unmarked.ohms.iter().any(|reading| {
                reading.reads.is_none()
                    && (reading.between.0 == *lead || reading.between.1 == *lead)
            });
            known.doubts.push(Doubt::Alone {
                lead: lead.clone(),
                is_open,
            });
        }
    }
    for reading in unmarked
        .ohms
        .iter()
        .filter(|reading| reading.reads.is_none())
    {
        let ends = layout::pair(unmarked, &reading.between);
        if let Some((a, b)) = ends
            && let (Some(one), Some(other)) = (layout.winding_of(a), layout.winding_of(b))
            && one == other
        {
            known.doubts.push(Doubt::OpenInside {
                between: reading.between.clone(),
                span: reading.span.clone(),
            });
        }
    }
}
