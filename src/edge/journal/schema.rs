//! The tables of a shop's file, as an append-only list of migrations.
//!
//! A file's `user_version` is the number of migrations it has been through. A migration that has
//! been released is never edited; what changes is a new one at the end. Files of every old version
//! are kept as test data and have to open for ever.

use rusqlite::{Connection, TransactionBehavior};

use super::error::{JournalError, unsound};

/// Marks the file as one of ours, for `file` and for [`super::Journal::open`].
pub(super) const APPLICATION_ID: i32 = 0x5370_7968;

/// Each entry takes a file one version further.
///
/// A reading takes about 60 bytes, index included: small numbers are stored small, so times are a
/// number and a distance, names are kept once in `writers`, and only the rare kinds have a `body`.
const MIGRATIONS: [&str; 7] = [
    "
CREATE TABLE writers (
    id   INTEGER PRIMARY KEY,
    kind TEXT NOT NULL,                   -- person, probe, program
    name TEXT NOT NULL,
    UNIQUE (kind, name)
) STRICT;

CREATE TABLE kinds (
    id   INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE
) STRICT;
INSERT INTO kinds (id, name) VALUES
    (1, 'reading'), (2, 'kiln'), (3, 'load_type'), (4, 'packed'), (5, 'lit'),
    (6, 'probe_silent'), (7, 'look'), (8, 'turned'), (9, 'note'), (10, 'off'), (11, 'aborted'),
    (12, 'resumed'), (13, 'drawn'), (14, 'outcome'), (15, 'acknowledged'), (16, 'shelved'),
    (17, 'struck');

CREATE TABLE events (
    id               INTEGER PRIMARY KEY, -- in the order of writing, without gaps
    firing           INTEGER NOT NULL,    -- 0 for events of the shop itself
    uid              INTEGER NOT NULL,    -- made by the writer; the same again is a retry
    at_ms            INTEGER NOT NULL,    -- when it happened, milliseconds since 1970 in UTC
    written_after_ms INTEGER NOT NULL,    -- how much later it was written
    offset_min       INTEGER NOT NULL,    -- what the clock on the wall was ahead of UTC
    writer           INTEGER NOT NULL REFERENCES writers (id),
    kind             INTEGER NOT NULL,
    version          INTEGER NOT NULL,    -- of this kind's fields
    celsius          REAL,                -- of a reading
    seal             INTEGER NOT NULL,    -- a check sum over the rest, against a failing disk
    body             TEXT                 -- the fields of any other kind, as a JSON object
) STRICT;
CREATE UNIQUE INDEX events_of_firing ON events (firing, uid);
CREATE INDEX openings ON events (uid) WHERE kind IN (4, 5);
CREATE INDEX strikes ON events (id) WHERE kind = 17;

CREATE TRIGGER events_are_never_changed BEFORE UPDATE ON events
BEGIN SELECT RAISE(ABORT, 'events are never changed: strike the event instead'); END;
CREATE TRIGGER events_are_never_deleted BEFORE DELETE ON events
BEGIN SELECT RAISE(ABORT, 'events are never deleted: strike the event instead'); END;

-- What the events of a firing add up to, so that nothing has to be added up at the start. It can
-- be made anew from the events at any time.
CREATE TABLE firings (
    id            INTEGER PRIMARY KEY,
    kiln          TEXT NOT NULL,
    load_type     TEXT NOT NULL,
    cone          TEXT,
    cone_family   TEXT,
    state         TEXT NOT NULL,
    void          INTEGER NOT NULL,       -- 1 when every event that began it was struck
    begun_ms      INTEGER NOT NULL,       -- when it was lit, or until then its first event
    lit_ms        INTEGER,
    seen_down_ms  INTEGER,
    off_ms        INTEGER,                -- off, or given up
    drawn_ms      INTEGER,
    result        TEXT,
    note          TEXT NOT NULL,
    loss          REAL,
    oddities      INTEGER NOT NULL
) STRICT;
CREATE INDEX open_firings ON firings (id) WHERE state <> 'closed' AND void = 0;
CREATE INDEX youngest_firings ON firings (begun_ms);
",
    "
INSERT INTO kinds (id, name) VALUES (18, 'accepted');

-- What a firing that is off comes down to for the review, as a JSON object. It can be made anew
-- from the events at any time, and holds until the firing gets another one.
CREATE TABLE facts (
    firing       INTEGER PRIMARY KEY,
    version      INTEGER NOT NULL,        -- of the way of digesting
    correction_c REAL NOT NULL,           -- what was added to its readings
    body         TEXT NOT NULL
) STRICT;
CREATE TRIGGER facts_hold_until_the_next_event AFTER INSERT ON events WHEN NEW.firing <> 0
BEGIN DELETE FROM facts WHERE firing = NEW.firing; END;
",
    "
INSERT INTO kinds (id, name) VALUES
    (19, 'probe_changed'), (24, 'called'), (25, 'marked'), (26, 'glow');
",
    "
-- A check sum over the rest of the row, against a failing disk; nothing in rows of a program that
-- does not know it.
ALTER TABLE writers ADD COLUMN seal INTEGER;
UPDATE writers SET seal = row_seal(kind, name);
ALTER TABLE firings ADD COLUMN seal INTEGER;
UPDATE firings SET seal = row_seal(id, kiln, load_type, cone, cone_family, state, void, begun_ms,
    lit_ms, seen_down_ms, off_ms, drawn_ms, result, note, loss, oddities);
ALTER TABLE facts ADD COLUMN seal INTEGER;
UPDATE facts SET seal = row_seal(version, correction_c, body);

-- The events of the shop itself once more, to be counted: none is left out by a damaged index.
CREATE INDEX shop_events ON events (id) WHERE firing = 0;

-- Numbers no event has any more, since a rescue could not read it.
CREATE TABLE lost (
    first INTEGER PRIMARY KEY,
    last  INTEGER NOT NULL
) STRICT;
INSERT INTO lost (first, last)
    SELECT before + 1, id - 1 FROM (SELECT id, lag(id, 1, 0) OVER (ORDER BY id) AS before FROM events)
    WHERE id > before + 1;

-- Events a check found damaged: every command tells them from then on.
CREATE TABLE damaged (event INTEGER PRIMARY KEY) STRICT;
",
    "
INSERT INTO kinds (id, name) VALUES
    (40, 'hours'), (41, 'closed'), (42, 'mould'), (43, 'room'), (44, 'poured'), (45, 'drained'),
    (46, 'check'), (47, 'mould_renamed'), (50, 'kiln_renamed'), (51, 'kiln_retired'), (52, 'kiln_returned'),
    (53, 'kiln_note'), (60, 'lot');
",
    "
INSERT INTO kinds (id, name) VALUES (61, 'planned');
",
    "
INSERT INTO kinds (id, name) VALUES (62, 'limits');
",
];

