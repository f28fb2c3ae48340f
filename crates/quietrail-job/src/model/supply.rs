//! Transformers and regulators.

use super::{Figure, Noise, Span};
use quietrail_units::{
    Amperes, Celsius, Decibels, Farads, Henries, Hertz, Kelvins, KelvinsPerWatt, Kilograms, Ohms,
    Ratio, Seconds, Volts, Watts,
};

/// A transformer: ideal coupling, winding resistances, linear magnetising inductance.
///
/// Its points are nodes: `T1.primary.in`, `T1.primary.out` (the selected primary join), `T1.S1.start`,
/// `T1.S1.finish`, `T1.S1.<tap>`, and for a join `T1.S.start`, `T1.S.finish`, `T1.S.centre`. Primary
/// ends that no part names are joined to `inlet.live` and `inlet.neutral`.
#[derive(Clone, Debug, PartialEq)]
pub struct Transformer {
    /// Primary windings.
    pub primary: Vec<Primary>,
    /// Which join of the primaries is in use, and all that the selector offers.
    pub selector: Selector,
    /// Secondary windings.
    pub secondary: Vec<Secondary>,
    /// Named joins of secondaries.
    pub joins: Vec<Join>,
    /// Magnetising current, rms, at a primary voltage and the mains frequency.
    pub no_load: (Figure<Amperes>, Figure<Volts>),
    /// AC loads that the instrument already puts on this core.
    pub existing: Vec<Existing>,
    /// The secondaries' part of the copper loss at full load, where plates tell the copper.
    pub secondary_share: Figure<Ratio>,
    /// Temperature at which the winding resistances were read.
    pub read_at: Figure<Celsius>,
    /// Copper to box air; with it the copper temperature is solved, else `rise` is used.
    pub to_air: Option<Figure<KelvinsPerWatt>>,
    /// Copper above box air where `to_air` is not given.
    pub rise: Figure<Kelvins>,
    /// Highest copper temperature (insulation class), if given.
    pub copper_max: Option<Figure<Celsius>>,
    /// Heat that it may make inside, if given.
    pub watts_max: Option<Figure<Watts>>,
    /// Its weight, if given.
    pub weight: Option<Figure<Kilograms>>,
}

/// One primary winding. The dot is at its start.
#[derive(Clone, Debug, PartialEq)]
pub struct Primary {
    /// `P1`
    pub name: String,
    /// Voltage it was wound for, rms.
    pub volts: Figure<Volts>,
    /// Copper resistance at [`Transformer::read_at`]; from the plates where not measured.
    pub resistance: Figure<Ohms>,
    /// Whether the resistance follows from the plates.
    pub is_of_plates: bool,
    /// Whether a `reverse` change turned it round.
    pub reversed: bool,
}

/// The mains selector.
#[derive(Clone, Debug, PartialEq)]
pub struct Selector {
    /// Position in use: the key of `positions`.
    pub at: String,
    /// Position and primary join. One entry where there is nothing to select.
    pub positions: Vec<(String, Join)>,
}

/// One secondary winding. The dot is at its start.
#[derive(Clone, Debug, PartialEq)]
pub struct Secondary {
    /// `S1`
    pub name: String,
    /// Off-load voltage, rms, with `at_primary` on the primary join in use.
    pub open: Figure<Volts>,
    /// Voltage on the whole primary join in use during that reading, rms.
    pub at_primary: Figure<Volts>,
    /// What its plate says, where there is no reading of the off-load voltage, which then follows from this.
    pub plate: Option<Plate>,
    /// Copper resistance at [`Transformer::read_at`]; from the plates where not measured.
    pub resistance: Figure<Ohms>,
    /// Whether the resistance follows from the plates.
    pub is_of_plates: bool,
    /// Leakage inductance seen at this winding; 0 unless known.
    pub leakage: Figure<Henries>,
    /// Taps, from start to finish.
    pub taps: Vec<Tap>,
    /// Rated rms current (from the plate), if given.
    pub rated: Option<Figure<Amperes>>,
    /// Whether a `reverse` change turned it round.
    pub reversed: bool,
}

/// What the plate of a secondary says of full load.
#[derive(Clone, Debug, PartialEq)]
pub struct Plate {
    /// Voltage at full load, rms.
    pub volts: Figure<Volts>,
    /// Full-load current, rms.
    pub amperes: Figure<Amperes>,
    /// Rise from full load to no load, as a part of the voltage.
    pub regulation: Figure<Ratio>,
}

