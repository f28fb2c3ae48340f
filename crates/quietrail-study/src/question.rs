//! What is asked of a supply: the limits of the job, and the ratings of its parts as limits.

use crate::case;
use crate::finding::WhyNot;
use crate::heat;
use crate::lower::{Elements, Lowered, dropout_at, saturation};
use crate::noise;
use crate::reading::{OutputTable, Reading};
use quietrail_engine::{ElementId, GROUND, Node, Output, Signal};
use quietrail_job::model::{
    Band, Figure, Job, JoinTerm, Limit, LoadDraw, Origin, Part, PartKind, RippleRating, Subject,
    Transformer, What,
};
use quietrail_units::Unit;

mod kick;
mod ratings;
pub(crate) mod unrated;

/// One limit as a question to the engine.
#[derive(Clone, Debug)]
pub struct Question {
    /// The job's name of it, or the part's and the rating's.
    pub name: String,
    /// What it is about.
    pub of: Subject,
    /// The statistic.
    pub what: What,
    /// States in which it is asked.
    pub states: Vec<usize>,
    /// Lowest allowed, SI.
    pub min: Option<f64>,
    /// Highest allowed, SI.
    pub max: Option<f64>,
    /// Unit symbol.
    pub unit: &'static str,
    /// Who asks.
    pub from: String,
    /// Whether it is a part rating.
    pub is_rating: bool,
    /// Whether it is told only where it fails: what goes without saying.
    pub is_quiet: bool,
    /// How it is computed.
    pub ask: Ask,
}

/// How a question is computed from a steady state.
#[derive(Clone, Debug)]
pub enum Ask {
    /// The largest of some figures with signs.
    Largest(Vec<(Output, f64)>),
    /// How large something is whichever way it goes: the first figure, or the second one with its sign turned.
    EitherWay(Output, Output),
    /// Peak minus valley.
    PeakToPeak(Signal),
    /// rms of the mains-locked part inside a band.
    InBand(Signal, Band),
    /// rms noise between two nodes inside a band.
    Noise((Node, Node), Band),
    /// rms of ripple and noise together inside a band.
    RippleAndNoise((Node, Node), Band),
    /// Current that heats a capacitor as much at its rating's frequency.
    Equivalent(Signal, Box<RippleRating>),
    /// Input valley over output plus dropout, of a regulator.
    Headroom(String),
    /// Junction, copper or sink temperature of a part.
    Temperature(String),
    /// Temperature of a part's case.
    Case(String),
    /// Kelvins by which a part's junction is hotter than its case.
    Inside(String),
    /// Life of a capacitor.
    Life(String),
    /// Mean power into a part.
    Power(String),
    /// Seconds from switching on until a signal stays near its settled level.
    Start(Signal),
    /// Seconds from the mains going away until a signal passes a level, towards zero.
    HoldUp(Signal, f64),
    /// Share of what a load asks for that it gets.
    Supplied(String),
    /// Cannot be answered; why.
    Not(WhyNot),
}

/// What an answer may look at.
pub struct View<'a> {
    /// Names, values, temperatures' inputs.
    pub lowered: &'a Lowered,
    /// Figures of the steady state.
    pub reading: Reading<'a>,
    /// Air in the box.
    pub air: f64,
    /// What takes the cycle itself to know, question by question: the share of a signal's rms that a band or
    /// a rating keeps; seconds to start.
    pub share: f64,
}

/// Self-heating of an electrolytic at its rated ripple current, K (common practice, no source; makers allow 5
/// to 10).
pub(crate) const SELF_HEATING: f64 = 5.0;
/// Kelvins that halve the life of an aluminium electrolytic (the ten-degree rule, as makers' notes give it).
pub(crate) const HALVES_LIFE: f64 = 10.0;

