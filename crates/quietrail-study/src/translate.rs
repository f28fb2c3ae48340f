//! One level in every unit that data sheets and instruments use, and what is missing for those that cannot be had.

mod written;

pub use written::{NotALevel, read};

use crate::level::{self, Shape, Statistic, sideband};
use quietrail_job::model::{Band, Job, Limit, Pin, Shifts, Subject, What};

/// A level as somebody stated it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Level {
    /// Volts, with the statistic.
    Volts(Statistic, f64),
    /// Volts without one: a reading that could mean several things.
    Unsaid(f64),
    /// V/√Hz.
    Density(f64),
    /// Power against a milliwatt, into a resistance.
    Dbm(f64),
    /// rms against a volt.
    Dbv(f64),
    /// A sideband against its carrier.
    Dbc(f64),
    /// Phase noise in a hertz against the carrier, dBc/Hz.
    DbcPerHertz(f64),
    /// Share by which a frequency is moved, peak.
    Fraction(f64),
}

/// How far a voltage on a pin moves the frequency.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Sensitivity {
    /// Hz per volt.
    HertzPerVolt(f64),
    /// Share of the carrier per volt.
    PerVolt(f64),
}

/// What is known beside the level.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Given {
    /// What the voltage looks like.
    pub shape: Option<Shape>,
    /// Band in which it counts, flat between the corners, Hz.
    pub band: Option<(f64, f64)>,
    /// Resistance that a power goes into, Ω.
    pub ohms: Option<f64>,
    /// Frequency at which the voltage swings, or distance from the carrier, Hz.
    pub at: Option<f64>,
    /// Carrier of the oscillator, Hz.
    pub carrier: Option<f64>,
    /// What the voltage does to the frequency.
    pub shifts: Option<Sensitivity>,
    /// What it does to the amplitude, share per volt.
    pub amplitude: Option<f64>,
}

/// Units in which a level is told, in this order.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// V p-p.
    PeakToPeak,
    /// V peak.
    Peak,
    /// V rms.
    Rms,
    /// V/√Hz, flat over the band.
    Density,
    /// dBV.
    Dbv,
    /// dBm.
    Dbm,
    /// What an averaging meter shows, V.
    AveragingMeter,
    /// Peak pull of the frequency as a share.
    Pull,
    /// dBc through the frequency.
    ThroughFrequency,
    /// dBc through the amplitude.
    ThroughAmplitude,
    /// dBc/Hz through the frequency.
    PhaseNoise,
}

/// What a unit cannot be had without.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Need {
    /// p-p, peak or rms.
    Statistic,
    /// Sine, triangle, sawtooth, square or noise.
    Shape,
    /// The band.
    Band,
    /// The resistance of a power.
    Ohms,
    /// The frequency of the swing.
    At,
    /// The carrier.
    Carrier,
    /// The sensitivity of the frequency.
    Shifts,
    /// The sensitivity of the amplitude.
    Amplitude,
}

/// Why a unit has no value.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Without {
    /// Something is missing.
    Missing(Vec<Need>),
    /// It means nothing for this shape.
    Meaningless,
}

/// A level in one unit.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// The unit.
    pub unit: Unit,
    /// The value, SI (decibels as such).
    pub value: Result<f64, Without>,
}

/// A level in every unit.
#[derive(Clone, Debug, PartialEq)]
pub struct Translation {
    /// As stated.
    pub level: Level,
    /// With what was known.
    pub given: Given,
    /// Every unit.
    pub rows: Vec<Row>,
}

/// Every unit of a level.
pub fn translate(level: Level, given: Given) -> Translation {
    let all = [
        Unit::PeakToPeak,
        Unit::Peak,
        Unit::Rms,
        Unit::Density,
        Unit::Dbv,
        Unit::Dbm,
        Unit::AveragingMeter,
        Unit::Pull,
        Unit::ThroughFrequency,
        Unit::ThroughAmplitude,
        Unit::PhaseNoise,
    ];
    let from = From {
        level,
        given: implied(level, given),
    };
    let rows = all.map(|unit| Row {
        unit,
        value: from.to(unit),
    });
    Translation {
        level,
        given: from.given,
        rows: rows.to_vec(),
    }
}

/// A limit of a job as a level, where it is one of ripple or noise, and what the job says beside it.
pub fn of_limit(limit: &Limit) -> Option<(Level, Given)> {
    let volts = limit.max.or(limit.min)?;
    let (statistic, shape) = match limit.what {
        // Lines and noise together have no shape of their own either.
        What::Ripple | What::RippleAndNoise => (Statistic::Rms, None),
        What::RipplePeakToPeak => (Statistic::PeakToPeak, None),
        What::Noise => (
            Statistic::Rms,
            Some(Shape::Noise {
                crest: level::USUAL_CREST,
            }),
        ),
        _ => return None,
    };
    let band = match limit.band {
        Some(Band::BrickWall { low, high }) => Some((low, high)),
        // First-order corners pass more noise than a wall: that is not a band of these closed forms.
        Some(Band::Poles { .. }) | None => None,
    };
    let given = Given {
        shape,
        band,
        ..Given::default()
    };
    Some((Level::Volts(statistic, volts), given))
}

