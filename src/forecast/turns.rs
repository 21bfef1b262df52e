//! A burner or switch turned by hand.
//!
//! The usual turns of a kiln are part of its usual course, known from past firings or the plan; only
//! when they come early or late do they say something. Any other turn is a point of change: what
//! was learned of the climb before it no longer holds. Its way is known from the shop's own words,
//! its size only roughly, until readings or looks after it tell.
//!
//! The weather is no such event: a cold day or a thin draught slows a kiln from the beginning,
//! so the day's pace has it already, and one that changes within an hour passes as a gust does.

use super::evidence::{Reading, Turn};
use super::planned::Planned;
use super::pooling::{Group, Measured, Predicted, predict};
use crate::firing::setting::Way;

/// What a turn does to the pace of the kiln.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TurnEffect {
    /// ln of the pace changes by this much, give or take.
    Changes { by: f64, spread: f64 },
    /// A usual turn, but late or early, by which so many hours were lost (won below 0): from here
    /// on the kiln goes as it usually does.
    Resumes { lost_h: f64 },
}

/// When a turn had its effect, hours since lit.
pub type TurnedAt = (f64, TurnEffect);

/// Guesses, in ln: how much a turn changes the climb, how far a kiln's mean may lie from that, and
/// how much one turn differs from the next.
const SIZE: (f64, f64) = (0.25, 0.12);
const SIZE_SPREAD: f64 = 0.15;
/// Where turns were never written down before, one up is mostly a usual one: so much of its size
/// counts (a guess).
const PERHAPS_USUAL: f64 = 0.3;
/// A turn within this time of a usual one is that one, hours; and within this it is on time.
const SAME_TURN_H: f64 = 1.0;
const ON_TIME_H: f64 = 0.15;
/// The climb before and after a turn is judged over so long, hours; right after it the chamber is
/// between the two.
const JUDGED_H: f64 = 1.05;
const SETTLES_H: f64 = 0.1;
/// Slower than this nothing is said of the climb's change, C/h.
const LEAST_CLIMB: f64 = 10.0;

/// What is known of a kiln's turns before today.
#[derive(Debug, Clone, PartialEq)]
pub struct Habit {
    usual: Vec<Turn>,
    /// Whether turns are written down in this shop at all, or planned.
    kept: bool,
    /// ln of the change of the climb, in the way of the turn.
    pub size: Predicted,
}

impl Habit {
    /// From the turns of past firings of this kiln and load, or those of the plan; `sizes` are the
    /// changes they made, those of this kiln first, with how unlike each group is.
    pub fn of(past: &[&[Turn]], planned: Option<&Planned>, sizes: &[Group]) -> Habit {
        let kept = past.iter().any(|turns| !turns.is_empty());
        let usual = if kept { usual(past) } else { planned.map_or(Vec::new(), Planned::turns) };
        Habit { kept: kept || planned.is_some(), usual, size: predict(SIZE, SIZE_SPREAD, sizes) }
    }

    /// What these turns do, where the usual course is known or where it is not.
    pub fn turned(&self, turns: &[Turn], course_known: bool) -> Vec<TurnedAt> {
        if course_known {
            return self.effects(turns);
        }
        turns.iter().map(|turn| (turn.at_h, self.change(turn, false))).collect()
    }

    /// Usual turns do nothing when they are on time.
    pub fn effects(&self, turns: &[Turn]) -> Vec<TurnedAt> {
        let mut open = self.usual.clone();
        let mut effects = Vec::new();
        for turn in turns {
            let same = |usual: &Turn| {
                (usual.at_h - turn.at_h).abs() <= SAME_TURN_H
                    && (usual.way == turn.way || usual.way.is_none() || turn.way.is_none())
            };
            let near = |at: &usize| (open[*at].at_h - turn.at_h).abs();
            let found = (0..open.len())
                .filter(|at| same(&open[*at]))
                .min_by(|a, b| near(a).total_cmp(&near(b)));
            match found.map(|at| turn.at_h - open.remove(at).at_h) {
                None => effects.push((turn.at_h, self.change(turn, !self.kept))),
                Some(late_h) if late_h.abs() > ON_TIME_H => {
                    let size =
                        if turn.way == Some(Way::Down) { -self.size.mean } else { self.size.mean };
                    let lost_h = late_h * (1.0 - (-size).exp());
                    effects.push((turn.at_h, TurnEffect::Resumes { lost_h }));
                }
                Some(_) => {}
            }
        }
        effects
    }

