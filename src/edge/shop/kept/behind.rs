//! What a screen asks of a shop besides the floor: schedules and settings, the review, the ledger, and
//! single firings with what they are held against.

use anyhow::{Context, bail};

use super::KeptShop;
use crate::edge::bell::settings::BellFile;
use crate::edge::house_file::House;
use crate::edge::journal::{Journal, LedgerFilter, PAST_FIRINGS};
use crate::edge::own_schedules::{self, Offered};
use crate::edge::prices_file;
use crate::edge::shop::adviser::Adviser;
use crate::edge::shop::clock::LocalZone;
use crate::edge::shop::store::{Entries, Kept, Nearest, Record, Settings};
use crate::firing::{Event, EventId, Firing, FiringId, Kind, Who};
use crate::review::nearest::Near;
use crate::review::prices::Prices;
use crate::scene::{PastFiring, ReviewQuestion, ReviewScene};
use crate::units::{Scale, Span};
use crate::words::{self, Clock, Dial};

/// How many past firings of a kiln a firing is compared with.
const COMPARED: u32 = 60;
/// How many of the nearest are named.
const NAMED: usize = 3;

impl KeptShop {
    /// Every schedule a kiln can be lit by.
    pub fn schedules(&self) -> Vec<Offered> {
        let offered = match self.journal.file() {
            Some(shop) => own_schedules::offered(shop, &House::or_usual(shop)),
            None => own_schedules::shipped(),
        };
        let last = |kiln: &str| self.journal.last_schedule(kiln).ok().flatten();
        own_schedules::with_last(offered, &self.shop.kilns, last)
    }

    /// What the shop keeps beside its journal; a made-up shop keeps nothing.
    pub fn settings(&self) -> Option<Settings> {
        let shop = self.journal.file()?;
        Some(Settings {
            house: House::read(shop).map_err(|error| error.to_string()),
            bell: BellFile::read(shop)
                .and_then(|file| file.checked(shop))
                .map_err(|error| error.to_string()),
        })
    }

    /// Keeps other settings.
    ///
    /// # Errors
    /// When they could not be written, or were changed meanwhile.
    pub fn keep(&mut self, kept: &Kept) -> anyhow::Result<()> {
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
        }
        Ok(())
    }

    /// Asks for a review; [`KeptShop::review`] hands it out when it is there. What was asked before
    /// is forgotten.
    ///
    /// # Errors
    /// When the system has no thread to give.
    pub fn ask_review(&mut self, question: &ReviewQuestion) -> anyhow::Result<()> {
        let reviewer = match &mut self.reviewer {
            Some(reviewer) => reviewer,
            none => none.insert(Adviser::new().context("cannot make a review beside the screen")?),
        };
        let (address, question) = (self.journal.address(), question.clone());
        reviewer.ask(move || {
            let journal = address.open()?;
            let prices = prices_of(&journal, question.ahead)?;
            Ok(journal.review(&question, &prices, &mut |_, _| {})?)
        });
        Ok(())
    }

    /// The answer to the review asked for last, once.
    pub fn review(&mut self) -> Option<anyhow::Result<ReviewScene>> {
        self.reviewer.as_mut()?.hear(self.patience.later())
    }

    /// Every firing of the shop, the youngest first.
    ///
    /// # Errors
    /// When the shop could not be read.
    pub fn ledger(&self) -> anyhow::Result<Vec<PastFiring>> {
        ledger_of(&self.journal)
    }

    /// What the shop's own list says of prices; `ahead` is what the wall clock is ahead of UTC.
    ///
    /// # Errors
    /// When the list could not be read.
    pub fn prices(&self, ahead: Span) -> anyhow::Result<Prices> {
        prices_of(&self.journal, ahead)
    }

    /// One firing.
    ///
    /// # Errors
    /// When it could not be read.
    pub fn firing(&self, firing: FiringId) -> anyhow::Result<Firing> {
        Ok(self.journal.firing(firing)?)
    }

    /// What was entered of a firing and can be corrected.
    ///
    /// # Errors
    /// When it could not be read.
    pub fn entries(&self, firing: FiringId) -> anyhow::Result<Entries> {
        entries_of(&self.journal, firing)
    }

    /// A firing, with what it is held against.
    ///
    /// # Errors
    /// When it could not be read.
    pub fn record(&self, firing: FiringId) -> anyhow::Result<Record> {
        Ok(Record { firing: self.firing(firing)?, past: self.journal.past(PAST_FIRINGS)? })
    }

    /// The journal, to be read.
    pub fn journal(&self) -> &Journal {
        &self.journal
    }

    /// A firing, and the past firings of its kiln that went most like it, the nearest first. Only
    /// the newest [`COMPARED`] are compared.
    ///
    /// # Errors
    /// When the shop could not be read.
    pub fn nearest(&self, firing: FiringId) -> anyhow::Result<Nearest> {
        let firing = self.firing(firing)?;
        let kiln = Some(firing.kiln.clone());
        let near = self.journal.nearest(&firing, (kiln, Some(COMPARED)), NAMED)?;
        let with = |near: Near| Ok((near.clone(), self.firing(near.id)?));
        Ok(Nearest { near: near.into_iter().map(with).collect::<anyhow::Result<_>>()?, firing })
    }
}

/// Every firing of the shop, the youngest first.
///
/// # Errors
/// When the shop could not be read.
pub fn ledger_of(journal: &Journal) -> anyhow::Result<Vec<PastFiring>> {
    let rows = journal.ledger(&LedgerFilter::default())?;
    let dial = Dial { zone: &LocalZone, clock: Clock::default(), scale: Scale::default() };
    let between = words::between_firings(&journal.described()?, &dial);
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
        .chain(between)
        .collect())
}

/// What was entered of a firing and can be corrected, the newest first.
///
/// # Errors
/// When it could not be read.
pub fn entries_of(journal: &Journal, firing: FiringId) -> anyhow::Result<Entries> {
    let fold = journal.fold(firing)?;
    let entered = |event: &&Event| {
        matches!(event.who, Who::Person(_)) && Kind::of(&event.what).is_corrected()
    };
    let mut events: Vec<Event> = fold.standing_events().filter(entered).cloned().collect();
    events.reverse();
    Ok(Entries { firing, kiln: fold.into_firing().kiln, events })
}

/// One entry alone, whosever it is.
///
/// # Errors
/// When there is none of this number, or it could not be read.
pub fn entry_of(journal: &Journal, id: EventId) -> anyhow::Result<Entries> {
    let event = journal.event(id)?.event;
    let kiln = match event.firing {
        Some(firing) => journal.firing(firing)?.kiln,
        None => String::new(),
    };
    let firing = event.firing.unwrap_or(FiringId::SHOP);
    Ok(Entries { firing, kiln, events: vec![event] })
}

/// What things cost in this shop; `ahead` is what the wall clock is ahead of UTC.
pub fn prices_of(journal: &Journal, ahead: Span) -> anyhow::Result<Prices> {
    let shop = journal.file();
    Ok(shop.map_or_else(prices_file::made_up, |shop| prices_file::of_shop(shop, ahead))?)
}
