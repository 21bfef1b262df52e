//! What happened, told: a look, a line of a firing's story, an event as it is written, what a forecast
//! rests on.

use super::dial::Dial;
use super::lengths::in_a_row;
use crate::alarm::Task;
use crate::firing::event::{GlowSeen, Look, Outcome, Seen};
use crate::firing::setting::Way;
use crate::firing::{Kind, Verdict, What};
use crate::forecast::{Declined, Ground};
use crate::glow::GlowWord;
use crate::scene::{Happened, KilnScene};
use crate::units::Moment;

/// `guide down, target leaning`; `guide and target down`.
pub fn look_phrase(look: &Look) -> String {
    let cones = [("guide", look.guide), ("target", look.target), ("guard", look.guard)];
    let cones: Vec<(&str, Seen)> =
        cones.into_iter().filter_map(|(role, seen)| Some((role, seen?))).collect();
    let alike = cones.chunk_by(|(_, one), (_, next)| one == next);
    let said: Vec<String> = alike
        .map(|cones| {
            let roles: Vec<&str> = cones.iter().map(|(role, _)| *role).collect();
            format!("{} {}", in_a_row(&roles), cones[0].1)
        })
        .collect();
    if said.is_empty() { "no cone made out".into() } else { said.join(", ") }
}

/// `dark red, in a dark room`.
fn glow_phrase(glow: GlowSeen) -> String {
    format!("{}, in a {} room", glow.colour, glow.room)
}

/// Why there is no forecast, as the end of a sentence.
pub fn no_forecast(declined: Option<Declined>) -> &'static str {
    match declined {
        Some(Declined::NotLit) => "it is not lit",
        Some(Declined::Over) => "nothing is left to forecast",
        Some(Declined::Aborted) => "its firing was given up",
        Some(Declined::NotClimbing) => "it has stopped climbing",
        Some(Declined::NothingKnown) => {
            "nothing is known yet of when it will drop; note a reading or two"
        }
        None => "its forecast is being made",
    }
}

/// `rests on 12 readings up to 9:40, 1 look at 9:52`.
pub fn rests_on_line(kiln: &KilnScene, now: Moment, dial: &Dial<'_>) -> Option<String> {
    let plural = |count: usize, one: &str, many: &str| {
        if count == 1 { format!("1 {one}") } else { format!("{count} {many}") }
    };
    let until = |count: usize, last| {
        format!("{} {}", if count == 1 { "at" } else { "up to" }, dial.time(last))
    };
    let grounds: Vec<String> = kiln
        .rests_on
        .iter()
        .map(|ground| match ground {
            Ground::Schedule { name } => format!("the schedule {name}"),
            Ground::PastFirings { count } => plural(*count, "past firing", "past firings"),
            Ground::Readings { count, last, doubted } => {
                let readings = plural(*count, "reading", "readings");
                let read = format!("{readings} {}", until(*count, *last));
                match doubted {
                    Some(drop) => {
                        let drop = dial.at(*drop, now);
                        let (count, alone) =
                            if *count == 1 { ("it counts", "it") } else { ("they count", "them") };
                        format!("{read} ({count} for little: by {alone} alone it drops {drop})")
                    }
                    None => read,
                }
            }
            Ground::Looks { count, last } => {
                format!("{} {}", plural(*count, "look", "looks"), until(*count, *last))
            }
            Ground::Glow { at } => format!("the glow you noted at {}", dial.time(*at)),
            Ground::Turns { count, last, way } => {
                let way = match way {
                    Some(Way::Up) => "up ",
                    Some(Way::Down) => "down ",
                    None => "",
                };
                let last = dial.time(*last);
                match count {
                    1 => format!("the burner or switch was turned {way}at {last}"),
                    _ => format!(
                        "the burner or switch was turned {count} times, the last {way}at {last}"
                    ),
                }
            }
            Ground::Correction { add_c } => {
                format!("a correction of {} to its probe", dial.difference(*add_c))
            }
            Ground::ProbeChanged { at } => {
                format!("a probe changed on {} (its error is learned again)", dial.day(*at))
            }
            Ground::UsualLength => "the usual length of such a firing".into(),
        })
        .collect();
    (!grounds.is_empty()).then(|| format!("rests on {}", grounds.join(", ")))
}

/// One line of a firing's story, without its time.
pub fn happened_line(happened: &Happened, dial: &Dial<'_>) -> String {
    match happened {
        Happened::Lit => "lit".into(),
        Happened::Reading(t) => format!("read {}", dial.temperature(*t)),
        Happened::Silent(why) => format!("probe silent: {why}"),
        Happened::Look(look) => format!("looked: {}", look_phrase(look)),
        Happened::Glow(glow) => format!("glow: {}", glow_phrase(*glow)),
        Happened::Turned(to) => format!("set to {to}"),
        Happened::Note(text) => format!("note: {text}"),
        Happened::Off => "off".into(),
        Happened::Aborted(why) => format!("given up: {why}"),
        Happened::Drawn => "drawn".into(),
        Happened::OfKiln(what) => event_phrase(what, "", dial),
        Happened::Outcome(outcome) if outcome.note.is_empty() => outcome_phrase(outcome),
        Happened::Outcome(outcome) => format!("{}: {}", outcome_phrase(outcome), outcome.note),
    }
}

