//! A time that only goes forward, for counting down while the clock on the wall is being set.
//!
//! A wall clock that steps forward (or a machine that slept) is believed: what is due is due. One
//! that steps back is not, while a kiln burns: a cone does not stand up again because a clock was
//! set, so the time told goes on from where it was, by what really passed.

use crate::units::{Moment, Span};

/// Tells the time to alarms.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Steady {
    told: Option<Moment>,
}

impl Steady {
    /// The time to count by.
    ///
    /// `wall` is what the clock says, `passed` what a stopwatch that cannot be set says has passed
    /// since the last call, `newest` the last thing written down of a kiln that burns; without
    /// one, the clock is believed.
    pub fn tell(&mut self, wall: Moment, passed: Span, newest: Option<Moment>) -> Moment {
        let Some(newest) = newest else {
            self.told = Some(wall);
            return wall;
        };
        let at_least = self.told.map_or(newest, |told| newest.max(told + passed));
        let now = wall.max(at_least);
        self.told = Some(now);
        now
    }

    /// How far the clock on the wall is behind the time last told.
    pub fn set_back_by(&self, wall: Moment) -> Span {
        self.told.map_or(Span::ZERO, |told| Span((told - wall).0.max(0)))
    }
}
