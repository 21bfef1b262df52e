//! The schedules a kiln can be lit by: those that come with the program, and the shop's own, files
//! in one folder. A file that cannot be used is listed with the reason, never left out.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use super::house_file::House;
use super::shipped_schedules;
use crate::kiln::Kiln;
use crate::schedule::Schedule;
use crate::text;

/// So many files of one folder are read; the rest are told of.
const MOST_FILES: usize = 200;

/// One schedule that is offered, or why it cannot be.
#[derive(Debug, Clone, PartialEq)]
pub struct Offered {
    /// What a firing keeps of it: the name of a shipped one, the full path of a file.
    pub reference: String,
    pub found: Result<Schedule, String>,
    /// Whether it is a file of the shop's own.
    pub own: bool,
    /// The kilns that were lit by it last.
    pub last_in: Vec<String>,
}

impl Offered {
    /// The last part of the reference: of a file its name.
    pub fn file_name(&self) -> &str {
        Path::new(&self.reference).file_name().and_then(|name| name.to_str()).unwrap_or("")
    }

    /// Its schedule, if it can be used.
    pub fn schedule(&self) -> Option<&Schedule> {
        self.found.as_ref().ok()
    }
}

/// The folder of the shop's own schedules.
pub fn folder(shop: &Path, house: &House) -> PathBuf {
    let usual = || shop.parent().unwrap_or(Path::new("")).join("schedules");
    house.schedules.clone().unwrap_or_else(usual)
}

/// The schedules that come with the program.
pub fn shipped() -> Vec<Offered> {
    let shipped = shipped_schedules::listed().iter().map(|schedule| Offered {
        reference: schedule.name.clone(),
        found: Ok(schedule.clone()),
        own: false,
        last_in: Vec::new(),
    });
    shipped.collect()
}

/// Every schedule of this shop: the shipped ones in the order of the work, then its own by their
/// files' names. A folder that is not there is an error only where somebody named it.
pub fn offered(shop: &Path, house: &House) -> Vec<Offered> {
    let mut offered = shipped();
    let folder = folder(shop, house);
    match files(&folder) {
        Ok(files) => {
            offered.extend(files.iter().take(MOST_FILES).map(|file| own(file)));
            if files.len() > MOST_FILES {
                let many = files.len();
                let why = format!("{many} files: only the first {MOST_FILES} by name are read");
                offered.push(unusable(&folder, why));
            }
        }
        Err(error) if error.kind() == io::ErrorKind::NotFound && house.schedules.is_none() => {}
        Err(error) => offered.push(unusable(&folder, error.to_string())),
    }
    offered
}

/// The same, and which kilns were lit by each last, as far as `last` knows by the name of a kiln.
pub fn with_last(
    mut offered: Vec<Offered>,
    kilns: &[Kiln],
    last: impl Fn(&str) -> Option<String>,
) -> Vec<Offered> {
    for kiln in kilns {
        let Some(reference) = last(&kiln.name) else { continue };
        if let Some(one) = offered.iter_mut().find(|one| one.reference == reference) {
            one.last_in.push(kiln.name.clone());
        }
    }
    offered
}

/// The schedule somebody means: a shipped one by key or name, one of the shop's own by name, else
/// a file.
///
/// # Errors
/// See [`shipped_schedules::find`].
pub fn find(shop: &Path, house: &House, name_or_file: &str) -> anyhow::Result<Offered> {
    let wanted = name_or_file.trim().to_lowercase();
    let called = |one: &Offered| {
        one.schedule().is_some_and(|schedule| schedule.name.to_lowercase() == wanted)
    };
    let shipped = shipped_schedules::named(name_or_file);
    if let Some(own) = offered(shop, house).into_iter().filter(|one| one.own).find(called)
        && shipped.is_none()
    {
        return Ok(own);
    }
    let schedule = shipped_schedules::find(name_or_file)?;
    let reference = match shipped {
        Some(shipped) => shipped.name,
        None => full_path(Path::new(name_or_file)),
    };
    Ok(Offered { reference, found: Ok(schedule), own: true, last_in: Vec::new() })
}

/// The files of a folder that are meant to be schedules, by their names.
fn files(folder: &Path) -> io::Result<Vec<PathBuf>> {
    let mut files: Vec<PathBuf> = fs::read_dir(folder)?
        .map(|entry| entry.map(|entry| entry.path()))
        .collect::<io::Result<_>>()?;
    files.retain(|file| file.extension().is_some_and(|ending| ending == "json"));
    files.sort();
    Ok(files)
}

fn own(file: &Path) -> Offered {
    let reference = full_path(file);
    let found = match text::line(&reference) {
        Ok(_) => shipped_schedules::read(file).map_err(|why| text::marked(format!("{why:#}"))),
        Err(why) => Err(why.to_string()),
    };
    Offered { reference: text::marked(reference), found, own: true, last_in: Vec::new() }
}

fn unusable(folder: &Path, why: String) -> Offered {
    Offered { reference: full_path(folder), found: Err(why), own: true, last_in: Vec::new() }
}

/// The path of a file that is found again from another folder.
fn full_path(file: &Path) -> String {
    file.canonicalize().unwrap_or_else(|_| file.to_path_buf()).display().to_string()
}
