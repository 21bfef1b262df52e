//! What the screen needs of a shop: to see it, to write into it, to hear that it changed.

use std::fmt;

use super::key;
use crate::edge::journal::JournalError;
use crate::firing::event::Look;
use crate::firing::{EventId, Firing, FiringId, Refusal, Shop, What};
use crate::scene::{Floor, PastFiring, ReviewQuestion, ReviewScene, Scene};
use crate::units::Moment;
use crate::watch::Advice;
use crate::words;

/// The shop as folded from its events, with the advice for what is alight.
#[derive(Debug, Clone, Default)]
pub struct Snapshot {
    pub shop: Shop,
    pub advices: Vec<(FiringId, Advice)>,
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

/// Why an entry was not written, for somebody at the screen.
pub fn reason(error: &anyhow::Error) -> String {
    let from_journal = error.downcast_ref::<JournalError>().and_then(|error| match error {
        JournalError::Refused(refusal) => Some(refusal),
        _ => None,
    });
    match from_journal.or(error.downcast_ref::<Refusal>()) {
        Some(refusal) => words::impossible(refusal, &key::step_keys()),
        None => format!("{error:#}"),
    }
}

impl Snapshot {
    /// The scene at `now`.
    pub fn scene(&self, now: Moment) -> Scene {
        Scene::of(&Floor { shop: &self.shop, advices: &self.advices }, now)
    }
}
