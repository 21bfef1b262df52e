//! Whose each reading of a firing is.
//!
//! Two probes in one kiln are two witnesses, and so is a person who reads the kiln's own display;
//! each is judged by its own readings.

use super::event::Who;

/// What a temperature was read from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Source {
    /// The kiln's own display, whoever wrote it down.
    Hand,
    Probe(String),
}

/// The source of every reading, in the order of the readings.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ReadBy {
    sources: Vec<Source>,
    /// The place among the sources for every reading; empty as long as there is one source.
    places: Vec<u8>,
}

impl Source {
    fn of(who: &Who) -> Source {
        match who {
            Who::Probe(name) => Source::Probe(name.clone()),
            Who::Person(_) | Who::Program => Source::Hand,
        }
    }

    fn is_of(&self, who: &Who) -> bool {
        match (self, who) {
            (Source::Probe(name), Who::Probe(other)) => name == other,
            (Source::Probe(_), _) | (Source::Hand, Who::Probe(_)) => false,
            (Source::Hand, _) => true,
        }
    }
}

impl ReadBy {
    pub(super) fn sources(&self) -> &[Source] {
        &self.sources
    }

    /// The source of the reading at this place, 0 where nobody said whose it is.
    pub(super) fn source_of(&self, reading: usize) -> usize {
        self.places.get(reading).map_or(0, |place| usize::from(*place))
    }

    /// Takes in the source of the reading that comes after `readings` others. From the 256th on
    /// all further sources count as one.
    pub(super) fn push(&mut self, readings: usize, who: &Who) {
        let found = self.sources.iter().position(|source| source.is_of(who));
        let place = found.unwrap_or_else(|| {
            if self.sources.len() <= usize::from(u8::MAX) {
                self.sources.push(Source::of(who));
            }
            self.sources.len() - 1
        });
        if self.sources.len() > 1 {
            self.places.resize(readings, 0);
            self.places.push(place as u8);
        }
    }
}
