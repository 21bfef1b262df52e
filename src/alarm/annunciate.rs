//! What rings now: each unanswered alarm again and again, louder, and to more people and by more
//! ways, until somebody answers.
//!
//! - An alarm is never silent for longer than its priority's repeat time.
//! - The first ring of an alarm says how late it is, if it is.
//! - Every ring is louder than the one before, up to the loudest.
//! - Every [`widens_after`](super::priority::Priority::widens_after) the next rung of the rota's
//!   ladder (next way, next person) is called as well.
//! - Ten new alarms in ten minutes are a flood (start and end after ISA-18.2): from then on one
//!   summary rings, for a new member within seconds, else at the pace of its most urgent, until
//!   fewer than five are new in ten minutes.
//! - Nothing rings for an alarm that is answered, put off, or no longer so.
//!
//! A clock that steps forward makes rings come early; one that steps back is noticed, and the
//! moments remembered are moved with it.

use std::collections::BTreeMap;

use super::desk::{Alarm, Key};
use super::priority::Priority;
use super::rota::{MinuteOfDay, Rota, Target};
use crate::units::{Moment, Span};

/// The longest time between two steps of whoever rings. A ring that could not wait for the next
/// step is made in this one, so that the repeat time is kept.
pub const LONGEST_STEP: Span = Span::seconds(2);
/// An alarm first rung this long after it was raised says so.
pub const LATE_FROM: Span = Span::seconds(90);
/// A flood begins with so many new alarms within [`FLOOD_WINDOW`], and ends below the other.
pub const FLOOD_BEGINS: usize = 10;
pub const FLOOD_ENDS_BELOW: usize = 5;
pub const FLOOD_WINDOW: Span = Span::minutes(10);
/// In a flood a new alarm waits so long for others to be told with it.
pub const FLOOD_GATHERS: Span = Span::seconds(5);
/// The volume of the first ring and what each ring adds, of 1.
const FIRST_VOLUME: f64 = 0.4;
const LOUDER_BY: f64 = 0.15;

/// What has been rung for one alarm.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rang {
    pub key: Key,
    /// The raising it was rung for.
    pub raised: Moment,
    pub first: Moment,
    pub last: Moment,
    /// 0 while it waits for the next summary of a flood.
    pub count: u32,
}

impl Rang {
    fn new(alarm: &Alarm, now: Moment) -> Rang {
        Rang { key: alarm.key, raised: alarm.raised, first: now, last: now, count: 0 }
    }
}

/// A flood that is on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Flood {
    pub began: Moment,
    /// The last summary.
    pub last: Option<Moment>,
    pub count: u32,
}

/// One ring that is to be made now.
#[derive(Debug, Clone, PartialEq)]
pub struct Call {
    pub at: Moment,
    /// The alarms it is for, the most urgent first; several are a summary.
    pub alarms: Vec<Alarm>,
    pub priority: Priority,
    /// The how-manieth ring this is, from 1.
    pub count: u32,
    /// 0 to 1.
    pub volume: f64,
    pub targets: Vec<Target>,
    /// The rest of the ladder, for when a target fails.
    pub fallback: Vec<Target>,
    /// The machine's own ways, for when none of those reaches anybody.
    pub last_resort: Vec<Target>,
    /// How long after it was raised the first ring comes, if that is late.
    pub late: Option<Span>,
}

/// What has been rung so far, and when.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Book {
    rang: BTreeMap<Key, Rang>,
    /// First rings, for the flood.
    new: Vec<Moment>,
    flood: Option<Flood>,
    last_step: Option<Moment>,
}

impl Book {
    /// A book that goes on where another process left off.
    pub fn resume(rang: impl IntoIterator<Item = Rang>) -> Book {
        let rang: BTreeMap<Key, Rang> = rang.into_iter().map(|rang| (rang.key, rang)).collect();
        let new = rang.values().map(|rang| rang.first).collect();
        Book { rang, new, flood: None, last_step: None }
    }

    pub fn flood(&self) -> Option<Flood> {
        self.flood
    }

    /// What has been rung for this alarm.
    pub fn rang(&self, key: Key) -> Option<&Rang> {
        self.rang.get(&key)
    }

    /// The rings to make now. Called at least every [`LONGEST_STEP`] while an alarm is unanswered.
    pub fn step(
        &mut self,
        alarms: &[Alarm],
        rota: &Rota,
        minute: MinuteOfDay,
        now: Moment,
    ) -> Vec<Call> {
        self.follow_the_clock(now);
        let ringing: Vec<&Alarm> = alarms.iter().filter(|alarm| alarm.state.rings()).collect();
        self.rang.retain(|key, rang| {
            ringing.iter().any(|alarm| alarm.key == *key && is_for(rang, alarm))
        });
        let due: Vec<&Alarm> = ringing.iter().copied().filter(|a| self.is_due(a, now)).collect();
        for alarm in &due {
            self.rang.entry(alarm.key).or_insert_with(|| {
                self.new.push(now);
                Rang::new(alarm, now)
            });
        }
        self.new.retain(|at| now - *at < FLOOD_WINDOW);
        self.judge_flood(now);
        if self.flood.is_some() {
            return self.summary(&ringing, &due, rota, minute, now).into_iter().collect();
        }
        due.into_iter().map(|alarm| self.ring(alarm, rota, minute, now)).collect()
    }

