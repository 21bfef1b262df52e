//! The firing record: what is written reads back, and what is wrong is said so that it can be mended.

use spyhole::testing::edge::record::{self, RecordError, RecordLine};
use spyhole::testing::firing::{Event, Firing, Seen, State, What};

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
    assert_eq!(
        odd[1].1,
        "the target cone was down and later standing: one of the two looks is wrong"
    );
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
    let many: Vec<String> = (0..301).map(|minute| format!("[{minute}, 20]")).collect();
    for (plan, message) in [
        (
            "[[0, 20], [60, 200], [60, 300]]",
            "line 1: key \"plan\": the point at 60 min comes after the one at 60 min: put the points in the order of time, each later than the one before",
        ),
        (
            "[[0, 20], [60, 1501]]",
            "line 1: key \"plan\": the temperature in C 1501 is outside -40 to 1500",
        ),
        ("[[-1, 20]]", "line 1: key \"plan\": the time in minutes -1 is outside 0 to 525600"),
        (
            "[[0, 20, 3]]",
            "line 1: key \"plan\" is [[0,20,3]], but must be a list of pairs of numbers: write it like \"plan\": [[0, 20], [300, 717]]",
        ),
        (
            &format!("[{}]", many.join(", ")),
            "line 1: key \"plan\": 301 points are more than the 300 a plan may have",
        ),
    ] {
        check(&lit_by(plan), message);
    }
}

fn check(text: &str, message: &str) {
    let errors = read(text).unwrap_err();
    let said: Vec<String> = errors.iter().map(ToString::to_string).collect();
    assert_eq!(said, [message], "of {text}");
}

#[test]
fn law_every_wrong_line_is_named_with_what_to_write_instead() {
    let at = r#""at": "2026-03-14T09:10:00+01:00""#;
    let lit = r#""event": "lit", "kiln": "North", "load_type": "gold""#;
    check(
        "\n\n",
        "the record has no events: it needs one JSON object a line, the first one \"lit\"",
    );
    check(
        "{\"at\": ",
        "line 1: this is not JSON (EOF while parsing a value at column 7): write one event a line, for example {\"at\": \"2026-03-14T09:10:00+01:00\", \"event\": \"reading\", \"celsius\": 712}",
    );
    check(
        "[712]",
        "line 1: this is [712], not an object: write one event a line, for example {\"at\": \"2026-03-14T09:10:00+01:00\", \"event\": \"reading\", \"celsius\": 712}",
    );
    check(
        r#"{"event": "off"}"#,
        "line 1: key \"at\" is missing: add it, for example \"at\": \"2026-03-14T09:10:00+01:00\"",
    );
    check(
        r#"{"at": "9:10", "event": "off"}"#,
        "line 1: key \"at\" is \"9:10\", which is no time with date and offset: write it like 2026-03-14T09:10:00+01:00",
    );
    check(
        r#"{"at": "0026-03-14T09:10:00Z", "event": "off"}"#,
        "line 1: key \"at\" is 0026-03-14T09:10:00Z, outside the years 1970 to 2199: check the date",
    );
    check(
        &format!("{{{at}}}"),
        "line 1: key \"event\" is missing: add it, for example \"event\": \"lit\"",
    );
    check(
        &format!(r#"{{{at}, "event": "of"}}"#),
        "line 1: key \"event\" is \"of\", which is none of lit, reading, look, glow, off, drawn, outcome, packed, turned, note, probe_silent, aborted, resumed, acknowledged, shelved, struck, kiln, load_type, accepted, called, marked, probe_changed; did you mean \"off\"?",
    );
    check(
        &format!(r#"{{{at}, "event": "look", "targt": "down"}}"#),
        "line 1: there is no key \"targt\" here; did you mean \"target\"?: use at, event, id, uid, firing, written, who, by, target, guide, guard",
    );
    check(
        &format!(r#"{{{at}, "event": "look", "target": "dwn"}}"#),
        "line 1: key \"target\" is \"dwn\", which is none of standing, leaning, half, down; did you mean \"down\"?",
    );
    check(
        &format!(r#"{{{at}, "event": "reading", "celsius": "712"}}"#),
        "line 1: key \"celsius\" is \"712\", but must be a number: write it like \"celsius\": 712",
    );
    check(
        &format!(r#"{{{at}, "event": "reading", "celsius": 7120}}"#),
        "line 1: key \"celsius\" is 7120, outside -40 to 1500: check the number and its scale",
    );
    check(
        &format!(r#"{{{at}, "event": "reading", "celsius": 712, "celsius": 713}}"#),
        "line 1: key \"celsius\" is there twice: leave one of them out",
    );
    check(
        &format!(r#"{{{at}, {lit}, "cone": 6, "cone_family": "large"}}"#),
        "line 1: key \"cone\" is 6, but must be text in quotes, because cones 06 and 6 differ: write it like \"cone\": \"018\"",
    );
    check(
        &format!(r#"{{{at}, {lit}, "cone": "18", "cone_family": "self-supporting"}}"#),
        "line 1: key \"cone\": there is no cone 18 on the chart: it runs 022, 021 ... 02, 01, 1, 2 ... 14, with the half cones 05.5 and 5.5; did you mean 018?",
    );
    check(
        &format!(r#"{{{at}, {lit}, "cone": "018", "cone_family": "selfsupporting"}}"#),
        "line 1: key \"cone_family\" is \"selfsupporting\", which is none of self-supporting, self-supporting iron-free, large, large iron-free, small; did you mean \"self-supporting\"?",
    );
    check(
        &format!(
            r#"{{{at}, {lit}, "cone": "018", "guide": "017", "cone_family": "self-supporting"}}"#
        ),
        "line 1: key \"guide\": the guide cone 017 has to be cooler than the target 018",
    );
    check(
        &format!(
            r#"{{{at}, "event": "lit", "load_type": "gold", "cone": "018", "cone_family": "large"}}"#
        ),
        "line 1: key \"kiln\" is missing: add it, for example \"kiln\": \"North\"",
    );
    check(
        &format!(r#"{{{at}, "event": "outcome", "result": "fine"}}"#),
        "line 1: key \"result\" is \"fine\", which is none of under, good, over",
    );
    check(
        &format!("{{{at}, \"event\": \"off\"}}\n{{{at}, \"event\": \"note\", \"text\": \" \"}}"),
        "line 2: key \"text\": the text is empty",
    );
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
