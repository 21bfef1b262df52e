//! A shop that is open: its journal, with advice, standing alarms and settings around it.
//!
//! A journal that turns out damaged does not end the watch: the shop goes on in a new file beside
//! it and says so. A made-up shop is the same on a journal in memory, and keeps no settings.

mod behind;
mod planned;

use std::io;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use anyhow::Context;

use super::advised::{CALM_AGE, Counsel, age};
use super::adviser::{Adviser, Advising, Patience};
use super::bench::Reckoned;
use super::clock::{CLOCK_BEHIND, LocalZone};
use super::standing::Standing;
use super::store::{About, Entry};
use super::watched::{Start, Watched};
use crate::alarm::Alarm;
use crate::edge::bell::log::{Line, Of, RingLog, Stamp};
use crate::edge::bell::terminal::Receipt;
use crate::edge::house_file::House;
use crate::edge::journal::at_path::Followed;
use crate::edge::journal::rescue::{self, Loss, Opened};
use crate::edge::journal::write::Appended;
use crate::edge::journal::{Journal, JournalError, NewEvent, Uid, shop_files};
use crate::firing::{EventId, Shop, Unread, What, Who};
use crate::kiln::{Kiln, LoadType};
use crate::scene::{Floor, ReviewScene};
use crate::units::{Celsius, Moment, Scale};
use crate::words::{Clock, Dial};
pub use behind::{entries_of, entry_of, ledger_of, prices_of};
use planned::Planned;

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
    /// The file that was named; none of a made-up shop.
    named: Option<Followed>,
    /// What became of the shop's own file, if it was damaged.
    loss: Option<Loss>,
    /// The keeper beside the screen; what only follows the shop has none. It starts when the shop
    /// is asked for news the first time: it reads as much as the first frame, which would wait.
    watched: Option<Watched>,
    /// The alarms of a made-up shop, over which no keeper stands.
    standing: Option<Standing>,
    who: String,
    /// As the settings said it last.
    draw_below: Option<Celsius>,
    /// The file's own mark of the last change by others; none while `shop` is behind.
    version: Option<i64>,
    planned: Planned,
    /// The shop as it was read then.
    shop: Arc<Shop>,
    shown: Shown,
    advising: Advising,
    /// Where the advice comes from, shared with the keeper.
    counsel: Counsel,
    /// The newest entry, where the clock stands well before it.
    ahead: Option<Moment>,
    /// What is wrong with the page, as whoever serves it wrote it down.
    page: Option<String>,
    /// What could not be read, as the last snapshot told it.
    told: Vec<Unread>,
    /// Makes the review beside the loop: an old shop has thousands of firings to read. A thread only
    /// once somebody asked.
    reviewer: Option<Adviser<ReviewScene>>,
    bench: Reckoned,
    /// How long a snapshot waits for what is summed up beside the loop.
    patience: Patience,
    /// The mark of an entry that may or may not have been written: trying again is no second one.
    unanswered: Option<(About, What, Uid)>,
}

impl KeptShop {
    /// The shop in this file, or what can be read of it if it is damaged; what is entered is
    /// written under the name `who`. A snapshot waits for advice as `patience` says, then goes
    /// on with what was known.
    ///
    /// # Errors
    /// When the file is not there or cannot be opened, nor one beside it; when the system has no
    /// thread for the advice.
    pub fn open(
        shop: &Path,
        who: String,
        patience: impl Into<Patience>,
        now: Moment,
    ) -> anyhow::Result<KeptShop> {
        let Opened { journal, loss } = Journal::open_or_rescue_unread(shop, now)?;
        let draw_below = House::or_usual(shop).draw_below;
        let mut named = Followed::of(shop.to_owned());
        named.note_open();
        let named = Some(named);
        let shop =
            KeptShop { named, loss, draw_below, ..KeptShop::on(journal, who, patience.into())? };
        shop.journal.recall_damage()?;
        Ok(shop)
    }

