//! A damaged file never stops a firing from being watched: what can be read of it is copied into a
//! new file beside it, in which the shop goes on. The damaged file is left as it is.
//!
//! Which pages of the file can be reached through the database does not matter: its rows are read out
//! of the pages themselves, and what they lack is taken from the fullest backup of the same shop. Whoever opens
//! the shop from then on goes on in the file beside it, for as long as that is of the damaged one: as long
//! as it has every event that can be read there.

use std::fmt;
use std::fs;
use std::iter;
use std::mem;
use std::path::{Path, PathBuf};
use std::time::UNIX_EPOCH;

use chrono::Local;
use rusqlite::types::Value;
use rusqlite::{Connection, OptionalExtension, params_from_iter};

use super::backup;
use super::error::JournalError;
use super::open::starters;
use super::pages::{Found, Pages};
use super::shop_files::{
    RESCUED, beside, damaged_before, is_left, move_aside, private, put, rescued, stamp,
};
use super::stored;
use super::{Journal, ReadOnly, Uid, schema};
use crate::edge::time_entry::in_zone;
use crate::units::Moment;

/// A shop that is open, and what was lost on the way.
#[derive(Debug)]
pub struct Opened {
    pub journal: Journal,
    pub loss: Option<Loss>,
}

/// What became of a damaged file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Loss {
    /// The damaged file, which is left alone.
    pub damaged: PathBuf,
    pub reason: String,
    /// The file beside it that the shop goes on in.
    pub beside: PathBuf,
    /// Events that were copied; `None` when the file beside was there already.
    pub saved: Option<u64>,
    /// Those of them that were read from a backup.
    pub from_backup: u64,
    /// Events that were certainly there and are lost.
    pub lost: u64,
    /// When they were written.
    pub gaps: Vec<Gap>,
    /// When the last event was written that could be read.
    pub last: Option<Moment>,
}

/// Events that are lost, one after the other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Gap {
    pub events: u64,
    /// When the event before them was written; `None` when they were the first.
    pub after: Option<Moment>,
    /// When the event behind them was written.
    pub before: Option<Moment>,
}

/// Number of gaps told one by one.
const GAPS_TOLD: usize = 3;

fn clock(at: Moment) -> String {
    in_zone(at, &Local).local().format("%Y-%m-%d %H:%M").to_string()
}

/// `3 written between 2026-03-14 09:10 and 2026-03-14 09:24`
impl fmt::Display for Gap {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Gap { events, after, before } = self;
        match (after.map(clock), before.map(clock)) {
            (Some(after), Some(before)) => {
                write!(f, "{events} written between {after} and {before}")
            }
            (None, Some(before)) => write!(f, "{events} written before {before}"),
            (after, None) => write!(f, "{events} written after {}", after.unwrap_or_default()),
        }
    }
}

/// One paragraph that says what happened and what to do.
impl fmt::Display for Loss {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (damaged, beside) = (self.damaged.display(), self.beside.display());
        write!(f, "{damaged} is damaged ({}) and is left as it is. ", self.reason)?;
        match (self.saved, self.from_backup) {
            (Some(saved), 0) => write!(f, "{saved} events could be read and were copied; ")?,
            (Some(saved), some) => write!(
                f,
                "{saved} events could be read and were copied, {some} of them from a backup; "
            )?,
            (None, _) => f.write_str("What could be read of it was copied before; ")?,
        }
        write!(f, "at least {} are lost", self.lost)?;
        for (place, gap) in self.gaps.iter().take(GAPS_TOLD).enumerate() {
            write!(f, "{}{gap}", if place == 0 { ": " } else { ", " })?;
        }
        match self.gaps.len() {
            ..=GAPS_TOLD => f.write_str(". ")?,
            _ => f.write_str(" and more. ")?,
        }
        if let (Some(last), Some(_)) = (self.last, self.saved) {
            write!(f, "The last one that could be read was written on {}. ", clock(last))?;
        }
        write!(
            f,
            "The shop goes on in {beside}. To go back to the last backup instead, use \"spyhole journal restore\"."
        )
    }
}

