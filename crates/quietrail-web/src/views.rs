//! The table of views. A new view is a file here and a line in [`VIEWS`].
//!
//! A view draws from a [`Sheet`] and gives the body of its page; the page around it, the corner in hand, what is being tried,
//! the search and the file's errors are not its business. Regions that follow the hand carry an `id` and `data-live`. What it
//! says belongs in `words.rs`. With `act` it takes the forms that its page sends to its own address.

mod bench;
mod descent;
mod file;
mod margins;
mod needs;
mod oscillator;
pub(crate) mod record;
mod regulators;
mod transformer;
mod waves;
mod why;

use crate::sheet::Sheet;
use maud::Markup;

/// Gives a view's figures as a file of a kind.
pub(crate) type GivesFile = fn(&Sheet<'_>, &str) -> Answer;
/// Takes the pairs of a form that was sent to a view's address.
pub(crate) type TakesForm = fn(&Sheet<'_>, &[(String, String)]) -> Answer;

/// One view.
pub(crate) struct View {
    /// Its address: `descent`.
    pub(crate) slug: &'static str,
    /// Its name in the row of views.
    pub(crate) name: &'static str,
    /// Draws the body of its page.
    pub(crate) show: fn(&Sheet<'_>) -> Markup,
    /// Gives its figures as a file, for `?as=csv` and the like.
    pub(crate) file: Option<GivesFile>,
    /// Takes a form that was sent to its address.
    pub(crate) act: Option<TakesForm>,
}

/// All views, in the order of the row.
pub(crate) const VIEWS: &[View] = &[
    needs::VIEW,
    descent::VIEW,
    margins::VIEW,
    waves::VIEW,
    regulators::VIEW,
    transformer::VIEW,
    bench::VIEW,
    oscillator::VIEW,
    record::VIEW,
    file::VIEW,
];

/// What is answered to a request.
pub(crate) enum Answer {
    /// A page, with its status.
    Page(u16, Markup),
    /// A file to keep.
    File {
        /// Its name.
        name: String,
        /// Its media type.
        kind: &'static str,
        /// What is in it.
        text: String,
    },
    /// Another page of the workbook: `margins?state=cold`.
    Go(String),
    /// There is no such page.
    Nowhere,
}
