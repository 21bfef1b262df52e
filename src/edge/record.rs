//! The firing record: JSON Lines, one event a line; the form of import, export and `advise`.
//!
//! The format is described for its users in `assets/firing-record.md`. Reading is strict: a line
//! with an unknown key, an unknown event or a value that is not allowed is an error that names the
//! line, the key, the value and what to write instead. Nothing of a record with an error is used.

use std::fs::File;
use std::io::{self, BufRead, BufReader, Read, Write};
use std::path::Path;
use std::{fmt, iter, str};

use chrono::{DateTime, FixedOffset, SecondsFormat};
use serde::de::{Deserialize, Deserializer, MapAccess, Visitor};
use serde_json::{Map, Value};

use super::fields::{FieldError, Fields};
use super::form;
use super::journal::Uid;
use super::plain::escaped;
use crate::firing::Kind;
use crate::firing::{Event, EventId, FiringId, What, Who};
use crate::text::marked;
use crate::units::Moment;

/// One line of a record.
#[derive(Debug, Clone, PartialEq)]
pub struct RecordLine {
    /// Counted from 1.
    pub line: usize,
    pub at: Time,
    pub written: Option<Time>,
    /// The event's number in the shop it was exported from.
    pub id: Option<EventId>,
    pub uid: Option<Uid>,
    /// The firing's number in the shop it was exported from.
    pub firing: Option<FiringId>,
    pub who: Who,
    pub what: What,
}

/// A moment as it was written down: with the offset from UTC that held there and then.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Time {
    pub moment: Moment,
    pub offset_minutes: i32,
}

/// What is wrong with one line.
#[derive(Debug, Clone, PartialEq)]
pub struct RecordError {
    /// Counted from 1; 0 when it is about the whole record.
    pub line: usize,
    pub problem: Problem,
}

#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Problem {
    #[error("the record has no events: it needs one JSON object a line, the first one \"lit\"")]
    Empty,
    #[error("it cannot be read ({reason}): check its name, and that it is text in UTF-8")]
    Unreadable { reason: String },
    #[error("it is longer than {LONGEST_LINE} bytes, which no event needs: shorten what it says")]
    TooLong,
    #[error("this is not JSON ({reason}): write one event a line, for example {example}")]
    NotJson { reason: String, example: &'static str },
    #[error("this is {seen}, not an object: write one event a line, for example {example}")]
    NotAnObject { seen: String, example: &'static str },
    #[error("key \"{key}\" is there twice: leave one of them out")]
    Twice { key: String },
    #[error(
        "key \"{key}\" is \"{seen}\", which is no time with date and offset: write it like 2026-03-14T09:10:00+01:00"
    )]
    NoTime { key: &'static str, seen: String },
    #[error("key \"{key}\" is {seen}, outside the years 1970 to 2199: check the date")]
    FarTime { key: &'static str, seen: String },
    #[error(transparent)]
    Field(#[from] FieldError),
}

/// More than any event of a shop has to say, bytes.
const LONGEST_LINE: u64 = 1 << 20;

const EXAMPLE: &str = r#"{"at": "2026-03-14T09:10:00+01:00", "event": "reading", "celsius": 712}"#;

impl From<io::Error> for Problem {
    fn from(error: io::Error) -> Problem {
        Problem::Unreadable { reason: error.to_string() }
    }
}

impl fmt::Display for RecordError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.line {
            0 => write!(f, "{}", self.problem),
            line => write!(f, "line {line}: {}", self.problem),
        }
    }
}

impl std::error::Error for RecordError {}

impl Time {
    pub fn at(moment: Moment, offset_minutes: i32) -> Time {
        Time { moment, offset_minutes }
    }

    /// As a date and time of that place; UTC when the offset is impossible.
    pub fn local(self) -> DateTime<FixedOffset> {
        let utc = DateTime::from_timestamp_millis(self.moment.0).unwrap_or_default();
        let offset = FixedOffset::east_opt(self.offset_minutes.saturating_mul(60));
        utc.with_timezone(&offset.unwrap_or_else(|| FixedOffset::east_opt(0).expect("UTC")))
    }
}

/// RFC 3339, to the millisecond where there is one.
impl fmt::Display for Time {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.local().to_rfc3339_opts(SecondsFormat::AutoSi, false))
    }
}

