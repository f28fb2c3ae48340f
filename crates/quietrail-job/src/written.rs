//! The job as written: a mirror of the TOML text in which every key and value knows its place.
//!
//! Nothing is judged here. What a table means is said in [`crate::keys`]; crossing over to
//! [`crate::model`] is the work of [`crate::read`].

use crate::diagnostic::FileId;
use crate::model::Span;
use std::sync::Arc;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A table, its entries in the order of the file.
#[derive(Clone, Debug, Default)]
pub(crate) struct Table {
    /// Keys with their values.
    pub(crate) entries: Vec<Entry>,
}

/// One key with its value.
#[derive(Clone, Debug)]
pub(crate) struct Entry {
    /// The key.
    pub(crate) key: String,
    /// Where the key stands.
    pub(crate) key_span: Span,
    /// The value.
    pub(crate) value: Value,
}

/// A value, where it stands and which text it comes from.
#[derive(Clone, Debug)]
pub(crate) struct Value {
    /// What it is.
    pub(crate) shape: Shape,
    /// Where it stands in the text of its home.
    pub(crate) span: Span,
    /// The bytes between its quotes, where they stand in the text just as they read: a place inside the
    /// value is then a place in the text.
    pub(crate) inside: Option<Span>,
    /// Which text it comes from.
    pub(crate) home: Home,
}

/// The shapes of a TOML value.
#[derive(Clone, Debug)]
pub(crate) enum Shape {
    /// A string.
    Text(String),
    /// An integer or a float, as written.
    Number(String),
    /// `true` or `false`.
    Truth(bool),
    /// A date, with or without a time.
    Date(String),
    /// An array, or an array of tables.
    List(Vec<Value>),
    /// A table.
    Table(Table),
}

/// Which text a value comes from.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Home {
    /// `job.toml`
    Job,
    /// A catalogue entry.
    Shelf(Arc<Shelf>),
}

/// The catalogue entry that a value comes from.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Shelf {
    /// Name of the entry.
    pub(crate) part: String,
    /// What the entry says about where its figures are from.
    pub(crate) source: String,
    /// Whether it stands in the builder's own file.
    pub(crate) own: bool,
}

/// A place in one of the texts.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Place {
    /// Which text; `None` for the built-in catalogue, which has nothing to point at.
    pub(crate) file: Option<FileId>,
    /// Bytes of it.
    pub(crate) span: Span,
}

impl Table {
    /// The entry of that key.
    pub(crate) fn entry(&self, key: &str) -> Option<&Entry> {
        self.entries.iter().find(|entry| entry.key == key)
    }

    /// The value of that key.
    pub(crate) fn get(&self, key: &str) -> Option<&Value> {
        self.entry(key).map(|entry| &entry.value)
    }
}

impl Entry {
    /// Where the key stands.
    pub(crate) fn key_place(&self) -> Place {
        Place {
            file: self.value.home.file(),
            span: self.key_span.clone(),
        }
    }
}

impl Value {
    /// Where it stands.
    pub(crate) fn place(&self) -> Place {
        Place {
            file: self.home.file(),
            span: self.span.clone(),
        }
    }

    /// The place of some bytes of its text.
    pub(crate) fn place_inside(&self, at: &Span) -> Place {
        let span = match &self.inside {
            Some(inside) if at.end <= inside.len() => {
                inside.start + at.start..inside.start + at.end
            }
            _ => self.span.clone(),
        };
        Place {
            file: self.home.file(),
            span,
        }
    }

    /// Where it stands in the job file; empty if it does not.
    pub(crate) fn job_span(&self) -> Span {
        match self.home {
            Home::Job => self.span.clone(),
            Home::Shelf(_) => 0..0,
        }
    }

    /// The text, if it is one.
    pub(crate) fn text(&self) -> Option<&str> {
        match &self.shape {
            Shape::Text(text) => Some(text),
            _ => None,
        }
    }

    /// The table, if it is one.
    pub(crate) fn table(&self) -> Option<&Table> {
        match &self.shape {
            Shape::Table(table) => Some(table),
            _ => None,
        }
    }

    /// The items, if it is a list.
    pub(crate) fn list(&self) -> Option<&[Value]> {
        match &self.shape {
            Shape::List(items) => Some(items),
            _ => None,
        }
    }

    /// Moves the value and all it holds to another home.
    pub(crate) fn settle(&mut self, home: &Home) {
        self.home = home.clone();
        match &mut self.shape {
            Shape::List(items) => items.iter_mut().for_each(|item| item.settle(home)),
            Shape::Table(table) => {
                table
                    .entries
                    .iter_mut()
                    .for_each(|entry| entry.value.settle(home));
            }
            Shape::Text(_) | Shape::Number(_) | Shape::Truth(_) | Shape::Date(_) => {}
        }
    }
}

impl Shape {
    /// What it is, in the words of the guide.
    pub(crate) fn words(&self) -> &'static str {
        match self {
            Self::Text(_) => "a text",
            Self::Number(_) => "a number",
            Self::Truth(_) => "true or false",
            Self::Date(_) => "a date",
            Self::List(_) => "a list",
            Self::Table(_) => "a table",
        }
    }
}

impl Home {
    /// The file a diagnostic can point at.
    pub(crate) fn file(&self) -> Option<FileId> {
        match self {
            Self::Job => Some(FileId::Job),
            Self::Shelf(shelf) if shelf.own => Some(FileId::Parts),
            Self::Shelf(_) => None,
        }
    }
}

/// A syntax error of the TOML text.
#[derive(Clone, Debug)]
pub(crate) struct SyntaxError {
    /// Where.
    pub(crate) span: Span,
    /// As the TOML reader says it.
    pub(crate) said: String,
}

/// Mirrors a TOML text. Goes on after syntax errors; what they garbled is left out.
pub(crate) fn mirror(text: &str) -> (Table, Vec<SyntaxError>) {
    let (root, errors) = DeTable::parse_recoverable(text);
    let errors: Vec<SyntaxError> = errors
        .into_iter()
        .map(|error| SyntaxError {
            span: error.span().unwrap_or(0..0),
            said: error.message().to_owned(),
        })
        .collect();
    (table(root.get_ref(), text), errors)
}

fn table(from: &DeTable<'_>, text: &str) -> Table {
    let mut entries: Vec<Entry> = from
        .iter()
        .filter(|(_, value)| !value.span().is_empty())
        .map(|(key, item)| Entry {
            key: key.get_ref().to_string(),
            key_span: key.span(),
            value: value(item, text),
        })
        .collect();
    entries.sort_by_key(|entry| entry.key_span.start);
    Table { entries }
}

fn value(from: &Spanned<DeValue<'_>>, text: &str) -> Value {
    let span = from.span();
    let mut inside = None;
    let shape = match from.get_ref() {
        DeValue::String(words) => {
            let between = span.start + 1..span.end.saturating_sub(1);
            if text.get(between.clone()) == Some(words.as_ref()) {
                inside = Some(between);
            }
            Shape::Text(words.to_string())
        }
        DeValue::Integer(number) => Shape::Number(number.to_string()),
        DeValue::Float(number) => Shape::Number(number.to_string()),
        DeValue::Boolean(truth) => Shape::Truth(*truth),
        DeValue::Datetime(date) => Shape::Date(date.to_string()),
        DeValue::Array(items) => Shape::List(items.iter().map(|item| value(item, text)).collect()),
        DeValue::Table(inner) => Shape::Table(table(inner, text)),
    };
    Value {
        shape,
        span,
        inside,
        home: Home::Job,
    }
}
