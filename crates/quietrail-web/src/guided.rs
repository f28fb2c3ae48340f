//! A new job in an empty folder: a few questions, then a commented job file.

use crate::asked::Asked;
use crate::desk::Desk;
use crate::views::Answer;
use maud::{Markup, html};

pub(crate) fn page(_desk: &Desk, _asked: &Asked) -> Markup {
    html! {}
}

pub(crate) fn begin(_desk: &Desk, _pairs: &[(String, String)]) -> Answer {
    Answer::Nowhere
}
