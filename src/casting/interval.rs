//! A normal value of which only an interval is known.

use std::f64::consts::PI;

/// The chance of a standard normal value below this one.
pub use crate::plan::spread::phi as below;

/// Its density.
fn density(z: f64) -> f64 {
    (-0.5 * z * z).exp() / (2.0 * PI).sqrt()
}

/// How likely an interval is, and how that changes with the mean.
#[derive(Debug, Clone, Copy, Default)]
pub struct Likelihood {
    pub log: f64,
    /// First derivative of the logarithm.
    pub slope: f64,
    /// Second derivative with its sign turned; not negative.
    pub bend: f64,
}

/// A normal value of this mean and spread between two bounds; with the chance `odd` the bounds say
/// nothing, since somebody erred.
pub fn likelihood((low, high): (f64, f64), mean: f64, spread: f64, odd: f64) -> Likelihood {
    let (a, b) = ((low - mean) / spread, (high - mean) / spread);
    // On the side where the tails are small, and differences exact.
    let chance = if a > 0.0 { below(-a) - below(-b) } else { below(b) - below(a) };
    let whole = (1.0 - odd) * chance + odd;
    if chance < 1e-12 {
        return Likelihood { log: whole.max(1e-300).ln(), slope: 0.0, bend: 0.0 };
    }
    let (at_a, at_b) = (density(a), density(b));
    let product = |z: f64, density: f64| if z.is_finite() { z * density } else { 0.0 };
    let slope = (at_a - at_b) / chance;
    let bend = (slope * slope - (product(a, at_a) - product(b, at_b)) / chance).max(0.0);
    let meant = (1.0 - odd) * chance / whole;
    Likelihood {
        log: whole.ln(),
        slope: meant * slope / spread,
        bend: meant * bend / (spread * spread),
    }
}
