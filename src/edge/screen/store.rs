//! What the screen needs of a shop: to see it, to write into it, to hear that it changed.

use std::fmt;
use std::sync::Arc;

use anyhow::bail;

use super::key;
use crate::alarm::Alarm;
use crate::edge::advised::Advices;
use crate::edge::bell::settings::BellFile;
use crate::edge::house_file::House;
use crate::edge::journal::JournalError;
use crate::edge::own_schedules::{self, Offered};
use crate::firing::event::Look;
use crate::firing::{EventId, Firing, FiringId, Refusal, Shop, Unread, What};
use crate::kiln::same_name;
use crate::review::nearest::{Near, nearest};
use crate::review::prices::Prices;
use crate::scene::{Floor, PastFiring, ReviewQuestion, ReviewScene, Scene};
use crate::units::{Celsius, Moment, Span};
use crate::words::{self, Dial};

/// The shop as folded from its events, with the advice for what is alight and the alarms.
#[derive(Debug, Clone, Default)]
pub struct Snapshot {
    pub shop: Arc<Shop>,
    pub advices: Advices,
    /// The alarms that stand, the most urgent first.
    pub alarms: Vec<Alarm>,
    /// Below what this shop draws a kiln, if it says so.
    pub draw_below: Option<Celsius>,
    /// The readings are not read yet.
    pub glance: bool,
    /// Events that could not be read, and that all this lacks.
    pub unread: Vec<Unread>,
}

/// What the shop keeps beside its journal, each with the reason where it cannot be read.
#[derive(Debug, Clone, PartialEq)]
pub struct Settings {
    pub house: Result<House, String>,
    pub bell: Result<BellFile, String>,
}

/// Settings somebody confirmed, and those they saw before.
#[derive(Debug, Clone, PartialEq)]
pub struct Kept {
    pub was: Settings,
    pub becomes: Settings,
}

/// Which firing an event belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum About {
    Firing(FiringId),
    /// The event begins one.
    NewFiring,
    /// It is about the shop itself: its kilns and load types.
    Shop,
}

/// An event somebody confirmed and nobody has written yet.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    pub about: About,
    pub at: Moment,
    pub what: What,
    /// The last event that was known to somebody who packs or lights a kiln.
    pub seen: Option<EventId>,
}

impl Entry {
    /// What is written, in a phrase.
    pub fn phrase(&self, kiln: &str, dial: &Dial<'_>) -> String {
        match (&self.what, self.about) {
            (What::Packed(_), About::Firing(_)) => words::packing_changed(kiln),
            _ => words::event_phrase(&self.what, kiln, dial),
        }
    }
}

/// How many past firings of a kiln a firing is compared with.
pub const COMPARED: usize = 60;
/// How many of the nearest are named.
const NAMED: usize = 3;

/// A firing and those that went most like it.
#[derive(Debug, Clone)]
pub struct Nearest {
    pub firing: Firing,
    pub near: Vec<(Near, Firing)>,
}

/// A shop behind the screen. Errors are shown, and the screen goes on.
pub trait Store: fmt::Debug {
    /// Everything there is to see at `now`.
    ///
    /// # Errors
    /// Whatever kept the shop from being read.
    fn snapshot(&mut self, now: Moment) -> anyhow::Result<Snapshot>;

    /// Writes an event down for good. When this returns a number, the event is durable.
    ///
    /// # Errors
    /// Whatever kept it from being written; then nothing was.
    fn append(&mut self, entry: &Entry, now: Moment) -> anyhow::Result<EventId>;

    /// Whether anything was written since the last snapshot, by whomever.
    ///
    /// # Errors
    /// Whatever kept it from being found out.
    fn changed(&mut self, now: Moment) -> anyhow::Result<bool>;

    /// Whether advice or a review is being made, and will be there soon.
    fn awaits(&self) -> bool {
        false
    }

    /// Every firing of the shop, in any order.
    ///
    /// # Errors
    /// Whatever kept the shop from being read.
    fn ledger(&mut self) -> anyhow::Result<Vec<PastFiring>>;

    /// One firing.
    ///
    /// # Errors
    /// Whatever kept the shop from being read.
    fn firing(&mut self, firing: FiringId) -> anyhow::Result<Firing>;

