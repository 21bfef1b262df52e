//! Where the ware of a shop is, and the plan of its day, made beside the loop.

use std::sync::Arc;

use anyhow::Context;

use super::KeptShop;
use crate::edge::shop::adviser::Adviser;
use crate::edge::shop::clock::LocalZone;
use crate::edge::shop::day_plan::DayPlan;
use crate::firing::{EventId, Firing, FiringId, State};
use crate::units::{Moment, Span};
use crate::ware::{Lot, Ware};
use crate::words::{FixedZone, Zone};

/// What moves ware: what was said of it and of moulds, and how far the open firings are, with what is in them.
type WareMark = (Vec<Lot>, Option<EventId>, Vec<(FiringId, State, Option<Vec<String>>)>);

/// What is known of the ware, and who makes the plan, once somebody asked.
#[derive(Debug, Default)]
pub(super) struct Planned {
    mark: WareMark,
    pub(super) ware: Arc<Vec<Ware>>,
    planner: Option<Adviser<DayPlan>>,
}

impl Planned {
    /// Whether a plan is being made.
    pub(super) fn awaits(&self) -> bool {
        self.planner.as_ref().is_some_and(Adviser::awaits)
    }
}

impl KeptShop {
    /// Reads where the ware is, if anything may have moved it.
    pub(super) fn read_ware(&mut self) -> anyhow::Result<()> {
        let shop = &self.shop;
        let stands = |one: &Firing| (one.id, one.state, one.packing.clone().map(|said| said.lots));
        let last = if shop.casts { self.journal.last_of_shop()? } else { None };
        let mark = (shop.lots.clone(), last, shop.open.iter().map(stands).collect());
        let (zone, was) = (self.zone(), &mut self.planned);
        let any = !shop.lots.is_empty() || shop.casts;
        if shop.lots != was.mark.0 || any && mark != was.mark {
            (was.ware, was.mark) = (Arc::new(self.journal.ware(shop, &*zone)?), mark);
        }
        Ok(())
    }

    /// Asks for the plan of the day; [`KeptShop::plan`] hands it out when it is there.
    ///
    /// # Errors
    /// When the system has no thread to give.
    pub fn ask_plan(&mut self, now: Moment) -> anyhow::Result<()> {
        let address = self.journal.address();
        let zone = self.zone();
        let planner = match &mut self.planned.planner {
            Some(planner) => planner,
            none => none.insert(Adviser::new().context("cannot make a plan beside the screen")?),
        };
        planner.ask(move || DayPlan::of(&address.open()?, zone, now));
        Ok(())
    }

    /// The shop's own; a made-up shop keeps one time all over.
    fn zone(&self) -> Arc<dyn Zone + Send + Sync> {
        match self.is_made_up() {
            true => Arc::new(FixedZone(Span::ZERO)),
            false => Arc::new(LocalZone),
        }
    }

    /// The plan asked for last, once.
    pub fn plan(&mut self) -> Option<anyhow::Result<DayPlan>> {
        self.planned.planner.as_mut()?.hear(self.patience.later())
    }
}