/// The lines of a record, read one after the other.
pub fn lines(record: impl BufRead) -> impl Iterator<Item = Result<RecordLine, RecordError>> {
    lines_by(record, read_line)
}

/// The lines of any file of events by a reader of one; blank ones are skipped. Behind what cannot be
/// read nothing is looked for.
pub fn lines_by<T>(
    mut record: impl BufRead,
    read_line: fn(usize, &str) -> Result<T, Problem>,
) -> impl Iterator<Item = Result<T, RecordError>> {
    let (mut line, mut text, mut empty, mut over) = (0, Vec::new(), true, false);
    iter::from_fn(move || {
        while !over {
            text.clear();
            line += 1;
            let read = (&mut record).take(LONGEST_LINE + 1).read_until(b'\n', &mut text);
            let said = match (read, str::from_utf8(&text)) {
                (Ok(0), _) => {
                    over = true;
                    let none = RecordError { line: 0, problem: Problem::Empty };
                    return empty.then_some(Err(none));
                }
                (Ok(length), _) if length as u64 > LONGEST_LINE => Err(Problem::TooLong),
                (Ok(_), Ok(said)) => {
                    let said = said.trim_end_matches(['\n', '\r']);
                    Ok(if line == 1 { said.trim_start_matches('\u{feff}') } else { said })
                }
                (Err(error), _) => Err(error.into()),
                (_, Err(error)) => Err(io::Error::other(error).into()),
            };
            over = said.is_err();
            if !said.as_ref().is_ok_and(|said| said.trim().is_empty()) {
                empty = false;
                let read = said.and_then(|said| read_line(line, said));
                return Some(read.map_err(|problem| RecordError { line, problem }));
            }
        }
        None
    })
}

/// Hands the lines of a record to `take`, without holding any.
///
/// # Errors
/// Every line that is wrong, in order; then what was taken is not to be used.
pub fn read<T>(
    record: impl BufRead,
    take: impl FnOnce(&mut dyn Iterator<Item = RecordLine>) -> T,
) -> Result<T, Vec<RecordError>> {
    let mut errors = Vec::new();
    let mut right = lines(record).filter_map(|line| line.map_err(|wrong| errors.push(wrong)).ok());
    let taken = take(&mut right);
    drop(right);
    if errors.is_empty() { Ok(taken) } else { Err(errors) }
}

/// Opens the file of a record.
///
/// # Errors
/// That it cannot be read.
pub fn open(path: &Path) -> Result<BufReader<File>, Vec<RecordError>> {
    let unreadable = |error: io::Error| vec![RecordError { line: 0, problem: error.into() }];
    File::open(path).map(BufReader::new).map_err(unreadable)
}

fn read_line(line: usize, text: &str) -> Result<RecordLine, Problem> {
    let mut fields = Fields::new(read_object(text, EXAMPLE)?);
    let at = required_time("at", &mut fields)?;
    let kind = fields.choice("event", &Kind::ALL, Kind::name)?;
    let id = fields.optional_whole("id", "17")?.map(EventId);
    let uid = uid(&mut fields)?;
    let firing = fields.optional_whole("firing", "3")?.map(FiringId);
    let written = time("written", &mut fields)?;
    let name = fields.text_or_empty("who", "\"Anna\"")?;
    let who = match fields.optional_choice("by", &WRITERS, |writer| writer)? {
        Some("probe") => Who::Probe(name),
        Some("program") => Who::Program,
        _ => Who::Person(name),
    };
    let what = form::read(kind, fields)?;
    Ok(RecordLine { line, at, written, id, uid, firing, who, what })
}

/// A mark as [`Uid`] gives them out.
fn uid(fields: &mut Fields) -> Result<Option<Uid>, FieldError> {
    let seen = fields.optional_whole("uid", "123456789")?;
    let uid = seen.map(Uid::from_number);
    if uid.map(Uid::number) == seen {
        return Ok(uid);
    }
    let reason = "it is outside 0 to 140737488355327: write it as it was exported, or leave it out";
    Err(FieldError::Refused { key: "uid", reason: reason.into() })
}

const TIME_EXAMPLE: &str = "\"2026-03-14T09:10:00+01:00\"";
const WRITERS: [&str; 3] = ["person", "probe", "program"];

