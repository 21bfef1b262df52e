//! What a temperature history has done to a cone.
//!
//! Heat work J is the integral of k(T) over time; a history is a sequence of timed temperatures
//! joined by straight pieces, on each of which the integral is exact. [`HeatWork`] takes the
//! history one reading at a time, in constant time and space.

use super::curve::Curve;
use crate::units::{Celsius, Moment};

/// Heat work of one cone, taken in reading by reading.
#[derive(Debug, Clone, PartialEq)]
pub struct HeatWork {
    curve: &'static Curve,
    last: Option<(Moment, Celsius)>,
    total: f64,
}

impl HeatWork {
    /// A fresh cone, nothing done to it yet.
    pub fn new(curve: &'static Curve) -> Self {
        HeatWork { curve, last: None, total: 0.0 }
    }

    /// Takes in the next reading. Readings come in the order of time; one that is not later than
    /// the last adds nothing and replaces it.
    pub fn append(&mut self, at: Moment, temperature: Celsius) {
        if let Some((last_at, last)) = self.last
            && at > last_at
        {
            let mean = self.curve.mean_heat_work_per_hour(last, temperature);
            self.total += mean * (at - last_at).as_hours();
        }
        self.last = Some((at, temperature));
    }

    /// Heat work so far: 0 fresh, 1 at the end point, more beyond it.
    pub fn total(&self) -> f64 {
        self.total
    }
}
