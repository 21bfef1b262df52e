//! What stands in the pages of a shop's file, read without the database: whatever became of the
//! header, of the tables' roots or of the pages between, every row whose own page is whole is found.
//!
//! The layout is the one SQLite documents as its file format. The log beside the file counts as far
//! as it was committed. A row is taken for what its seal says it is, so nothing else is needed to
//! tell an event from chance.

use std::collections::BTreeMap;
use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};
use std::path::Path;

use rusqlite::types::{Value, ValueRef};

use super::stored::{self, Content, Frame};
use crate::edge::whole_file;

/// Every shop's file has pages of this size: the database's own choice.
const PAGE: usize = 4096;
const WAL_HEADER: usize = 32;
const FRAME_HEADER: usize = 24;

/// A row that stands in a page.
#[derive(Debug)]
pub(super) enum Found {
    Event(i64, Frame, Content),
    /// A row that looks like an event and is not what was written.
    Unsealed,
    Writer(i64, String, String),
    /// The summary of a firing, by the columns of its table.
    Summary(Vec<Value>),
}

/// The pages of a file, those in its log before those in the file itself.
#[derive(Debug)]
pub(super) struct Pages {
    file: File,
    count: u32,
    log: Option<File>,
    in_log: BTreeMap<u32, u64>,
}

impl Pages {
    /// # Errors
    /// When the file cannot be opened.
    pub(super) fn open(path: &Path) -> io::Result<Pages> {
        let file = File::open(path)?;
        let count = u32::try_from(file.metadata()?.len().div_ceil(PAGE as u64)).unwrap_or(u32::MAX);
        let log = File::open(whole_file::beside(path, "-wal")).ok();
        let mut pages = Pages { file, count, log, in_log: BTreeMap::new() };
        // A log that cannot be read to its end counts as far as it can.
        let _ = pages.read_log();
        Ok(pages)
    }

    fn read_log(&mut self) -> io::Result<()> {
        let Some(log) = &mut self.log else { return Ok(()) };
        let mut header = [0; WAL_HEADER];
        log.read_exact(&mut header)?;
        let (salt, mut at) = (&header[16..24], WAL_HEADER as u64);
        let mut frame = [0; FRAME_HEADER];
        let mut uncommitted = BTreeMap::new();
        loop {
            log.seek(SeekFrom::Start(at))?;
            log.read_exact(&mut frame)?;
            if &frame[8..16] != salt {
                return Ok(());
            }
            uncommitted.insert(number(&frame[..4]) as u32, at + FRAME_HEADER as u64);
            let size = number(&frame[4..8]) as u32;
            if size > 0 {
                self.in_log.append(&mut uncommitted);
                self.count = self.count.max(size);
            }
            at += (FRAME_HEADER + PAGE) as u64;
        }
    }

    /// A page by its number, from 1; zeroes where the file ends before it does.
    fn page(&mut self, number: u32) -> io::Result<Vec<u8>> {
        let in_file = u64::from(number.saturating_sub(1)) * PAGE as u64;
        let (file, at) = match (self.in_log.get(&number), &mut self.log) {
            (Some(at), Some(log)) => (log, *at),
            _ => (&mut self.file, in_file),
        };
        file.seek(SeekFrom::Start(at))?;
        let mut page = Vec::with_capacity(PAGE);
        file.take(PAGE as u64).read_to_end(&mut page)?;
        page.resize(PAGE, 0);
        Ok(page)
    }

    /// Shows every row of ours to `see`, until that returns false.
    pub(super) fn each(&mut self, mut see: impl FnMut(Found) -> bool) {
        for number in 1..=self.count {
            let Ok(page) = self.page(number) else { continue };
            let start = if number == 1 { 100 } else { 0 };
            // The leaf of a table.
            if page[start] != 0x0d {
                continue;
            }
            let cells = usize::from(u16::from_be_bytes([page[start + 3], page[start + 4]]));
            for cell in 0..cells {
                let pointer = start + 8 + 2 * cell;
                let found = page.get(pointer..pointer + 2).and_then(|pointer| {
                    let at = u16::from_be_bytes([pointer[0], pointer[1]]);
                    self.cell(&page, usize::from(at)).and_then(recognised)
                });
                if found.is_some_and(|found| !see(found)) {
                    return;
                }
            }
        }
    }

