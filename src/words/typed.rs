//! Times as people type them: `9:10`, `345pm`, `half an hour ago`, `last night 9`, `Friday 9am`,
//! `11/27 9pm`, or a full date and time. The one reader of them, for the command line and for the
//! forms of the screen.

use chrono::{
    DateTime, Datelike, FixedOffset, MappedLocalTime, NaiveDate, NaiveDateTime, NaiveTime,
    TimeDelta, Timelike, Weekday,
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
    /// Something that has happened: a time of day is the latest that has been, so one that is still to
    /// come is yesterday's.
    Past,
    /// The same of long ago, where nothing but the text says which half of the day it was: on a clock of
    /// twelve hours it has to.
    LongPast,
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
        "time \"{seen}\" is not understood: write it like Friday, \"tomorrow 14:00\" or 2026-03-14"
    )]
    Unclear { seen: String },
    #[error(
        "time \"{seen}\" is still {ahead} ahead, but only what has happened can be written down: check the day"
    )]
    StillToCome { seen: String, ahead: Span },
    #[error(
        "there was no {time} on {date}, the clocks went forward past it: write the time of a clock that had gone forward"
    )]
    Skipped { time: String, date: String },
    #[error(
        "{time} came twice on {date}, when the clocks were put back: write which one, {first} or {second}"
    )]
    Twice { time: String, date: String, first: String, second: String },
    #[error("date {seen} may be {first} or {second}: write which")]
    EitherDate { seen: String, first: NaiveDate, second: NaiveDate },
    #[error(
        "\"{seen}\" may be in the morning or in the evening: write \"{seen} am\" or \"{seen} pm\""
    )]
    EitherHalf { seen: String },
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

/// When something happened, as somebody types it; else what is wrong with that, in a sentence.
///
/// # Errors
/// Why it is no such time.
pub fn read_past(text: &str, now: Moment, meant: Meant, dial: &Dial<'_>) -> Result<Moment, String> {
    let read = read_time(text, now, meant, dial);
    read.map(|typed| typed.moment).map_err(|error| error.to_string())
}

/// Reads a moment to come: `Friday`, `tomorrow 14:00`, `2026-12-04`, `16:30`; at this hour where only the day
/// is said.
///
/// # Errors
/// [`TimeError`] when the text is not understood, or names no moment.
pub fn read_ahead(
    text: &str,
    now: Moment,
    hour: u32,
    dial: &Dial<'_>,
) -> Result<Moment, TimeError> {
    let seen = text.trim();
    let reader = Reader { seen, now, meant: Meant::Anytime, zone: dial.zone };
    if let Ok(full) = DateTime::parse_from_rfc3339(seen) {
        return Ok(Moment(full.timestamp_millis()));
    }
    let lower = seen.to_lowercase();
    let today = dial.zone.wall(now).date();
    let named = |day: &str| match day {
        "today" => Some(today),
        "tomorrow" => Some(today + TimeDelta::days(1)),
        _ => {
            let weekday = day.parse::<Weekday>().ok().filter(|_| day.len() >= 3);
            let on = |day: Weekday| TimeDelta::days(day.days_since(today.weekday()).into());
            let dated = || NaiveDate::parse_from_str(day, "%Y-%m-%d").ok();
            weekday.map(|day| today + on(day)).or_else(dated)
        }
    };
    let usual = NaiveTime::from_hms_opt(hour, 0, 0).unwrap_or_default();
    let clock = |text: &str| read_clock(text, None).map(|(time, _)| time);
    let (first, rest) = lower.split_once(' ').unwrap_or((&lower, ""));
    let said = match (named(first), rest) {
        (Some(day), "") => Some((day, usual)),
        (Some(day), rest) => clock(rest).map(|time| (day, time)),
        (None, _) => clock(&lower).map(|time| (today, time)),
    };
    if lower == "now" {
        return Ok(now);
    }
    let (day, time) = said.ok_or_else(|| TimeError::Unclear { seen: seen.into() })?;
    reader.place(day.and_time(time))
}

/// A day, the half of it, and the rest of a text.
type Said<'t> = (Option<NaiveDate>, Option<u32>, &'t str);

