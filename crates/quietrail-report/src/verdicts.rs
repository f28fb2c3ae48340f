//! The answer of `prove` in a terminal: one sentence, one table, one last line with both halves.

mod table;

pub(crate) use table::{printable, wrapped};

use quietrail_job::model::What;
use quietrail_study::faults::Faults;
use quietrail_study::finding::{About, LimitFinding, Measured, Overall, Predicted, Proof};
use std::cmp::Ordering;

use crate::corner::{corner_words, instruction, names_state};
use crate::remarks::Source;
use crate::{Style, number, words};

/// How many limits have which verdict. A limit counts once, by its worst state.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Predicted to hold.
    pub predicted_holds: usize,
    /// Predicted to fail.
    pub predicted_fails: usize,
    /// No computed verdict.
    pub predicted_not_shown: usize,
    /// A reading shows that it holds.
    pub measured_holds: usize,
    /// Of these, not read at both ends of the mains range.
    pub holds_in_part: usize,
    /// A reading fails it.
    pub measured_fails: usize,
    /// There is a reading that cannot decide.
    pub measured_not_shown: usize,
    /// No reading.
    pub unmeasured: usize,
}

impl Counts {
    /// Counts the limits of some rows.
    pub fn of(limits: &[LimitFinding]) -> Self {
        let mut count = Counts::default();
        for worst in folded(limits) {
            *match worst.predicted {
                Predicted::Holds => &mut count.predicted_holds,
                Predicted::Fails => &mut count.predicted_fails,
                Predicted::NotShown(_) => &mut count.predicted_not_shown,
            } += 1;
            let states = || limits.iter().filter(|limit| limit.name == worst.name);
            let measured = states()
                .map(|limit| limit.measured)
                .min_by_key(|m| shown(*m))
                .unwrap_or(Measured::None);
            let leaves_mains = |limit: &LimitFinding| {
                limit
                    .read
                    .as_ref()
                    .is_some_and(|read| read.mains_left.is_some())
            };
            if measured == Measured::Holds && states().any(leaves_mains) {
                count.holds_in_part += 1;
            }
            *match measured {
                Measured::Holds => &mut count.measured_holds,
                Measured::Fails => &mut count.measured_fails,
                Measured::NotShown => &mut count.measured_not_shown,
                Measured::None => &mut count.unmeasured,
            } += 1;
        }
        count
    }

    /// All limits.
    pub fn all(&self) -> usize {
        self.predicted_holds + self.predicted_fails + self.predicted_not_shown
    }
}

/// Exit status of `prove`: 0 nothing fails and nothing is left not shown, 1 something fails, 3 nothing
/// fails but something is not shown. A job without any row shows nothing: 3.
///
/// With `shown`, every limit of the job must be measured and hold; part ratings need not. A row that
/// only a reading shows (the computation did not settle) counts as shown.
pub fn exit_status(proof: &Proof, shown: bool) -> i32 {
    let any = |verdict: Overall| proof.limits.iter().any(|limit| limit.overall == verdict);
    if any(Overall::Fails) || remarks_fail(proof) > 0 {
        return 1;
    }
    let unproven = |limit: &LimitFinding| !limit.is_rating && limit.overall != Overall::Holds;
    let wanting = shown && proof.limits.iter().any(unproven);
    if any(Overall::NotShown) || proof.limits.is_empty() || wanting {
        return 3;
    }
    0
}

/// How many remarks say that the supply fails.
fn remarks_fail(proof: &Proof) -> usize {
    let remarks = proof.remarks.iter();
    remarks.filter(|remark| remark.about.fails()).count()
}

/// The rows in the order of reading: what fails, by the size of the shortfall; what is not shown, in
/// the order of the job; the rest by margin, tightest first.
///
/// Margins compare as parts of their limit. A headroom has a limit of zero, so its volts stand in:
/// 50 mV of headroom sorts beside 5 % of a limit.
pub fn sorted(limits: &[LimitFinding]) -> Vec<&LimitFinding> {
    let mut rows: Vec<_> = limits.iter().collect();
    rows.sort_by(|a, b| {
        rank(a.overall).cmp(&rank(b.overall)).then_with(|| {
            if a.overall == Overall::NotShown {
                Ordering::Equal
            } else {
                by_margin(a, b)
            }
        })
    });
    rows
}

