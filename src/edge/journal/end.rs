//! The end of the file in which the events of some firings are: those that burn at the same time are
//! written between one another.

use super::Journal;
use super::error::JournalError;
use crate::firing::FiringId;

/// How many events are passed over for one that is wanted before it is quicker to look each up.
const WORTH_A_PASS: i64 = 3;
/// How many are passed over in any case, so that none of a firing is left out by a damaged index: those of
/// a day in a shop of many kilns.
pub(super) const ALWAYS: i64 = 10_000;

impl Journal {
    /// The first and the last event to pass over for the events of these firings, where they are few or
    /// that is quicker than to look each up.
    pub(super) fn end_with(
        &self,
        firings: &[FiringId],
        few: i64,
    ) -> Result<Option<(i64, i64)>, JournalError> {
        // One after the other takes half the time of one question with groups.
        let mut statement = self
            .connection
            .prepare_cached("SELECT min(id), count(*) FROM events WHERE firing = ?1")?;
        let (mut first, mut events) = (i64::MAX, 0);
        for FiringId(id) in firings {
            let (first_of_it, count): (Option<i64>, i64) =
                statement.query_row([id], |row| Ok((row.get(0)?, row.get(1)?)))?;
            first = first.min(first_of_it.unwrap_or(first));
            events += count;
        }
        let last = self.last_event()?.map_or(0, |id| id.0);
        Ok((events > 0 && last - first < few.max(WORTH_A_PASS * events)).then_some((first, last)))
    }
}
