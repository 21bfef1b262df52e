//! A firing of before, as somebody has it on paper: from the texts of its times to its events.

use super::draft::{Draft, Known, Lack, read_word};
use super::shop::store::{About, Entry};
use crate::firing::event::{Counted, Look, Outcome};
use crate::firing::fields::Field;
use crate::firing::{Kind, Seen, What};
use crate::units::{Moment, Span};
use crate::words::{self, Meant, asks};

/// What is on the paper, each as a text; empty where nothing is.
#[derive(Debug, Clone, Copy, Default)]
pub struct FromPaper<'t> {
    pub kiln: &'t str,
    pub load_type: &'t str,
    pub cone: &'t str,
    pub lit: &'t str,
    /// When the target was last seen standing, and when it was seen down: both or neither.
    pub standing: &'t str,
    pub down: &'t str,
    pub off: &'t str,
    pub drawn: &'t str,
    pub result: &'t str,
    pub note: &'t str,
}

/// Reads a time: the latest such one before a moment.
pub type ReadTime<'r> = &'r dyn Fn(&str, Moment, Meant) -> Result<Moment, String>;

/// What is asked of it, in the order of a form.
pub fn fields() -> [&'static Field; 10] {
    [
        &asks::KILN,
        Kind::Lit.field("load_type"),
        &asks::LIT,
        &asks::SHUT_OFF,
        &asks::UNLOADED,
        Kind::Outcome.field("result"),
        Kind::Outcome.field("note"),
        &asks::SEEN_STANDING,
        &asks::SEEN_DOWN,
        Kind::Lit.field("cone"),
    ]
}

impl<'t> FromPaper<'t> {
    /// As it is said of each field.
    pub fn of(said: impl Fn(&'static str) -> &'t str) -> FromPaper<'t> {
        FromPaper {
            kiln: said("kiln"),
            load_type: said("load_type"),
            cone: said("cone"),
            lit: said("lit"),
            standing: said("standing"),
            down: said("down"),
            off: said("off"),
            drawn: said("drawn"),
            result: said("result"),
            note: said("note"),
        }
    }
}

impl FromPaper<'_> {
    /// Its events in their order. A time without a day is the first one after the step before, and of what was
    /// seen of the cone the last one before the firing's end.
    ///
    /// # Errors
    /// [`Lack`] for the first text that is missing or wrong.
    pub fn told(&self, known: &Known<'_>, now: Moment, read: ReadTime<'_>) -> Result<Entry, Lack> {
        let mut draft = Draft::new(Kind::Lit, self.kiln);
        draft.say("load_type", self.load_type);
        draft.say("cone", self.cone);
        let begins = draft.what(known)?;
        let wrong = Lack::Wrong;
        let needed = |text: &str, step: &str| match text.trim() {
            "" => Err(Lack::Wrong(words::say_when(step))),
            _ => Ok(()),
        };
        let after = |text: &str, before: Moment, meant: Meant| {
            let within = |hours| {
                let last = read(text, (before + Span::hours(hours)).min(now), meant).ok();
                last.filter(|at| *at >= before)
            };
            let first = within(12).or_else(|| within(24));
            first.map_or_else(|| read(text, now, meant), Ok).map_err(wrong)
        };
        needed(self.lit, "lit")?;
        let lit = read(self.lit, now, Meant::LongPast).map_err(wrong)?;
        // What was seen of the cone belongs to the end of the firing, which may be a day or more long.
        let towards = |text: &str, end: Moment| {
            let last = read(text, end, Meant::Past).ok().filter(|at| *at >= lit);
            last.map_or_else(|| after(text, end, Meant::Past), Ok)
        };
        needed(self.off, "shut off")?;
        let off = after(self.off, lit, Meant::LongPast)?;
        let mut then = Vec::new();
        match (self.standing.trim(), self.down.trim()) {
            ("", "") => {}
            // Found down, it may have been so for any time: that would teach less than nothing.
            ("", _) | (_, "") => return Err(Lack::Wrong(words::STANDING_AND_DOWN.into())),
            (standing, down) => {
                let look = |seen| What::Look(Look { target: Some(seen), ..Look::default() });
                let down = towards(down, off)?;
                let standing = towards(standing, down)?;
                if standing > down {
                    return Err(Lack::Wrong(words::STANDING_AFTER_DOWN.into()));
                }
                then.push((standing, look(Seen::Standing)));
                then.push((down, look(Seen::Down)));
            }
        }
        then.push((off, What::Off));
        needed(self.drawn, "unloaded")?;
        let drawn = after(self.drawn, off, Meant::LongPast)?;
        then.push((drawn, What::Drawn));
        match (self.result, self.note.trim()) {
            ("", "") => {}
            ("", _) => return Err(Lack::Wrong(words::NOTE_OF_NO_RESULT.into())),
            (result, note) => {
                let verdict = read_word("result", result).map_err(wrong)?;
                let (note, counted) = (note.to_owned(), Counted::default());
                let outcome =
                    Outcome { verdict, note, shelves: Vec::new(), loss: None, counted, full: None };
                then.push((drawn, What::Outcome(outcome)));
            }
        }
        Ok(Entry { then, ..Entry::new(About::NewFiring, lit, begins) })
    }
}
