//! Firings that lie close together in the file, read in one pass over their piece of it: those that burn at
//! the same time are written between one another.

use std::collections::BTreeMap;
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
/// So many firings are held whole until their piece was passed over; of more, each is done with as soon as
/// it has the events it has by the index.
const HELD: usize = 16;

/// Where the events of a firing lie in the file, by the index of events by firing.
struct Lies {
    firing: FiringId,
    first: i64,
    last: i64,
    events: i64,
}

/// What was read of a firing so far.
struct SoFar {
    /// How many of its events are still to come.
    due: i64,
    events: Vec<Event>,
    shown: bool,
}

impl Journal {
    /// The first and the last event of the piece of the file that has those of these firings, where it is
    /// quicker to pass over than to look each up.
    pub(super) fn piece_with(
        &self,
        firings: &[FiringId],
    ) -> Result<Option<(i64, i64)>, JournalError> {
        self.piece(&self.lies(firings)?, 0)
    }

    /// Where these firings lie; nothing of those that have no event.
    fn lies(&self, firings: &[FiringId]) -> Result<Vec<Lies>, JournalError> {
        // One after the other takes half the time of one question with groups.
        let mut statement = self
            .connection
            .prepare_cached("SELECT min(id), max(id), count(*) FROM events WHERE firing = ?1")?;
        let mut lies = Vec::new();
        for firing in firings {
            lies.extend(statement.query_row([firing.0], |row| {
                let (first, last): (Option<i64>, Option<i64>) = (row.get(0)?, row.get(1)?);
                let events = row.get(2)?;
                let ends = first.zip(last);
                Ok(ends.map(|(first, last)| Lies { firing: *firing, first, last, events }))
            })?);
        }
        Ok(lies)
    }

    /// The piece with these, where it is short or pays. It begins and ends with the file if that is near: by
    /// a damaged index the first and last of them may not be the first and last.
    fn piece(&self, lies: &[Lies], short: i64) -> Result<Option<(i64, i64)>, JournalError> {
        let ends = |of: fn(&Lies) -> i64| lies.iter().map(of);
        let (first, last) = (ends(|it| it.first).min(), ends(|it| it.last).max());
        let Some((first, last)) = first.zip(last) else { return Ok(None) };
        let most = short.max(WORTH_A_PASS * ends(|it| it.events).sum::<i64>());
        let end = self.last_event()?.map_or(last, |id| id.0);
        let pays = |(first, last): &(i64, i64)| last - first < most;
        Ok([(1, end), (first, end), (1, last), (first, last)].into_iter().find(pays))
    }

    /// Shows each of these firings, folded from all its events, in whatever order they are read.
    pub(super) fn each_folded(
        &self,
        firings: &[FiringId],
        mut see: impl FnMut(Fold),
    ) -> Result<(), JournalError> {
        let mut lies = self.lies(firings)?;
        if let Some(lost) = firings.iter().find(|it| lies.iter().all(|lie| lie.firing != **it)) {
            return Err(unsound(format!("no event of firing {lost} is found")).into());
        }
        if let Some(piece) = self.piece(&lies, ALWAYS)? {
            return self.pass(&lies, piece, &mut see);
        }
        // Those that lie together are read together.
        lies.sort_by_key(|lie| lie.first);
        let mut groups: Vec<(i64, Vec<Lies>)> = Vec::new();
        for lie in lies {
            match groups.last_mut().filter(|(until, _)| lie.first - *until < lie.events) {
                Some((until, group)) => {
                    *until = lie.last.max(*until);
                    group.push(lie);
                }
                None => groups.push((lie.last, vec![lie])),
            }
        }
        groups.iter().try_for_each(|(_, group)| self.fold_group(group, &mut see))
    }

    fn fold_group(&self, group: &[Lies], see: &mut impl FnMut(Fold)) -> Result<(), JournalError> {
        if let Some(piece) = self.piece(group, ALWAYS)? {
            return self.pass(group, piece, see);
        }
        for alone in group.chunks(1) {
            if let Some(piece) = self.piece(alone, ALWAYS)? {
                self.pass(alone, piece, see)?;
                continue;
            }
            let (events, unread) = folding::events_of(&self.connection, alone[0].firing)?;
            self.note_unread(&unread)?;
            self.show(alone[0].firing, events, &unread, see)?;
        }
        Ok(())
    }

