//! Files written from the screen: what a past firing gives to others.

use std::fs::OpenOptions;
use std::io::Write;
use std::path::Path;

use anyhow::{Context, bail};

use super::form::Form;
use super::store::{About, Store};
use crate::edge::schedule_file;
use crate::firing::FiringId;
use crate::review::nearest::repeat;
use crate::schedule::Ware;
use crate::units::Scale;
use crate::words::{self, Label, Title};

/// How far a schedule may be from the curve it repeats, C; the same as on the command line.
const WITHIN_C: f64 = 12.0;

/// A file somebody asked for: the schedule that repeats a firing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Export {
    pub firing: FiringId,
    pub ware: Ware,
    pub file: String,
}

impl Form {
    /// The file a confirmed form asks for, or what is missing; `None` for forms that write events.
    pub fn export(&self) -> Option<Result<Export, String>> {
        let (Title::Repeat, About::Firing(firing)) = (self.title, self.about) else { return None };
        let file = self.typed(Label::File).to_owned();
        let ware = self.chosen(Label::Ware).and_then(|place| Ware::ALL.get(place).copied());
        Some(match ware {
            _ if file.is_empty() => Err(words::SAY_FILE.into()),
            None => Err(words::SAY_WARE.into()),
            Some(ware) => Ok(Export { firing, ware, file }),
        })
    }
}

/// Writes the file, whole or not at all and over no other; the answer says where it is.
///
/// # Errors
/// When the firing gives no schedule, or the file is there already or cannot be written.
pub fn write(store: &mut dyn Store, export: &Export, scale: Scale) -> anyhow::Result<String> {
    let firing = store.firing(export.firing)?;
    let repeat = repeat(&firing, &words::repeat_name(&firing), export.ware, WITHIN_C)?;
    repeat.schedule.well_formed()?;
    let file = Path::new(&export.file);
    if file.extension().is_none_or(|ending| !ending.eq_ignore_ascii_case("json")) {
        bail!("\"{}\" does not end in .json, as a schedule has to", export.file);
    }
    write_new(file, &schedule_file::to_json(&repeat.schedule))?;
    let path = std::path::absolute(file)?.display().to_string();
    Ok(words::schedule_written(&path, &repeat, scale))
}

fn write_new(file: &Path, text: &str) -> anyhow::Result<()> {
    let writing = || format!("writing {}", file.display());
    let mut new =
        OpenOptions::new().write(true).create_new(true).open(file).with_context(writing)?;
    if let Err(error) = new.write_all(text.as_bytes()).and_then(|()| new.sync_all()) {
        // Half a schedule is worse than none.
        let _ = std::fs::remove_file(file);
        return Err(error).with_context(writing);
    }
    Ok(())
}
