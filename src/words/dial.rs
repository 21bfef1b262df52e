//! Times of day and temperatures, the way the shop reads them.

use std::fmt;

use chrono::{DateTime, MappedLocalTime, NaiveDateTime, Timelike};

use crate::units::{Celsius, CelsiusPerHour, Moment, Scale, Span};

closed! {
    /// Twelve or twenty-four hours.
    #[derive(Default)]
    pub enum Clock {
        #[default]
        TwentyFourHour = 24 => "24-hour",
        TwelveHour = 12 => "12-hour",
    }
}

impl Clock {
    pub fn other(self) -> Clock {
        match self {
            Clock::TwelveHour => Clock::TwentyFourHour,
            Clock::TwentyFourHour => Clock::TwelveHour,
        }
    }
}

/// Gives local time. The real one asks the system and lives at the edge.
pub trait Zone: fmt::Debug {
    /// What a clock on the shop's wall shows.
    fn wall(&self, at: Moment) -> NaiveDateTime;

    /// When a clock on the wall shows this: at no moment where the clocks are put forward over
    /// it, at two where they are put back.
    fn moments(&self, wall: NaiveDateTime) -> MappedLocalTime<Moment>;
}

/// A zone that keeps one distance from universal time all year.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct FixedZone(pub Span);

impl Zone for FixedZone {
    fn wall(&self, at: Moment) -> NaiveDateTime {
        DateTime::from_timestamp_millis((at + self.0).0).unwrap_or_default().naive_utc()
    }

    fn moments(&self, wall: NaiveDateTime) -> MappedLocalTime<Moment> {
        MappedLocalTime::Single(Moment(wall.and_utc().timestamp_millis()) - self.0)
    }
}

/// How this reader likes times and temperatures written.
#[derive(Debug, Clone, Copy)]
pub struct Dial<'a> {
    pub zone: &'a dyn Zone,
    pub clock: Clock,
    pub scale: Scale,
}

impl Dial<'_> {
    /// `14:05` or `2:05 pm`, without the day.
    pub fn time(&self, at: Moment) -> String {
        let wall = self.zone.wall(at);
        let (hour, minute) = (wall.hour(), wall.minute());
        match self.clock {
            Clock::TwentyFourHour => format!("{hour}:{minute:02}"),
            Clock::TwelveHour => {
                let half = if hour < 12 { "am" } else { "pm" };
                format!("{}:{minute:02} {half}", (hour + 11) % 12 + 1)
            }
        }
    }

    /// `13:55 to 14:20`, or `1:55 to 2:20 pm`: which half of the day is said once where it is the same;
    /// `9:55 to 11:00 next day` where the clock alone would say an hour.
    pub fn time_range(&self, from: Moment, to: Moment, between: &str) -> String {
        let (from_text, to_text) = (self.time(from), self.time(to));
        let half = |text: &str| text.split_once(' ').map(|(_, half)| half.to_owned());
        let one_day = self.zone.wall(from).date() == self.zone.wall(to).date();
        let same = one_day && half(&from_text).is_some() && half(&from_text) == half(&to_text);
        let first = if same { from_text.split(' ').next().unwrap_or_default() } else { &from_text };
        let days = (self.zone.wall(to).date() - self.zone.wall(from).date()).num_days();
        let later = match days {
            _ if to - from < Span::hours(24) => String::new(),
            1 => " next day".to_owned(),
            days => format!(", {days} days later"),
        };
        format!("{first}{between}{to_text}{later}")
    }

    /// The time, with the day where it is not today's: `14:05`, `tomorrow 8:00`, `Thu 8:00`.
    pub fn time_and_day(&self, at: Moment, now: Moment) -> String {
        let (day, today) = (self.zone.wall(at).date(), self.zone.wall(now).date());
        let time = self.time(at);
        match (day - today).num_days() {
            0 => time,
            1 => format!("tomorrow {time}"),
            -1 => format!("yesterday {time}"),
            apart if apart.abs() < 7 => format!("{} {time}", day.format("%a")),
            _ => format!("{} {time}", day.format("%Y-%m-%d")),
        }
    }

    /// The same inside a sentence: `at 14:05`, `tomorrow at 8:00`, `Thu at 8:00`.
    pub fn at(&self, at: Moment, now: Moment) -> String {
        self.with_at(&self.time_and_day(at, now), at)
    }

    /// The same of a time that was put into words with its day.
    pub fn with_at(&self, said: &str, at: Moment) -> String {
        let time = self.time(at);
        format!("{}at {time}", said.strip_suffix(&time).unwrap_or_default())
    }

    /// `2026-05-03`.
    pub fn day(&self, at: Moment) -> String {
        self.zone.wall(at).format("%Y-%m-%d").to_string()
    }

    /// `712 C` or `1314 F`.
    pub fn temperature(&self, temperature: Celsius) -> String {
        temperature.display(self.scale)
    }

    /// `+4 C` or `+7 F`: a step, not a temperature.
    pub fn difference(&self, celsius: f64) -> String {
        format!("{:+.0} {}", self.scale.degrees(celsius), self.scale)
    }

    /// `150 C/h` or `270 F/h`.
    pub fn rate(&self, rate: CelsiusPerHour) -> String {
        rate.display(self.scale)
    }
}