    fn change(&self, turn: &Turn, perhaps_usual: bool) -> TurnEffect {
        let Predicted { mean, spread, .. } = self.size;
        match turn.way {
            Some(Way::Down) => TurnEffect::Changes { by: -mean, spread },
            Some(Way::Up) if !perhaps_usual => TurnEffect::Changes { by: mean, spread },
            Some(Way::Up) => {
                TurnEffect::Changes { by: PERHAPS_USUAL * mean, spread: spread.hypot(0.5 * mean) }
            }
            None => TurnEffect::Changes { by: 0.0, spread: spread.hypot(mean) },
        }
    }
}

/// The turns that at least half of these firings have in common, each at its middle time: the
/// first of one with the first of the others, and so on.
fn usual(past: &[&[Turn]]) -> Vec<Turn> {
    let most = past.iter().map(|turns| turns.len()).max().unwrap_or(0);
    let mut usual = Vec::new();
    for place in 0..most {
        let mut there: Vec<Turn> =
            past.iter().filter_map(|turns| turns.get(place)).copied().collect();
        if 2 * there.len() < past.len() {
            break;
        }
        there.sort_by(|a, b| a.at_h.total_cmp(&b.at_h));
        usual.push(there[there.len() / 2]);
    }
    usual
}

/// How much each turn changed the climb, in its own way, from readings on both sides.
pub fn sizes(turns: &[Turn], readings: &[Reading]) -> Vec<Measured> {
    let size = |(at, turn): (usize, &Turn)| {
        let earlier = at.checked_sub(1).map_or(0.0, |before| turns[before].at_h);
        let later = turns.get(at + 1).map_or(f64::INFINITY, |next| next.at_h);
        let before = climb(readings, earlier.max(turn.at_h - JUDGED_H), turn.at_h)?;
        let from_h = turn.at_h + SETTLES_H;
        let after = climb(readings, from_h, later.min(from_h + JUDGED_H))?;
        let grown = (after.0 / before.0).ln();
        let size = if turn.way? == Way::Up { grown } else { -grown };
        Some((size, before.1 + after.1))
    };
    turns.iter().enumerate().filter_map(size).collect()
}

/// Climb between two moments, C/h, and the variance of its logarithm.
fn climb(readings: &[Reading], from_h: f64, to_h: f64) -> Option<(f64, f64)> {
    let inside: Vec<&Reading> =
        readings.iter().filter(|r| (from_h..=to_h).contains(&r.at_h)).collect();
    let [first, .., last] = inside[..] else { return None };
    let hours = last.at_h - first.at_h;
    let climb = (last.c - first.c) / hours;
    let error = first.noise_c.hypot(last.noise_c) / (hours * climb);
    (hours > 0.3 && climb > LEAST_CLIMB).then_some((climb, error * error))
}

/// How long a firing of this length becomes by its turns, hours; `z` is a standard normal number,
/// how far their sizes are from the middle ones.
pub fn with_turns(length_h: f64, turned: &[TurnedAt], z: f64) -> f64 {
    turned.iter().fold(length_h, |length_h, (at_h, effect)| match effect {
        TurnEffect::Changes { by, spread } if length_h > *at_h => {
            at_h + (length_h - at_h) * (-by - spread * z).exp()
        }
        TurnEffect::Changes { .. } => length_h,
        TurnEffect::Resumes { lost_h } => length_h + lost_h,
    })
}

/// The other way round: how long it would have been without them, at their middle sizes.
pub fn without_turns(length_h: f64, turned: &[TurnedAt]) -> f64 {
    turned.iter().rev().fold(length_h, |length_h, (at_h, effect)| match effect {
        TurnEffect::Changes { by, .. } if length_h > *at_h => at_h + (length_h - at_h) * by.exp(),
        TurnEffect::Changes { .. } => length_h,
        TurnEffect::Resumes { lost_h } => length_h - lost_h,
    })
}
