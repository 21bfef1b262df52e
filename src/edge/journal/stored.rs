//! An event as a row of the journal, and back.
//!
//! The row is not the core type: it carries the kind as a number, the version its fields were
//! written in, and a body that is only read when somebody asks for it.

use std::collections::BTreeMap;
use std::ops::ControlFlow;

use rusqlite::types::ValueRef;
use rusqlite::{Connection, OptionalExtension, Params, Row, params};
use serde_json::{Map, Value};

use super::error::{JournalError, unsound};
use super::{StoredEvent, Uid};
use crate::edge::fields::Fields;
use crate::edge::form;
use crate::firing::Kind;
use crate::firing::{Event, EventId, FiringId, Unread, What, Who};
use crate::text::marked;
use crate::units::{Celsius, Moment, Span};

/// The columns of a row as [`raw`] numbers them.
pub(super) const ROW: &str = "id, firing, uid, at_ms, written_after_ms, offset_min, writer, kind, version, celsius, seal, body";
pub(super) const ROW_COLUMNS: i32 = 12;

/// What an event's content is stored as.
#[derive(Debug, PartialEq)]
pub(super) struct Content {
    pub kind: i64,
    pub version: i64,
    pub celsius: Option<f64>,
    pub body: Option<String>,
}

impl Content {
    pub(super) fn of(what: &What) -> Content {
        let kind = Kind::of(what);
        let (celsius, body) = match what {
            What::Reading(celsius) => (Some(celsius.0), None),
            other => (None, Some(Value::Object(form::write(other)).to_string())),
        };
        Content { kind: kind as i64, version: kind.version(), celsius, body }
    }

    /// `None` when this version of the program cannot read it.
    pub(super) fn read(&self) -> Option<What> {
        let kind = Kind::numbered(self.kind)?;
        if self.version > kind.version() {
            return None;
        }
        if kind == Kind::Reading {
            return self
                .celsius
                .filter(|celsius| celsius.is_finite())
                .map(Celsius)
                .map(What::Reading);
        }
        let fields: Map<String, Value> = serde_json::from_str(self.body.as_deref()?).ok()?;
        form::read(kind, Fields::lenient(fields)).ok()
    }
}

/// A check sum of 32 bits over the values of a row of another table than that of the events.
pub(super) fn row_seal<'v>(values: impl Iterator<Item = ValueRef<'v>>) -> i64 {
    let mut hash = 0xcbf2_9ce4_8422_2325_u64;
    let mut mix = |bytes: &[u8]| {
        for byte in bytes {
            hash = (hash ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3);
        }
    };
    for value in values {
        match value {
            ValueRef::Null => mix(&[0]),
            ValueRef::Integer(number) => mix(&number.to_le_bytes()),
            ValueRef::Real(number) => mix(&number.to_bits().to_le_bytes()),
            ValueRef::Text(text) | ValueRef::Blob(text) => {
                mix(&(text.len() as u64).to_le_bytes());
                mix(text);
            }
        }
    }
    i64::from((hash >> 32) as i32)
}

/// The numbers of a row beside its content.
#[derive(Debug, Clone, Copy)]
pub(super) struct Frame {
    pub firing: i64,
    pub uid: i64,
    pub at_ms: i64,
    pub written_after_ms: i64,
    pub offset_min: i64,
    pub writer: i64,
}

impl Frame {
    /// A check sum of 16 bits over a row, so that a flipped bit is noticed and never folded.
    /// It guards against a failing disk, not against somebody who means it.
    pub(super) fn seal(&self, content: &Content) -> i64 {
        let celsius = content.celsius.map_or(0, |celsius| celsius.to_bits() as i64 ^ 1);
        let numbers = [
            self.firing,
            self.uid,
            self.at_ms,
            self.written_after_ms,
            self.offset_min << 32 ^ self.writer,
            content.kind << 32 ^ content.version,
            celsius,
        ];
        let mut mixed = 0x9e37_79b9_7f4a_7c15_u64;
        let mut mix = |word: u64| {
            mixed = (mixed.rotate_left(23) ^ word).wrapping_mul(0xff51_afd7_ed55_8ccd);
        };
        numbers.into_iter().for_each(|number| mix(number as u64));
        let body = content.body.as_deref().unwrap_or_default().as_bytes();
        mix(body.len() as u64);
        for chunk in body.chunks(8) {
            let mut word = [0; 8];
            word[..chunk.len()].copy_from_slice(chunk);
            mix(u64::from_le_bytes(word));
        }
        i64::from((mixed >> 48) as i16)
    }
}

/// Writes a row; without an id it gets the next one.
pub(super) fn insert(
    connection: &Connection,
    id: Option<i64>,
    frame: &Frame,
    content: &Content,
) -> rusqlite::Result<()> {
    let mut statement = connection.prepare_cached(
        "INSERT INTO events (id, firing, uid, at_ms, written_after_ms, offset_min, writer, kind,
            version, celsius, seal, body)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12)",
    )?;
    statement.execute(params![
        id,
        frame.firing,
        frame.uid,
        frame.at_ms,
        frame.written_after_ms,
        frame.offset_min,
        frame.writer,
        content.kind,
        content.version,
        content.celsius,
        frame.seal(content),
        content.body,
    ])?;
    Ok(())
}

