//! Every accepted spelling of a unit, in one table.

use crate::Kind;

/// How a number in a written unit becomes the stored value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Conversion {
    /// Times this power of ten. Done on the digits, so that no rounding is added.
    Power(i32),
    /// Times the first, divided by the second: whole numbers, so that `3 ft` is 914.4 mm to the last bit.
    Share(f64, f64),
    /// Degrees Fahrenheit: `(x - 32) / 1.8` °C, by definition.
    Fahrenheit,
    /// American wire gauge: the cross-section of a round wire.
    WireGauge,
}

/// One spelling of a unit.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Spelling {
    pub(crate) text: &'static str,
    pub(crate) kind: Kind,
    pub(crate) conversion: Conversion,
    /// Whether a decimal prefix may stand before it.
    pub(crate) takes_prefix: bool,
}

const fn si(kind: Kind, text: &'static str) -> Spelling {
    Spelling {
        text,
        kind,
        conversion: Conversion::Power(0),
        takes_prefix: true,
    }
}

const fn plain(kind: Kind, text: &'static str, conversion: Conversion) -> Spelling {
    Spelling {
        text,
        kind,
        conversion,
        takes_prefix: false,
    }
}

const ONE: Conversion = Conversion::Power(0);
const MICRO: Conversion = Conversion::Power(-6);
const PICO: Conversion = Conversion::Power(-12);
/// International inch and foot, exact since 1959 (NIST SP 811, appendix B.8).
const INCH: Conversion = Conversion::Share(254.0, 1e4);
const FOOT: Conversion = Conversion::Share(3048.0, 1e4);