/// The time under this key.
///
/// # Errors
/// [`Problem`] when it is missing, or no time with date and offset.
pub fn required_time(key: &'static str, fields: &mut Fields) -> Result<Time, Problem> {
    time(key, fields)?.ok_or_else(|| fields.missing(key, TIME_EXAMPLE).into())
}

fn time(key: &'static str, fields: &mut Fields) -> Result<Option<Time>, Problem> {
    let Some(seen) = fields.optional_text(key, TIME_EXAMPLE)? else {
        return Ok(None);
    };
    let Ok(read) = DateTime::parse_from_rfc3339(&seen) else {
        return Err(Problem::NoTime { key, seen });
    };
    let moment = Moment(read.timestamp_millis());
    let years = (Moment(0), Moment(7_258_118_400_000));
    if moment < years.0 || moment >= years.1 {
        return Err(Problem::FarTime { key, seen });
    }
    Ok(Some(Time { moment, offset_minutes: read.offset().local_minus_utc() / 60 }))
}

/// The keys and values of the object on a line; `example` is such a line.
///
/// # Errors
/// [`Problem`] when it is no object, or has a key twice.
pub fn read_object(text: &str, example: &'static str) -> Result<Vec<(String, Value)>, Problem> {
    match serde_json::from_str::<Pairs>(text) {
        Ok(Pairs(pairs)) => {
            let mut keys: Vec<&str> = pairs.iter().map(|(key, _)| key.as_str()).collect();
            keys.sort_unstable();
            if let Some(twice) = keys.windows(2).find(|pair| pair[0] == pair[1]) {
                return Err(Problem::Twice { key: marked(twice[0].to_owned()) });
            }
            Ok(pairs)
        }
        Err(error) => match serde_json::from_str::<Value>(text) {
            Ok(value) => Err(Problem::NotAnObject { seen: super::fields::shown(&value), example }),
            Err(_) => Err(Problem::NotJson { reason: without_line(&error.to_string()), example }),
        },
    }
}

/// The parser counts lines within the one line it is given; the column is what helps.
fn without_line(reason: &str) -> String {
    reason.replace(" at line 1 column ", " at column ")
}

/// The keys and values of an object in the order they are written, keys twice included.
struct Pairs(Vec<(String, Value)>);

impl<'de> Deserialize<'de> for Pairs {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Collect;
        impl<'de> Visitor<'de> for Collect {
            type Value = Pairs;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("an object")
            }
            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Pairs, A::Error> {
                let mut pairs = Vec::new();
                while let Some(pair) = map.next_entry()? {
                    pairs.push(pair);
                }
                Ok(Pairs(pairs))
            }
        }
        deserializer.deserialize_map(Collect)
    }
}

/// The line as an event of one firing. Without a number it gets that of its line.
impl From<RecordLine> for Event {
    fn from(line: RecordLine) -> Event {
        Event {
            id: line.id.unwrap_or(EventId(line.line as i64)),
            firing: Some(line.firing.unwrap_or_default()),
            at: line.at.moment,
            written: line.written.unwrap_or(line.at).moment,
            who: line.who,
            what: line.what,
        }
    }
}

/// Writes one line; what is not known is left out.
///
/// # Errors
/// Whatever `out` answers.
pub fn write(out: &mut (impl Write + ?Sized), line: &RecordLine) -> io::Result<()> {
    let mut object = Map::new();
    object.insert("at".into(), line.at.to_string().into());
    object.insert("event".into(), Kind::of(&line.what).name().into());
    object.append(&mut form::write(&line.what));
    let (by, who) = match &line.who {
        Who::Person(name) => (None, name.as_str()),
        Who::Probe(name) => (Some("probe"), name.as_str()),
        Who::Program => (Some("program"), ""),
    };
    if !who.is_empty() {
        object.insert("who".into(), who.into());
    }
    if let Some(by) = by {
        object.insert("by".into(), by.into());
    }
    let mut known = |key: &str, value: Option<Value>| {
        if let Some(value) = value {
            object.insert(key.into(), value);
        }
    };
    known("written", line.written.map(|written| written.to_string().into()));
    known("firing", line.firing.map(|firing| firing.0.into()));
    known("id", line.id.map(|id| id.0.into()));
    known("uid", line.uid.map(|uid| uid.number().into()));
    writeln!(out, "{}", escaped(Value::Object(object).to_string()))
}