/// A writer of whom only the number is left.
pub(super) fn add_lost_writer(connection: &Connection, writer: i64) -> rusqlite::Result<()> {
    add_writer(connection, writer, "person", &format!("lost name {writer}"))
}

/// A writer under this number, if neither it nor the name is taken.
pub(super) fn add_writer(
    connection: &Connection,
    id: i64,
    kind: &str,
    name: &str,
) -> rusqlite::Result<()> {
    connection
        .prepare_cached(
            "INSERT OR IGNORE INTO writers (id, kind, name, seal)
             VALUES (?1, ?2, ?3, row_seal(?2, ?3))",
        )?
        .execute((id, kind, name))?;
    Ok(())
}

pub(super) fn writer(who: &Who) -> (&'static str, &str) {
    match who {
        Who::Person(name) => ("person", name),
        Who::Probe(name) => ("probe", name),
        Who::Program => ("program", ""),
    }
}

/// Who wrote what is read, each looked up once: a firing has hundreds of readings of one probe. A writer of
/// a kind that this program does not know is none.
struct Writers<'c> {
    connection: &'c Connection,
    known: BTreeMap<i64, Option<Who>>,
}

impl Writers<'_> {
    fn who(&mut self, writer: i64) -> rusqlite::Result<Option<Who>> {
        if let Some(who) = self.known.get(&writer) {
            return Ok(who.clone());
        }
        let sql = "SELECT kind, name FROM writers WHERE id = ?1";
        let mut statement = self.connection.prepare_cached(sql)?;
        let found = statement.query_row([writer], |row| {
            let name = || row.get(1).map(marked);
            Ok(match row.get_ref(0)?.as_str()? {
                "person" => Some(Who::Person(name()?)),
                "probe" => Some(Who::Probe(name()?)),
                "program" => Some(Who::Program),
                _ => None,
            })
        });
        let who =
            found.optional()?.ok_or_else(|| unsound(format!("there is no writer {writer}")))?;
        self.known.insert(writer, who.clone());
        Ok(who)
    }
}

/// Shows each event that comes by this, as what stands behind the table's name in the question, with its
/// row; one whose content cannot be read by what is known of it. It ends where `take` breaks off.
pub(super) fn each(
    connection: &Connection,
    by: &str,
    values: impl Params,
    mut take: impl FnMut(&Row<'_>, Result<StoredEvent, Unread>) -> Result<ControlFlow<()>, JournalError>,
) -> Result<(), JournalError> {
    let mut statement = connection.prepare_cached(&format!("SELECT {ROW} FROM events {by}"))?;
    let mut writers = Writers { connection, known: BTreeMap::new() };
    let mut rows = statement.query(values)?;
    while let Some(row) = rows.next()? {
        if take(row, from_row(row, &mut writers)?)?.is_break() {
            break;
        }
    }
    Ok(())
}

/// A row with its columns in the order of the table: what frames it, its content and its seal.
pub(super) fn raw_row(row: &Row<'_>) -> rusqlite::Result<(Frame, Content, i64)> {
    raw(|column| row.get_ref(column))
}

/// The same from wherever its values come, which are asked for by the number of the column.
#[inline]
pub(super) fn raw<'v>(
    value: impl Fn(usize) -> rusqlite::Result<ValueRef<'v>>,
) -> rusqlite::Result<(Frame, Content, i64)> {
    let number = |column| Ok::<i64, rusqlite::Error>(value(column)?.as_i64()?);
    let frame = Frame {
        firing: number(1)?,
        uid: number(2)?,
        at_ms: number(3)?,
        written_after_ms: number(4)?,
        offset_min: number(5)?,
        writer: number(6)?,
    };
    let content = Content {
        kind: number(7)?,
        version: number(8)?,
        celsius: value(9)?.as_f64_or_null()?,
        body: value(11)?.as_str_or_null()?.map(str::to_owned),
    };
    Ok((frame, content, number(10)?))
}

/// Whether a damaged row would be whole if it were of this firing.
pub(super) fn would_be_of(row: &Row<'_>, firing: FiringId) -> rusqlite::Result<bool> {
    let (frame, content, seal) = raw_row(row)?;
    Ok(seal == Frame { firing: firing.0, ..frame }.seal(&content))
}

/// The event of a row, or what is known of one whose content cannot be read.
fn from_row(
    row: &Row<'_>,
    writers: &mut Writers<'_>,
) -> rusqlite::Result<Result<StoredEvent, Unread>> {
    let id = EventId(row.get(0)?);
    let (frame, content, seal) = raw_row(row)?;
    let at = Moment(frame.at_ms);
    let firing = (frame.firing != 0).then_some(FiringId(frame.firing));
    let is_whole = seal == frame.seal(&content);
    let kind = Kind::numbered(content.kind);
    let unread = || Unread {
        event: id,
        firing,
        kiln: String::new(),
        at,
        kind: kind.map(Kind::name),
        newer: is_whole && kind.is_none_or(|kind| content.version > kind.version()),
        by_summary: false,
    };
    if !is_whole {
        return Ok(Err(unread()));
    }
    let who = writers.who(frame.writer)?;
    let (Some(what), Some(who)) = (content.read(), who) else { return Ok(Err(unread())) };
    Ok(Ok(StoredEvent {
        event: Event { id, firing, at, written: at + Span(frame.written_after_ms), who, what },
        uid: Uid::from_number(frame.uid),
        offset_minutes: frame.offset_min as i32,
    }))
}
