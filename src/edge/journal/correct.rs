//! Corrections: an event is struck and another stands in its place, written together and taken back
//! together.

use super::error::JournalError;
use super::judge::{fits_in_its_place, impossible};
use super::write::{Appended, Check, Writing};
use super::{Journal, NewEvent, folding, read};
use crate::firing::{Event, EventId, FiringId, Fold, Others, Refusal, What, Who, permit_in_kiln};
use crate::units::{Moment, Span};

impl Journal {
    /// Strikes an event of a firing and puts another in its place, in one transaction. A load is told
    /// by its packing and its lighting: where one is corrected, the other follows. `becomes` is of the
    /// same kind; its mark makes trying again no second correction.
    ///
    /// # Errors
    /// Where the event is struck already, what stands then is impossible, or entries would lie before
    /// their lighting, and those of [`Journal::append_having_seen`].
    pub fn correct(
        &mut self,
        event: EventId,
        becomes: &NewEvent,
        others: Others,
        written: Moment,
    ) -> Result<Appended, JournalError> {
        self.write(|writing| writing.correct(event, becomes, others, written))
    }
}

impl Writing<'_> {
    fn correct(
        &mut self,
        event: EventId,
        becomes: &NewEvent,
        others: Others,
        written: Moment,
    ) -> Result<Appended, JournalError> {
        let was = read::event(&self.transaction, event)?.event;
        let firing = was.firing.ok_or(JournalError::NotCorrected(event))?;
        let becomes = NewEvent { firing: Some(firing), ..becomes.clone() };
        let before = folding::fold(&self.transaction, firing)?;
        let mut pairs = vec![(event, becomes.clone())];
        pairs.extend(told_again(&before, &was, &becomes));
        if let (What::Lit(_), Others::Move) = (&was.what, others) {
            pairs.extend(moved(&before, &was, becomes.at - was.at, &pairs));
        }
        let put = self.put(&becomes, written, Check::Nothing)?;
        if put.already {
            return Ok(put);
        }
        self.not_struck_yet(event, &before)?;
        self.strike(firing, event, Some(put.id), &becomes, written)?;
        for (was, becomes) in &pairs[1..] {
            let by = self.put(becomes, written, Check::Nothing)?.id;
            self.strike(firing, *was, Some(by), becomes, written)?;
        }
        let others_stand = |one: &&Event| pairs.iter().all(|(was, _)| *was != one.id);
        let mut without = Fold::default();
        without.extend(before.standing_events().filter(others_stand).cloned());
        let after = folding::fold(&self.transaction, firing)?;
        may_be_left(&becomes.what, (&before, &after), others)?;
        self.judge_in_kiln(&becomes, written, (&without, &after))?;
        Ok(put)
    }

    /// Strikes what stands in the place of others, and brings those back: all that was corrected in
    /// one go, or taken from paper.
    pub(super) fn take_back(
        &mut self,
        new: &NewEvent,
        (before, others): (&Fold, Vec<EventId>),
        written: Moment,
    ) -> Result<Appended, JournalError> {
        let What::Struck { event, .. } = new.what else { return Err(JournalError::NoFiring) };
        let firing = before.firing().id;
        let put = self.put(new, written, Check::Nothing)?;
        if put.already {
            return Ok(put);
        }
        self.not_struck_yet(event, before)?;
        for other in others {
            self.strike(firing, other, None, new, written)?;
        }
        let after = folding::fold(&self.transaction, firing)?;
        fits_in_its_place(&new.what, before, &after)?;
        self.judge_in_kiln(new, written, (before, &after))?;
        Ok(put)
    }

    fn strike(
        &mut self,
        firing: FiringId,
        event: EventId,
        corrected_by: Option<EventId>,
        by: &NewEvent,
        written: Moment,
    ) -> Result<(), JournalError> {
        let reason = match &by.what {
            What::Struck { reason, .. } => reason.clone(),
            _ => String::new(),
        };
        let what = What::Struck { event, reason, corrected_by };
        let new = NewEvent::new(Some(firing), written, by.who.clone(), what);
        self.put(&new, written, Check::Nothing)?;
        Ok(())
    }

    fn judge_in_kiln(
        &self,
        becomes: &NewEvent,
        written: Moment,
        (before, after): (&Fold, &Fold),
    ) -> Result<(), JournalError> {
        let event = Event {
            id: EventId(i64::MAX),
            firing: becomes.firing,
            at: becomes.at,
            written,
            who: becomes.who.clone(),
            what: becomes.what.clone(),
        };
        let there = self.others_in(after.firing())?;
        Ok(permit_in_kiln(&event, None, (before, after), there.iter())?)
    }
}

