//! The calendar file, read back by a parser that knows nothing of us.

use std::collections::BTreeMap;

use chrono::{DateTime, NaiveDateTime, TimeZone, Timelike, Utc};
use chrono_tz::Europe::Berlin;
use icalendar::parser::{Component, read_calendar, unfold};
use spyhole::testing::edge::calendar::calendar;
use spyhole::testing::edge::keeper::minute_of_day;

use crate::prelude::*;
use crate::simulator::{gold, looked, pack};

fn moment(text: &str) -> Moment {
    Moment(DateTime::parse_from_rfc3339(text).unwrap().timestamp_millis())
}

fn firing(lit: Moment) -> Firing {
    Firing {
        id: FiringId(3),
        kiln: "North; \"small\", old".into(),
        load_type: "gold".into(),
        pack: Some(pack()),
        lit: Some(lit),
        state: State::Lit,
        ..Firing::default()
    }
}

fn advice(firing: &Firing, now: Moment) -> Advice {
    let load = gold(Some(Span::hours(5)));
    advise(&Question { load: Some(&load), ..question(firing, &[], now) })
}

/// The calendar's events by their UID: every property, and its reminder's.
fn read(text: &str) -> BTreeMap<String, BTreeMap<String, String>> {
    assert!(text.lines().all(|line| line.len() <= 75), "folded");
    assert_eq!(text.matches('\n').count(), text.matches("\r\n").count());
    let unfolded = unfold(text);
    let read = read_calendar(&unfolded).unwrap();
    let properties = |component: &Component<'_>| -> BTreeMap<String, String> {
        let pairs = component.properties.iter();
        pairs.map(|p| (p.name.to_string(), p.val.to_string())).collect()
    };
    let mut events = BTreeMap::new();
    for component in &read.components {
        assert_eq!(component.name, "VEVENT");
        let mut found = properties(component);
        for reminder in &component.components {
            assert_eq!(reminder.name, "VALARM");
            for (name, value) in properties(reminder) {
                found.insert(format!("VALARM.{name}"), value);
            }
        }
        let uid = found["UID"].clone();
        assert!(events.insert(uid, found).is_none(), "every UID once");
    }
    events
}

fn utc(stamp: &str) -> Moment {
    let time = NaiveDateTime::parse_from_str(stamp, "%Y%m%dT%H%M%SZ").unwrap();
    Moment(Utc.from_utc_datetime(&time).timestamp_millis())
}

fn export(firing: &Firing, now: Moment) -> (Advice, String) {
    let advice = advice(firing, now);
    let plan = Plan::default();
    let watched = Watched { firing, advice: Some(&advice), plan: &plan };
    let text = calendar(
        [watched].into_iter(),
        &BenchScene::default(),
        None,
        |_| None,
        Scale::Celsius,
        now,
    );
    (advice, text)
}

fn whole_seconds(at: Moment) -> Moment {
    Moment(at.0.div_euclid(1000) * 1000)
}

#[test]
fn crosscheck_another_parser_reads_windows_looks_and_draws() {
    let lit = moment("2026-03-04T07:00:00+01:00");
    let now = lit + Span::hours(2);
    let (advice, text) = export(&firing(lit), now);
    let events = read(&text);
    let window = &events[&format!("window-3-{}@spyhole", lit.0)];
    let forecast = advice.forecast.as_ref().unwrap();
    assert_eq!(utc(&window["DTSTART"]), whole_seconds(advice.watch_opens.unwrap()));
    assert_eq!(utc(&window["DTEND"]), whole_seconds(forecast.p95));
    assert_eq!(
        (window["VALARM.ACTION"].as_str(), window["VALARM.TRIGGER"].as_str()),
        ("DISPLAY", "-PT900S")
    );
    assert_eq!(window["STATUS"], "CONFIRMED");
    let look = &events[&format!("look-1-3-{}@spyhole", lit.0)];
    assert_eq!(utc(&look["DTSTART"]), whole_seconds(advice.looks[0]));
    let draw = &events[&format!("draw-3-{}@spyhole", lit.0)];
    assert_eq!(utc(&draw["DTSTART"]), whole_seconds(forecast.p50 + Span::hours(14)));
    assert_eq!(events.len(), 2 + advice.looks.len().min(6));
    assert_eq!(text, export(&firing(lit), now).1, "the same export is the same file");
}