impl Loss {
    /// The same in a line that fits a screen.
    pub fn brief(&self) -> String {
        let name =
            |path: &Path| path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        let counts = match self.saved {
            Some(saved) => format!("; {saved} events copied, at least {} lost", self.lost),
            None => String::new(),
        };
        format!(
            "{} is damaged: the shop goes on in {}{counts}. See \"spyhole journal check\".",
            name(&self.damaged),
            name(&self.beside)
        )
    }

    /// What became of `damaged`, by the file in which its shop goes on.
    fn by(journal: &Journal, damaged: &Path) -> Result<Loss, JournalError> {
        let gaps = journal.gaps()?;
        Ok(Loss {
            damaged: damaged.to_path_buf(),
            reason: journal.rescued_for()?,
            beside: journal.path().to_path_buf(),
            saved: None,
            from_backup: 0,
            lost: gaps.iter().map(|gap| gap.events).sum(),
            gaps,
            last: journal.last_written()?,
        })
    }
}

impl Journal {
    /// Opens a shop's file as [`Journal::open`] does; if it is damaged, goes on in a new
    /// file beside it that has what could be read.
    ///
    /// # Errors
    /// When not even a file beside it can be written, or the file is no shop.
    pub fn open_or_rescue(path: &Path, now: Moment) -> Result<Opened, JournalError> {
        let opened = Self::open_or_rescue_unread(path, now)?;
        match opened.journal.shop() {
            Err(JournalError::Damaged { path, reason }) => rescue(&path, reason, now),
            Err(error) => Err(error),
            Ok(_) => Ok(opened),
        }
    }

    /// The same for whoever reads the shop at once, and calls [`rescue`] for the damage that only
    /// shows then.
    ///
    /// # Errors
    /// See [`Journal::open_or_rescue`].
    pub fn open_or_rescue_unread(path: &Path, now: Moment) -> Result<Opened, JournalError> {
        if let Some(opened) = goes_on(path, now)? {
            return Ok(opened);
        }
        match Self::open(path) {
            Ok(journal) => Ok(Opened { journal, loss: None }),
            Err(JournalError::Damaged { path, reason }) => rescue(&path, reason, now),
            Err(other) => Err(other),
        }
    }

    /// What is known to be lost, in the order of writing.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn gaps(&self) -> Result<Vec<Gap>, JournalError> {
        self.reading(|| {
            if !schema::is_sealed(&self.connection)? {
                return Ok(Vec::new());
            }
            let mut statement = self.connection.prepare(
                "SELECT last - first + 1,
                    (SELECT at_ms + written_after_ms FROM events WHERE id = first - 1),
                    (SELECT at_ms + written_after_ms FROM events WHERE id = last + 1)
                 FROM lost ORDER BY first",
            )?;
            let gaps = statement.query_map([], |row| {
                let moment = |column| row.get::<_, Option<i64>>(column).map(|ms| ms.map(Moment));
                Ok(Gap {
                    events: row.get::<_, i64>(0)? as u64,
                    after: moment(1)?,
                    before: moment(2)?,
                })
            })?;
            Ok(gaps.collect::<rusqlite::Result<_>>()?)
        })
    }

    /// That its shop goes on in the file beside it.
    pub fn left(&self) -> JournalError {
        let (path, reason) = (self.path.clone(), "as another process found".into());
        JournalError::Damaged { path, reason }
    }

    fn rescued_for(&self) -> Result<String, JournalError> {
        let reason = self
            .connection
            .query_row("SELECT reason FROM rescued", [], |row| row.get(0))
            .optional();
        Ok(reason.ok().flatten().unwrap_or_else(|| "as was found before".into()))
    }
}

/// The shop of a file that was rescued before, if the file beside it is of this one. If it is of
/// another, it is moved aside.
fn goes_on(path: &Path, now: Moment) -> Result<Option<Opened>, JournalError> {
    if !is_left(path) || !path.exists() {
        return Ok(None);
    }
    let opened = Journal::open_or_rescue_unread(&beside(path, RESCUED), now)?;
    if !is_of(&opened.journal, path)? {
        drop(opened);
        let aside = beside(path, &format!("{RESCUED}-{}", stamp(now)));
        for file in rescued(path).collect::<Vec<_>>() {
            move_aside(&file, aside.clone()).map_err(|error| JournalError::NotOpened {
                path: file,
                reason: error.to_string(),
            })?;
        }
        return Ok(None);
    }
    let loss = Loss::by(&opened.journal, path)?;
    Ok(Some(Opened { journal: opened.journal, loss: opened.loss.or(Some(loss)) }))
}

