//! The plan of the next days, made from a shop's journal.

use std::sync::Arc;

use super::clock::ahead;
use super::kept::prices_of;
use crate::cooling::USUAL_DRAW_BELOW;
use crate::edge::house_file::House;
use crate::edge::journal::{Journal, PAST_FIRINGS};
use crate::edge::shipped_schedules;
use crate::hours::{Hours, Open, People, Staffed, TimeOfDay, WeekDays};
use crate::plan::of_shop::{Known, OfShop, of_shop};
use crate::plan::tables::STEP_MIN;
use crate::plan::{DayPlan, FromShop};
use crate::scene::advices;
use crate::units::{Moment, Span};
use crate::words::{Zone, drawing_list};

/// When somebody is there where nobody said. Common practice, no source.
const USUAL_HOURS: Hours = Hours {
    days: WeekDays([true; 7]),
    open: Open { from: TimeOfDay(8 * 60), to: TimeOfDay(18 * 60), people: People(1) },
};

/// The plan of this shop, from a whole step of its grid on: asked again soon, the same shop has the same plan.
///
/// # Errors
/// When the shop cannot be read.
pub fn of(
    journal: &Journal,
    zone: Arc<dyn Zone + Send + Sync>,
    asked_at: Moment,
) -> anyhow::Result<DayPlan> {
    let step = Span::from_minutes(STEP_MIN);
    let now = Moment(asked_at.0 - asked_at.0.rem_euclid(step.0));
    let shop = journal.shop()?;
    let past = journal.past(PAST_FIRINGS)?;
    let ware = journal.ware(&shop, &*zone)?;
    // As the watch will say at the end of that step: every entry counts, and it stays the same until then.
    let advices = advices(&shop, &past, shipped_schedules::plan, now + step);
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
    let OfShop { tables, begun, was, taken } = of_shop(known, shipped_schedules::plan);
    let made = match was {
        Some(was) => DayPlan::gone_on(tables, was, now),
        None => DayPlan::searched(tables, &begun, now),
    };
    let drawing = drawing_list(&known, &made.tables, &made.plan);
    let barred = shop.adopted.as_ref().map(|(_, said)| said.barred.clone()).unwrap_or_default();
    Ok(DayPlan { shop: FromShop { barred, taken, drawing, limits: shop.limits }, asked_at, ..made })
}
