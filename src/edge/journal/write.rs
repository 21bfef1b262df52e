//! Appending events: each call is one transaction, durable when it returns.

use std::collections::BTreeMap;

use rusqlite::{OptionalExtension, Transaction, TransactionBehavior};

use super::error::JournalError;
use super::shop_files::{is_left, which_at};
use super::stored::{self, Content, Frame};
use super::{Journal, LedgerRow, NewEvent, ReadOnly, StoredEvent, folding, read, schema, summary};
use crate::edge::fields::Fields;
use crate::edge::form;
use crate::firing::Kind;
use crate::firing::{Event, EventId, Firing, FiringId, What, Who};
use crate::units::Moment;

/// What became of an event that was to be written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Appended {
    pub id: EventId,
    /// The firing it belongs to, begun by it or before; `None` for events of the shop.
    pub firing: Option<FiringId>,
    /// It had been written before under the same mark, and this call changed nothing.
    pub already: bool,
}

/// Whether a step is judged before it is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Check {
    /// Impossible steps are refused, and a packing or lighting that was entered on an older state
    /// of its kiln: after `seen`, the last event that was known then.
    Life { seen: Option<EventId> },
    /// Anything is taken as it comes; the fold will report what is odd.
    Nothing,
}

impl Journal {
    /// Appends an event as it is. When this returns, it is on the disk.
    ///
    /// # Errors
    /// [`JournalError`]; then nothing was written, and the same call may be tried again.
    pub fn append(&mut self, event: &NewEvent, written: Moment) -> Result<Appended, JournalError> {
        self.write(|writing| writing.put(event, written, Check::Nothing))
    }

    /// Appends several events as they are: all of them or none.
    ///
    /// # Errors
    /// See [`Journal::append`].
    pub fn append_all(
        &mut self,
        events: &[NewEvent],
        written: Moment,
    ) -> Result<Vec<Appended>, JournalError> {
        self.write(|writing| {
            events.iter().map(|event| writing.put(event, written, Check::Nothing)).collect()
        })
    }

    /// Makes the summary of firings anew from their events, and lets go of what was kept for the
    /// review. Returns how many firings it has.
    ///
    /// # Errors
    /// See [`Journal::append`].
    pub fn rebuild_summary(&mut self) -> Result<usize, JournalError> {
        self.write(|writing| {
            // The summary is not thrown away first: it may be all that is known of how a firing began.
            writing.transaction.execute_batch(
                "DELETE FROM facts;
                 DELETE FROM firings WHERE id NOT IN (SELECT firing FROM events)",
            )?;
            writing.make_all_stale()?;
            Ok(writing.stale.len())
        })
    }

    /// One immediate transaction around `work`, with the summary brought up to date at its end. What
    /// went into a file that is not the shop's any more is not written.
    pub(super) fn write<T>(
        &mut self,
        work: impl FnOnce(&mut Writing<'_>) -> Result<T, JournalError>,
    ) -> Result<T, JournalError> {
        let path = self.path.clone();
        match self.read_only {
            Some(ReadOnly::Newer { found }) => {
                return Err(JournalError::NewerFile { path, found, known: schema::VERSION });
            }
            Some(ReadOnly::NoPermission) => {
                return Err(JournalError::NotWritable {
                    path,
                    reason: "it is open for reading only".into(),
                    advice: "allow writing to the file and to its folder, or name another with --shop FILE",
                });
            }
            None => {}
        }
        let transact = || {
            let transaction =
                self.connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
            let mut writing =
                Writing { transaction, stale: BTreeMap::new(), writer: None, row: None };
            let result = work(&mut writing)?;
            writing.finish()?;
            Ok(result)
        };
        let done = transact().map_err(|error: JournalError| error.named(&path))?;
        let exchanged = self.which != which_at(&path) || is_left(&path);
        if !self.in_memory && exchanged {
            return Err(JournalError::Exchanged { path });
        }
        Ok(done)
    }
}

/// A transaction being written.
pub(super) struct Writing<'c> {
    pub(super) transaction: Transaction<'c>,
    /// Firings whose summary has to be made anew, with what they add up to where that is known.
    pub(super) stale: BTreeMap<FiringId, Option<Firing>>,
    /// The writer and the summary that were needed last: of many events they are mostly the same.
    writer: Option<(Who, i64)>,
    row: Option<(FiringId, Option<LedgerRow>)>,
}

