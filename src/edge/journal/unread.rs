//! Events whose content cannot be read: noted wherever one is met, for whoever tells the answer.
//!
//! What is read from a summary or from what is kept for the review meets no events. The events
//! behind it are looked through for this alone, so that a summary made while an event could still
//! be read does not hide that it cannot be read any more.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use rusqlite::functions::FunctionFlags;
use rusqlite::types::ToSql;
use rusqlite::{Connection, OptionalExtension};

use super::error::{JournalError, unsound};
use super::{Journal, LedgerRow, folding, read, schema, stored};
use crate::firing::fold::struck_events;
use crate::firing::{Event, EventId, FiringId, Unread, What};
use crate::text::marked;

/// The events met so far that cannot be read and were not struck. Its clones share them: journals
/// of one process on one file note them together.
#[derive(Debug, Clone, Default)]
pub struct UnreadEvents(Arc<Mutex<BTreeMap<EventId, Unread>>>);

impl UnreadEvents {
    /// All of them, in the order of writing.
    pub fn list(&self) -> Vec<Unread> {
        self.lock().values().cloned().collect()
    }

    /// All of them, taken out of the list, so that none is told twice.
    pub fn take(&self) -> Vec<Unread> {
        std::mem::take(&mut *self.lock()).into_values().collect()
    }

    fn lock(&self) -> MutexGuard<'_, BTreeMap<EventId, Unread>> {
        // A thread that panicked left it whole.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Journal {
    /// The events met so far that cannot be read; they are left out of every fold.
    pub fn unread(&self) -> &UnreadEvents {
        &self.unread
    }

    /// The same journal, noting what cannot be read together with others.
    #[must_use]
    pub fn with_unread(self, unread: &UnreadEvents) -> Journal {
        Journal { unread: unread.clone(), ..self }
    }