/// The table. A text that fits two kinds is read as the wanted one.
pub(crate) const SPELLINGS: &[Spelling] = &[
    si(Kind::Volts, "V"),
    si(Kind::Volts, "volt"),
    si(Kind::Volts, "volts"),
    si(Kind::Volts, "Volt"),
    si(Kind::Volts, "Volts"),
    si(Kind::Volts, "v"),
    si(Kind::Amperes, "A"),
    si(Kind::Amperes, "amp"),
    si(Kind::Amperes, "amps"),
    si(Kind::Amperes, "ampere"),
    si(Kind::Amperes, "amperes"),
    si(Kind::Amperes, "Amp"),
    si(Kind::Amperes, "Amps"),
    plain(Kind::Amperes, "a", ONE),
    plain(Kind::Amperes, "ma", Conversion::Power(-3)),
    si(Kind::Ohms, "\u{3a9}"),  // Greek capital omega
    si(Kind::Ohms, "\u{2126}"), // ohm sign
    si(Kind::Ohms, "ohm"),
    si(Kind::Ohms, "ohms"),
    si(Kind::Ohms, "Ohm"),
    si(Kind::Ohms, "Ohms"),
    plain(Kind::Ohms, "R", ONE), // IEC 60062: 470R
    plain(Kind::Ohms, "kilohm", Conversion::Power(3)),
    plain(Kind::Ohms, "kilohms", Conversion::Power(3)),
    si(Kind::Siemens, "S"),
    si(Kind::Siemens, "siemens"),
    si(Kind::Farads, "F"),
    si(Kind::Farads, "farad"),
    si(Kind::Farads, "farads"),
    // Small letters; `mf` is left out, being a question.
    plain(Kind::Farads, "uf", MICRO),
    plain(Kind::Farads, "\u{b5}f", MICRO),
    plain(Kind::Farads, "\u{3bc}f", MICRO),
    plain(Kind::Farads, "nf", Conversion::Power(-9)),
    plain(Kind::Farads, "pf", PICO),
    plain(Kind::Farads, "UF", MICRO),
    // Marks on old capacitors (common practice, no source): M and m both meant micro.
    plain(Kind::Farads, "mfd", MICRO),
    plain(Kind::Farads, "MFD", MICRO),
    plain(Kind::Farads, "Mfd", MICRO),
    plain(Kind::Farads, "mmfd", PICO),
    plain(Kind::Farads, "MMFD", PICO),
    plain(Kind::Farads, "\u{b5}\u{b5}F", PICO),
    plain(Kind::Farads, "\u{3bc}\u{3bc}F", PICO),
    plain(Kind::Farads, "uuF", PICO),
    si(Kind::Henries, "H"),
    si(Kind::Henries, "henry"),
    si(Kind::Henries, "henries"),
    si(Kind::Hertz, "Hz"),
    si(Kind::Hertz, "hz"),
    si(Kind::Hertz, "HZ"),
    si(Kind::Hertz, "hertz"),
    si(Kind::Seconds, "s"),
    si(Kind::Seconds, "sec"),
    si(Kind::Seconds, "second"),
    si(Kind::Seconds, "seconds"),
    plain(Kind::Seconds, "min", Conversion::Share(60.0, 1.0)),
    plain(Kind::Seconds, "minute", Conversion::Share(60.0, 1.0)),
    plain(Kind::Seconds, "minutes", Conversion::Share(60.0, 1.0)),
    plain(Kind::Seconds, "h", Conversion::Share(3600.0, 1.0)),
    plain(Kind::Seconds, "hour", Conversion::Share(3600.0, 1.0)),
    plain(Kind::Seconds, "hours", Conversion::Share(3600.0, 1.0)),
    plain(Kind::Seconds, "d", Conversion::Share(86_400.0, 1.0)),
    plain(Kind::Seconds, "day", Conversion::Share(86_400.0, 1.0)),
    plain(Kind::Seconds, "days", Conversion::Share(86_400.0, 1.0)),
    plain(Kind::Hours, "h", ONE),
    plain(Kind::Hours, "hour", ONE),
    plain(Kind::Hours, "hours", ONE),
    plain(Kind::Hours, "d", Conversion::Share(24.0, 1.0)),
    plain(Kind::Hours, "day", Conversion::Share(24.0, 1.0)),
    plain(Kind::Hours, "days", Conversion::Share(24.0, 1.0)),
    // A Julian year of 365.25 days.
    plain(Kind::Hours, "year", Conversion::Share(8766.0, 1.0)),
    plain(Kind::Hours, "years", Conversion::Share(8766.0, 1.0)),
    plain(Kind::Hours, "min", Conversion::Share(1.0, 60.0)),
    plain(Kind::Hours, "minute", Conversion::Share(1.0, 60.0)),
    plain(Kind::Hours, "minutes", Conversion::Share(1.0, 60.0)),
    plain(Kind::Hours, "s", Conversion::Share(1.0, 3600.0)),
    plain(Kind::Hours, "second", Conversion::Share(1.0, 3600.0)),
    plain(Kind::Hours, "seconds", Conversion::Share(1.0, 3600.0)),
    si(Kind::Watts, "W"),
    si(Kind::Watts, "watt"),
    si(Kind::Watts, "watts"),
    plain(Kind::Watts, "w", ONE),
    si(Kind::VoltAmperes, "VA"),
    si(Kind::Joules, "J"),
    si(Kind::Joules, "joule"),
    si(Kind::Joules, "joules"),
    si(Kind::Joules, "Ws"),
    plain(Kind::Celsius, "\u{b0}C", ONE),
    plain(Kind::Celsius, "\u{b0} C", ONE),
    plain(Kind::Celsius, "\u{ba}C", ONE), // the ordinal sign, next to ° on some keyboards
    plain(Kind::Celsius, "\u{2103}", ONE),
    plain(Kind::Celsius, "degC", ONE),
    plain(Kind::Celsius, "deg C", ONE),
    plain(Kind::Celsius, "C", ONE),
    plain(Kind::Celsius, "\u{b0}F", Conversion::Fahrenheit),
    plain(Kind::Celsius, "\u{b0} F", Conversion::Fahrenheit),
    plain(Kind::Celsius, "\u{ba}F", Conversion::Fahrenheit),
    plain(Kind::Celsius, "\u{2109}", Conversion::Fahrenheit),
    plain(Kind::Celsius, "degF", Conversion::Fahrenheit),
    plain(Kind::Celsius, "deg F", Conversion::Fahrenheit),
    plain(Kind::Celsius, "F", Conversion::Fahrenheit),
    plain(Kind::Kelvins, "K", ONE),
    plain(Kind::Kelvins, "kelvin", ONE),
    plain(Kind::Kelvins, "kelvins", ONE),
    plain(Kind::Kelvins, "mK", Conversion::Power(-3)),
    plain(Kind::KelvinsPerWatt, "K/W", ONE),
    plain(Kind::KelvinsPerWatt, "\u{b0}C/W", ONE),
    plain(Kind::KelvinsPerWatt, "\u{ba}C/W", ONE),
    plain(Kind::KelvinsPerWatt, "degC/W", ONE),
    plain(Kind::KelvinsPerWatt, "C/W", ONE),
    plain(Kind::KelvinsPerWatt, "K/mW", Conversion::Power(3)),
    si(Kind::Metres, "m"),
    si(Kind::Metres, "metre"),
    si(Kind::Metres, "metres"),
    si(Kind::Metres, "meter"),
    si(Kind::Metres, "meters"),
    plain(Kind::Metres, "cm", Conversion::Power(-2)),
    plain(Kind::Metres, "in", INCH),
    plain(Kind::Metres, "inch", INCH),
    plain(Kind::Metres, "inches", INCH),
    plain(Kind::Metres, "\"", INCH),
    plain(Kind::Metres, "\u{2033}", INCH),
    plain(Kind::Metres, "ft", FOOT),
    plain(Kind::Metres, "foot", FOOT),
    plain(Kind::Metres, "feet", FOOT),
    plain(Kind::Metres, "'", FOOT),
    plain(Kind::Metres, "\u{2032}", FOOT),
    plain(Kind::Kilograms, "kg", ONE),
    plain(Kind::Kilograms, "g", Conversion::Power(-3)),
    // International pound, exact since 1959 (NIST SP 811, appendix B.8).
    plain(Kind::Kilograms, "lb", Conversion::Share(45_359_237.0, 1e8)),
    plain(Kind::SquareMetres, "m\u{b2}", ONE),
    plain(Kind::SquareMetres, "m2", ONE),
    plain(Kind::SquareMetres, "m^2", ONE),
    plain(Kind::SquareMetres, "cm\u{b2}", Conversion::Power(-4)),
    plain(Kind::SquareMetres, "cm2", Conversion::Power(-4)),
    plain(Kind::SquareMetres, "cm^2", Conversion::Power(-4)),
    plain(Kind::SquareMetres, "mm\u{b2}", MICRO),
    plain(Kind::SquareMetres, "mm2", MICRO),
    plain(Kind::SquareMetres, "mm^2", MICRO),
    plain(Kind::SquareMetres, "sq mm", MICRO),
    plain(Kind::SquareMetres, "AWG", Conversion::WireGauge),
    plain(Kind::SquareMetres, "awg", Conversion::WireGauge),
    plain(Kind::Ratio, "%", Conversion::Power(-2)),
    plain(Kind::Ratio, "percent", Conversion::Power(-2)),
    plain(Kind::Ratio, "ppm", MICRO),
    plain(Kind::Ratio, "ppb", Conversion::Power(-9)),
    plain(Kind::Decibels, "dB", ONE),
    plain(Kind::Decibels, "db", ONE),
    plain(Kind::Decibels, "dBc", ONE),
    plain(Kind::Decibels, "dBc/Hz", ONE),
    plain(Kind::DecibelMilliwatts, "dBm", ONE),
    plain(Kind::Degrees, "\u{b0}", ONE),
    plain(Kind::Degrees, "\u{ba}", ONE),
    plain(Kind::Degrees, "deg", ONE),
    plain(Kind::Degrees, "degree", ONE),
    plain(Kind::Degrees, "degrees", ONE),
    si(Kind::VoltsPerRootHertz, "V/\u{221a}Hz"),
    si(Kind::VoltsPerRootHertz, "V/rtHz"),
    si(Kind::VoltsPerRootHertz, "V/sqrtHz"),
    si(Kind::VoltsPerRootHertz, "V/sqrt(Hz)"),
    si(Kind::VoltsPerRootHertz, "V/\u{221a}(Hz)"),
    si(Kind::VoltsPerRootHertz, "V/Hz^0.5"),
    si(Kind::HertzPerVolt, "Hz/V"),
    si(Kind::HertzPerVolt, "hz/V"),
    plain(Kind::PerVolt, "per V", ONE),
    plain(Kind::PerVolt, "%/V", Conversion::Power(-2)),
    plain(Kind::PerVolt, "ppm/V", MICRO),
    plain(Kind::PerVolt, "ppb/V", Conversion::Power(-9)),
    plain(Kind::AmpereSquaredSeconds, "A\u{b2}s", ONE),
    plain(Kind::AmpereSquaredSeconds, "A\u{b2} s", ONE),
    plain(Kind::AmpereSquaredSeconds, "A\u{b2}\u{b7}s", ONE),
    plain(Kind::AmpereSquaredSeconds, "A2s", ONE),
    plain(Kind::AmpereSquaredSeconds, "A^2s", ONE),
    plain(Kind::AmpereSquaredSeconds, "A^2 s", ONE),
];

