//! A time in the past, as somebody types it: `now`, `9:10`, `9:10 pm`, `20 min ago`.

use super::dial::{Clock, Dial};
use crate::units::{Moment, Span};

/// Why a typed time was refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{seen}\" is not a time: write now, 9:10 or 20 min ago")]
pub struct TypedTimeError {
    pub seen: String,
}

/// Reads a time that is not after `now`. A time of day means the latest one that has been.
///
/// # Errors
/// [`TypedTimeError`] when the text is none of the three forms.
pub fn read_time(text: &str, now: Moment, dial: &Dial<'_>) -> Result<Moment, TypedTimeError> {
    let refused = || TypedTimeError { seen: text.trim().to_owned() };
    let lower = text.trim().to_lowercase();
    if lower.is_empty() || lower == "now" {
        return Ok(now);
    }
    if let Some(length) = lower.strip_suffix("ago") {
        return Span::parse(length).map(|length| now - length).map_err(|_| refused());
    }
    let (second, half_known) = second_of_day(&lower).ok_or_else(refused)?;
    let morning_or_evening = dial.clock == Clock::TwelveHour && !half_known;
    let other_half = morning_or_evening.then(|| (second + 43_200).rem_euclid(86_400));
    let latest = |second| latest_with(second, now, dial);
    Ok(other_half.map_or(latest(second), |other| latest(second).max(latest(other))))
}

/// The latest moment, not after `now`, at which the wall clock shows this second of the day.
fn latest_with(second: i64, now: Moment, dial: &Dial<'_>) -> Moment {
    let second_at = |at: Moment| i64::from(dial.zone.wall(at).second);
    let whole_second = Moment(now.0 - now.0.rem_euclid(1000));
    let found = whole_second - Span::seconds((second_at(now) - second).rem_euclid(86_400));
    // A change to or from summer time lies between: move by the difference, never past now.
    let off_by = (second_at(found) - second + 43_200).rem_euclid(86_400) - 43_200;
    (found - Span::seconds(off_by)).min(now)
}

/// Seconds since midnight of `9:10`, `21:10`, `9:10 pm`, `9pm`, and whether it says which half of
/// the day.
fn second_of_day(text: &str) -> Option<(i64, bool)> {
    let (digits, half) = match (text.strip_suffix("am"), text.strip_suffix("pm")) {
        (Some(rest), _) => (rest.trim(), Some(0)),
        (_, Some(rest)) => (rest.trim(), Some(12)),
        _ => (text, None),
    };
    let (hour, minute) = match digits.split_once(':') {
        Some((hour, minute)) if minute.len() == 2 => (hour, minute),
        None if half.is_some() => (digits, "00"),
        _ => return None,
    };
    let number = |s: &str| s.bytes().all(|b| b.is_ascii_digit()).then(|| s.parse::<i64>().ok())?;
    let (hour, minute) = (number(hour)?, number(minute)?);
    let hour = match half {
        Some(half) if (1..=12).contains(&hour) => hour % 12 + half,
        None if hour < 24 => hour,
        _ => return None,
    };
    (minute < 60).then_some((hour * 3600 + minute * 60, half.is_some() || hour > 12))
}
