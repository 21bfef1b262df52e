//! Reading the journal: the shop as it stands, single firings, the ledger, and what is new.

use std::ops::ControlFlow;

use rusqlite::{Connection, OptionalExtension, ToSql};

use super::error::{JournalError, unsound};
use super::folding::{self, select};
use super::summary::{LedgerFilter, LedgerRow, ledger, summary};
use super::{Journal, StoredEvent, Uid, schema, stored};
use crate::firing::{Event, EventId, Firing, FiringId, Fold, Shop, State, What};
use crate::kiln::names::Names;
use crate::units::Moment;

/// Behind how many lines of a ledger the events are looked at.
const LOOKED_BEHIND: usize = 100;

/// How many past firings a forecast learns from: some years of one kiln, read in no time.
pub const PAST_FIRINGS: u32 = 60;

impl Journal {
    /// The shop as it stands. It takes as long as the open firings are, however old the shop is.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn shop(&self) -> Result<Shop, JournalError> {
        self.shop_seeing(|_| ())
    }

    /// The same; `see` is shown each open firing with its events on the way.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn shop_seeing(&self, mut see: impl FnMut(&Fold)) -> Result<Shop, JournalError> {
        self.reading(|| {
            let mut shop = self.shop_without_firings()?;
            self.each_folded(&open_firings(&self.connection)?, |fold| {
                see(&fold);
                shop.open.push(fold.into_firing());
            })?;
            shop.open.sort_by_key(|firing| firing.id);
            shop.list_every_open_kiln();
            Ok(shop)
        })
    }

    /// The kilns and load types of the shop and what was accepted of suggestions, without its
    /// firings: what rests on these alone does not lack an event of a firing.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn described(&self) -> Result<Shop, JournalError> {
        self.reading(|| self.shop_without_firings())
    }

    pub(super) fn shop_without_firings(&self) -> Result<Shop, JournalError> {
        let last_event = last_event(&self.connection)?;
        let mut events = self.shop_events("kind NOT BETWEEN 43 AND 46", &[])?;
        folding::in_the_order_made(&mut events);
        let names = folding::names(&self.connection)?;
        Ok(Shop { last_event, ..Shop::of(events, names) })
    }

    /// Those events of the shop itself that a condition wants, in the order of writing: found by one index, and
    /// counted by another.
    pub(super) fn shop_events(
        &self,
        condition: &str,
        values: &[&dyn ToSql],
    ) -> Result<Vec<Event>, JournalError> {
        let condition = format!("firing = 0 AND ({condition})");
        let (events, unread) =
            folding::by_number(FiringId::SHOP, select(&self.connection, &condition, values)?)?;
        let count = events.len() + unread.len();
        self.note(events.iter(), unread)?;
        if schema::is_sealed(&self.connection)? {
            let all =
                format!("SELECT count(*) FROM events INDEXED BY shop_events WHERE {condition}");
            let mut all = self.connection.prepare_cached(&all)?;
            let all: i64 = all.query_row(values, |row| row.get(0))?;
            if i64::try_from(count) != Ok(all) {
                return Err(
                    unsound(format!("{count} of {all} events of the shop are found")).into()
                );
            }
        }
        Ok(events)
    }

    /// One firing, folded.
    ///
    /// # Errors
    /// [`JournalError::NoSuchFiring`], or when the file cannot be read.
    pub fn firing(&self, firing: FiringId) -> Result<Firing, JournalError> {
        Ok(self.fold(firing)?.into_firing())
    }

    /// What kilns were called before.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub(super) fn names(&self) -> Result<Names, JournalError> {
        self.reading(|| folding::names(&self.connection))
    }

    /// How far a firing has come, from its summary.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn state_of(&self, firing: FiringId) -> Result<State, JournalError> {
        let row = self.reading(|| summary(&self.connection, firing))?;
        Ok(row.map_or_else(State::default, |row| row.state))
    }

    /// One firing with its events.
    ///
    /// # Errors
    /// See [`Journal::firing`].
    pub fn fold(&self, firing: FiringId) -> Result<Fold, JournalError> {
        let mut found = None;
        self.reading(|| match latest(&self.connection, firing)? {
            Some(_) => self.each_folded(&[firing], |fold| found = Some(fold)),
            None => Ok(()),
        })?;
        found.ok_or(JournalError::NoSuchFiring(firing))
    }

    /// The schedule by which a kiln was lit last, if it followed one.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn last_schedule(&self, kiln: &str) -> Result<Option<String>, JournalError> {
        // The youngest firing may only be packed.
        let filter =
            LedgerFilter { kiln: Some(kiln.into()), limit: Some(2), ..LedgerFilter::default() };
        let Some(lit) = self.ledger(&filter)?.into_iter().find(|row| row.lit.is_some()) else {
            return Ok(None);
        };
        let (lit, _) = self
            .reading(|| select(&self.connection, "firing = ?1 AND kind = 5", &[&lit.firing.0]))?;
        Ok(lit.into_iter().rev().find_map(|stored| match stored.event.what {
            What::Lit(lit) => lit.schedule,
            _ => None,
        }))
    }

    /// One event.
    ///
    /// # Errors
    /// [`JournalError::NoSuchEvent`], [`JournalError::Unread`], or when the file cannot be read.
    pub fn event(&self, id: EventId) -> Result<StoredEvent, JournalError> {
        self.reading(|| event(&self.connection, id))
    }

    /// Shows `take` every event of these firings, or of the whole shop, struck ones included, one
    /// after the other in the order of writing.
    ///
    /// # Errors
    /// The first error of `take`, or when the file cannot be read.
    pub fn each_event<E: From<JournalError>>(
        &self,
        firings: Option<&[FiringId]>,
        mut take: impl FnMut(StoredEvent) -> Result<(), E>,
    ) -> Result<(), E> {
        let ids: Vec<i64> = firings.unwrap_or_default().iter().map(|firing| firing.0).collect();
        // The events of one firing are found by the index, those of many by going through all.
        let condition = match firings {
            None => "?1 IS NOT NULL",
            Some([_]) => "firing IN (SELECT value FROM json_each(?1))",
            Some(_) => "+firing IN (SELECT value FROM json_each(?1))",
        };
        let by = format!("WHERE {condition} ORDER BY id");
        let mut taken = Ok(());
        self.reading(|| {
            let mut unread = Vec::new();
            stored::each(
                &self.connection,
                &by,
                [serde_json::json!(ids).to_string()],
                |_, read| {
                    match read {
                        Ok(stored) => taken = take(stored),
                        Err(one) => unread.push(one),
                    }
                    Ok(match taken {
                        Ok(()) => ControlFlow::Continue(()),
                        Err(_) => ControlFlow::Break(()),
                    })
                },
            )?;
            self.note(strikes(&self.connection)?.iter(), unread)
        })?;
        taken
    }

    /// The last event written.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn last_event(&self) -> Result<Option<EventId>, JournalError> {
        last_event(&self.connection).map_err(|error| self.named(error))
    }

    /// The last event of the shop itself.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn last_of_shop(&self) -> Result<Option<EventId>, JournalError> {
        let sql = "SELECT max(id) FROM events WHERE firing = 0";
        let last = || self.connection.prepare_cached(sql)?.query_row([], |row| row.get(0));
        last().map(|last: Option<i64>| last.map(EventId)).map_err(|error| self.named(error))
    }

    /// When the last event was written, by the clock of whoever wrote it.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn last_written(&self) -> Result<Option<Moment>, JournalError> {
        let sql = "SELECT at_ms + written_after_ms FROM events ORDER BY id DESC LIMIT 1";
        let last =
            || self.connection.prepare_cached(sql)?.query_row([], |row| row.get(0)).optional();
        last().map(|last| last.map(Moment)).map_err(|error| self.named(error))
    }

    /// The youngest firings that are off, at most `limit`: what a forecast may learn from.
    ///
    /// # Errors
    /// [`JournalError`] when the file cannot be read.
    pub fn past(&self, limit: u32) -> Result<Vec<Firing>, JournalError> {
        let marks = self.past_marks(limit)?;
        self.past_firings(&marks.into_iter().map(|(firing, _)| firing).collect::<Vec<_>>())
    }

    /// These firings, folded, with all of their events.
    pub(super) fn past_firings(&self, firings: &[FiringId]) -> Result<Vec<Firing>, JournalError> {
        let mut past = Vec::new();
        self.reading(|| self.each_folded(firings, |fold| past.push(fold.into_firing())))?;
        let place = |firing: &Firing| firings.iter().position(|id| *id == firing.id);
        past.sort_by_cached_key(place);
        Ok(past)
    }

    /// The firings [`Journal::past`] reads, each with its last event.
    pub(super) fn past_marks(
        &self,
        limit: u32,
    ) -> Result<Vec<(FiringId, Option<Uid>)>, JournalError> {
        let filter = LedgerFilter { limit: Some(limit), ..LedgerFilter::default() };
        self.reading(|| {
            let rows = ledger(&self.connection, &filter, &folding::names(&self.connection)?)?;
            let over = rows.into_iter().filter(|row| row.off.is_some());
            over.map(|row| Ok((row.firing, latest(&self.connection, row.firing)?))).collect()
        })
    }

    /// The firings the filter wants, the youngest first. Each line has its seal; what cannot be read
    /// among the events behind the first of them is noted as well, and behind the others by whoever keeps
    /// watch, piece by piece: a ledger of ten years has millions.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn ledger(&self, filter: &LedgerFilter) -> Result<Vec<LedgerRow>, JournalError> {
        self.reading(|| {
            let rows = ledger(&self.connection, filter, &folding::names(&self.connection)?)?;
            self.look_behind(&rows[..rows.len().min(LOOKED_BEHIND)])?;
            Ok(rows)
        })
    }

    /// Several reads that see the same state of the file.
    pub(super) fn reading<T>(
        &self,
        read: impl FnOnce() -> Result<T, JournalError>,
    ) -> Result<T, JournalError> {
        let snapshot = || -> Result<T, JournalError> {
            let transaction = self.connection.unchecked_transaction()?;
            let result = read()?;
            transaction.finish()?;
            Ok(result)
        };
        snapshot().map_err(|error| error.named(&self.path))
    }
}

