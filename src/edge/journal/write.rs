//! Appending events: each call is one transaction, durable when it returns.

use std::collections::BTreeMap;

use rusqlite::{OptionalExtension, Transaction, TransactionBehavior};

use super::at_path::which_at;
use super::backup::rescued;
use super::correct::corrected_with;
use super::error::JournalError;
use super::stored::{self, Content, Frame};
use super::together::written_with;
use super::{Journal, LedgerRow, NewEvent, ReadOnly, StoredEvent, folding, read, schema, summary};
use crate::edge::fields::Fields;
use crate::edge::form;
use crate::firing::Kind;
use crate::firing::{
    Event, EventId, Firing, FiringId, Fold, OddityKind, Refusal, Shop, What, Who, permit_in_kiln,
};
use crate::kiln::same_name;
use crate::units::Moment;

/// What became of an event that was to be written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Appended {
    pub id: EventId,
    /// The firing it belongs to, begun by it or before; `None` for events of the shop.
    pub firing: Option<FiringId>,
    /// It had been written before under the same mark, and this call changed nothing.
    pub already: bool,
}

/// Whether a step is judged before it is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Check {
    /// Impossible steps are refused, and a packing or lighting that was entered on an older state
    /// of its kiln: after `seen`, the last event that was known then.
    Life { seen: Option<EventId> },
    /// Anything is taken as it comes; the fold will report what is odd.
    Nothing,
}

impl Journal {
    /// Appends an event as it is. When this returns, it is on the disk.
    ///
    /// # Errors
    /// [`JournalError`]; then nothing was written, and the same call may be tried again.
    pub fn append(&mut self, event: &NewEvent, written: Moment) -> Result<Appended, JournalError> {
        self.write(|writing| writing.put(event, written, Check::Nothing))
    }

    /// Appends an event if it can have happened, judged within the same transaction. When this
    /// returns, it is on the disk.
    ///
    /// # Errors
    /// [`JournalError::Refused`] when the step is impossible, and those of [`Journal::append`].
    pub fn append_checked(
        &mut self,
        event: &NewEvent,
        written: Moment,
    ) -> Result<Appended, JournalError> {
        self.append_having_seen(event, None, written)
    }

    /// The same for an event entered by somebody who had read the shop up to `seen` before: a kiln
    /// that was packed or lit since is not packed or lit over.
    ///
    /// # Errors
    /// See [`Journal::append_checked`].
    pub fn append_having_seen(
        &mut self,
        event: &NewEvent,
        seen: Option<EventId>,
        written: Moment,
    ) -> Result<Appended, JournalError> {
        self.write(|writing| writing.put_judged(event, seen, written))
    }

    /// Appends several events as they are: all of them or none.
    ///
    /// # Errors
    /// See [`Journal::append`].
    pub fn append_all(
        &mut self,
        events: &[NewEvent],
        written: Moment,
    ) -> Result<Vec<Appended>, JournalError> {
        self.write(|writing| {
            events.iter().map(|event| writing.put(event, written, Check::Nothing)).collect()
        })
    }

    /// Makes the summary of firings anew from their events, and lets go of what was kept for the
    /// review. Returns how many firings it has.
    ///
    /// # Errors
    /// See [`Journal::append`].
    pub fn rebuild_summary(&mut self) -> Result<usize, JournalError> {
        self.write(|writing| {
            // The summary is not thrown away first: it may be all that is known of how a firing began.
            writing.transaction.execute_batch(
                "DELETE FROM facts;
                 DELETE FROM firings WHERE id NOT IN (SELECT firing FROM events)",
            )?;
            writing.make_all_stale()?;
            Ok(writing.stale.len())
        })
    }

