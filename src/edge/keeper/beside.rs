//! A keeper beside a screen: on a thread of its own, so that drawing never waits for it, and the
//! screen rings when no other process does.

use std::path::Path;
use std::sync::mpsc;

use super::Keeper;
use crate::edge::bell::equip::equip_with;
use crate::edge::bell::settings::BellSettings;
use crate::edge::bell::terminal::Terminal;
use crate::edge::shop::advised::Counsel;
use crate::edge::shop::clock::{SystemClock, Timekeeper};
use crate::edge::shop::told::Told;
use crate::edge::shop::watched::Beside;
use crate::units::Scale;

/// Starts keeping watch over this shop, by the same advice as the screen. Settings that cannot
/// be used are told as trouble, and the usual ones hold: a screen must not stay silent for a
/// misspelt name.
///
/// # Errors
/// When the system has no thread to give.
pub fn start(shop: &Path, scale: Scale, counsel: Counsel) -> anyhow::Result<Beside> {
    let (flash, flashes) = mpsc::channel();
    let (tell, told) = mpsc::channel();
    let (settings, shop) = (BellSettings::read_or_usual(shop), shop.to_owned());
    let open = move |(settings, trouble): (BellSettings, Option<String>)| {
        let terminal = Terminal::new(None, Some(flash.clone()));
        let equipment = equip_with(settings, &shop, scale, terminal);
        let told = (equipment, trouble.map(Told::Trouble));
        Keeper::open(&shop, told, counsel.clone(), ("screen", true), SystemClock.now())
    };
    let mut keeper = open(settings)?;
    let beside = Beside::start(flashes, told, move |stop, show| {
        loop {
            keeper.run(stop, |keeper, news| {
                // A screen that is ending listens no more; the watch goes on until it says stop.
                news.into_iter().for_each(|told| drop(tell.send(told)));
                show(keeper.view());
                keeper.other_settings().is_none()
            });
            let Some(other) = keeper.other_settings().cloned() else { return };
            // Where there is no thread for another, this one goes on.
            if let Ok(anew) = open((other, None)) {
                keeper = anew;
            }
        }
    });
    Ok(beside?)
}
