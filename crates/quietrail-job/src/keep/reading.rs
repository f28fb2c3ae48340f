//! A reading of an unmarked transformer goes into the job: at the end of its list, everything else left as it is.

use crate::edit::{EditError, restore_line_ends};
use toml_edit::{Array, DocumentMut, Item, Table, Value};

/// Indentation of a reading in a list of its own lines.
const INDENT: &str = "\n    ";

/// The text with something added to `[unmarked.NAME]`, which is begun at the end of the file where it is not there yet.
///
/// `value` is TOML. A key that holds a list (`ohms`, `volts`, `day` ...) gets it as its last item, another key holds it from
/// then on.
///
/// # Errors
/// The text or the value is not TOML, or what stands at the key cannot take it.
pub fn add_reading(
    text: &str,
    name: &str,
    key: &str,
    value: &str,
    is_list: bool,
) -> Result<String, EditError> {
    let (mark, body) = match text.strip_prefix('\u{feff}') {
        Some(body) => ("\u{feff}", body),
        None => ("", text),
    };
    let said = |error: toml_edit::TomlError| EditError::NotToml {
        said: error.message().to_owned(),
    };
    let not_one = || EditError::NotOneValue {
        address: format!("unmarked.{name}.{key}"),
    };
    let value: Value = value.parse().map_err(said)?;
    let mut document: DocumentMut = body.parse().map_err(said)?;
    if !document.contains_key("unmarked") {
        let mut all = Table::new();
        all.set_implicit(true);
        document.insert("unmarked", Item::Table(all));
    }
    let all = document["unmarked"].as_table_mut().ok_or_else(not_one)?;
    if !all.contains_key(name) {
        let mut own = Table::new();
        own.decor_mut().set_prefix("\n");
        all.insert(name, Item::Table(own));
    }
    let own = all[name].as_table_mut().ok_or_else(not_one)?;
    match own.get_mut(key) {
        None if is_list => {
            let mut list = Array::new();
            push(&mut list, value);
            own.insert(key, Item::Value(Value::Array(list)));
        }
        None => {
            own.insert(key, Item::Value(value));
        }
        Some(Item::Value(Value::Array(list))) if is_list => push(list, value),
        Some(Item::ArrayOfTables(tables)) if is_list => {
            let Value::InlineTable(table) = value else {
                return Err(not_one());
            };
            tables.push(table.into_table());
        }
        Some(Item::Value(old)) if !is_list => {
            let decor = old.decor().clone();
            let mut value = value;
            *value.decor_mut() = decor;
            *old = value;
        }
        Some(_) => return Err(not_one()),
    }
    Ok(restore_line_ends(body, format!("{mark}{document}")))
}

/// Adds an item on a line of its own where the list has such lines or none yet, else behind the last one. A comment behind the
/// last item stays with it.
fn push(list: &mut Array, mut value: Value) {
    let trailing = list.trailing().as_str().unwrap_or_default().to_owned();
    let last = list.iter().last();
    let prefix = last.and_then(|item| item.decor().prefix()?.as_str());
    let ends = last.and_then(|item| item.decor().suffix()?.as_str());
    if last.is_some() && !trailing.contains('\n') && !ends.unwrap_or_default().contains('\n') {
        list.push(value);
        return;
    }
    let indent = prefix
        .and_then(|prefix| Some(prefix.rsplit_once('\n')?.1))
        .unwrap_or(&INDENT[1..])
        .to_owned();
    let before = match trailing.rsplit_once('\n') {
        // The lines behind the last comma, comments with them, come before what is new.
        Some((lines, _)) => format!("{lines}\n{indent}"),
        None if last.is_none() => INDENT.to_owned(),
        None => indent,
    };
    value.decor_mut().set_prefix(before);
    value.decor_mut().set_suffix("");
    list.push_formatted(value);
    list.set_trailing("\n");
    list.set_trailing_comma(true);
}

#[cfg(test)]
mod tests {
    use super::add_reading;

    const OHMS: &str = "{ between = [\"a\", \"b\"], reads = \"1 Ω\" }";

    #[test]
    fn a_reading_goes_behind_the_last_and_comments_stay_where_they_were() {
        let text = "format = 1\n[unmarked.T1]  # no marking\nleads = [\"a\", \"b\"]\nohms = [\n    { between = [\"a\", \"b\"], reads = \
                    \"2 Ω\" },  # cold\n]\ncopper = \"20 °C\"\n";
        let with = add_reading(text, "T1", "ohms", OHMS, true).expect("added");
        let line = format!("    {OHMS},\n]\ncopper");
        assert_eq!(with, text.replace("]\ncopper", &line), "{with}");
        // And once more behind that.
        let twice = add_reading(&with, "T1", "ohms", OHMS, true).expect("added");
        assert_eq!(
            twice,
            text.replace("]\ncopper", &format!("    {OHMS},\n{line}"))
        );
    }

    #[test]
    fn a_list_is_begun_and_one_in_a_line_stays_in_it() {
        let text = "[unmarked.T1]\nday = [\"231 V\"]  # up the hill\n[box]\nroom = \"20 °C\"\n";
        let with = add_reading(text, "T1", "day", "\"236 V\"", true).expect("added");
        assert_eq!(with, text.replace("[\"231 V\"]", "[\"231 V\", \"236 V\"]"));
        let with = add_reading(text, "T1", "ohms", OHMS, true).expect("added");
        assert_eq!(
            with,
            text.replace("[box]", &format!("ohms = [\n    {OHMS},\n]\n[box]"))
        );
    }

    #[test]
    fn a_table_is_begun_and_lists_of_tables_grow() {
        let with = add_reading("format = 1\r\n", "T1", "leads", "[\"a\", \"b\"]", false);
        let with = with.expect("added");
        assert_eq!(
            with,
            "format = 1\r\n\r\n[unmarked.T1]\r\nleads = [\"a\", \"b\"]\r\n"
        );
        let text = "[unmarked.T1]\n[[unmarked.T1.ohms]]\nreads = \"open\"\n";
        let with = add_reading(text, "T1", "ohms", OHMS, true).expect("added");
        assert!(with.starts_with(text) && with.matches("[[unmarked.T1.ohms]]").count() == 2);
    }

    #[test]
    fn what_cannot_take_it_is_left_alone() {
        assert!(add_reading("x = = 1", "T1", "ohms", OHMS, true).is_err());
        assert!(add_reading("unmarked = 3\n", "T1", "ohms", OHMS, true).is_err());
        assert!(add_reading("[unmarked.T1]\nohms = 3\n", "T1", "ohms", OHMS, true).is_err());
        let quote = add_reading("", "T1", "ohms", "{ reads = \"1 Ω }", true);
        assert!(quote.is_err(), "{quote:?}");
    }
}
