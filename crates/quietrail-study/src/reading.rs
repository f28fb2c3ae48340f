//! Figures of one steady state, by what they are figures of.

use crate::lower::{Lowered, OUTLET, STEP_LAMP};
use quietrail_engine::{ElementId, Orbit, Output, Signal};
use quietrail_job::model::PartKind;

/// Every figure that questions and heat need, in a fixed order.
#[derive(Clone, Debug, Default)]
pub struct OutputTable {
    outputs: Vec<Output>,
    /// Signals whose course over the cycle is kept as well, for drawings.
    drawn: Vec<Signal>,
}

/// The figures of a table in one steady state.
#[derive(Clone, Copy, Debug)]
pub struct Reading<'a> {
    table: &'a OutputTable,
    values: &'a [f64],
}

impl OutputTable {
    /// A table of what temperatures depend on: the powers of parts that get warm, and of lamps.
    pub fn of(lowered: &Lowered) -> Self {
        let mut table = Self::default();
        for (name, elements) in &lowered.parts {
            let kind = lowered.job.part(name).map(|part| &part.kind);
            let is_lamp = name == STEP_LAMP || matches!(kind, Some(PartKind::Lamp(_)));
            let gets_warm = matches!(
                kind,
                Some(
                    PartKind::Regulator(_)
                        | PartKind::Rectifier(_)
                        | PartKind::Diode(_)
                        | PartKind::Transistor(_)
                        | PartKind::Shunt(_)
                        | PartKind::Transformer(_)
                )
            );
            for &element in &elements.own {
                if gets_warm || is_lamp || name == OUTLET {
                    table.add(Output::Power(element));
                }
                if is_lamp {
                    table.add(Output::Rms(Signal::Current(element, 0)));
                }
            }
        }
        table
    }

    /// Adds a figure, once.
    pub fn add(&mut self, output: Output) {
        if !self.outputs.contains(&output) {
            self.outputs.push(output);
        }
    }

    /// Adds a signal whose course over the cycle is wanted for a drawing, once.
    pub fn draw(&mut self, signal: Signal) {
        if !self.drawn.contains(&signal) {
            self.drawn.push(signal);
        }
    }

    /// All signals to be drawn, in order.
    pub fn drawn(&self) -> &[Signal] {
        &self.drawn
    }

    /// All figures, in order.
    pub fn outputs(&self) -> &[Output] {
        &self.outputs
    }

    /// Reads them all from a cycle.
    pub fn read(&self, orbit: &Orbit<'_>) -> Vec<f64> {
        self.outputs
            .iter()
            .map(|output| value(orbit, output))
            .collect()
    }

    /// The table with its values.
    pub fn with<'a>(&'a self, values: &'a [f64]) -> Reading<'a> {
        Reading {
            table: self,
            values,
        }
    }
}

impl Reading<'_> {
    /// A figure of the table.
    ///
    /// # Panics
    /// If the table was made without it: a fault of the question's author, not of the job.
    pub fn get(&self, output: &Output) -> f64 {
        let index = self.table.outputs.iter().position(|known| known == output);
        self.values[index.expect("questions add what they read to the table")]
    }

    /// A figure, if the table was made with it.
    pub fn find(&self, output: &Output) -> Option<f64> {
        let index = self
            .table
            .outputs
            .iter()
            .position(|known| known == output)?;
        self.values.get(index).copied()
    }

    /// Mean power into an element, W.
    pub fn power(&self, element: ElementId) -> f64 {
        self.get(&Output::Power(element))
    }

    /// rms voltage of a resistor, V: power over current.
    pub fn rms_voltage(&self, resistor: ElementId) -> f64 {
        let amps = self.get(&Output::Rms(Signal::Current(resistor, 0)));
        if amps > 0.0 {
            self.power(resistor) / amps
        } else {
            0.0
        }
    }
}

pub(crate) fn value(orbit: &Orbit<'_>, output: &Output) -> f64 {
    let system = orbit.system();
    match output {
        Output::Mean(signal) => orbit.mean(&signal.probe(system)),
        Output::Rms(signal) => orbit.rms(&signal.probe(system)),
        Output::RippleRms(signal) => orbit.ripple_rms(&signal.probe(system)),
        Output::Peak(signal) => orbit.peak(&signal.probe(system)).value,
        Output::Valley(signal) => orbit.valley(&signal.probe(system)).value,
        Output::Power(element) => orbit.power(*element),
    }
}

/// Mean, valley, peak and ripple of a signal, in this order.
pub(crate) fn four(signal: &Signal) -> [Output; 4] {
    [
        Output::Mean(signal.clone()),
        Output::Valley(signal.clone()),
        Output::Peak(signal.clone()),
        Output::RippleRms(signal.clone()),
    ]
}
