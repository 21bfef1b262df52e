//! Backups: copies made while the shop goes on, verified, dated, and only so many of them.

use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::time::Duration;

use chrono::{DateTime, NaiveDateTime};
use rusqlite::backup::Backup;
use rusqlite::{Connection, ErrorCode};

use super::error::JournalError;
use super::{Journal, ReadOnly, check};
use crate::edge::whole_file;
use crate::units::{Moment, Span};

/// How many backups are kept unless somebody says otherwise: two weeks of one a day.
pub const KEEP: usize = 14;

/// How often a running program makes one by itself.
pub const EVERY: Span = Span::hours(24);

const STAMP: &str = "%Y-%m-%d-%H%M%S";
const SUFFIX: &str = "backup.db";

/// The word in the name of the file in which a shop goes on while its own is damaged.
pub(super) const RESCUED: &str = "rescued";

/// A backup that was not made, or not brought back.
#[derive(Debug, thiserror::Error)]
pub enum BackupError {
    #[error(
        "{doing} {path} failed ({reason}): check that there is room and that it may be written"
    )]
    File { doing: &'static str, path: PathBuf, reason: String },
    #[error(
        "the copy {path} is not sound ({reason}), so it was thrown away: \"spyhole journal check\" says what is wrong with the shop's file"
    )]
    NotSound { path: PathBuf, reason: String },
    #[error(
        "the backup {path} is damaged itself ({reason}), so nothing was changed: name another one; \"ls {folder}\" lists them"
    )]
    BadBackup { path: PathBuf, folder: PathBuf, reason: String },
    #[error("there is no backup in {folder}: name a file to restore from")]
    None { folder: PathBuf },
    #[error(
        "{path} is in use by another Spyhole: close its screens and probes first, then restore again"
    )]
    InUse { path: PathBuf },
    #[error(transparent)]
    Journal(#[from] JournalError),
}

/// What a restore did.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Restored {
    pub from: PathBuf,
    /// Where the file that was there before is now, if there was one.
    pub replaced: Option<PathBuf>,
    /// The file in which the shop went on while its own was damaged, if there is one.
    pub rescued: Option<PathBuf>,
    pub events: u64,
}

/// The folder of a shop's backups: `backups`, beside its file.
pub fn folder(shop: &Path) -> PathBuf {
    shop.with_file_name("backups")
}

/// The backups of a shop with the time they were made, the youngest first.
pub fn list(shop: &Path) -> Vec<(Moment, PathBuf)> {
    let Ok(entries) = fs::read_dir(folder(shop)) else { return Vec::new() };
    let mut backups: Vec<(Moment, PathBuf)> = entries
        .flatten()
        .filter_map(|entry| Some((stamp_of(shop, &entry.path())?, entry.path())))
        .collect();
    backups.sort_unstable_by(|a, b| b.cmp(a));
    backups
}

impl Journal {
    /// Copies the shop into its backup folder while others go on writing, verifies the copy, and
    /// removes the oldest ones beyond `keep` (at least one is kept).
    ///
    /// # Errors
    /// [`BackupError`]; the shop and the older backups are as they were.
    pub fn backup(&self, now: Moment, keep: usize) -> Result<PathBuf, BackupError> {
        let folder = folder(&self.path);
        fs::create_dir_all(&folder).map_err(|error| failed("making", &folder, &error))?;
        let target = folder.join(name(&self.path, now));
        let part = target.with_extension("part");
        let copied = self.copy_to(&part).and_then(|()| verify(&part));
        if let Err(error) = copied {
            // What is half there is no backup.
            let _ = fs::remove_file(&part);
            return Err(match error {
                Unsound::Copy(error) => self.named(error).into(),
                Unsound::Damage(reason) => BackupError::NotSound { path: part, reason },
            });
        }
        settle(&part, &target)?;
        for (_, old) in list(&self.path).into_iter().skip(keep.max(1)) {
            fs::remove_file(&old).map_err(|error| failed("removing", &old, &error))?;
        }
        Ok(target)
    }

    /// Makes a backup if the last one is older than [`EVERY`]; for a program that keeps running.
    ///
    /// # Errors
    /// See [`Journal::backup`].
    pub fn backup_if_due(&self, now: Moment, keep: usize) -> Result<Option<PathBuf>, BackupError> {
        let is_fresh = list(&self.path)
            .first()
            .is_some_and(|(made, _)| (Span(0)..EVERY).contains(&(now - *made)));
        if is_fresh || self.last_event()?.is_none() {
            return Ok(None);
        }
        self.backup(now, keep).map(Some)
    }

    fn copy_to(&self, part: &Path) -> Result<(), Unsound> {
        let _ = fs::remove_file(part);
        let mut target = Connection::open(part)?;
        let backup = Backup::new(&self.connection, &mut target)?;
        // All pages in one step see one state of the shop; writers only wait for that step.
        backup.run_to_completion(i32::MAX, Duration::from_millis(50), None)?;
        drop(backup);
        // One file without a log beside it, so that it can be carried away.
        target.pragma_update_and_check(None, "journal_mode", "DELETE", |_| Ok(()))?;
        Ok(())
    }
}

enum Unsound {
    Copy(rusqlite::Error),
    Damage(String),
}

