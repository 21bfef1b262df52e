//! Times as people type them: `9:10`, `9:10 pm`, `20 min ago`, `yesterday 21:40`, or a full date
//! and time. The one reader of them, for the command line and for the forms of the screen.

use chrono::{
    DateTime, FixedOffset, MappedLocalTime, NaiveDate, NaiveDateTime, NaiveTime, TimeDelta,
};

use super::dial::{Clock, Dial, Zone};
use crate::units::{Moment, Span};

/// How far ahead of the clock something that happened may lie: clocks differ by that much.
pub const AHEAD_TOLERANCE: Span = Span::minutes(1);

/// What a time may mean where it is typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Meant {
    /// Any moment, past or still to come.
    Anytime,
    /// Something that has happened. A time of day is today's, and refused while it is still to
    /// come.
    Past,
    /// The latest moment that has been: a time of day that is still to come is yesterday's. Only
    /// for where the day is shown before anything is written.
    Latest,
}

/// A moment, and how far the clock it was read from was ahead of UTC.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TypedTime {
    pub moment: Moment,
    pub offset_minutes: i32,
}

/// Why a typed time was refused.
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

/// Reads a time.
///
/// # Errors
/// [`TimeError`] when the text is not understood, names no moment or two, or, unless
/// [`Meant::Anytime`], one still to come.
pub fn read_time(
    text: &str,
    now: Moment,
    meant: Meant,
    dial: &Dial<'_>,
) -> Result<TypedTime, TimeError> {
    let seen = text.trim();
    let reader = Reader { seen, now, meant, zone: dial.zone };
    let read = reader.read(dial.clock)?;
    let ahead = read.moment - now;
    if meant != Meant::Anytime && ahead > AHEAD_TOLERANCE {
        return Err(TimeError::StillToCome { seen: seen.into(), ahead });
    }
    Ok(read)
}

struct Reader<'a> {
    seen: &'a str,
    now: Moment,
    meant: Meant,
    zone: &'a dyn Zone,
}

