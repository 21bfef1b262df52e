//! What a kiln holds: at most one open firing.
//!
//! A kiln holds a load from the moment it is packed until it is drawn: planned, alight, off, cooling
//! or given up. Until then no other load is packed into it or lit in it; packing it again before it
//! is lit changes the packing of the same firing. A drawn kiln is empty and may be packed again,
//! whether or not the outcome was written. A firing whose packing and lighting were struck holds
//! nothing.
//!
//! Records from elsewhere and files of earlier versions may hold several packings of one kiln. They
//! are kept as they are; each may still be lit while no other burns or cools there.

use super::event::{Event, What, Who};
use super::fold::Fold;
use super::ids::EventId;
use super::known::Firing;
use super::life::{Refusal, State};
use super::stands::{Deed, Stands};
use crate::kiln::same_name;
use crate::units::Span;

/// What a firing keeps in its kiln, the least first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Holding {
    Nothing,
    /// A load that was packed and not lit.
    Load,
    /// A load that burns, cools or was given up.
    Fire,
}

impl State {
    /// What a firing in this state keeps in its kiln.
    pub fn holding(self) -> Holding {
        match self {
            State::Planned => Holding::Load,
            State::Drawn | State::Closed => Holding::Nothing,
            _ => Holding::Fire,
        }
    }
}

impl Firing {
    /// What it keeps in its kiln.
    pub fn holding(&self) -> Holding {
        if self.is_void() { Holding::Nothing } else { self.state.holding() }
    }

    fn holding_in(&self, kiln: &str) -> Holding {
        if same_name(&self.kiln, kiln) { self.holding() } else { Holding::Nothing }
    }
}

/// Whether a packing, a lighting or a strike fits what its kiln holds.
///
/// `before` and `after` are its firing without and with it, `others` are the other firings of the
/// shop that are not closed. Where somebody read the shop first and then packed or lit, `seen` is
/// the last event they knew: a kiln that was packed or lit after it is not what they saw.
///
/// # Errors
/// [`Refusal`], whose text says why not and what can be done instead.
pub fn permit_in_kiln<'f>(
    event: &Event,
    seen: Option<EventId>,
    (before, after): (&'f Fold, &Fold),
    others: impl Iterator<Item = &'f Fold> + Clone,
) -> Result<(), Refusal> {
    let kiln = after.firing().kiln.as_str();
    let there = |other: &&Fold| other.firing().holding_in(kiln) > Holding::Nothing;
    let others = || others.clone().filter(there);
    if let (What::Packed(_) | What::Lit(_), Some(seen)) = (&event.what, seen) {
        let changes = others().chain([before]).filter_map(|fold| last_change(fold, event));
        if let Some((_, stands)) = changes.filter(|(id, _)| *id > seen).max_by_key(|(id, _)| *id) {
            return Err(Refusal::ChangedMeanwhile(stands));
        }
    }
    let packings = before.standing_events().filter(|one| matches!(one.what, What::Packed(_)));
    let early = packings.map(|packed| packed.at - event.at).max().filter(|early| early.0 > 0);
    match (&event.what, early) {
        (What::Packed(packing), Some(early)) => {
            return Err(Refusal::PackedLater { kiln: packing.kiln.clone(), early });
        }
        (What::Lit(lit), Some(early)) => {
            return Err(Refusal::LitBeforePacked { kiln: lit.kiln.clone(), early });
        }
        _ => {}
    }
    let (was, becomes) = (before.firing().holding_in(kiln), after.firing().holding_in(kiln));
    if becomes <= was {
        return Ok(());
    }
    let in_the_way = others().max_by_key(|other| other.firing().holding());
    let Some(other) = in_the_way.filter(|other| other.firing().holding() > was) else {
        return Ok(());
    };
    let (kiln, state) = (other.firing().kiln.clone(), other.firing().state);
    Err(match last_change(other, event) {
        Some((_, stands)) if state == State::Planned => Refusal::AlreadyPacked(stands),
        _ => Refusal::AlreadyLit { kiln, state },
    })
}

/// The last packing, lighting or strike of one of them in a firing, told when `written` is written.
fn last_change(fold: &Fold, written: &Event) -> Option<(EventId, Stands)> {
    let told = fold.standing_events().filter_map(|event| {
        let of = taken_back(fold, event)?;
        let struck = fold.is_struck(of.id);
        let (deed, load_type, pieces, packed_by) = match &of.what {
            What::Packed(packing) => {
                let deed = if struck { Deed::PackingStruck } else { Deed::Packed };
                (deed, &packing.load_type, packing.pieces, packing.packed_by.as_str())
            }
            What::Lit(lit) => {
                let deed = if struck { Deed::LightingStruck } else { Deed::Lit };
                (deed, &lit.load_type, None, "")
            }
            _ => return None,
        };
        let by = match &event.who {
            Who::Person(name) if !name.is_empty() => name,
            _ => packed_by,
        };
        let stands = Stands {
            kiln: fold.firing().kiln.clone(),
            deed,
            load_type: load_type.clone(),
            pieces,
            by: by.to_owned(),
            ago: (written.written - event.at).max(Span::ZERO),
        };
        Some((event.id, stands))
    });
    told.max_by_key(|(id, _)| *id)
}

/// The packing, lighting or other event that a strike, or a strike of a strike, is about in the
/// end; of any other event, the event itself.
fn taken_back<'f>(fold: &'f Fold, event: &'f Event) -> Option<&'f Event> {
    let What::Struck { event: target, .. } = event.what else { return Some(event) };
    // A strike names an earlier event only, so this ends.
    let of = fold.events().iter().find(|one| one.id == target && one.id < event.id)?;
    taken_back(fold, of)
}