/// All questions that a job asks, its own limits first.
pub fn questions(lowered: &Lowered) -> Vec<Question> {
    let job = &lowered.job;
    let mut all: Vec<Question> = job
        .limits
        .iter()
        .map(|limit| of_limit(lowered, limit))
        .collect();
    for part in &job.parts {
        all.extend(ratings::of(lowered, part).into_iter().map(|mut rating| {
            // A limit of the job may have the name that the rating would have: two figures, two names.
            if job.limits.iter().any(|limit| limit.name == rating.name) {
                rating.name.push_str(AS_RATED);
            }
            rating
        }));
    }
    all
}

/// What a rating's name ends in where the job has a limit of that name.
const AS_RATED: &str = " as rated";

impl Question {
    /// Whether it takes an integration from some instant on: no slope tells where it is worst.
    pub(crate) fn is_integrated(&self) -> bool {
        matches!(self.ask, Ask::Start(_) | Ask::HoldUp(..))
    }

    /// Adds the figures it reads to a table.
    pub fn register(&self, lowered: &Lowered, table: &mut OutputTable) {
        match &self.ask {
            Ask::Largest(outputs) => {
                for (output, _) in outputs {
                    table.add(output.clone());
                }
            }
            Ask::EitherWay(forward, backward) => {
                table.add(forward.clone());
                table.add(backward.clone());
            }
            Ask::PeakToPeak(signal) => {
                table.add(Output::Peak(signal.clone()));
                table.add(Output::Valley(signal.clone()));
            }
            Ask::InBand(signal, _) | Ask::Equivalent(signal, _) => {
                table.add(Output::RippleRms(signal.clone()));
            }
            Ask::Noise(..) => noise::register(lowered, table),
            Ask::RippleAndNoise((plus, minus), _) => {
                noise::register(lowered, table);
                table.add(Output::RippleRms(Signal::Voltage(*plus, *minus)));
            }
            Ask::Headroom(part) => {
                for output in headroom_outputs(lowered, part) {
                    table.add(output);
                }
            }
            Ask::Life(part) => register_can(lowered, part, table),
            Ask::Temperature(part) if is_capacitor(lowered, part) => {
                register_can(lowered, part, table);
            }
            Ask::Power(part) => {
                for &element in lowered
                    .parts
                    .get(part)
                    .map_or(&[][..], |elements| &elements.own)
                {
                    table.add(Output::Power(element));
                }
            }
            Ask::Supplied(part) => {
                if let Some(signal) = current_of(lowered, part) {
                    table.add(Output::Mean(signal));
                }
                if let Some(signal) = voltage_of(lowered, &Subject::Part(part.clone())) {
                    table.add(Output::Mean(signal));
                }
            }
            Ask::Start(signal) => {
                table.add(Output::Valley(signal.clone()));
                table.add(Output::Peak(signal.clone()));
                table.add(Output::Mean(signal.clone()));
            }
            Ask::HoldUp(..) | Ask::Temperature(_) | Ask::Case(_) | Ask::Inside(_) | Ask::Not(_) => {
            }
        }
    }

    /// Its value in a steady state, or why there is none. What comes to no number is none.
    pub fn value(&self, view: &View<'_>) -> Result<f64, WhyNot> {
        let value = self.formula(view)?;
        if self.what == What::ReverseVoltage
            && let Some(why) = kick::of(view.lowered, value)
        {
            return Err(why);
        }
        if value.is_finite() {
            Ok(value)
        } else {
            Err(WhyNot::NotComputed)
        }
    }

