//! What is said of a look that saw the target down and may be wrong.

use super::asked_again::against_the_order;
use super::dial::Dial;
use super::lengths::whole_minute;
use crate::firing::down::Said;
use crate::firing::event::Look;
use crate::firing::{Doubt, Down, EventId, Looked, Seen, StoodUp};
use crate::scene::{Doubted, KilnScene};
use crate::units::Moment;
use crate::watch::UNLIKELY;

/// How the reader takes back an entry.
#[derive(Debug, Clone, Copy)]
pub enum Striking<'a> {
    /// With a command, by the number of the event.
    ByCommand,
    /// With this key of the screen, which then asks for the look.
    ByKey(&'a str),
    /// At the computer, by somebody who reads this on another device.
    AtTheComputer,
    /// In another shop: what is read is a record, and its numbers may be of other events here.
    InItsShop,
}

/// Why the look may be wrong, and how to settle it; `None` where nothing speaks against it.
pub fn doubt(
    kiln: &KilnScene,
    now: Moment,
    dial: &Dial<'_>,
    striking: Striking<'_>,
) -> Option<String> {
    let doubted = kiln.doubted?;
    let against = doubted_look(&doubted, now, dial);
    let command = |event| format!("\"spyhole strike {event} --reason WHY\"");
    let down = doubted.down.event;
    let way = match (doubted.why, striking) {
        (Doubt::StoodUp(other), Striking::ByCommand) => format!(
            "Strike the look that is wrong: {} for down, {} for {}.",
            command(down),
            command(other.event),
            other.seen
        ),
        (Doubt::StoodUp(_), Striking::ByKey(key)) => {
            format!("Press {key} to strike the wrong look.")
        }
        (_, Striking::ByCommand) => {
            format!("Look again, or strike that look if it is wrong: {}.", command(down))
        }
        (_, Striking::ByKey(key)) => {
            format!("Look again, or press {key} if that look is wrong.")
        }
        (Doubt::StoodUp(_), Striking::AtTheComputer) => {
            "Strike the look that is wrong, at the computer.".into()
        }
        (_, Striking::AtTheComputer) => {
            "Look again, or strike that look at the computer if it is wrong.".into()
        }
        (Doubt::StoodUp(_), Striking::InItsShop) => {
            "Strike the look that is wrong in the shop this record is from.".into()
        }
        (_, Striking::InItsShop) => {
            "Look again; if that look was wrong, strike it in the shop this record comes from."
                .into()
        }
    };
    Some(format!("{against} {way}"))
}

fn doubted_look(doubted: &Doubted, now: Moment, dial: &Dial<'_>) -> String {
    let down = doubted.down;
    match doubted.why {
        Doubt::StoodUp(other) => {
            let (earlier, later) = ((down.at, down.seen), (other.at, other.seen));
            stood_up(&StoodUp { cone: "target", earlier, later }, now, dial)
        }
        Doubt::GuideStood(at) => guide_stood(down.at, at, now, dial),
        Doubt::Unlikely(_) => unlikely(down.at, now, dial),
    }
}

/// Said of two looks that contradict each other.
fn stood_up(looks: &StoodUp, now: Moment, dial: &Dial<'_>) -> String {
    let StoodUp { cone, earlier: (before, was), later: (after, is) } = *looks;
    let at = |moment| dial.at(moment, now);
    format!(
        "The {cone} was {was} {} and {is} {}: a cone does not stand up again.",
        at(before),
        at(after)
    )
}

/// Said of a target that is down while the guide was not.
fn guide_stood(down: Moment, stood: Moment, now: Moment, dial: &Dial<'_>) -> String {
    let at = |moment| dial.at(moment, now);
    format!(
        "The target was down {}, but {} the guide, which goes first, was still up: read their numbers.",
        at(down),
        at(stood)
    )
}

/// Said of a target that was seen down when clock, readings and all else made that very unlikely.
fn unlikely(down: Moment, now: Moment, dial: &Dial<'_>) -> String {
    format!(
        "All else says that it is hardly down by {}: less than 1 chance in {}.",
        dial.time_and_day(down, now),
        1.0 / UNLIKELY
    )
}

/// What is to be asked of a look before it is written, where it does not fit: against the order of
/// the cones, against one of the other `looks`, or against the `chance`, 0 to 1, that the target has
/// dropped.
pub fn ask_of_look(
    look: &Look,
    at: Moment,
    looks: &[Looked],
    chance: Option<f64>,
    (now, dial): (Moment, &Dial<'_>),
) -> Option<String> {
    if look.is_against_the_order() {
        return Some(against_the_order(look));
    }
    let new = Looked { event: EventId(i64::MAX), at, look: *look };
    if let Some(looks) = new.stood_up(looks).next() {
        return Some(stood_up(&looks, now, dial));
    }
    new.target().filter(|said| said.seen == Seen::Down)?;
    let place = looks.partition_point(|other| other.at <= at);
    let down = Down::among(looks[..place].iter().chain([&new]))?;
    match down.doubt() {
        Some(Doubt::GuideStood(stood)) => Some(guide_stood(at, stood, now, dial)),
        _ if down.first.event != new.event => None,
        _ => chance.filter(|chance| *chance < UNLIKELY).map(|_| unlikely(at, now, dial)),
    }
}

/// Both possibilities of the drop, in one short line: `down 20:36, else 20:58, 20:50 to 21:12`.
pub(super) fn doubted_drop(doubted: &Doubted, now: Moment, dial: &Dial<'_>) -> String {
    let down = dial.time_and_day(doubted.down.at, now);
    match doubted.otherwise {
        Some(drop) => format!(
            "down {down}, else {}, {}",
            dial.time_and_day(drop.p50, now),
            dial.time_range(drop.p05, whole_minute(drop.p95), " to ")
        ),
        None => format!("down {down}, in doubt"),
    }
}

/// When the target drops, as an answer to a command: as it is expected if the look in doubt is wrong, and
/// as it is expected.
pub fn drop_sentences(
    kiln: &KilnScene,
    now: Moment,
    dial: &Dial<'_>,
) -> impl Iterator<Item = String> {
    let target = kiln.pack.map_or("", |pack| pack.target.name());
    let otherwise = kiln.doubted.and_then(|doubted| doubted.otherwise);
    let otherwise = otherwise.map(|drop| ("If the look that says down is wrong, target", drop));
    let drops = otherwise.into_iter().chain(kiln.drop.map(|drop| ("Target", drop)));
    drops.map(move |(which, drop)| {
        let [p05, p50, p95] =
            [drop.p05, drop.p50, whole_minute(drop.p95)].map(|at| dial.time_and_day(at, now));
        format!("{which} {target} drops about {p50}, nine times in ten between {p05} and {p95}.")
    })
}

/// One of the looks to choose from: `down at 20:36`.
pub fn look_of(said: &Said, now: Moment, dial: &Dial<'_>) -> String {
    format!("{} {}", said.seen, dial.at(said.at, now))
}
