//! What was noted at the casting bench, read apart from the rest of the shop: there is much of it, and only
//! the bench asks for it.

use serde_json::Value;

use super::Journal;
use super::error::JournalError;
use super::folding::select;
use crate::casting::casts::NoMould;
use crate::casting::{self, Casting};
use crate::firing::fold::struck_events;
use crate::firing::{Event, What};
use crate::hours::Staffed;
use crate::units::{Moment, Span};

/// Nothing is learned from what is older (a guess: casts count for little after one year).
const LEARNED_FROM: Span = Span::hours(2 * 366 * 24);

impl Journal {
    /// The bench as it was at a moment.
    ///
    /// # Errors
    /// When the file cannot be read; within, [`NoMould`] as for [`Casting::new`].
    pub fn casting(
        &self,
        staffed: Option<Staffed>,
        now: Moment,
    ) -> Result<Result<Casting, NoMould>, JournalError> {
        let earlier = self.poured_before(now - LEARNED_FROM)?;
        let casting = Casting::new(self.bench(now)?, staffed, now);
        Ok(casting.map(|casting| casting.after(&earlier)))
    }

    /// The codes that were poured before a moment, and how often.
    fn poured_before(&self, until: Moment) -> Result<Vec<(String, usize)>, JournalError> {
        self.reading(|| {
            let (strikes, _) = select(&self.connection, "firing = 0 AND kind = 17", &[])?;
            let struck = struck_events(strikes.iter().map(|stored| &stored.event));
            let struck: Vec<String> = struck.iter().map(ToString::to_string).collect();
            let mut poured = self.connection.prepare(&format!(
                "SELECT body, count(*) FROM events WHERE firing = 0 AND kind = 44 AND at_ms < ?1
                 AND id NOT IN ({}) GROUP BY body",
                struck.join(", ")
            ))?;
            let counted = poured.query_map([until.0], |row| Ok((row.get(0)?, row.get(1)?)))?;
            let of_mould = |(body, count): (String, u32)| {
                let body: Value = serde_json::from_str(&body).ok()?;
                Some((body["mould"].as_str()?.to_owned(), count as usize))
            };
            let counted: Vec<(String, u32)> = counted.collect::<Result<_, _>>()?;
            Ok(counted.into_iter().filter_map(of_mould).collect())
        })
    }

    /// The events of the bench that stand, in the order of writing.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn bench(&self, now: Moment) -> Result<Vec<casting::Event>, JournalError> {
        const OF_THE_BENCH: &str = "kind IN (17, 42, 47) OR kind BETWEEN 43 AND 46 AND at_ms >= ?1";
        self.reading(|| {
            let since = (now - LEARNED_FROM).0;
            let events = self.shop_events(OF_THE_BENCH, &[&since])?;
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
