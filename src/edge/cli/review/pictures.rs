//! Pictures and cards, written into files.

use std::path::{Path, PathBuf};

use super::super::context::{Context, Over, Unusable};
use crate::edge::picture::sheet::Sheet;

/// The ending of a file's name, in small letters.
pub(super) fn ending(path: &Path) -> String {
    path.extension().unwrap_or_default().to_string_lossy().to_lowercase()
}

/// Writes charts into `drift.svg`, `drift-2.svg` and so on, where they are asked for.
///
/// # Errors
/// When the name does not end in `.svg`, or a file cannot be written.
pub(super) fn write_all(
    ctx: &Context<'_>,
    (path, over): (Option<&Path>, Over),
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
        let svg = picture.svg();
        ctx.place(&numbered(path, index + 1), over, |out| Ok(out.write_all(svg.as_bytes())?))?;
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
