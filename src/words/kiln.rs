//! What is said of one kiln.

use super::alarms::{alarm_phrase, alarm_sentence, alarm_short, alarm_word_large};
use super::dial::Dial;
use super::doubt::{Striking, doubt, doubted_drop};
use super::port::seen_phrase;
use super::story::no_forecast;

use crate::scene::{ConeScene, KilnScene, Phase, SECONDS_SHOWN_BELOW, Scene, Todo};
use crate::units::{CelsiusPerHour, Moment, Span};
use crate::watch::request::Asked;

/// Said where somebody is sent to the spyhole. Common practice, no source.
pub const CAUTION_LOOK: &str =
    "Wear shaded glasses at the spyhole and keep hands and face out of its draught.";

/// Said where a kiln is to be shut off. Common practice, no source.
pub const CAUTION_OFF: &str = "Shut off by the kiln maker's manual. Never relight a hot gas kiln \
                               without purging it, and keep the room ventilated.";

/// Said where a kiln is to be drawn. Common practice, no source.
pub const CAUTION_DRAW: &str =
    "Open and draw by the kiln maker's manual: hot ware cracks, and hot shelves burn.";

/// Said where somebody might rely on the program alone.
pub const CAUTION_ALONE: &str =
    "Spyhole only advises: the cone decides, and it is no safety device.";

/// The state of a kiln in one word.
pub fn phase_word(phase: Phase) -> &'static str {
    match phase {
        Phase::Empty => "empty",
        Phase::Packed => "packed",
        Phase::Heating => "heating",
        Phase::Watch => "watch",
        Phase::Dropped => "down",
        Phase::Off => "off",
        Phase::Cooling => "cooling",
        Phase::Drawn => "drawn",
        Phase::Aborted => "given up",
    }
}

/// What is left until a moment, as it is shown: the seconds are counted only in the last minutes,
/// and a number stays until the whole of it is over. Negative when the moment has passed.
pub fn left_text(left: Span) -> String {
    let sign = if left.0 < 0 { "-" } else { "" };
    let (whole, unit) = shown(left);
    match unit {
        Unit::Seconds => format!("{sign}{}:{:02}", whole / 60, whole % 60),
        Unit::Minutes if whole < 60 => format!("{sign}{whole} min"),
        Unit::Minutes => format!("{sign}{} h {:02}", whole / 60, whole % 60),
    }
}