/// The level of a limit as in [`of_limit`], with what the job's oscillator says of the pin that the limit is of.
pub fn of_limit_in(job: &Job, limit: &Limit) -> Option<(Level, Given)> {
    let (level, given) = of_limit(limit)?;
    let nodes = match &limit.of {
        Subject::Node(node) => (node.as_str(), "common"),
        Subject::Pair(plus, minus) => (plus.as_str(), minus.as_str()),
        Subject::Part(_) => return Some((level, given)),
    };
    let is_here = |pin: &&Pin| (pin.nodes.0.as_str(), pin.nodes.1.as_str()) == nodes;
    let mut all = job.oscillators.iter();
    let found = all.find_map(|one| Some((one, one.pins.iter().find(is_here)?)));
    let Some((oscillator, pin)) = found else {
        return Some((level, given));
    };
    let slope = |shifts: &Shifts| match shifts {
        Shifts::Hertz(slope) => Sensitivity::HertzPerVolt(slope.nominal()),
        Shifts::Share(slope) => Sensitivity::PerVolt(slope.nominal()),
    };
    let given = Given {
        carrier: Some(oscillator.frequency.nominal()),
        shifts: pin.shifts.as_ref().map(slope),
        amplitude: pin.amplitude.as_ref().map(|slope| slope.nominal()),
        ..given
    };
    Some((level, given))
}

/// A density and phase noise speak of noise, a sideband of a line.
fn implied(level: Level, mut given: Given) -> Given {
    if given.shape.is_none() {
        given.shape = match level {
            Level::Density(_) | Level::DbcPerHertz(_) => Some(Shape::Noise {
                crest: level::USUAL_CREST,
            }),
            Level::Dbc(_) => Some(Shape::Sine),
            _ => None,
        };
    }
    given
}

struct From {
    level: Level,
    given: Given,
}

type Got = Result<f64, Without>;

fn need<T>(what: Option<T>, need: Need) -> Result<T, Without> {
    what.ok_or_else(|| Without::Missing(vec![need]))
}

/// Both, or all that is missing for either.
fn both<A, B>(a: Result<A, Without>, b: Result<B, Without>) -> Result<(A, B), Without> {
    match (a, b) {
        (Ok(a), Ok(b)) => Ok((a, b)),
        (Err(Without::Missing(mut a)), Err(Without::Missing(b))) => {
            a.extend(b);
            a.sort_unstable();
            a.dedup();
            Err(Without::Missing(a))
        }
        (Err(Without::Meaningless), _) | (_, Err(Without::Meaningless)) => {
            Err(Without::Meaningless)
        }
        (Err(why), _) | (_, Err(why)) => Err(why),
    }
}

impl From {
    fn shape(&self) -> Result<Shape, Without> {
        need(self.given.shape, Need::Shape)
    }

    fn is_noise(&self) -> Result<bool, Without> {
        Ok(matches!(self.shape()?, Shape::Noise { .. }))
    }

    fn at(&self) -> Got {
        need(self.given.at, Need::At)
    }

    fn hertz_per_volt(&self) -> Got {
        match need(self.given.shifts, Need::Shifts)? {
            Sensitivity::HertzPerVolt(slope) => Ok(slope),
            Sensitivity::PerVolt(slope) => Ok(slope * need(self.given.carrier, Need::Carrier)?),
        }
    }

    fn per_volt(&self) -> Got {
        match need(self.given.shifts, Need::Shifts)? {
            Sensitivity::PerVolt(slope) => Ok(slope),
            Sensitivity::HertzPerVolt(slope) => {
                Ok(slope / need(self.given.carrier, Need::Carrier)?)
            }
        }
    }

    fn rms(&self) -> Got {
        match self.level {
            Level::Volts(Statistic::Rms, volts) => Ok(volts),
            Level::Volts(statistic, volts) => Ok(volts * self.shape()?.rms_of(statistic)),
            Level::Unsaid(_) => Err(Without::Missing(vec![Need::Statistic])),
            Level::Density(density) => {
                let (low, high) = need(self.given.band, Need::Band)?;
                Ok(level::flat_rms(density, low, high))
            }
            Level::Dbm(dbm) => Ok(level::volts_of_dbm(dbm, need(self.given.ohms, Need::Ohms)?)),
            Level::Dbv(dbv) => Ok(level::from_decibels(dbv)),
            Level::Dbc(_) | Level::Fraction(_) => Ok(self.peak_of_line()? / 2.0_f64.sqrt()),
            Level::DbcPerHertz(_) => {
                let (density, (low, high)) =
                    both(self.density(), need(self.given.band, Need::Band))?;
                Ok(level::flat_rms(density, low, high))
            }
        }
    }

