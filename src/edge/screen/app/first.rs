//! The first minute of a new shop: its page is confirmed once, and everything on it is written.

use super::{App, Context, Effect, Tone};
use crate::edge::screen::entry::{self, Problem};
use crate::edge::screen::key::{self, Meaning};
use crate::edge::screen::view::{ShopView, View};
use crate::edge::shop::store::Kept;
use crate::words::{self, Title};

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
                self.queue = entries;
                match settings.zip(becomes) {
                    Some((was, becomes)) => vec![Effect::Keep(Box::new(Kept { was, becomes }))],
                    None => self.go_on_with_first(context),
                }
            }
            Err(Problem::Wrong(text) | Problem::Unusual(text)) => {
                form.problem = Some(text);
                Vec::new()
            }
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
        if !self.queue.is_empty() {
            let entry = self.queue.remove(0);
            return self.hand_out(entry, "", &context.dial);
        }
        (self.form, self.view) = (None, View::Floor);
        let label = |meaning| key::binding(meaning).label();
        let ready = words::ready_to_light(label(Meaning::Light), label(Meaning::Shop));
        self.tell(Tone::Saved, ready);
        Vec::new()
    }
}
