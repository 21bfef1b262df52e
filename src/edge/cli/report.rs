//! Where a command writes its answer, and in which form.

use std::io::Write;

use serde_json::{Value, json};

use crate::units::Scale;

/// The way an answer leaves the program: sentences for a person, or one JSON value.
pub struct Report<'a> {
    pub out: &'a mut dyn Write,
    pub json: bool,
    pub scale: Scale,
}

impl std::fmt::Debug for Report<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Report").field("json", &self.json).field("scale", &self.scale).finish()
    }
}

impl Report<'_> {
    /// Writes one JSON value, indented, and a line end.
    ///
    /// # Errors
    /// When the output cannot be written.
    pub fn value(&mut self, value: &Value) -> anyhow::Result<()> {
        writeln!(self.out, "{value:#}")?;
        Ok(())
    }
}

/// A number for JSON without digits that mean nothing: two decimals.
pub fn rounded(value: f64) -> Value {
    json!((value * 100.0).round() / 100.0)
}
