//! A question's formula, taken apart into terms at one steady state.

use super::{Formula, Input, Label, Role, Statistic, Term, Warmth, Way};
use crate::finding::WhyNot;
use crate::heat;
use crate::lower::{Lowered, OUTLET, segment_leads};
use crate::noise::{self, Source};
use crate::question::{
    Ask, HALVES_LIFE, Question, SELF_HEATING, View, can_temperature, current_of, headroom, supplied,
};
use crate::spectrum::Spectrum;
use quietrail_engine::{GROUND, Node, Orbit, Output, Signal};
use quietrail_job::model::{
    Band, BoxRise, Capacitor, Density, Figure, LoadDraw, Part, PartKind, Regulator, SetPoint,
    Subject,
};
use quietrail_units::Unit;

/// Sources of noise that are told one by one.
const TOLD_OF_NOISE: usize = 6;
/// Share of the noise below which a source is only counted.
const TELLING_NOISE: f64 = 1e-3;
/// Harmonics that are told.
const HARMONICS: usize = 4;

/// A formula with its terms and what stands in them.
pub(super) struct Terms {
    pub(super) formula: Formula,
    pub(super) terms: Vec<Term>,
    pub(super) inputs: Vec<Input>,
}

/// What terms read from a cycle beyond what the question itself reads.
pub(super) fn readings(question: &Question) -> Vec<Output> {
    match &question.ask {
        Ask::Start(signal) => vec![Output::Mean(signal.clone())],
        _ => Vec::new(),
    }
}

/// The terms of a question.
///
/// # Errors
/// Why the question has no value.
pub(super) fn of(view: &View<'_>, question: &Question) -> Result<Terms, WhyNot> {
    let mut all = Draft {
        view,
        terms: Vec::new(),
        inputs: Vec::new(),
    };
    let formula = match &question.ask {
        Ask::Largest(outputs) => all.largest(outputs, &question.of),
        Ask::EitherWay(forward, backward) => all.either_way(forward, backward, &question.of),
        Ask::PeakToPeak(signal) => {
            let of = subject(&question.of);
            let peak = view.reading.get(&Output::Peak(signal.clone()));
            let valley = view.reading.get(&Output::Valley(signal.clone()));
            all.read(Role::Plus, Statistic::Peak, of.clone(), peak, "V");
            all.read(Role::Minus, Statistic::Valley, of, valley, "V");
            Formula::PeakToPeak
        }
        Ask::InBand(signal, band) => {
            let whole = view.reading.get(&Output::RippleRms(signal.clone()));
            all.read(
                Role::Plus,
                Statistic::RippleRms,
                subject(&question.of),
                whole,
                "V",
            );
            all.add(Role::Times, Label::BandShare(*band), view.share, "");
            Formula::InBand
        }
        Ask::Equivalent(signal, rating) => {
            let whole = view.reading.get(&Output::RippleRms(signal.clone()));
            all.read(
                Role::Plus,
                Statistic::RippleRms,
                subject(&question.of),
                whole,
                "A",
            );
            let share = Label::RatingShare {
                hertz: rating.hertz.nominal(),
                has_multipliers: !rating.multipliers.is_empty(),
            };
            all.add(Role::Times, share, view.share, "");
            all.input(
                format!("{}.rated.ripple", subject(&question.of)),
                &rating.amps,
            );
            Formula::Equivalent
        }
        Ask::Noise(nodes, band) => all.noise(*nodes, band, None)?,
        Ask::RippleAndNoise(nodes, band) => {
            let signal = Signal::Voltage(nodes.0, nodes.1);
            let ripple = view.share * view.reading.get(&Output::RippleRms(signal));
            all.noise(*nodes, band, Some(ripple))?
        }
        Ask::Headroom(part) => all.headroom(part)?,
        Ask::Temperature(part) => all.temperature(part)?,
        Ask::Life(part) => all.life(part)?,
        Ask::Power(part) => all.power(part),
        Ask::Start(_) => {
            all.add(Role::Plus, Label::Settles, view.share, "s");
            Formula::Start
        }
        Ask::HoldUp(..) => {
            all.add(Role::Plus, Label::Holds, view.share, "s");
            Formula::HoldUp
        }
        Ask::Supplied(part) => all.supplied(part)?,
        // No limit asks for these.
        Ask::Case(_) | Ask::Inside(_) => return Err(WhyNot::NotComputed),
        Ask::Not(why) => return Err(why.clone()),
    };
    Ok(Terms {
        formula,
        terms: all.terms,
        inputs: all.inputs,
    })
}