    fn formula(&self, view: &View<'_>) -> Result<f64, WhyNot> {
        let reading = &view.reading;
        Ok(match &self.ask {
            Ask::Largest(outputs) => outputs
                .iter()
                .map(|(output, sign)| sign * reading.get(output))
                .fold(f64::NEG_INFINITY, f64::max),
            Ask::EitherWay(forward, backward) => reading.get(forward).max(-reading.get(backward)),
            Ask::PeakToPeak(signal) => {
                reading.get(&Output::Peak(signal.clone()))
                    - reading.get(&Output::Valley(signal.clone()))
            }
            Ask::InBand(signal, _) | Ask::Equivalent(signal, _) => {
                view.share * reading.get(&Output::RippleRms(signal.clone()))
            }
            Ask::Noise(nodes, band) => noise::budget(view, *nodes, band)?.total,
            Ask::RippleAndNoise(nodes, band) => {
                let noise = noise::budget(view, *nodes, band)?.total;
                let signal = Signal::Voltage(nodes.0, nodes.1);
                let ripple = view.share * reading.get(&Output::RippleRms(signal));
                (noise * noise + ripple * ripple).sqrt()
            }
            Ask::Headroom(part) => headroom(view, part)?.headroom,
            Ask::Temperature(part) => temperature(view, part)?,
            Ask::Case(name) => {
                let part = part_of(view, name)?;
                let missing = || WhyNot::Missing(format!("{name}.junction_to_case"));
                case::case(view.lowered, reading, part, view.air).ok_or_else(missing)?
            }
            Ask::Inside(name) => {
                let part = part_of(view, name)?;
                let missing = || WhyNot::Missing(format!("{name}.junction_to_case"));
                case::inside(view.lowered, reading, part).ok_or_else(missing)?
            }
            Ask::Life(part) => life(view, part)?,
            Ask::Power(part) => heat::power(view.lowered, reading, part),
            Ask::Start(_) | Ask::HoldUp(..) if view.share.is_finite() => view.share,
            Ask::Start(_) => return Err(WhyNot::NeverStarts),
            Ask::HoldUp(..) => return Err(WhyNot::NotFollowed),
            Ask::Supplied(part) => {
                supplied(view, part).map_or(1.0, |given| given.amps / given.asked)
            }
            Ask::Not(why) => return Err(why.clone()),
        })
    }

    /// How far inside the limits a value is; negative outside.
    pub fn margin(&self, value: f64) -> f64 {
        let below = self.max.map_or(f64::INFINITY, |max| max - value);
        let above = self.min.map_or(f64::INFINITY, |min| value - min);
        below.min(above)
    }

    /// The margin as a part of the limit that it is measured from; `None` where that limit is zero.
    pub fn margin_share(&self, value: f64) -> Option<f64> {
        let below = self.max.map_or(f64::INFINITY, |max| max - value);
        let above = self.min.map_or(f64::INFINITY, |min| value - min);
        let (margin, limit) = if below < above {
            (below, self.max)
        } else {
            (above, self.min)
        };
        limit
            .filter(|limit| *limit != 0.0)
            .map(|limit| margin / limit.abs())
    }
}

/// What a load gets.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Given {
    /// Mean current that it asks for, A.
    pub asked: f64,
    /// Mean current that it gets, A.
    pub amps: f64,
    /// Mean voltage across it, V.
    pub volts: f64,
}

/// What a load of constant current gets; `None` for other loads, which take what there is.
pub fn supplied(view: &View<'_>, name: &str) -> Option<Given> {
    let PartKind::Load(load) = &view.lowered.job.part(name)?.kind else {
        return None;
    };
    let LoadDraw::Current(asked) = &load.draws[view.lowered.state] else {
        return None;
    };
    let asked = asked.nominal();
    let amps = view
        .reading
        .get(&Output::Mean(current_of(view.lowered, name)?));
    let across = voltage_of(view.lowered, &Subject::Part(name.to_owned()))?;
    let volts = view.reading.get(&Output::Mean(across));
    (asked > 0.0).then_some(Given { asked, amps, volts })
}

/// Where the headroom of a regulator comes from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Headroom {
    /// Lowest input against the return, V.
    pub valley: f64,
    /// What the set point asks for, less the drop in the output resistance, V.
    pub output: f64,
    /// What stands between output pin and sense leads, V: a lead's drop, a transistor's junction.
    pub lead: f64,
    /// Dropout at the output current, V.
    pub dropout: f64,
    /// Mean output current, A.
    pub amps: f64,
    /// What is left, V.
    pub headroom: f64,
}