/// A tap on a winding.
#[derive(Clone, Debug, PartialEq)]
pub struct Tap {
    /// `tap`
    pub name: String,
    /// Share of the turns between start and tap, 0 to 1; resistance and turns divide alike.
    pub share: Figure<Ratio>,
}

/// Windings joined in series (`+`) and parallel (`|`), for instance `S1 + S2`, `(A | B) + C`, `S1 + -S2`.
#[derive(Clone, Debug, PartialEq)]
pub struct Join {
    /// `S`
    pub name: String,
    /// How.
    pub term: JoinTerm,
    /// Where the job says so.
    pub span: Span,
}

/// A term of a join. Series order is from start to finish; the centre of a series of two terms is the
/// point between them.
#[derive(Clone, Debug, PartialEq)]
pub enum JoinTerm {
    /// A winding, reversed if written with a minus.
    Winding {
        /// Its name.
        name: String,
        /// Finish first.
        reversed: bool,
    },
    /// One after the other.
    Series(Vec<JoinTerm>),
    /// Side by side.
    Parallel(Vec<JoinTerm>),
}

/// An AC load that the instrument already puts on the core.
#[derive(Clone, Debug, PartialEq)]
pub struct Existing {
    /// The winding or join.
    pub of: String,
    /// Current it draws at the winding's off-load voltage, rms, taken as a resistance.
    pub draws: Figure<Amperes>,
}

/// A series regulator: reference and set point, loop, pass element with dropout and limit.
#[derive(Clone, Debug, PartialEq)]
pub struct Regulator {
    /// Input node.
    pub from: String,
    /// Output node.
    pub into: String,
    /// Node that the set point refers to.
    pub ret: String,
    /// Where its divider looks at the output, if not at `into` and `ret`: upper and lower lead.
    pub sense: Option<(String, String)>,
    /// Output voltage.
    pub set: SetPoint,
    /// Dropout (input minus output) against output current, rising currents, at least one point.
    pub dropout: Vec<(Figure<Amperes>, Figure<Volts>)>,
    /// Ripple rejection against frequency, rising frequencies, at least one point. Positive decibels.
    pub rejection: Vec<(Figure<Hertz>, Figure<Decibels>)>,
    /// Output resistance (load regulation).
    pub output_resistance: Figure<Ohms>,
    /// Current that flows between input and return and does no work.
    pub quiescent: Figure<Amperes>,
    /// Smallest load at which it regulates.
    pub minimum_load: Figure<Amperes>,
    /// Current limit.
    pub limit: Figure<Amperes>,
    /// Foldback: current limit against input minus output, rising volts; empty for none.
    pub foldback: Vec<(Figure<Volts>, Figure<Amperes>)>,
    /// Resistors side by side that sense the current for the limit; empty where it is inside.
    pub limit_resistors: Vec<Figure<Ohms>>,
    /// Time constant of the regulating loop.
    pub loop_time: Figure<Seconds>,
    /// Noise of the output, from the loop; `None` where no figure is given.
    pub noise: Option<Noise>,
    /// Noise of the reference, where the data sheet gives it apart.
    pub reference_noise: Option<Noise>,
    /// How the set point moves with temperature.
    pub drift: Drift,
    /// Output capacitors with which it is stable: least capacitance and range of ESR; empty where not stated.
    pub stable_with: Vec<(Figure<Farads>, Option<Figure<Ohms>>)>,
    /// Swings that followed when its load was stepped, from where its output came to rest, alternately above and below; empty
    /// where not tried.
    pub rang: Vec<Figure<Volts>>,
    /// Junction to case.
    pub junction_to_case: Option<Figure<KelvinsPerWatt>>,
    /// Case to sink: pad, grease.
    pub case_to_sink: Figure<KelvinsPerWatt>,
    /// Junction to air with no sink.
    pub junction_to_air: Option<Figure<KelvinsPerWatt>>,
    /// Sink it sits on, if any.
    pub sink: Option<String>,
    /// What it is rated for.
    pub rated: RegulatorRatings,
    /// Where `from` stands.
    pub span: Span,
}

impl Regulator {
    /// Whether it holds a rail under its return.
    pub fn is_negative(&self) -> bool {
        self.set.volts() < 0.0
    }

    /// Two nodes in the order in which the voltage between them counts: the first is the upper one, except under the return.
    pub fn in_order<'a>(&self, outer: &'a str, inner: &'a str) -> (&'a str, &'a str) {
        if self.is_negative() {
            (inner, outer)
        } else {
            (outer, inner)
        }
    }

    /// Input and return, the upper one first.
    pub fn input(&self) -> (&str, &str) {
        self.in_order(&self.from, &self.ret)
    }

    /// Output and return, the upper one first.
    pub fn output(&self) -> (&str, &str) {
        self.in_order(&self.into, &self.ret)
    }
}

