//! The shop that is kept: its journal behind the screen.
//!
//! A journal that turns out damaged does not end the watch: the screen goes on in a new file beside
//! it and says so.

use std::path::Path;
use std::sync::Arc;

use anyhow::{Context, bail};

use super::adviser::{Advising, Patience};
use super::reviewer::Reviewer;
use super::store::{About, Entry, Kept, Settings, Snapshot, Store};
use super::watched::{Start, Watched};
use crate::edge::bell::settings::BellFile;
use crate::edge::house_file::House;
use crate::edge::journal::rescue::{self, Loss, Opened};
use crate::edge::journal::{Journal, JournalError, LedgerFilter, NewEvent, PAST_FIRINGS, Uid};
use crate::edge::own_schedules::{self, Offered};
use crate::edge::prices_file;
use crate::edge::shipped_schedules;
use crate::edge::shop::advised::{ADVICE_AGE, Counsel};
use crate::firing::{EventId, Firing, FiringId, Shop, Unread, What, Who};
use crate::review::prices::Prices;
use crate::scene::{PastFiring, ReviewQuestion, ReviewScene, Scene, advices};
use crate::units::{Celsius, Moment, Scale, Span};
use crate::words::PromptKeys;

/// How much of the shop a snapshot has shown so far.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Shown {
    Nothing,
    /// All but the readings, so that the first frame need not wait for them: the whole comes next.
    Glance,
    Whole,
}

/// A journal, and what was last read of it.
#[derive(Debug)]
pub struct KeptShop {
    journal: Journal,
    /// What became of the shop's own file, if it was damaged.
    loss: Option<Loss>,
    /// The keeper beside the screen; what only follows the shop has none. It starts when the shop
    /// is asked for news the first time: it reads as much as the first frame, which would wait.
    watched: Option<Watched>,
    to_be_watched: Option<(Start, Scale)>,
    who: String,
    /// As the settings said it last.
    draw_below: Option<Celsius>,
    /// The file's own mark of the last change by others; none while `shop` is behind.
    version: Option<i64>,
    /// The shop as it was read then.
    shop: Arc<Shop>,
    shown: Shown,
    advising: Advising,
    /// Where the advice comes from, shared with the keeper.
    counsel: Counsel,
    /// What could not be read, as the last snapshot told it.
    told: Vec<Unread>,
    reviewer: Reviewer,
    /// How long a snapshot waits for what is summed up beside the loop.
    patience: Patience,
    /// The mark of an entry that may or may not have been written: trying again is no second one.
    unanswered: Option<(About, What, Uid)>,
}

/// The shop in this journal, with the advice for what is alight.
///
/// # Errors
/// When the file cannot be read.
pub fn snapshot(journal: &Journal, now: Moment) -> anyhow::Result<Snapshot> {
    let shop = Arc::new(journal.shop()?);
    let hot = shop.open.iter().any(|firing| firing.burns() || firing.cools());
    let past = if hot { journal.past(PAST_FIRINGS)? } else { Vec::new() };
    let advices = Arc::new(advices(&shop, &past, shipped_schedules::plan, now));
    let draw_below = House::read(journal.path()).ok().and_then(|house| house.draw_below);
    let unread = journal.unread().list();
    Ok(Snapshot { shop, advices, draw_below, unread, ..Snapshot::default() })
}

impl KeptShop {
    /// The shop in this file, or what can be read of it if it is damaged; what is entered is
    /// written under the name `who`. A snapshot waits for advice as `patience` says, then goes
    /// on with what was known.
    ///
    /// # Errors
    /// When the file can neither be opened nor begun, nor one beside it; when the system has no
    /// thread for the advice.
    pub fn open(
        shop: &Path,
        who: String,
        patience: impl Into<Patience>,
        now: Moment,
    ) -> anyhow::Result<KeptShop> {
        let Opened { journal, loss } = Journal::open_or_rescue_unread(shop, now)?;
        let (patience, counsel) = (patience.into(), Counsel::default());
        Ok(KeptShop {
            journal: journal.with_unread(counsel.unread()),
            loss,
            watched: None,
            to_be_watched: None,
            who,
            draw_below: House::read(shop).ok().and_then(|house| house.draw_below),
            version: None,
            shop: Arc::default(),
            shown: Shown::Nothing,
            advising: Advising::new(patience).context("cannot make advice beside the screen")?,
            told: Vec::new(),
            reviewer: Reviewer::new(counsel.unread()),
            counsel,
            patience,
            unanswered: None,
        })
    }

    /// A keeper is to stand beside the screen, and to tell temperatures in this scale.
    pub fn is_to_be_watched(&mut self, start: Start, scale: Scale) {
        self.to_be_watched = Some((start, scale));
    }

    /// Does `work`; if that shows the journal to be damaged, does it again in the file beside it.
    fn undeterred<T>(
        &mut self,
        now: Moment,
        work: impl Fn(&mut Self) -> anyhow::Result<T>,
    ) -> anyhow::Result<T> {
        let error = match work(self) {
            Ok(done) => return Ok(done),
            Err(error) => error,
        };
        let Some(JournalError::Damaged { path, reason }) = error.downcast_ref() else {
            return Err(error);
        };
        let Opened { journal, loss } = rescue::rescue(path, reason.clone(), now)?;
        self.loss = loss;
        self.version = None;
        // What was read is of the file before.
        self.counsel = Counsel::default();
        self.journal = journal.with_unread(self.counsel.unread());
        self.reviewer = Reviewer::new(self.counsel.unread());
        work(self)
    }

