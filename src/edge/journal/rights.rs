//! Who may note from the page: the shop's PIN, the devices on which it was typed once, and the people who
//! note there. It lies in tables beside those of [`super::devices`].

use rusqlite::{Connection, OptionalExtension, params};

use super::device::Device;
use super::{Journal, JournalError};
use crate::units::{Moment, Span};

pub(super) const TABLES: &str = "
CREATE TABLE IF NOT EXISTS page_pin (
    id    INTEGER PRIMARY KEY CHECK (id = 1),
    salt  BLOB NOT NULL,
    proof BLOB NOT NULL                   -- what comes of the PIN with this salt
) STRICT;
CREATE TABLE IF NOT EXISTS page_rights (
    device   TEXT PRIMARY KEY,
    may_note INTEGER NOT NULL DEFAULT 0,
    wrong    INTEGER NOT NULL DEFAULT 0,  -- PINs typed wrong since the last right one
    until_ms INTEGER NOT NULL DEFAULT 0   -- before that no other is taken
) STRICT;
CREATE TABLE IF NOT EXISTS page_people (
    device    TEXT NOT NULL,
    person    TEXT NOT NULL,
    chosen_ms INTEGER NOT NULL,
    PRIMARY KEY (device, person)
) STRICT;
";

/// A device that nobody used for so long has to be told the PIN again.
pub const UNUSED: Span = Span::hours(30 * 24);
/// So many wrong PINs cost nothing; from then on each costs a wait, twice as long as the one before.
const FREE: u32 = 5;
const FIRST_WAIT: Span = Span::seconds(30);
const LONGEST_WAIT: Span = Span::minutes(15);
/// After so many a device has to be paired again, or the PIN set anew: of the PINs with four digits a thief
/// has then tried one in five hundred.
const MOST: u32 = 20;

/// A PIN as it is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeptPin {
    pub salt: [u8; 16],
    pub proof: [u8; 32],
}

/// Whether a device may try a PIN.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Trying {
    May,
    /// After so long.
    Later(Span),
    /// Too many were wrong.
    NoMore,
}

impl Device {
    /// Whether somebody may note on it.
    pub fn may_note(&self, now: Moment) -> bool {
        self.unlocked && now - self.seen < UNUSED
    }

    /// Who uses it now: whoever was chosen last, else the device itself.
    pub fn person(&self) -> &str {
        self.people.first().unwrap_or(&self.name)
    }
}

/// What is known of rights and people, put to the devices.
pub(super) fn with_rights(tables: &Connection, devices: &mut [Device]) -> rusqlite::Result<()> {
    let mut unlocked = tables.prepare("SELECT device FROM page_rights WHERE may_note = 1")?;
    let unlocked = unlocked.query_map([], |row| row.get(0))?;
    let unlocked: Vec<String> = unlocked.collect::<rusqlite::Result<_>>()?;
    let mut people =
        tables.prepare("SELECT device, person FROM page_people ORDER BY chosen_ms DESC, person")?;
    let people = people.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?;
    let people: Vec<(String, String)> = people.collect::<rusqlite::Result<_>>()?;
    for device in devices {
        device.unlocked = unlocked.contains(&device.name);
        let here = people.iter().filter(|(on, _)| *on == device.name);
        device.people = here.map(|(_, person)| person.clone()).collect();
    }
    Ok(())
}

/// Forgets what is known of a device that is not paired any more.
pub(super) fn forget(tables: &Connection, device: &str) -> rusqlite::Result<()> {
    tables.execute("DELETE FROM page_rights WHERE device = ?1", [device])?;
    tables.execute("DELETE FROM page_people WHERE device = ?1", [device])?;
    Ok(())
}

/// Takes the right from a device that comes back after all too long.
pub(super) fn lapse(tables: &Connection, device: &str, now: Moment) -> rusqlite::Result<()> {
    tables.execute(
        "UPDATE page_rights SET may_note = 0 WHERE device = ?1 AND may_note = 1 AND
         (SELECT seen_ms FROM page_devices WHERE name = ?1) <= ?2",
        params![device, (now - UNUSED).0],
    )?;
    Ok(())
}

fn tries(tables: &Connection, device: &str) -> rusqlite::Result<(u32, Moment)> {
    let sql = "SELECT wrong, until_ms FROM page_rights WHERE device = ?1";
    let found = tables.query_row(sql, [device], |row| Ok((row.get(0)?, Moment(row.get(1)?))));
    Ok(found.optional()?.unwrap_or_default())
}

impl Journal {
    /// Sets the PIN; every device has to be told it.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn set_pin(&self, pin: &KeptPin) -> Result<(), JournalError> {
        self.in_tables(|tables| {
            tables.execute(
                "INSERT OR REPLACE INTO page_pin (id, salt, proof) VALUES (1, ?1, ?2)",
                params![pin.salt, pin.proof],
            )?;
            tables.execute("DELETE FROM page_rights", [])
        })
        .map(drop)
    }

    /// The PIN, if one is set.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn pin(&self) -> Result<Option<KeptPin>, JournalError> {
        self.of_tables(|tables| {
            let sql = "SELECT salt, proof FROM page_pin WHERE id = 1";
            let kept =
                |row: &rusqlite::Row<'_>| Ok(KeptPin { salt: row.get(0)?, proof: row.get(1)? });
            tables.query_row(sql, [], kept).optional()
        })
    }

    /// Whether a device may try a PIN now. What one device tries is nothing to another.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn may_try_pin(&self, device: &str, now: Moment) -> Result<Trying, JournalError> {
        let (wrong, until) = self.of_tables(|tables| tries(tables, device))?;
        // A clock that was set back makes nobody wait for longer.
        let left = (until - now).min(LONGEST_WAIT);
        Ok(match wrong {
            MOST.. => Trying::NoMore,
            _ if left > Span::seconds(0) => Trying::Later(left),
            _ => Trying::May,
        })
    }

    /// Writes down what came of a try: the right to note, or one more that was wrong.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn note_pin_tried(
        &self,
        device: &str,
        is_right: bool,
        now: Moment,
    ) -> Result<(), JournalError> {
        self.in_tables(|tables| {
            let (before, _) = tries(tables, device)?;
            let wrong = if is_right { 0 } else { before + 1 };
            let wait = match wrong.checked_sub(FREE) {
                Some(over) => Span(FIRST_WAIT.0 << over.min(16)).min(LONGEST_WAIT),
                None => Span(0),
            };
            tables.execute(
                "INSERT OR REPLACE INTO page_rights (device, may_note, wrong, until_ms)
                 VALUES (?1, ?2, ?3, ?4)",
                params![device, is_right, wrong, (now + wait).0],
            )
        })
        .map(drop)
    }

    /// Somebody uses a device from here on.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn choose_person(
        &self,
        device: &str,
        person: &str,
        now: Moment,
    ) -> Result<(), JournalError> {
        self.in_table(
            "INSERT OR REPLACE INTO page_people (device, person, chosen_ms) VALUES (?1, ?2, ?3)",
            params![device, person, now.0],
        )
    }
}
