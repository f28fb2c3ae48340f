//! Record: what is known so far, for paper: the verdicts, the long section, every limit, what readings prove, the log of the
//! bring-up, what the transformer is, what was assumed, empty boxes, the job file itself, and what it takes from catalogues.

mod bench;
mod oscillator;

use crate::parts;
use crate::sheet::Sheet;
use crate::views::View;
use crate::views::descent::rails_named;
use crate::words;
use maud::{Markup, PreEscaped, html};
use quietrail_job::model::{PartKind, Subject};
use quietrail_job::used_entries;
use quietrail_report::svg::{self, descent as drawing};
use quietrail_report::{corner, number, verdicts};
use quietrail_study::descent::surfaces;
use quietrail_study::finding::{LimitFinding, Overall, Predicted};

pub(crate) const VIEW: View = View {
    slug: "record",
    name: "Record",
    show,
    file: None,
    act: None,
};

fn show(sheet: &Sheet<'_>) -> Markup {
    let mains = &sheet.job.mains;
    let log = sheet.desk.folder.log();
    let has_rows = log.as_ref().is_ok_and(|log| !log.rows.is_empty());
    let standing = standing(sheet);
    let texts = &sheet.version.texts;
    let job_text = texts.job.as_deref().unwrap_or_default();
    let entries = used_entries(job_text, texts.parts.as_deref());
    // The sheet first: what is begun for it is waited for by the key above it.
    let paper = html! {
        article class="paper" id="paper" data-live {
            @if standing != Sought::Whole {
                p class="standing" role="status" { b { (words::record::PROVISIONAL) } " " (words::record::standing(standing)) }
            }
            header {
                h1 { (sheet.job.title) }
                p { (words::record_of(has_rows)) }
                p class="right num" {
                    (true_minus(&mains.voltage.value.to_string())) ", " (mains.frequency.value) br; (words::region(&sheet.job.region.name))
                }
            }
            div class="result" {
                (parts::tally(sheet, "small"))
                p { b { (connect(sheet)) } }
            }
            (section(sheet))
            (limits(sheet))
            (crate::beside::section(sheet))
            (bench::proved(sheet))
            @if let Ok(log) = &log { (oscillator::accepted(sheet, log)) }
            @match &log {
                Ok(log) => (bench::log(sheet, log)),
                Err(why) => { p { (why.to_string()) } },
            }
            (boxes(sheet))
            (super::transformer::known_windings(sheet))
            (assumed(sheet))
            p class="soft" { (words::NOT_A_CERTIFICATE) }
            footer class="titleblock" {
                dl {
                    div { dt { (words::BLOCK_JOB) } dd { (sheet.job.title) } }
                    div { dt { (words::BLOCK_SUM) } dd class="num" { (short_sum(&sheet.version.sum)) } }
                    div { dt { (words::record::BLOCK_STANDING) } dd { (words::record::in_block(standing)) } }
                    div { dt { (words::BLOCK_DATE) } dd class="blank" {} }
                    div { dt { (words::BLOCK_CHECKED) } dd class="blank" {} }
                }
            }
            section class="appendix" {
                h2 { (sheet.desk.folder.file_name()) }
                p class="soft" { (words::WHOLE_FILE) }
                pre { (job_text) }
            }
            @if !entries.is_empty() {
                section class="appendix entries" {
                    h2 { (words::record::ENTRIES) }
                    p class="soft" { (words::record::ENTRIES_MEAN) }
                    @for one in &entries { pre { (one.text) } }
                }
            }
        }
    };
    html! {
        p class="printing" id="printing" data-live { (printing(sheet)) }
        (paper)
    }
}

/// How far what is on the sheet has been looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Sought {
    /// Not yet at all: parts as marked.
    Marked,
    /// In part, and the search goes on.
    Part,
    /// In part: the search was stopped by hand.
    Stopped,
    /// All of it.
    Whole,
}

fn standing(sheet: &Sheet<'_>) -> Sought {
    match &sheet.known {
        None => Sought::Marked,
        Some(_) if sheet.is_provisional() => Sought::Part,
        Some(_) if sheet.is_stopped() => Sought::Stopped,
        Some(_) => Sought::Whole,
    }
}

