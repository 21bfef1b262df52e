//! The page of the plan.

use std::sync::Arc;

use super::{App, Context, Effect};
use crate::edge::screen::key::{Key, Meaning};
use crate::edge::screen::pick::Picked;
use crate::edge::screen::view::{PlanView, View};
use crate::edge::shop::day_plan::DayPlan;

impl App {
    pub(super) fn open_plan(&mut self) -> Vec<Effect> {
        self.far = false;
        if !self.takes_up(Meaning::Plan) {
            self.view = View::Plan(PlanView::default());
        }
        self.plan_anew()
    }

    /// Asks for the plan that is open once more: something was written.
    pub(super) fn plan_anew(&self) -> Vec<Effect> {
        if matches!(self.view, View::Plan(_)) { vec![Effect::Plan] } else { Vec::new() }
    }

    pub(super) fn plan_read(&mut self, day: Arc<DayPlan>) {
        if let View::Plan(view) = &mut self.view {
            view.day = Some(day);
        }
    }

    /// Nothing is typed here: letters have meanings.
    pub(super) fn plan_key(
        &mut self,
        mut view: PlanView,
        key: Key,
        context: &Context<'_>,
    ) -> Vec<Effect> {
        let lots = view.day.as_ref().map_or(0, |day| day.tables.instance.lots.len());
        let mut effects = Vec::new();
        match key {
            Key::Char('i') => {
                self.view = View::Plan(view);
                return self.act(Meaning::Ware, context);
            }
            Key::Char('r') => effects.push(Effect::Plan),
            Key::Char(_) => {
                self.view = View::Plan(view);
                return self.key_of_every_page(key, context);
            }
            Key::Escape | Key::Enter if view.why => view.why = false,
            other => match view.pick.press(other, lots) {
                Picked::Taken(_) => view.why = true,
                Picked::Left => return effects,
                Picked::Moved | Picked::Ignored => {}
            },
        }
        self.view = View::Plan(view);
        effects
    }
}
