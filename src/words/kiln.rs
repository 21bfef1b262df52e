//! What is said of one kiln.

use super::alarms::alarm_sentence;
use super::dial::Dial;
use super::doubt::{Striking, doubt, doubted_drop};
use super::lengths::{ago, length_phrase, whole_minute};
use super::task::{request, sentence};
use crate::scene::{ConeScene, KilnScene, Phase, Scene};
use crate::units::{CelsiusPerHour, Moment, Span};
use crate::watch::task::Task;

/// How a kiln stands, as a screen says it.
pub fn phase_word(phase: Phase) -> &'static str {
    match phase {
        Phase::Dropped => "cone down",
        Phase::Aborted => "given up",
        other => other.name(),
    }
}

/// The one sentence of a kiln: what to do, and when.
pub fn say(kiln: &KilnScene, now: Moment, dial: &Dial<'_>) -> String {
    let todo = sentence(kiln, now, dial);
    match kiln.calls() {
        None => request(kiln).map_or(todo.clone(), |asked| format!("{todo} {asked}")),
        Some(alarm) if kiln.calls_to_the_kiln().is_some() => alarm_sentence(alarm, dial.scale),
        Some(alarm) => format!("{} {todo}", alarm_sentence(alarm, dial.scale)),
    }
}

/// Said below a list of kilns that has no room for all of them.
pub fn more_kilns(count: usize) -> String {
    match count {
        1 => "  and one more kiln".into(),
        _ => format!("  and {count} more kilns"),
    }
}

/// `drop 14:05, likely 13:55 to 14:20`: the middle and the 5 to 95 % window.
pub fn drop_line(kiln: &KilnScene, now: Moment, dial: &Dial<'_>) -> Option<String> {
    drop_short(kiln, now, dial, usize::MAX)
}

/// The same in so many columns: `drop 14:05, 13:55 to 14:20`, then `drop 13:55 to 14:20`, since no drop is
/// told without its window, and at last `drop from 13:55 on`: a window of days without its day misleads.
pub fn drop_short(
    kiln: &KilnScene,
    now: Moment,
    dial: &Dial<'_>,
    columns: usize,
) -> Option<String> {
    if let Some(doubted) = &kiln.doubted {
        return Some(doubted_drop(doubted, now, dial));
    }
    let drop = kiln.drop?;
    let (middle, range) = (
        dial.time_and_day(drop.p50, now),
        dial.time_range(drop.p05, whole_minute(drop.p95), " to "),
    );
    let said = ["likely ", ""].map(|likely| format!("drop {middle}, {likely}{range}"));
    let mut said = said.into_iter().chain([format!("drop {range}")]);
    let least = || format!("drop from {} on", dial.time_and_day(drop.p05, now));
    Some(said.find(|said| said.len() <= columns).unwrap_or_else(least))
}

/// `watch from 13:50, in 1 h 05 min`.
pub fn watch_line(kiln: &KilnScene, now: Moment, dial: &Dial<'_>) -> Option<String> {
    let opens = kiln.watch_opens?;
    let from = dial.time_and_day(opens, now);
    let minute = Moment(opens.0.div_euclid(60_000) * 60_000);
    Some(if minute > now {
        format!("watch from {from}, in {}", length_phrase(minute - now))
    } else {
        format!("watching since {from}")
    })
}

/// `can be unloaded about tomorrow 8:00`.
pub fn cool_line(kiln: &KilnScene, now: Moment, dial: &Dial<'_>) -> Option<String> {
    let cool = kiln.cool_at.filter(|cool| *cool > now)?;
    Some(format!("can be unloaded about {}", dial.time_and_day(cool, now)))
}

/// `about 712 C, climbing 150 C/h`: the chamber as the forecast takes it to be now.
pub fn chamber_line(kiln: &KilnScene, dial: &Dial<'_>) -> Option<String> {
    let chamber = kiln.chamber.filter(|_| kiln.is_lit())?;
    let climb = kiln.climb.map_or(String::new(), |climb| match climb.0 {
        c if c >= 0.5 => format!(", climbing {}", dial.rate(climb)),
        c if c <= -0.5 => format!(", falling {}", dial.rate(CelsiusPerHour(-c))),
        _ => ", level".into(),
    });
    let by_clock = if kiln.last_reading.is_none() { " by the clock" } else { "" };
    Some(format!("about {}{by_clock}{climb}", dial.temperature(chamber)))
}

