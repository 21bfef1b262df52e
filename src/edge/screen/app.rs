//! What the screen remembers, and what a key does to it. Nothing here draws or writes: effects
//! are handed to the driver as plain data.

mod bench;
mod due;
mod entries;
mod first;
mod plan;
mod review;
mod views;

use super::entry::{self, Problem};
use super::form::{Form, Pressed};
use super::input::{Context, Effect, Input};
use super::key::{self, Key, Meaning};
use super::pick::Pick;
use super::unwritten::Unwritten;
use super::view::View;
use crate::edge::bell::log::Of;
use crate::edge::shop::steps;
use crate::edge::shop::store::{About, Entry, Kept, Settings};
use crate::firing::{EventId, FiringId, What};
use crate::scene::{KilnScene, Scene};
use crate::units::{Scale, Span};
use crate::watch::task::Task;
use crate::words::{self, Clock, Dial, Refusal, Title};
pub use due::DueForm;
use due::{Aside, MEANT_FOR_ANOTHER, Named};

/// A key that is held repeats within this, also at the first time: whoever reads a question takes longer.
const A_KEY_REPEATS: Span = Span::seconds(1);

/// The kind of a message, which decides how loud it looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tone {
    Saved,
    Refused,
    Wrong,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Message {
    pub tone: Tone,
    pub text: String,
}

/// An entry saved from this screen, which can still be struck.
#[derive(Debug, Clone)]
struct Saved {
    id: EventId,
    about: About,
    kiln: String,
    phrase: String,
}

/// A kiln somebody chose.
#[derive(Debug, Clone)]
struct Chosen {
    kiln: String,
    /// The kiln at which somebody was wanted then: the choice holds beside that one.
    beside: Option<String>,
}

/// The state of the screen.
#[derive(Debug, Clone, Default)]
pub struct App {
    /// The kiln somebody chose; the most urgent one while nobody did.
    chosen: Option<Chosen>,
    named: Named,
    /// The kiln and the task that the floor came up for last.
    due: Option<(String, Task)>,
    /// What made way for a kiln that is due, the last at the end; and since when the last one has.
    aside: Vec<Aside>,
    gave_way: Option<Span>,
    pub far: bool,
    pub day: plan::Made,
    /// The chosen kiln fills the floor.
    pub alone: bool,
    /// The page of the list of keys that is open, counted on over its end.
    pub help: Option<usize>,
    pub view: View,
    pub finder: Option<Pick>,
    pub form: Option<Form>,
    pub message: Option<Message>,
    pub rehearsal: bool,
    saved: Vec<Saved>,
    /// The entry handed to the shop, until it answers, and those that follow it.
    pending: Option<Pending>,
    first: first::First,
    /// The scale and clock that are usual in this country, where that is known.
    as_here: Option<(Scale, Clock)>,
}

/// What a confirmed form stands for.
enum Confirmed {
    Entry(Box<Entry>),
    Kept(Box<Kept>),
}

/// An entry on its way into the shop.
#[derive(Debug, Clone)]
struct Pending {
    entry: Entry,
    kiln: String,
    phrase: String,
}

impl App {
    /// The screen of a made-up shop, with the kiln chosen that the rehearsal is about.
    pub fn rehearsing(kiln: &str) -> App {
        let chosen = Chosen { kiln: kiln.to_owned(), beside: None };
        App { rehearsal: true, chosen: Some(chosen), ..App::default() }
    }

    /// The screen of a shop, with what is usual in this country.
    pub fn in_country(as_here: Option<(Scale, Clock)>) -> App {
        App { as_here, ..App::default() }
    }

