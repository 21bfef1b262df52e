//! Writing a file so that it is there whole or not at all.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// A file that belongs to another: that one's name with an ending more.
pub fn beside(file: &Path, ending: &str) -> PathBuf {
    let mut name = file.as_os_str().to_owned();
    name.push(ending);
    PathBuf::from(name)
}

/// Writes the file beside itself, safely on the disk, and puts it in its place.
///
/// # Errors
/// Whatever kept it from being written; then what was there before still is.
pub fn write(file: &Path, bytes: &[u8]) -> io::Result<()> {
    let beside = beside(file, ".part");
    let mut part = fs::File::create(&beside)?;
    let written = part.write_all(bytes).and_then(|()| part.sync_all());
    drop(part);
    written.and_then(|()| fs::rename(&beside, file)).inspect_err(|_| {
        // The half that was written is of no use.
        let _ = fs::remove_file(&beside);
    })
}
