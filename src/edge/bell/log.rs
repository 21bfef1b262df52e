//! What was raised, rung, delivered, answered and over: JSON Lines beside the shop's file,
//! `SHOP.rings.jsonl`.
//!
//! The journal holds what people did; this holds what the bell did. Another process that takes over
//! goes on from here, so that nothing is rung twice, and the measures are taken from here. A line
//! nobody can read (a disk was full in the middle of it) is passed over.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, BufRead, BufReader, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use chrono::{DateTime, SecondsFormat, Utc};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::Delivery;
use crate::alarm::measure::Occurrence;
use crate::alarm::{Alarm, Call, Key, Notice, Rang, Task};
use crate::edge::plain_file;
use crate::edge::whole_file::{beside, own};
use crate::firing::FiringId;
use crate::units::Moment;

/// So much of the end of the file is read to go on from, bytes: some thousand lines.
const TAIL: u64 = 1 << 20;

/// A time in the file: RFC 3339, universal time, milliseconds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Stamp(pub Moment);

/// Which alarm, and which raising of it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Of {
    pub alarm: String,
    pub firing: i64,
    pub raised: Stamp,
}

/// One line of the file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "event", rename_all = "snake_case")]
pub enum Line {
    Raised {
        at: Stamp,
        #[serde(flatten)]
        of: Of,
        kiln: String,
        priority: String,
    },
    Rang {
        at: Stamp,
        #[serde(flatten)]
        of: Of,
        first: Stamp,
        count: u32,
        /// How many alarms rang together.
        together: usize,
        late_minutes: Option<i64>,
    },
    /// One ring by one way.
    Delivery {
        at: Stamp,
        alarms: Vec<String>,
        way: String,
        person: String,
        delivered: bool,
        /// By what, or why not.
        detail: String,
        fell_back: bool,
    },
    Answered {
        at: Stamp,
        #[serde(flatten)]
        of: Of,
        who: String,
    },
    Returned {
        at: Stamp,
        #[serde(flatten)]
        of: Of,
    },
    /// What a device of the page did at an alarm, the first time that it did so.
    Device {
        at: Stamp,
        #[serde(flatten)]
        of: Of,
        device: String,
        did: Deed,
    },
    Notice {
        at: Stamp,
        notice: String,
        detail: String,
    },
}

/// What a device can do at an alarm.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Deed {
    /// It said that it sounds.
    Sounded,
    /// Somebody tapped there that they are on the way.
    Answered,
    /// Something was noted there of the firing while it rang, which may be what it asks for.
    Noted,
}

impl Serialize for Stamp {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let utc = DateTime::from_timestamp_millis(self.0.0).unwrap_or_default();
        serializer.serialize_str(&utc.to_rfc3339_opts(SecondsFormat::Millis, true))
    }
}

impl<'de> Deserialize<'de> for Stamp {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Stamp, D::Error> {
        let text = String::deserialize(deserializer)?;
        let time = DateTime::parse_from_rfc3339(&text).map_err(serde::de::Error::custom)?;
        Ok(Stamp(Moment(time.with_timezone(&Utc).timestamp_millis())))
    }
}

impl Of {
    pub fn alarm(alarm: &Alarm) -> Of {
        Of {
            alarm: alarm.key.task.name().to_owned(),
            firing: alarm.key.firing.0,
            raised: Stamp(alarm.raised),
        }
    }

    /// `None` for an alarm this version does not know.
    pub fn key(&self) -> Option<Key> {
        Some(Key { task: Task::of_alarm(&self.alarm)?, firing: FiringId(self.firing) })
    }
}

/// The file of one shop.
#[derive(Debug, Clone)]
pub struct RingLog {
    path: PathBuf,
}

impl RingLog {
    pub fn of(shop: &Path) -> RingLog {
        RingLog { path: beside(shop, ".rings.jsonl") }
    }

    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Writes lines down, each whole.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn append(&self, lines: &[Line]) -> io::Result<()> {
        if lines.is_empty() {
            return Ok(());
        }
        let mut text = Vec::new();
        for line in lines {
            serde_json::to_writer(&mut text, line)?;
            text.push(b'\n');
        }
        let mut file = plain_file::open(&self.path, own().create(true).append(true).read(true))?;
        // A half line before us (power cut, disk full) must not swallow ours.
        if ends_within_a_line(&mut file)? {
            text.insert(0, b'\n');
        }
        file.write_all(&text)
    }

    /// The end of the file.
    ///
    /// # Errors
    /// When it is there and cannot be read.
    pub fn tail(&self) -> io::Result<Vec<Line>> {
        let length = fs::metadata(&self.path).map_or(0, |found| found.len());
        // What is left of the line it lands in cannot be read, and is passed over.
        Ok(self.since(Some(length.saturating_sub(TAIL)))?.0)
    }

