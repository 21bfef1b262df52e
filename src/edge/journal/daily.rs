//! A backup a day, for a program that keeps running.
//!
//! It is made on a thread of its own: copying and verifying an old shop takes longer than a watch
//! may stand still.

use std::path::PathBuf;
use std::thread::{self, JoinHandle};

use super::{Journal, backup};
use crate::units::{Moment, Span};

/// How often the age of the last backup is looked at.
const LOOK: Span = Span::hours(1);

/// The backups of one shop, as one running program makes them.
#[derive(Debug, Default)]
pub struct DailyBackup {
    looked: Option<Moment>,
    making: Option<JoinHandle<Result<Option<PathBuf>, String>>>,
}

impl DailyBackup {
    /// Begins a backup if one is due, and tells once what became of the one that was begun: where
    /// it is, or why there is none. Nothing to tell while none was due.
    pub fn keep(&mut self, journal: &Journal, now: Moment) -> Option<Result<PathBuf, String>> {
        let made = self.making.take_if(|making| making.is_finished());
        let told =
            made.and_then(|done| done.join().unwrap_or(Err("it broke off".into())).transpose());
        let looked_lately =
            self.looked.is_some_and(|looked| (Span::ZERO..LOOK).contains(&(now - looked)));
        if !looked_lately && self.making.is_none() && journal.read_only().is_none() {
            self.looked = Some(now);
            let path = journal.path().to_path_buf();
            self.making = Some(thread::spawn(move || {
                let journal = Journal::open(&path).map_err(|error| error.to_string())?;
                journal.backup_if_due(now, backup::KEEP).map_err(|error| error.to_string())
            }));
        }
        told
    }
}

/// Ending waits for a backup that is being made, so that no half of one is left behind.
impl Drop for DailyBackup {
    fn drop(&mut self) {
        if let Some(making) = self.making.take() {
            let _ = making.join();
        }
    }
}
