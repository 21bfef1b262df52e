//! When somebody is in the shop: the hours of each day of the week, and the days it is closed.

use std::fmt;
use std::str::FromStr;
use std::sync::Arc;

use chrono::{Datelike, Days, NaiveDate, NaiveTime, Weekday};

use crate::firing::EventId;
use crate::units::{Moment, Span};
use crate::words::{Zone, read_time_of_day};

/// Some days of the week, from Monday on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct WeekDays(pub [bool; 7]);

/// Minutes since midnight by the clock on the wall, 0 to 1440.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct TimeOfDay(pub u32);

/// A day of the calendar.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Day(pub NaiveDate);

/// What is typed for days, times and dates, and cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Unread {
    #[error("\"{0}\" are no days of the week: write them like mon-fri, or tue, sat")]
    Days(String),
    #[error("\"{0}\" is no time of day: write it like 8:00, 17:30 or 5 pm; midnight is 24:00")]
    Time(String),
    #[error("\"{0}\" is no date: write it like 2026-12-24")]
    Date(String),
}

/// How many people are there; none: nobody comes any more.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct People(pub u32);

/// The hours of one day. An end that is not later than the beginning is of the next day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Open {
    pub from: TimeOfDay,
    pub to: TimeOfDay,
    pub people: People,
}

/// Hours that hold of these days from when they were noted on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Hours {
    pub days: WeekDays,
    pub open: Open,
}

/// Days on which nobody is there, the last one included.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Closed {
    pub from: Day,
    /// The same day where it is left out.
    pub until: Option<Day>,
    pub why: String,
}

/// The week of a shop, and its closed days.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ShopHours {
    /// From Monday on.
    week: [Option<Open>; 7],
    /// Whether anybody said when somebody is there, or that nobody is any more.
    is_known: bool,
    /// In the order of their dates.
    pub closed: Vec<(EventId, Closed)>,
}

impl ShopHours {
    /// These days have these hours from now on; the others stay as they are.
    pub fn set(&mut self, hours: Hours) {
        let Hours { days, open } = hours;
        self.is_known = true;
        for (day, _) in self.week.iter_mut().zip(days.0).filter(|(_, named)| *named) {
            *day = Some(open).filter(|open| open.people.0 > 0);
        }
    }

    pub fn close(&mut self, event: EventId, closed: Closed) {
        self.closed.push((event, closed));
        self.closed.sort_by_key(|(_, closed)| closed.from);
    }

    /// Whether nobody said when somebody is there.
    pub fn is_unknown(&self) -> bool {
        !self.is_known
    }

    /// The week, days of the same hours together.
    pub fn spans(&self) -> Vec<Hours> {
        let mut spans: Vec<Hours> = Vec::new();
        for (nth, open) in self.week.iter().enumerate() {
            let Some(open) = *open else { continue };
            match spans.iter_mut().find(|hours| hours.open == open) {
                Some(hours) => hours.days.0[nth] = true,
                None => {
                    let mut days = WeekDays::default();
                    days.0[nth] = true;
                    spans.push(Hours { days, open });
                }
            }
        }
        spans
    }

    /// The hours of a day; `None` where nobody is there.
    pub fn on(&self, day: NaiveDate) -> Option<Open> {
        let is_closed = self.closed.iter().any(|(_, closed)| closed.holds(day));
        self.week[place(day.weekday())].filter(|_| !is_closed)
    }
}

impl Closed {
    pub fn last(&self) -> Day {
        self.until.unwrap_or(self.from)
    }

    fn holds(&self, day: NaiveDate) -> bool {
        (self.from..=self.last()).contains(&Day(day))
    }
}

/// The hours of a shop, and the wall clock they are told by.
#[derive(Debug, Clone)]
pub struct Staffed {
    pub hours: ShopHours,
    pub zone: Arc<dyn Zone + Send + Sync>,
}

/// A deed on the way out takes so long (a guess).
const LEAVING: Span = Span::minutes(15);

impl Staffed {
    /// `None` where nobody said when somebody is there.
    pub fn known(self) -> Option<Staffed> {
        Some(self).filter(|staffed| !staffed.hours.is_unknown())
    }