/// What tells one state of a file from another without reading it.
fn mark(path: &Path) -> String {
    let of = |path: &Path| {
        let found = fs::metadata(path).ok();
        let changed = found.as_ref().and_then(|found| found.modified().ok());
        let since = changed.and_then(|changed| changed.duration_since(UNIX_EPOCH).ok());
        (found.map_or(0, |found| found.len()), since.map_or(0, |since| since.as_nanos()))
    };
    format!("{:?} {:?}", of(path), of(&crate::edge::whole_file::beside(path, "-wal")))
}

/// Whether this rescued shop has every event that could be read in the damaged file when it was made. What was
/// written there later, by somebody who did not know, is no other shop, as long as this one went on as well.
fn is_of(journal: &Journal, damaged: &Path) -> Result<bool, JournalError> {
    let known = journal
        .connection
        .query_row("SELECT mark, last FROM rescued", [], |row| Ok((row.get(0)?, row.get(1)?)));
    let (known, last): (String, i64) = known.unwrap_or((String::new(), i64::MAX));
    let Ok(mut pages) = Pages::open(damaged) else { return Ok(true) };
    if known == mark(damaged) {
        return Ok(true);
    }
    let own = journal.last_event()?.map(|own| own.0);
    let went_on = own.is_some_and(|own| own > last);
    let sql = "SELECT 1 FROM events WHERE firing = ?1 AND uid = ?2";
    let (mut holds, mut is_of) = (journal.connection.prepare(sql)?, true);
    pages.each(|found| {
        if let Found::Event(id, frame, _) = found {
            is_of =
                (id > last && went_on) || holds.exists([frame.firing, frame.uid]).unwrap_or(true);
        }
        is_of
    });
    // Whoever writes into it at this moment goes by it.
    Ok(is_of || journal.last_event()?.map(|own| own.0) != own)
}

/// Goes on in a new file beside a damaged one; also for a process that meets the damage only while
/// it runs.
///
/// # Errors
/// When not even a file beside it can be written.
pub fn rescue(damaged: &Path, reason: String, now: Moment) -> Result<Opened, JournalError> {
    if let Some(opened) = goes_on(damaged, now)? {
        return Ok(opened);
    }
    let target = beside(damaged, RESCUED);
    let failed = |error: std::io::Error| JournalError::NotOpened {
        path: target.clone(),
        reason: error.to_string(),
    };
    let (mut as_of, mut tries) = (mark(damaged), 3);
    let (part, mut journal, (saved, from_backup)) = loop {
        let part = beside(damaged, &format!("rescuing-{}", Uid::fresh().number()));
        private(&part).map_err(failed)?;
        let mut journal =
            Journal::open_writing(&part, false).map_err(|error| error.named(&part))?;
        let filled = fill(&mut journal, damaged, (&as_of, &reason))?;
        // Somebody who did not know of the damage has written meanwhile: once more with that.
        let read = mem::replace(&mut as_of, mark(damaged));
        tries -= 1;
        if read == as_of || tries == 0 {
            break (part, journal, filled);
        }
        drop(journal);
        let _ = fs::remove_file(&part);
    };
    if journal.last_event()?.is_none() {
        journal.append_all(&starters(now), now)?;
    }
    drop(journal);
    // Another process may have been quicker: then the shop goes on in its copy.
    put(&part, &target).map_err(failed)?;
    let _ = fs::remove_file(&part);
    let journal = Journal::open(&target)?;
    let loss = Loss::by(&journal, damaged)?;
    let loss = Loss { saved: Some(saved), from_backup, ..loss };
    Ok(Opened { journal, loss: Some(loss) })
}

