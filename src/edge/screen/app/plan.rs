//! The page of the plan.

use std::sync::Arc;

use super::{App, Context, Effect, Tone};
use crate::edge::screen::key::{Key, Meaning};
use crate::edge::screen::pick::Picked;
use crate::edge::screen::view::{PlanView, View};
use crate::edge::shop::store::{About, Entry};
use crate::firing::What;
use crate::plan::DayPlan;
use crate::plan::adopted::Choice;
use crate::words;

/// The plan of the day as it was made last, where a page shows it.
pub type Made = Option<Arc<DayPlan>>;

impl App {
    pub(super) fn open_plan(&mut self) -> Vec<Effect> {
        self.far = false;
        if !self.takes_up(Meaning::Plan) {
            (self.view, self.day) = (View::Plan(PlanView::default()), None);
        }
        self.plan_anew()
    }

    /// The far view or back; from there the plan's next deed is told in a shop that has ware.
    pub(super) fn turn_far(&mut self, context: &Context<'_>) -> Vec<Effect> {
        (self.far, self.view, self.day) = (!self.far, View::Floor, None);
        let any = self.far && !context.scene.lots.is_empty();
        if any { vec![Effect::Plan] } else { Vec::new() }
    }

    /// Asks for the plan that is open once more: something was written.
    pub(super) fn plan_anew(&self) -> Vec<Effect> {
        if self.shows_plan() { vec![Effect::Plan] } else { Vec::new() }
    }

    pub fn shows_plan(&self) -> bool {
        matches!(self.view, View::Plan(_)) || self.far && self.day.is_some()
    }

    pub(super) fn plan_read(&mut self, day: Arc<DayPlan>) {
        self.day = Some(day);
    }

    /// Nothing is typed here: letters have meanings.
    pub(super) fn plan_key(
        &mut self,
        mut view: PlanView,
        key: Key,
        context: &Context<'_>,
    ) -> Vec<Effect> {
        let lots = self.day.as_ref().map_or(0, |day| day.tables.instance.lots.len());
        let mut effects = Vec::new();
        match key {
            Key::Char('i') => {
                self.view = View::Plan(view);
                return self.act(Meaning::Ware, context);
            }
            Key::Char('r') => effects.push(Effect::Plan),
            Key::Char('d') => view.drawing = !view.drawing,
            Key::Char(letter @ ('g' | 'k' | 'n' | 'o')) if lots > 0 => {
                let at = view.pick.at.min(lots - 1);
                let adopted = self.day.as_ref().and_then(|day| match letter {
                    'g' => Some(day.adopted()),
                    'k' => day.chosen(at, Choice::Keep),
                    'n' => day.chosen(at, Choice::LeaveOut),
                    _ => day.chosen(at, Choice::Elsewhere),
                });
                match adopted {
                    Some(adopted) => effects = self.go_by(What::Planned(adopted), context),
                    None => self.tell(Tone::Refused, words::NO_CHOICE.into()),
                }
            }
            Key::Char(_) => {
                self.view = View::Plan(view);
                return self.key_of_every_page(key, context);
            }
            Key::Escape | Key::Enter if view.why => view.why = false,
            Key::Escape | Key::Enter if view.drawing => view.drawing = false,
            other => match view.pick.press(other, lots) {
                Picked::Taken(_) => view.why = true,
                Picked::Left => return effects,
                Picked::Moved | Picked::Ignored => {}
            },
        }
        self.view = View::Plan(view);
        effects
    }

    /// Writes without a form: it is what stands on the page, it calls nobody, and it can be undone.
    fn go_by(&mut self, what: What, context: &Context<'_>) -> Vec<Effect> {
        let (about, at) = (About::Shop, context.scene.now);
        let (seen, corrects, then) = (None, None, Vec::new());
        self.hand_out(Entry { about, at, what, seen, corrects, then }, "", &context.dial)
    }
}
