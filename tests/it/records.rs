//! The firing record: what is written reads back, and what is wrong is said so that it can be mended.

use serde::Deserialize;
use spyhole::testing::edge::record::{self, RecordError, RecordLine};

use crate::prelude::*;

const FIRING: &str = r#"{"at": "2026-03-14T09:10:00+01:00", "event": "lit", "kiln": "North", "load_type": "gold", "cone": "018", "guide": "019", "guard": "017", "cone_family": "self-supporting", "schedule": "gold on glazed ware"}
{"at": "2026-03-14T11:00:00+01:00", "event": "reading", "celsius": 433.7}

{"at": "2026-03-14T13:05:00+01:00", "event": "look", "guide": "down", "target": "leaning", "guard": "standing"}
{"at": "2026-03-14T13:15:00+01:00", "event": "look", "target": "down"}
{"at": "2026-03-14T13:16:30+01:00", "event": "off"}
{"at": "2026-03-15T08:00:00+01:00", "event": "drawn"}
{"at": "2026-03-15T08:20:00+01:00", "event": "outcome", "result": "good", "note": "bright"}
"#;

pub fn read(text: &str) -> Result<Vec<RecordLine>, Vec<RecordError>> {
    record::read(text.as_bytes(), |lines| lines.collect())
}

fn folded(lines: &[RecordLine]) -> Firing {
    Firing::fold(lines.iter().cloned().map(Event::from))
}

fn written(lines: &[RecordLine]) -> String {
    let mut out = Vec::new();
    for line in lines {
        record::write(&mut out, line).unwrap();
    }
    String::from_utf8(out).unwrap()
}

#[test]
fn law_a_record_adds_up_to_a_firing() {
    let lines = read(FIRING).unwrap();
    let firing = folded(&lines);
    assert_eq!((firing.kiln.as_str(), firing.state), ("North", State::Closed));
    assert_eq!(firing.pack.unwrap().guard.unwrap().name(), "017");
    assert_eq!(firing.readings.len(), 1);
    assert_eq!(firing.looks[0].look.guide, Some(Seen::Down));
    assert_eq!(firing.schedule.as_deref(), Some("gold on glazed ware"));
    assert!(firing.oddities.is_empty());
    assert_eq!(lines[2].line, 4, "blank lines count");
    assert_eq!(lines[0].at.offset_minutes, 60);
}

#[test]
fn law_a_record_written_again_says_the_same() {
    let lines = read(FIRING).unwrap();
    let again = read(&written(&lines)).unwrap();
    let bare = |lines: &[RecordLine]| -> Vec<RecordLine> {
        lines.iter().map(|line| RecordLine { line: 0, ..line.clone() }).collect()
    };
    assert_eq!(bare(&lines), bare(&again));
}

#[test]
fn law_impossible_records_fold_and_say_what_is_odd() {
    let text = r#"{"at": "2026-03-14T08:00:00Z", "event": "reading", "celsius": 20}
{"at": "2026-03-14T09:00:00Z", "event": "lit", "kiln": "North", "load_type": "gold", "cone": "018", "cone_family": "self-supporting"}
{"at": "2026-03-14T12:00:00Z", "event": "look", "target": "down"}
{"at": "2026-03-14T12:10:00Z", "event": "look", "target": "standing"}
{"at": "2026-03-14T12:20:00Z", "event": "off"}
{"at": "2026-03-14T12:30:00Z", "event": "off"}
{"at": "2026-03-14T12:40:00Z", "event": "struck", "struck": 99, "reason": "a slip"}
"#;
    let firing = folded(&read(text).unwrap());
    let odd: Vec<(i64, String)> =
        firing.oddities.iter().map(|oddity| (oddity.event.0, oddity.kind.to_string())).collect();
    assert_eq!(odd.iter().map(|(line, _)| *line).collect::<Vec<_>>(), [1, 4, 6, 7]);
    let told = "the target cone was down and later standing: one of the two looks is wrong";
    assert_eq!(odd[1].1, told);
    assert_eq!(firing.state, State::Off);
    assert!(matches!(read(text).unwrap()[6].what, What::Struck { .. }));
}

fn lit_by(plan: &str) -> String {
    format!(
        r#"{{"at": "2026-03-14T09:00:00Z", "event": "lit", "kiln": "North", "load_type": "gold", "cone": "018", "cone_family": "self-supporting", "schedule": "mine", "plan": {plan}}}"#
    )
}

#[test]
fn law_the_plan_of_a_firing_stays_with_it() {
    let lines = read(&lit_by("[[0, 20], [90.5, 200], [300, 717.25]]")).unwrap();
    let firing = folded(&lines);
    let plan: Vec<(i64, f64)> = firing.plan.iter().map(|(after, t)| (after.0, t.0)).collect();
    assert_eq!(plan, [(0, 20.0), (5_430_000, 200.0), (18_000_000, 717.25)]);
    let again = read(&written(&lines)).unwrap();
    assert_eq!(again[0].what, lines[0].what);
    assert_eq!(firing.plan_or(|_| panic!("its own plan comes first")), Some(firing.plan.clone()));
    // A record from before plans were kept has the name alone.
    let named = folded(&read(&lit_by("[]")).unwrap());
    assert!(named.plan.is_empty() && !written(&read(&lit_by("[]")).unwrap()).contains("plan"));
    let found = |name: &str| (name == "mine").then(|| firing.plan.clone());
    assert_eq!(named.plan_or(found), Some(firing.plan.clone()));
}

#[test]
fn law_a_plan_no_kiln_could_follow_is_refused() {
    for Refused { text, says } in refused().plan {
        check(&lit_by(&text), &says);
    }
    let many: Vec<String> = (0..301).map(|minute| format!("[{minute}, 20]")).collect();
    let says = "line 1: key \"plan\": 301 points are more than the 300 a plan may have";
    check(&lit_by(&format!("[{}]", many.join(", "))), says);
}

/// A text, and what is said of it.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Refused {
    text: String,
    says: String,
}

/// `tests/data/refused/records.toml`.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct AllRefused {
    record: Vec<Refused>,
    plan: Vec<Refused>,
}

fn refused() -> AllRefused {
    data("refused/records.toml")
}

fn check(text: &str, message: &str) {
    let errors = read(text).unwrap_err();
    let said: Vec<String> = errors.iter().map(ToString::to_string).collect();
    assert_eq!(said, [message], "of {text}");
}

#[test]
fn law_every_wrong_line_is_named_with_what_to_write_instead() {
    for Refused { text, says } in refused().record {
        check(&text, &says);
    }
}

#[test]
fn law_all_wrong_lines_are_named_at_once() {
    let errors = read("{}\n[]\nnothing\n").unwrap_err();
    assert_eq!(errors.iter().map(|error| error.line).collect::<Vec<_>>(), [1, 2, 3]);
    // Nothing is made of what comes behind bytes that are no text.
    let errors = record::read(&b"\n{}\n\xff\n{}\n"[..], |lines| lines.count()).unwrap_err();
    assert_eq!(errors.iter().map(|error| error.line).collect::<Vec<_>>(), [2, 3]);
    assert!(errors[1].to_string().starts_with("line 3: it cannot be read ("), "{}", errors[1]);
}
