//! Where a figure or a key stands in the job's text.

use crate::edit::{Step, Target};
use crate::model::Span;
use toml_edit::{Document, Item};

/// The bytes at which a key's value stands, or the head of a table; none where the text has no such key.
///
/// `address` is one that [`crate::set_value`] takes, of a key or of a part. An item of a list is placed by its whole list.
pub fn place_of(text: &str, address: &str) -> Option<Span> {
    let body = text.strip_prefix('\u{feff}').unwrap_or(text);
    let document = Document::parse(body).ok()?;
    let target = Target::of(document.as_table(), address).ok()?;
    let mut item: &Item = document.as_item();
    for step in target.path() {
        let Step::Key(key) = step else { break };
        item = item.as_table_like()?.get(key)?;
    }
    let span = item.span()?;
    let mark = text.len() - body.len();
    Some(span.start + mark..span.end + mark)
}

#[cfg(test)]
mod tests {
    use super::place_of;

    const JOB: &str = "[regulator.U1]\nfrom = \"raw\"\nlimit = \"1 A\"   # as marked\nset = { trimmer = \"2k\", to = \"9 V\" }\n\
                       dropout = [\"1 V at 1 A\", \"2 V at 2 A\"]\n";

    #[track_caller]
    fn check(address: &str, found: Option<&str>) {
        for mark in ["", "\u{feff}"] {
            let text = format!("{mark}{JOB}");
            let span = place_of(&text, address);
            assert_eq!(span.map(|span| &text[span]), found, "{address}");
        }
    }

    #[test]
    fn a_key_is_found_by_its_value_and_a_part_by_its_head() {
        check("U1.limit", Some("\"1 A\""));
        check("U1.set.to", Some("\"9 V\""));
        check("U1", Some("[regulator.U1]"));
        check("U1.dropout.2", Some("[\"1 V at 1 A\", \"2 V at 2 A\"]"));
    }

    #[test]
    fn what_is_not_written_has_no_place() {
        check("U1.foldback", None);
        check("U2.limit", None);
        assert_eq!(place_of("not = [toml", "U1"), None);
    }
}