/// The headroom of a regulator with its terms.
///
/// Measured against what the output *should* be, not against the sagging output: a regulator that has dropped
/// out is short by as much as the raw supply lacks.
pub fn headroom(view: &View<'_>, part: &str) -> Result<Headroom, WhyNot> {
    let missing = || WhyNot::Missing(part.to_owned());
    let kind = &view.lowered.job.part(part).ok_or_else(missing)?.kind;
    let outputs = headroom_outputs(view.lowered, part);
    let [valley, current, rest @ ..] = outputs.as_slice() else {
        return Err(missing());
    };
    let (valley, amps) = (view.reading.get(valley), view.reading.get(current));
    if let PartKind::Transistor(transistor) = kind {
        let (foot, ohms) = saturation(transistor);
        let dropout = foot + ohms * amps;
        return Ok(Headroom {
            valley,
            output: 0.0,
            lead: 0.0,
            dropout,
            amps,
            headroom: valley - dropout,
        });
    }
    let PartKind::Regulator(regulator) = kind else {
        return Err(missing());
    };
    let lead = rest.first().map_or(0.0, |mean| view.reading.get(mean));
    let output = regulator.set.size() - amps * regulator.output_resistance.nominal();
    let dropout = dropout_at(regulator, amps);
    Ok(Headroom {
        valley,
        output,
        lead,
        dropout,
        amps,
        headroom: valley - output - lead - dropout,
    })
}

/// Valley of the input (of a transistor from collector to emitter), mean of the pass current, and of a regulator that senses
/// elsewhere the mean between output and sense lead.
pub(crate) fn headroom_outputs(lowered: &Lowered, part: &str) -> Vec<Output> {
    let (Some(part), Some(element)) = (lowered.job.part(part), lowered.element(part)) else {
        return Vec::new();
    };
    let valley = |plus: &str, minus: &str| {
        let signal = Signal::Voltage(lowered.node(plus)?, lowered.node(minus)?);
        Some(Output::Valley(signal))
    };
    let current = Output::Mean(Signal::Current(element, 0));
    match &part.kind {
        PartKind::Regulator(regulator) => {
            let (upper, lower) = regulator.input();
            let Some(valley) = valley(upper, lower) else {
                return Vec::new();
            };
            let mut all = vec![valley, current];
            if let Some((lead, _)) = &regulator.sense {
                let (upper, lower) = regulator.in_order(&regulator.into, lead);
                if let (Some(upper), Some(lower)) = (lowered.node(upper), lowered.node(lower)) {
                    all.push(Output::Mean(Signal::Voltage(upper, lower)));
                }
            }
            all
        }
        PartKind::Transistor(transistor) => {
            let (plus, minus) = transistor.ends();
            valley(plus, minus).map_or(Vec::new(), |valley| vec![valley, current])
        }
        _ => Vec::new(),
    }
}

fn part_of<'a>(view: &View<'a>, name: &str) -> Result<&'a Part, WhyNot> {
    let missing = || WhyNot::Missing(format!("{name}.part"));
    view.lowered.job.part(name).ok_or_else(missing)
}

fn temperature(view: &View<'_>, name: &str) -> Result<f64, WhyNot> {
    let missing = |what: &str| WhyNot::Missing(format!("{name}.{what}"));
    let part = part_of(view, name)?;
    match &part.kind {
        PartKind::Sink(_) => heat::sink_temperature(view.lowered, &view.reading, name, view.air)
            .ok_or_else(|| missing("to_air")),
        PartKind::Capacitor(_) => can_temperature(view, name),
        kind => {
            let what = match kind {
                PartKind::Regulator(regulator) if regulator.sink.is_some() => "junction_to_case",
                PartKind::Transistor(transistor) if transistor.sink.is_some() => "junction_to_case",
                PartKind::Regulator(_) | PartKind::Transistor(_) | PartKind::Shunt(_) => {
                    "junction_to_air"
                }
                _ => "rated.thermal",
            };
            heat::temperature(view.lowered, &view.reading, part, view.air)
                .ok_or_else(|| missing(what))
        }
    }
}

