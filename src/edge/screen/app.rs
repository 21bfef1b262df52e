//! What the screen remembers, and what a key does to it. Nothing here draws or writes: effects
//! are handed to the driver as plain data.

mod review;
mod views;

use super::entry::{self, Problem};
use super::form::{Form, Pressed};
use super::key::{self, Key, Meaning};
use super::pick::Pick;
use super::spots::Spot;
use super::store::{About, Entry};
use super::view::View;
use crate::firing::event::Look;
use crate::firing::{EventId, Firing, FiringId, What};
use crate::scene::{KilnScene, PastFiring, ReviewQuestion, ReviewScene, Scene};
use crate::schedule::Schedule;
use crate::words::{self, Dial, Refusal, Title};

/// Something that reached the screen.
#[derive(Debug, Clone)]
pub enum Input {
    Key(Key),
    Mouse(Mouse),
    /// The shop's answer to the entry handed out last.
    Answered(Result<EventId, String>),
    /// What [`Effect::ReadLedger`] found.
    Ledger(Result<Vec<PastFiring>, String>),
    /// What [`Effect::ReadFiring`] found.
    Firing(Result<Box<Firing>, String>),
    /// What [`Effect::Review`] came to.
    Review(Result<Box<ReviewScene>, String>),
    /// The shop could not be read.
    Unreadable(String),
}

/// What was done with the mouse.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Mouse {
    /// Clicked on this.
    Clicked(Spot),
    WheelUp,
    WheelDown,
}

/// Something the driver is to do.
#[derive(Debug, Clone, PartialEq)]
pub enum Effect {
    /// Write this down and answer with [`Input::Answered`].
    Append(Entry),
    /// Answer with [`Input::Ledger`].
    ReadLedger,
    /// Answer with [`Input::Firing`].
    ReadFiring(FiringId),
    /// Answer with [`Input::Review`].
    Review(ReviewQuestion),
    ChangeSpeed(f64),
    ChangeScale,
    ChangeClock,
    Redraw,
    Suspend,
    Quit,
}

/// What a key press is judged by.
#[derive(Debug, Clone, Copy)]
pub struct Context<'a> {
    pub scene: &'a Scene,
    pub dial: Dial<'a>,
    /// What a rehearsal shows at the chosen kiln's spyhole, and of its load when drawn.
    pub glimpse: Option<&'a Look>,
    pub shelves: Option<&'a str>,
    /// The schedules a kiln can be lit with.
    pub schedules: &'a [Schedule],
}

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

/// The state of the screen.
#[derive(Debug, Clone, Default)]
pub struct App {
    /// The kiln somebody chose; the most urgent one while nobody did.
    chosen: Option<String>,
    pub far: bool,
    pub help: bool,
    pub view: View,
    pub finder: Option<Pick>,
    pub form: Option<Form>,
    pub message: Option<Message>,
    pub rehearsal: bool,
    saved: Vec<Saved>,
    /// The phrase of the entry handed to the shop, until it answers.
    pending: Option<(Entry, String)>,
}

impl App {
    /// The screen of a made-up shop, with the kiln chosen that the rehearsal is about.
    pub fn rehearsing(kiln: &str) -> App {
        App { rehearsal: true, chosen: Some(kiln.to_owned()), ..App::default() }
    }

