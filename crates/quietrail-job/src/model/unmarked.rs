//! An unmarked transformer: its leads, and the readings taken of it. All SI.

use super::{Figure, Span};
use quietrail_units::{Celsius, Farads, Hertz, Kelvins, Kilograms, Metres, Ohms, Ratio, Volts};

/// A transformer that is not known yet.
#[derive(Clone, Debug, PartialEq)]
pub struct Unmarked {
    /// `T1`
    pub name: String,
    /// Where its table starts.
    pub span: Span,
    /// Leads, in the builder's order.
    pub leads: Vec<String>,
    /// Leads that the mains was on, as far as something other than ohms says so.
    pub primary: Vec<String>,
    /// What says so.
    pub primary_because: String,
    /// What the primary is marked for.
    pub marked: Option<(Figure<Volts>, Figure<Hertz>)>,
    /// Size of the core.
    pub core: Option<Core>,
    /// Highest copper temperature (insulation class).
    pub copper_max: Option<Figure<Celsius>>,
    /// Whether the windings are aluminium; else copper.
    pub is_aluminium: bool,
    /// What the ohmmeter reads with its leads touching.
    pub null: Figure<Ohms>,
    /// Copper temperature at the resistance readings.
    pub copper: Figure<Celsius>,
    /// Frequency of all AC readings; that of the mains where absent.
    pub frequency: Option<Figure<Hertz>>,
    /// Errors that all readings of a function share.
    pub errors: MeterErrors,
    /// Resistances.
    pub ohms: Vec<OhmsReading>,
    /// Off load.
    pub volts: Vec<VoltsReading>,
    /// Short-circuit tests.
    pub shorted: Vec<ShortTest>,
    /// No-load currents.
    pub no_load: Vec<NoLoadReading>,
    /// Under load.
    pub loaded: Vec<LoadedReading>,
    /// What the instrument draws.
    pub existing: Vec<ExistingReading>,
    /// The hot run.
    pub hot: Option<HotRun>,
    /// Insulation.
    pub insulation: Vec<InsulationReading>,
    /// Mains over a day.
    pub day: Vec<Figure<Volts>>,
}

/// One reading: what was read, and how far a reading of the same may differ from it by chance.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// As read.
    pub value: f64,
    /// Half of the range by chance: last digits, the mains moving.
    pub half: f64,
    /// Whether `half` is as given; else it is two of the last digit written.
    pub is_given: bool,
    /// As written.
    pub text: String,
    /// Where it stands.
    pub span: Span,
}

/// Errors of the meter that all readings of a function share, each from minus to plus this share.
#[derive(Clone, Debug, PartialEq)]
pub struct MeterErrors {
    /// Resistance.
    pub ohms: Figure<Ratio>,
    /// AC volts.
    pub volts: Figure<Ratio>,
    /// AC amperes.
    pub amps: Figure<Ratio>,
    /// Watts.
    pub watts: Figure<Ratio>,
}

/// Two leads.
pub type Leads = (String, String);

/// The size of a core.
#[derive(Clone, Debug, PartialEq)]
pub enum Core {
    /// Stamped laminations.
    Laminations {
        /// Width of the middle limb.
        tongue: Figure<Metres>,
        /// Thickness of the stack.
        stack: Figure<Metres>,
        /// Weight of the transformer.
        weight: Option<Figure<Kilograms>>,
    },
    /// A wound ring.
    Toroid {
        /// Outer diameter, winding included.
        outer: Figure<Metres>,
        /// Inner diameter.
        inner: Option<Figure<Metres>>,
        /// Height.
        height: Option<Figure<Metres>>,
        /// Weight of the transformer.
        weight: Option<Figure<Kilograms>>,
    },
}

/// A resistance between two leads; `None` reads open.
#[derive(Clone, Debug, PartialEq)]
pub struct OhmsReading {
    /// The leads.
    pub between: Leads,
    /// Ohms, the test leads still in it.
    pub reads: Option<Reading>,
    /// Where the table stands.
    pub span: Span,
}

