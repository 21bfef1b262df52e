//! What is wrong with a text that somebody entered.

use crate::firing::{EventId, Kind};

/// A sum within these bounds, in the shop's own money.
///
/// # Errors
/// What is wrong with it.
pub fn read_sum(text: &str, (low, high): (f64, f64)) -> Result<f64, String> {
    text.parse().ok().filter(|sum| (low..=high).contains(sum)).ok_or_else(|| {
        format!("sum \"{text}\" is not a number from {low} to {high}: write it like 350 or 349.50")
    })
}

/// `24.5`, or `24.5 kW`.
///
/// # Errors
/// What is wrong with it.
pub fn read_kilowatts(text: &str, (low, high): (f64, f64)) -> Result<f64, String> {
    let number = text.trim().trim_end_matches(['k', 'K', 'w', 'W']).trim_end();
    number.parse().ok().filter(|kw| (low..=high).contains(kw)).ok_or_else(|| {
        format!("power \"{text}\" is not a number of kW from {low} to {high}: write it like 24.5")
    })
}

/// The number of an event or a firing.
///
/// # Errors
/// What is wrong with it.
pub fn read_number(what: &str, text: &str) -> Result<i64, String> {
    text.trim()
        .parse()
        .ok()
        .filter(|number| *number > 0)
        .ok_or_else(|| format!("{what} \"{text}\" is not a number from 1 up: write it like 17"))
}

pub fn no_count(text: &str) -> String {
    format!("\"{text}\" is not a whole number from 0 up: write it like 40")
}

pub fn is_empty(what: &str) -> String {
    format!("the {what} is empty: say it in a few words")
}

/// Where only one of the two looks at the target of a past firing is given.
pub const STANDING_AFTER_DOWN: &str =
    "the target would have been seen down before it was last seen standing: check both times";
pub const STANDING_AND_DOWN: &str = "a target found down went down some time before, and nobody knows when: say both when it was last seen standing and when it was seen down, or neither, and the time it was shut off counts";

/// Where a time of a past firing is missing.
pub fn say_when(step: &str) -> String {
    format!("Say when it was {step}; a rough time will do.")
}

/// Where a past firing has a remark on its result, and no result.
pub const NOTE_OF_NO_RESULT: &str = "a note on how it came out needs the result as well: add --result under, good, over or not-fired";

/// Why nothing is corrected, where nothing was said.
pub fn nothing_to_correct(event: EventId, kind: Kind, names: &[String]) -> String {
    let said = if names.is_empty() { "" } else { "what it should say (" };
    let (names, close) = (names.join(", "), if names.is_empty() { "" } else { ") or " });
    format!(
        "event {event} is {}: say {said}{names}{close}when it happened (--at TIME)",
        kind.phrase()
    )
}

/// Why what was said corrects nothing of an entry of this kind.
pub fn no_correction(said: &str, kind: Kind, names: &[String], hint: &str) -> String {
    let names = match names {
        [] => "only its time can be corrected, with --at TIME".to_owned(),
        names => format!("write one of {}, then \"=\" and what it should say", names.join(", ")),
    };
    format!("\"{said}\" is no part of {}{hint}: {names}", kind.phrase())
}

pub fn no_shelf_cone(text: &str, reason: &str) -> String {
    format!("shelf \"{text}\" {reason}: write it like \"top left=018:down\"")
}
