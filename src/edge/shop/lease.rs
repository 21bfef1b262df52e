//! Who rings: exactly one process a shop, whichever holds the lock on `SHOP.watch`.
//!
//! The system lets go of the lock when its holder ends, however it ends, so another takes over at
//! its next step. The holder also writes down what it is and when it last moved. One that holds the
//! lock and does not move (stopped, stuck, or another program that locks files) is passed over: the
//! next process puts a locked file of its own in the place of `SHOP.watch`. Whoever finds another
//! file there than its own has lost the lease.

use std::fs::{self, File, TryLockError};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::os::unix::fs::{MetadataExt, PermissionsExt};
use std::path::{Path, PathBuf};

use rustix::io::Errno;
use rustix::process::{Pid, test_kill_process};
use serde::{Deserialize, Serialize};

use crate::edge::plain_file;
use crate::edge::whole_file::{beside, own};
use crate::units::{Moment, Span};

/// A holder that has not moved for so long is stuck.
pub const STUCK_AFTER: Span = Span::seconds(15);
/// The same where the process that is named is not there any more: longer than two beats, since it
/// may be a process of another machine.
const GONE_AFTER: Span = Span::seconds(5);
/// How often the holder writes that it moves.
const BEAT_EVERY: Span = Span::seconds(2);
/// No more than this of one step counts: whoever stood still itself has seen nothing of the holder.
const LONGEST_SIGHT: Span = Span::seconds(3);

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
    /// Held, but not by the process it names, which is not there any more.
    Gone(Holder),
}

/// The right to ring.
#[derive(Debug)]
pub struct RingLease {
    shop: PathBuf,
    path: PathBuf,
    file: Option<File>,
    held: bool,
    beat: Option<(Moment, Option<bool>)>,
    /// What another holder said last, and for how long it has said nothing else.
    seen: (String, Span),
    /// The file of a holder that was passed over, and what was wrong with it.
    passed_over: Option<(File, Watch)>,
}

fn lock_path(shop: &Path) -> PathBuf {
    beside(shop, ".watch")
}

impl RingLease {
    /// The lease of this shop, not held yet.
    pub fn of(shop: &Path) -> RingLease {
        RingLease {
            shop: shop.to_owned(),
            path: lock_path(shop),
            file: None,
            held: false,
            beat: None,
            seen: (String::new(), Span::ZERO),
            passed_over: None,
        }
    }

    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The holder this process rings in the place of, for as long as that still has its lock.
    pub fn passed_over(&mut self) -> Option<&Watch> {
        self.passed_over.take_if(|(file, _)| !self.held || file.try_lock().is_ok());
        self.passed_over.as_ref().map(|(_, watch)| watch)
    }

    /// Takes the lease if nobody holds it, or if whoever does has not moved; `passed` is how long the
    /// last call was ago by a stopwatch. True when it is held afterwards, by `me`.
    ///
    /// # Errors
    /// When its file can neither be opened nor made, or the system cannot lock it.
    pub fn take(&mut self, me: &Holder, passed: Span) -> io::Result<bool> {
        if self.file.as_ref().is_some_and(|file| !is_at(file, &self.path)) {
            (self.file, self.held) = (None, false);
        }
        if self.held {
            return Ok(true);
        }
        let file = match &self.file {
            Some(file) => file,
            None => self.file.insert(open(&self.path, &self.shop)?),
        };
        match file.try_lock() {
            Ok(()) => self.held = true,
            Err(TryLockError::WouldBlock) => {
                let said = plain_file::read_to_string(&self.path)?;
                if said == self.seen.0 {
                    self.seen.1 = self.seen.1 + passed.min(LONGEST_SIGHT);
                } else {
                    self.seen = (said, Span::ZERO);
                }
                self.held = self.pass_over(me)?;
            }
            Err(TryLockError::Error(error)) => return Err(error),
        }
        if self.held {
            self.beat = None;
            self.beat(me)?;
        }
        Ok(self.held)
    }

