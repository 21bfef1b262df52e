//! Whose each reading of a firing is.
//!
//! Two probes in one kiln are two witnesses, and so is a person who reads the kiln's own display;
//! each is judged by its own readings.

use std::borrow::Cow;

use super::event::Who;
use crate::units::{Celsius, Moment, Span};

/// Temperatures in the order of time.
pub type Readings = Vec<(Moment, Celsius)>;

/// Two sources are held against each other where one read within so much of the other (a guess).
const TOGETHER: Span = Span::minutes(30);

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

/// Readings of several sources as if one had read them all: those of the source that read most,
/// and the others', each source's moved by how far it usually reads from that one.
pub fn as_one(each: &[Readings]) -> Cow<'_, [(Moment, Celsius)]> {
    if let [only] = each {
        return Cow::Borrowed(only);
    }
    let most = each.iter().rev().max_by_key(|its| its.len()).map_or(&[][..], Vec::as_slice);
    let mut all = Readings::with_capacity(each.iter().map(Vec::len).sum());
    for its in each {
        let mut apart: Vec<f64> = its.iter().filter_map(|read| above(most, *read)).collect();
        apart.sort_unstable_by(f64::total_cmp);
        let usually = apart.get(apart.len() / 2).copied().unwrap_or(0.0);
        all.extend(its.iter().map(|(at, c)| (*at, Celsius(c.0 - usually))));
    }
    all.sort_by_key(|(at, _)| *at);
    Cow::Owned(all)
}

/// How far a reading lies above the straight line between these at its time, C.
fn above(line: &[(Moment, Celsius)], (at, c): (Moment, Celsius)) -> Option<f64> {
    let next = line.partition_point(|(t, _)| *t < at);
    let (after, t_after) = *line.get(next)?;
    let (before, t_before) = next.checked_sub(1).map_or((after, t_after), |before| line[before]);
    let is_near = after - at <= TOGETHER && at - before <= TOGETHER;
    let part = (at - before).0 as f64 / ((after - before).0 as f64).max(1.0);
    is_near.then_some(c.0 - t_before.0 - (t_after.0 - t_before.0) * part)
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
