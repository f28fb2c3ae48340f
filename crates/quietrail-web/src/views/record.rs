//! Record: what is known so far, for paper: the verdicts, the long section, every limit, what was assumed, empty boxes.

use crate::parts;
use crate::sheet::Sheet;
use crate::views::View;
use crate::words;
use maud::{Markup, PreEscaped, html};
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
    html! {
        p class="printing" {
            button class="btn main" type="button" data-print { (words::PRINT) }
            span class="soft" { (words::PRINT_MORE) }
        }
        article class="paper" id="paper" data-live {
            header {
                h1 { (sheet.job.title) }
                p { (words::RECORD_OF) }
                p class="right num" { (mains.voltage.value) ", " (mains.frequency.value) br; (sheet.job.region.name) }
            }
            div class="result" {
                (parts::tally(sheet, "small"))
                p { b { (connect(sheet)) } }
            }
            (section(sheet))
            (limits(sheet))
            (assumed(sheet))
            (boxes(sheet))
            p class="soft" { (words::NOT_A_CERTIFICATE) }
            footer class="titleblock" {
                dl {
                    div { dt { (words::BLOCK_JOB) } dd { (sheet.job.title) } }
                    div { dt { (words::BLOCK_SUM) } dd class="num" { (short_sum(&sheet.version.sum)) } }
                    div { dt { (words::BLOCK_DATE) } dd class="blank" {} }
                    div { dt { (words::BLOCK_CHECKED) } dd class="blank" {} }
                }
            }
        }
    }
}

fn short_sum(sum: &str) -> String {
    let (a, b) = (
        sum.get(..4).unwrap_or_default(),
        sum.get(4..8).unwrap_or_default(),
    );
    format!("{a}\u{a0}{b}")
}

/// Whether the load may be connected, as far as anything here can say.
fn connect(sheet: &Sheet<'_>) -> &'static str {
    let Some(known) = &sheet.known else {
        return words::NOT_YET;
    };
    let rows = verdicts::folded(&known.proof.limits);
    let has = |overall: Overall| rows.iter().any(|row| row.overall == overall);
    if has(Overall::Fails) {
        words::DO_NOT_CONNECT
    } else if has(Overall::NotShown) || has(Overall::Predicted) {
        words::MEASURE_FIRST
    } else {
        words::ALL_SHOWN
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
    let surfaces = sheet
        .here()
        .map(|here| surfaces(&sheet.base.sections, here, 160, &quietrail_study::options()));
    let surfaces = surfaces.unwrap_or_else(|_| vec![Vec::new(); sheet.base.sections.len()]);
    let all = sheet
        .known
        .as_ref()
        .and_then(|known| known.ranges.as_deref());
    let descent = drawing::Descent {
        sections: &sheet.base.sections,
        here: &figures,
        all,
        surfaces: &surfaces,
        states: &states,
        open: None,
        link: &|_| None,
    };
    let sheets = drawing::sheets(&descent, drawing::Width::Wide);
    let corner = words::this_corner(
        sheet.state_name(),
        &number::si(sheet.mains, "V", 3),
        sheet.asked.worst_parts,
    );
    html! {
        section class="figure" {
            h2 { (words::record_figure(&corner)) }
            @for one in &sheets { (PreEscaped(svg::bare(&one.scene))) }
        }
    }
}

fn limits(sheet: &Sheet<'_>) -> Markup {
    let Some(known) = &sheet.known else {
        return html! {};
    };
    let rows = verdicts::folded(&known.proof.limits);
    html! {
        section {
            h2 { (words::record_limits(rows.len())) @if sheet.is_provisional() { ", " (words::PROVISIONAL) } }
            table class="ledger" {
                thead { tr {
                    th scope="col" { (words::HEAD_VERDICT) }
                    th scope="col" { (words::HEAD_LIMIT) }
                    th scope="col" class="right" { (words::HEAD_ALLOWED) }
                    th scope="col" class="right" { (words::HEAD_WORST) }
                    th scope="col" class="right" { (words::HEAD_MARGIN) }
                    th scope="col" { (words::HEAD_CORNER) }
                } }
                tbody { @for row in rows { (limit(row)) } }
            }
        }
    }
}

fn limit(row: &LimitFinding) -> Markup {
    let margin = row.margin.filter(|margin| margin.is_finite());
    html! {
        tr {
            td { (parts::verdict(row.overall)) }
            th scope="row" { (row.name) ", " (row.state) }
            td class="right num" { (quietrail_report::words::allowed(row.what, row.min, row.max, row.unit)) }
            td class="right num" { b { (crate::views::margins::worst_value(row)) } }
            td class="right num" { @if let Some(margin) = margin { (number::margin(row.what, margin, row.unit, row.worst)) } }
            td {
                @match &row.predicted {
                    Predicted::NotShown(why) => (quietrail_report::words::why_not(why, row.unit)),
                    Predicted::Holds | Predicted::Fails => (corner::corner_words(&row.corner)),
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
                    tr { th scope="row" { (one.address) } td class="num" { (one.value) } td { (one.why) } }
                } } }
            }
        }
    }
}

/// Empty boxes for what has to be read by hand.
fn boxes(sheet: &Sheet<'_>) -> Markup {
    let Some(known) = &sheet.known else {
        return html! {};
    };
    let rows = verdicts::folded(&known.proof.limits);
    let asked: Vec<_> = rows.into_iter().filter(|row| !row.is_rating).collect();
    html! {
        section class="boxes" {
            h2 { (words::TO_READ) }
            table class="ledger" {
                thead { tr {
                    th scope="col" { (words::HEAD_LIMIT) }
                    th scope="col" class="right" { (words::HEAD_ALLOWED) }
                    th scope="col" { (words::HEAD_READING) }
                    th scope="col" { (words::HEAD_SETUP) }
                } }
                tbody { @for row in asked {
                    tr {
                        th scope="row" { (row.name) ", " (row.state) }
                        td class="right num" { (quietrail_report::words::allowed(row.what, row.min, row.max, row.unit)) }
                        td { span class="box" {} }
                        td { span class="box wide" {} }
                    }
                } }
            }
        }
    }
}
