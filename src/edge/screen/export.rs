//! Files written from the screen: what a past firing gives to others.

use std::path::Path;

use anyhow::{Context, bail};

use super::form::Form;
use crate::closed::Word;
use crate::edge::schedule_file;
use crate::edge::shop::card;
use crate::edge::shop::clock::ahead;
use crate::edge::shop::kept::KeptShop;
use crate::edge::shop::store::About;
use crate::edge::whole_file;
use crate::firing::FiringId;
use crate::review::nearest::repeat;
use crate::schedule::Ware;
use crate::units::Moment;
use crate::words::{self, Dial, Title};

/// How far a schedule may be from the curve it repeats, C; the same as on the command line.
const WITHIN_C: f64 = 12.0;

/// A file somebody asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Export {
    pub firing: FiringId,
    pub what: Wanted,
    pub file: String,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wanted {
    /// The schedule that repeats the firing, for this ware.
    Schedule(Ware),
    Card,
}

impl Form {
    /// The file a confirmed form asks for, or what is missing; `None` for forms that write events.
    pub fn export(&self) -> Option<Result<Export, String>> {
        let About::Firing(firing) = self.about else { return None };
        let ware = || Ware::named(self.said("ware"));
        let what = match self.title {
            Title::Card => Ok(Wanted::Card),
            Title::Repeat => ware().map(Wanted::Schedule).ok_or(words::SAY_WARE),
            _ => return None,
        };
        let file = self.said("file").to_owned();
        Some(match what {
            _ if file.is_empty() => Err(words::SAY_FILE.into()),
            Err(missing) => Err(missing.into()),
            Ok(what) => Ok(Export { firing, what, file }),
        })
    }
}

/// Writes the file, whole or not at all and over no other; the answer says where it is.
///
/// # Errors
/// When the firing gives no schedule or card, or the file is there already or cannot be written.
pub fn write(
    shop: &KeptShop,
    export: &Export,
    dial: &Dial<'_>,
    now: Moment,
) -> anyhow::Result<String> {
    let (journal, file) = (shop.journal(), Path::new(&export.file));
    let beside = (journal.path(), false);
    let put = |bytes: &[u8]| whole_file::place(file, beside, |out| Ok(out.write_all(bytes)?));
    let ending = file.extension().unwrap_or_default().to_string_lossy().to_lowercase();
    let path = std::path::absolute(file)?.display().to_string();
    match export.what {
        Wanted::Schedule(ware) => {
            if ending != "json" {
                bail!("\"{}\" does not end in .json, as a schedule has to", export.file);
            }
            let firing = journal.firing(export.firing)?;
            let mut name = words::repeat_name(&firing);
            if journal.file().is_none() {
                name += &format!(", {}", words::MADE_UP);
            }
            let repeat = repeat(&firing, &name, ware, WITHIN_C)?;
            repeat.schedule.well_formed()?;
            put(schedule_file::to_json(&repeat.schedule).as_bytes())?;
            Ok(words::schedule_written(&path, &repeat, dial.scale))
        }
        Wanted::Card => {
            let lit = journal.firing(export.firing)?.lit;
            let lit = lit.context("a firing that was never lit has no card")?;
            let prices = shop.prices(ahead(lit, dial.zone))?;
            let one = card::one(journal, export.firing, &prices, dial)?;
            let one = one.context("this firing has no card")?;
            let drawn = card::card(journal, &one, None, (dial, now), |card| card.file(&ending))?;
            let Some(card) = drawn else {
                bail!("\"{}\" ends in neither .html nor .svg, as a card has to", export.file)
            };
            put(card.as_bytes())?;
            Ok(words::card_written(&path, export.firing))
        }
    }
}
