//! What an alarm says: one line to act on, and one with the reason.

use super::annunciate::Call;
use super::condition::Figure;
use super::desk::Alarm;
use super::measure::Grade;
use super::rules::{Cause, Notice, Priority};
use super::state::State;
use crate::forecast::Implausible;
use crate::units::{Moment, Scale, Span};

/// What to do, in one line that can be read from across the room: `Shut off North now`.
pub fn headline(alarm: &Alarm) -> String {
    let kiln = &alarm.kiln;
    match alarm.key.cause {
        Cause::ShutOff => format!("Shut off {kiln} now"),
        Cause::GuardMoving => format!("Shut off {kiln} now: the guard cone moves"),
        Cause::ProbablyDown => format!("Look at {kiln} now: the target is probably down"),
        Cause::Stay => format!("Stay at {kiln}'s spyhole"),
        Cause::LookOverdue => format!("Look at {kiln} now: the look is overdue"),
        Cause::OffNotRecorded => format!("Go to {kiln}: it cools, and nobody recorded off"),
        Cause::LookDue => format!("Look at {kiln}"),
        Cause::Stalled => format!("{kiln} has stalled"),
        Cause::TooFast => format!("{kiln} climbs too fast"),
        Cause::ProbeTrouble => format!("Check {kiln}'s probe"),
        Cause::Step => format!("Turn {kiln}'s burner or switch"),
        Cause::WindowOpens => format!("{kiln}'s watch window opens soon"),
        Cause::StillHot => format!("Read {kiln}'s temperature before opening it"),
        Cause::CoolEnough => format!("{kiln} is cool enough to draw"),
        Cause::OutcomeNotRecorded => format!("Write down how {kiln} came out"),
    }
}

/// The figure behind it, if there is one: `the load forgives 6 min`.
pub fn figure(alarm: &Alarm, scale: Scale) -> Option<String> {
    let text = match (&alarm.figure, alarm.key.cause) {
        (Figure::None, _) => return None,
        (Figure::Left(left), Cause::WindowOpens) => format!("in {left}"),
        (Figure::Left(left), _) => format!("the load forgives {left}"),
        (Figure::Climb(climb), _) => format!("it climbs {}", climb.display(scale)),
        (Figure::Temperature(temperature), _) => {
            format!("the last reading is {}", temperature.display(scale))
        }
        (Figure::Chance(chance), _) => format!("the chance is {:.0} in 100", 100.0 * chance),
        (Figure::Reading(why), _) => trouble(*why).to_owned(),
        (Figure::Setting(setting), _) => setting.clone(),
    };
    Some(text)
}

fn trouble(why: Implausible) -> &'static str {
    match why {
        Implausible::Jump => "a reading changed faster than any kiln can",
        Implausible::FlatLine => "the reading does not move although the kiln climbed",
        Implausible::Reversed => {
            "it reads below freezing, as a probe wired the wrong way round does"
        }
        Implausible::OpenCircuit => "it reads as a broken probe does",
        Implausible::LikelyFahrenheit => "a reading looks like Fahrenheit taken for Celsius",
        Implausible::ContradictsLook => "its readings contradict what was seen of the cones",
        Implausible::Silent => "it has fallen silent",
    }
}

/// Everything about one alarm, for a notification's body: figure, since when, what to do.
pub fn body(alarm: &Alarm, now: Moment, scale: Scale) -> String {
    let rule = alarm.key.rule();
    let mut parts = Vec::new();
    if let Some(figure) = figure(alarm, scale) {
        parts.push(capital(&figure));
    }
    let standing = now - alarm.since;
    if standing >= Span::minutes(1) {
        parts.push(format!("So for {standing}"));
    }
    parts.push(capital(rule.response));
    format!("{}.", parts.join(". "))
}

/// The headline of a ring: of its alarm, or of a flood.
pub fn call_headline(call: &Call) -> String {
    match call.alarms.as_slice() {
        [only] => match call.late {
            Some(late) => format!("{} ({late} late)", headline(only)),
            None => headline(only),
        },
        [] => "A test of the bell".to_owned(),
        many @ [first, ..] => format!("{} alarms at once: {}", many.len(), headline(first)),
    }
}

/// The body of a ring.
pub fn call_body(call: &Call, scale: Scale) -> String {
    match call.alarms.as_slice() {
        [only] => match call.late {
            Some(late) => format!(
                "Due {late} ago, while nothing here could ring. {}",
                body(only, call.at, scale)
            ),
            None => body(only, call.at, scale),
        },
        [] => "Nothing is to be done.".to_owned(),
        many => many.iter().map(headline).collect::<Vec<_>>().join("\n"),
    }
}

/// How an alarm stands: `acknowledged by Ada 2 min ago`.
pub fn standing(alarm: &Alarm, now: Moment) -> String {
    let ago = |at: Moment| now - at;
    match (alarm.state, &alarm.answered, alarm.shelved_until) {
        (State::Unacknowledged, ..) => format!("unanswered for {}", ago(alarm.raised)),
        (State::Acknowledged, Some((at, who)), _) if who.is_empty() => {
            format!("acknowledged {} ago", ago(*at))
        }
        (State::Acknowledged, Some((at, who)), _) => {
            format!("acknowledged by {who} {} ago", ago(*at))
        }
        (State::Shelved, _, Some(until)) => format!("shelved, back in {}", until - now),
        (state, ..) => state.to_string(),
    }
}

/// What a notice says.
pub fn notice(notice: Notice) -> &'static str {
    match notice {
        Notice::ReturnedUnanswered => "it went away by itself before anybody answered",
        Notice::FloodBegan => "ten new alarms in ten minutes: one summary rings for all",
        Notice::FloodOver => "the flood is over: alarms ring one by one again",
        Notice::TookOver => "this process rings from now on",
    }
}

/// A priority's part in the ringing, for the documentation and `alarms rules`.
pub fn pace(priority: Priority) -> String {
    let shelf = match priority.longest_shelf() {
        Some(longest) => format!("shelved for {longest} at most"),
        None => "cannot be shelved".to_owned(),
    };
    format!(
        "{priority}: rings every {}, calls the next way or person every {}, {shelf}",
        priority.repeat(),
        priority.widens_after()
    )
}

pub fn grade(grade: Grade) -> &'static str {
    match grade {
        Grade::Acceptable => "very likely acceptable",
        Grade::Manageable => "at most manageable",
        Grade::TooMany => "too many",
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}
