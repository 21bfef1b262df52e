//! What is written in one entry: a firing from paper, the same of several moulds. The marks of the rest follow on
//! from that of the first, so that all of it can be taken back as one.

use rusqlite::Connection;

use super::write::{Appended, Check};
use super::{Journal, JournalError, NewEvent, Uid};
use crate::firing::{Event, EventId, Firing, Fold};
use crate::units::Moment;

impl Journal {
    /// Appends several events of the shop in one entry, each judged after those before it: all of them or
    /// none. Their marks follow on from that of the first: trying again writes nothing.
    ///
    /// # Errors
    /// See [`Journal::append_checked`].
    pub fn append_together(
        &mut self,
        first: &NewEvent,
        then: &[NewEvent],
        written: Moment,
    ) -> Result<Appended, JournalError> {
        let check = Check::Life { seen: None };
        self.write(|writing| {
            let appended = writing.put(first, written, check)?;
            for (event, nth) in then.iter().zip(1..) {
                let uid = Uid::from_number(first.uid.number() + nth);
                writing.put(&NewEvent { uid, ..event.clone() }, written, check)?;
            }
            Ok(appended)
        })
    }

    /// Appends a firing that is over, with the event that begins it first: all of it or none. It may
    /// have been in its kiln before another that is in it now.
    ///
    /// # Errors
    /// [`JournalError::Refused`] where it cannot have gone so, or another firing was in the kiln then,
    /// and those of [`Journal::append`].
    pub fn append_firing(
        &mut self,
        begins: &NewEvent,
        then: &[NewEvent],
        written: Moment,
    ) -> Result<Appended, JournalError> {
        let step = |fold: &mut Fold, new: &NewEvent| {
            let NewEvent { firing, at, who, what, .. } = new.clone();
            let id = EventId(fold.events().len() as i64 + 1);
            fold.apply(Event { id, firing, at, written, who, what });
        };
        let mut fold = Fold::default();
        step(&mut fold, begins);
        for event in then {
            fold.firing().permit(event.at, &event.what)?;
            step(&mut fold, event);
        }
        self.write(|writing| {
            let begun = writing.put(begins, written, Check::Nothing)?;
            let Some(firing) = begun.firing.filter(|_| !begun.already) else { return Ok(begun) };
            for (event, nth) in then.iter().zip(1..) {
                // Its mark follows on from that of the beginning: the firing is taken back as one.
                let uid = Uid::from_number(begins.uid.number() + nth);
                let event = NewEvent { firing: Some(firing), uid, ..event.clone() };
                writing.put(&event, written, Check::Nothing)?;
            }
            let until = then.iter().map(|event| event.at).fold(begins.at, Moment::max);
            let past = Firing { id: firing, ..fold.into_firing() };
            writing.alone_in_its_kiln(&past, (begins.at, until))?;
            // What it adds up to is known.
            writing.stale.insert(firing, Some(past));
            Ok(begun)
        })
    }

    /// What was written with an event, in one entry: the rest of a firing from paper, the same of other
    /// moulds.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn written_with(&self, event: EventId) -> Result<Vec<EventId>, JournalError> {
        written_with(&self.connection, event).map_err(|error| self.named(error))
    }
}

/// The marks of what is written in one entry follow on from that of the first.
pub(super) fn written_with(
    connection: &Connection,
    first: EventId,
) -> rusqlite::Result<Vec<EventId>> {
    let mut statement = connection.prepare_cached(
        "SELECT other.id FROM events AS one JOIN events AS other ON other.firing = one.firing
            AND other.uid BETWEEN one.uid + 1 AND one.uid + CASE one.kind WHEN 5 THEN 9 ELSE 999 END
         WHERE one.id = ?1 AND (one.kind = 5 OR one.firing = 0 AND other.kind = one.kind)
         ORDER BY other.id",
    )?;
    let others = statement.query_map([first.0], |row| row.get(0).map(EventId))?;
    others.collect()
}
