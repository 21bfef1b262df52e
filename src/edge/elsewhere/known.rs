//! What is known of a shop elsewhere, and what rings for it here: what its computer says, and without a word
//! from that what would ring if nobody did anything.

use serde::Deserialize;

use crate::alarm::Priority;
use crate::edge::shop::coming::Coming;
use crate::units::{Moment, Span};
use crate::words;

/// Without a word for so long the computer counts as lost.
const LOST_AFTER: Span = Span::seconds(7);
/// Lost for so long, with something to come so soon, is worth a ring of its own, and again after so long.
const UNEASY_AFTER: Span = Span::minutes(1);
const SOON: Span = Span::minutes(30);
const UNEASY_EVERY: Span = Span::minutes(2);
/// Stands for the mark of an alarm.
const LOST: &str = "lost";

/// What the computer tells, in one answer.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct State {
    /// By its own clock, milliseconds.
    pub now: i64,
    pub floor: Floor,
    pub ring: Option<Coming>,
    /// What would ring if nobody did anything.
    pub plan: Vec<Coming>,
}

/// The floor in lines, each with what is counted down to behind it.
pub type Floor = Vec<(String, Option<i64>)>;

/// What was heard last, and what rang here. Moments are those of this computer's clock, unless they come from
/// the other one.
#[derive(Debug)]
pub struct Known {
    state: State,
    heard: Moment,
    /// How far the other clock is ahead.
    ahead: Span,
    rang: Option<(String, Moment)>,
}

impl Known {
    pub fn of(state: State, now: Moment) -> Known {
        let ahead = Moment(state.now) - now;
        Known { state, heard: now, ahead, rang: None }
    }

    pub fn hear(&mut self, state: State, now: Moment) {
        (self.ahead, self.heard, self.state) = (Moment(state.now) - now, now, state);
    }

    pub fn floor(&self) -> &Floor {
        &self.state.floor
    }

    /// The other computer's time.
    pub fn at(&self, now: Moment) -> Moment {
        now + self.ahead
    }

    pub fn is_lost(&self, now: Moment) -> bool {
        now - self.heard > LOST_AFTER
    }

    /// What there is to ring for.
    pub fn due(&self, now: Moment) -> Option<Coming> {
        let State { ring, plan, .. } = &self.state;
        if !self.is_lost(now) {
            return ring.clone();
        }
        let there = self.at(now).0;
        let came = |one: &&Coming| one.at <= there && one.over.is_none_or(|over| over > there);
        let all = ring.iter().chain(plan.iter().filter(came));
        let rank = |one: &&Coming| Priority::ALL.iter().position(|it| it.name() == one.level);
        all.min_by_key(rank).cloned().or_else(|| self.uneasy(now))
    }

    fn uneasy(&self, now: Moment) -> Option<Coming> {
        let there = self.at(now);
        let is_soon =
            |one: &&Coming| one.at > there.0 && one.at <= (there + SOON).0 && one.every > 0;
        let soon = self.state.plan.iter().find(is_soon)?;
        if now - self.heard < UNEASY_AFTER {
            return None;
        }
        Some(Coming {
            id: LOST.into(),
            words: words::PAGE_LOST.into(),
            body: format!("{}: {}", soon.words, words::left_text(Moment(soon.at) - there)),
            every: UNEASY_EVERY.0,
            ..soon.clone()
        })
    }

    /// Whether it has to sound now: what is new, and what is to be repeated.
    pub fn rings(&mut self, now: Moment) -> bool {
        let Some(one) = self.due(now) else {
            self.rang = None;
            return false;
        };
        let again = |(id, at): &(String, Moment)| {
            *id != one.id || (one.every > 0 && now - *at >= Span(one.every))
        };
        let rings = self.rang.as_ref().is_none_or(again);
        if rings {
            self.rang = Some((one.id, now));
        }
        rings
    }
}
