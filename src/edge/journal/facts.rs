//! What each finished firing comes down to, kept beside its summary so that a review of ten years
//! does not read every reading of ten years.
//!
//! Digesting a firing needs its events, the probe correction that was accepted by then, and this
//! program's way of digesting. So what is kept holds until the next event of that firing (a trigger
//! in the file sees to it, whoever writes), for that correction and for that
//! [`VERSION`]; anything else is digested anew from the events.

use std::collections::{BTreeMap, BTreeSet};

use rusqlite::{Connection, OptionalExtension, Transaction, TransactionBehavior, params};

use super::error::JournalError;
use super::{Journal, LedgerFilter, LedgerRow};
use crate::firing::{EventId, Firing, FiringId, Shop};
use crate::review::bench::BenchReview;
use crate::review::facts::VERSION;
use crate::review::ledger::Asked;
use crate::review::prices::Prices;
use crate::review::suggestion::Corrections;
use crate::review::{Facts, Ledger};
use crate::scene::{ReviewQuestion, ReviewScene};

/// How many firings are digested before what was digested is kept.
const KEPT_AT_ONCE: usize = 500;

impl Journal {
    /// The firings the filter wants, digested; those never lit are left out. What had to be digested
    /// anew is kept for the next time, if the file may be written; `told` hears how many of all are
    /// done meanwhile.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn facts(
        &self,
        filter: &LedgerFilter,
        corrections: &Corrections,
        told: &mut dyn FnMut(usize, usize),
    ) -> Result<Vec<Facts>, JournalError> {
        let rows = self.ledger(filter)?;
        let mut facts = Vec::with_capacity(rows.len());
        // Whoever leaves in the middle of a first review has not waited for nothing.
        for (nth, some) in rows.chunks(KEPT_AT_ONCE).enumerate() {
            if self.facts_of(some, corrections, &mut facts)? {
                told(nth * KEPT_AT_ONCE + some.len(), rows.len());
            }
        }
        Ok(facts)
    }

    /// Every answer of the review for the firings asked for. `told`: see [`Journal::facts`].
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn review(
        &self,
        question: &ReviewQuestion,
        prices: &Prices,
        told: &mut dyn FnMut(usize, usize),
    ) -> Result<ReviewScene, JournalError> {
        let shop = self.described()?;
        let Asked { since, until, kiln, load_type } = question.asked.clone();
        let filter = LedgerFilter { since, until, kiln, load_type, ..LedgerFilter::default() };
        let facts = self.facts(&filter, &shop.corrections, told)?;
        let Shop { kilns, retired, load_types, lots, corrections, casts, .. } = shop;
        let kilns = [kilns, retired].concat();
        let bench = self.bench_review(question, casts)?;
        let ledger = Ledger { facts, kilns, load_types, lots, ..Ledger::default() };
        Ok(ReviewScene { bench, ..ReviewScene::of(&ledger, &corrections, prices, question) })
    }

    /// What the casts of the bench teach; nothing where a shop has none, or codes that mean two moulds.
    fn bench_review(
        &self,
        question: &ReviewQuestion,
        casts: bool,
    ) -> Result<Option<BenchReview>, JournalError> {
        let casting = if casts { self.casting(None, question.now)?.ok() } else { None };
        let review = |casting| BenchReview::of(&casting, &question.asked, question.ahead);
        Ok(casting.map(review))
    }

    /// Whether any of these had to be digested.
    fn facts_of(
        &self,
        rows: &[LedgerRow],
        corrections: &Corrections,
        facts: &mut Vec<Facts>,
    ) -> Result<bool, JournalError> {
        let mut fresh = Vec::new();
        let seen = self.reading(|| {
            let seen = self.last_event()?;
            let lit =
                rows.iter().filter_map(|row| Some((row, corrections.at(&row.kiln, row.lit?))));
            let (mut found, mut wanted) = (BTreeMap::new(), Vec::new());
            for (LedgerRow { firing, .. }, correction_c) in lit.clone() {
                match kept(&self.connection, *firing, correction_c) {
                    Some(kept) => found.extend([(*firing, kept)]),
                    None => wanted.push(*firing),
                }
            }
            self.each_folded(&wanted, |fold| {
                let digested = Ledger::digest(&fold.into_firing(), corrections);
                found.extend(digested.map(|facts| (facts.id, facts)));
            })?;
            for (row, correction_c) in lit {
                let Some(of_it) = found.remove(&row.firing) else { continue };
                if is_worth_keeping(row) && wanted.contains(&row.firing) {
                    fresh.push((facts.len(), correction_c));
                }
                facts.push(of_it);
            }
            Ok(seen)
        })?;
        let any = !fresh.is_empty();
        if any && self.read_only.is_none() {
            let fresh = fresh.iter().map(|&(index, correction_c)| (&facts[index], correction_c));
            // What is kept only saves time: a full disk is no reason to answer nothing.
            let _ = self.keep(fresh, seen);
        }
        Ok(any)
    }

    /// Keeps what was digested as of the event `seen`. A firing that got another event meanwhile
    /// is left out: what was digested is out of date already.
    fn keep<'f>(
        &self,
        fresh: impl Iterator<Item = (&'f Facts, f64)>,
        seen: Option<EventId>,
    ) -> Result<(), JournalError> {
        let transaction =
            Transaction::new_unchecked(&self.connection, TransactionBehavior::Immediate)?;
        let changed = changed_since(&transaction, seen.map_or(0, |id| id.0))?;
        for (facts, correction_c) in fresh.filter(|(facts, _)| !changed.contains(&facts.id)) {
            store(&transaction, facts, correction_c)?;
        }
        Ok(transaction.commit()?)
    }
}