/// One row per limit: that of its worst state, in the order of reading.
pub fn folded(limits: &[LimitFinding]) -> Vec<&LimitFinding> {
    let mut rows: Vec<&LimitFinding> = Vec::new();
    for row in sorted(limits) {
        if rows.iter().all(|known| known.name != row.name) {
            rows.push(row);
        }
    }
    rows
}

/// What readings of several states come to: the least of them.
fn shown(measured: Measured) -> u8 {
    match measured {
        Measured::Fails => 0,
        Measured::None => 1,
        Measured::NotShown => 2,
        Measured::Holds => 3,
    }
}

fn rank(verdict: Overall) -> u8 {
    match verdict {
        Overall::Fails => 0,
        Overall::NotShown => 1,
        // A reading does not widen a margin: predicted and measured rows share one order.
        Overall::Predicted | Overall::Holds => 2,
    }
}

/// Volts of headroom that count as much as a margin of a whole limit: headroom is mostly asked against zero, which has no part.
pub const HEADROOM_V: f64 = 12.5;

/// How much of a limit is left, by which rows are put in order and strips are drawn: a margin as a part of its limit, a headroom
/// as a part of [`HEADROOM_V`]; below zero it fails.
pub fn part_left(limit: &LimitFinding) -> Option<f64> {
    match limit.what {
        What::Headroom => limit.margin.map(|margin| margin / HEADROOM_V),
        _ => limit.margin_share.or(limit.margin),
    }
}

fn by_margin(a: &LimitFinding, b: &LimitFinding) -> Ordering {
    let size = |limit: &LimitFinding| part_left(limit).unwrap_or(f64::INFINITY);
    size(a).total_cmp(&size(b))
}

/// Which rows a table shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rows {
    /// Each limit in its worst state.
    WorstState,
    /// Each limit in each state.
    EveryState,
}

/// The whole answer: job and region, headline, table, what it leans on, what it spent, last line.
pub fn table(proof: &Proof, shows: Rows, style: Style) -> String {
    table_and(proof, shows, &Beside::default(), style)
}

/// What stands around a table.
#[derive(Clone, Copy, Debug, Default)]
pub struct Beside<'a> {
    /// More lines under it.
    pub under: &'a [String],
    /// Single faults, where they were looked at: what they come to above the table, each of them under it.
    pub faults: Option<&'a Faults>,
    /// The job file, for what points into it.
    pub source: Option<Source<'a>>,
}

/// The same with what stands around it. The last line stays the last.
pub fn table_and(proof: &Proof, shows: Rows, beside: &Beside<'_>, style: Style) -> String {
    let Beside {
        under,
        faults,
        source,
    } = *beside;
    let rows = match shows {
        Rows::WorstState => folded(&proof.limits),
        Rows::EveryState => sorted(&proof.limits),
    };
    let Some(worst) = rows.first() else {
        return format!("{}\n", words::NO_LIMITS);
    };

    let heading = table::printable(&words::heading(&proof.title, &proof.region));
    let mut out = table::wrapped(&heading, style.columns());
    out.push(String::new());
    let mut first = headline(worst, &rows);
    let failing = proof.remarks.iter().filter(|one| one.about.fails());
    let failing: Vec<&str> = failing.map(|one| one.part.as_str()).collect();
    if !failing.is_empty() {
        first = words::remarks::headline(&first, &table::printable(&failing.join(", ")));
    }
    out.extend(table::wrapped(&first, style.columns()));
    out.push(String::new());
    if let Some(faults) = faults {
        out.extend(table::wrapped(
            &crate::faults::headline(faults),
            style.columns(),
        ));
        out.push(String::new());
    }
    out.extend(table::rows(&rows, style));
    out.push(String::new());
    if shows == Rows::WorstState && rows.len() < proof.limits.len() {
        let folded = words::folded(proof.limits.len() - rows.len());
        out.extend(table::wrapped(&folded, style.columns()));
        out.push(String::new());
    }
    if rows.iter().any(|row| row.read.is_some()) {
        out.extend(table::wrapped(
            words::readings::BESIDE_MEANS,
            style.columns(),
        ));
        out.push(String::new());
    }
    out.extend(footing(proof, source, style.columns()));
    out.extend_from_slice(under);
    if let Some(faults) = faults {
        out.extend(crate::faults::lines(faults, style));
    }

    let count = Counts::of(&proof.limits);
    if exit_status(proof, false) == 0 && count.unmeasured > 0 {
        out.push(words::bare(count.unmeasured, count.all()));
    }
    // Never wrapped: whoever reads only the last line must get both halves.
    let mut last = words::both_halves(&count);
    let fail = remarks_fail(proof);
    if fail > 0 {
        last += &words::remarks::fail(fail);
    }
    last += &faults
        .and_then(|faults| words::faults::last(faults.exceeding()))
        .unwrap_or_default();
    out.push(last);
    let text = out.join("\n");
    number::spaced(&text) + "\n"
}