/// The same as a phrase inside a sentence: `45 s`, `12 min`, `1 h 05 min`, without a sign.
fn length_phrase(length: Span) -> String {
    match shown(length) {
        (whole, Unit::Seconds) if whole < 60 => format!("{whole} s"),
        (whole, Unit::Seconds) => format!("{} min {:02} s", whole / 60, whole % 60),
        (whole, Unit::Minutes) if whole < 60 => format!("{whole} min"),
        (whole, Unit::Minutes) => format!("{} h {:02} min", whole / 60, whole % 60),
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

enum Unit {
    Seconds,
    Minutes,
}

/// Whole seconds or minutes, rounded up towards the later moment: a countdown never says less
/// than is left, a count up never more than has passed.
fn shown(left: Span) -> (i64, Unit) {
    let (step, unit) = if left.0.abs() < SECONDS_SHOWN_BELOW.0 {
        (1_000, Unit::Seconds)
    } else {
        (60_000, Unit::Minutes)
    };
    let up = left.0.div_euclid(step) + i64::from(left.0.rem_euclid(step) > 0);
    (up.abs(), unit)
}

/// The one sentence of a kiln: what to do, and when.
pub fn say(kiln: &KilnScene, now: Moment, dial: &Dial<'_>) -> String {
    match kiln.calls(now) {
        None => {
            let asked = request(kiln).map(|asked| format!(" {asked}"));
            say_todo(kiln, now, dial) + &asked.unwrap_or_default()
        }
        Some(alarm) if kiln.calls_to_the_kiln(now).is_some() => alarm_sentence(alarm, dial.scale),
        Some(alarm) => {
            format!("{} {}", alarm_sentence(alarm, dial.scale), say_todo(kiln, now, dial))
        }
    }
}

/// What is asked for beside looks, and why.
fn request(kiln: &KilnScene) -> Option<String> {
    let name = &kiln.kiln;
    let what = match kiln.request?.asked {
        Asked::ReadTemperature => format!("Write down one temperature of {name} if you can"),
        Asked::NameGlow => format!("Write down the colour of {name}'s glow"),
    };
    Some(format!("{what}: so far only the clock says how far it is."))
}

/// What is to be done, whatever rings.
fn say_todo(kiln: &KilnScene, now: Moment, dial: &Dial<'_>) -> String {
    let name = &kiln.kiln;
    let at = |moment| dial.time_and_day(moment, now);
    match kiln.todo {
        Todo::ShutOff { down_since: Some(since) } => format!(
            "Shut off {name} now: the target was seen down at {}, {} ago.",
            at(since),
            length_phrase(now - since)
        ),
        Todo::ShutOff { down_since: None } => format!("Shut off {name} now."),
        Todo::LookTooLate { down_since } => format!(
            "Look at {name} now: its target most likely went down at {}, {} ago. Shut off if it \
             is down.",
            at(down_since),
            length_phrase(now - down_since)
        ),
        Todo::Stay => format!("Stay at {name}'s spyhole: the target may go down any minute."),
        Todo::Look { at: when } if when > now => {
            format!("Look at {name} in {}, at {}.", length_phrase(when - now), at(when))
        }
        Todo::Look { .. } => format!("Look at {name} now, then note what each cone does."),
        Todo::Wait { until: Some(until) } => format!(
            "Nothing to do at {name} for {}: its watch begins at {}.",
            length_phrase(until - now),
            at(until)
        ),
        Todo::Wait { until: None } => format!("Nothing to do at {name} yet."),
        Todo::LookByEye => match kiln.lit {
            Some(lit) => format!(
                "Look at {name} by your own judgement: lit {} ago, and {}.",
                length_phrase(now - lit),
                no_forecast(kiln.no_forecast)
            ),
            None => format!("Look at {name} by your own judgement."),
        },
        Todo::LetCool => match kiln.off {
            Some(off) => match kiln.cool_at {
                Some(cool) if cool > now => format!(
                    "Let {name} cool: off since {}, cool enough to draw at about {}.",
                    at(off),
                    at(cool)
                ),
                Some(_) => format!(
                    "{name} should be cool enough to draw: read it first, off since {}.",
                    at(off)
                ),
                None => format!("Let {name} cool: off since {}.", at(off)),
            },
            None => format!("Let {name} cool."),
        },
        Todo::WriteOutcome => format!("{name} is drawn: write down how the load came out."),
        Todo::Light => format!("{name} is packed and can be lit."),
        Todo::Decide => format!("{name} was given up before its drop: light it again or draw it."),
        Todo::Nothing => format!("{name} is empty."),
    }
}

/// The same in a few words, for a narrow place: `look in 12 min`.
pub fn say_short(kiln: &KilnScene, now: Moment) -> String {
    if let Some(alarm) = kiln.calls(now) {
        return alarm_short(alarm.key.cause).into();
    }
    match kiln.todo {
        Todo::ShutOff { .. } => "SHUT OFF NOW".into(),
        Todo::LookTooLate { .. } => "LOOK NOW: LIKELY DOWN".into(),
        Todo::Stay => "STAY AT THE SPYHOLE".into(),
        Todo::Look { at } if at > now => format!("look in {}", length_phrase(at - now)),
        Todo::Look { .. } => "LOOK NOW".into(),
        Todo::Wait { until: Some(until) } => format!("wait {}", length_phrase(until - now)),
        Todo::Wait { until: None } => "wait".into(),
        Todo::LookByEye => "look by eye".into(),
        Todo::LetCool => match kiln.cool_at {
            Some(cool) if cool > now => format!("cool in {}", length_phrase(cool - now)),
            Some(_) => "read it, then draw".into(),
            None => "let it cool".into(),
        },
        Todo::WriteOutcome => "write the outcome".into(),
        Todo::Light => "can be lit".into(),
        Todo::Decide => "light again or draw".into(),
        Todo::Nothing => "nothing to do".into(),
    }
}

/// The countdown of the far view, `NOW`, or nothing.
pub fn big_text(kiln: &KilnScene, now: Moment) -> Option<String> {
    match kiln.todo {
        _ if kiln.calls_to_the_kiln(now).is_some() => Some("NOW".into()),
        Todo::ShutOff { down_since: Some(since) } => {
            Some(left_text(since - now).replacen('-', "+", 1))
        }
        Todo::LookTooLate { .. } => Some("NOW".into()),
        Todo::ShutOff { down_since: None } | Todo::Stay => Some("NOW".into()),
        Todo::Look { at } if at <= now => Some("NOW".into()),
        Todo::Look { at } => Some(left_text(at - now)),
        Todo::Wait { until: Some(until) } => Some(left_text(until - now)),
        _ => None,
    }
}

/// The fewest words that say what to do, for letters as large as the terminal allows.
pub fn far_phrase(kiln: &KilnScene, now: Moment) -> String {
    let name = &kiln.kiln;
    if let Some(alarm) = kiln.calls_to_the_kiln(now) {
        return alarm_phrase(alarm);
    }
    match kiln.todo {
        Todo::ShutOff { .. } => format!("SHUT OFF {name}"),
        Todo::LookTooLate { .. } => format!("LOOK AT {name}"),
        Todo::Stay => format!("STAY AT {name}"),
        Todo::Look { at } if at > now => format!("LOOK AT {name} IN"),
        Todo::Look { .. } | Todo::LookByEye => format!("LOOK AT {name}"),
        Todo::Wait { until: Some(_) } => format!("WATCH {name} IN"),
        Todo::Wait { until: None } => format!("{name} HEATS"),
        Todo::LetCool if kiln.cool_at.is_some_and(|cool| cool <= now) => format!("{name} IS COOL"),
        Todo::LetCool => format!("{name} COOLS"),
        Todo::WriteOutcome => format!("{name} IS DRAWN"),
        Todo::Light => format!("{name} CAN BE LIT"),
        Todo::Decide => format!("{name} GIVEN UP"),
        Todo::Nothing => "ALL EMPTY".into(),
    }
}

/// What stands largest on the floor: a countdown, or one word where something is to be done now.
pub fn big_word(kiln: &KilnScene, now: Moment) -> Option<String> {
    if let Some(alarm) = kiln.calls_to_the_kiln(now) {
        return Some(alarm_word_large(alarm.key.cause).into());
    }
    match kiln.todo {
        Todo::ShutOff { .. } => Some("SHUT OFF".into()),
        Todo::LookTooLate { .. } => Some("LOOK".into()),
        Todo::Stay => Some("STAY".into()),
        Todo::Look { at } if at <= now => Some("LOOK".into()),
        _ => big_text(kiln, now),
    }
}

/// What is said below it: `to the next look`.
pub fn big_caption(kiln: &KilnScene, now: Moment) -> String {
    match kiln.todo {
        _ if kiln.calls_to_the_kiln(now).is_some() => kiln.kiln.clone(),
        Todo::ShutOff { down_since: Some(since) } => {
            format!("{} is down for {}", kiln.kiln, length_phrase(now - since))
        }
        Todo::LookTooLate { down_since } => {
            format!("{} likely down {}", kiln.kiln, length_phrase(now - down_since))
        }
        Todo::ShutOff { down_since: None } | Todo::Stay => kiln.kiln.clone(),
        Todo::Look { at } if at > now => format!("to the next look at {}", kiln.kiln),
        Todo::Look { .. } => format!("at {}", kiln.kiln),
        Todo::Wait { until: Some(_) } => format!("to the watch of {}", kiln.kiln),
        _ => String::new(),
    }
}

/// Said below a list of kilns that has no room for all of them.
pub fn more_kilns(count: usize) -> String {
    match count {
        1 => "  and one kiln more".into(),
        _ => format!("  and {count} kilns more"),
    }
}

/// `drop 14:05, likely 13:55 to 14:20`: the middle and the 5 to 95 % window.
pub fn drop_line(kiln: &KilnScene, now: Moment, dial: &Dial<'_>) -> Option<String> {
    if let Some(doubted) = &kiln.doubted {
        return Some(doubted_drop(doubted, now, dial));
    }
    let drop = kiln.drop?;
    Some(format!(
        "drop {}, likely {}",
        dial.time_and_day(drop.p50, now),
        dial.time_range(drop.p05, drop.p95, " to ")
    ))
}

/// `watch from 13:50, in 1 h 05 min`.
pub fn watch_line(kiln: &KilnScene, now: Moment, dial: &Dial<'_>) -> Option<String> {
    let opens = kiln.watch_opens?;
    let from = dial.time_and_day(opens, now);
    Some(if opens > now {
        format!("watch from {from}, in {}", length_phrase(opens - now))
    } else {
        format!("watching since {from}")
    })
}

/// `can be drawn at about tomorrow 8:00`.
pub fn cool_line(kiln: &KilnScene, now: Moment, dial: &Dial<'_>) -> Option<String> {
    let cool = kiln.cool_at.filter(|cool| *cool > now)?;
    Some(format!("can be drawn at about {}", dial.time_and_day(cool, now)))
}

/// `about 712 C, climbing 150 C/h`: the chamber as the forecast takes it to be now.
pub fn chamber_line(kiln: &KilnScene, dial: &Dial<'_>) -> Option<String> {
    let chamber = kiln.chamber.filter(|_| kiln.is_lit())?;
    let climb = kiln.climb.map_or(String::new(), |climb| match climb.0 {
        c if c >= 0.5 => format!(", climbing {}", dial.rate(climb)),
        c if c <= -0.5 => format!(", falling {}", dial.rate(CelsiusPerHour(-c))),
        _ => ", level".into(),
    });
    Some(format!("about {}{climb}", dial.temperature(chamber)))
}

/// `read 712 C 4 min ago`.
pub fn reading_line(kiln: &KilnScene, now: Moment, dial: &Dial<'_>) -> Option<String> {
    let (at, temperature) = kiln.last_reading?;
    let believed = !kiln.curve.set_aside.contains(&(at, temperature));
    let doubt = if believed { "" } else { ", not believed" };
    Some(format!("read {} {}{doubt}", dial.temperature(temperature), ago(now - at)))
}

/// `gold, lit 9:10, gas`.
pub fn load_line(kiln: &KilnScene, now: Moment, dial: &Dial<'_>) -> String {
    let when = match (kiln.lit, kiln.off) {
        (_, Some(off)) => Some(format!("off {}", dial.time_and_day(off, now))),
        (Some(lit), None) => Some(format!("lit {}", dial.time_and_day(lit, now))),
        (None, None) => None,
    };
    let parts = kiln.load_type.clone().into_iter().chain(when).chain([kiln.fuel.to_string()]);
    parts.collect::<Vec<_>>().join(", ")
}

/// `target 018 lean 34/90 leaning 4 min ago`: the lean expected now, of the ninety degrees at which a
/// cone lies flat, and what was seen last, in so many columns.
pub fn cone_line(cone: &ConeScene, now: Moment, columns: usize) -> String {
    let mut line = format!("{:<6} {:<3}", cone.role, cone.cone.name());
    if let Some(expected) = cone.expected {
        line.push_str(&format!(" lean {:.0}/90", expected.lean_deg));
    }
    if cone.seen.is_some() {
        let room = columns.saturating_sub(line.len() + 1);
        line.push_str(&format!(" {}", seen_phrase(cone, now, room)));
    }
    line
}

/// The same in the least room: `target 34/90`, else what was seen, else the cone's name.
pub fn cone_short(cone: &ConeScene) -> String {
    let known = match (cone.expected, cone.seen) {
        (Some(expected), _) => format!("{:.0}/90", expected.lean_deg),
        (None, Some((_, seen))) => seen.to_string(),
        (None, None) => cone.cone.to_string(),
    };
    format!("{} {known}", cone.role)
}

/// `forgives 12 min after the drop`.
pub fn forgives_line(kiln: &KilnScene) -> Option<String> {
    let forgives = kiln.forgives?;
    kiln.is_lit().then(|| format!("forgives {} after the drop", length_phrase(forgives)))
}

/// `0.4 cones over since it was seen down`, while the kiln is still on.
pub fn overshoot_line(kiln: &KilnScene) -> Option<String> {
    kiln.overshoot_cones.map(|cones| format!("{cones:.1} cones over since it was seen down"))
}

/// The sentence of a kiln, what speaks against it, and that somebody has answered for it.
pub fn say_in_full(
    kiln: &KilnScene,
    now: Moment,
    dial: &Dial<'_>,
    striking: Striking<'_>,
) -> String {
    let more = [doubt(kiln, now, dial, striking), on_the_way(kiln, now, dial)];
    [Some(say(kiln, now, dial))].into_iter().chain(more).flatten().collect::<Vec<_>>().join(" ")
}

/// Said of a kiln that somebody has answered for: `Answered at 13:42: somebody is on the way.`
fn on_the_way(kiln: &KilnScene, now: Moment, dial: &Dial<'_>) -> Option<String> {
    let (at, who) = kiln.answered(now)?.answered.as_ref()?;
    // Whoever looked was there.
    if kiln.last_look.is_some_and(|(looked, _)| looked == *at) {
        return None;
    }
    let at = dial.time_and_day(*at, now);
    Some(match who.as_str() {
        "" => format!("Answered at {at}: somebody is on the way."),
        name => format!("{name} answered at {at} and is on the way."),
    })
}

/// The sentence of the whole shop: that of its most urgent kiln.
pub fn headline(scene: &Scene, dial: &Dial<'_>, striking: Striking<'_>) -> String {
    match scene.kilns.first() {
        None => "No kiln yet: add one with `spyhole kiln add NAME --fuel gas`.".into(),
        Some(kiln) if kiln.todo == Todo::Nothing => "All kilns are empty.".into(),
        Some(kiln) => say_in_full(kiln, scene.now, dial, striking),
    }
}

/// The sentence of a shop without kilns, on a screen where this key opens the shop.
pub fn no_kiln_yet(shop_key: &str) -> String {
    format!("No kiln yet: {shop_key} opens the shop, where one is added.")
}

/// Titles and fillers of the screen's regions.
pub const PROGRAM: &str = "Spyhole";
pub const REHEARSAL: &str = "rehearsal, a made-up shop";
pub const KEYS_TITLE: &str = "Keys";
pub const NOBODY_LOOKED: &str = "nobody has looked yet";
pub const NO_READINGS: &str = "no readings yet";
pub const ANY_KEY: &str = "any key closes this list";

/// The same where not all keys fit at once.
pub fn page_of_keys(page: usize, pages: usize) -> String {
    format!("{page} of {pages}: Down turns, another closes")
}

/// A name in so many columns; one that is too long ends in two points.
pub fn shortened(name: &str, columns: usize) -> String {
    let long = name.chars().count() > columns;
    let letters = name.chars().take(columns.saturating_sub(if long { 2 } else { 0 }));
    let kept: String = letters.collect();
    if long && columns >= 3 { format!("{}..", kept.trim_end()) } else { kept }
}

pub fn curve_title(kiln: &str) -> String {
    format!("Heat of {kiln}")
}

pub fn story_title(kiln: &str) -> String {
    format!("What happened at {kiln}")
}