/// A source on two leads, others tied together.
#[derive(Clone, Debug, PartialEq)]
pub struct Drive {
    /// The leads that the source is on.
    pub driven: Leads,
    /// Volts on them.
    pub at: Reading,
    /// Leads tied together.
    pub joined: Vec<Leads>,
}

/// Volts off load.
#[derive(Clone, Debug, PartialEq)]
pub struct VoltsReading {
    /// The source.
    pub drive: Drive,
    /// Leads that are read.
    pub across: Leads,
    /// Volts.
    pub reads: Reading,
}

/// A short-circuit test.
#[derive(Clone, Debug, PartialEq)]
pub struct ShortTest {
    /// The source.
    pub drive: Drive,
    /// Leads that are shorted.
    pub short: Leads,
    /// Amperes from the source.
    pub amps: Reading,
    /// Watts from the source.
    pub watts: Option<Reading>,
}

/// Current with nothing connected.
#[derive(Clone, Debug, PartialEq)]
pub struct NoLoadReading {
    /// The source.
    pub drive: Drive,
    /// Amperes from the source.
    pub amps: Reading,
    /// Watts from the source.
    pub watts: Option<Reading>,
}

/// Volts under load.
#[derive(Clone, Debug, PartialEq)]
pub struct LoadedReading {
    /// The source.
    pub drive: Drive,
    /// Leads that are loaded.
    pub across: Leads,
    /// What loads them.
    pub load: TestLoad,
    /// Volts: rms across the leads, or the mean across the reservoir.
    pub reads: Reading,
    /// Copper above that of the resistance readings.
    pub warmer: Figure<Kelvins>,
}

/// What loads a winding in a test.
#[derive(Clone, Debug, PartialEq)]
pub enum TestLoad {
    /// A resistor.
    Resistor(Reading),
    /// A bridge into a reservoir.
    Bridge(Box<TestBridge>),
}

/// A bridge into a reservoir.
#[derive(Clone, Debug, PartialEq)]
pub struct TestBridge {
    /// The reservoir.
    pub reservoir: Figure<Farads>,
    /// Drop of one diode.
    pub drop: Figure<Volts>,
    /// The load across the reservoir.
    pub load: DirectLoad,
}

/// A load on direct voltage.
#[derive(Clone, Debug, PartialEq)]
pub enum DirectLoad {
    /// Amperes, as read.
    Amperes(Reading),
    /// Ohms.
    Ohms(Reading),
}

/// An existing load, as the sag that it causes.
#[derive(Clone, Debug, PartialEq)]
pub struct ExistingReading {
    /// The source.
    pub drive: Drive,
    /// Leads that the load is on, and that are read.
    pub across: Leads,
    /// Volts without it.
    pub unplugged: Reading,
    /// Volts with it.
    pub plugged: Reading,
}

/// A hot run.
#[derive(Clone, Debug, PartialEq)]
pub struct HotRun {
    /// The winding.
    pub between: Leads,
    /// Before.
    pub cold: Reading,
    /// Copper then.
    pub cold_at: Figure<Celsius>,
    /// Resistance and seconds since switching off, rising times.
    pub after: Vec<(Reading, f64)>,
    /// Air at the end.
    pub room: Figure<Celsius>,
    /// Heat in the windings, W.
    pub copper_loss: Option<Reading>,
    /// Heat in the core, W.
    pub core_loss: Option<Reading>,
    /// What all secondaries carried, VA.
    pub carried: Option<Reading>,
    /// Where it stands.
    pub span: Span,
}

/// An insulation reading.
#[derive(Clone, Debug, PartialEq)]
pub struct InsulationReading {
    /// The leads; `core` and `screen` stand for themselves.
    pub between: Leads,
    /// Ohms.
    pub reads: Reading,
    /// Test voltage.
    pub at: Figure<Volts>,
    /// Whether it had been kept damp; `None` where not said.
    pub damp: Option<bool>,
}
