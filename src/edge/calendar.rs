//! Windows, looks and draws, and what is planned, as a calendar file (RFC 5545).
//!
//! Every event keeps its UID however often the plan moves it, and its SEQUENCE grows with every
//! export, so that reading the file again moves events instead of doubling them. All times are in
//! universal time: the reader's calendar shows them right on both sides of daylight saving.

use std::fs::File;
use std::io::Read;
use std::path::Path;

use chrono::{DateTime, Duration, Utc};
use icalendar::{Alarm, Calendar, Component, Event, EventLike, EventStatus};

use crate::alarm::Watched;
use crate::casting::casts::Cast;
use crate::cooling::USUALLY_HOT_FOR;
use crate::firing::{Firing, FiringId};
use crate::plan::of_shop::DAYS;
use crate::scene::BenchScene;
use crate::text::shown;
use crate::units::{Moment, Scale, Span};
use crate::watch::agenda::{Errand, LOOK_TAKES, LOOKS_AHEAD, after_cone, agenda};
use crate::watch::task::Task;
use crate::words::{self, Deed, PlanTold, STEPS};

/// SEQUENCE counts from here in seconds, 2024-01-01T00:00:00Z, and lasts for a lifetime.
const SEQUENCE_ZERO: Moment = Moment(1_704_067_200_000);

const PRODID: &str = "-//Spyhole//Kilns//EN";

/// Whether this file is a calendar that was written here.
pub fn is_ours(file: &Path) -> bool {
    let mut head = String::new();
    let read = File::open(file).and_then(|file| file.take(200).read_to_string(&mut head));
    let is_file = file.is_file() && read.is_ok();
    is_file && head.starts_with("BEGIN:VCALENDAR") && head.contains(PRODID)
}

/// The calendar of everything ahead, as the text of a file.
///
/// `left_out` says which events of a firing could not be read, if any.
pub fn calendar<'a>(
    firings: impl Iterator<Item = Watched<'a>>,
    bench: &BenchScene,
    planned: Option<Planned<'_>>,
    left_out: impl Fn(FiringId) -> Option<String>,
    scale: Scale,
    now: Moment,
) -> String {
    let mut calendar = Calendar::empty();
    for property in [("VERSION", "2.0"), ("PRODID", PRODID), ("CALSCALE", "GREGORIAN")] {
        calendar.append_property(property);
    }
    calendar.name("Kilns");
    for watched in firings {
        let firing = watched.firing;
        let lacks = left_out(firing.id).map(|lacks| format!(" {lacks}")).unwrap_or_default();
        let mut look = firing.looks.len();
        for (errand, cancelled) in errands(&watched) {
            look += usize::from(matches!(errand.task, Task::NextLook | Task::Step));
            let told = words::calendar_description(errand.task, scale);
            let (uid, remind) = named(&errand, firing, look);
            let summary = words::calendar_summary(&errand, look, &firing.load_type);
            let entry = Entry { uid, summary, ..Entry::of(&errand, cancelled) };
            calendar.push(entry.event(told + &lacks, Some(remind), now));
        }
    }
    for (errand, uid, cancelled) in at_the_bench(bench, now) {
        let summary = words::calendar_summary(&errand, 0, "");
        let told = words::calendar_description(errand.task, scale);
        let entry = Entry { uid, summary, ..Entry::of(&errand, cancelled) };
        calendar.push(entry.event(told, Some(Duration::zero()), now));
    }
    for (entry, told) in planned.map(|planned| planned.entries(now)).unwrap_or_default() {
        calendar.push(entry.event(told, None, now));
    }
    calendar.done().to_string()
}

/// Everything ahead of one firing, and what can no longer come: that is cancelled, so that a calendar
/// that has it lets it go.
fn errands(watched: &Watched<'_>) -> Vec<(Errand, bool)> {
    let Watched { firing, advice, .. } = *watched;
    let Some(lit) = firing.lit else { return Vec::new() };
    let heats = firing.burns() && firing.seen_down().is_none();
    let advice = advice.filter(|_| heats);
    let drop = advice.and_then(|advice| advice.forecast.as_ref().ok()).map(|drop| drop.p50);
    let off = firing.off.filter(|_| firing.drawn.is_none());
    let draw = off.or(drop).map(|from| from + USUALLY_HOT_FOR);
    let given_up = firing.aborted.as_ref().map(|(at, _)| *at);
    let over = firing.off.or(given_up).or(firing.seen_down());
    let errand = |task| Errand::new(&firing.kiln, task, over.unwrap_or(lit), Some(LOOK_TAKES));
    let looks = (0..LOOKS_AHEAD).map(|_| Task::NextLook);
    let called_off = std::iter::once(Task::WindowOpens).chain(looks).filter(|_| !heats);
    let called_off = called_off.map(|task| (errand(task), true));
    let ahead = agenda(&firing.kiln, advice, draw).into_iter();
    let ahead = ahead.filter(|errand| errand.until.is_some()).map(|errand| (errand, false));
    let ordered = after_cone(firing, Moment(i64::MAX)).into_iter();
    let ordered = ordered.map(|errand| (errand, !firing.burns()));
    called_off.chain(ahead).chain(ordered).collect()
}

/// A calendar has let go of what was called off so long ago.
const CALLED_OFF_FOR: Span = Span::hours(14 * 24);

