//! The chamber and its climb at the last reading, from noisy readings.
//!
//! Readings are laid along a ruler: how many hours the plan, or this kiln on other days, takes to
//! come so far. On that ruler a planned burner step is nothing new, and today's pace is near 1. A
//! Kalman filter follows place and pace, where the pace wanders. How much it wanders is not
//! known either: four degrees of restlessness are filtered side by side and weighted by how well
//! they foretold each reading, today's and those of past firings of this kiln.

use super::evidence::{Reading, gather};
use super::planned::Planned;
use super::profile::Profile;

/// Standard deviations of ln climb over a firing, each a possible kiln: from one on a controller
/// to one by hand in the wind. Guesses, weighted by the evidence.
pub const RESTLESSNESS: [f64; 4] = [0.04, 0.10, 0.22, 0.5];
/// What is thought of them beforehand.
pub const RESTLESSNESS_PRIOR: [f64; 4] = [0.2, 0.4, 0.3, 0.1];
/// How long a mood of the kiln lasts, hours: the time in which its memory falls to 1/e (a guess).
pub const MOOD_H: f64 = 1.5;
/// Readings are gathered over so long, hours: a gust of wind lasts minutes and says little of the
/// hours ahead.
const GATHER_H: f64 = 10.0 / 60.0;
/// How far back the climb is judged from, hours.
const WINDOW_H: f64 = 2.5;
/// The pace before anything is read, and how wide that is: on the plan's ruler or the kiln's own,
/// and on the plain one of 100 C an hour.
const PACE_KNOWN: (f64, f64) = (1.0, 0.5);
const PACE_PLAIN: (f64, f64) = (1.2, 1.2);
const PLAIN_C_PER_H: f64 = 100.0;
/// Where the ruler stands still, in a soak, readings still tell the place so well, C/h.
const LEAST_SLOPE_C_PER_H: f64 = 20.0;

/// What readings are laid along.
#[derive(Debug, Clone, Copy)]
pub enum Ruler<'a> {
    Plain,
    Usual(&'a Profile),
    Plan(&'a Planned),
}

/// A reading on its ruler: hours since lit, the place in the ruler's hours, its noise there, and
/// how many C an hour of the ruler is there.
#[derive(Debug, Clone, Copy)]
struct Mark {
    at_h: f64,
    place_h: f64,
    noise_h: f64,
    slope_c_per_h: f64,
}

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
pub fn filter(readings: &[Reading], ruler: Ruler) -> Option<ChamberStates> {
    let last = readings.last()?;
    let from = readings.partition_point(|reading| reading.at_h < last.at_h - WINDOW_H);
    let earlier = readings.len() - 1;
    // The newest stands alone: the state is wanted at its moment.
    let mut window = gather(&readings[from.min(earlier.saturating_sub(1))..earlier], GATHER_H);
    window.push(*last);
    if window.len() < 2 {
        return None;
    }
    let window = window.as_slice();
    let marks = ruler.marks(window);
    let (ruler, marks) = match marks {
        Some(marks) => (ruler, marks),
        None => (Ruler::Plain, Ruler::Plain.marks(window)?),
    };
    let both = RESTLESSNESS.map(|restless| ruler.filtered(&marks, last.c, restless));
    Some(ChamberStates {
        states: both.map(|(state, _)| state),
        log_likelihood: both.map(|(_, log_likelihood)| log_likelihood),
    })
}

impl Ruler<'_> {
    fn marks(&self, window: &[Reading]) -> Option<Vec<Mark>> {
        let place = |at: usize| {
            let reading = &window[at];
            match self {
                Ruler::Plain => Some((reading.c / PLAIN_C_PER_H, PLAIN_C_PER_H)),
                Ruler::Usual(profile) => {
                    Some((profile.hours_to(reading.c), profile.climb(reading.c)))
                }
                Ruler::Plan(planned) => {
                    let place = planned.place_of(reading.c, time_near(&window[..=at]))?;
                    Some((place, planned.slope(place)))
                }
            }
        };
        (0..window.len())
            .map(|at| {
                let (place_h, slope) = place(at)?;
                let slope_c_per_h = slope.max(LEAST_SLOPE_C_PER_H);
                let Reading { at_h, noise_c, .. } = window[at];
                Some(Mark { at_h, place_h, noise_h: noise_c / slope_c_per_h, slope_c_per_h })
            })
            .collect()
    }

    fn filtered(&self, marks: &[Mark], last_c: f64, restless: f64) -> (ChamberState, f64) {
        let (pace, width) = match self {
            Ruler::Plain => PACE_PLAIN,
            Ruler::Usual(_) | Ruler::Plan(_) => PACE_KNOWN,
        };
        let mut place = Place {
            place_h: marks[0].place_h,
            pace,
            variance: marks[0].noise_h.powi(2),
            covariance: 0.0,
            variance_pace: width * width,
        };
        let mut log_likelihood = 0.0;
        for (count, pair) in marks.windows(2).enumerate() {
            place.forward(pair[1].at_h - pair[0].at_h, restless);
            let surprise = place.take(&pair[1]);
            // The first two readings only find the pace.
            if count > 0 {
                log_likelihood += surprise;
            }
        }
        let last = marks[marks.len() - 1];
        let slope = last.slope_c_per_h;
        let state = ChamberState {
            c: last_c + (place.place_h - last.place_h) * slope,
            climb_c_per_h: place.pace * slope,
            variance_c: place.variance * slope * slope,
            covariance: place.covariance * slope * slope,
            variance_climb: place.variance_pace * slope * slope,
        };
        (state, log_likelihood)
    }
}

/// How long the last of these readings and those before it have been near each other, hours.
pub fn time_near(readings: &[Reading]) -> f64 {
    const NEAR_C: f64 = 8.0;
    let Some(last) = readings.last() else { return 0.0 };
    let near = readings.iter().rev().take_while(|reading| (reading.c - last.c).abs() < NEAR_C);
    near.last().map_or(0.0, |first| last.at_h - first.at_h)
}

/// Place and pace on the ruler as a normal distribution.
#[derive(Debug, Clone, Copy)]
struct Place {
    place_h: f64,
    pace: f64,
    variance: f64,
    covariance: f64,
    variance_pace: f64,
}

impl Place {
    fn forward(&mut self, hours: f64, restless: f64) {
        let per_hour = (self.pace.clamp(0.3, 4.0) * restless).powi(2) * 2.0 / MOOD_H;
        self.place_h += self.pace * hours;
        self.variance += 2.0 * self.covariance * hours
            + self.variance_pace * hours * hours
            + per_hour * hours.powi(3) / 3.0;
        self.covariance += self.variance_pace * hours + per_hour * hours * hours / 2.0;
        self.variance_pace += per_hour * hours;
    }

    /// Takes in a reading and gives ln of its likelihood, with the tails of a reading that may be
    /// poor: beyond four standard deviations it neither pulls nor counts more.
    fn take(&mut self, mark: &Mark) -> f64 {
        let variance = self.variance + mark.noise_h.powi(2);
        let off = mark.place_h - self.place_h;
        let deviations = off / variance.sqrt();
        let inflated = variance * (deviations / 4.0).powi(2).max(1.0);
        let (gain, gain_pace) = (self.variance / inflated, self.covariance / inflated);
        self.place_h += gain * off;
        self.pace += gain_pace * off;
        self.variance_pace -= gain_pace * self.covariance;
        self.covariance -= gain * self.covariance;
        self.variance -= gain * self.variance;
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
