//! Two-ended parts, rectifiers, sinks and loads.

use super::{Figure, Span};
use quietrail_units::{
    Amperes, Celsius, Farads, Henries, Hertz, Hours, KelvinsPerWatt, Kilograms, Ohms, Ratio,
    Seconds, Siemens, Volts, Watts,
};

/// The two ends of a part, as node names. `at = "raw"` in the job is `["raw", "common"]` here.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Between {
    /// First end: plus, anode, live.
    pub plus: String,
    /// Second end.
    pub minus: String,
    /// Where the job says so.
    pub span: Span,
}

/// A capacitor with its series resistance and leakage.
#[derive(Clone, Debug, PartialEq)]
pub struct Capacitor {
    /// Its two ends.
    pub between: Between,
    /// Capacitance.
    pub value: Figure<Farads>,
    /// Equivalent series resistance (from tan δ at a frequency where the job gives that).
    pub esr: Figure<Ohms>,
    /// Leakage as a conductance; 0 unless given.
    pub leakage: Figure<Siemens>,
    /// Capacitance that the drawing asks for, F, where that stands beside what was fitted or measured.
    pub drawn: Option<f64>,
    /// Series resistance of the drawing, Ω, likewise.
    pub drawn_esr: Option<f64>,
    /// Capacitance at temperatures over that at 20 °C: (°C, factor), rising; empty where not given.
    pub value_at: Vec<(f64, f64)>,
    /// Series resistance likewise.
    pub esr_at: Vec<(f64, f64)>,
    /// Whether its first end has to be the upper one, as of an electrolytic.
    pub is_polar: bool,
    /// How long it lay without voltage, if given.
    pub unused: Option<Figure<Hours>>,
    /// What it is rated for.
    pub rated: CapacitorRatings,
}

impl Capacitor {
    /// Capacitance and series resistance at a temperature of the air, over those at 20 °C.
    pub fn factors_at(&self, celsius: f64) -> (f64, f64) {
        (along(&self.value_at, celsius), along(&self.esr_at, celsius))
    }
}

/// A factor along straight lines through its points; flat beyond them, one where there are none.
pub fn along(points: &[(f64, f64)], celsius: f64) -> f64 {
    match points.iter().position(|(at, _)| *at >= celsius) {
        Some(0) => points[0].1,
        Some(next) => {
            let ((a, low), (b, high)) = (points[next - 1], points[next]);
            low + (high - low) * (celsius - a) / (b - a)
        }
        None => points.last().map_or(1.0, |(_, last)| *last),
    }
}

/// What a capacitor is rated for. Absent ratings are not judged.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CapacitorRatings {
    /// Working voltage.
    pub volts: Option<Figure<Volts>>,
    /// Alternating voltage, rms.
    pub ac: Option<Figure<Volts>>,
    /// Ripple current and its frequency.
    pub ripple: Option<RippleRating>,
    /// Life in hours at a temperature: `3000 h at 105 °C`.
    pub life: Option<(Figure<Hours>, Figure<Celsius>)>,
}

/// Ripple current rating at its frequency.
#[derive(Clone, Debug, PartialEq)]
pub struct RippleRating {
    /// Allowed rms current.
    pub amps: Figure<Amperes>,
    /// Frequency of the rating.
    pub hertz: Figure<Hertz>,
    /// Multipliers by frequency (Hz, factor), ascending; empty: none applied, and it is said.
    pub multipliers: Vec<(f64, f64)>,
}

/// A resistor.
#[derive(Clone, Debug, PartialEq)]
pub struct Resistor {
    /// Its two ends.
    pub between: Between,
    /// Resistance, 0 allowed (a link).
    pub value: Figure<Ohms>,
    /// Power rating.
    pub rated: Option<Figure<Watts>>,
}

/// An inductor with its winding resistance.
#[derive(Clone, Debug, PartialEq)]
pub struct Inductor {
    /// Its two ends.
    pub between: Between,
    /// Inductance.
    pub value: Figure<Henries>,
    /// Winding resistance.
    pub resistance: Figure<Ohms>,
    /// Current rating.
    pub rated: Option<Figure<Amperes>>,
}

/// A length of wire or track as a resistance.
#[derive(Clone, Debug, PartialEq)]
pub struct Wire {
    /// Its two ends.
    pub between: Between,
    /// Resistance at 20 °C, given or from length and cross-section.
    pub resistance: Figure<Ohms>,
}

/// A single diode: anode at `plus`, cathode at `minus`.
#[derive(Clone, Debug, PartialEq)]
pub struct Diode {
    /// Its two ends.
    pub between: Between,
    /// Forward curve.
    pub curve: DiodeCurve,
    /// What it is rated for.
    pub rated: DiodeRatings,
}