/// Whether the other entries may stay as they are once this stands.
fn may_be_left(
    becomes: &What,
    (before, after): (&Fold, &Fold),
    others: Others,
) -> Result<(), JournalError> {
    let early = |fold: &Fold| {
        let refusals = impossible(fold);
        let early =
            |one: &&Refusal| matches!(one, Refusal::NotLit { .. } | Refusal::BeforeLit { .. });
        (refusals.iter().filter(early).count(), refusals.len())
    };
    let ((were, _), (count, all)) = (early(before), early(after));
    match (becomes, others) {
        (What::Lit(_), Others::Keep) if count == all => Ok(()),
        (What::Lit(_), Others::Stay) if count > were => {
            Err(JournalError::LeftBefore { count: count - were })
        }
        _ => fits_in_its_place(becomes, before, after),
    }
}

/// The packing of a load that was lit, or the lighting of one that was packed, with what a correction
/// of the other says of kiln, load and cones.
fn told_again(before: &Fold, was: &Event, becomes: &NewEvent) -> Vec<(EventId, NewEvent)> {
    let opens = |what: &What| matches!(what, What::Packed(_) | What::Lit(_));
    let others = before.standing_events().filter(|one| one.id != was.id && opens(&one.what));
    let mut pairs = Vec::new();
    for other in others {
        let what = match (&other.what, &was.what, &becomes.what) {
            (What::Packed(packing), What::Lit(was), What::Lit(lit)) => {
                let mut packing = packing.clone();
                follow(&mut packing.kiln, &was.kiln, &lit.kiln);
                follow(&mut packing.load_type, &was.load_type, &lit.load_type);
                follow(&mut packing.pack, &Some(was.pack), &Some(lit.pack));
                What::Packed(packing)
            }
            (What::Lit(lit), What::Packed(was), What::Packed(packing)) => {
                let mut lit = lit.clone();
                follow(&mut lit.kiln, &was.kiln, &packing.kiln);
                follow(&mut lit.load_type, &was.load_type, &packing.load_type);
                if let (Some(was), Some(now)) = (was.pack, packing.pack) {
                    follow(&mut lit.pack, &was, &now);
                }
                What::Lit(lit)
            }
            _ => continue,
        };
        if what != other.what {
            pairs.push((other.id, NewEvent { at: other.at, what, ..fresh(becomes) }));
        }
    }
    pairs
}

/// Takes over what was corrected, where it said the same before.
fn follow<T: PartialEq + Clone>(said: &mut T, was: &T, now: &T) {
    if said == was {
        said.clone_from(now);
    }
}

/// What somebody entered after the lighting, moved by as much as that.
fn moved(
    before: &Fold,
    lit: &Event,
    by: Span,
    known: &[(EventId, NewEvent)],
) -> Vec<(EventId, NewEvent)> {
    let after = before.standing_events().filter(|one| {
        let by_hand = matches!(one.who, Who::Person(_)) && !one.what.is_of_the_watch();
        by_hand && one.at >= lit.at && !matches!(one.what, What::Struck { .. })
    });
    let others = after.filter(|one| known.iter().all(|(event, _)| *event != one.id));
    let moved = |one: &Event| NewEvent {
        at: one.at + by,
        who: one.who.clone(),
        what: one.what.clone(),
        ..fresh(&known[0].1)
    };
    others.map(|one| (one.id, moved(one))).collect()
}

/// The same event under a mark of its own.
fn fresh(event: &NewEvent) -> NewEvent {
    NewEvent::new(event.firing, event.at, event.who.clone(), event.what.clone())
}

/// The strikes of one correction that a strike of `event` takes back, each with what stands in the
/// place of what it struck; none where `event` is no correction.
pub(super) fn corrected_with(fold: &Fold, event: EventId) -> Vec<(EventId, EventId)> {
    let strikes = || {
        let standing = fold.standing_events();
        standing.filter_map(|one| match one.what {
            What::Struck { corrected_by: Some(by), .. } => Some((one.id, by, one.written)),
            _ => None,
        })
    };
    let Some((_, _, written)) = strikes().find(|(_, by, _)| *by == event) else {
        return Vec::new();
    };
    let together = strikes().filter(|(.., at)| *at == written);
    together.map(|(strike, by, _)| (strike, by)).collect()
}