    /// One immediate transaction around `work`, with the summary brought up to date at its end. What
    /// went into a file that is not the shop's any more is not written.
    pub(super) fn write<T>(
        &mut self,
        work: impl FnOnce(&mut Writing<'_>) -> Result<T, JournalError>,
    ) -> Result<T, JournalError> {
        let path = self.path.clone();
        match self.read_only {
            Some(ReadOnly::Newer { found }) => {
                return Err(JournalError::NewerFile { path, found, known: schema::VERSION });
            }
            Some(ReadOnly::NoPermission) => {
                return Err(JournalError::NotWritable {
                    path,
                    reason: "it is open for reading only".into(),
                    advice: "allow writing to the file and to its folder, or name another with --shop FILE",
                });
            }
            None => {}
        }
        let transact = || {
            let transaction =
                self.connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
            let mut writing =
                Writing { transaction, stale: BTreeMap::new(), writer: None, row: None };
            let result = work(&mut writing)?;
            writing.finish()?;
            Ok(result)
        };
        let done = transact().map_err(|error: JournalError| error.named(&path))?;
        let exchanged = self.which != which_at(&path) || rescued(&path).next().is_some();
        if !self.in_memory && exchanged {
            return Err(JournalError::Exchanged { path });
        }
        Ok(done)
    }
}

/// A transaction being written.
pub(super) struct Writing<'c> {
    pub(super) transaction: Transaction<'c>,
    /// Firings whose summary has to be made anew, with what they add up to where that is known.
    stale: BTreeMap<FiringId, Option<Firing>>,
    /// The writer and the summary that were needed last: of many events they are mostly the same.
    writer: Option<(Who, i64)>,
    row: Option<(FiringId, Option<LedgerRow>)>,
}