/// The forward curve of a diode.
#[derive(Clone, Debug, PartialEq)]
#[allow(clippy::large_enum_variant, reason = "a job has a handful of diodes")]
pub enum DiodeCurve {
    /// i = Is (exp(vj/nVt) − 1) + G vj, v = vj + R i.
    Law {
        /// Is at `at`.
        saturation: Figure<Amperes>,
        /// n
        ideality: Figure<Ratio>,
        /// R
        series: Figure<Ohms>,
        /// G
        leakage: Figure<Siemens>,
        /// Junction temperature of the figures.
        at: Figure<Celsius>,
    },
    /// Two or three data-sheet points (V, A) in rising order, all at one junction temperature.
    Points {
        /// Forward voltage and current.
        points: Vec<(Figure<Volts>, Figure<Amperes>)>,
        /// Junction temperature of the points.
        at: Figure<Celsius>,
    },
    /// Constant drop and slope, nothing in reverse.
    Ideal {
        /// Drop as soon as it conducts.
        drop: Figure<Volts>,
        /// Slope beyond it.
        slope: Figure<Ohms>,
    },
}

/// What a diode is rated for. Absent ratings are not judged.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct DiodeRatings {
    /// Repetitive peak reverse voltage.
    pub reverse: Option<Figure<Volts>>,
    /// Average forward current, one diode.
    pub average: Option<Figure<Amperes>>,
    /// Repetitive peak forward current, one diode.
    pub peak: Option<Figure<Amperes>>,
    /// Single surge and how long it lasts.
    pub surge: Option<(Figure<Amperes>, Figure<Seconds>)>,
    /// Junction to air (or to `sink`, where one is named).
    pub thermal: Option<Figure<KelvinsPerWatt>>,
    /// Highest junction temperature.
    pub junction: Option<Figure<Celsius>>,
}

/// A rectifier: several equal diodes in a known form, fed from a winding.
#[derive(Clone, Debug, PartialEq)]
pub struct Rectifier {
    /// The winding or join that feeds it: `T1.S`.
    pub from: String,
    /// Positive output node.
    pub into: String,
    /// Negative output node. `common` unless given (a split supply names its negative rail in
    /// [`RectifierForm::Split`]).
    pub ret: String,
    /// How the diodes are joined.
    pub form: RectifierForm,
    /// Every one of its diodes.
    pub curve: DiodeCurve,
    /// What each diode is rated for.
    pub rated: DiodeRatings,
    /// Sink it sits on, if any.
    pub sink: Option<String>,
    /// Where `from` stands.
    pub span: Span,
}

/// How the diodes of a rectifier are joined.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum RectifierForm {
    /// Four diodes.
    Bridge,
    /// Two diodes from the ends of a tapped winding; the tap (or join centre) is the return.
    CentreTap,
    /// One diode; the winding's finish is the return.
    HalfWave,
    /// Four diodes from the ends of a tapped winding: plus to `into`, minus to `negative`; the tap is
    /// the return.
    Split {
        /// Negative output node.
        negative: String,
    },
    /// Full-wave doubler: two diodes; the winding's finish joins `middle`, between two capacitors.
    Doubler {
        /// Node between the two capacitors.
        middle: String,
    },
    /// Half-wave cascade: a capacitor between the winding's start and `pump` is drawn by the builder.
    CascadeDoubler {
        /// Node between the pump capacitor and the diodes.
        pump: String,
    },
}

/// A heat sink shared by any parts that name it.
#[derive(Clone, Debug, PartialEq)]
pub struct Sink {
    /// Thermal resistance to the air in the box.
    pub to_air: Figure<KelvinsPerWatt>,
    /// Its weight, if given.
    pub weight: Option<Figure<Kilograms>>,
}

/// What the supply feeds. Draws are in the order of [`super::Job::states`].
#[derive(Clone, Debug, PartialEq)]
pub struct Load {
    /// Its two ends.
    pub between: Between,
    /// One draw per state.
    pub draws: Vec<LoadDraw>,
    /// Below this voltage a current or power load tapers to nothing.
    pub below: Figure<Volts>,
    /// Highest voltage that its pins bear.
    pub volts: Option<Figure<Volts>>,
    /// Where a clamp across its pins begins to draw, if there is one.
    pub clamp: Option<Figure<Volts>>,
}

/// What a load draws in one state.
#[derive(Clone, Debug, PartialEq)]
pub enum LoadDraw {
    /// Constant current.
    Current(Figure<Amperes>),
    /// Resistance.
    Resistance(Figure<Ohms>),
    /// Constant power.
    Power(Figure<Watts>),
}
