//! What is asked for beside looks: one cheap check that tells the witnesses of a firing apart while
//! there is time.
//!
//! A firing that is followed by the clock alone is found too late on a day that runs faster than ever,
//! or that was lit earlier than noted. One temperature about half way tells it; where nobody can read
//! one, so does the colour of the glow, roughly. Each is asked once and repeated once, and declined
//! by acknowledging it. All times follow from the forecast at the lighting, so that a middle that moves
//! asks nothing twice.

use super::Question;
use super::task::Task;
use crate::firing::{Firing, Looked, Seen};
use crate::forecast::forecast;
use crate::kiln::same_name;
use crate::units::{Moment, Span};

/// A request that is open.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Request {
    pub asked: Task,
    pub since: Moment,
}

/// Part of the way from the lighting to the drop after which a temperature is asked for, 0 to 1 (a
/// guess: the pace of the day shows by then, and the fastest day is not over).
pub const TEMPERATURE_AT: f64 = 0.4;
/// Part of the way after which the glow is asked for (a guess: on a usual day little glows yet, and
/// on one that is faster than ever it does).
pub const GLOW_AT: f64 = 0.55;
/// When a request is repeated, and when it runs out, before a second repeat (guesses).
pub const REPEATED_AFTER: Span = Span::minutes(20);
pub const RUNS_OUT_AFTER: Span = Span::minutes(35);

/// When what is asked was last declined by then.
fn declined(asked: Task, firing: &Firing, by: Moment) -> Option<Moment> {
    let mut answers = firing.acknowledged.iter().rev();
    answers.find(|(at, alarm)| *at <= by && alarm == asked.name()).map(|(at, _)| *at)
}

/// The request that is open at `question.now`.
pub fn open(question: &Question) -> Option<Request> {
    let Question { firing, now, .. } = *question;
    let lit = firing.lit_as_if_once(now)?;
    let moved = |looked: &Looked| {
        let look = looked.look;
        [look.guide, look.target].into_iter().flatten().any(|seen| seen != Seen::Standing)
    };
    let from = firing.resumed_by(now).unwrap_or(lit);
    let by_now = |at: Moment| at >= from && at <= now;
    if firing.readings.iter().any(|(at, _)| by_now(*at))
        || firing.glows.iter().any(|(at, _)| by_now(*at))
        || firing.looks.iter().any(|looked| by_now(looked.at) && moved(looked))
    {
        return None;
    }
    let first_lit = firing.lit?;
    let at_lighting = forecast(&Question { now: first_lit, ..*question }).ok()?;
    let length = at_lighting.p50 - first_lit;
    let end_of = |asked: Task, since: Moment| {
        let declined = declined(asked, firing, now).filter(|at| *at >= since);
        declined.map_or(since + RUNS_OUT_AFTER, |at| at.min(since + RUNS_OUT_AFTER))
    };
    let part = |of_the_way: f64| lit + Span::from_hours(of_the_way * length.as_hours());
    let half_way = part(TEMPERATURE_AT);
    let temperature_ends = match has_no_pyrometer(question) {
        true => half_way,
        false => end_of(Task::ReadTemperature, half_way),
    };
    let glow = temperature_ends.max(part(GLOW_AT));
    let asked = [
        (Task::ReadTemperature, half_way, temperature_ends),
        (Task::NameGlow, glow, end_of(Task::NameGlow, glow)),
    ];
    let is_open = |(_, since, end): &(Task, Moment, Moment)| *since <= now && now < *end;
    asked.into_iter().find(is_open).map(|(asked, since, _)| Request { asked, since })
}

/// Whether nothing can be read: a probe is silent today, or the last firing of this kiln that was asked
/// for a temperature declined, and nothing was read since.
fn has_no_pyrometer(question: &Question) -> bool {
    let Question { firing, past, now, .. } = *question;
    let own = || past.iter().filter(|past| same_name(&past.kiln, &firing.kiln));
    let read = own().filter(|past| !past.readings.is_empty()).map(|past| past.lit).max();
    let declines = |past: &&Firing| declined(Task::ReadTemperature, past, now).is_some();
    let declined = own().filter(declines).map(|past| past.lit).max();
    firing.silences.iter().any(|(at, _)| *at <= now) || declined > read
}