impl Writing<'_> {
    pub(super) fn put(
        &mut self,
        new: &NewEvent,
        written: Moment,
        check: Check,
    ) -> Result<Appended, JournalError> {
        let content = sound_content(&new.what)?;
        let firing = match self.firing_of(new)? {
            Belongs::Firing(firing) => firing,
            Belongs::Written(appended) => return Ok(appended),
        };
        if let Some(id) = self.written_before(firing, new, &content)? {
            return Ok(Appended { id, firing: named(firing), already: true });
        }
        let becomes = match check {
            Check::Life { seen } => self.judge(firing, new, written, seen)?,
            Check::Nothing => None,
        };
        for renamed in self.called_anew(&new.what)? {
            self.transaction
                .prepare_cached("DELETE FROM facts WHERE firing = ?1")?
                .execute([renamed.0])?;
            self.stale.insert(renamed, None);
        }
        let id = self.insert(firing, new, written, &content)?;
        if firing.0 != 0 && !self.leaves_summary(firing, new)? {
            self.stale.insert(firing, becomes);
        }
        Ok(Appended { id, firing: named(firing), already: false })
    }

    /// The firings whose kiln has another name once this is written.
    fn called_anew(&self, what: &What) -> Result<Vec<FiringId>, JournalError> {
        let named = match what {
            What::KilnRenamed { kiln, .. } => kiln.clone(),
            What::Struck { event, .. } => match read::event(&self.transaction, *event) {
                Ok(StoredEvent {
                    event: Event { what: What::KilnRenamed { name, .. }, .. },
                    ..
                }) => name,
                _ => return Ok(Vec::new()),
            },
            _ => return Ok(Vec::new()),
        };
        summary::of_kiln(&self.transaction, folding::names(&self.transaction)?.now(&named))
    }

    /// Where an event belongs: 0 is the shop.
    pub(super) fn firing_of(&mut self, new: &NewEvent) -> Result<Belongs, JournalError> {
        if Kind::of(&new.what).is_of_the_shop() {
            return Ok(Belongs::Firing(FiringId(0)));
        }
        if let What::Struck { event, .. } = new.what {
            let firing = self
                .transaction
                .prepare_cached("SELECT firing FROM events WHERE id = ?1")?
                .query_row([event.0], |row| row.get(0))
                .optional()?;
            return firing
                .map(|id| Belongs::Firing(FiringId(id)))
                .ok_or(JournalError::NoSuchEvent(event));
        }
        if let Some(firing) = new.firing {
            let known = self.stale.contains_key(&firing) || self.summary(firing)?.is_some();
            return known
                .then_some(Belongs::Firing(firing))
                .ok_or(JournalError::NoSuchFiring(firing));
        }
        if !matches!(new.what, What::Packed(_) | What::Lit(_)) {
            return Err(JournalError::NoFiring);
        }
        let opening = self
            .transaction
            .prepare_cached("SELECT id, firing FROM events WHERE uid = ?1 AND kind IN (4, 5)")?
            .query_row([new.uid.0], |row| Ok((EventId(row.get(0)?), FiringId(row.get(1)?))))
            .optional()?;
        if let Some((id, firing)) = opening {
            return Ok(Belongs::Written(Appended { id, firing: Some(firing), already: true }));
        }
        let last: Option<i64> = self
            .transaction
            .prepare_cached("SELECT max(id) FROM firings")?
            .query_row([], |row| row.get(0))?;
        // Firings begun in this transaction have no summary yet.
        let begun = self.stale.last_key_value().map_or(0, |(firing, _)| firing.0);
        Ok(Belongs::Firing(FiringId(last.unwrap_or(0).max(begun) + 1)))
    }

    /// The event that carries this mark already, if it says the same.
    fn written_before(
        &self,
        firing: FiringId,
        new: &NewEvent,
        content: &Content,
    ) -> Result<Option<EventId>, JournalError> {
        let found = self
            .transaction
            .prepare_cached(
                "SELECT id, at_ms, kind, version, celsius, body FROM events
                 WHERE firing = ?1 AND uid = ?2",
            )?
            .query_row([firing.0, new.uid.0], |row| {
                let content = Content {
                    kind: row.get(2)?,
                    version: row.get(3)?,
                    celsius: row.get(4)?,
                    body: row.get(5)?,
                };
                Ok((EventId(row.get(0)?), Moment(row.get(1)?), content))
            })
            .optional()?;
        match found {
            None => Ok(None),
            // What was written before steering characters were marked reads as it is marked now.
            // The starter set is the same whenever a shop was begun.
            Some((id, at, found))
                if (at == new.at || firing.0 == 0)
                    && (found == *content || found.read().as_ref() == Some(&new.what)) =>
            {
                Ok(Some(id))
            }
            Some((id, ..)) => Err(JournalError::MarkTaken(id)),
        }
    }

    fn insert(
        &mut self,
        firing: FiringId,
        new: &NewEvent,
        written: Moment,
        content: &Content,
    ) -> Result<EventId, JournalError> {
        let frame = Frame {
            firing: firing.0,
            uid: new.uid.0,
            at_ms: new.at.0,
            written_after_ms: (written - new.at).0,
            offset_min: i64::from(new.offset_minutes),
            writer: self.writer_of(new)?,
        };
        stored::insert(&self.transaction, None, &frame, content)?;
        Ok(EventId(self.transaction.last_insert_rowid()))
    }

    /// The summary of a firing as it was before this transaction.
    fn summary(&mut self, firing: FiringId) -> Result<Option<&LedgerRow>, JournalError> {
        let row = match self.row.take() {
            Some((of, row)) if of == firing => row,
            _ => summary::summary(&self.transaction, firing)?,
        };
        Ok(self.row.insert((firing, row)).1.as_ref())
    }

    fn writer_of(&mut self, new: &NewEvent) -> Result<i64, JournalError> {
        if let Some((_, writer)) = self.writer.as_ref().filter(|(who, _)| *who == new.who) {
            return Ok(*writer);
        }
        let writer = self.writer_kept(new)?;
        self.writer = Some((new.who.clone(), writer));
        Ok(writer)
    }

    fn writer_kept(&self, new: &NewEvent) -> Result<i64, JournalError> {
        let (kind, name) = stored::writer(&new.who);
        let known = self
            .transaction
            .prepare_cached("SELECT id FROM writers WHERE kind = ?1 AND name = ?2")?
            .query_row([kind, name], |row| row.get(0))
            .optional()?;
        if let Some(id) = known {
            return Ok(id);
        }
        self.transaction
            .prepare_cached(
                "INSERT INTO writers (kind, name, seal) VALUES (?1, ?2, row_seal(?1, ?2))",
            )?
            .execute([kind, name])?;
        Ok(self.transaction.last_insert_rowid())
    }

    /// A reading in the middle of a firing adds nothing to its summary, and by far the most
    /// events are such readings.
    pub(super) fn leaves_summary(
        &mut self,
        firing: FiringId,
        new: &NewEvent,
    ) -> Result<bool, JournalError> {
        if !matches!(new.what, What::Reading(_)) {
            return Ok(false);
        }
        let row = self.summary(firing)?;
        Ok(row.is_some_and(|row| row.is_unmoved_by_reading(new.at)))
    }

    /// The summary of every firing will be made anew.
    pub(super) fn make_all_stale(&mut self) -> Result<(), JournalError> {
        let all = read::all_firings(&self.transaction)?;
        self.stale.extend(all.into_iter().map(|firing| (firing, None)));
        Ok(())
    }

    fn finish(self) -> Result<(), JournalError> {
        for (id, becomes) in self.stale {
            let folded = match becomes {
                Some(firing) => firing,
                None => folding::fold(&self.transaction, id)?.into_firing(),
            };
            let begun = match folded.lit {
                Some(lit) => lit,
                None => folding::first_moment(&self.transaction, id)?,
            };
            summary::store(&self.transaction, &Firing { id, ..folded }, begun)?;
        }
        self.transaction.commit()?;
        Ok(())
    }
}

/// The content as it is stored. What could not be read back is not written.
fn sound_content(what: &What) -> Result<Content, JournalError> {
    if let What::Reading(celsius) = what
        && celsius.checked("").is_ok()
    {
        // By far the most events; a number in range always reads back.
        return Ok(Content::of(what));
    }
    form::read(Kind::of(what), Fields::new(form::write(what)))?;
    let content = Content::of(what);
    match content.read() {
        Some(read) if read == *what => Ok(content),
        _ => Err(JournalError::NotStorable { what: what.phrase() }),
    }
}

/// Where an event belongs.
pub(super) enum Belongs {
    Firing(FiringId),
    /// It is there already.
    Written(Appended),
}

fn named(firing: FiringId) -> Option<FiringId> {
    (firing.0 != 0).then_some(firing)
}
