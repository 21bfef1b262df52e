//! Who rings: exactly one process a shop, whichever holds the lock on `SHOP.watch`.
//!
//! The system lets go of the lock when its holder ends, however it ends, so another takes over at
//! its next step. The holder also writes down what it is and when it last moved: one that holds
//! the lock and does not move (stopped, or stuck) can be seen.

use std::fs::{File, TryLockError};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use crate::edge::whole_file::{beside, own};
use crate::units::{Moment, Span};

/// A holder that has not moved for so long is stuck.
pub const STUCK_AFTER: Span = Span::seconds(15);
/// How often the holder writes that it moves.
const BEAT_EVERY: Span = Span::seconds(2);

/// What the holder says of itself.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Holder {
    pub pid: u32,
    /// `keep`, or `screen`.
    pub doing: String,
    pub beat_ms: i64,
    /// Whether the last ring reached anybody; `None` before the first.
    pub reaches: Option<bool>,
}

/// Whether anybody keeps watch.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Watch {
    Nobody,
    /// Held by this process; unreadable details are `None`.
    By(Option<Holder>),
    /// Held, but not moving for so long.
    Stuck(Holder, Span),
}

/// The right to ring.
#[derive(Debug)]
pub struct RingLease {
    file: File,
    path: PathBuf,
    held: bool,
    beat: Option<(Moment, Option<bool>)>,
}

fn lock_path(shop: &Path) -> PathBuf {
    beside(shop, ".watch")
}

impl RingLease {
    /// The lease of this shop, not held yet.
    ///
    /// # Errors
    /// When its file can neither be opened nor made.
    pub fn of(shop: &Path) -> io::Result<RingLease> {
        let path = lock_path(shop);
        let file = own().read(true).write(true).create(true).truncate(false).open(&path)?;
        Ok(RingLease { file, path, held: false, beat: None })
    }

    pub fn is_held(&self) -> bool {
        self.held
    }

    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Takes the lease if nobody holds it. True when it is held afterwards.
    ///
    /// # Errors
    /// When the system cannot lock the file at all.
    pub fn take(&mut self) -> io::Result<bool> {
        if !self.held {
            match self.file.try_lock() {
                Ok(()) => self.held = true,
                Err(TryLockError::WouldBlock) => {}
                Err(TryLockError::Error(error)) => return Err(error),
            }
        }
        Ok(self.held)
    }

    /// Writes that the holder moves, every two seconds and when `reaches` changes.
    ///
    /// # Errors
    /// When it cannot be written; the lease is held all the same.
    pub fn beat(&mut self, doing: &str, reaches: Option<bool>, now: Moment) -> io::Result<()> {
        let fresh = self
            .beat
            .is_some_and(|(at, said)| said == reaches && now >= at && now - at < BEAT_EVERY);
        if !self.held || fresh {
            return Ok(());
        }
        self.beat = Some((now, reaches));
        let holder =
            Holder { pid: std::process::id(), doing: doing.to_owned(), beat_ms: now.0, reaches };
        let mut text = serde_json::to_vec(&holder)?;
        text.push(b'\n');
        self.file.seek(SeekFrom::Start(0))?;
        self.file.write_all(&text)?;
        self.file.set_len(text.len() as u64)
    }
}

/// Whether anybody keeps watch over this shop.
///
/// # Errors
/// When the lock's file is there and cannot be opened or asked.
pub fn who_watches(shop: &Path, now: Moment) -> io::Result<Watch> {
    let mut file = match File::open(lock_path(shop)) {
        Ok(file) => file,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Watch::Nobody),
        Err(error) => return Err(error),
    };
    match file.try_lock_shared() {
        // Let go of at once, with the file.
        Ok(()) => return Ok(Watch::Nobody),
        Err(TryLockError::WouldBlock) => {}
        Err(TryLockError::Error(error)) => return Err(error),
    }
    let mut text = String::new();
    file.read_to_string(&mut text)?;
    let Ok(holder) = serde_json::from_str::<Holder>(text.lines().next().unwrap_or("")) else {
        return Ok(Watch::By(None));
    };
    let still = now - Moment(holder.beat_ms);
    Ok(if still > STUCK_AFTER { Watch::Stuck(holder, still) } else { Watch::By(Some(holder)) })
}
