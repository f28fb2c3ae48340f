//! How the windings at hand can be joined: every legal series, parallel and centre-tapped join of the secondaries with what
//! it carries and the raw DC it gives; joins that fight themselves with the current they would draw; two primaries on
//! this mains; and the buck option for a mains that is too high.

mod term;

use super::figures::Fits;
use super::rectified::{Raw, raw};
use super::rows::Equations;
use super::{Doubt, Known};
use quietrail_job::model::{Job, LoadDraw, PartKind};
use term::{Term, arrangements, centre, subsets, text, volts, windings, wire};

/// What a join has to deliver.
#[derive(Clone, Debug, PartialEq)]
pub struct Wanted {
    /// Direct current, A.
    pub amps: f64,
    /// Reservoir, F.
    pub farads: f64,
    /// Whether the job's loads say the current; else it is as good as any.
    pub is_from_loads: bool,
    /// Drop of one diode, V: common practice, no source.
    pub drop: f64,
}

/// A join of secondaries that can be made.
#[derive(Clone, Debug, PartialEq)]
pub struct Join {
    /// `S1 + S2`, `(A | B) + C`; + series, | parallel.
    pub text: String,
    /// Whether two diodes on a centre tap are meant, else a bridge.
    pub is_centre_tapped: bool,
    /// Leads to tie together.
    pub ties: Vec<(String, String)>,
    /// Leads that go to the rectifier; of a centre tap its two outer ones.
    pub ends: (String, String),
    /// Lead, or leads tied together, that is the centre; where a centre tap is meant.
    pub centre: Option<String>,
    /// Leads of the secondaries that it leaves over: each is to be insulated by itself.
    pub unused: Vec<String>,
    /// Off-load volts between them, rms.
    pub open: f64,
    /// Resistance behind them, Ω.
    pub ohms: f64,
    /// What the rectifier gives: valley at the lowest mains, peak off load at the highest, V.
    pub valley: f64,
    /// Peak off load at the highest mains, V.
    pub peak: f64,
    /// Mean at nominal mains, V.
    pub mean: f64,
    /// rms in each winding at nominal mains, A.
    pub shares: Vec<(String, f64)>,
    /// How far windings side by side are from an even share, the largest; absent without any.
    pub sharing_error: Option<f64>,
    /// Heat in the copper, primaries included, W.
    pub copper: f64,
    /// Direct current with which copper is as hot as its class allows, by the hot run, A.
    pub direct_by_heat: Option<f64>,
    /// Direct current with which a winding carries its rated rms, where the job's transformer of that name rates it, A.
    pub direct_by_rating: Option<f64>,
}

impl Join {
    /// The smaller of what heat and ratings allow.
    pub fn direct_most(&self) -> Option<f64> {
        match (self.direct_by_heat, self.direct_by_rating) {
            (Some(heat), Some(rating)) => Some(heat.min(rating)),
            (heat, rating) => heat.or(rating),
        }
    }
}

/// Direct current that a winding of some rated rms gives, by the rms of the winding over the direct current.
pub fn direct_of(rated: f64, factor: f64) -> f64 {
    rated / factor
}

/// rms of a winding over the direct current behind a bridge and a reservoir: off-load volts, Ω behind them, hertz, farads,
/// amperes. `None` where the circuit does not come to rest.
pub fn winding_factor(open: f64, ohms: f64, hertz: f64, farads: f64, amps: f64) -> Option<f64> {
    let found = raw([open, ohms, 0.0, 0.0, 0.0], hertz, farads, amps)?;
    Some(found.rms / amps)
}

/// A join that fights itself.
#[derive(Clone, Debug, PartialEq)]
pub struct Refused {
    /// As above, a winding turned round with a minus.
    pub text: String,
    /// What would circulate with the mains on and nothing connected, A rms.
    pub circulating: f64,
}

/// Two primaries on this mains.
#[derive(Clone, Debug, PartialEq)]
pub struct Dual {
    /// Their names.
    pub names: (String, String),
    /// Leads tied for series: the finish of one to the start of the other.
    pub series_tie: (String, String),
    /// Mains for which series and parallel keep the flux that the readings were taken at, V.
    pub series_volts: f64,
    /// Half of that.
    pub parallel_volts: f64,
    /// Whether the mains of the job is the one for series, rather than side by side; absent where it is neither to within a
    /// tenth.
    pub is_series_here: Option<bool>,
    /// A low voltage on the first alone, V.
    pub low: f64,
    /// Across the free ends with it, right and wrong, V.
    pub right: f64,
    /// Wrong.
    pub wrong: f64,
    /// Mains current with one of them the wrong way round, in series and in parallel: only copper in its way, A.
    pub fight: (f64, f64),
}

