//! Every firing of a shop, folded in one pass over the file: what learning from the past and
//! rebuilding start from.

use std::collections::{BTreeSet, HashMap};
use std::thread;

use rusqlite::Connection;

use super::error::JournalError;
use super::{Journal, ReadOnly, read, stored};
use crate::edge::form::Kind;
use crate::firing::fold::struck_events;
use crate::firing::{Event, EventId, Firing, FiringId};
use crate::units::{Celsius, Moment};

/// Fewer events than this are not worth a second thread.
const WORTH_A_THREAD: i64 = 100_000;

impl Journal {
    /// Every firing, folded, in the order of their numbers.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn all_firings(&self) -> Result<Vec<Firing>, JournalError> {
        self.fold_all().map_err(|error| self.named(error))
    }

    /// Nothing is ever changed up to an event that is there, so two connections that stop at the
    /// same one see the same past, each its half of it.
    fn fold_all(&self) -> Result<Vec<Firing>, JournalError> {
        let struck = all_struck(&self.connection)?;
        let last = self.last_event()?.map_or(0, |id| id.0);
        let middle = if last < WORTH_A_THREAD { last } else { last / 2 };
        let path = &self.path;
        let (first_half, second_half) = thread::scope(|scope| {
            let second = scope.spawn(|| -> Result<Halves, JournalError> {
                if middle == last {
                    return Ok(Halves::new());
                }
                let other = Journal::open_reading(path, ReadOnly::NoPermission)?;
                fold_range(&other.connection, middle + 1, last, &struck)
            });
            let first = fold_range(&self.connection, 1, middle, &struck);
            (first, second.join().expect("the second half does not panic"))
        });
        let mut pending = first_half?;
        for (id, of_firing) in second_half? {
            pending.entry(id).and_modify(|known| known.late = true).or_insert(of_firing);
        }
        let mut firings = Vec::with_capacity(pending.len());
        for (id, pending) in pending {
            let mut firing = if pending.late {
                read::fold(&self.connection, FiringId(id))?.into_firing()
            } else {
                pending.firing
            };
            firing.id = FiringId(id);
            firings.push(firing);
        }
        firings.sort_unstable_by_key(|firing| firing.id);
        Ok(firings)
    }
}

type Halves = HashMap<i64, Pending>;

/// A firing being folded, and where its last event was.
#[derive(Default)]
struct Pending {
    firing: Firing,
    last: Option<(Moment, EventId)>,
    /// An event came that happened before one already taken in, or in the other half: the events
    /// of this firing have to be sorted.
    late: bool,
}

fn fold_range(
    connection: &Connection,
    first: i64,
    last: i64,
    struck: &BTreeSet<EventId>,
) -> Result<Halves, JournalError> {
    let mut pending = Halves::new();
    let mut statement = connection.prepare_cached(
        "SELECT id, firing, uid, at_ms, written_after_ms, offset_min, writer, kind, version,
            celsius, seal, body
         FROM events WHERE id BETWEEN ?1 AND ?2 ORDER BY id",
    )?;
    let mut rows = statement.query([first, last])?;
    while let Some(row) = rows.next()? {
        let id = EventId(row.get(0)?);
        let (frame, content, seal) = stored::raw_row(row)?;
        if frame.firing == 0 || seal != frame.seal(&content) || struck.contains(&id) {
            continue;
        }
        let of_firing = pending.entry(frame.firing).or_default();
        let at = Moment(frame.at_ms);
        of_firing.late |= of_firing.last.is_some_and(|last| last > (at, id));
        of_firing.last = Some((at, id));
        if of_firing.late {
            continue;
        }
        match content.celsius {
            Some(celsius) if content.kind == Kind::Reading as i64 => {
                of_firing.firing.step_reading(id, at, Celsius(celsius));
            }
            _ => {
                if let Some(what) = content.read() {
                    of_firing.firing.step(id, at, &what);
                }
            }
        }
    }
    Ok(pending)
}

/// Every event of the shop that is taken back.
fn all_struck(connection: &Connection) -> Result<BTreeSet<EventId>, JournalError> {
    let strikes: Vec<Event> = read::strikes(connection)?;
    Ok(struck_events(&strikes))
}
