//! What is kept for the page beside the events, in tables that no event reads: whether it is switched on,
//! the devices that are paired, and the code that pairs the next one.
//!
//! The tables are made when the page is switched on for the first time. A shop that never switches it on
//! stays as it was, and a program that knows nothing of them reads and writes any shop as before.

use std::net::IpAddr;
use std::path::Path;

use rusqlite::{
    Connection, OpenFlags, OptionalExtension, Params, Row, Transaction, TransactionBehavior, params,
};

use super::device::has_tables;
pub use super::device::{Device, Digest};
use super::{Journal, JournalError, rights};
use crate::units::{Moment, Span};

const TABLES: &str = "
CREATE TABLE IF NOT EXISTS page (
    id      INTEGER PRIMARY KEY CHECK (id = 1),
    is_on   INTEGER NOT NULL,
    port    INTEGER NOT NULL,
    served  INTEGER NOT NULL DEFAULT 0,   -- the process that serves it; 0 for none
    trouble TEXT NOT NULL DEFAULT ''      -- why it cannot be served
) STRICT;
CREATE TABLE IF NOT EXISTS page_devices (
    name      TEXT PRIMARY KEY,
    token     BLOB NOT NULL UNIQUE,       -- SHA-256 of what the device shows
    paired_ms INTEGER NOT NULL,
    seen_ms   INTEGER NOT NULL,
    sound     INTEGER NOT NULL DEFAULT 0  -- 1 while it would be heard
) STRICT;
CREATE TABLE IF NOT EXISTS page_offers (
    id       INTEGER PRIMARY KEY,
    scanned  BLOB NOT NULL,               -- SHA-256 of the code in the picture
    typed    BLOB NOT NULL,               -- SHA-256 of the letters beside it
    ends_ms  INTEGER NOT NULL,
    shown_ms INTEGER NOT NULL,            -- until when whoever shows it has said that it is shown
    wrong    INTEGER NOT NULL DEFAULT 0,
    paired   TEXT                         -- the device that has used it
) STRICT;
CREATE TABLE IF NOT EXISTS page_rang (
    device  TEXT PRIMARY KEY,
    alarm   TEXT NOT NULL,                -- which one it sounded for last; empty for a try
    rang_ms INTEGER NOT NULL
) STRICT;
CREATE TABLE IF NOT EXISTS page_door (
    id      INTEGER PRIMARY KEY CHECK (id = 1),
    address TEXT NOT NULL                 -- that of this computer by which a device was paired last
) STRICT;
";

/// So many wrong codes may be typed before the one that is shown is worth nothing any more.
const WRONG_CODES: i64 = 5;

/// The page, where it is switched on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Switched {
    pub port: u16,
    /// The process that serves it; 0 for none.
    pub served: u32,
    /// Why it cannot be served; empty for nothing.
    pub trouble: String,
}

/// What became of the code that pairs a device.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Offer {
    Stands,
    Paired(String),
    /// Too many wrong ones were typed.
    Burnt,
    /// It is over, or another was made.
    Gone,
}

/// What a device asks to be paired with.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Code {
    Scanned(Digest),
    Typed(Digest),
}

/// What came of asking to be paired.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pairing {
    Paired,
    /// No such code is shown.
    NoSuchCode,
    /// Another device has this name.
    NameTaken,
}

/// A device that said it sounds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rang {
    pub device: String,
    /// The mark of the alarm; empty where somebody tried the sound.
    pub alarm: String,
    pub at: Moment,
}

/// The devices of the shop in this file that said they sound, each as it did so last.
///
/// # Errors
/// When the file cannot be read.
pub fn rang(shop: &Path) -> rusqlite::Result<Vec<Rang>> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(shop, flags)?;
    if !has_tables(&connection)? {
        return Ok(Vec::new());
    }
    let mut rang = connection.prepare("SELECT device, alarm, rang_ms FROM page_rang")?;
    let rang = rang.query_map([], |row| {
        Ok(Rang { device: row.get(0)?, alarm: row.get(1)?, at: Moment(row.get(2)?) })
    })?;
    rang.collect()
}

fn of(connection: &Connection) -> rusqlite::Result<Option<Switched>> {
    let sql = "SELECT count(*) = 1 FROM sqlite_schema WHERE name = 'page'";
    if !connection.query_row(sql, [], |row| row.get(0))? {
        return Ok(None);
    }
    let mut page =
        connection.prepare("SELECT port, served, trouble FROM page WHERE is_on = 1 AND id = 1")?;
    page.query_row([], |row| {
        Ok(Switched { port: row.get(0)?, served: row.get(1)?, trouble: row.get(2)? })
    })
    .optional()
}

fn forget(tables: &Connection, name: &str) -> rusqlite::Result<bool> {
    rights::forget(tables, name)?;
    tables.execute("DELETE FROM page_rang WHERE device = ?1", [name])?;
    Ok(tables.execute("DELETE FROM page_devices WHERE name = ?1", [name])? > 0)
}

