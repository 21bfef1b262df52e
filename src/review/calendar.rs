//! Days, months and seasons of a moment, for grouping. The offset from UTC is an argument.

use chrono::{DateTime, NaiveDate, NaiveDateTime};

use crate::units::{Moment, Span};

/// Quarters of the year, by months and not by name, so that they hold in both hemispheres.
pub const SEASONS: [&str; 4] =
    ["March to May", "June to August", "September to November", "December to February"];

/// Date and time where the wall clock is ahead of UTC by `ahead`.
pub fn wall(at: Moment, ahead: Span) -> NaiveDateTime {
    DateTime::from_timestamp_millis((at + ahead).0).unwrap_or_default().naive_utc()
}

/// The day of a moment; written as `2026-03-01`.
pub fn day(at: Moment, ahead: Span) -> NaiveDate {
    wall(at, ahead).date()
}

/// The wall clock's hours and minutes, `14:06`.
pub fn clock(at: Moment, ahead: Span) -> String {
    wall(at, ahead).format("%H:%M").to_string()
}