/// The key that prints. While figures are sought it waits for them, and says so.
fn printing(sheet: &Sheet<'_>) -> Markup {
    let is_found = matches!(standing(sheet), Sought::Stopped | Sought::Whole);
    let waits = !is_found || sheet.desk.is_making();
    html! {
        button class="btn main" type="button" data-print data-waits[waits] data-will=(words::record::WILL_PRINT) {
            @if waits { (words::record::PRINT_WHEN_FOUND) } @else { (words::PRINT) }
        }
        span class="soft" {
            @if waits { (words::record::PRINT_WAITS) } @else { (words::PRINT_MORE) }
        }
    }
}

/// A text with the true minus.
fn true_minus(text: &str) -> String {
    text.replace('-', &number::MINUS.to_string())
}

fn short_sum(sum: &str) -> String {
    let (a, b) = (
        sum.get(..4).unwrap_or_default(),
        sum.get(4..8).unwrap_or_default(),
    );
    format!("{a}\u{a0}{b}")
}

/// Whether the load may be connected, as far as anything here can say.
pub(super) fn connect(sheet: &Sheet<'_>) -> String {
    let Some(known) = &sheet.known else {
        return words::NOT_YET.to_owned();
    };
    let rows = verdicts::folded(&known.proof.limits);
    let has = |overall: Overall| rows.iter().any(|row| row.overall == overall);
    if has(Overall::Fails) || crate::beside::failing(sheet) > 0 {
        words::DO_NOT_CONNECT.to_owned()
    } else if has(Overall::NotShown) || has(Overall::Predicted) {
        let is_begun = has(Overall::Holds) || has(Overall::NotShown);
        words::record::read_first(is_begun, &crate::readings::left_to_read(sheet))
    } else {
        words::ALL_SHOWN.to_owned()
    }
}

fn section(sheet: &Sheet<'_>) -> Markup {
    let Ok(figures) = sheet.figures() else {
        return html! {};
    };
    let states: Vec<String> = sheet
        .job
        .states
        .iter()
        .map(|state| state.name.clone())
        .collect();
    let surfaces = sheet.here().map(|here| {
        surfaces(
            &sheet.base.sections,
            (&sheet.base.ready.plan, here),
            160,
            &quietrail_study::options(),
        )
    });
    let surfaces = surfaces.unwrap_or_else(|_| vec![Vec::new(); sheet.base.sections.len()]);
    let all = sheet
        .known
        .as_ref()
        .and_then(|known| known.ranges.as_deref());
    let descent = drawing::Descent {
        job: &sheet.job,
        sections: &sheet.base.sections,
        here: figures,
        all,
        surfaces: &surfaces,
        states: &states,
        open: None,
        link: &|_| None,
        sum: &|_| None,
    };
    let sheets = drawing::sheets(&descent, drawing::Width::Wide);
    let narrow = drawing::sheets(&descent, drawing::Width::Narrow);
    let paper = drawing::sheets(&descent, drawing::Width::Paper);
    let corner = words::this_corner(
        sheet.state_name(),
        &number::written(sheet.mains, "V"),
        sheet.asked.worst_parts,
    );
    html! {
        section class="figure" {
            h2 { (words::record_figure(&corner)) }
            div class="desk" { @for one in &sheets { (PreEscaped(svg::bare(&one.scene))) } }
            div class="onpaper" { @for one in &paper { (PreEscaped(svg::bare(&one.scene))) } }
            div class="phone" { @for one in &narrow {
                figure {
                    figcaption { (rails_named(sheet, one.section, &one.rails)) }
                    (PreEscaped(svg::bare(&one.scene)))
                }
            } }
        }
    }
}

fn limits(sheet: &Sheet<'_>) -> Markup {
    let Some(known) = &sheet.known else {
        return html! {};
    };
    let rows = verdicts::folded(&known.proof.limits);
    let has_readings = !sheet.judged.is_empty();
    html! {
        section {
            h2 { (words::record_limits(rows.len())) @if sheet.is_provisional() { ", " (words::PROVISIONAL) } }
            table class="ledger limits" {
                thead { tr {
                    th scope="col" { (words::HEAD_VERDICT) }
                    th scope="col" { (words::HEAD_LIMIT) }
                    th scope="col" class="right" { (words::HEAD_ALLOWED) }
                    th scope="col" class="right" { (words::HEAD_WORST) }
                    th scope="col" class="right" { (words::HEAD_MARGIN) }
                    @if has_readings { th scope="col" class="right" { (words::HEAD_READ) } }
                    th scope="col" { (words::HEAD_CORNER) }
                } }
                tbody { @for row in rows { (limit(sheet, row, has_readings)) } }
            }
            @if has_readings { p class="soft" { (words::COMPUTED_AND_READ) } }
            p class="soft" { (parts::prose(words::CORNERS_WHOLE)) }
        }
    }
}

