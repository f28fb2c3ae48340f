//! The oscillator's part of the record: each line of its data sheet with what is shown of it.

use crate::accepted;
use crate::parts;
use crate::sheet::Sheet;
use crate::words;
use crate::words::oscillator as own_words;
use maud::{Markup, html};
use quietrail_bench::decide::Shown;
use quietrail_bench::log::Log;
use quietrail_report::words::acceptance as said;
use quietrail_study::finding::Overall;

/// A table for each oscillator that states limits.
pub(super) fn accepted(sheet: &Sheet<'_>, log: &Log) -> Markup {
    html! {
        @for one in accepted::all(sheet, log).iter().filter(|one| !one.lines.is_empty()) {
            section {
                h2 { (own_words::RECORD) " " (one.name) }
                table class="ledger accepted" {
                    thead { tr {
                        th scope="col" { (words::HEAD_VERDICT) }
                        th scope="col" { (words::HEAD_LIMIT) }
                        th scope="col" class="right" { (words::HEAD_ALLOWED) }
                        th scope="col" class="right" { (words::HEAD_READING) }
                        th scope="col" { (words::HEAD_SETUP) }
                    } }
                    tbody { @for line in &one.lines {
                        @let overall = match line.shown {
                            Shown::Holds => Overall::Holds,
                            Shown::Fails => Overall::Fails,
                            Shown::NotShown => Overall::NotShown,
                        };
                        tr {
                            td { (parts::verdict(overall)) }
                            th scope="row" { (said::line(line.line)) }
                            td class="right num" { (said::allowed(line)) }
                            td class="right num" {
                                @if line.value.is_some() { b { (said::read(line)) } br; span class="soft" { (said::bounds(line)) } }
                                @else { span class="box" {} }
                            }
                            td {
                                (set_up(log, &line.rows))
                                @let why = said::why(line);
                                @if line.value.is_some() && !why.is_empty() { @if !line.rows.is_empty() { ". " } (why) "." }
                            }
                        }
                    } }
                }
                @for why in &one.gone { p class="fault" { (parts::sign(Overall::Fails)) (why) } }
                p class="soft" { (said::HONEST) }
            }
        }
    }
}

/// Rows with instrument and set-up.
fn set_up(log: &Log, rows: &[u64]) -> String {
    let told = rows
        .iter()
        .filter_map(|number| log.row(*number))
        .map(|row| {
            let what = if row.capture.is_empty() {
                &row.setup.words
            } else {
                &row.capture
            };
            format!("row {}: {}, {what}", row.row, row.instrument)
        });
    told.collect::<Vec<_>>().join("; ")
}
