//! What a proof says beside its limits: what was found about regulators, each with its line of the job file, and what nothing
//! judges for want of a rating.

use crate::parts;
use crate::sheet::Sheet;
use crate::words::beside as words;
use maud::{Markup, html};
use quietrail_report::remarks::{self, Source};
use quietrail_study::finding::{About, Overall, Remark};

/// Columns of a line of the file with its mark.
const COLUMNS: usize = 96;

/// All of them with a heading; nothing where there are none.
pub(crate) fn section(sheet: &Sheet<'_>) -> Markup {
    html! {
        (headed(sheet, &|_| true))
        (unrated(sheet))
    }
}

/// What fails: above the limits, which may all hold.
pub(crate) fn fails(sheet: &Sheet<'_>) -> Markup {
    headed(sheet, &|remark| remark.about.fails())
}

/// What is good to know, and what is not judged: under the limits.
pub(crate) fn noted(sheet: &Sheet<'_>) -> Markup {
    html! {
        (unrated(sheet))
        (headed(sheet, &|remark| !remark.about.fails()))
    }
}

fn headed(sheet: &Sheet<'_>, wanted: &dyn Fn(&Remark) -> bool) -> Markup {
    let all = sheet.known.iter().flat_map(|known| &known.proof.remarks);
    let all: Vec<&Remark> = all.filter(|remark| wanted(remark)).collect();
    html! {
        @if !all.is_empty() {
            section class="beside" {
                h2 { (words::HEAD) }
                @for remark in all { (one(sheet, remark)) }
            }
        }
    }
}

/// One of them.
pub(crate) fn one(sheet: &Sheet<'_>, remark: &Remark) -> Markup {
    let verdict = if remark.about.fails() {
        parts::verdict(Overall::Fails)
    } else {
        html! { span class="v noted" { (words::NOTED) } }
    };
    html! {
        div class="remark" role="note" {
            p class="fault" { (verdict) " " span { (remarks::told(remark)) } }
            @if let Some(lines) = marked(sheet, remark) {
                pre class="caret" tabindex="0" { (lines) }
                p class="mend" { a href="file" { (words::MEND) } }
            }
        }
    }
}

/// The line of the file that it is about, where one key says it.
fn marked(sheet: &Sheet<'_>, remark: &Remark) -> Option<String> {
    if matches!(remark.about, About::Diode(_) | About::AdjustDiode(_)) {
        return None;
    }
    let path = sheet.desk.folder.file_name();
    let source = Source {
        path: &path,
        text: sheet.version.texts.job.as_deref()?,
    };
    let lines = remarks::marked(remark, source, COLUMNS);
    (!lines.is_empty()).then(|| lines.join("\n"))
}

/// How many fail by it.
pub(crate) fn failing(sheet: &Sheet<'_>) -> usize {
    let remarks = sheet.known.iter().flat_map(|known| &known.proof.remarks);
    remarks.filter(|remark| remark.about.fails()).count()
}

/// What no rating judges.
fn unrated(sheet: &Sheet<'_>) -> Markup {
    let all = sheet.known.as_ref().map(|known| &known.proof.unrated);
    let all = all.filter(|all| !all.is_empty());
    html! {
        @if let Some(all) = all { p class="beside" { (quietrail_report::words::footing::unrated(all)) } }
    }
}
