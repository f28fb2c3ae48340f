//! The keys of one table, taken out as what they mean.
//!
//! A value that is absent and one that cannot be read both come out as `None`: what cannot be read has
//! been reported by [`super::shape`], what must not be absent by [`super::needs`].

use super::quantity::{self, Piece};
use crate::fault::Entry as Missing;
use crate::keys::{Holds, Keys};
use crate::model::{Between, Figure, Origin, Span};
use crate::written::{Entry, Home, Place, Shape, Table, Value};
use quietrail_units::{Quantity, Unit};

/// The keys of one table.
#[derive(Clone, Debug)]
pub(crate) struct Fields<'a> {
    /// The table, catalogue merged.
    pub(crate) table: &'a Table,
    /// Its keys.
    pub(crate) keys: &'static Keys,
    /// What it is called in messages: `capacitor C1`.
    pub(crate) owner: String,
    /// Where it starts.
    pub(crate) place: Place,
}

/// A point of a list, `62 dB at 120 Hz`, and where it stands.
pub(crate) type Point<'a, U, V> = (Figure<U>, Figure<V>, &'a Value);

/// A value as picked from drawn, fitted and measured.
struct Picked<'a> {
    value: &'a Value,
    words: &'a str,
    origin: Origin,
}

impl<'a> Fields<'a> {
    /// Whether the key is there.
    pub(crate) fn has(&self, key: &str) -> bool {
        self.table.entry(key).is_some()
    }

    /// The value of a key.
    pub(crate) fn value(&self, key: &str) -> Option<&'a Value> {
        self.table.get(key)
    }

    /// Where a value stands, or the table if it is not there.
    pub(crate) fn place_of(&self, key: &str) -> Place {
        self.value(key)
            .map_or_else(|| self.place.clone(), Value::place)
    }

    /// Whether a catalogue entry could give, or should have given, what is missing here.
    pub(crate) fn entry(&self) -> Missing {
        match (self.has("part"), self.keys.key("part")) {
            (true, _) => Missing::Named,
            (false, Some(_)) => Missing::CouldName,
            (false, None) => Missing::None,
        }
    }

    /// A text.
    pub(crate) fn text(&self, key: &str) -> Option<&'a str> {
        self.value(key)?.text()
    }

    /// A text, copied; empty if absent.
    pub(crate) fn words(&self, key: &str) -> String {
        self.text(key).unwrap_or_default().to_owned()
    }

    /// True or false.
    pub(crate) fn truth(&self, key: &str) -> Option<bool> {
        match self.value(key)?.shape {
            Shape::Truth(truth) => Some(truth),
            _ => None,
        }
    }

    /// A quantity.
    pub(crate) fn figure<U: Unit>(&self, key: &str) -> Option<Figure<U>> {
        figure(self.value(key)?)
    }

    /// The two quantities of `62 dB at 120 Hz`.
    pub(crate) fn figure_at<U: Unit, V: Unit>(&self, key: &str) -> Option<(Figure<U>, Figure<V>)> {
        figure_at(self.value(key)?)
    }

    /// The two quantities of `60 W 230 V`.
    pub(crate) fn pair<U: Unit, V: Unit>(&self, key: &str) -> Option<(Figure<U>, Figure<V>)> {
        let picked = pick(self.value(key)?)?;
        let (first, second) = quantity::pair(picked.words, U::KIND, V::KIND)?;
        Some((picked.piece(&first)?, picked.piece(&second)?))
    }

    /// A list of pairs of quantities; empty if absent.
    pub(crate) fn pairs<U: Unit, V: Unit>(&self, key: &str) -> Option<Vec<(Figure<U>, Figure<V>)>> {
        self.items(key)
            .unwrap_or_default()
            .iter()
            .map(|item| {
                let picked = pick(item)?;
                let (first, second) = quantity::pair(picked.words, U::KIND, V::KIND)?;
                Some((picked.piece(&first)?, picked.piece(&second)?))
            })
            .collect()
    }

    /// Current and characteristic of a fuse.
    pub(crate) fn fuse_rating<U: Unit>(&self, key: &str) -> Option<(Figure<U>, &'static str)> {
        let picked = pick(self.value(key)?)?;
        let (current, characteristic) = quantity::fuse(picked.words);
        Some((picked.piece(&current)?, characteristic?))
    }

    /// A list of points, `62 dB at 120 Hz` each, and where each stands.
    pub(crate) fn points<U: Unit, V: Unit>(&self, key: &str) -> Option<Vec<Point<'a, U, V>>> {
        self.items(key)?
            .iter()
            .map(|item| figure_at(item).map(|(first, second)| (first, second, item)))
            .collect()
    }

    /// The items of a list; a catalogue may wrap it with its source.
    pub(crate) fn items(&self, key: &str) -> Option<&'a [Value]> {
        let value = self.value(key)?;
        match &value.shape {
            Shape::List(items) => Some(items),
            Shape::Table(inner) => inner.get("value")?.list(),
            _ => None,
        }
    }

    /// The names in a list.
    pub(crate) fn names(&self, key: &str) -> Vec<(&'a str, &'a Value)> {
        let items = self.value(key).and_then(Value::list).unwrap_or_default();
        items
            .iter()
            .filter_map(|item| item.text().map(|name| (name, item)))
            .collect()
    }

    /// A table.
    pub(crate) fn inner(&self, key: &str) -> Option<Fields<'a>> {
        let Holds::Table(keys) = self.keys.key(key)?.holds else {
            return None;
        };
        let value = self.value(key)?;
        let owner = super::shape::inner_owner(keys, key, &self.owner);
        Some(Fields {
            table: value.table()?,
            keys,
            owner,
            place: value.place(),
        })
    }

    /// The tables in a list.
    pub(crate) fn tables(&self, key: &str) -> Vec<Fields<'a>> {
        let Some(Holds::Tables(keys)) = self.keys.key(key).map(|key| &key.holds) else {
            return Vec::new();
        };
        let items = self.value(key).and_then(Value::list).unwrap_or_default();
        items
            .iter()
            .filter_map(|item| {
                let table = item.table()?;
                let owner = super::shape::item_owner(keys, table, &self.owner);
                Some(Fields {
                    table,
                    keys,
                    owner,
                    place: item.place(),
                })
            })
            .collect()
    }

    /// The entries of a table whose keys the builder chooses.
    pub(crate) fn named(&self, key: &str) -> &'a [Entry] {
        self.value(key)
            .and_then(Value::table)
            .map_or(&[], |table| &table.entries)
    }

    /// The two ends of a part: `between`, or `at` with `common`.
    pub(crate) fn ends(&self) -> Option<Between> {
        if let Some(value) = self.value("between") {
            let [plus, minus] = value.list()? else {
                return None;
            };
            return Some(Between {
                plus: plus.text()?.to_owned(),
                minus: minus.text()?.to_owned(),
                span: value.job_span(),
            });
        }
        let value = self.value("at")?;
        Some(Between {
            plus: value.text()?.to_owned(),
            minus: "common".to_owned(),
            span: value.job_span(),
        })
    }

    /// Where a value stands in the job file.
    pub(crate) fn job_span(&self, key: &str) -> Span {
        self.value(key).map_or(0..0, Value::job_span)
    }
}

