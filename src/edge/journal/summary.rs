//! The summary of firings: what their events add up to, kept beside them in the same transaction, and the
//! ledger, which is read from it.

use rusqlite::{Connection, OptionalExtension, Params, Row, params};

use super::error::{JournalError, unsound};
use crate::cone::{Cone, Family};
use crate::firing::{Firing, FiringId, Standing, State, Verdict};
use crate::kiln::names::Names;
use crate::kiln::same_name;
use crate::text::marked;
use crate::units::Moment;

/// Which firings of the ledger are wanted; an empty filter is all of them.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LedgerFilter {
    pub kiln: Option<String>,
    pub load_type: Option<String>,
    pub result: Option<Verdict>,
    /// Lit (or, if not lit, begun) at or after.
    pub since: Option<Moment>,
    /// Lit (or, if not lit, begun) before.
    pub until: Option<Moment>,
    /// At most this many, the newest.
    pub limit: Option<u32>,
}

/// One firing of the ledger, from its summary.
#[derive(Debug, Clone, PartialEq)]
pub struct LedgerRow {
    pub firing: FiringId,
    pub kiln: String,
    pub load_type: String,
    pub cone: Option<Cone>,
    pub family: Option<Family>,
    pub state: State,
    /// When it was lit, or until then its first event.
    pub begun: Moment,
    pub lit: Option<Moment>,
    pub seen_down: Option<Moment>,
    /// Switched off, or given up.
    pub off: Option<Moment>,
    pub drawn: Option<Moment>,
    pub verdict: Option<Verdict>,
    pub note: String,
    pub loss: Option<f64>,
    pub oddities: u32,
}

impl LedgerRow {
    /// As much of it as decides which step is possible.
    pub(super) fn standing(&self) -> Standing<'_> {
        let LedgerRow { kiln, state, lit, off, drawn, .. } = self;
        Standing { kiln, state: *state, lit: *lit, off: *off, drawn: *drawn }
    }

    /// Whether a reading at this moment leaves it as it is.
    pub(super) fn is_unmoved_by_reading(&self, at: Moment) -> bool {
        self.lit.is_some_and(|lit| at >= lit)
            && matches!(
                self.state,
                State::Lit | State::Watching | State::Dropped | State::Cooling | State::Aborted
            )
    }
}

/// Number of firings below which all of them are read faster than anybody notices.
const WORTH_AN_INDEX: i64 = 1_000;

/// The summary of firings, in the order [`ledger_row`] expects.
const SUMMARY: &str = "SELECT id, kiln, load_type, cone, cone_family, state, begun_ms, lit_ms,
    seen_down_ms, off_ms, drawn_ms, result, note, loss, oddities, coalesce(seal = row_seal(id, kiln,
    load_type, cone, cone_family, state, void, begun_ms, lit_ms, seen_down_ms, off_ms, drawn_ms,
    result, note, loss, oddities), 1) FROM firings";

/// The summary of a firing, void or not, if it has one.
pub(super) fn summary(
    connection: &Connection,
    firing: FiringId,
) -> Result<Option<LedgerRow>, JournalError> {
    let mut statement = connection.prepare_cached(&format!("{SUMMARY} WHERE id = ?1"))?;
    Ok(statement.query_row([firing.0], ledger_row).optional()?)
}

/// The firings the filter wants, the youngest first, of the kiln as it is called now.
pub(super) fn ledger(
    connection: &Connection,
    filter: &LedgerFilter,
    names: &Names,
) -> Result<Vec<LedgerRow>, JournalError> {
    let kiln = filter.kiln.as_deref().map(|kiln| names.now(kiln));
    // Of few firings all are read, whatever their index says.
    let last = "SELECT max(id) FROM firings";
    let last: Option<i64> = connection.prepare_cached(last)?.query_row([], |row| row.get(0))?;
    let how = if last.is_some_and(|last| last > WORTH_AN_INDEX) { "" } else { "NOT INDEXED" };
    let mut statement = connection.prepare_cached(&format!(
        "{SUMMARY} {how}
         WHERE void = 0
            AND (?1 IS NULL OR marked(kiln) = ?1 COLLATE NOCASE)
            AND (?2 IS NULL OR marked(load_type) = ?2 COLLATE NOCASE)
            AND (?3 IS NULL OR result = ?3)
            AND (?4 IS NULL OR begun_ms >= ?4)
            AND (?5 IS NULL OR begun_ms < ?5)
         ORDER BY begun_ms DESC, id DESC
         LIMIT ?6"
    ))?;
    let rows = statement.query_map(
        rusqlite::params![
            kiln,
            filter.load_type,
            filter.result.map(Verdict::name),
            filter.since.map(|since| since.0),
            filter.until.map(|until| until.0),
            filter.limit.map_or(-1, i64::from),
        ],
        ledger_row,
    )?;
    Ok(rows.collect::<rusqlite::Result<_>>()?)
}

