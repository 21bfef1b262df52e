//! Whether a file is whole: what SQLite says of it, what its events say of each other, and what
//! the clocks have been up to.

use std::collections::{BTreeSet, HashMap};
use std::ops::ControlFlow;

use rusqlite::Connection;

use super::error::JournalError;
use super::{Journal, StoredEvent, facts, folding, read, stored, summary};
use crate::firing::fold::struck_events;
use crate::firing::{EventId, FiringId, What};
use crate::units::{Moment, Span};

/// How much earlier than the event before an event may be written, and how far in the future an
/// event may lie, before it is worth a remark.
const CLOCK_TOLERANCE: Span = Span::minutes(1);

/// What a check found.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CheckReport {
    pub events: u64,
    pub firings: u64,
    /// What SQLite's own integrity check says is wrong.
    pub damage: Vec<String>,
    /// Events whose content does not match its seal, or that this version cannot read.
    pub unreadable: Vec<EventId>,
    /// Those of them that were struck since, so that no answer lacks them.
    pub unreadable_and_struck: Vec<EventId>,
    /// Numbers that are missing between the first and the last event.
    pub missing: u64,
    /// Events of a firing that nothing began, and strikes of events that are not there.
    pub orphans: Vec<EventId>,
    pub clock: Vec<(EventId, ClockOddity)>,
    /// Firings whose summary, or what is kept of them for the review, is not what their events add
    /// up to.
    pub stale: Vec<FiringId>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum ClockOddity {
    #[error("written {0} before the event before it: the clock was set back, or it was imported")]
    SetBack(Span),
    #[error("it is said to have happened {0} after it was written: a clock was wrong")]
    InTheFuture(Span),
}

impl CheckReport {
    /// Whether nothing is lost and nothing contradicts itself. Odd clocks are no damage, and what
    /// cannot be read but was struck is missed by nobody.
    pub fn is_whole(&self) -> bool {
        self.damage.is_empty()
            && self.unreadable.len() == self.unreadable_and_struck.len()
            && self.missing == 0
            && self.orphans.is_empty()
            && self.stale.is_empty()
    }
}

impl Journal {
    /// Checks the whole file. It reads everything: a second or two for every million events.
    ///
    /// # Errors
    /// When so little can be read that nothing can be checked.
    pub fn check(&self) -> Result<CheckReport, JournalError> {
        let mut report = CheckReport {
            damage: integrity(&self.connection).map_err(|error| self.named(error))?,
            ..CheckReport::default()
        };
        let checked = (|| -> Result<(), JournalError> {
            check_events(&self.connection, &mut report)?;
            check_summary(&self.connection, &mut report)
        })();
        match checked {
            Ok(()) => Ok(report),
            // What could not be read is known already from the integrity check.
            Err(_) if !report.damage.is_empty() => Ok(report),
            Err(error) => Err(self.named(error)),
        }
    }
}

/// How far a check has come that goes on piece by piece, from the beginning again behind the end.
#[derive(Debug, Clone, Copy, Default)]
pub struct Position {
    event: i64,
    firing: i64,
}

impl Journal {
    /// Checks so many events and firings behind `position`, and moves it on. An event that cannot be
    /// read is noted, in the file as well, so that every command tells it from then on.
    ///
    /// # Errors
    /// [`JournalError::Damaged`] where an event is missing, its index or its summary is not what it
    /// was, or the file cannot be read there.
    pub fn check_some(&self, position: &mut Position, budget: i64) -> Result<(), JournalError> {
        let (first, last) = (position.event + 1, position.event + budget);
        let all = self.last_event()?.map_or(0, |last| last.0);
        position.event = if last >= all { 0 } else { last };
        let damaged = self.reading(|| {
            let damaged = self.unread_between(first, last.min(all))?;
            let mut firings = self.connection.prepare_cached(
                "SELECT id FROM firings WHERE id > ?1 ORDER BY id LIMIT 1 + ?2 / 500",
            )?;
            let firings = firings.query_map([position.firing, budget], |row| row.get(0))?;
            let firings: Vec<i64> = firings.collect::<rusqlite::Result<_>>()?;
            position.firing = firings.last().copied().unwrap_or(0);
            for firing in firings {
                summary::summary(&self.connection, FiringId(firing))?;
            }
            Ok(damaged)
        })?;
        for EventId(event) in damaged {
            self.connection
                .execute("INSERT OR IGNORE INTO damaged (event) VALUES (?1)", [event])
                .map_err(|error| self.named(error))?;
        }
        Ok(())
    }

