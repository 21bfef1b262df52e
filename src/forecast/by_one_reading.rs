//! The forecast from a single reading: a chamber seen once, and a climb known from other days.
//!
//! One reading tells no climb, so the way ahead is taken as straight, and then nothing has to be
//! walked: heated steadily at a rate b, the target ends at the temperature T with B(T) = b, which
//! is what the chart says. A cone that needs more or less heat work than 1 ends where a cone heated
//! that much faster or slower would. So the drop of a firing that could be is one temperature
//! from the chart, turned round, and one division.

use super::evidence::{Cones, Evidence, GUARD, GUIDE, Sight, log_chance};
use super::lanes::{Block, LANES, Lanes, Task, at_best, coarse_exp};
use super::normal::heavier_tail;
use super::past::{Experience, PACE};
use super::planned::Planned;
use super::pooling::Predicted;
use super::sampler::Model;
use super::turns::{Effect, TurnedAt, without_turns};
use super::{Imagined, TOLERANCE_C};
use crate::cone::Curve;
use crate::units::{Celsius, CelsiusPerHour};

/// The model of a firing with one reading.
#[derive(Debug)]
pub struct ByOneReading<'a> {
    experience: &'a Experience,
    cones: Cones,
    read_h: f64,
    read_c: f64,
    /// ln C/h of the climb from the reading to the drop, on a day of the usual length and on any.
    usual_climb: Predicted,
    climb: Predicted,
    /// ln of the heat work, reckoned from the reading, at which the target is down.
    needed: Predicted,
    /// How much guide and guard share of what the target's lies off the mean, and their own spread.
    others: (f64, f64),
    ends: Ends,
    turned: Vec<TurnedAt>,
    sights: &'a [Sight],
    now_h: f64,
}

/// The unknowns, by their place in a point.
const CLIMB: usize = 0;
const NEEDED: usize = 1;
const OTHERS: [(usize, usize); 2] = [(GUIDE, 2), (GUARD, 3)];

/// The climb on the way may differ from that at the end by this, ln per C of the way: steady
/// burners slow down, those that are turned up do not. And a plan is followed so closely, ln.
/// (Guesses.)
const OFF_PER_C: f64 = 0.0002;
const PLAN_DAY: f64 = 0.15;

impl<'a> ByOneReading<'a> {
    /// `None` unless there is just one reading that can be used, or when a soak lies ahead of it.
    pub fn new(
        evidence: &'a Evidence,
        experience: &'a Experience,
        planned: Option<&Planned>,
        now_h: f64,
    ) -> Option<Self> {
        let [reading] = evidence.readings[..] else { return None };
        let cones = evidence.cones;
        let turned = experience.habit.effects(&evidence.turns);
        let usual_climb =
            climb_ahead(reading.c, experience, planned, &turned, reading.at_h, &cones)?;
        let slower = slower_by(experience) * experience.length.spread;
        let climb = Predicted { spread: usual_climb.spread.hypot(slower), ..usual_climb };
        let per_degree = cones.per_degree(climb.mean.exp().clamp(20.0, 400.0));
        let tolerance = per_degree * TOLERANCE_C;
        let bias = experience.bias;
        let spread = bias.spread.max(1.1 * tolerance);
        // One reading's error cannot be told from the probe's offset.
        let needed = Predicted { spread: spread.hypot(per_degree * reading.noise_c), ..bias };
        let shared = (needed.spread.powi(2) - tolerance * tolerance) / needed.spread.powi(2);
        let own = (tolerance * tolerance * (1.0 + shared)).sqrt();
        Some(ByOneReading {
            experience,
            cones,
            read_h: reading.at_h,
            read_c: reading.c,
            ends: Ends::of(
                cones.target,
                climb.mean + needed.mean,
                widest(&climb) + widest(&needed),
            ),
            usual_climb,
            climb,
            needed,
            others: (shared, own),
            turned,
            sights: &evidence.sights,
            now_h: now_h.max(reading.at_h),
        })
    }

    /// Hours from lit to the drop, and ln C/h of the climb, of each of these firings.
    pub fn drops(&self, points: &Block) -> [Lanes; 2] {
        at_best(Straight { model: self, points })
    }