    /// Puts a file of its own in the place of one whose holder does not move. Of several that want
    /// to, the first to lock the file that is to come does, and the others find its beat.
    fn pass_over(&mut self, me: &Holder) -> io::Result<bool> {
        let still = self.seen.1;
        let holder = named(&self.seen.0);
        let is_gone = holder.as_ref().is_some_and(|holder| !is_alive(holder.pid));
        if still < if is_gone { GONE_AFTER } else { STUCK_AFTER } {
            return Ok(false);
        }
        let next = beside(&self.path, ".next");
        let mut mine = open(&next, &self.shop)?;
        let is_first = mine.try_lock().is_ok() && is_at(&mine, &next);
        if !is_first || plain_file::read_to_string(&self.path)? != self.seen.0 {
            return Ok(false);
        }
        say(&mut mine, me)?;
        fs::rename(&next, &self.path)?;
        let watch = match holder {
            Some(holder) if is_gone => Watch::Gone(holder),
            Some(holder) => Watch::Stuck(holder, still),
            None => Watch::By(None),
        };
        self.passed_over = self.file.replace(mine).map(|file| (file, watch));
        Ok(true)
    }

    /// Writes that the holder moves, every two seconds and when it reaches others or nobody.
    ///
    /// # Errors
    /// When it cannot be written; the lease is held all the same.
    pub fn beat(&mut self, me: &Holder) -> io::Result<()> {
        let now = Moment(me.beat_ms);
        let fresh = self
            .beat
            .is_some_and(|(at, said)| said == me.reaches && now >= at && now - at < BEAT_EVERY);
        let Some(file) = self.file.as_mut().filter(|_| self.held && !fresh) else { return Ok(()) };
        self.beat = Some((now, me.reaches));
        say(file, me)
    }
}

/// The lock's file, made if it is not there. Only who may write the shop may open it: whoever can read
/// a file can lock it.
fn open(path: &Path, shop: &Path) -> io::Result<File> {
    let mut options = own();
    options.read(true).write(true).create(true).truncate(false);
    let file = plain_file::open(path, &options)?;
    let writers = fs::metadata(shop).map_or(0, |shop| shop.mode() & 0o022);
    // One of another owner stays as it is; it can be used all the same.
    let _ = file.set_permissions(fs::Permissions::from_mode(0o600 | writers | (writers << 1)));
    Ok(file)
}

fn say(file: &mut File, me: &Holder) -> io::Result<()> {
    let mut text = serde_json::to_vec(me)?;
    text.push(b'\n');
    file.seek(SeekFrom::Start(0))?;
    file.write_all(&text)?;
    file.set_len(text.len() as u64)
}

fn named(said: &str) -> Option<Holder> {
    serde_json::from_str(said.lines().next().unwrap_or("")).ok()
}

/// Whether this is the file that lies at this path now.
fn is_at(file: &File, path: &Path) -> bool {
    let number = |found: io::Result<fs::Metadata>| found.ok().map(|it| (it.dev(), it.ino()));
    let mine = number(file.metadata());
    mine.is_some() && mine == number(fs::metadata(path))
}

/// Whether there is a process of this number, whoever it belongs to.
fn is_alive(pid: u32) -> bool {
    let pid = i32::try_from(pid).ok().and_then(Pid::from_raw);
    pid.is_none_or(|pid| test_kill_process(pid) != Err(Errno::SRCH))
}

/// Whether anybody keeps watch over this shop.
///
/// # Errors
/// When the lock's file is there and cannot be opened or asked.
pub fn who_watches(shop: &Path, now: Moment) -> io::Result<Watch> {
    let mut file = match plain_file::open(&lock_path(shop), own().read(true)) {
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
    let mut said = String::new();
    file.read_to_string(&mut said)?;
    let Some(holder) = named(&said) else { return Ok(Watch::By(None)) };
    let still = now - Moment(holder.beat_ms);
    Ok(match still {
        _ if still > GONE_AFTER && !is_alive(holder.pid) => Watch::Gone(holder),
        _ if still > STUCK_AFTER => Watch::Stuck(holder, still),
        _ => Watch::By(Some(holder)),
    })
}
