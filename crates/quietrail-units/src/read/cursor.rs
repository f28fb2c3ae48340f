//! A place in the text being read.

use crate::{Kind, QuantityError, QuantityFault};
use std::ops::Range;

/// The text, how far it is read, and what is wanted of it.
#[derive(Clone, Debug)]
pub(super) struct Cursor<'t> {
    pub(super) text: &'t str,
    pub(super) at: usize,
    pub(super) wanted: Kind,
}

impl<'t> Cursor<'t> {
    pub(super) fn rest(&self) -> &'t str {
        &self.text[self.at..]
    }

    pub(super) fn peek(&self) -> Option<char> {
        self.rest().chars().next()
    }

    /// Skips white space, no-break and thin spaces included; true if there was any.
    pub(super) fn skip_space(&mut self) -> bool {
        let before = self.at;
        self.at = self.text.len() - self.rest().trim_start().len();
        self.at > before
    }

    /// Takes `token` if it stands here.
    pub(super) fn take(&mut self, token: &str) -> bool {
        let found = self.rest().starts_with(token);
        if found {
            self.at += token.len();
        }
        found
    }

    /// Takes `word` if it stands here and no letter follows.
    pub(super) fn take_word(&mut self, word: &str) -> bool {
        let Some(after) = self.rest().strip_prefix(word) else {
            return false;
        };
        if after.starts_with(char::is_alphabetic) {
            return false;
        }
        self.at += word.len();
        true
    }

    /// The text read since `start`, without space at its end.
    pub(super) fn since(&self, start: usize) -> &'t str {
        self.text[start..self.at].trim_end()
    }

    /// The next word, for an error: up to white space, or the whole rest if none.
    pub(super) fn word(&self) -> &'t str {
        let rest = self.rest();
        &rest[..rest.find(char::is_whitespace).unwrap_or(rest.len())]
    }

    /// The bytes from `start` to here, without space at the end.
    pub(super) fn span(&self, start: usize) -> Range<usize> {
        start..start + self.since(start).len()
    }

    pub(super) fn error(&self, at: Range<usize>, fault: QuantityFault) -> QuantityError {
        QuantityError {
            at,
            wanted: self.wanted,
            fault,
        }
    }
}
