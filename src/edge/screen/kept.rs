//! The shop that is kept: its journal behind the screen.

use std::path::Path;

use anyhow::Context;

use super::app::App;
use super::clock::{LocalZone, SystemClock, Timekeeper};
use super::store::{About, Entry, Snapshot, Store};
use super::theme::Theme;
use crate::edge::journal::{Journal, NewEvent, PAST_FIRINGS, Uid};
use crate::edge::shipped_schedules;
use crate::firing::{EventId, Firing, What, Who};
use crate::scene::advices;
use crate::units::{Moment, Scale, Span};
use crate::words::{Clock, Dial};

/// Advice older than this is made anew, even if nothing was written.
const ADVICE_AGE: Span = Span::seconds(20);

/// The screen on the shop in this file, until somebody leaves it.
///
/// What is entered is written under the name `who`, which may be empty.
///
/// # Errors
/// When the file cannot be opened, or there is no terminal.
pub fn open(shop: &Path, scale: Scale, theme: Theme, who: String) -> anyhow::Result<()> {
    let mut clock = SystemClock;
    let journal = Journal::open_or_begin(shop, clock.now())?;
    let mut store = KeptShop { journal, who, version: None, advised: None, unanswered: None };
    let dial = Dial { zone: &LocalZone, clock: Clock::default(), scale };
    super::run(&mut store, &mut clock, dial, theme, App::default())
}

/// A journal, and what was last read of it.
#[derive(Debug)]
pub struct KeptShop {
    journal: Journal,
    who: String,
    /// The file's own mark of the last change by others.
    version: Option<i64>,
    /// When the advice was made, while there is any.
    advised: Option<Moment>,
    /// The mark of an entry that may or may not have been written: trying again is no second one.
    unanswered: Option<(About, What, Uid)>,
}

/// The shop in this journal, with the advice for what is alight.
///
/// # Errors
/// When the file cannot be read.
pub fn snapshot(journal: &Journal, now: Moment) -> anyhow::Result<Snapshot> {
    let shop = journal.shop()?;
    let burning = shop.open.iter().any(Firing::burns);
    let past = if burning { journal.past(PAST_FIRINGS)? } else { Vec::new() };
    let advices = advices(&shop, &past, shipped_schedules::plan, now);
    Ok(Snapshot { shop, advices })
}

impl Store for KeptShop {
    fn snapshot(&mut self, now: Moment) -> anyhow::Result<Snapshot> {
        self.version = Some(self.journal.data_version()?);
        let snapshot = snapshot(&self.journal, now)?;
        self.advised = (!snapshot.advices.is_empty()).then_some(now);
        Ok(snapshot)
    }

    fn append(&mut self, entry: &Entry, now: Moment) -> anyhow::Result<EventId> {
        let firing = match entry.about {
            About::Firing(firing) => Some(firing),
            About::NewFiring => None,
        };
        let who = Who::Person(self.who.clone());
        let mut event = NewEvent::new(firing, entry.at, who, entry.what.clone());
        match &self.unanswered {
            Some((about, what, uid)) if *about == entry.about && *what == entry.what => {
                event.uid = *uid;
            }
            _ => self.unanswered = Some((entry.about, entry.what.clone(), event.uid)),
        }
        let id = self.journal.append_checked(&event, now)?.id;
        self.unanswered = None;
        Ok(id)
    }

    fn changed(&mut self, now: Moment) -> anyhow::Result<bool> {
        let version = self.journal.data_version().context("cannot look for new events")?;
        let stale = self.advised.is_some_and(|advised| now - advised >= ADVICE_AGE);
        Ok(stale || self.version != Some(version))
    }
}