    /// The kiln that forms and panels are about.
    pub fn kiln<'a>(&self, scene: &'a Scene) -> Option<&'a KilnScene> {
        let chosen = self.chosen.as_deref().and_then(|name| scene.kiln(name));
        chosen.or(scene.kilns.first())
    }

    /// Takes in one input, and says what is to be done for it.
    pub fn update(&mut self, input: Input, context: &Context<'_>) -> Vec<Effect> {
        match input {
            Input::Key(key) => self.key(key, context),
            Input::Mouse(mouse) => self.mouse(mouse, context),
            Input::Answered(answer) => {
                self.answered(answer);
                self.review_anew(context)
            }
            Input::Ledger(read) => {
                self.ledger_read(read);
                Vec::new()
            }
            Input::Firing(read) => {
                self.firing_read(read);
                Vec::new()
            }
            Input::Review(read) => {
                self.review_read(read);
                Vec::new()
            }
            Input::Unreadable(why) => {
                self.tell(Tone::Wrong, words::shop_unreadable(&why));
                Vec::new()
            }
        }
    }

    fn key(&mut self, key: Key, context: &Context<'_>) -> Vec<Effect> {
        if self.form.is_some() {
            return self.form_key(key, context);
        }
        if self.finder.is_some() {
            return self.finder_key(key, context);
        }
        let meaning = key::meaning(key, self.rehearsal);
        if self.help {
            self.help = false;
            // Any key closes the list; only leaving the screen means the same as ever.
            return if meaning == Some(Meaning::Quit) { vec![Effect::Quit] } else { Vec::new() };
        }
        if !matches!(self.view, View::Floor) {
            return self.view_key(key, context);
        }
        self.message = None;
        if key == Key::Escape {
            self.far = false;
            self.chosen = None;
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
            Meaning::Help => self.help = true,
            Meaning::FarView => {
                self.far = !self.far;
                self.view = View::Floor;
            }
            Meaning::Find => self.finder = Some(Pick::default()),
            Meaning::Ledger | Meaning::Schedules | Meaning::Shop => {
                return self.open_view(meaning);
            }
            Meaning::Review => return self.open_review(context),
            Meaning::NextKiln => self.choose(context.scene, 1),
            Meaning::PreviousKiln => {
                self.choose(context.scene, context.scene.kilns.len().saturating_sub(1));
            }
            Meaning::Undo => self.open_strike(),
            Meaning::Look
            | Meaning::Reading
            | Meaning::Off
            | Meaning::Drawn
            | Meaning::Outcome
            | Meaning::Light
            | Meaning::Pack
            | Meaning::Turned
            | Meaning::Note
            | Meaning::GiveUp => self.open(meaning, context),
        }
        Vec::new()
    }

    /// Chooses a kiln so many places further, in the order of their names: the order of urgency
    /// moves by itself, and a key must not land on another kiln because a minute has passed.
    fn choose(&mut self, scene: &Scene, steps: usize) {
        let mut names: Vec<&str> = scene.kilns.iter().map(|kiln| kiln.kiln.as_str()).collect();
        names.sort_unstable();
        let Some(now) = self.kiln(scene) else { return };
        let here = names.iter().position(|name| *name == now.kiln).unwrap_or(0);
        self.chosen = Some(names[(here + steps) % names.len()].to_owned());
    }

    fn open(&mut self, meaning: Meaning, context: &Context<'_>) {
        let Some(kiln) = self.kiln(context.scene) else {
            return self.tell(Tone::Refused, words::refusal(Refusal::NoKiln, ""));
        };
        match entry::open(meaning, kiln, context) {
            Ok(form) => {
                self.chosen = Some(kiln.kiln.clone());
                self.form = Some(form);
            }
            Err(refusal) => {
                let text = words::refusal(refusal, &kiln.kiln);
                self.tell(Tone::Refused, text);
            }
        }
    }

    fn open_strike(&mut self) {
        match self.saved.last() {
            Some(saved) => {
                self.form = Some(entry::strike(&saved.kiln, saved.about, saved.id, &saved.phrase));
            }
            None => self.tell(Tone::Refused, words::refusal(Refusal::NothingToUndo, "")),
        }
    }

    fn form_key(&mut self, key: Key, context: &Context<'_>) -> Vec<Effect> {
        let Some(form) = self.form.as_mut() else { return Vec::new() };
        match form.press(key) {
            Pressed::Ignored => Vec::new(),
            Pressed::Edited => {
                form.follow_schedule(context);
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
        let Some(form) = self.form.as_mut() else { return Vec::new() };
        match form.entry(context.scene, &context.dial) {
            Ok(entry) => {
                form.saving = true;
                form.problem = None;
                let phrase = match &form.strikes {
                    Some((_, phrase)) => phrase.clone(),
                    None => words::event_phrase(&entry.what, &form.kiln, &context.dial),
                };
                self.pending = Some((entry.clone(), phrase));
                vec![Effect::Append(entry)]
            }
            Err(Problem::Wrong(text)) => {
                form.problem = Some(text);
                Vec::new()
            }
            Err(Problem::Unusual(text)) => {
                form.asked = true;
                form.problem = Some(text);
                Vec::new()
            }
        }
    }

    fn answered(&mut self, answer: Result<EventId, String>) {
        let (Some((entry, phrase)), Some(form)) = (self.pending.take(), self.form.as_mut()) else {
            return;
        };
        form.saving = false;
        match answer {
            Err(why) => form.problem = Some(words::not_saved(&why)),
            Ok(_) if form.title == Title::Strike => {
                self.form = None;
                if let What::Struck { event, .. } = entry.what {
                    self.saved.retain(|saved| saved.id != event);
                }
                self.tell(Tone::Saved, words::struck(&phrase));
            }
            Ok(id) => {
                let kiln = form.kiln.clone();
                self.form = None;
                if matches!(entry.what, What::KilnSet(_) | What::LoadTypeSet(_)) {
                    return self.tell(Tone::Saved, words::saved_in_shop(&phrase, id));
                }
                let undo = key::binding(Meaning::Undo).label;
                self.tell(Tone::Saved, words::saved(&phrase, id, undo));
                self.saved.push(Saved { id, about: entry.about, kiln, phrase });
            }
        }
    }

    fn tell(&mut self, tone: Tone, text: String) {
        self.message = Some(Message { tone, text });
    }
}
