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
pub enum Malformed {
    #[error("the schedule has no name: give it one, so that a firing can say which it followed")]
    NoName,
    #[error("the schedule has no ramp: a firing has to heat, add at least one ramp")]
    NoHeating,
    #[error(
        "the schedule has {count} segments, 1 to {MOST_SEGMENTS} are allowed: join segments of the same pace"
    )]
    TooManySegments { count: usize },
    #[error(
        "segment {segment} (ramp): a ramp has to climb, but it goes from {} to {}: write it as cool, or raise its end",
        both(.from), both(.to)
    )]
    RampDown { segment: usize, from: Celsius, to: Celsius },
    #[error(
        "segment {segment} (cool): a cool has to fall, but it goes from {} to {}: write it as ramp, or lower its end",
        both(.from), both(.to)
    )]
    CoolUp { segment: usize, from: Celsius, to: Celsius },
    #[error(
        "segment {segment} ({kind}): a length of {} min is outside 0 (not included) to 72 h: leave the segment out, or give it a length",
        .length.as_minutes()
    )]
    Length { segment: usize, kind: &'static str, length: Span },
    #[error("segment {segment} ({kind}): {error}")]
    Quantity { segment: usize, kind: &'static str, error: Box<UnitError> },
    #[error("start: {0}")]
    Start(Box<UnitError>),
    #[error(
        "ventilate {entry}: it has to reach from a lower to a higher temperature, but goes from {} to {}",
        both(.from), both(.to)
    )]
    VentilateDown { entry: usize, from: Celsius, to: Celsius },
    #[error("ventilate {entry}: {error}")]
    VentilateAt { entry: usize, error: Box<UnitError> },
    #[error(transparent)]
    Target(#[from] FamilyError),
}

/// A temperature in both scales: an error is read before anybody said which they prefer.
fn both(t: &Celsius) -> String {
    format!("{} ({})", t.display(Scale::Celsius), t.display(Scale::Fahrenheit))
}

impl Schedule {
    /// Whether a kiln could follow it.
    ///
    /// # Errors
    /// The first [`Malformed`] order found, in the order of the segments.
    pub fn well_formed(&self) -> Result<(), Malformed> {
        if self.name.trim().is_empty() {
            return Err(Malformed::NoName);
        }
        chart::rows_or_reason(self.target, self.family)?;
        if self.segments.len() > MOST_SEGMENTS {
            return Err(Malformed::TooManySegments { count: self.segments.len() });
        }
        self.start
            .checked(&self.start.display(Scale::Celsius))
            .map_err(|error| Malformed::Start(Box::new(error)))?;
        let mut from = self.start;
        for (index, segment) in self.segments.iter().enumerate() {
            from = followed(index + 1, segment, from)?;
        }
        if !self.segments.iter().any(|segment| matches!(segment, Segment::Ramp { .. })) {
            return Err(Malformed::NoHeating);
        }
        for (index, entry) in self.ventilate.iter().enumerate() {
            if entry.from.0 >= entry.to.0 {
                let (from, to) = (entry.from, entry.to);
                return Err(Malformed::VentilateDown { entry: index + 1, from, to });
            }
        }
        Ok(())
    }
}

/// The temperature after one segment, if it can be followed.
fn followed(segment: usize, order: &Segment, from: Celsius) -> Result<Celsius, Malformed> {
    let kind = order.name();
    let quantity = |error| Malformed::Quantity { segment, kind, error: Box::new(error) };
    let lasts = |length: Span| {
        let allowed = length > Span::ZERO && length <= LONGEST_SEGMENT;
        if allowed { Ok(()) } else { Err(Malformed::Length { segment, kind, length }) }
    };
    let to = order.end(from);
    to.checked(&to.display(Scale::Celsius)).map_err(quantity)?;
    match *order {
        Segment::Soak(length) => lasts(length)?,
        Segment::Ramp { pace, .. } => {
            if to.0 <= from.0 {
                return Err(Malformed::RampDown { segment, from, to });
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
                return Err(Malformed::CoolUp { segment, from, to });
            }
            rate.checked(&rate.display(Scale::Celsius)).map_err(quantity)?;
        }
    }
    Ok(to)
}
