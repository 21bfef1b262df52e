//! Keys of the views beside the floor, and of the finder.

use super::{App, Context, Effect, Mouse, Tone};
use crate::edge::screen::entry;
use crate::edge::screen::key::{self, Key, Meaning};
use crate::edge::screen::pick::{Pick, Picked};
use crate::edge::screen::spots::Spot;
use crate::edge::screen::view::{Ledger, Schedules, ShopRow, View, shop_line, shop_rows};
use crate::firing::Firing;
use crate::scene::{FiringScene, PastFiring};
use crate::words::{self, Label};

/// The key that lights a kiln by the schedule that is open.
const LIGHT_BY_IT: [Key; 2] = [Key::Char('f'), Key::Enter];

impl App {
    /// The ledger as it was read.
    pub(super) fn ledger_read(&mut self, read: Result<Vec<PastFiring>, String>) {
        match (read, &mut self.view) {
            (Ok(rows), View::Ledger(ledger)) => ledger.take_rows(rows),
            (Ok(_), _) => {}
            (Err(why), _) => self.tell(Tone::Wrong, words::shop_unreadable(&why)),
        }
    }

    /// The firing that was asked for, as it was read.
    pub(super) fn firing_read(&mut self, read: Result<Box<Firing>, String>) {
        match (read, &mut self.view) {
            (Ok(firing), View::Ledger(ledger)) => ledger.open(FiringScene::of(&firing)),
            (Ok(_), _) => {}
            (Err(why), _) => self.tell(Tone::Wrong, words::shop_unreadable(&why)),
        }
    }

    /// Opens a view; what has to be read for it is asked for.
    pub(super) fn open_view(&mut self, meaning: Meaning) -> Vec<Effect> {
        self.far = false;
        match meaning {
            Meaning::Ledger => {
                self.view = View::Ledger(Ledger::default());
                vec![Effect::ReadLedger]
            }
            Meaning::Schedules => {
                self.view = View::Schedules(Schedules::default());
                Vec::new()
            }
            Meaning::Shop => {
                self.view = View::Shop(Pick::default());
                Vec::new()
            }
            _ => Vec::new(),
        }
    }

    /// The wheel moves as the arrows do. A click chooses a kiln, or takes a line of a list; no
    /// click confirms a form.
    pub(super) fn mouse(&mut self, mouse: Mouse, context: &Context<'_>) -> Vec<Effect> {
        match mouse {
            Mouse::WheelUp => self.key(Key::Up, context),
            Mouse::WheelDown => self.key(Key::Down, context),
            Mouse::Clicked(_) if self.form.is_some() || self.help => Vec::new(),
            Mouse::Clicked(Spot::Kiln(name)) => {
                self.chosen = Some(name);
                Vec::new()
            }
            Mouse::Clicked(Spot::Line(place)) => {
                let pick = match (&mut self.finder, &mut self.view) {
                    (Some(finder), _) => finder,
                    (None, View::Ledger(ledger)) => &mut ledger.pick,
                    (None, View::Schedules(schedules)) => &mut schedules.pick,
                    (None, View::Shop(pick)) => pick,
                    (None, View::Review(review)) => review.pick(),
                    (None, View::Floor) => return Vec::new(),
                };
                pick.at = place;
                self.key(Key::Enter, context)
            }
        }
    }

    /// A key while the finder is open.
    pub(super) fn finder_key(&mut self, key: Key, context: &Context<'_>) -> Vec<Effect> {
        let Some(finder) = self.finder.as_mut() else { return Vec::new() };
        let found = finder.with_letters(&key::phrases(self.rehearsal));
        let picked = match key {
            Key::Control('c') => Picked::Left,
            other => finder.press(other, found.len()),
        };
        match picked {
            Picked::Left => self.finder = None,
            Picked::Taken(place) => {
                self.finder = None;
                let bindings: Vec<_> = key::bindings(self.rehearsal).collect();
                return self.act(bindings[found[place]].meaning, context);
            }
            Picked::Moved | Picked::Ignored => {}
        }
        Vec::new()
    }

