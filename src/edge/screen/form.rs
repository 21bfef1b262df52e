//! A form: a few fields, worked with one key for each where there is a choice.
//!
//! A form never writes. It holds what somebody entered; [`Form::entry`](super::entry) turns a
//! confirmed form into an event.

use tui_input::{Input, InputRequest};

use super::key::{Key, Meaning};
use crate::edge::draft::Draft;
use crate::edge::shop::store::{About, Record};
use crate::firing::event::Packing;
use crate::firing::fields;
use crate::firing::{Event, EventId, Kind};
use crate::kiln::LoadType;
use crate::review::Suggestion;
use crate::units::Span;
use crate::words::{self, Title};

/// Stands where an option has no key of its own: no key is it.
pub const NO_KEY: char = '\0';

/// What one key press did to a form.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pressed {
    Edited,
    Confirm,
    Cancel,
    Ignored,
}

/// A form that is open.
#[derive(Debug, Clone, Default)]
pub struct Form {
    pub title: Title,
    pub kiln: String,
    pub about: About,
    pub fields: Vec<Field>,
    pub at_field: usize,
    /// Cautions, and what a rehearsal shows; above the fields.
    pub notices: Vec<String>,
    /// What the load and the schedule call for that were chosen, shown with the notices.
    pub called_for: Vec<String>,
    /// Which of both is being read: where there is no room for all of them, Up from the first field
    /// leads there.
    pub reading: Option<usize>,
    /// How many fields are shown, where those rarely said wait behind them.
    pub folded: Option<usize>,
    /// Why it was not saved.
    pub problem: Option<String>,
    /// What makes it doubtful for which kiln it was opened.
    pub mistaken: Option<String>,
    /// Somebody was asked once whether an unusual value is meant.
    pub asked: bool,
    /// When it was last confirmed, by the clock that only goes forward: a key that is held repeats.
    pub confirmed: Option<Span>,
    /// Something was entered since it was opened.
    pub touched: bool,
    /// Confirmed, and the shop has not answered.
    pub saving: bool,
    /// What a strike form can strike: entries and what they said.
    pub strikes: Vec<(EventId, String)>,
    /// What an accept form accepts.
    pub accepts: Option<Suggestion>,
    /// Which one of a list is described anew.
    pub place: Option<usize>,
    /// The last event that was known when a kiln was to be packed or lit.
    pub seen: Option<EventId>,
    /// What was said of the load when it was packed before.
    pub said: Option<Packing>,
    /// The event that is corrected, and its time as the form was opened with it.
    pub corrects: Option<(Box<Event>, String)>,
    /// What is opened for the kiln that is picked.
    pub then: Option<Meaning>,
    /// What a reading is held against, once it was read.
    pub record: Option<Box<Record>>,
    /// The fields as the form was opened to pack or light a kiln.
    pub opened: Vec<Field>,
}

/// One line of a form.
#[derive(Debug, Clone)]
pub struct Field {
    pub asks: &'static fields::Field,
    pub value: Value,
}

/// One of the words of a choice.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    pub key: char,
    pub shown: String,
    /// As a draft says it.
    pub means: String,
}

#[derive(Debug, Clone)]
pub enum Value {
    /// One of a few words, each with its key.
    Choice {
        options: Vec<Choice>,
        chosen: Option<usize>,
    },
    Text(Input),
}

impl Form {
    pub fn new(title: Title, kiln: &str, about: About, fields: Vec<Field>) -> Form {
        Form { title, kiln: kiln.to_owned(), about, fields, ..Form::default() }
    }

    /// Says why it was not saved.
    pub fn unsaved(&mut self, why: &str) {
        (self.saving, self.problem) = (false, Some(words::not_saved(why)));
    }

    /// Asks, before anything is written, whether this form is for the kiln that was meant.
    pub fn mistakable(&mut self, question: String) {
        self.problem = Some(question.clone());
        self.mistaken = Some(question);
    }

    /// The fields that are shown.
    pub fn shown(&self) -> &[Field] {
        &self.fields[..self.folded.unwrap_or(self.fields.len())]
    }