/// Words that may follow a voltage or a current and change nothing: an AC value is an rms value unless
/// it says otherwise. Peak and peak-to-peak values are another statistic and are not read here.
pub(crate) const QUALIFIERS: &[&str] = &["rms", "RMS", "r.m.s.", "ac", "AC", "dc", "DC"];

#[cfg(test)]
mod tests {
    use super::{Conversion, SPELLINGS};
    use crate::{Kind, read};

    /// Every line of the table is reached: read with its kind wanted, it gives its own conversion.
    #[test]
    fn every_spelling_is_read() {
        for spelling in SPELLINGS {
            let text = format!("20 {}", spelling.text);
            let reading = read::quantity(&text, spelling.kind);
            let value = reading.unwrap_or_else(|e| panic!("{text}: {e}")).nominal;
            let near = |expected: f64| (value / expected - 1.0).abs() < 1e-12;
            match spelling.conversion {
                Conversion::Power(power) => assert!(near(20.0 * 10_f64.powi(power)), "{text}"),
                Conversion::Share(times, over) => assert!(near(20.0 * times / over), "{text}"),
                // 20 °F is -6.67 °C.
                Conversion::Fahrenheit => assert!(near(-12.0 / 1.8), "{text}"),
                // 20 AWG is 0.811821 mm thick (PWR-SAFE-27).
                Conversion::WireGauge => assert!((value - 0.5176e-6).abs() < 1e-10, "{text}"),
            }
        }
    }

    #[test]
    fn no_spelling_stands_twice_in_a_kind() {
        for (index, one) in SPELLINGS.iter().enumerate() {
            let twice = SPELLINGS[..index]
                .iter()
                .any(|s| s.kind == one.kind && s.text == one.text);
            assert!(!twice, "{} of {:?}", one.text, one.kind);
        }
    }

    /// The examples in errors can be read, and so can the symbols that are printed.
    #[test]
    fn examples_and_symbols_are_read() {
        for kind in Kind::ALL {
            for example in kind.example().split(" or ") {
                assert!(read::quantity(example, *kind).is_ok(), "{example}");
            }
            let printed = format!("1 {}", kind.symbol());
            assert!(read::quantity(&printed, *kind).is_ok(), "{printed}");
        }
    }
}
