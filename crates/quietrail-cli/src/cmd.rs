//! The verbs, one file each: what it takes, and what it does.

mod bringup;
mod capture;
mod demo;
mod explain;
mod named;
mod new;
mod open;
mod oscillator;
mod prove;
mod read;
mod regulators;
mod ringing;
mod schema;
mod sidebands;
mod transformer;
mod translate;
mod waves;

use crate::shell::{Complaint, complain};
use clap::{Parser, Subcommand};
use quietrail_job::model::Job;

/// Proves that a mains-powered linear supply holds every limit of its load, at the worst corner found.
#[derive(Parser)]
#[command(name = "quietrail", version, arg_required_else_help = true)]
pub(crate) struct Arguments {
    #[command(subcommand)]
    verb: Verb,
}

#[derive(Subcommand)]
enum Verb {
    Prove(prove::Prove),
    Demo(demo::Demo),
    Bringup(bringup::Bringup),
    Read(Box<read::Read>),
    New(new::New),
    Open(open::Open),
    Waves(waves::Waves),
    Explain(explain::Explain),
    Transformer(transformer::Transformer),
    Translate(Box<translate::Translate>),
    Sidebands(sidebands::Sidebands),
    Oscillator(oscillator::Oscillator),
    Regulators(regulators::Regulators),
    Ringing(ringing::Ringing),
    Schema(schema::Schema),
}

/// Carries out a verb; its exit status.
pub(crate) fn run(arguments: &Arguments) -> Result<u8, Complaint> {
    match &arguments.verb {
        Verb::Prove(prove) => prove.run(),
        Verb::Demo(demo) => demo.run(),
        Verb::Bringup(bringup) => bringup.run(),
        Verb::Read(read) => read.run(),
        Verb::New(new) => new.run(),
        Verb::Open(open) => open.run(),
        Verb::Waves(waves) => waves.run(),
        Verb::Explain(explain) => explain.run(),
        Verb::Transformer(transformer) => transformer.run(),
        Verb::Translate(translate) => translate.run(),
        Verb::Sidebands(sidebands) => sidebands.run(),
        Verb::Oscillator(oscillator) => oscillator.run(),
        Verb::Regulators(regulators) => regulators.run(),
        Verb::Ringing(ringing) => ringing.run(),
        Verb::Schema(schema) => schema.run(),
    }
}

/// The number of a state by its name.
fn state_of(job: &Job, name: &str) -> Result<usize, Complaint> {
    let known = || job.states.iter().map(|state| state.name.as_str());
    known().position(|state| state == name).ok_or_else(|| {
        let known: Vec<&str> = known().collect();
        complain(format_args!(
            "no state is called {name}; there are {}",
            known.join(", ")
        ))
    })
}

/// The step of the bring-up of that name.
fn step_of(
    steps: &[quietrail_study::bringup::Planned],
    name: &str,
) -> Result<quietrail_study::bringup::Planned, Complaint> {
    let known: Vec<&str> = steps.iter().map(|step| step.name.as_str()).collect();
    let found = steps.iter().find(|step| step.name == name);
    found.cloned().ok_or_else(|| {
        let near = quietrail_job::nearest(name, known.iter().copied());
        complain(quietrail_report::words::readings::unknown(
            "step",
            name,
            near.as_deref(),
            &known,
        ))
    })
}
