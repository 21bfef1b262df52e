//! The forecast without readings: from the clock, the plan, habit, and what was seen of the cones.
//!
//! The drop comes after an uncertain length. How the pack leans around it follows from the chart
//! and the climb there, so that a guide cone seen down says how soon the target follows.

use super::evidence::{Cones, Evidence, TARGET, log_chance};
use super::past::{Experience, PACE};
use super::planned::Planned;
use super::pooling::heavier_tail;
use super::sampler::{Model, Point};
use super::turns::{TurnEffect, TurnedAt, with_turns};
use super::{Imagined, TOLERANCE_C};
use crate::units::{Celsius, CelsiusPerHour};

/// Heat work of the pack against hours before and after the drop, on a steady grid.
#[derive(Debug, Clone)]
struct Around {
    /// ln heat work of each cone at each step.
    log_heat_work: Vec<[f64; 3]>,
    temperature_c: Vec<f64>,
}

const REACH_H: f64 = 4.0;
const STEPS_PER_H: f64 = 60.0;
/// A cold kiln, C; and the mean climb from there that few kilns can better, with how sharp that limit
/// is, C/h (guesses).
const COLD_C: f64 = 20.0;
const FAST: (f64, f64) = (350.0, 60.0);
/// Heat work below this is nothing.
const NOTHING: f64 = 1e-12;

/// The model of a firing without readings.
#[derive(Debug)]
pub struct ByClock<'a> {
    evidence: &'a Evidence,
    experience: &'a Experience,
    around: Around,
    /// From cold to where the target ends, C.
    rise_c: f64,
    /// Climb of the grid at the drop, C/h, and how much a degree matters, per C.
    climb_c_per_h: f64,
    per_degree: f64,
    fastest_c_per_h: f64,
    turned: Vec<TurnedAt>,
    now_h: f64,
    knows_chamber: bool,
}

/// The unknowns, by their place in a point.
const LENGTH: usize = 0;
const CLIMB: usize = 1;
const TOLERANCE: [usize; 3] = [2, 3, 4];
const TURN: usize = 5;

impl<'a> ByClock<'a> {
    pub fn new(
        evidence: &'a Evidence,
        experience: &'a Experience,
        planned: Option<&Planned>,
        fastest_c_per_h: Option<f64>,
        now_h: f64,
    ) -> Self {
        let cones = evidence.cones;
        let (around, climb_c_per_h) = match planned {
            Some(planned) => (
                Around::of_plan(planned, &cones),
                planned.climb_c_per_h.max(0.3 * experience.climb.mean.exp()),
            ),
            None => {
                let climb = experience.climb.mean.exp().clamp(10.0, 500.0);
                (Around::steady(climb, &cones), climb)
            }
        };
        ByClock {
            evidence,
            experience,
            around,
            rise_c: cones.target.temperature_ending(CelsiusPerHour(climb_c_per_h)).0 - COLD_C,
            climb_c_per_h,
            per_degree: cones.per_degree(climb_c_per_h),
            fastest_c_per_h: fastest_c_per_h.unwrap_or(f64::INFINITY),
            turned: experience.habit.effects(&evidence.turns),
            now_h,
            knows_chamber: planned.is_some(),
        }
    }
}

impl ByClock<'_> {
    /// The drop and the climb there, hours since lit and C/h.
    fn drop(&self, point: &Point) -> (f64, f64) {
        let length = &self.experience.length;
        let late = held_up(heavier_tail(point[LENGTH], length.freedom));
        let log_h = length.mean + length.spread * late;
        let drop_h = with_turns(log_h.exp(), &self.turned, point[TURN]);
        (drop_h, self.climb_c_per_h(point, log_h, drop_h))
    }

    /// A day that is longer than others of this kiln is slower at its end, too.
    fn climb_c_per_h(&self, point: &Point, log_h: f64, drop_h: f64) -> f64 {
        let Experience { climb, length, .. } = self.experience;
        let slower = PACE * length.each * (log_h - length.mean);
        let turned = self.turned.iter().filter(|(at_h, _)| *at_h < drop_h).map(|(_, effect)| {
            if let TurnEffect::Changes { by, spread } = effect {
                by + spread * point[TURN]
            } else {
                0.0
            }
        });
        (climb.mean - slower
            + turned.sum::<f64>()
            + climb.spread * heavier_tail(point[CLIMB], climb.freedom))
        .exp()
        .clamp(5.0, self.fastest_c_per_h.max(10.0))
    }
}

/// ln of how likely a kiln is to climb so fast all the way, C/h.
fn log_chance_of_mean_climb(mean_c_per_h: f64) -> f64 {
    let (fast, spread) = FAST;
    -0.5 * ((mean_c_per_h - fast).max(0.0) / spread).powi(2)
}

