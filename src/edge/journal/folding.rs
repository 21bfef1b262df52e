//! A firing's events folded, in the order made, from a beginning that is known even where it cannot be read.

use std::ops::ControlFlow;

use rusqlite::Connection;
use rusqlite::types::ToSql;

use super::StoredEvent;
use super::error::{JournalError, unsound};
use super::stored;
use super::summary::{LedgerRow, summary};
use crate::firing::event::Packing;
use crate::firing::fold::struck_events;
use crate::firing::{ConePack, Event, EventId, FiringId, Fold, Lit, Unread, What, Who};
use crate::kiln::names::Names;
use crate::units::{Moment, Span};

/// A firing folded within a transaction that is being written.
pub(super) fn fold(connection: &Connection, firing: FiringId) -> Result<Fold, JournalError> {
    let (events, unread) = events_of(connection, firing)?;
    Ok(with_opening(connection, firing, events, &unread)?.0)
}

/// What kilns were called before. This is the one place where a renaming is read: events and summaries name
/// kilns as they are called now, and only what is exported has the names that were written.
pub(super) fn names(connection: &Connection) -> Result<Names, JournalError> {
    let mut events = Vec::new();
    let by = "WHERE firing = 0 AND kind IN (17, 50) ORDER BY id";
    stored::each(connection, by, [], |_, read| {
        events.extend(read.map(|stored| stored.event).ok());
        Ok(ControlFlow::Continue(()))
    })?;
    let struck = struck_events(&events);
    let mut names = Names::default();
    for event in events.iter().filter(|event| !struck.contains(&event.id)) {
        if let What::KilnRenamed { kiln, name } = &event.what {
            names.rename(kiln, name);
        }
    }
    Ok(names)
}

/// The events of this condition, with the kilns in them called as they are now.
pub(super) fn select(
    connection: &Connection,
    condition: &str,
    values: &[&dyn ToSql],
) -> Result<(Vec<StoredEvent>, Vec<Unread>), JournalError> {
    let (mut events, mut unread) = (Vec::new(), Vec::new());
    stored::each(connection, &format!("WHERE {condition}"), values, |_, read| {
        match read {
            Ok(event) => events.push(event),
            Err(one) => unread.push(one),
        }
        Ok(ControlFlow::Continue(()))
    })?;
    if !events.is_empty() {
        let names = names(connection)?;
        events.iter_mut().for_each(|stored: &mut StoredEvent| stored.event.what.call_by(&names));
    }
    Ok((events, unread))
}

/// These events of a firing, folded. Where the event is damaged by which it began, it begins by what
/// its summary says, in the place of that event, which is returned as well.
pub(super) fn with_opening(
    connection: &Connection,
    firing: FiringId,
    events: Vec<Event>,
    unread: &[Unread],
) -> Result<(Fold, Option<EventId>), JournalError> {
    let mut fold = folded(events);
    let folded = fold.firing();
    let begun = folded.lit.is_some() && !folded.kiln.is_empty();
    let is_opening = |event: &Event| matches!(event.what, What::Packed(_) | What::Lit(_));
    let struck = fold.events().iter().any(|event| is_opening(event) && fold.is_struck(event.id));
    if firing.0 == 0 || begun || struck {
        return Ok((fold, None));
    }
    let Some(row) = summary(connection, firing)? else { return Ok((fold, None)) };
    if !(folded.lit.is_none() && row.lit.is_some() || folded.kiln.is_empty()) {
        return Ok((fold, None));
    }
    let opens = |one: &&Unread| matches!(one.kind, Some("lit" | "packed"));
    let id = unread.iter().find(opens).or(unread.first()).map_or(EventId(0), |one| one.event);
    let Some(what) = opening(&row) else { return Ok((fold, None)) };
    let (at, who) = (row.begun, Who::Program);
    fold.apply(Event { id, firing: Some(firing), at, written: at, who, what });
    Ok((fold, Some(id)))
}

/// How a firing began, as far as its summary says; nothing where it does not say.
fn opening(row: &LedgerRow) -> Option<What> {
    let (kiln, load_type) = (row.kiln.clone(), row.load_type.clone());
    let pack = row.cone.zip(row.family).map(|(cone, family)| ConePack::usual(cone, family));
    match (row.lit, pack) {
        _ if kiln.is_empty() => None,
        (Some(_), Some(pack)) => {
            Some(What::Lit(Lit { kiln, load_type, pack, schedule: None, plan: Vec::new() }))
        }
        (_, pack) => Some(What::Packed(Packing { kiln, load_type, pack, ..Packing::default() })),
    }
}

/// When the first event of a firing happened.
pub(super) fn first_moment(
    connection: &Connection,
    firing: FiringId,
) -> Result<Moment, JournalError> {
    let mut first = connection.prepare_cached("SELECT min(at_ms) FROM events WHERE firing = ?1")?;
    Ok(Moment(first.query_row([firing.0], |row| row.get::<_, Option<i64>>(0))?.unwrap_or(0)))
}

/// The events of a firing in the order made. The index hands them out in another one, and
/// sorting them here is several times as fast as letting the database do it.
pub(super) fn events_of(
    connection: &Connection,
    firing: FiringId,
) -> Result<(Vec<Event>, Vec<Unread>), JournalError> {
    let (mut events, unread) = by_number(firing, select(connection, "firing = ?1", &[&firing.0])?)?;
    in_the_order_made(&mut events);
    Ok((events, unread))
}

/// These events, found by an index of this firing, in the order of writing. One that is found twice, or is
/// of another firing, is there in place of one that is lost.
pub(super) fn by_number(
    firing: FiringId,
    (stored, unread): (Vec<StoredEvent>, Vec<Unread>),
) -> Result<(Vec<Event>, Vec<Unread>), JournalError> {
    let mut events: Vec<Event> = stored.into_iter().map(|stored| stored.event).collect();
    events.sort_unstable_by_key(|event| event.id);
    let twice = events.windows(2).find(|two| two[0].id == two[1].id).map(|two| &two[0]);
    let is_another = |event: &&Event| event.firing.unwrap_or(FiringId::SHOP) != firing;
    match twice.or_else(|| events.iter().find(is_another)) {
        Some(Event { id, .. }) => {
            Err(unsound(format!("event {id} is found in place of another")).into())
        }
        None => Ok((events, unread)),
    }
}

/// How much later than one made after it an entry has to be to be of a wrong clock: records of two
/// machines, taken together, differ by a firing.
const WRONG_CLOCK: Span = Span::hours(24);

/// An entry of a clock that was ahead by a day or more counts as of the next one made after it, so that
/// it does not stay the newest for ever. Where the entries after it were made before the last sound one,
/// theirs is the wrong clock, and nothing is moved.
pub(super) fn in_the_order_made(events: &mut [Event]) {
    let struck = struck_events(events.iter());
    let counts = |event: &Event| !struck.contains(&event.id);
    let mut next = Moment(i64::MAX);
    let after: Vec<Moment> = events
        .iter()
        .rev()
        .map(|event| {
            let after = next;
            next = if counts(event) { next.min(event.written) } else { next };
            after
        })
        .collect();
    let mut before = None;
    for (event, next) in events.iter_mut().zip(after.into_iter().rev()) {
        let ahead = event.at.0.saturating_sub(next.0) > WRONG_CLOCK.0;
        if ahead && before.is_some_and(|before| before <= next) {
            event.at = next;
        } else if counts(event) {
            before = Some(event.written);
        }
    }
}

fn folded(mut events: Vec<Event>) -> Fold {
    events.sort_by_key(|event| (event.at, event.id));
    let mut fold = Fold::default();
    fold.extend(events);
    fold
}