/// What is next at each mould, in hours when somebody is there, and what was opened since: that is called
/// off. The name is made of what never changes of a cast.
fn at_the_bench(bench: &BenchScene, now: Moment) -> Vec<(Errand, String, bool)> {
    let Some(casting) = bench.casting.as_ref().filter(|it| it.staffed.is_some()) else {
        return Vec::new();
    };
    let entry = |task: Task, at, code: &str, cast: &Cast, cancelled| {
        let begun = cast.poured.unwrap_or(cast.drained).0;
        let uid = format!("{}-{code}-{begun}@spyhole", task.name());
        (Errand::new(code, task, at, Some(LOOK_TAKES)), uid, cancelled)
    };
    let coming = bench.moulds.iter().filter_map(|mould| {
        let (task, at) = mould.task()?;
        let cast = &mould.advice.as_ref()?.cast;
        Some(entry(task, at.max(now), &mould.mould.code, cast, false))
    });
    let opened = casting.casts.iter().filter_map(|cast| {
        let (at, _) = cast.emptied.filter(|(at, _)| now - *at < CALLED_OFF_FOR)?;
        Some(entry(Task::CheckMould, at, &casting.moulds[cast.mould].code, cast, true))
    });
    coming.chain(opened).collect()
}

/// The name of an errand in all exports, and how long before it the calendar reminds.
fn named(errand: &Errand, firing: &Firing, look: usize) -> (String, Duration) {
    let (slug, remind) = match errand.task {
        Task::WindowOpens => ("window".to_owned(), Duration::minutes(15)),
        Task::NextLook => (format!("look-{look}"), Duration::zero()),
        Task::Step => (format!("setting-{look}"), Duration::zero()),
        Task::ShutOff => ("off".to_owned(), Duration::zero()),
        _ => ("draw".to_owned(), Duration::zero()),
    };
    // Made of what never changes of a firing, so that it stays, and differs between shops.
    (format!("{slug}-{}-{}@spyhole", firing.id, firing.lit.unwrap_or_default().0), remind)
}

/// What stands in the calendar, by a name that it keeps.
struct Entry {
    uid: String,
    summary: String,
    from: Moment,
    until: Moment,
    status: EventStatus,
}

impl Entry {
    fn of(errand: &Errand, cancelled: bool) -> Entry {
        let status = if cancelled { EventStatus::Cancelled } else { EventStatus::Confirmed };
        let (from, until) = (errand.at, errand.until.unwrap_or(errand.at));
        Entry { uid: String::new(), summary: String::new(), from, until, status }
    }

    /// The event, with a reminder so long before, if any.
    fn event(self, told: String, remind: Option<Duration>, now: Moment) -> Event {
        let summary = shown(&self.summary);
        let mut event = Event::with_uid(&self.uid);
        event
            .timestamp(utc(now))
            .summary(&summary)
            .starts(utc(self.from))
            .ends(utc(self.until))
            .sequence(sequence(now))
            .status(self.status);
        if let Some(remind) = remind.filter(|_| self.status != EventStatus::Cancelled) {
            let mut alarm = Alarm::display(&summary, -remind);
            // The crate would give the alarm a stamp and a name by chance: the file would differ
            // with every export.
            alarm.timestamp(utc(now)).uid(&format!("reminder-{}", self.uid));
            event.alarm(alarm);
        }
        event.description(&told).done()
    }
}

/// The plan that a shop goes by, or none any more, and every kiln there is or was.
#[derive(Debug, Clone, Copy)]
pub struct Planned<'a> {
    pub plan: Option<PlanTold<'a>>,
    pub kilns: &'a [String],
}

impl Planned<'_> {
    /// The steps of what is planned, tentative: the nth firing of a kiln to come keeps its names however the plan
    /// changes, and those that no firing has are cancelled.
    fn entries(&self, now: Moment) -> Vec<(Entry, String)> {
        let deeds = self.plan.map(|plan| plan.deeds()).unwrap_or_default();
        let mut entries = Vec::new();
        for (place, kiln) in self.kilns.iter().enumerate() {
            for step in STEPS {
                let its = |one: &&Deed| one.to_be_lit && one.kiln == place && one.step == step;
                let mut its = deeds.iter().filter(its);
                for nth in 0..DAYS {
                    let uid = format!("plan-{step}-{nth}-{kiln}@spyhole");
                    let planned = its.next().zip(self.plan);
                    let (from, until) = planned.map_or((now, now), |(deed, plan)| {
                        (plan.moment(deed.from), plan.moment(deed.until))
                    });
                    let (status, (summary, told)) = match planned {
                        Some((deed, plan)) => (EventStatus::Tentative, plan.in_calendar(deed)),
                        None => (EventStatus::Cancelled, words::not_planned(step, kiln)),
                    };
                    entries.push((Entry { uid, summary, from, until, status }, told));
                }
            }
        }
        entries
    }
}

fn sequence(now: Moment) -> u32 {
    u32::try_from((now - SEQUENCE_ZERO).0.max(0) / 1000).unwrap_or(u32::MAX)
}

fn utc(at: Moment) -> DateTime<Utc> {
    // RFC 5545 has whole seconds.
    DateTime::from_timestamp(at.0.div_euclid(Span::seconds(1).0), 0).unwrap_or_default()
}