/// Lengths of time that are said without a number, minutes.
const SPANS: [(&str, i64); 5] = [
    ("a minute", 1),
    ("a quarter of an hour", 15),
    ("half an hour", 30),
    ("an hour", 60),
    ("an hour and a half", 90),
];

const LAST_NIGHT: &str = "last night";

/// Days as they are said: how many days ago, and the half of the day by its first hour.
const DAYS: [(&str, i64, Option<u32>); 10] = [
    ("this morning", 0, Some(0)),
    ("this afternoon", 0, Some(12)),
    ("this evening", 0, Some(12)),
    ("tonight", 0, Some(12)),
    (LAST_NIGHT, 1, Some(12)),
    ("yesterday morning", 1, Some(0)),
    ("yesterday afternoon", 1, Some(12)),
    ("yesterday evening", 1, Some(12)),
    ("today", 0, None),
    ("yesterday", 1, None),
];

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
            let length = length.trim();
            let named = SPANS.iter().find(|(name, _)| *name == length);
            let span =
                named.map_or_else(|| Span::parse(length), |(_, min)| Ok(Span::minutes(*min)));
            return Ok(self.here(self.now - span.map_err(|_| unreadable())?));
        }
        if let Ok(full) = DateTime::parse_from_rfc3339(self.seen) {
            let offset_minutes = full.offset().local_minus_utc() / 60;
            return Ok(TypedTime { moment: Moment(full.timestamp_millis()), offset_minutes });
        }
        let (day, half, text) = self.day_and_clock(&lower)?.ok_or_else(unreadable)?;
        let (time, half_known) = read_clock(text, half).ok_or_else(unreadable)?;
        // The small hours of last night are today's.
        let small_hours = lower.contains(LAST_NIGHT) && time.hour() < 6;
        let day = day.map(|day| if small_hours { day + TimeDelta::days(1) } else { day });
        let twelve_hours = clock == Clock::TwelveHour && !half_known;
        if twelve_hours && self.meant == Meant::LongPast {
            return Err(TimeError::EitherHalf { seen: self.seen.into() });
        }
        // A bare time of a twelve-hour clock may be of either half of the day.
        let other = twelve_hours.then(|| time.overflowing_add_signed(TimeDelta::hours(12)).0);
        let times: Vec<NaiveTime> = std::iter::once(time).chain(other).collect();
        self.on_days(day, &times)
    }

    /// The day a text names, if it does, and the half of it, and the rest of the text; `None` for what
    /// is no day.
    fn day_and_clock<'t>(&self, lower: &'t str) -> Result<Option<Said<'t>>, TimeError> {
        let today = self.zone.wall(self.now).date();
        let back = |days| today - TimeDelta::days(days);
        let rest = |name: &str| {
            let after = lower.strip_prefix(name).filter(|rest| rest.starts_with(' '));
            let before = lower.strip_suffix(name).filter(|rest| rest.ends_with(' '));
            after.or(before).map(str::trim)
        };
        let named = DAYS
            .iter()
            .find_map(|(name, days, half)| rest(name).map(|rest| (Some(back(*days)), *half, rest)));
        if named.is_some() {
            return Ok(named);
        }
        let last = lower.rsplit_once(' ').map(|(rest, day)| (day, rest));
        let words = [lower.split_once(' '), lower.split_once('t'), last];
        for (day, rest) in words.into_iter().flatten() {
            if let Some(day) = self.date(day)? {
                return Ok(Some((Some(day), None, rest)));
            }
        }
        let dated = lower.contains('-') || lower.contains('/');
        Ok((!dated).then_some((None, None, lower)))
    }

    /// The day of a date, or the last of this day of the week; `None` for another word.
    ///
    /// # Errors
    /// [`TimeError::EitherDate`] where day and month may be exchanged.
    fn date(&self, text: &str) -> Result<Option<NaiveDate>, TimeError> {
        let today = self.zone.wall(self.now).date();
        if text.len() >= 3
            && let Ok(weekday) = text.parse::<Weekday>()
        {
            let days = today.weekday().days_since(weekday);
            return Ok(Some(today - TimeDelta::days(days.into())));
        }
        if text.contains('-') {
            return Ok(NaiveDate::parse_from_str(text, "%Y-%m-%d").ok());
        }
        let parts: Option<Vec<u32>> = text.split('/').map(|part| part.parse().ok()).collect();
        let (a, b, year) = match parts.as_deref() {
            Some([a, b]) => (*a, *b, None),
            Some([a, b, year]) => (*a, *b, i32::try_from(*year).ok()),
            _ => return Ok(None),
        };
        let date = |month, day| {
            let of = |year| NaiveDate::from_ymd_opt(year, month, day);
            let this_year = || of(today.year()).filter(|date| *date <= today);
            year.map_or_else(|| this_year().or(of(today.year() - 1)), of)
        };
        match (date(a, b), date(b, a)) {
            (Some(first), Some(second)) if first != second => {
                Err(TimeError::EitherDate { seen: text.into(), first, second })
            }
            (first, second) => Ok(first.or(second)),
        }
    }

    /// The latest of these times of day that has been, on the day named or those that may be
    /// meant; where none has been, the first of them.
    fn on_days(&self, day: Option<NaiveDate>, times: &[NaiveTime]) -> Result<TypedTime, TimeError> {
        let today = self.zone.wall(self.now).date();
        let yesterday = today.pred_opt().filter(|_| self.meant != Meant::Anytime);
        let days = match day {
            Some(day) => vec![day],
            None => std::iter::once(today).chain(yesterday).collect(),
        };
        let has_been = |moment: &Moment| *moment - self.now <= AHEAD_TOLERANCE;
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
                if self.meant != Meant::Anytime && wall > self.zone.wall(self.now) =>
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

/// A time of day, minutes since midnight; midnight at the end of the day is 24:00.
pub fn read_time_of_day(text: &str) -> Option<u32> {
    let text = text.trim().to_lowercase();
    if text == "24:00" {
        return Some(24 * 60);
    }
    let (time, _) = read_clock(&text, None)?;
    Some(time.hour() * 60 + time.minute())
}

/// `9:10`, `9.10`, `9pm`, `9:10 pm`, `345pm`, `21:40:30`, `noon`, and whether it says which half of the
/// day; `of_day` is the half that was said with the day.
fn read_clock(text: &str, of_day: Option<u32>) -> Option<(NaiveTime, bool)> {
    let text = text.trim();
    let (digits, half) = match (text.strip_suffix("am"), text.strip_suffix("pm")) {
        (Some(rest), _) => (rest.trim(), Some(0)),
        (_, Some(rest)) => (rest.trim(), Some(12)),
        _ if text == "noon" => ("12", Some(12)),
        _ if text == "midnight" => ("12", Some(0)),
        _ => (text, of_day),
    };
    let digits = match digits.len() {
        3 | 4 if half.is_some() && digits.bytes().all(|byte| byte.is_ascii_digit()) => {
            let (hour, minute) = digits.split_at(digits.len() - 2);
            format!("{hour}:{minute}")
        }
        _ => digits.replace('.', ":"),
    };
    let parts: Vec<&str> = digits.split(':').collect();
    let number = |text: &str| {
        let digits_only = text.bytes().all(|byte| byte.is_ascii_digit());
        (digits_only && text.len() <= 2).then(|| text.parse::<u32>().ok())?
    };
    // 9:5 may be a slip for 9:50: minutes and seconds have two digits.
    let in_full = |text: &&str| text.len() == 2;
    let (hour, minute, second) = match parts.as_slice() {
        [hour] if half.is_some() => (*hour, "0", "0"),
        [hour, minute] if in_full(minute) => (*hour, *minute, "0"),
        [hour, minute, second] if in_full(minute) && in_full(second) => (*hour, *minute, *second),
        _ => return None,
    };
    let hour = number(hour)?;
    let hour = match half {
        None => hour,
        Some(half) if (1..=12).contains(&hour) => hour % 12 + half,
        Some(12) if of_day.is_some() && (13..24).contains(&hour) => hour,
        Some(_) => return None,
    };
    let time = NaiveTime::from_hms_opt(hour, number(minute)?, number(second)?)?;
    Some((time, half.is_some() || hour == 0 || hour > 12))
}
