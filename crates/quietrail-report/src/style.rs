//! What the terminal can show.

/// How text for a terminal is laid out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Style {
    /// Whether bold and colour may be used; everything is said without them too.
    pub color: bool,
    /// Columns of the terminal. Below 64 the layout stops shrinking.
    pub width: usize,
}

impl Style {
    /// Columns that the layout works with.
    pub(crate) fn columns(self) -> usize {
        self.width.max(64)
    }
}