    /// The names of the fields that wait behind those shown.
    pub fn more(&self) -> Vec<&'static str> {
        let folded = self.fields.iter().skip(self.shown().len());
        folded.map(|field| field.asks.label).collect()
    }

    /// Lets those fields wait that are rarely said and say nothing yet, unless one of them does.
    pub fn fold(&mut self, shown: usize) {
        let says = self.fields[shown..].iter().any(|field| !field.said().is_empty());
        self.folded = (!says && shown < self.fields.len()).then_some(shown);
    }

    /// What a field says, typed or chosen; empty for nothing.
    pub fn said(&self, key: &str) -> &str {
        let field = self.fields.iter().find(|field| field.asks.key == key);
        field.map_or("", Field::said)
    }

    /// What each of several fields of one key says; those that say nothing are none.
    pub fn lines(&self, key: &str) -> Vec<String> {
        let said = self.fields.iter().filter(|field| field.asks.key == key).map(Field::said);
        said.filter(|text| !text.is_empty()).map(str::to_owned).collect()
    }

    /// All of it, without the screen; `None` for a form that writes no event.
    pub fn draft(&self) -> Option<Draft> {
        let mut draft = Draft::new(self.title.kind()?, &self.kiln);
        for field in &self.fields {
            draft.say_all(field.asks.key, self.lines(field.asks.key));
        }
        Some(draft)
    }

    /// The load type picked.
    pub fn load_type<'a>(&self, load_types: &'a [LoadType]) -> Option<&'a LoadType> {
        let named = self.said("load_type");
        load_types.iter().find(|load| load.name == named)
    }

    /// Picks the option of a choice field that means this.
    pub fn choose(&mut self, key: &str, meaning: &str) {
        let field = self.fields.iter_mut().find(|field| field.asks.key == key);
        if let Some(Value::Choice { options, chosen }) = field.map(|field| &mut field.value) {
            *chosen = options.iter().position(|option| option.means == meaning).or(*chosen);
        }
    }

    /// Shows all fields, from the first of those that waited.
    fn unfold(&mut self) {
        if let Some(first) = self.folded.filter(|folded| self.at_field >= *folded) {
            (self.folded, self.at_field) = (None, first);
        }
    }

    /// Below the last of several lines that say something stands an empty one for one more.
    fn grow(&mut self) {
        let many = |field: &Field| field.asks.is_many() && !field.said().is_empty();
        let last = |at: &usize| {
            let next = self.fields.get(at + 1).map(|field| field.asks.key);
            many(&self.fields[*at]) && next != Some(self.fields[*at].asks.key)
        };
        if let Some(at) = (0..self.fields.len()).find(last) {
            self.fields.insert(at + 1, Field::text(self.fields[at].asks));
        }
    }

    /// Goes to a field and, if one is named, picks an option there: what a click does.
    pub fn point_at(&mut self, at: usize, option: Option<usize>) {
        if self.saving || at >= self.fields.len() {
            return;
        }
        (self.at_field, self.reading) = (at, None);
        self.unfold();
        let field = &mut self.fields[at];
        if let (Value::Choice { options, chosen }, Some(option)) = (&mut field.value, option)
            && option < options.len()
        {
            *chosen = Some(option);
            (self.asked, self.problem) = (false, None);
        }
    }

    /// The entry that this form strikes, and what it said, once that was read.
    pub fn struck(&self) -> Option<(EventId, Option<&str>)> {
        self.title.kind().filter(|kind| *kind == Kind::Struck)?;
        let id = EventId(self.said("struck").parse().ok()?);
        let known = self.strikes.iter().find(|(known, _)| *known == id);
        Some((id, known.map(|(_, said)| said.as_str())))
    }

    pub fn press(&mut self, key: Key) -> Pressed {
        if self.saving {
            return Pressed::Ignored;
        }
        let pressed = match key {
            Key::Enter => return Pressed::Confirm,
            Key::Escape | Key::Control('c') => return Pressed::Cancel,
            Key::Tab | Key::Down => self.move_on(true),
            Key::BackTab | Key::Up => self.move_on(false),
            other => self.edit(other),
        };
        if pressed == Pressed::Edited {
            self.problem = None;
            self.touched = true;
            self.grow();
        }
        pressed
    }

    /// To the next field or the one before; above the first one is what is to be read.
    fn move_on(&mut self, forward: bool) -> Pressed {
        let fields = self.shown().len() + usize::from(self.folded.is_some());
        let told = self.notices.len() + self.called_for.len();
        self.reading = match (self.reading, forward) {
            (Some(at), true) if at + 1 < told => Some(at + 1),
            (Some(at), false) if at > 0 => Some(at.min(told) - 1),
            (Some(_), true) => {
                self.at_field = 0;
                None
            }
            (Some(_), false) => {
                self.at_field = fields.saturating_sub(1);
                None
            }
            (None, false) if self.at_field == 0 && told > 0 => Some(told - 1),
            (None, _) => {
                let steps = if forward { 1 } else { fields.saturating_sub(1) };
                self.at_field = (self.at_field + steps) % fields.max(1);
                None
            }
        };
        self.unfold();
        Pressed::Edited
    }

    fn edit(&mut self, key: Key) -> Pressed {
        let is_last = self.at_field + 1 >= self.shown().len();
        let Some(field) = self.fields.get_mut(self.at_field) else { return Pressed::Ignored };
        self.reading = None;
        let pressed = match &mut field.value {
            Value::Text(input) => type_into(input, key),
            Value::Choice { options, chosen } => pick(options, chosen, key),
        };
        match pressed {
            Picked::Nothing => return Pressed::Ignored,
            Picked::Changed => {}
            Picked::Forward if is_last => {}
            Picked::Forward => self.at_field += 1,
        }
        self.asked = false;
        Pressed::Edited
    }
}

