//! The model of an unmarked transformer taken over into the job, what it changes shown first.

use crate::desk::difference;
use crate::page;
use crate::sheet::Sheet;
use crate::words::unmarked as words;
use maud::{Markup, html};
use quietrail_job::model::unmarked::Unmarked;
use quietrail_report::take_over::taken_over;
use quietrail_study::transformer::{Known, know};

/// What is sent with the form of the model.
pub(super) const KIND: &str = "model";

/// The lines that would change, and the key that writes them; why not, where it cannot be taken over.
pub(super) fn over(sheet: &Sheet<'_>, known: &Known) -> Markup {
    let text = sheet.version.texts.job.as_deref().unwrap_or_default();
    let new = taken_over(text, known);
    html! {
        section class="over" {
            h3 { (words::OVER) }
            @match new {
                Err(why) => { p { (words::not_over(&why)) } },
                Ok(new) if new == text => { p { (words::OVER_ALREADY) } },
                Ok(new) => {
                    p { (words::OVER_HOW) }
                    (page::diff(&difference(text, &new)))
                    form method="post" action="transformer" {
                        input type="hidden" name="sum" value=(sheet.version.sum);
                        input type="hidden" name="name" value=(known.name);
                        input type="hidden" name="kind" value=(KIND);
                        button class="btn main" { (words::OVER_KEY) }
                    }
                },
            }
        }
    }
}

/// The text of the job with the model in it.
///
/// # Errors
/// Why it is not taken over.
pub(super) fn text(sheet: &Sheet<'_>, name: &str, text: &str) -> Result<String, String> {
    // The file's own readings: what is only being tried was never read.
    let job = sheet.version.job.as_deref().ok_or(words::EMPTY)?;
    let own = |one: &&Unmarked| one.name == name;
    let unmarked = job.unmarked.iter().find(own).ok_or(words::EMPTY)?;
    let known =
        know(unmarked, job).map_err(|why| quietrail_report::words::transformer::no_model(&why))?;
    taken_over(text, &known).map_err(|why| words::not_over(&why))
}
