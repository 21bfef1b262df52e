//! Opening the files that lie beside a shop, or that people name: only regular ones. A pipe would hold
//! up whoever opens it until somebody writes into it, a device or a folder means something else.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Read};
use std::path::Path;

/// The file at this path, opened so; one that is there and no regular file is refused by name.
///
/// # Errors
/// When it is no regular file, or cannot be opened.
pub fn open(path: &Path, options: &OpenOptions) -> io::Result<File> {
    check(path)?;
    options.open(path)
}

/// Whether whoever opens this path meets a regular file, or none.
///
/// # Errors
/// When it is something else.
pub fn check(path: &Path) -> io::Result<()> {
    match fs::metadata(path) {
        Ok(found) if !found.is_file() => Err(io::Error::other(
            "it is no regular file but a folder, a pipe or a device: move it away",
        )),
        _ => Ok(()),
    }
}

/// The text of a regular file.
///
/// # Errors
/// When it is no regular file, or cannot be read as text.
pub fn read_to_string(path: &Path) -> io::Result<String> {
    let mut text = String::new();
    open(path, OpenOptions::new().read(true))?.read_to_string(&mut text)?;
    Ok(text)
}
