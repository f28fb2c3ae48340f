//! A first job from a few answers.
//!
//! Input: a line with the region, a line with the states, a line with the title, then a rail a line: load, volts, draws
//! (parted by `/`), low, high, ripple, sink, parted by `;`.

use crate::job::check_reading;
use quietrail_job::begin::{ALL, Answers, Rail, Region, Supply};
use quietrail_job::{read, set_value};

/// Fills the template and reads it.
///
/// # Panics
/// What nothing is said against becomes no TOML, or says something else than was typed.
pub fn check(input: &[u8]) {
    let Ok(text) = std::str::from_utf8(input) else {
        return;
    };
    let mut lines = text.split('\n');
    let (Some(region), Some(states), Some(title)) = (lines.next(), lines.next(), lines.next())
    else {
        return;
    };
    let region = match Region::parse(region) {
        Ok(region) => region,
        Err(said) => return assert!(!said.is_empty()),
    };
    let mut answers = Answers::new(region);
    for question in ALL {
        let answer = if question.name == "title" {
            title.to_owned()
        } else {
            question.default(&answers)
        };
        answers.take(question.name, answer);
    }
    let rails: Vec<Rail> = lines.map(rail).collect();
    let supply = Supply::of(answers, states, rails);
    let faults = supply.faults();
    let text = supply.text();
    let reading = read(&text, None);
    check_reading(&reading, &text, None);
    for fault in &faults {
        assert!(
            !fault.said.is_empty() && !fault.field.is_empty(),
            "{fault:?}"
        );
        assert!(
            fault.rail.is_none_or(|rail| rail < supply.rails.len()),
            "{fault:?}"
        );
    }
    if faults.is_empty() {
        assert!(
            set_value(&text, "job.title", "x").is_ok(),
            "no TOML:\n{text}"
        );
    }
    if let Some(job) = reading.job {
        assert_eq!(job.title, title);
        // A state of which something is said may become a comment, or two.
        if faults.iter().all(|fault| fault.field != "states") {
            assert_eq!(job.states.len(), supply.states.len());
        }
    }
}

fn rail(line: &str) -> Rail {
    let mut fields = line.split(';').map(str::to_owned);
    let mut next = || fields.next().unwrap_or_default();
    Rail {
        load: next(),
        volts: next(),
        draws: next().split('/').map(str::to_owned).collect(),
        low: next(),
        high: next(),
        ripple: next(),
        sink: next(),
    }
}
