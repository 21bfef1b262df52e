//! The shop's own record: whether the windows that were told held the drop, and how many times as
//! wide as reckoned they are told for it.
//!
//! A drop counts where it was seen between two looks at most half an hour apart: the middle between
//! them has to lie within the window. Of a firing that was corrected after its mark, or taken in from
//! elsewhere, no mark stands ([`crate::firing::mark`]).

use std::cmp::Reverse;

use super::Facts;
use super::wilson::Share;
use super::windows::{Window, windows};
use crate::firing::mark::When;
use crate::firing::{Firing, FiringId};
use crate::units::Moment;

/// How many of the last drops their windows held.
#[derive(Debug, Clone, PartialEq)]
pub struct OwnRecord {
    pub told: Share,
    pub reckoned: Share,
    /// The firings it rests on, the youngest first.
    pub firings: Vec<FiringId>,
}

/// So many drops count, the youngest: what was long ago was forecast by another program and kilns
/// that have aged since.
pub const RECENT: usize = 30;
/// The part of the drops a window should hold.
const SHOULD_HOLD: f64 = 0.9;
/// The firings that the belief in the windows as reckoned is worth (a guess).
const BELIEF: f64 = 20.0;
/// No record is believed further than this.
const WIDTH_RANGE: (f64, f64) = (0.8, 2.0);

impl OwnRecord {
    /// Of past firings in any order.
    pub fn of_firings(past: &[Firing]) -> OwnRecord {
        let known = past.iter().filter(|firing| !firing.marks.is_empty());
        OwnRecord::of(known.filter_map(|one| Some((one.id, one.lit?, windows(one)))), None)
    }

    /// Of digested firings, by the windows kept at this time only.
    pub fn of_facts(facts: &[&Facts], when: Option<When>) -> OwnRecord {
        OwnRecord::of(facts.iter().map(|one| (one.id, one.lit, one.windows.clone())), when)
    }

    /// One window a firing: that kept at this time, or else the one people act on.
    fn of(
        firings: impl Iterator<Item = (FiringId, Moment, Vec<Window>)>,
        when: Option<When>,
    ) -> OwnRecord {
        let meant = |window: &&Window| when.is_none_or(|when| window.when == when);
        let mut known: Vec<(Moment, FiringId, Window)> = firings
            .filter_map(|(id, lit, windows)| {
                let window = windows.iter().filter(meant).min_by_key(|window| window.when)?;
                Some((lit, id, *window))
            })
            .collect();
        known.sort_by_key(|(lit, id, _)| Reverse((*lit, *id)));
        known.truncate(RECENT);
        let share = |holds: fn(&Window) -> bool| {
            Share::new(known.iter().filter(|(_, _, window)| holds(window)).count(), known.len())
        };
        OwnRecord {
            told: share(|window| window.held),
            reckoned: share(|window| window.as_reckoned),
            firings: known.iter().map(|(_, id, _)| *id).collect(),
        }
    }

    /// How many times as wide as reckoned windows are told.
    pub fn width(&self) -> f64 {
        width_factor(self.reckoned.hits, self.reckoned.of)
    }
}

/// How many times as wide as reckoned a window has to be to hold 9 of 10 drops, after `held` of `of`,
/// to the hundredth.
///
/// The share it holds is the mean of its beta distribution, the conjugate of counts, from a belief of
/// 9 in 10 worth 20 firings (Gelman et al., Bayesian Data Analysis, 3rd ed., 2.4); narrower than
/// reckoned is believed only as far as the share is above 9 in 10 by more than its standard
/// deviation. From a share to a width it goes by the quantile of the logistic distribution, which has
/// a closed form and tails somewhat heavier than the normal's: ln((1 + share) / (1 - share)).
pub fn width_factor(held: usize, of: usize) -> f64 {
    let (held, of) = (held as f64 + SHOULD_HOLD * BELIEF, of as f64 + BELIEF);
    let mean = held / of;
    let deviation = (mean * (1.0 - mean) / (of + 1.0)).sqrt();
    let share = if mean > SHOULD_HOLD { (mean - deviation).max(SHOULD_HOLD) } else { mean };
    let quantile = |share: f64| ((1.0 + share) / (1.0 - share)).ln();
    let width = quantile(SHOULD_HOLD) / quantile(share);
    (width.clamp(WIDTH_RANGE.0, WIDTH_RANGE.1) * 100.0).round() / 100.0
}
