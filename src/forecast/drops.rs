//! The distribution of the drop time, from a weighted sample.

use super::sampler::Weighted;
use crate::units::{CelsiusPerHour, Moment, Span};

/// The drop time as a weighted, ordered list.
#[derive(Debug, Clone, PartialEq)]
pub struct Drops {
    lit: Moment,
    /// Milliseconds since lit and the chance of a drop by then, in the order of time. As small as
    /// can be: a screen keeps some thousands of them for every kiln.
    steps: Box<[(u32, f32)]>,
}

impl Drops {
    pub fn of(sample: &[Weighted], lit: Moment) -> Drops {
        let mut steps: Vec<(f64, f64)> =
            sample.iter().map(|s| (s.firing.drop_h, s.weight)).collect();
        steps.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        let mut sum = 0.0;
        let summed = steps.into_iter().map(|(hours, weight)| {
            sum += weight;
            (milliseconds(Span::from_hours(hours)), sum as f32)
        });
        Drops { lit, steps: summed.collect() }
    }

    /// The moment before which the drop lies with this chance, 0 to 1.
    pub fn quantile(&self, chance: f64) -> Moment {
        let at = self
            .steps
            .partition_point(|(_, sum)| f64::from(*sum) < chance)
            .min(self.steps.len() - 1);
        self.lit + Span(i64::from(self.steps[at].0))
    }

    /// The chance that the drop lies before `at`.
    pub fn chance_before(&self, at: Moment) -> f64 {
        if at < self.lit {
            return 0.0;
        }
        let after = milliseconds(at - self.lit);
        let next = self.steps.partition_point(|(drop, _)| *drop <= after);
        next.checked_sub(1).map_or(0.0, |last| f64::from(self.steps[last].1).min(1.0))
    }

    /// Hours since lit and weights, in the order of time.
    pub fn weighted_hours(&self) -> impl Iterator<Item = (f64, f64)> {
        let mut before = 0.0;
        self.steps.iter().map(move |(drop, sum)| {
            let weight = sum - before;
            before = *sum;
            (Span(i64::from(*drop)).as_hours(), f64::from(weight))
        })
    }

    pub fn lit(&self) -> Moment {
        self.lit
    }
}

/// No firing takes as long as these can count, seven weeks.
fn milliseconds(span: Span) -> u32 {
    u32::try_from(span.0.max(0)).unwrap_or(u32::MAX)
}

/// What looks are planned on: the drop time, and the climb that goes with it.
#[derive(Debug, Clone, PartialEq)]
pub struct Outlook {
    pub drops: Drops,
    /// ln C/h of the climb at the mean drop, what an hour later adds to it, and the mean drop, hours
    /// since lit.
    log_climb: (f64, f64, f64),
    /// The climb at the drop by all but today's readings.
    pub usual_climb: CelsiusPerHour,
}

impl Outlook {
    /// The climb by least squares over the sample: fast days are short.
    pub fn of(sample: &[Weighted], lit: Moment, usual_climb: CelsiusPerHour) -> Outlook {
        let whole: f64 = sample.iter().map(|s| s.weight).sum();
        let mean = |of: &dyn Fn(&Weighted) -> f64| {
            sample.iter().map(|s| s.weight * of(s)).sum::<f64>() / whole
        };
        let log_climb = |s: &Weighted| s.firing.climb_c_per_h.max(1.0).ln();
        let drop_h = mean(&|s| s.firing.drop_h);
        let climb = mean(&|s| log_climb(s));
        let variance = mean(&|s| (s.firing.drop_h - drop_h).powi(2));
        let both = mean(&|s| (s.firing.drop_h - drop_h) * (log_climb(s) - climb));
        let slope = if variance > 1e-6 { both / variance } else { 0.0 };
        Outlook { drops: Drops::of(sample, lit), log_climb: (climb, slope, drop_h), usual_climb }
    }

    /// The climb that goes with a drop so many hours after lighting.
    pub fn climb_at(&self, hours: f64) -> CelsiusPerHour {
        let (climb, slope, drop_h) = self.log_climb;
        CelsiusPerHour((climb + slope * (hours - drop_h)).exp().clamp(10.0, 600.0))
    }
}