/// The strongest harmonics of a signal whose ripple is asked for: Hz and rms, before any band.
pub(super) fn harmonics(orbit: &Orbit<'_>, question: &Question, hertz: f64) -> Vec<(f64, f64)> {
    let (Ask::InBand(signal, _) | Ask::Equivalent(signal, _)) = &question.ask else {
        return Vec::new();
    };
    let spectrum = Spectrum::of(orbit, &signal.probe(orbit.system()), hertz);
    let mut all: Vec<(f64, f64)> = spectrum
        .harmonics()
        .map(|(n, rms)| (n as f64 * hertz, rms))
        .collect();
    all.sort_by(|a, b| b.1.total_cmp(&a.1));
    all.truncate(HARMONICS);
    all.retain(|(_, rms)| *rms > 0.0);
    all
}

struct Draft<'a> {
    view: &'a View<'a>,
    terms: Vec<Term>,
    inputs: Vec<Input>,
}

impl Draft<'_> {
    fn add(&mut self, role: Role, label: Label, value: f64, unit: &'static str) {
        self.terms.push(Term {
            label,
            role,
            value,
            unit,
        });
    }

    fn read(
        &mut self,
        role: Role,
        statistic: Statistic,
        of: String,
        value: f64,
        unit: &'static str,
    ) {
        self.add(role, Label::Read { statistic, of }, value, unit);
    }

    fn input<U: Unit>(&mut self, address: String, figure: &Figure<U>) {
        if self.inputs.iter().any(|known| known.address == address) {
            return;
        }
        self.inputs.push(Input {
            address,
            value: figure.nominal(),
            unit: U::SYMBOL,
            origin: figure.origin.clone(),
        });
    }

    fn largest(&mut self, outputs: &[(Output, f64)], of: &Subject) -> Formula {
        let is_one = outputs.len() == 1;
        let role = if is_one { Role::Plus } else { Role::OneOf };
        let lowered = self.view.lowered;
        for (number, (output, sign)) in outputs.iter().enumerate() {
            let value = sign * self.view.reading.get(output);
            let (mut statistic, unit, mut name) = told(lowered, output);
            if *sign < 0.0 {
                statistic = Statistic::Reverse;
            }
            // A rating of a part is read at the part, whatever nodes its ends are.
            if let Subject::Part(part) = of {
                name = if is_one {
                    part.clone()
                } else {
                    part_of_winding(lowered, part, output)
                        .unwrap_or_else(|| format!("{part}, {} of {}", number + 1, outputs.len()))
                };
            }
            self.read(role, statistic, name, value, unit);
        }
        if is_one {
            Formula::Read
        } else {
            Formula::Largest
        }
    }

    /// The one of two figures that decides.
    fn either_way(&mut self, forward: &Output, backward: &Output, of: &Subject) -> Formula {
        let (there, back) = (
            self.view.reading.get(forward),
            -self.view.reading.get(backward),
        );
        let (statistic, unit, _) = told(self.view.lowered, forward);
        self.read(Role::Plus, statistic, subject(of), there.max(back), unit);
        Formula::Read
    }

    fn noise(
        &mut self,
        nodes: (Node, Node),
        band: &Band,
        ripple: Option<f64>,
    ) -> Result<Formula, WhyNot> {
        let budget = noise::budget(self.view, nodes, band)?;
        if let Some(ripple) = ripple {
            self.add(Role::Square, Label::RippleInBand, ripple, "V");
        }
        let telling = |term: &&(Source, f64)| term.1 > TELLING_NOISE * budget.total;
        let told = budget
            .terms
            .iter()
            .take(TOLD_OF_NOISE)
            .take_while(telling)
            .count();
        for (source, rms) in &budget.terms[..told] {
            self.add(Role::Square, Label::Noise(source.clone()), *rms, "V");
        }
        let rest: f64 = budget.terms[told..]
            .iter()
            .map(|term| term.1 * term.1)
            .sum();
        if rest > 0.0 {
            let more = budget.terms[told..].iter();
            let count = more.filter(|term| term.1 > 0.0).count();
            self.add(Role::Square, Label::OtherNoise(count), rest.sqrt(), "V");
        }
        for (source, _) in &budget.terms[..told] {
            self.noise_inputs(source);
        }
        Ok(Formula::Noise)
    }

    /// The figures behind a regulator's noise.
    fn noise_inputs(&mut self, source: &Source) {
        let (part, is_reference) = match source {
            Source::Regulator(part) => (part, false),
            Source::Reference(part) => (part, true),
            Source::Divider(_) | Source::Thermal(_) | Source::Shot(_) => return,
        };
        let (noise, key) = match self.view.lowered.job.part(part).map(|part| &part.kind) {
            Some(PartKind::Regulator(regulator)) if is_reference => {
                (&regulator.reference_noise, "reference_noise")
            }
            Some(PartKind::Regulator(regulator)) => (&regulator.noise, "noise"),
            Some(PartKind::Shunt(shunt)) => (&shunt.noise, "noise"),
            _ => return,
        };
        let Some(noise) = noise.clone() else {
            return;
        };
        let address = |what: &str| format!("{part}.{key}.{what}");
        match &noise.density {
            Density::Flat { level, corner } => {
                self.input(address("density"), level);
                if let Some(corner) = corner {
                    self.input(address("corner"), corner);
                }
            }
            Density::Points(points) => {
                for (index, (_, level)) in points.iter().enumerate() {
                    self.input(address(&format!("points.{}", index + 1)), level);
                }
            }
            Density::Total { volts, .. } => self.input(address("total"), volts),
            Density::Share { share, .. } => self.input(address("total"), share),
        }
        if let Some(at) = &noise.at {
            self.input(address("at"), at);
        }
    }

    fn headroom(&mut self, part: &str) -> Result<Formula, WhyNot> {
        let sum = headroom(self.view, part)?;
        if let Some(PartKind::Transistor(transistor)) =
            self.view.lowered.job.part(part).map(|part| &part.kind)
        {
            let (plus, minus) = transistor.ends();
            let across = format!("{plus} to {minus}");
            self.read(Role::Plus, Statistic::Valley, across, sum.valley, "V");
            let saturation = Label::Saturation {
                part: part.to_owned(),
                amps: sum.amps,
            };
            self.add(Role::Minus, saturation, sum.dropout, "V");
            self.input(format!("{part}.saturation"), &transistor.saturation.0);
            return Ok(Formula::CollectorToEmitter);
        }
        let regulator = self.regulator(part)?;
        let ohms = regulator.output_resistance.nominal();
        // Under the return all terms are amounts: what stands from the upper node to the lower one.
        let input = match regulator.input() {
            (upper, "common") if upper == regulator.from => upper.to_owned(),
            (upper, lower) => format!("{upper} to {lower}"),
        };
        self.read(Role::Plus, Statistic::Valley, input, sum.valley, "V");
        let name = part.to_owned();
        let set = regulator.set.size();
        self.add(
            Role::Minus,
            Label::SetPoint { part: name.clone() },
            set,
            "V",
        );
        let drop = Label::OutputDrop {
            part: name.clone(),
            amps: sum.amps,
            ohms,
        };
        self.add(Role::Plus, drop, sum.amps * ohms, "V");
        if let Some((lead, _)) = &regulator.sense {
            let (upper, lower) = regulator.in_order(&regulator.into, lead);
            let across = format!("{upper} to {lower}");
            self.read(Role::Minus, Statistic::Mean, across, sum.lead, "V");
        }
        let dropout = Label::Dropout {
            part: name,
            amps: sum.amps,
        };
        self.add(Role::Minus, dropout, sum.dropout, "V");
        self.set_point(part, &regulator.set);
        self.input(
            format!("{part}.output_resistance"),
            &regulator.output_resistance,
        );
        for (index, (_, volts)) in regulator.dropout.iter().enumerate() {
            self.input(format!("{part}.dropout.{}", index + 1), volts);
        }
        Ok(Formula::Headroom)
    }

    fn set_point(&mut self, part: &str, set: &SetPoint) {
        let address = |key: &str| format!("{part}.set.{key}");
        match set {
            SetPoint::Fixed(volts) => self.input(address("fixed"), volts),
            SetPoint::AcrossUpper {
                reference,
                upper,
                lower,
                adjust,
                ..
            } => {
                self.input(address("reference"), reference);
                self.input(address("upper"), upper);
                self.input(address("lower"), lower);
                self.input(address("adjust"), adjust);
            }
            SetPoint::AcrossLower {
                reference,
                upper,
                lower,
            }
            | SetPoint::AcrossBoth {
                reference,
                upper,
                lower,
            } => {
                self.input(address("reference"), reference);
                self.input(address("upper"), upper);
                self.input(address("lower"), lower);
            }
            SetPoint::Trimmed { to, .. } => self.input(address("to"), to),
        }
    }

    /// Room, and the rise of the air in the box.
    fn air(&mut self) {
        let air = &self.view.lowered.job.air;
        self.add(Role::Plus, Label::Room, air.room.nominal(), "°C");
        self.input("room".to_owned(), &air.room);
        match &air.rise {
            BoxRise::Given(rise) => {
                self.add(Role::Plus, Label::BoxRise, rise.nominal(), "K");
                self.input("box.rise".to_owned(), rise);
            }
            BoxRise::Through(to_room) => {
                let watts = -heat::power(self.view.lowered, &self.view.reading, OUTLET);
                let warmth = warmth(watts, to_room);
                self.add(Role::Plus, Label::BoxHeat(warmth), warmth.kelvins(), "K");
                self.input("box.to_room".to_owned(), to_room);
            }
        }
    }

    fn sink(&mut self, name: &str) -> Result<(), WhyNot> {
        let job = &self.view.lowered.job;
        let Some(PartKind::Sink(plate)) = job.part(name).map(|part| &part.kind) else {
            return Err(WhyNot::Missing(format!("{name}.to_air")));
        };
        let sitting = job.parts.iter().filter(|part| heat::sits_on(part, name));
        let heats: Vec<String> = sitting.map(|part| part.name.clone()).collect();
        let watts = heats
            .iter()
            .map(|part| heat::power(self.view.lowered, &self.view.reading, part))
            .sum();
        let warmth = warmth(watts, &plate.to_air);
        let rise = Label::SinkRise {
            sink: name.to_owned(),
            heats,
            warmth,
        };
        self.add(Role::Plus, rise, warmth.kelvins(), "K");
        self.input(format!("{name}.to_air"), &plate.to_air);
        Ok(())
    }

    /// Rise of a part along one way of its heat.
    fn rise<U: Unit>(&mut self, part: &str, way: Way, watts: f64, key: &str, figure: &Figure<U>) {
        let warmth = warmth(watts, figure);
        let rise = Label::Rise {
            part: part.to_owned(),
            way,
            warmth,
        };
        self.add(Role::Plus, rise, warmth.kelvins(), "K");
        self.input(format!("{part}.{key}"), figure);
    }

    fn temperature(&mut self, name: &str) -> Result<Formula, WhyNot> {
        let missing = |what: &str| WhyNot::Missing(format!("{name}.{what}"));
        let lowered = self.view.lowered;
        let part = lowered.job.part(name).ok_or_else(|| missing("part"))?;
        let watts = heat::power(lowered, &self.view.reading, name);
        self.air();
        match &part.kind {
            PartKind::Sink(_) => self.sink(name)?,
            PartKind::Capacitor(capacitor) => self.self_heating(name, capacitor),
            PartKind::Regulator(regulator) => match &regulator.sink {
                Some(sink) => {
                    let to_case = regulator.junction_to_case.as_ref();
                    let to_case = to_case.ok_or_else(|| missing("junction_to_case"))?;
                    self.sink(sink)?;
                    let case_to_sink = &regulator.case_to_sink;
                    self.rise(name, Way::CaseToSink, watts, "case_to_sink", case_to_sink);
                    self.rise(
                        name,
                        Way::JunctionToCase,
                        watts,
                        "junction_to_case",
                        to_case,
                    );
                }
                None => {
                    let to_air = regulator.junction_to_air.as_ref();
                    let to_air = to_air.ok_or_else(|| missing("junction_to_air"))?;
                    self.rise(name, Way::JunctionToAir, watts, "junction_to_air", to_air);
                }
            },
            PartKind::Transistor(transistor) => match &transistor.sink {
                Some(sink) => {
                    let to_case = transistor.junction_to_case.as_ref();
                    let to_case = to_case.ok_or_else(|| missing("junction_to_case"))?;
                    self.sink(sink)?;
                    let case_to_sink = &transistor.case_to_sink;
                    self.rise(name, Way::CaseToSink, watts, "case_to_sink", case_to_sink);
                    let way = Way::JunctionToCase;
                    self.rise(name, way, watts, "junction_to_case", to_case);
                }
                None => {
                    let to_air = transistor.junction_to_air.as_ref();
                    let to_air = to_air.ok_or_else(|| missing("junction_to_air"))?;
                    self.rise(name, Way::JunctionToAir, watts, "junction_to_air", to_air);
                }
            },
            PartKind::Shunt(shunt) => {
                let to_air = shunt.junction_to_air.as_ref();
                let to_air = to_air.ok_or_else(|| missing("junction_to_air"))?;
                self.rise(name, Way::JunctionToAir, watts, "junction_to_air", to_air);
            }
            PartKind::Rectifier(rectifier) => {
                let thermal = rectifier.rated.thermal.as_ref();
                let thermal = thermal.ok_or_else(|| missing("rated.thermal"))?;
                let watts = heat::hottest_diode(lowered, &self.view.reading, name, rectifier)
                    .ok_or_else(|| missing("part"))?;
                let way = match &rectifier.sink {
                    Some(sink) => {
                        self.sink(sink)?;
                        Way::JunctionToSink
                    }
                    None => Way::JunctionToAir,
                };
                self.rise(name, way, watts, "thermal", thermal);
            }
            PartKind::Diode(diode) => {
                let thermal = diode.rated.thermal.as_ref();
                let thermal = thermal.ok_or_else(|| missing("rated.thermal"))?;
                self.rise(name, Way::JunctionToAir, watts, "thermal", thermal);
            }
            PartKind::Transformer(transformer) => match &transformer.to_air {
                Some(to_air) => self.rise(name, Way::CopperToAir, watts, "to_air", to_air),
                None => {
                    let rise = &transformer.rise;
                    let part = name.to_owned();
                    self.add(Role::Plus, Label::CopperRise { part }, rise.nominal(), "K");
                    self.input(format!("{name}.rise"), rise);
                }
            },
            PartKind::Fuse(_)
            | PartKind::Switch(_)
            | PartKind::Lamp(_)
            | PartKind::VariableTransformer(_)
            | PartKind::Resistor(_)
            | PartKind::Inductor(_)
            | PartKind::Wire(_)
            | PartKind::Load(_) => return Err(missing("rated.thermal")),
        }
        Ok(Formula::Temperature)
    }

    fn self_heating(&mut self, name: &str, capacitor: &Capacitor) {
        let lowered = self.view.lowered;
        let (Some(rating), Some(signal)) = (&capacitor.rated.ripple, current_of(lowered, name))
        else {
            return;
        };
        let amps = self.view.reading.get(&Output::Rms(signal));
        let rated = rating.amps.nominal();
        let heating = Label::SelfHeating {
            part: name.to_owned(),
            amps,
            rated,
            at_rated: SELF_HEATING,
        };
        let load = amps / rated;
        self.add(Role::Plus, heating, SELF_HEATING * load * load, "K");
        self.input(format!("{name}.rated.ripple"), &rating.amps);
    }

    fn life(&mut self, name: &str) -> Result<Formula, WhyNot> {
        let missing = || WhyNot::Missing(format!("{name}.rated.life"));
        let kind = self.view.lowered.job.part(name).map(|part| &part.kind);
        let Some(PartKind::Capacitor(capacitor)) = kind else {
            return Err(missing());
        };
        let (hours, celsius) = capacitor.rated.life.as_ref().ok_or_else(missing)?;
        self.air();
        self.self_heating(name, capacitor);
        // Air and self-heating make the can's temperature, not the life.
        for term in &mut self.terms {
            term.role = Role::Given;
        }
        let can = can_temperature(self.view, name)?;
        self.add(Role::Given, Label::Can, can, "°C");
        self.add(
            Role::Given,
            Label::RatedTemperature,
            celsius.nominal(),
            "°C",
        );
        let doublings = (celsius.nominal() - can) / HALVES_LIFE;
        let halves = HALVES_LIFE;
        self.add(Role::Given, Label::Doublings { halves }, doublings, "");
        self.add(Role::Given, Label::RatedLife, hours.nominal(), "h");
        self.input(format!("{name}.rated.life"), hours);
        Ok(Formula::Life)
    }

    fn power(&mut self, part: &str) -> Formula {
        let watts = heat::power(self.view.lowered, &self.view.reading, part);
        let part = part.to_owned();
        self.add(Role::Plus, Label::Power { part }, watts, "W");
        Formula::Power
    }

    fn supplied(&mut self, part: &str) -> Result<Formula, WhyNot> {
        let given = supplied(self.view, part)
            .ok_or_else(|| WhyNot::Missing(format!("a constant current of {part}")))?;
        let name = part.to_owned();
        self.read(Role::Plus, Statistic::Mean, name.clone(), given.amps, "A");
        self.add(Role::Over, Label::Asked { part: name }, given.asked, "A");
        if let Some(Part {
            kind: PartKind::Load(load),
            ..
        }) = self.view.lowered.job.part(part)
            && let LoadDraw::Current(asked) = &load.draws[self.view.lowered.state]
        {
            let state = &self.view.lowered.job.states[self.view.lowered.state].name;
            self.input(format!("load.{part}.{state}"), asked);
        }
        Ok(Formula::Supplied)
    }

    fn regulator(&self, part: &str) -> Result<Regulator, WhyNot> {
        match self.view.lowered.job.part(part).map(|part| &part.kind) {
            Some(PartKind::Regulator(regulator)) => Ok((**regulator).clone()),
            _ => Err(WhyNot::Missing(part.to_owned())),
        }
    }
}

