//! Every firing of a shop, folded in one pass over the file: what learning from the past and
//! rebuilding start from.

use std::collections::{BTreeSet, HashMap};

use rusqlite::{Connection, Row};

use super::error::JournalError;
use super::stored::{self, Content, Frame};
use super::{Journal, read};
use crate::edge::form::Kind;
use crate::firing::fold::struck_events;
use crate::firing::{Event, EventId, Firing, FiringId};
use crate::units::{Celsius, Moment};

impl Journal {
    /// Every firing, folded, in the order of their numbers.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn all_firings(&self) -> Result<Vec<Firing>, JournalError> {
        fold_all(&self.connection).map_err(|error| self.named(error))
    }
}

/// A firing being folded, and where its last event was.
#[derive(Default)]
struct Pending {
    firing: Firing,
    last: Option<(Moment, EventId)>,
    /// An event came that happened before one already taken in: the events have to be sorted.
    late: bool,
}

fn fold_all(connection: &Connection) -> Result<Vec<Firing>, JournalError> {
    let struck = all_struck(connection)?;
    let mut pending: HashMap<i64, Pending> = HashMap::new();
    let mut statement = connection.prepare_cached(
        "SELECT id, firing, uid, at_ms, written_after_ms, offset_min, writer, kind, version,
            celsius, seal, body
         FROM events ORDER BY id",
    )?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let (id, frame, content, seal) = read_row(row)?;
        if frame.firing == 0 || seal != frame.seal(&content) || struck.contains(&id) {
            continue;
        }
        let of_firing = pending.entry(frame.firing).or_default();
        let at = Moment(frame.at_ms);
        if of_firing.last.is_some_and(|last| last > (at, id)) {
            of_firing.late = true;
        }
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
    let mut firings = Vec::with_capacity(pending.len());
    for (id, pending) in pending {
        let mut firing = if pending.late {
            read::fold(connection, FiringId(id))?.into_firing()
        } else {
            pending.firing
        };
        firing.id = FiringId(id);
        firings.push(firing);
    }
    firings.sort_unstable_by_key(|firing| firing.id);
    Ok(firings)
}

/// Every event of the shop that is taken back.
fn all_struck(connection: &Connection) -> Result<BTreeSet<EventId>, JournalError> {
    let strikes: Vec<Event> = read::strikes(connection)?;
    Ok(struck_events(&strikes))
}

fn read_row(row: &Row<'_>) -> rusqlite::Result<(EventId, Frame, Content, i64)> {
    let (frame, content, seal) = stored::raw_row(row)?;
    Ok((EventId(row.get(0)?), frame, content, seal))
}
