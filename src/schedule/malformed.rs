//! Orders no kiln could follow, as opposed to orders the trade would advise against.

use super::{Pace, Schedule, Segment};
use crate::cone::chart::{self, FamilyError};
use crate::units::{Celsius, CelsiusPerHour, Scale, Span, UnitError};

/// The most segments a schedule may have. More is a sign of a file made by mistake.
pub const MOST_SEGMENTS: usize = 100;

/// The longest a single soak or timed ramp may take.
pub const LONGEST_SEGMENT: Span = Span::hours(72);

/// Why a schedule cannot be followed. Segments are counted from 1, as a person counts.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{0}")]
pub struct Malformed(pub String);

impl From<FamilyError> for Malformed {
    fn from(error: FamilyError) -> Malformed {
        Malformed(error.to_string())
    }
}

impl Schedule {
    /// Whether a kiln could follow it.
    ///
    /// # Errors
    /// The first [`Malformed`] order found, in the order of the segments.
    pub fn well_formed(&self) -> Result<(), Malformed> {
        if self.name.trim().is_empty() {
            return Err(Malformed(
                "the schedule has no name: give it one, so that a firing can say which it followed"
                    .into(),
            ));
        }
        chart::rows_or_reason(self.target, self.family)?;
        let count = self.segments.len();
        if count > MOST_SEGMENTS {
            return Err(Malformed(format!(
                "the schedule has {count} segments, 1 to {MOST_SEGMENTS} are allowed: join \
                 segments of the same pace"
            )));
        }
        self.start
            .checked(&self.start.display(Scale::Celsius))
            .map_err(|error| Malformed(format!("start: {error}")))?;
        let mut from = self.start;
        for (index, segment) in self.segments.iter().enumerate() {
            from = followed(index + 1, segment, from)?;
        }
        if !self.segments.iter().any(|segment| matches!(segment, Segment::Ramp { .. })) {
            return Err(Malformed(
                "the schedule has no ramp: a firing has to heat, add at least one ramp".into(),
            ));
        }
        for (index, entry) in self.ventilate.iter().enumerate() {
            if entry.from.0 >= entry.to.0 {
                return Err(Malformed(format!(
                    "ventilate {}: it has to reach from a lower to a higher temperature, but goes \
                     from {} to {}",
                    index + 1,
                    entry.from.in_both_scales(),
                    entry.to.in_both_scales()
                )));
            }
        }
        Ok(())
    }
}

/// The temperature after one segment, if it can be followed.
fn followed(segment: usize, order: &Segment, from: Celsius) -> Result<Celsius, Malformed> {
    let kind = order.name();
    let wrong = |why: String| Malformed(format!("segment {segment} ({kind}): {why}"));
    let quantity = |error: UnitError| wrong(error.to_string());
    let way = || format!("{} to {}", from.in_both_scales(), order.end(from).in_both_scales());
    let lasts = |length: Span| {
        let allowed = length > Span::ZERO && length <= LONGEST_SEGMENT;
        let outside = || {
            let minutes = length.as_minutes();
            wrong(format!(
                "a length of {minutes} min is outside 0 (not included) to 72 h: leave the segment \
                 out, or give it a length"
            ))
        };
        if allowed { Ok(()) } else { Err(outside()) }
    };
    let to = order.end(from);
    to.checked(&to.display(Scale::Celsius)).map_err(quantity)?;
    match *order {
        Segment::Soak(length) => lasts(length)?,
        Segment::Ramp { pace, .. } => {
            if to.0 <= from.0 {
                return Err(wrong(format!(
                    "a ramp has to climb, but it goes from {}: write it as cool, or raise its end",
                    way()
                )));
            }
            let rate = match pace {
                Pace::Rate(rate) => rate,
                Pace::Within(length) => {
                    lasts(length)?;
                    CelsiusPerHour((to.0 - from.0) / length.as_hours())
                }
            };
            rate.checked(&rate.display(Scale::Celsius)).map_err(quantity)?;
        }
        Segment::Cool { rate, .. } => {
            if to.0 >= from.0 {
                return Err(wrong(format!(
                    "a cool has to fall, but it goes from {}: write it as ramp, or lower its end",
                    way()
                )));
            }
            rate.checked(&rate.display(Scale::Celsius)).map_err(quantity)?;
        }
    }
    Ok(to)
}
