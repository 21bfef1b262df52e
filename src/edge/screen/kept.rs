//! The shop that is kept: its journal behind the screen.

use std::path::Path;
use std::time::Duration;

use anyhow::Context;

use super::adviser::{Advices, Adviser};
use super::app::App;
use super::clock::{LocalZone, SystemClock, Timekeeper};
use super::store::{About, Entry, Snapshot, Store};
use super::theme::Theme;
use crate::edge::journal::{Journal, LedgerFilter, NewEvent, PAST_FIRINGS, Uid};
use crate::edge::shipped_schedules;
use crate::firing::{EventId, Firing, FiringId, Shop, What, Who};
use crate::scene::{PastFiring, advices};
use crate::units::{Moment, Scale, Span};
use crate::words::{Clock, Dial};

/// Advice older than this is made anew, even if nothing was written.
const ADVICE_AGE: Span = Span::seconds(20);

/// How long the screen waits for advice before it goes on with what it knew: too short for
/// anybody who types to feel.
const AT_ONCE: Duration = Duration::from_millis(30);

/// The screen on the shop in this file, until somebody leaves it.
///
/// What is entered is written under the name `who`, which may be empty.
///
/// # Errors
/// When the file cannot be opened, or there is no terminal.
pub fn open(shop: &Path, scale: Scale, face: Clock, who: String) -> anyhow::Result<()> {
    let mut clock = SystemClock;
    let journal = Journal::open_or_begin(shop, clock.now())?;
    let mut store = KeptShop::new(journal, who, AT_ONCE)?;
    let dial = Dial { zone: &LocalZone, clock: face, scale };
    super::run(&mut store, &mut clock, dial, Theme::of_environment(), App::default())
}

/// A journal, and what was last read of it.
#[derive(Debug)]
pub struct KeptShop {
    journal: Journal,
    who: String,
    /// The file's own mark of the last change by others.
    version: Option<i64>,
    adviser: Adviser,
    /// How long a snapshot waits for advice before it goes on with what was known.
    patience: Duration,
    /// The advice heard last, and when the newest was asked for, while anything burns.
    advices: Advices,
    advised: Option<Moment>,
    /// The advice was heard since the last snapshot: that one need not ask again.
    heard: bool,
    /// The mark of an entry that may or may not have been written: trying again is no second one.
    unanswered: Option<(About, What, Uid)>,
}

impl KeptShop {
    /// The shop in this journal; what is entered is written under the name `who`. A snapshot waits
    /// for advice as long as `patience`, then goes on with what was known.
    ///
    /// # Errors
    /// When the system has no thread for the advice.
    pub fn new(journal: Journal, who: String, patience: Duration) -> anyhow::Result<KeptShop> {
        Ok(KeptShop {
            journal,
            who,
            version: None,
            adviser: Adviser::new().context("cannot make advice beside the screen")?,
            patience,
            advices: Vec::new(),
            advised: None,
            heard: false,
            unanswered: None,
        })
    }

    /// Asks for advice on the shop as it is now. It may come at once; if not, what was heard
    /// last stays until it does.
    fn ask(&mut self, shop: &Shop, now: Moment) -> anyhow::Result<()> {
        let (path, asked) = (self.journal.path().to_owned(), shop.clone());
        self.adviser.ask(move || {
            let past = Journal::open(&path)?.past(PAST_FIRINGS)?;
            Ok(advices(&asked, &past, shipped_schedules::plan, now))
        });
        self.advised = Some(now);
        if let Some(answer) = self.adviser.hear(self.patience) {
            self.advices = answer?;
        }
        Ok(())
    }
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
        let version = self.journal.data_version()?;
        let known = std::mem::take(&mut self.heard) && self.version == Some(version);
        self.version = Some(version);
        let shop = self.journal.shop()?;
        if !shop.open.iter().any(Firing::burns) {
            self.advised = None;
        } else if !known {
            self.ask(&shop, now)?;
        }
        let burns = |id: FiringId| shop.open.iter().any(|one| one.id == id && one.burns());
        self.advices.retain(|(id, _)| burns(*id));
        Ok(Snapshot { shop, advices: self.advices.clone() })
    }

    fn append(&mut self, entry: &Entry, now: Moment) -> anyhow::Result<EventId> {
        let firing = match entry.about {
            About::Firing(firing) => Some(firing),
            About::NewFiring | About::Shop => None,
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
        if let Some(answer) = self.adviser.hear(Duration::ZERO) {
            self.advices = answer?;
            self.heard = true;
            return Ok(true);
        }
        let version = self.journal.data_version().context("cannot look for new events")?;
        let stale = self.advised.is_some_and(|advised| now - advised >= ADVICE_AGE);
        Ok(stale || self.version != Some(version))
    }

    fn awaits(&self) -> bool {
        self.adviser.awaits()
    }

    fn ledger(&mut self) -> anyhow::Result<Vec<PastFiring>> {
        let rows = self.journal.ledger(&LedgerFilter::default())?;
        Ok(rows
            .into_iter()
            .map(|row| PastFiring {
                firing: row.firing,
                kiln: row.kiln,
                load_type: row.load_type,
                target: row.cone,
                begun: row.begun,
                verdict: row.verdict,
                note: row.note,
            })
            .collect())
    }

    fn firing(&mut self, firing: FiringId) -> anyhow::Result<Firing> {
        Ok(self.journal.firing(firing)?)
    }
}
