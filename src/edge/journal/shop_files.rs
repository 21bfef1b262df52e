//! The files of a shop: its own, its backups, and those beside it in which it goes on where it is damaged. How
//! they are called and how they get their names.

use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};
use std::{fs, io, iter};

use chrono::{DateTime, NaiveDateTime};

use super::Uid;
use super::error::JournalError;
use crate::edge::whole_file;
use crate::units::Moment;

const STAMP: &str = "%Y-%m-%d-%H%M%S";
const SUFFIX: &str = "backup.db";

/// The word in the name of the file in which a shop goes on while its own is damaged.
pub(super) const RESCUED: &str = "rescued";

/// A file, by the disk it is on and its number there.
pub(super) type Which = (u64, u64);

/// Whether a shop can lie at this path.
///
/// # Errors
/// [`JournalError::NoShop`] when nothing does, [`JournalError::NotAShop`] when it is no regular file,
/// which might hold up whoever opens it.
pub fn check(shop: &Path) -> Result<(), JournalError> {
    look(shop).map(drop)
}

pub(super) fn look(shop: &Path) -> Result<fs::Metadata, JournalError> {
    let path = shop.to_path_buf();
    match fs::metadata(shop) {
        Ok(found) if found.is_file() => Ok(found),
        Ok(found) if found.is_dir() => Err(JournalError::NotAShop { path, what: "a folder" }),
        Ok(_) => Err(JournalError::NotAShop { path, what: "no file, but a device or a pipe" }),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Err(JournalError::NoShop { path }),
        Err(error) => Err(JournalError::NotOpened { path, reason: error.to_string() }),
    }
}

pub(super) fn which(found: &fs::Metadata) -> Which {
    (found.dev(), found.ino())
}

/// The file that bears this name now.
pub(super) fn which_at(path: &Path) -> Option<Which> {
    fs::metadata(path).ok().map(|found| which(&found))
}

/// The folder of a shop's backups: `backups`, beside its file.
pub fn backup_folder(shop: &Path) -> PathBuf {
    shop.with_file_name("backups")
}

/// The backups of a shop with the time they were made by somebody's clock.
pub(super) fn backups(shop: &Path) -> impl Iterator<Item = (Moment, PathBuf)> {
    let entries = fs::read_dir(backup_folder(shop)).into_iter().flatten().flatten();
    entries.filter_map(|entry| Some((stamp_of(shop, &entry.path())?, entry.path())))
}

/// `shop.2026-03-14-081000.backup.db`, in UTC.
pub(super) fn backup_name(shop: &Path, now: Moment) -> String {
    format!("{}.{}.{SUFFIX}", stem(shop), stamp(now))
}

pub(super) fn stamp_of(shop: &Path, backup: &Path) -> Option<Moment> {
    let name = backup.file_name()?.to_str()?;
    let middle = name.strip_prefix(&format!("{}.", stem(shop)))?;
    let stamp = middle.strip_suffix(&format!(".{SUFFIX}"))?;
    let made = NaiveDateTime::parse_from_str(stamp, STAMP).ok()?;
    Some(Moment(made.and_utc().timestamp_millis()))
}

pub(super) fn stamp(now: Moment) -> String {
    DateTime::from_timestamp_millis(now.0).unwrap_or_default().format(STAMP).to_string()
}

/// The name of a shop's file without its ending; a rescued file has the backups of the one it is of.
pub(super) fn stem(shop: &Path) -> String {
    let stem = shop.file_stem().unwrap_or_default().to_string_lossy();
    stem.trim_end_matches(&format!(".{RESCUED}")).to_owned()
}

/// `shop.WORD.db`, beside `shop.db`.
pub(super) fn beside(shop: &Path, word: &str) -> PathBuf {
    let ending = shop
        .extension()
        .map_or_else(String::new, |ending| format!(".{}", ending.to_string_lossy()));
    let stem = shop.file_stem().unwrap_or_default().to_string_lossy();
    shop.with_file_name(format!("{stem}.{word}{ending}"))
}

/// The files in which a damaged shop goes on, each beside the one before.
pub(super) fn rescued(shop: &Path) -> impl Iterator<Item = PathBuf> {
    let beside = |path: &PathBuf| Some(beside(path, RESCUED)).filter(|path| path.exists());
    iter::successors(beside(&shop.to_path_buf()), beside)
}

/// Whether the shop of this file goes on in the one beside it, which every process then opens.
pub fn is_left(path: &Path) -> bool {
    rescued(path).next().is_some()
}

/// The damaged files in whose place this one is, the nearest first.
pub(super) fn damaged_before(shop: &Path) -> impl Iterator<Item = PathBuf> {
    let before = |path: &PathBuf| {
        let name = path.file_name()?.to_str()?;
        let (stem, ending) = name.rsplit_once(&format!(".{RESCUED}"))?;
        let before = path.with_file_name(format!("{stem}{ending}"));
        (beside(&before, RESCUED) == *path && before.exists()).then_some(before)
    };
    iter::successors(before(&shop.to_path_buf()), before)
}

/// The file by which the shop is called, beside which its settings and prices lie: the one damaged first,
/// where this is one in which it goes on.
pub fn named(file: &Path) -> PathBuf {
    damaged_before(file).last().unwrap_or_else(|| file.to_path_buf())
}

/// Moves a shop's file to this name or, where it is taken, to one like it; its log first, so that no
/// log is left to a file it is not of.
pub(super) fn move_aside(file: &Path, to: PathBuf) -> io::Result<Option<PathBuf>> {
    if !file.exists() {
        return Ok(None);
    }
    let to = if to.exists() { beside(&to, &Uid::fresh().number().to_string()) } else { to };
    for ending in ["-wal", "-shm", ""] {
        let from = whole_file::beside(file, ending);
        if from.exists() {
            fs::rename(&from, whole_file::beside(&to, ending))?;
        }
    }
    Ok(Some(to))
}

/// A new file that nobody but its owner may read.
pub(super) fn private(path: &Path) -> io::Result<()> {
    let mut options = fs::OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options.open(path).map(drop)
}

/// Gives a finished file its name, unless another has it already.
pub(super) fn put(part: &Path, path: &Path) -> io::Result<()> {
    match fs::hard_link(part, path) {
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => Ok(()),
        // Not every disk has links.
        Err(_) if !path.exists() => fs::rename(part, path),
        other => other,
    }?;
    fs::File::open(
        path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new(".")),
    )?
    .sync_all()
}
