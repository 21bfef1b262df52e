//! A form: a few fields, worked with one key for each where there is a choice.
//!
//! A form never writes. It holds what somebody entered; [`Form::entry`](super::entry) turns a
//! confirmed form into an event.

use tui_input::{Input, InputRequest};

use super::key::Key;
use super::store::About;
use crate::firing::EventId;
use crate::firing::event::Packing;
use crate::review::Suggestion;
use crate::words::{Label, Title};

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
#[derive(Debug, Clone)]
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
    /// What the schedules are called that are offered, in the order of their options; before them
    /// stands none.
    pub offers: Vec<String>,
    /// Why it was not saved.
    pub problem: Option<String>,
    /// Somebody was asked once whether an unusual value is meant.
    pub asked: bool,
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
    /// The fields as the form was opened to pack or light a kiln.
    pub opened: Vec<Field>,
}

/// One line of a form.
#[derive(Debug, Clone)]
pub struct Field {
    pub label: Label,
    pub value: Value,
}

#[derive(Debug, Clone)]
pub enum Value {
    /// One of a few words, each with its key.
    Choice {
        options: Vec<(char, String)>,
        chosen: Option<usize>,
    },
    Text(Input),
}

impl Form {
    pub fn new(title: Title, kiln: &str, about: About, fields: Vec<Field>) -> Form {
        Form {
            title,
            kiln: kiln.to_owned(),
            about,
            fields,
            at_field: 0,
            notices: Vec::new(),
            called_for: Vec::new(),
            reading: None,
            offers: Vec::new(),
            problem: None,
            asked: false,
            saving: false,
            strikes: Vec::new(),
            accepts: None,
            place: None,
            seen: None,
            said: None,
            opened: Vec::new(),
        }
    }

    /// Which option of a choice field is picked.
    pub fn chosen(&self, label: Label) -> Option<usize> {
        self.fields.iter().find(|field| field.label == label).and_then(|field| match &field.value {
            Value::Choice { chosen, .. } => *chosen,
            Value::Text(_) => None,
        })
    }

    /// Picks an option of a choice field, if there are so many.
    pub fn choose(&mut self, label: Label, option: usize) {
        let here = self.at_field;
        if let Some(field) = self.fields.iter().position(|field| field.label == label) {
            self.point_at(field, Some(option));
        }
        self.at_field = here;
    }

    /// Goes to a field and, if one is named, picks an option there: what a click does.
    pub fn point_at(&mut self, at: usize, option: Option<usize>) {
        let Some(field) = self.fields.get_mut(at).filter(|_| !self.saving) else { return };
        (self.at_field, self.reading) = (at, None);
        if let (Value::Choice { options, chosen }, Some(option)) = (&mut field.value, option)
            && option < options.len()
        {
            *chosen = Some(option);
            (self.asked, self.problem) = (false, None);
        }
    }

    /// Offers other options in a choice field.
    pub fn offer(
        &mut self,
        label: Label,
        names: impl Iterator<Item = String>,
        picked: Option<usize>,
    ) {
        if let Some(field) = self.fields.iter_mut().find(|field| field.label == label) {
            *field = Field::named(label, names, picked);
        }
    }

    /// The word of the option picked in a choice field.
    pub fn chosen_word(&self, label: Label) -> Option<&str> {
        let field = self.fields.iter().find(|field| field.label == label)?;
        match &field.value {
            Value::Choice { options, chosen } => {
                options.get((*chosen)?).map(|(_, word)| word.as_str())
            }
            Value::Text(_) => None,
        }
    }

    /// The entry that this form strikes: the one picked, or the only one there is.
    pub fn struck(&self) -> Option<&(EventId, String)> {
        match self.strikes.as_slice() {
            [only] => Some(only),
            several => several.get(self.chosen(Label::Look)?),
        }
    }

    /// What was typed into a text field, without blanks around; empty if there is no such field.
    pub fn typed(&self, label: Label) -> &str {
        self.fields
            .iter()
            .find(|field| field.label == label)
            .and_then(|field| match &field.value {
                Value::Text(input) => Some(input.value().trim()),
                Value::Choice { .. } => None,
            })
            .unwrap_or("")
    }

