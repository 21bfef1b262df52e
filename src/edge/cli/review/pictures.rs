//! Charts of the review, written into files.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::Context as _;

use super::super::context::Unusable;
use crate::edge::picture::sheet::Sheet;
use crate::edge::picture::{chart, pdf, svg};
use crate::review::cost::Costs;
use crate::review::drift::Drift;
use crate::review::evenness::Evenness;
use crate::review::outcomes::{By, Outcomes};
use crate::units::{Scale, Span};

/// Writes one picture, whole or not at all, in the form its ending says.
///
/// # Errors
/// When the name ends in neither `.svg` nor `.pdf`, a text cannot be set in a PDF, or the file
/// cannot be written.
pub(super) fn write(path: &Path, sheet: &Sheet) -> anyhow::Result<()> {
    let ending = path.extension().unwrap_or_default().to_string_lossy().to_lowercase();
    let bytes = match ending.as_str() {
        "svg" => svg::svg(sheet).into_bytes(),
        "pdf" => pdf::pdf(sheet).map_err(|error| {
            let instead = path.with_extension("svg").display().to_string();
            Unusable(format!("{error}. Write an SVG instead, which takes any: {instead}"))
        })?,
        _ => {
            let text = format!(
                "\"{}\" ends in neither .svg nor .pdf: name the file after what it is to be, an SVG for a browser or a PDF to print",
                path.display()
            );
            return Err(Unusable(text).into());
        }
    };
    let part = path.with_extension(format!("{ending}.part"));
    fs::write(&part, bytes)
        .and_then(|()| fs::rename(&part, path))
        .with_context(|| format!("writing {}", path.display()))
}

/// `drift.svg`, `drift-2.svg`, ...
fn numbered(path: &Path, number: usize) -> PathBuf {
    if number == 1 {
        return path.to_owned();
    }
    let stem = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
    let ending = path.extension().unwrap_or_default().to_string_lossy().into_owned();
    path.with_file_name(format!("{stem}-{number}.{ending}"))
}

fn write_all(path: Option<&Path>, pictures: impl IntoIterator<Item = Sheet>) -> anyhow::Result<()> {
    let Some(path) = path else { return Ok(()) };
    for (index, picture) in pictures.into_iter().enumerate() {
        write(&numbered(path, index + 1), &picture)?;
    }
    Ok(())
}

pub(super) fn outcomes(path: Option<&Path>, by: By, groups: &[Outcomes]) -> anyhow::Result<()> {
    write_all(path, [chart::outcomes(by.name(), groups)])
}

pub(super) fn drifts(
    path: Option<&Path>,
    series: &[Drift],
    scale: Scale,
    ahead: Span,
) -> anyhow::Result<()> {
    write_all(path, series.iter().map(|drift| chart::drift(drift, scale, ahead)))
}

pub(super) fn evenness(path: Option<&Path>, maps: &[Evenness], scale: Scale) -> anyhow::Result<()> {
    write_all(path, maps.iter().map(|map| chart::evenness(map, scale)))
}

pub(super) fn costs(path: Option<&Path>, title: &str, rows: &[Costs]) -> anyhow::Result<()> {
    write_all(path, [chart::costs(title, rows)])
}
