//! Time for the screen: which moment it is, how long until another, and local wall time.

use std::fmt;
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use chrono::{Local, TimeZone, Timelike};

use crate::units::Moment;
use crate::words::{WallTime, Zone};

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

/// The zone this computer is set to.
#[derive(Debug, Clone, Copy, Default)]
pub struct LocalZone;

impl Zone for LocalZone {
    fn wall(&self, at: Moment) -> WallTime {
        // A moment outside chrono's calendar (a quarter of a million years away) shows as the
        // epoch rather than nothing.
        let utc = chrono::DateTime::from_timestamp_millis(at.0).unwrap_or_default();
        let local = Local.from_utc_datetime(&utc.naive_utc()).naive_local();
        let epoch = chrono::NaiveDate::default();
        WallTime {
            day: (local.date() - epoch).num_days(),
            second: local.num_seconds_from_midnight(),
        }
    }
}
