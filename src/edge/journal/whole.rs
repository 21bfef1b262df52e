//! The open firings of a shop, folded in one pass over the end of the file.

use std::collections::HashMap;
use std::mem::take;
use std::sync::{Arc, Mutex, PoisonError};

use rusqlite::Connection;
use rusqlite::functions::{Aggregate, Context, FunctionFlags};

use super::error::JournalError;
use super::stored::{self, Content};
use super::{Journal, read};
use crate::firing::Kind;
use crate::firing::{EventId, Firing, FiringId, Who};
use crate::units::{Celsius, Moment};

impl Journal {
    /// The open firings, folded. Those that burn at the same time are written between one another,
    /// so one pass over that end of the file reads them several times as fast as one after the
    /// other; those that need more than that (an event was struck, came late or cannot be read, or
    /// the firing was left open long ago) are read on their own.
    pub(super) fn fold_open(&self) -> Result<Vec<Firing>, JournalError> {
        let open = read::open_firings(&self.connection)?;
        let End { counts, range } = self.end_with(&open)?;
        let mut folded = match range {
            Some((first, last)) => {
                self.look_between((first, last))?;
                fold_range(&self.connection, first, last)?
            }
            None => Folded::new(),
        };
        let whole = |id: i64, of_firing: &Pending| {
            !of_firing.late && counts.get(&id).is_some_and(|count| *count == of_firing.taken)
        };
        let firings = open.into_iter().map(|id| match folded.remove(&id.0) {
            Some(of_firing) if whole(id.0, &of_firing) => Ok(Firing { id, ..of_firing.firing }),
            _ => Ok(self.fold_of(id)?.into_firing()),
        });
        firings.collect()
    }

    /// The end of the file in which the events of these firings are.
    pub(super) fn end_with(&self, firings: &[FiringId]) -> Result<End, JournalError> {
        // One after the other takes half the time of one question with groups.
        let mut statement = self
            .connection
            .prepare_cached("SELECT min(id), count(*) FROM events WHERE firing = ?1")?;
        let (mut counts, mut first, mut events) = (HashMap::new(), i64::MAX, 0);
        for FiringId(id) in firings {
            let (first_of_it, count): (Option<i64>, i64) =
                statement.query_row([id], |row| Ok((row.get(0)?, row.get(1)?)))?;
            counts.insert(*id, count);
            first = first.min(first_of_it.unwrap_or(first));
            events += count;
        }
        let last = self.last_event()?.map_or(0, |id| id.0);
        let is_worth_it = events > 0 && last - first < WORTH_A_PASS * events;
        Ok(End { counts, range: is_worth_it.then_some((first, last)) })
    }
}

/// How many events are passed over for one that is wanted before it is quicker to look each up.
const WORTH_A_PASS: i64 = 3;

/// The end of the file in which the events of some firings are.
pub(super) struct End {
    /// How many events each firing has.
    counts: HashMap<i64, i64>,
    /// The first and the last event to pass over, where that is quicker than to look each up.
    pub(super) range: Option<(i64, i64)>,
}

type Folded = HashMap<i64, Pending>;

/// A firing being folded, and where its last event was.
#[derive(Default)]
struct Pending {
    firing: Firing,
    last: Option<(Moment, EventId)>,
    /// An event came that happened before one already taken in: the events of this firing have to
    /// be sorted.
    late: bool,
    /// How many of its events were taken in, and are no strike of another.
    taken: i64,
}

/// Folds the events from `first` to `last` within the database's own loop over the rows: handing
/// every row out one value at a time would take longer than everything that is done with them.
fn fold_range(connection: &Connection, first: i64, last: i64) -> Result<Folded, JournalError> {
    let folded = Arc::new(Mutex::new(Folded::new()));
    let step = FoldStep { folded: Arc::clone(&folded), writers: stored::writers(connection)? };
    let flags = FunctionFlags::SQLITE_UTF8 | FunctionFlags::SQLITE_DIRECTONLY;
    connection.create_aggregate_function(FOLD, stored::ROW_COLUMNS, flags, step)?;
    // The rows come in the order of their numbers, and if ever they did not, the events of a
    // firing would count as late and be sorted.
    let row = stored::ROW;
    let sql = format!("SELECT {FOLD}({row}) FROM events NOT INDEXED WHERE id BETWEEN ?1 AND ?2");
    let done = connection.query_row(&sql, [first, last], |_| Ok(()));
    connection.remove_function(FOLD, stored::ROW_COLUMNS)?;
    done?;
    let mut folded = folded.lock().unwrap_or_else(PoisonError::into_inner);
    Ok(take(&mut *folded))
}

const FOLD: &str = "fold_firings";

/// What SQLite calls for every row. What comes out is left in the field: it is no SQL value.
struct FoldStep {
    folded: Arc<Mutex<Folded>>,
    writers: HashMap<i64, Who>,
}

impl Aggregate<Folded, bool> for FoldStep {
    fn init(&self, _: &mut Context<'_>) -> rusqlite::Result<Folded> {
        Ok(Folded::new())
    }

    fn step(&self, row: &mut Context<'_>, folded: &mut Folded) -> rusqlite::Result<()> {
        let id = EventId(row.get_raw(0).as_i64()?);
        let (frame, content, seal) = stored::raw(|column| Ok(row.get_raw(column)))?;
        if frame.firing != 0 && seal == frame.seal(&content) {
            let of_firing = folded.entry(frame.firing).or_default();
            let who = self.writers.get(&frame.writer).unwrap_or(&stored::NOBODY);
            of_firing.take_in(id, Moment(frame.at_ms), who, &content);
        }
        Ok(())
    }

    fn finalize(&self, _: &mut Context<'_>, folded: Option<Folded>) -> rusqlite::Result<bool> {
        *self.folded.lock().unwrap_or_else(PoisonError::into_inner) = folded.unwrap_or_default();
        Ok(true)
    }
}

impl Pending {
    fn take_in(&mut self, id: EventId, at: Moment, who: &Who, content: &Content) {
        self.late |= self.last.is_some_and(|last| last > (at, id));
        self.last = Some((at, id));
        if self.late {
            return;
        }
        match content.celsius {
            Some(celsius) if content.kind == Kind::Reading as i64 => {
                self.firing.step_reading(id, at, who, Celsius(celsius));
                self.taken += 1;
            }
            _ => {
                if let Some(what) = content.read() {
                    self.firing.step(id, at, who, &what);
                    self.taken += i64::from(content.kind != Kind::Struck as i64);
                }
            }
        }
    }
}