    /// What was typed into each of several fields of one name; those that say nothing are none.
    pub fn lines(&self, label: Label) -> Vec<String> {
        let typed = self.fields.iter().filter(|field| field.label == label);
        let typed = typed.filter_map(|field| match &field.value {
            Value::Text(input) => Some(input.value().trim().to_owned()),
            Value::Choice { .. } => None,
        });
        typed.filter(|text| !text.is_empty()).collect()
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
        }
        pressed
    }

    /// To the next field or the one before; above the first one is what is to be read.
    fn move_on(&mut self, forward: bool) -> Pressed {
        let (fields, told) = (self.fields.len(), self.notices.len() + self.called_for.len());
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
        Pressed::Edited
    }

    fn edit(&mut self, key: Key) -> Pressed {
        let next_is_choice = self
            .fields
            .get(self.at_field + 1)
            .is_some_and(|field| matches!(field.value, Value::Choice { .. }));
        let Some(field) = self.fields.get_mut(self.at_field) else { return Pressed::Ignored };
        self.reading = None;
        let pressed = match &mut field.value {
            Value::Text(input) => type_into(input, key),
            Value::Choice { options, chosen } => pick(options, chosen, key),
        };
        match pressed {
            Picked::Nothing => return Pressed::Ignored,
            Picked::Changed => {}
            Picked::Forward if next_is_choice => self.at_field += 1,
            Picked::Forward => {}
            Picked::Back => self.at_field = self.at_field.saturating_sub(1),
        }
        self.asked = false;
        Pressed::Edited
    }
}

enum Picked {
    Nothing,
    Changed,
    Forward,
    Back,
}

fn pick(options: &[(char, String)], chosen: &mut Option<usize>, key: Key) -> Picked {
    match key {
        Key::Char(c) => {
            let c = c.to_ascii_lowercase();
            let by_number = c.to_digit(10).and_then(|n| (n as usize).checked_sub(1));
            let found = options.iter().position(|(letter, _)| *letter == c);
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
            if chosen.take().is_some() {
                Picked::Changed
            } else {
                Picked::Back
            }
        }
        _ => Picked::Nothing,
    }
}

fn type_into(input: &mut Input, key: Key) -> Picked {
    let request = match key {
        Key::Char(c) => InputRequest::InsertChar(c),
        Key::Backspace if input.value().is_empty() => return Picked::Back,
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
    /// Whether two fields say the same.
    pub fn says_as(&self, other: &Field) -> bool {
        self.label == other.label
            && match (&self.value, &other.value) {
                (Value::Text(one), Value::Text(other)) => {
                    one.value().trim() == other.value().trim()
                }
                (Value::Choice { chosen: one, .. }, Value::Choice { chosen: other, .. }) => {
                    one == other
                }
                _ => false,
            }
    }

    pub fn text(label: Label) -> Field {
        Field { label, value: Value::Text(Input::default()) }
    }

    /// A text field that says something already.
    pub fn filled(label: Label, text: String) -> Field {
        Field { label, value: Value::Text(Input::new(text)) }
    }

    pub fn choice(label: Label, options: Vec<(char, String)>) -> Field {
        Field { label, value: Value::Choice { options, chosen: None } }
    }

    /// A text field for each of several lines, and an empty one for one more.
    pub fn lines(label: Label, lines: &[String]) -> impl Iterator<Item = Field> {
        let filled = lines.iter().map(move |line| Field::filled(label, line.clone()));
        filled.chain([Field::text(label)])
    }

    /// A choice among things with names, each with a key of its own while there are keys; the
    /// others are reached by the arrows.
    pub fn named(
        label: Label,
        names: impl Iterator<Item = String>,
        chosen: Option<usize>,
    ) -> Field {
        let keys = "123456789abcdefghijklmnopqrstuvwxyz".chars();
        let options = keys.chain(std::iter::repeat(NO_KEY)).zip(names).collect();
        Field { label, value: Value::Choice { options, chosen } }
    }
}
