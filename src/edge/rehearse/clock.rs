//! Time that runs faster than the clock, and stands still while somebody types.

use std::time::{Duration, Instant};

use crate::edge::shop::clock::Timekeeper;
use crate::units::{Moment, Span};

/// A made-up time that starts where it is told to.
#[derive(Debug, Clone)]
pub struct SimulatedClock {
    /// Made-up and real time of the last change of speed.
    anchor: (Moment, Instant),
    speed: f64,
    speeds: (f64, f64),
    held: bool,
}

impl SimulatedClock {
    /// Starts at `start`, at `speed` times real time; changes stay within `speeds`.
    pub fn new(start: Moment, speed: f64, speeds: (f64, f64)) -> SimulatedClock {
        SimulatedClock { anchor: (start, Instant::now()), speed, speeds, held: false }
    }

    fn anchor_here(&mut self) {
        self.anchor = (self.now(), Instant::now());
    }
}

impl Timekeeper for SimulatedClock {
    fn now(&self) -> Moment {
        if self.held {
            return self.anchor.0;
        }
        let passed = self.anchor.1.elapsed().as_secs_f64() * self.speed;
        self.anchor.0 + Span::from_hours(passed / 3600.0)
    }

    fn until(&self, moment: Moment) -> Duration {
        // What is rounded must not wake anybody too early, who would have to wait once more.
        let left = (moment - self.now()).as_seconds() / self.speed + 0.001;
        // A day is longer than anybody waits, and short enough for the arithmetic.
        Duration::from_secs_f64(if self.held { 86_400.0 } else { left.clamp(0.0, 86_400.0) })
    }

    fn hold(&mut self, still: bool) {
        if still != self.held {
            self.anchor_here();
            self.held = still;
        }
    }

    fn change_speed(&mut self, factor: f64) {
        self.anchor_here();
        self.speed = (self.speed * factor).clamp(self.speeds.0, self.speeds.1);
    }

    fn speed(&self) -> Option<f64> {
        Some(if self.held { 0.0 } else { self.speed })
    }
}
