//! What the holder of the watch writes down itself: that it called somebody to look, and what was
//! forecast of the drop. Nothing of it is evidence of the drop.
//!
//! What was written already is judged by what stands in the firing, so a holder that takes over, or
//! starts again, goes on from there.

use std::collections::{BTreeMap, BTreeSet};

use crate::alarm::condition::LOOKED_JUST_NOW;
use crate::alarm::{Alarm, State, Task, Watched};
use crate::edge::journal::Uid;
use crate::firing::mark::{ForecastBy, Mark, When};
use crate::firing::{Firing, FiringId, What};
use crate::forecast::{Forecast, Ground};
use crate::units::{Moment, Span};
use crate::watch::walks::ANSWERED_WITHIN;

/// The alarms that call somebody to look.
const CALLS: [Task; 4] = [Task::ProbablyDown, Task::Stay, Task::LookOverdue, Task::LookDue];
/// A forecast made later than this after the lighting, or the first look, is no longer of it.
const KEPT_WITHIN: Span = Span::minutes(15);
/// How far off the middle of the drop is about an hour before it.
const ABOUT_AN_HOUR: (Span, Span) = (Span::minutes(45), Span::minutes(60));

/// Something to be written of a firing, under a mark that is the same whoever writes it twice.
#[derive(Debug, Clone, PartialEq)]
pub struct Due {
    pub firing: FiringId,
    pub uid: Uid,
    pub what: What,
}

/// What was written and goes on.
#[derive(Debug, Default)]
pub struct Diary {
    /// The call that goes on, of every firing met so far.
    calling: BTreeMap<FiringId, Option<Moment>>,
    /// The marks that need not be tried again.
    kept: BTreeSet<(FiringId, Uid)>,
}

impl Diary {
    /// What has to be written at `now` of these firings, by the alarms that stand.
    pub fn due<'w>(
        &mut self,
        watched: impl Iterator<Item = Watched<'w>>,
        standing: &[Alarm],
        now: Moment,
    ) -> Vec<Due> {
        let mut due = Vec::new();
        for Watched { firing, advice, .. } in watched {
            if self.begins_to_call(firing, standing, now) {
                due.push(Due { firing: firing.id, uid: Uid::fresh(), what: What::Called });
            }
            let forecast = advice.and_then(|advice| advice.forecast.as_ref().ok());
            let marks = forecast.into_iter().flat_map(|forecast| marks_due(firing, forecast, now));
            let marks = marks.filter(|due| !self.kept.contains(&(due.firing, due.uid)));
            due.extend(marks);
        }
        due
    }

    /// It was written, or was there already.
    pub fn written(&mut self, due: &Due, now: Moment) {
        match due.what {
            What::Called => drop(self.calling.insert(due.firing, Some(now))),
            _ => drop(self.kept.insert((due.firing, due.uid))),
        }
    }

    /// Whether a call to look begins: an alarm rings for it, none has gone on since the last look,
    /// and nobody is at the spyhole anyway.
    fn begins_to_call(&mut self, firing: &Firing, standing: &[Alarm], now: Moment) -> bool {
        let calls =
            |alarm: &&Alarm| alarm.key.firing == firing.id && CALLS.contains(&alarm.key.task);
        let calls = || standing.iter().filter(calls);
        let last_call = || firing.calls.last().map(|(_, at)| *at);
        let going_on = self.calling.entry(firing.id).or_insert_with(last_call);
        let last_look = firing.looks.last().map(|looked| looked.at);
        going_on.take_if(|called| {
            let holds = calls().any(|alarm| alarm.state != State::ReturnedUnacknowledged);
            !holds || last_look >= Some(*called) || now - *called > ANSWERED_WITHIN
        });
        going_on.is_none()
            && calls().any(|alarm| alarm.state.rings())
            && last_look.is_none_or(|look| now - look >= LOOKED_JUST_NOW)
    }
}

fn marks_due(firing: &Firing, forecast: &Forecast, now: Moment) -> impl Iterator<Item = Due> {
    let soon = move |at: Moment| (Span::ZERO..=KEPT_WITHIN).contains(&(now - at));
    let is_due = move |when: &When| match when {
        When::AtLighting => firing.lit.is_some_and(soon) && firing.looks.is_empty(),
        When::HourBefore => {
            let (least, most) = ABOUT_AN_HOUR;
            (least..=most).contains(&(forecast.p50 - now))
        }
        When::FirstLook => matches!(firing.looks.as_slice(), [only] if soon(only.at)),
    };
    let missing = |when: &When| firing.marks.iter().all(|marked| marked.mark.when != *when);
    let whens = When::ALL.into_iter().filter(move |when| missing(when) && is_due(when));
    whens.filter_map(move |when| {
        let mark = mark(when, firing, forecast, now)?;
        let uid = Uid::of_content(&format!("marked {} {}", when.name(), mark.lit));
        Some(Due { firing: firing.id, uid, what: What::Marked(mark) })
    })
}

fn mark(when: When, firing: &Firing, forecast: &Forecast, now: Moment) -> Option<Mark> {
    let read = forecast.rests_on.iter().find_map(|ground| match ground {
        Ground::Readings { count, .. } => Some(*count),
        Ground::Glow { .. } => Some(1),
        _ => None,
    });
    let by = match read.unwrap_or(0) {
        0 => ForecastBy::Clock,
        1 => ForecastBy::OneReading,
        _ => ForecastBy::Readings,
    };
    // To the tenth of a minute: nobody is told more.
    let after = |at: Moment| Span(((at - now).0 as f64 / 6_000.0).round() as i64 * 6_000);
    let [p05, p50, p95] = [forecast.p05, forecast.p50, forecast.p95].map(after);
    Some(Mark { when, by, p05, p50, p95, width: forecast.width, lit: firing.lit_event? })
}
