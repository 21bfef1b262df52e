//! What was noted at the casting bench, read apart from the rest of the shop: there is much of it, and only
//! the bench asks for it.

use super::Journal;
use super::error::JournalError;
use super::folding::select;
use crate::casting;
use crate::firing::fold::struck_events;
use crate::firing::{Event, What};
use crate::units::{Moment, Span};

/// Nothing is learned from what is older (a guess: casts count for little after one year).
const LEARNED_FROM: Span = Span::hours(2 * 366 * 24);

impl Journal {
    /// The events of the bench that stand, in the order of writing.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn bench(&self, now: Moment) -> Result<Vec<casting::Event>, JournalError> {
        const OF_THE_BENCH: &str = "firing = 0 AND (events.kind IN (17, 42, 47)
            OR events.kind BETWEEN 43 AND 46 AND at_ms >= ?1)";
        self.reading(|| {
            let since = (now - LEARNED_FROM).0;
            let (stored, unread) = select(&self.connection, OF_THE_BENCH, &[&since])?;
            let mut events: Vec<Event> = stored.into_iter().map(|stored| stored.event).collect();
            events.sort_unstable_by_key(|event| event.id);
            self.note(events.iter(), unread)?;
            let struck = struck_events(&events);
            let stands = events.into_iter().filter(|event| !struck.contains(&event.id));
            let noted = stands.filter_map(|Event { at, what, .. }| match what {
                What::Bench(what) => Some(casting::Event { at, what }),
                _ => None,
            });
            Ok(noted.collect())
        })
    }
}
