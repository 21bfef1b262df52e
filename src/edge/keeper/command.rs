//! `spyhole keep`: watch and ring without a screen.

use std::io::{self, Write};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{self, Sender};
use std::thread;

use anyhow::Context as _;
use clap::Args;
use serde_json::json;
use signal_hook::consts::{SIGINT, SIGTERM};

use super::{Keeper, notify};
use crate::edge::bell::equip::{equip_with, plain_terminal};
use crate::edge::bell::settings::BellSettings;
use crate::edge::shop::advised::Counsel;
use crate::edge::shop::clock::{SystemClock, Timekeeper};
use crate::edge::shop::told::Told;
use crate::edge::shop::watched::{Shown, show};
use crate::units::Scale;

/// Keep watch without a screen, and ring until somebody answers.
///
/// Runs until it is stopped. Of all keepers and screens on one shop exactly one rings; when it
/// ends or stands still, another takes over within seconds. To have it run by itself, install the
/// service unit in assets/. Whom to call and by which way is set in the file SHOP.bell.json beside
/// the shop's file; "spyhole bell test" tries every way.
#[derive(Debug, Args)]
pub struct KeepArgs {
    /// Print problems only.
    #[arg(long)]
    quiet: bool,
    /// Where no shop is found, do not end: ring for it, and take it up when it is there.
    #[arg(long)]
    wait: bool,
}

/// Keeps watch over this shop, answering in this scale and, if so wanted, in JSON; `company` goes by what
/// is shown of the watch, and by the same advice.
///
/// # Errors
/// A shop that cannot be opened, unless it is waited for.
pub fn run<C>(
    args: &KeepArgs,
    shop: &Path,
    (scale, json): (Scale, bool),
    company: impl FnOnce(Counsel, Shown) -> io::Result<C>,
    out: &mut dyn Write,
) -> anyhow::Result<()> {
    let (counsel, shown) = (Counsel::default(), Shown::default());
    let open = |(settings, trouble): (BellSettings, Option<String>), waits: bool| {
        let equipment = equip_with(settings, shop, scale, plain_terminal());
        let told = (equipment, trouble.map(Told::Trouble));
        Keeper::open(shop, told, counsel.clone(), ("keep", waits), SystemClock.now())
    };
    let mut keeper = open(BellSettings::read_or_usual(shop), args.wait)?;
    let stop = Arc::new(AtomicBool::new(false));
    for signal in [SIGINT, SIGTERM] {
        signal_hook::flag::register(signal, Arc::clone(&stop))
            .context("cannot listen for being stopped")?;
    }
    if !json && !args.quiet {
        writeln!(out, "Keeping watch over {}. Stop with Ctrl-C.", shop.display())?;
        out.flush()?;
    }
    let lines = printer();
    let company = company(counsel.clone(), Arc::clone(&shown));
    if let Err(error) = &company {
        // The watch goes on without the page.
        let alone = format!("phones and tablets see nothing of this shop: {error}");
        let _ = lines.send(line(&Told::Trouble(alone), json));
    }
    notify::tell("READY=1");
    while !stop.load(Ordering::Relaxed) {
        keeper.run(&stop, |keeper, told| {
            notify::tell("WATCHDOG=1");
            show(&shown, keeper.view());
            for told in told.iter().filter(|told| !args.quiet || told.is_trouble()) {
                // The watch goes on when nobody reads what it prints.
                let _ = lines.send(line(told, json));
            }
            keeper.other_settings().is_none()
        });
        if let Some(other) = keeper.other_settings().cloned() {
            // The lock is let go of first.
            drop(keeper);
            keeper = open((other, None), true)?;
        }
    }
    Ok(())
}

/// Prints lines on a thread of its own: a terminal or a pipe that takes none holds up nothing else.
fn printer() -> Sender<String> {
    let (lines, printed) = mpsc::channel::<String>();
    let printing = thread::Builder::new().spawn(move || {
        let mut out = io::stdout();
        for line in printed {
            // One that nobody hears is as good as printed.
            let _ = writeln!(out, "{line}").and_then(|()| out.flush());
        }
    });
    // Without a thread nobody hears them: it rings all the same.
    drop(printing);
    lines
}

fn line(told: &Told, json: bool) -> String {
    if json {
        return json!({"trouble": told.is_trouble(), "text": told.line()}).to_string();
    }
    told.line()
}
