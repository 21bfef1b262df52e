//! What each finished firing comes down to, kept beside its summary so that a review of ten years
//! does not read every reading of ten years.
//!
//! Digesting a firing needs its events, the probe correction that was accepted by then, and this
//! program's way of digesting. So what is kept holds until the next event of that firing (a trigger
//! in the file sees to it, whoever writes), for that correction and for that
//! [`VERSION`]; anything else is digested anew from the events.

use std::collections::BTreeSet;

use rusqlite::{Connection, OptionalExtension, Transaction, TransactionBehavior, params};
use serde::{Deserialize, Serialize};

use super::error::JournalError;
use super::{Journal, LedgerFilter, LedgerRow};
use crate::cone::{Cone, Family};
use crate::firing::event::{Fullness, ShelfCone};
use crate::firing::mark::When;
use crate::firing::{ConePack, EventId, Firing, FiringId, Seen, State, Verdict};
use crate::review::cost::Consumption;
use crate::review::facts::{Basis, Bounds, DropSeen, VERSION};
use crate::review::own_record::Window;
use crate::review::suggestion::Corrections;
use crate::review::{Facts, Ledger};
use crate::units::{Celsius, CelsiusPerHour, Moment};

/// How many firings are digested before what was digested is kept.
const KEPT_AT_ONCE: usize = 500;

impl Journal {
    /// The firings the filter wants, digested; those never lit are left out. What had to be digested
    /// anew is kept for the next time, if the file may be written.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn facts(
        &self,
        filter: &LedgerFilter,
        corrections: &Corrections,
    ) -> Result<Vec<Facts>, JournalError> {
        let rows = self.ledger(filter)?;
        let mut facts = Vec::with_capacity(rows.len());
        // Whoever leaves in the middle of a first review has not waited for nothing.
        for rows in rows.chunks(KEPT_AT_ONCE) {
            self.facts_of(rows, corrections, &mut facts)?;
        }
        Ok(facts)
    }

    fn facts_of(
        &self,
        rows: &[LedgerRow],
        corrections: &Corrections,
        facts: &mut Vec<Facts>,
    ) -> Result<(), JournalError> {
        let mut fresh = Vec::new();
        let seen = self.reading(|| {
            let seen = self.last_event()?;
            for row in rows {
                let Some(lit) = row.lit else { continue };
                let correction_c = corrections.at(&row.kiln, lit);
                if let Some(kept) = kept(&self.connection, row.firing, correction_c) {
                    facts.push(kept);
                    continue;
                }
                // One firing after another, so that no more than one is in memory whole.
                let firing = self.fold_of(row.firing)?.into_firing();
                let Some(digested) = Ledger::digest(&firing, corrections) else { continue };
                if is_worth_keeping(row) {
                    fresh.push((facts.len(), correction_c));
                }
                facts.push(digested);
            }
            Ok(seen)
        })?;
        if !fresh.is_empty() && self.read_only.is_none() {
            let fresh = fresh.iter().map(|&(index, correction_c)| (&facts[index], correction_c));
            // What is kept only saves time: a full disk is no reason to answer nothing.
            let _ = self.keep(fresh, seen);
        }
        Ok(())
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
    let mut statement =
        connection.prepare_cached("SELECT DISTINCT firing FROM events WHERE id > ?1")?;
    let firings = statement.query_map([seen], |row| row.get(0).map(FiringId))?;
    firings.collect()
}

/// What is kept of this firing for this correction; `None` when there is nothing, it is of another
/// version, it cannot be read, or the file is of a version that kept nothing.
pub(super) fn kept(connection: &Connection, firing: FiringId, correction_c: f64) -> Option<Facts> {
    let mut statement = connection
        .prepare_cached(
            "SELECT body FROM facts WHERE firing = ?1 AND version = ?2 AND correction_c = ?3",
        )
        .ok()?;
    let mut rows = statement.query(params![firing.0, VERSION, correction_c]).ok()?;
    let row = rows.next().ok()??;
    let body: Body<'_> = serde_json::from_str(row.get_ref(0).ok()?.as_str().ok()?).ok()?;
    body.facts(firing, correction_c)
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
    let Some(body) = serde_json::to_string(&Body::of(facts)).ok().filter(|body| {
        serde_json::from_str::<Body<'_>>(body)
            .is_ok_and(|body| body.facts(facts.id, correction_c).as_ref() == Some(facts))
    }) else {
        return Ok(());
    };
    connection
        .prepare_cached(
            "INSERT OR REPLACE INTO facts (firing, version, correction_c, body)
             VALUES (?1, ?2, ?3, ?4)",
        )?
        .execute(params![facts.id.0, VERSION, correction_c, body])?;
    Ok(())
}

