//! `new`: a job from answers, and never over another.

use super::bench::Bench;

#[test]
fn defaults_make_a_job_that_proves() {
    let bench = Bench::new();
    let ran = bench.run(&["new", "supply", "--defaults"]);
    assert_eq!(ran.status, 0, "{ran:?}");
    assert!(ran.out.contains("quietrail prove supply"), "{}", ran.out);
    assert_eq!(ran.err, "");
    let ran = bench.run(&["prove", "supply"]);
    assert_eq!(ran.status, 0, "{ran:?}");
}

#[test]
fn answers_are_taken_from_the_input() {
    let bench = Bench::new();
    let ran = bench.run_typing(&["new", "a/b", "--region", "120 V 60 Hz"], "Clock\n");
    assert_eq!(ran.status, 0, "{ran:?}");
    assert!(
        ran.out.contains("What is being built [Bench supply]: "),
        "{}",
        ran.out
    );
    let job = bench.read("a/b/job.toml");
    assert!(
        job.contains("title  = \"Clock\"\nregion = \"120 V 60 Hz\""),
        "{job}"
    );
    assert!(job.contains("voltage   = \"120 V -10/+6 %\""), "{job}");
    assert!(!job.contains("{{"), "{job}");
}

#[test]
fn a_wrong_answer_ends_a_script_and_writes_nothing() {
    let bench = Bench::new();
    let ran = bench.run_typing(&["new", "supply"], "Clock\n\n230 A\n");
    assert_eq!(ran.status, 2, "{ran:?}");
    assert!(
        ran.err
            .contains("read 230 A, a current; a voltage is wanted"),
        "{ran:?}"
    );
    let ran = bench.run(&["new", "supply", "--region", "400 V"]);
    assert_eq!(ran.status, 2, "{ran:?}");
    assert!(ran.err.contains("--region"), "{ran:?}");
    assert!(bench.files().is_empty());
}

#[test]
fn a_job_that_is_there_stays() {
    let bench = Bench::with("mine");
    let ran = bench.run(&["new", ".", "--defaults"]);
    assert_eq!(ran.status, 2, "{ran:?}");
    assert!(
        ran.err.contains("already there, and left as it is"),
        "{ran:?}"
    );
    assert_eq!(bench.read("job.toml"), "mine");
}

#[test]
fn without_a_single_answer_nothing_is_written() {
    let bench = Bench::new();
    let ran = bench.run_typing(&["new", "supply"], "");
    assert_eq!(ran.status, 2, "{ran:?}");
    assert!(
        ran.err.contains("before the first answer") && ran.err.contains("new supply --defaults"),
        "{ran:?}"
    );
    assert!(bench.files().is_empty());
    // Enter is an answer; what the input did not reach is told.
    let ran = bench.run_typing(&["new", "supply"], "\n");
    assert_eq!(ran.status, 0, "{ran:?}");
    assert!(
        ran.out.contains("Not answered, taken as default"),
        "{ran:?}"
    );
    assert!(
        ran.out.contains("  Mains of the region: ") || ran.out.contains("Lowest and highest mains"),
        "{ran:?}"
    );
}
