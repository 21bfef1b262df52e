//! Schedule files that are refused, each with the whole of what is said about it.

use schedule_file::{JSON_SCHEMA, from_json};
use serde::Deserialize;
use shipped_schedules::SHIPPED;

use crate::prelude::*;

/// A good file.
const GOOD: &str = r#"{
  "version": 1,
  "name": "Cups, second shelf",
  "ware": "glazed_bisque",
  "target": "05",
  "family": "large",
  "segments": [
    { "ramp": { "to_c": 600, "rate_c_per_h": 150 } },
    { "ramp": { "to_c": 1030, "minutes": 300 } },
    { "soak": { "minutes": 15 } },
    { "cool": { "to_c": 900, "rate_c_per_h": 100 } }
  ],
  "ventilate": [{ "from_c": 20, "to_c": 500, "why": "Binders burn out." }],
  "reasoning": "Only a test."
}"#;

/// The good file with one thing put in the place of another.
fn changed(from: &str, to: &str) -> String {
    from_json(GOOD).expect("the file the others are made from is good");
    assert_eq!(GOOD.matches(from).count(), 1, "{from:?} has to be in the good file once");
    GOOD.replacen(from, to, 1)
}

/// `tests/data/refused/schedules.toml`.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Refused {
    change: Vec<Change>,
    text: Vec<Text>,
}

/// What is changed in the good file, into what, and what is said of it.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Change {
    from: String,
    to: String,
    says: String,
    /// The schema for editors lets it pass.
    #[serde(default)]
    schema_permits: bool,
}

/// A whole text, and what is said of it.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Text {
    text: String,
    says: String,
}

fn refused() -> Refused {
    data("refused/schedules.toml")
}

#[test]
fn law_a_refused_file_says_what_is_wrong_where_and_what_to_do() {
    for Change { from, to, says, .. } in refused().change {
        let said = from_json(&changed(&from, &to)).map_err(|error| error.to_string());
        assert_eq!(said, Err(says), "{from} -> {to}");
    }
}

#[test]
fn law_a_text_that_is_no_schedule_is_refused_where_it_goes_wrong() {
    for Text { text, says } in refused().text {
        assert_eq!(from_json(&text).unwrap_err().to_string(), says, "{text:?}");
    }
}

/// A good file with these segments.
fn with_segments(segments: &str) -> String {
    format!(
        r#"{{"version": 1, "name": "Cups", "ware": "glazed_bisque", "target": "05",
        "family": "large", "segments": [{segments}], "reasoning": "Only a test."}}"#
    )
}

