//! Keys of the views beside the floor, and of the finder.

use super::{App, Context, Effect, Tone};
use crate::edge::screen::entry;
use crate::edge::screen::form::Form;
use crate::edge::screen::input::Mouse;
use crate::edge::screen::key::{self, Key, Meaning};
use crate::edge::screen::pick::Picked;
use crate::edge::screen::spots::Spot;
use crate::edge::screen::view::{BenchView, LedgerView, Schedules, ShopRow, ShopView, View};
use crate::edge::shop::store::{About, Settings};
use crate::firing::{Firing, FiringId, What};
use crate::scene::{FiringScene, PastFiring};
use crate::words::{self, Refusal, Title};

/// The key that lights a kiln by the schedule that is open.
const LIGHT_BY_IT: [Key; 2] = [Key::Char('f'), Key::Enter];

impl App {
    /// The ledger as it was read.
    pub(super) fn ledger_read(&mut self, rows: Vec<PastFiring>, context: &Context<'_>) {
        if let View::Ledger(ledger) = &mut self.view {
            ledger.take_rows(rows, context.scene.now, &context.dial);
        }
    }

    /// The firing that was asked for, as it was read.
    pub(super) fn firing_read(&mut self, firing: &Firing) {
        if let View::Ledger(ledger) = &mut self.view {
            ledger.open(FiringScene::of(firing));
        }
    }

    /// The settings as they were read.
    pub(super) fn settings_read(&mut self, settings: Settings) {
        if let View::Shop(shop) = &mut self.view {
            shop.settings = Some(Box::new(settings));
        }
    }

    /// Opens a view; what has to be read for it is asked for.
    pub(super) fn open_view(&mut self, meaning: Meaning) -> Vec<Effect> {
        self.far = false;
        if self.takes_up(meaning) {
            return Vec::new();
        }
        let effects;
        (self.view, effects) = match meaning {
            Meaning::Ledger => (View::Ledger(LedgerView::default()), vec![Effect::ReadLedger]),
            Meaning::Schedules => (View::Schedules(Schedules::default()), Vec::new()),
            Meaning::Bench => (View::Bench(BenchView::default()), Vec::new()),
            Meaning::Shop => (View::Shop(ShopView::default()), vec![Effect::ReadSettings]),
            _ => return Vec::new(),
        };
        effects
    }

    /// The wheel moves as the arrows do. A click chooses a kiln, takes a line of a list, presses the
    /// key it points at, or picks in a form; no click confirms a form.
    pub(super) fn mouse(&mut self, mouse: Mouse, context: &Context<'_>) -> Vec<Effect> {
        match mouse {
            Mouse::WheelUp => self.key(Key::Up, context),
            Mouse::WheelDown => self.key(Key::Down, context),
            Mouse::Clicked(spot) if self.form.is_some() => {
                let Some(form) = self.form.as_mut() else { return Vec::new() };
                match spot {
                    Spot::Field(field) => form.point_at(field, None),
                    Spot::Choice(field, option) => {
                        form.point_at(field, Some(option));
                        form.follow(context);
                    }
                    _ => {}
                }
                Vec::new()
            }
            Mouse::Clicked(Spot::Action(meaning)) => {
                self.help = None;
                self.message = None;
                self.act(meaning, context)
            }
            Mouse::Clicked(_) if self.help.is_some() => Vec::new(),
            Mouse::Clicked(Spot::Back) => self.key(Key::Escape, context),
            Mouse::Clicked(Spot::Field(_) | Spot::Choice(..)) => Vec::new(),
            Mouse::Clicked(Spot::Kiln(name)) => {
                self.choose_kiln(&name, context.scene);
                Vec::new()
            }
            Mouse::Clicked(Spot::Line(place)) => {
                if let (None, View::Bench(bench)) = (&self.finder, &mut self.view) {
                    let mould = context.scene.bench.moulds.get(place);
                    bench.at = mould.map(|mould| mould.mould.code.clone());
                    return Vec::new();
                }
                let pick = match (&mut self.finder, &mut self.view) {
                    (Some(finder), _) => finder,
                    (None, View::Ledger(ledger)) => &mut ledger.pick,
                    (None, View::Schedules(schedules)) => &mut schedules.pick,
                    (None, View::Shop(shop)) => &mut shop.pick,
                    (None, View::Review(review)) => review.pick(),
                    (None, View::Entries(entered)) => &mut entered.pick,
                    (None, View::Plan(view)) => &mut view.pick,
                    (None, View::Floor | View::Bench(_)) => return Vec::new(),
                };
                pick.at = place;
                self.key(Key::Enter, context)
            }
        }
    }

