//! Every case of the reference file, every output, against values computed by two independent methods.
//!
//! `QUIETRAIL_CASES=FILE` reads another file of the same schema. What each key means is stated in
//! `guide/reference-problems.md`.

mod reference {
    pub(crate) mod cases;
    pub(crate) mod compare;
    pub(crate) mod problems;
}

use quietrail_checks::Section;
use quietrail_engine::Options;
use reference::{cases, compare::Comparison, problems};

const TWO_METHODS: &str =
    "five-stage collocation and an eighth-order explicit pair, outside this engine";

/// What users get: each output within 1e-6.
#[test]
fn every_output_within_a_millionth() {
    let options = Options::default();
    run(&options, 1e-6, "1e-6");
}

/// The tolerance tightened: each output within 1e-9.
#[test]
fn every_output_within_a_billionth_when_tightened() {
    let options = Options {
        tolerance: 1e-11,
        ..Options::default()
    };
    run(&options, 1e-9, "1e-9");
}

fn run(options: &Options, allowed: f64, name: &str) {
    let cases = cases::load();
    let mut total = Comparison::default();
    let title = format!("Periodic steady states, each output within {name}");
    let mut section = Section::new(&format!("steady-states-{name}"), &title);
    for case in &cases {
        let found = problems::solve(case, options);
        total.take(&case.id, &case.results, &found, allowed);
        let what = format!("problem {}: every output of the case", case.problem);
        section
            .row(&case.id, &what, TWO_METHODS)
            .worst_of(&total.figures);
    }
    println!(
        "reference cases at {name}: {} cases, {} outputs compared, worst difference {:.1e} ({})",
        cases.len(),
        total.compared,
        total.worst,
        total.worst_at
    );
    assert!(!cases.is_empty(), "no cases were read");
    assert!(
        total.complaints.is_empty(),
        "{}",
        total.complaints.join("\n")
    );
    // Another file of cases is judged all the same, but the guide's page is about ours.
    if !cases::is_other_file() {
        section.finish();
    }
}
