//! The table as users see it: what is folded, sorted, counted, and fits the terminal.

use super::{Counts, Rows, exit_status, folded, sorted};
use crate::specimen::{found, measured, proof, row, term};
use crate::{Style, words};
use quietrail_job::model::What;
use quietrail_study::finding::{LimitFinding, Measured, Overall, Predicted, Proof, WhyNot};
use unicode_width::UnicodeWidthStr;

/// Every state a row, as most tests here want it.
fn table(proof: &Proof, style: Style) -> String {
    super::table(proof, Rows::EveryState, style)
}

#[test]
fn a_limit_stands_once_in_its_worst_state() {
    let mut warm = holding();
    warm.state = "warm".to_owned();
    warm.margin = warm.margin.map(|margin| 2.0 * margin);
    warm.margin_share = warm.margin_share.map(|share| 2.0 * share);
    let proof = of(vec![warm, holding()]);
    let rows = folded(&proof.limits);
    assert_eq!(rows.len(), 1);
    assert_eq!(rows[0].state, holding().state);
    assert_eq!(Counts::of(&proof.limits).all(), 1);
    let text = super::table(&proof, Rows::WorstState, plain(100));
    assert!(text.contains("1 more"), "{text}");
    assert!(table(&proof, plain(100)).contains("warm"));
}

fn plain(width: usize) -> Style {
    Style {
        color: false,
        width,
    }
}

fn holding() -> LimitFinding {
    found(
        row("heater ripple", "heater", What::Ripple, "warm", "V"),
        None,
        2.1e-3,
        Some(0.02),
    )
}

fn failing() -> LimitFinding {
    found(
        row("heater peak", "heater", What::Peak, "idle", "V"),
        None,
        12.9,
        Some(12.6),
    )
}

fn not_shown() -> LimitFinding {
    let mut limit = row("osc noise", "osc", What::Noise, "warm", "V");
    limit.predicted = Predicted::NotShown(WhyNot::NotComputed);
    limit.overall = Overall::NotShown;
    limit
}

fn of(limits: Vec<LimitFinding>) -> Proof {
    Proof { limits, ..proof() }
}

/// A proof whose rows are all limits of their own, however they were made.
fn of_distinct(mut limits: Vec<LimitFinding>) -> Proof {
    for (number, limit) in limits.iter_mut().enumerate() {
        limit.name = format!("{} {number}", limit.name);
    }
    of(limits)
}

fn last_line(proof: &Proof) -> String {
    table(proof, plain(140))
        .lines()
        .last()
        .unwrap_or_default()
        .to_owned()
}

/// One corner whose figure is not told keeps a limit from its verdict, and not the others from being told.
#[test]
fn a_figure_beside_what_is_not_shown_is_told_with_its_corner() {
    let mut limit = holding();
    limit.predicted = Predicted::NotShown(WhyNot::LeakageCutOff("T1".to_owned()));
    limit.overall = Overall::NotShown;
    limit.corner = vec![term("C1.value", 2.64e-3, 3.3e-3, "F", 1.0)];
    let text = table(&of(vec![limit, not_shown()]), plain(200));
    let told = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert_eq!(
        told.matches("Worst of the others: C1 −20 %").count(),
        1,
        "{told}"
    );
    assert!(told.contains("leakage inductance of T1"), "{told}");
}

#[test]
fn at_80_columns() {
    insta::assert_snapshot!("table_80", table(&proof(), plain(80)));
}

#[test]
fn at_100_columns() {
    insta::assert_snapshot!("table_100", table(&proof(), plain(100)));
}

#[test]
fn at_140_columns() {
    insta::assert_snapshot!("table_140", table(&proof(), plain(140)));
}

#[test]
fn no_line_is_wider_than_the_terminal() {
    let mut odd = proof();
    odd.limits[0].name = "発振器の電源リップルとても長い名前がここに入ります".to_owned();
    odd.limits[1].name = "a_name_without_any_space_that_goes_on_and_on_and_on_and_on".to_owned();
    for width in [64, 72, 80, 100, 119, 120, 121, 140, 200, 400] {
        // The last line is one line for scripts, however long.
        let text = table(&odd, plain(width));
        let lines: Vec<&str> = text.lines().collect();
        for line in &lines[..lines.len() - 1] {
            assert!(line.width() <= width, "{} > {width}: {line}", line.width());
        }
    }
}

