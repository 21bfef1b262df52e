//! The summary of firings: what their events add up to, kept beside them in the same transaction.

use rusqlite::{Connection, params};

use super::error::JournalError;
use crate::firing::{Firing, FiringId};
use crate::units::Moment;

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

/// Every firing of this kiln.
pub(super) fn of_kiln(connection: &Connection, kiln: &str) -> Result<Vec<FiringId>, JournalError> {
    let mut statement = connection.prepare("SELECT id, kiln FROM firings")?;
    let mut rows = statement.query([])?;
    let mut its = Vec::new();
    while let Some(row) = rows.next()? {
        if crate::kiln::same_name(&row.get::<_, String>(1)?, kiln) {
            its.push(FiringId(row.get(0)?));
        }
    }
    Ok(its)
}

/// No firing takes longer from its lighting until it is drawn, ms.
const LONGEST_MS: i64 = 30 * 24 * 3_600_000;

/// Another firing that was in this kiln, from lit to drawn, at some time between these.
pub(super) fn fired_between(
    connection: &Connection,
    of: &Firing,
    (from, to): (Moment, Moment),
) -> Result<Option<FiringId>, JournalError> {
    let mut statement = connection.prepare_cached(
        "SELECT id, kiln FROM firings
         WHERE begun_ms BETWEEN ?1 AND ?2 AND void = 0 AND id <> ?3 AND lit_ms <= ?2
            AND coalesce(drawn_ms, iif(state = 'closed', off_ms, NULL), ?4) > ?4",
    )?;
    let mut rows = statement.query(params![from.0 - LONGEST_MS, to.0, of.id.0, from.0])?;
    while let Some(row) = rows.next()? {
        if crate::kiln::same_name(&row.get::<_, String>(1)?, &of.kiln) {
            return Ok(Some(FiringId(row.get(0)?)));
        }
    }
    Ok(None)
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
            begun_ms, lit_ms, seen_down_ms, off_ms, drawn_ms, result, note, loss, oddities, seal)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16,
            row_seal(?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16))",
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
