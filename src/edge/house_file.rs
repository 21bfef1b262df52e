//! How this shop likes things shown, and where its own schedules are: one small JSON file beside
//! the shop's file, `SHOP.house.json`. Every key may be left out, and so may the file.
//!
//! ```json
//! {"scale": "F", "clock": 12, "schedules": "/home/ada/schedules", "draw_below": "100C"}
//! ```
//!
//! Options and environment variables of one call outweigh it.

use std::io;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::settings_file::{SettingsError, SettingsFile};
use crate::closed::Word;
use crate::cooling::DRAW_BELOW_RANGE;
use crate::units::{Celsius, Scale};
use crate::words::Clock;

const FILE: SettingsFile = SettingsFile("house");

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

#[derive(Debug, Default, Serialize, Deserialize)]
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

/// The countries that tell temperatures in Fahrenheit, and the time by a clock of 12 hours, as the
/// codes of ISO 3166: from memory.
const FAHRENHEIT: [&str; 8] = ["US", "BS", "BZ", "FM", "KY", "LR", "MH", "PW"];

/// What is usual in the country that the environment names, as `en_US.UTF-8` does.
pub fn usual_here(variable: impl Fn(&str) -> Option<String>) -> Option<(Scale, Clock)> {
    let mut named = ["LC_ALL", "LANG"].into_iter().filter_map(variable);
    let locale = named.find(|name| !name.is_empty())?;
    let country = locale.split(['.', '@']).next()?.split_once('_')?.1;
    FAHRENHEIT.contains(&country).then_some((Scale::Fahrenheit, Clock::TwelveHour))
}

impl House {
    /// The settings of this shop; without a file, none.
    ///
    /// # Errors
    /// [`SettingsError`] with line and column where the text is at fault.
    pub fn read(shop: &Path) -> Result<House, SettingsError> {
        let keys: FileKeys = FILE.read(shop)?;
        let unusable = |problem| FILE.unusable(shop, problem);
        let scale = keys.scale.as_deref().map(|seen| {
            let unknown = || unusable(format!("\"scale\" is \"{seen}\": use C or F"));
            Scale::named(seen).ok_or_else(unknown)
        });
        let clock = keys.clock.map(|seen| {
            let unknown = || unusable(format!("\"clock\" is {seen}: use 12 or 24"));
            Clock::ALL.into_iter().find(|clock| *clock as i64 == seen).ok_or_else(unknown)
        });
        let (scale, clock) = (scale.transpose()?, clock.transpose()?);
        let draw_below = keys.draw_below.as_deref().map(House::draw_below_of).transpose();
        let draw_below =
            draw_below.map_err(|problem| unusable(format!("\"draw_below\": {problem}")))?;
        Ok(House { scale, clock, schedules: keys.schedules, draw_below })
    }

    /// The settings of this shop; where they cannot be used, the usual ones.
    pub fn or_usual(shop: &Path) -> House {
        House::read(shop).unwrap_or_default()
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
            scale: self.scale.map(|scale| scale.name().to_owned()),
            clock: self.clock.map(|clock| clock as i64),
            schedules: self.schedules.clone(),
            draw_below: self.draw_below.map(|below| format!("{}C", below.0)),
        };
        FILE.write(shop, &keys)
    }
}
