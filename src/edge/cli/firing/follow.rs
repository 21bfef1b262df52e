//! `spyhole status --follow`: plain lines, one a change.

use std::time::Duration;

use rustix::event::{PollFd, PollFlags, Timespec};
use serde_json::json;

use super::super::context::Context;
use crate::edge::shop::clock::{SystemClock, Timekeeper};
use crate::edge::shop::kept::KeptShop;
use crate::scene::Scene;
use crate::words::{self, Dial, News};

/// How often the shop is looked at.
const POLL: Duration = Duration::from_secs(1);

/// How long a line waits for advice: nobody types here, and a line is not taken back.
const FOR_ADVICE: Duration = Duration::from_secs(60);

/// Prints how every kiln stands, then a line for each change, until nobody reads it any more.
///
/// # Errors
/// When the shop cannot be read.
pub(super) fn follow(ctx: &mut Context<'_>) -> anyhow::Result<()> {
    // Told here as every command tells it.
    drop(ctx.journal()?);
    let mut store = KeptShop::open(&ctx.shop, ctx.who.clone(), FOR_ADVICE, ctx.now)?;
    let dial = ctx.dial();
    let mut now = SystemClock.now();
    let mut snapshot = store.snapshot(now)?;
    let mut scene = snapshot.scene(now);
    let mut fresh = words::standings(&scene, &dial);
    let mut unread = Vec::new();
    loop {
        for change in &fresh {
            print(change, &dial, ctx)?;
        }
        if unread != scene.unread {
            unread.clone_from(&scene.unread);
            print_unread(&scene, &dial, ctx)?;
        }
        ctx.out.flush()?;
        if is_unread(POLL) {
            return Ok(());
        }
        now = SystemClock.now();
        if store.changed(now)? {
            snapshot = store.snapshot(now)?;
        }
        let after = snapshot.scene(now);
        fresh = words::changes(&scene, &after, &dial);
        scene = after;
    }
}

fn print(change: &News, dial: &Dial<'_>, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    if !ctx.json {
        return Ok(writeln!(ctx.out, "{}", change.line(SystemClock.now(), dial))?);
    }
    let object = json!({ "at": ctx.stamp(change.at), "kiln": change.kiln, "text": change.text });
    Ok(writeln!(ctx.out, "{object}")?)
}

/// Says which events all the lines from here on lack.
fn print_unread(scene: &Scene, dial: &Dial<'_>, ctx: &mut Context<'_>) -> anyhow::Result<()> {
    let Some(lacks) = words::left_out_and_remedy(&scene.unread, scene.now, dial) else {
        return Ok(());
    };
    if !ctx.json {
        return Ok(writeln!(ctx.out, "{lacks}")?);
    }
    let events: Vec<_> = scene.unread.iter().map(|unread| ctx.unread_object(unread)).collect();
    let at = ctx.stamp(scene.now);
    let object = json!({ "at": at, "text": lacks, "unreadable_events": events });
    Ok(writeln!(ctx.out, "{object}")?)
}

/// Waits; true as soon as nobody can read the output any more.
fn is_unread(longest: Duration) -> bool {
    let output = rustix::stdio::stdout();
    let mut waited = [PollFd::from_borrowed_fd(output, PollFlags::empty())];
    let longest = Timespec { tv_sec: longest.as_secs() as i64, tv_nsec: 0 };
    let heard = rustix::event::poll(&mut waited, Some(&longest));
    heard.is_ok() && !waited[0].revents().is_empty()
}