    fn read(&mut self, now: Moment) -> anyhow::Result<Snapshot> {
        if self.shown == Shown::Nothing && self.patience.glances() {
            self.shown = Shown::Glance;
            let shop = Arc::new(self.journal.glance()?);
            return Ok(Snapshot { shop, glance: true, ..Snapshot::default() });
        }
        self.shown = Shown::Whole;
        let version = self.journal.data_version()?;
        let changed = self.version != Some(version);
        if changed {
            self.shop = Arc::new(self.journal.shop()?);
            self.version = Some(version);
        }
        let shop = Arc::clone(&self.shop);
        let (path, counsel) = (self.journal.path().to_owned(), self.counsel.clone());
        let advise = move |shop: &Shop| {
            let open = || Journal::open(&path).map(|opened| opened.with_unread(counsel.unread()));
            counsel.on(shop, |past| Ok(past.read(&open()?)?), now)
        };
        let advices = self.advising.on(&shop, changed, advise, now)?;
        let alarms = self.watched.as_ref().map(Watched::standing).unwrap_or_default().to_vec();
        self.told = self.journal.unread().list();
        let (draw_below, unread) = (self.draw_below, self.told.clone());
        Ok(Snapshot { shop, advices, alarms, draw_below, glance: false, unread })
    }

    fn write(&mut self, entry: &Entry, now: Moment) -> anyhow::Result<EventId> {
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
        // The file's mark tells nothing of what is written from here.
        self.version = None;
        let id = self.journal.append_having_seen(&event, entry.seen, now)?.id;
        self.unanswered = None;
        if let (Some(watched), Some(firing)) = (&mut self.watched, firing) {
            watched.answered(firing, &entry.what);
        }
        Ok(id)
    }
}

impl Store for KeptShop {
    fn snapshot(&mut self, now: Moment) -> anyhow::Result<Snapshot> {
        self.undeterred(now, |shop| shop.read(now))
    }

    fn append(&mut self, entry: &Entry, now: Moment) -> anyhow::Result<EventId> {
        self.undeterred(now, |shop| shop.write(entry, now))
    }

    fn changed(&mut self, now: Moment) -> anyhow::Result<bool> {
        if let Some((start, scale)) = self.to_be_watched.take() {
            let (shop, counsel) = (self.journal.path(), self.counsel.clone());
            self.watched = Some(Watched::start(start, shop, scale, counsel));
        }
        if self.shown == Shown::Glance {
            return Ok(true);
        }
        let another_line = self.watched.as_mut().is_some_and(Watched::hear);
        if self.advising.hear()? {
            return Ok(true);
        }
        let version = self.undeterred(now, |shop| Ok(shop.journal.data_version()?));
        let version = version.context("cannot look for new events")?;
        let stale = self.advising.is_older(ADVICE_AGE, now);
        let another_unread = self.told != self.journal.unread().list();
        Ok(another_line || another_unread || stale || self.version != Some(version))
    }

    fn rings(&mut self) -> bool {
        self.watched.as_mut().is_some_and(Watched::rings)
    }

    /// What became of a damaged file, or what is wrong with the watch.
    fn guidance(&self, _: &Scene, _: &PromptKeys<'_>) -> Option<String> {
        let watch = || self.watched.as_ref().and_then(Watched::line).map(str::to_owned);
        self.loss.as_ref().map(Loss::brief).or_else(watch)
    }

    fn schedules(&mut self) -> Vec<Offered> {
        let shop = self.journal.path();
        let offered = own_schedules::offered(shop, &House::read(shop).unwrap_or_default());
        let last = |kiln: &str| self.journal.last_schedule(kiln).ok().flatten();
        own_schedules::with_last(offered, &self.shop.kilns, last)
    }

    fn settings(&mut self) -> Option<Settings> {
        let shop = self.journal.path();
        Some(Settings {
            house: House::read(shop).map_err(|error| error.to_string()),
            bell: BellFile::read(shop)
                .and_then(|file| file.checked(shop))
                .map_err(|error| error.to_string()),
        })
    }

    fn keep(&mut self, kept: &Kept) -> anyhow::Result<()> {
        let (was, becomes) = (&kept.was, &kept.becomes);
        if self.settings().as_ref() != Some(was) {
            bail!("they were changed meanwhile: leave this form and open it again");
        }
        let shop = self.journal.path();
        if let (true, Ok(house)) = (becomes.house != was.house, &becomes.house) {
            house.write(shop)?;
            self.draw_below = house.draw_below;
        }
        if let (true, Ok(bell)) = (becomes.bell != was.bell, &becomes.bell) {
            bell.write(shop)?;
            if let Some(watched) = self.watched.take() {
                self.watched = Some(watched.anew());
            }
        }
        Ok(())
    }

    fn awaits(&self) -> bool {
        self.shown == Shown::Glance || self.advising.awaits() || self.reviewer.awaits()
    }

    fn ask_review(&mut self, question: &ReviewQuestion) -> anyhow::Result<()> {
        let path = self.journal.path();
        self.reviewer.ask(path, question).context("cannot make a review beside the screen")
    }

    fn prices(&self, ahead: Span) -> anyhow::Result<Prices> {
        Ok(prices_file::of_shop(self.journal.path(), ahead)?)
    }

    fn review(&mut self) -> Option<anyhow::Result<ReviewScene>> {
        self.reviewer.hear(self.patience.later())
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
