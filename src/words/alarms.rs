//! What the screen says of an alarm: to be read from afar, in a narrow place, on the first line.

use crate::alarm::words::{figure, headline};
use crate::alarm::{Alarm, Cause};
use crate::units::Scale;

/// What to do, and the figure behind it: `Check Wren's probe: it reads as a broken probe does.`
pub(super) fn alarm_sentence(alarm: &Alarm, scale: Scale) -> String {
    let what = headline(alarm);
    match figure(alarm, scale) {
        None => format!("{what}."),
        Some(figure) if what.contains(": ") => format!("{what}; {figure}."),
        Some(figure) => format!("{what}: {figure}."),
    }
}

/// The same in a few words.
pub(super) fn alarm_short(cause: Cause) -> &'static str {
    match cause {
        Cause::ShutOff => "SHUT OFF NOW",
        Cause::GuardMoving => "SHUT OFF: GUARD MOVES",
        Cause::ProbablyDown => "LOOK NOW: LIKELY DOWN",
        Cause::Stay => "STAY AT THE SPYHOLE",
        Cause::LookOverdue => "LOOK NOW: OVERDUE",
        Cause::LookDue => "LOOK NOW",
        Cause::OffNotRecorded => "GO AND SEE: IT COOLS",
        Cause::Stalled => "GO AND SEE: STALLED",
        Cause::TooFast => "GO AND SEE: TOO FAST",
        Cause::ProbeTrouble => "CHECK ITS PROBE",
        Cause::Step => "TURN IT NOW",
        Cause::WindowOpens => "watch opens soon",
        Cause::StillHot => "read it before opening",
        Cause::CoolEnough => "cool enough to draw",
        Cause::OutcomeNotRecorded => "write the outcome",
    }
}

/// One word that says what to do, as large as there is room.
pub(super) fn alarm_word_large(cause: Cause) -> &'static str {
    match cause {
        Cause::ShutOff | Cause::GuardMoving => "SHUT OFF",
        Cause::Stay => "STAY",
        Cause::ProbablyDown | Cause::LookOverdue | Cause::LookDue => "LOOK",
        _ => "GO",
    }
}

/// The fewest words with the kiln's name.
pub(super) fn alarm_phrase(alarm: &Alarm) -> String {
    let kiln = &alarm.kiln;
    match alarm.key.cause {
        Cause::ShutOff | Cause::GuardMoving => format!("SHUT OFF {kiln}"),
        Cause::Stay => format!("STAY AT {kiln}"),
        Cause::ProbablyDown | Cause::LookOverdue | Cause::LookDue => format!("LOOK AT {kiln}"),
        _ => format!("GO TO {kiln}"),
    }
}

/// What rings, in so many columns: what to do at which kiln, and why where there is room for it.
/// `beside` says that the headline asks for something else first.
pub fn ringing_line(alarm: &Alarm, beside: bool, columns: usize) -> String {
    let lead = if beside { "Also rings: " } else { "! " };
    let headline = format!("{lead}{}", headline(alarm));
    let short = headline[lead.len()..].split_once(": ").map(|(what, _)| format!("{lead}{what}"));
    match short {
        Some(short) if headline.len() > columns => short,
        _ => headline,
    }
}

/// What the key does that answers: it names the kiln it answers for.
pub fn answers_for(kiln: &str) -> String {
    format!("answer {}", super::shortened(kiln, 12))
}

/// Why the alarm that rings is not put off.
pub fn cannot_be_put_off(alarm: &Alarm) -> String {
    let rule = alarm.key.rule();
    format!(
        "\"{}\" has the highest priority and cannot be put off: {}.",
        headline(alarm),
        rule.response
    )
}
