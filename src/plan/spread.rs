//! How a length or a moment is spread: two half normals put together at the median.

use statrs::function::erf::erfc;

/// How many standard deviations of a half normal lie between the median and its 5 % or 95 % point.
const Z95: f64 = 1.6449;

/// The least standard deviation of a side, minutes (a guess): nobody knows a drop to the second.
const LEAST_MIN: f64 = 0.5;

/// The standard normal distribution function; beyond nine deviations it is 0 or 1 to a double's last place.
pub fn phi(x: f64) -> f64 {
    if x.abs() > 9.0 { f64::from(x > 0.0) } else { 0.5 * erfc(-x / std::f64::consts::SQRT_2) }
}

/// A length or a moment that is not known to the minute, in minutes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    pub p05: f64,
    pub p50: f64,
    pub p95: f64,
    faster: f64,
    slower: f64,
    pub mean: f64,
    pub variance: f64,
}

impl Spread {
    /// The spread with these points; they must not fall.
    pub fn new([p05, p50, p95]: [f64; 3]) -> Spread {
        let faster = ((p50 - p05) / Z95).max(LEAST_MIN);
        let slower = ((p95 - p50) / Z95).max(LEAST_MIN);
        let mean = p50 + (slower - faster) / (2.0 * std::f64::consts::PI).sqrt();
        let variance = (faster * faster + slower * slower) / 2.0 - (mean - p50).powi(2);
        Spread { p05, p50, p95, faster, slower, mean, variance }
    }

    /// The chance that it is no longer than this.
    pub fn by(&self, minutes: f64) -> f64 {
        let side = if minutes < self.p50 { self.faster } else { self.slower };
        phi((minutes - self.p50) / side)
    }

    /// The point so many standard deviations from the median.
    pub fn at(&self, deviations: f64) -> f64 {
        self.p50 + deviations * if deviations < 0.0 { self.faster } else { self.slower }
    }
}
