//! Opening a shop's file, whatever state it is in.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::thread::sleep;
use std::time::Duration;

use rusqlite::{Connection, ErrorCode, OpenFlags};
use serde_json::Value;

use super::error::{JournalError, unsound};
use super::pages::{Found, Pages};
use super::schema::Owner;
use super::shop_files::{backups, damaged_before, look, private, put, rescued, which_at};
use super::{Journal, NewEvent, ReadOnly, Uid, UnreadEvents, schema, unread};
use crate::edge::{form, whole_file};
use crate::firing::{What, Who};
use crate::kiln::starter;
use crate::units::Moment;

/// How long a write waits for another process before it gives up.
const PATIENCE: Duration = Duration::from_secs(30);

/// How long it waits between two tries. A write takes about this long; SQLite's own waiting grows
/// to a tenth of a second, which starves one of two busy writers.
const PAUSE: Duration = Duration::from_millis(1);

/// How much of the file a connection holds in memory. A program has several, for months, and what
/// they do not hold is in the system's own cache.
const CACHE_KIB: i64 = 128;

fn wait_for_others(tries: i32) -> bool {
    sleep(PAUSE);
    u128::try_from(tries).unwrap_or(0) * PAUSE.as_millis() < PATIENCE.as_millis()
}

/// Where a journal is, for another connection to it.
#[derive(Debug, Clone)]
pub struct Address {
    path: PathBuf,
    in_memory: bool,
    unread: UnreadEvents,
}

impl Address {
    /// The same journal once more; what cannot be read is noted together.
    ///
    /// # Errors
    /// See [`Journal::open`].
    pub fn open(&self) -> Result<Journal, JournalError> {
        let opened = match self.in_memory {
            true => Journal::open_writing(&self.path, true)?,
            false => Journal::open(&self.path)?,
        };
        Ok(opened.with_unread(&self.unread))
    }
}

impl Journal {
    /// An empty journal in memory, of which nothing reaches a disk.
    ///
    /// # Errors
    /// When there is no memory for it.
    pub fn in_memory() -> Result<Journal, JournalError> {
        static BEGUN: AtomicU64 = AtomicU64::new(0);
        // A name of its own, so that its advice and its review can read it from other threads.
        let number = BEGUN.fetch_add(1, Ordering::Relaxed);
        Self::open_writing(Path::new(&format!("file:/made-up-{number}?vfs=memdb")), true)
    }

    /// Where it is.
    pub fn address(&self) -> Address {
        let Journal { path, in_memory, unread, .. } = self;
        Address { path: path.clone(), in_memory: *in_memory, unread: unread.clone() }
    }

    /// Opens a shop's file.
    ///
    /// A file of a newer version, or one that may not be written, opens for reading only; see
    /// [`Journal::read_only`].
    ///
    /// # Errors
    /// [`JournalError::NoShop`], [`JournalError::Damaged`], [`JournalError::NotAShop`],
    /// [`JournalError::NotOpened`] and the like; what is there is left as it was.
    pub fn open(path: &Path) -> Result<Journal, JournalError> {
        check(path)?;
        Self::open_writing(path, false).or_else(|error| match error.named(path) {
            JournalError::Damaged { path, .. } if !holds_events(&path) && !was_kept(&path) => {
                Err(JournalError::NotAShop { path, what: "no shop of Spyhole" })
            }
            JournalError::NewerFile { found, .. } => {
                Self::open_reading(path, ReadOnly::Newer { found })
            }
            JournalError::NotWritable { .. } | JournalError::NotOpened { .. } if path.exists() => {
                Self::open_reading(path, ReadOnly::NoPermission)
            }
            other => Err(other),
        })
    }

    /// Puts a new shop that holds these events in a place where nothing is, with its folder. It is whole
    /// from the first moment on: an empty file is never the beginning of a shop.
    ///
    /// # Errors
    /// When it cannot be written there.
    pub fn begin(path: &Path, holding: &[NewEvent], now: Moment) -> Result<(), JournalError> {
        let failed = |error: io::Error| JournalError::NotOpened {
            path: path.to_path_buf(),
            reason: error.to_string(),
        };
        if let Some(folder) = path.parent().filter(|folder| !folder.as_os_str().is_empty()) {
            fs::create_dir_all(folder).map_err(failed)?;
        }
        let part = whole_file::beside(path, &format!(".{}.begun", Uid::fresh().number()));
        let begun = private(&part).map_err(failed).and_then(|()| {
            let mut journal =
                Journal::open_writing(&part, false).map_err(|error| error.named(path))?;
            journal.append_all(holding, now)?;
            drop(journal);
            put(&part, path).map_err(failed)
        });
        // Where it was put, it has its own name now.
        let _ = fs::remove_file(&part);
        begun
    }