    /// What the drop time follows from, as plain numbers, for a check by other means: hour and C of
    /// the reading, mean, spread and freedom of climb and needed heat work, and of the polynomial
    /// of end points its middle, one over its half, and its coefficients.
    pub fn as_numbers(&self) -> Vec<f64> {
        let of = |predicted: &Predicted| [predicted.mean, predicted.spread, predicted.freedom];
        let read = [self.read_h, self.read_c];
        let ends = [self.ends.middle, self.ends.per_half];
        let (climb, needed) = (of(&self.climb), of(&self.needed));
        [&read[..], &climb, &needed, &ends, &self.ends.coefficients].concat()
    }

    pub fn chamber_at(&self, points: &Block, times_h: &[f64]) -> Vec<Lanes> {
        let [_, climb] = self.drops(points);
        let at = |at_h: f64| climb.map(|climb| self.read_c + (at_h - self.read_h) * climb.exp());
        times_h.iter().map(|at_h| at(*at_h)).collect()
    }
}

/// How much slower a day climbs that is longer by so much, both in ln.
fn slower_by(experience: &Experience) -> f64 {
    PACE * experience.length.each
}

/// The climb from a chamber at `c` to the drop: what plan or usual course make of it, else that of
/// other firings at their end.
fn climb_ahead(
    c: f64,
    experience: &Experience,
    planned: Option<&Planned>,
    turned: &[TurnedAt],
    read_h: f64,
    cones: &Cones,
) -> Option<Predicted> {
    let usual = experience.climb;
    let end_c = cones.target.temperature_ending(CelsiusPerHour(usual.mean.exp().max(5.0))).0;
    let rise_c = (end_c - c).max(1.0);
    let profile = experience.profile.as_ref().filter(|profile| profile.covers(c));
    let mut climb = if let Some(profile) = profile {
        let hours = profile.hours_to(c + rise_c) - profile.hours_to(c);
        Predicted { mean: (rise_c / hours).ln(), ..experience.length }
    } else if let Some(planned) = planned {
        if planned.soaks_above(c) {
            return None;
        }
        let hours = planned.drop_h - planned.place_of(c, 0.0)?;
        Predicted { mean: (rise_c / hours.max(0.02)).ln(), spread: PLAN_DAY, ..usual }
    } else {
        Predicted { spread: usual.spread.hypot(OFF_PER_C * rise_c), ..usual }
    };
    for (_, effect) in turned.iter().filter(|(at_h, _)| *at_h >= read_h) {
        if let Effect::Changes { by, spread } = effect {
            climb.mean += by;
            climb.spread = climb.spread.hypot(*spread);
        }
    }
    Some(climb)
}

/// How far the curve of end points has to reach for a quantity, in its own unit.
fn widest(predicted: &Predicted) -> f64 {
    predicted.spread * heavier_tail(3.8, predicted.freedom)
}

/// The target's end point, C, against ln of the rate it is heated at, C/h: a polynomial through
/// the chart's curve.
#[derive(Debug, Clone)]
struct Ends {
    middle: f64,
    per_half: f64,
    coefficients: [f64; Ends::COUNT],
}

impl Ends {
    const COUNT: usize = 6;

    /// Around ln `middle`, exact at the Chebyshev points of `half` either way.
    fn of(target: &Curve, middle: f64, half: f64) -> Ends {
        let nodes: [f64; Ends::COUNT] = std::array::from_fn(|at| {
            (std::f64::consts::PI * (at as f64 + 0.5) / Ends::COUNT as f64).cos()
        });
        let end = |x: f64| target.temperature_ending(CelsiusPerHour((middle + half * x).exp())).0;
        // Newton's divided differences, then multiplied out.
        let mut differences = nodes.map(end);
        for order in 1..Ends::COUNT {
            for at in (order..Ends::COUNT).rev() {
                let across = nodes[at] - nodes[at - order];
                differences[at] = (differences[at] - differences[at - 1]) / across;
            }
        }
        let mut coefficients = [0.0; Ends::COUNT];
        for at in (0..Ends::COUNT).rev() {
            for power in (1..Ends::COUNT).rev() {
                coefficients[power] = coefficients[power - 1] - nodes[at] * coefficients[power];
            }
            coefficients[0] = differences[at] - nodes[at] * coefficients[0];
        }
        Ends { middle, per_half: 1.0 / half, coefficients }
    }

    /// C; beyond its reach the end point at its end.
    #[inline(always)]
    fn at(&self, log_rate: f64) -> f64 {
        let x = (log_rate - self.middle) * self.per_half;
        let x = if x < 1.0 { x } else { 1.0 };
        let x = if x > -1.0 { x } else { -1.0 };
        let [a, b, c, d, e, f] = self.coefficients;
        let square = x * x;
        let even = (e * square + c) * square + a;
        let odd = (f * square + d) * square + b;
        even + x * odd
    }
}