/// `over (52 good, 8 over, 1 broken of 61)`.
fn outcome_phrase(outcome: &Outcome) -> String {
    let counted = Some(outcome.counted.to_string()).filter(|counted| !counted.is_empty());
    let counted = counted.map(|counted| format!(" ({counted})")).unwrap_or_default();
    format!("{}{counted}", outcome.verdict)
}

/// What is said of a kiln whose load came out like this.
pub fn came_out_so(outcome: &Outcome) -> String {
    let did = if outcome.verdict == Verdict::NotFired { "was" } else { "came out" };
    format!("{did} {}", outcome_phrase(outcome))
}

/// An event as it will be written, for a form's confirmation and the line after saving.
pub fn event_phrase(what: &What, kiln: &str, dial: &Dial<'_>) -> String {
    match what {
        What::Lit(lit) => {
            format!("{kiln} lit: {}, target cone {}", lit.load_type, lit.pack.target)
        }
        What::Reading(t) => format!("{kiln} read {}", dial.temperature(*t)),
        What::Look(look) => format!("{kiln}: {}", look_phrase(look)),
        What::Glow(glow) if glow.colour == GlowWord::NoGlow => {
            format!("{kiln} does not glow yet, in a {} room", glow.room)
        }
        What::Glow(glow) => format!("{kiln} glows {}", glow_phrase(*glow)),
        What::Off => format!("{kiln} off"),
        What::Drawn => format!("{kiln} drawn"),
        What::Outcome(outcome) => format!("{kiln} {}", came_out_so(outcome)),
        What::Note { text } | What::KilnNote { text, .. } => format!("{kiln}: {text}"),
        What::KilnRenamed { kiln, name } => format!("{kiln} is called {name} from now on"),
        What::KilnRetired { kiln, reason } if reason.is_empty() => format!("{kiln} retired"),
        What::KilnRetired { kiln, reason } => format!("{kiln} retired: {reason}"),
        What::KilnReturned { kiln } => format!("{kiln} is back on the floor"),
        What::Turned { to } => format!("{kiln} set to {to}"),
        What::Aborted { .. } => format!("{kiln}'s firing given up"),
        What::Resumed => format!("{kiln} lit again"),
        What::Struck { event, .. } => format!("entry {event} struck"),
        What::Packed(packing) => format!("{kiln} packed with {}", packing.load_type),
        What::KilnSet(set) => format!("kiln {}, {}", set.name, set.fuel),
        What::LotSet(lot) => format!("lot {}", super::lot_phrase(lot)),
        What::Planned(adopted) => super::plan_phrase(adopted),
        What::LoadTypeSet(load) => format!("load type {}, cone {}", load.name, load.target),
        What::Accepted(suggestion) => super::accepted_phrase(suggestion, dial.scale),
        What::Hours(hours) => super::hours_line(hours, dial.clock),
        What::Bench(what) => super::bench_phrase(what, dial),
        What::Closed(closed) => super::closed_line(closed),
        What::LimitsSet(limits) => super::limits_line(limits, dial.clock),
        What::Acknowledged { alarm } if Task::of_alarm(alarm).is_some_and(Task::is_request) => {
            format!("{kiln}: {} declined", alarm_word(alarm))
        }
        What::Acknowledged { alarm } => {
            format!("{kiln}: {} answered, somebody is on the way", alarm_word(alarm))
        }
        What::Shelved { alarm, length } => {
            format!("{kiln}: {} put off for {length}", alarm_word(alarm))
        }
        What::Marked(_) => format!("{kiln}: the forecast was kept"),
        What::Called => format!("{kiln}: somebody was called to look"),
        What::ProbeChanged { kiln, .. } => format!("{kiln}: probe changed or moved"),
        What::ProbeSilent { .. } => format!("{kiln}: written"),
    }
}

/// The fields that the phrase of an event of this kind speaks of; `None` where it speaks of all.
pub fn told_in_phrase(kind: Kind) -> Option<&'static [&'static str]> {
    Some(match kind {
        Kind::Lit => &["load_type", "cone"],
        Kind::Packed => &["load_type"],
        Kind::Outcome => &["result", "good", "under", "over", "broken", "not_fired"],
        Kind::Aborted | Kind::ProbeChanged => &[],
        Kind::Kiln => &["name", "fuel"],
        Kind::LoadType => &["name", "cone"],
        Kind::Lot => &["lot", "load_type", "contents", "pieces", "fills", "of_kiln"],
        _ => return None,
    })
}

/// What a field says, behind its name.
pub fn field_said(label: &str, said: &[String]) -> String {
    let said: Vec<&str> = said.iter().map(|text| text.trim_end_matches('.')).collect();
    format!("{label}: {}", said.join(", "))
}

/// A step of a firing of before, by its time: `12:15 off`.
pub fn step_then(at: Moment, what: &What, dial: &Dial<'_>) -> String {
    format!("{} {}", dial.time(at), event_phrase(what, "", dial).trim_start_matches([':', ' ']))
}

/// A packing that changes the one before it, in a phrase.
pub fn packing_changed(kiln: &str, load_type: &str) -> String {
    format!("packing of {kiln} changed ({load_type}), same firing")
}

/// `probe_trouble` as it is said: `probe trouble`.
pub fn alarm_word(name: &str) -> String {
    name.replace('_', " ")
}
