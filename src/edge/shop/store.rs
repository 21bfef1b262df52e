//! What is written into a shop, and what a screen needs of the shop behind it.

use crate::edge::bell::settings::BellFile;
use crate::edge::draft::Draft;
use crate::edge::house_file::House;
use crate::firing::{Event, EventId, Firing, FiringId, Others, What};
use crate::kiln::LoadType;
use crate::review::nearest::Near;
use crate::units::Moment;
use crate::words::{self, Dial};

/// What the shop keeps beside its journal, each with the reason where it cannot be read.
#[derive(Debug, Clone, PartialEq)]
pub struct Settings {
    pub house: Result<House, String>,
    pub bell: Result<BellFile, String>,
}

/// Settings somebody confirmed, and those they saw before.
#[derive(Debug, Clone, PartialEq)]
pub struct Kept {
    pub was: Settings,
    pub becomes: Settings,
}

/// Which firing an event belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum About {
    Firing(FiringId),
    /// The event begins one.
    NewFiring,
    /// It is about the shop itself: its kilns and load types.
    #[default]
    Shop,
}

/// An event somebody confirmed and nobody has written yet.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    pub about: About,
    pub at: Moment,
    pub what: What,
    /// The last event that was known to somebody who packs or lights a kiln.
    pub seen: Option<EventId>,
    /// The event in whose place it is put, and what becomes of the others.
    pub corrects: Option<(EventId, Others)>,
    /// What is written with it, all of it or nothing: the rest of a firing that is over, the same of
    /// other moulds.
    pub then: Vec<(Moment, What)>,
}

impl Entry {
    /// One event by itself, for which nobody has to have seen the last one.
    pub fn new(about: About, at: Moment, what: What) -> Entry {
        Entry { about, at, what, seen: None, corrects: None, then: Vec::new() }
    }

    /// Everything that is written.
    pub fn all(&self) -> impl Iterator<Item = &What> {
        std::iter::once(&self.what).chain(self.then.iter().map(|(_, what)| what))
    }

    /// What is written, in a phrase.
    pub fn phrase(&self, kiln: &str, dial: &Dial<'_>) -> String {
        match (&self.what, self.about) {
            (What::Lit(lit), _) if !self.then.is_empty() => {
                words::past_phrase(&lit.kiln, &lit.load_type, self.at, dial)
            }
            (What::Bench(_) | What::Struck { .. }, _) if !self.then.is_empty() => {
                let phrases = self.all().map(|what| words::event_phrase(what, kiln, dial));
                phrases.collect::<Vec<_>>().join(", ")
            }
            (What::Packed(packing), About::Firing(_)) if self.corrects.is_none() => {
                words::packing_changed(kiln, &packing.load_type)
            }
            _ => words::event_phrase(&self.what, kiln, dial),
        }
    }

    /// What that phrase leaves out of it, part by part; of a firing of before, each of its steps.
    pub fn beside_its_phrase(
        &self,
        load_types: &[LoadType],
        (now, dial): (Moment, &Dial<'_>),
    ) -> Vec<String> {
        let rest = |what| Draft::of_earlier(what, load_types).beside_its_phrase(now, dial);
        let mut all = rest(&self.what);
        if matches!(self.what, What::Lit(_)) {
            for (at, what) in &self.then {
                all.push(words::step_then(*at, what, dial));
                all.extend(rest(what));
            }
        }
        all
    }
}

/// A firing, and the finished ones that it is held against.
#[derive(Debug, Clone)]
pub struct Record {
    pub firing: Firing,
    pub past: Vec<Firing>,
}

/// What was entered of a firing and stands, the newest first.
#[derive(Debug, Clone)]
pub struct Entries {
    pub firing: FiringId,
    pub kiln: String,
    pub events: Vec<Event>,
}

/// A firing and those that went most like it.
#[derive(Debug, Clone)]
pub struct Nearest {
    pub firing: Firing,
    pub near: Vec<(Near, Firing)>,
}
