//! Lengths: of time within a sentence, and of names in a narrow place or one after the other.

use std::borrow::Borrow;
use std::fmt::Display;

use crate::scene::SECONDS_SHOWN_BELOW;
use crate::units::{Moment, Span};

/// What is left until a moment, as it is shown: the seconds are counted only in the last minutes,
/// and a number stays until the whole of it is over. Negative when the moment has passed.
pub fn left_text(left: Span) -> String {
    let sign = if left.0 < 0 { "-" } else { "" };
    let in_seconds = left.0.abs() < SECONDS_SHOWN_BELOW.0;
    // Up towards the later moment: never less than is left, nor more than has passed.
    let whole = (-(-left.0).div_euclid(if in_seconds { 1_000 } else { 60_000 })).abs();
    match (in_seconds, whole / 60, whole % 60) {
        (true, minutes, seconds) => format!("{sign}{minutes}:{seconds:02}"),
        (false, 0, minutes) => format!("{sign}{minutes} min"),
        (false, hours, minutes) => format!("{sign}{hours} h {minutes:02}"),
    }
}

/// To what a length in a sentence is rounded, below what.
const ROUNDED: [(Span, Span); 4] = [
    (Span::minutes(2), Span::seconds(1)),
    (Span::minutes(20), Span::minutes(1)),
    (Span::hours(2), Span::minutes(5)),
    (Span(i64::MAX), Span::minutes(15)),
];

/// A length inside a sentence, without a sign: `45 s`, `12 min`, `1 h 05 min`, `4 h`. Rounded down, so
/// that nobody comes late to a look, or is told that more has passed.
pub fn length_phrase(length: Span) -> String {
    rounded(length, false)
}

/// The same of what may take longer.
pub(super) fn at_least(length: Span) -> String {
    rounded(length, true)
}

fn rounded(length: Span, up: bool) -> String {
    let length = length.0.abs();
    let step = ROUNDED.iter().find(|(below, _)| length < below.0).map_or(1, |(_, step)| step.0);
    let whole = length / step * step + if up && length % step > 0 { step } else { 0 };
    match whole {
        ..120_000 => format!("{} s", whole / 1_000),
        _ => Span(whole).to_string(),
    }
}

/// How long ago, in a sentence.
pub(super) fn since_then(length: Span) -> String {
    match length.0 {
        ..60_000 => "just now".into(),
        // What is past is told to the minute: nobody comes late by it.
        whole if whole < Span::hours(2).0 => format!("{} ago", Span(whole / 60_000 * 60_000)),
        _ => format!("{} ago", length_phrase(length)),
    }
}

/// How long ago, coarse: `just now`, `4 min ago`, `16 h ago`, `3 days ago`.
pub fn ago(age: Span) -> String {
    let minutes = age.0 / 60_000;
    match minutes {
        ..1 => "just now".into(),
        1..60 => format!("{minutes} min ago"),
        60..2880 => format!("{} h ago", minutes / 60),
        _ => format!("{} days ago", minutes / 1440),
    }
}

/// The minute that begins there or next: the end of a window is never told too early.
pub(super) fn whole_minute(at: Moment) -> Moment {
    Moment((at.0 + 59_999).div_euclid(60_000) * 60_000)
}

/// `guide`, `guide and target`, `guide, target and guard`.
pub(super) fn in_a_row<S: Borrow<str> + Display>(names: &[S]) -> String {
    match names {
        [before @ .., last] if !before.is_empty() => format!("{} and {last}", before.join(", ")),
        names => names.join(""),
    }
}

/// A name in so many columns; one that is too long ends in two points, and in its number where it has one:
/// kilns are told apart by it.
pub fn shortened(name: &str, columns: usize) -> String {
    if name.chars().count() <= columns {
        return name.to_owned();
    }
    let number = name.rsplit(' ').next().unwrap_or_default();
    let told = number.ends_with(|c: char| c.is_ascii_digit()) && number.len() + 6 <= columns;
    let number = if told { number } else { "" };
    let kept: String = name.chars().take(columns.saturating_sub(number.len() + 2)).collect();
    if columns >= 3 { format!("{}..{number}", kept.trim_end()) } else { kept }
}
