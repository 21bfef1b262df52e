//! What is said of each task: as a headline, in a narrow place, from afar, in the agenda and in a
//! calendar.

use super::casting::bench_counts;
use super::dial::Dial;
use super::leg_order;
use super::lengths::{at_least, left_text, length_phrase, since_then};
use super::story::no_forecast;
use crate::alarm::rules::SHUT_ABOVE;
use crate::cooling::{Cooling, USUALLY_HOT_FOR};
use crate::firing::After;
use crate::scene::{KilnScene, Scene};
use crate::units::{Moment, Scale, Span};
use crate::watch::agenda::Errand;
use crate::watch::task::Task;

pub const COMING_TITLE: &str = "What comes next";
pub const NOTHING_COMING: &str = "nothing that could be foreseen";

/// What a task is in each place, with `{kiln}` for the kiln's name.
struct Said {
    /// What to do, in one line that can be read from across the room.
    headline: &'static str,
    /// The same in a few words.
    short: &'static str,
    /// The same as large as there is room: one word, and the fewest with the kiln's name.
    far: (&'static str, &'static str),
}

const SHUT_OFF: (&str, &str) = ("SHUT OFF", "SHUT OFF {kiln}");
const STAY: (&str, &str) = ("STAY", "STAY AT {kiln}");
const LOOK: (&str, &str) = ("LOOK", "LOOK AT {kiln}");
const GO: (&str, &str) = ("GO", "GO TO {kiln}");

/// The table of tasks.
fn said(task: Task) -> Said {
    let (headline, short, far) = match task {
        Task::ShutOff => ("Shut off {kiln} now", "SHUT OFF NOW", SHUT_OFF),
        Task::TurnDown => (
            "Turn {kiln} down now: its cone is down",
            "TURN DOWN NOW",
            ("TURN DOWN", "TURN DOWN {kiln}"),
        ),
        Task::GuardMoving => {
            ("Shut off {kiln} now: the guard cone moves", "SHUT OFF: GUARD MOVES", SHUT_OFF)
        }
        Task::ProbablyDown => {
            ("Look at {kiln} now: the target is probably down", "LOOK NOW: LIKELY DOWN", LOOK)
        }
        Task::ShopFile => ("See to the shop's file {kiln}", "SEE TO THE SHOP'S FILE", GO),
        Task::Stay => ("Stay at {kiln}'s spyhole", "STAY AT THE SPYHOLE", STAY),
        Task::LookOverdue => ("Look at {kiln} now: the look is overdue", "LOOK NOW: OVERDUE", LOOK),
        Task::OffNotRecorded => {
            ("Go to {kiln}: it cools, and nobody recorded off", "GO AND SEE: IT COOLS", GO)
        }
        Task::LookDue => ("Look at {kiln}", "LOOK NOW", LOOK),
        Task::Stalled => ("{kiln} has stalled", "GO AND SEE: STALLED", GO),
        Task::TooFast => ("{kiln} climbs too fast", "GO AND SEE: TOO FAST", GO),
        Task::ProbeTrouble => ("Check {kiln}'s probe", "CHECK ITS PROBE", GO),
        Task::Step => ("Change {kiln}'s setting", "CHANGE THE SETTING", GO),
        Task::WindowOpens => ("{kiln}'s watch window opens soon", "watch opens soon", GO),
        Task::ReadTemperature => {
            ("Write down one temperature of {kiln}", "write one temperature", GO)
        }
        Task::NameGlow => ("Write down the colour of {kiln}'s glow", "write its glow", GO),
        Task::StillHot => {
            ("Read {kiln}'s temperature before opening it", "read it before opening", GO)
        }
        Task::CoolEnough => {
            ("{kiln} is cool enough to unload", "read it, then unload", ("", "{kiln} IS COOL"))
        }
        Task::OutcomeNotRecorded => {
            ("Write down how {kiln} came out", "write the outcome", ("", "{kiln} UNLOADED"))
        }
        Task::DrainMould => ("Drain {kiln}", "drain it", ("DRAIN", "DRAIN {kiln}")),
        Task::CheckMould => {
            ("Open {kiln} if it lets go", "open if it lets go", ("OPEN", "OPEN {kiln}"))
        }
        Task::NextLook => ("Look at {kiln} later", "wait", ("", "LOOK AT {kiln} IN")),
        Task::LookByEye => ("Look at {kiln} by your own judgement", "look by eye", LOOK),
        Task::Drop => ("{kiln}'s cone likely drops", "wait", ("", "{kiln} DROPS")),
        Task::AfterCone => (
            "{kiln}'s cone is down: turn it down as the schedule says",
            "turn down, not off",
            ("", "{kiln} OFF IN"),
        ),
        Task::Decide => (
            "{kiln}'s firing was given up before its drop: light it again or unload it",
            "light or unload",
            ("", "{kiln} GIVEN UP"),
        ),
        Task::Light => ("{kiln} is packed and can be lit", "can be lit", ("", "{kiln} CAN BE LIT")),
        Task::LetCool => ("Let {kiln} cool", "let it cool", ("", "{kiln} COOLS")),
        Task::Nothing => ("{kiln} is empty", "nothing to do", ("", "ALL EMPTY")),
    };
    Said { headline, short, far }
}

