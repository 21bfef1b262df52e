//! The review, made beside the loop: an old shop has thousands of firings to read, and nobody's
//! typing waits for them.

use std::io;
use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use super::adviser::Adviser;
use crate::edge::journal::{Journal, LedgerFilter, UnreadEvents};
use crate::edge::prices_file;
use crate::firing::{EventId, Shop};
use crate::review::Ledger;
use crate::review::prices::Prices;
use crate::review::suggestion::Corrections;
use crate::scene::{ReviewQuestion, ReviewScene};
use crate::units::Span;

/// The digested firings of a shop, as of its last event.
#[derive(Debug, Default)]
struct Known {
    last_event: Option<EventId>,
    corrections: Corrections,
    ledger: Ledger,
}

/// Asks for reviews of a shop's file, and hears of them later.
#[derive(Debug)]
pub struct Reviewer {
    /// A thread only once somebody asked.
    beside: Option<Adviser<ReviewScene>>,
    /// What was digested for the question before; most questions ask for another part of it.
    known: Arc<Mutex<Option<Known>>>,
    unread: UnreadEvents,
}

impl Reviewer {
    /// What it cannot read is noted in `unread`.
    pub fn new(unread: &UnreadEvents) -> Reviewer {
        Reviewer { beside: None, known: Arc::default(), unread: unread.clone() }
    }

    /// Asks for a review of the shop in this file; what was asked before is forgotten.
    ///
    /// # Errors
    /// When the system has no thread to give.
    pub fn ask(&mut self, shop: &Path, question: &ReviewQuestion) -> io::Result<()> {
        let beside = match &mut self.beside {
            Some(beside) => beside,
            none => none.insert(Adviser::new()?),
        };
        let (path, question, known) = (shop.to_owned(), question.clone(), self.known.clone());
        let unread = self.unread.clone();
        beside.ask(move || {
            // Only this thread takes the lock; if it broke off, what it left is read anew.
            let mut known = known.lock().unwrap_or_else(PoisonError::into_inner);
            let journal = Journal::open(&path)?.with_unread(&unread);
            review(&journal, &question, &mut known)
        });
        Ok(())
    }

    pub fn awaits(&self) -> bool {
        self.beside.as_ref().is_some_and(Adviser::awaits)
    }

    /// The answer to the newest question, if it comes within this time.
    pub fn hear(&mut self, patience: Duration) -> Option<anyhow::Result<ReviewScene>> {
        self.beside.as_mut()?.hear(patience)
    }
}

fn review(
    journal: &Journal,
    question: &ReviewQuestion,
    known: &mut Option<Known>,
) -> anyhow::Result<ReviewScene> {
    let shop = journal.shop()?;
    let known = match known {
        Some(known) if known.last_event == shop.last_event => known,
        other => other.insert(digest(journal, shop)?),
    };
    let prices = prices(journal.path(), question.ahead)?;
    Ok(ReviewScene::of(&known.ledger, &known.corrections, &prices, question))
}

fn digest(journal: &Journal, shop: Shop) -> anyhow::Result<Known> {
    let facts = journal.facts(&LedgerFilter::default(), &shop.corrections)?;
    let Shop { kilns, load_types, corrections, last_event, .. } = shop;
    let ledger = Ledger { facts, kilns, load_types, ..Ledger::default() };
    Ok(Known { last_event, corrections, ledger })
}

/// The list of prices beside the shop's file, if there is one.
///
/// # Errors
/// When it cannot be used as it is.
pub fn prices(shop: &Path, ahead: Span) -> anyhow::Result<Prices> {
    let beside = prices_file::beside(shop);
    if !beside.exists() {
        return Ok(Prices::default());
    }
    Ok(prices_file::read(&beside, ahead.0)?)
}