/// What makes a file of an earlier version, open for reading only, look as if its rows were sealed.
pub(super) const AS_IF_SEALED: &str = "
CREATE TEMP VIEW writers AS SELECT *, row_seal(kind, name) AS seal FROM main.writers;
CREATE TEMP VIEW firings AS SELECT *, row_seal(id, kiln, load_type, cone, cone_family, state, void,
    begun_ms, lit_ms, seen_down_ms, off_ms, drawn_ms, result, note, loss, oddities) AS seal
    FROM main.firings;
";

/// The version this program writes.
pub const VERSION: i64 = MIGRATIONS.len() as i64;

/// The version of a file; 0 for one that has no tables yet.
pub(super) fn version(connection: &Connection) -> rusqlite::Result<i64> {
    let version: i64 = connection.pragma_query_value(None, "user_version", |row| row.get(0))?;
    match version {
        0.. => Ok(version),
        _ => Err(unsound(format!("it says it is of version {version}"))),
    }
}

/// Whether the file has the seals and the second ways that came with version 4: one that is open for
/// reading only may be older.
pub(super) fn is_sealed(connection: &Connection) -> rusqlite::Result<bool> {
    Ok(version(connection)? >= 4)
}

/// What a file is to us.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Owner {
    Ours,
    /// Nothing is in it yet.
    Nobody,
    Another,
    /// It has our tables, but not our mark.
    OursUnmarked,
}

pub(super) fn owner(connection: &Connection) -> rusqlite::Result<Owner> {
    let id: i32 = connection.pragma_query_value(None, "application_id", |row| row.get(0))?;
    let count = |condition: &str| -> rusqlite::Result<i64> {
        let sql = format!("SELECT count(*) FROM sqlite_schema WHERE {condition}");
        connection.query_row(&sql, [], |row| row.get(0))
    };
    let ours = count("name IN ('events', 'kinds', 'writers', 'firings')")?;
    Ok(match (id, ours, count("true")?) {
        (APPLICATION_ID, ..) => Owner::Ours,
        (0, _, 0) => Owner::Nobody,
        (_, 4, _) => Owner::OursUnmarked,
        _ => Owner::Another,
    })
}

/// Takes the file to the present version. Another process may be doing the same.
pub(super) fn migrate(connection: &mut Connection) -> Result<(), JournalError> {
    if version(connection)? == VERSION {
        return Ok(());
    }
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let from = usize::try_from(version(&transaction)?).unwrap_or(0);
    for migration in MIGRATIONS.iter().skip(from) {
        transaction.execute_batch(migration)?;
    }
    transaction.pragma_update(None, "application_id", APPLICATION_ID)?;
    transaction.pragma_update(None, "user_version", VERSION)?;
    transaction.commit()?;
    Ok(())
}