fn at_kiln(said: &str, kiln: &str) -> String {
    said.replace("{kiln}", kiln)
}

/// What to do, in one line that can be read from across the room: `Shut off North now`.
pub(super) fn headline(task: Task, kiln: &str) -> String {
    at_kiln(said(task).headline, kiln)
}

/// What is to be done at a kiln and when, whatever rings.
pub(super) fn sentence(kiln: &KilnScene, now: Moment, dial: &Dial<'_>) -> String {
    let Errand { kiln: name, task, at: moment, .. } = &kiln.todo;
    let at = |moment| dial.at(moment, now);
    let clock = |moment| dial.time_and_day(moment, now);
    let off = || clock(kiln.off.unwrap_or(now));
    match task {
        Task::ShutOff => format!(
            "Shut off {name} now: {} {}, {}.",
            if kiln.after_cone.iter().any(|after| after.until == *moment) {
                "the schedule's last order was over"
            } else {
                "the target was seen down"
            },
            at(*moment),
            since_then(now - *moment)
        ),
        Task::TurnDown => format!(
            "Turn down {name} now to {}, and record the setting. The target was seen down {}, {}.",
            orders(&kiln.after_cone, now, dial),
            at(*moment),
            since_then(now - *moment)
        ),
        Task::ProbablyDown => format!(
            "Look at {name} now: its target most likely went down {}, {}. Shut off if it \
             is down.",
            at(*moment),
            since_then(now - *moment)
        ),
        Task::Stay => format!("Stay at {name}'s spyhole: the target may go down any minute."),
        Task::NextLook => {
            format!("Look at {name} in {}, {}.", length_phrase(*moment - now), at(*moment))
        }
        Task::LookDue => format!("Look at {name} now, then note what each cone does."),
        Task::LookByEye => format!(
            "Look at {name} by your own judgement: lit {} ago, and {}.",
            length_phrase(now - *moment),
            no_forecast(kiln.no_forecast)
        ),
        Task::AfterCone => format!(
            "{name}'s cone is down: {}; then shut it off.",
            orders(&kiln.after_cone, now, dial)
        ),
        Task::LetCool => match kiln.cool_at {
            Some(cool) => format!(
                "Let {name} cool: off since {}, cool enough to unload about {}.",
                off(),
                clock(cool)
            ),
            None => format!("Let {name} cool: off since {}. {}", off(), reading(kiln, now, dial)),
        },
        Task::CoolEnough => {
            format!("{name} should be cool enough to unload: read it first, off since {}.", off())
        }
        Task::OutcomeNotRecorded => {
            format!("{name} is unloaded: write down how the load came out.")
        }
        other => format!("{}.", headline(*other, name)),
    }
}

