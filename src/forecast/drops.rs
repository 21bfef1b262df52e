//! The distribution of the drop time, from a weighted sample.

use super::Imagined;
use super::sampler::Weighted;
use crate::units::{Moment, Span};

/// The drop time as a weighted, ordered list, and as a smooth curve for its thin ends.
#[derive(Debug, Clone, PartialEq)]
pub struct Drops {
    lit: Moment,
    /// Hours since lit and the chance of a drop by then, in the order of time.
    steps: Vec<(f64, f64)>,
}

impl Drops {
    pub fn of(sample: &[Weighted<Imagined>], lit: Moment) -> Drops {
        let mut steps: Vec<(f64, f64)> =
            sample.iter().map(|s| (s.firing.drop_h, s.weight)).collect();
        steps.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut sum = 0.0;
        for step in &mut steps {
            sum += step.1;
            step.1 = sum;
        }
        Drops { lit, steps }
    }

    /// The moment before which the drop lies with this chance, 0 to 1.
    pub fn quantile(&self, chance: f64) -> Moment {
        let at = self.steps.partition_point(|(_, sum)| *sum < chance).min(self.steps.len() - 1);
        self.lit + Span::from_hours(self.steps[at].0)
    }

    /// The chance that the drop lies before `at`.
    pub fn chance_before(&self, at: Moment) -> f64 {
        let hours = (at - self.lit).as_hours();
        let next = self.steps.partition_point(|(h, _)| *h <= hours);
        next.checked_sub(1).map_or(0.0, |last| self.steps[last].1.min(1.0))
    }

    /// Width of the window from the 5 % to the 95 % quantile.
    pub fn width(&self) -> Span {
        self.quantile(0.95) - self.quantile(0.05)
    }

    /// Hours since lit and weights, in the order of time.
    pub fn weighted_hours(&self) -> impl Iterator<Item = (f64, f64)> {
        let mut before = 0.0;
        self.steps.iter().map(move |(hours, sum)| {
            let weight = sum - before;
            before = *sum;
            (*hours, weight)
        })
    }

    pub fn lit(&self) -> Moment {
        self.lit
    }
}