    /// A key while another view than the floor is open.
    pub(super) fn view_key(&mut self, key: Key, context: &Context<'_>) -> Vec<Effect> {
        self.message = None;
        // What no list can be filtered by keeps its meaning.
        let everywhere = matches!(key, Key::Control('c' | 'l' | 'z') | Key::Char('?' | '/'));
        if let Some(meaning) = key::meaning(key, self.rehearsal).filter(|_| everywhere) {
            return self.act(meaning, context);
        }
        match std::mem::take(&mut self.view) {
            View::Floor => Vec::new(),
            View::Ledger(ledger) => self.ledger_key(ledger, key, context),
            View::Schedules(schedules) => self.schedules_key(schedules, key, context),
            View::Shop(pick) => self.shop_key(pick, key, context),
            View::Review(review) => self.review_key(*review, key, context),
        }
    }

    fn ledger_key(&mut self, mut ledger: Ledger, key: Key, context: &Context<'_>) -> Vec<Effect> {
        let mut effects = Vec::new();
        if !ledger.lists() {
            match key {
                Key::Escape => {
                    if let Some(review) = ledger.review.take() {
                        self.view = View::Review(review);
                        return effects;
                    }
                    ledger.open.clear();
                }
                Key::Enter => ledger.comparing = true,
                _ => {}
            }
            self.view = View::Ledger(ledger);
            return effects;
        }
        if key == Key::Tab {
            ledger.sort_anew();
        }
        let found: Vec<_> =
            ledger.found(context.scene.now, &context.dial).iter().map(|past| past.firing).collect();
        match ledger.pick.press(key, found.len()) {
            Picked::Taken(place) => effects.push(Effect::ReadFiring(found[place])),
            Picked::Left if ledger.comparing => ledger.comparing = false,
            Picked::Left => return effects,
            Picked::Moved | Picked::Ignored => {}
        }
        self.view = View::Ledger(ledger);
        effects
    }

    fn schedules_key(
        &mut self,
        mut schedules: Schedules,
        key: Key,
        context: &Context<'_>,
    ) -> Vec<Effect> {
        let open = schedules.open.and_then(|place| context.schedules.get(place));
        if let Some(schedule) = open {
            match key {
                Key::Escape => schedules.open = None,
                key if LIGHT_BY_IT.contains(&key) => {
                    self.open(Meaning::Light, context);
                    if let Some(form) = &mut self.form {
                        form.choose(Label::Schedule, &schedule.name);
                        form.follow_schedule(context);
                    }
                }
                _ => {}
            }
            self.view = View::Schedules(schedules);
            return Vec::new();
        }
        let found = schedules.found(context.schedules);
        match schedules.pick.press(key, found.len()) {
            Picked::Taken(place) => schedules.open = Some(found[place]),
            Picked::Left => return Vec::new(),
            Picked::Moved | Picked::Ignored => {}
        }
        self.view = View::Schedules(schedules);
        Vec::new()
    }

    fn shop_key(&mut self, mut pick: Pick, key: Key, context: &Context<'_>) -> Vec<Effect> {
        let scene = context.scene;
        let rows = shop_rows(scene);
        let found = pick.with_words(rows.iter().map(|row| shop_line(*row, scene, &context.dial)));
        match pick.press(key, found.len()) {
            Picked::Left => return Vec::new(),
            Picked::Taken(place) => {
                let load = |name| scene.load_types.iter().find(|load| load.name == name);
                self.form = Some(match rows[found[place]] {
                    ShopRow::Kiln(name) => {
                        entry::shop::kiln(scene.kiln(name).map(|kiln| &kiln.described))
                    }
                    ShopRow::NewKiln => entry::shop::kiln(None),
                    ShopRow::LoadType(name) => entry::shop::load_type(load(name)),
                    ShopRow::NewLoadType => entry::shop::load_type(None),
                });
            }
            Picked::Moved | Picked::Ignored => {}
        }
        self.view = View::Shop(pick);
        Vec::new()
    }
}
