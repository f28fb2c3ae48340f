//! A JSON Schema of the job file, for editors that complete and check TOML. It is made from the same keys
//! that reading goes by.
//!
//! Quantities stay texts in it: whether `4k7` is a resistance is for the reader to say. What may be left to
//! a catalogue entry is not required here.

use crate::keys::{self, Count, Holds, Key, Keys, Need};
use serde_json::{Map, Value, json};

/// The schema of `job.toml`, JSON Schema draft 2020-12.
pub fn schema() -> String {
    let mut root = table(&keys::ROOT);
    root.insert(
        "$schema".to_owned(),
        json!("https://json-schema.org/draft/2020-12/schema"),
    );
    root.insert("title".to_owned(), json!("quietrail job, format 1"));
    if let Some(required) = root.get_mut("required").and_then(Value::as_array_mut) {
        required.insert(0, json!("format"));
    }
    let mut definitions = Map::new();
    definitions.insert("figure".to_owned(), figure());
    root.insert("$defs".to_owned(), Value::Object(definitions));
    format!("{:#}\n", Value::Object(root))
}

fn table(keys: &'static Keys) -> Map<String, Value> {
    let mut properties = Map::new();
    for key in keys.keys {
        properties.insert(key.name.to_owned(), property(key));
    }
    let takes_part = keys.key("part").is_some();
    let required: Vec<&str> = keys
        .keys
        .iter()
        .filter(|key| key.need == Need::Circuit || (key.need == Need::Always && !takes_part))
        .map(|key| key.name)
        .collect();
    let mut schema = Map::new();
    schema.insert("type".to_owned(), json!("object"));
    schema.insert("description".to_owned(), json!(keys.says));
    schema.insert("properties".to_owned(), Value::Object(properties));
    schema.insert("additionalProperties".to_owned(), json!(false));
    if !required.is_empty() {
        schema.insert("required".to_owned(), json!(required));
    }
    let rules: Vec<Value> = keys.alternatives.iter().filter_map(alternatives).collect();
    if !rules.is_empty() {
        schema.insert("allOf".to_owned(), Value::Array(rules));
    }
    schema
}

/// Keys that exclude one another: no two of them, and for one of them not none.
fn alternatives(group: &'static keys::Alternatives) -> Option<Value> {
    let required = |keys: &[&str]| json!({ "required": keys });
    let pairs = || {
        let of = |index: usize| {
            group.keys[index + 1..]
                .iter()
                .map(move |other| [group.keys[index], other])
        };
        (0..group.keys.len())
            .flat_map(of)
            .map(|pair| required(&pair))
            .collect::<Vec<_>>()
    };
    match group.count {
        Count::Any => None,
        // What a catalogue entry gives does not stand in the job, so that none is no fault here.
        Count::One | Count::OneOrNone => Some(json!({ "not": { "anyOf": pairs() } })),
    }
}

fn property(key: &'static Key) -> Value {
    let mut schema = holds(&key.holds);
    if let Some(object) = schema.as_object_mut() {
        object.insert("description".to_owned(), json!(key.says));
    }
    schema
}

fn holds(holds_what: &'static Holds) -> Value {
    match holds_what {
        // Editors hand a TOML date on as a text.
        Holds::Text | Holds::Name | Holds::AnyQuantity | Holds::Date => {
            json!({ "type": "string" })
        }
        Holds::Truth => json!({ "type": "boolean" }),
        Holds::Number => json!({ "type": "integer", "minimum": 1 }),
        Holds::Choice(words) => json!({ "enum": words }),
        Holds::Figure(..) | Holds::At(..) | Holds::Pair(..) | Holds::FuseRating => {
            json!({ "$ref": "#/$defs/figure", "examples": [example(holds_what)] })
        }
        Holds::AnyOf(forms) => {
            json!({ "anyOf": forms.iter().map(holds).collect::<Vec<_>>() })
        }
        Holds::List(of) => json!({ "type": "array", "items": holds(of) }),
        Holds::Ends => json!({
            "type": "array", "items": { "type": "string" }, "minItems": 2, "maxItems": 2
        }),
        Holds::Table(keys) => Value::Object(table(keys)),
        Holds::Tables(keys) => json!({ "type": "array", "items": table(keys) }),
        Holds::Named(of) => json!({ "type": "object", "additionalProperties": holds(of) }),
        Holds::NamedTables(keys) => {
            json!({ "type": "object", "additionalProperties": table(keys) })
        }
    }
}

/// A quantity, or a table of drawn, fitted and measured. A plain number is a ratio.
fn figure() -> Value {
    json!({
        "description": keys::FIGURE.says,
        "anyOf": [{ "type": "string" }, { "type": "number" }, table(&keys::FIGURE)]
    })
}

fn example(holds: &Holds) -> String {
    match holds {
        Holds::Figure(kind, bounds) => bounds.example(*kind).to_owned(),
        Holds::At(kind, bounds, at, _) => {
            format!("{} at {}", bounds.example(*kind), at.example())
        }
        Holds::Pair(first, _, second, _) => keys::pair_example(*first, *second),
        _ => "250 mA time-lag".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::schema;
    use crate::keys;
    use serde_json::Value;

    fn parsed() -> Value {
        serde_json::from_str(&schema()).expect("the schema is JSON")
    }

    #[test]
    fn every_key_of_every_kind_of_part_is_in_it() {
        let schema = parsed();
        for kind in keys::PARTS.keys {
            let keys::Holds::NamedTables(table) = kind.holds else {
                panic!("{} holds tables", kind.name);
            };
            for key in table.keys {
                let pointer = format!(
                    "/properties/{}/additionalProperties/properties/{}",
                    kind.name, key.name
                );
                let property = schema.pointer(&pointer);
                assert!(
                    property.is_some_and(|of| of["description"].is_string()),
                    "{pointer}"
                );
            }
        }
    }

    #[test]
    fn closed_lists_and_required_keys_are_in_it() {
        let schema = parsed();
        let whats = &schema["properties"]["limit"]["items"]["properties"]["what"]["enum"];
        assert_eq!(whats.as_array().map(Vec::len), Some(keys::WHATS.len()));
        let required = schema["required"].as_array().expect("required keys");
        for key in ["format", "mains", "states"] {
            assert!(required.iter().any(|of| of == key), "{key}");
        }
        assert_eq!(schema["additionalProperties"], false);
    }
}
