//! The one task that comes first at a kiln, which kiln comes first, and what lies ahead at all of them.
//!
//! What is to be done and what rings are tasks on one scale of urgency, so that the sentence of the
//! screen, the line of what rings and the key that answers it speak of the same.

use super::{KilnScene, Scene};
use crate::alarm::condition::{LOOKED_JUST_NOW, PROBABLY_DOWN};
use crate::alarm::{Alarm, Priority, State as AlarmState};
use crate::firing::{Firing, Looked, State};
use crate::units::Moment;
use crate::watch::Advice;
use crate::watch::agenda::Errand;
use crate::watch::task::Task;

impl KilnScene {
    /// The most urgent alarm of this kiln that nobody has answered.
    pub fn rings(&self) -> Option<&Alarm> {
        self.alarms.iter().find(|alarm| alarm.state.rings())
    }

    /// The alarm that rings here, where it asks for more than [`Self::todo`] does; one of low priority
    /// waits for what is due at a known time.
    pub fn calls(&self) -> Option<&Alarm> {
        let more = |task: Task| {
            task.priority() != Priority::Low && task.urgency() < self.todo.task.urgency()
        };
        self.rings().filter(|alarm| more(alarm.key.task))
    }

    /// The same where it sends somebody to the spyhole or to the switch: then no countdown matters.
    pub fn calls_to_the_kiln(&self) -> Option<&Alarm> {
        self.calls().filter(|alarm| alarm.key.task.is_at_the_kiln())
    }

    /// The alarm for what is to be done here now, if somebody has answered it.
    pub fn answered(&self) -> Option<&Alarm> {
        let todo = self.todo.task;
        let of_todo = |alarm: &&Alarm| alarm.key.task.urgency() <= todo.urgency();
        let first = self.alarms.iter().find(of_todo).filter(|_| todo.is_at_the_kiln());
        first.filter(|alarm| alarm.state == AlarmState::Acknowledged)
    }

    /// The more urgent of what is to be done and what rings.
    pub fn task(&self) -> Task {
        self.calls().map_or(self.todo.task, |alarm| alarm.key.task)
    }

    /// Sorts the most urgent first, and of two as urgent the one that nobody has answered; stable for
    /// kilns that wait for nothing.
    pub(super) fn order(&self) -> (usize, bool, Moment) {
        let since = self.calls().map_or(self.todo.at, |alarm| alarm.since);
        (self.task().urgency(), self.answered().is_some(), since)
    }
}

impl Scene {
    /// The alarm that the first line speaks of and one key answers: that of the kiln the headline
    /// is about, else the most urgent one that nobody has answered.
    pub fn ringing(&self) -> Option<&Alarm> {
        let first = self.kilns.first().and_then(KilnScene::rings);
        first.or_else(|| self.alarms.iter().find(|alarm| alarm.state.rings()))
    }

    /// The kiln of the headline, where somebody is wanted there now.
    pub fn due(&self) -> Option<&KilnScene> {
        self.kilns.first().filter(|first| first.task().wants_somebody())
    }

    /// Whether what rings comes after what the headline asks for.
    pub fn rings_beside(&self) -> bool {
        let (Some(first), Some(alarm)) = (self.kilns.first(), self.ringing()) else { return false };
        let (task, rings) = (first.task(), alarm.key.task);
        task.wants_somebody() && !(first.kiln == alarm.kiln && rings.urgency() <= task.urgency())
    }

    /// What is next at the bench, where no kiln wants anything.
    pub fn bench_first(&self) -> Option<Errand> {
        self.bench.errands(self.now).into_iter().next().filter(|_| self.is_quiet())
    }

    /// Whether no kiln wants anything.
    pub fn is_quiet(&self) -> bool {
        let quiet = |kiln: &KilnScene| matches!(kiln.task(), Task::Nothing | Task::LetCool);
        self.kilns.iter().all(quiet)
    }