fn is_capacitor(lowered: &Lowered, name: &str) -> bool {
    let part = lowered.job.part(name);
    matches!(part.map(|part| &part.kind), Some(PartKind::Capacitor(_)))
}

/// What the temperature of a capacitor's can is computed from.
fn register_can(lowered: &Lowered, name: &str, table: &mut OutputTable) {
    if let Some(signal) = current_of(lowered, name) {
        table.add(Output::Rms(signal));
    }
}

/// Temperature of a capacitor's can; none where nothing tells by how much its own ripple current heats it.
pub(crate) fn can_temperature(view: &View<'_>, name: &str) -> Result<f64, WhyNot> {
    let rating = match view.lowered.job.part(name).map(|part| &part.kind) {
        Some(PartKind::Capacitor(capacitor)) => capacitor.rated.ripple.as_ref(),
        _ => None,
    };
    let current =
        current_of(view.lowered, name).map(|signal| view.reading.get(&Output::Rms(signal)));
    match (rating, current) {
        (Some(rating), Some(current)) => {
            let load = current / rating.amps.nominal();
            Ok(view.air + SELF_HEATING * load * load)
        }
        _ => Err(WhyNot::Missing(format!("{name}.rated.ripple"))),
    }
}

/// Life in hours: `L0 2^((T0 − T)/10)`.
fn life(view: &View<'_>, name: &str) -> Result<f64, WhyNot> {
    let Some(Part {
        kind: PartKind::Capacitor(capacitor),
        ..
    }) = view.lowered.job.part(name)
    else {
        return Err(WhyNot::Missing(format!("{name}.rated.life")));
    };
    let Some((hours, celsius)) = &capacitor.rated.life else {
        return Err(WhyNot::Missing(format!("{name}.rated.life")));
    };
    let can = can_temperature(view, name)?;
    Ok(crate::life::life_at(
        hours.nominal(),
        celsius.nominal(),
        can,
    ))
}

fn of_limit(lowered: &Lowered, limit: &Limit) -> Question {
    Question {
        name: limit.name.clone(),
        of: limit.of.clone(),
        what: limit.what,
        states: limit.states.clone(),
        min: limit.min,
        max: limit.max,
        unit: unit_of(limit.what),
        from: limit.from.clone(),
        is_rating: false,
        is_quiet: false,
        ask: match apart_from_common(lowered, &limit.of) {
            Some(node) => Ask::Not(WhyNot::ApartFromCommon(node)),
            None => ask(lowered, (&limit.of, limit.what), limit.band)
                .or_else(|| hold_up(lowered, limit))
                .unwrap_or(Ask::Not(WhyNot::NotComputed)),
        },
    }
}

/// A node on its own that no path joins to common: it has no voltage against it.
fn apart_from_common(lowered: &Lowered, of: &Subject) -> Option<String> {
    let Subject::Node(name) = of else { return None };
    let node = lowered.node(name)?;
    (!lowered.reached_from_common().contains(&node)).then(|| name.clone())
}

/// How a limit of the job is computed; `None` for statistics that are not computed yet, or not of this
/// subject.
fn ask(lowered: &Lowered, (of, what): (&Subject, What), band: Option<Band>) -> Option<Ask> {
    let voltage = || voltage_of(lowered, of);
    let part = || match of {
        Subject::Part(name) => Some(name.clone()),
        Subject::Node(_) | Subject::Pair(..) => None,
    };
    let current = || current_of(lowered, &part()?);
    let one = |output: Output| Some(Ask::Largest(vec![(output, 1.0)]));
    match what {
        What::Mean => one(Output::Mean(voltage()?)),
        What::Valley => one(Output::Valley(voltage()?)),
        What::Peak => one(Output::Peak(voltage()?)),
        What::Ripple => match band {
            Some(band) => Some(Ask::InBand(voltage()?, band)),
            None => one(Output::RippleRms(voltage()?)),
        },
        What::RipplePeakToPeak => Some(Ask::PeakToPeak(voltage()?)),
        What::Headroom => Some(Ask::Headroom(part()?)),
        What::Current | What::RmsCurrent | What::PeakCurrent => {
            Some(through(lowered, &part()?, what, current()?))
        }
        What::ReverseVoltage => Some(Ask::Largest(reverse_voltages(lowered, &part()?))),
        What::Power => Some(Ask::Power(part()?)),
        What::Temperature => Some(Ask::Temperature(part()?)),
        What::Life => Some(Ask::Life(part()?)),
        What::Start => Some(Ask::Start(voltage()?)),
        What::Noise => Some(Ask::Noise(nodes_of(&voltage()?)?, band?)),
        What::RippleAndNoise => Some(Ask::RippleAndNoise(nodes_of(&voltage()?)?, band?)),
        What::Drift | What::HoldUp => None,
    }
}