/// How the output voltage of a regulator comes about.
#[derive(Clone, Debug, PartialEq)]
#[allow(
    clippy::large_enum_variant,
    reason = "a job has a handful of regulators"
)]
pub enum SetPoint {
    /// A fixed part.
    Fixed(Figure<Volts>),
    /// Reference between output and adjust pin: `reference (1 + lower/upper) + adjust lower`, where
    /// `upper` spans the reference and `lower` goes to the return. What the adjust current adds has the sign of the reference.
    AcrossUpper {
        /// Reference voltage.
        reference: Figure<Volts>,
        /// Resistor across the reference.
        upper: Figure<Ohms>,
        /// Resistor to the return.
        lower: Figure<Ohms>,
        /// Current of the adjust pin.
        adjust: Figure<Amperes>,
        /// From adjust pin to return: noise and ripple then no longer grow with the output above its corner. `None`:
        /// nothing is said, and the figures stand as the data sheet has them.
        bypass: Option<Figure<Farads>>,
    },
    /// Reference between feedback pin and return: `reference (1 + upper/lower)`.
    AcrossLower {
        /// Reference voltage.
        reference: Figure<Volts>,
        /// Resistor from output to feedback pin.
        upper: Figure<Ohms>,
        /// Resistor across the reference.
        lower: Figure<Ohms>,
    },
    /// Reference above the output: the output follows the middle of a divider across the reference,
    /// `reference lower/(upper + lower)`.
    AcrossBoth {
        /// Reference voltage.
        reference: Figure<Volts>,
        /// Resistor from the reference to the middle.
        upper: Figure<Ohms>,
        /// Resistor from the middle to the return.
        lower: Figure<Ohms>,
    },
    /// A trimmer that the builder sets: the value to which it is set, with how well it can be set.
    Trimmed {
        /// What it is set to.
        to: Figure<Volts>,
        /// The whole trimmer.
        trimmer: Figure<Ohms>,
        /// The divider that it stands in, where the job gives it.
        divider: Option<Box<Divider>>,
    },
}

impl SetPoint {
    /// Output voltage that it asks for with all figures at their nominal, no load; below zero under the return.
    pub fn volts(&self) -> f64 {
        match self {
            SetPoint::Fixed(volts) | SetPoint::Trimmed { to: volts, .. } => volts.nominal(),
            SetPoint::AcrossUpper {
                reference,
                upper,
                lower,
                adjust,
                ..
            } => across_upper(
                reference.nominal(),
                upper.nominal(),
                lower.nominal(),
                adjust.nominal(),
            ),
            SetPoint::AcrossLower {
                reference,
                upper,
                lower,
            } => reference.nominal() * (1.0 + upper.nominal() / lower.nominal()),
            SetPoint::AcrossBoth {
                reference,
                upper,
                lower,
            } => reference.nominal() * lower.nominal() / (upper.nominal() + lower.nominal()),
        }
    }

    /// How far from the return it holds the output, to whichever side.
    pub fn size(&self) -> f64 {
        self.volts().abs()
    }

    /// The same set point on the other side of the return.
    #[must_use]
    pub fn turned(&self) -> Self {
        let mut turned = self.clone();
        match &mut turned {
            SetPoint::Fixed(volts) => turn(volts),
            SetPoint::AcrossUpper { reference, .. }
            | SetPoint::AcrossLower { reference, .. }
            | SetPoint::AcrossBoth { reference, .. } => turn(reference),
            SetPoint::Trimmed { to, divider, .. } => {
                turn(to);
                if let Some(divider) = divider {
                    turn(&mut divider.reference);
                }
            }
        }
        turned
    }

    /// Its reference, where one is given.
    pub fn reference(&self) -> Option<&Figure<Volts>> {
        match self {
            SetPoint::Fixed(_) => None,
            SetPoint::AcrossUpper { reference, .. }
            | SetPoint::AcrossLower { reference, .. }
            | SetPoint::AcrossBoth { reference, .. } => Some(reference),
            SetPoint::Trimmed { divider, .. } => divider.as_ref().map(|divider| &divider.reference),
        }
    }
}

/// A voltage with its tolerance, to the other side of zero.
fn turn(figure: &mut Figure<Volts>) {
    let value = &mut figure.value;
    (value.low, value.nominal, value.high) = (-value.high, -value.nominal, -value.low);
}