#[test]
fn law_a_schedule_has_to_heat_and_to_be_of_reasonable_length() {
    let soaks = [r#"{"soak": {"minutes": 5}}"#; 101].join(", ");
    let rows = [
        ("", "the schedule has no ramp: a firing has to heat, add at least one ramp"),
        (
            r#"{"soak": {"minutes": 5}}"#,
            "the schedule has no ramp: a firing has to heat, add at least one ramp",
        ),
        (
            &soaks,
            "the schedule has 101 segments, 1 to 100 are allowed: join segments of the same pace",
        ),
    ];
    for (segments, message) in rows {
        let error = from_json(&with_segments(segments)).unwrap_err();
        assert_eq!(error.to_string(), message, "{segments}");
    }
}

/// What the schema for editors says of a value; a word of it that is not known here is a mistake.
fn permits(schema: &Value, rule: &Value, value: &Value) -> bool {
    let of_all = |rules: &Value, value: &Value| {
        rules.as_array().unwrap().iter().filter(|rule| permits(schema, rule, value)).count()
    };
    let number = |rule: &Value, holds: fn(f64, f64) -> bool| {
        value.as_f64().is_none_or(|value| holds(value, rule.as_f64().unwrap()))
    };
    let items = |holds: &dyn Fn(&[Value]) -> bool| value.as_array().is_none_or(|all| holds(all));
    rule.as_object().unwrap().iter().all(|(word, says)| match word.as_str() {
        "$schema" | "$defs" | "title" | "description" | "format" => true,
        "$ref" => {
            let place = says.as_str().unwrap().trim_start_matches('#');
            permits(schema, schema.pointer(place).unwrap(), value)
        }
        "type" => match says.as_str().unwrap() {
            "object" => value.is_object(),
            "array" => value.is_array(),
            "string" => value.is_string(),
            "number" => value.is_number(),
            "integer" => value.is_i64(),
            other => panic!("the type {other} is not known here"),
        },
        "properties" => says
            .as_object()
            .unwrap()
            .iter()
            .all(|(key, rule)| value.get(key).is_none_or(|value| permits(schema, rule, value))),
        "additionalProperties" => value
            .as_object()
            .is_none_or(|keys| keys.keys().all(|key| rule["properties"].get(key).is_some())),
        "required" => {
            says.as_array().unwrap().iter().all(|key| value.get(key.as_str().unwrap()).is_some())
        }
        "const" => says == value,
        "enum" => says.as_array().unwrap().contains(value),
        "oneOf" => of_all(says, value) == 1,
        "allOf" => of_all(says, value) == says.as_array().unwrap().len(),
        "minimum" => number(says, |value, least| value >= least),
        "exclusiveMinimum" => number(says, |value, bound| value > bound),
        "maximum" => number(says, |value, most| value <= most),
        "minLength" => {
            value.as_str().is_none_or(|text| text.len() as u64 >= says.as_u64().unwrap())
        }
        "minItems" => items(&|all| all.len() as u64 >= says.as_u64().unwrap()),
        "maxItems" => items(&|all| all.len() as u64 <= says.as_u64().unwrap()),
        "items" => items(&|all| all.iter().all(|item| permits(schema, says, item))),
        other => panic!("{other} is not known here"),
    })
}

/// The schema in `assets/` against the reader: it permits what the program takes, and of all that
/// the program refuses it lets pass only what is marked in the table.
#[test]
fn crosscheck_the_schema_for_editors_says_what_the_program_does() {
    let schema: Value = serde_json::from_str(JSON_SCHEMA).unwrap();
    for (key, text) in SHIPPED {
        let file = serde_json::from_str(text).unwrap();
        assert!(permits(&schema, &schema, &file), "{key}");
    }
    let passes =
        |text: &str| serde_json::from_str(text).is_ok_and(|file| permits(&schema, &schema, &file));
    let refused = refused();
    for Change { from, to, schema_permits, .. } in &refused.change {
        assert_eq!(passes(&changed(from, to)), *schema_permits, "{from} -> {to}");
    }
    assert!(refused.text.iter().all(|one| !passes(&one.text)));
}

/// The keys of the schema are those that the program names where one is unknown.
#[test]
fn crosscheck_the_schema_for_editors_has_the_programs_keys() {
    let schema: Value = serde_json::from_str(JSON_SCHEMA).unwrap();
    for (place, before) in [
        ("", r#""version": 1,"#),
        ("/$defs/Ramp", r#""to_c": 600,"#),
        ("/$defs/Soak", r#""minutes": 15"#),
        ("/$defs/Cool", r#""to_c": 900,"#),
        ("/$defs/Ventilate", r#""from_c": 20,"#),
    ] {
        let error = from_json(&changed(before, &format!(r#""x": 1, {before}"#))).unwrap_err();
        let said = error.to_string();
        let keys: Vec<&str> =
            said.split_once("the keys here are ").unwrap().1.split(", ").collect();
        let object = schema.pointer(place).unwrap();
        let properties: Vec<&String> = object["properties"].as_object().unwrap().keys().collect();
        assert_eq!(properties, keys, "{place}");
    }
    // A key that the schema asks for is missed by the program as well, and no other.
    let required = schema["required"].as_array().unwrap();
    for key in schema["properties"].as_object().unwrap().keys() {
        let mut file: Value = serde_json::from_str(GOOD).unwrap();
        file.as_object_mut().unwrap().shift_remove(key);
        let missed = from_json(&file.to_string()).is_err();
        assert_eq!(missed, required.iter().any(|wanted| wanted == key), "{key}");
    }
}