#[test]
fn law_a_second_export_moves_events_and_doubles_none() {
    let lit = moment("2026-03-04T07:00:00+01:00");
    let mut firing = firing(lit);
    let before = read(&export(&firing, lit + Span::hours(2)).1);
    let look = Look { target: Some(Seen::Standing), guide: Some(Seen::Leaning), guard: None };
    let at = lit + Span::from_hours(4.2);
    firing.looks.push(looked(at, look));
    let after = read(&export(&firing, at + Span::minutes(1)).1);
    let window = format!("window-3-{}@spyhole", lit.0);
    let number = |events: &BTreeMap<String, BTreeMap<String, String>>| -> u64 {
        events[&window]["SEQUENCE"].parse().unwrap()
    };
    assert!(number(&after) > number(&before));
    assert_ne!(after[&window]["DTSTART"], before[&window]["DTSTART"], "moved");
    let second = format!("look-2-3-{}@spyhole", lit.0);
    assert!(
        before.contains_key(&second) && after.contains_key(&second),
        "the second look keeps its name"
    );
    assert!(!after.contains_key(&format!("look-1-3-{}@spyhole", lit.0)), "the first is past");
    // Off: what was ahead is called off under the same names, and the draw stands.
    firing.off = Some(lit + Span::hours(5));
    firing.state = State::Off;
    let off = read(&export(&firing, lit + Span::hours(6)).1);
    assert_eq!(off[&window]["STATUS"], "CANCELLED");
    assert_eq!(off[&second]["STATUS"], "CANCELLED");
    let draw = &off[&format!("draw-3-{}@spyhole", lit.0)];
    assert_eq!(
        (draw["STATUS"].as_str(), utc(&draw["DTSTART"])),
        ("CONFIRMED", lit + Span::hours(19))
    );
    // Drawn: there is nothing to draw any more.
    firing.drawn = Some(lit + Span::hours(20));
    firing.state = State::Drawn;
    let drawn = read(&export(&firing, lit + Span::hours(21)).1);
    assert!(!drawn.contains_key(&format!("draw-3-{}@spyhole", lit.0)), "{drawn:?}");
}

/// Both changes of 2026 in central Europe, midnight, and a leap day: what a calendar there shows
/// is the wall clock's time of the moment that was meant.
#[test]
fn law_times_are_right_across_daylight_saving_midnight_and_leap_day() {
    for (lit, what) in [
        ("2026-03-28T22:30:00+01:00", "clocks go forward"),
        ("2026-10-24T23:30:00+02:00", "clocks go back"),
        ("2026-12-31T20:30:00+01:00", "the year ends"),
        ("2028-02-28T20:30:00+01:00", "a leap day begins"),
        ("2028-02-29T20:30:00+01:00", "a leap day ends"),
    ] {
        let lit = moment(lit);
        let (advice, text) = export(&firing(lit), lit + Span::hours(1));
        let events = read(&text);
        let window = &events[&format!("window-3-{}@spyhole", lit.0)];
        let meant =
            Berlin.timestamp_millis_opt(whole_seconds(advice.watch_opens.unwrap()).0).unwrap();
        let shown = Berlin.timestamp_millis_opt(utc(&window["DTSTART"]).0).unwrap();
        assert_eq!(shown, meant, "{what}");
        let minute = minute_of_day(advice.watch_opens.unwrap(), &Berlin);
        assert_eq!(minute, MinuteOfDay::of_second(meant.num_seconds_from_midnight()));
    }
}

/// Muted hours and shifts follow the clock on the wall, where an hour is skipped and where one
/// comes twice.
#[test]
fn law_the_minute_of_the_day_is_the_wall_clocks() {
    let at = |hour, minute| MinuteOfDay::new(hour, minute).unwrap();
    for (moment_text, expected) in [
        ("2026-03-29T00:59:00Z", at(1, 59)),
        ("2026-03-29T01:00:00Z", at(3, 0)),
        ("2026-10-25T00:30:00Z", at(2, 30)),
        ("2026-10-25T01:30:00Z", at(2, 30)),
        ("2026-12-31T23:00:00Z", at(0, 0)),
        ("2028-02-28T22:59:00Z", at(23, 59)),
        ("2028-02-28T23:00:00Z", at(0, 0)),
    ] {
        assert_eq!(minute_of_day(moment(moment_text), &Berlin), expected, "{moment_text}");
    }
}