/// The stored form of [`Facts`]; what is not known is left out.
#[derive(Serialize, Deserialize)]
struct Body<'b> {
    kiln: String,
    load_type: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    schedule: Option<String>,
    family: &'b str,
    target: &'b str,
    #[serde(skip_serializing_if = "Option::is_none")]
    guide: Option<&'b str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    guard: Option<&'b str>,
    state: &'b str,
    lit: i64,
    #[serde(skip_serializing_if = "Option::is_none")]
    off: Option<i64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    drop: Option<Drop>,
    #[serde(skip_serializing_if = "Option::is_none")]
    verdict: Option<&'b str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    loss: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pieces: Option<u32>,
    #[serde(skip_serializing_if = "Option::is_none")]
    full: Option<&'b str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    worth: Option<f64>,
    looks: usize,
    seen_down: bool,
    #[serde(borrow, default, skip_serializing_if = "Vec::is_empty")]
    shelves: Vec<(String, &'b str, &'b str)>,
    #[serde(skip_serializing_if = "Option::is_none")]
    dropped: Option<Drop>,
    #[serde(skip_serializing_if = "Option::is_none")]
    minutes_to_drop: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    final_climb: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    soak_minutes: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    probe_at_drop: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    probe_high_c: Option<Between>,
    #[serde(skip_serializing_if = "Option::is_none")]
    overshoot_minutes: Option<Between>,
    #[serde(skip_serializing_if = "Option::is_none")]
    overshoot_cones: Option<Between>,
    #[serde(skip_serializing_if = "Option::is_none")]
    basis: Option<u8>,
    #[serde(skip_serializing_if = "Option::is_none")]
    metered: Option<(f64, String)>,
    #[serde(skip_serializing_if = "Option::is_none")]
    hours: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    share: Option<f64>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    used: Vec<(f64, String)>,
    /// When, whether it held as told, and as reckoned.
    #[serde(borrow, default, skip_serializing_if = "Vec::is_empty")]
    windows: Vec<(&'b str, bool, bool)>,
}

/// After and by, as milliseconds.
type Drop = (Option<i64>, i64);
/// Low, best and high; a side that is open is `None`.
type Between = (Option<f64>, f64, Option<f64>);

const BASES: [Basis; 4] =
    [Basis::DropAndReadings, Basis::Readings, Basis::DropAndClimb, Basis::Lean];