/// A buck transformer for a mains too high for the marking.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Buck {
    /// Volts to take off at the highest mains, rms.
    pub volts: f64,
    /// Primary current that it carries, A, where volt-amperes are known.
    pub amps: Option<f64>,
    /// Its volt-amperes: those two together.
    pub volt_amperes: Option<f64>,
    /// Volts at the nominal mains with it in place.
    pub left: f64,
}

/// All of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Joins {
    /// What was asked for.
    pub wanted: Wanted,
    /// The mains of the job, V.
    pub mains: f64,
    /// Joins, the least copper heat first.
    pub joins: Vec<Join>,
    /// Joins that fight themselves.
    pub refused: Vec<Refused>,
    /// Secondaries whose sense is not read, which join nothing until it is.
    pub sense_open: Vec<String>,
    /// Two primaries.
    pub dual: Option<Dual>,
    /// Buck.
    pub buck: Option<Buck>,
}

/// Difference of off-load volts that windings side by side may have: as the job file's check, common practice, no source.
const UNEQUAL: f64 = 0.02;

/// What the loads of a job draw, and its largest reservoir.
pub fn wanted(job: &Job, amps: Option<f64>, farads: Option<f64>) -> Wanted {
    let in_state = |state: usize| -> f64 {
        job.parts
            .iter()
            .filter_map(|part| match &part.kind {
                PartKind::Load(load) => match &load.draws[state] {
                    LoadDraw::Current(amps) => Some(amps.value.high),
                    LoadDraw::Resistance(_) | LoadDraw::Power(_) => None,
                },
                _ => None,
            })
            .sum()
    };
    let loads = (0..job.states.len()).map(in_state).fold(0.0, f64::max);
    let reservoir = job
        .parts
        .iter()
        .filter_map(|part| match &part.kind {
            PartKind::Capacitor(capacitor) => Some(capacitor.value.nominal()),
            _ => None,
        })
        .fold(0.0, f64::max);
    let is_from_loads = amps.is_none() && loads > 0.0;
    let amps = amps.unwrap_or(if loads > 0.0 { loads } else { 1.0 });
    let stand_in = 4.7e-3 * amps;
    let farads = farads.unwrap_or(if reservoir > 0.0 { reservoir } else { stand_in });
    Wanted {
        amps,
        farads,
        is_from_loads,
        drop: 0.9,
    }
}

/// Every join of what is known.
pub fn joins(known: &Known, job: &Job, wanted: Wanted) -> Joins {
    let fits = &known.fits;
    let mut sense_open = Vec::new();
    let mut usable = Vec::new();
    for (k, winding) in known.windings.iter().enumerate() {
        if winding.is_primary || !winding.open.is_told {
            continue;
        }
        if winding.is_sense_told {
            usable.push(k);
        } else {
            sense_open.push(winding.name.clone());
        }
    }
    let singles_without_sense: Vec<usize> = (0..known.windings.len())
        .filter(|k| {
            let winding = &known.windings[*k];
            !winding.is_primary && winding.open.is_told && !winding.is_sense_told
        })
        .collect();
    let mut terms: Vec<Term> = singles_without_sense.into_iter().map(Term::One).collect();
    for (k, winding) in known.windings.iter().enumerate() {
        if winding.is_primary || !winding.open.is_told {
            continue;
        }
        let last = winding.leads.len() - 1;
        for from in 0..last {
            for to in from + 1..=last {
                if to - from < last {
                    terms.push(Term::Part(k, from, to));
                }
            }
        }
    }
    for chosen in subsets(&usable) {
        terms.extend(arrangements(&chosen));
    }
    let (mut found, mut refused) = (Vec::new(), Vec::new());
    for term in &terms {
        if let Some(fight) = fights(known, fits, term) {
            // Told once: of what is inside others as well, by itself.
            refused.push(fight);
            continue;
        }
        found.extend(join(known, job, fits, term, &wanted, None));
        if let Some(centre) = centre(known, term) {
            found.extend(join(known, job, fits, term, &wanted, Some(centre)));
        }
    }
    // Equal windings side by side the wrong way round are a short: said with its current, so that nobody tries.
    for pair in subsets(&usable).into_iter().filter(|pair| pair.len() == 2) {
        let volts = |k: usize| known.windings[k].open.value;
        if (volts(pair[0]) / volts(pair[1]) - 1.0).abs() <= UNEQUAL {
            refused.extend(turned(known, fits, pair[0], pair[1]));
        }
    }
    found.sort_by(|a, b| a.copper.total_cmp(&b.copper));
    let mut seen: Vec<String> = Vec::new();
    refused.retain(|one: &Refused| {
        let is_new = !seen.contains(&one.text);
        seen.push(one.text.clone());
        is_new
    });
    Joins {
        dual: dual(known, fits),
        buck: buck(known, job),
        wanted,
        mains: known.mains.0,
        joins: found,
        refused,
        sense_open,
    }
}