    /// Asks for a review; [`Store::review`] hands it out when it is there. What was asked before is
    /// forgotten.
    ///
    /// # Errors
    /// Whatever kept the question from being asked.
    fn ask_review(&mut self, question: &ReviewQuestion) -> anyhow::Result<()>;

    /// The answer to the review asked for last, once.
    fn review(&mut self) -> Option<anyhow::Result<ReviewScene>>;

    /// What things cost in this shop; nothing is known of a made-up one. `ahead` is what the wall
    /// clock is ahead of UTC.
    ///
    /// # Errors
    /// Whatever kept the list from being read.
    fn prices(&self, _ahead: Span) -> anyhow::Result<Prices> {
        Ok(Prices::default())
    }

    /// A firing, and the past firings of its kiln that went most like it, the nearest first. Only
    /// the newest [`COMPARED`] are compared.
    ///
    /// # Errors
    /// Whatever kept the shop from being read.
    fn nearest(&mut self, firing: FiringId) -> anyhow::Result<Nearest> {
        let firing = self.firing(firing)?;
        let mut rows = self.ledger()?;
        rows.retain(|row| same_name(&row.kiln, &firing.kiln) && row.firing != firing.id);
        rows.sort_by_key(|row| std::cmp::Reverse(row.begun));
        let rows = rows.iter().take(COMPARED);
        let past: Vec<Firing> =
            rows.map(|row| self.firing(row.firing)).collect::<Result<_, _>>()?;
        let over = past.iter().filter(|one| one.off.is_some());
        let near = nearest(&firing, over, NAMED).into_iter().filter_map(|near| {
            let of = past.iter().find(|one| one.id == near.id)?;
            Some((near, of.clone()))
        });
        Ok(Nearest { near: near.collect(), firing })
    }

    /// Every schedule a kiln can be lit by.
    fn schedules(&mut self) -> Vec<Offered> {
        own_schedules::shipped()
    }

    /// What the shop keeps beside its journal; a made-up shop keeps nothing.
    fn settings(&mut self) -> Option<Settings> {
        None
    }

    /// Keeps other settings.
    ///
    /// # Errors
    /// Whatever kept them from being written, or that they were changed meanwhile.
    fn keep(&mut self, _kept: &Kept) -> anyhow::Result<()> {
        bail!("a made-up shop keeps no settings")
    }

    /// What somebody looking through the spyhole sees now; only a made-up shop knows.
    fn glimpse(&self, _firing: FiringId, _now: Moment) -> Option<Look> {
        None
    }

    /// What drawing this firing shows of the load; only a made-up shop knows.
    fn shelves(&self, _firing: FiringId) -> Option<String> {
        None
    }

    /// Whether the terminal is to ring now; only a kept shop has a keeper beside it.
    fn rings(&mut self) -> bool {
        false
    }

    /// A line that stays: what a rehearsal advises, or that something is wrong with the file or
    /// with the watch.
    fn guidance(&self, _scene: &Scene) -> Option<String> {
        None
    }
}

/// An entry that was not written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unwritten {
    /// Why not, for somebody at the screen.
    pub why: String,
    /// Somebody else packed or lit the kiln first, and `why` says so.
    pub overtaken: bool,
}

/// Why an entry was not written.
pub fn reason(error: &anyhow::Error) -> Unwritten {
    let from_journal = error.downcast_ref::<JournalError>().and_then(|error| match error {
        JournalError::Refused(refusal) => Some(refusal),
        _ => None,
    });
    match from_journal.or(error.downcast_ref::<Refusal>()) {
        Some(refusal) => Unwritten {
            why: words::impossible(refusal, &key::named_keys()),
            overtaken: matches!(refusal, Refusal::ChangedMeanwhile(_)),
        },
        None => Unwritten { why: format!("{error:#}"), overtaken: false },
    }
}

impl Snapshot {
    /// The scene at `now`.
    pub fn scene(&self, now: Moment) -> Scene {
        let Snapshot { shop, advices, alarms, draw_below, glance, unread } = self;
        let (draw_below, glance) = (*draw_below, *glance);
        Scene::of(&Floor { shop, advices, alarms, draw_below, glance, unread }, now)
    }
}
