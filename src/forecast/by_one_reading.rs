//! The forecast from a single reading: a chamber seen once, and a climb known from other days.
//!
//! One reading tells no climb, so the way ahead is taken as straight, and then nothing has to be
//! walked: heated steadily at a rate b, the target ends at the temperature T with B(T) = b, which
//! is what the chart says. A cone that needs more or less heat work than 1 ends where a cone heated
//! that much faster or slower would. So the drop of a firing that could be is one temperature
//! from the chart, turned round, and one division.

use super::evidence::{Cones, Evidence, GUARD, GUIDE, Reading, Sight, log_chance};
use super::past::{Experience, PACE};
use super::planned::Planned;
use super::pooling::{LogDensity, Predicted};
use super::rise::Rise;
use super::sampler::{Model, Point};
use super::turns::{TurnEffect, TurnedAt, without_turns};
use super::{Imagined, TOLERANCE_C};
use crate::units::{Celsius, CelsiusPerHour};

/// The model of a firing with one reading.
#[derive(Debug)]
pub struct ByOneReading<'a> {
    experience: &'a Experience,
    cones: Cones,
    read_h: f64,
    read_c: f64,
    /// ln C/h of the climb from the reading to the drop on any day; its density on a day of the usual
    /// length, and on any.
    climb: Predicted,
    log_density: [LogDensity; 2],
    /// ln of the heat work, reckoned from the reading, at which the target is down.
    needed: Predicted,
    /// How much guide and guard share of what the target's lies off the mean, and their own spread.
    others: (f64, f64),
    turned: Vec<TurnedAt>,
    sights: &'a [Sight],
    /// How far the kiln had come, where that tells how long the day is.
    rise: Option<Rise>,
    now_h: f64,
}

/// The unknowns, by their place in a point.
const CLIMB: usize = 0;
const NEEDED: usize = 1;
const OTHERS: [(usize, usize); 2] = [(GUIDE, 2), (GUARD, 3)];

/// The climb on the way may differ from that at the end by this, ln per C of the way: steady
/// burners slow down, those that are turned up do not (a guess).
const OFF_PER_C: f64 = 0.0002;
/// The same where the rise so far tells how long the day is: then the climb at the end binds only near
/// the end.
const OFF_PER_C_BY_THE_RISE: f64 = 0.003;
/// How closely a plan is followed, ln (a guess).
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
        let covered = experience.profile.as_ref().is_some_and(|profile| profile.covers(reading.c));
        let by_the_rise = experience.length_known && !covered && planned.is_none();
        let rise = Rise::of(&reading, &cones).filter(|_| by_the_rise);
        let usual_climb =
            climb_ahead(&reading, experience, planned, &turned, &cones, rise.is_some())?;
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
            log_density: [usual_climb, climb].map(|climb| climb.log_density()),
            climb,
            needed,
            others: (shared, own),
            turned,
            sights: &evidence.sights,
            rise,
            now_h: now_h.max(reading.at_h),
        })
    }
}

/// How much slower a day climbs that is longer by so much, both in ln.
fn slower_by(experience: &Experience) -> f64 {
    PACE * experience.length.each
}

/// The climb from a reading to the drop: what plan or usual course make of it, else that of other
/// firings at their end.
fn climb_ahead(
    reading: &Reading,
    experience: &Experience,
    planned: Option<&Planned>,
    turned: &[TurnedAt],
    cones: &Cones,
    by_the_rise: bool,
) -> Option<Predicted> {
    let (c, read_h) = (reading.c, reading.at_h);
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
        let off_per_c = if by_the_rise { OFF_PER_C_BY_THE_RISE } else { OFF_PER_C };
        Predicted { spread: usual.spread.hypot(off_per_c * rise_c), ..usual }
    };
    for (_, effect) in turned.iter().filter(|(at_h, _)| *at_h >= read_h) {
        if let TurnEffect::Changes { by, spread } = effect {
            climb.mean += by;
            climb.spread = climb.spread.hypot(*spread);
        }
    }
    Some(climb)
}

impl Model for ByOneReading<'_> {
    fn unknowns(&self) -> usize {
        OTHERS[1].1 + 1
    }

    fn imagine(&self, point: &Point) -> (Imagined, f64) {
        let log_climb = self.climb.at(point[CLIMB]);
        let climb_c_per_h = log_climb.exp();
        let target = self.needed.at(point[NEEDED]);
        let mut needed = [target; 3];
        for (cone, at) in OTHERS {
            let (shared, own) = self.others;
            let mean = self.needed.mean;
            needed[cone] = mean + shared * (target - mean) + own * point[at];
        }
        let rate = CelsiusPerHour(climb_c_per_h * target.exp());
        let end_c = self.cones.target.temperature_ending(rate).0;
        let drop_h = self.read_h + (end_c - self.read_c) / climb_c_per_h;
        let chamber = |at_h: f64| self.read_c + climb_c_per_h * (at_h - self.read_h);
        let pack_at = |at_h: f64| {
            let c = Celsius(chamber(at_h).max(0.0));
            std::array::from_fn(|cone| {
                self.cones.curves[cone].map_or(0.0, |curve| {
                    curve.rate_ending_at(c).0 / climb_c_per_h * (-needed[cone]).exp()
                })
            })
        };
        let seen: f64 =
            self.sights.iter().map(|sight| log_chance(sight, &pack_at(sight.at_h))).sum();
        let imagined = Imagined {
            drop_h,
            heat_work: pack_at(self.now_h),
            chamber_c: Some(chamber(self.now_h)),
            climb_c_per_h,
        };
        let length = &self.experience.length;
        let length_h = without_turns(drop_h, &self.turned).max(0.05);
        let log_h = length_h.ln();
        let slower = slower_by(self.experience) * (log_h - length.mean);
        let [usual, today] = self.log_density;
        let by_climb = usual.at(log_climb + slower) - today.at(log_climb);
        // A fast kiln is not long at any one temperature, so that to find it there is rarer; where
        // the time tells how far it should be, that says so better.
        let risen = self.rise.map(|rise| rise.log_density(&self.experience.power, length_h));
        let there = risen.unwrap_or(-log_climb - log_h);
        let by_length = self.experience.log_density_of_length(length_h);
        (imagined, seen + by_length + by_climb + there)
    }
}
