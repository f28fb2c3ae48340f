//! The units that a job file can hold.

use std::fmt::Debug;

/// A unit of measure, known at compile time.
pub trait Unit: Copy + Clone + Debug + PartialEq + 'static {
    /// The same unit as a value, for code that does not know it at compile time.
    const KIND: Kind;
    /// The symbol printed after the number, without prefix: `V`, `Ω`, `°C`, `K/W`.
    const SYMBOL: &'static str = Self::KIND.symbol();
    /// What the unit measures, as said in errors: `voltage`.
    const MEASURES: &'static str = Self::KIND.measures();
}

macro_rules! units {
    ($($(#[$doc:meta])* $name:ident, $symbol:literal, $measures:literal, $example:literal;)*) => {
        $(
            $(#[$doc])*
            #[derive(Copy, Clone, Debug, PartialEq, Eq, Hash)]
            pub struct $name;
            impl Unit for $name {
                const KIND: Kind = Kind::$name;
            }
        )*

        /// The kinds of quantity, one for each [`Unit`].
        #[derive(Copy, Clone, Debug, PartialEq, Eq, Hash)]
        pub enum Kind {
            $($(#[$doc])* $name,)*
        }

        impl Kind {
            /// Every kind.
            pub const ALL: &'static [Self] = &[$(Self::$name,)*];

            /// The symbol printed after the number, without prefix; empty for a ratio.
            pub const fn symbol(self) -> &'static str {
                match self { $(Self::$name => $symbol,)* }
            }

            /// What is measured: `voltage`.
            pub const fn measures(self) -> &'static str {
                match self { $(Self::$name => $measures,)* }
            }

            /// A text that would be read as this kind: `12 V`.
            pub const fn example(self) -> &'static str {
                match self { $(Self::$name => $example,)* }
            }
        }
    };
}

units! {
    /// Electric potential difference.
    Volts, "V", "voltage", "12 V";
    /// Electric current.
    Amperes, "A", "current", "450 mA";
    /// Resistance.
    Ohms, "Ω", "resistance", "4.7 kΩ";
    /// Conductance.
    Siemens, "S", "conductance", "2 µS";
    /// Capacitance.
    Farads, "F", "capacitance", "4700 µF";
    /// Inductance.
    Henries, "H", "inductance", "10 mH";
    /// Frequency.
    Hertz, "Hz", "frequency", "50 Hz";
    /// Time at the bench.
    Seconds, "s", "time", "10 s";
    /// Service life; stored in hours.
    Hours, "h", "life", "3000 h";
    /// Power.
    Watts, "W", "power", "6 W";
    /// Apparent power.
    VoltAmperes, "VA", "apparent power", "30 VA";
    /// Energy.
    Joules, "J", "energy", "2 J";
    /// Temperature; stored in degrees Celsius.
    Celsius, "°C", "temperature", "25 °C";
    /// Temperature difference.
    Kelvins, "K", "temperature difference", "30 K";
    /// Thermal resistance.
    KelvinsPerWatt, "K/W", "thermal resistance", "6.5 K/W";
    /// Length.
    Metres, "m", "length", "35 mm";
    /// Weight, as scales say it: mass.
    Kilograms, "kg", "weight", "1.2 kg";
    /// Cross-section; stored in square metres, written in mm².
    SquareMetres, "m²", "cross-section", "0.75 mm²";
    /// A plain number or a percentage (stored as a fraction).
    Ratio, "", "ratio", "0.8 or 80 %";
    /// A level difference in decibels.
    Decibels, "dB", "level", "-80 dB";
    /// A power in decibels over a milliwatt; into 50 Ω where nothing else is said.
    DecibelMilliwatts, "dBm", "level over a milliwatt", "7 dBm";
    /// Electrical angle of the mains cycle.
    Degrees, "°", "angle", "30°";
    /// Noise density.
    VoltsPerRootHertz, "V/√Hz", "noise density", "20 nV/√Hz";
    /// How far a voltage pulls a frequency.
    HertzPerVolt, "Hz/V", "tuning sensitivity", "0.05 Hz/V";
    /// How far a voltage moves something, as a part of it; written in ppb/V, ppm/V or %/V.
    PerVolt, "per V", "supply sensitivity", "2 ppb/V";
    /// Let-through of a fuse.
    AmpereSquaredSeconds, "A²s", "let-through", "1.2 A²s";
}

impl Kind {
    /// What is measured, with its article: `a voltage`, `an inductance`.
    pub(crate) fn with_article(self) -> String {
        let measures = self.measures();
        let article = if measures.starts_with(['a', 'e', 'i', 'o']) {
            "an"
        } else {
            "a"
        };
        format!("{article} {measures}")
    }

    /// What the difference of two such values is: kelvins between temperatures, decibels between levels, else the same kind.
    pub(crate) const fn of_difference(self) -> Self {
        match self {
            Self::Celsius => Self::Kelvins,
            Self::DecibelMilliwatts => Self::Decibels,
            own => own,
        }
    }

    /// Whether a part of the value is a meaningful tolerance. A tenth of 20 °C, or of -80 dB or 7 dBm, is not.
    pub(crate) const fn has_zero(self) -> bool {
        !matches!(
            self,
            Self::Celsius | Self::Decibels | Self::DecibelMilliwatts
        )
    }
}