/// Copies every event that can be read into an empty journal; returns how many, and how many of
/// them are from a backup.
fn fill(
    journal: &mut Journal,
    damaged: &Path,
    (mark, reason): (&str, &str),
) -> Result<(u64, u64), JournalError> {
    let backups = backup::list(damaged);
    journal.write(|writing| {
        let to = &writing.transaction;
        // An event may stand before whoever wrote it.
        to.execute_batch(
            "PRAGMA defer_foreign_keys = ON;
             CREATE TABLE rescued (mark TEXT NOT NULL, last INTEGER NOT NULL, reason TEXT NOT NULL) STRICT;",
        )?;
        let mut saved = 0;
        // What was damaged before holds what the rescue of it took over, and is lost here.
        let files = iter::once(damaged.to_path_buf()).chain(damaged_before(damaged));
        for (place, file) in files.enumerate() {
            let Ok(mut pages) = Pages::open(&file) else { continue };
            pages.each(|found| {
                match found {
                    Found::Event(id, frame, content) => {
                        saved += u64::from(stored::insert(to, Some(id), &frame, &content).is_ok());
                    }
                    // A name or a summary that cannot be kept is made anew.
                    Found::Writer(id, kind, name) => {
                        drop(stored::add_writer(to, id, &kind, &name));
                    }
                    Found::Summary(row) => drop(keep_summary(to, &row, place == 0)),
                    Found::Unsealed => {}
                }
                true
            });
        }
        let mut from_backup = 0;
        for (_, backup) in backups {
            from_backup = fill_from(to, &backup).unwrap_or(0);
            if from_backup > 0 {
                break;
            }
        }
        let nameless = "SELECT DISTINCT writer FROM events WHERE writer NOT IN (SELECT id FROM writers)";
        let nameless: Vec<i64> = to
            .prepare(nameless)?
            .query_map([], |row| row.get(0))?
            .collect::<rusqlite::Result<_>>()?;
        for writer in nameless {
            stored::add_lost_writer(to, writer)?;
        }
        to.execute_batch(
            "INSERT INTO lost (first, last)
                SELECT before + 1, id - 1
                FROM (SELECT id, lag(id, 1, 0) OVER (ORDER BY id) AS before FROM events)
                WHERE id > before + 1;
             DELETE FROM firings WHERE id NOT IN (SELECT firing FROM events)",
        )?;
        to.execute(
            "INSERT INTO rescued (mark, last, reason)
                SELECT ?1, coalesce(max(id), 0), ?2 FROM events",
            [mark, reason],
        )?;
        writing.make_all_stale()?;
        Ok((saved + from_backup, from_backup))
    })
}

/// Copies what is missing from a backup of the same shop; from one of another shop nothing.
fn fill_from(to: &Connection, backup: &Path) -> Result<u64, JournalError> {
    let from = Journal::open_reading(backup, ReadOnly::NoPermission)?;
    let columns = stored::ROW;
    let mut statement = from.connection.prepare(&format!("SELECT {columns} FROM events"))?;
    let mut here = to.prepare("SELECT firing, uid FROM events WHERE id = ?1")?;
    let (mut rows, mut missing) = (statement.query([])?, Vec::new());
    while let Some(row) = rows.next()? {
        let (id, (frame, content, seal)) = (row.get::<_, i64>(0)?, stored::raw_row(row)?);
        let there: Option<(i64, i64)> =
            here.query_row([id], |row| Ok((row.get(0)?, row.get(1)?))).optional()?;
        match there {
            Some(there) if there != (frame.firing, frame.uid) => return Ok(0),
            Some(_) => {}
            None if seal == frame.seal(&content) => missing.push((id, frame, content)),
            None => {}
        }
    }
    let mut statement = from.connection.prepare("SELECT id, kind, name FROM writers")?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        stored::add_writer(to, row.get(0)?, &row.get::<_, String>(1)?, &row.get::<_, String>(2)?)?;
    }
    let copied = missing
        .iter()
        .filter(|(id, frame, content)| stored::insert(to, Some(*id), frame, content).is_ok());
    Ok(copied.count() as u64)
}

fn keep_summary(to: &Connection, row: &[Value], newest: bool) -> rusqlite::Result<usize> {
    let or = if newest { "REPLACE" } else { "IGNORE" };
    let places = (1..=16).map(|place| format!("?{place}")).collect::<Vec<_>>().join(", ");
    let sql = format!("INSERT OR {or} INTO firings VALUES ({places}, row_seal({places}))");
    to.prepare_cached(&sql)?.execute(params_from_iter(&row[..16]))
}
