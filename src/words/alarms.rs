//! What is said of an alarm: one line to act on, one with the reason, and the first line of the screen.

use super::leg_order;
use crate::alarm::climb::{BACK_WITHIN_C, CLIMBS_AGAIN, FALLEN_BY_C, STALLED_BELOW};
use crate::alarm::condition::{Figure, TOO_HOT_AGAIN_C};
use crate::alarm::measure::Grade;
use crate::alarm::rules::SHUT_ABOVE;
use crate::alarm::{Alarm, Call, Notice, Priority, State, Task};
use crate::cooling::USUAL_DRAW_BELOW;
use crate::forecast::Implausible;
use crate::kiln::Fuel;
use crate::units::{Celsius, Moment, Scale, Span};

/// A sentence of the table of alarms, with its limits in the reader's scale.
pub fn in_scale(sentence: &str, scale: Scale) -> String {
    let step = |celsius| Celsius::display_step(celsius, scale);
    let limits = [
        ("{fallen_by}", step(FALLEN_BY_C)),
        ("{back_within}", step(BACK_WITHIN_C)),
        ("{too_hot_again}", step(TOO_HOT_AGAIN_C)),
        ("{stalled_below}", STALLED_BELOW.display(scale)),
        ("{climbs_again}", CLIMBS_AGAIN.display(scale)),
        ("{draw_below}", USUAL_DRAW_BELOW.display(scale)),
        ("{shut_above}", SHUT_ABOVE.display(scale)),
    ];
    limits.iter().fold(sentence.to_owned(), |text, (name, limit)| text.replace(name, limit))
}

/// What to do, in one line that can be read from across the room: `Shut off North now`.
pub fn headline(alarm: &Alarm) -> String {
    super::task::headline(alarm.key.task, &alarm.kiln)
}

/// The figure behind it, if there is one: `once the cone is down you have 6 min`.
pub fn figure(alarm: &Alarm, scale: Scale) -> Option<String> {
    let text = match (&alarm.figure, alarm.key.task) {
        (Figure::None, _) => return None,
        (Figure::Left(left), Task::WindowOpens) => format!("in {left}"),
        (Figure::Left(left), _) => format!("once the cone is down you have {left}"),
        (Figure::Climb(climb), _) => format!("it climbs {}", climb.display(scale)),
        (Figure::Temperature(temperature), _) => {
            format!("the last reading is {}", temperature.display(scale))
        }
        (Figure::Chance(chance), _) => {
            format!("the chance is {:.0} in 100", (100.0 * chance).min(99.0))
        }
        (Figure::Reading(why), _) => trouble(*why).to_owned(),
        (Figure::Step(leg), _) => leg_order(leg, scale),
        (Figure::Found(found), _) => found.clone(),
    };
    Some(text)
}

pub(super) fn trouble(why: Implausible) -> &'static str {
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

/// What to do about it; a sentence that begins with a fuel is for kilns fired by that alone.
pub fn response(alarm: &Alarm, scale: Scale) -> String {
    let said = in_scale(alarm.key.rule().response, scale);
    let is_for = |sentence: &&str| match alarm.fuel {
        Some(Fuel::Electric | Fuel::Wood) if sentence.starts_with("Gas") => false,
        Some(fuel) => fuel == Fuel::Electric || !sentence.starts_with("Electric"),
        None => true,
    };
    said.split(". ").filter(is_for).collect::<Vec<_>>().join(". ")
}

/// Everything about one alarm, for a notification's body: figure, since when, what to do.
pub fn body(alarm: &Alarm, now: Moment, scale: Scale) -> String {
    let mut parts = Vec::new();
    if let Some(figure) = figure(alarm, scale) {
        parts.push(capital(&figure));
    }
    let standing = now - alarm.since;
    if standing >= Span::minutes(1) {
        parts.push(format!("For {standing} now"));
    }
    parts.push(capital(&response(alarm, scale)));
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

/// A headline as it is said aloud, twice: `Look at North, 3 minutes late. Look at North, 3 minutes
/// late.` A cone is called as potters do: 018 is oh 18.
pub fn spoken(headline: &str) -> String {
    let word = |word: &str| {
        let digits = word.trim_end_matches(|c: char| c.is_ascii_punctuation());
        match word.strip_prefix('0') {
            _ if digits == "min" => word.replacen("min", "minutes", 1),
            Some(rest) if rest.starts_with(|c: char| c.is_ascii_digit()) => format!("oh {rest}"),
            _ => word.to_owned(),
        }
    };
    let plain = headline.replace(" (", ", ").replace(')', "");
    let said: Vec<String> = plain.split_whitespace().map(word).collect();
    let said = said.join(" ");
    format!("{said}. {said}.")
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
        [] => "Nothing needs doing.".to_owned(),
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
        (State::Shelved, _, Some(until)) => format!("put off, rings again in {}", until - now),
        (state, ..) => state.to_string(),
    }
}

/// What a notice says.
pub fn notice(notice: Notice) -> &'static str {
    match notice {
        Notice::ReturnedUnanswered => "it went away by itself before anybody answered",
        Notice::FloodBegan => "ten new alarms in ten minutes: one summary rings for all",
        Notice::FloodOver => "so many alarms are over: they ring one by one again",
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

/// The same with a capital, to begin a sentence.
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}

/// What to do, and the figure behind it: `Check Wren's probe: it reads as a broken probe does.`
pub(super) fn alarm_sentence(alarm: &Alarm, scale: Scale) -> String {
    let what = headline(alarm);
    match figure(alarm, scale) {
        None => format!("{what}."),
        Some(figure) if what.contains(": ") => format!("{what}; {figure}."),
        Some(figure) => format!("{what}: {figure}."),
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

/// Why the alarm that rings is not put off.
pub fn cannot_be_put_off(alarm: &Alarm) -> String {
    let rule = alarm.key.rule();
    if alarm.key.task.is_of_the_bench() {
        return format!("\"{}\" is not put off: answered, it rings no more.", headline(alarm));
    }
    format!(
        "\"{}\" has the highest priority and cannot be put off: {}.",
        headline(alarm),
        rule.response
    )
}
