//! Words: local times against another library, and what is said where it matters.

use std::collections::BTreeMap;

use chrono::{Datelike, MappedLocalTime, NaiveDate, NaiveDateTime, TimeZone};
use proptest::prelude::*;
use serde::Deserialize;
use spyhole::testing::words::{Meant, TimeError, Zone, ago, left_text, length_phrase, read_time};

use crate::prelude::*;

/// Berlin, with its summer time: a zone of another library behind our own trait.
#[derive(Debug)]
struct Berlin;

impl Zone for Berlin {
    fn wall(&self, at: Moment) -> NaiveDateTime {
        chrono_tz::Europe::Berlin.timestamp_millis_opt(at.0).unwrap().naive_local()
    }

    fn moments(&self, wall: NaiveDateTime) -> MappedLocalTime<Moment> {
        let found = chrono_tz::Europe::Berlin.from_local_datetime(&wall);
        found.map(|local| Moment(local.timestamp_millis()))
    }
}

const UTC: FixedZone = FixedZone(Span::ZERO);

/// `tests/data/words.toml`.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Table {
    moments: BTreeMap<String, [String; 2]>,
    lengths: BTreeMap<String, String>,
    countdowns: BTreeMap<String, String>,
    typed: BTreeMap<String, String>,
    typed_on_twelve_hours: BTreeMap<String, String>,
    unreadable: Vec<String>,
    stumbled: Vec<String>,
    said: Vec<[String; 2]>,
}

fn table() -> Table {
    data("words.toml")
}

/// What is said of spans, by their seconds.
fn seconds(said: &BTreeMap<String, String>) -> impl Iterator<Item = (Span, &String)> {
    let span = |seconds: &str| Span((seconds.parse::<f64>().unwrap() * 1000.0) as i64);
    said.iter().map(move |(length, said)| (span(length), said))
}

fn dial(zone: &dyn Zone, clock: Clock) -> Dial<'_> {
    Dial { zone, clock, scale: Scale::Celsius }
}

fn at(text: &str) -> Moment {
    Moment(chrono::DateTime::parse_from_rfc3339(text).unwrap().timestamp_millis())
}

#[test]
fn law_times_name_their_day_only_where_it_is_another() {
    let now = at("2026-03-12T13:40:00Z");
    let (day, half) = (dial(&UTC, Clock::TwentyFourHour), dial(&UTC, Clock::TwelveHour));
    for (moment, [wanted, wanted_half]) in &table().moments {
        assert_eq!(day.time_and_day(at(moment), now), *wanted);
        assert_eq!(half.time_and_day(at(moment), now), *wanted_half);
    }
}

/// In the program, its schedules and its documentation.
#[test]
fn law_no_sentence_says_what_readers_stumbled_over() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut paths =
        ["src", "schedules", "assets", "README.md"].map(|name| root.join(name)).to_vec();
    let (Table { stumbled, said, .. }, mut read) = (table(), 0);
    for [file, phrase] in said {
        let text = fs::read_to_string(root.join(&file)).unwrap();
        let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(text.contains(&phrase), "{file} does not say: {phrase}");
    }
    while let Some(path) = paths.pop() {
        if path.is_dir() {
            paths.extend(fs::read_dir(&path).unwrap().map(|entry| entry.unwrap().path()));
            continue;
        }
        let Ok(text) = fs::read_to_string(&path) else { continue };
        let said = text.lines().map(|line| line.trim().trim_end_matches('\\').trim_end());
        let said = said.filter(|line| !line.starts_with("// ") && !line.starts_with("//! "));
        let said = said.collect::<Vec<_>>().join(" ");
        read += 1;
        for phrase in &stumbled {
            assert!(!said.contains(phrase.as_str()), "{}: {phrase}", path.display());
        }
    }
    assert!(read > 400, "only {read} files");
}

#[test]
fn law_a_length_in_a_sentence_is_rounded_down_the_more_the_longer_it_is() {
    for (length, wanted) in seconds(&table().lengths) {
        assert_eq!(length_phrase(length), *wanted, "{length:?}");
    }
}

#[test]
fn law_a_moment_of_another_day_is_said_as_people_say_it() {
    let (now, day) = (at("2026-03-12T20:40:00Z"), dial(&UTC, Clock::TwentyFourHour));
    for (moment, wanted) in [
        ("2026-03-12T21:05:00Z", "at 21:05"),
        ("2026-03-13T00:40:00Z", "tomorrow at 0:40"),
        ("2026-03-15T08:00:00Z", "Sun at 8:00"),
    ] {
        assert_eq!(day.at(at(moment), now), wanted);
    }
}