    /// Notes what could not be read beside these events of the same firings.
    pub(super) fn note<'e>(
        &self,
        events: impl Iterator<Item = &'e Event> + Clone,
        unread: Vec<Unread>,
    ) -> Result<(), JournalError> {
        if unread.is_empty() && self.unread.lock().is_empty() {
            return Ok(());
        }
        let strikes = events.clone().filter(|event| matches!(event.what, What::Struck { .. }));
        let struck = struck_events(&strikes.cloned().collect::<Vec<_>>());
        // One that can be read again was restored meanwhile.
        let read: BTreeSet<EventId> = events.map(|event| event.id).collect();
        let holds = |id: &EventId| !struck.contains(id) && !read.contains(id);
        self.unread.lock().retain(|id, _| holds(id));
        for mut one in unread.into_iter().filter(|one| holds(&one.event)) {
            one.kiln = self.kiln_of(one.firing)?;
            self.unread.lock().insert(one.event, one);
        }
        Ok(())
    }

    fn kiln_of(&self, firing: Option<FiringId>) -> Result<String, JournalError> {
        let kiln = self
            .connection
            .prepare_cached("SELECT kiln FROM firings WHERE id = ?1")?
            .query_row([firing.map_or(0, |firing| firing.0)], |row| row.get(0))
            .optional()?;
        Ok(kiln.unwrap_or_default())
    }

    /// Notes that what this event began is known from the summary.
    pub(super) fn note_stand_in(&self, event: EventId) {
        if let Some(unread) = self.unread.lock().get_mut(&event) {
            unread.by_summary = true;
        }
    }

    /// Notes again what a check found damaged before, if it still is.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn recall_damage(&self) -> Result<(), JournalError> {
        self.reading(|| match schema::is_sealed(&self.connection)? {
            true => self.look_through("id IN (SELECT event FROM damaged)", &[], |_| true),
            false => Ok(()),
        })
    }

    /// Notes what cannot be read among the events behind these lines of the ledger.
    pub(super) fn look_behind(&self, rows: &[LedgerRow]) -> Result<(), JournalError> {
        let firings: Vec<FiringId> = rows.iter().map(|row| row.firing).collect();
        if let Some((first, last)) = self.piece_with(&firings)? {
            let firings = BTreeSet::from_iter(firings);
            let wanted = |one: &Unread| one.firing.is_some_and(|one| firings.contains(&one));
            return self.look_through(BETWEEN, &[&first, &last], wanted);
        }
        for firing in firings {
            self.look_through("firing = ?1", &[&firing.0], |_| true)?;
        }
        Ok(())
    }

    /// The events of these numbers that cannot be read, which are noted; that each is there, and is
    /// found by its firing.
    pub(super) fn unread_between(
        &self,
        first: i64,
        last: i64,
    ) -> Result<Vec<EventId>, JournalError> {
        let mut by_firing = self.connection.prepare_cached(
            "SELECT 1 FROM events INDEXED BY events_of_firing
             WHERE firing = ?1 AND uid = (SELECT uid FROM events WHERE id = ?2) AND id = ?2",
        )?;
        self.pass_over(first, last, |id, firing| match by_firing.exists([firing.0, id])? {
            true => Ok(()),
            false => Err(unsound(format!("event {id} is not found by its firing")).into()),
        })
    }

    /// Shows every event of these numbers with its firing, by their table alone, and notes and returns
    /// those that cannot be read. A number that no event has is damage.
    fn pass_over(
        &self,
        first: i64,
        last: i64,
        mut see: impl FnMut(i64, FiringId) -> Result<(), JournalError>,
    ) -> Result<Vec<EventId>, JournalError> {
        let sql = format!(
            "SELECT id, firing, {IS_READABLE}({}) FROM events NOT INDEXED WHERE {BETWEEN} ORDER BY id",
            stored::ROW
        );
        let mut statement = self.connection.prepare_cached(&sql)?;
        let mut rows = statement.query([first, last])?;
        let (mut next, mut unread) = (first, Vec::new());
        while let Some(row) = rows.next()? {
            let id: i64 = row.get(0)?;
            self.nothing_missing(next, id)?;
            next = id + 1;
            if row.get(2)? {
                see(id, FiringId(row.get(1)?))?;
                continue;
            }
            let (_, one) = folding::select(&self.connection, "id = ?1", &[&id])?;
            one.iter().try_for_each(|one| see(id, one.firing.unwrap_or(FiringId(0))))?;
            unread.extend(one);
        }
        self.nothing_missing(next, last + 1)?;
        let ids = unread.iter().map(|one| one.event).collect();
        if !unread.is_empty() {
            self.note(read::strikes(&self.connection)?.iter(), unread)?;
        }
        Ok(ids)
    }

    /// That the event `found` may follow where `next` is due: those between are known to be lost.
    pub(super) fn nothing_missing(&self, next: i64, found: i64) -> Result<(), JournalError> {
        if next == found || !schema::is_sealed(&self.connection)? {
            return Ok(());
        }
        let known = "SELECT 1 FROM lost WHERE first <= ?1 AND last >= ?2";
        if next < found && self.connection.prepare_cached(known)?.exists([next, found - 1])? {
            return Ok(());
        }
        Err(unsound(format!("event {next} is not where it was written")).into())
    }

    fn look_through(
        &self,
        condition: &str,
        values: &[&dyn ToSql],
        wanted: impl Fn(&Unread) -> bool,
    ) -> Result<(), JournalError> {
        let condition = format!("{condition} AND NOT {IS_READABLE}({})", stored::ROW);
        let (_, mut unread) = folding::select(&self.connection, &condition, values)?;
        unread.retain(wanted);
        if unread.is_empty() {
            return Ok(());
        }
        self.note(read::strikes(&self.connection)?.iter(), unread)
    }
}

const BETWEEN: &str = "id BETWEEN ?1 AND ?2";
const IS_READABLE: &str = "is_readable";

/// Teaches a connection to say of a row whether its content can be read, within the database's own
/// loop over the rows, and to seal the rows of the other tables.
pub(super) fn teach(connection: &Connection) -> rusqlite::Result<()> {
    let flags = FunctionFlags::SQLITE_UTF8 | FunctionFlags::SQLITE_DETERMINISTIC;
    connection.create_scalar_function("row_seal", -1, flags, |row| {
        Ok(stored::row_seal((0..row.len()).map(|column| row.get_raw(column))))
    })?;
    let flags = FunctionFlags::SQLITE_UTF8 | FunctionFlags::SQLITE_DIRECTONLY;
    // What summaries of older versions hold is compared as it is shown.
    connection.create_scalar_function("marked", 1, flags, |row| row.get(0).map(marked))?;
    connection.create_scalar_function(IS_READABLE, stored::ROW_COLUMNS, flags, |row| {
        let (frame, content, seal) = stored::raw(|column| Ok(row.get_raw(column)))?;
        Ok(seal == frame.seal(&content) && content.read().is_some())
    })
}
