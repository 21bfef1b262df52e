//! The schedules that come with the program, and finding one by name or by file.

use std::fs::OpenOptions;
use std::io::Read;
use std::path::Path;
use std::sync::LazyLock;

use anyhow::{Context, Result, bail};

use super::nearest::nearest;
use super::plain_file;
use super::schedule_file::{self, LONGEST_FILE};
use crate::schedule::Schedule;
use crate::units::{Celsius, Span};

macro_rules! shipped {
    ($($key:literal),* $(,)?) => {
        &[$(($key, include_str!(concat!("../../schedules/", $key, ".json")))),*]
    };
}

/// The key (the file's name without its ending) and the text of each, in the order of the work.
pub const SHIPPED: &[(&str, &str)] = shipped![
    "cast_earthenware_first_firing",
    "cast_earthenware_clear_glaze",
    "cast_earthenware_once_fired",
    "stoneware_first_firing",
    "porcelain_first_firing",
    "mid_range_stoneware_glaze",
    "porcelain_glaze",
    "china_paint_on_porcelain",
    "decals_on_earthenware",
    "decals_on_porcelain",
    "decals",
    "lustre_and_gold",
    "gold_in_a_gas_kiln",
    "new_body_test_bars",
];

/// Every shipped schedule under its key.
pub fn all() -> impl Iterator<Item = (&'static str, Schedule)> {
    SHIPPED.iter().map(|(key, text)| {
        (*key, schedule_file::from_json(text).expect("shipped schedules are tested"))
    })
}

/// The shipped schedules in the order of the work, read once.
pub fn listed() -> &'static [Schedule] {
    static LISTED: LazyLock<Vec<Schedule>> =
        LazyLock::new(|| all().map(|(_, schedule)| schedule).collect());
    &LISTED
}

/// The shipped schedule with this key or name, whatever the case of its letters.
pub fn named(name: &str) -> Option<Schedule> {
    let wanted = name.trim().to_lowercase();
    all()
        .find(|(key, schedule)| *key == wanted || schedule.name.to_lowercase() == wanted)
        .map(|(_, schedule)| schedule)
}

/// The schedule somebody means: a shipped one by key or name, else a file.
///
/// # Errors
/// A name that no schedule has, a file that cannot be read, or
/// [`ScheduleFileError`](super::schedule_file::ScheduleFileError).
pub fn find(name_or_file: &str) -> Result<Schedule> {
    if let Some(schedule) = named(name_or_file) {
        return Ok(schedule);
    }
    let path = Path::new(name_or_file);
    if !path.is_file() {
        let nearest = nearest(name_or_file, SHIPPED.iter().map(|(key, _)| *key));
        let meant = nearest.map_or(String::new(), |name| format!("did you mean \"{name}\"? "));
        bail!(
            "there is no shipped schedule and no file \"{name_or_file}\"; {meant}`spyhole schedule \
             list` shows the shipped ones"
        );
    }
    read(path).with_context(|| format!("cannot use the schedule file {name_or_file}"))
}

/// The schedule in a file.
///
/// # Errors
/// A file that cannot be read, or [`ScheduleFileError`](super::schedule_file::ScheduleFileError).
pub(super) fn read(path: &Path) -> Result<Schedule> {
    let mut text = String::new();
    plain_file::open(path, OpenOptions::new().read(true))?
        .take(LONGEST_FILE + 1)
        .read_to_string(&mut text)?;
    if text.len() as u64 > LONGEST_FILE {
        let seen = path.display();
        bail!("\"{seen}\" is longer than {LONGEST_FILE} bytes: that is no schedule");
    }
    Ok(schedule_file::from_json(&text)?)
}

/// The corner points of the schedule somebody means, time since lit and temperature; `None` when it
/// cannot be found or used, which leaves a forecast to what else is known.
pub fn plan(name_or_file: &str) -> Option<Vec<(Span, Celsius)>> {
    find(name_or_file).ok().map(|schedule| schedule.plan())
}