    /// The kiln that keys, forms and panels are about: the one at which somebody is wanted, unless
    /// another was chosen beside it; while nobody is wanted, the one chosen last.
    pub fn kiln<'a>(&self, scene: &'a Scene) -> Option<&'a KilnScene> {
        let due = scene.due().map(|due| &due.kiln);
        let holds = |chosen: &&Chosen| due.is_none() || due == chosen.beside.as_ref();
        let chosen = self.chosen.as_ref().filter(holds);
        chosen.and_then(|chosen| scene.kiln(&chosen.kiln)).or(scene.kilns.first())
    }

    pub(super) fn choose_kiln(&mut self, kiln: &str, scene: &Scene) {
        let beside = scene.due().map(|due| due.kiln.clone());
        self.chosen = Some(Chosen { kiln: kiln.to_owned(), beside });
        // Whoever chooses knows which kiln it is.
        (self.named.kilns[0], self.named.before[0]) = (Some(kiln.to_owned()), None);
    }

    /// Takes in one input, and says what is to be done for it.
    pub fn update(&mut self, input: Input, context: &Context<'_>) -> Vec<Effect> {
        match input {
            Input::Key(key) => return self.key(key, context),
            Input::Mouse(mouse) => return self.mouse(mouse, context),
            Input::Opened if context.scene.is_new() => return self.open_first(context),
            Input::Opened => {}
            Input::Answered(answer) => {
                self.answered(answer, context);
                let mut effects = self.go_on_with_first(context);
                effects.extend(self.review_anew(context));
                effects.extend(self.plan_anew());
                return effects;
            }
            Input::Kept(answer) => {
                self.kept(answer);
                return self.go_on_with_first(context);
            }
            Input::Settings(settings) => self.settings_read(*settings),
            Input::Ledger(Ok(rows)) => self.ledger_read(rows, context),
            Input::Firing(Ok(firing)) => self.firing_read(&firing),
            Input::Entries(Ok(entries)) => self.entries_read(*entries),
            Input::Entry(entry) => self.entry_read(entry, context),
            Input::Record(record) => self.record_read(record),
            Input::Nearest(Ok(nearest)) => self.nearest_read(&nearest, context),
            Input::Exported(written) => self.exported(written),
            Input::Review(Ok(scene)) => self.review_read(scene),
            Input::Plan(Ok(day)) => self.plan_read(day),
            Input::Ledger(Err(why))
            | Input::Firing(Err(why))
            | Input::Entries(Err(why))
            | Input::Nearest(Err(why))
            | Input::Review(Err(why))
            | Input::Plan(Err(why))
            | Input::Unreadable(why) => self.tell(Tone::Wrong, words::shop_unreadable(&why)),
        }
        Vec::new()
    }

    fn key(&mut self, key: Key, context: &Context<'_>) -> Vec<Effect> {
        let meaning = key::meaning(key, self.rehearsal);
        // A key that comes as something gives way was meant for that.
        let just = |at: Span| context.running.0 - at.0 < MEANT_FOR_ANOTHER.0;
        if self.gave_way.is_some_and(just) && meaning != Some(Meaning::Quit) {
            return Vec::new();
        }
        if meaning == Some(Meaning::Due) {
            self.go_to_due_and_back(context);
            return Vec::new();
        }
        if self.form.is_some() {
            return self.form_key(key, context);
        }
        if self.finder.is_some() {
            return self.finder_key(key, context);
        }
        if let Some(page) = self.help {
            self.help = match key {
                Key::Down | Key::Tab => Some(page + 1),
                Key::Up | Key::BackTab => Some(page.saturating_sub(1)),
                _ => None,
            };
            // Any other key closes the list; only leaving the screen means the same as ever.
            return if meaning == Some(Meaning::Quit) { vec![Effect::Quit] } else { Vec::new() };
        }
        if !matches!(self.view, View::Floor) {
            return self.view_key(key, context);
        }
        self.message = None;
        if key == Key::Escape {
            (self.far, self.alone) = (false, false);
        }
        if let (None, Key::Char(letter)) = (meaning, key) {
            self.tell(
                Tone::Refused,
                words::no_such_key(letter, key::binding(Meaning::Help).label()),
            );
        }
        meaning.map_or_else(Vec::new, |meaning| self.act(meaning, context))
    }

    fn act(&mut self, meaning: Meaning, context: &Context<'_>) -> Vec<Effect> {
        match meaning {
            Meaning::Quit => return vec![Effect::Quit],
            Meaning::Suspend => return vec![Effect::Suspend],
            Meaning::Redraw => return vec![Effect::Redraw],
            Meaning::ChangeScale => return vec![Effect::ChangeScale],
            Meaning::ChangeClock => return vec![Effect::ChangeClock],
            Meaning::Faster => return vec![Effect::ChangeSpeed(2.0)],
            Meaning::Slower => return vec![Effect::ChangeSpeed(0.5)],
            Meaning::Help => self.help = Some(0),
            Meaning::Due => self.go_to_due_and_back(context),
            Meaning::Floor => {
                (self.far, self.alone, self.view) = (false, false, View::Floor);
            }
            Meaning::FarView => return self.turn_far(context),
            Meaning::Alone => {
                (self.far, self.alone) = (false, self.far || !self.alone);
            }
            Meaning::Find => self.finder = Some(Pick::default()),
            Meaning::Ledger | Meaning::Schedules | Meaning::Shop | Meaning::Bench => {
                return self.open_view(meaning);
            }
            Meaning::Review => return self.open_review(context),
            Meaning::Plan => return self.open_plan(),
            Meaning::MostLike => return self.most_like(context),
            Meaning::NextKiln => self.choose(context.scene, 1),
            Meaning::PreviousKiln => {
                self.choose(context.scene, context.scene.kilns.len().saturating_sub(1));
            }
            Meaning::Undo => self.open_strike_here(context),
            Meaning::Correct => return self.ask_entries(context),
            Meaning::Ware if !context.scene.is_new() => self.form = Some(entry::lot(None, context)),
            Meaning::Acknowledge => return self.acknowledge(context),
            Meaning::Form(Title::PutOff) => self.open_put_off(context),
            _ if context.scene.is_new() => return self.open_first(context),
            of_a_kiln => self.open(of_a_kiln, context),
        }
        match self.form.as_ref().map(|form| (form.title, form.about, &form.record)) {
            Some((Title::Reading, About::Firing(firing), None)) => vec![Effect::ReadRecord(firing)],
            _ => Vec::new(),
        }
    }

    /// Chooses a kiln so many places further in the order in which they are drawn.
    fn choose(&mut self, scene: &Scene, steps: usize) {
        let Some(now) = self.kiln(scene) else { return };
        let here = scene.kilns.iter().position(|kiln| kiln.kiln == now.kiln).unwrap_or(0);
        let next = &scene.kilns[(here + steps) % scene.kilns.len()];
        self.choose_kiln(&next.kiln, scene);
    }

    fn open(&mut self, meaning: Meaning, context: &Context<'_>) {
        let Some(kiln) = self.kiln(context.scene) else {
            return self.tell(Tone::Refused, words::refusal(Refusal::NoKiln, ""));
        };
        let begins = matches!(meaning, Meaning::Form(Title::Light) | Meaning::Form(Title::Pack));
        match entry::which(meaning, kiln, context.scene).filter(|_| begins) {
            // The empty kilns are offered instead of one that burns or cools.
            Some(which) => self.form = Some(which),
            None => self.open_at(meaning, kiln, context),
        }
    }

    /// Opens what was asked for at the kiln that was picked.
    fn open_picked(&mut self, context: &Context<'_>) {
        let Some(form) = self.form.as_mut() else { return };
        let (then, kiln) = (form.then, context.scene.kiln(form.said("kiln")));
        match then.zip(kiln) {
            Some((meaning, kiln)) => self.open_at(meaning, kiln, context),
            None => form.problem = Some(words::SAY_WHICH_KILN.into()),
        }
    }

    fn open_at(&mut self, meaning: Meaning, kiln: &KilnScene, context: &Context<'_>) {
        match entry::open(meaning, kiln, context) {
            Ok(mut form) => {
                let due = context.scene.due().filter(|due| due.kiln != kiln.kiln);
                let beside = due.map(|due| words::another_is_due(&due.kiln, &kiln.kiln));
                form.notices.splice(..0, beside);
                self.fire_first(&mut form, context);
                if let Some(other) = self.just_now(0, context) {
                    form.mistakable(words::kiln_just_changed(&kiln.kiln, &other));
                }
                self.choose_kiln(&kiln.kiln, context.scene);
                self.form = Some(form);
            }
            Err(refusal) => {
                let text = words::refusal(refusal, &kiln.kiln);
                self.tell(Tone::Refused, text);
            }
        }
    }

    /// Answers the alarm that is shown: the one key that writes without a form, since it is pressed
    /// on the way to the kiln. It can be undone, and what is not done about it rings again.
    fn acknowledge(&mut self, context: &Context<'_>) -> Vec<Effect> {
        let scene = context.scene;
        let Some(alarm) = scene.ringing() else {
            self.tell(Tone::Refused, words::refusal(Refusal::NothingRings, ""));
            return Vec::new();
        };
        let before = self.just_now(1, context);
        if before.is_some() || self.named.kilns[1].is_none() {
            let again = words::answer_again(&alarm.kiln, before.as_deref());
            self.tell(Tone::Refused, again);
            return Vec::new();
        }
        if alarm.key.firing == FiringId::SHOP {
            return vec![Effect::Answer(Of::alarm(alarm))];
        }
        let what = What::Acknowledged { alarm: alarm.key.task.name().into() };
        let entry = Entry::new(About::Firing(alarm.key.firing), scene.now, what);
        self.hand_out(entry, &alarm.kiln, &context.dial)
    }

    /// What rings is put off, or what stands at the chosen kiln; what must not be is refused at once.
    fn open_put_off(&mut self, context: &Context<'_>) {
        let scene = context.scene;
        let ringing = scene.ringing();
        let kiln = match ringing {
            Some(alarm) => scene.kiln(&alarm.kiln),
            None => self.kiln(scene),
        };
        let first = ringing.or_else(|| kiln?.alarms.iter().find(|one| steps::can_stand(one)));
        if let Some(alarm) = first.filter(|alarm| !steps::can_be_put_off(alarm)) {
            return self.tell(Tone::Refused, words::cannot_be_put_off(alarm));
        }
        match kiln {
            Some(kiln) => self.open_at(Meaning::Form(Title::PutOff), kiln, context),
            None => self.open(Meaning::Form(Title::PutOff), context),
        }
    }

    fn hand_out(&mut self, entry: Entry, kiln: &str, dial: &Dial<'_>) -> Vec<Effect> {
        let struck = self.form.as_ref().and_then(Form::struck);
        let phrase = match struck {
            Some((_, Some(said))) => said.to_owned(),
            _ => entry.phrase(kiln, dial),
        };
        self.pending = Some(Pending { entry: entry.clone(), kiln: kiln.to_owned(), phrase });
        vec![Effect::Append(entry)]
    }

    fn form_key(&mut self, key: Key, context: &Context<'_>) -> Vec<Effect> {
        let Some(form) = self.form.as_mut() else { return Vec::new() };
        match form.press(key) {
            Pressed::Ignored => Vec::new(),
            Pressed::Edited => {
                form.follow(context);
                if form.then.is_some() && matches!(key, Key::Char(_)) {
                    self.open_picked(context);
                }
                Vec::new()
            }
            Pressed::Cancel => {
                self.form = None;
                Vec::new()
            }
            Pressed::Confirm => self.confirm(context),
        }
    }

    fn confirm(&mut self, context: &Context<'_>) -> Vec<Effect> {
        let settings = self.view.settings().cloned();
        let Some(form) = self.form.as_mut() else { return Vec::new() };
        if form.then.is_some() {
            self.open_picked(context);
            return Vec::new();
        }
        if form.title == Title::First {
            return self.confirm_first(context);
        }
        let before = form.confirmed.replace(context.running);
        let repeats = before.is_some_and(|at| context.running < at + A_KEY_REPEATS);
        if form.asked && repeats {
            return Vec::new();
        }
        // Whoever strikes an entry has read whose it is and what it says.
        if let Some((id, None)) = form.struck() {
            return vec![Effect::ReadEntry(id)];
        }
        if let Some(export) = form.export() {
            form.saving = export.is_ok();
            form.problem = export.as_ref().err().cloned();
            return export.into_iter().map(Effect::Export).collect();
        }
        let confirmed = match settings.filter(|_| form.title.is_setting()) {
            Some(was) => {
                form.kept(&was).map(|becomes| Confirmed::Kept(Box::new(Kept { was, becomes })))
            }
            None => {
                let entry = form.entry(context.scene, &context.dial, context.schedules);
                entry.map(|entry| Confirmed::Entry(Box::new(entry)))
            }
        };
        match confirmed {
            Ok(confirmed) => {
                form.saving = true;
                form.problem = None;
                let kiln = form.kiln.clone();
                match confirmed {
                    Confirmed::Entry(entry) => self.hand_out(*entry, &kiln, &context.dial),
                    Confirmed::Kept(kept) => vec![Effect::Keep(kept)],
                }
            }
            Err(problem) => {
                form.asked |= matches!(problem, Problem::Unusual(_));
                form.problem = Some(problem.said());
                Vec::new()
            }
        }
    }

    fn answered(&mut self, answer: Result<EventId, Unwritten>, context: &Context<'_>) {
        let Some(Pending { entry, kiln, phrase }) = self.pending.take() else { return };
        let id = match (answer, self.form.as_mut()) {
            (Ok(id), _) => id,
            (Err(Unwritten { why, overtaken }), Some(form)) => {
                form.unsaved(&why);
                if overtaken {
                    form.take_in(context);
                }
                return;
            }
            (Err(Unwritten { why, .. }), None) => {
                return self.tell(Tone::Wrong, words::not_written(&why));
            }
        };
        if self.is_first() {
            return;
        }
        let form = self.form.take();
        // What is new is not hidden by what was typed to find something else.
        if let (View::Shop(shop), Some("")) = (&mut self.view, form.map(|f| f.kiln).as_deref()) {
            shop.pick = Pick::default();
        }
        if let What::Struck { event, .. } = entry.what {
            self.saved.retain(|saved| saved.id != event);
            self.tell(Tone::Saved, words::struck(&phrase));
        } else if matches!(entry.what, What::KilnSet(_) | What::LoadTypeSet(_))
            || entry.about == About::NewFiring && !entry.then.is_empty()
        {
            self.tell(Tone::Saved, words::saved_in_shop(&phrase, id));
        } else {
            let undo = key::binding(Meaning::Undo).label();
            self.next_mould(&entry.what, context);
            // What was written with it bears the numbers after it, and is undone one by one.
            for (nth, what) in (0..).zip(entry.all()) {
                let phrase = match entry.then.is_empty() {
                    true => phrase.clone(),
                    false => words::event_phrase(what, &kiln, &context.dial),
                };
                let (id, about, kiln) = (EventId(id.0 + nth), entry.about, kiln.clone());
                self.saved.push(Saved { id, about, kiln, phrase });
            }
            // Where the key is for a look in doubt, it promises nothing else.
            let told = match self.doubted_here(context.scene) {
                Some(_) => words::saved_in_shop(&phrase, id),
                None => words::saved(&phrase, id, undo),
            };
            self.tell(Tone::Saved, told);
        }
    }

    fn kept(&mut self, answer: Result<Box<Settings>, String>) {
        let Some(form) = self.form.as_mut().filter(|form| form.saving) else { return };
        match answer {
            Err(why) => form.unsaved(&why),
            Ok(settings) if form.title == Title::First => self.settings_read(*settings),
            Ok(settings) => {
                self.form = None;
                self.settings_read(*settings);
                self.tell(Tone::Saved, words::KEPT.into());
            }
        }
    }

    fn tell(&mut self, tone: Tone, text: String) {
        self.message = Some(Message { tone, text });
    }
}
