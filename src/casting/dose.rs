//! Dose of drying: the heat work of the casting bench, in hours at the reference deficit.

use super::air::Air;
use crate::units::{Moment, Span};

/// Dose by the clock, for one exponent of the air.
#[derive(Debug, Clone)]
pub struct Dose {
    first: Moment,
    /// The dose until each hour.
    until: Vec<f64>,
    /// Dose an hour outside of these hours.
    usual: f64,
    /// How far ln dose of a day to come may lie from what is foreseen.
    pub unforeseen: f64,
}

impl Dose {
    /// With the deficit to this power: 0 where the air does nothing, 1 by Dalton's law.
    pub fn new(air: Option<&Air>, exponent: f64) -> Dose {
        let Some(air) = air.filter(|_| exponent > 0.0) else {
            return Dose { first: Moment(0), until: vec![0.0, 1.0], usual: 1.0, unforeseen: 0.0 };
        };
        let mut until = vec![0.0];
        until.extend(air.hours.iter().scan(0.0, |sum, ln| {
            *sum += (exponent * ln).exp();
            Some(*sum)
        }));
        let usual = (exponent * air.usual).exp();
        Dose { first: air.first, until, usual, unforeseen: exponent * air.changes }
    }

    fn until(&self, at: Moment) -> f64 {
        let hours = (at - self.first).as_hours();
        let known = hours.clamp(0.0, (self.until.len() - 1) as f64);
        let hour = (known as usize).min(self.until.len() - 2);
        let (low, high) = (self.until[hour], self.until[hour + 1]);
        low + (known - hour as f64) * (high - low) + (hours - known) * self.usual
    }

    /// The dose from one moment to another.
    pub fn between(&self, from: Moment, to: Moment) -> f64 {
        self.until(to) - self.until(from)
    }

    /// When a dose is reached that began then.
    pub fn reached(&self, from: Moment, dose: f64) -> Moment {
        let wanted = self.until(from) + dose;
        let last = self.until.len() - 1;
        let known = wanted.clamp(0.0, self.until[last]);
        let after = self.until.partition_point(|until| *until <= known).clamp(1, last);
        let (low, high) = (self.until[after - 1], self.until[after]);
        let part = (known - low) / (high - low) + (wanted - known) / self.usual;
        self.first + Span::from_hours((after - 1) as f64 + part)
    }
}
