//! The yield under the table of `prove`: of a hundred builders how many, and what decides.

use crate::corner::figure_words;
use crate::number::NO_BREAK;
use crate::verdicts::{printable, wrapped};
use crate::{Style, words::yields as words};
use quietrail_study::yields::indices::Estimate;
use quietrail_study::yields::interval::{Basis, Share};
use quietrail_study::yields::{Harvest, LimitYield};

/// How many figures are told of one limit.
const TOLD: usize = 4;
/// Figures whose total index is below this are not told.
const TELLING: f64 = 0.01;

/// The lines that stand under the table, an empty one first.
pub fn lines(harvest: &Harvest, style: Style) -> Vec<String> {
    let mut out = vec![String::new()];
    let mut say = |text: &str| out.extend(wrapped(&printable(text), style.columns()));
    let Some(all) = &harvest.all else {
        say(words::OUT_OF_REACH);
        if !harvest.left_out.is_empty() {
            say(&words::left_out(&harvest.left_out.join(", ")));
        }
        return out;
    };

    say(&words::sampled(harvest.samples, harvest.spread));
    say(&words::of_a_hundred(&of_a_hundred(all)));
    let (unfailed, mut failed): (Vec<&LimitYield>, Vec<&LimitYield>) = harvest
        .limits
        .iter()
        .partition(|limit| limit.holds.basis == Basis::All);
    failed.sort_by_key(|limit| limit.holds.count);
    if !failed.is_empty() {
        say(words::EACH_ALONE);
    }
    for limit in failed {
        let count = of_a_hundred(&limit.holds);
        say(&format!(
            "{NO_BREAK}{NO_BREAK}{}",
            words::alone(&count, &limit.name, &limit.state, &decides(limit))
        ));
    }
    if !unfailed.is_empty() {
        let names: Vec<String> = unfailed
            .iter()
            .map(|limit| format!("{} {}", limit.name, limit.state))
            .collect();
        say(&words::none_failed(harvest.samples, &names.join(", ")));
    }
    if harvest.taken_to_hold > 0 {
        say(&words::taken_to_hold(harvest.taken_to_hold));
    }
    if !harvest.left_out.is_empty() {
        say(&words::left_out(&harvest.left_out.join(", ")));
    }
    if !harvest.promoted.is_empty() {
        say(&words::promoted(&harvest.promoted.join(", ")));
    }
    if harvest.unsettled > 0 {
        say(&words::unsettled(harvest.unsettled));
    }
    if harvest.solved < harvest.supplies {
        say(&words::told(harvest.solved, harvest.supplies));
    }
    say(&words::effort(harvest.solutions));
    out
}

/// `63 (55 .. 71)`
fn of_a_hundred(share: &Share) -> String {
    let fine = share.high - share.low < 0.02;
    let told = |share: f64| {
        let hundredth = 100.0 * share;
        if fine {
            format!("{hundredth:.1}")
        } else {
            format!("{hundredth:.0}")
        }
    };
    let text = match share.basis {
        Basis::Spread => words::between(&told(share.share()), &told(share.low), &told(share.high)),
        Basis::All => words::all(&told(share.low)),
        Basis::None => words::none(&told(share.high)),
    };
    text.replace(' ', &NO_BREAK.to_string())
}

/// `mains 61 % (55 .. 67), C1 18 % (15 .. 21)`: the share of the variance that goes with each figure alone.
fn decides(limit: &LimitYield) -> String {
    let told: Vec<String> = limit
        .decides
        .iter()
        .filter(|influence| influence.indices.total.value >= TELLING)
        .take(TOLD)
        .map(|influence| {
            let Estimate { value, low, high } = influence.indices.first;
            let percent = |share: f64| format!("{:.0}", 100.0 * share.clamp(0.0, 1.0));
            let figure = figure_words(&influence.address);
            let text = words::decides(&figure, &percent(value), &percent(low), &percent(high));
            text.replace(' ', &NO_BREAK.to_string())
        })
        .collect();
    told.join(", ")
}