/// The worst row in a few sentences: verdict, number, corner, one next step.
fn headline(worst: &LimitFinding, rows: &[&LimitFinding]) -> String {
    let name = table::printable(&worst.name);
    let margin_words = |margin| number::margin(worst.what, margin, worst.unit, worst.worst);
    let first = match (worst.overall, worst.margin) {
        (Overall::Fails, Some(margin)) if worst.predicted == Predicted::Fails => words::fails_by(
            &name,
            &number::size(worst.what, margin, worst.unit, worst.worst),
        ),
        // What was read is of no corner: nothing of the computed one goes with it.
        (Overall::Fails, _) => return table::printable(&by_reading(worst, &name)),
        (Overall::NotShown, _) => {
            let count = rows
                .iter()
                .filter(|row| row.overall == Overall::NotShown)
                .count();
            let why = match &worst.predicted {
                Predicted::NotShown(why) => words::why_not(why, worst.unit),
                Predicted::Holds | Predicted::Fails => words::READING_DOES_NOT_SHOW.to_owned(),
            };
            // The corner of a row without a verdict says nothing.
            return table::printable(&words::nothing_fails_but(count, &name, &worst.state, &why));
        }
        (Overall::Predicted | Overall::Holds, Some(margin)) => {
            words::tightest(&name, &margin_words(margin))
        }
        (Overall::Predicted | Overall::Holds, None) => words::tightest(&name, words::ABSENT),
    };

    let mut sentences = vec![
        first,
        format!("{}.", capitalised(&corner_with_state(worst))),
    ];
    if worst.predicted == Predicted::Fails
        && let Some(inside) = margin_as_marked(worst)
    {
        let inside = number::size(worst.what, inside, worst.unit, worst.nominal);
        sentences.push(words::holds_as_marked(&inside));
    }
    if worst.overall == Overall::Fails
        && let Some(help) = worst.help.first()
    {
        let change = instruction(help);
        let broken = help.costs.iter().find(|cost| cost.fails());
        sentences.push(match broken {
            _ if !help.mends() => words::not_enough(&change, &crate::help::left(help, worst)),
            Some(cost) => words::try_change_though(&change, &cost.limit),
            None => words::try_change(&change),
        });
    }
    table::printable(&sentences.join(" "))
}

/// The headline of a limit that a reading fails.
fn by_reading(row: &LimitFinding, name: &str) -> String {
    let read = row.read.as_ref().map(|read| {
        (
            words::readings::value(read, row.unit),
            words::readings::mains_of(read),
        )
    });
    let read = read
        .as_ref()
        .map(|(value, mains)| (value.as_str(), mains.as_str()));
    let computed = row
        .margin
        .filter(|_| row.predicted == Predicted::Holds)
        .map(|margin| number::size(row.what, margin, row.unit, row.worst));
    let allowed = words::allowed(row.what, row.min, row.max, row.unit);
    words::readings::fails_by_reading(
        &format!("{name}, {}", row.state),
        read,
        &allowed,
        computed.as_deref(),
    )
}

/// How far inside its limits a row is with all parts as marked, where it is inside.
fn margin_as_marked(row: &LimitFinding) -> Option<f64> {
    let nominal = row.nominal?;
    let below = row.max.map_or(f64::INFINITY, |max| max - nominal);
    let above = row.min.map_or(f64::INFINITY, |min| nominal - min);
    let margin = below.min(above);
    (margin >= 0.0 && margin.is_finite()).then_some(margin)
}

/// The corner, headed by the state where no term names it.
fn corner_with_state(row: &LimitFinding) -> String {
    let corner = corner_words(&row.corner);
    if corner.is_empty() {
        return format!("{}, {}", row.state, words::AS_MARKED);
    }
    if names_state(&row.corner, &row.state) {
        return corner;
    }
    format!("{}, {corner}", row.state)
}