    /// Shows the firings of this piece, read by their table alone. A number that no event has is damage.
    fn pass(
        &self,
        group: &[Lies],
        (first, last): (i64, i64),
        see: &mut impl FnMut(Fold),
    ) -> Result<(), JournalError> {
        let names = folding::names(&self.connection)?;
        let in_order = |mut events: Vec<Event>| {
            events.iter_mut().for_each(|event| event.what.call_by(&names));
            folding::in_the_order_made(&mut events);
            events
        };
        let so_far = |lie: &Lies| SoFar { due: lie.events, events: Vec::new(), shown: false };
        let mut wanted: BTreeMap<FiringId, SoFar> =
            group.iter().map(|lie| (lie.firing, so_far(lie))).collect();
        let (mut next, mut unread) = (first, Vec::new());
        let by = "NOT INDEXED WHERE id BETWEEN ?1 AND ?2 ORDER BY id";
        stored::each(&self.connection, by, [first, last], |row, read| {
            let id = row.get(0)?;
            self.nothing_missing(next, id)?;
            next = id + 1;
            match read {
                Ok(StoredEvent { event, .. }) => {
                    let firing = event.firing.unwrap_or(FiringId::SHOP);
                    let Some(of_it) = wanted.get_mut(&firing) else {
                        return Ok(ControlFlow::Continue(()));
                    };
                    if of_it.shown {
                        return Err(
                            unsound(format!("event {id} is not found by its firing")).into()
                        );
                    }
                    of_it.events.push(event);
                    of_it.due -= 1;
                    if of_it.due == 0 && group.len() > HELD && unread.is_empty() {
                        of_it.shown = true;
                        self.show(firing, in_order(std::mem::take(&mut of_it.events)), &[], see)?;
                    }
                }
                Err(one) if self.may_be_of(row, &one, &wanted)? => unread.push(one),
                Err(_) => (),
            }
            Ok(ControlFlow::Continue(()))
        })?;
        self.nothing_missing(next, last + 1)?;
        self.note_unread(&unread)?;
        for (firing, of_it) in wanted.into_iter().filter(|(_, of_it)| !of_it.shown) {
            if of_it.due != 0 && unread.is_empty() {
                return Err(
                    unsound(format!("events of firing {firing} are not found by it")).into()
                );
            }
            self.show(firing, in_order(of_it.events), &unread, see)?;
        }
        Ok(())
    }

    fn note_unread(&self, unread: &[Unread]) -> Result<(), JournalError> {
        match unread {
            [] => Ok(()),
            _ => self.note(read::strikes(&self.connection)?.iter(), unread.to_vec()),
        }
    }

    /// Shows a firing folded from these events; `unread` are what may be of it and cannot be read.
    fn show(
        &self,
        firing: FiringId,
        events: Vec<Event>,
        unread: &[Unread],
        see: &mut impl FnMut(Fold),
    ) -> Result<(), JournalError> {
        self.note(events.iter(), Vec::new())?;
        if events.is_empty() && unread.is_empty() {
            return Err(unsound(format!("no event of firing {firing} is found")).into());
        }
        let of_it: Vec<Unread> =
            unread.iter().filter(|one| one.firing == Some(firing)).cloned().collect();
        let (fold, stand_in) = with_opening(&self.connection, firing, events, &of_it)?;
        if let Some(event) = stand_in {
            self.note_stand_in(event);
        }
        see(fold);
        Ok(())
    }

    /// Whether an event that cannot be read may be of one of these firings: it says so, would be whole if
    /// it did, or names a firing that is not there.
    fn may_be_of(
        &self,
        row: &Row<'_>,
        one: &Unread,
        wanted: &BTreeMap<FiringId, SoFar>,
    ) -> Result<bool, JournalError> {
        let Some(named) = one.firing else { return Ok(wanted.contains_key(&FiringId::SHOP)) };
        if wanted.contains_key(&named) {
            return Ok(true);
        }
        for firing in wanted.keys() {
            if stored::would_be_of(row, *firing)? {
                return Ok(true);
            }
        }
        Ok(summary(&self.connection, named)?.is_none())
    }
}