    /// Moments from `from` to `until` at which somebody is there, `step` apart from the first one of
    /// each day on, the last moment before they leave included.
    pub fn moments(&self, from: Moment, until: Moment, step: Span) -> Vec<Moment> {
        let mut moments = Vec::new();
        let first = self.zone.wall(from).date();
        for (opens, closes) in self.days(first - Days::new(1), until) {
            let mut at = opens.max(from);
            while at < closes && at <= until {
                moments.push(at);
                // The first is now, the others are whole steps.
                at = opens + Span(((at - opens).0 / step.0 + 1) * step.0);
            }
            let leaving = closes - LEAVING;
            if leaving > from && leaving <= until && moments.last() < Some(&leaving) {
                moments.push(leaving);
            }
        }
        moments.dedup();
        moments
    }

    /// When they come between two moments.
    pub fn openings(&self, from: Moment, until: Moment) -> Vec<Moment> {
        let days = self.days(self.zone.wall(from).date(), until);
        days.map(|(opens, _)| opens).filter(|at| (from..=until).contains(at)).collect()
    }

    /// When they come and go on each day from this one on.
    pub fn days(&self, first: NaiveDate, until: Moment) -> impl Iterator<Item = (Moment, Moment)> {
        let last = self.zone.wall(until).date();
        let days = first.iter_days().take_while(move |day| *day <= last);
        days.filter_map(|day| {
            let Open { from, to, .. } = self.hours.on(day)?;
            let next = if to > from { 0 } else { TimeOfDay::DAY };
            Some((self.moment(day, from.0), self.moment(day, to.0 + next)))
        })
    }

    /// The moment at which the wall clock shows this; where the clocks are put forward over it,
    /// an hour later.
    fn moment(&self, day: NaiveDate, minutes: u32) -> Moment {
        let day = day + Days::new(u64::from(minutes / TimeOfDay::DAY));
        let minutes = minutes % TimeOfDay::DAY;
        let time = NaiveTime::from_hms_opt(minutes / 60, minutes % 60, 0).unwrap_or_default();
        let wall = day.and_time(time);
        let read = self.zone.moments(wall).earliest();
        read.or_else(|| self.zone.moments(wall + chrono::TimeDelta::hours(1)).earliest())
            .unwrap_or_default()
    }
}

impl TimeOfDay {
    pub const DAY: u32 = 24 * 60;
}

const NAMES: [&str; 7] = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"];

/// The place of a day in its week.
pub fn place(day: Weekday) -> usize {
    day.num_days_from_monday() as usize
}

/// `mon-fri`, `tue, sat`, `mon-wed, fri`, `every day`.
impl FromStr for WeekDays {
    type Err = Unread;

    fn from_str(text: &str) -> Result<WeekDays, Unread> {
        let unread = || Unread::Days(text.to_owned());
        if text.trim().eq_ignore_ascii_case("every day") {
            return Ok(WeekDays([true; 7]));
        }
        let day = |name: &str| name.trim().parse::<Weekday>().map(place).map_err(|_| unread());
        let mut days = WeekDays::default();
        for words in text.split([',', ' ']).filter(|words| !words.is_empty()) {
            let (from, to) = match words.split_once('-') {
                Some((from, to)) => (day(from)?, day(to)?),
                None => (day(words)?, day(words)?),
            };
            for ahead in 0..=(to + 7 - from) % 7 {
                days.0[(from + ahead) % 7] = true;
            }
        }
        if days == WeekDays::default() { Err(unread()) } else { Ok(days) }
    }
}

impl fmt::Display for WeekDays {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut said: Vec<String> = Vec::new();
        let mut nth = 0;
        while nth < 7 {
            let run = self.0[nth..].iter().take_while(|named| **named).count();
            match run {
                0 => {}
                1 | 2 => said.extend(NAMES[nth..nth + run].iter().map(|name| (*name).into())),
                _ => said.push(format!("{}-{}", NAMES[nth], NAMES[nth + run - 1])),
            }
            nth += run.max(1);
        }
        f.pad(&said.join(", "))
    }
}

impl FromStr for TimeOfDay {
    type Err = Unread;

    fn from_str(text: &str) -> Result<TimeOfDay, Unread> {
        read_time_of_day(text).map(TimeOfDay).ok_or_else(|| Unread::Time(text.to_owned()))
    }
}

impl fmt::Display for TimeOfDay {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{:02}", self.0 / 60, self.0 % 60)
    }
}

impl FromStr for Day {
    type Err = Unread;

    fn from_str(text: &str) -> Result<Day, Unread> {
        let read = NaiveDate::parse_from_str(text.trim(), "%Y-%m-%d");
        read.map(Day).map_err(|_| Unread::Date(text.to_owned()))
    }
}

impl fmt::Display for Day {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0.format("%Y-%m-%d"))
    }
}
