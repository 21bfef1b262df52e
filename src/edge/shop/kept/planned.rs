//! Where the ware of a shop is, and the plan of its day, made beside the loop.

use std::sync::Arc;

use anyhow::Context;

use super::KeptShop;
use crate::edge::shop::advised::Advices;
use crate::edge::shop::adviser::Adviser;
use crate::edge::shop::clock::LocalZone;
use crate::edge::shop::day_plan;
use crate::firing::{EventId, Firing, FiringId, Shop, State};
use crate::plan::DayPlan;
use crate::units::{Moment, Span};
use crate::ware::{Lot, Ware};
use crate::words::{FixedZone, Zone};

/// What moves ware: what was said of it and of moulds, and how far the open firings are, with what is in them.
type WareMark = (Vec<Lot>, Option<EventId>, Vec<(FiringId, State, Option<Vec<String>>)>);

/// A plan is made anew when the watch expects a drop by more than this otherwise than it did.
const MOVED: Span = Span::minutes(5);

/// What is known of the ware, and who makes the plan, once somebody asked.
#[derive(Debug, Default)]
pub(super) struct Planned {
    mark: WareMark,
    pub(super) ware: Arc<Vec<Ware>>,
    planner: Option<Adviser<DayPlan>>,
    /// The shop the plan was asked for, and what the watch said as it came.
    asked: Option<(Arc<Shop>, Arc<Vec<Ware>>)>,
    heard: Advices,
}

impl Planned {
    /// Another file is read from now on. What is being made still comes, and is made anew if it is behind.
    pub(super) fn forget_ware(&mut self) {
        (self.mark, self.ware) = Default::default();
    }

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
        planner.ask(move || day_plan::of(&address.open()?, zone, now));
        self.planned.asked = Some((Arc::clone(&self.shop), Arc::clone(&self.planned.ware)));
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
        let plan = self.planned.planner.as_mut()?.hear(self.patience.later())?;
        self.planned.heard = Arc::clone(self.advising.advices());
        Some(plan)
    }

    /// Whether what the plan asked for last rests on is otherwise by now.
    pub fn plan_is_behind(&self) -> bool {
        let Planned { asked: Some((was, ware)), heard, .. } = &self.planned else { return false };
        let is = &self.shop;
        let stands =
            |shop: &Shop| shop.open.iter().map(|one| (one.id, one.state)).collect::<Vec<_>>();
        let otherwise = !Arc::ptr_eq(ware, &self.planned.ware)
            || (&was.kilns, &was.load_types, &was.hours, &was.limits, &was.adopted)
                != (&is.kilns, &is.load_types, &is.hours, &is.limits, &is.adopted)
            || stands(was) != stands(is);
        let drop = |advices: &Advices, id: FiringId| {
            let advice = advices.iter().find(|(of, _)| *of == id)?;
            Some(advice.1.forecast.as_ref().ok()?.p50)
        };
        let moved =
            |one: &Firing| match (drop(heard, one.id), drop(self.advising.advices(), one.id)) {
                (Some(was), Some(is)) => (was - is).0.abs() > MOVED.0,
                (was, is) => was != is,
            };
        !self.planned.awaits() && (otherwise || is.open.iter().any(moved))
    }
}
