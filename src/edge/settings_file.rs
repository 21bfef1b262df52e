//! A small JSON file of settings beside the shop's file, which people may also write by hand.

use std::io;
use std::path::{Path, PathBuf};

use serde::Serialize;
use serde::de::DeserializeOwned;

use super::journal::shop_files;
use super::plain_file;
use super::schedule_file::explained;
use super::whole_file::{self, beside};

/// The mark some editors put before a text.
const BYTE_ORDER: char = '\u{feff}';

/// Why a file of settings cannot be used.
#[derive(Debug, thiserror::Error)]
#[error("{0}")]
pub struct SettingsError(String);

/// Which settings of a shop a file holds: `SHOP.house.json` those of the house.
#[derive(Debug, Clone, Copy)]
pub struct SettingsFile(pub &'static str);

impl SettingsFile {
    /// Where the file of this shop is.
    pub fn path(self, shop: &Path) -> PathBuf {
        beside(&shop_files::named(shop), &format!(".{}.json", self.0))
    }

    /// What the file of this shop says; without one, nothing.
    ///
    /// # Errors
    /// [`SettingsError`] with line and column where the text is at fault.
    pub fn read<T: DeserializeOwned + Default>(self, shop: &Path) -> Result<T, SettingsError> {
        let (what, path) = (self.0, self.path(shop));
        let at = path.display();
        match plain_file::read_to_string(&path) {
            // A list would be taken for its keys in their order.
            Ok(text) if text.trim_start_matches(BYTE_ORDER).trim_start().starts_with('[') => {
                let problem =
                    "this is a list, and has to be an object like {\"key\": value}".into();
                Err(self.unusable(shop, problem))
            }
            Ok(text) => {
                serde_json::from_str(text.trim_start_matches(BYTE_ORDER)).map_err(|error| {
                    SettingsError(format!("the {what} settings {at}, {}", explained(&error)))
                })
            }
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(T::default()),
            Err(reason) => {
                Err(SettingsError(format!("cannot read the {what} settings {at}: {reason}")))
            }
        }
    }

    /// Why what the file of this shop says cannot be meant.
    pub fn unusable(self, shop: &Path, problem: String) -> SettingsError {
        let (what, path) = (self.0, self.path(shop));
        SettingsError(format!("the {what} settings {}: {problem}", path.display()))
    }

    /// Writes the file of this shop, whole or not at all.
    ///
    /// # Errors
    /// When it could not be written.
    pub fn write(self, shop: &Path, said: &impl Serialize) -> io::Result<()> {
        let mut text = serde_json::to_string_pretty(said)?;
        text.push('\n');
        whole_file::write(&self.path(shop), text.as_bytes())
    }
}
