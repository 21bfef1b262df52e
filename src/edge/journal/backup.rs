//! Backups: copies made while the shop goes on, verified, dated, and only so many of them.
//!
//! They are ordered by what they hold, not by when a clock said they were made: a wrong clock makes no copy
//! the youngest.

use std::collections::BTreeSet;
use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::time::Duration;
use std::{io, iter};

use chrono::DateTime;
use rusqlite::backup::Backup;
use rusqlite::{Connection, ErrorCode};

use super::error::JournalError;
use super::pages::{Found, Pages};
use super::shop_files::{
    RESCUED, backup_folder, backup_name, backups, beside, move_aside, private, rescued, stamp, stem,
};
use super::{Journal, ReadOnly, check};
use crate::units::{Moment, Span};

/// Of how many days, weeks and months one backup each is kept, by the way a date is written that
/// tells them apart.
const KEPT: [(&str, usize); 3] = [("%F", 14), ("%G-%V", 8), ("%Y-%m", 12)];

/// What backups may take of the room there would be without them.
const SHARE: u64 = 10;

/// When a copy that was never finished is nobody's any more.
const ABANDONED: Duration = Duration::from_secs(3_600);

/// How often a running program makes one by itself.
pub const EVERY: Span = Span::hours(24);

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
    /// Where the file is now in which the shop went on while its own was damaged, if there was one.
    pub rescued: Option<PathBuf>,
    pub events: u64,
}

/// The backups of a shop with the time they were made by somebody's clock, the fullest first.
pub fn list(shop: &Path) -> Vec<(Moment, PathBuf)> {
    let with_last = |(made, path): (Moment, PathBuf)| (last_of(&path), made, path);
    let mut backups: Vec<(u64, Moment, PathBuf)> = backups(shop).map(with_last).collect();
    backups.sort_unstable_by(|a, b| b.cmp(a));
    backups.into_iter().map(|(_, made, path)| (made, path)).collect()
}

/// The last event of this file; 0 for one that cannot be read.
fn last_of(path: &Path) -> u64 {
    let journal = Journal::open_reading(path, ReadOnly::NoPermission);
    let last = journal.and_then(|journal| journal.last_event()).ok().flatten();
    last.map_or(0, |last| last.0 as u64)
}

/// What a restore would leave behind.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Prospect {
    /// The backup that would be used.
    pub from: PathBuf,
    /// Events of the shop that are not in it.
    pub lacks: u64,
    /// The backup that holds most of all, and how many events more, where it is another one.
    pub fuller: Option<(PathBuf, u64)>,
}

/// What a restore of this backup, or of the fullest one, would leave behind.
///
/// # Errors
/// [`BackupError::None`] when there is no backup.
pub fn prospect(shop: &Path, from: Option<&Path>) -> Result<Prospect, BackupError> {
    let fullest = list(shop).into_iter().next().map(|(_, path)| path);
    let from = from.map(Path::to_path_buf).or(fullest.clone());
    let from = from.ok_or_else(|| BackupError::None { folder: backup_folder(shop) })?;
    let held = last_of(&from);
    let now = iter::once(shop.to_path_buf()).chain(rescued(shop)).map(|path| {
        let mut last = last_of(&path);
        if let (0, Ok(mut pages)) = (last, Pages::open(&path)) {
            pages.each(|found| {
                if let Found::Event(id, ..) = found {
                    last = last.max(id as u64);
                }
                true
            });
        }
        last
    });
    let lacks = now.max().unwrap_or(0).saturating_sub(held);
    let fuller = fullest.map(|path| (last_of(&path).saturating_sub(held), path));
    let fuller = fuller.filter(|(more, _)| *more > 0).map(|(more, path)| (path, more));
    Ok(Prospect { from, lacks, fuller })
}

/// Removes what was left of copies that were broken off.
fn sweep(shop: &Path) {
    let own = format!("{}.", stem(shop));
    let is_part = |name: &str| {
        name.strip_prefix(&own).is_some_and(|rest| {
            rest.contains(".backup.part")
                || rest.starts_with("rescuing-")
                || rest.contains(".begun")
        })
    };
    let folders = [backup_folder(shop), shop.parent().unwrap_or(Path::new("")).to_path_buf()];
    for entry in folders.iter().flat_map(fs::read_dir).flatten().flatten() {
        let changed = entry.metadata().and_then(|found| found.modified());
        let fresh = changed.is_ok_and(|at| at.elapsed().is_ok_and(|age| age < ABANDONED));
        if is_part(&entry.file_name().to_string_lossy()) && !fresh {
            // It is tried again with the next backup.
            let _ = fs::remove_file(entry.path());
        }
    }
}

