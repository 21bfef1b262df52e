//! Words: local times against another library, and what is said where it matters.

use chrono::{Datelike, MappedLocalTime, NaiveDate, NaiveDateTime, TimeZone};
use proptest::prelude::*;
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
    for (moment, wanted, wanted_half) in [
        ("2026-03-12T00:05:00Z", "0:05", "12:05 am"),
        ("2026-03-12T12:00:00Z", "12:00", "12:00 pm"),
        ("2026-03-12T23:59:59Z", "23:59", "11:59 pm"),
        ("2026-03-13T08:00:00Z", "tomorrow 8:00", "tomorrow 8:00 am"),
        ("2026-03-11T19:51:00Z", "yesterday 19:51", "yesterday 7:51 pm"),
        ("2026-03-15T08:00:00Z", "Sun 8:00", "Sun 8:00 am"),
        ("2026-02-27T08:00:00Z", "2026-02-27 8:00", "2026-02-27 8:00 am"),
    ] {
        assert_eq!(day.time_and_day(at(moment), now), wanted);
        assert_eq!(half.time_and_day(at(moment), now), wanted_half);
    }
}

#[test]
fn law_a_length_in_a_sentence_is_rounded_down_the_more_the_longer_it_is() {
    for (length_s, wanted) in [
        (59.9, "59 s"),
        (119.0, "119 s"),
        (545.0, "9 min"),
        (1199.0, "19 min"),
        (1560.0, "25 min"),
        (3900.0, "1 h 05 min"),
        (7199.0, "1 h 55 min"),
        (14_400.0, "4 h"),
        (21_000.0, "5 h 45 min"),
    ] {
        assert_eq!(length_phrase(Span((length_s * 1000.0) as i64)), wanted, "{length_s} s");
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
    for (left_s, wanted) in [
        (0.0, "0:00"),
        (0.4, "0:01"),
        (59.0, "0:59"),
        (599.0, "9:59"),
        (599.5, "10:00"),
        (600.0, "10 min"),
        (600.5, "11 min"),
        (3600.0, "1 h 00"),
        (3601.0, "1 h 01"),
        (-0.5, "-0:00"),
        (-125.9, "-2:05"),
        (-725.0, "-12 min"),
    ] {
        assert_eq!(left_text(Span((left_s * 1000.0) as i64)), wanted, "{left_s} s");
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
    for (text, wanted) in [
        ("now", "2026-03-12T13:40:20Z"),
        ("20 min ago", "2026-03-12T13:20:20Z"),
        ("1h30 ago", "2026-03-12T12:10:20Z"),
        ("9:10", "2026-03-12T09:10:00Z"),
        ("13:40", "2026-03-12T13:40:00Z"),
        // Within a minute clocks may differ.
        ("13:41", "2026-03-12T13:41:00Z"),
        ("13:42", "2026-03-11T13:42:00Z"),
        ("9pm", "2026-03-11T21:00:00Z"),
        ("12:30 am", "2026-03-12T00:30:00Z"),
        ("9:10:11", "2026-03-12T09:10:11Z"),
        ("12:05pm", "2026-03-12T12:05:00Z"),
        ("today 9:10", "2026-03-12T09:10:00Z"),
        ("yesterday 21:40", "2026-03-11T21:40:00Z"),
        ("2026-03-01 9:10", "2026-03-01T09:10:00Z"),
        ("2026-03-12T09:10:00+02:00", "2026-03-12T07:10:00Z"),
        ("9.10", "2026-03-12T09:10:00Z"),
        ("345am", "2026-03-12T03:45:00Z"),
        ("0945 am", "2026-03-12T09:45:00Z"),
        ("an hour ago", "2026-03-12T12:40:20Z"),
        ("half an hour ago", "2026-03-12T13:10:20Z"),
        ("this morning 8", "2026-03-12T08:00:00Z"),
        ("8:15 this morning", "2026-03-12T08:15:00Z"),
        ("last night 9", "2026-03-11T21:00:00Z"),
        ("9pm last night", "2026-03-11T21:00:00Z"),
        ("last night 21:30", "2026-03-11T21:30:00Z"),
        ("last night 1am", "2026-03-12T01:00:00Z"),
        ("yesterday evening 7:05", "2026-03-11T19:05:00Z"),
        ("noon", "2026-03-12T12:00:00Z"),
        ("midnight", "2026-03-12T00:00:00Z"),
        // The 12th of March 2026 is a Thursday.
        ("Tuesday 9am", "2026-03-10T09:00:00Z"),
        ("9am sat", "2026-03-07T09:00:00Z"),
        ("11/27 9pm", "2025-11-27T21:00:00Z"),
        ("27/2 9:10", "2026-02-27T09:10:00Z"),
        ("27/11/2025 9:10", "2025-11-27T09:10:00Z"),
        ("3/3 noon", "2026-03-03T12:00:00Z"),
    ] {
        assert_eq!(read(text, Clock::TwentyFourHour), Ok(at(wanted)), "{text}");
    }
    // On a twelve-hour clock a bare time may be either half of the day.
    assert_eq!(read("1:10", Clock::TwelveHour), Ok(at("2026-03-12T13:10:00Z")));
    assert_eq!(read("9:10", Clock::TwelveHour), Ok(at("2026-03-12T09:10:00Z")));
    assert_eq!(read("8:10", Clock::TwelveHour), Ok(at("2026-03-12T08:10:00Z")));
    assert_eq!(read("2:10", Clock::TwelveHour), Ok(at("2026-03-12T02:10:00Z")));
    assert_eq!(
        read("2/3 9am", Clock::TwelveHour).unwrap_err(),
        "date 2/3 may be 2026-02-03 or 2026-03-02: write which"
    );
    assert_eq!(
        read("today 14:00", Clock::TwentyFourHour).unwrap_err().split(':').nth(1),
        Some("00\" is still 20 min ahead, but only what has happened can be written down")
    );
    for text in [
        "",
        "soon",
        "25:00",
        "9:60",
        "9",
        "13 pm",
        "0 am",
        "20 ago",
        "9:5",
        "-9:10",
        "345",
        "noon pm",
        "13/13 9am",
        "some day 9am",
        "910",
        "9:61",
        "9:10:10:10",
        "-5 min ago",
        "2026-13-01 9:10",
    ] {
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
