//! What was entered: the list from which one entry is corrected, and what is struck.

use super::{App, Context, Effect, Tone};
use crate::edge::screen::entry;
use crate::edge::screen::form::Form;
use crate::edge::screen::key::Key;
use crate::edge::screen::pick::{Pick, Picked};
use crate::edge::screen::view::{EntriesView, View};
use crate::edge::shop::store::{About, Entries, Record};
use crate::scene::{Doubted, KilnScene, Scene};
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
        let entered = EntriesView { pick: Pick::default(), entries, ledger };
        self.view = View::Entries(Box::new(entered));
    }

    /// The form that is open of this firing goes by what it is held against.
    pub(super) fn record_read(&mut self, record: Box<Record>) {
        let of = |form: &&mut Form| form.about == About::Firing(record.firing.id);
        if let Some(form) = self.form.as_mut().filter(of) {
            form.record = Some(record);
        }
    }

    /// The form that is to strike an entry knows now what it says.
    pub(super) fn entry_read(&mut self, read: Result<Box<Entries>, String>, context: &Context<'_>) {
        let Some(form) = &mut self.form else { return };
        match read {
            Ok(read) => form.strikes.extend(read.events.iter().map(|event| {
                let said = words::entry_line(event, &read.kiln, context.scene.now, &context.dial);
                (event.id, said)
            })),
            Err(why) => form.problem = Some(why),
        }
    }

    pub(super) fn entries_key(
        &mut self,
        mut entered: Box<EntriesView>,
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

    /// A look in doubt is struck first, since the headline asks for it; else what was saved last.
    pub(super) fn open_strike_here(&mut self, context: &Context<'_>) {
        let scene = context.scene;
        if let Some((kiln, doubted)) = self.doubted_here(scene) {
            self.form = entry::strike_look(kiln, scene.now, &doubted, &context.dial).ok();
        } else {
            self.open_strike();
        }
    }

    /// A look in doubt at the kiln the headline is about, whose sentence names the key, unless something was
    /// saved at another kiln since; else at the one that was chosen.
    pub(super) fn doubted_here<'s>(&self, scene: &'s Scene) -> Option<(&'s KilnScene, Doubted)> {
        let at = |kiln: &'s KilnScene| Some((kiln, kiln.doubted?));
        let last = self.saved.last();
        let stands = |(kiln, doubted): &(&KilnScene, Doubted)| {
            last.is_none_or(|last| last.kiln == kiln.kiln || last.id <= doubted.last_event())
        };
        let first = scene.kilns.first().and_then(at).filter(stands);
        first.or_else(|| self.kiln(scene).and_then(at))
    }

    pub(super) fn open_strike(&mut self) {
        let last = self.saved.last();
        let last = last.map(|last| (last.kiln.as_str(), last.about, last.id, last.phrase.as_str()));
        self.form = Some(entry::strike(last));
    }
}