/// Said after a reading.
pub const NOT_BELIEVED: &str = ", not believed";

/// `read 712 C 4 min ago`.
pub fn reading_line(kiln: &KilnScene, now: Moment, dial: &Dial<'_>) -> Option<String> {
    let (at, temperature) = kiln.last_reading?;
    let doubt = if kiln.believes_its_last_reading() { "" } else { NOT_BELIEVED };
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

/// `target 018 bend 34/90 leaning 4 min ago`: the lean expected now, of the ninety degrees at which a
/// cone lies flat, and what was seen last, in so many columns.
pub fn cone_line(cone: &ConeScene, now: Moment, columns: usize) -> String {
    let mut line = format!("{:<6} {:<3}", cone.role, cone.cone.name());
    if let Some(expected) = cone.expected {
        line.push_str(&format!(" bend {:.0}/90", expected.lean_deg));
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

/// `off within about 12 min of the drop`.
pub fn forgives_line(kiln: &KilnScene) -> Option<String> {
    let forgives = kiln.forgives.filter(|_| kiln.is_lit())?;
    Some(match forgives < Span::minutes(2) {
        true => "off as soon as it drops".into(),
        false => format!("off within about {} of the drop", length_phrase(forgives)),
    })
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
    let (at, who) = kiln.answered()?.answered.as_ref()?;
    // Whoever looked was there.
    if kiln.last_look.is_some_and(|(looked, _)| looked == *at) {
        return None;
    }
    let at = dial.at(*at, now);
    Some(match who.as_str() {
        "" => format!("Answered {at}: somebody is on the way."),
        name => format!("{name} answered {at} and is on the way."),
    })
}

/// The sentence of the whole shop: that of its most urgent kiln.
pub fn headline(scene: &Scene, dial: &Dial<'_>, striking: Striking<'_>) -> String {
    match scene.kilns.first() {
        None => "No kiln yet: add one with `spyhole kiln add NAME --fuel gas`.".into(),
        Some(kiln) if kiln.todo.task == Task::Nothing => "All kilns are empty.".into(),
        Some(kiln) => say_in_full(kiln, scene.now, dial, striking),
    }
}

/// The sentence of a shop without kilns, on a screen where this key opens the shop.
pub fn no_kiln_yet(shop_key: &str) -> String {
    format!("No kiln yet: {shop_key} opens the shop, where one is added.")
}

/// The same above the page that asks for the first kiln.
pub const ANSWER_FIRST: &str = "Answer these, then press Enter. All of it can be changed later.";

/// Titles and fillers of the screen's regions.
pub const PROGRAM: &str = "Spyhole";
pub const REHEARSAL: &str = "rehearsal, a made-up shop";
pub const KEYS_TITLE: &str = "Keys";
pub const NOBODY_LOOKED: &str = "nobody has looked yet";
pub const NO_READINGS: &str = "no readings yet";
pub const ANY_KEY: &str = "any key closes this list";

/// The same where not all keys fit at once.
pub fn page_of_keys(page: usize, pages: usize) -> String {
    format!("{page} of {pages}. Down: next; other keys close")
}

pub fn curve_title(kiln: &str) -> String {
    format!("Temperature at {kiln}")
}

pub fn story_title(kiln: &str) -> String {
    format!("What happened at {kiln}")
}

/// `half 4 min ago`; where so many columns have no room for it, `standing, 49 min`.
pub fn seen_phrase(cone: &ConeScene, now: Moment, columns: usize) -> String {
    let Some((at, seen)) = cone.seen else { return "not seen yet".into() };
    let age = ago(now - at);
    let whole = format!("{seen} {age}");
    if whole.len() <= columns {
        return whole;
    }
    format!("{seen}, {}", age.trim_end_matches(" ago"))
}
