//! `spyhole page`: switching the page on and off, pairing devices, unpairing them.

use std::io::{BufRead, Write};
use std::net::IpAddr;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use anyhow::{Context as _, bail};
use clap::{Args, Subcommand};
use serde_json::{Value, json};
use signal_hook::consts::{SIGINT, SIGTERM};

use super::address::{self, Address};
use super::offered::{self, Offered, OnTerminal};
use super::{USUAL_PORT, codes, pin};
use crate::edge::journal::Journal;
use crate::edge::journal::devices::{Device, Offer};
use crate::edge::nearest::did_you_mean;
use crate::edge::plain;
use crate::edge::shop::clock::{SystemClock, Timekeeper};
use crate::edge::shop::lease::{Watch, who_watches};
use crate::edge::shop::told::watch_words;
use crate::units::Span;
use crate::words;

/// How long a code is worth something.
const CODE_LASTS: Span = Span::minutes(5);
/// A code counts as shown for so long after whoever shows it said so, and how often that is said.
const SHOWN_FOR: Span = Span::seconds(12);
const SAID_EVERY: Duration = Duration::from_secs(4);
/// How often it is looked whether the code was used.
const LOOKED_EVERY: Duration = Duration::from_millis(400);
/// Whoever keeps watch serves the page within five seconds.
const SERVED_WITHIN: Duration = Duration::from_secs(7);

/// Make every phone and tablet in the shop a screen and a bell: switch the page on, pair a device.
///
/// Whoever keeps watch ("spyhole keep", or the screen) serves it in the shop's own network, until it is
/// switched off. A device that has scanned the code once shows what the terminal shows, rings when that
/// rings, and answers an alarm with one tap; once it is told the shop's PIN, what is seen and done at the kiln
/// is noted on it as well. The code is worth something for five minutes, once, and only
/// while it is shown.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  spyhole page
  spyhole page pin
  spyhole page devices
  spyhole page forget \"Ada's phone\"
  spyhole page off")]
pub struct PageArgs {
    /// The port, instead of the last one; the first time it is 8766.
    #[arg(long, value_parser = clap::value_parser!(u16).range(1024..))]
    port: Option<u16>,
    /// The address of this computer that the device is to use, where it has several.
    #[arg(long)]
    address: Option<IpAddr>,
    #[command(subcommand)]
    command: Option<PageCommand>,
}

#[derive(Debug, Subcommand)]
pub enum PageCommand {
    /// Set the PIN that lets somebody note on a paired device, or a new one in its place; it is asked for.
    ///
    /// It is typed once on each device. With a new one each has to be told that.
    Pin,
    /// Switch the page off; devices stay paired for the next time.
    Off,
    /// List the devices that are paired, and whether they would be heard.
    Devices,
    /// Unpair a device: within seconds it shows nothing any more.
    Forget {
        /// The device, by its name in the list.
        device: String,
    },
}

/// How an answer is to be given.
#[derive(Debug, Clone, Copy)]
pub struct Answering {
    pub json: bool,
    /// It goes to a terminal, on which keys are pressed.
    pub on_terminal: bool,
    /// The terminal is bright: a picture has to be the other way round.
    pub bright: bool,
}

/// # Errors
/// A shop that is not there or cannot be written, a name that no device has, or no network.
pub fn run(
    args: &PageArgs,
    shop: &Path,
    answering: Answering,
    (input, out): (&mut dyn BufRead, &mut dyn Write),
) -> anyhow::Result<()> {
    let journal = Journal::open(shop)?;
    match &args.command {
        None => pair(args, (shop, &journal), answering, out),
        Some(PageCommand::Pin) => set_pin(&journal, answering, (input, out)),
        Some(PageCommand::Off) => {
            journal.switch_page_off()?;
            say(words::PAGE_SWITCHED_OFF, &json!({"page": false}), answering, out)
        }
        Some(PageCommand::Devices) => devices(&journal, answering, out),
        Some(PageCommand::Forget { device }) => {
            if !journal.forget_device(device)? {
                let known = journal.devices()?;
                let hint = did_you_mean(device, known.iter().map(|one| one.name.as_str()));
                bail!(
                    "no device called \"{device}\" is paired{hint}: \"spyhole page devices\" lists them"
                );
            }
            let said = words::page_forgotten(device);
            say(&said, &json!({"forgotten": device}), answering, out)
        }
    }
}

fn say(
    sentence: &str,
    object: &Value,
    answering: Answering,
    out: &mut dyn Write,
) -> anyhow::Result<()> {
    match answering.json {
        true => plain::write_json(out, object)?,
        false => writeln!(out, "{sentence}")?,
    }
    Ok(out.flush()?)
}

/// Asks for a PIN and keeps it. It is shown as it is typed: whoever sees this screen is at the shop's computer.
fn set_pin(
    journal: &Journal,
    answering: Answering,
    (input, out): (&mut dyn BufRead, &mut dyn Write),
) -> anyhow::Result<()> {
    if !answering.json {
        write!(out, "{} ", words::PAGE_NEW_PIN)?;
        out.flush()?;
    }
    let mut typed = String::new();
    input.read_line(&mut typed).context("cannot read the PIN")?;
    let Some(digits) = pin::read(&typed) else { bail!("{}", words::PAGE_BAD_PIN) };
    let kept = pin::kept(&digits).context("cannot make a check sum of the PIN")?;
    journal.set_pin(&kept)?;
    say(words::PAGE_PIN_SET, &json!({"pin": true}), answering, out)
}