/// How long something holds a level.
fn hold_up(lowered: &Lowered, limit: &Limit) -> Option<Ask> {
    Some(Ask::HoldUp(voltage_of(lowered, &limit.of)?, limit.down_to?))
}

/// Whether a reading of a part is one of what its rating is about: the same figure of the same current, voltage or power.
///
/// A current of a transformer is read in its primary, that of a rectifier for all its diodes; what a thermometer reads is neither
/// the junction nor the copper.
pub fn is_read_of(lowered: &Lowered, rating: &str, (of, what): (&Subject, What)) -> bool {
    let Subject::Part(name) = of else {
        return false;
    };
    let Some(part) = lowered.job.part(name) else {
        return false;
    };
    let rating = rating.strip_suffix(AS_RATED).unwrap_or(rating);
    let rated = ratings::of(lowered, part).into_iter();
    let mut rated = rated.filter(|one| one.name == rating && one.what == what);
    rated.any(|one| match &one.ask {
        Ask::Largest(rated) => {
            matches!(ask(lowered, (of, what), None), Some(Ask::Largest(read)) if read == *rated)
        }
        Ask::EitherWay(..) => matches!(ask(lowered, (of, what), None), Some(Ask::EitherWay(..))),
        Ask::Power(_) => matches!(part.kind, PartKind::Resistor(_)),
        // From its case, where the way from there is known.
        Ask::Temperature(_) => case::is_inside_known(part),
        _ => false,
    })
}

/// The two nodes of a voltage.
pub fn nodes_of(signal: &Signal) -> Option<(Node, Node)> {
    match signal {
        Signal::Voltage(plus, minus) => Some((*plus, *minus)),
        _ => None,
    }
}

/// Voltage of a node, a pair, or across a part.
pub fn voltage_of(lowered: &Lowered, of: &Subject) -> Option<Signal> {
    let node = |name: &str| lowered.node(name);
    Some(match of {
        Subject::Node(name) => Signal::Voltage(node(name)?, GROUND),
        Subject::Pair(plus, minus) => Signal::Voltage(node(plus)?, node(minus)?),
        Subject::Part(name) => {
            let (plus, minus) = ends(&lowered.job, name)?;
            Signal::Voltage(node(&plus)?, node(&minus)?)
        }
    })
}

/// Current of a part: of a rectifier what its diodes give to the positive output, of a transformer that of its
/// first primary, of a regulator that of its pass element.
pub fn current_of(lowered: &Lowered, name: &str) -> Option<Signal> {
    let elements = lowered.parts.get(name)?;
    let first = *elements.own.first()?;
    if elements.into > 0 {
        let feeding = elements.own[..elements.into].iter();
        return Some(Signal::Sum(
            feeding.map(|&d| (Signal::Current(d, 0), 1.0)).collect(),
        ));
    }
    if let Some(PartKind::Transformer(transformer)) = lowered.job.part(name).map(|part| &part.kind)
    {
        return into_primary(transformer, elements, first);
    }
    Some(Signal::Current(first, 0))
}