#[test]
fn figures_stand_in_columns_whatever_the_script() {
    let mut odd = proof();
    odd.limits[0].name = "発振器".to_owned();
    let text = table(&odd, plain(100));
    let verdicts = ["verdict", "FAILS", "not shown", "predicted  ", "holds"];
    let figures = |line: &&str| verdicts.iter().any(|word| line.starts_with(word));
    // Below 120 columns the margin ends the line.
    let ends: Vec<usize> = text
        .lines()
        .filter(figures)
        .map(UnicodeWidthStr::width)
        .collect();
    assert_eq!(ends.len(), 8, "{text}");
    assert!(ends.iter().all(|end| *end == ends[0]), "{text}");
}

#[test]
fn failures_first_then_not_shown_then_by_margin() {
    let names: Vec<String> = sorted(&proof().limits)
        .iter()
        .map(|limit| limit.name.clone())
        .collect();
    assert_eq!(
        names,
        [
            "Headroom of U1",
            "osc ripple",
            "oven lowest",
            "heater window",
            "U1 temperature",
            "C1 ripple current",
            "heater ripple"
        ]
    );
}

#[test]
fn the_larger_shortfall_comes_first_and_a_failed_reading_stays_among_failures() {
    let small = found(
        row("small", "raw", What::Peak, "idle", "V"),
        None,
        12.7,
        Some(12.6),
    );
    let read = measured(holding(), Measured::Fails);
    let limits = [holding(), read, not_shown(), small, failing()];
    let order: Vec<(&str, Overall)> = sorted(&limits)
        .iter()
        .map(|limit| (limit.name.as_str(), limit.overall))
        .collect();
    assert_eq!(
        order,
        [
            ("heater peak", Overall::Fails),
            ("small", Overall::Fails),
            ("heater ripple", Overall::Fails),
            ("osc noise", Overall::NotShown),
            ("heater ripple", Overall::Predicted)
        ]
    );
}

#[test]
fn the_last_line_says_both_halves_in_the_form_of_the_contract() {
    let mut limits = vec![failing()];
    limits.extend((0..4).map(|_| measured(holding(), Measured::Holds)));
    limits.extend((0..21).map(|_| holding()));
    assert_eq!(
        last_line(&of_distinct(limits)),
        "26 limits: 25 predicted to hold, 1 fails; 4 measured and hold, 22 with nothing measured"
    );
    assert_eq!(
        last_line(&of_distinct(vec![
            failing(),
            failing(),
            not_shown(),
            measured(holding(), Measured::NotShown)
        ])),
        "4 limits: 1 predicted to hold, 2 fail, 1 not shown; 1 measured and not shown, \
         3 with nothing measured"
    );
    assert_eq!(
        last_line(&of_distinct(vec![measured(holding(), Measured::Holds)])),
        "1 limit: 1 predicted to hold; 1 measured and holds"
    );
}

#[test]
fn each_half_of_the_last_line_adds_up() {
    let limits = vec![
        failing(),
        measured(failing(), Measured::Fails),
        not_shown(),
        holding(),
        measured(holding(), Measured::NotShown),
        measured(not_shown(), Measured::Holds),
    ];
    let line = words::both_halves(&Counts::of(&of_distinct(limits).limits));
    let (all, halves) = line.split_once(": ").expect("a total");
    let sum = |half: &str| -> usize {
        let first = |part: &str| part.split(' ').next().and_then(|n| n.parse::<usize>().ok());
        half.split(", ")
            .map(|part| first(part).expect("a count"))
            .sum()
    };
    let (predicted, measured) = halves.split_once("; ").expect("two halves");
    assert_eq!(all, "6 limits");
    assert_eq!(sum(predicted), 6);
    assert_eq!(sum(measured), 6);
}

