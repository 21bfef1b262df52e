//! Why a step of a firing is impossible, told to somebody who sits at the screen: with the keys
//! of the screen where the command line would name its commands.

use crate::firing::Refusal;
use crate::firing::stands::Deed;

/// The keys that a sentence may name, as the key table labels them.
#[derive(Debug, Clone, Copy)]
pub struct NamedKeys<'a> {
    pub pack: &'a str,
    pub light: &'a str,
    pub look: &'a str,
    pub off: &'a str,
    pub drawn: &'a str,
    pub outcome: &'a str,
    pub give_up: &'a str,
    pub note: &'a str,
    pub undo: &'a str,
    pub next_kiln: &'a str,
    pub faster: &'a str,
    pub quit: &'a str,
}

/// Why not, and which key leads on.
pub fn impossible(refusal: &Refusal, keys: &NamedKeys<'_>) -> String {
    match refusal {
        Refusal::NotLit { kiln, step } => format!(
            "{kiln} is not lit, so {step} cannot be recorded: {} lights it, also with a time that has \
             passed",
            keys.light
        ),
        Refusal::AlreadyLit { kiln, state } => format!(
            "{kiln} is {state} already: before another firing this one is drawn ({})",
            keys.drawn
        ),
        Refusal::BeforeLit { kiln, step, early } => {
            format!("{step} would be {early} before {kiln} was lit: check the time")
        }
        Refusal::FiredThen { kiln, firing } => {
            format!("{kiln} was fired then already, in firing {firing}: check the times")
        }
        Refusal::AlreadyOff { kiln, state, step } => {
            format!("{kiln} is {state} already, so {step} cannot be recorded: check the time")
        }
        Refusal::AbortAfterDrop { kiln } => format!(
            "the target cone of {kiln} was seen down, so this firing came to its end: {} says \
             that it is off",
            keys.off
        ),
        Refusal::NothingToResume { kiln, state } => {
            format!("{kiln} is {state}, and only a firing that was given up can be lit again")
        }
        Refusal::StillBurning { kiln, state, .. } => format!(
            "{kiln} is still {state}: {} says that it is off, {} that its firing was given up",
            keys.off, keys.give_up
        ),
        Refusal::BeforeOff { kiln, step, early } => {
            format!("{step} would be {early} before {kiln} was off: check the time")
        }
        Refusal::AlreadyDrawn { kiln, step } => format!(
            "{kiln} has been drawn, so {step} cannot be recorded: give the time it was, or write a note \
             with {}",
            keys.note
        ),
        Refusal::NotDrawn { kiln } => format!(
            "{kiln} is not drawn yet, and an outcome is judged on the drawn ware: {} says that \
             it is drawn",
            keys.drawn
        ),
        Refusal::AlreadyClosed { kiln } => {
            format!("this firing of {kiln} has its outcome already")
        }
        Refusal::NotGivenUp { kiln } => format!(
            "this firing of {kiln} was not given up, so its load was fired: say whether it came out \
             under, good or over"
        ),
        Refusal::Retired { kiln } => {
            format!("{kiln} is retired: bring it back first, in the shop's list")
        }
        Refusal::RetiredInUse { .. }
        | Refusal::NotRetired { .. }
        | Refusal::NameTaken { .. }
        | Refusal::NoKiln { .. } => refusal.to_string(),
        Refusal::PackedAfterLit { .. }
        | Refusal::PackedLater { .. }
        | Refusal::LitBeforePacked { .. }
        | Refusal::AlreadyPacked(_)
        | Refusal::ChangedMeanwhile(_)
        | Refusal::CountedTooMany { .. } => of_the_pack(refusal, keys),
    }
}

/// The same of what is packed.
fn of_the_pack(refusal: &Refusal, keys: &NamedKeys<'_>) -> String {
    match refusal {
        Refusal::PackedAfterLit { kiln, since } => format!(
            "{kiln} has been lit for {since}, so it cannot be packed now: give the time it was \
             packed, or write a note with {}",
            keys.note
        ),
        Refusal::PackedLater { kiln, early } => format!(
            "{kiln} was packed {early} after the time given, and what was said last counts: leave the time \
             empty"
        ),
        Refusal::LitBeforePacked { kiln, early } => format!(
            "{kiln} was packed {early} after that, so it cannot have been lit then: check the time"
        ),
        Refusal::AlreadyPacked(stands) => format!(
            "{stands}, and a kiln holds one load until it is drawn: {} changes what was packed",
            keys.pack
        ),
        Refusal::ChangedMeanwhile(stands) if stands.deed == Deed::Packed => format!(
            "{stands}, after this form was opened: where you entered nothing, it shows that now"
        ),
        Refusal::ChangedMeanwhile(stands) => {
            format!(
                "{stands}, after this form was opened: close it with Esc and see how the kiln stands now"
            )
        }
        Refusal::CountedTooMany { kiln, counted, packed } => format!(
            "{counted} pieces are counted, and {packed} were packed in {kiln}: check the counts"
        ),
        _ => refusal.to_string(),
    }
}