fn ledger_row(row: &Row<'_>) -> rusqlite::Result<LedgerRow> {
    let moment = |column| row.get::<_, Option<i64>>(column).map(|ms| ms.map(Moment));
    let text = |column| row.get::<_, Option<String>>(column);
    if !row.get::<_, bool>(15)? {
        return Err(unsound(format!("the summary of firing {} is damaged", row.get::<_, i64>(0)?)));
    }
    Ok(LedgerRow {
        firing: FiringId(row.get(0)?),
        kiln: marked(row.get(1)?),
        load_type: marked(row.get(2)?),
        cone: text(3)?.and_then(|name| Cone::parse(&name).ok()),
        family: text(4)?.and_then(|name| Family::parse(&name).ok()),
        state: text(5)?.and_then(|name| State::named(&name)).unwrap_or_default(),
        begun: Moment(row.get(6)?),
        lit: moment(7)?,
        seen_down: moment(8)?,
        off: moment(9)?,
        drawn: moment(10)?,
        verdict: text(11)?
            .and_then(|name| Verdict::ALL.into_iter().find(|verdict| verdict.name() == name)),
        note: marked(row.get(12)?),
        loss: row.get(13)?,
        oddities: row.get(14)?,
    })
}

/// The firings that are planned, burn or cool in this kiln.
pub(super) fn open_in(connection: &Connection, kiln: &str) -> Result<Vec<FiringId>, JournalError> {
    let open = "state <> 'closed' AND void = 0 AND state <> 'drawn'";
    in_kiln(connection, kiln, open, [])
}

/// Every firing of this kiln.
pub(super) fn of_kiln(connection: &Connection, kiln: &str) -> Result<Vec<FiringId>, JournalError> {
    in_kiln(connection, kiln, "true", [])
}

/// No firing takes longer from its lighting until it is drawn, ms.
const LONGEST_MS: i64 = 30 * 24 * 3_600_000;

/// Another firing that was in this kiln, from lit to drawn, at some time between these.
pub(super) fn fired_between(
    connection: &Connection,
    of: &Firing,
    (from, to): (Moment, Moment),
) -> Result<Option<FiringId>, JournalError> {
    let then = "begun_ms BETWEEN ?1 AND ?2 AND void = 0 AND id <> ?3 AND lit_ms <= ?2
        AND coalesce(drawn_ms, iif(state = 'closed', off_ms, NULL), ?4) > ?4";
    let values = params![from.0 - LONGEST_MS, to.0, of.id.0, from.0];
    Ok(in_kiln(connection, &of.kiln, then, values)?.first().copied())
}

/// The firings of this kiln, however its name is written, that fulfil a condition.
fn in_kiln(
    connection: &Connection,
    kiln: &str,
    condition: &str,
    values: impl Params,
) -> Result<Vec<FiringId>, JournalError> {
    let mut statement =
        connection.prepare_cached(&format!("SELECT id, kiln FROM firings WHERE {condition}"))?;
    let named = |row: &Row<'_>| Ok((FiringId(row.get(0)?), row.get::<_, String>(1)?));
    let found = statement.query_map(values, named)?;
    let found = found.collect::<rusqlite::Result<Vec<_>>>()?;
    Ok(found.into_iter().filter(|(_, name)| same_name(name, kiln)).map(|(id, _)| id).collect())
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