/// A term with unequal windings side by side, and what would circulate.
fn fights(known: &Known, fits: &Fits, term: &Term) -> Option<Refused> {
    let is_unequal = match term {
        Term::One(_) | Term::Part(..) => false,
        Term::Series(parts) => return parts.iter().find_map(|part| fights(known, fits, part)),
        Term::Parallel(parts) => {
            let first = volts(known, &parts[0]);
            parts
                .iter()
                .any(|part| (volts(known, part) / first - 1.0).abs() > UNEQUAL)
        }
    };
    is_unequal.then(|| {
        let mut ties = Vec::new();
        wire(known, term, &mut ties);
        Refused {
            text: text(known, term, false),
            circulating: circulating(known, fits, &ties, &windings(term)),
        }
    })
}

fn turned(known: &Known, fits: &Fits, a: usize, b: usize) -> Option<Refused> {
    let ends = |k: usize| {
        let leads = &known.windings[k].leads;
        (leads[0].clone(), leads[leads.len() - 1].clone())
    };
    let ((a1, a2), (b1, b2)) = (ends(a), ends(b));
    let amps = circulating(known, fits, &[(a1, b2), (a2, b1)], &[a, b]);
    amps.is_finite().then(|| Refused {
        text: format!("{} | -{}", known.windings[a].name, known.windings[b].name),
        circulating: amps,
    })
}

/// Largest current in the windings with the mains on and leads tied.
fn circulating(known: &Known, fits: &Fits, ties: &[(String, String)], of: &[usize]) -> f64 {
    let fit = fits.first();
    let equations = &fit.equations;
    let mut hookup = fits.mains.clone();
    hookup
        .joined
        .extend(ties.iter().filter_map(|tie| known.lead_pair(tie)));
    let Some(flow) = equations.flow(&fit.x, 0.0, &hookup) else {
        return f64::NAN;
    };
    of.iter()
        .map(|k| flow.stretches[equations.layout.windings[*k].stretches[0]].size())
        .fold(0.0, f64::max)
}

