//! The shop's zone, as far as the times of an instance tell it.

use std::collections::BTreeMap;

use chrono::{DateTime, MappedLocalTime, NaiveDateTime};

use crate::units::{Moment, Span};
use crate::words::Zone;

/// The offsets from UTC that the times of an instance were written with; between them, that of the
/// nearest.
#[derive(Debug, Default)]
pub struct StatedZone(BTreeMap<i64, i32>);

impl StatedZone {
    pub fn state(&mut self, at: Moment, offset_minutes: i32) {
        self.0.insert(at.0, offset_minutes);
    }

    fn ahead(&self, at: Moment) -> Span {
        let before = self.0.range(..=at.0).next_back();
        let after = self.0.range(at.0..).next();
        let nearest = match (before, after) {
            (Some(before), Some(after)) if at.0 - before.0 > after.0 - at.0 => Some(after),
            (before, after) => before.or(after),
        };
        Span::minutes(nearest.map_or(0, |(_, offset)| i64::from(*offset)))
    }
}

impl Zone for StatedZone {
    fn wall(&self, at: Moment) -> NaiveDateTime {
        let ahead = at + self.ahead(at);
        DateTime::from_timestamp_millis(ahead.0).unwrap_or_default().naive_utc()
    }

    fn moments(&self, wall: NaiveDateTime) -> MappedLocalTime<Moment> {
        let wall = Moment(wall.and_utc().timestamp_millis());
        MappedLocalTime::Single(wall - self.ahead(wall))
    }
}
