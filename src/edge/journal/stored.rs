//! An event as a row of the journal, and back.
//!
//! The row is not the core type: it carries the kind as a number, the version its fields were
//! written in, and a body that is only read when somebody asks for it.

use rusqlite::Row;
use serde_json::{Map, Value};

use super::{StoredEvent, Uid};
use crate::edge::fields::Fields;
use crate::edge::form::{self, Kind};
use crate::firing::{Event, EventId, FiringId, What, Who};
use crate::units::{Celsius, Moment, Span};

/// The columns a row is read from, in the order [`from_row`] expects.
pub(super) const COLUMNS: &str = "events.id, firing, uid, at_ms, written_after_ms, offset_min, events.kind, version, celsius, body, writers.kind, writers.name";

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
    fn read(&self) -> Option<What> {
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
        form::read(kind, Fields::new(fields)).ok()
    }
}

pub(super) fn writer(who: &Who) -> (&'static str, &str) {
    match who {
        Who::Person(name) => ("person", name),
        Who::Probe(name) => ("probe", name),
        Who::Program => ("program", ""),
    }
}

fn who(kind: &str, name: String) -> Option<Who> {
    match kind {
        "person" => Some(Who::Person(name)),
        "probe" => Some(Who::Probe(name)),
        "program" => Some(Who::Program),
        _ => None,
    }
}

/// The event of a row, or the number of one whose content cannot be read.
pub(super) fn from_row(row: &Row<'_>) -> rusqlite::Result<Result<StoredEvent, EventId>> {
    let id = EventId(row.get(0)?);
    let firing: i64 = row.get(1)?;
    let at = Moment(row.get(3)?);
    let content = Content {
        kind: row.get(6)?,
        version: row.get(7)?,
        celsius: row.get(8)?,
        body: row.get(9)?,
    };
    let written = at + Span(row.get(4)?);
    let who = who(row.get_ref(10)?.as_str().unwrap_or_default(), row.get(11)?);
    let (Some(what), Some(who)) = (content.read(), who) else { return Ok(Err(id)) };
    Ok(Ok(StoredEvent {
        event: Event {
            id,
            firing: (firing != 0).then_some(FiringId(firing)),
            at,
            written,
            who,
            what,
        },
        uid: Uid::from_number(row.get(2)?),
        offset_minutes: row.get(5)?,
    }))
}
