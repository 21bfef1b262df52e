//! When the target cone will drop, as a distribution.

use crate::cone::Cone;
use crate::units::{Celsius, CelsiusPerHour, Moment};

/// What is expected of one cone of the pack.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ConeNow {
    pub cone: Cone,
    /// 0 fresh, 1 at its end point.
    pub heat_work: f64,
    /// Degrees from upright, 8 to 90.
    pub lean_deg: f64,
}

/// The drop of the target cone, and the state of the kiln it follows from.
#[derive(Debug, Clone, PartialEq)]
pub struct Forecast {
    /// Quantiles of the drop time; the drop lies before `p05` one time in twenty.
    pub p05: Moment,
    pub p50: Moment,
    pub p95: Moment,
    /// Chance that the target has dropped already, 0 to 1.
    pub dropped: f64,
    /// The pack, coolest first, as expected now.
    pub cones: Vec<ConeNow>,
    /// The chamber now, and how fast it climbs.
    pub chamber: Option<Celsius>,
    pub climb: Option<CelsiusPerHour>,
    /// What the forecast rests on, as whole phrases ("readings to 9:40" is left to the words).
    pub rests_on: Vec<Ground>,
}

/// One source of knowledge a forecast rests on.
#[derive(Debug, Clone, PartialEq)]
pub enum Ground {
    Schedule {
        name: String,
    },
    PastFirings {
        count: usize,
    },
    Readings {
        count: usize,
        last: Moment,
    },
    Looks {
        count: usize,
        last: Moment,
    },
    /// Only the load type's usual length.
    UsualLength,
}

/// Why there is no forecast.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Declined {
    NotLit,
    /// The target was seen down, or the kiln is off: nothing is left to forecast.
    Over,
    /// No schedule, no usual length, no past firing and too few readings.
    NothingKnown,
}