#[test]
fn law_a_difference_of_temperatures_has_no_zero_of_its_own() {
    let celsius = dial(&UTC, Clock::TwentyFourHour);
    let fahrenheit = Dial { scale: Scale::Fahrenheit, ..celsius };
    for (difference_c, in_celsius, in_fahrenheit) in
        [(0.0, "+0 C", "+0 F"), (10.0, "+10 C", "+18 F"), (-5.0, "-5 C", "-9 F")]
    {
        assert_eq!(celsius.difference(difference_c), in_celsius);
        assert_eq!(fahrenheit.difference(difference_c), in_fahrenheit);
    }
}

#[test]
fn law_a_countdown_never_says_less_than_is_left() {
    for (left, wanted) in seconds(&table().countdowns) {
        assert_eq!(left_text(left), *wanted, "{left:?}");
    }
    assert_eq!(ago(Span::seconds(59)), "just now");
    assert_eq!(ago(Span::seconds(119)), "1 min ago");
    assert_eq!(ago(Span::hours(50)), "2 days ago");
}

#[test]
fn law_a_typed_time_is_the_latest_that_has_been() {
    let now = at("2026-03-12T13:40:20Z");
    let read = |text: &str, clock| {
        let read = read_time(text, now, Meant::Past, &dial(&UTC, clock));
        read.map(|typed| typed.moment).map_err(|error| error.to_string())
    };
    let table = table();
    let on_twelve_hours = (&table.typed_on_twelve_hours, Clock::TwelveHour);
    for (typed, clock) in [(&table.typed, Clock::TwentyFourHour), on_twelve_hours] {
        for (text, wanted) in typed {
            assert_eq!(read(text, clock), Ok(at(wanted)), "{text}");
        }
    }
    let either = "date 2/3 may be 2026-02-03 or 2026-03-02: write which";
    assert_eq!(read("2/3 9am", Clock::TwelveHour).unwrap_err(), either);
    let ahead = "00\" is still 20 min ahead, but only what has happened can be written down";
    let said = read("today 14:00", Clock::TwentyFourHour).unwrap_err();
    assert_eq!(said.split(':').nth(1), Some(ahead));
    for text in &table.unreadable {
        let wanted = TimeError::Unreadable { seen: text.into() }.to_string();
        assert_eq!(read(text, Clock::TwentyFourHour), Err(wanted));
    }
}

proptest! {
    /// The calendar against chrono's, from the year 0 to 9999.
    #[test]
    fn crosscheck_dates_against_another_calendar(day in -719_528i64..2_932_896) {
        let date = NaiveDate::default() + chrono::TimeDelta::days(day);
        let noon = Moment(day * 86_400_000 + 43_200_000);
        let far = Moment(noon.0 + 40 * 86_400_000);
        let wanted =
            format!("{:04}-{:02}-{:02} 12:00", date.year(), date.month(), date.day());
        prop_assert_eq!(dial(&UTC, Clock::TwentyFourHour).time_and_day(noon, far), wanted);
        let soon = Moment(noon.0 + 3 * 86_400_000);
        let wanted = format!("{} 12:00", date.format("%a"));
        prop_assert_eq!(dial(&UTC, Clock::TwentyFourHour).time_and_day(noon, soon), wanted);
    }

    /// Across the changes to and from summer time: what is read shows the time that was typed
    /// and lies in the past day; or the clocks skipped it, or showed it twice.
    #[test]
    fn crosscheck_typed_times_in_a_zone_with_summer_time(
        now_min in 0i64..525_600, minute in 0i64..1440
    ) {
        let now = at("2026-01-01T00:00:00Z") + Span::minutes(now_min);
        let dial = dial(&Berlin, Clock::TwentyFourHour);
        let text = format!("{}:{:02}", minute / 60, minute % 60);
        let shown = |back| dial.time(now - Span::minutes(back)) == text;
        match read_time(&text, now, Meant::Past, &dial) {
            Ok(read) => {
                prop_assert!(read.moment - now <= Span::minutes(1));
                prop_assert_eq!(dial.time(read.moment), text);
                prop_assert!(now - read.moment <= Span::hours(25));
            }
            Err(TimeError::Skipped { .. }) => {
                prop_assert!((0..=1380).all(|back| !shown(back)), "{text} was there");
            }
            Err(TimeError::Twice { .. }) => {
                prop_assert!((0..=1560).filter(|back| shown(*back)).count() > 1, "{text} once");
            }
            Err(error) => prop_assert!(false, "{error}"),
        }
    }
}