    /// The whole file.
    ///
    /// # Errors
    /// When it is there and cannot be read.
    pub fn all(&self) -> io::Result<Vec<Line>> {
        Ok(self.since(Some(0))?.0)
    }

    /// What was written from this place on, and the place behind it; of a file that became shorter all
    /// of it, and nothing where no place is named.
    ///
    /// # Errors
    /// When it is there and cannot be read.
    pub fn since(&self, place: Option<u64>) -> io::Result<(Vec<Line>, u64)> {
        let mut file = match plain_file::open(&self.path, own().read(true)) {
            Ok(file) => file,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok((Vec::new(), 0)),
            Err(error) => return Err(error),
        };
        let length = file.metadata()?.len();
        let place = place.map_or(length, |place| if place > length { 0 } else { place });
        file.seek(SeekFrom::Start(place))?;
        let mut lines = Vec::new();
        for line in BufReader::new(file.take(length - place)).split(b'\n') {
            lines.extend(serde_json::from_slice::<Line>(&line?));
        }
        Ok((lines, length))
    }
}

fn ends_within_a_line(file: &mut File) -> io::Result<bool> {
    if file.metadata()?.len() == 0 {
        return Ok(false);
    }
    file.seek(SeekFrom::End(-1))?;
    let mut last = [0];
    file.read_exact(&mut last)?;
    Ok(last != *b"\n")
}

/// The lines of one call.
pub fn call_lines(call: &Call, rang: impl Fn(Key) -> Option<Rang>) -> Vec<Line> {
    let line = |alarm: &Alarm| {
        let rang = rang(alarm.key)?;
        Some(Line::Rang {
            at: Stamp(call.at),
            of: Of::alarm(alarm),
            first: Stamp(rang.first),
            count: rang.count,
            together: call.alarms.len(),
            late_minutes: call.late.map(|late| late.as_minutes().round() as i64),
        })
    };
    call.alarms.iter().filter_map(line).collect()
}

pub fn delivery_line(delivery: &Delivery, at: Moment) -> Line {
    let alarms = delivery.keys.iter().map(|key| format!("{}@{}", key.task.name(), key.firing));
    let detail = match &delivery.result {
        Ok(by) => by.clone(),
        Err(error) => error.to_string(),
    };
    Line::Delivery {
        at: Stamp(at),
        alarms: alarms.collect(),
        way: delivery.target.way.name().to_owned(),
        person: delivery.target.person.clone(),
        delivered: delivery.result.is_ok(),
        detail,
        fell_back: delivery.fell_back,
    }
}

pub fn notice_line(notice: Notice, detail: String, at: Moment) -> Line {
    Line::Notice { at: Stamp(at), notice: notice.name().to_owned(), detail }
}

/// The alarms that are raised and not over, each with where it is.
pub fn open_alarms(lines: &[Line]) -> BTreeMap<Key, (Of, &str)> {
    let mut open = BTreeMap::new();
    for line in lines {
        match line {
            Line::Raised { of, kiln, .. } => {
                of.key().map(|key| open.insert(key, (of.clone(), kiln.as_str())));
            }
            Line::Answered { of, .. } | Line::Returned { of, .. } => {
                of.key().map(|key| open.remove(&key));
            }
            _ => {}
        }
    }
    open
}

/// What has been rung for alarms that are not over, to go on from.
pub fn rang(lines: &[Line]) -> Vec<Rang> {
    let mut rang: BTreeMap<Key, Rang> = BTreeMap::new();
    for line in lines {
        match line {
            Line::Rang { at, of, first, count, .. } => {
                if let Some(key) = of.key() {
                    let (raised, first, last) = (of.raised.0, first.0, at.0);
                    rang.insert(key, Rang { key, raised, first, last, count: *count });
                }
            }
            Line::Answered { of, .. } | Line::Returned { of, .. } => {
                of.key().map(|key| rang.remove(&key));
            }
            _ => {}
        }
    }
    rang.into_values().collect()
}

/// Every alarm of the file, from raised to over.
pub fn occurrences(lines: &[Line]) -> Vec<Occurrence> {
    let mut all: BTreeMap<(Key, Stamp), Occurrence> = BTreeMap::new();
    for line in lines {
        let (Line::Raised { of, .. } | Line::Answered { of, .. } | Line::Returned { of, .. }) =
            line
        else {
            continue;
        };
        let Some(key) = of.key() else { continue };
        let occurrence = all.entry((key, of.raised)).or_insert(Occurrence {
            key,
            raised: of.raised.0,
            answered: None,
            returned: None,
        });
        match line {
            Line::Answered { at, .. } => {
                occurrence.answered.get_or_insert(at.0);
            }
            Line::Returned { at, .. } => {
                occurrence.returned.get_or_insert(at.0);
            }
            _ => {}
        }
    }
    let mut all: Vec<Occurrence> = all.into_values().collect();
    all.sort_by_key(|occurrence| occurrence.raised);
    all
}
