//! How far a kiln has risen by a share of its time, and so what one temperature tells of today's length.
//!
//! Between cold and the end of its target a chamber rises as a power of time,
//! (T - cold) / (end - cold) = (t / length)^p: p is 1 for an even climb, less where a kiln slows down,
//! more where its burners are turned up. A kiln that is fired the same way has much the same p, so one
//! temperature about half way tells how far the day has come.

use super::evidence::{Cones, Reading};
use super::past_end::TYPICAL_CLIMB;
use super::pooling::{Measured, Predicted};
use crate::units::CelsiusPerHour;

/// A cold kiln, C.
pub const COLD_C: f64 = 20.0;
/// The power of a kiln that nobody has read (guesses: an even climb, give or take), and how much it
/// differs from one firing to the next.
pub const ANY_POWER: (f64, f64) = (1.0, 0.25);
pub const POWER_SPREAD: f64 = 0.08;
/// The shares of the time between which a past firing tells its power: before, cold ware and burners
/// just lit say little of the day; after, every power rises as high.
const TOLD_WITHIN: (f64, f64) = (0.15, 0.9);
/// No reading is taken to be nearer to the lighting or the drop than this, as a share of the time.
const NEAREST: f64 = 0.02;

/// A reading as a share of the way, and the temperature between cold and the end of the target, C.
#[derive(Debug, Clone, Copy)]
pub struct Rise {
    read_h: f64,
    share: f64,
    noise: f64,
}

impl Rise {
    /// `None` for what is below cold or near the end.
    pub fn of(reading: &Reading, cones: &Cones) -> Option<Rise> {
        let whole_c = cones.target.temperature_ending(CelsiusPerHour(TYPICAL_CLIMB)).0 - COLD_C;
        let share = (reading.c - COLD_C) / whole_c;
        let told = (0.05..0.97).contains(&share) && reading.at_h > 0.0;
        told.then_some(Rise { read_h: reading.at_h, share, noise: reading.noise_c / whole_c })
    }

    /// ln of the share of the time, of a firing that takes so many hours.
    fn log_time(&self, length_h: f64) -> f64 {
        (self.read_h / length_h).clamp(NEAREST, 1.0 - NEAREST).ln()
    }

    /// The power of a firing that takes so many hours, with the variance of its error.
    fn power(&self, length_h: f64) -> Measured {
        let log_time = self.log_time(length_h);
        let error = self.noise / (self.share * log_time);
        (self.share.ln() / log_time, error * error)
    }

    /// The power of a past firing, by the reading that tells it best.
    pub fn learned(readings: &[Reading], cones: &Cones, length_h: f64) -> Option<Measured> {
        let half_way = |reading: &&Reading| (reading.at_h - 0.5 * length_h).abs();
        let best = readings.iter().min_by(|a, b| half_way(a).total_cmp(&half_way(b)))?;
        let told = (TOLD_WITHIN.0..TOLD_WITHIN.1).contains(&(best.at_h / length_h));
        Some(Rise::of(best, cones).filter(|_| told)?.power(length_h))
    }

    /// ln density of having read this share when the firing takes so many hours, up to a constant.
    pub fn log_density(&self, power: &Predicted, length_h: f64) -> f64 {
        let (seen, error) = self.power(length_h);
        let power = Predicted { spread: power.spread.hypot(error.sqrt()), ..*power };
        power.log_density().at(seen) - (self.share * self.log_time(length_h).abs()).ln()
    }
}