/// What the schedule goes on with, and until when: `hold 1130 C for 30 min until 20:51, then cool to 900 C at
/// 100 C/h until 23:09`.
fn orders(orders: &[After], now: Moment, dial: &Dial<'_>) -> String {
    let one = |After { leg, until, .. }: &After| {
        format!("{} until {}", leg_order(leg, dial.scale), dial.time_and_day(*until, now))
    };
    orders.iter().map(one).collect::<Vec<_>>().join(", then ")
}

/// The most urgent task of a kiln in a few words, for a narrow place: `look in 12 min`.
pub fn say_short(kiln: &KilnScene, now: Moment) -> String {
    match (kiln.task(), kiln.cool_at) {
        (Task::NextLook, _) => format!("look in {}", length_phrase(kiln.todo.at - now)),
        (Task::LetCool, Some(cool)) => format!("cool in {}", at_least(cool - now)),
        (Task::LetCool, None) => match next_reading(kiln).filter(|at| *at > now) {
            Some(at) => format!("read it in {}", length_phrase(at - now)),
            None => "let it cool, read it".into(),
        },
        (task, _) => said(task).short.into(),
    }
}

fn next_reading(kiln: &KilnScene) -> Option<Moment> {
    kiln.cooling.as_ref().map(Cooling::next_reading)
}

/// When to read a kiln of whose cooling nothing is known.
fn reading(kiln: &KilnScene, now: Moment, dial: &Dial<'_>) -> String {
    let when = match next_reading(kiln).filter(|at| *at > now) {
        Some(at) => format!("at {}", dial.time_and_day(at, now)),
        None => "now".into(),
    };
    format!("Read it {when}: two readings an hour apart tell when it can be drawn.")
}

/// The task that is told from afar: what rings, where it sends somebody to the kiln, else what is to
/// be done.
fn task_afar(kiln: &KilnScene) -> Task {
    kiln.calls_to_the_kiln().map_or(kiln.todo.task, |alarm| alarm.key.task)
}

/// The countdown of the far view, `NOW`, or nothing.
pub fn big_text(kiln: &KilnScene, now: Moment) -> Option<String> {
    let left = || left_text(kiln.todo.at - now);
    match task_afar(kiln) {
        Task::ShutOff | Task::TurnDown if kiln.calls_to_the_kiln().is_none() => {
            Some(left().replacen('-', "+", 1))
        }
        Task::NextLook | Task::AfterCone => Some(left()),
        task => task.is_at_the_kiln().then(|| "NOW".into()),
    }
}

/// The fewest words that say what to do, for letters as large as the terminal allows.
pub fn far_phrase(kiln: &KilnScene) -> String {
    at_kiln(said(task_afar(kiln)).far.1, &kiln.kiln)
}

/// The same of what is next at the bench, with its countdown.
pub fn bench_afar(errand: &Errand, now: Moment) -> Option<(String, String)> {
    let phrase = at_kiln(said(errand.task).far.1, &few(&errand.kiln));
    match bench_counts(errand, now)? {
        _ if errand.at <= now => Some((phrase, "NOW".into())),
        (left, _) => Some((format!("{phrase} IN"), left)),
    }
}

/// The first few of several codes, without commas, which are not there in large letters: `A1 A2 A3 and 5 more`.
fn few(codes: &str) -> String {
    const FEW: usize = 3;
    let more = format!("and {} more", codes.split(", ").count().saturating_sub(FEW));
    let mut codes: Vec<&str> = codes.split(", ").collect();
    if codes.len() > FEW {
        codes.truncate(FEW);
        codes.push(&more);
    }
    codes.join(" ")
}

/// What can stand largest while nothing is counted down, the first that has room.
pub fn large_when_idle(scene: &Scene) -> Vec<String> {
    match scene.kilns.first() {
        None => vec!["YOUR FIRST KILN".into()],
        Some(kiln) => vec![far_phrase(kiln), say_short(kiln, scene.now).to_uppercase()],
    }
}

/// What stands largest on the floor: a countdown, or one word where something is to be done now.
pub fn big_word(kiln: &KilnScene, now: Moment) -> Option<String> {
    let task = task_afar(kiln);
    if task.is_at_the_kiln() { Some(said(task).far.0.into()) } else { big_text(kiln, now) }
}