impl Warmth {
    /// The rise that it makes, K.
    pub fn kelvins(self) -> f64 {
        self.watts * self.resistance
    }
}

fn warmth<U: Unit>(watts: f64, resistance: &Figure<U>) -> Warmth {
    Warmth {
        watts,
        resistance: resistance.nominal(),
    }
}

/// Statistic, unit and name of an output.
fn told(lowered: &Lowered, output: &Output) -> (Statistic, &'static str, String) {
    let (statistic, signal) = match output {
        Output::Mean(signal) => (Statistic::Mean, signal),
        Output::Rms(signal) => (Statistic::Rms, signal),
        Output::RippleRms(signal) => (Statistic::RippleRms, signal),
        Output::Peak(signal) => (Statistic::Peak, signal),
        Output::Valley(signal) => (Statistic::Valley, signal),
        Output::Power(element) => {
            let part = lowered.part_of(*element).unwrap_or_default().to_owned();
            return (Statistic::Power, "W", part);
        }
    };
    let (unit, name) = match signal {
        Signal::Voltage(plus, minus) => ("V", between(lowered, *plus, *minus)),
        Signal::Headroom(element) => (
            "V",
            lowered.part_of(*element).unwrap_or_default().to_owned(),
        ),
        Signal::Current(element, _) => (
            "A",
            lowered.part_of(*element).unwrap_or_default().to_owned(),
        ),
        Signal::Sum(_) => ("A", String::new()),
    };
    (statistic, unit, name)
}

