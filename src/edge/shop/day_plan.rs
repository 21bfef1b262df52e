//! The plan of the next days, made from a shop's journal.

use std::sync::Arc;

use super::clock::ahead;
use super::kept::prices_of;
use crate::cooling::USUAL_DRAW_BELOW;
use crate::edge::house_file::House;
use crate::edge::journal::{Journal, PAST_FIRINGS};
use crate::edge::shipped_schedules;
use crate::hours::{Hours, Open, People, Staffed, TimeOfDay, WeekDays};
use crate::plan::adopted::{Adopted, Choice, LotOf, Names, Said};
use crate::plan::again::{Again, Since, Was, again};
use crate::plan::of_shop::{Known, OfShop, Taken, of_shop};
use crate::plan::search::{Effort, search};
use crate::plan::tables::STEP_MIN;
use crate::plan::{Firing, Held, Judged, Plan, State, Tables};
use crate::scene::advices;
use crate::units::{Moment, Span};
use crate::words::{Dial, Errand, PlanTold, Zone, errands};

/// When somebody is there where nobody said. Common practice, no source.
const USUAL_HOURS: Hours = Hours {
    days: WeekDays([true; 7]),
    open: Open { from: TimeOfDay(8 * 60), to: TimeOfDay(18 * 60), people: People(1) },
};

/// A plan with what it was made from.
#[derive(Debug)]
pub struct DayPlan {
    pub tables: Tables,
    pub plan: Plan,
    pub numbers: Vec<usize>,
    /// What became of the plan before, if there was one.
    pub since: Option<Since>,
    pub shop: FromShop,
    pub tried: u32,
    /// The moment it is reckoned from.
    pub made_at: Moment,
    /// When it was asked for.
    pub asked_at: Moment,
}

/// What only a plan from a shop's journal has: what each lot is called there, what somebody chose to leave out,
/// what was taken as usual, and what is to be drawn, judged and put away.
#[derive(Debug, Default)]
pub struct FromShop {
    pub names: Vec<String>,
    pub barred: Vec<LotOf>,
    pub taken: Vec<Taken>,
    pub errands: Vec<Errand>,
}

impl DayPlan {
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
        let OfShop { tables, names, begun, was, taken } = of_shop(known, shipped_schedules::plan);
        let made = match was {
            Some(was) => DayPlan::gone_on(tables, was, now),
            None => DayPlan::searched(tables, &begun, now),
        };
        let errands = errands(&known, &made.tables, &made.plan);
        let barred = shop.adopted.as_ref().map(|(_, said)| said.barred.clone()).unwrap_or_default();
        Ok(DayPlan { shop: FromShop { names, barred, taken, errands }, asked_at, ..made })
    }

    /// The plan that goes on from what is begun.
    pub fn searched(tables: Tables, begun: &Plan, made_at: Moment) -> DayPlan {
        let found = search(&tables, begun, Effort::usual(tables.instance.lots.len()));
        let numbers = (1..=found.plan.firings.len()).collect();
        let (plan, tried, since) = (found.plan, found.tried, None);
        let (shop, asked_at) = (FromShop::default(), made_at);
        DayPlan { tables, plan, numbers, since, shop, tried, made_at, asked_at }
    }

    /// The plan that goes on from one said before.
    pub fn gone_on(tables: Tables, was: Was, made_at: Moment) -> DayPlan {
        let Again { holds, plan, changed, tried } = again(&tables, &was);
        let gone = was.gone.iter().map(|gone| gone.firing);
        let mut next = was.numbers.iter().copied().chain(gone).max().unwrap_or(0);
        let number = |was_at: Option<usize>| {
            was_at.map(|at| was.numbers[at]).unwrap_or_else(|| {
                next += 1;
                next
            })
        };
        let numbers: Vec<usize> =
            plan.firings.iter().map(|firing| firing.was).map(number).collect();
        let broken = !Judged::of(&tables, &plan).broken.is_empty();
        let holds = (holds || !broken && changed.is_empty()) && was.gone.is_empty();
        let since = Some(Since { was, holds, changed });
        let (shop, asked_at) = (FromShop::default(), made_at);
        DayPlan { tables, plan, numbers, since, shop, tried, made_at, asked_at }
    }

    fn names(&self) -> Names<'_> {
        Names { tables: &self.tables, lots: &self.shop.names }
    }

    /// The same in the shop's own names, to be gone by.
    pub fn adopted(&self) -> Adopted {
        let moment = |minute: f64| self.made_at + Span::from_minutes(minute);
        let named = |lot: usize| Some(self.shop.names[lot].clone()).filter(|name| !name.is_empty());
        let said = |(at, firing): (usize, &Firing)| {
            let way = &self.tables.instance.ways[firing.way];
            Said {
                kiln: self.tables.instance.kilns[way.kiln].name.clone(),
                load_type: self.tables.instance.load_types[way.load_type].name.clone(),
                lots: self.plan.lots_in(at).filter_map(named).collect(),
                light: moment(firing.light),
                pack: moment(if firing.pack.is_nan() { firing.light } else { firing.pack }),
                draw: moment(firing.draw),
                kept: firing.held == Held::Whole,
            }
        };
        let firings = self.plan.firings.iter().enumerate();
        let waits = (0..self.shop.names.len()).filter(|lot| self.plan.firing_of(*lot).is_none());
        Adopted {
            firings: firings.filter(|(_, one)| one.state != State::Lit).map(said).collect(),
            waiting: waits.map(|lot| self.names().of(lot)).collect(),
            barred: self.shop.barred.clone(),
        }
    }

    /// The same with what somebody chose of a lot; nothing where it is in a kiln already, or cannot be chosen
    /// of what waits.
    pub fn chosen(&self, lot: usize, choice: Choice) -> Option<Adopted> {
        let state = self.plan.firing_of(lot).map(|at| self.plan.firings[at].state);
        let can = match state {
            None => choice == Choice::LeaveOut,
            Some(state) => matches!(state, State::Planned | State::Packing),
        };
        let mut adopted = self.adopted();
        adopted.choose(choice, self.names().of(lot));
        can.then_some(adopted)
    }

    /// The same, to speak of it.
    pub fn told<'a>(&'a self, dial: &'a Dial<'a>) -> PlanTold<'a> {
        let DayPlan { tables, plan, numbers, shop, .. } = self;
        let (made_at, asked_at) = (self.made_at, self.asked_at);
        let (since, errands) = (self.since.as_ref(), &shop.errands);
        PlanTold { tables, plan, numbers, made_at, asked_at, since, errands, dial }
    }
}
