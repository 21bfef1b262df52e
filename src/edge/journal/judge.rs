//! Whether a step can have happened, judged within the transaction that writes it.

use super::error::JournalError;
use super::write::Writing;
use super::{NewEvent, folding, read, summary};
use crate::firing::{
    Event, EventId, Firing, FiringId, Fold, OddityKind, Refusal, Shop, What, permit_in_kiln,
};
use crate::kiln::same_name;
use crate::units::Moment;

impl Writing<'_> {
    /// Judges a step, and says what the firing adds up to with it, where that had to be found out.
    pub(super) fn judge(
        &mut self,
        firing: FiringId,
        new: &NewEvent,
        written: Moment,
        seen: Option<EventId>,
    ) -> Result<Option<Firing>, JournalError> {
        if firing.0 == 0 {
            if let What::Struck { event, .. } = new.what {
                self.not_struck_yet(event, &folding::fold(&self.transaction, firing)?)?;
            }
            self.permit_in_shop(&new.what)?;
            return Ok(None);
        }
        // A reading in the middle of a firing is always possible.
        if self.leaves_summary(firing, new)? {
            return Ok(None);
        }
        let before = folding::fold(&self.transaction, firing)?;
        if let What::Struck { event, .. } = new.what {
            self.not_struck_yet(event, &before)?;
        }
        let event = Event {
            id: EventId(i64::MAX),
            firing: Some(firing),
            at: new.at,
            written,
            who: new.who.clone(),
            what: new.what.clone(),
        };
        let mut after = before.clone();
        after.apply(event.clone());
        if matches!(new.what, What::Packed(_) | What::Lit(_) | What::Struck { .. }) {
            let others = self.others_in(after.firing())?;
            permit_in_kiln(&event, seen, (&before, &after), others.iter())?;
        }
        self.permit_in_shop(&new.what)?;
        if matches!(new.what, What::Lit(_)) {
            self.alone_in_its_kiln(after.firing(), (new.at, new.at))?;
        }
        before.firing().permit(new.at, &new.what)?;
        fits_in_its_place(&new.what, &before, &after)?;
        // Any other event of the firing in this transaction comes to nothing else than all of them.
        let alone = !self.stale.contains_key(&firing);
        Ok(alone.then(|| after.into_firing()))
    }

    /// Whether the shop's kilns allow for this; to take back that a kiln came back is to retire it.
    fn permit_in_shop(&self, what: &What) -> Result<(), JournalError> {
        let taken_back = match what {
            What::Struck { event, .. } => read::event(&self.transaction, *event).ok(),
            _ => None,
        };
        let retires = match taken_back.map(|stored| stored.event.what) {
            Some(What::KilnReturned { kiln }) => {
                Some(What::KilnRetired { kiln, reason: String::new() })
            }
            _ => None,
        };
        let what = retires.as_ref().unwrap_or(what);
        if what.of_kiln().is_none() && what.kiln().is_none() {
            return Ok(());
        }
        let (events, _) = folding::events_of(&self.transaction, FiringId::SHOP)?;
        let shop = Shop::of(events, folding::names(&self.transaction)?);
        let mut open = Vec::new();
        for firing in read::open_firings(&self.transaction)? {
            open.extend(summary::summary(&self.transaction, firing)?);
        }
        let state =
            |kiln: &str| open.iter().find(|row| same_name(&row.kiln, kiln)).map(|row| row.state);
        Ok(shop.permit(what, state)?)
    }

    /// The other firings in the kiln of this one that are planned, burn or cool.
    pub(super) fn others_in(&self, firing: &Firing) -> Result<Vec<Fold>, JournalError> {
        let there = summary::open_in(&self.transaction, &firing.kiln)?;
        let others = there.into_iter().filter(|other| *other != firing.id);
        others.map(|other| folding::fold(&self.transaction, other)).collect()
    }

    pub(super) fn alone_in_its_kiln(
        &self,
        firing: &Firing,
        between: (Moment, Moment),
    ) -> Result<(), JournalError> {
        let other = summary::fired_between(&self.transaction, firing, between)?;
        let kiln = firing.kiln.clone();
        other.map_or(Ok(()), |firing| Err(Refusal::FiredThen { kiln, firing }.into()))
    }

    pub(super) fn not_struck_yet(&self, event: EventId, fold: &Fold) -> Result<(), JournalError> {
        if !fold.is_struck(event) {
            return Ok(());
        }
        let by = fold.events().iter().find_map(|other| match other.what {
            What::Struck { event: target, .. } if target == event && !fold.is_struck(other.id) => {
                Some(other.id)
            }
            _ => None,
        });
        Err(JournalError::StruckAlready { event, by: by.unwrap_or(event) })
    }
}

/// An event entered late has to fit those after it as well: with it, nothing in the firing may be
/// more impossible than without.
pub(super) fn fits_in_its_place(
    what: &What,
    before: &Fold,
    after: &Fold,
) -> Result<(), JournalError> {
    let kiln = before.firing().kiln.clone();
    let (before, after) = (impossible(before), impossible(after));
    if after.len() <= before.len() {
        return Ok(());
    }
    let Some(refusal) = after.into_iter().find(|refusal| !before.contains(refusal)) else {
        return Ok(());
    };
    // Without its lighting a firing may have lost the name of its kiln.
    let refusal = match refusal {
        Refusal::NotLit { kiln: lost, step } if lost.is_empty() => Refusal::NotLit { kiln, step },
        other => other,
    };
    Err(match *what {
        What::Struck { event, .. } => JournalError::StandsUnder { event, why: refusal.to_string() },
        _ => refusal.into(),
    })
}

pub(super) fn impossible(fold: &Fold) -> Vec<Refusal> {
    let oddities = fold.firing().oddities.iter();
    oddities
        .filter_map(|oddity| match &oddity.kind {
            OddityKind::Impossible(refusal) => Some(refusal.clone()),
            _ => None,
        })
        .collect()
}
