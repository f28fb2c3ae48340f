//! A job as meant: every figure that the physics needs is present, with its tolerance and its origin.
//!
//! The text as written, with spans and gaps, is in `written`; one function crosses over, and
//! nothing later re-checks. Names stay names here; numbering nodes is the bridge's work.

mod acceptance;
mod bench;
mod figure;
mod instrument;
mod limit;
mod mains;
mod noise;
mod oscillator;
mod part;
mod supply;
mod transistor;
pub mod unmarked;

pub use acceptance::{Acceptance, Counting, Spectrum, WarmUp};
pub use bench::{Dummy, InsteadOf, OnHand, Step, Through};
pub use figure::{Figure, Origin, Span};
pub use instrument::{
    Amplifier, Detector, Floor, Function, Instrument, InstrumentKind, Range, Reads,
};
pub use limit::{Band, Limit, Subject, What};
pub use mains::{Fuse, Lamp, Mains, Region, Switch, VariableTransformer};
pub use noise::{Density, Noise};
pub use oscillator::{Oscillator, Pin, Shifts};
pub use part::{
    Between, Capacitor, CapacitorRatings, Diode, DiodeCurve, DiodeRatings, Inductor, Load,
    LoadDraw, Rectifier, RectifierForm, Resistor, RippleRating, Sink, Wire, along,
};
pub use supply::{
    Across, Divider, Drift, Existing, Join, JoinTerm, Plate, Primary, Regulator, RegulatorRatings,
    Secondary, Selector, SetPoint, Tap, Transformer,
};

pub use transistor::{Shunt, ShuntSet, Transistor, TransistorRatings};

use crate::change::Address;
use quietrail_units::{Celsius, Kelvins, KelvinsPerWatt};
use std::sync::Arc;

/// Everything the builder wrote, as meant.
///
/// What a change does not touch is shared by a job and its changed copies: a search makes thousands of them.
#[derive(Clone, Debug, PartialEq)]
pub struct Job {
    /// What is being built.
    pub title: String,
    /// Whose mains practice picks the defaults of the safety rows.
    pub region: Region,
    /// The wall socket.
    pub mains: Mains,
    /// What the load may be doing, in the builder's order. Never empty.
    pub states: Vec<State>,
    /// The air.
    pub air: Air,
    /// All parts, in the order of the file.
    pub parts: Vec<Arc<Part>>,
    /// What the data sheets ask, in the order of the file. Part ratings are not in here.
    pub limits: Arc<[Limit]>,
    /// The oscillators that it feeds, where their figures are given.
    pub oscillators: Arc<[Oscillator]>,
    /// The instruments on the bench.
    pub instruments: Arc<[Instrument]>,
    /// What else is at hand on it.
    pub on_hand: Arc<OnHand>,
    /// Bring-up steps that differ from the derived ones.
    pub steps: Arc<[Step]>,
    /// Figures that go up and down together.
    pub same: Arc<[Same]>,
    /// Figures that are not as likely at one place of their range as at another.
    pub spreads: Arc<[Spread]>,
    /// Transformers that are not known yet, in the order of the file.
    pub unmarked: Arc<[unmarked::Unmarked]>,
}

/// Figures whose tolerances go up and down together: parts off one reel, windings of one wire. Each stands at the
/// same share of its own tolerance.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Same {
    /// Two or more; none is in two of these.
    pub figures: Vec<Address>,
    /// Why, as the builder says; may be empty.
    pub because: String,
}

/// Figures whose values crowd around the nominal as a normal distribution does.
#[derive(Clone, Debug, PartialEq)]
pub struct Spread {
    /// One or more; none is in two of these.
    pub figures: Vec<Address>,
    /// How many standard deviations the tolerance is, to either side.
    pub deviations: f64,
    /// How many standard deviations the values reach, to either side: nothing is further off.
    pub cut: f64,
    /// Why, as the builder says; may be empty.
    pub because: String,
}

/// One thing that the load may be doing.
#[derive(Clone, Debug, PartialEq)]
pub struct State {
    /// `cold`
    pub name: String,
    /// `oven heating from room temperature`
    pub words: String,
    /// Where it is declared.
    pub span: Span,
}

/// Air around the instrument and around the parts.
#[derive(Clone, Debug, PartialEq)]
pub struct Air {
    /// Room temperature.
    pub room: Figure<Celsius>,
    /// How much warmer the air inside the box is.
    pub rise: BoxRise,
}

/// Rise of the air inside the box above the room.
#[derive(Clone, Debug, PartialEq)]
pub enum BoxRise {
    /// Measured or guessed by the builder; [`Figure::origin`] tells.
    Given(Figure<Kelvins>),
    /// All heat in the box leaves through this thermal resistance.
    Through(Figure<KelvinsPerWatt>),
}

/// A part of the circuit. Names are unique in a job.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// `C1`
    pub name: String,
    /// Where its table starts.
    pub span: Span,
    /// What it is.
    pub kind: PartKind,
}

/// The kinds of part.
#[derive(Clone, Debug, PartialEq)]
#[allow(missing_docs, reason = "each variant is documented at its type")]
pub enum PartKind {
    Fuse(Fuse),
    Switch(Switch),
    Lamp(Lamp),
    VariableTransformer(VariableTransformer),
    Transformer(Transformer),
    Rectifier(Rectifier),
    Capacitor(Capacitor),
    Resistor(Resistor),
    Inductor(Inductor),
    Wire(Wire),
    Diode(Diode),
    Regulator(Box<Regulator>),
    Transistor(Box<Transistor>),
    Shunt(Box<Shunt>),
    Sink(Sink),
    Load(Load),
}

impl Job {
    /// All parts, in the order of the file.
    pub fn parts(&self) -> impl Iterator<Item = &Part> + Clone {
        self.parts.iter().map(Arc::as_ref)
    }

    /// All parts, each a copy of its own from now on.
    pub fn parts_mut(&mut self) -> impl Iterator<Item = &mut Part> {
        self.parts.iter_mut().map(Arc::make_mut)
    }

    /// The part of that name.
    pub fn part(&self, name: &str) -> Option<&Part> {
        self.parts().find(|part| part.name == name)
    }
}

impl PartKind {
    /// The two ends of a part that has just two; none of sources, regulators and sinks.
    pub fn between(&self) -> Option<&Between> {
        match self {
            PartKind::Fuse(part) => Some(&part.between),
            PartKind::Switch(part) => Some(&part.between),
            PartKind::Lamp(part) => Some(&part.between),
            PartKind::Capacitor(part) => Some(&part.between),
            PartKind::Resistor(part) => Some(&part.between),
            PartKind::Inductor(part) => Some(&part.between),
            PartKind::Wire(part) => Some(&part.between),
            PartKind::Diode(part) => Some(&part.between),
            PartKind::Shunt(part) => Some(&part.between),
            PartKind::Load(part) => Some(&part.between),
            PartKind::VariableTransformer(_)
            | PartKind::Transformer(_)
            | PartKind::Rectifier(_)
            | PartKind::Regulator(_)
            | PartKind::Transistor(_)
            | PartKind::Sink(_) => None,
        }
    }
}
