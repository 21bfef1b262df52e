//! What would ring if nobody did anything: the alarms that the clock alone raises by what is known now.
//!
//! The same conditions and the same desk are led through the time that is to come, so that whoever counts
//! on by this list and whoever keeps watch say the same.

use super::condition::{Watched, findings};
use super::desk::{Alarm, Answer, Desk, Key};
use crate::units::{Moment, Span};
use crate::watch::Advice;

/// So far ahead it is worth saying.
pub const AHEAD: Span = Span::hours(12);
/// The time from one look at the conditions to the next. When an alarm is raised follows from its
/// condition and is exact all the same.
const STEP: Span = Span::minutes(1);

/// An alarm that is to come.
#[derive(Debug, Clone, PartialEq)]
pub struct Upcoming {
    /// As it will stand when it is raised.
    pub alarm: Alarm,
    /// By when it is over by itself, if it is.
    pub over: Option<Moment>,
}

/// The alarms that are raised within [`AHEAD`], in the order of time. `desk` is as of `now`; what rings
/// already is not among them.
pub fn upcoming(
    watched: &[Watched<'_>],
    answers: &[Answer],
    desk: &Desk,
    now: Moment,
) -> Vec<Upcoming> {
    let mut desk = desk.clone();
    let mut advices: Vec<Option<Advice>> = watched.iter().map(|one| one.advice.cloned()).collect();
    let mut known: Vec<(Key, Moment)> = Vec::new();
    let mut coming: Vec<Upcoming> = Vec::new();
    let mut at = now;
    while at <= now + AHEAD {
        advices.iter_mut().flatten().for_each(|advice| grow_older(advice, at));
        let later = watched.iter().zip(&advices);
        let later = later.map(|(one, advice)| Watched { advice: advice.as_ref(), ..*one });
        let found: Vec<_> = later.flat_map(|one| findings(&one, at)).collect();
        let standing = desk.step(&found, answers, at);
        let rings: Vec<&Alarm> = standing.iter().filter(|alarm| alarm.state.rings()).collect();
        for one in coming.iter_mut().filter(|one| one.over.is_none()) {
            if !rings.iter().any(|alarm| alarm.key == one.alarm.key) {
                one.over = Some(at);
            }
        }
        for alarm in rings {
            if known.contains(&(alarm.key, alarm.raised)) {
                continue;
            }
            known.push((alarm.key, alarm.raised));
            if at > now {
                coming.push(Upcoming { alarm: alarm.clone(), over: None });
            }
        }
        at = at + STEP;
    }
    coming.sort_by_key(|one| (one.alarm.raised, one.alarm.key));
    coming
}

/// Advice as it will be at a later moment, if nothing is learned until then.
fn grow_older(advice: &mut Advice, at: Moment) {
    if let Ok(forecast) = &mut advice.forecast {
        forecast.dropped = forecast.dropped.max(forecast.drops.chance_before(at));
    }
}