fn between(lowered: &Lowered, plus: Node, minus: Node) -> String {
    if minus == GROUND {
        return lowered.name_of(plus);
    }
    format!("{} to {}", lowered.name_of(plus), lowered.name_of(minus))
}

fn subject(of: &Subject) -> String {
    match of {
        Subject::Node(name) | Subject::Part(name) => name.clone(),
        Subject::Pair(plus, minus) => format!("{plus} to {minus}"),
    }
}

/// The part of a tapped winding that a current flows in, by its leads: `T1 S1, start to ct`.
fn part_of_winding(lowered: &Lowered, part: &str, output: &Output) -> Option<String> {
    let Output::Rms(Signal::Current(element, number)) = output else {
        return None;
    };
    let PartKind::Transformer(transformer) = &lowered.job.part(part)?.kind else {
        return None;
    };
    let elements = lowered.parts.get(part)?;
    if elements.own.first() != Some(element) {
        return None;
    }
    let mut windings = elements.windings.iter();
    let (name, numbers) = windings.find(|(_, numbers)| numbers.contains(number))?;
    let winding = transformer.secondary.iter().find(|one| one.name == *name)?;
    let at = numbers.iter().position(|one| one == number)?;
    let (from, to) = segment_leads(winding).into_iter().nth(at)?;
    Some(format!("{part} {name}, {from} to {to}"))
}
