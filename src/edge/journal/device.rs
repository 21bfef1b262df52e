//! A device that is paired with the page, as its tables keep it.

use rusqlite::Connection;

use crate::units::Moment;

/// A check sum that does not tell what it is of.
pub type Digest = [u8; 32];

/// A device that is paired.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Device {
    pub name: String,
    pub token: Digest,
    pub paired: Moment,
    pub seen: Moment,
    /// Whether it would be heard, as it said last.
    pub sound: bool,
    /// Whether the PIN was typed on it.
    pub unlocked: bool,
    /// Who notes on it, whoever does so now first.
    pub people: Vec<String>,
}

/// Whether all tables are there: earlier programs made fewer.
pub(super) fn has_tables(connection: &Connection) -> rusqlite::Result<bool> {
    let sql = "SELECT count(*) = 8 FROM sqlite_schema WHERE type = 'table' AND name IN ('page', 'page_devices', 'page_offers', 'page_pin', 'page_rights', 'page_people', 'page_rang', 'page_door')";
    connection.query_row(sql, [], |row| row.get(0))
}
