//! Part ratings as questions.

mod transistor;

use super::{Ask, Question, current_of, origin_words, reverse_voltages, unit_of};
use crate::lower::Lowered;
use quietrail_engine::{Output, Signal};
use quietrail_job::model::{Figure, Part, PartKind, Subject, What};
use quietrail_units::Unit;

/// Share of its draw below which a load counts as starved: a thousandth is left to the arithmetic.
const ALL_OF_IT: f64 = 0.999;

/// Every rating of a part that the job gives.
pub(super) fn of(lowered: &Lowered, part: &Part) -> Vec<Question> {
    let mut all = Ratings {
        lowered,
        part,
        questions: Vec::new(),
    };
    match &part.kind {
        PartKind::Fuse(fuse) => all.current("current", What::RmsCurrent, Some(&fuse.rated)),
        PartKind::Switch(switch) => all.current("current", What::RmsCurrent, switch.rated.as_ref()),
        PartKind::Capacitor(capacitor) => {
            all.across("voltage", What::Peak, capacitor.rated.volts.as_ref());
            let of = Subject::Part(part.name.clone());
            if let Some(signal) = super::voltage_of(lowered, &of) {
                let ask = largest(vec![Output::RippleRms(signal)]);
                all.max_of("AC voltage", What::Ripple, capacitor.rated.ac.as_ref(), ask);
            }
            if let Some(rating) = &capacitor.rated.ripple
                && let Some(signal) = current_of(lowered, &part.name)
            {
                let ask = Ask::Equivalent(signal, Box::new(rating.clone()));
                all.max("ripple current", What::RmsCurrent, &rating.amps, ask);
            }
        }
        PartKind::Resistor(resistor) => {
            let ask = Ask::Power(part.name.clone());
            all.max_of("power", What::Power, resistor.rated.as_ref(), ask);
        }
        PartKind::Inductor(inductor) => {
            all.current("current", What::RmsCurrent, inductor.rated.as_ref());
        }
        PartKind::Diode(diode) => all.diodes(&diode.rated),
        PartKind::Rectifier(rectifier) => all.diodes(&rectifier.rated),
        PartKind::Regulator(_) => all.regulator(),
        PartKind::Transistor(part) => transistor::transistor(&mut all, part),
        PartKind::Shunt(part) => transistor::shunt(&mut all, part),
        PartKind::Transformer(_) => all.transformer(),
        PartKind::Lamp(_)
        | PartKind::VariableTransformer(_)
        | PartKind::Wire(_)
        | PartKind::Sink(_) => {}
        PartKind::Load(load) => {
            all.across("voltage", What::Peak, load.volts.as_ref());
            all.supplied();
        }
    }
    all.questions
}

struct Ratings<'a> {
    lowered: &'a Lowered,
    part: &'a Part,
    questions: Vec<Question>,
}

