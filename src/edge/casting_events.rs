//! Events of the casting bench as JSON Lines, described in `assets/casting-events.md`. As strict
//! as the firing record: an unknown key or a value that is not allowed is an error that names the line.

use std::sync::Arc;

use chrono::{FixedOffset, Utc};
use chrono_tz::Tz;

use super::fields::{FieldError, Fields};
use super::form;
use super::record::{self, Problem, RecordError};
use super::time_entry::InZone;
use crate::casting::{Event, What as Bench};
use crate::firing::{Kind, What};
use crate::hours::{ShopHours, Staffed};
use crate::units::Moment;
use crate::words::Zone;

const EXAMPLE: &str =
    r#"{"at": "2026-03-14T09:10:00+01:00", "event": "poured", "mould": "A3", "body": "porcelain"}"#;

/// The kinds of events there are in such a file.
pub const KINDS: [Kind; 7] = [
    Kind::Mould,
    Kind::MouldRenamed,
    Kind::Room,
    Kind::Poured,
    Kind::Drained,
    Kind::Check,
    Kind::Hours,
];
/// Hours alone have it.
pub const ZONE: (&str, &str) =
    ("zone", "The time zone by its name, or the offset from UTC; UTC if left out");

/// What stands in a file.
#[derive(Debug, Default)]
pub struct Noted {
    pub events: Vec<Event>,
    /// The hours, each from when on they hold.
    pub hours: Vec<(Moment, Staffed)>,
}

impl Noted {
    /// The hours that hold at this moment.
    pub fn staffed(&self, now: Moment) -> Option<Staffed> {
        let known = self.hours.iter().filter(|(at, _)| *at <= now);
        known.max_by_key(|(at, _)| *at).map(|(_, staffed)| staffed.clone())
    }
}

/// Every event of a file.
///
/// # Errors
/// Every line that is wrong, in order.
pub fn read(path: &std::path::Path) -> Result<Noted, Vec<RecordError>> {
    let (mut noted, mut errors) = (Noted::default(), Vec::new());
    for line in record::lines_by(record::open(path)?, read_line) {
        match line {
            Ok((at, Line::Bench(what))) => noted.events.push(Event { at, what }),
            Ok((at, Line::Hours(staffed))) => noted.hours.push((at, staffed)),
            // Nothing has happened yet.
            Err(RecordError { problem: Problem::Empty, .. }) => {}
            Err(error) => errors.push(error),
        }
    }
    if errors.is_empty() { Ok(noted) } else { Err(errors) }
}

enum Line {
    Bench(Bench),
    Hours(Staffed),
}

fn read_line(_: usize, text: &str) -> Result<(Moment, Line), Problem> {
    let mut fields = Fields::new(record::read_object(text, EXAMPLE)?);
    let at = record::required_time("at", &mut fields)?.moment;
    let kind = fields.choice("event", &KINDS, Kind::name)?;
    let named = match kind {
        Kind::Hours => fields.optional_text(ZONE.0, "\"Europe/London\"")?,
        _ => None,
    };
    let line = match form::read(kind, fields)? {
        What::Hours(said) => {
            let mut hours = ShopHours::default();
            hours.set(said);
            let zone = zone(named.as_deref().unwrap_or("UTC"))?;
            Line::Hours(Staffed { hours, zone })
        }
        What::Bench(what) => Line::Bench(what),
        _ => unreachable!("a kind of the list"),
    };
    Ok((at, line))
}

fn zone(name: &str) -> Result<Arc<dyn Zone + Send + Sync>, FieldError> {
    let name = name.trim();
    if let Ok(named) = name.parse::<Tz>() {
        return Ok(Arc::new(InZone(named)));
    }
    match name.parse::<FixedOffset>() {
        _ if name == "Z" => Ok(Arc::new(InZone(Utc))),
        Ok(offset) => Ok(Arc::new(InZone(offset))),
        Err(_) => {
            let reason =
                format!("there is no time zone \"{name}\": write it like Europe/London or +01:00");
            Err(FieldError::Refused { key: "zone", reason })
        }
    }
}