    /// A shop that is made up, with these kilns and load types: all of it is in memory.
    ///
    /// # Errors
    /// When the system has no memory or no thread to give.
    pub fn made_up(
        kilns: Vec<Kiln>,
        load_types: Vec<LoadType>,
        patience: impl Into<Patience>,
        now: Moment,
    ) -> anyhow::Result<KeptShop> {
        let mut journal = Journal::in_memory()?;
        let kilns = kilns.into_iter().map(What::KilnSet);
        let described = kilns.chain(load_types.into_iter().map(What::LoadTypeSet));
        let described = described.map(|what| NewEvent::new(None, now, Who::Program, what));
        journal.append_all(&described.collect::<Vec<_>>(), now)?;
        Ok(KeptShop {
            standing: Some(Standing::default()),
            // It is read in no time.
            shown: Shown::Whole,
            ..KeptShop::on(journal, String::new(), patience.into())?
        })
    }

    fn on(journal: Journal, who: String, patience: Patience) -> anyhow::Result<KeptShop> {
        let counsel = Counsel::default();
        Ok(KeptShop {
            journal: journal.with_unread(counsel.unread()),
            named: None,
            loss: None,
            watched: None,
            standing: None,
            who,
            draw_below: None,
            version: None,
            planned: Planned::default(),
            shop: Arc::default(),
            shown: Shown::Nothing,
            advising: Advising::new(patience).context("cannot make advice beside the screen")?,
            ahead: None,
            page: None,
            told: Vec::new(),
            reviewer: None,
            bench: Reckoned::default(),
            counsel,
            patience,
            unanswered: None,
        })
    }

    /// The same shop once more in a process that has it open, by the same advice.
    ///
    /// # Errors
    /// See [`KeptShop::open`].
    pub fn shared(
        shop: &Path,
        counsel: Counsel,
        patience: impl Into<Patience>,
        now: Moment,
    ) -> anyhow::Result<KeptShop> {
        let mut kept = KeptShop::open(shop, String::new(), patience, now)?;
        kept.journal = kept.journal.with_unread(counsel.unread());
        Ok(KeptShop { counsel, ..kept })
    }

    /// Puts a keeper beside the screen, which tells temperatures in this scale: before anything is
    /// drawn, since a terminal that takes nothing holds up whoever draws.
    pub fn watch(&mut self, start: Start, scale: Scale) {
        let counsel = self.counsel.clone();
        let beside = |named: &Followed| Watched::start(start, named.shop(), scale, counsel);
        self.watched = self.named.as_ref().map(beside);
    }

    /// Does `work`; if that shows the journal to be damaged, or exchanged while it was written, does it
    /// again in the file in which the shop goes on.
    fn undeterred<T>(
        &mut self,
        now: Moment,
        work: impl Fn(&mut Self) -> anyhow::Result<T>,
    ) -> anyhow::Result<T> {
        let left = self.journal.file().is_some_and(shop_files::is_left);
        let done = match left {
            // Another process met the damage.
            true => Err(self.journal.left().into()),
            false => work(self),
        };
        let error = match done {
            Ok(done) => return Ok(done),
            Err(error) => error,
        };
        let opened = match (error.downcast_ref(), &mut self.named) {
            (Some(JournalError::Damaged { path, reason }), _) => {
                rescue::rescue(path, reason.clone(), now)?
            }
            (Some(JournalError::Exchanged { .. }), Some(named)) => {
                named.note_open();
                Journal::open_or_rescue(named.shop(), now)?
            }
            _ => return Err(error),
        };
        self.go_on_in(opened);
        work(self)
    }

    fn go_on_in(&mut self, Opened { journal, loss }: Opened) {
        self.loss = loss;
        self.version = None;
        self.counsel.forget();
        self.journal = journal.with_unread(self.counsel.unread());
        self.planned.forget_ware();
    }

    /// Opens what lies at the shop's path if that is not what is open.
    fn follow(&mut self, now: Moment) -> Result<(), JournalError> {
        if let Some(met) = self.named.as_mut().map_or(Ok(None), |named| named.news(now))? {
            self.go_on_in(met.opened);
        }
        Ok(())
    }

