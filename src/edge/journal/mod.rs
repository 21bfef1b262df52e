//! The journal: one SQLite file a shop, to which events are appended and from which nothing is
//! ever taken away.
//!
//! An event is durable when [`Journal::append`] returns: every commit is followed by an fsync
//! (write-ahead log, `synchronous=FULL`). Several processes may have the same file open; each
//! write is one immediate transaction, and a write repeated with the same [`Uid`] is the same
//! event. What is not here: a clock. The time of writing is an argument.
//!
//! Reading order: [`schema`] (the tables), [`stored`] (an event as a row), [`write`], [`read`];
//! what the review needs of each firing is kept by [`facts`]; [`unread`] is what could not be read; what the
//! page keeps beside the events is in [`devices`] and [`rights`].

pub mod at_path;
pub mod backup;
mod bench;
pub mod check;
pub mod correct;
pub mod daily;
pub mod device;
pub mod devices;
mod entered;
pub mod error;
mod facts;
mod folding;
mod glance;
mod import;
mod judge;
mod open;
mod pages;
pub mod past;
mod piece;
pub mod read;
pub mod rescue;
pub mod rights;
pub mod schema;
pub mod shop_files;
mod stored;
mod summary;
mod together;
pub mod unread;
pub mod write;

use std::hash::{BuildHasher, Hasher, RandomState};
use std::path::{Path, PathBuf};

use chrono::{Local, Offset, TimeZone};
use rusqlite::{Connection, OptionalExtension};

use shop_files::Which;

use crate::firing::{Event, EventId, FiringId, What, Who};
use crate::units::Moment;

pub use check::CheckReport;
pub use error::JournalError;
pub use import::{Imported, Mode};
pub use open::{Address, starters};
pub use read::PAST_FIRINGS;
pub use summary::{LedgerFilter, LedgerRow};
pub use unread::UnreadEvents;

/// The mark a writer gives an event before writing it: the same mark again is a retry.
///
/// A number from 0 to below 2^47, so that it is stored in six bytes. It is unique within a
/// firing; events of two firings may share one by chance.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Uid(i64);

const UID_MASK: i64 = (1 << 47) - 1;

impl Uid {
    /// A new mark, by chance.
    pub fn fresh() -> Uid {
        // The keys of the standard hasher come from the system's random source.
        Uid::from_number(RandomState::new().build_hasher().finish() as i64)
    }

    /// The mark with this number; higher bits are dropped.
    pub fn from_number(number: i64) -> Uid {
        Uid(number & UID_MASK)
    }

    /// A mark that follows from what is written, for events that came without one (FNV-1a).
    pub fn of_content(content: &str) -> Uid {
        let hash = content.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
        });
        Uid::from_number((hash ^ (hash >> 47)) as i64)
    }

    pub fn number(self) -> i64 {
        self.0
    }
}

/// An event that is to be written.
#[derive(Debug, Clone, PartialEq)]
pub struct NewEvent {
    pub uid: Uid,
    /// `None` for events of the shop, and for one that begins a firing (packed or lit).
    pub firing: Option<FiringId>,
    pub at: Moment,
    /// What the clock on the wall was ahead of UTC.
    pub offset_minutes: i32,
    pub who: Who,
    pub what: What,
}

impl NewEvent {
    /// With a fresh mark and the offset of this machine's time zone.
    pub fn new(firing: Option<FiringId>, at: Moment, who: Who, what: What) -> Self {
        let offset_minutes = local_offset_minutes(at);
        NewEvent { uid: Uid::fresh(), firing, at, offset_minutes, who, what }
    }
}

/// An event as it stands in the journal.
#[derive(Debug, Clone, PartialEq)]
pub struct StoredEvent {
    pub event: Event,
    pub uid: Uid,
    pub offset_minutes: i32,
}

/// What this machine's time zone is ahead of UTC at that moment, in minutes.
pub fn local_offset_minutes(at: Moment) -> i32 {
    Local
        .timestamp_millis_opt(at.0)
        .single()
        .map_or(0, |local| local.offset().fix().local_minus_utc() / 60)
}

/// An open shop file.
#[derive(Debug)]
pub struct Journal {
    connection: Connection,
    path: PathBuf,
    /// The file that bore this name when it was opened.
    which: Option<Which>,
    /// It is nowhere on a disk, and gone with the last journal on it.
    in_memory: bool,
    read_only: Option<ReadOnly>,
    unread: UnreadEvents,
}

/// Why a file is open for reading only.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ReadOnly {
    /// It was written by a newer version of the program.
    Newer { found: i64 },
    /// The file or its folder may not be written.
    NoPermission,
}

impl Journal {
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The shop's file; none where all is in memory.
    pub fn file(&self) -> Option<&Path> {
        (!self.in_memory).then_some(&self.path)
    }

    /// Why nothing can be written, if so.
    pub fn read_only(&self) -> Option<ReadOnly> {
        self.read_only
    }

    /// A number that changes when another process has written: the cheapest thing to poll.
    ///
    /// # Errors
    /// When the file cannot be read any more.
    pub fn data_version(&self) -> Result<i64, JournalError> {
        self.connection
            .pragma_query_value(None, "data_version", |row| row.get(0))
            .map_err(|error| self.named(error))
    }

    /// The error in words that name this file.
    /// The event that carries this mark in a firing, or the one that began another by it.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn marked(
        &self,
        firing: Option<FiringId>,
        uid: Uid,
    ) -> Result<Option<EventId>, JournalError> {
        let (uid, firing) = (uid.number(), firing.map(|firing| firing.0));
        let sql = match firing {
            Some(_) => "SELECT id FROM events WHERE firing = ?2 AND uid = ?1",
            None => "SELECT id FROM events WHERE uid = ?1 AND kind IN (4, 5) AND ?2 IS NULL",
        };
        let found = || {
            let mut found = self.connection.prepare_cached(sql)?;
            found.query_row(rusqlite::params![uid, firing], |row| row.get(0)).optional()
        };
        found().map(|id| id.map(EventId)).map_err(|error| self.named(error))
    }

    fn named(&self, error: impl Into<JournalError>) -> JournalError {
        error.into().named(&self.path)
    }
}
