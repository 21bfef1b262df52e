//! The one thing to do next at a kiln, and which kiln comes first.
//!
//! What is to be done and what rings are put on one scale, so that the sentence of the screen, the
//! line of what rings and the key that answers it speak of the same thing.

use super::{KilnScene, Scene};
use crate::alarm::condition::{LOOKED_JUST_NOW, PROBABLY_DOWN};
use crate::alarm::{Alarm, Cause, Priority, State as AlarmState};
use crate::firing::{Firing, Looked, State};
use crate::units::Moment;
use crate::watch::{Advice, Say};

/// The one thing to do next at a kiln.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Todo {
    /// Shut off now; the target was seen down then, if anybody saw it.
    ShutOff {
        down_since: Option<Moment>,
    },
    /// Stay at the spyhole.
    Stay,
    /// The target is probably down, most likely since then, and nobody has looked since.
    LookTooLate {
        down_since: Moment,
    },
    /// Go and look, at this time; at or before now means now.
    Look {
        at: Moment,
    },
    /// Nothing to do until the watch window opens.
    Wait {
        until: Option<Moment>,
    },
    /// Nobody knows when it will drop: look by eye.
    LookByEye,
    LetCool,
    WriteOutcome,
    /// Packed and not lit.
    Light,
    /// Given up before the drop.
    Decide,
    Nothing,
}

/// How much a kiln asks for somebody, the most urgent first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Urgency {
    ShutOff,
    /// Most likely it is down, and nobody has seen it.
    LookTooLate,
    /// Be at the spyhole until it is down.
    Stay,
    Look,
    /// Something is wrong with the kiln or its probe.
    Trouble,
    /// Something is due at a known time.
    Ahead,
    ByEye,
    WriteOutcome,
    Decide,
    Light,
    LetCool,
    Nothing,
}

impl Todo {
    fn urgency(self, now: Moment) -> Urgency {
        match self {
            Todo::ShutOff { .. } => Urgency::ShutOff,
            Todo::LookTooLate { .. } => Urgency::LookTooLate,
            Todo::Stay => Urgency::Stay,
            Todo::Look { at } if at <= now => Urgency::Look,
            Todo::Look { .. } | Todo::Wait { until: Some(_) } => Urgency::Ahead,
            Todo::LookByEye | Todo::Wait { until: None } => Urgency::ByEye,
            Todo::WriteOutcome => Urgency::WriteOutcome,
            Todo::Decide => Urgency::Decide,
            Todo::Light => Urgency::Light,
            Todo::LetCool => Urgency::LetCool,
            Todo::Nothing => Urgency::Nothing,
        }
    }
}

/// How urgent an alarm is among the things to be done; one of low priority waits for what is due at a
/// known time.
fn urgency_of(cause: Cause) -> Option<Urgency> {
    if cause.priority() == Priority::Low {
        return None;
    }
    Some(match cause {
        Cause::ShutOff | Cause::GuardMoving => Urgency::ShutOff,
        Cause::ProbablyDown => Urgency::LookTooLate,
        Cause::Stay => Urgency::Stay,
        Cause::LookOverdue | Cause::LookDue | Cause::OffNotRecorded => Urgency::Look,
        _ => Urgency::Trouble,
    })
}

impl KilnScene {
    /// The most urgent alarm of this kiln that nobody has answered.
    pub fn rings(&self) -> Option<&Alarm> {
        self.alarms.iter().find(|alarm| alarm.state.rings())
    }

    /// The alarm that rings here, where it asks for more than [`Self::todo`] does.
    pub fn calls(&self, now: Moment) -> Option<&Alarm> {
        let more = |alarm: &&Alarm| {
            urgency_of(alarm.key.cause).is_some_and(|urgency| urgency < self.todo.urgency(now))
        };
        self.rings().filter(more)
    }

    /// The same where it sends somebody to the spyhole or to the switch: then no countdown matters.
    pub fn calls_to_the_kiln(&self, now: Moment) -> Option<&Alarm> {
        self.calls(now).filter(|alarm| {
            urgency_of(alarm.key.cause).is_some_and(|urgency| urgency <= Urgency::Look)
        })
    }

