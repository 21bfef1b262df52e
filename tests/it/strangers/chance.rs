//! Repeatable chance.

use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;

/// Stream of random numbers from a seed.
#[derive(Debug, Clone)]
pub(crate) struct Chance {
    seed: u64,
    stream: Pcg64Mcg,
}

impl Chance {
    pub(crate) fn new(seed: u64) -> Self {
        Self { seed, stream: Pcg64Mcg::seed_from_u64(seed) }
    }

    /// Stream for one purpose, untouched by what was drawn for others: a fault of the probe leaves
    /// the weather as it was.
    pub(crate) fn branch(&self, purpose: u64) -> Self {
        Self::new(self.seed.rotate_left(17) ^ (purpose + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15))
    }

    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.stream.random::<f64>()
    }

    pub(crate) fn happens(&mut self, share: f64) -> bool {
        self.stream.random::<f64>() < share
    }

    pub(crate) fn one_of<T: Copy>(&mut self, choices: &[T]) -> T {
        choices[self.stream.random_range(0..choices.len())]
    }

    /// Normal number by the method of Box and Muller (1958).
    pub(crate) fn normal(&mut self, mean: f64, deviation: f64) -> f64 {
        let radius = (-2.0 * (1.0 - self.stream.random::<f64>()).ln()).sqrt();
        mean + deviation * radius * (std::f64::consts::TAU * self.stream.random::<f64>()).cos()
    }

    pub(crate) fn log_normal(&mut self, median: f64, deviation_of_log: f64) -> f64 {
        median * self.normal(0.0, deviation_of_log).exp()
    }
}

/// Fluctuation about zero that forgets itself in `memory_s` seconds: gusts, the mains.
#[derive(Debug, Clone)]
pub(crate) struct RedNoise {
    pub(crate) value: f64,
    deviation: f64,
    keeps: f64,
    chance: Chance,
}

impl RedNoise {
    /// A value is drawn every `step_s` seconds.
    pub(crate) fn new(deviation: f64, memory_s: f64, step_s: f64, mut chance: Chance) -> Self {
        let value = chance.normal(0.0, deviation);
        Self { value, deviation, keeps: (-step_s / memory_s).exp(), chance }
    }

    pub(crate) fn step(&mut self) {
        let shock = self.deviation * (1.0 - self.keeps * self.keeps).sqrt();
        self.value = self.value * self.keeps + self.chance.normal(0.0, shock);
    }
}
