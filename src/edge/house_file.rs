//! How this shop likes things shown, and where its own schedules are: one small JSON file beside
//! the shop's file, `SHOP.house.json`. Every key may be left out, and so may the file.
//!
//! ```json
//! {"scale": "F", "clock": 12, "schedules": "/home/ada/schedules", "draw_below": "100C"}
//! ```
//!
//! Options and environment variables of one call outweigh it.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::bell::settings::beside;
use super::schedule_file::{ScheduleFileError, explained};
use super::whole_file;
use crate::cooling::DRAW_BELOW_RANGE;
use crate::units::{Celsius, Scale};
use crate::words::Clock;

/// Why the file cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum HouseError {
    #[error("cannot read the house settings {path}: {reason}")]
    Unreadable { path: PathBuf, reason: io::Error },
    #[error("the house settings {path}, {problem}")]
    Malformed { path: PathBuf, problem: ScheduleFileError },
    #[error("the house settings {path}: {problem}")]
    Unusable { path: PathBuf, problem: String },
}

/// What the file says; `None` where it says nothing.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct House {
    pub scale: Option<Scale>,
    pub clock: Option<Clock>,
    /// The folder of the shop's own schedules, instead of `schedules` beside the shop's file.
    pub schedules: Option<PathBuf>,
    /// Below this a kiln is cool enough to be drawn.
    pub draw_below: Option<Celsius>,
}

#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct FileKeys {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    scale: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    clock: Option<i64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    schedules: Option<PathBuf>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    draw_below: Option<String>,
}

impl House {
    /// Where the settings of this shop are.
    pub fn path(shop: &Path) -> PathBuf {
        beside(shop, ".house.json")
    }

    /// The settings of this shop; without a file, none.
    ///
    /// # Errors
    /// [`HouseError`] with line and column where the text is at fault.
    pub fn read(shop: &Path) -> Result<House, HouseError> {
        let path = Self::path(shop);
        match fs::read_to_string(&path) {
            Ok(text) => Self::from_json(&text, &path),
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(House::default()),
            Err(reason) => Err(HouseError::Unreadable { path, reason }),
        }
    }

    /// The settings written in `text`; `path` is for errors.
    ///
    /// # Errors
    /// [`HouseError`].
    pub fn from_json(text: &str, path: &Path) -> Result<House, HouseError> {
        let keys: FileKeys = serde_json::from_str(text).map_err(|error| HouseError::Malformed {
            path: path.to_owned(),
            problem: explained(&error),
        })?;
        let unusable = |problem| HouseError::Unusable { path: path.to_owned(), problem };
        let scale = match keys.scale.as_deref() {
            None => None,
            Some("C") => Some(Scale::Celsius),
            Some("F") => Some(Scale::Fahrenheit),
            Some(seen) => return Err(unusable(format!("\"scale\" is \"{seen}\": use C or F"))),
        };
        let clock = match keys.clock {
            None => None,
            Some(12) => Some(Clock::TwelveHour),
            Some(24) => Some(Clock::TwentyFourHour),
            Some(seen) => return Err(unusable(format!("\"clock\" is {seen}: use 12 or 24"))),
        };
        let draw_below = keys.draw_below.as_deref().map(House::draw_below_of).transpose();
        let draw_below =
            draw_below.map_err(|problem| unusable(format!("\"draw_below\": {problem}")))?;
        Ok(House { scale, clock, schedules: keys.schedules, draw_below })
    }

    /// A temperature below which a shop draws.
    ///
    /// # Errors
    /// The reason why it cannot be that.
    pub fn draw_below_of(text: &str) -> Result<Celsius, String> {
        let (least, most) = DRAW_BELOW_RANGE;
        let read = Celsius::parse(text).map_err(|error| error.to_string())?;
        if (least.0..=most.0).contains(&read.0) {
            return Ok(read);
        }
        Err(format!(
            "{text} is outside {} to {}, in which kilns are drawn: say another temperature",
            least.in_both_scales(),
            most.in_both_scales()
        ))
    }

    /// Writes the settings of this shop, whole or not at all.
    ///
    /// # Errors
    /// Whatever kept the file from being written.
    pub fn write(&self, shop: &Path) -> io::Result<()> {
        let keys = FileKeys {
            scale: self.scale.map(|scale| match scale {
                Scale::Celsius => "C".to_owned(),
                Scale::Fahrenheit => "F".to_owned(),
            }),
            clock: self.clock.map(|clock| match clock {
                Clock::TwelveHour => 12,
                Clock::TwentyFourHour => 24,
            }),
            schedules: self.schedules.clone(),
            draw_below: self.draw_below.map(|below| format!("{}C", below.0)),
        };
        let mut text = serde_json::to_string_pretty(&keys)?;
        text.push('\n');
        whole_file::write(&Self::path(shop), text.as_bytes())
    }
}