/// A name of the builder's stays as written: only a first word in plain small letters is raised.
fn capitalised(text: &str) -> String {
    let word = text
        .split([' ', ',', number::NO_BREAK])
        .next()
        .unwrap_or_default();
    if !word.chars().all(char::is_lowercase) {
        return text.to_owned();
    }
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

/// What was found beside the limits.
fn beside(proof: &Proof, source: Option<Source<'_>>, columns: usize) -> Vec<String> {
    let mut lines = Vec::new();
    for remark in &proof.remarks {
        let verdict = if remark.about.fails() {
            words::remarks::FAILS
        } else {
            words::remarks::NOTED
        };
        let said = table::printable(&crate::remarks::told(remark));
        let wrapped = table::wrapped(&said, columns.saturating_sub(11));
        for (index, line) in wrapped.into_iter().enumerate() {
            let head = if index == 0 { verdict } else { "" };
            lines.push(format!("{head:<11}{line}"));
        }
        // What a key says is mended at the key: it is shown where.
        let is_of_a_key = !matches!(
            remark.about,
            About::Diode(_) | About::AdjustDiode(_) | About::CoreCurrent(_)
        );
        if let Some(source) = source.filter(|_| is_of_a_key) {
            let marked = crate::remarks::marked(remark, source, columns.saturating_sub(11));
            lines.extend(marked.iter().map(|line| format!("{:11}{line}", "")));
        }
    }
    if !lines.is_empty() {
        lines.insert(0, words::remarks::HEAD.to_owned());
        lines.push(String::new());
    }
    lines
}

/// What is not judged for want of a rating: right under the rows, which it would have added to.
fn unrated(proof: &Proof, columns: usize) -> Vec<String> {
    if proof.unrated.is_empty() {
        return Vec::new();
    }
    let text = table::printable(&words::footing::unrated(&proof.unrated));
    let mut lines = table::wrapped(&text, columns);
    lines.push(String::new());
    lines
}

/// Limits on ripple of what no limit on noise is, each once: nothing judges the noise there.
fn without_noise(limits: &[LimitFinding]) -> Vec<&str> {
    let judges = |limit: &&LimitFinding, noise: bool| match limit.what {
        What::Ripple | What::RipplePeakToPeak => !noise,
        What::Noise | What::RippleAndNoise => noise,
        _ => false,
    };
    let mut names: Vec<&str> = Vec::new();
    for limit in limits.iter().filter(|limit| judges(limit, false)) {
        let mut others = limits.iter().filter(|other| other.of == limit.of);
        if !others.any(|other| judges(&other, true)) && !names.contains(&limit.name.as_str()) {
            names.push(&limit.name);
        }
    }
    names
}

/// States that did not settle, defaults, and what the search spent.
fn footing(proof: &Proof, source: Option<Source<'_>>, columns: usize) -> Vec<String> {
    let mut lines = unrated(proof, columns);
    lines.extend(beside(proof, source, columns));
    for ending in proof.endings.iter().filter(|ending| !ending.settled) {
        let text = words::did_not_settle(&ending.state, &ending.reason);
        lines.extend(table::wrapped(&table::printable(&text), columns));
    }
    for row in &proof.limits {
        // At a corner only, parts as marked give it all: the row says enough.
        if let Some(gets) = row.gets.filter(|gets| gets.amps < 0.99 * gets.asked) {
            let load = row.name.split(' ').next().unwrap_or(&row.name);
            let text = words::footing::starved(load, &row.state, &gets);
            lines.extend(table::wrapped(&table::printable(&text), columns));
        }
    }
    if lines.last().is_some_and(|line| !line.is_empty()) {
        lines.push(String::new());
    }
    let without = without_noise(&proof.limits);
    if !without.is_empty() {
        let text = words::footing::without_noise(&without);
        lines.extend(table::wrapped(&table::printable(&text), columns));
        lines.push(String::new());
    }
    if !proof.assumptions.is_empty() {
        lines.push(words::ASSUMED.to_owned());
        lines.extend(table::assumptions(&proof.assumptions, columns));
    }
    lines.extend(table::wrapped(
        &words::effort(proof.effort.solutions, proof.effort.corners),
        columns,
    ));
    lines
}

#[cfg(test)]
mod tests;