impl Journal {
    /// The page; `None` while it is switched off, and where it never was on.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn page(&self) -> Result<Option<Switched>, JournalError> {
        of(&self.connection).map_err(|error| self.named(error))
    }

    /// Does something with the tables, made first if they are not there.
    pub(super) fn in_tables<T>(
        &self,
        work: impl FnOnce(&Connection) -> rusqlite::Result<T>,
    ) -> Result<T, JournalError> {
        let work = || -> rusqlite::Result<T> {
            let transaction =
                Transaction::new_unchecked(&self.connection, TransactionBehavior::Immediate)?;
            if !has_tables(&transaction)? {
                transaction.execute_batch(TABLES)?;
                transaction.execute_batch(rights::TABLES)?;
            }
            let done = work(&transaction)?;
            transaction.commit()?;
            Ok(done)
        };
        work().map_err(|error| self.named(error))
    }

    /// Writes into them.
    pub(super) fn in_table(&self, sql: &str, with: impl Params) -> Result<(), JournalError> {
        self.in_tables(|tables| tables.execute(sql, with)).map(drop)
    }

    /// Reads what is in them; nothing where they are not there.
    pub(super) fn of_tables<T: Default>(
        &self,
        read: impl FnOnce(&Connection) -> rusqlite::Result<T>,
    ) -> Result<T, JournalError> {
        let there = has_tables(&self.connection);
        let read =
            there.and_then(|there| if there { read(&self.connection) } else { Ok(T::default()) });
        read.map_err(|error| self.named(error))
    }

    /// Switches the page on at this port, or at the one it had; `usual` is taken the first time.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn switch_page_on(&self, port: Option<u16>, usual: u16) -> Result<(), JournalError> {
        self.in_table(
            "INSERT INTO page (id, is_on, port) VALUES (1, 1, ?1) ON CONFLICT (id)
             DO UPDATE SET is_on = 1, port = coalesce(?2, port)
             WHERE is_on = 0 OR port <> coalesce(?2, port)",
            params![port.unwrap_or(usual), port],
        )
    }

    /// Switches the page off; the devices stay paired.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn switch_page_off(&self) -> Result<(), JournalError> {
        self.in_table("UPDATE page SET is_on = 0, trouble = ''", [])
    }

    /// Writes down which process serves the page, 0 for none, or what keeps it from doing so. Each device has
    /// to say anew that it would be heard.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn note_served(&self, process: u32, trouble: &str) -> Result<(), JournalError> {
        self.in_tables(|tables| {
            tables.execute("UPDATE page_devices SET sound = 0 WHERE sound = 1", [])?;
            tables.execute(
                "UPDATE page SET served = ?1, trouble = ?2 WHERE served <> ?1 OR trouble <> ?2",
                params![process, trouble],
            )
        })
        .map(drop)
    }

    /// Writes down what is wrong with the page while it is served; empty for nothing.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn note_trouble(&self, trouble: &str) -> Result<(), JournalError> {
        self.in_table("UPDATE page SET trouble = ?1", [trouble])
    }

    /// The devices that are paired, in the order of their names; none where the page never was on.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn devices(&self) -> Result<Vec<Device>, JournalError> {
        self.of_tables(|tables| {
            let mut listed = tables.prepare(
                "SELECT name, token, paired_ms, seen_ms, sound FROM page_devices ORDER BY name",
            )?;
            let devices = listed.query_map([], |row| {
                let (name, token, sound) = (row.get(0)?, row.get(1)?, row.get(4)?);
                let (paired, seen) = (Moment(row.get(2)?), Moment(row.get(3)?));
                let (unlocked, people) = (false, Vec::new());
                Ok(Device { name, token, paired, seen, sound, unlocked, people })
            })?;
            let mut devices: Vec<Device> = devices.collect::<rusqlite::Result<_>>()?;
            rights::with_rights(tables, &mut devices)?;
            Ok(devices)
        })
    }

    /// Unpairs a device; false if there is none of this name.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn forget_device(&self, name: &str) -> Result<bool, JournalError> {
        self.in_tables(|tables| forget(tables, name))
    }

    /// Writes down that a device was here, and whether it would be heard where it said so.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn note_device(
        &self,
        name: &str,
        sound: Option<bool>,
        now: Moment,
    ) -> Result<(), JournalError> {
        self.in_tables(|tables| {
            rights::lapse(tables, name, now)?;
            tables.execute(
                "UPDATE page_devices SET seen_ms = ?2, sound = coalesce(?3, sound) WHERE name = ?1",
                params![name, now.0, sound],
            )
        })
        .map(drop)
    }

    /// Writes down by which address of this computer a device was paired.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn note_door(&self, address: IpAddr) -> Result<(), JournalError> {
        let sql = "INSERT OR REPLACE INTO page_door (id, address) VALUES (1, ?1)";
        self.in_table(sql, [address.to_string()])
    }

    /// The address of this computer by which a device was paired last.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn door(&self) -> Result<Option<IpAddr>, JournalError> {
        let read = |row: &Row<'_>| row.get::<_, String>(0);
        let text = self.of_tables(|tables| {
            tables.query_row("SELECT address FROM page_door", [], read).optional()
        })?;
        Ok(text.and_then(|text| text.parse().ok()))
    }

    /// Writes down that a device sounds for an alarm, or where somebody tries it.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn note_rang(&self, name: &str, alarm: &str, now: Moment) -> Result<(), JournalError> {
        self.in_table(
            "INSERT INTO page_rang (device, alarm, rang_ms) VALUES (?1, ?2, ?3)
             ON CONFLICT (device) DO UPDATE SET alarm = ?2, rang_ms = ?3",
            params![name, alarm, now.0],
        )
    }

    /// Offers these two forms of one code in the place of any other, and gives its number.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn offer(
        &self,
        scanned: &Digest,
        typed: &Digest,
        ends: Moment,
    ) -> Result<i64, JournalError> {
        self.in_tables(|tables| {
            let last: i64 =
                tables.query_row("SELECT coalesce(max(id), 0) FROM page_offers", [], |row| row.get(0))?;
            tables.execute("DELETE FROM page_offers", [])?;
            tables.execute(
                "INSERT INTO page_offers (id, scanned, typed, ends_ms, shown_ms) VALUES (?1, ?2, ?3, ?4, 0)",
                params![last + 1, scanned, typed, ends.0],
            )?;
            Ok(last + 1)
        })
    }

    /// Says that the code is shown for so much longer.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn show_offer(&self, number: i64, still: Span, now: Moment) -> Result<(), JournalError> {
        let sql = "UPDATE page_offers SET shown_ms = ?2 WHERE id = ?1";
        self.in_table(sql, params![number, (now + still).0])
    }

    /// What became of a code.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn offered(&self, number: i64, now: Moment) -> Result<Offer, JournalError> {
        let sql = "SELECT CASE WHEN wrong >= ?2 THEN 1 WHEN ends_ms <= ?3 THEN 2 ELSE 0 END, paired FROM page_offers WHERE id = ?1";
        let with = params![number, WRONG_CODES, now.0];
        let read = |row: &Row<'_>| Ok((row.get(0)?, row.get(1)?));
        let found = self.of_tables(|tables| tables.query_row(sql, with, read).optional())?;
        Ok(match found {
            Some((_, Some(device))) => Offer::Paired(device),
            Some((0, None)) => Offer::Stands,
            Some((1, None)) => Offer::Burnt,
            _ => Offer::Gone,
        })
    }

    /// Withdraws a code: it is not shown any more.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn withdraw_offer(&self, number: i64) -> Result<(), JournalError> {
        self.in_table("DELETE FROM page_offers WHERE id = ?1", [number])
    }

    /// Pairs a device by a code, which is spent by that. A typed one that is wrong counts against the one
    /// that is shown. Paired `again`, it takes the place of the one of its name, and has to be told the PIN anew.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn pair(
        &self,
        code: &Code,
        (name, token): (&str, &Digest),
        again: bool,
        now: Moment,
    ) -> Result<Pairing, JournalError> {
        self.in_tables(|tables| {
            let (column, digest) = match code {
                Code::Scanned(digest) => ("scanned", digest),
                Code::Typed(digest) => ("typed", digest),
            };
            let standing = "ends_ms > ?2 AND shown_ms > ?2 AND wrong < ?3 AND paired IS NULL";
            let sql = format!("SELECT id FROM page_offers WHERE {column} = ?1 AND {standing}");
            let found: Option<i64> = tables
                .query_row(&sql, params![digest, now.0, WRONG_CODES], |row| row.get(0))
                .optional()?;
            let Some(offer) = found else {
                if matches!(code, Code::Typed(_)) {
                    tables.execute("UPDATE page_offers SET wrong = wrong + 1", [])?;
                }
                return Ok(Pairing::NoSuchCode);
            };
            if again {
                forget(tables, name)?;
            }
            let added = tables.execute(
                "INSERT INTO page_devices (name, token, paired_ms, seen_ms) VALUES (?1, ?2, ?3, ?3)
                 ON CONFLICT (name) DO NOTHING",
                params![name, token, now.0],
            )?;
            if added == 0 {
                return Ok(Pairing::NameTaken);
            }
            tables.execute(
                "UPDATE page_offers SET paired = ?2 WHERE id = ?1",
                params![offer, name],
            )?;
            Ok(Pairing::Paired)
        })
    }
}
