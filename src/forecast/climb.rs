//! The chamber and its climb at the last reading, from noisy readings.
//!
//! A Kalman filter on temperature and climb, where the climb wanders. How much it wanders is not
//! known either: four degrees of restlessness are filtered side by side and weighted by how well
//! they foretold each reading, today's and those of past firings of this kiln.

use super::evidence::Reading;

/// Standard deviations of ln climb over a firing, each a possible kiln: from one on a controller
/// to one by hand in the wind. Guesses, weighted by the evidence.
pub const RESTLESSNESS: [f64; 4] = [0.05, 0.12, 0.25, 0.5];
/// What is thought of them beforehand.
pub const RESTLESSNESS_PRIOR: [f64; 4] = [0.2, 0.4, 0.3, 0.1];
/// How long a mood of the kiln lasts, hours: the time in which its memory falls to 1/e (a guess).
pub const MOOD_H: f64 = 1.5;
/// How far back the climb is judged from, hours.
const WINDOW_H: f64 = 2.5;
/// The climb before anything is read, C/h, and how wide that is.
const CLIMB_BEFORE: (f64, f64) = (120.0, 120.0);

/// Temperature and climb as a normal distribution, C and C/h.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChamberState {
    pub c: f64,
    pub climb_c_per_h: f64,
    pub variance_c: f64,
    pub covariance: f64,
    pub variance_climb: f64,
}

/// The filter's answer for each degree of restlessness.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChamberStates {
    pub states: [ChamberState; RESTLESSNESS.len()],
    /// ln of how well each foretold the readings.
    pub log_likelihood: [f64; RESTLESSNESS.len()],
}

/// Filters the last hours of readings; `None` with fewer than two of them.
pub fn filter(readings: &[Reading]) -> Option<ChamberStates> {
    let last = readings.last()?;
    let from = readings.partition_point(|reading| reading.at_h < last.at_h - WINDOW_H);
    let window = &readings[from.min(readings.len().saturating_sub(2))..];
    if window.len() < 2 {
        return None;
    }
    let both = RESTLESSNESS.map(|restless| filtered(window, restless));
    Some(ChamberStates {
        states: both.map(|(state, _)| state),
        log_likelihood: both.map(|(_, log_likelihood)| log_likelihood),
    })
}

fn filtered(window: &[Reading], restless: f64) -> (ChamberState, f64) {
    let first = window[0];
    let mut state = ChamberState {
        c: first.c,
        climb_c_per_h: CLIMB_BEFORE.0,
        variance_c: first.noise_c.powi(2),
        covariance: 0.0,
        variance_climb: CLIMB_BEFORE.1.powi(2),
    };
    let mut log_likelihood = 0.0;
    for (count, pair) in window.windows(2).enumerate() {
        state.forward(pair[1].at_h - pair[0].at_h, restless);
        let surprise = state.take(&pair[1]);
        // The first two readings only find the climb.
        if count > 0 {
            log_likelihood += surprise;
        }
    }
    (state, log_likelihood)
}

impl ChamberState {
    fn forward(&mut self, hours: f64, restless: f64) {
        let climb = self.climb_c_per_h.abs().clamp(30.0, 400.0);
        let per_hour = (climb * restless).powi(2) * 2.0 / MOOD_H;
        self.c += self.climb_c_per_h * hours;
        self.variance_c += 2.0 * self.covariance * hours
            + self.variance_climb * hours * hours
            + per_hour * hours.powi(3) / 3.0;
        self.covariance += self.variance_climb * hours + per_hour * hours * hours / 2.0;
        self.variance_climb += per_hour * hours;
    }

    /// Takes in a reading and gives ln of its likelihood, with the tails of a reading that may be
    /// poor: beyond four standard deviations it neither pulls nor counts more.
    fn take(&mut self, reading: &Reading) -> f64 {
        let variance = self.variance_c + reading.noise_c.powi(2);
        let off = reading.c - self.c;
        let deviations = off / variance.sqrt();
        let inflated = variance * (deviations / 4.0).powi(2).max(1.0);
        let (gain_c, gain_climb) = (self.variance_c / inflated, self.covariance / inflated);
        self.c += gain_c * off;
        self.climb_c_per_h += gain_climb * off;
        self.variance_climb -= gain_climb * self.covariance;
        self.covariance -= gain_c * self.covariance;
        self.variance_c -= gain_c * self.variance_c;
        -0.5 * (variance.ln() + deviations.powi(2).min(16.0))
    }
}

/// Chances of each restlessness from several logarithms of likelihood.
pub fn chances(log_likelihood: &[f64; RESTLESSNESS.len()]) -> [f64; RESTLESSNESS.len()] {
    let most = log_likelihood.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let mut chances = [0.0; RESTLESSNESS.len()];
    for (at, chance) in chances.iter_mut().enumerate() {
        *chance = RESTLESSNESS_PRIOR[at] * (log_likelihood[at] - most).exp();
    }
    let sum: f64 = chances.iter().sum();
    chances.map(|chance| chance / sum)
}
