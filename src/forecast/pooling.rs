//! What several values say about the next one, with partial pooling.
//!
//! Values come in groups: those of this kiln with this load, and those of neighbours that are
//! alike only up to a difference between groups. All pull on one mean, each group by as much as
//! its likeness and its number allow. One odd value pulls little: every value is weighted by
//! Student's t. The spread from value to value starts from a typical one and is learned too.

use statrs::distribution::{Continuous, StudentsT};

use crate::review::ledger::median;

/// Freedom of the t that weighs single values; low is more robust.
const FREEDOM_OF_ONE: f64 = 4.0;
/// How many values the typical spread counts for.
const TYPICAL_COUNTS: f64 = 5.0;

/// A measured value and the variance of its own error.
pub type Measured = (f64, f64);

/// Values that share a mean which lies `between` (a standard deviation) from the wanted one.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    pub between: f64,
    pub values: Vec<Measured>,
}

/// The next value, as Student's t.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Predicted {
    pub mean: f64,
    pub spread: f64,
    pub freedom: f64,
    /// How much of the square of the spread is from value to value, 0 to 1; the rest is that the
    /// mean is not known.
    pub each: f64,
}

impl Predicted {
    /// The value that a standard normal number stands for.
    pub fn at(&self, z: f64) -> f64 {
        self.mean + self.spread * heavier_tail(z, self.freedom)
    }

    /// ln of the density.
    pub fn log_density(&self) -> LogDensity {
        // Beyond this a t is a normal distribution to all digits that count.
        let freedom = self.freedom.min(1e6);
        let t = StudentsT::new(self.mean, self.spread, freedom);
        LogDensity {
            of: Predicted { freedom, ..*self },
            peak: t.map_or(0.0, |t| t.ln_pdf(self.mean)),
        }
    }
}

/// ln of a density of Student's t, with its height reckoned once.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LogDensity {
    of: Predicted,
    peak: f64,
}

impl LogDensity {
    pub fn at(&self, x: f64) -> f64 {
        let Predicted { mean, spread, freedom, .. } = self.of;
        let off = (x - mean) / spread;
        self.peak - 0.5 * (freedom + 1.0) * (off * off / freedom).ln_1p()
    }
}

/// The next value from a prior on the mean (mean, standard deviation), the typical spread from
/// value to value, and the groups.
pub fn predict(prior: (f64, f64), typical_spread: f64, groups: &[Group]) -> Predicted {
    let mut spread = typical_spread;
    let mut mean = prior.0;
    let mut variance_of_mean = prior.1 * prior.1;
    let mut freedom = TYPICAL_COUNTS;
    for _ in 0..4 {
        let (mut precision, mut pull) = (prior.1.powi(-2), prior.0 * prior.1.powi(-2));
        let (mut squares, mut counted) = (0.0, 0.0);
        for group in groups.iter().filter(|group| !group.values.is_empty()) {
            let centre = Centre::of(&group.values, spread);
            let group_precision = 1.0 / (group.between.powi(2) + 1.0 / centre.precision);
            precision += group_precision;
            pull += group_precision * centre.mean;
            squares += centre.squares;
            counted += centre.counted;
        }
        mean = pull / precision;
        variance_of_mean = 1.0 / precision;
        freedom = TYPICAL_COUNTS + counted;
        spread = ((TYPICAL_COUNTS * typical_spread * typical_spread + squares) / freedom).sqrt();
    }
    // Only the spread from value to value is uncertain in itself (Welch and Satterthwaite).
    let whole = spread.hypot(variance_of_mean.sqrt());
    let each = (spread / whole).powi(2);
    Predicted { mean, spread: whole, freedom: freedom / (each * each), each }
}

/// A draw of Student's t with `freedom` degrees of freedom from a standard normal one: the
/// Cornish-Fisher expansion to second order, within 6 % of the quantile from five degrees of freedom
/// up, out to three standard deviations.
pub fn heavier_tail(z: f64, freedom: f64) -> f64 {
    let part = 1.0 / freedom;
    let (fourth, second) = (part / 4.0, part * part / 96.0);
    let square = z * z;
    let (bend, lift) = (fourth + 16.0 * second, 1.0 + fourth + 3.0 * second);
    z * ((5.0 * second * square + bend) * square + lift)
}

/// The robust mean of one group.
struct Centre {
    mean: f64,
    precision: f64,
    /// Squared residuals beyond what the measurements' own errors explain, and how many values
    /// they are worth.
    squares: f64,
    counted: f64,
}

impl Centre {
    fn of(values: &[Measured], spread: f64) -> Centre {
        let mut mean = median(values.iter().map(|(value, _)| *value)).unwrap_or_default();
        let mut precision = 0.0;
        let weights = |mean: f64| {
            values.iter().map(move |&(value, error)| {
                let variance = spread * spread + error;
                let square = (value - mean).powi(2) / variance;
                ((FREEDOM_OF_ONE + 1.0) / (FREEDOM_OF_ONE + square)).min(1.0) / variance
            })
        };
        for _ in 0..5 {
            precision = weights(mean).sum::<f64>();
            mean =
                weights(mean).zip(values).map(|(w, (value, _))| w * value).sum::<f64>() / precision;
        }
        let shares: Vec<f64> = weights(mean)
            .zip(values)
            .map(|(w, (_, error))| w * (spread * spread + error))
            .collect();
        let beyond = shares
            .iter()
            .zip(values)
            .map(|(share, (value, error))| share * ((value - mean).powi(2) - error));
        // Single terms may be negative: cutting each at 0 would make the spread too wide.
        let squares = beyond.sum::<f64>().max(0.0);
        let counted = (shares.iter().sum::<f64>() - 1.0).max(0.0);
        Centre { mean, precision, squares, counted }
    }
}