/// One event by its number.
pub(super) fn event(connection: &Connection, id: EventId) -> Result<StoredEvent, JournalError> {
    let (found, unread) = select(connection, "id = ?1", &[&id.0])?;
    match (found.into_iter().next(), unread.into_iter().next()) {
        (Some(stored), _) => Ok(stored),
        (None, Some(unread)) => Err(JournalError::Unread(unread)),
        (None, None) => Err(JournalError::NoSuchEvent(id)),
    }
}

/// Every firing that has events.
pub(super) fn all_firings(connection: &Connection) -> rusqlite::Result<Vec<FiringId>> {
    let mut statement =
        connection.prepare("SELECT DISTINCT firing FROM events WHERE firing <> 0")?;
    let firings = statement.query_map([], |row| row.get(0).map(FiringId))?;
    firings.collect()
}

/// Every strike of the shop.
pub(super) fn strikes(connection: &Connection) -> Result<Vec<Event>, JournalError> {
    let (events, _) = select(connection, "kind = 17 ORDER BY id", &[])?;
    Ok(events.into_iter().map(|stored| stored.event).collect())
}

/// The mark of the newest event of a firing.
fn latest(connection: &Connection, firing: FiringId) -> rusqlite::Result<Option<Uid>> {
    let newest = "SELECT max(id) FROM events WHERE firing = ?1";
    let mark = format!("SELECT uid FROM events NOT INDEXED WHERE id = ({newest})");
    let mut mark = connection.prepare_cached(&mark)?;
    mark.query_row([firing.0], |row| row.get(0).map(Uid)).optional()
}

