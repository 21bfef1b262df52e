//! What happened at a firing.

use crate::firing::event::{GlowSeen, Look, Outcome};
use crate::firing::{Event, Firing, What};
use crate::units::{Celsius, Moment};

/// One line of a firing's story.
#[derive(Debug, Clone, PartialEq)]
pub enum Happened {
    Lit,
    Reading(Celsius),
    Silent(String),
    Look(Look),
    Glow(GlowSeen),
    Turned(String),
    Note(String),
    Off,
    Aborted(String),
    Drawn,
    Outcome(Outcome),
    /// What happened to the kiln itself.
    OfKiln(What),
}

impl Happened {
    /// What happened to a kiln between its firings.
    pub(super) fn of_kiln(event: &Event) -> (Moment, Happened) {
        let happened = match &event.what {
            What::KilnNote { text, .. } => Happened::Note(text.clone()),
            other => Happened::OfKiln(other.clone()),
        };
        (event.at, happened)
    }
}

/// What happened at a firing beside its readings, in the order of time.
pub(super) fn deeds_of(firing: &Firing) -> Vec<(Moment, Happened)> {
    let mut deeds: Vec<(Moment, Happened)> = Vec::new();
    deeds.extend(firing.lit.map(|at| (at, Happened::Lit)));
    deeds.extend(firing.silences.iter().map(|(at, why)| (*at, Happened::Silent(why.clone()))));
    deeds.extend(firing.looks.iter().map(|looked| (looked.at, Happened::Look(looked.look))));
    deeds.extend(firing.glows.iter().map(|(at, glow)| (*at, Happened::Glow(*glow))));
    deeds.extend(firing.turned.iter().map(|(at, to)| (*at, Happened::Turned(to.clone()))));
    deeds.extend(firing.notes.iter().map(|(at, text)| (*at, Happened::Note(text.clone()))));
    deeds.extend(firing.off.map(|at| (at, Happened::Off)));
    deeds.extend(firing.aborted.iter().map(|(at, why)| (*at, Happened::Aborted(why.clone()))));
    deeds.extend(firing.drawn.map(|at| (at, Happened::Drawn)));
    deeds.extend(firing.outcome.iter().map(|(at, o)| (*at, Happened::Outcome(o.clone()))));
    deeds.sort_by_key(|(at, _)| *at);
    deeds
}

/// The same with the readings. Of what happened at one moment being lit comes first, a reading
/// next.
pub(super) fn story_of(
    readings: &[(Moment, Celsius)],
    deeds: Vec<(Moment, Happened)>,
) -> Vec<(Moment, Happened)> {
    let readings = readings.iter().map(|(at, read)| (*at, Happened::Reading(*read)));
    let mut story: Vec<(Moment, Happened)> = readings.chain(deeds).collect();
    story.sort_by_key(|(at, happened)| match happened {
        Happened::Lit => (*at, 0),
        Happened::Reading(_) => (*at, 1),
        _ => (*at, 2),
    });
    story
}
