//! A transformer that was made out from its readings, written into the job.

mod reading;

pub use reading::add_reading;

use crate::edit::{EditError, set_value};
use toml_edit::DocumentMut;

/// The text with a transformer in it: `table` at the end where the job has none of that name, else each of `values`
/// (address and text) in its place, comments and order kept.
///
/// # Errors
/// The text is not TOML, or an address belongs to nothing in it.
pub fn keep_transformer(
    text: &str,
    name: &str,
    table: &str,
    values: &[(String, String)],
) -> Result<String, EditError> {
    let not_toml = |error: toml_edit::TomlError| EditError::NotToml {
        said: error.message().to_owned(),
    };
    let document: DocumentMut = text
        .strip_prefix('\u{feff}')
        .unwrap_or(text)
        .parse()
        .map_err(not_toml)?;
    let has_one = document
        .get("transformer")
        .and_then(|all| all.as_table_like())
        .is_some_and(|all| all.contains_key(name));
    if has_one {
        let mut text = text.to_owned();
        for (address, value) in values {
            text = set_value(&text, address, value)?;
        }
        return Ok(text);
    }
    let mut whole = text.to_owned();
    if !whole.is_empty() && !whole.ends_with('\n') {
        whole.push('\n');
    }
    let crlf = text.contains("\r\n") && text.matches("\r\n").count() == text.matches('\n').count();
    whole.push_str(&if crlf {
        table.replace('\n', "\r\n")
    } else {
        table.to_owned()
    });
    // What is written must be read again.
    whole
        .strip_prefix('\u{feff}')
        .unwrap_or(&whole)
        .parse::<DocumentMut>()
        .map_err(not_toml)?;
    Ok(whole)
}

#[cfg(test)]
mod tests {
    use super::keep_transformer;

    #[test]
    fn a_figure_is_added_behind_the_others_as_a_hand_would() {
        let old = "[transformer.T1]\nsecondary = [{ name = \"S1\", open = \"8 V at 230 V\", resistance = \"1 Ω\" }]\n";
        let values = [("T1.S1.leakage".to_owned(), "0.2 mH".to_owned())];
        let new = keep_transformer(old, "T1", "", &values).expect("kept");
        assert_eq!(
            new,
            old.replace("\"1 Ω\" }", "\"1 Ω\", leakage = \"0.2 mH\" }")
        );
    }

    #[test]
    fn a_new_table_goes_to_the_end_and_an_old_one_keeps_its_comments() {
        let text = "format = 1 # first\n";
        let table = "\n[transformer.T1]\nread_at = \"20 °C\"\n";
        let with = keep_transformer(text, "T1", table, &[]).expect("kept");
        assert_eq!(with, format!("{text}{table}"));
        let old = "[transformer.T1]\nread_at = \"20 °C\"   # by hand\nsecondary = [{ name = \"S1\", open = \"8 V at 230 V\", \
                   resistance = \"1 Ω\" }]\n";
        let values = [
            ("T1.S1.open".to_owned(), "8.4 V".to_owned()),
            ("T1.S1.at_primary".to_owned(), "231 V".to_owned()),
        ];
        let new = keep_transformer(old, "T1", table, &values).expect("kept");
        assert!(
            new.contains("\"8.4 V at 231 V\"") && new.contains("# by hand"),
            "{new}"
        );
        assert!(keep_transformer("a = ", "T1", table, &[]).is_err());
    }
}