fn join(
    known: &Known,
    job: &Job,
    fits: &Fits,
    term: &Term,
    wanted: &Wanted,
    centre: Option<(Term, String)>,
) -> Option<Join> {
    let is_centre_tapped = centre.is_some();
    let fit = fits.first();
    let equations: &Equations = &fit.equations;
    let mut ties = Vec::new();
    let ends = wire(known, term, &mut ties);
    let mut hookup = fits.mains.clone();
    hookup
        .joined
        .extend(ties.iter().filter_map(|tie| known.lead_pair(tie)));
    let pair = known.lead_pair(&ends)?;
    let (open, ohms, reactance) = equations.seen(&fit.x, &hookup, pair, 0.0);
    if !(open.is_finite() && ohms.is_finite()) {
        return None;
    }
    // Two diodes on a centre tap: a half winding conducts at a time, through one diode. The halves are taken as equal.
    let (volts, behind, drops) = if let Some((half, _)) = &centre {
        let mut inner = Vec::new();
        let half = known.lead_pair(&wire(known, half, &mut inner))?;
        let (open, ohms, reactance) = equations.seen(&fit.x, &hookup, half, 0.0);
        (open, (ohms, reactance), 1.0)
    } else {
        (open, (ohms, reactance), 2.0)
    };
    let mains = &job.mains.voltage.value;
    let solve = |share: f64, amps: f64, farads: f64| -> Option<Raw> {
        raw(
            [
                volts * share,
                behind.0,
                behind.1,
                drops * wanted.drop / 2.0,
                job.mains.flatness.nominal(),
            ],
            known.mains.1,
            farads,
            amps,
        )
    };
    let nominal = solve(1.0, wanted.amps, wanted.farads)?;
    let lowest = solve(mains.low / mains.nominal, wanted.amps, wanted.farads)?;
    let highest = solve(mains.high / mains.nominal, 1e-3, wanted.farads)?;
    // Shares: as of a resistor that takes the same rms.
    let ohms_of_load = volts / nominal.rms.max(1e-9);
    let mut loaded = hookup.clone();
    loaded.loads.push((pair.0, pair.1, ohms_of_load));
    let flow = equations.flow(&fit.x, 0.0, &loaded)?;
    let through = flow.across(pair).size() / ohms_of_load;
    let per_half = if is_centre_tapped {
        std::f64::consts::FRAC_1_SQRT_2
    } else {
        1.0
    };
    let scale = nominal.rms * per_half / through;
    let shares: Vec<(String, f64)> = windings(term)
        .into_iter()
        .map(|k| {
            // All of a winding that is in use carries the same; of a part, what carries most.
            let own = &equations.layout.windings[k].stretches;
            let most = own.iter().map(|s| flow.stretches[*s].size());
            (
                known.windings[k].name.clone(),
                most.fold(0.0, f64::max) * scale,
            )
        })
        .collect();
    let mut copper = 0.0;
    let stretches = equations.stretches(&fit.x, 0.0);
    for (stretch, current) in stretches.iter().zip(&flow.stretches) {
        // A winding of the mains side carries both halves' pulses.
        let is_mains = equations
            .reference
            .iter()
            .any(|s| equations.layout.stretches[*s] == (stretch.from, stretch.to));
        let scale = if is_mains && is_centre_tapped {
            // Referred from a half winding: half the turns of what the linear load was across, the full pulses.
            nominal.rms / through / 2.0
        } else {
            scale
        };
        copper += (current.size() * scale).powi(2) * stretch.ohms;
    }
    let direct_by_heat = by_heat(known, copper, wanted.amps, |amps| {
        solve(1.0, amps, wanted.farads).map(|raw| raw.rms / nominal.rms)
    });
    let direct_by_rating = by_rating(known, job, &shares, wanted.amps);
    let centre = centre.map(|(_, leads)| leads);
    let is_used = |lead: &String| {
        [&ends.0, &ends.1].contains(&lead)
            || ties.iter().any(|(a, b)| a == lead || b == lead)
            || centre.as_ref() == Some(lead)
    };
    let unused = known
        .windings
        .iter()
        .filter(|winding| !winding.is_primary)
        .flat_map(|winding| &winding.leads)
        .filter(|lead| !is_used(lead))
        .cloned()
        .collect();
    Some(Join {
        text: text(known, term, false),
        is_centre_tapped,
        centre,
        unused,
        direct_by_heat,
        direct_by_rating,
        ties,
        ends,
        open,
        ohms,
        valley: lowest.valley,
        peak: highest.peak,
        mean: nominal.mean,
        sharing_error: sharing_error(term, &shares, known),
        shares,
        copper,
    })
}

/// Direct current with which all copper makes the heat that its class allows: `rms_over` gives the winding's rms at some
/// direct current over that at `amps`, for which `copper` is the heat at the temperature of the readings.
fn by_heat(
    known: &Known,
    copper: f64,
    amps: f64,
    rms_over: impl Fn(f64) -> Option<f64>,
) -> Option<f64> {
    let (watts, celsius) = known.hot.as_ref()?.copper_most?;
    let hot =
        crate::lower::copper_resistance(celsius) / crate::lower::copper_resistance(known.copper);
    let mut found = amps;
    // The rms rises a little slower than the direct current: a few rounds settle it.
    for _ in 0..6 {
        let heat = copper * hot * rms_over(found)?.powi(2);
        found *= (watts / heat).sqrt().clamp(0.2, 5.0);
    }
    (found.is_finite() && found > 0.0).then_some(found)
}

