//! Keys of the casting bench: one for each deed, then Enter.

use super::{App, Context, Effect, Tone};
use crate::casting::{Found, What as Bench};
use crate::edge::screen::entry;
use crate::edge::screen::key::{self, Key, Meaning};
use crate::edge::screen::view::{BenchView, View};
use crate::firing::What;
use crate::words::{self, Title};

/// What a key notes of the mould somebody is at.
fn deed(key: Key) -> Option<(Title, Option<Found>)> {
    let Key::Char(letter) = key else { return None };
    let letter = letter.to_ascii_lowercase().to_string();
    key::BENCH.iter().find(|(label, ..)| *label == letter).and_then(|(_, deed, ..)| *deed)
}

impl App {
    pub(super) fn bench_key(
        &mut self,
        mut view: BenchView,
        key: Key,
        context: &Context<'_>,
    ) -> Vec<Effect> {
        let bench = &context.scene.bench;
        match key {
            Key::Escape if view.casts.is_none() => return Vec::new(),
            Key::Escape => view.casts = None,
            Key::Down if view.casts.is_some() => view.casts = view.casts.map(|from| from + 1),
            Key::Up if view.casts.is_some() => {
                view.casts = view.casts.map(|from| from.saturating_sub(1));
            }
            Key::Down | Key::Tab => view.go(bench, 1),
            Key::Up | Key::BackTab => view.go(bench, -1),
            Key::Char('m' | 'M') => self.form = Some(entry::described(Title::Mould, None)),
            Key::Char('r' | 'R') => self.form = Some(entry::described(Title::Room, None)),
            Key::Char('e' | 'E') => {
                let known = view.mould(bench).map(|here| Bench::Mould(here.mould.clone()));
                self.form =
                    known.map(|known| entry::described(Title::Mould, Some(What::Bench(known))));
            }
            Key::Enter => view.casts = view.mould(bench).and(Some(0)),
            _ => match (deed(key), view.mould(bench)) {
                (Some((title, found)), Some(here)) => {
                    view.at = Some(here.mould.code.clone());
                    self.form = Some(entry::cast(title, here, found, context));
                }
                (Some(_), None) => self.tell(Tone::Refused, words::NO_MOULDS_YET.into()),
                (None, _) => {
                    self.view = View::Bench(view);
                    return self.key_of_every_page(key, context);
                }
            },
        }
        self.view = View::Bench(view);
        Vec::new()
    }

    /// Keys that mean the same on a page without a field to type in as on the floor.
    pub(super) fn key_of_every_page(&mut self, key: Key, context: &Context<'_>) -> Vec<Effect> {
        let rings = context.scene.ringing().zip(context.scene.due());
        let meaning = key::meaning(key, self.rehearsal);
        match meaning.filter(|meaning| key::EVERY_PAGE.contains(meaning)) {
            // What rings is answered here where the first line names it.
            Some(Meaning::Acknowledge)
                if rings.is_some_and(|(alarm, due)| alarm.kiln != due.kiln) =>
            {
                self.tell(Tone::Refused, words::RINGS_ELSEWHERE.into());
                Vec::new()
            }
            Some(meaning) => self.act(meaning, context),
            None => Vec::new(),
        }
    }

    /// After something was noted of a mould, the next one of the list as it was shown is at hand.
    pub(super) fn next_mould(&mut self, noted: &What, context: &Context<'_>) {
        let of_a_cast = matches!(noted, What::Bench(what) if !matches!(what, Bench::Room { .. } | Bench::Mould(_) | Bench::Renamed { .. }));
        if let (View::Bench(view), true) = (&mut self.view, of_a_cast) {
            view.go(&context.scene.bench, 1);
        }
    }
}
