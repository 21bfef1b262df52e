//! The normal distribution, as far as the forecast needs it, and a seeded source of its draws.

use rand::RngExt as _;
use rand::SeedableRng as _;
use rand_pcg::Pcg64Mcg;

/// Standard normal draws, repeatable from a seed.
#[derive(Debug, Clone)]
pub struct Draws {
    uniform: Pcg64Mcg,
    spare: Option<f64>,
}

impl Draws {
    pub fn seeded(seed: u64) -> Self {
        Draws { uniform: Pcg64Mcg::seed_from_u64(seed), spare: None }
    }

    pub fn uniform(&mut self) -> f64 {
        self.uniform.random()
    }

    /// One standard normal draw (Marsaglia's polar method).
    pub fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        loop {
            let (x, y) = (2.0 * self.uniform() - 1.0, 2.0 * self.uniform() - 1.0);
            let square = x * x + y * y;
            if square < 1.0 && square > 0.0 {
                let scale = (-2.0 * square.ln() / square).sqrt();
                self.spare = Some(y * scale);
                return x * scale;
            }
        }
    }
}

/// The chance that a standard normal is below `x`, to 1.2e-7 (Numerical Recipes' rational form of
/// erfc, from memory; the tests hold it against quadrature).
pub fn chance_below(x: f64) -> f64 {
    let z = x.abs() / std::f64::consts::SQRT_2;
    let t = 1.0 / (1.0 + 0.5 * z);
    const TERMS: [f64; 10] = [
        0.17087277,
        -0.82215223,
        1.48851587,
        -1.13520398,
        0.27886807,
        -0.18628806,
        0.09678418,
        0.37409196,
        1.00002368,
        -1.26551223,
    ];
    let series = TERMS.iter().fold(0.0, |sum, term| sum * t + term);
    let tail = 0.5 * t * (-z * z + series).exp();
    if x > 0.0 { 1.0 - tail } else { tail }
}

/// A draw of Student's t with `freedom` degrees of freedom from a standard normal one: the
/// Cornish-Fisher expansion to second order, good to a few percent of a standard deviation from
/// five degrees of freedom up, out to three standard deviations.
pub fn heavier_tail(z: f64, freedom: f64) -> f64 {
    let square = z * z;
    z + z * (square + 1.0) / (4.0 * freedom)
        + z * ((5.0 * square + 16.0) * square + 3.0) / (96.0 * freedom * freedom)
}
