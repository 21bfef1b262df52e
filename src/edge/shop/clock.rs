//! Time for the screen: which moment it is, how long until another, and local wall time.

use std::fmt;
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use chrono::{Local, MappedLocalTime, NaiveDateTime};

use crate::edge::time_entry::InZone;
use crate::units::{Moment, Span};
use crate::words::Zone;

/// A clock that stands further than this before the newest entry is wrong, or that entry is.
pub const CLOCK_BEHIND: Span = Span::minutes(2);

/// Gives the time to the loop. A rehearsal's runs faster and can be held.
pub trait Timekeeper: fmt::Debug {
    fn now(&self) -> Moment;

    /// How long to sleep until `moment`; zero when it has passed.
    fn until(&self, moment: Moment) -> Duration;

    /// Lets time stand still while somebody types; the real one does not.
    fn hold(&mut self, _still: bool) {}

    /// Multiplies the speed of a rehearsal; the real one has none.
    fn change_speed(&mut self, _factor: f64) {}

    /// How fast time runs, where that is not 1.
    fn speed(&self) -> Option<f64> {
        None
    }
}

/// The computer's clock.
#[derive(Debug, Clone, Copy, Default)]
pub struct SystemClock;

impl Timekeeper for SystemClock {
    fn now(&self) -> Moment {
        let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
        Moment(i64::try_from(since.as_millis()).unwrap_or(i64::MAX))
    }

    fn until(&self, moment: Moment) -> Duration {
        let left = moment - self.now();
        Duration::from_millis(u64::try_from(left.0).unwrap_or(0))
    }
}

/// What the wall clock of a zone is ahead of UTC at that moment.
pub fn ahead(at: Moment, zone: &dyn Zone) -> Span {
    Span(zone.wall(at).and_utc().timestamp_millis() - at.0)
}

/// The zone this computer is set to.
#[derive(Debug, Clone, Copy, Default)]
pub struct LocalZone;

impl Zone for LocalZone {
    fn wall(&self, at: Moment) -> NaiveDateTime {
        InZone(Local).wall(at)
    }

    fn moments(&self, wall: NaiveDateTime) -> MappedLocalTime<Moment> {
        InZone(Local).moments(wall)
    }
}
