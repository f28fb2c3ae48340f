//! Rows of the race against the ripple that an adaptive integrator written apart from ours comes to at a tolerance a thousand
//! times finer (`bench/peers/truth`; how it was made stands in `bench/peers/README.md`).

use quietrail_engine::Options;
use quietrail_speed::{Batch, COLUMNS, Problem, Row};

#[test]
fn batches_come_to_the_ripple_that_others_come_to() {
    // In P6 one in four drops out, and makes shorter steps than the row without tolerances.
    let options = Options {
        tolerance: 5e-6,
        ..Options::default()
    };
    for problem in Problem::ALL {
        let path = format!(
            "{}/../../bench/peers/truth/{}.txt",
            env!("CARGO_MANIFEST_DIR"),
            problem.name()
        );
        let text = std::fs::read_to_string(path).expect("the truth is kept with the peers");
        let numbers = |line: &str| -> Vec<f64> {
            let words = line.split_whitespace();
            words.map(|word| word.parse().expect("a number")).collect()
        };
        let rows: Vec<Vec<f64>> = text.lines().map(numbers).collect();
        assert!(rows.len() >= 60, "{}: {}", problem.name(), rows.len());
        let parameters: Vec<Row> = rows
            .iter()
            .map(|row| std::array::from_fn(|k| row[k]))
            .collect();
        let found = Batch::new(problem, &options).ripples(&parameters, &options);
        for (row, found) in rows.iter().zip(found) {
            let (wanted, found) = (row[COLUMNS], found.expect("it settles"));
            let error = (found / wanted - 1.0).abs();
            assert!(
                error < 1e-6,
                "{} {row:?}: {found} {error:e}",
                problem.name()
            );
        }
    }
}