/// A quantity, from a plain value or a table of drawn, fitted and measured.
pub(crate) fn figure<U: Unit>(value: &Value) -> Option<Figure<U>> {
    let picked = pick(value)?;
    picked.piece(&Piece::whole(picked.words))
}

/// The two quantities of `62 dB at 120 Hz`.
pub(crate) fn figure_at<U: Unit, V: Unit>(value: &Value) -> Option<(Figure<U>, Figure<V>)> {
    let picked = pick(value)?;
    let (first, second) = quantity::at(picked.words)?;
    Some((picked.piece(&first)?, picked.piece(&second)?))
}

impl Picked<'_> {
    fn piece<U: Unit>(&self, piece: &Piece<'_>) -> Option<Figure<U>> {
        let value = Quantity::<U>::parse(piece.text).ok()?;
        Some(Figure {
            value,
            origin: self.origin.clone(),
            span: self.value.job_span(),
        })
    }
}

/// Measured before fitted, fitted before drawn.
fn pick(value: &Value) -> Option<Picked<'_>> {
    let plain = match &value.home {
        Home::Job => Origin::Drawn,
        Home::Shelf(shelf) => Origin::Catalogue {
            part: shelf.part.clone(),
            source: shelf.source.clone(),
        },
    };
    let table = match &value.shape {
        Shape::Text(words) | Shape::Number(words) => {
            return Some(Picked {
                value,
                words,
                origin: plain,
            });
        }
        Shape::Table(table) => table,
        Shape::Truth(_) | Shape::Date(_) | Shape::List(_) => return None,
    };
    if let Some(measured) = table.get("measured") {
        return pick_measured(measured);
    }
    if let Some(fitted) = table.get("fitted") {
        return Some(Picked {
            value: fitted,
            words: written(fitted)?,
            origin: Origin::Fitted,
        });
    }
    if let Some(drawn) = table.get("drawn") {
        return Some(Picked {
            value: drawn,
            words: written(drawn)?,
            origin: plain,
        });
    }
    let inner = table.get("value")?;
    let origin = match (plain, table.get("source").and_then(Value::text)) {
        (Origin::Catalogue { part, .. }, Some(source)) => Origin::Catalogue {
            part,
            source: source.to_owned(),
        },
        (plain, _) => plain,
    };
    Some(Picked {
        value: inner,
        words: written(inner)?,
        origin,
    })
}

fn pick_measured(measured: &Value) -> Option<Picked<'_>> {
    let Some(table) = measured.table() else {
        let origin = Origin::Measured {
            with: None,
            on: None,
        };
        return Some(Picked {
            value: measured,
            words: written(measured)?,
            origin,
        });
    };
    let value = table.get("value")?;
    let with = table.get("with").and_then(Value::text).map(str::to_owned);
    let on = table.get("on").and_then(|on| match &on.shape {
        Shape::Date(date) | Shape::Text(date) => Some(date.clone()),
        _ => None,
    });
    Some(Picked {
        value,
        words: written(value)?,
        origin: Origin::Measured { with, on },
    })
}

fn written(value: &Value) -> Option<&str> {
    match &value.shape {
        Shape::Text(words) | Shape::Number(words) => Some(words),
        _ => None,
    }
}
