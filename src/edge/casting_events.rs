//! Events of the casting bench as JSON Lines, described in `assets/casting-events.md`. As strict
//! as the firing record: an unknown key or a value that is not allowed is an error that names the line.

use std::sync::Arc;

use chrono::{FixedOffset, MappedLocalTime, NaiveDateTime, Offset as _, Utc};
use chrono_tz::Tz;
use serde_json::Value;

use super::fields::{FieldError, Fields};
use super::record::{self, Problem, RecordError};
use super::time_entry::InZone;
use crate::casting::{Event, Found, Kind, What};
use crate::hours::{Hours, Open, People, ShopHours, Staffed, TimeOfDay, WeekDays};
use crate::units::{Celsius, Moment};
use crate::words::Zone;

const EXAMPLE: &str =
    r#"{"at": "2026-03-14T09:10:00+01:00", "event": "poured", "mould": "A3", "body": "porcelain"}"#;
/// Temperatures of a room, C.
const ROOM_C: (f64, f64) = (-20.0, 60.0);

/// Every event of a file.
///
/// # Errors
/// Every line that is wrong, in order.
pub fn read(path: &std::path::Path) -> Result<Vec<Event>, Vec<RecordError>> {
    let (mut events, mut errors) = (Vec::new(), Vec::new());
    for line in record::lines_by(record::open(path)?, read_line) {
        match line {
            Ok(event) => events.push(event),
            // Nothing has happened yet.
            Err(RecordError { problem: Problem::Empty, .. }) => {}
            Err(error) => errors.push(error),
        }
    }
    if errors.is_empty() { Ok(events) } else { Err(errors) }
}

fn read_line(_: usize, text: &str) -> Result<Event, Problem> {
    let mut fields = Fields::new(record::read_object(text, EXAMPLE)?);
    let at = record::required_time("at", &mut fields)?.moment;
    let kind = fields.choice("event", &Kind::ALL, Kind::name)?;
    let what = what(kind, &mut fields)?;
    fields.finish()?;
    Ok(Event { at, what })
}

fn what(kind: Kind, fields: &mut Fields) -> Result<What, FieldError> {
    let text = |key: &'static str, fields: &mut Fields| {
        let example = kind.field(key).example;
        fields.text(key, example)
    };
    let number = |key: &'static str, range, advice, fields: &mut Fields| {
        let example = kind.field(key).example;
        let number = fields.optional_number(key, example, range, advice)?;
        number.ok_or_else(|| fields.missing(key, example))
    };
    Ok(match kind {
        Kind::Mould => {
            let mould = text("mould", fields)?;
            let parts = fields.optional_count("parts", kind.field("parts").example)?;
            fields.optional_count("pieces", kind.field("pieces").example)?;
            What::Mould { mould, parts }
        }
        Kind::Room => {
            let scale = "check the number, it is in C";
            let celsius = Celsius(number("celsius", ROOM_C, scale, fields)?);
            let humidity = number("rh", (0.0, 1.0), "write 0.58 for 58 %", fields)?;
            What::Room { celsius, humidity }
        }
        Kind::Poured => What::Poured { mould: text("mould", fields)?, body: text("body", fields)? },
        Kind::Drained => What::Drained { mould: text("mould", fields)? },
        Kind::Check => {
            let found = fields.choice("result", &Found::ALL, Found::name);
            What::Check { mould: text("mould", fields)?, found: found? }
        }
        Kind::Hours => {
            let example = kind.field("days").example;
            let days = fields.value("days", example, "a list of days of the week", days)?;
            let time = |key: &'static str, fields: &mut Fields| {
                let example = kind.field(key).example;
                fields.value(key, example, "a time of day", time_of_day)
            };
            let (from, to) = (time("from", fields)?, time("to", fields)?);
            let name = fields.optional_text("zone", kind.field("zone").example)?;
            let zone = zone(name.as_deref().unwrap_or("UTC"))?;
            let mut hours = ShopHours::default();
            hours.set(Hours { days, open: Open { from, to, people: People(1) } });
            What::Hours(Staffed { hours, zone })
        }
    })
}

/// Their names, with ranges such as "mon-sat", as text or as a list; or numbers from 1 (Monday) to 7, from
/// 0 where there is a 0.
fn days(value: &Value) -> Option<WeekDays> {
    let listed = match value {
        Value::String(text) => return text.parse().ok(),
        other => other.as_array()?,
    };
    let first = if listed.iter().any(|day| day.as_u64() == Some(0)) { 0 } else { 1 };
    let mut days = WeekDays::default();
    for listed in listed {
        match listed {
            Value::String(text) => {
                let WeekDays(named) = text.parse().ok()?;
                days.0.iter_mut().zip(named).for_each(|(day, named)| *day |= named);
            }
            number => {
                *days.0.get_mut((number.as_u64()? as usize).checked_sub(first)?)? = true;
            }
        }
    }
    Some(days)
}

fn time_of_day(value: &Value) -> Option<TimeOfDay> {
    value.as_str()?.parse().ok()
}

/// A time zone of the shop's own.
#[derive(Debug)]
enum ShopZone {
    Named(Tz),
    Offset(FixedOffset),
}

fn zone(name: &str) -> Result<Arc<dyn Zone + Send + Sync>, FieldError> {
    let name = name.trim();
    let named = || name.parse::<Tz>().ok().map(ShopZone::Named);
    let offset = || name.parse::<FixedOffset>().ok().map(ShopZone::Offset);
    let utc = || (name == "Z").then(|| ShopZone::Offset(Utc.fix()));
    match named().or_else(offset).or_else(utc) {
        Some(zone) => Ok(Arc::new(zone)),
        None => {
            let reason =
                format!("there is no time zone \"{name}\": write it like Europe/London or +01:00");
            Err(FieldError::Refused { key: "zone", reason })
        }
    }
}

impl Zone for ShopZone {
    fn wall(&self, at: Moment) -> NaiveDateTime {
        match self {
            ShopZone::Named(zone) => InZone(zone).wall(at),
            ShopZone::Offset(offset) => InZone(offset).wall(at),
        }
    }

    fn moments(&self, wall: NaiveDateTime) -> MappedLocalTime<Moment> {
        match self {
            ShopZone::Named(zone) => InZone(zone).moments(wall),
            ShopZone::Offset(offset) => InZone(offset).moments(wall),
        }
    }
}
