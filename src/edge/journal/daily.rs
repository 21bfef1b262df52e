//! The care of a shop's file by a program that keeps running: a backup a day, the log taken in, and
//! every event of it looked at within the day.
//!
//! A backup is made on a thread of its own: copying and verifying an old shop takes longer than a
//! watch may stand still. Whoever ends does not wait for it: what is not finished has no backup's name, and is
//! swept later.

use std::path::PathBuf;
use std::thread::{self, JoinHandle};

use super::check::Position;
use super::{Journal, JournalError, backup, rescue};
use crate::units::{Moment, Span};

/// How often the age of the last backup is looked at.
const LOOK: Span = Span::hours(1);
/// After how long without a backup that is told.
const NONE_FOR: Span = Span::hours(48);
/// How often a piece of the file is looked at.
const PIECE: Span = Span::minutes(1);
/// In how many pieces a file is looked at: all of them within the day.
const PIECES: i64 = 1_200;
/// Number of events in the smallest piece.
const LEAST: i64 = 500;

/// The care of one shop, as one running program takes it.
#[derive(Debug, Default)]
pub struct DailyBackup {
    looked: Option<Moment>,
    making: Option<JoinHandle<Result<Option<PathBuf>, String>>>,
    position: Position,
    checked: Option<Moment>,
}

impl DailyBackup {
    /// Begins a backup if one is due, and tells once what became of the one that was begun: where
    /// it is, or why there is none. Nothing to tell while none was due.
    pub fn keep(&mut self, journal: &Journal, now: Moment) -> Option<Result<PathBuf, String>> {
        let made = self.making.take_if(|making| making.is_finished());
        let mut told =
            made.and_then(|done| done.join().unwrap_or(Err("it broke off".into())).transpose());
        let is_first = self.looked.is_none();
        if passed(&mut self.looked, LOOK, now)
            && self.making.is_none()
            && journal.read_only().is_none()
        {
            if is_first {
                told = told.or(none_lately(journal, now).map(Err));
            }
            let path = journal.path().to_path_buf();
            let begun = thread::Builder::new().spawn(move || {
                let journal = Journal::open(&path).map_err(|error| error.to_string())?;
                journal.backup_if_due(now, None).map_err(|error| error.to_string())
            });
            match begun {
                Ok(making) => self.making = Some(making),
                Err(error) => told = Some(Err(error.to_string())),
            }
        }
        told
    }

    /// Takes the log into the file and looks at the next piece of it, once a minute; what is found
    /// damaged is noted in the file, or makes the shop go on in another.
    ///
    /// # Errors
    /// [`JournalError::Damaged`] where the file itself is damaged, not only what an event says.
    pub fn look_after(&mut self, journal: &Journal, now: Moment) -> Result<(), JournalError> {
        if journal.read_only().is_some() || !passed(&mut self.checked, PIECE, now) {
            return Ok(());
        }
        journal.take_in_log()?;
        let last = journal.last_event()?.map_or(0, |last| last.0);
        let found = journal.check_some(&mut self.position, LEAST.max(last / PIECES));
        if let Err(JournalError::Damaged { path, reason }) = &found {
            rescue::rescue(path, reason.clone(), now)?;
        }
        found
    }
}

/// Whether so much time has passed since; then it counts from now. A clock set back counts too.
fn passed(since: &mut Option<Moment>, span: Span, now: Moment) -> bool {
    let passed = since.is_none_or(|since| !(Span::ZERO..span).contains(&(now - since)));
    if passed {
        *since = Some(now);
    }
    passed
}

/// That days went by without a backup although something was written.
fn none_lately(journal: &Journal, now: Moment) -> Option<String> {
    let made = backup::list(journal.path()).into_iter().map(|(made, _)| made);
    let last = made.filter(|made| *made <= now).max()?;
    let written = journal.last_written().ok().flatten()?;
    (now - last > NONE_FOR && written > last)
        .then(|| format!("none for {}, although something was written", now - last))
}
