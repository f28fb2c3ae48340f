//! Fuse links: the preferred currents, the time gates of two standard sheets, what a link clears and when, and which one
//! stands what a supply draws.
//!
//! Gates are those that makers print for links to IEC 60127-2 sheet 3 (5 × 20 mm glass, time-lag, low breaking capacity) and
//! sheet 5 (5 × 20 mm ceramic, time-lag, high breaking capacity; gates of 1 A to 3.15 A). The standard itself was not read.

use quietrail_engine::math::{ln, pow};

/// Preferred rated currents, A: the R10 steps in which links are sold (IEC 60127-2, from makers' lists).
pub const RATED: [f64; 26] = [
    0.032, 0.04, 0.05, 0.063, 0.08, 0.1, 0.125, 0.16, 0.2, 0.25, 0.315, 0.4, 0.5, 0.63, 0.8, 1.0,
    1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0, 10.0,
];

/// Nominal melting I²t of one maker's sheet 3 links, A²s, by rated current (Littelfuse 213 data sheet).
const MELTING: [(f64, f64); 12] = [
    (0.2, 0.225),
    (0.25, 0.555),
    (0.315, 1.14),
    (0.4, 1.36),
    (0.5, 2.905),
    (0.63, 4.8),
    (0.8, 9.42),
    (1.0, 19.2),
    (1.25, 27.15),
    (1.6, 44.2),
    (2.0, 92.705),
    (2.5, 138.0),
];

/// Part of the melting I²t that a link stands so many times (Littelfuse Fuseology, chart 2; ten seconds apart).
pub const STANDS: [(u32, f64); 4] = [(100_000, 0.22), (10_000, 0.29), (1000, 0.38), (100, 0.48)];

/// Rated current over the true rms: at least half as much again, as workshop texts have it.
pub const OVER_RMS: f64 = 1.5;

/// Share of its rating that a link rated by UL carries for good at 25 °C (L. Lundy, EDN, 26 September 1996). Links rated by IEC
/// 60127 carry all of it: from memory.
pub const UL_CARRIES: f64 = 0.75;

/// The least rating of a UL-rated link for a lasting current.
pub fn ul_least(amps: f64) -> f64 {
    amps / UL_CARRIES
}

/// A pulse of current, by its shape (Littelfuse Fuseology, chart 1).
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Pulse {
    /// Half a sine.
    HalfSine {
        /// Highest, A.
        peak: f64,
        /// How long, s.
        seconds: f64,
    },
    /// From nothing, or to nothing, in a straight line.
    Ramp {
        /// Highest, A.
        peak: f64,
        /// How long, s.
        seconds: f64,
    },
    /// From one current to another in a straight line.
    Trapezoid {
        /// First, A.
        from: f64,
        /// Last, A.
        to: f64,
        /// How long, s.
        seconds: f64,
    },
    /// Falling by e in each time constant.
    Exponential {
        /// Highest, A.
        peak: f64,
        /// Time constant, s.
        constant: f64,
    },
}

impl Pulse {
    /// ∫ i² dt, A²s.
    pub fn i2t(self) -> f64 {
        match self {
            Self::HalfSine { peak, seconds } => peak * peak * seconds / 2.0,
            Self::Ramp { peak, seconds } => peak * peak * seconds / 3.0,
            Self::Trapezoid { from, to, seconds } => {
                (from * from + from * to + to * to) * seconds / 3.0
            }
            Self::Exponential { peak, constant } => peak * peak * constant / 2.0,
        }
    }
}

/// A sheet of the standard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sheet {
    /// Glass, low breaking capacity: 35 A or ten times the rated current.
    Three,
    /// Ceramic, high breaking capacity: 1500 A.
    Five,
}

/// A gate: multiple of the rated current, least and most seconds; no least is 0, no most infinite.
pub type Gate = (f64, f64, f64);

impl Sheet {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Three, Self::Five];

    /// The most that a link of it may have to break, A.
    pub fn breaks(self, rated: f64) -> f64 {
        match self {
            Self::Three => f64::max(35.0, 10.0 * rated),
            Self::Five => 1500.0,
        }
    }

    /// Its time gates.
    pub fn gates(self) -> [Gate; 5] {
        match self {
            Self::Three => [
                (1.5, 3600.0, f64::INFINITY),
                (2.1, 0.0, 120.0),
                (2.75, 0.6, 10.0),
                (4.0, 0.15, 3.0),
                (10.0, 0.02, 0.3),
            ],
            Self::Five => [
                (1.5, 3600.0, f64::INFINITY),
                (2.1, 0.0, 1800.0),
                (2.75, 0.75, 80.0),
                (4.0, 0.095, 5.0),
                (10.0, 0.01, 0.15),
            ],
        }
    }
}

/// What a link does with a current.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Clears {
    /// At most 1.5 times its rating: it may hold for an hour and longer.
    Never,
    /// Between 1.5 and 2.1 times: the gates say neither.
    Unsure,
    /// More than it may have to break: it may burst.
    BeyondBreaking,
    /// Between these seconds.
    Within {
        /// At least.
        least: f64,
        /// At most.
        most: f64,
    },
}