    /// Takes what stands in the log into the file, as far as nobody is in the way: a plain copy of
    /// the file then has it.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn take_in_log(&self) -> Result<(), JournalError> {
        self.connection
            .query_row("PRAGMA wal_checkpoint(PASSIVE)", [], |_| Ok(()))
            .map_err(|error| self.named(error))
    }
}

/// What SQLite's integrity check finds wrong; empty when the file is sound.
pub(super) fn integrity(connection: &Connection) -> rusqlite::Result<Vec<String>> {
    let mut statement = connection.prepare("PRAGMA integrity_check(20)")?;
    let lines = statement.query_map([], |row| row.get::<_, String>(0))?;
    let mut damage = Vec::new();
    for line in lines {
        match line {
            Ok(line) if line == "ok" => {}
            Ok(line) => damage.push(line),
            Err(error) => {
                damage.push(error.to_string());
                break;
            }
        }
    }
    Ok(damage)
}

fn check_events(connection: &Connection, report: &mut CheckReport) -> Result<(), JournalError> {
    let mut begun = BTreeSet::new();
    let mut first_of: HashMap<FiringId, EventId> = HashMap::new();
    let (mut last_id, mut last_written) = (0, None);
    let mut strikes = Vec::new();
    stored::each(connection, "ORDER BY id", [], |_, read| {
        report.events += 1;
        let stored = match read {
            Ok(stored) => stored,
            Err(unread) => {
                report.unreadable.push(unread.event);
                last_id = unread.event.0;
                return Ok(ControlFlow::Continue(()));
            }
        };
        let event = &stored.event;
        report.missing += u64::try_from(event.id.0 - last_id - 1).unwrap_or(0);
        last_id = event.id.0;
        if let Some(oddity) = clock_oddity(&stored, last_written) {
            report.clock.push((event.id, oddity));
        }
        last_written = Some(event.written);
        if let Some(firing) = event.firing {
            first_of.entry(firing).or_insert(event.id);
            if event.what.kiln().is_some() {
                begun.insert(firing);
            }
        }
        if let What::Struck { event: target, .. } = event.what {
            if !(1..event.id.0).contains(&target.0) {
                report.orphans.push(event.id);
            }
            strikes.push(stored.event);
        }
        Ok(ControlFlow::Continue(()))
    })?;
    let struck = struck_events(&strikes);
    report.unreadable_and_struck =
        report.unreadable.iter().copied().filter(|event| struck.contains(event)).collect();
    report.firings = first_of.len() as u64;
    let unbegun = first_of.iter().filter(|(firing, _)| !begun.contains(firing));
    report.orphans.extend(unbegun.map(|(_, event)| *event));
    report.orphans.sort_unstable();
    Ok(())
}

fn clock_oddity(stored: &StoredEvent, last_written: Option<Moment>) -> Option<ClockOddity> {
    let event = &stored.event;
    let ahead = event.at - event.written;
    if ahead > CLOCK_TOLERANCE {
        return Some(ClockOddity::InTheFuture(ahead));
    }
    let back = last_written? - event.written;
    (back > CLOCK_TOLERANCE).then_some(ClockOddity::SetBack(back))
}

fn check_summary(connection: &Connection, report: &mut CheckReport) -> Result<(), JournalError> {
    for firing in read::all_firings(connection)? {
        let kept = summary::summary(connection, firing)?;
        let fold = folding::fold(connection, firing)?;
        let folded = fold.firing();
        let standing = folded.standing();
        if kept.is_none_or(|kept| kept.standing() != standing)
            || !facts::are_as_digested(connection, folded)?
        {
            report.stale.push(firing);
        }
    }
    Ok(())
}
