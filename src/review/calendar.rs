//! Months and seasons of a moment, for grouping. The offset from UTC is an argument.

use std::fmt;

use crate::units::{Moment, Span};

const DAY_MS: i64 = 86_400_000;

/// A day of the civil calendar.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Day {
    pub year: i64,
    pub month: u8,
    pub day: u8,
}

/// A calendar month.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Month {
    pub year: i64,
    pub month: u8,
}

/// A quarter of the year, by months and not by name, so that it holds in both hemispheres.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Season {
    MarchToMay,
    JuneToAugust,
    SeptemberToNovember,
    DecemberToFebruary,
}

impl Day {
    /// The day on which `at` falls where the wall clock is ahead of UTC by `ahead`.
    ///
    /// Counts days from 0000-03-01 through the 400-year cycle of the Gregorian calendar, so that
    /// the leap day is the last of its year.
    pub fn of(at: Moment, ahead: Span) -> Day {
        let shifted = (at + ahead).0.div_euclid(DAY_MS) + 719_468;
        let cycle = shifted.div_euclid(146_097);
        let in_cycle = shifted.rem_euclid(146_097);
        let year = (in_cycle - in_cycle / 1_460 + in_cycle / 36_524 - in_cycle / 146_096) / 365;
        let in_year = in_cycle - (365 * year + year / 4 - year / 100);
        let from_march = (5 * in_year + 2) / 153;
        let day = (in_year - (153 * from_march + 2) / 5 + 1) as u8;
        let month = if from_march < 10 { from_march + 3 } else { from_march - 9 } as u8;
        Day { year: year + cycle * 400 + i64::from(month <= 2), month, day }
    }

    pub fn month(self) -> Month {
        Month { year: self.year, month: self.month }
    }
}

impl Month {
    pub fn season(self) -> Season {
        match self.month {
            3..=5 => Season::MarchToMay,
            6..=8 => Season::JuneToAugust,
            9..=11 => Season::SeptemberToNovember,
            _ => Season::DecemberToFebruary,
        }
    }
}

/// `2026-03-01`.
impl fmt::Display for Day {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}-{:02}-{:02}", self.year, self.month, self.day)
    }
}

/// `2026-03`.
impl fmt::Display for Month {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}-{:02}", self.year, self.month)
    }
}

impl fmt::Display for Season {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Season::MarchToMay => "March to May",
            Season::JuneToAugust => "June to August",
            Season::SeptemberToNovember => "September to November",
            Season::DecemberToFebruary => "December to February",
        })
    }
}

/// The wall clock's hours and minutes, `14:06`.
pub fn clock(at: Moment, ahead: Span) -> String {
    let minutes = (at + ahead).0.rem_euclid(DAY_MS) / 60_000;
    format!("{:02}:{:02}", minutes / 60, minutes % 60)
}
