//! Clocks that are wrong, put back or put forward; and times as people type them.

use chrono::TimeZone;
use chrono_tz::Europe::Berlin;
use chrono_tz::Tz;
use spyhole::testing::edge::journal::check::ClockOddity;
use spyhole::testing::edge::time_entry;
use spyhole::testing::words::{Clock, Meant};

use super::*;

const CLOCK: (Clock, &Tz) = (Clock::TwentyFourHour, &Berlin);

fn at(year: i32, month: u32, day: u32, hour: u32, minute: u32) -> Moment {
    let local = Berlin.with_ymd_and_hms(year, month, day, hour, minute, 0).earliest().unwrap();
    Moment(local.timestamp_millis())
}

/// As it is written down, or what is said of it.
fn read(text: &str, now: Moment) -> String {
    let read = time_entry::parse(text, now, Meant::Past, CLOCK);
    read.map_or_else(|error| error.to_string(), |time| time.to_string())
}

/// How times are written in the table of `words`; here, that they are written down as local ones, and in full
/// what is said against one.
#[test]
fn law_times_are_written_down_with_their_offset_or_refused() {
    let now = at(2026, 3, 14, 12, 30);
    for (text, says) in [
        ("12:05pm", "2026-03-14T12:05:00+01:00"),
        ("20 min ago", "2026-03-14T12:10:00+01:00"),
        ("today 9:10", "2026-03-14T09:10:00+01:00"),
        ("2026-03-14T09:10:00+02:00", "2026-03-14T09:10:00+02:00"),
        (
            "today 21:40",
            "time \"today 21:40\" is still 9 h 10 min ahead, but only what has happened can be written down: check the day",
        ),
        (
            "-5 min ago",
            "time \"-5 min ago\" is not understood: write it like 9:10, \"20 min ago\", \"yesterday 21:40\" or 2026-03-14T09:10:00+01:00",
        ),
    ] {
        assert_eq!(read(text, now), says, "{text}");
    }
}

/// In Berlin the clocks went from 2:00 to 3:00 on 2026-03-29 and from 3:00 to 2:00 on 2026-10-25.
#[test]
fn law_hours_skipped_or_doubled_are_asked_about() {
    for (text, now, says) in [
        (
            "2:30",
            at(2026, 3, 29, 9, 0),
            "there was no 2:30 on 2026-03-29, the clocks went forward past it: write the time of a clock that had gone forward",
        ),
        (
            "2:30",
            at(2026, 10, 25, 9, 0),
            "2:30 came twice on 2026-10-25, when the clocks were put back: write which one, 2026-10-25T02:30:00+02:00 or 2026-10-25T02:30:00+01:00",
        ),
        // At the first 2:40 of that night the second 2:30 is still to come, so it was the first.
        ("2:30", at(2026, 10, 25, 2, 40), "2026-10-25T02:30:00+02:00"),
        // Lengths of time are lengths of time, whatever the clock on the wall did.
        ("2h ago", at(2026, 3, 29, 4, 0), "2026-03-29T01:00:00+01:00"),
    ] {
        assert_eq!(read(text, now), says);
    }
}

proptest::proptest! {
    #[test]
    fn law_any_moment_typed_in_full_is_that_moment(
        ms in 1_600_000_000_000i64..1_900_000_000_000,
        zone in proptest::sample::select(vec!["Europe/Berlin", "America/St_Johns", "Asia/Kolkata", "Australia/Lord_Howe", "Pacific/Apia", "UTC"]),
    ) {
        let zone: Tz = zone.parse().unwrap();
        let moment = Moment(ms / 1000 * 1000);
        let typed = time_entry::in_zone(moment, &zone).to_string();
        let read = time_entry::parse(&typed, moment, Meant::Past, (Clock::TwentyFourHour, &zone)).unwrap();
        proptest::prop_assert_eq!(read.moment, moment);
        // And as hour and minute of that day it is that minute, or the program asks.
        let local = time_entry::in_zone(moment, &zone).local();
        let wall = local.format("%H:%M:%S").to_string();
        match time_entry::parse(&wall, moment, Meant::Past, (Clock::TwentyFourHour, &zone)) {
            Ok(read) => proptest::prop_assert_eq!(read.moment, moment),
            Err(error) => proptest::prop_assert!(
                matches!(error, time_entry::TimeError::Twice { .. }), "{}", error
            ),
        }
    }
}

#[test]
fn law_a_firing_through_the_change_of_clocks_keeps_its_lengths() {
    let (_folder, _path, mut journal) = new_shop();
    // Lit at the first 2:30 of the night the clocks go back, off at 4:00: 2 h 30 min later.
    let lit_at = at(2026, 10, 25, 2, 30);
    let off_at = at(2026, 10, 25, 4, 0);
    let new = NewEvent { offset_minutes: 120, ..event(None, lit_at, lit("North")) };
    let firing = journal.append_checked(&new, lit_at).unwrap().firing;
    let new = NewEvent { offset_minutes: 60, ..event(firing, off_at, What::Off) };
    journal.append_checked(&new, off_at).unwrap();
    let folded = journal.firing(firing.unwrap()).unwrap();
    assert_eq!(folded.off.unwrap() - folded.lit.unwrap(), Span::minutes(150));
    let offsets: Vec<i32> = stored(&journal, Some(&[firing.unwrap()]))
        .iter()
        .map(|stored| stored.offset_minutes)
        .collect();
    assert_eq!(offsets, [120, 60]);
}

#[test]
fn law_a_clock_set_back_or_wrong_is_reported_and_loses_nothing() {
    let (_folder, _path, mut journal) = new_shop();
    let lit = light(&mut journal, "North");
    let firing = Some(lit);
    put(&mut journal, firing, 60, reading(300.0));
    // The wall clock steps back by half an hour while the program runs.
    put(&mut journal, firing, 31, reading(310.0));
    // A machine wakes from suspend with a clock that is far ahead of the writer's.
    journal.append(&event(firing, minutes(500), reading(320.0)), minutes(62)).unwrap();
    let report = journal.check().unwrap();
    assert!(report.is_whole());
    assert_eq!(
        report.clock,
        [
            (EventId(3), ClockOddity::SetBack(Span::minutes(29))),
            (EventId(4), ClockOddity::InTheFuture(Span::minutes(438))),
        ]
    );
    assert_eq!(journal.firing(lit).unwrap().readings.len(), 3);
}
