//! Typed times for the command line: the reader of [`crate::words`] with a time zone of the
//! computer behind it.
//!
//! A pure function of the text, the present moment and the time zone.

use std::fmt;

use chrono::{DateTime, MappedLocalTime, NaiveDateTime, Offset, TimeZone};

use super::record::Time;
use crate::units::{Moment, Scale};
use crate::words::{Clock, Dial, Meant, Zone, read_time};

pub use crate::words::TimeError;

/// A time zone as the calendar library knows it.
#[derive(Clone, Copy)]
pub struct InZone<Z>(pub Z);

impl<Z> fmt::Debug for InZone<Z> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("InZone")
    }
}

impl<Z: TimeZone> Zone for InZone<Z> {
    fn wall(&self, at: Moment) -> NaiveDateTime {
        // A moment outside chrono's calendar (a quarter of a million years away) shows as the
        // epoch rather than nothing.
        let utc = DateTime::from_timestamp_millis(at.0).unwrap_or_default();
        utc.with_timezone(&self.0).naive_local()
    }

    fn moments(&self, wall: NaiveDateTime) -> MappedLocalTime<Moment> {
        self.0.from_local_datetime(&wall).map(|local| Moment(local.timestamp_millis()))
    }
}

/// The moment somebody means by `text` in a shop with this clock.
///
/// # Errors
/// [`TimeError`] when the text is not understood, names no moment or two, or, unless
/// [`Meant::Anytime`], one still to come.
pub fn parse<Z: TimeZone>(
    text: &str,
    now: Moment,
    meant: Meant,
    (clock, zone): (Clock, &Z),
) -> Result<Time, TimeError> {
    let dial = Dial { zone: &InZone(zone.clone()), clock, scale: Scale::default() };
    let typed = read_time(text, now, meant, &dial)?;
    Ok(Time::at(typed.moment, typed.offset_minutes))
}

/// This moment with the offset that holds there and then.
pub fn in_zone<Z: TimeZone>(moment: Moment, zone: &Z) -> Time {
    let utc = DateTime::from_timestamp_millis(moment.0).unwrap_or_default();
    let local = utc.with_timezone(zone);
    Time::at(moment, local.offset().fix().local_minus_utc() / 60)
}
