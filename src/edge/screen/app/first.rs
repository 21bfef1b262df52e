//! The first minute of a new shop: its page is confirmed once, and everything on it is written.

use super::{App, Context, Effect, Tone};
use crate::edge::screen::entry;
use crate::edge::screen::form::Form;
use crate::edge::screen::key::{self, Meaning};
use crate::edge::screen::view::{ShopView, View};
use crate::edge::shop::store::{Entry, Kept};
use crate::words::{self, Title};

/// What the page of a new shop said.
#[derive(Debug, Clone, Default)]
pub(super) struct First {
    /// What is still to be written of it.
    queue: Vec<Entry>,
    /// The load that is fired first.
    fires: Option<String>,
}

impl App {
    /// Opens the page of a shop that has no kiln.
    pub(super) fn open_first(&mut self, context: &Context<'_>) -> Vec<Effect> {
        let mut dial = context.dial;
        if let Some((scale, clock)) = self.as_here {
            (dial.scale, dial.clock) = (scale, clock);
        }
        self.view = View::Shop(ShopView::default());
        self.form = Some(entry::first(context.scene, &dial));
        vec![Effect::ReadSettings]
    }

    /// First what the shop keeps, then entry after entry: each waits for the answer to the one
    /// before it.
    pub(super) fn confirm_first(&mut self, context: &Context<'_>) -> Vec<Effect> {
        let settings = self.view.settings().cloned();
        let Some(form) = self.form.as_mut() else { return Vec::new() };
        match form.first_shop(settings.as_ref(), context.scene) {
            Ok((becomes, entries)) => {
                (form.saving, form.problem) = (true, None);
                self.first.fires =
                    form.load_type(&context.scene.load_types).map(|load| load.name.clone());
                self.first.queue = entries;
                match settings.zip(becomes) {
                    Some((was, becomes)) => vec![Effect::Keep(Box::new(Kept { was, becomes }))],
                    None => self.go_on_with_first(context),
                }
            }
            Err(problem) => {
                form.problem = Some(problem.said());
                Vec::new()
            }
        }
    }

    /// Picks the load of the page while nothing was lit since.
    pub(super) fn fire_first(&mut self, form: &mut Form, context: &Context<'_>) {
        if form.title != Title::Light || !form.said("load_type").is_empty() {
            return;
        }
        let none_is_lit = context.scene.kilns.iter().all(|kiln| kiln.firing.is_none());
        self.first.fires = self.first.fires.take().filter(|_| none_is_lit);
        if let Some(load) = &self.first.fires {
            form.choose("load_type", load);
            form.follow(context);
        }
    }

    /// Whether the page is being written.
    pub(super) fn is_first(&self) -> bool {
        self.form.as_ref().is_some_and(|form| form.title == Title::First && form.saving)
    }

    /// Hands out the next entry of the page or, after the last one, leads to the floor.
    pub(super) fn go_on_with_first(&mut self, context: &Context<'_>) -> Vec<Effect> {
        if !self.is_first() {
            return Vec::new();
        }
        if !self.first.queue.is_empty() {
            let entry = self.first.queue.remove(0);
            return self.hand_out(entry, "", &context.dial);
        }
        (self.form, self.view) = (None, View::Floor);
        let label = |meaning| key::binding(meaning).label();
        let ready = words::ready_to_light(label(Meaning::Form(Title::Light)), label(Meaning::Shop));
        self.tell(Tone::Saved, ready);
        Vec::new()
    }
}
