//! Events that somebody entered: judged as they are written, and a strike with all it takes back.

use super::correct::corrected_with;
use super::error::JournalError;
use super::together::written_with;
use super::write::{Appended, Belongs, Check, Writing};
use super::{Journal, NewEvent, folding};
use crate::firing::{EventId, FiringId, What};
use crate::units::Moment;

impl Journal {
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
        if let What::Struck { event, .. } = &new.what
            && let Belongs::Firing(firing) = self.firing_of(new)?
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
}
