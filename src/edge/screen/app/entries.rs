//! The list of what was entered of a firing, from which one entry is corrected.

use super::{App, Context, Effect, Tone};
use crate::edge::screen::entry;
use crate::edge::screen::key::Key;
use crate::edge::screen::pick::{Pick, Picked};
use crate::edge::screen::view::{Entered, View};
use crate::edge::shop::store::Entries;
use crate::words::{self, Refusal};

impl App {
    /// Asks for the entries of the firing that is open, else of the one in the chosen kiln.
    pub(super) fn ask_entries(&mut self, context: &Context<'_>) -> Vec<Effect> {
        let opened = match &self.view {
            View::Ledger(ledger) => ledger.open.first().map(|firing| firing.past.firing),
            _ => None,
        };
        let kiln = self.kiln(context.scene);
        let firing = opened.or_else(|| kiln.and_then(|kiln| kiln.firing.or(kiln.unjudged)));
        if let Some(firing) = firing {
            return vec![Effect::ReadEntries(firing)];
        }
        let name = kiln.map_or("", |kiln| kiln.kiln.as_str());
        self.tell(Tone::Refused, words::refusal(Refusal::NothingIn, name));
        Vec::new()
    }

    pub(super) fn entries_read(&mut self, entries: Entries) {
        if entries.events.is_empty() {
            return self.tell(Tone::Refused, words::nothing_entered(&entries.kiln));
        }
        let ledger = match std::mem::take(&mut self.view) {
            View::Ledger(ledger) => Some(ledger),
            _ => None,
        };
        let entered = Entered { pick: Pick::default(), entries, ledger };
        self.view = View::Entries(Box::new(entered));
    }

    pub(super) fn entries_key(
        &mut self,
        mut entered: Box<Entered>,
        key: Key,
        context: &Context<'_>,
    ) -> Vec<Effect> {
        let lines = entered.lines(context.scene.now, &context.dial);
        let found = entered.pick.with_words(lines.into_iter());
        match entered.pick.press(key, found.len()) {
            Picked::Taken(place) => {
                let was = &entered.entries.events[found[place]];
                self.form = Some(entry::correct(&entered.entries, was, context));
                self.view = entered.ledger.map(View::Ledger).unwrap_or_default();
            }
            Picked::Left => self.view = entered.ledger.map(View::Ledger).unwrap_or_default(),
            Picked::Moved | Picked::Ignored => self.view = View::Entries(entered),
        }
        Vec::new()
    }
}
