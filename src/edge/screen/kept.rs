//! The shop that is kept: its journal behind the screen.

use std::path::Path;

use anyhow::Context;

use super::app::App;
use super::clock::{LocalZone, SystemClock, Timekeeper};
use super::store::{About, Entry, Snapshot, Store};
use super::theme::Theme;
use crate::edge::journal::{Journal, LedgerFilter, NewEvent};
use crate::edge::shipped_schedules;
use crate::firing::{EventId, Firing, FiringId, Who};
use crate::scene::advices;
use crate::units::{Celsius, Moment, Scale, Span};
use crate::words::{Clock, Dial};

/// How many past firings a forecast may learn from: some years of one kiln, read in no time.
const PAST_FIRINGS: u32 = 60;
/// Advice older than this is made anew, even if nothing was written.
const ADVICE_AGE: Span = Span::seconds(20);

/// The screen on the shop in this file, until somebody leaves it.
///
/// # Errors
/// When the file cannot be opened, or there is no terminal.
pub fn open(shop: &Path, scale: Scale) -> anyhow::Result<()> {
    let mut clock = SystemClock;
    let journal = Journal::open_or_begin(shop, clock.now())?;
    let mut store = KeptShop { journal, version: None, advised: None };
    let dial = Dial { zone: &LocalZone, clock: Clock::default(), scale };
    super::run(&mut store, &mut clock, dial, Theme::of_environment(), App::default())
}

/// A journal, and what was last read of it.
#[derive(Debug)]
pub struct KeptShop {
    journal: Journal,
    /// The file's own mark of the last change by others.
    version: Option<i64>,
    /// When the advice was made, while there is any.
    advised: Option<Moment>,
}

impl KeptShop {
    fn past(&self, open: &[Firing]) -> anyhow::Result<Vec<Firing>> {
        let filter = LedgerFilter { limit: Some(PAST_FIRINGS), ..LedgerFilter::default() };
        let over: Vec<FiringId> = self
            .journal
            .ledger(&filter)?
            .into_iter()
            .filter(|row| row.off.is_some() && open.iter().all(|firing| firing.id != row.firing))
            .map(|row| row.firing)
            .collect();
        over.into_iter().map(|firing| Ok(self.journal.firing(firing)?)).collect()
    }
}

/// The corner points of a schedule; one that is not found leaves the forecast to the rest.
fn plan(schedule: &str) -> Option<Vec<(Span, Celsius)>> {
    shipped_schedules::find(schedule).ok().map(|schedule| schedule.plan())
}

impl Store for KeptShop {
    fn snapshot(&mut self, now: Moment) -> anyhow::Result<Snapshot> {
        self.version = Some(self.journal.data_version()?);
        let shop = self.journal.shop()?;
        let burning = shop.open.iter().any(Firing::burns);
        let past = if burning { self.past(&shop.open)? } else { Vec::new() };
        let advices = advices(&shop, &past, plan, now);
        self.advised = burning.then_some(now);
        Ok(Snapshot { shop, advices })
    }

    fn append(&mut self, entry: &Entry, now: Moment) -> anyhow::Result<EventId> {
        let firing = match entry.about {
            About::Firing(firing) => Some(firing),
            About::NewFiring => None,
        };
        let event = NewEvent::new(firing, entry.at, Who::Person(String::new()), entry.what.clone());
        Ok(self.journal.append_checked(&event, now)?.id)
    }

    fn changed(&mut self, now: Moment) -> anyhow::Result<bool> {
        let version = self.journal.data_version().context("cannot look for new events")?;
        let stale = self.advised.is_some_and(|advised| now - advised >= ADVICE_AGE);
        Ok(stale || self.version != Some(version))
    }
}
