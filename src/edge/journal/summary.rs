//! The summary of firings: what their events add up to, kept beside them in the same transaction.

use rusqlite::{Connection, OptionalExtension, Row, params};

use super::error::JournalError;
use crate::firing::{Firing, FiringId, Standing, State};
use crate::units::Moment;

/// As much of the summary as decides which step is possible.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Brief {
    pub kiln: String,
    pub state: State,
    pub lit: Option<Moment>,
    pub off: Option<Moment>,
    pub drawn: Option<Moment>,
}

impl Brief {
    pub(super) fn standing(&self) -> Standing<'_> {
        Standing {
            kiln: &self.kiln,
            state: self.state,
            lit: self.lit,
            off: self.off,
            drawn: self.drawn,
        }
    }

    /// Whether a reading at this moment leaves the summary as it is.
    pub(super) fn is_unmoved_by_reading(&self, at: Moment) -> bool {
        self.lit.is_some_and(|lit| at >= lit)
            && matches!(
                self.state,
                State::Lit | State::Watching | State::Dropped | State::Cooling | State::Aborted
            )
    }
}

pub(super) fn brief(
    connection: &Connection,
    firing: FiringId,
) -> Result<Option<Brief>, JournalError> {
    let mut statement = connection.prepare_cached(
        "SELECT kiln, state, lit_ms, off_ms, drawn_ms FROM firings WHERE id = ?1",
    )?;
    Ok(statement.query_row([firing.0], brief_from_row).optional()?)
}

/// The firings that are planned, burn or cool in this kiln.
pub(super) fn open_in(connection: &Connection, kiln: &str) -> Result<Vec<FiringId>, JournalError> {
    let mut statement = connection.prepare_cached(
        "SELECT id, kiln FROM firings
         WHERE state <> 'closed' AND void = 0 AND state <> 'drawn'",
    )?;
    let mut rows = statement.query([])?;
    let mut there = Vec::new();
    while let Some(row) = rows.next()? {
        if crate::kiln::same_name(&row.get::<_, String>(1)?, kiln) {
            there.push(FiringId(row.get(0)?));
        }
    }
    Ok(there)
}

fn brief_from_row(row: &Row<'_>) -> rusqlite::Result<Brief> {
    let moment = |column| row.get::<_, Option<i64>>(column).map(|ms| ms.map(Moment));
    Ok(Brief {
        kiln: row.get(0)?,
        state: State::named(row.get_ref(1)?.as_str()?).unwrap_or_default(),
        lit: moment(2)?,
        off: moment(3)?,
        drawn: moment(4)?,
    })
}

/// Writes down what a firing adds up to.
pub(super) fn store(
    connection: &Connection,
    firing: &Firing,
    begun: Moment,
) -> Result<(), JournalError> {
    let standing = firing.standing();
    let outcome = firing.outcome.as_ref().map(|(_, outcome)| outcome);
    let ms = |moment: Option<Moment>| moment.map(|moment| moment.0);
    let mut statement = connection.prepare_cached(
        "INSERT OR REPLACE INTO firings (id, kiln, load_type, cone, cone_family, state, void,
            begun_ms, lit_ms, seen_down_ms, off_ms, drawn_ms, result, note, loss, oddities)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16)",
    )?;
    statement.execute(params![
        firing.id.0,
        firing.kiln,
        firing.load_type,
        firing.pack.map(|pack| pack.target.name()),
        firing.pack.map(|pack| pack.family.name()),
        firing.state.name(),
        firing.is_void(),
        begun.0,
        ms(firing.lit),
        ms(firing.seen_down()),
        ms(standing.off),
        ms(firing.drawn),
        outcome.map(|outcome| outcome.verdict.name()),
        outcome.map_or("", |outcome| &outcome.note),
        outcome.and_then(|outcome| outcome.loss),
        firing.oddities.len() as i64,
    ])?;
    Ok(())
}