impl<'b> Body<'b> {
    fn of(facts: &'b Facts) -> Body<'b> {
        let drop = |drop: DropSeen| (drop.after.map(|after| after.0), drop.by.0);
        let finite = |value: f64| Some(value).filter(|value| value.is_finite());
        let between = |b: Bounds| (finite(b.low), b.best, finite(b.high));
        let pack = facts.pack;
        Body {
            kiln: facts.kiln.clone(),
            load_type: facts.load_type.clone(),
            schedule: facts.schedule.clone(),
            family: pack.family.name(),
            target: pack.target.name(),
            guide: pack.guide.map(Cone::name),
            guard: pack.guard.map(Cone::name),
            state: facts.state.name(),
            lit: facts.lit.0,
            off: facts.off.map(|off| off.0),
            drop: facts.drop.map(drop),
            verdict: facts.verdict.map(Verdict::name),
            loss: facts.loss,
            pieces: facts.pieces,
            full: facts.full.map(Fullness::name),
            worth: facts.worth,
            looks: facts.looks,
            seen_down: facts.seen_down,
            shelves: facts
                .shelves
                .iter()
                .map(|shelf| (shelf.place.clone(), shelf.cone.name(), shelf.seen.name()))
                .collect(),
            dropped: facts.dropped.map(drop),
            minutes_to_drop: facts.minutes_to_drop,
            final_climb: facts.final_climb.map(|climb| climb.0),
            soak_minutes: facts.soak_minutes,
            probe_at_drop: facts.probe_at_drop.map(|t| t.0),
            probe_high_c: facts.probe_high_c.map(between),
            overshoot_minutes: facts.overshoot_minutes.map(between),
            overshoot_cones: facts.overshoot_cones.map(between),
            basis: facts.basis.and_then(|basis| {
                BASES.iter().position(|known| *known == basis).map(|index| index as u8)
            }),
            metered: facts.consumption.metered.clone(),
            hours: facts.consumption.hours,
            share: facts.consumption.share,
            used: facts.consumption.used.clone(),
            windows: facts.windows.iter().map(|w| (w.when.name(), w.held, w.as_reckoned)).collect(),
        }
    }

    /// `None` when a name is none this program knows.
    fn facts(self, id: FiringId, correction_c: f64) -> Option<Facts> {
        let drop = |(after, by): Drop| DropSeen { after: after.map(Moment), by: Moment(by) };
        let between = |(low, best, high): Between| Bounds {
            low: low.unwrap_or(f64::NEG_INFINITY),
            best,
            high: high.unwrap_or(f64::INFINITY),
        };
        let shelf = |(place, cone, seen): (String, &str, &str)| {
            Some(ShelfCone {
                place,
                cone: cone_named(cone)?,
                seen: Seen::ALL.into_iter().find(|known| known.name() == seen)?,
            })
        };
        let window = |(when, held, as_reckoned)| {
            let when = When::ALL.into_iter().find(|known| known.name() == when)?;
            Some(Window { when, held, as_reckoned })
        };
        Some(Facts {
            id,
            kiln: self.kiln,
            load_type: self.load_type,
            schedule: self.schedule,
            pack: ConePack {
                family: Family::parse(self.family).ok()?,
                target: cone_named(self.target)?,
                guide: all_or_nothing(self.guide, cone_named)?,
                guard: all_or_nothing(self.guard, cone_named)?,
            },
            state: State::named(self.state)?,
            lit: Moment(self.lit),
            off: self.off.map(Moment),
            drop: self.drop.map(drop),
            verdict: all_or_nothing(self.verdict, |name| {
                Verdict::ALL.into_iter().find(|known| known.name() == name)
            })?,
            loss: self.loss,
            pieces: self.pieces,
            full: all_or_nothing(self.full, |name| {
                Fullness::ALL.into_iter().find(|known| known.name() == name)
            })?,
            worth: self.worth,
            looks: self.looks,
            seen_down: self.seen_down,
            shelves: self.shelves.into_iter().map(shelf).collect::<Option<_>>()?,
            dropped: self.dropped.map(drop),
            minutes_to_drop: self.minutes_to_drop,
            final_climb: self.final_climb.map(CelsiusPerHour),
            soak_minutes: self.soak_minutes,
            probe_at_drop: self.probe_at_drop.map(Celsius),
            correction_c,
            probe_high_c: self.probe_high_c.map(between),
            overshoot_minutes: self.overshoot_minutes.map(between),
            overshoot_cones: self.overshoot_cones.map(between),
            basis: all_or_nothing(self.basis, |index| BASES.get(usize::from(index)).copied())?,
            consumption: Consumption {
                metered: self.metered,
                hours: self.hours,
                share: self.share,
                used: self.used,
            },
            windows: self.windows.into_iter().map(window).collect::<Option<_>>()?,
        })
    }
}

fn cone_named(name: &str) -> Option<Cone> {
    Cone::parse(name).ok()
}

/// Nothing stays nothing; something has to be read.
fn all_or_nothing<T, U>(value: Option<T>, read: impl Fn(T) -> Option<U>) -> Option<Option<U>> {
    match value {
        None => Some(None),
        Some(value) => read(value).map(Some),
    }
}