impl Reader<'_> {
    fn read(&self, clock: Clock) -> Result<TypedTime, TimeError> {
        let unreadable = || TimeError::Unreadable { seen: self.seen.into() };
        let lower = self.seen.to_lowercase();
        if lower == "now" {
            return Ok(self.here(self.now));
        }
        if let Some(length) = lower.strip_suffix("ago") {
            let span = Span::parse(length).map_err(|_| unreadable())?;
            return Ok(self.here(self.now - span));
        }
        if let Ok(full) = DateTime::parse_from_rfc3339(self.seen) {
            let offset_minutes = full.offset().local_minus_utc() / 60;
            return Ok(TypedTime { moment: Moment(full.timestamp_millis()), offset_minutes });
        }
        let (day, text) = self.day_and_clock(&lower).ok_or_else(unreadable)?;
        let (time, half_known) = read_clock(text).ok_or_else(unreadable)?;
        let twelve_hours = clock == Clock::TwelveHour && !half_known;
        // A bare time of a twelve-hour clock may be of either half of the day.
        let other = twelve_hours.then(|| time.overflowing_add_signed(TimeDelta::hours(12)).0);
        let times: Vec<NaiveTime> = std::iter::once(time).chain(other).collect();
        self.on_days(day, &times)
    }

    /// The day a text names, if it does, and the rest of it.
    fn day_and_clock<'t>(&self, lower: &'t str) -> Option<(Option<NaiveDate>, &'t str)> {
        let today = self.zone.wall(self.now).date();
        if let Some(clock) = lower.strip_prefix("today") {
            return Some((Some(today), clock));
        }
        if let Some(clock) = lower.strip_prefix("yesterday") {
            return Some((Some(today.pred_opt()?), clock));
        }
        match lower.split_once([' ', 't']) {
            Some((date, clock)) if date.contains('-') => {
                Some((Some(NaiveDate::parse_from_str(date, "%Y-%m-%d").ok()?), clock))
            }
            _ => Some((None, lower)),
        }
    }

    /// The latest of these times of day that has been, on the day named or those that may be
    /// meant; where none has been, the first of them.
    fn on_days(&self, day: Option<NaiveDate>, times: &[NaiveTime]) -> Result<TypedTime, TimeError> {
        let today = self.zone.wall(self.now).date();
        let yesterday = today.pred_opt().filter(|_| self.meant == Meant::Latest);
        let days = match day {
            Some(day) => vec![day],
            None => std::iter::once(today).chain(yesterday).collect(),
        };
        let tolerance = if self.meant == Meant::Latest { Span::ZERO } else { AHEAD_TOLERANCE };
        let has_been = |moment: &Moment| *moment - self.now <= tolerance;
        let mut to_come = None;
        for day in days {
            let found = times.iter().map(|time| self.place(day.and_time(*time)));
            let found = found.collect::<Result<Vec<Moment>, TimeError>>()?;
            to_come = to_come.or(found.first().copied());
            if let Some(latest) = found.into_iter().filter(has_been).max() {
                return Ok(self.here(latest));
            }
        }
        let unreadable = || TimeError::Unreadable { seen: self.seen.into() };
        to_come.map(|moment| self.here(moment)).ok_or_else(unreadable)
    }

    /// The moment at which the clock on the wall showed this.
    fn place(&self, wall: NaiveDateTime) -> Result<Moment, TimeError> {
        let (time, date) = (wall.format("%-H:%M").to_string(), wall.format("%Y-%m-%d").to_string());
        match self.zone.moments(wall) {
            MappedLocalTime::Single(moment) => Ok(moment),
            // Later today there will be no such time: it is the day before that is meant.
            MappedLocalTime::None
                if self.meant == Meant::Latest && wall > self.zone.wall(self.now) =>
            {
                Ok(self.now + Span::hours(24))
            }
            MappedLocalTime::None => Err(TimeError::Skipped { time, date }),
            // While the second one is still to come, it was the first.
            MappedLocalTime::Ambiguous(first, second) if second - self.now > AHEAD_TOLERANCE => {
                Ok(first)
            }
            MappedLocalTime::Ambiguous(first, second) => {
                let (first, second) = (self.full(first), self.full(second));
                Err(TimeError::Twice { time, date, first, second })
            }
        }
    }

    /// A moment with the offset that holds there and then.
    fn here(&self, moment: Moment) -> TypedTime {
        TypedTime { moment, offset_minutes: (self.offset_s(moment) / 60) as i32 }
    }

    fn offset_s(&self, moment: Moment) -> i64 {
        self.zone.wall(moment).and_utc().timestamp() - moment.0.div_euclid(1000)
    }

    /// In full, so that it can be typed.
    fn full(&self, moment: Moment) -> String {
        let offset = FixedOffset::east_opt(self.offset_s(moment) as i32);
        let wall = self.zone.wall(moment);
        offset.and_then(|offset| wall.and_local_timezone(offset).single()).map_or_else(
            || wall.to_string(),
            |full| full.to_rfc3339_opts(chrono::SecondsFormat::Secs, false),
        )
    }
}

/// `9:10`, `09:10`, `9pm`, `9:10 pm`, `21:40:30`, and whether it says which half of the day.
fn read_clock(text: &str) -> Option<(NaiveTime, bool)> {
    let text = text.trim();
    let (digits, half) = match (text.strip_suffix("am"), text.strip_suffix("pm")) {
        (Some(rest), _) => (rest.trim(), Some(0)),
        (_, Some(rest)) => (rest.trim(), Some(12)),
        _ => (text, None),
    };
    let parts: Vec<&str> = digits.split(':').collect();
    let number = |text: &str| {
        let digits_only = text.bytes().all(|byte| byte.is_ascii_digit());
        (digits_only && text.len() <= 2).then(|| text.parse::<u32>().ok())?
    };
    // 9:5 may be a slip for 9:50: minutes and seconds have two digits.
    let in_full = |text: &&str| text.len() == 2;
    let (hour, minute, second) = match parts.as_slice() {
        [hour] if half.is_some() => (hour, "0", "0"),
        [hour, minute] if in_full(minute) => (hour, *minute, "0"),
        [hour, minute, second] if in_full(minute) && in_full(second) => (hour, *minute, *second),
        _ => return None,
    };
    let hour = number(hour)?;
    let hour = match half {
        None => hour,
        Some(half) if (1..=12).contains(&hour) => hour % 12 + half,
        Some(_) => return None,
    };
    let time = NaiveTime::from_hms_opt(hour, number(minute)?, number(second)?)?;
    Some((time, half.is_some() || hour > 12))
}
