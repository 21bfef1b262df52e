//! Times of day and temperatures, the way the shop reads them.

use std::fmt;

use crate::units::{Celsius, CelsiusPerHour, Moment, Scale, Span};

/// Twelve or twenty-four hours.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Clock {
    TwelveHour,
    #[default]
    TwentyFourHour,
}

/// What a clock on the shop's wall shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct WallTime {
    /// Whole days since 1970-01-01 by the local calendar.
    pub day: i64,
    /// Seconds since local midnight, 0 to 86,399.
    pub second: u32,
}

/// Gives local time. The real one asks the system and lives at the edge.
pub trait Zone: fmt::Debug {
    fn wall(&self, at: Moment) -> WallTime;
}

/// A zone that keeps one distance from universal time all year.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct FixedZone(pub Span);

impl Zone for FixedZone {
    fn wall(&self, at: Moment) -> WallTime {
        let seconds = (at + self.0).0.div_euclid(1000);
        WallTime { day: seconds.div_euclid(86_400), second: seconds.rem_euclid(86_400) as u32 }
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
        let minutes = self.zone.wall(at).second / 60;
        let (hour, minute) = (minutes / 60, minutes % 60);
        match self.clock {
            Clock::TwentyFourHour => format!("{hour}:{minute:02}"),
            Clock::TwelveHour => {
                let half = if hour < 12 { "am" } else { "pm" };
                format!("{}:{minute:02} {half}", (hour + 11) % 12 + 1)
            }
        }
    }

    /// The time, with the day where it is not today's: `14:05`, `tomorrow 8:00`, `Thu 8:00`.
    pub fn time_and_day(&self, at: Moment, now: Moment) -> String {
        let (day, today) = (self.zone.wall(at).day, self.zone.wall(now).day);
        let time = self.time(at);
        match day - today {
            0 => time,
            1 => format!("tomorrow {time}"),
            -1 => format!("yesterday {time}"),
            apart if apart.abs() < 7 => format!("{} {time}", weekday(day)),
            _ => format!("{} {time}", date(day)),
        }
    }

    /// `712 C` or `1314 F`.
    pub fn temperature(&self, temperature: Celsius) -> String {
        temperature.display(self.scale)
    }

    /// `150 C/h` or `270 F/h`.
    pub fn rate(&self, rate: CelsiusPerHour) -> String {
        rate.display(self.scale)
    }
}

fn weekday(day: i64) -> &'static str {
    // 1970-01-01 was a Thursday.
    ["Thu", "Fri", "Sat", "Sun", "Mon", "Tue", "Wed"][day.rem_euclid(7) as usize]
}

/// `2026-11-25`, by the proleptic Gregorian calendar.
fn date(day: i64) -> String {
    // Years counted from March put the leap day last; an era is 400 years or 146,097 days.
    let shifted = day + 719_468;
    let era = shifted.div_euclid(146_097);
    let of_era = shifted.rem_euclid(146_097);
    let year_of_era = (of_era - of_era / 1_460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let month_from_march = (5 * of_year + 2) / 153;
    let day_of_month = of_year - (153 * month_from_march + 2) / 5 + 1;
    let month = (month_from_march + 2) % 12 + 1;
    let year = year_of_era + era * 400 + i64::from(month <= 2);
    format!("{year:04}-{month:02}-{day_of_month:02}")
}
