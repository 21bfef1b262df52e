//! What is asked once more before it is written: what is hard to believe, or may have been meant otherwise.

use super::dial::Dial;
use super::story::look_phrase;
use crate::cone::Cone;
use crate::cooling::TooHot;
use crate::firing::event::Look;
use crate::kiln::LoadType;
use crate::units::{Moment, Span};

/// A cooler cone goes down before a hotter one: asked once where a look says otherwise.
pub fn against_the_order(look: &Look) -> String {
    format!(
        "{}: the cooler cone goes down first. Read the numbers on the cones again.",
        look_phrase(look)
    )
}

/// The way through in a form, after what is hard to believe of a look.
pub fn enter_again(question: &str) -> String {
    format!("{question} Enter again if you saw it so.")
}

/// Asked when a kiln is said to be off whose target nobody saw down.
pub fn off_unseen(kiln: &str) -> String {
    format!("Nobody saw the target of {kiln} down: is {kiln} really off?")
}

/// The same in a form.
pub fn off_again(question: &str) -> String {
    format!("{question} Enter again if it is.")
}

/// Asked in a form that opened just as the large letters turned to its kiln.
pub fn kiln_just_changed(kiln: &str, before: &str) -> String {
    format!("This is for {kiln}, no longer for {before}: Enter again if you mean {kiln}.")
}

/// Said when the key that answers came just as this kiln began to ring, after another one or none.
pub fn answer_again(kiln: &str, before: Option<&str>) -> String {
    let before = before.map_or_else(String::new, |before| format!(", no longer {before}"));
    format!("It is {kiln} that rings now{before}: press again to answer {kiln}.")
}

/// Asked when a kiln that is said to be drawn may be too hot for it, as the first words of a question.
pub fn may_be_too_hot(
    why: TooHot,
    kiln: &str,
    when: Moment,
    now: Moment,
    dial: &Dial<'_>,
) -> String {
    match why {
        TooHot::About(about) => {
            let then = if now - when < Span::minutes(1) { "still" } else { "then" };
            format!("{kiln} should {then} be at about {}", dial.temperature(about))
        }
        TooHot::Read(at, read) => {
            let at = dial.at(at, now);
            format!("{kiln} read {} {at}", dial.temperature(read))
        }
        TooHot::OffFor(span) => format!("{kiln} had only been off for {span}"),
    }
}

/// The same in a form.
pub fn drawn_so_hot(why: TooHot, kiln: &str, when: Moment, now: Moment, dial: &Dial<'_>) -> String {
    let said = may_be_too_hot(why, kiln, when, now, dial);
    format!("{said}: is it really unloaded? Enter again if it is.")
}

/// Asked when the cone is far from what the load usually gets.
pub fn cone_far_from(cone: Cone, load: &LoadType) -> String {
    let off = cone.position() - load.target.position();
    let side = if off > 0.0 { "hotter" } else { "cooler" };
    let (off, usual, name) = (off.abs(), load.target, &load.name);
    format!("Cone {cone} is {off:.1} cones {side} than cone {usual}, which {name} goes to.")
}

/// Asked when the schedule of a lighting goes to another cone than its target.
pub fn schedule_to_other_cone(schedule: Cone, target: Cone) -> String {
    format!(
        "This schedule goes to cone {schedule}, the load to {target}. Which cone is in the kiln?"
    )
}

/// Said of a new name that looks like one the shop has.
pub fn looks_like(name: &str) -> String {
    format!("This name looks like \"{name}\", which the shop has already, and is another one.")
}

/// The same in a form.
pub fn meant_again(question: &str) -> String {
    format!("{question} Enter again if that is meant.")
}