    /// What is to be done and what lies ahead at every kiln and at the bench, the next first. What is due and not done
    /// stays at the top; a forecast moment goes with its minute.
    pub fn agenda(&self) -> Vec<Errand> {
        let minute = Moment(self.now.0 - self.now.0.rem_euclid(60_000));
        let foreseen = |errand: &&Errand| errand.task != Task::NextLook && errand.at >= minute;
        let of_kiln = |kiln: &KilnScene| {
            let Errand { task, at, .. } = kiln.todo;
            let due = match task {
                Task::ShutOff | Task::TurnDown => Some((task, at)),
                Task::Stay | Task::ProbablyDown => Some((Task::LookDue, self.now)),
                Task::LookDue | Task::NextLook => Some((Task::LookDue, at)),
                _ => None,
            };
            let due = due.map(|(task, at)| Errand { task, at, ..kiln.todo.clone() });
            due.into_iter().chain(kiln.ahead.iter().filter(foreseen).cloned()).collect::<Vec<_>>()
        };
        let mut agenda: Vec<Errand> = self.kilns.iter().flat_map(of_kiln).collect();
        agenda.extend(self.bench.errands(self.now));
        agenda.sort_by(|a, b| {
            (a.at, a.task.urgency(), &a.kiln).cmp(&(b.at, b.task.urgency(), &b.kiln))
        });
        agenda
    }
}

/// What is to be done at a kiln; `cool_at` is when it is cool enough to be drawn.
pub(super) fn todo_of(
    kiln: &str,
    firing: Option<&Firing>,
    advice: Option<&Advice>,
    cool_at: Option<Moment>,
    now: Moment,
) -> Errand {
    let nothing = Firing { state: State::Closed, ..Firing::default() };
    let firing = firing.unwrap_or(&nothing);
    let (task, at) = match (firing.state, advice) {
        (State::Planned, _) => (Task::Light, now),
        (State::Dropped, _) => off(firing, now),
        (State::Lit | State::Watching, Some(advice)) => todo_alight(firing, advice, now),
        (State::Lit | State::Watching, None) => (Task::LookByEye, firing.lit.unwrap_or(now)),
        (State::Off | State::Cooling, _) if cool_at.is_some_and(|cool| cool <= now) => {
            (Task::CoolEnough, now)
        }
        (State::Off | State::Cooling, _) => (Task::LetCool, now),
        (State::Drawn, _) => (Task::OutcomeNotRecorded, now),
        (State::Closed, _) => (Task::Nothing, now),
        (State::Aborted, _) => (Task::Decide, now),
    };
    Errand::new(kiln, task, at, None)
}

/// What is down is shut off, or the schedule is followed until then.
fn off(firing: &Firing, now: Moment) -> (Task, Moment) {
    if let Some(since) = firing.turn_down_from(now) {
        return (Task::TurnDown, since);
    }
    let at = firing.off_from(now).unwrap_or(now);
    (if at > now { Task::AfterCone } else { Task::ShutOff }, at)
}

fn todo_alight(firing: &Firing, advice: &Advice, now: Moment) -> (Task, Moment) {
    let looked = firing.looks.iter().rev().find_map(Looked::target);
    // Nobody is told that it may go down soon when it probably has, nor that it went down before
    // they saw it stand.
    let unseen = |since: Moment| {
        looked.is_none_or(|said| said.at < since && now - said.at >= LOOKED_JUST_NOW)
    };
    let forecast = advice.forecast.as_ref().ok();
    let dropped = forecast.filter(|one| one.dropped >= PROBABLY_DOWN && unseen(one.p50));
    match (advice.say, dropped, advice.next_look) {
        (Task::LookDue | Task::Stay, Some(forecast), _) => (Task::ProbablyDown, forecast.p50),
        (Task::ShutOff | Task::TurnDown | Task::AfterCone, ..) => off(firing, now),
        (Task::Stay, ..) => (Task::Stay, forecast.map_or(now, |forecast| forecast.p50)),
        (Task::LookDue, _, at) => (Task::LookDue, at.unwrap_or(now).min(now)),
        (_, _, Some(at)) if at > now => (Task::NextLook, at),
        (_, _, Some(at)) => (Task::LookDue, at),
        _ => (Task::LookByEye, firing.lit.unwrap_or(now)),
    }
}
