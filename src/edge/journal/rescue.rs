//! A damaged file never stops a firing from being watched: what can be read of it is copied into a
//! new file beside it, in which the shop goes on. The damaged file is left as it is.

use std::fmt;
use std::path::{Path, PathBuf};

use rusqlite::Connection;

use super::backup::{RESCUED, beside};
use super::error::JournalError;
use super::stored::{self, Content, Frame};
use super::{Journal, ReadOnly};
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
    /// Events that were certainly there and are lost.
    pub lost: u64,
}

/// One paragraph that says what happened and what to do.
impl fmt::Display for Loss {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (damaged, beside) = (self.damaged.display(), self.beside.display());
        write!(f, "{damaged} is damaged ({}) and is left as it is. ", self.reason)?;
        match self.saved {
            Some(saved) => write!(
                f,
                "{saved} events could be read and were copied; at least {} are lost. ",
                self.lost
            )?,
            None => f.write_str("What could be read of it was copied before. ")?,
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
}

impl Journal {
    /// Opens a shop's file as [`Journal::open_or_begin`] does; if it is damaged, goes on in a new
    /// file beside it that has what could be read.
    ///
    /// # Errors
    /// When not even a file beside it can be written, or the file is no shop.
    pub fn open_or_rescue(path: &Path, now: Moment) -> Result<Opened, JournalError> {
        or_rescue(
            Self::open_or_begin(path, now).and_then(|journal| journal.shop().map(|_| journal)),
            now,
        )
    }

    /// The same for whoever reads the shop at once, and calls [`rescue`] for the damage that only
    /// shows then.
    ///
    /// # Errors
    /// See [`Journal::open_or_rescue`].
    pub fn open_or_rescue_unread(path: &Path, now: Moment) -> Result<Opened, JournalError> {
        or_rescue(Self::open_or_begin(path, now), now)
    }
}

fn or_rescue(opened: Result<Journal, JournalError>, now: Moment) -> Result<Opened, JournalError> {
    match opened {
        Ok(journal) => Ok(Opened { journal, loss: None }),
        Err(JournalError::Damaged { path, reason }) => rescue(&path, reason, now),
        Err(other) => Err(other),
    }
}

/// Goes on in a new file beside a damaged one; also for a process that meets the damage only while
/// it runs.
///
/// # Errors
/// When not even a file beside it can be written.
pub fn rescue(damaged: &Path, reason: String, now: Moment) -> Result<Opened, JournalError> {
    let beside = beside(damaged, RESCUED);
    let was_there = beside.exists();
    let mut journal = Journal::open(&beside)?;
    let (saved, lost) = if was_there && journal.last_event()?.is_some() {
        (None, 0)
    } else {
        let (saved, lost) = copy_readable(damaged, &mut journal)?;
        (Some(saved), lost)
    };
    drop(journal);
    let journal = Journal::open_or_begin(&beside, now)?;
    let loss = Loss { damaged: damaged.to_path_buf(), reason, beside, saved, lost };
    Ok(Opened { journal, loss: Some(loss) })
}

/// Copies every event that can be read; returns how many, and how many are certainly lost.
fn copy_readable(damaged: &Path, journal: &mut Journal) -> Result<(u64, u64), JournalError> {
    let Ok(source) = Journal::open_reading(damaged, ReadOnly::NoPermission) else {
        return Ok((0, 0));
    };
    let (mut saved, mut lost) = (0, 0);
    journal.write(|writing| {
        copy_writers(&source.connection, &writing.transaction)?;
        // A page that cannot be read ends the scan; it goes on behind it, in ever longer leaps.
        let (mut last, mut leap) = (0_i64, 0_i64);
        while leap < 1 << 40 {
            let from = last + leap;
            let scanned = scan_from(&source.connection, from, |id, frame, content| {
                if !stored::is_known_writer(&writing.transaction, frame.writer)? {
                    stored::add_lost_writer(&writing.transaction, frame.writer)?;
                }
                stored::insert(&writing.transaction, Some(id), frame, content)?;
                saved += 1;
                Ok(())
            });
            lost += scanned.unsealed;
            if let Some(reached) = scanned.reached {
                lost += u64::try_from(reached.0 - last - 1).unwrap_or(0).min(1 << 40);
                (last, leap) = (reached.1, 0);
            }
            if scanned.complete {
                break;
            }
            leap = (leap * 2).max(1);
        }
        writing.make_all_stale()
    })?;
    Ok((saved, lost))
}

struct Scanned {
    /// The first and the last event reached.
    reached: Option<(i64, i64)>,
    /// Events whose content is not what was written.
    unsealed: u64,
    /// The end was reached without an error.
    complete: bool,
}

fn scan_from(
    source: &Connection,
    after: i64,
    mut save: impl FnMut(i64, &Frame, &Content) -> rusqlite::Result<()>,
) -> Scanned {
    let mut scanned = Scanned { reached: None, unsealed: 0, complete: false };
    let mut scan = || -> rusqlite::Result<()> {
        let mut statement = source.prepare_cached(
            "SELECT id, firing, uid, at_ms, written_after_ms, offset_min, writer, kind, version,
                celsius, seal, body
             FROM events NOT INDEXED WHERE id > ?1 ORDER BY id",
        )?;
        let mut rows = statement.query([after])?;
        while let Some(row) = rows.next()? {
            let id: i64 = row.get(0)?;
            let first = scanned.reached.map_or(id, |(first, _)| first);
            scanned.reached = Some((first, id));
            let sound = stored::raw_row(row).is_ok_and(|(frame, content, seal)| {
                frame.seal(&content) == seal && save(id, &frame, &content).is_ok()
            });
            scanned.unsealed += u64::from(!sound);
        }
        Ok(())
    };
    scanned.complete = scan().is_ok();
    scanned
}

/// Names that cannot be read are left out; their events keep everything else.
fn copy_writers(source: &Connection, target: &Connection) -> rusqlite::Result<()> {
    let Ok(mut statement) = source.prepare("SELECT id, kind, name FROM writers") else {
        return Ok(());
    };
    let rows = statement.query_map([], |row| {
        Ok((row.get::<_, i64>(0)?, row.get::<_, String>(1)?, row.get::<_, String>(2)?))
    })?;
    for (id, kind, name) in rows.map_while(Result::ok) {
        target.execute(
            "INSERT OR IGNORE INTO writers (id, kind, name) VALUES (?1, ?2, ?3)",
            (id, kind, name),
        )?;
    }
    Ok(())
}
