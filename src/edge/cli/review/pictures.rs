//! Pictures and cards, written into files.

use std::path::{Path, PathBuf};

use anyhow::Context as _;

use super::super::context::Unusable;
use crate::edge::picture::sheet::Sheet;
use crate::edge::whole_file;

/// The ending of a file's name, in small letters.
pub(super) fn ending(path: &Path) -> String {
    path.extension().unwrap_or_default().to_string_lossy().to_lowercase()
}

/// Writes a file, whole or not at all.
///
/// # Errors
/// When it cannot be written.
pub(super) fn write(path: &Path, text: &str) -> anyhow::Result<()> {
    whole_file::write(path, text.as_bytes()).with_context(|| format!("writing {}", path.display()))
}

/// Writes charts into `drift.svg`, `drift-2.svg` and so on, where they are asked for.
///
/// # Errors
/// When the name does not end in `.svg`, or a file cannot be written.
pub(super) fn write_all(
    path: Option<&Path>,
    pictures: impl IntoIterator<Item = Sheet>,
) -> anyhow::Result<()> {
    let Some(path) = path else { return Ok(()) };
    if ending(path) != "svg" {
        let text = format!(
            "\"{}\" does not end in .svg: a chart is written as an SVG, which a browser shows and prints",
            path.display()
        );
        return Err(Unusable(text).into());
    }
    for (index, picture) in pictures.into_iter().enumerate() {
        write(&numbered(path, index + 1), &picture.svg())?;
    }
    Ok(())
}

fn numbered(path: &Path, number: usize) -> PathBuf {
    if number == 1 {
        return path.to_owned();
    }
    let stem = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
    path.with_file_name(format!("{stem}-{number}.svg"))
}