/// How a current through a part is computed. Which end of a wire or a resistor is named first is no matter of the builder's, so a
/// current counts whichever way it goes; what lets it through one way only has its sign from there.
pub fn through(lowered: &Lowered, name: &str, what: What, signal: Signal) -> Ask {
    let is_one_way = matches!(
        lowered.job.part(name).map(|part| &part.kind),
        Some(
            PartKind::Rectifier(_)
                | PartKind::Diode(_)
                | PartKind::Regulator(_)
                | PartKind::Transistor(_)
                | PartKind::Shunt(_)
        )
    );
    match what {
        What::RmsCurrent => Ask::Largest(vec![(Output::Rms(signal), 1.0)]),
        What::PeakCurrent if is_one_way => Ask::Largest(vec![(Output::Peak(signal), 1.0)]),
        What::PeakCurrent => Ask::EitherWay(Output::Peak(signal.clone()), Output::Valley(signal)),
        _ if is_one_way => Ask::Largest(vec![(Output::Mean(signal), 1.0)]),
        _ => Ask::EitherWay(Output::Mean(signal.clone()), Output::Mean(signal)),
    }
}

/// What goes into the primary as it is joined: the current of every winding that begins where it begins.
fn into_primary(transformer: &Transformer, elements: &Elements, id: ElementId) -> Option<Signal> {
    let selector = &transformer.selector;
    let (_, join) = selector
        .positions
        .iter()
        .find(|(at, _)| *at == selector.at)?;
    let mut terms = Vec::new();
    begins(&join.term, 1.0, &mut |winding, sign| {
        let number = elements.windings.get(winding).and_then(|all| all.first());
        terms.extend(number.map(|number| (Signal::Current(id, *number), sign)));
    });
    match terms.as_slice() {
        [(only, sign)] if *sign > 0.0 => Some(only.clone()),
        _ => Some(Signal::Sum(terms)),
    }
}

/// The windings at the start of a term, each with the sign of its own current there.
fn begins(term: &JoinTerm, sign: f64, found: &mut dyn FnMut(&str, f64)) {
    match term {
        JoinTerm::Winding { name, reversed } => found(name, if *reversed { -sign } else { sign }),
        JoinTerm::Series(terms) => {
            if let Some(first) = terms.first() {
                begins(first, sign, found);
            }
        }
        JoinTerm::Parallel(terms) => terms.iter().for_each(|term| begins(term, sign, found)),
    }
}

/// Reverse voltage of every diode of a part.
fn reverse_voltages(lowered: &Lowered, name: &str) -> Vec<(Output, f64)> {
    let Some(elements) = lowered.parts.get(name) else {
        return Vec::new();
    };
    elements
        .own
        .iter()
        .filter_map(|&element| match lowered.circuit.element(element) {
            quietrail_engine::Element::Diode { anode, cathode, .. } => {
                Some((Output::Valley(Signal::Voltage(*anode, *cathode)), -1.0))
            }
            _ => None,
        })
        .collect()
}

fn ends(job: &Job, name: &str) -> Option<(String, String)> {
    match &job.part(name)?.kind {
        PartKind::Regulator(part) => Some((part.into.clone(), part.ret.clone())),
        PartKind::Rectifier(part) => Some((part.into.clone(), part.ret.clone())),
        PartKind::Transistor(part) => {
            let (plus, minus) = part.ends();
            Some((plus.to_owned(), minus.to_owned()))
        }
        kind => {
            let between = kind.between()?;
            Some((between.plus.clone(), between.minus.clone()))
        }
    }
}

/// Unit symbol of a statistic.
pub fn unit_of(what: What) -> &'static str {
    what.kind().symbol()
}

/// Where a rating comes from, in the words of its origin.
fn origin_words<U: Unit>(figure: &Figure<U>) -> String {
    match &figure.origin {
        Origin::Catalogue { part, source } => format!("rating, {part}: {source}"),
        Origin::Default { why } => format!("rating, default: {why}"),
        Origin::Drawn | Origin::Fitted | Origin::Measured { .. } => "rating, job file".to_owned(),
    }
}