enum Picked {
    Nothing,
    Changed,
    Forward,
}

fn pick(options: &[Choice], chosen: &mut Option<usize>, key: Key) -> Picked {
    match key {
        Key::Char(c) => {
            let c = c.to_ascii_lowercase();
            let by_number = c.to_digit(10).and_then(|n| (n as usize).checked_sub(1));
            let found = options.iter().position(|option| option.key == c);
            match found.or(by_number.filter(|n| *n < options.len())) {
                Some(index) if c != NO_KEY => {
                    *chosen = Some(index);
                    Picked::Forward
                }
                _ => Picked::Nothing,
            }
        }
        Key::Right | Key::Left => {
            let count = options.len().max(1);
            let step = if key == Key::Right { 1 } else { count - 1 };
            let first = if key == Key::Right { 0 } else { count - 1 };
            *chosen = Some(chosen.map_or(first, |index| (index + step) % count));
            Picked::Changed
        }
        Key::Backspace | Key::Delete => {
            *chosen = None;
            Picked::Changed
        }
        _ => Picked::Nothing,
    }
}

fn type_into(input: &mut Input, key: Key) -> Picked {
    let request = match key {
        Key::Char(c) => InputRequest::InsertChar(c),
        Key::Backspace => InputRequest::DeletePrevChar,
        Key::Delete => InputRequest::DeleteNextChar,
        Key::Left => InputRequest::GoToPrevChar,
        Key::Right => InputRequest::GoToNextChar,
        Key::Home | Key::Control('a') => InputRequest::GoToStart,
        Key::End | Key::Control('e') => InputRequest::GoToEnd,
        Key::Control('u') => InputRequest::DeleteLine,
        Key::Control('w') => InputRequest::DeletePrevWord,
        _ => return Picked::Nothing,
    };
    input.handle(request);
    Picked::Changed
}

impl Field {
    /// What it says, typed without blanks around, or chosen; empty for nothing.
    pub fn said(&self) -> &str {
        match &self.value {
            Value::Text(input) => input.value().trim(),
            Value::Choice { options, chosen } => {
                chosen.and_then(|at| options.get(at)).map_or("", |option| &option.means)
            }
        }
    }

    pub fn text(asks: &'static fields::Field) -> Field {
        Field { asks, value: Value::Text(Input::default()) }
    }

    /// A text field that says something already.
    pub fn filled(asks: &'static fields::Field, text: impl Into<String>) -> Field {
        Field { asks, value: Value::Text(Input::new(text.into())) }
    }

    /// A text field for each of several lines, and an empty one for one more.
    pub fn lines(
        asks: &'static fields::Field,
        lines: impl IntoIterator<Item = String>,
    ) -> impl Iterator<Item = Field> {
        lines.into_iter().map(move |line| Field::filled(asks, line)).chain([Field::text(asks)])
    }

    /// A choice among words that differ in their first letters.
    pub fn lettered(asks: &'static fields::Field, names: &[&str], chosen: &str) -> Field {
        let options = names.iter().map(|name| (words::letter(name), *name, *name));
        Field::choice(asks, options, chosen)
    }

    /// A choice without the option that means this.
    pub fn leave_out(&mut self, means: &str) {
        if let Value::Choice { options, .. } = &mut self.value {
            options.retain(|option| option.means != means);
        }
    }

    /// A choice among things with names and what each means, each with a key of its own while there
    /// are keys; the others are reached by the arrows.
    pub fn named<S: Into<String>, M: Into<String>>(
        asks: &'static fields::Field,
        names: impl IntoIterator<Item = (S, M)>,
        chosen: &str,
    ) -> Field {
        let keys = "123456789abcdefghijklmnopqrstuvwxyz".chars().chain(std::iter::repeat(NO_KEY));
        Field::choice(asks, keys.zip(names).map(|(key, (name, means))| (key, name, means)), chosen)
    }

    /// The same among words that are said as they are shown.
    pub fn words<'w>(
        asks: &'static fields::Field,
        words: impl IntoIterator<Item = &'w str>,
        chosen: &str,
    ) -> Field {
        Field::named(asks, words.into_iter().map(|word| (word, word)), chosen)
    }

    fn choice<S: Into<String>, M: Into<String>>(
        asks: &'static fields::Field,
        options: impl Iterator<Item = (char, S, M)>,
        chosen: &str,
    ) -> Field {
        let options: Vec<Choice> = options
            .map(|(key, shown, means)| Choice { key, shown: shown.into(), means: means.into() })
            .collect();
        let chosen = options.iter().position(|option| option.means == chosen);
        Field { asks, value: Value::Choice { options, chosen } }
    }
}
