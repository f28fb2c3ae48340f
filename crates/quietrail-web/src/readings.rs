//! What the readings log says of the limits, put beside what is predicted.
//!
//! Readings are of the job as its file has it. What is only being tried has not been built, so nothing was read of it.

use crate::desk::Desk;
use crate::known::Known;
use crate::sheet::Sheet;
use quietrail_bench::log::{Log, Observed};
use quietrail_study::bringup::{BringUp, bring_up, partial_steps};
use quietrail_study::finding::{LimitFinding, Proof};
use quietrail_study::measured::{Judged, Limited, judged, merge};
use std::sync::Arc;

/// A proof with what the readings say in it, and what each limit's readings come to.
struct Merged {
    proof: Arc<Proof>,
    judged: Arc<Vec<Judged>>,
}

/// Puts what readings say into what is known of the file's version with this sum.
pub(crate) fn with_readings(desk: &Desk, sum: &str, known: Known) -> (Known, Arc<Vec<Judged>>) {
    let trace = desk.folder.log_trace();
    if trace.is_none() {
        return (known, Arc::default());
    }
    let key = (
        sum.to_owned(),
        format!("readings {trace:?} {:?}", known.standing),
    );
    let merged = desk.remembered(&key, || {
        let log = desk.folder.log().unwrap_or_default();
        let mut proof = (*known.proof).clone();
        let judged = judged(
            &known.job,
            &Limited::of_proof(&proof),
            &log,
            &partial_steps(&known.job),
            &quietrail_study::options(),
        );
        merge(&mut proof, &judged);
        Merged {
            proof: Arc::new(proof),
            judged: Arc::new(judged),
        }
    });
    let known = Known {
        proof: merged.proof.clone(),
        ..known
    };
    (known, merged.judged.clone())
}

/// What the readings of a limit come to: in the state of a row first, then in others.
pub(crate) fn of_row<'a>(sheet: &'a Sheet<'_>, row: &LimitFinding) -> Vec<&'a Judged> {
    let own = sheet.judged.iter().filter(|one| one.limit == row.name);
    let (here, other): (Vec<&Judged>, Vec<&Judged>) = own.partition(|one| one.state == row.state);
    here.into_iter().chain(other).collect()
}

/// The bring-up with its bands, those of the steps in which something was read.
pub(crate) fn bring_up_read(sheet: &Sheet<'_>, log: &Log) -> Option<Arc<Option<BringUp>>> {
    let job = sheet.version.job.as_deref()?;
    let key = (
        sheet.version.sum.clone(),
        format!("bring-up {:?}", sheet.desk.folder.log_trace()),
    );
    let made = sheet.desk.remembered(&key, || {
        let options = quietrail_study::options();
        let mut whole = bring_up(job, log, Some(""), &options).ok()?;
        for step in &mut whole.steps {
            let is_read = log
                .rows
                .iter()
                .any(|row| row.step == step.name && row.what != Observed::Override);
            if !is_read {
                continue;
            }
            let name = step.name.clone();
            let computed = bring_up(job, log, Some(&name), &options).ok()?;
            if let Some(own) = computed.steps.into_iter().find(|own| own.name == name) {
                *step = own;
            }
        }
        Some(whole)
    });
    Some(made)
}
