//! Changes to a job by address.
//!
//! Input: a change a line (`set C1.value 1e-3`, `open C1`, `short C1`, `reverse T1.S1`, `swap C1 C2`,
//! `insert C1 C9`), a line `#job`, then the job.

use crate::split_at_line;
use quietrail_job::model::{Job, Part};
use quietrail_job::{Address, Change, ChangeError, Parameter, read};

/// Makes the changes and checks what became of the job.
///
/// # Panics
/// A change keeps one of its promises not.
pub fn check(input: &[u8]) {
    let Ok(text) = std::str::from_utf8(input) else {
        return;
    };
    let (lines, Some(text)) = split_at_line(text, "#job") else {
        return;
    };
    let Some(job) = read(text, None).job else {
        return;
    };
    check_nothing_changes(&job);
    let changes: Vec<Change> = lines
        .lines()
        .filter_map(|line| change_of(line, &job))
        .collect();
    match job.with(&changes) {
        Ok(changed) => check_changed(&job, &changes, &changed),
        Err(error) => check_error(&job, &error),
    }
    assert_eq!(job.with(&changes), job.with(&changes));
}

fn change_of(line: &str, job: &Job) -> Option<Change> {
    let words: Vec<&str> = line.split(' ').collect();
    Some(match words.as_slice() {
        ["set", address, value] => Change::Set {
            address: Address((*address).to_owned()),
            value: value.parse().ok()?,
        },
        ["open", name] => Change::Open((*name).to_owned()),
        ["short", name] => Change::Short((*name).to_owned()),
        ["reverse", name] => Change::Reverse((*name).to_owned()),
        ["swap", name, with] => Change::Swap {
            part: (*name).to_owned(),
            with: Box::new(job.part(with)?.clone()),
        },
        ["insert", like, name] => Change::Insert(Box::new(Part {
            name: (*name).to_owned(),
            ..job.part(like)?.clone()
        })),
        _ => return None,
    })
}

/// No change, every figure set to what it is, and a winding turned twice: the same job.
fn check_nothing_changes(job: &Job) {
    assert_eq!(job.with(&[]).as_ref(), Ok(job));
    let parameters = job.parameters();
    let same: Vec<Change> = parameters
        .iter()
        .map(|parameter| Change::Set {
            address: parameter.address.clone(),
            value: parameter.nominal,
        })
        .collect();
    let unmoved = job
        .with(&same)
        .unwrap_or_else(|error| panic!("every figure can be what it is, but {error}"));
    for (now, then) in unmoved.parameters().iter().zip(&parameters) {
        assert_eq!(
            (now.low, now.nominal, now.high),
            (then.low, then.nominal, then.high),
            "{}",
            now.address
        );
    }
}

fn check_changed(job: &Job, changes: &[Change], changed: &Job) {
    let parameters = changed.parameters();
    for parameter in &parameters {
        let range = [parameter.low, parameter.nominal, parameter.high];
        assert!(
            range.is_sorted() && range.iter().all(|value| value.is_finite()),
            "{parameter:?} after {changes:?}"
        );
    }
    for (index, change) in changes.iter().enumerate() {
        match change {
            Change::Set { address, value } => {
                let is_later = |later: &Change| matches!(later, Change::Set { address: other, .. } if other == address);
                if !changes[index + 1..].iter().any(is_later) {
                    assert_eq!(nominal(&parameters, address), Some(*value), "{address}");
                }
            }
            Change::Open(name) | Change::Short(name) | Change::Swap { part: name, .. } => {
                assert!(changed.part(name).is_some(), "{name} stays in the job");
            }
            Change::Insert(part) => {
                assert!(job.part(&part.name).is_none(), "{} was free", part.name);
                assert!(changed.part(&part.name).is_some(), "{} has come", part.name);
            }
            Change::Reverse(name) => {
                let back =
                    changed.with(&[Change::Reverse(name.clone()), Change::Reverse(name.clone())]);
                assert_eq!(back.as_ref(), Ok(changed), "{name} turned twice");
            }
        }
    }
}

fn nominal(parameters: &[Parameter], address: &Address) -> Option<f64> {
    parameters
        .iter()
        .find(|parameter| parameter.address == *address)
        .map(|parameter| parameter.nominal)
}

fn check_error(job: &Job, error: &ChangeError) {
    assert!(!error.to_string().is_empty(), "{error:?}");
    if let ChangeError::UnknownAddress { address, nearest } = error {
        let parameters = job.parameters();
        let known = |name: &str| parameters.iter().any(|one| one.address.0 == name);
        assert!(!known(address), "{address} is there");
        assert!(
            nearest.as_deref().is_none_or(known),
            "{nearest:?} is not there"
        );
    }
}
