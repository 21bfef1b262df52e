//! What a temperature history has done to a cone.
//!
//! Heat work J is the integral of k(T) over time; a history is a sequence of timed temperatures
//! joined by straight pieces, on each of which the integral is exact. [`HeatWork`] takes the
//! history one reading at a time, in constant time and space.
//!
//! A gap (the probe was silent) is bridged by a straight piece like any other, but what was
//! bridged is counted apart, so that a result resting on a guess can say so.

use super::curve::Curve;
use crate::units::{Celsius, Moment};

/// Heat work of one cone, taken in reading by reading.
#[derive(Debug, Clone, PartialEq)]
pub struct HeatWork {
    curve: &'static Curve,
    last: Option<(Moment, Celsius)>,
    in_gap: bool,
    sum: CompensatedSum,
    bridged: CompensatedSum,
}

impl HeatWork {
    /// A fresh cone, nothing done to it yet.
    pub fn new(curve: &'static Curve) -> Self {
        HeatWork {
            curve,
            last: None,
            in_gap: false,
            sum: CompensatedSum::default(),
            bridged: CompensatedSum::default(),
        }
    }

    /// Takes in the next reading. Readings come in the order of time; one that is not later than
    /// the last adds nothing and replaces it.
    pub fn append(&mut self, at: Moment, temperature: Celsius) {
        if let Some((last_at, last)) = self.last
            && at > last_at
        {
            let done =
                self.curve.mean_heat_work_per_hour(last, temperature) * (at - last_at).as_hours();
            self.sum.add(done);
            if self.in_gap {
                self.bridged.add(done);
            }
        }
        self.last = Some((at, temperature));
        self.in_gap = false;
    }

    /// From here to the next reading nothing is known.
    pub fn gap(&mut self) {
        self.in_gap = true;
    }

    pub fn curve(&self) -> &'static Curve {
        self.curve
    }

    /// Heat work so far: 0 fresh, 1 at the end point, more beyond it.
    pub fn total(&self) -> f64 {
        self.sum.value()
    }

    /// The part of [`Self::total`] that stands on straight lines drawn across gaps.
    pub fn bridged(&self) -> f64 {
        self.bridged.value()
    }
}

/// Heat work of a whole history at once. It adds up the same pieces as [`HeatWork::append`].
pub fn of_history(curve: &'static Curve, history: &[(Moment, Celsius)]) -> f64 {
    let mut heat_work = HeatWork::new(curve);
    for &(at, temperature) in history {
        heat_work.append(at, temperature);
    }
    heat_work.total()
}

/// A running sum that carries its own rounding error (Neumaier 1974), so that ten million short
/// pieces add up as well as ten long ones.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct CompensatedSum {
    sum: f64,
    carry: f64,
}

impl CompensatedSum {
    pub(super) fn add(&mut self, term: f64) {
        let next = self.sum + term;
        self.carry += if self.sum.abs() >= term.abs() {
            (self.sum - next) + term
        } else {
            (term - next) + self.sum
        };
        self.sum = next;
    }

    pub(super) fn value(self) -> f64 {
        self.sum + self.carry
    }
}