/// Works out [`ByOneReading::drops`].
struct Straight<'a> {
    model: &'a ByOneReading<'a>,
    points: &'a Block,
}

impl Task for Straight<'_> {
    type Output = [Lanes; 2];

    #[inline(always)]
    fn run(self) -> [Lanes; 2] {
        let Straight { model, points } = self;
        let ByOneReading { climb, needed, ends, read_h, read_c, .. } = model;
        let mut drops = [[0.0; LANES]; 2];
        let [drop_h, log_climb] = &mut drops;
        // Numbers of their own, so that nothing is looked up lane by lane.
        let ends = ends.clone();
        for i in 0..LANES {
            let rate = climb.mean + climb.spread * heavier_tail(points[CLIMB][i], climb.freedom);
            let more =
                needed.mean + needed.spread * heavier_tail(points[NEEDED][i], needed.freedom);
            drop_h[i] = read_h + (ends.at(rate + more) - read_c) * coarse_exp(-rate);
            log_climb[i] = rate;
        }
        drops
    }
}

impl Model for ByOneReading<'_> {
    type Firing = Imagined;

    fn unknowns(&self) -> usize {
        OTHERS[1].1 + 1
    }

    fn imagine(&self, points: &Block) -> Vec<(Imagined, f64)> {
        let [drop_h, log_climb] = self.drops(points);
        let length = &self.experience.length;
        let one = |lane: usize| {
            let climb_c_per_h = log_climb[lane].exp();
            let more = self.needed.spread * heavier_tail(points[NEEDED][lane], self.needed.freedom);
            let mut needed = [self.needed.mean + more; 3];
            for (cone, at) in OTHERS {
                let (shared, own) = self.others;
                needed[cone] = self.needed.mean + shared * more + own * points[at][lane];
            }
            let pack_at = |at_h: f64| {
                let c = (self.read_c + climb_c_per_h * (at_h - self.read_h)).max(0.0);
                std::array::from_fn(|cone| {
                    self.cones.curves[cone].map_or(0.0, |curve| {
                        let done = curve.rate_ending_at(Celsius(c)).0 / climb_c_per_h;
                        done * (-needed[cone]).exp()
                    })
                })
            };
            let seen: f64 =
                self.sights.iter().map(|sight| log_chance(sight, &pack_at(sight.at_h))).sum();
            let usual_h = without_turns(drop_h[lane], &self.turned);
            let imagined = Imagined {
                drop_h: drop_h[lane],
                heat_work: pack_at(self.now_h),
                chamber_c: Some(self.read_c + climb_c_per_h * (self.now_h - self.read_h)),
                climb_c_per_h,
            };
            let log_h = usual_h.max(0.05).ln();
            let slower = slower_by(self.experience) * (log_h - length.mean);
            let mean = self.usual_climb.mean - slower;
            let on_such_a_day = Predicted { mean, ..self.usual_climb };
            let by_climb = on_such_a_day.log_density(log_climb[lane])
                - self.climb.log_density(log_climb[lane])
                + (self.climb.spread / self.usual_climb.spread).ln();
            // A fast kiln is not long at any one temperature, so that to find it there is rarer.
            let there = -log_climb[lane] - log_h;
            (imagined, seen + length.log_density(log_h) + by_climb + there)
        };
        (0..LANES).map(one).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cone::{Cone, Family, curve};

    /// The polynomial against the chart's own curve: two hundredths of a degree are half a second
    /// at 150 C/h.
    #[test]
    fn crosscheck_end_points_against_the_curve() {
        const TOLERANCE_C: f64 = 0.1;
        for name in ["022", "018", "06", "6", "10"] {
            let target = curve(Cone::parse(name).unwrap(), Family::SelfSupporting).unwrap();
            let (middle, half) = (150f64.ln(), 1.6);
            let ends = Ends::of(target, middle, half);
            for step in -100..=100 {
                let log_rate = middle + half * f64::from(step) / 100.0;
                let exact = target.temperature_ending(CelsiusPerHour(log_rate.exp())).0;
                let off = (ends.at(log_rate) - exact).abs();
                assert!(off < TOLERANCE_C, "cone {name} at {:.0} C/h: {off} C", log_rate.exp());
            }
        }
    }
}