/// What is said below it: `until the next look at Heron`.
pub fn big_caption(kiln: &KilnScene, now: Moment) -> String {
    let (name, ago) = (&kiln.kiln, length_phrase(now - kiln.todo.at));
    let just_now = now - kiln.todo.at < Span::minutes(1);
    if kiln.calls_to_the_kiln().is_some() {
        return name.clone();
    }
    match kiln.todo.task {
        Task::ShutOff | Task::TurnDown if just_now => format!("{name}'s cone is down"),
        Task::ShutOff | Task::TurnDown => format!("{name}'s cone has been down for {ago}"),
        Task::ProbablyDown => format!("{name}'s cone likely down for {ago}"),
        Task::Stay => name.clone(),
        Task::NextLook => format!("until the next look at {name}"),
        Task::AfterCone => format!("until {name} is to be shut off"),
        Task::LookDue => format!("at {name}"),
        _ => String::new(),
    }
}

/// What is asked for beside looks, and why.
pub(super) fn request(kiln: &KilnScene) -> Option<String> {
    let asked = kiln.request?.asked;
    let can = if asked == Task::ReadTemperature { " if you can" } else { "" };
    let what = headline(asked, &kiln.kiln);
    Some(format!("{what}{can}: so far only the clock says how far it is."))
}

/// A line of the agenda: `14:05 look at Heron`, `now shut off Otter`, `tomorrow 8:00 Wren likely drops`.
pub fn agenda_line(errand: &Errand, now: Moment, dial: &Dial<'_>) -> String {
    let kiln = &errand.kiln;
    let what = match errand.task {
        Task::ShutOff => format!("shut off {kiln}"),
        Task::TurnDown => format!("turn down {kiln}"),
        Task::Step => format!("change {kiln}'s setting, as the schedule says"),
        Task::WindowOpens => format!("{kiln}'s watch begins"),
        Task::CoolEnough => format!("{kiln} is cool"),
        Task::LookDue => format!("look at {kiln}"),
        Task::DrainMould => format!("drain {kiln}"),
        Task::CheckMould => format!("open {kiln}"),
        other => headline(other, kiln),
    };
    let due = errand.task.is_at_the_kiln() || errand.task.is_of_the_bench();
    let due = due && errand.at <= now;
    let when = if due { "now".to_owned() } else { dial.time_and_day(errand.at, now) };
    format!("{when} {what}")
}

/// An errand in a calendar, in one line; the how-manieth look of its firing it is, from 1.
pub fn calendar_summary(errand: &Errand, look: usize, load_type: &str) -> String {
    let what = match errand.task {
        Task::WindowOpens => "watch window".to_owned(),
        Task::NextLook => format!("look {look}"),
        Task::Step => "change the setting".to_owned(),
        Task::ShutOff => "shut off".to_owned(),
        task if task.is_of_the_bench() => return headline(task, &errand.kiln),
        _ => "cool enough to unload?".to_owned(),
    };
    format!("{}: {what} ({load_type})", errand.kiln)
}

/// What is to be minded at an errand in a calendar.
pub fn calendar_description(task: Task, scale: Scale) -> String {
    match task {
        Task::WindowOpens => {
            "The target cone may drop from here on. Be within earshot, with shaded glasses.".into()
        }
        Task::NextLook => {
            "Look through the spyhole, with shaded glasses, and record what is seen. The plan moves with every look and reading.".into()
        }
        Task::Step => {
            "The schedule orders another setting after the cone: set it, and record the setting.".into()
        }
        Task::DrainMould => "Pour the slip out, and note that it was drained.".into(),
        Task::CheckMould => {
            "Clay that stands off at the pour hole has let go. Note what was found: the plan moves with every check.".into()
        }
        Task::ShutOff => "The schedule's last order after the cone is over: shut off, and record it.".into(),
        _ => format!(
            "The kiln usually cools for {USUALLY_HOT_FOR}. Read the temperature first, and leave it shut above {}.",
            SHUT_ABOVE.display(scale)
        ),
    }
}
