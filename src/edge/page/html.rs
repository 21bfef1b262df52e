//! HTML in which no text can be taken for anything else: every text and every value is escaped where it is
//! put in.

use super::views::{Told, View};
use crate::edge::picture::sheet::{Sheet, escaped};
use crate::units::Moment;

/// A piece of HTML being written.
#[derive(Debug, Clone, Default)]
pub struct Html(String);

/// The attributes of an element.
pub type Attributes<'a> = &'a [(&'static str, &'a str)];

impl Html {
    /// Opens an element, which [`Html::close`] ends.
    pub fn open(&mut self, name: &'static str, attributes: Attributes<'_>) {
        self.0.push('<');
        self.0.push_str(name);
        for (key, value) in attributes {
            self.0.push(' ');
            self.0.push_str(key);
            if !value.is_empty() || *key == "value" {
                self.0.push_str("=\"");
                self.0.push_str(&escaped(value));
                self.0.push('"');
            }
        }
        self.0.push('>');
    }

    pub fn close(&mut self, name: &'static str) {
        self.0.push_str("</");
        self.0.push_str(name);
        self.0.push_str(">\n");
    }

    pub fn text(&mut self, text: &str) {
        self.0.push_str(&escaped(text));
    }

    /// An element that holds a text and nothing else.
    pub fn element(&mut self, name: &'static str, attributes: Attributes<'_>, text: &str) {
        self.open(name, attributes);
        self.text(text);
        self.close(name);
    }

    /// An element in which lines stand one below the other.
    pub fn lines<'l>(
        &mut self,
        name: &'static str,
        attributes: Attributes<'_>,
        lines: impl IntoIterator<Item = &'l str>,
    ) {
        self.open(name, attributes);
        for line in lines {
            self.text(line);
            self.0.push('\n');
        }
        self.close(name);
    }

    /// An element that holds others.
    pub fn within(
        &mut self,
        name: &'static str,
        attributes: Attributes<'_>,
        inside: impl FnOnce(&mut Html),
    ) {
        self.open(name, attributes);
        inside(self);
        self.close(name);
    }

    /// A list of places, each in its words.
    pub fn list(&mut self, title: &str, links: impl IntoIterator<Item = (String, String)>) {
        self.within("article", &[("class", "kiln list")], |html| {
            if !title.is_empty() {
                html.element("h2", &[], title);
            }
            for (place, word) in links {
                html.element("a", &[("href", &place)], &word);
            }
        });
    }

    /// A countdown to a moment, or what stands in its place.
    pub fn count(&mut self, to: Option<Moment>, text: &str) {
        let to = to.map(|to| to.0.to_string());
        let to = to.as_ref().map(|to| ("data-to", to.as_str()));
        self.element("b", to.as_slice(), text);
    }

    /// The same, as large as there is room.
    pub fn big(&mut self, to: Option<Moment>, text: &str, caption: &str) {
        self.within("p", &[("class", "big"), ("role", "timer"), ("aria-live", "off")], |html| {
            html.count(to, text);
            html.element("span", &[], caption);
        });
    }

    /// Puts in a picture, which has escaped its texts itself.
    pub fn picture(&mut self, svg: &Sheet) {
        self.0.push_str(&svg.svg());
    }

    /// Puts in the card of a firing, which has escaped its texts itself.
    pub fn card(&mut self, sheet: &str) {
        self.0.push_str(sheet);
    }

    /// Puts in what changes of a view, which is written by this as well.
    pub fn inside(&mut self, told: &Told<'_>, view: &View) {
        self.0.push_str(&told.inside(view));
    }

    pub fn done(self) -> String {
        self.0
    }
}