fn last_event(connection: &Connection) -> Result<Option<EventId>, JournalError> {
    let last: Option<i64> =
        connection.prepare_cached("SELECT max(id) FROM events")?.query_row([], |row| row.get(0))?;
    Ok(last.map(EventId))
}

/// The firings that are not closed, by their index and, the youngest, by their table as well: no
/// damage to either hides one.
pub(super) fn open_firings(connection: &Connection) -> Result<Vec<FiringId>, JournalError> {
    const OPEN: &str = "state <> 'closed' AND void = 0";
    let ids = |sql: String| -> rusqlite::Result<Vec<FiringId>> {
        let mut statement = connection.prepare_cached(&sql)?;
        let ids = statement.query_map([], |row| row.get(0).map(FiringId))?;
        ids.collect()
    };
    let open = ids(format!("SELECT id FROM firings WHERE {OPEN} ORDER BY id"))?;
    let young = "id > (SELECT max(id) FROM firings) - 64";
    let young = ids(format!("SELECT id FROM firings NOT INDEXED WHERE {young} AND {OPEN}"))?;
    let is_open = |firing: &FiringId| -> Result<bool, JournalError> {
        let row = summary(connection, *firing)?;
        Ok(row.is_some_and(|row| row.state != State::Closed))
    };
    for firing in open.iter().chain(&young) {
        if !open.contains(firing) || !is_open(firing)? {
            return Err(unsound(format!("firing {firing} is open and not listed as such")).into());
        }
    }
    Ok(open)
}