/// Output of a part whose reference stands between its output and its adjust pin: what the current of the pin adds is on the
/// side of the reference.
fn across_upper(reference: f64, upper: f64, lower: f64, adjust: f64) -> f64 {
    reference * (1.0 + lower / upper) + (adjust * lower).copysign(reference)
}

impl SetPoint {
    /// The adjust pin, all figures at their nominal; `None` for parts that have none, or of which the job gives no divider.
    pub fn adjust_pin(&self) -> Option<AdjustPin> {
        let farads = |bypass: &Option<Figure<Farads>>| bypass.as_ref().map(Figure::nominal);
        match self {
            SetPoint::AcrossUpper {
                reference,
                upper,
                lower,
                bypass,
                ..
            } => Some(AdjustPin {
                upper: upper.nominal(),
                lower: lower.nominal(),
                reference: reference.nominal(),
                bypass: farads(bypass),
            }),
            SetPoint::Trimmed {
                to,
                divider: Some(divider),
                ..
            } if divider.across == Across::Upper => {
                let (reference, upper) = (divider.reference.nominal(), divider.upper.nominal());
                let amps = reference / upper + divider.adjust.nominal().copysign(reference);
                Some(AdjustPin {
                    upper,
                    lower: (to.nominal() - reference) / amps,
                    reference,
                    bypass: farads(&divider.bypass),
                })
            }
            _ => None,
        }
    }
}

impl Divider {
    /// Output voltage with so much of the trimmer in, Ω, all else at nominal.
    pub fn volts(&self, trimmer: f64) -> f64 {
        self.volts_of(
            self.reference.nominal(),
            self.upper.nominal(),
            self.lower.nominal(),
            self.adjust.nominal(),
            trimmer,
        )
    }

    /// Current through the resistor that the reference spans, A, whichever way.
    pub fn across_amps(&self) -> f64 {
        let ohms = match self.across {
            Across::Upper => self.upper.nominal(),
            Across::Lower => self.lower.nominal(),
        };
        self.reference.nominal().abs() / ohms
    }

    /// The same with figures given: reference, upper, lower, adjust current, trimmer.
    pub fn volts_of(
        &self,
        reference: f64,
        upper: f64,
        lower: f64,
        adjust: f64,
        trimmer: f64,
    ) -> f64 {
        match self.across {
            Across::Upper => across_upper(reference, upper, lower + trimmer, adjust),
            Across::Lower => reference * (1.0 + (upper + trimmer) / lower),
        }
    }
}

/// A divider with a trimmer in it.
#[derive(Clone, Debug, PartialEq)]
pub struct Divider {
    /// Reference voltage.
    pub reference: Figure<Volts>,
    /// Which resistor the reference spans. The trimmer is in series with the other one.
    pub across: Across,
    /// Resistor from the output.
    pub upper: Figure<Ohms>,
    /// Resistor to the return.
    pub lower: Figure<Ohms>,
    /// Current of the adjust pin.
    pub adjust: Figure<Amperes>,
    /// Turns of the trimmer from end to end.
    pub turns: Option<f64>,
    /// From adjust pin to return, as in [`SetPoint::AcrossUpper`].
    pub bypass: Option<Figure<Farads>>,
}

/// The adjust pin of a regulator whose reference stands between it and the output.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AdjustPin {
    /// Resistor across the reference, Ω.
    pub upper: f64,
    /// What stands from the pin to the return, Ω; with a trimmer as it is set.
    pub lower: f64,
    /// Volts across the reference; below zero as the output is.
    pub reference: f64,
    /// Capacitor from the pin to the return, F; `None` where the job says nothing of it.
    pub bypass: Option<f64>,
}

/// Which resistor a reference spans.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "the names say it")]
pub enum Across {
    Upper,
    Lower,
}

/// Change with temperature, as a share per kelvin of each figure. Absent: not known.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Drift {
    /// Of the reference.
    pub reference: Option<Figure<Ratio>>,
    /// Of the divider's resistors against each other.
    pub divider: Option<Figure<Ratio>>,
    /// Of the trimmer against the resistors.
    pub trimmer: Option<Figure<Ratio>>,
}

/// What a regulator is rated for. Absent ratings are not judged.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RegulatorRatings {
    /// Highest input voltage against the return, an amount.
    pub input: Option<Figure<Volts>>,
    /// Highest input minus output.
    pub differential: Option<Figure<Volts>>,
    /// Output current.
    pub current: Option<Figure<Amperes>>,
    /// Highest junction temperature.
    pub junction: Option<Figure<Celsius>>,
    /// Largest output capacitor that may discharge backwards through it.
    pub backwards: Option<Figure<Farads>>,
}