fn devices(journal: &Journal, answering: Answering, out: &mut dyn Write) -> anyhow::Result<()> {
    let (devices, now) = (journal.devices()?, SystemClock.now());
    let line = |one: &Device| {
        let notes = one.may_note(now).then(|| one.person());
        words::page_device_line(&one.name, (one.paired, one.seen), (one.sound, notes), now)
    };
    let lines: Vec<String> = devices.iter().map(line).collect();
    let said = if lines.is_empty() { words::PAGE_NO_DEVICE.into() } else { lines.join("\n") };
    let object = |one: &Device| json!({"name": one.name, "sound": one.sound, "may_note": one.may_note(now), "person": one.person(), "seen_ms": one.seen.0, "paired_ms": one.paired.0});
    let devices: Vec<Value> = devices.iter().map(object).collect();
    say(&said, &json!({"devices": devices}), answering, out)
}

/// Switches the page on, and shows a code until a device has used it or it is over.
fn pair(
    args: &PageArgs,
    (shop, journal): (&Path, &Journal),
    answering: Answering,
    out: &mut dyn Write,
) -> anyhow::Result<()> {
    let mut addresses = address::reachable();
    if let Some(ip) = args.address {
        addresses.retain(|one| one.ip != ip);
        addresses.insert(0, Address { ip, by: String::new() });
    }
    let worked = journal.door()?.filter(|_| args.address.is_none());
    addresses.sort_by_key(|one| Some(one.ip) != worked);
    if addresses.is_empty() {
        bail!("{}", words::PAGE_NO_NETWORK);
    }
    journal.switch_page_on(args.port, USUAL_PORT)?;
    let (port, unserved) = serving(shop, journal)?;
    // Whoever ends it, however soon, leaves no code behind.
    let stop = Arc::new(AtomicBool::new(false));
    for signal in [SIGINT, SIGTERM] {
        signal_hook::flag::register(signal, Arc::clone(&stop))
            .context("cannot listen for being stopped")?;
    }
    let code = codes::Pair::fresh().context("cannot make a code")?;
    let ends = SystemClock.now() + CODE_LASTS;
    let digests = (codes::digest(&code.scanned), codes::digest(&code.typed));
    let number = journal.offer(&digests.0, &digests.1, ends)?;
    // It counts as shown before anybody can be as fast as that.
    journal.show_offer(number, SHOWN_FOR, SystemClock.now())?;
    let moved = worked.filter(|was| address::all().iter().all(|one| one.ip != *was));
    let moved = moved.map(|was| address::url(was, port));
    let no_pin = journal.pin()?.is_none().then(|| words::PAGE_NO_PIN.to_owned());
    let remarks = [unserved, no_pin].into_iter().flatten().collect();
    let mut offered = Offered {
        places: offered::places(&addresses, port),
        chosen: 0,
        code,
        lasts: CODE_LASTS,
        moved,
        remarks,
        bright: answering.bright,
    };
    let mut terminal = None;
    if answering.json {
        plain::write_json(out, &offered.object())?;
    } else if answering.on_terminal {
        terminal = Some(OnTerminal::take().context("cannot take over the terminal")?);
    } else {
        offered.lines()?.iter().try_for_each(|line| writeln!(out, "{line}"))?;
    }
    out.flush()?;
    let became = wait(journal, (number, &stop), &mut offered, terminal)?;
    let (said, object) = match became {
        Some(Offer::Paired(device)) => (words::page_paired(&device), json!({"paired": device})),
        Some(Offer::Burnt) => bail!("{}", words::PAGE_BURNT),
        _ => (words::PAGE_CODE_OVER.into(), json!({"paired": null})),
    };
    say(&said, &object, answering, out)
}

/// Waits until somebody serves the page, and gives its port; says so where nobody does.
fn serving(shop: &Path, journal: &Journal) -> anyhow::Result<(u16, Option<String>)> {
    let begun = Instant::now();
    loop {
        let watch = who_watches(shop, SystemClock.now())?;
        let page = journal.page()?;
        let port = page.as_ref().map_or(USUAL_PORT, |page| page.port);
        let holder = if let Watch::By(Some(holder)) = &watch { Some(holder.pid) } else { None };
        if let Some(page) = page.filter(|_| holder.is_some()) {
            if Some(page.served) == holder {
                return Ok((port, None));
            }
            if page.served == 0 && !page.trouble.is_empty() {
                bail!("{}", page.trouble);
            }
        }
        let nobody = holder.is_none() && !matches!(watch, Watch::By(None));
        if nobody || begun.elapsed() > SERVED_WITHIN {
            let said = format!("{} {}", watch_words(&watch), words::PAGE_NOT_SERVED_YET);
            return Ok((port, Some(said)));
        }
        thread::sleep(LOOKED_EVERY);
    }
}

/// Shows the code until it is used or over; `None` where somebody ended it.
fn wait(
    journal: &Journal,
    (number, stop): (i64, &AtomicBool),
    offered: &mut Offered,
    mut terminal: Option<OnTerminal>,
) -> anyhow::Result<Option<Offer>> {
    let mut said = Instant::now();
    let became = loop {
        if stop.load(Ordering::Relaxed) {
            break None;
        }
        let now = SystemClock.now();
        match journal.offered(number, now)? {
            Offer::Stands => {}
            became => break Some(became),
        }
        if said.elapsed() >= SAID_EVERY {
            said = Instant::now();
            journal.show_offer(number, SHOWN_FOR, now)?;
        }
        let Some(terminal) = &mut terminal else {
            thread::sleep(LOOKED_EVERY);
            continue;
        };
        // A terminal that is gone shows no code either.
        if terminal.show(offered, LOOKED_EVERY).unwrap_or(true) {
            break None;
        }
    };
    journal.withdraw_offer(number)?;
    Ok(became)
}
