//! `spyhole bench advise`, through the built program.

use spyhole::testing::edge::casting_events::{KINDS, ZONE};

use crate::prelude::*;
use crate::program::{Run, at as asked_at, describes};

/// Days of made-up events; a day is "Mon 5 January 2026" plus so many.
struct Events {
    lines: Vec<String>,
}

fn at(day: u32, hour: f64) -> String {
    let begins = chrono::DateTime::parse_from_rfc3339("2026-01-05T00:00:00Z").unwrap();
    let minutes = (60.0 * (24.0 * f64::from(day) + hour)).round() as i64;
    (begins + chrono::TimeDelta::minutes(minutes)).to_rfc3339()
}

impl Events {
    fn new() -> Events {
        let mut events = Events { lines: Vec::new() };
        events.add(0, 0.0, r#""event":"hours","days":["mon","tue","wed","thu","fri","sat"],"from":"8:00","to":"18:00","zone":"UTC""#);
        events.add(0, 0.0, r#""event":"mould","mould":"A3","parts":2,"pieces":1"#);
        events
    }

    fn add(&mut self, day: u32, hour: f64, rest: &str) {
        self.lines.push(format!(r#"{{"at":"{}",{rest}}}"#, at(day, hour)));
    }

    fn pour(&mut self, day: u32, hour: f64) {
        self.add(day, hour, r#""event":"poured","mould":"A3","body":"white""#);
        self.add(day, hour + 0.3, r#""event":"drained","mould":"A3""#);
    }

    fn check(&mut self, day: u32, hour: f64, result: &str) {
        self.add(day, hour, &format!(r#""event":"check","mould":"A3","result":"{result}""#));
    }

    /// Poured every other working day and found open the morning after, not yet in the evening.
    fn weeks(weeks: u32) -> Events {
        let mut events = Events::new();
        for day in (0..7 * weeks).filter(|day| day % 7 < 5 && day % 2 == 0) {
            events.pour(day, 9.0);
            events.check(day, 17.5, "not_yet");
            events.check(day + 1, 9.0, "well");
        }
        events
    }

    fn run(&self, how: &str) -> Run {
        let (folder, shop) = shop_file();
        let path = folder.path().join("casting.jsonl");
        fs::write(&path, self.lines.join("\n")).unwrap();
        let run = asked_at(&shop, &format!("bench advise {} {how}", path.display()));
        assert!(!shop.exists(), "asking for advice began a shop");
        run
    }

    /// What is said of the cast in A3.
    fn said(&self, at: &str) -> String {
        self.run(&format!("--mould A3 --at {at}")).ok()
    }

    fn json(&self, at: &str) -> Value {
        serde_json::from_str(&self.said(&format!("{at} --json"))).unwrap()
    }
}

fn time(answer: &Value, key: &str) -> Moment {
    let text = answer[key].as_str().unwrap_or_else(|| panic!("{key} in {answer}"));
    assert!(text.ends_with('Z'), "{key} is {text}");
    Moment(chrono::DateTime::parse_from_rfc3339(text).unwrap().timestamp_millis())
}

#[test]
fn law_the_answer_has_its_times_in_order_and_checks_while_somebody_is_there() {
    let mut events = Events::weeks(4);
    events.pour(28, 10.0);
    let answer = events.json(&at(28, 11.0));
    let [from, middle, to] = ["opens_p05", "opens_p50", "opens_p95"].map(|key| time(&answer, key));
    assert!(from < middle && middle < to, "{answer}");
    assert!(time(&answer, "late_p05") < time(&answer, "late_p50"), "{answer}");
    let drained = time(&answer, "drained");
    // Never before the evening's "not yet", never after the morning's "well".
    assert!((8.0..24.0).contains(&(middle - drained).as_hours()), "{answer}");
    let next = (time(&answer, "next_check").0 / 3_600_000) % 24;
    assert!((8..18).contains(&next), "{answer}");
    assert_eq!(answer["trouble"], false);
}

/// What is noted later, or in another order, changes nothing.
#[test]
fn law_events_count_in_the_order_of_their_times_up_to_the_moment_asked_for() {
    let mut events = Events::weeks(3);
    events.pour(21, 10.0);
    let answer = events.json(&at(21, 11.0));
    events.check(21, 17.0, "not_yet");
    events.check(22, 9.0, "cracked");
    events.lines.reverse();
    assert_eq!(answer, events.json(&at(21, 11.0)));
    // A blank line and the same moment by another offset are nothing new.
    events.lines.push(String::new());
    assert_eq!(answer, events.json(&at(21, 11.0)));
}

/// Whoever pulls a piece learns that it lets go later; a cast opened "well" tells of no moment but of
/// the time before.
#[test]
fn law_forced_is_later_and_well_is_earlier() {
    let middle = |result: &str| {
        let mut events = Events::new();
        for day in [0, 2, 4, 7, 9, 11] {
            events.pour(day, 9.0);
            events.check(day + 1, 9.3, result);
        }
        events.pour(14, 9.0);
        let answer = events.json(&at(14, 10.0));
        (time(&answer, "opens_p50") - time(&answer, "drained")).as_hours()
    };
    let (forced, well) = (middle("forced"), middle("well"));
    assert!(forced > 26.0 && well < 22.0, "forced {forced}, well {well}");
}

#[test]
fn law_a_not_yet_moves_the_window_behind_it() {
    let mut events = Events::weeks(3);
    events.pour(21, 9.0);
    events.check(22, 9.5, "not_yet");
    let answer = events.json(&at(22, 9.5));
    assert!((time(&answer, "opens_p05") - time(&answer, "drained")).as_hours() > 23.0, "{answer}");
}

#[test]
fn law_a_cast_that_never_lets_go_is_trouble() {
    let mut events = Events::weeks(3);
    events.pour(21, 9.0);
    for day in 22..28 {
        events.check(day, 9.0, "not_yet");
    }
    assert_eq!(events.json(&at(22, 9.5))["trouble"], false);
    assert_eq!(events.json(&at(28, 9.5))["trouble"], true);
    let said = events.said(&at(28, 9.5));
    assert!(said.contains("Something is wrong with the cast in A3"), "{said}");
}

#[test]
fn law_what_nobody_noted_is_said_and_never_taken_for_well() {
    let mut events = Events::weeks(3);
    events.add(21, 9.0, r#""event":"poured","mould":"A3","body":"white""#);
    let said = events.said(&at(21, 12.0));
    assert!(said.contains("Nobody noted when it was drained"), "{said}");
    events.pour(23, 9.0);
    let said = events.said(&at(23, 12.0));
    assert!(said.contains("Nobody noted how the cast of Mon 9:00 was opened"), "{said}");
}

/// A supplier's trial of one mould cast three times without drying: casting time 3, 3.5 and 4 min,
/// setting time 30, 35 and 40 min. Both grow by 1.17 for each cast before, so one wetness serves both.
#[test]
fn published_a_mould_just_opened_takes_longer() {
    let asked = |day: u32| {
        let mut events = Events::new();
        events.pour(0, 9.0);
        events.check(1, 9.0, "well");
        let answer = events.json(&format!("{} --if-poured white", at(day, 9.1)));
        (time(&answer, "opens_p50") - time(&answer, "drained")).as_hours()
    };
    // Just opened, and dry for nearly three weeks.
    let longer = asked(1) / asked(19);
    assert!((1.1..1.33).contains(&longer), "{longer}");
}

/// What would let go while nobody is there is better poured on another day.
#[test]
fn law_asked_before_pouring_it_knows_the_week() {
    let events = Events::weeks(8);
    let ask = |day: u32, hour: f64| {
        let asked = format!("{} --if-poured white", at(day, hour));
        (events.json(&asked), events.said(&asked))
    };
    let (monday, said) = ask(56, 9.0);
    assert_eq!(monday["good_hour"], true, "{monday}");
    assert!(said.starts_with("Pour A3 now, and open it from"), "{said}");
    let (saturday, said) = ask(61, 14.0);
    assert_eq!((&saturday["good_hour"], &saturday["next_check"]), (&false.into(), &Value::Null));
    assert!(
        said.starts_with("A3 poured now would be ready when nobody is here: pour it Mon at 8:00"),
        "{said}"
    );
    // Poured all the same, it is looked at before everybody leaves.
    let mut poured = events;
    poured.pour(61, 14.0);
    let said = poured.said(&at(61, 14.5));
    assert!(said.starts_with("A3 has no good hour: look "), "{said}");
    assert!(said.contains(" in 100 ready), or cover it."), "{said}");
}

#[test]
fn law_hours_are_those_of_the_wall_clock() {
    let mut events = Events::weeks(12);
    events.add(
        0,
        1.0,
        r#""event":"hours","days":"mon-sat","from":"08:00","to":"18:00","zone":"Europe/London""#,
    );
    // The clocks go forward on Sunday 29 March 2026.
    events.pour(82, 17.0);
    let next = time(&events.json(&at(82, 17.5)), "next_check");
    let of_day = next.0 / 60_000 % 1440;
    // Eight on Monday the 30th is seven in UTC.
    assert!((7 * 60..17 * 60).contains(&of_day), "{next:?}");
    assert_eq!(next.0 / 86_400_000 % 7, 4, "a Monday");
}

#[test]
fn law_codes_are_forgiven_where_only_one_is_meant() {
    let mut events = Events::weeks(2);
    events.pour(14, 9.0);
    let code =
        |events: &Events, code: &str| events.run(&format!("--mould {code} --at {}", at(14, 10.0)));
    for alike in ["A3", "a3", "' a 3'", "A3\"", "A3A3"] {
        code(&events, alike).ok();
    }
    for mould in ["K1", "KI", "B0"] {
        events.add(0, 0.0, &format!(r#""event":"mould","mould":"{mould}""#));
    }
    // This very code wins, and a part's mark counts only where there are parts.
    for (asked, says) in [
        ("K7", "it may be K1 or KI"),
        ("KI", "mould KI is empty"),
        ("bo", "mould B0 is empty"),
        ("B0\"", "there is no mould \"B0\"\""),
    ] {
        let said = code(&events, asked).refused();
        assert!(said.contains(says), "{asked}: {said}");
    }
}

#[test]
fn law_what_cannot_be_answered_is_one_clear_sentence() {
    let events = Events::weeks(2);
    let asked = at(14, 9.0);
    for (how, says) in [
        (format!("--mould C9 --at {asked}"), "there is no mould \"C9\" (there are A3)"),
        (format!("--mould A3 --at {asked}"), "mould A3 is empty: pour it first"),
        ("--mould A3 --at 2026-01-05T12:00:00Z --if-poured white".into(), "mould A3 is full"),
    ] {
        let said = events.run(&how).refused();
        assert!(said.contains(says), "{said}");
    }
    for (line, says) in [
        (r#""event":"drained","mold":"A3""#, "a slip for \"mould\""),
        (r#""event":"drained","mould":"A3","colour":1"#, "line 3: there is no key \"colour\" here"),
        (r#""event":"room","celsius":20,"rh":58"#, "write 0.58 for 58 %"),
        (r#""event":"room","rh":0.58"#, "key \"celsius\" is missing"),
        (
            r#""event":"check","mould":"A3","result":"fine""#,
            "none of not_yet, well, forced, cracked",
        ),
        (r#""event":"hours","days":["mon"],"from":"8","to":"18:00""#, "is no time of day"),
        (
            r#""event":"hours","days":["mon"],"from":"8:00","to":"18:00","zone":"Mars""#,
            "no time zone \"Mars\"",
        ),
    ] {
        let mut events = Events::new();
        events.add(0, 1.0, line);
        let said = events.run("--mould A3").refused();
        assert!(said.contains(says), "{line}: {said}");
    }
}

/// The description of the events says of every kind and key what their table says.
#[test]
fn law_the_description_of_the_events_is_in_step() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/assets/casting-events.md");
    let mut rows = String::new();
    for kind in KINDS {
        for field in kind.fields() {
            let needed = if field.needed { "yes" } else { "no" };
            let about = format!("{} (`{}`)", field.about.trim_end_matches('.'), field.example);
            rows += &format!("| `{}` | `{}` | {about} | {needed} |\n", kind.name(), field.key);
        }
    }
    rows += &format!("| `hours` | `{}` | {} | no |\n", ZONE.0, ZONE.1);
    describes(path, &rows);
}