impl From<rusqlite::Error> for Unsound {
    fn from(error: rusqlite::Error) -> Self {
        Unsound::Copy(error)
    }
}

fn verify(path: &Path) -> Result<(), Unsound> {
    let opened = Journal::open_reading(path, ReadOnly::NoPermission);
    let connection = opened.map_err(|error| Unsound::Damage(error.to_string()))?.connection;
    match check::integrity(&connection) {
        Ok(damage) if damage.is_empty() => Ok(()),
        Ok(damage) => Err(Unsound::Damage(damage.join("; "))),
        Err(error) => Err(Unsound::Damage(error.to_string())),
    }
}

/// Puts a backup in the place of the shop's file, which is moved aside and kept.
///
/// `from` is the backup to use; `None` is the youngest.
///
/// # Errors
/// [`BackupError`]; then the shop's file is where it was.
pub fn restore(shop: &Path, from: Option<&Path>, now: Moment) -> Result<Restored, BackupError> {
    let folder = folder(shop);
    let from = match from {
        Some(from) => from.to_path_buf(),
        None => list(shop)
            .into_iter()
            .next()
            .map(|(_, path)| path)
            .ok_or_else(|| BackupError::None { folder: folder.clone() })?,
    };
    let bad = |reason: String| BackupError::BadBackup {
        path: from.clone(),
        folder: folder.clone(),
        reason,
    };
    match verify(&from) {
        Ok(()) => {}
        Err(Unsound::Copy(error)) => return Err(bad(error.to_string())),
        Err(Unsound::Damage(reason)) => return Err(bad(reason)),
    }
    if is_in_use(shop) {
        return Err(BackupError::InUse { path: shop.to_path_buf() });
    }
    let part = beside(shop, "restoring");
    fs::copy(&from, &part).map_err(|error| failed("copying", &from, &error))?;
    let replaced = move_aside(shop, now)?;
    settle(&part, shop)?;
    let journal = Journal::open(shop)?;
    let events = journal.last_event()?.map_or(0, |id| id.0 as u64);
    let rescued = Some(beside(shop, RESCUED)).filter(|rescued| rescued.exists());
    Ok(Restored { from, replaced, rescued, events })
}

/// Moves the shop's file aside, its log first, so that no log is left to a file it is not of.
fn move_aside(shop: &Path, now: Moment) -> Result<Option<PathBuf>, BackupError> {
    if !shop.exists() {
        return Ok(None);
    }
    let aside = beside(shop, &format!("replaced-{}", stamp(now)));
    for ending in ["-wal", "-shm", ""] {
        let (from, to) = (whole_file::beside(shop, ending), whole_file::beside(&aside, ending));
        if from.exists() {
            fs::rename(&from, &to).map_err(|error| failed("moving aside", &from, &error))?;
        }
    }
    Ok(Some(aside))
}

/// Whether another connection has the file open. A file too damaged to say so is not in use in
/// any way that matters.
fn is_in_use(shop: &Path) -> bool {
    if !shop.exists() {
        return false;
    }
    let alone = || -> rusqlite::Result<()> {
        let connection = Connection::open(shop)?;
        connection.busy_timeout(Duration::ZERO)?;
        connection.pragma_update_and_check(None, "locking_mode", "EXCLUSIVE", |_| Ok(()))?;
        connection.execute_batch("BEGIN IMMEDIATE; ROLLBACK;")
    };
    matches!(
        alone().map_err(|error| error.sqlite_error_code()),
        Err(Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked))
    )
}

/// Flushes a finished file and gives it its name.
fn settle(part: &Path, target: &Path) -> Result<(), BackupError> {
    File::open(part)
        .and_then(|file| file.sync_all())
        .and_then(|()| fs::rename(part, target))
        .and_then(|()| File::open(target.parent().unwrap_or(Path::new(".")))?.sync_all())
        .map_err(|error| failed("finishing", target, &error))
}

fn failed(doing: &'static str, path: &Path, error: &std::io::Error) -> BackupError {
    BackupError::File { doing, path: path.to_path_buf(), reason: error.to_string() }
}

fn stem(shop: &Path) -> String {
    shop.file_stem().unwrap_or_default().to_string_lossy().into_owned()
}

fn stamp(now: Moment) -> String {
    DateTime::from_timestamp_millis(now.0).unwrap_or_default().format(STAMP).to_string()
}

/// `shop.2026-03-14-081000.backup.db`, in UTC.
fn name(shop: &Path, now: Moment) -> String {
    format!("{}.{}.{SUFFIX}", stem(shop), stamp(now))
}

fn stamp_of(shop: &Path, backup: &Path) -> Option<Moment> {
    let name = backup.file_name()?.to_str()?;
    let middle = name.strip_prefix(&format!("{}.", stem(shop)))?;
    let stamp = middle.strip_suffix(&format!(".{SUFFIX}"))?;
    let made = NaiveDateTime::parse_from_str(stamp, STAMP).ok()?;
    Some(Moment(made.and_utc().timestamp_millis()))
}

/// `shop.WORD.db`, beside `shop.db`.
pub(super) fn beside(shop: &Path, word: &str) -> PathBuf {
    let ending = shop
        .extension()
        .map_or_else(String::new, |ending| format!(".{}", ending.to_string_lossy()));
    shop.with_file_name(format!("{}.{word}{ending}", stem(shop)))
}