/// The backups that are not kept: beyond so many of the fullest, or else beyond those of [`KEPT`] and of
/// what room there is. The one just made stays.
fn superfluous(shop: &Path, keep: Option<usize>, made: &Path) -> Vec<PathBuf> {
    let backups = list(shop);
    let mut seen = KEPT.map(|_| BTreeSet::new());
    let size = |path: &Path| fs::metadata(path).map_or(0, |found| found.len());
    let all: u64 = backups.iter().map(|(_, path)| size(path)).sum();
    let room = rustix::fs::statvfs(backup_folder(shop)).map_or(u64::MAX, |disk| {
        (disk.f_bavail.saturating_mul(disk.f_frsize)).saturating_add(all) / SHARE
    });
    let mut taken = size(made);
    let mut is_kept = |place: usize, at: Moment, path: &Path| {
        if path == made {
            return true;
        }
        if let Some(keep) = keep {
            return place < keep.max(1);
        }
        let date = DateTime::from_timestamp_millis(at.0).unwrap_or_default();
        let mut first = false;
        for ((written, count), seen) in KEPT.into_iter().zip(&mut seen) {
            first |= seen.len() < count && seen.insert(date.format(written).to_string());
        }
        taken += if first { size(path) } else { 0 };
        first && taken <= room
    };
    let backups = backups.into_iter().enumerate();
    backups
        .filter(|(place, (at, path))| !is_kept(*place, *at, path))
        .map(|(_, (_, path))| path)
        .collect()
}

impl Journal {
    /// Copies the shop into its backup folder while others go on writing, verifies the copy, and
    /// removes those beyond the `keep` fullest, or beyond what is usually kept.
    ///
    /// # Errors
    /// [`BackupError`]; the shop and the older backups are as they were.
    pub fn backup(&self, now: Moment, keep: Option<usize>) -> Result<PathBuf, BackupError> {
        let folder = backup_folder(&self.path);
        sweep(&self.path);
        // Not the folder of the shop: one that is away for a while could not come back.
        if let Err(error) = fs::create_dir(&folder)
            && !folder.is_dir()
        {
            return Err(failed("making", &folder, &error));
        }
        let target = folder.join(backup_name(&self.path, now));
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
        for old in superfluous(&self.path, keep, &target) {
            fs::remove_file(&old).map_err(|error| failed("removing", &old, &error))?;
        }
        Ok(target)
    }

    /// Makes a backup if the last one is older than [`EVERY`]; for a program that keeps running.
    ///
    /// # Errors
    /// See [`Journal::backup`].
    pub fn backup_if_due(
        &self,
        now: Moment,
        keep: Option<usize>,
    ) -> Result<Option<PathBuf>, BackupError> {
        let is_fresh =
            list(&self.path).iter().any(|(made, _)| (Span(0)..EVERY).contains(&(now - *made)));
        if is_fresh || self.last_event()?.is_none() {
            return Ok(None);
        }
        self.backup(now, keep).map(Some)
    }

    fn copy_to(&self, part: &Path) -> Result<(), Unsound> {
        let _ = fs::remove_file(part);
        // Where that does not work, opening it tells why.
        let _ = private(part);
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
/// `from` is the backup to use; `None` is the fullest.
///
/// # Errors
/// [`BackupError`]; then the shop's file is where it was.
pub fn restore(shop: &Path, from: Option<&Path>, now: Moment) -> Result<Restored, BackupError> {
    let folder = backup_folder(shop);
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
    let rescued: Vec<PathBuf> = rescued(shop).collect();
    let files = iter::once(shop).chain(rescued.iter().map(PathBuf::as_path));
    if let Some(used) = files.into_iter().find(|file| is_in_use(file)) {
        return Err(BackupError::InUse { path: used.to_path_buf() });
    }
    let part = beside(shop, "restoring");
    fs::copy(&from, &part).map_err(|error| failed("copying", &from, &error))?;
    let aside = |file: &Path, word: &str| {
        move_aside(file, beside(shop, &format!("{word}-{}", stamp(now))))
            .map_err(|error| failed("moving aside", file, &error))
    };
    let replaced = aside(shop, "replaced")?;
    let mut went_on_in = None;
    for file in &rescued {
        went_on_in = aside(file, RESCUED)?;
    }
    settle(&part, shop)?;
    let journal = Journal::open(shop)?;
    let events = journal.last_event()?.map_or(0, |id| id.0 as u64);
    Ok(Restored { from, replaced, rescued: went_on_in, events })
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

fn failed(doing: &'static str, path: &Path, error: &io::Error) -> BackupError {
    BackupError::File { doing, path: path.to_path_buf(), reason: error.to_string() }
}