/// A firing that still burns gets its next event before the next review.
fn is_worth_keeping(row: &LedgerRow) -> bool {
    row.off.is_some()
}

fn changed_since(connection: &Connection, seen: i64) -> rusqlite::Result<BTreeSet<FiringId>> {
    // By their numbers they are few; the index by firing would be gone over as a whole.
    let mut statement =
        connection.prepare_cached("SELECT firing FROM events NOT INDEXED WHERE id > ?1")?;
    let firings = statement.query_map([seen], |row| row.get(0).map(FiringId))?;
    firings.collect()
}

/// What is kept of this firing for this correction; `None` when there is nothing, it is of another
/// version, it cannot be read, or the file is of a version that kept nothing.
pub(super) fn kept(connection: &Connection, firing: FiringId, correction_c: f64) -> Option<Facts> {
    let mut statement = connection
        .prepare_cached(
            "SELECT body FROM facts WHERE firing = ?1 AND version = ?2 AND correction_c = ?3
                AND coalesce(seal = row_seal(version, correction_c, body), 1)",
        )
        .ok()?;
    let mut rows = statement.query(params![firing.0, VERSION, correction_c]).ok()?;
    let row = rows.next().ok()??;
    serde_json::from_str(row.get_ref(0).ok()?.as_str().ok()?).ok()
}

/// Whether what is kept of this firing, if anything, is what its events add up to.
pub(super) fn are_as_digested(connection: &Connection, firing: &Firing) -> rusqlite::Result<bool> {
    // A file that is open for reading only may be of a version that kept nothing.
    let Ok(mut statement) = connection
        .prepare_cached("SELECT correction_c FROM facts WHERE firing = ?1 AND version = ?2")
    else {
        return Ok(true);
    };
    let correction_c = statement.query_row([firing.id.0, VERSION], |row| row.get(0)).optional()?;
    Ok(correction_c.is_none_or(|correction_c| {
        kept(connection, firing.id, correction_c) == Facts::of(firing, correction_c)
    }))
}

fn store(connection: &Connection, facts: &Facts, correction_c: f64) -> Result<(), JournalError> {
    // Numbers JSON has no word for cannot be kept; such a firing is digested every time.
    let body = serde_json::to_string(facts).unwrap_or_default();
    if serde_json::from_str::<Facts>(&body).ok().as_ref() != Some(facts) {
        return Ok(());
    }
    connection
        .prepare_cached(
            "INSERT OR REPLACE INTO facts (firing, version, correction_c, body, seal)
             VALUES (?1, ?2, ?3, ?4, row_seal(?2, ?3, ?4))",
        )?
        .execute(params![facts.id.0, VERSION, correction_c, body])?;
    Ok(())
}
