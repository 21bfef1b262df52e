//! A firing that was given up and lit again: its kiln cooled meanwhile, and no cone moved.

use super::Looked;
use super::known::{Firing, Interruption};
use crate::units::{Moment, Span};

/// A kiln that is given up loses of its heat as one of 700 C that is at 100 C after 14 hours: by
/// Newton's law what it is above the room falls to 1/e in this time, hours. Common practice, no source.
const COOLS_IN_H: f64 = 6.5;
/// A giving-up that was taken back so soon was a slip, and nothing cooled.
const SLIP: Span = Span::minutes(10);

impl Firing {
    fn interrupted_by(&self, now: Moment) -> impl Iterator<Item = &Interruption> {
        let counts = move |one: &&Interruption| {
            one.resumed <= now
                && self.lit.is_some_and(|lit| lit <= one.aborted)
                && one.resumed - one.aborted > SLIP
        };
        self.interruptions.iter().filter(counts)
    }

    /// When it was last lit again after it had been given up, by `now`.
    pub fn resumed_by(&self, now: Moment) -> Option<Moment> {
        self.interrupted_by(now).map(|one| one.resumed).max()
    }

    /// When it would have been lit to stand by `now` where it does, had it never been given up: what it
    /// had risen, less what it lost meanwhile, is what is left of the time it had burned.
    pub fn lit_as_if_once(&self, now: Moment) -> Option<Moment> {
        let lit = self.lit?;
        Some(self.interrupted_by(now).fold(lit, |lit, one| {
            let left = (-(one.resumed - one.aborted).as_hours() / COOLS_IN_H).exp();
            one.resumed - Span::from_hours((one.aborted - lit).as_hours().max(0.0) * left)
        }))
    }

    /// The looks from lit to `now`. A cone stays as it is while its kiln cools: the last look before it
    /// was lit again says how the cones were as it was.
    pub fn looks_as_if_once(&self, now: Moment) -> impl Iterator<Item = Looked> {
        let resumed = self.resumed_by(now);
        let before = move |looked: &Looked| resumed.is_some_and(|resumed| looked.at < resumed);
        let since_lit = move |looked: &&Looked| Some(looked.at) >= self.lit && looked.at <= now;
        let looks = || self.looks.iter().filter(since_lit).copied();
        let carried = looks().rfind(before).zip(resumed);
        let carried = carried.map(|(looked, at)| Looked { at, ..looked });
        carried.into_iter().chain(looks().filter(move |looked| !before(looked)))
    }
}
