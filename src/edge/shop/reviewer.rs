//! The review, made beside the loop: an old shop has thousands of firings to read, and nobody's
//! typing waits for them.

use std::io;
use std::path::Path;
use std::time::Duration;

use super::adviser::Adviser;
use crate::edge::journal::{Journal, UnreadEvents};
use crate::edge::prices_file;
use crate::scene::{ReviewQuestion, ReviewScene};

/// Asks for reviews of a shop's file, and hears of them later.
#[derive(Debug)]
pub struct Reviewer {
    /// A thread only once somebody asked.
    beside: Option<Adviser<ReviewScene>>,
    unread: UnreadEvents,
}

impl Reviewer {
    /// What it cannot read is noted in `unread`.
    pub fn new(unread: &UnreadEvents) -> Reviewer {
        Reviewer { beside: None, unread: unread.clone() }
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
        let (path, question, unread) = (shop.to_owned(), question.clone(), self.unread.clone());
        beside.ask(move || {
            let prices = prices_file::of_shop(&path, question.ahead)?;
            Ok(Journal::open(&path)?.with_unread(&unread).review(&question, &prices)?)
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
