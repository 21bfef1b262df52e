//! The casting bench of a shop that is open, reckoned beside the loop: once a change, and again as time
//! goes on.

use std::sync::Arc;
use std::time::Duration;

use anyhow::Context;

use super::adviser::{Adviser, Patience};
use super::clock::LocalZone;
use crate::edge::journal::Journal;
use crate::firing::{EventId, Shop};
use crate::hours::Staffed;
use crate::scene::BenchScene;
use crate::units::{Moment, Span};

/// Reckoned anew after so long: a check that was due may have been missed.
const AGE: Span = Span::minutes(5);

/// The bench as it was reckoned last. There is a thread only once there is a mould.
#[derive(Debug, Default)]
pub struct Reckoned {
    adviser: Option<Adviser<BenchScene>>,
    bench: Arc<BenchScene>,
    asked: Option<Moment>,
    /// What was noted of the shop last as it was asked: the bench and its hours follow from nothing else.
    of: Option<EventId>,
}

impl Reckoned {
    /// The bench to show; what is asked anew is waited for as `patience` says.
    ///
    /// # Errors
    /// When it could not be read, or the system has no thread to give.
    pub fn on(
        &mut self,
        (journal, shop): (&Journal, &Shop),
        patience: Patience,
        now: Moment,
    ) -> anyhow::Result<Arc<BenchScene>> {
        let last = if shop.casts { journal.last_of_shop()? } else { None };
        if shop.casts && (last != self.of || self.is_old(now)) {
            let adviser = match &mut self.adviser {
                Some(adviser) => adviser,
                none => none.insert(Adviser::new().context("cannot reckon beside the screen")?),
            };
            let (address, hours) = (journal.address(), shop.hours.clone());
            (self.asked, self.of) = (Some(now), last);
            adviser.ask(move || {
                let staffed = Staffed { hours, zone: Arc::new(LocalZone) };
                Ok(BenchScene::of(address.open()?.casting(staffed.known(), now)??))
            });
            self.hear(patience.later())?;
        }
        Ok(Arc::clone(&self.bench))
    }

    /// Takes in the bench as it was reckoned, if it comes within this time; whether it did.
    ///
    /// # Errors
    /// When it could not be read.
    pub fn hear(&mut self, patience: Duration) -> anyhow::Result<bool> {
        let made = self.adviser.as_mut().and_then(|adviser| adviser.hear(patience));
        let made = made.transpose()?;
        Ok(made.map(|made| self.bench = Arc::new(made)).is_some())
    }

    /// Whether it is to be reckoned anew though nothing happened.
    pub fn is_stale(&self, now: Moment) -> bool {
        self.asked.is_some() && self.is_old(now)
    }

    fn is_old(&self, now: Moment) -> bool {
        self.asked.is_none_or(|asked| now - asked >= AGE)
    }

    /// Whether it is being reckoned.
    pub fn awaits(&self) -> bool {
        self.adviser.as_ref().is_some_and(Adviser::awaits)
    }
}
