//! `quietrail translate`: one level in every unit.

use crate::shell::{Complaint, complain, gather, say, style_of};
use clap::{Args, ValueEnum};
use quietrail_report::{translate as told, words};
use quietrail_study::level::{Shape, USUAL_CREST};
use quietrail_study::translate::{Given, Sensitivity, of_limit_in, read, translate};
use quietrail_units::{Hertz, HertzPerVolt, Ohms, PerVolt, Quantity, Ratio, Unit};
use std::io;
use std::path::{Path, PathBuf};

/// Say a level in every unit: p-p, rms, density, dBm, dBV, dBc, ppb; or the ripple and noise limits of a job.
///
/// `translate "20 mV p-p" --shape sine` for a level, `translate JOB` for limits. What is not known is not
/// guessed: units that need it are named with what they need.
///
/// Exit status: 0 something could be told, 2 no such job, limit or level, 3 nothing could be told.
#[derive(Args)]
pub(crate) struct Translate {
    /// A level such as "20 mV p-p", "16 nV/√Hz", "-120 dBc"; or the job's folder or job.toml.
    #[arg(value_name = "LEVEL|JOB", allow_hyphen_values = true)]
    of: String,
    /// Name of the limit, as the job has it; all of ripple and noise unless named.
    limit: Option<String>,
    /// What it looks like.
    #[arg(long)]
    shape: Option<Looks>,
    /// Peak-to-peak over rms of noise; 6.6 unless given.
    #[arg(long, value_name = "TIMES")]
    crest: Option<String>,
    /// Where it counts: "10 Hz .. 100 kHz".
    #[arg(long)]
    band: Option<String>,
    /// Resistance that a power goes into: "50 Ω".
    #[arg(long, value_name = "OHMS")]
    into: Option<String>,
    /// Frequency at which it swings, or distance from the carrier: "100 Hz".
    #[arg(long, value_name = "HERTZ")]
    at: Option<String>,
    /// Frequency of the oscillator: "10 MHz".
    #[arg(long, value_name = "HERTZ")]
    carrier: Option<String>,
    /// How far a volt on the pin pulls the frequency: "2 ppb/V", "0.05 Hz/V".
    #[arg(long, value_name = "SLOPE")]
    shifts: Option<String>,
    /// How far a volt on the pin moves the amplitude: "0.1 %/V".
    #[arg(long, value_name = "SLOPE")]
    amplitude: Option<String>,
    /// Print the answer as data.
    #[arg(long)]
    json: bool,
}

/// What a voltage looks like.
#[derive(Clone, Copy, ValueEnum)]
enum Looks {
    Sine,
    Triangle,
    Sawtooth,
    Square,
    Noise,
}

/// Exit status where no unit could be told beyond the one given.
const NOTHING: u8 = 3;

/// Levels that are told in dBV.
const OTHERS: [&str; 5] = ["dbu", "dbmv", "dbuv", "db\u{b5}v", "db\u{3bc}v"];

impl Translate {
    pub(crate) fn run(&self) -> Result<u8, Complaint> {
        let given = self.given()?;
        if Path::new(&self.of).exists() {
            return self.limits(given);
        }
        if self.limit.is_some() {
            return Err(complain(format_args!(
                "{}: there is no such file or folder",
                self.of
            )));
        }
        let level = read(&self.of).map_err(|why| {
            // Without a number in front it was meant as a job.
            let text = self.of.trim_start_matches(['-', '+', '−', ' ']);
            if text.starts_with(|letter: char| letter.is_ascii_digit() || letter == '.') {
                complain(words::translate::not_a_level(&why))
            } else {
                complain(words::translate::neither(&self.of))
            }
        })?;
        let translation = translate(level, given);
        // What is told in another unit than it was typed in is headed by both.
        let small = self.of.to_lowercase();
        let is_other = OTHERS.iter().any(|unit| small.ends_with(unit));
        let typed = (is_other && !self.json).then(|| self.of.trim().to_owned());
        self.print(&[(typed, translation)], None)
    }

