//! The forms of what happened before: a firing from paper, the entries of one, and what stands in the place of
//! one that was wrong.

use super::forms::{choice, hidden, to_the_pin};
use super::html::Html;
use super::sent::OPENED;
use super::views::Told;
use crate::edge::draft::Draft;
use crate::edge::from_paper;
use crate::edge::shop::store::{About, Entries};
use crate::firing::fields::{Field, WHEN};
use crate::firing::{Event, FiringId, Kind, Others};
use crate::words::{self, Title, asks};

impl Told<'_> {
    /// The form of a firing of before, as somebody has it on paper.
    pub fn on_paper(&self, html: &mut Html, kiln: &str) {
        if !self.may_note() {
            return to_the_pin(html);
        }
        html.element("h1", &[], &words::title(Title::Past, kiln));
        let draft = Draft::new(Kind::Lit, kiln);
        self.noting(html, (Kind::Lit, kiln, About::NewFiring), |html| {
            hidden(html, &[("past", "1")]);
            for field in from_paper::fields() {
                match field.key {
                    "kiln" => self.kilns(html, field, kiln),
                    _ => self.field(html, field, (&draft, None), None),
                }
            }
            html.element("button", &[], words::PAGE_NOTE_IT);
        });
    }

    fn kilns(&self, html: &mut Html, field: &Field, said: &str) {
        let names = self.scene.names().into_iter();
        let names: Vec<_> = names.map(|name| (name.to_owned(), name.to_owned())).collect();
        choice(html, field, &names, said);
    }

    /// What was entered of a firing, each to be corrected.
    pub fn entries(&self, html: &mut Html, entries: &Entries) {
        html.element("h1", &[], &words::entries_title(&entries.kiln));
        if entries.events.is_empty() {
            html.element("p", &[], &words::nothing_entered(&entries.kiln));
        }
        let dial = self.picture.dial();
        let links = entries.events.iter().map(|event| {
            let said = words::event_phrase(&event.what, &entries.kiln, &dial);
            let said = format!("{} {said}", dial.time_and_day(event.at, self.scene.now));
            (format!("/correct?event={}", event.id.0), said)
        });
        html.list("", links);
    }

    /// The form that puts another entry in the place of this one.
    pub fn correction(&self, html: &mut Html, (firing, kiln): (FiringId, &str), was: &Event) {
        if !self.may_note() {
            return to_the_pin(html);
        }
        let (kind, dial, now) = (Kind::of(&was.what), self.picture.dial(), self.scene.now);
        html.element("h1", &[], &words::title(Title::corrects(kind), kiln));
        html.element("p", &[], &words::corrects(was, kiln, now, &dial));
        let mut draft = Draft::of_earlier(&was.what, &self.scene.load_types);
        let opened = dial.time_and_day(was.at, now);
        draft.say(WHEN.key, &opened);
        self.noting(html, (kind, kiln, About::Firing(firing)), |html| {
            hidden(html, &[("corrects", &was.id.to_string()), (OPENED, &opened)]);
            let fields = kind.fields().iter().filter(|field| field.is_entered());
            for field in fields.chain([&WHEN]) {
                self.field(html, field, (&draft, Some(words::PAGE_NOT_SAID)), None);
            }
            if matches!(kind, Kind::Packed | Kind::Lit) {
                self.kilns(html, &asks::KILN, kiln);
            }
            if kind == Kind::Lit {
                let others = Others::ALL.map(|one| (one.name().into(), words::others(one).into()));
                choice(html, &asks::OTHERS, &others, Others::Stay.name());
            }
            html.element("button", &[], words::PAGE_NOTE_IT);
        });
    }
}