/// One firing in forty or so is held up by more than days differ otherwise (gas, power, a door that
/// was opened): beyond two standard deviations it may be late by any amount (a guess).
fn held_up(late: f64) -> f64 {
    let beyond = (late - 2.0).max(0.0);
    late + beyond * beyond
}

impl Model for ByClock<'_> {
    fn unknowns(&self) -> usize {
        TURN + usize::from(!self.turned.is_empty())
    }

    fn imagine(&self, point: &Point) -> (Imagined, f64) {
        let (drop_h, climb_c_per_h) = self.drop(point);
        let faster = climb_c_per_h / self.climb_c_per_h;
        let tolerances = TOLERANCE
            .map(|at| self.per_degree * TOLERANCE_C * (point[at] - point[TOLERANCE[TARGET]]));
        let pack_at = |at_h: f64| {
            let place = (at_h - drop_h) * faster;
            let mut heat_work = self.around.log_heat_work(place);
            for (value, tolerance) in heat_work.iter_mut().zip(tolerances) {
                *value = (*value + tolerance).exp();
            }
            heat_work
        };
        let seen: f64 =
            self.evidence.sights.iter().map(|sight| log_chance(sight, &pack_at(sight.at_h))).sum();
        let log_likelihood = seen + log_chance_of_mean_climb(self.rise_c / drop_h);
        let place_now = (self.now_h - drop_h) * faster;
        let near = self.knows_chamber || place_now.abs() < 1.5;
        let imagined = Imagined {
            drop_h,
            heat_work: pack_at(self.now_h),
            chamber_c: (near && place_now.abs() < REACH_H)
                .then(|| self.around.temperature(place_now)),
            climb_c_per_h,
        };
        (imagined, log_likelihood)
    }
}

impl Around {
    /// A steady climb through the target's end point.
    fn steady(climb_c_per_h: f64, cones: &Cones) -> Around {
        let end = cones.target.temperature_ending(CelsiusPerHour(climb_c_per_h)).0;
        let mut around = Around { log_heat_work: Vec::new(), temperature_c: Vec::new() };
        for step in Self::steps() {
            let c = end + climb_c_per_h * step;
            let logs = cones.curves.map(|curve| {
                curve.map_or(NOTHING.ln(), |curve| {
                    let kelvin_floor = Celsius(c.max(0.0));
                    (curve.rate_ending_at(kelvin_floor).0 / climb_c_per_h).max(NOTHING).ln()
                })
            });
            around.log_heat_work.push(logs);
            around.temperature_c.push(c.max(20.0));
        }
        around
    }

    /// The plan, with the target's heat work just 1 at its drop.
    fn of_plan(planned: &Planned, cones: &Cones) -> Around {
        let mut sum = [0.0; 3];
        let first_h = planned.drop_h - REACH_H;
        let mut at_h = 0.0;
        let mut around = Around { log_heat_work: Vec::new(), temperature_c: Vec::new() };
        let advance = |sum: &mut [f64; 3], from_h: f64, to_h: f64| {
            let (from_c, to_c) = (planned.temperature(from_h), planned.temperature(to_h));
            for (sum, done) in sum.iter_mut().zip(cones.heat_work(from_c, to_c, to_h - from_h)) {
                *sum += done;
            }
        };
        while at_h < first_h {
            let next = (at_h + 1.0 / STEPS_PER_H).min(first_h);
            advance(&mut sum, at_h, next);
            at_h = next;
        }
        for step in Self::steps() {
            let next = planned.drop_h + step;
            if next > at_h {
                advance(&mut sum, at_h, next);
                at_h = next;
            }
            around.log_heat_work.push(sum.map(|j| j.max(NOTHING).ln()));
            around.temperature_c.push(planned.temperature(next));
        }
        around
    }

    /// Hours before and after the drop, step by step.
    fn steps() -> impl Iterator<Item = f64> {
        let count = (2.0 * REACH_H * STEPS_PER_H) as usize;
        (0..=count).map(|at| at as f64 / STEPS_PER_H - REACH_H)
    }

    fn place(hours: f64) -> (usize, f64) {
        let at = (hours.clamp(-REACH_H, REACH_H - 1e-6) + REACH_H) * STEPS_PER_H;
        (at as usize, at.fract())
    }

    fn log_heat_work(&self, hours: f64) -> [f64; 3] {
        let (at, part) = Self::place(hours);
        let (low, high) = (&self.log_heat_work[at], &self.log_heat_work[at + 1]);
        std::array::from_fn(|cone| low[cone] + part * (high[cone] - low[cone]))
    }

    fn temperature(&self, hours: f64) -> f64 {
        let (at, part) = Self::place(hours);
        self.temperature_c[at] + part * (self.temperature_c[at + 1] - self.temperature_c[at])
    }
}