fn limit(sheet: &Sheet<'_>, row: &LimitFinding, has_readings: bool) -> Markup {
    let margin = row.margin.filter(|margin| margin.is_finite());
    html! {
        tr {
            td { (parts::verdict(row.overall)) @if has_readings { br; span class="soft" { (words::decided_by(row)) } } }
            th scope="row" { (row.name) ", " (row.state) }
            td class="right num" data-head=(words::HEAD_ALLOWED) { (quietrail_report::words::allowed(row.what, row.min, row.max, row.unit)) }
            td class="right num" data-head=(words::HEAD_WORST) { b { (crate::views::margins::worst_value(row)) } }
            td class="right num" data-head=(words::HEAD_MARGIN) { @if let Some(margin) = margin { (number::margin(row.what, margin, row.unit, row.worst)) } }
            @if has_readings {
                td class="right num alone" data-head=(words::HEAD_READ) { @for one in crate::readings::of_row(sheet, row) {
                    @let mains = crate::readings::mains_of(one);
                    (quietrail_report::words::readings::value(&one.read(), one.unit))
                    @if one.state != row.state { ", " (one.state) }
                    @if !mains.is_empty() { br; span class="soft" { (mains) } }
                    br;
                } }
            }
            td class="alone" data-head=(words::HEAD_CORNER) {
                @match &row.predicted {
                    Predicted::NotShown(why) => (quietrail_report::words::why_not(why, row.unit)),
                    Predicted::Fails => (corner::corner_whole(&row.corner)),
                    Predicted::Holds => (corner::corner_words(&row.corner)),
                }
            }
        }
    }
}

/// What the job leaves out and the answer leans on.
fn assumed(sheet: &Sheet<'_>) -> Markup {
    let known = sheet
        .known
        .as_ref()
        .map(|known| known.proof.assumptions.as_slice())
        .unwrap_or_default();
    html! {
        @if !known.is_empty() {
            section {
                h2 { (words::ASSUMED) }
                table class="ledger" { tbody { @for one in known {
                    tr { th scope="row" { (one.address) } td class="num" { (quietrail_report::words::taken(&one.value)) } td { (one.why) } }
                } } }
            }
        }
    }
}

/// The node that feeds the regulator of a limit.
fn input_of<'a>(sheet: &'a Sheet<'_>, row: &LimitFinding) -> Option<&'a str> {
    let Subject::Part(part) = &row.of else {
        return None;
    };
    match &sheet.job.part(part)?.kind {
        PartKind::Regulator(regulator) => Some(regulator.from.as_str()),
        _ => None,
    }
}

/// Empty boxes for what has to be read by hand.
fn boxes(sheet: &Sheet<'_>) -> Markup {
    let Some(known) = &sheet.known else {
        return html! {};
    };
    let rows = verdicts::folded(&known.proof.limits);
    let asked: Vec<_> = rows
        .into_iter()
        .filter(|row| !row.is_rating && row.overall != Overall::Holds)
        .collect();
    if asked.is_empty() {
        return html! {};
    }
    html! {
        section class="boxes" {
            h2 { (words::TO_READ) }
            table class="ledger" {
                thead { tr {
                    th scope="col" { (words::HEAD_LIMIT) }
                    th scope="col" { (words::HEAD_TO_READ) }
                    th scope="col" class="right" { (words::HEAD_ALLOWED) }
                    th scope="col" { (words::HEAD_READING) }
                    th scope="col" { (words::HEAD_SETUP) }
                } }
                tbody { @for row in asked {
                    tr {
                        th scope="row" { (row.name) ", " (row.state) }
                        td { (words::to_read(row, input_of(sheet, row))) }
                        td class="right num" { (quietrail_report::words::allowed(row.what, row.min, row.max, row.unit)) }
                        td { span class="box" {} }
                        td { span class="box wide" {} }
                    }
                } }
            }
        }
    }
}
