//! Files written from the screen: what a past firing gives to others.

use std::fs::OpenOptions;
use std::io::Write;
use std::path::Path;
use std::sync::Arc;

use anyhow::{Context, bail};

use super::form::Form;
use super::review;
use crate::closed::Word;
use crate::edge::picture::card::Card;
use crate::edge::picture::of_firing::{OneFiring, usual};
use crate::edge::schedule_file;
use crate::edge::shop::store::{About, Snapshot, Store};
use crate::firing::FiringId;
use crate::kiln::same_name;
use crate::review::nearest::repeat;
use crate::scene::PastFiring;
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
    store: &mut dyn Store,
    export: &Export,
    dial: &Dial<'_>,
    now: Moment,
) -> anyhow::Result<String> {
    let file = Path::new(&export.file);
    let ending = file.extension().unwrap_or_default().to_string_lossy().to_lowercase();
    let path = std::path::absolute(file)?.display().to_string();
    match export.what {
        Wanted::Schedule(ware) => {
            if ending != "json" {
                bail!("\"{}\" does not end in .json, as a schedule has to", export.file);
            }
            let firing = store.firing(export.firing)?;
            let repeat = repeat(&firing, &words::repeat_name(&firing), ware, WITHIN_C)?;
            repeat.schedule.well_formed()?;
            write_new(file, schedule_file::to_json(&repeat.schedule).as_bytes())?;
            Ok(words::schedule_written(&path, &repeat, dial.scale))
        }
        Wanted::Card => {
            let Some(card) = card(store, export.firing, dial, now, &ending)? else {
                bail!("\"{}\" ends in neither .html nor .svg, as a card has to", export.file)
            };
            write_new(file, card.as_bytes())?;
            Ok(words::card_written(&path, export.firing))
        }
    }
}

/// The card in a file with this ending, with the usual course of the same kiln with the same load under
/// its own; `None` if a card has no such ending.
fn card(
    store: &mut dyn Store,
    firing: FiringId,
    dial: &Dial<'_>,
    now: Moment,
    ending: &str,
) -> anyhow::Result<Option<String>> {
    let firing = store.firing(firing)?;
    let lit = firing.lit.context("a firing that was never lit has no card")?;
    let mut rows = store.ledger()?;
    let before = |row: &PastFiring| row.begun < lit && row.firing != firing.id;
    rows.retain(|row| {
        before(row)
            && same_name(&row.kiln, &firing.kiln)
            && same_name(&row.load_type, &firing.load_type)
    });
    rows.sort_by_key(|row| std::cmp::Reverse(row.begun));
    let beside = usual(rows.iter().map(|row| row.firing), |id| store.firing(id))?;
    let ahead = review::ahead(lit, dial.zone);
    let (Snapshot { shop, unread, .. }, prices) = (store.snapshot(now)?, store.prices(ahead)?);
    let left_out = words::left_out_of(firing.id, &unread, now, dial);
    let one = OneFiring::of(firing, Arc::unwrap_or_clone(shop), &prices, ahead)
        .context("this firing has no card")?;
    let (beside, left_out) = (beside.as_ref(), left_out.as_deref());
    Ok(Card { one: &one, scale: dial.scale, beside, left_out }.file(ending))
}

fn write_new(file: &Path, bytes: &[u8]) -> anyhow::Result<()> {
    let writing = || format!("writing {}", file.display());
    let mut new =
        OpenOptions::new().write(true).create_new(true).open(file).with_context(writing)?;
    if let Err(error) = new.write_all(bytes).and_then(|()| new.sync_all()) {
        // Half a file is worse than none.
        let _ = std::fs::remove_file(file);
        return Err(error).with_context(writing);
    }
    Ok(())
}
