//! The plan of the next days, made from a shop's journal.

use std::fmt;
use std::sync::Arc;

use super::clock::ahead;
use super::kept::prices_of;
use crate::cooling::USUAL_DRAW_BELOW;
use crate::edge::house_file::House;
use crate::edge::journal::{Journal, PAST_FIRINGS};
use crate::edge::shipped_schedules;
use crate::hours::{Hours, Open, People, Staffed, TimeOfDay, WeekDays};
use crate::plan::of_shop::{Known, OfShop, Taken, of_shop};
use crate::plan::search::{Effort, search};
use crate::plan::tables::STEP_MIN;
use crate::plan::{Plan, Tables};
use crate::scene::advices;
use crate::units::{Moment, Span};
use crate::words::{Dial, PlanTold, Zone};

/// When somebody is there where nobody said. Common practice, no source.
const USUAL_HOURS: Hours = Hours {
    days: WeekDays([true; 7]),
    open: Open { from: TimeOfDay(8 * 60), to: TimeOfDay(18 * 60), people: People(1) },
};

/// A plan with what it was made from.
pub struct DayPlan {
    pub tables: Tables,
    pub plan: Plan,
    pub numbers: Vec<usize>,
    pub taken: Vec<Taken>,
    pub tried: u32,
    pub made_at: Moment,
}

impl fmt::Debug for DayPlan {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("DayPlan").field("plan", &self.plan).finish_non_exhaustive()
    }
}

impl DayPlan {
    /// The plan of this shop, from a whole step of its grid on: asked again soon, the same shop has the same plan.
    ///
    /// # Errors
    /// When the shop cannot be read.
    pub fn of(
        journal: &Journal,
        zone: Arc<dyn Zone + Send + Sync>,
        now: Moment,
    ) -> anyhow::Result<DayPlan> {
        let now = Moment(now.0 - now.0.rem_euclid(Span::from_minutes(STEP_MIN).0));
        let shop = journal.shop()?;
        let past = journal.past(PAST_FIRINGS)?;
        let ware = journal.ware(&shop)?;
        let advices = advices(&shop, &past, shipped_schedules::plan, now);
        let mut hours = shop.hours.clone();
        if hours.is_unknown() {
            hours.set(USUAL_HOURS);
        }
        let known = Known {
            shop: &shop,
            past: &past,
            advices: &advices,
            ware: &ware,
            prices: &prices_of(journal, ahead(now, &*zone))?,
            draw_below: House::or_usual(journal.path()).draw_below.unwrap_or(USUAL_DRAW_BELOW),
            staffed: &Staffed { hours, zone },
            now,
        };
        let OfShop { tables, begun, taken } = of_shop(known, shipped_schedules::plan);
        Ok(DayPlan { taken, ..DayPlan::searched(tables, &begun, now) })
    }

    /// The plan that goes on from what is begun.
    pub fn searched(tables: Tables, begun: &Plan, made_at: Moment) -> DayPlan {
        let found = search(&tables, begun, Effort::usual(tables.instance.lots.len()));
        let numbers = (1..=found.plan.firings.len()).collect();
        let (plan, tried) = (found.plan, found.tried);
        DayPlan { tables, plan, numbers, taken: Vec::new(), tried, made_at }
    }

    /// The same, to speak of it.
    pub fn told<'a>(&'a self, dial: &'a Dial<'a>) -> PlanTold<'a> {
        let DayPlan { tables, plan, numbers, made_at, .. } = self;
        PlanTold { tables, plan, numbers, made_at: *made_at, dial }
    }
}
