//! What a page is asked to show. All of it is in the address, so that it can be kept, sent and gone back to.

use std::collections::BTreeMap;
use std::fmt::Write;

/// The corner in hand and what is being tried, as the address says it.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Asked {
    /// Name of the state.
    pub(crate) state: Option<String>,
    /// Mains voltage as typed; the nominal without it.
    pub(crate) mains: Option<String>,
    /// Whether parts stand at the worst corner found rather than as marked.
    pub(crate) worst_parts: bool,
    /// What is being tried: address of a figure, or a part, and what is put there.
    pub(crate) tries: Vec<(String, String)>,
    /// The part whose card is open.
    pub(crate) part: Option<String>,
    /// Whether the hand is still moving: an answer that comes quickly is wanted.
    pub(crate) moving: bool,
    /// While it moves, what is seen of what a page may leave out: `wide`, `middle` or `narrow` of a drawing, `table`
    /// and `figures` of what is folded, with points between.
    pub(crate) seen: Option<String>,
    /// What a view wants besides.
    pub(crate) more: BTreeMap<String, String>,
}

impl Asked {
    /// Reads the pairs of a query or a form.
    pub(crate) fn of(pairs: &[(String, String)]) -> Self {
        let mut asked = Self::default();
        let mut names: Vec<&str> = Vec::new();
        let mut values: Vec<&str> = Vec::new();
        for (key, value) in pairs {
            let value = value.trim();
            match key.as_str() {
                "state" => asked.state = some(value),
                "mains" => asked.mains = some(value),
                "parts" => asked.worst_parts = value == "worst",
                "part" => asked.part = some(value),
                "moving" => asked.moving = value == "1",
                "seen" => asked.seen = some(value),
                "try" => {
                    if let Some((address, text)) = value.split_once(':') {
                        asked.put(address.trim(), text.trim());
                    }
                }
                // A form without script sends the address and the text apart.
                "figure" => names.push(value),
                "value" => values.push(value),
                _ => {
                    if !value.is_empty() {
                        asked.more.insert(key.clone(), value.to_owned());
                    }
                }
            }
        }
        for (name, value) in names.into_iter().zip(values) {
            if !name.is_empty() && !value.is_empty() {
                asked.put(name, value);
            }
        }
        asked
    }

    /// Tries a value, in place of one tried before at the same address.
    pub(crate) fn put(&mut self, address: &str, text: &str) {
        self.tries.retain(|(known, _)| known != address);
        self.tries.push((address.to_owned(), text.to_owned()));
    }

    /// Whether a piece of a page need not be made, because nobody would see it.
    pub(crate) fn is_unseen(&self, piece: &str) -> bool {
        let is_seen = |seen: &str| seen.split('.').any(|one| one == piece);
        self.moving && self.seen.as_deref().is_some_and(|seen| !is_seen(seen))
    }

    /// A value of a view's own.
    pub(crate) fn get(&self, key: &str) -> Option<&str> {
        self.more.get(key).map(String::as_str)
    }

    /// The same with something else, for a link.
    pub(crate) fn with(&self, change: impl FnOnce(&mut Self)) -> Self {
        let mut asked = self.clone();
        asked.moving = false;
        asked.seen = None;
        change(&mut asked);
        asked
    }

    /// The corner and what is tried, without what belongs to one view.
    pub(crate) fn corner(&self) -> Self {
        self.with(|asked| {
            asked.part = None;
            asked.more.clear();
        })
    }

    /// The address of a view that shows this.
    pub(crate) fn href(&self, view: &str) -> String {
        let query = self.query();
        if query.is_empty() {
            view.to_owned()
        } else {
            format!("{view}?{query}")
        }
    }

    /// As a query.
    pub(crate) fn query(&self) -> String {
        let pairs: Vec<String> = self
            .pairs()
            .iter()
            .map(|(key, value)| format!("{}={}", encoded(key), encoded(value)))
            .collect();
        pairs.join("&")
    }

    /// As pairs, for hidden fields.
    pub(crate) fn pairs(&self) -> Vec<(String, String)> {
        let mut pairs = Vec::new();
        let mut add = |key: &str, value: &str| pairs.push((key.to_owned(), value.to_owned()));
        if let Some(state) = &self.state {
            add("state", state);
        }
        if let Some(mains) = &self.mains {
            add("mains", mains);
        }
        if self.worst_parts {
            add("parts", "worst");
        }
        for (address, text) in &self.tries {
            add("try", &format!("{address}:{text}"));
        }
        if let Some(part) = &self.part {
            add("part", part);
        }
        for (key, value) in &self.more {
            add(key, value);
        }
        pairs
    }
}

fn some(value: &str) -> Option<String> {
    (!value.is_empty()).then(|| value.to_owned())
}

/// Percent-encoded for a query (RFC 3986), spaces too.
pub(crate) fn encoded(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for byte in text.bytes() {
        if byte.is_ascii_alphanumeric() || b"-._~:".contains(&byte) {
            out.push(char::from(byte));
        } else {
            write!(out, "%{byte:02X}").expect("writing to a string");
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::Asked;

    fn asked(pairs: &[(&str, &str)]) -> Asked {
        let pairs: Vec<_> = pairs
            .iter()
            .map(|(key, value)| ((*key).to_owned(), (*value).to_owned()))
            .collect();
        Asked::of(&pairs)
    }

    #[test]
    fn an_address_says_all_and_reads_back() {
        let one = asked(&[
            ("state", "cold"),
            ("mains", "207 V"),
            ("parts", "worst"),
            ("try", "C1.value:4700 µF"),
            ("node", "raw"),
        ]);
        assert_eq!(
            one.href("waves"),
            "waves?state=cold&mains=207%20V&parts=worst&try=C1.value:4700%20%C2%B5F&node=raw"
        );
        assert_eq!(Asked::of(&one.pairs()), one);
    }

    #[test]
    fn the_last_value_tried_counts_and_empty_fields_do_not() {
        let one = asked(&[
            ("try", "C1.value:4700u"),
            ("figure", "C1.value"),
            ("value", "6800u"),
            ("state", " "),
        ]);
        assert_eq!(one.tries, [("C1.value".to_owned(), "6800u".to_owned())]);
        assert_eq!(one.state, None);
    }
}
