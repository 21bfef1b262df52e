//! Times as people type them: "9:10", "20 min ago", "yesterday 21:40", or a full date and time.
//!
//! A pure function of the text, the present moment and the time zone.

use chrono::{DateTime, MappedLocalTime, NaiveDate, NaiveDateTime, NaiveTime, Offset, TimeZone};

use super::record::Time;
use crate::units::{Moment, Span};

/// How far ahead of the clock something that happened may lie: clocks differ by that much.
pub const AHEAD_TOLERANCE: Span = Span::minutes(1);

#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TimeError {
    #[error(
        "time \"{seen}\" is not understood: write it like 9:10, \"20 min ago\", \"yesterday 21:40\" or 2026-03-14T09:10:00+01:00"
    )]
    Unreadable { seen: String },
    #[error(
        "time \"{seen}\" is still {ahead} ahead, but only what has happened can be written down: for the evening before write \"yesterday {seen}\""
    )]
    StillToCome { seen: String, ahead: Span },
    #[error(
        "there was no {time} on {date}, the clocks were put forward over it: write the time that the clock on the wall showed"
    )]
    Skipped { time: String, date: String },
    #[error(
        "{time} came twice on {date}, when the clocks were put back: write which one, {first} or {second}"
    )]
    Twice { time: String, date: String, first: String, second: String },
}

/// The moment somebody means by `text`, for something that has happened.
///
/// # Errors
/// [`TimeError`] when the text is not understood, names no moment or two, or one still to come.
pub fn parse<Z: TimeZone>(text: &str, now: Moment, zone: &Z) -> Result<Time, TimeError> {
    let seen = text.trim();
    let time = read(seen, now, zone)?;
    let ahead = time.moment - now;
    if ahead > AHEAD_TOLERANCE {
        return Err(TimeError::StillToCome { seen: seen.into(), ahead });
    }
    Ok(time)
}

/// This moment with the offset that holds there and then.
pub fn in_zone<Z: TimeZone>(moment: Moment, zone: &Z) -> Time {
    let utc = DateTime::from_timestamp_millis(moment.0).unwrap_or_default();
    let local = utc.with_timezone(zone);
    Time::at(moment, local.offset().fix().local_minus_utc() / 60)
}

/// The moment somebody means by `text`, past or still to come.
///
/// # Errors
/// [`TimeError`] when the text is not understood, or names no moment or two.
pub fn read<Z: TimeZone>(text: &str, now: Moment, zone: &Z) -> Result<Time, TimeError> {
    let seen = text.trim();
    let unreadable = || TimeError::Unreadable { seen: seen.into() };
    let lower = seen.to_lowercase();
    if lower == "now" {
        return Ok(in_zone(now, zone));
    }
    if let Some(length) = lower.strip_suffix("ago") {
        let span = Span::parse(length).map_err(|_| unreadable())?;
        return Ok(in_zone(now - span, zone));
    }
    if let Ok(full) = DateTime::parse_from_rfc3339(seen) {
        let offset_minutes = full.offset().local_minus_utc() / 60;
        return Ok(Time::at(Moment(full.timestamp_millis()), offset_minutes));
    }
    let today = in_zone(now, zone).local().date_naive();
    let (date, clock) = match lower.split_once([' ', 't']) {
        _ if lower.starts_with("today") => (today, &lower["today".len()..]),
        _ if lower.starts_with("yesterday") => {
            (today.pred_opt().ok_or_else(unreadable)?, &lower["yesterday".len()..])
        }
        Some((date, clock)) if date.contains('-') => {
            (NaiveDate::parse_from_str(date, "%Y-%m-%d").map_err(|_| unreadable())?, clock)
        }
        _ => (today, lower.as_str()),
    };
    let clock = read_clock(clock).ok_or_else(unreadable)?;
    place(date.and_time(clock), now, zone)
}

/// `9:10`, `09:10`, `9:10 pm`, `21:40:30`.
fn read_clock(text: &str) -> Option<NaiveTime> {
    let text = text.trim();
    let (digits, half_day) = match text.strip_suffix("am").or_else(|| text.strip_suffix("pm")) {
        Some(digits) => (digits.trim(), Some(text.ends_with("pm"))),
        None => (text, None),
    };
    let mut parts = digits.split(':');
    let mut number = |required: bool| match parts.next() {
        Some(part) if (1..=2).contains(&part.len()) => part.parse::<u32>().ok(),
        None if !required => Some(0),
        _ => None,
    };
    let (hour, minute, second) = (number(true)?, number(true)?, number(false)?);
    let hour = match half_day {
        None => hour,
        Some(_) if !(1..=12).contains(&hour) => return None,
        Some(afternoon) => hour % 12 + if afternoon { 12 } else { 0 },
    };
    if parts.next().is_some() {
        return None;
    }
    NaiveTime::from_hms_opt(hour, minute, second)
}

fn place<Z: TimeZone>(wall: NaiveDateTime, now: Moment, zone: &Z) -> Result<Time, TimeError> {
    let time_of = |local: DateTime<Z>| in_zone(Moment(local.timestamp_millis()), zone);
    let (time, date) = (wall.format("%-H:%M").to_string(), wall.format("%Y-%m-%d").to_string());
    match zone.from_local_datetime(&wall) {
        MappedLocalTime::Single(local) => Ok(time_of(local)),
        MappedLocalTime::None => Err(TimeError::Skipped { time, date }),
        MappedLocalTime::Ambiguous(first, second) => {
            let (first, second) = (time_of(first), time_of(second));
            // While the second one is still to come, it was the first.
            if second.moment - now > AHEAD_TOLERANCE {
                return Ok(first);
            }
            let (first, second) = (first.to_string(), second.to_string());
            Err(TimeError::Twice { time, date, first, second })
        }
    }
}
