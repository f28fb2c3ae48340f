//! A change that would help, told in a line: what it leaves, and what it costs elsewhere.

use quietrail_study::finding::{Cost, Help, LimitFinding};

use crate::corner::change_words;
use crate::{number, words};

/// `C1 3300 → 4700 µF`
pub fn change(help: &Help) -> String {
    change_words(help)
}

/// What a change costs other limits, a sentence each: `C1 ripple current +0.2 → +0.05 A`
pub fn costs(help: &Help) -> Vec<String> {
    let told = help.costs.iter().map(|cost| with_cost("", cost));
    told.map(|text| text.trim_start_matches("; ").to_owned())
        .collect()
}

/// The margin that a change leaves, so that it reads otherwise than the one that there is: `+110 mV`
pub fn left(help: &Help, limit: &LimitFinding) -> String {
    let before = limit.margin.unwrap_or(f64::NAN);
    number::margin_left(limit.what, (help.margin, before), limit.unit, limit.worst)
}

/// `C1 3300 → 4700 µF: leaves +110 mV; C1 ripple current +0.2 → +0.05 A`
pub(crate) fn help_words(help: &Help, limit: &LimitFinding) -> String {
    let told = words::help_leaves(&change_words(help), &left(help, limit));
    help.costs
        .iter()
        .fold(told, |told, cost| with_cost(&told, cost))
}

/// The lines under a row: the changes that would do, best first, or the one that comes closest.
pub(crate) fn help_lines(limit: &LimitFinding) -> Vec<String> {
    let Some(first) = limit.help.first() else {
        return Vec::new();
    };
    if !first.mends() {
        // What would print the same margin again is no help.
        let said = |margin| number::margin(limit.what, margin, limit.unit, limit.worst);
        if limit
            .margin
            .is_some_and(|own| said(own) == left(first, limit))
        {
            return Vec::new();
        }
        return vec![words::comes_closest(&help_words(first, limit))];
    }
    limit
        .help
        .iter()
        .filter(|help| help.mends())
        .map(|help| help_words(help, limit))
        .collect()
}

fn with_cost(told: &str, cost: &Cost) -> String {
    let margin = |of: f64| number::margin(cost.what, of, cost.unit, None);
    if cost.fails() {
        let shortfall = number::size(cost.what, cost.after, cost.unit, None);
        return words::costs_a_failure(told, &cost.limit, &shortfall);
    }
    words::costs(told, &cost.limit, &margin(cost.before), &margin(cost.after))
}

#[cfg(test)]
mod tests {
    use super::{help_lines, help_words};
    use crate::number::spaced;
    use crate::specimen;
    use quietrail_job::model::What;
    use quietrail_study::finding::Cost;

    #[test]
    fn a_cost_is_told_with_both_margins_and_a_failure_as_one() {
        let mut row = specimen::proof().limits[2].clone();
        let mut help = row.help[0].clone();
        let cost = Cost {
            limit: "C1 ripple current".to_owned(),
            what: What::RmsCurrent,
            unit: "A",
            before: 0.2,
            after: 0.05,
        };
        help.costs = vec![cost];
        assert_eq!(
            spaced(&help_words(&help, &row)),
            "C1 3300 → 4700 µF: leaves +110 mV; C1 ripple current +200 mA → +50.0 mA"
        );
        help.costs[0].after = -0.05;
        assert_eq!(
            spaced(&help_words(&help, &row)),
            "C1 3300 → 4700 µF: leaves +110 mV; then C1 ripple current fails by 50.0 mA"
        );
        row.help = vec![help.clone(), help.clone()];
        row.help[1].margin = -0.1;
        assert_eq!(
            help_lines(&row).len(),
            1,
            "what is not enough is no second choice"
        );
        row.help = vec![row.help[1].clone()];
        assert!(help_lines(&row)[0].starts_with("no single change tried is enough; closest is C1"));
    }

    /// Headroom stands to 10 mV: a change from 14 mV short to 6.3 mV short would read like no change at all.
    #[test]
    fn what_a_change_leaves_reads_otherwise_than_what_there_is() {
        let mut row = specimen::proof().limits[2].clone();
        assert_eq!(row.what, What::Headroom);
        (row.worst, row.margin) = (Some(-0.014), Some(-0.014));
        row.help.truncate(1);
        row.help[0].margin = -0.0063;
        assert!(spaced(&help_words(&row.help[0], &row)).ends_with(": leaves −6 mV"));
        row.margin = Some(-0.0064);
        assert!(spaced(&help_words(&row.help[0], &row)).ends_with(": leaves −6.3 mV"));
        row.margin = Some(-0.006_300_001);
        assert_eq!(help_lines(&row), Vec::<String>::new(), "that is no change");
        row.margin = Some(-0.4);
        assert!(spaced(&help_words(&row.help[0], &row)).ends_with(": leaves −10 mV"));
    }
}