    /// A key while the finder is open.
    pub(super) fn finder_key(&mut self, key: Key, context: &Context<'_>) -> Vec<Effect> {
        let Some(finder) = self.finder.as_mut() else { return Vec::new() };
        let lines = words::finder_lines(&key::phrases(self.rehearsal), context.scene);
        let found = finder.with_letters(&lines);
        let picked = match key {
            Key::Control('c') => Picked::Left,
            other => finder.press(other, found.len()),
        };
        match picked {
            Picked::Left => self.finder = None,
            Picked::Taken(place) => {
                self.finder = None;
                let bindings: Vec<_> = key::bindings(self.rehearsal).collect();
                let taken = found[place];
                if let Some(binding) = bindings.get(taken) {
                    return self.act(binding.meaning, context);
                }
                // Below the actions stand the kilns.
                let kiln = context
                    .scene
                    .names()
                    .get(taken - bindings.len())
                    .map(|name| (*name).to_owned());
                self.view = View::Floor;
                if let Some(kiln) = kiln {
                    self.choose_kiln(&kiln, context.scene);
                }
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
            View::Ledger(ledger) => self.ledger_key(ledger, key),
            View::Schedules(schedules) => self.schedules_key(schedules, key, context),
            View::Shop(shop) => self.shop_key(shop, key, context),
            View::Review(review) => self.review_key(*review, key, context),
            View::Bench(bench) => self.bench_key(bench, key, context),
            View::Entries(entered) => self.entries_key(entered, key, context),
            View::Plan(view) => self.plan_key(view, key, context),
        }
    }

    fn ledger_key(&mut self, mut ledger: LedgerView, key: Key) -> Vec<Effect> {
        let mut effects = Vec::new();
        if !ledger.lists() {
            let first = ledger.open.first().map(|firing| firing.past.clone());
            match key {
                Key::Escape => {
                    if let Some(review) = ledger.review.take() {
                        self.view = View::Review(review);
                        return effects;
                    }
                    ledger.open.clear();
                }
                Key::Enter => ledger.comparing = true,
                Key::Char('w') => {
                    effects.extend(first.map(|past| Effect::ReadEntries(past.firing)));
                }
                Key::Char('m') => {
                    effects.extend(first.map(|past| Effect::ReadNearest(past.firing)));
                }
                Key::Char('c') => self.form = first.map(|past| entry::card(&past)),
                Key::Char('s') => self.form = first.map(|past| entry::repeat(&past)),
                _ => {}
            }
            self.view = View::Ledger(ledger);
            return effects;
        }
        if key == Key::Tab {
            ledger.sort_anew();
        }
        let found: Vec<_> = ledger.found().iter().map(|past| past.firing).collect();
        match ledger.pick.press(key, found.len()) {
            // A line between the firings says all there is.
            Picked::Taken(place) if found[place] == FiringId::SHOP => {}
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
        if let Some(open) = schedules.opened(context.schedules) {
            let usable = open.found.is_ok().then(|| open.reference.clone());
            match (key, usable) {
                (Key::Escape, _) => schedules.open = None,
                (Key::Down | Key::Tab, _) => schedules.page += 1,
                (Key::Up | Key::BackTab, _) => schedules.page = schedules.page.saturating_sub(1),
                (key, Some(reference)) if LIGHT_BY_IT.contains(&key) => {
                    self.open(Meaning::Form(Title::Light), context);
                    if let Some(form) = &mut self.form {
                        form.choose("schedule", &reference);
                        form.follow(context);
                    }
                }
                _ => {}
            }
            self.view = View::Schedules(schedules);
            return Vec::new();
        }
        let found = schedules.found(context.schedules);
        match schedules.pick.press(key, found.len()) {
            Picked::Taken(place) => {
                schedules.open = Some(context.schedules[found[place]].reference.clone());
                schedules.page = 0;
            }
            Picked::Left => return Vec::new(),
            Picked::Moved | Picked::Ignored => {}
        }
        self.view = View::Schedules(schedules);
        Vec::new()
    }

    fn shop_key(&mut self, mut shop: ShopView, key: Key, context: &Context<'_>) -> Vec<Effect> {
        let found = shop.found(context.scene, &context.dial).len();
        match shop.pick.press(key, found) {
            Picked::Left => return Vec::new(),
            Picked::Taken(place) => match shop_form(&shop, place, context) {
                Ok(form) => self.form = Some(form),
                Err(why) => self.tell(Tone::Wrong, why),
            },
            Picked::Moved | Picked::Ignored => {}
        }
        self.view = View::Shop(shop);
        Vec::new()
    }
}

/// The form behind a line of the shop, or why it cannot be opened.
fn shop_form(shop: &ShopView, place: usize, context: &Context<'_>) -> Result<Form, String> {
    let scene = context.scene;
    let load = |name: &str| scene.load_types.iter().find(|load| load.name == name).cloned();
    let kiln = |name: &str| scene.kiln(name).map(|kiln| kiln.described.clone());
    let gone = || words::refusal(Refusal::SettingsGarbled, "");
    let row = *shop.found(scene, &context.dial).get(place).ok_or_else(gone)?;
    let settings = shop.settings.as_ref().ok_or_else(gone);
    let house =
        || settings.clone().and_then(|settings| settings.house.as_ref().map_err(String::clone));
    let bell =
        || settings.clone().and_then(|settings| settings.bell.as_ref().map_err(String::clone));
    Ok(match row {
        ShopRow::Kiln(name) => entry::described(Title::Kiln, kiln(name).map(What::KilnSet)),
        ShopRow::LoadType(name) => {
            entry::described(Title::LoadType, load(name).map(What::LoadTypeSet))
        }
        ShopRow::Hours(place) => {
            let hours = scene.hours.spans().get(place).copied();
            entry::described(Title::Hours, hours.map(What::Hours))
        }
        ShopRow::Begins(title @ (Title::Rename | Title::Retire)) => {
            entry::of_kiln(title, scene.names())
        }
        ShopRow::Begins(title @ Title::BringBack) => {
            entry::of_kiln(title, scene.retired.iter().map(|kiln| &*kiln.name).collect())
        }
        ShopRow::Begins(Title::Person) => entry::settings::person(None),
        ShopRow::Begins(Title::Resting) => entry::settings::resting(None, scene),
        ShopRow::Begins(title) => entry::described(title, None),
        ShopRow::Closed(place) => {
            let (event, closed) = scene.hours.closed.get(place).ok_or_else(gone)?;
            entry::strike(Some(("", About::Shop, *event, &words::closed_line(closed))))
        }
        ShopRow::Limits => entry::limits(scene.limits),
        ShopRow::House => entry::settings::house(house()?, &context.dial),
        ShopRow::Bell => entry::settings::bell(bell()?),
        ShopRow::Way(way) => entry::settings::way(way, bell()?),
        ShopRow::Person(place) => {
            entry::settings::person(bell()?.people.get(place).map(|person| (place, person)))
        }
        ShopRow::Resting(place) => {
            let out = bell()?.out_of_service.get(place).map(|out| (place, out));
            entry::settings::resting(out, scene)
        }
        ShopRow::Garbled(why) => return Err(words::put_right_first(why)),
    })
}