    fn read(&mut self, now: Moment) -> anyhow::Result<Floor> {
        if self.shown == Shown::Nothing && self.patience.glances() {
            self.shown = Shown::Glance;
            self.shop = Arc::new(self.journal.glance()?);
            let shop = Arc::clone(&self.shop);
            return Ok(Floor { shop, glance: true, ..Floor::default() });
        }
        self.shown = Shown::Whole;
        let newest = self.journal.last_written()?;
        self.ahead = newest.filter(|newest| *newest - now > CLOCK_BEHIND && !self.is_made_up());
        let version = self.journal.data_version()?;
        let changed = self.version != Some(version);
        if changed {
            self.shop = match &mut self.standing {
                Some(standing) => Arc::clone(standing.read(&self.journal)?),
                None => Arc::new(self.journal.shop()?),
            };
            self.version = Some(version);
            self.read_ware()?;
            let page = self.journal.page().unwrap_or_default();
            self.page = page.map(|page| page.trouble).filter(|trouble| !trouble.is_empty());
        }
        let shop = Arc::clone(&self.shop);
        let (address, counsel) = (self.journal.address(), self.counsel.clone());
        let advise =
            move |shop: &Arc<Shop>| counsel.on(shop, |past| Ok(past.read(&address.open()?)?), now);
        let advices = self.advising.on(&shop, changed, advise, now)?;
        let bench = self.bench.on((&self.journal, &self.shop), self.patience, now)?;
        let made_up = self.standing.as_mut().map(|standing| {
            standing.of_bench(Arc::clone(&bench));
            standing.alarms_by(&advices, now)
        });
        let alarms = made_up.unwrap_or_else(|| self.alarms());
        self.told = self.journal.unread().list();
        let (draw_below, unread) = (self.draw_below, self.told.clone());
        let ware = Arc::clone(&self.planned.ware);
        Ok(Floor { shop, advices, alarms, draw_below, glance: false, unread, ware, bench })
    }

    fn write(
        &mut self,
        entry: &Entry,
        (who, uid): (&str, Uid),
        now: Moment,
    ) -> anyhow::Result<EventId> {
        let firing = match entry.about {
            About::Firing(firing) => Some(firing),
            About::NewFiring | About::Shop => None,
        };
        let who = Who::Person(who.to_owned());
        let event = NewEvent::new(firing, entry.at, who, entry.what.clone());
        let mut event = NewEvent { uid, ..event };
        // What a clock set back says of a look or of an off is no time before what it follows.
        let (mut now, is_now) = (now, now - entry.at < CLOCK_BEHIND);
        if let (Some(newest), true, What::Look(_) | What::Off) = (self.ahead, is_now, &entry.what) {
            (event.at, now) = (newest, newest);
        }
        let who = &event.who;
        let new = |(at, what): &(_, What)| NewEvent::new(None, *at, who.clone(), what.clone());
        let then: Vec<NewEvent> = entry.then.iter().map(new).collect();
        // The file's mark tells nothing of what is written from here.
        self.version = None;
        let id = match entry.corrects {
            None if then.is_empty() => self.write_event(&event, entry.seen, now)?.id,
            None if entry.about == About::Shop => {
                self.journal.append_together(&event, &then, now)?.id
            }
            None => self.journal.append_firing(&event, &then, now)?.id,
            Some((was, others)) => self.journal.correct(was, &event, others, now)?.id,
        };
        if let (Some(watched), Some(firing), None) = (&mut self.watched, firing, entry.corrects) {
            watched.answered(firing, &entry.what);
        }
        Ok(id)
    }

    /// Writes an event, whoever it is by, if it can have happened.
    ///
    /// # Errors
    /// See [`Journal::append_having_seen`].
    pub fn write_event(
        &mut self,
        event: &NewEvent,
        seen: Option<EventId>,
        now: Moment,
    ) -> Result<Appended, JournalError> {
        self.version = None;
        self.journal.append_having_seen(event, seen, now)
    }

    fn is_made_up(&self) -> bool {
        self.journal.file().is_none()
    }

    /// Everything there is to see at `now`.
    ///
    /// # Errors
    /// When neither the shop nor a file beside it can be read.
    pub fn snapshot(&mut self, now: Moment) -> anyhow::Result<Floor> {
        self.undeterred(now, |shop| shop.read(now))
    }

    /// Writes an event down for good. When this returns a number, the event is durable.
    ///
    /// # Errors
    /// When it could not be written; then nothing was.
    pub fn append(&mut self, entry: &Entry, now: Moment) -> anyhow::Result<EventId> {
        let uid = match &self.unanswered {
            Some((about, what, uid)) if *about == entry.about && *what == entry.what => *uid,
            _ => Uid::fresh(),
        };
        self.unanswered = Some((entry.about, entry.what.clone(), uid));
        let id = self.append_by(entry, (&self.who.clone(), uid), now)?;
        self.unanswered = None;
        Ok(id)
    }