    pub(super) fn open_writing(path: &Path, in_memory: bool) -> Result<Journal, JournalError> {
        let mut flags = OpenFlags::SQLITE_OPEN_READ_WRITE
            | OpenFlags::SQLITE_OPEN_URI
            | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        flags.set(OpenFlags::SQLITE_OPEN_CREATE, in_memory);
        let (mut connection, which) = loop {
            let before = which_at(path);
            let connection = Connection::open_with_flags(path, flags)?;
            if in_memory || before == which_at(path) {
                break (connection, before);
            }
        };
        connection.busy_handler(Some(wait_for_others))?;
        match schema::owner(&connection)? {
            Owner::Ours => {}
            Owner::Nobody if in_memory || !holds_events(path) => {}
            Owner::Another => {
                let (path, what) = (path.to_path_buf(), "no shop of Spyhole");
                return Err(JournalError::NotAShop { path, what });
            }
            Owner::Nobody | Owner::OursUnmarked => {
                let reason = "its first page does not bear the mark of a shop".into();
                return Err(JournalError::Damaged { path: path.to_path_buf(), reason });
            }
        }
        let found = schema::version(&connection)?;
        if found > schema::VERSION {
            let path = path.to_path_buf();
            return Err(JournalError::NewerFile { path, found, known: schema::VERSION });
        }
        use_write_ahead_log(&connection)?;
        connection.pragma_update(None, "synchronous", "FULL")?;
        connection.pragma_update(None, "foreign_keys", true)?;
        unread::teach(&connection)?;
        schema::migrate(&mut connection)?;
        Ok(Journal { in_memory, which, ..Self::over(connection, path, None)? })
    }

    pub(super) fn open_reading(path: &Path, why: ReadOnly) -> Result<Journal, JournalError> {
        let open = |uri: &str| -> rusqlite::Result<Connection> {
            let flags = OpenFlags::SQLITE_OPEN_READ_ONLY
                | OpenFlags::SQLITE_OPEN_URI
                | OpenFlags::SQLITE_OPEN_NO_MUTEX;
            let mut connection = Connection::open_with_flags(uri, flags)?;
            connection.busy_handler(Some(wait_for_others))?;
            unread::teach(&connection)?;
            if !schema::is_sealed(&connection)? {
                connection.execute_batch(schema::AS_IF_SEALED)?;
            }
            Ok(connection)
        };
        let uri = file_uri(path);
        // In a folder that may not be written the log's index cannot be made; the file alone can
        // still be read, as of its last checkpoint.
        let connection = open(&format!("{uri}?mode=ro"))
            .or_else(|_| open(&format!("{uri}?mode=ro&immutable=1")))
            .map_err(|error| JournalError::from(error).named(path))?;
        Self::over(connection, path, Some(why))
            .map_err(|error| JournalError::from(error).named(path))
    }

    fn over(
        connection: Connection,
        path: &Path,
        read_only: Option<ReadOnly>,
    ) -> rusqlite::Result<Journal> {
        let path = path.to_path_buf();
        connection.set_prepared_statement_cache_capacity(64);
        connection.pragma_update(None, "cache_size", -CACHE_KIB)?;
        if schema::is_sealed(&connection)? {
            let garbled = "SELECT name FROM writers WHERE seal <> row_seal(kind, name)";
            if connection.prepare(garbled)?.exists([])? {
                return Err(unsound("the name of somebody who wrote is damaged".into()));
            }
        }
        let unread = UnreadEvents::default();
        Ok(Journal { connection, path, which: None, in_memory: false, read_only, unread })
    }
}

/// What a new shop begins with: the starter set of load types.
pub fn starters(now: Moment) -> Vec<NewEvent> {
    let starter = |load_type| {
        let what = What::LoadTypeSet(load_type);
        let said = Value::Object(form::write(&what));
        let uid = Uid::of_content(&format!("starter load type {said}"));
        NewEvent { uid, ..NewEvent::new(None, now, Who::Program, what) }
    };
    starter::load_types().into_iter().map(starter).collect()
}

/// Whether there is a file to open.
///
/// # Errors
/// Those of [`shop_files::check`], and [`JournalError::Damaged`] for one that was emptied.
fn check(path: &Path) -> Result<(), JournalError> {
    let path_buf = || path.to_path_buf();
    if look(path)?.len() > 0 {
        return Ok(());
    }
    Err(match was_kept(path) {
        true => JournalError::Damaged { path: path_buf(), reason: "it is empty".into() },
        false => JournalError::NotAShop { path: path_buf(), what: "an empty file" },
    })
}

/// Whether anything beside this file tells that it was a shop once.
fn was_kept(path: &Path) -> bool {
    let log = whole_file::beside(path, "-wal");
    backups(path).next().is_some()
        || rescued(path).chain(damaged_before(path)).next().is_some()
        || fs::metadata(log).is_ok_and(|log| log.len() > 0)
}

/// Whether events of a shop stand in this file, whatever became of the rest of it.
fn holds_events(path: &Path) -> bool {
    let mut holds = false;
    if let Ok(mut pages) = Pages::open(path) {
        pages.each(|found| {
            holds = matches!(found, Found::Event(..));
            !holds
        });
    }
    holds
}

/// The path as a `file:` address, with the letters that mean something in one escaped.
fn file_uri(path: &Path) -> String {
    let mut uri = String::from("file:");
    for byte in path.as_os_str().as_encoded_bytes() {
        match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'/' | b'.' | b'-' | b'_' => {
                uri.push(char::from(*byte));
            }
            other => uri.push_str(&format!("%{other:02X}")),
        }
    }
    uri
}

/// Changing to the log needs the file for itself for a moment, and does not wait by itself when
/// another process is doing the same.
fn use_write_ahead_log(connection: &Connection) -> rusqlite::Result<()> {
    let mut waited = Duration::ZERO;
    loop {
        let changed = connection
            .pragma_update_and_check(None, "journal_mode", "WAL", |row| row.get::<_, String>(0));
        match changed {
            Ok(_) => return Ok(()),
            Err(error) if is_busy(&error) && waited < PATIENCE => {
                sleep(PAUSE);
                waited += PAUSE;
            }
            Err(error) => return Err(error),
        }
    }
}

fn is_busy(error: &rusqlite::Error) -> bool {
    matches!(error.sqlite_error_code(), Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked))
}
