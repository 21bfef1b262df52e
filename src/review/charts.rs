//! Control charts: a series watched for a lasting change.
//!
//! EWMA (Roberts 1959) and tabular CUSUM (Page 1954), as worked through in the NIST/SEMATECH
//! e-Handbook of Statistical Methods, 6.3.2.4 and 6.3.2.3. What is usual is taken from an
//! in-control period: the first [`IN_CONTROL`] values. A firing differs from the next for many
//! reasons that pass, so single values are cut at [`CUT_SIGMA`] before they are added up.
//!
//! The rule for a signal: the CUSUM is beyond [`DECISION_SIGMA`] **and** the EWMA is beyond its
//! limits on the same side. The decision is later than a textbook's, because what is usual is itself
//! only known from 30 values. The tests measure what the rule does with normal scatter: without any
//! change it signals within 100 firings in at most 12 of 100 series; a change by 10 minutes with 12
//! minutes of scatter is found within 25 firings in half of them and within 60 in at least 85 of
//! 100.

/// How many values say what is usual.
pub const IN_CONTROL: usize = 30;
/// With fewer there is no chart.
pub const FEWEST_IN_CONTROL: usize = 12;
/// Weight of the newest value in the EWMA.
pub const LAMBDA: f64 = 0.2;
/// Width of the EWMA's limits, in its own standard deviations.
pub const LIMIT_SIGMA: f64 = 3.0;
/// A change smaller than this is let pass by the CUSUM, in standard deviations.
pub const SLACK_SIGMA: f64 = 0.5;
/// Where the CUSUM signals, in standard deviations.
pub const DECISION_SIGMA: f64 = 8.5;
/// A single value counts as at most this far from the usual.
pub const CUT_SIGMA: f64 = 3.0;

/// The exponentially weighted moving average, starting from `target`; one value for each of
/// `values`. `lambda` is above 0 and at most 1.
pub fn ewma(values: &[f64], target: f64, lambda: f64) -> Vec<f64> {
    let mut mean = target;
    let step = |value: &f64| {
        mean += lambda * (value - mean);
        mean
    };
    values.iter().map(step).collect()
}

/// Half the width between the EWMA's limits after `count` values, or in the long run for `None`.
pub fn ewma_half_width(sigma: f64, lambda: f64, limit_sigma: f64, count: Option<u32>) -> f64 {
    let settled = count.map_or(1.0, |count| 1.0 - (1.0 - lambda).powf(2.0 * f64::from(count)));
    limit_sigma * sigma * (lambda / (2.0 - lambda) * settled).sqrt()
}

/// The two sums of a tabular CUSUM after one value.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Sums {
    pub high: f64,
    pub low: f64,
}

/// The tabular CUSUM; `slack` is in the unit of the values.
pub fn cusum(values: &[f64], target: f64, slack: f64) -> Vec<Sums> {
    let mut sums = Sums::default();
    let step = |value: &f64| {
        sums = Sums {
            high: (sums.high + value - target - slack).max(0.0),
            low: (sums.low + target - slack - value).max(0.0),
        };
        sums
    };
    values.iter().map(step).collect()
}

/// What is usual.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InControl {
    pub mean: f64,
    pub sigma: f64,
    /// How many values it rests on.
    pub count: usize,
}

/// A lasting change.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Signal {
    /// The value at which it was sure.
    pub found_at: usize,
    /// The first value after the CUSUM last stood at zero: where the change probably began.
    pub began_at: usize,
    /// Mean of the values since, less the usual mean.
    pub change: f64,
    /// Half of a 95 % interval of `change`.
    pub plus_or_minus: f64,
}

/// A whole chart.
#[derive(Debug, Clone, PartialEq)]
pub struct Chart {
    pub in_control: InControl,
    /// For every value after the in-control period, in sigmas from the usual mean.
    pub ewma_sigma: Vec<f64>,
    pub cusum_sigma: Vec<Sums>,
    /// The first change, if there is one and it has lasted to the end of the series.
    pub signal: Option<Signal>,
}

impl InControl {
    /// From the values of the in-control period. Its standard deviation is that of the values
    /// around their mean, each cut at [`CUT_SIGMA`] robust deviations, so that one odd firing does
    /// not blunt the chart for years. `None` below [`FEWEST_IN_CONTROL`] values or without scatter.
    pub fn of(values: &[f64]) -> Option<InControl> {
        let count = values.len();
        if count < FEWEST_IN_CONTROL {
            return None;
        }
        let (middle, deviation) = super::ledger::robust(values)?;
        let cut = CUT_SIGMA * deviation;
        let kept: Vec<f64> = values
            .iter()
            .map(|v| if cut > 0.0 { v.clamp(middle - cut, middle + cut) } else { *v })
            .collect();
        let mean = kept.iter().sum::<f64>() / count as f64;
        let squares: f64 = kept.iter().map(|v| (v - mean).powi(2)).sum();
        let sigma = (squares / (count - 1) as f64).sqrt();
        (sigma > 0.0).then_some(InControl { mean, sigma, count })
    }
}

impl Chart {
    /// A chart of a series; `None` when it is too short to say what is usual.
    pub fn of(values: &[f64]) -> Option<Chart> {
        let usual = values.len().min(IN_CONTROL);
        let in_control = InControl::of(&values[..usual])?;
        let sigmas: Vec<f64> = values[usual..]
            .iter()
            .map(|v| ((v - in_control.mean) / in_control.sigma).clamp(-CUT_SIGMA, CUT_SIGMA))
            .collect();
        let ewma_sigma = ewma(&sigmas, 0.0, LAMBDA);
        let cusum_sigma = cusum(&sigmas, 0.0, SLACK_SIGMA);
        let mut chart = Chart { in_control, ewma_sigma, cusum_sigma, signal: None };
        chart.signal = chart.find(&values[usual..]);
        Some(chart)
    }

    /// The limits of the EWMA in the long run, in sigmas.
    pub fn limit_sigma() -> f64 {
        ewma_half_width(1.0, LAMBDA, LIMIT_SIGMA, None)
    }

    /// The first signal; one that has gone back to usual since is over and not reported.
    fn find(&self, after: &[f64]) -> Option<Signal> {
        let beyond = |at: usize| {
            let count = u32::try_from(at + 1).ok();
            let limit = ewma_half_width(1.0, LAMBDA, LIMIT_SIGMA, count);
            let (sums, ewma) = (self.cusum_sigma[at], self.ewma_sigma[at]);
            if sums.high > DECISION_SIGMA && ewma > limit {
                Some(true)
            } else if sums.low > DECISION_SIGMA && ewma < -limit {
                Some(false)
            } else {
                None
            }
        };
        // A change that has lasted is one whose sum has not been back at zero since.
        let sum = |at: usize, up: bool| {
            if up { self.cusum_sigma[at].high } else { self.cusum_sigma[at].low }
        };
        let last = after.len().checked_sub(1)?;
        let up = sum(last, true) > sum(last, false);
        let began_at = (0..=last).rev().find(|at| sum(*at, up) == 0.0).map_or(0, |at| at + 1);
        let found_at = (began_at..=last).find(|at| beyond(*at) == Some(up))?;
        let since = &after[began_at..];
        let count = since.len() as f64;
        let mean = since.iter().sum::<f64>() / count;
        let sigma = self.in_control.sigma;
        let error = sigma * (1.0 / count + 1.0 / self.in_control.count as f64).sqrt();
        Some(Signal {
            found_at: found_at + self.in_control.count,
            began_at: began_at + self.in_control.count,
            change: mean - self.in_control.mean,
            plus_or_minus: super::wilson::Z_95 * error,
        })
    }
}
