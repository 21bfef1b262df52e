//! Firings that lie close together in the file, read in one pass over their piece of it: those that burn at
//! the same time are written between one another.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::ControlFlow;

use rusqlite::Row;

use super::error::{JournalError, unsound};
use super::folding::{self, with_opening};
use super::stored;
use super::summary::summary;
use super::{Journal, StoredEvent, read};
use crate::firing::{Event, FiringId, Fold, Unread};

/// How many events are passed over for one that is wanted before it is quicker to look each up.
const WORTH_A_PASS: i64 = 3;
/// How many are passed over in any case, so that none of a firing is left out by a damaged index: those of
/// a day in a shop of many kilns.
const ALWAYS: i64 = 10_000;
/// How many firings are read in one pass, and no more of them held whole.
const AT_ONCE: usize = 16;

/// The events of each of some firings, and those of them that cannot be read.
type Read = (BTreeMap<FiringId, Vec<Event>>, Vec<Unread>);

impl Journal {
    /// The first and the last event of the piece of the file that has those of these firings, where the
    /// piece is short or quicker to pass over than to look each up. It begins and ends with the file if that
    /// is near: by a damaged index the first and last of them may not be the first and last.
    pub(super) fn piece_with(
        &self,
        firings: &[FiringId],
        short: i64,
    ) -> Result<Option<(i64, i64)>, JournalError> {
        // One after the other takes half the time of one question with groups.
        let mut statement = self
            .connection
            .prepare_cached("SELECT min(id), max(id), count(*) FROM events WHERE firing = ?1")?;
        let (mut first, mut last, mut events) = (i64::MAX, 0, 0);
        for FiringId(id) in firings {
            let row = statement.query_row([id], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)));
            let (first_of_it, last_of_it, count): (Option<i64>, Option<i64>, i64) = row?;
            first = first.min(first_of_it.unwrap_or(first));
            last = last.max(last_of_it.unwrap_or(last));
            events += count;
        }
        let end = self.last_event()?.map_or(0, |id| id.0);
        let most = short.max(WORTH_A_PASS * events);
        let pays = |(first, last): &(i64, i64)| events > 0 && last - first < most;
        Ok([(1, end), (first, end), (1, last), (first, last)].into_iter().find(pays))
    }

    /// Shows each of these firings, folded from all its events.
    pub(super) fn each_folded(
        &self,
        firings: &[FiringId],
        mut see: impl FnMut(Fold),
    ) -> Result<(), JournalError> {
        for firings in firings.chunks(AT_ONCE) {
            match self.piece_with(firings, 0)? {
                Some(piece) => self.fold_each(firings, self.pass_for(firings, piece)?, &mut see)?,
                None => firings.iter().try_for_each(|firing| {
                    let alone = std::slice::from_ref(firing);
                    let read = match self.piece_with(alone, ALWAYS)? {
                        Some(piece) => self.pass_for(alone, piece)?,
                        None => self.look_up(*firing)?,
                    };
                    self.fold_each(alone, read, &mut see)
                })?,
            }
        }
        Ok(())
    }

    fn fold_each(
        &self,
        firings: &[FiringId],
        (mut events, unread): Read,
        see: &mut impl FnMut(Fold),
    ) -> Result<(), JournalError> {
        self.note(events.values().flatten(), Vec::new())?;
        if !unread.is_empty() {
            self.note(read::strikes(&self.connection)?.iter(), unread.clone())?;
        }
        for firing in firings {
            let events = events.remove(firing).unwrap_or_default();
            if events.is_empty() && unread.is_empty() {
                return Err(unsound(format!("no event of firing {firing} is found")).into());
            }
            let of_it = unread.iter().filter(|one| one.firing == Some(*firing));
            let of_it: Vec<Unread> = of_it.cloned().collect();
            let (fold, stand_in) = with_opening(&self.connection, *firing, events, &of_it)?;
            if let Some(event) = stand_in {
                self.note_stand_in(event);
            }
            see(fold);
        }
        Ok(())
    }

    fn look_up(&self, firing: FiringId) -> Result<Read, JournalError> {
        let (events, unread) = folding::events_of(&self.connection, firing)?;
        Ok((BTreeMap::from([(firing, events)]), unread))
    }

    /// The same by their table alone. A number that no event has is damage.
    fn pass_for(
        &self,
        firings: &[FiringId],
        (first, last): (i64, i64),
    ) -> Result<Read, JournalError> {
        let wanted = BTreeSet::from_iter(firings.iter().copied());
        let (mut events, mut unread) = (BTreeMap::<_, Vec<Event>>::new(), Vec::new());
        let mut next = first;
        let by = "NOT INDEXED WHERE id BETWEEN ?1 AND ?2 ORDER BY id";
        stored::each(&self.connection, by, [first, last], |row, read| {
            let id = row.get(0)?;
            self.nothing_missing(next, id)?;
            next = id + 1;
            match read {
                Ok(StoredEvent { event, .. }) => {
                    let firing = event.firing.unwrap_or(FiringId::SHOP);
                    if wanted.contains(&firing) {
                        events.entry(firing).or_default().push(event);
                    }
                }
                Err(one) if self.may_be_of(row, &one, &wanted)? => unread.push(one),
                Err(_) => (),
            }
            Ok(ControlFlow::Continue(()))
        })?;
        self.nothing_missing(next, last + 1)?;
        let names = folding::names(&self.connection)?;
        for events in events.values_mut() {
            events.iter_mut().for_each(|event| event.what.call_by(&names));
            folding::in_the_order_made(events);
        }
        Ok((events, unread))
    }

    /// Whether an event that cannot be read may be of one of these firings: it says so, would be whole if
    /// it did, or names a firing that is not there.
    fn may_be_of(
        &self,
        row: &Row<'_>,
        one: &Unread,
        wanted: &BTreeSet<FiringId>,
    ) -> Result<bool, JournalError> {
        let Some(named) = one.firing else { return Ok(wanted.contains(&FiringId::SHOP)) };
        if wanted.contains(&named) {
            return Ok(true);
        }
        for firing in wanted {
            if stored::would_be_of(row, *firing)? {
                return Ok(true);
            }
        }
        Ok(summary(&self.connection, named)?.is_none())
    }
}