    /// The alarm for what is to be done here now, if somebody has answered it.
    pub fn answered(&self, now: Moment) -> Option<&Alarm> {
        let todo = self.todo.urgency(now);
        let of_todo = |alarm: &&Alarm| urgency_of(alarm.key.cause).is_some_and(|one| one <= todo);
        let first = self.alarms.iter().find(of_todo)?;
        let wanted = todo <= Urgency::Look;
        Some(first).filter(|alarm| wanted && alarm.state == AlarmState::Acknowledged)
    }

    /// Whether somebody has to be at this kiln now.
    pub fn wants_somebody(&self, now: Moment) -> bool {
        self.urgency(now) <= Urgency::Trouble
    }

    /// The more urgent of what is to be done and what rings.
    pub fn urgency(&self, now: Moment) -> Urgency {
        let todo = self.todo.urgency(now);
        self.calls(now)
            .and_then(|alarm| urgency_of(alarm.key.cause))
            .map_or(todo, |one| one.min(todo))
    }

    /// Sorts the most urgent first, and of two as urgent the one that nobody has answered; stable for
    /// kilns that wait for nothing.
    pub(super) fn order(&self, now: Moment) -> (Urgency, bool, Moment) {
        let since = match (self.calls(now), self.todo) {
            (Some(alarm), _) => alarm.since,
            (None, Todo::ShutOff { down_since }) => down_since.unwrap_or(now),
            (None, Todo::LookTooLate { down_since }) => down_since,
            (None, Todo::Stay) => self.drop.map_or(now, |drop| drop.p50),
            (None, Todo::Look { at }) => at,
            (None, Todo::Wait { until: Some(until) }) => until,
            (None, Todo::LookByEye) => self.lit.unwrap_or(now),
            (None, _) => now,
        };
        (self.urgency(now), self.answered(now).is_some(), since)
    }
}

impl Scene {
    /// The alarm that the first line speaks of and one key answers: that of the kiln the headline
    /// is about, else the most urgent one that nobody has answered.
    pub fn ringing(&self) -> Option<&Alarm> {
        let first = self.kilns.first().and_then(KilnScene::rings);
        first.or_else(|| self.alarms.iter().find(|alarm| alarm.state.rings()))
    }

    /// Whether what rings comes after what the headline asks for.
    pub fn rings_beside(&self) -> bool {
        let (Some(first), Some(alarm)) = (self.kilns.first(), self.ringing()) else { return false };
        let here = first.kiln == alarm.kiln
            && urgency_of(alarm.key.cause).is_some_and(|one| one <= first.urgency(self.now));
        first.wants_somebody(self.now) && !here
    }
}

pub(super) fn todo_of(firing: Option<&Firing>, advice: Option<&Advice>, now: Moment) -> Todo {
    let Some(firing) = firing else { return Todo::Nothing };
    match firing.state {
        State::Planned => Todo::Light,
        State::Dropped => Todo::ShutOff { down_since: firing.seen_down() },
        State::Lit | State::Watching => {
            advice.map_or(Todo::LookByEye, |a| todo_alight(firing, a, now))
        }
        State::Off | State::Cooling => Todo::LetCool,
        State::Drawn => Todo::WriteOutcome,
        State::Closed => Todo::Nothing,
        State::Aborted => Todo::Decide,
    }
}

fn todo_alight(firing: &Firing, advice: &Advice, now: Moment) -> Todo {
    let looked = firing.looks.iter().rev().find_map(Looked::target);
    // Nobody is told that it may go down soon when it probably has, nor that it went down before
    // they saw it stand.
    let unseen = |since: Moment| {
        looked.is_none_or(|said| said.at < since && now - said.at >= LOOKED_JUST_NOW)
    };
    let dropped = advice.forecast.as_ref().ok();
    let dropped = dropped.filter(|one| one.dropped >= PROBABLY_DOWN && unseen(one.p50));
    match (advice.say, dropped) {
        (Say::Look | Say::Stay, Some(forecast)) => Todo::LookTooLate { down_since: forecast.p50 },
        (Say::ShutOff, _) => Todo::ShutOff { down_since: firing.seen_down() },
        (Say::Stay, _) => Todo::Stay,
        (Say::Look, _) => Todo::Look { at: advice.next_look.unwrap_or(now).min(now) },
        (Say::Wait, _) => match (advice.next_look, advice.watch_opens) {
            (Some(at), _) => Todo::Look { at },
            (None, Some(opens)) => Todo::Wait { until: Some(opens) },
            (None, None) if advice.forecast.is_err() => Todo::LookByEye,
            (None, None) => Todo::Wait { until: None },
        },
    }
}
