//! The way out to terminals and pipes: what is written there can only be read, never obeyed.

use std::borrow::Cow;
use std::io::{self, Write};

use serde_json::Value;

use crate::text::shown;

/// Writes text line by line, with a mark for each character that would steer a terminal.
#[derive(Debug)]
pub struct Plain<W: Write> {
    out: W,
    /// What is not written yet of a line.
    begun: Vec<u8>,
}

impl<W: Write> Plain<W> {
    pub fn new(out: W) -> Plain<W> {
        Plain { out, begun: Vec::new() }
    }

    fn write_begun(&mut self) -> io::Result<()> {
        let text = std::mem::take(&mut self.begun);
        self.out.write_all(shown(&String::from_utf8_lossy(&text)).as_bytes())
    }
}

impl<W: Write> Write for Plain<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let end = bytes.iter().rposition(|byte| *byte == b'\n').map_or(0, |end| end + 1);
        self.begun.extend(&bytes[..end]);
        if end > 0 {
            self.write_begun()?;
        }
        self.begun.extend(&bytes[end..]);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        self.write_begun()?;
        self.out.flush()
    }
}

/// Writes a value over several lines, for programs.
///
/// # Errors
/// Whatever `out` answers.
pub fn write_json(out: &mut dyn Write, value: &Value) -> io::Result<()> {
    writeln!(out, "{}", escaped(serde_json::to_string_pretty(value)?))
}

/// JSON that says the same without any character that could steer a terminal.
pub fn escaped(json: String) -> String {
    let letter = |c: char| match shown(c.encode_utf8(&mut [0; 4])) {
        Cow::Borrowed(_) => c.to_string(),
        Cow::Owned(_) => format!("\\u{:04x}", u32::from(c)),
    };
    match shown(&json) {
        Cow::Borrowed(_) => json,
        Cow::Owned(_) => json.chars().map(letter).collect(),
    }
}

/// A cell of a table that no spreadsheet takes for a formula.
pub fn cell(text: String) -> String {
    const SIGNS: [char; 8] = ['=', '+', '-', '@', '＝', '＋', '－', '＠'];
    if text.trim_start().starts_with(SIGNS) { format!("'{text}") } else { text }
}