    /// The limits of a job; what the job says of them is not asked again.
    fn limits(&self, given: Given) -> Result<u8, Complaint> {
        let job = gather(&PathBuf::from(&self.of))?.job()?;
        let known: Vec<_> = job
            .limits
            .iter()
            .filter_map(|limit| Some((limit.name.clone(), of_limit_in(&job, limit)?)))
            .collect();
        let wanted: Vec<_> = known
            .iter()
            .filter(|(name, _)| self.limit.as_ref().is_none_or(|wanted| wanted == name))
            .map(|(name, (level, says))| {
                let both = Given {
                    shape: given.shape.or(says.shape),
                    band: says.band.or(given.band),
                    carrier: given.carrier.or(says.carrier),
                    shifts: given.shifts.or(says.shifts),
                    amplitude: given.amplitude.or(says.amplitude),
                    ..given
                };
                (Some(name.clone()), translate(*level, both))
            })
            .collect();
        if wanted.is_empty() {
            let names: Vec<&str> = known.iter().map(|(name, _)| name.as_str()).collect();
            let name = self.limit.as_deref().unwrap_or_default();
            return Err(complain(words::translate::no_such_limit(name, &names)));
        }
        let heading = told::heading(&job.title, &job.region.name);
        self.print(&wanted, Some(&heading))
    }

    fn print(
        &self,
        all: &[(Option<String>, quietrail_study::translate::Translation)],
        heading: Option<&str>,
    ) -> Result<u8, Complaint> {
        if self.json {
            let values: Vec<_> = all
                .iter()
                .map(|(name, translation)| told::to_json(name.as_deref(), translation))
                .collect();
            match values.as_slice() {
                [one] if heading.is_none() => say(&format!("{one:#}\n"))?,
                _ => say(&format!(
                    "{:#}\n",
                    serde_json::json!({ "format": 1, "job": heading, "limits": values })
                ))?,
            }
        } else {
            let style = style_of(&io::stdout());
            let mut texts: Vec<String> = heading
                .map(|text| told::headed(text, style))
                .into_iter()
                .collect();
            texts.extend(
                all.iter()
                    .map(|(name, translation)| told::text(name.as_deref(), translation, style)),
            );
            say(&texts.join("\n"))?;
        }
        let told = all.iter().any(|(_, translation)| {
            translation
                .rows
                .iter()
                .filter(|row| row.value.is_ok())
                .count()
                > 1
        });
        Ok(if told { 0 } else { NOTHING })
    }

    fn given(&self) -> Result<Given, Complaint> {
        let crest = match &self.crest {
            Some(text) => exact::<Ratio>("--crest", text)?,
            None => USUAL_CREST,
        };
        let shape = self.shape.map(|looks| match looks {
            Looks::Sine => Shape::Sine,
            Looks::Triangle => Shape::Triangle,
            Looks::Sawtooth => Shape::Sawtooth,
            Looks::Square => Shape::Square,
            Looks::Noise => Shape::Noise { crest },
        });
        Ok(Given {
            shape,
            band: self.band.as_deref().map(band).transpose()?,
            ohms: optional::<Ohms>("--into", self.into.as_deref())?,
            at: optional::<Hertz>("--at", self.at.as_deref())?,
            carrier: optional::<Hertz>("--carrier", self.carrier.as_deref())?,
            shifts: self.shifts.as_deref().map(slope).transpose()?,
            amplitude: optional::<PerVolt>("--amplitude", self.amplitude.as_deref())?,
        })
    }
}

fn optional<U: Unit>(option: &str, text: Option<&str>) -> Result<Option<f64>, Complaint> {
    text.map(|text| exact::<U>(option, text)).transpose()
}

fn exact<U: Unit>(option: &str, text: &str) -> Result<f64, Complaint> {
    let quantity =
        Quantity::<U>::parse(text).map_err(|error| complain(format_args!("{option}: {error}")))?;
    if quantity.low < quantity.high || quantity.nominal <= 0.0 {
        return Err(complain(format_args!(
            "{option}: read {text}; one value above zero is wanted, for instance {}",
            U::KIND.example()
        )));
    }
    Ok(quantity.nominal)
}

fn band(text: &str) -> Result<(f64, f64), Complaint> {
    let quantity = Quantity::<Hertz>::parse(text)
        .map_err(|error| complain(format_args!("--band: {error}")))?;
    if quantity.low < quantity.high && quantity.low >= 0.0 {
        return Ok((quantity.low, quantity.high));
    }
    Err(complain(format_args!(
        "--band: read {text}; a range is wanted, for instance 10 Hz .. 100 kHz"
    )))
}

/// Hertz per volt, or a share of the carrier per volt.
fn slope(text: &str) -> Result<Sensitivity, Complaint> {
    if Quantity::<HertzPerVolt>::parse(text).is_ok() {
        return Ok(Sensitivity::HertzPerVolt(exact::<HertzPerVolt>(
            "--shifts", text,
        )?));
    }
    Ok(Sensitivity::PerVolt(exact::<PerVolt>("--shifts", text)?))
}
