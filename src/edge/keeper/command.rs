//! `spyhole keep`: watch and ring without a screen.

use std::io::Write;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use anyhow::Context as _;
use clap::Args;
use serde_json::json;
use signal_hook::consts::{SIGINT, SIGTERM};

use super::Keeper;
use crate::edge::bell::equip::{equip, plain_terminal};
use crate::edge::shop::advised::Counsel;
use crate::edge::shop::told::Told;
use crate::units::{Moment, Scale};

/// Keep watch without a screen, and ring until somebody answers.
///
/// Runs until it is stopped. Of all keepers and screens on one shop exactly one rings; when it
/// ends, another takes over within seconds. To have it run by itself, install the service unit in
/// assets/. Whom to call and by which way is set in the file SHOP.bell.json beside the shop's
/// file; "spyhole bell test" tries every way.
#[derive(Debug, Args)]
pub struct KeepArgs {
    /// Print troubles only.
    #[arg(long)]
    quiet: bool,
}

/// Keeps watch over this shop, answering in this scale and, if so wanted, in JSON.
///
/// # Errors
/// Settings that cannot be used, or a shop that cannot be opened.
pub fn run(
    args: &KeepArgs,
    shop: &Path,
    (scale, json): (Scale, bool),
    now: Moment,
    out: &mut dyn Write,
) -> anyhow::Result<()> {
    let equipment = equip(shop, scale, plain_terminal())?;
    let mut keeper = Keeper::open(shop, equipment, Counsel::default(), "keep", now)?;
    let stop = Arc::new(AtomicBool::new(false));
    for signal in [SIGINT, SIGTERM] {
        signal_hook::flag::register(signal, Arc::clone(&stop))
            .context("cannot listen for being stopped")?;
    }
    if !json && !args.quiet {
        writeln!(out, "Keeping watch over {}. Stop with Ctrl-C.", shop.display())?;
        out.flush()?;
    }
    keeper.run(&stop, |_, told| {
        for told in told.iter().filter(|told| !args.quiet || told.is_trouble()) {
            // The watch goes on when nobody reads what it prints.
            let _ = print(out, told, json).and_then(|()| out.flush());
        }
    });
    Ok(())
}

fn print(out: &mut dyn Write, told: &Told, json: bool) -> std::io::Result<()> {
    if json {
        return writeln!(out, "{}", json!({"trouble": told.is_trouble(), "text": told.line()}));
    }
    writeln!(out, "{}", told.line())
}