impl Ratings<'_> {
    fn push<U: Unit>(
        &mut self,
        rating: &str,
        what: What,
        figure: &Figure<U>,
        is_max: bool,
        ask: Ask,
    ) {
        // A rating with a tolerance counts at its stricter end.
        let (min, max) = if is_max {
            (None, Some(figure.value.low))
        } else {
            (Some(figure.value.high), None)
        };
        self.questions.push(Question {
            name: format!("{} {rating}", self.part.name),
            of: Subject::Part(self.part.name.clone()),
            what,
            states: (0..self.lowered.job.states.len()).collect(),
            min,
            max,
            unit: unit_of(what),
            from: origin_words(figure),
            is_rating: true,
            is_quiet: false,
            ask,
        });
    }

    fn max<U: Unit>(&mut self, rating: &str, what: What, figure: &Figure<U>, ask: Ask) {
        self.push(rating, what, figure, true, ask);
    }

    fn max_of<U: Unit>(&mut self, rating: &str, what: What, figure: Option<&Figure<U>>, ask: Ask) {
        if let Some(figure) = figure {
            self.max(rating, what, figure, ask);
        }
    }

    /// A load gets what it asks for: told only where it does not.
    fn supplied(&mut self) {
        self.questions.push(Question {
            name: format!("{} supplied", self.part.name),
            of: Subject::Part(self.part.name.clone()),
            what: What::Current,
            states: (0..self.lowered.job.states.len()).collect(),
            min: Some(ALL_OF_IT),
            max: None,
            unit: "",
            from: "the load's own draw".to_owned(),
            is_rating: true,
            is_quiet: true,
            ask: Ask::Supplied(self.part.name.clone()),
        });
    }

    /// A rating of the current through the part.
    fn current<U: Unit>(&mut self, rating: &str, what: What, figure: Option<&Figure<U>>) {
        if let (Some(figure), Some(signal)) = (figure, current_of(self.lowered, &self.part.name)) {
            let ask = super::through(self.lowered, &self.part.name, what, signal);
            self.max(rating, what, figure, ask);
        }
    }

    /// A rating of the voltage across the part, whichever of its ends is named first.
    fn across<U: Unit>(&mut self, rating: &str, what: What, figure: Option<&Figure<U>>) {
        let of = Subject::Part(self.part.name.clone());
        if let (Some(figure), Some(signal)) = (figure, super::voltage_of(self.lowered, &of)) {
            let ask = Ask::EitherWay(Output::Peak(signal.clone()), Output::Valley(signal));
            self.max(rating, what, figure, ask);
        }
    }

    fn diodes(&mut self, rated: &quietrail_job::model::DiodeRatings) {
        let name = self.part.name.clone();
        let elements = self
            .lowered
            .parts
            .get(&name)
            .map_or(&[][..], |elements| &elements.own);
        let each = |what: What| {
            let outputs = elements
                .iter()
                .map(|&d| current_output(what, Signal::Current(d, 0)));
            largest(outputs.collect())
        };
        if elements.is_empty() {
            return;
        }
        let (average, peak) = (each(What::Current), each(What::PeakCurrent));
        let reverse = Ask::Largest(reverse_voltages(self.lowered, &name));
        self.max_of(
            "reverse voltage",
            What::ReverseVoltage,
            rated.reverse.as_ref(),
            reverse,
        );
        self.max_of(
            "average current",
            What::Current,
            rated.average.as_ref(),
            average,
        );
        self.max_of("peak current", What::PeakCurrent, rated.peak.as_ref(), peak);
        if rated.thermal.is_some() {
            let ask = Ask::Temperature(name);
            self.max_of("junction", What::Temperature, rated.junction.as_ref(), ask);
        }
    }

    fn regulator(&mut self) {
        let PartKind::Regulator(regulator) = &self.part.kind else {
            return;
        };
        let name = self.part.name.clone();
        let node = |name: &str| self.lowered.node(name);
        let pair = |(upper, lower)| node(upper).zip(node(lower));
        if let (Some(input), Some(across)) = (
            pair(regulator.input()),
            pair(regulator.in_order(&regulator.from, &regulator.into)),
        ) {
            let peak = |(upper, lower)| largest(vec![Output::Peak(Signal::Voltage(upper, lower))]);
            self.max_of(
                "input",
                What::Peak,
                regulator.rated.input.as_ref(),
                peak(input),
            );
            let rated = regulator.rated.differential.as_ref();
            self.max_of("input to output", What::Peak, rated, peak(across));
        }
        self.current(
            "output current",
            What::PeakCurrent,
            regulator.rated.current.as_ref(),
        );
        if regulator.minimum_load.value.high > 0.0
            && let Some(signal) = current_of(self.lowered, &name)
        {
            let ask = largest(vec![Output::Mean(signal)]);
            self.push(
                "least load",
                What::Current,
                &regulator.minimum_load,
                false,
                ask,
            );
        }
        let ask = Ask::Temperature(name);
        self.max_of(
            "junction",
            What::Temperature,
            regulator.rated.junction.as_ref(),
            ask,
        );
    }

    fn transformer(&mut self) {
        let PartKind::Transformer(transformer) = &self.part.kind else {
            return;
        };
        let name = self.part.name.clone();
        let Some(elements) = self.lowered.parts.get(&name) else {
            return;
        };
        let Some(&element) = elements.own.first() else {
            return;
        };
        for winding in &transformer.secondary {
            let numbers = elements
                .windings
                .get(&winding.name)
                .map_or(&[][..], Vec::as_slice);
            let outputs: Vec<Output> = numbers
                .iter()
                .map(|&k| Output::Rms(Signal::Current(element, k)))
                .collect();
            if outputs.is_empty() {
                continue;
            }
            let rating = format!("{} current", winding.name);
            self.max_of(
                &rating,
                What::RmsCurrent,
                winding.rated.as_ref(),
                largest(outputs),
            );
        }
        let ask = Ask::Temperature(name.clone());
        self.max_of(
            "copper",
            What::Temperature,
            transformer.copper_max.as_ref(),
            ask,
        );
        let heat = Ask::Power(name);
        self.max_of("heat", What::Power, transformer.watts_max.as_ref(), heat);
    }
}

fn largest(outputs: Vec<Output>) -> Ask {
    Ask::Largest(outputs.into_iter().map(|output| (output, 1.0)).collect())
}

fn current_output(what: What, signal: Signal) -> Output {
    match what {
        What::PeakCurrent => Output::Peak(signal),
        _ => Output::Mean(signal),
    }
}
