//! Schedule files that are refused, each with the whole of what is said about it.

use serde_json::Value;
use spyhole::testing::edge::schedule_file::{JSON_SCHEMA, from_json};
use spyhole::testing::edge::shipped_schedules::SHIPPED;

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

/// What is changed in the good file, into what, and what is said about it.
const CHANGES: &[(&str, &str, &str)] = &[
    (
        r#""name": "Cups"#,
        r#""nmae": "Cups"#,
        "line 3, column 8: unknown key \"nmae\", did you mean \"name\"?: the keys here are version, name, ware, target, family, start_c, start_f, segments, ventilate, reasoning",
    ),
    (
        r#""soak": {"#,
        r#""sok": {"#,
        "line 10, column 11: unknown word \"sok\", did you mean \"soak\"?: use one of ramp, soak, cool",
    ),
    (
        r#""to_c": 600"#,
        r#""too_c": 600"#,
        "line 8, column 23: unknown key \"too_c\", did you mean \"to_c\"?: the keys here are to_c, to_f, rate_c_per_h, rate_f_per_h, minutes, hours",
    ),
    (
        r#""rate_c_per_h": 150"#,
        r#""rate_c": 150"#,
        "line 8, column 37: unknown key \"rate_c\", did you mean \"rate_c_per_h\"?: the keys here are to_c, to_f, rate_c_per_h, rate_f_per_h, minutes, hours",
    ),
    (
        r#""from_c": 20"#,
        r#""start_c": 20"#,
        "line 13, column 27: unknown key \"start_c\": the keys here are from_c, from_f, to_c, to_f, why",
    ),
    (
        r#""name": "Cups, second shelf","#,
        r#""name": "Cups", "name": "Mugs","#,
        "line 3, column 24: the key \"name\" is given twice: keep one",
    ),
    (
        r#""ware": "glazed_bisque","#,
        r#""#,
        "line 15, column 1: the key \"ware\" is missing here: add it",
    ),
    (
        r#""glazed_bisque""#,
        r#""glased_bisque""#,
        "line 4, column 25: unknown word \"glased_bisque\", did you mean \"glazed_bisque\"?: use one of raw_cast, glazed_bisque, raw_glazed, china_paint, decals, lustre_and_gold",
    ),
    (
        r#""glazed_bisque""#,
        r#""gold""#,
        "line 4, column 16: unknown word \"gold\", did you mean \"lustre_and_gold\"?: use one of raw_cast, glazed_bisque, raw_glazed, china_paint, decals, lustre_and_gold",
    ),
    (
        r#""version": 1"#,
        r#""version": 2"#,
        "version 2 of the file format is not known here: write version 1, or use a newer program",
    ),
    (
        r#""version": 1"#,
        r#""version": "1""#,
        "line 2, column 16: invalid type: string \"1\", expected a whole number",
    ),
    (r#""05""#, r#""O5""#, "target: \"O5\" is not a cone name: write it like 018, 05.5, 6 or ^6"),
    (r#""05""#, r#""5.7""#, "target: \"5.7\" is not a cone name: write it like 018, 05.5, 6 or ^6"),
    (
        r#""05""#,
        r#""015.5""#,
        "target: there is no cone 015.5 on the chart: it runs 022, 021 ... 02, 01, 1, 2 ... 14, with the half cones 05.5 and 5.5; did you mean 015?",
    ),
    (r#""05""#, r#"5"#, "line 5, column 13: invalid type: integer `5`, expected a string"),
    (
        r#""large""#,
        r#""huge""#,
        "family: \"huge\" is not a cone family: use one of self-supporting, self-supporting iron-free, large, large iron-free, small",
    ),
    (
        r#""target": "05""#,
        r#""target": "5.5""#,
        "the chart has no large cone 5.5: it has 5.5 as self-supporting",
    ),
    (
        r#""to_c": 600"#,
        r#""to_c": 600, "to_f": 1112"#,
        "segment 1 (ramp): to_c and to_f are both given: keep the one you mean",
    ),
    (
        r#""to_c": 600, "#,
        r#""#,
        "segment 1 (ramp): the temperature to reach is missing: give it as to_c or to_f",
    ),
    (
        r#""to_c": 600"#,
        r#""to_c": "600""#,
        "line 8, column 29: invalid type: string \"600\", expected a number",
    ),
    (
        r#""to_c": 600"#,
        r#""to_c": null"#,
        "line 8, column 28: invalid type: null, expected a number",
    ),
    (
        r#""rate_c_per_h": 150"#,
        r#""rate_c_per_h": -150"#,
        "segment 1 (ramp): rate -150 C/h is outside 5 C/h (9 F/h) to 600 C/h (1080 F/h): the cone chart says nothing of rates so far from its 15 to 300 C/h",
    ),
    (
        r#""rate_c_per_h": 150"#,
        r#""rate_c_per_h": 0"#,
        "segment 1 (ramp): rate 0 C/h is outside 5 C/h (9 F/h) to 600 C/h (1080 F/h): the cone chart says nothing of rates so far from its 15 to 300 C/h",
    ),
    (
        r#""rate_c_per_h": 150"#,
        r#""rate_c_per_h": 601"#,
        "segment 1 (ramp): rate 601 C/h is outside 5 C/h (9 F/h) to 600 C/h (1080 F/h): the cone chart says nothing of rates so far from its 15 to 300 C/h",
    ),
    (
        r#""rate_c_per_h": 150"#,
        r#""rate_f_per_h": 2000"#,
        "segment 1 (ramp): rate 2000 F/h is outside 5 C/h (9 F/h) to 600 C/h (1080 F/h): the cone chart says nothing of rates so far from its 15 to 300 C/h",
    ),
    (
        r#""rate_c_per_h": 150"#,
        r#""rate_c_per_h": 150, "minutes": 90"#,
        "segment 1 (ramp): rate_c_per_h and minutes are both given: keep the one you mean",
    ),
    (
        r#""to_c": 600, "rate_c_per_h": 150"#,
        r#""to_c": 600"#,
        "segment 1 (ramp): the pace is missing: give it as rate_c_per_h or rate_f_per_h, or as minutes or hours",
    ),
    (
        r#""minutes": 300"#,
        r#""minutes": 10"#,
        "segment 2 (ramp): rate 2580 C/h is outside 5 C/h (9 F/h) to 600 C/h (1080 F/h): the cone chart says nothing of rates so far from its 15 to 300 C/h",
    ),
    (
        r#""minutes": 300"#,
        r#""minutes": 0"#,
        "segment 2 (ramp): a length of 0 min is outside 0 (not included) to 72 h: leave the segment out, or give it a length",
    ),
    (
        r#""minutes": 15"#,
        r#""minutes": 0"#,
        "segment 3 (soak): a length of 0 min is outside 0 (not included) to 72 h: leave the segment out, or give it a length",
    ),
    (
        r#""minutes": 15"#,
        r#""hours": -1"#,
        "segment 3 (soak): a length of -60 min is outside 0 (not included) to 72 h: leave the segment out, or give it a length",
    ),
    (
        r#""minutes": 15"#,
        r#""hours": 100"#,
        "segment 3 (soak): a length of 6000 min is outside 0 (not included) to 72 h: leave the segment out, or give it a length",
    ),
    (
        r#""minutes": 15"#,
        r#""minutes": 15, "hours": 1"#,
        "segment 3 (soak): minutes and hours are both given: keep the one you mean",
    ),
    (
        r#""minutes": 15"#,
        r#""#,
        "segment 3 (soak): the length is missing: give it as minutes or hours",
    ),
    (
        r#""to_c": 1030"#,
        r#""to_c": 500"#,
        "segment 2 (ramp): a ramp has to climb, but it goes from 600 C (1112 F) to 500 C (932 F): write it as cool, or raise its end",
    ),
    (
        r#""to_c": 1030"#,
        r#""to_c": 600"#,
        "segment 2 (ramp): a ramp has to climb, but it goes from 600 C (1112 F) to 600 C (1112 F): write it as cool, or raise its end",
    ),
    (
        r#""to_c": 1030"#,
        r#""to_c": 1501"#,
        "segment 2 (ramp): temperature 1501 C is outside -40 C (-40 F) to 1500 C (2732 F): check the number and its scale",
    ),
    (
        r#""to_c": 1030"#,
        r#""to_f": 2800"#,
        "segment 2 (ramp): temperature 2800 F is outside -40 C (-40 F) to 1500 C (2732 F): check the number and its scale",
    ),
    (
        r#""to_c": 900"#,
        r#""to_c": 1100"#,
        "segment 4 (cool): a cool has to fall, but it goes from 1030 C (1886 F) to 1100 C (2012 F): write it as ramp, or lower its end",
    ),
    (
        r#""to_c": 900, "rate_c_per_h": 100"#,
        r#""to_c": 900, "rate_c_per_h": -100"#,
        "segment 4 (cool): rate -100 C/h is outside 5 C/h (9 F/h) to 600 C/h (1080 F/h): the cone chart says nothing of rates so far from its 15 to 300 C/h",
    ),
    (
        r#""name": "Cups, second shelf""#,
        r#""name": "  ""#,
        "the schedule has no name: give it one, so that a firing can say which it followed",
    ),
    (
        r#""to_c": 500, "why""#,
        r#""to_c": 10, "why""#,
        "ventilate 1: it has to reach from a lower to a higher temperature, but goes from 20 C (68 F) to 10 C (50 F)",
    ),
    (
        r#""to_c": 500, "why""#,
        r#""to_c": 1e9, "why""#,
        "ventilate 1: temperature 1000000000 C is outside -40 C (-40 F) to 1500 C (2732 F): check the number and its scale",
    ),
    (
        r#""version": 1,"#,
        r#""version": 1, "start_c": -80,"#,
        "start: temperature -80 C is outside -40 C (-40 F) to 1500 C (2732 F): check the number and its scale",
    ),
    (
        r#""version": 1,"#,
        r#""version": 1, "start_c": 20, "start_f": 68,"#,
        "start: start_c and start_f are both given: keep the one you mean",
    ),
    (
        r#""version": 1,"#,
        r#""version": 1"#,
        "line 3, column 3: this is not JSON: expected `,` or `}`",
    ),
    (
        r#""reasoning": "Only a test.""#,
        r#""reasoning": "Only a test."#,
        "line 15, column 0: this is not JSON: control character (\\u0000-\\u001F) found while parsing a string",
    ),
    (r#""to_c": 600"#, r#""to_c": NaN"#, "line 8, column 25: this is not JSON: expected value"),
    (
        r#""to_c": 600"#,
        r#""to_c": 1e999"#,
        "line 8, column 29: this is not JSON: number out of range",
    ),
    (
        r#"{ "soak": { "minutes": 15 } }"#,
        r#""soak""#,
        "line 11, column 4: invalid type: a bare word, expected braces after it",
    ),
    (
        r#"{ "soak": { "minutes": 15 } }"#,
        r#"{ "hold": { "minutes": 15 } }"#,
        "line 10, column 12: unknown word \"hold\": use one of ramp, soak, cool",
    ),
    (
        r#"{ "soak": { "minutes": 15 } }"#,
        r#"{ "soak": [15] }"#,
        "segment 3: there is a list in the place of keys: write it in braces, each number under the key that says its unit",
    ),
];

#[test]
fn law_a_refused_file_says_what_is_wrong_where_and_what_to_do() {
    for (from, to, message) in CHANGES {
        match from_json(&changed(from, to)) {
            Err(error) => assert_eq!(error.to_string(), *message, "{from} -> {to}"),
            Ok(schedule) => panic!("{from} -> {to} was accepted: {schedule:?}"),
        }
    }
}

/// Whole texts, and what is said about them.
const TEXTS: &[(&str, &str)] = &[
    ("", "line 1, column 0: this is not JSON: EOF while parsing a value"),
    ("cone 6, slowly", "line 1, column 1: this is not JSON: expected value"),
    (
        "{\n  \"version\": 1,\n  \"name\": \"Cups\",",
        "line 3, column 17: this is not JSON: EOF while parsing a value",
    ),
    ("[]", "line 1, column 2: invalid length 0, expected a schedule in braces"),
    ("7", "line 1, column 1: invalid type: integer `7`, expected a schedule in braces"),
    (
        r#"[1, "Cups", "decals", "018", "large", 20, 20, [], [], "Only a test."]"#,
        "the file: there is a list in the place of keys: write it in braces, each number under the key that says its unit",
    ),
];

#[test]
fn law_a_text_that_is_no_schedule_is_refused_where_it_goes_wrong() {
    for (text, message) in TEXTS {
        assert_eq!(from_json(text).unwrap_err().to_string(), *message, "{text:?}");
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

/// What is wrong with the files that the schema lets pass: it knows neither the chart nor the
/// order of the segments, its parser takes doubled keys and blanks, and where a firing starts and
/// is aired is left to the program.
const LEFT_TO_THE_PROGRAM: [&str; 14] = [
    "is given twice",
    "is not a cone name",
    "is not a cone name",
    "there is no cone 015.5",
    "the chart has no large cone",
    "rate 2580 C/h is outside",
    "a ramp has to climb",
    "a ramp has to climb",
    "a cool has to fall",
    "the schedule has no name",
    "it has to reach from a lower",
    "temperature 1000000000 C is outside",
    "temperature -80 C is outside",
    "start_c and start_f are both given",
];

/// The schema in `assets/` against the reader: it permits what the program takes, and of all that
/// the program refuses it lets pass only what is named here.
#[test]
fn crosscheck_the_schema_for_editors_says_what_the_program_does() {
    let schema: Value = serde_json::from_str(JSON_SCHEMA).unwrap();
    for (key, text) in SHIPPED {
        let file = serde_json::from_str(text).unwrap();
        assert!(permits(&schema, &schema, &file), "{key}");
    }
    let changes = CHANGES.iter().map(|(from, to, message)| (changed(from, to), *message));
    let texts = TEXTS.iter().map(|(text, message)| ((*text).to_owned(), *message));
    let mut passed = Vec::new();
    for (text, message) in changes.chain(texts) {
        if serde_json::from_str(&text).is_ok_and(|file| permits(&schema, &schema, &file)) {
            passed.push(message);
        }
    }
    assert_eq!(passed.len(), LEFT_TO_THE_PROGRAM.len(), "{passed:#?}");
    for (message, expected) in passed.iter().zip(LEFT_TO_THE_PROGRAM) {
        assert!(message.contains(expected), "{message}");
    }
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