    /// Remembered moments that are in the future were told by a clock that has been set back.
    fn follow_the_clock(&mut self, now: Moment) {
        let newest = self.rang.values().map(|rang| rang.last).max();
        let known = self.last_step.max(newest);
        if let Some(back) = known.map(|last| now - last).filter(|step| *step < Span::ZERO) {
            for rang in self.rang.values_mut() {
                rang.first = rang.first + back;
                rang.last = rang.last + back;
            }
            for at in &mut self.new {
                *at = *at + back;
            }
            if let Some(flood) = &mut self.flood {
                flood.began = flood.began + back;
                flood.last = flood.last.map(|at| at + back);
            }
        }
        self.last_step = Some(now);
    }

    fn is_due(&self, alarm: &Alarm, now: Moment) -> bool {
        self.rang.get(&alarm.key).is_none_or(|rang| {
            let silent = now - rang.last;
            rang.count == 0 || silent + LONGEST_STEP >= alarm.key.task.repeat()
        })
    }

    fn judge_flood(&mut self, now: Moment) {
        match self.flood {
            None if self.new.len() >= FLOOD_BEGINS => {
                self.flood = Some(Flood { began: now, last: None, count: 0 });
            }
            Some(_) if self.new.len() < FLOOD_ENDS_BELOW => self.flood = None,
            _ => {}
        }
    }

    /// Counts one ring more for this alarm.
    fn note(&mut self, alarm: &Alarm, now: Moment) -> Rang {
        let rang = self.rang.entry(alarm.key).or_insert_with(|| Rang::new(alarm, now));
        rang.last = now;
        rang.count += 1;
        *rang
    }

    fn ring(&mut self, alarm: &Alarm, rota: &Rota, minute: MinuteOfDay, now: Moment) -> Call {
        let rang = self.note(alarm, now);
        let priority = alarm.key.task.priority();
        let late = Some(now - alarm.raised).filter(|late| rang.count == 1 && *late >= LATE_FROM);
        let rungs = (rota.ladder(priority, minute), rota.last_resort(priority, minute));
        let call = Call::new(vec![alarm.clone()], rang.count, (rungs, now - rang.first), now);
        Call { late, ..call }
    }

    /// One ring for all of a flood, if one is due.
    fn summary(
        &mut self,
        ringing: &[&Alarm],
        due: &[&Alarm],
        rota: &Rota,
        minute: MinuteOfDay,
        now: Moment,
    ) -> Option<Call> {
        let flood = self.flood?;
        let priority = ringing.iter().map(|alarm| alarm.key.task.priority()).min()?;
        let is_new = |alarm: &&Alarm| self.rang.get(&alarm.key).is_none_or(|rang| rang.count == 0);
        let highest = due.iter().any(|alarm| alarm.key.task.priority() == Priority::Highest);
        let waits = if highest {
            Span::ZERO
        } else if due.iter().any(is_new) {
            FLOOD_GATHERS
        } else {
            priority.repeat()
        };
        if flood.last.is_some_and(|last| now - last + LONGEST_STEP < waits) {
            return None;
        }
        for alarm in ringing {
            self.note(alarm, now);
        }
        let flood = Flood { last: Some(now), count: flood.count + 1, ..flood };
        self.flood = Some(flood);
        let rungs = (rota.ladder(priority, minute), rota.last_resort(priority, minute));
        let alarms = ringing.iter().map(|alarm| (*alarm).clone()).collect();
        Some(Call::new(alarms, flood.count, (rungs, now - flood.began), now))
    }
}

impl Call {
    /// The ring of this number for alarms unanswered for so long: at the pace of the most urgent, by
    /// the part of the ladder that is called by then.
    fn new(
        alarms: Vec<Alarm>,
        count: u32,
        ((mut targets, last_resort), unanswered): ((Vec<Target>, Vec<Target>), Span),
        at: Moment,
    ) -> Call {
        let priorities = alarms.iter().map(|alarm| alarm.key.task.priority());
        let priority = priorities.min().unwrap_or(Priority::Low);
        let wider = unanswered.0.max(0) / priority.widens_after().0;
        let called = Rota::begins_with(priority) + usize::try_from(wider).unwrap_or(usize::MAX / 2);
        let fallback = targets.split_off(called.min(targets.len()));
        let louder = LOUDER_BY * f64::from(count.saturating_sub(1));
        let volume = (FIRST_VOLUME + louder).min(1.0);
        Call { at, alarms, priority, count, volume, targets, fallback, last_resort, late: None }
    }
}

/// Whether what was rung was rung for this raising of the alarm. A clock set back moves the
/// raising of a condition that is found at "now".
fn is_for(rang: &Rang, alarm: &Alarm) -> bool {
    alarm.raised <= rang.raised || alarm.raised <= rang.last
}