#[test]
fn exit_statuses_are_those_of_the_contract() {
    let read = || measured(holding(), Measured::Holds);
    assert_eq!(exit_status(&of(vec![holding(), read()]), false), 0);
    assert_eq!(
        exit_status(&of(vec![holding(), failing(), not_shown()]), false),
        1
    );
    assert_eq!(
        exit_status(&of(vec![measured(holding(), Measured::Fails)]), false),
        1
    );
    assert_eq!(exit_status(&of(vec![holding(), not_shown()]), false), 3);
    assert_eq!(
        exit_status(&of(vec![measured(holding(), Measured::NotShown)]), false),
        3
    );
    assert_eq!(exit_status(&of(Vec::new()), false), 3);
}

#[test]
fn shown_asks_for_readings_of_the_job_s_limits_only() {
    let read = || measured(holding(), Measured::Holds);
    let mut rating = holding();
    rating.is_rating = true;
    assert_eq!(exit_status(&of(vec![read(), holding()]), true), 3);
    assert_eq!(exit_status(&of(vec![read(), rating]), true), 0);
    assert_eq!(exit_status(&of(vec![failing()]), true), 1);
}

#[test]
fn a_bare_zero_says_that_nothing_is_measured() {
    let text = table(
        &of_distinct(vec![
            holding(),
            holding(),
            measured(holding(), Measured::Holds),
        ]),
        plain(100),
    );
    assert!(
        text.contains("\npredicted, nothing measured: 2 of 3\n3 limits: "),
        "{text}"
    );
    let text = table(&of(vec![holding(), failing()]), plain(100));
    assert!(!text.contains("predicted, nothing measured"), "{text}");
}

#[test]
fn the_headline_is_the_worst_row_in_a_sentence() {
    let text = table(&proof(), plain(200));
    assert_eq!(
        text.lines().nth(2),
        Some(
            "Headroom of U1 fails by 380 mV. Oven cold +15 %, mains 207 V, C1 −20 %, T1 winding 85 °C. \
             With parts as marked at nominal mains it has 1650 mV in hand. Try C1 4700 µF."
        )
    );
}

#[test]
fn the_headline_names_the_state_where_the_corner_does_not() {
    let mut peak = failing();
    peak.corner = vec![term("mains.voltage", 244.0, 230.0, "V", 1.0)];
    let text = table(&of(vec![peak]), plain(140));
    assert!(
        text.contains("\n\nheater peak fails by 300 mV. Idle, mains 244 V.\n"),
        "{text}"
    );
}

#[test]
fn a_help_that_is_not_enough_says_what_it_leaves() {
    let mut found = proof();
    found.limits[2].help[0].margin = -0.12;
    let text = table(&found, plain(140));
    assert!(text.contains("C1 4700 µF alone leaves −120 mV."), "{text}");
}

#[test]
fn without_a_failure_the_headline_says_what_comes_closest() {
    let text = table(&of(vec![holding(), not_shown()]), plain(140));
    assert!(
        text.contains("\n\nNothing fails, 1 is not shown. osc noise, warm: "),
        "{text}"
    );
    let text = table(&of(vec![holding()]), plain(140));
    assert!(
        text.contains("\n\nNothing fails. Tightest is heater ripple, +17.9 mV."),
        "{text}"
    );
}

#[test]
fn only_the_worst_row_is_bold_and_only_in_colour() {
    let text = table(
        &proof(),
        Style {
            color: true,
            width: 100,
        },
    );
    let bold: Vec<&str> = text
        .lines()
        .filter(|line| line.contains("\u{1b}[1m"))
        .collect();
    assert!(bold[0].contains("FAILS"), "{text}");
    assert!(
        !text
            .lines()
            .any(|line| line.contains("\u{1b}[1m") && line.contains("predicted"))
    );
    assert!(!table(&proof(), plain(100)).contains('\u{1b}'));
}

#[test]
fn a_name_cannot_drive_the_terminal() {
    let mut sly = proof();
    sly.limits[2].name = "\u{1b}[2JU1".to_owned();
    assert!(!table(&sly, plain(100)).contains('\u{1b}'));
}

#[test]
fn no_limits_show_nothing() {
    assert_eq!(
        table(&of(Vec::new()), plain(80)),
        format!("{}\n", words::NO_LIMITS)
    );
}
