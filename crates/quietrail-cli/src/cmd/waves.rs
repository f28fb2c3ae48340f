//! `quietrail waves`: two mains cycles of a node, drawn.

use crate::shell::{Complaint, complain, gather, say, write_over};
use clap::Args;
use quietrail_bench::capture::doubt;
use quietrail_bench::log::Observed;
use quietrail_job::model::What;
use quietrail_job::{Address, Change};
use quietrail_report::svg;
use quietrail_report::words;
use quietrail_study::bringup;
use quietrail_study::lower::Step;
use quietrail_study::waves::{NoWaves, overlay, waves};
use std::path::PathBuf;

/// Draw two mains cycles of a node as SVG, with the lowest corner found beside the parts as marked.
///
/// `--capture captures/raw.csv` lays a measured wave over them; `--step` predicts what a step of the bring-up connects.
#[derive(Args)]
pub(crate) struct Waves {
    /// The job's folder, or its job.toml.
    job: PathBuf,
    /// The node.
    #[arg(long)]
    node: String,
    /// The state of the load; that of the step unless given.
    #[arg(long, required_unless_present = "step")]
    state: Option<String>,
    /// Step of the bring-up: its lamp, dummies and missing parts are in the circuit.
    #[arg(long)]
    step: Option<String>,
    /// File of a capture, relative to the job, laid over the prediction.
    #[arg(long)]
    capture: Option<String>,
    /// Which signal of the capture, by name or number.
    #[arg(long, requires = "capture")]
    column: Option<String>,
    /// Mains voltage in place of the nominal one, for instance 207 V.
    #[arg(long)]
    mains: Option<String>,
    /// File to write; standard output without it.
    #[arg(short, long)]
    output: Option<PathBuf>,
}

impl Waves {
    pub(crate) fn run(&self) -> Result<u8, Complaint> {
        let sources = gather(&self.job)?;
        let job = sources.job()?;
        let planned = match &self.step {
            Some(name) => Some(super::step_of(&bringup::planned(&job), name)?),
            None => None,
        };
        let step = planned
            .as_ref()
            .map_or_else(Step::default, bringup::lowered_step);
        let state = match &self.state {
            Some(name) => super::state_of(&job, name)?,
            None => planned.and_then(|step| step.state).unwrap_or(0),
        };
        let mut changes = Vec::new();
        if let Some(text) = &self.mains {
            let volts = quietrail_units::Quantity::<quietrail_units::Volts>::parse(text)
                .map_err(|error| complain(format_args!("--mains: {error}")))?;
            let address = Address("mains.voltage".to_owned());
            changes.push(Change::Set {
                address,
                value: volts.nominal,
            });
        }
        let options = quietrail_study::options();
        let mut drawing = waves(&job, &self.node, (state, &step), &changes, &options).map_err(
            |why| match why {
                NoWaves::UnknownNode { known } => complain(format_args!(
                    "no node is called {}; there are {}",
                    self.node,
                    known.join(", ")
                )),
                NoWaves::Trouble(trouble) => complain(trouble),
            },
        )?;
        if let Some(step) = &self.step {
            drawing.state.clone_from(step);
        }
        let mut said = None;
        if let Some(typed) = &self.capture {
            let name = &super::capture::name_of(&sources.job_path, typed);
            let path = sources.job_path.with_file_name(name);
            let capture = super::capture::read_capture(&path, self.column.as_deref())?;
            if capture.unit != "V" {
                return Err(complain(format_args!(
                    "{}: {}",
                    path.display(),
                    words::captures::not_volts(capture.unit)
                )));
            }
            overlay(&mut drawing, name, &capture.samples).map_err(|why| {
                complain(format_args!(
                    "{}: {}",
                    path.display(),
                    words::waves::not_laid_over(why)
                ))
            })?;
            let wave = Observed::Statistic(What::Ripple);
            if let Some(odd) = doubt(&capture, wave, job.mains.frequency.nominal()) {
                let odd = words::captures::doubt(odd, capture.unit);
                let odd = quietrail_report::number::spaced(&odd);
                eprint!("{}", complain(format_args!("{name}: {odd}")));
            }
            said = drawing
                .measured
                .as_ref()
                .map(|measured| words::waves::laid_over(&drawing, measured));
        }
        let text = svg::waves(&drawing);
        match &self.output {
            Some(path) => {
                write_over(path, &text)?;
                if let Some(said) = said {
                    say(&format!("{}\n", quietrail_report::number::spaced(&said)))?;
                }
            }
            None => say(&text)?,
        }
        Ok(0)
    }
}
