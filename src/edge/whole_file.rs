//! Writing a file so that it is there whole or not at all, and over no other unasked.

use std::fs::{self, File, OpenOptions, Permissions};
use std::io::{self, BufWriter, Write};
use std::os::unix::fs::{OpenOptionsExt, PermissionsExt};
use std::path::{Path, PathBuf};

use anyhow::Context as _;

use super::journal::Uid;
use crate::text::marked;

/// What a shop keeps in files of their own beside its file, by the endings of their names.
const OF_A_SHOP: [&str; 8] =
    ["", "-wal", "-shm", "-journal", ".watch", ".rings.jsonl", ".bell.json", ".house.json"];

/// Why a file that somebody named is not written over.
#[derive(Debug, thiserror::Error)]
pub enum Spared {
    #[error("{0} belongs to the shop itself and is never written over: name another file")]
    OfTheShop(String),
    #[error("{0} is there already, and was left as it is: name another file")]
    Taken(String),
}

/// A file that belongs to another: that one's name with an ending more.
pub fn beside(file: &Path, ending: &str) -> PathBuf {
    let mut name = file.as_os_str().to_owned();
    name.push(ending);
    PathBuf::from(name)
}

/// How a file of the shop's own is opened where people's names and numbers stand in it: made for its
/// owner alone, and never through a link.
pub fn own() -> OpenOptions {
    let mut options = OpenOptions::new();
    options.mode(0o600).custom_flags(rustix::fs::OFlags::NOFOLLOW.bits() as i32);
    options
}

/// Writes a file of the shop's own, over the one before. It is for its owner alone, unless the one
/// before was for others as well.
///
/// # Errors
/// Whatever kept it from being written; then what was there before still is.
pub fn write(file: &Path, bytes: &[u8]) -> io::Result<()> {
    let before = fs::symlink_metadata(file).ok().filter(fs::Metadata::is_file);
    let mode = before.map_or(0o600, |before| before.permissions().mode());
    in_place(file, mode, |part| {
        part.set_permissions(Permissions::from_mode(mode))?;
        part.write_all(bytes)
    })
}

/// Writes a file that somebody named. What is no file, like a pipe, is written through; over a file
/// that is there only where that is asked for, and never over one of this shop's.
///
/// # Errors
/// [`Spared`], or whatever kept it from being written; then what was there before still is.
pub fn place(
    file: &Path,
    (shop, replace): (&Path, bool),
    write: impl FnOnce(&mut dyn Write) -> anyhow::Result<()>,
) -> anyhow::Result<()> {
    let (path, whole) = (marked(file.display().to_string()), resolved(file));
    let of_shop = OF_A_SHOP.iter().map(|ending| beside(shop, ending));
    if of_shop.chain([shop.with_extension("prices.csv")]).any(|own| resolved(&own) == whole) {
        return Err(Spared::OfTheShop(path).into());
    }
    let written = |file: &mut File| {
        let mut out = BufWriter::new(file);
        write(&mut out)?;
        anyhow::Ok(out.flush()?)
    };
    let placed = match fs::metadata(file) {
        Ok(there) if !there.is_file() => OpenOptions::new()
            .write(true)
            .open(file)
            .map_err(Into::into)
            .and_then(|mut file| written(&mut file)),
        _ if !replace && fs::symlink_metadata(file).is_ok() => {
            return Err(Spared::Taken(path).into());
        }
        _ => in_place(&whole, 0o666, written),
    };
    placed.with_context(|| format!("writing {path} (check its folder and the free space)"))
}

/// Where a path leads, through links and from the root, whether the file is there or not.
fn resolved(file: &Path) -> PathBuf {
    let beyond = || Some(folder(file).canonicalize().ok()?.join(file.file_name()?));
    file.canonicalize().ok().or_else(beyond).unwrap_or_else(|| file.to_path_buf())
}

fn folder(file: &Path) -> &Path {
    file.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// Writes a file beside, safely on the disk, and then puts it in its place.
fn in_place<E: From<io::Error>>(
    file: &Path,
    mode: u32,
    write: impl FnOnce(&mut File) -> Result<(), E>,
) -> Result<(), E> {
    // A name by chance and a new file: nobody can lay a link there before.
    let beside = beside(file, &format!(".{:x}.part", Uid::fresh().number()));
    let mut part = OpenOptions::new().write(true).create_new(true).mode(mode).open(&beside)?;
    let placed = write(&mut part).and_then(|()| {
        part.sync_all()?;
        Ok(fs::rename(&beside, file)?)
    });
    if placed.is_err() {
        // The half that was written is of no use.
        let _ = fs::remove_file(&beside);
    }
    // The name is on the disk as well. Some disks know no such promise; the file is there all the same.
    let _ = File::open(folder(file)).and_then(|folder| folder.sync_all());
    placed
}
