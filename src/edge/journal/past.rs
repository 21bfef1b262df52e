//! The past firings that forecasts learn from: read once by a process, and again only those that
//! were written to.

use std::sync::{Arc, Mutex, PoisonError};

use super::{Journal, JournalError, LedgerFilter, PAST_FIRINGS, Uid};
use crate::firing::{Firing, FiringId};
use crate::kiln::names::Names;
use crate::review::nearest::{Near, nearest};

/// The youngest firings of a shop that are off, at most [`PAST_FIRINGS`]. Its clones share what was
/// read: the screen and the keeper beside it hold it once.
#[derive(Debug, Clone, Default)]
pub struct Past(Arc<Mutex<Known>>);

#[derive(Debug, Default)]
struct Known {
    /// Each firing and the mark of its last event: events are only added, and marked by chance, so the same
    /// mark is the same firing, whatever file it lies in.
    marks: Vec<(FiringId, Option<Uid>)>,
    firings: Arc<Vec<Firing>>,
    names: Names,
}

impl Past {
    /// Has them read anew; whoever shares it does as well.
    pub fn forget(&self) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = Known::default();
    }

    /// The firings as they stand now in this journal.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn read(&self, journal: &Journal) -> Result<Arc<Vec<Firing>>, JournalError> {
        // Whoever broke off left it whole: it changes in one step, when all is read.
        let mut known = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let marks = journal.past_marks(PAST_FIRINGS)?;
        let names = journal.names()?;
        if names != known.names {
            *known = Known { names, ..Known::default() };
        }
        if marks != known.marks {
            let place = |mark: &_| known.marks.iter().position(|before| before == mark);
            let new = marks.iter().filter(|mark| place(mark).is_none());
            let new: Vec<FiringId> = new.map(|(firing, _)| *firing).collect();
            let mut new = journal.past_firings(&new)?.into_iter();
            let firings = marks.iter().filter_map(|mark| match place(mark) {
                Some(place) => Some(known.firings[place].clone()),
                None => new.next(),
            });
            let firings = Arc::new(firings.collect());
            (known.marks, known.firings) = (marks, firings);
        }
        Ok(Arc::clone(&known.firings))
    }
}

impl Journal {
    /// The past firings that went most like this one, the nearest first: `most` of those of a kiln, or of
    /// all, and of the newest only, where so many are wanted.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn nearest(
        &self,
        firing: &Firing,
        (kiln, newest): (Option<String>, Option<u32>),
        most: usize,
    ) -> Result<Vec<Near>, JournalError> {
        let limit = newest.map(|newest| newest + 1);
        let rows = self.ledger(&LedgerFilter { kiln, limit, ..LedgerFilter::default() })?;
        let others = rows.iter().filter(|row| row.firing != firing.id);
        let mut near = Vec::new();
        // One after another, so that no more than one is in memory.
        for row in others.take(newest.map_or(usize::MAX, |newest| newest as usize)) {
            if row.off.is_some() {
                near.extend(nearest(firing, [&self.firing(row.firing)?], 1));
            }
        }
        near.sort_by(|a, b| a.apart_c.total_cmp(&b.apart_c).then(a.id.cmp(&b.id)));
        near.truncate(most);
        Ok(near)
    }
}
