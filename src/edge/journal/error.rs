//! What can go wrong with the journal, and what to do about it.

use std::path::PathBuf;

use rusqlite::ErrorCode;

use crate::edge::fields::FieldError;
use crate::firing::{EventId, FiringId, Refusal, Unread};

/// What was wrong is said in the error's own words, so it is no source that would say it again.
impl From<FieldError> for JournalError {
    fn from(error: FieldError) -> JournalError {
        JournalError::Field(error)
    }
}

#[derive(Debug, thiserror::Error)]
pub enum JournalError {
    #[error(transparent)]
    Refused(#[from] Refusal),
    #[error("this cannot be written down: {0}")]
    Field(FieldError),
    #[error(
        "{what} cannot be written down, because it would read back differently: check its numbers"
    )]
    NotStorable { what: &'static str },
    #[error("there is no firing {0} in this shop: \"spyhole ledger\" lists them")]
    NoSuchFiring(FiringId),
    #[error("there is no event {0} in this shop: \"spyhole history\" lists them")]
    NoSuchEvent(EventId),
    #[error(
        "what event {} says cannot be read: \"spyhole journal check\" lists all such events, \"spyhole strike {} --reason TEXT\" takes it back", .0.event, .0.event
    )]
    Unread(Unread),
    #[error("event {event} was struck already, by event {by}: there is nothing left to take back")]
    StruckAlready { event: EventId, by: EventId },
    #[error(
        "event {event} cannot be struck, because later events stand on it: strike those first ({why})"
    )]
    StandsUnder { event: EventId, why: String },
    #[error(
        "event {0} is no entry of a firing, so it cannot be corrected: describe the kiln or load type again instead"
    )]
    NotCorrected(EventId),
    #[error(
        "{count} of the other entries would then lie before the lighting, and nothing was changed: they can move by as much, or stay there, where they count for nothing"
    )]
    LeftBefore { count: usize },
    #[error(
        "this event belongs to no firing: begin one first with \"spyhole light KILN --load TYPE\""
    )]
    NoFiring,
    #[error(
        "event {0} was written with the same mark but says something else: write this one with a new mark"
    )]
    MarkTaken(EventId),
    #[error(
        "the disk is full, so nothing was written: make room beside {path} and do it again; everything written before is safe"
    )]
    DiskFull { path: PathBuf },
    #[error(
        "{path} cannot be written ({reason}): {advice}; what was there before is safe and nothing was half written"
    )]
    NotWritable { path: PathBuf, reason: String, advice: &'static str },
    #[error(
        "{path} is of version {found}, written by a newer Spyhole; this one writes version {known}, so it only reads it: use the newer Spyhole to write"
    )]
    NewerFile { path: PathBuf, found: i64, known: i64 },
    #[error(
        "{path} is damaged ({reason}): \"spyhole journal check\" says what can still be read, \"spyhole journal restore\" brings back the last backup"
    )]
    Damaged { path: PathBuf, reason: String },
    #[error(
        "no shop found at {path}: name another file with --shop FILE, or begin one with the screen, \"spyhole kiln add\" or \"spyhole import\""
    )]
    NoShop { path: PathBuf },
    #[error("the shop's file {path} was exchanged while this was written: do it again")]
    Exchanged { path: PathBuf },
    #[error("no shop: {path} is {what}, and was left alone: name another file with --shop FILE")]
    NotAShop { path: PathBuf, what: &'static str },
    #[error(
        "{path} has been busy for too long: another program holds it; close that program and do it again"
    )]
    Busy { path: PathBuf },
    #[error("{path} cannot be opened ({reason}): check that the folder is there and may be read")]
    NotOpened { path: PathBuf, reason: String },
    #[error("a journal entry could not be read ({0})")]
    Sqlite(rusqlite::Error),
}

/// A database error for what SQLite itself does not notice: the file is damaged in this way.
pub(super) fn unsound(how: String) -> rusqlite::Error {
    rusqlite::Error::UserFunctionError(how.into())
}

impl From<rusqlite::Error> for JournalError {
    fn from(error: rusqlite::Error) -> Self {
        JournalError::Sqlite(error)
    }
}

impl JournalError {
    /// The same error in words that name the file and what to do.
    pub(super) fn named(self, path: &std::path::Path) -> Self {
        let JournalError::Sqlite(error) = self else { return self };
        let path = path.to_path_buf();
        let reason = error.to_string();
        let Some(code) = error.sqlite_error_code() else {
            // A value of the wrong type: the tables are not what they were when they were made.
            return match error {
                rusqlite::Error::InvalidColumnType(..)
                | rusqlite::Error::FromSqlConversionFailure(..)
                | rusqlite::Error::IntegralValueOutOfRange(..)
                | rusqlite::Error::UserFunctionError(..)
                | rusqlite::Error::Utf8Error(..) => JournalError::Damaged { path, reason },
                other => JournalError::Sqlite(other),
            };
        };
        match code {
            ErrorCode::DiskFull => JournalError::DiskFull { path },
            ErrorCode::ReadOnly | ErrorCode::PermissionDenied => JournalError::NotWritable {
                path,
                reason,
                advice: "allow writing to the file and to its folder, or name another with --shop FILE",
            },
            ErrorCode::SystemIoFailure => JournalError::NotWritable {
                path,
                reason,
                advice: "check the disk and its free space, then do it again",
            },
            ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked => JournalError::Busy { path },
            ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase => {
                JournalError::Damaged { path, reason }
            }
            ErrorCode::CannotOpen => JournalError::NotOpened { path, reason },
            // A table or column that is missing from a file of a known version.
            ErrorCode::Unknown => JournalError::Damaged { path, reason },
            _ => JournalError::Sqlite(error),
        }
    }
}
