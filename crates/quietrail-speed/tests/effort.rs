//! What the three problems take, counted: a change that makes more work shows here, whatever the machine.

use quietrail_engine::Options;
use quietrail_speed::{Batch, Problem, growth};
use std::fmt::Write as _;

#[test]
fn the_work_is_what_it_was() {
    let options = Options {
        tolerance: 1e-7,
        ..Options::default()
    };
    let mut told = String::new();
    for problem in Problem::ALL {
        let batch = Batch::new(problem, &options);
        let rows = growth::rows(problem, 8);
        let rows = rows.as_slice().try_into().expect("eight rows");
        for (what, effort) in [
            ("one from rest", batch.effort()),
            ("eight near it", batch.effort_near(rows, &options)),
        ] {
            writeln!(
                told,
                "{} {what}: {} cycles, {} steps, {} iterations",
                problem.name(),
                effort.cycles,
                effort.steps,
                effort.iterations
            )
            .expect("text takes more text");
        }
    }
    insta::assert_snapshot!(told, @"
    P1 one from rest: 6 cycles, 304 steps, 745 iterations
    P1 eight near it: 3 cycles, 238 steps, 389 iterations
    P5 one from rest: 8 cycles, 389 steps, 911 iterations
    P5 eight near it: 3 cycles, 242 steps, 389 iterations
    P6 one from rest: 7 cycles, 437 steps, 1041 iterations
    P6 eight near it: 6 cycles, 1383 steps, 2666 iterations
    ");
}