    /// The same by somebody else, under a mark that makes it one event however often it comes.
    ///
    /// # Errors
    /// When it could not be written; then nothing was.
    pub fn append_by(
        &mut self,
        entry: &Entry,
        by: (&str, Uid),
        now: Moment,
    ) -> anyhow::Result<EventId> {
        self.follow(now)?;
        self.undeterred(now, |shop| {
            let written = shop.write(entry, by, now);
            written.or_else(|error| match error.downcast_ref() {
                Some(JournalError::MarkTaken(id)) => Ok(*id),
                _ => Err(error),
            })
        })
    }

    /// Answers an alarm of the shop itself. Its file may be what is wrong: so this is written down in
    /// the log of rings.
    ///
    /// # Errors
    /// When that could not be written.
    pub fn answer(&mut self, of: Of, now: Moment) -> io::Result<()> {
        self.answer_of(of, self.who.clone(), now)
    }

    /// The same by somebody else.
    ///
    /// # Errors
    /// When that could not be written.
    pub fn answer_of(&mut self, of: Of, who: String, now: Moment) -> io::Result<()> {
        if let Some(standing) = &mut self.standing {
            of.key().into_iter().for_each(|key| standing.answer(key.task, who.clone(), now));
            return Ok(());
        }
        self.log_ring(Line::Answered { at: Stamp(now), of, who })
    }

    /// Writes a line into the log of rings.
    ///
    /// # Errors
    /// When that could not be written.
    pub fn log_ring(&self, line: Line) -> io::Result<()> {
        let shop = self.named.as_ref().map_or(self.journal.path(), Followed::shop);
        RingLog::of(shop).append(&[line])
    }

    /// Whether there is anything new to see since the last snapshot, whoever wrote it.
    ///
    /// # Errors
    /// When that could not be found out.
    pub fn changed(&mut self, now: Moment) -> anyhow::Result<bool> {
        if self.shown == Shown::Glance {
            return Ok(true);
        }
        let another_line = self.watched.as_mut().is_some_and(Watched::hear);
        self.follow(now)?;
        if self.advising.hear()? | self.bench.hear(Duration::ZERO)? {
            return Ok(true);
        }
        let version = self.undeterred(now, |shop| Ok(shop.journal.data_version()?));
        let version = version.context("cannot look for new events")?;
        let age = || age(&self.shop, self.advising.advices(), now);
        let age = if self.is_made_up() { CALM_AGE } else { age() };
        let stale = self.advising.is_older(age, now) || self.bench.is_stale(now);
        let another_unread = self.told != self.journal.unread().list();
        Ok(another_line || another_unread || stale || self.version != Some(version))
    }

    /// What became of a damaged file, or what is wrong with the watch or with the page.
    pub fn line(&self) -> Option<String> {
        let watch = || self.watched.as_ref().and_then(Watched::line).map(str::to_owned);
        let dial = Dial { zone: &LocalZone, clock: Clock::default(), scale: Scale::default() };
        let ahead = || {
            let newest = dial.time_and_day(self.ahead?, self.ahead?);
            Some(format!(
                "The clock stands before the newest entry, made {newest}: set it right, or strike that entry."
            ))
        };
        self.loss
            .as_ref()
            .map(Loss::brief)
            .or_else(ahead)
            .or_else(watch)
            .or_else(|| self.page.clone())
    }

    /// The alarms that stand, as the keeper beside the screen said last.
    pub fn alarms(&self) -> Vec<Alarm> {
        self.watched.as_ref().map(Watched::standing).unwrap_or_default().to_vec()
    }

    /// The rings the terminal is to make now, each to be answered when it has taken it.
    pub fn rings(&mut self) -> Vec<Receipt> {
        self.watched.as_mut().map(Watched::rings).unwrap_or_default()
    }

    /// Whether advice or a review is being made, and will be there soon.
    pub fn awaits(&self) -> bool {
        let reviewed = self.reviewer.as_ref().is_some_and(Adviser::awaits);
        let beside = reviewed || self.planned.awaits() || self.bench.awaits();
        self.shown == Shown::Glance || self.advising.awaits() || beside
    }
}
