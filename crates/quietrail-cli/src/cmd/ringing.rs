//! `quietrail ringing`: what a ring on the oscilloscope says.

use crate::shell::{Complaint, complain, say, style_of};
use clap::Args;
use quietrail_report::{ringing as told, words};
use quietrail_study::ringing::{self, TwoRings};
use quietrail_units::{Farads, Hertz, Quantity, Ratio, Unit, Volts};
use std::io;

/// Read a ring on the oscilloscope: the damping of a regulator from the swings after a step of its load, or a snubber for a
/// rectifier from two readings of its ring.
///
/// `--swings "40 mV, 14 mV, 5 mV"` are the heights of the swings from where the output comes to rest, alternately above and below.
/// `--alone "1.2 MHz" --added "1 nF" --with "480 kHz"` are the ring by itself, a capacitor put across it, and the ring with that.
///
/// Exit status: 0 told, 1 the loop is badly damped or oscillates, 2 a reading that cannot be used, 3 no snubber of preferred values
/// does it.
#[derive(Args)]
pub(crate) struct Ringing {
    /// Heights of the swings after a step of the load, separated by commas.
    #[arg(long, value_name = "VOLTS, VOLTS, ...", conflicts_with = "alone")]
    swings: Option<String>,
    /// Frequency of the ring by itself.
    #[arg(long, value_name = "HERTZ", requires = "added", requires = "with")]
    alone: Option<String>,
    /// Capacitor put across what rings.
    #[arg(long, value_name = "FARADS", requires = "alone")]
    added: Option<String>,
    /// Frequency of the ring with that capacitor.
    #[arg(long, value_name = "HERTZ", requires = "alone")]
    with: Option<String>,
    /// Damping ratio that the snubber should give, 0 to 1; 0.5 unless given.
    #[arg(long, value_name = "RATIO", requires = "alone")]
    damping: Option<String>,
    /// Peak voltage of the winding, for the heat of the snubber.
    #[arg(long, value_name = "VOLTS", requires = "alone")]
    peak: Option<String>,
    /// Mains frequency, for the heat of the snubber; 50 Hz unless given.
    #[arg(long, value_name = "HERTZ", requires = "alone")]
    mains: Option<String>,
    /// Print the answer as data.
    #[arg(long)]
    json: bool,
}

/// Damping ratio of a snubber that is not asked for another: it overshoots by a sixth and is over within a period.
const DAMPING: f64 = 0.5;
/// Exit statuses.
const POORLY: u8 = 1;
const NONE: u8 = 3;

impl Ringing {
    pub(crate) fn run(&self) -> Result<u8, Complaint> {
        if let Some(swings) = &self.swings {
            return self.step(swings);
        }
        let (Some(alone), Some(added), Some(with)) = (&self.alone, &self.added, &self.with) else {
            return Err(complain(words::ringing::NOTHING));
        };
        let rings = TwoRings {
            alone: range::<Hertz>("--alone", alone)?,
            added: range::<Farads>("--added", added)?,
            with: range::<Hertz>("--with", with)?,
        };
        let damping = match &self.damping {
            Some(text) => range::<Ratio>("--damping", text)?.0,
            None => DAMPING,
        };
        if damping > 1.0 {
            return Err(complain(words::ringing::TOO_MUCH));
        }
        let tank = ringing::tank(&rings).ok_or_else(|| complain(words::ringing::NOT_SLOWER))?;
        let snubber = ringing::snubber(&tank, damping);
        let peak = self.peak.as_deref();
        let peak = peak
            .map(|text| range::<Volts>("--peak", text))
            .transpose()?;
        let mains = match &self.mains {
            Some(text) => range::<Hertz>("--mains", text)?.1,
            None => 50.0,
        };
        let watts = peak
            .zip(snubber)
            .map(|(peak, snubber)| ringing::snubber_watts(snubber.farads, peak.1, mains));
        if self.json {
            say(&format!(
                "{:#}\n",
                told::snubber_json(&tank, snubber.as_ref(), watts)
            ))?;
        } else {
            let style = style_of(&io::stdout());
            say(&told::snubber_text(
                &tank,
                snubber.as_ref(),
                damping,
                watts,
                style,
            ))?;
        }
        Ok(if snubber.is_some() { 0 } else { NONE })
    }

    fn step(&self, swings: &str) -> Result<u8, Complaint> {
        // A comma may be decimal: what separates is a comma before a blank, or a semicolon.
        let swings: Vec<f64> = swings
            .split(", ")
            .flat_map(|text| text.split(';'))
            .map(|text| {
                range::<Volts>("--swings", text.trim()).map(|(low, high)| 0.5 * (low + high))
            })
            .collect::<Result<_, _>>()?;
        let ring = ringing::ring(&swings);
        if ring == Err(ringing::NoRing::TooFew) {
            return Err(complain(words::ringing::TOO_FEW));
        }
        if self.json {
            say(&format!("{:#}\n", told::step_json(&ring)))?;
        } else {
            say(&told::step_text(&ring, style_of(&io::stdout())))?;
        }
        let is_poor = ring
            .as_ref()
            .map_or(true, |ring| ring.margin < ringing::POOR);
        Ok(if is_poor { POORLY } else { 0 })
    }
}

/// A value above zero with its tolerance.
fn range<U: Unit>(option: &str, text: &str) -> Result<(f64, f64), Complaint> {
    let quantity =
        Quantity::<U>::parse(text).map_err(|error| complain(format_args!("{option}: {error}")))?;
    if quantity.low <= 0.0 {
        return Err(complain(format_args!(
            "{option}: read {text}; a value above zero is wanted, for instance {}",
            U::KIND.example()
        )));
    }
    Ok((quantity.low, quantity.high))
}
