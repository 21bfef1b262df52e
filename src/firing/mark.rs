//! What was forecast of a drop, kept by the watch to be held against the drop that was seen.
//!
//! A mark is of one lighting: where kiln, cone or time of the lighting are corrected, or the record
//! is taken in by another shop, the number of that event is another one, and the mark stands for
//! nothing.

use serde::{Deserialize, Serialize};

use super::ids::EventId;
use crate::units::{Moment, Span};

closed! {
    /// When a forecast is kept. The first of these is the window people act on; a firing that lacks it is
    /// told by the next.
    #[derive(PartialOrd, Ord, Hash, Serialize, Deserialize)]
    pub enum When {
        AtLighting = 2 => "at_lighting",
        /// About an hour before the middle of what was forecast then.
        HourBefore = 0 => "hour_before",
        /// As soon as the first look was known.
        FirstLook = 1 => "first_look",
    }
}

closed! {
    /// What it was forecast by.
    #[derive(Hash)]
    pub enum ForecastBy {
        Clock => "clock",
        OneReading => "one reading",
        Readings => "readings",
    }
}

/// One forecast of the drop, as it was told.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mark {
    pub when: When,
    pub by: ForecastBy,
    /// From the moment it was kept to the drop: one time in twenty it is earlier, as likely earlier
    /// as later, one time in twenty later.
    pub p05: Span,
    pub p50: Span,
    pub p95: Span,
    /// How many times as wide as reckoned the window was told.
    pub width: f64,
    /// The event that lit the firing.
    pub lit: EventId,
}

/// A mark and when it was made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Marked {
    pub at: Moment,
    pub mark: Mark,
}

/// Ends and middle of a window: 5, 50 and 95 % of the drop.
pub type Quantiles = [Moment; 3];

impl Marked {
    /// The window as it was told.
    pub fn told(&self) -> Quantiles {
        let Mark { p05, p50, p95, .. } = self.mark;
        [p05, p50, p95].map(|after| self.at + after)
    }

    /// The window as it was reckoned, before the shop's own record widened or narrowed it.
    pub fn reckoned(&self, lit: Moment) -> Quantiles {
        widened(self.told(), lit, 1.0 / self.mark.width)
    }
}

/// The window so many times as wide either way of its middle, in the logarithm of the time since
/// lit: no end comes before the lighting.
pub fn widened(window: Quantiles, lit: Moment, times: f64) -> Quantiles {
    if (times - 1.0).abs() < 1e-9 {
        return window;
    }
    let [from, middle, to] = window;
    let hours = |at: Moment| (at - lit).as_hours().max(1e-3);
    let end =
        |end| lit + Span::from_hours(hours(middle) * (hours(end) / hours(middle)).powf(times));
    [end(from).min(middle), middle, end(to)]
}
