//! What lies at a shop's path: whether it is still the file that a process has open, as that left it.

use std::path::{Path, PathBuf};
use std::time::SystemTime;

use super::rescue::{Opened, rescue};
use super::shop_files::{Which, look, rescued, which, which_at};
use super::{Journal, JournalError};
use crate::edge::whole_file;
use crate::units::Moment;

/// The file at a shop's path as of one moment. A shop that is read and written through its log
/// changes this only now and then; another file, or one written over, does at once.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct AtPath {
    file: Which,
    length: u64,
    changed: Option<SystemTime>,
    /// The log beside it, which stays while anybody has the shop open.
    log: Option<Which>,
    /// The file beside it in which a damaged shop goes on: if that was damaged as well, the last of them.
    rescued: Option<Which>,
}

/// The shop at a path, followed by a process that has it open.
#[derive(Debug)]
pub struct Followed {
    shop: PathBuf,
    here: Option<AtPath>,
}

/// The shop opened anew, since something else lies at its path.
#[derive(Debug)]
pub struct Met {
    pub opened: Opened,
    /// Whether it was opened before, and whether that was another file.
    pub before: Option<bool>,
}

impl AtPath {
    fn of(shop: &Path) -> Result<AtPath, JournalError> {
        let found = look(shop)?;
        Ok(AtPath {
            file: which(&found),
            length: found.len(),
            changed: found.modified().ok(),
            log: which_at(&whole_file::beside(shop, "-wal")),
            rescued: rescued(shop).last().and_then(|path| which_at(&path)),
        })
    }
}

impl Followed {
    /// A shop that is not open yet.
    pub fn of(shop: PathBuf) -> Followed {
        Followed { shop, here: None }
    }

    /// The shop's path.
    pub fn shop(&self) -> &Path {
        &self.shop
    }

    /// What lies there now is what this process has open.
    pub fn note_open(&mut self) {
        self.here = AtPath::of(&self.shop).ok();
    }

    /// The shop opened anew, if it is not what this process has open: another file, one written over or
    /// emptied, or one in whose place another process goes on in the file beside it.
    ///
    /// # Errors
    /// Those of [`check`] and [`Journal::open_or_rescue`].
    pub fn news(&mut self, now: Moment) -> Result<Option<Met>, JournalError> {
        let here = AtPath::of(&self.shop)?;
        let before = self.here;
        if before == Some(here) {
            return Ok(None);
        }
        let another = before.map(|before| here.file != before.file);
        let rescued = before.is_some_and(|before| here.rescued != before.rescued);
        let opened = match another {
            Some(false) if rescued && here.rescued.is_some() => {
                rescue(&self.shop, "another process found it so".into(), now)?
            }
            Some(_) if here.length == 0 => rescue(&self.shop, "nothing is in it".into(), now)?,
            _ => Journal::open_or_rescue(&self.shop, now)?,
        };
        self.note_open();
        Ok(Some(Met { opened, before: another }))
    }
}