/// What a link of a sheet does with a lasting current.
pub fn clears(sheet: Sheet, rated: f64, amps: f64) -> Clears {
    if amps > sheet.breaks(rated) {
        return Clears::BeyondBreaking;
    }
    let multiple = amps / rated;
    if multiple <= 1.5 {
        return Clears::Never;
    }
    if multiple < 2.1 {
        return Clears::Unsure;
    }
    let gates = sheet.gates();
    let last = gates[gates.len() - 1];
    if multiple >= last.0 {
        // No heat leaves in so short a time: I²t stays.
        let shorter = pow(last.0 / multiple, 2.0);
        return Clears::Within {
            least: last.1 * shorter,
            most: last.2 * shorter,
        };
    }
    let upper = gates
        .iter()
        .position(|gate| gate.0 > multiple)
        .unwrap_or(gates.len() - 1);
    let (low, high) = (gates[upper - 1], gates[upper]);
    let share = ln(multiple / low.0) / ln(high.0 / low.0);
    let between = |a: f64, b: f64| a * pow(b / a, share);
    Clears::Within {
        // No least at 210 %: that of the next gate is the only one that is known.
        least: if low.1 > 0.0 {
            between(low.1, high.1)
        } else {
            high.1
        },
        most: between(low.2, high.2),
    }
}

/// Nominal melting I²t where it is known, A²s.
pub fn melting(rated: f64) -> Option<f64> {
    MELTING
        .iter()
        .find(|(of, _)| (of - rated).abs() < 1e-9)
        .map(|(_, melting)| *melting)
}

/// The link for a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Choice {
    /// Rated current, A.
    pub rated: f64,
    /// Melting I²t, A²s, where known.
    pub melting: Option<f64>,
    /// Whether the pulse, not the rms, made it this large.
    pub is_for_pulse: bool,
    /// Whether the pulse could be judged at all.
    pub is_pulse_judged: bool,
}

/// The smallest link that carries an rms current with half as much again, and stands a pulse of I²t 100 000 times. `None` beyond
/// the series.
pub fn choose(rms: f64, pulse: f64) -> Option<Choice> {
    let by_rms = RATED.iter().position(|rated| *rated >= OVER_RMS * rms)?;
    for (index, &rated) in RATED.iter().enumerate().skip(by_rms) {
        let melting = melting(rated);
        // Smaller links melt earlier than the smallest listed, larger ones later than the largest.
        let (least, most) = (MELTING[0], MELTING[MELTING.len() - 1]);
        let (stands, is_pulse_judged) = match melting {
            Some(melting) => (pulse <= STANDS[0].1 * melting, true),
            None if rated > most.0 => (true, pulse <= STANDS[0].1 * most.1),
            None => (pulse <= STANDS[0].1 * least.1, false),
        };
        if stands {
            return Some(Choice {
                rated,
                melting,
                is_for_pulse: index > by_rms,
                is_pulse_judged,
            });
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::{Clears, Sheet, choose, clears};

    #[test]
    fn gates_are_met_and_joined() {
        assert_eq!(clears(Sheet::Three, 1.0, 1.4), Clears::Never);
        assert_eq!(clears(Sheet::Five, 1.0, 2.0), Clears::Unsure);
        let at = |amps: f64| match clears(Sheet::Three, 1.0, amps) {
            Clears::Within { least, most } => (least, most),
            other => panic!("{other:?}"),
        };
        assert_eq!(at(2.75), (0.6, 10.0));
        assert_eq!(at(10.0), (0.02, 0.3));
        let (least, most) = at(20.0);
        assert!((least - 0.005).abs() < 1e-12 && (most - 0.075).abs() < 1e-12);
        // Sheet 3: 35 A or ten times its rating.
        assert_eq!(clears(Sheet::Three, 1.0, 36.0), Clears::BeyondBreaking);
        assert!(matches!(
            clears(Sheet::Three, 5.0, 36.0),
            Clears::Within { .. }
        ));
        assert!(matches!(
            clears(Sheet::Five, 1.0, 36.0),
            Clears::Within { .. }
        ));
        let between = at(3.3);
        assert!(between.0 < 0.6 && between.0 > 0.15 && between.1 < 10.0 && between.1 > 3.0);
    }

    /// PWR-SAFE-26: 0.0991440 A²s needs 0.4506545 A²s of melting, so 0.25 A.
    #[test]
    fn a_pulse_asks_for_more_than_the_rms() {
        let found = choose(0.1, 0.099_144).expect("a link");
        assert_eq!(found.rated, 0.25);
        assert!(found.is_for_pulse && found.is_pulse_judged);
        assert_eq!(choose(0.1, 0.0).expect("a link").rated, 0.16);
        assert!(choose(100.0, 0.0).is_none());
    }
}