impl Writing<'_> {
    /// Puts an event that was judged; one that stands in the place of another takes its correction
    /// along, and a firing from paper all of it.
    fn put_judged(
        &mut self,
        new: &NewEvent,
        seen: Option<EventId>,
        written: Moment,
    ) -> Result<Appended, JournalError> {
        if let (What::Struck { event, .. }, Place::Firing(firing)) =
            (&new.what, self.firing_of(new)?)
            && firing != FiringId::SHOP
        {
            let fold = folding::fold(&self.transaction, firing)?;
            let correction = corrected_with(&fold, *event).into_iter();
            let correction = correction
                .flat_map(|(strike, by)| [Some(by).filter(|by| by != event), Some(strike)]);
            let with = written_with(&self.transaction, *event)?
                .into_iter()
                .filter(|one| !fold.is_struck(*one));
            let others: Vec<EventId> = correction.flatten().chain(with).collect();
            if !others.is_empty() {
                return self.take_back(new, (&fold, others), written);
            }
        }
        self.put(new, written, Check::Life { seen })
    }

    pub(super) fn put(
        &mut self,
        new: &NewEvent,
        written: Moment,
        check: Check,
    ) -> Result<Appended, JournalError> {
        let content = sound_content(&new.what)?;
        let firing = match self.firing_of(new)? {
            Place::Firing(firing) => firing,
            Place::Written(appended) => return Ok(appended),
        };
        if let Some(id) = self.written_before(firing, new, &content)? {
            return Ok(Appended { id, firing: named(firing), already: true });
        }
        let becomes = match check {
            Check::Life { seen } => self.judge(firing, new, written, seen)?,
            Check::Nothing => None,
        };
        for renamed in self.called_anew(&new.what)? {
            self.transaction
                .prepare_cached("DELETE FROM facts WHERE firing = ?1")?
                .execute([renamed.0])?;
            self.stale.insert(renamed, None);
        }
        let id = self.insert(firing, new, written, &content)?;
        if firing.0 != 0 && !self.leaves_summary(firing, new)? {
            self.stale.insert(firing, becomes);
        }
        Ok(Appended { id, firing: named(firing), already: false })
    }

    /// The firings whose kiln has another name once this is written.
    fn called_anew(&self, what: &What) -> Result<Vec<FiringId>, JournalError> {
        let named = match what {
            What::KilnRenamed { kiln, .. } => kiln.clone(),
            What::Struck { event, .. } => match read::event(&self.transaction, *event) {
                Ok(StoredEvent {
                    event: Event { what: What::KilnRenamed { name, .. }, .. },
                    ..
                }) => name,
                _ => return Ok(Vec::new()),
            },
            _ => return Ok(Vec::new()),
        };
        summary::of_kiln(&self.transaction, folding::names(&self.transaction)?.now(&named))
    }

    /// Where an event belongs: 0 is the shop.
    fn firing_of(&mut self, new: &NewEvent) -> Result<Place, JournalError> {
        if Kind::of(&new.what).is_of_the_shop() {
            return Ok(Place::Firing(FiringId(0)));
        }
        if let What::Struck { event, .. } = new.what {
            let firing = self
                .transaction
                .prepare_cached("SELECT firing FROM events WHERE id = ?1")?
                .query_row([event.0], |row| row.get(0))
                .optional()?;
            return firing
                .map(|id| Place::Firing(FiringId(id)))
                .ok_or(JournalError::NoSuchEvent(event));
        }
        if let Some(firing) = new.firing {
            let known = self.stale.contains_key(&firing) || self.summary(firing)?.is_some();
            return known
                .then_some(Place::Firing(firing))
                .ok_or(JournalError::NoSuchFiring(firing));
        }
        if !matches!(new.what, What::Packed(_) | What::Lit(_)) {
            return Err(JournalError::NoFiring);
        }
        let opening = self
            .transaction
            .prepare_cached("SELECT id, firing FROM events WHERE uid = ?1 AND kind IN (4, 5)")?
            .query_row([new.uid.0], |row| Ok((EventId(row.get(0)?), FiringId(row.get(1)?))))
            .optional()?;
        if let Some((id, firing)) = opening {
            return Ok(Place::Written(Appended { id, firing: Some(firing), already: true }));
        }
        let last: Option<i64> = self
            .transaction
            .prepare_cached("SELECT max(id) FROM firings")?
            .query_row([], |row| row.get(0))?;
        // Firings begun in this transaction have no summary yet.
        let begun = self.stale.last_key_value().map_or(0, |(firing, _)| firing.0);
        Ok(Place::Firing(FiringId(last.unwrap_or(0).max(begun) + 1)))
    }

    /// The event that carries this mark already, if it says the same.
    fn written_before(
        &self,
        firing: FiringId,
        new: &NewEvent,
        content: &Content,
    ) -> Result<Option<EventId>, JournalError> {
        let found = self
            .transaction
            .prepare_cached(
                "SELECT id, at_ms, kind, version, celsius, body FROM events
                 WHERE firing = ?1 AND uid = ?2",
            )?
            .query_row([firing.0, new.uid.0], |row| {
                let content = Content {
                    kind: row.get(2)?,
                    version: row.get(3)?,
                    celsius: row.get(4)?,
                    body: row.get(5)?,
                };
                Ok((EventId(row.get(0)?), Moment(row.get(1)?), content))
            })
            .optional()?;
        match found {
            None => Ok(None),
            // What was written before steering characters were marked reads as it is marked now.
            // The starter set is the same whenever a shop was begun.
            Some((id, at, found))
                if (at == new.at || firing.0 == 0)
                    && (found == *content || found.read().as_ref() == Some(&new.what)) =>
            {
                Ok(Some(id))
            }
            Some((id, ..)) => Err(JournalError::MarkTaken(id)),
        }
    }

    fn insert(
        &mut self,
        firing: FiringId,
        new: &NewEvent,
        written: Moment,
        content: &Content,
    ) -> Result<EventId, JournalError> {
        let frame = Frame {
            firing: firing.0,
            uid: new.uid.0,
            at_ms: new.at.0,
            written_after_ms: (written - new.at).0,
            offset_min: i64::from(new.offset_minutes),
            writer: self.writer_of(new)?,
        };
        stored::insert(&self.transaction, None, &frame, content)?;
        Ok(EventId(self.transaction.last_insert_rowid()))
    }

    /// The summary of a firing as it was before this transaction.
    fn summary(&mut self, firing: FiringId) -> Result<Option<&LedgerRow>, JournalError> {
        let row = match self.row.take() {
            Some((of, row)) if of == firing => row,
            _ => read::summary(&self.transaction, firing)?,
        };
        Ok(self.row.insert((firing, row)).1.as_ref())
    }

    fn writer_of(&mut self, new: &NewEvent) -> Result<i64, JournalError> {
        if let Some((_, writer)) = self.writer.as_ref().filter(|(who, _)| *who == new.who) {
            return Ok(*writer);
        }
        let writer = self.writer_kept(new)?;
        self.writer = Some((new.who.clone(), writer));
        Ok(writer)
    }

    fn writer_kept(&self, new: &NewEvent) -> Result<i64, JournalError> {
        let (kind, name) = stored::writer(&new.who);
        let known = self
            .transaction
            .prepare_cached("SELECT id FROM writers WHERE kind = ?1 AND name = ?2")?
            .query_row([kind, name], |row| row.get(0))
            .optional()?;
        if let Some(id) = known {
            return Ok(id);
        }
        self.transaction
            .prepare_cached(
                "INSERT INTO writers (kind, name, seal) VALUES (?1, ?2, row_seal(?1, ?2))",
            )?
            .execute([kind, name])?;
        Ok(self.transaction.last_insert_rowid())
    }

    /// A reading in the middle of a firing adds nothing to its summary, and by far the most
    /// events are such readings.
    fn leaves_summary(&mut self, firing: FiringId, new: &NewEvent) -> Result<bool, JournalError> {
        if !matches!(new.what, What::Reading(_)) {
            return Ok(false);
        }
        let row = self.summary(firing)?;
        Ok(row.is_some_and(|row| row.is_unmoved_by_reading(new.at)))
    }

    /// Judges a step, and says what the firing adds up to with it, where that had to be found out.
    fn judge(
        &mut self,
        firing: FiringId,
        new: &NewEvent,
        written: Moment,
        seen: Option<EventId>,
    ) -> Result<Option<Firing>, JournalError> {
        if firing.0 == 0 {
            if let What::Struck { event, .. } = new.what {
                self.not_struck_yet(event, &folding::fold(&self.transaction, firing)?)?;
            }
            self.permit_in_shop(&new.what)?;
            return Ok(None);
        }
        // A reading in the middle of a firing is always possible.
        if self.leaves_summary(firing, new)? {
            return Ok(None);
        }
        let before = folding::fold(&self.transaction, firing)?;
        if let What::Struck { event, .. } = new.what {
            self.not_struck_yet(event, &before)?;
        }
        let event = Event {
            id: EventId(i64::MAX),
            firing: Some(firing),
            at: new.at,
            written,
            who: new.who.clone(),
            what: new.what.clone(),
        };
        let mut after = before.clone();
        after.apply(event.clone());
        if matches!(new.what, What::Packed(_) | What::Lit(_) | What::Struck { .. }) {
            let others = self.others_in(after.firing())?;
            permit_in_kiln(&event, seen, (&before, &after), others.iter())?;
        }
        self.permit_in_shop(&new.what)?;
        if matches!(new.what, What::Lit(_)) {
            self.alone_in_its_kiln(after.firing(), (new.at, new.at))?;
        }
        before.firing().permit(new.at, &new.what)?;
        fits_in_its_place(&new.what, &before, &after)?;
        // Any other event of the firing in this transaction comes to nothing else than all of them.
        let alone = !self.stale.contains_key(&firing);
        Ok(alone.then(|| after.into_firing()))
    }

    /// Whether the shop's kilns allow for this; to take back that a kiln came back is to retire it.
    fn permit_in_shop(&self, what: &What) -> Result<(), JournalError> {
        let taken_back = match what {
            What::Struck { event, .. } => read::event(&self.transaction, *event).ok(),
            _ => None,
        };
        let retires = match taken_back.map(|stored| stored.event.what) {
            Some(What::KilnReturned { kiln }) => {
                Some(What::KilnRetired { kiln, reason: String::new() })
            }
            _ => None,
        };
        let what = retires.as_ref().unwrap_or(what);
        if what.of_kiln().is_none() && what.kiln().is_none() {
            return Ok(());
        }
        let (events, _) = folding::events_of(&self.transaction, FiringId::SHOP)?;
        let shop = Shop::of(events, folding::names(&self.transaction)?);
        let mut open = Vec::new();
        for firing in read::open_firings(&self.transaction)? {
            open.extend(read::summary(&self.transaction, firing)?);
        }
        let state =
            |kiln: &str| open.iter().find(|row| same_name(&row.kiln, kiln)).map(|row| row.state);
        Ok(shop.permit(what, state)?)
    }

    /// The other firings in the kiln of this one that are planned, burn or cool.
    pub(super) fn others_in(&self, firing: &Firing) -> Result<Vec<Fold>, JournalError> {
        let there = summary::open_in(&self.transaction, &firing.kiln)?;
        let others = there.into_iter().filter(|other| *other != firing.id);
        others.map(|other| folding::fold(&self.transaction, other)).collect()
    }

    pub(super) fn alone_in_its_kiln(
        &self,
        firing: &Firing,
        between: (Moment, Moment),
    ) -> Result<(), JournalError> {
        let other = summary::fired_between(&self.transaction, firing, between)?;
        let kiln = firing.kiln.clone();
        other.map_or(Ok(()), |firing| Err(Refusal::FiredThen { kiln, firing }.into()))
    }

    pub(super) fn not_struck_yet(&self, event: EventId, fold: &Fold) -> Result<(), JournalError> {
        if !fold.is_struck(event) {
            return Ok(());
        }
        let by = fold.events().iter().find_map(|other| match other.what {
            What::Struck { event: target, .. } if target == event && !fold.is_struck(other.id) => {
                Some(other.id)
            }
            _ => None,
        });
        Err(JournalError::StruckAlready { event, by: by.unwrap_or(event) })
    }

    /// The summary of every firing will be made anew.
    pub(super) fn make_all_stale(&mut self) -> Result<(), JournalError> {
        let all = read::all_firings(&self.transaction)?;
        self.stale.extend(all.into_iter().map(|firing| (firing, None)));
        Ok(())
    }

    fn finish(self) -> Result<(), JournalError> {
        for (id, becomes) in self.stale {
            let folded = match becomes {
                Some(firing) => firing,
                None => folding::fold(&self.transaction, id)?.into_firing(),
            };
            let begun = match folded.lit {
                Some(lit) => lit,
                None => folding::first_moment(&self.transaction, id)?,
            };
            summary::store(&self.transaction, &Firing { id, ..folded }, begun)?;
        }
        self.transaction.commit()?;
        Ok(())
    }
}