/// Direct current with which the first winding reaches what the job's transformer of that name rates it for.
fn by_rating(known: &Known, job: &Job, shares: &[(String, f64)], amps: f64) -> Option<f64> {
    let PartKind::Transformer(transformer) = &job.part(&known.name)?.kind else {
        return None;
    };
    shares
        .iter()
        .filter_map(|(name, rms)| {
            let winding = transformer.secondary.iter().find(|of| of.name == *name)?;
            Some(direct_of(winding.rated.as_ref()?.nominal(), rms / amps))
        })
        .reduce(f64::min)
}

/// Largest distance from an even share among windings side by side.
fn sharing_error(term: &Term, shares: &[(String, f64)], known: &Known) -> Option<f64> {
    match term {
        Term::One(_) | Term::Part(..) => None,
        Term::Series(parts) => parts
            .iter()
            .filter_map(|part| sharing_error(part, shares, known))
            .reduce(f64::max),
        Term::Parallel(parts) => {
            let amps: Vec<f64> = parts
                .iter()
                .filter_map(|part| {
                    let first = *windings(part).first()?;
                    let name = &known.windings[first].name;
                    shares
                        .iter()
                        .find(|(of, _)| of == name)
                        .map(|(_, amps)| *amps)
                })
                .collect();
            let mean = amps.iter().sum::<f64>() / amps.len() as f64;
            amps.iter()
                .map(|amps| (amps / mean - 1.0).abs())
                .reduce(f64::max)
        }
    }
}

/// Two primaries of nearly equal turns, both stated.
fn dual(known: &Known, fits: &Fits) -> Option<Dual> {
    let primaries: Vec<usize> = (0..known.windings.len())
        .filter(|k| known.windings[*k].is_primary)
        .collect();
    let [a, b] = primaries[..] else { return None };
    let fit = fits.first();
    let turns = |k: usize| -> f64 {
        fit.equations.layout.windings[k]
            .stretches
            .iter()
            .map(|s| fit.equations.turns(&fit.x, *s).abs())
            .sum()
    };
    let (one, other) = (turns(a), turns(b));
    if (one / other - 1.0).abs() > 0.05 {
        return None;
    }
    let is_in_series = fits.mains.joined.len() < 2;
    let volts = if is_in_series {
        known.mains.0
    } else {
        2.0 * known.mains.0
    };
    let low = 12.0;
    let ohms = (known.windings[a].ohms.value, known.windings[b].ohms.value);
    let last = |k: usize| known.windings[k].leads[known.windings[k].leads.len() - 1].clone();
    Some(Dual {
        names: (
            known.windings[a].name.clone(),
            known.windings[b].name.clone(),
        ),
        series_tie: (last(a), known.windings[b].leads[0].clone()),
        series_volts: volts,
        parallel_volts: 0.5 * volts,
        is_series_here: [(true, volts), (false, 0.5 * volts)]
            .into_iter()
            .find(|(_, of)| (known.mains.0 / of - 1.0).abs() < 0.1)
            .map(|(is_series, _)| is_series),
        low,
        right: low * (1.0 + other / one),
        wrong: low * (1.0 - other / one).abs(),
        fight: (
            volts / (ohms.0 + ohms.1),
            0.5 * volts * (1.0 / ohms.0 + 1.0 / ohms.1),
        ),
    })
}

fn buck(known: &Known, job: &Job) -> Option<Buck> {
    let is_high = known.doubts.iter().find_map(|doubt| match doubt {
        Doubt::Flux { highest, .. } => Some(*highest),
        _ => None,
    })?;
    let high = job.mains.voltage.value.high;
    let amps = known
        .hot
        .as_ref()
        .and_then(|hot| hot.volt_amperes.as_ref())
        .map(|range| range.high / known.mains.0);
    let volts = high - high / is_high;
    Some(Buck {
        volts,
        amps,
        volt_amperes: amps.map(|amps| amps * volts),
        left: job.mains.voltage.value.nominal * (1.0 - volts / high),
    })
}

impl Known {
    /// Numbers of two leads.
    fn lead_pair(&self, pair: &(String, String)) -> Option<(usize, usize)> {
        let at = |name: &str| self.lead_names.iter().position(|lead| lead == name);
        Some((at(&pair.0)?, at(&pair.1)?))
    }
}