    /// Peak of a line that makes the sideband or the pull.
    fn peak_of_line(&self) -> Got {
        match self.level {
            Level::Dbc(dbc) => {
                if let (Some(per_volt), None) = (self.given.amplitude, self.given.shifts) {
                    return Ok(sideband::volts_through_amplitude(dbc, per_volt));
                }
                let (slope, at) = both(self.hertz_per_volt(), self.at())?;
                Ok(sideband::volts_through_frequency(dbc, slope, at))
            }
            Level::Fraction(share) => Ok(share / self.per_volt()?),
            _ => Err(Without::Meaningless),
        }
    }

    fn peak_to_peak(&self) -> Got {
        match self.level {
            Level::Volts(Statistic::PeakToPeak, volts) => Ok(volts),
            Level::Volts(Statistic::Peak, volts) => Ok(2.0 * volts),
            Level::Dbc(_) | Level::Fraction(_) => Ok(2.0 * self.peak_of_line()?),
            _ => {
                let (rms, shape) = both(self.rms(), self.shape())?;
                Ok(rms * shape.peak_to_peak_over_rms())
            }
        }
    }

    fn density(&self) -> Got {
        match self.level {
            Level::Density(density) => Ok(density),
            Level::DbcPerHertz(level) => {
                let (slope, at) = both(self.hertz_per_volt(), self.at())?;
                Ok(sideband::density_for(level, slope, at))
            }
            _ => {
                if !self.is_noise()? {
                    return Err(Without::Meaningless);
                }
                let (rms, (low, high)) = both(self.rms(), need(self.given.band, Need::Band))?;
                Ok(rms / (high - low).sqrt())
            }
        }
    }

    /// Peak of the line at the frequency it swings at.
    fn fundamental(&self) -> Got {
        if matches!(self.level, Level::Dbc(_) | Level::Fraction(_)) {
            return self.peak_of_line();
        }
        let (swing, shape) = both(self.peak_to_peak(), self.shape())?;
        let share = shape.fundamental_over_peak_to_peak();
        Ok(swing * share.ok_or(Without::Meaningless)?)
    }

    /// The same with a volt that moves the frequency by all of itself, where nobody says what a volt does: a sideband and the pull that
    /// makes it are both of the frequency, and no volts are between them.
    fn without_volts(&self) -> Option<Self> {
        let is_of_frequency = match self.level {
            Level::Fraction(_) => true,
            Level::Dbc(_) => self.given.amplitude.is_none(),
            _ => false,
        };
        let given = Given {
            shifts: Some(Sensitivity::PerVolt(1.0)),
            ..self.given
        };
        let is_needed = is_of_frequency && self.given.shifts.is_none();
        is_needed.then_some(Self {
            level: self.level,
            given,
        })
    }

    fn to(&self, unit: Unit) -> Got {
        let is_of_frequency = matches!(unit, Unit::Pull | Unit::ThroughFrequency);
        if let Some(own) = self.without_volts().filter(|_| is_of_frequency) {
            return own.to(unit);
        }
        match unit {
            Unit::PeakToPeak => self.peak_to_peak(),
            Unit::Peak => Ok(self.peak_to_peak()? / 2.0),
            Unit::Rms => self.rms(),
            Unit::Density => self.density(),
            Unit::Dbv => Ok(level::decibels(self.rms()?)),
            Unit::Dbm => {
                let (rms, ohms) = both(self.rms(), need(self.given.ohms, Need::Ohms))?;
                Ok(level::dbm_of_volts(rms, ohms))
            }
            Unit::AveragingMeter => {
                let (rms, shape) = both(self.rms(), self.shape())?;
                Ok(rms * shape.averaging_meter())
            }
            Unit::Pull => {
                let (swing, slope) = both(self.peak_to_peak(), self.per_volt())?;
                Ok(swing / 2.0 * slope)
            }
            Unit::ThroughFrequency => {
                let known = both(self.hertz_per_volt(), self.at());
                let (peak, (slope, at)) = both(self.fundamental(), known)?;
                Ok(sideband::of_frequency(slope, peak, at))
            }
            Unit::ThroughAmplitude => {
                let (peak, per_volt) = both(
                    self.fundamental(),
                    need(self.given.amplitude, Need::Amplitude),
                )?;
                Ok(sideband::of_depth(per_volt * peak))
            }
            Unit::PhaseNoise => {
                let known = both(self.hertz_per_volt(), self.at());
                let (density, (slope, at)) = both(self.density(), known)?;
                Ok(sideband::phase_noise(slope, density, at))
            }
        }
    }
}

#[cfg(test)]
mod tests;