/// The content as it is stored. What could not be read back is not written.
fn sound_content(what: &What) -> Result<Content, JournalError> {
    if let What::Reading(celsius) = what
        && celsius.checked("").is_ok()
    {
        // By far the most events; a number in range always reads back.
        return Ok(Content::of(what));
    }
    form::read(Kind::of(what), Fields::new(form::write(what)))?;
    let content = Content::of(what);
    match content.read() {
        Some(read) if read == *what => Ok(content),
        _ => Err(JournalError::NotStorable { what: what.phrase() }),
    }
}

/// Where an event belongs.
enum Place {
    Firing(FiringId),
    /// It is there already.
    Written(Appended),
}

fn named(firing: FiringId) -> Option<FiringId> {
    (firing.0 != 0).then_some(firing)
}

/// An event entered late has to fit those after it as well: with it, nothing in the firing may be
/// more impossible than without.
pub(super) fn fits_in_its_place(
    what: &What,
    before: &Fold,
    after: &Fold,
) -> Result<(), JournalError> {
    let kiln = before.firing().kiln.clone();
    let (before, after) = (impossible(before), impossible(after));
    if after.len() <= before.len() {
        return Ok(());
    }
    let Some(refusal) = after.into_iter().find(|refusal| !before.contains(refusal)) else {
        return Ok(());
    };
    // Without its lighting a firing may have lost the name of its kiln.
    let refusal = match refusal {
        Refusal::NotLit { kiln: lost, step } if lost.is_empty() => Refusal::NotLit { kiln, step },
        other => other,
    };
    Err(match *what {
        What::Struck { event, .. } => JournalError::StandsUnder { event, why: refusal.to_string() },
        _ => refusal.into(),
    })
}

pub(super) fn impossible(fold: &Fold) -> Vec<Refusal> {
    let oddities = fold.firing().oddities.iter();
    oddities
        .filter_map(|oddity| match &oddity.kind {
            OddityKind::Impossible(refusal) => Some(refusal.clone()),
            _ => None,
        })
        .collect()
}
