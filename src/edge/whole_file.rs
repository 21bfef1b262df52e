//! Writing a file so that it is there whole or not at all.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Writes the file beside itself, safely on the disk, and puts it in its place.
///
/// # Errors
/// Whatever kept it from being written; then what was there before still is.
pub fn write(file: &Path, bytes: &[u8]) -> io::Result<()> {
    let mut beside = file.as_os_str().to_owned();
    beside.push(".part");
    let beside = PathBuf::from(beside);
    let mut part = fs::File::create(&beside)?;
    let written = part.write_all(bytes).and_then(|()| part.sync_all());
    drop(part);
    written.and_then(|()| fs::rename(&beside, file)).inspect_err(|_| {
        // The half that was written is of no use.
        let _ = fs::remove_file(&beside);
    })
}
