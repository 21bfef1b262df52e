//! A plan that is made, with what it was made from; and the same in the shop's own names, to be gone by.

use super::adopted::{Adopted, Choice, LotOf, Said};
use super::again::{Since, Was, again};
use super::limits::HouseLimits;
use super::of_shop::Taken;
use super::search::{Effort, Found, search};
use super::{Firing, Held, Plan, State, Tables};
use crate::units::{Moment, Span};

/// A plan with what it was made from.
#[derive(Debug)]
pub struct DayPlan {
    pub tables: Tables,
    pub plan: Plan,
    /// What became of the plan before, if there was one.
    pub since: Option<Since>,
    pub shop: FromShop,
    pub tried: u32,
    /// The moment it is reckoned from.
    pub made_at: Moment,
    /// When it was asked for.
    pub asked_at: Moment,
}

/// What only a plan from a shop's journal has: what somebody chose to leave out, what was taken as usual, what
/// is to be drawn, judged and put away, from so many minutes on or at once, and what the plan keeps to.
#[derive(Debug, Default)]
pub struct FromShop {
    pub barred: Vec<LotOf>,
    pub taken: Vec<Taken>,
    pub drawing: Vec<(Option<f64>, String)>,
    pub limits: HouseLimits,
}

impl DayPlan {
    /// The plan that goes on from what is begun.
    pub fn searched(tables: Tables, begun: &Plan, made_at: Moment) -> DayPlan {
        let effort = Effort::usual(tables.instance.lots.len());
        let Found { mut plan, tried } = search(&tables, begun, effort);
        (1..).zip(&mut plan.firings).for_each(|(number, firing)| firing.number = number);
        let (since, shop, asked_at) = (None, FromShop::default(), made_at);
        DayPlan { tables, plan, since, shop, tried, made_at, asked_at }
    }

    /// The plan that goes on from one said before.
    pub fn gone_on(tables: Tables, was: Was, made_at: Moment) -> DayPlan {
        let (Found { mut plan, tried }, since) = again(&tables, was);
        let gone = since.was.gone.iter().map(|gone| gone.firing);
        let last = since.was.plan.firings.iter().map(|firing| firing.number).chain(gone).max();
        let new = plan.firings.iter_mut().filter(|firing| firing.was.is_none());
        (last.unwrap_or(0) + 1..).zip(new).for_each(|(number, firing)| firing.number = number);
        let (since, shop, asked_at) = (Some(since), FromShop::default(), made_at);
        DayPlan { tables, plan, since, shop, tried, made_at, asked_at }
    }

    /// The same in the shop's own names, to be gone by.
    pub fn adopted(&self) -> Adopted {
        let moment = |minute: f64| self.made_at + Span::from_minutes(minute);
        let names = &self.tables.names;
        let named = |lot: usize| Some(names[lot].clone()).filter(|name| !name.is_empty());
        let said = |(at, firing): (usize, &Firing)| Said {
            kiln: self.tables.instance.kiln_of(firing.way).name.clone(),
            load_type: self.tables.instance.load_type(firing.way).name.clone(),
            lots: self.plan.lots_in(at).filter_map(named).collect(),
            light: moment(firing.light),
            pack: moment(if firing.pack.is_nan() { firing.light } else { firing.pack }),
            draw: moment(firing.draw),
            kept: firing.held == Held::Whole,
        };
        let firings = self.plan.firings.iter().enumerate();
        let waits = (0..names.len()).filter(|lot| self.plan.firing_of(*lot).is_none());
        Adopted {
            firings: firings.filter(|(_, one)| one.state != State::Lit).map(said).collect(),
            waiting: waits.map(|lot| self.tables.said(lot)).collect(),
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
        adopted.choose(choice, self.tables.said(lot));
        can.then_some(adopted)
    }
}