    /// The row at this place of a page, its number first.
    fn cell(&mut self, page: &[u8], at: usize) -> Option<Vec<Value>> {
        let mut rest = page.get(at..)?;
        let length = usize::try_from(varint(&mut rest)?).ok()?;
        if length > self.count as usize * PAGE {
            return None;
        }
        let id = varint(&mut rest)?;
        // What of a long row stands in its own page, by the file format.
        let (most, least) = (PAGE - 35, (PAGE - 12) * 32 / 255 - 23);
        let here = match least + length.saturating_sub(least) % (PAGE - 4) {
            _ if length <= most => length,
            here if here <= most => here,
            _ => least,
        };
        let mut payload = rest.get(..here)?.to_vec();
        let mut next = rest.get(here..here + 4).map_or(0, number) as u32;
        while payload.len() < length && (1..=self.count).contains(&next) {
            let more = self.page(next).ok()?;
            next = number(&more[..4]) as u32;
            payload.extend_from_slice(&more[4..]);
        }
        let payload = payload.get(..length)?;
        let mut values = values(payload)?;
        *values.first_mut()? = Value::Integer(id);
        Some(values)
    }
}

/// A row of ours, by its columns and its seal.
fn recognised(mut row: Vec<Value>) -> Option<Found> {
    // A whole number is stored as one, whatever the column is declared as.
    let real = match row.len() {
        12 => row.get_mut(9),
        16.. => row.get_mut(14),
        _ => None,
    };
    if let Some(real) = real
        && let Value::Integer(whole) = *real
    {
        *real = Value::Real(whole as f64);
    }
    let sealed = |columns: &[Value]| {
        let (seal, sealed) = columns.split_last()?;
        let matches = stored::row_seal(sealed.iter().map(ValueRef::from));
        Some(*seal == Value::Null || *seal == Value::Integer(matches))
    };
    let text = |value: &Value| match value {
        Value::Text(text) => Some(text.clone()),
        _ => None,
    };
    let is_writer = |kind: &str| matches!(kind, "person" | "probe" | "program");
    match (row.len(), row.as_slice()) {
        (12, [Value::Integer(id), ..]) => {
            let raw = stored::raw(|column| Ok(ValueRef::from(&row[column])));
            Some(match raw {
                Ok((frame, content, seal)) if frame.seal(&content) == seal => {
                    Found::Event(*id, frame, content)
                }
                _ => Found::Unsealed,
            })
        }
        (3 | 4, [Value::Integer(id), kind, name, ..]) => {
            let whole = row.len() == 3 || sealed(&row[1..])?;
            let (kind, name) = (text(kind)?, text(name)?);
            (whole && is_writer(&kind)).then_some(Found::Writer(*id, kind, name))
        }
        (17, _) if sealed(&row)? => Some(Found::Summary(row)),
        (16, _) => Some(Found::Summary(row)),
        _ => None,
    }
}

/// The values of a record: a header of their kinds, then the values themselves.
fn values(record: &[u8]) -> Option<Vec<Value>> {
    let mut header = record;
    let length = usize::try_from(varint(&mut header)?).ok()?;
    let mut kinds = record.get(record.len() - header.len()..length)?;
    let mut body = record.get(length..)?;
    let mut values = Vec::new();
    while !kinds.is_empty() {
        let kind = varint(&mut kinds)?;
        let size = match kind {
            0 | 8 | 9 => 0,
            1..=4 => kind as usize,
            5 => 6,
            6 | 7 => 8,
            _ => usize::try_from((kind - 12) / 2).ok()?,
        };
        let (bytes, rest) = body.split_at_checked(size)?;
        body = rest;
        values.push(match kind {
            0 => Value::Null,
            8 | 9 => Value::Integer(kind - 8),
            1..=6 => Value::Integer(number(bytes)),
            7 => Value::Real(f64::from_bits(number(bytes) as u64)),
            odd if odd % 2 == 1 => Value::Text(String::from_utf8(bytes.to_vec()).ok()?),
            _ => Value::Blob(bytes.to_vec()),
        });
    }
    Some(values)
}

/// A number with its sign, the highest byte first.
fn number(bytes: &[u8]) -> i64 {
    let sign = if bytes.first().is_some_and(|first| *first >= 0x80) { -1 } else { 0 };
    bytes.iter().fold(sign, |number, byte| number << 8 | i64::from(*byte))
}

/// A number of one to nine bytes, of which all but the ninth carry seven bits.
fn varint(bytes: &mut &[u8]) -> Option<i64> {
    let mut number = 0_i64;
    for place in 0..9 {
        let (byte, rest) = bytes.split_first()?;
        *bytes = rest;
        if place == 8 {
            return Some(number << 8 | i64::from(*byte));
        }
        number = number << 7 | i64::from(byte & 0x7f);
        if *byte < 0x80 {
            break;
        }
    }
    Some(number)
}
