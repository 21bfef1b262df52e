//! The forecast from readings: the heat work done so far, and a climb that wanders from here on.
//!
//! Unknown: the chamber and its climb at the last reading, how the climb wanders and slows, how
//! far probe, place and chart are apart, and each cone's own tolerance.

use super::climb::{ChamberState, ChamberStates, RESTLESSNESS, time_near};
use super::course::Course;
use super::evidence::{Evidence, GUARD, GUIDE, Sight, TARGET, log_chance};
use super::normal::{chance_below, heavier_tail};
use super::past::{Experience, Path};
use super::planned::{Planned, Stretch};
use super::sampler::{Model, Point};
use super::{Imagined, TOLERANCE_C};

/// The model of a firing with readings.
#[derive(Debug)]
pub struct ByReadings<'a> {
    evidence: &'a Evidence,
    experience: &'a Experience,
    path: Path,
    states: ChamberStates,
    /// Cumulative chances of each restlessness.
    cumulative: [f64; RESTLESSNESS.len()],
    /// What lies ahead of the last reading, and the heat work of the pack on each stretch.
    ahead: Vec<(Stretch, [f64; 3])>,
    /// Climb of the first stretch, C/h: what the climb now is compared with.
    ahead_climb: f64,
    /// How the climb falls with temperature, ln per C, and how well that is known.
    slowing: (f64, f64),
    follows_clock: bool,
    per_degree: f64,
    /// Sights up to the last reading, with the heat work reckoned for them.
    earlier: Vec<(Sight, [f64; 3])>,
    /// Moments after the last reading at which the pack is wanted: sights, then now.
    wanted_h: Vec<f64>,
}

/// The unknowns, by their place in a point.
const MOOD: usize = 0;
const CHAMBER: [usize; 3] = [1, 2, 3];
const BIAS: usize = 4;
const TOLERANCE: [usize; 3] = [5, 6, 7];
const SLOWING: usize = 8;
const WANDER: usize = 9;
/// When, after the last reading, the wandering climb has its knots, hours.
const KNOTS_H: [f64; 5] = [0.2, 0.5, 1.0, 2.0, 4.0];
/// Without a plan: a kiln with steady burners climbs the slower the hotter it is, ln per C (a
/// guess: 12 % less per 100 C, give or take as much again).
const SLOWING_UNKNOWN: (f64, f64) = (-0.0012, 0.0012);
const SLOWING_KNOWN: (f64, f64) = (0.0, 0.00015);
/// No firing is followed further than this ahead, hours.
const FURTHEST_H: f64 = 48.0;
/// The slowest a kiln climbs in the forecast, C/h.
const SLOWEST_C_PER_H: f64 = 4.0;

impl<'a> ByReadings<'a> {
    /// `None` without enough readings to tell a climb.
    pub fn new(
        evidence: &'a Evidence,
        experience: &'a Experience,
        planned: Option<&Planned>,
        states: ChamberStates,
        now_h: f64,
    ) -> Option<Self> {
        let path = Path::of(evidence)?;
        let chances = experience.restlessness_today(&states.log_likelihood);
        let mut sum = 0.0;
        let cumulative = chances.map(|chance| {
            sum += chance;
            sum
        });
        let likeliest = (0..chances.len()).max_by(|a, b| chances[*a].total_cmp(&chances[*b]))?;
        let state = states.states[likeliest];
        let climb = state.climb_c_per_h().max(SLOWEST_C_PER_H);
        let target = evidence.cones.target;
        let last = evidence.readings.last()?;
        let near_h = time_near(&evidence.readings);
        let course = Course::ahead(state.c(), near_h, climb, planned, experience, target)?;
        let ahead = course
            .stretches
            .iter()
            .map(|s| (*s, evidence.cones.heat_work(s.from_c, s.to_c, s.hours)))
            .collect();
        let wanted_h = evidence
            .sights
            .iter()
            .map(|sight| sight.at_h)
            .filter(|h| *h > last.at_h)
            .chain([now_h])
            .collect();
        let earlier = evidence
            .sights
            .iter()
            .filter(|sight| sight.at_h <= last.at_h)
            .map(|sight| (*sight, path.heat_work(sight.at_h)))
            .collect();
        Some(ByReadings {
            evidence,
            experience,
            path,
            states,
            cumulative,
            ahead,
            ahead_climb: course.climb_c_per_h,
            slowing: if course.known { SLOWING_KNOWN } else { SLOWING_UNKNOWN },
            follows_clock: !course.known && experience.length_known,
            per_degree: evidence.cones.per_degree(climb.clamp(20.0, 400.0)),
            earlier,
            wanted_h,
        })
    }

    fn restlessness(&self, z: f64) -> usize {
        let u = chance_below(z);
        self.cumulative.iter().position(|c| u < *c).unwrap_or(RESTLESSNESS.len() - 1)
    }

    /// ln of today's pace against what lies ahead: at the last reading and at each knot. It
    /// comes back from `start` to `lasting`, and wanders about it.
    fn paces(
        &self,
        start: f64,
        lasting: f64,
        restless: f64,
        point: &Point,
    ) -> [f64; KNOTS_H.len() + 1] {
        let mut paces = [start; KNOTS_H.len() + 1];
        let mut before_h = 0.0;
        for (knot, at_h) in KNOTS_H.into_iter().enumerate() {
            let kept = (-(at_h - before_h) / self.states.passes_h).exp();
            paces[knot + 1] = lasting
                + (paces[knot] - lasting) * kept
                + restless * (1.0 - kept * kept).sqrt() * point[WANDER + knot];
            before_h = at_h;
        }
        paces
    }
}

/// A temperature, a lasting and a passing climb drawn from the filter's distribution.
fn drawn(state: &ChamberState, point: &Point) -> [f64; 3] {
    let mut factor = [[0.0; 3]; 3];
    let mut drawn = state.mean;
    for row in 0..3 {
        for column in 0..=row {
            let inner: f64 = (0..column).map(|k| factor[row][k] * factor[column][k]).sum();
            let rest = state.covariance[row][column] - inner;
            factor[row][column] =
                if row == column { rest.max(1e-9).sqrt() } else { rest / factor[column][column] };
            drawn[row] += factor[row][column] * point[CHAMBER[column]];
        }
    }
    drawn
}

/// The pace `after_h` hours after the last reading, between its knots.
fn pace(paces: &[f64; KNOTS_H.len() + 1], after_h: f64) -> f64 {
    let mut before_h = 0.0;
    for (knot, at_h) in KNOTS_H.into_iter().enumerate() {
        if after_h < at_h {
            let part = (after_h - before_h) / (at_h - before_h);
            return paces[knot] + part * (paces[knot + 1] - paces[knot]);
        }
        before_h = at_h;
    }
    paces[KNOTS_H.len()]
}

impl Model for ByReadings<'_> {
    type Firing = Imagined;

    fn unknowns(&self) -> usize {
        WANDER + KNOTS_H.len()
    }

    fn imagine(&self, point: &Point) -> (Imagined, f64) {
        let mood = self.restlessness(point[MOOD]);
        let state = &self.states.states[mood];
        let [c, lasting, passing] = drawn(state, point);
        let off_c = c - state.c();
        let climb = (lasting + passing).max(SLOWEST_C_PER_H);
        let lasting = lasting.max(SLOWEST_C_PER_H);
        let bias = &self.experience.bias;
        let tolerance = self.per_degree * TOLERANCE_C;
        let common = (bias.spread.powi(2) - tolerance * tolerance).max(1e-4).sqrt()
            * heavier_tail(point[BIAS], bias.freedom)
            + bias.mean;
        // ln of what each cone makes of the heat work reckoned from the readings.
        let share = TOLERANCE.map(|at| tolerance * point[at] - common);
        let scale = share.map(f64::exp);

        let anchor_h = self.path.last_h();
        let (mut drop_h, mut log_likelihood) = (None, 0.0);
        for (sight, done) in &self.earlier {
            log_likelihood += log_chance(sight, &std::array::from_fn(|c| done[c] * scale[c]));
        }
        let mut done = self.path.last_sum();
        if done[TARGET] * scale[TARGET] >= 1.0 {
            drop_h = self.path.when(TARGET, 1.0 / scale[TARGET]);
        }

        let warmer = (self.per_degree * off_c).exp();
        let pace_of = |climb: f64| (climb / self.ahead_climb).ln();
        let paces = self.paces(pace_of(climb), pace_of(lasting), RESTLESSNESS[mood], point);
        let slowing = self.slowing.0 + self.slowing.1 * point[SLOWING];
        let from_c = self.ahead.first().map_or(0.0, |(stretch, _)| stretch.from_c);
        let mut wanted = self.wanted_h.iter().copied().peekable();
        let first_sight = self.evidence.sights.partition_point(|sight| sight.at_h <= anchor_h);
        let mut sights = self.evidence.sights[first_sight..].iter();
        let mut at_h = anchor_h;
        let mut now = None;
        let mut climb_at_drop = climb;
        for (stretch, work) in &self.ahead {
            let rise = 0.5 * (stretch.from_c + stretch.to_c) - from_c;
            let speed = (pace(&paces, at_h - anchor_h) + slowing * rise).exp();
            let hours = stretch.hours / speed;
            let added: [f64; 3] = std::array::from_fn(|c| work[c] / speed * warmer);
            while let Some(time) = wanted.next_if(|time| *time <= at_h + hours) {
                let part = (time - at_h) / hours;
                let heat_work = std::array::from_fn(|c| (done[c] + part * added[c]) * scale[c]);
                match sights.next() {
                    Some(sight) => log_likelihood += log_chance(sight, &heat_work),
                    None => {
                        let rise = part * (stretch.to_c - stretch.from_c);
                        now = Some((heat_work, stretch.from_c + rise + off_c));
                    }
                }
            }
            let reached = (done[TARGET] + added[TARGET]) * scale[TARGET];
            if drop_h.is_none() && reached >= 1.0 {
                let part = (1.0 / scale[TARGET] - done[TARGET]) / added[TARGET];
                drop_h = Some(at_h + part * hours);
                climb_at_drop = (stretch.to_c - stretch.from_c) / hours;
            }
            for c in [GUIDE, TARGET, GUARD] {
                done[c] += added[c];
            }
            at_h += hours;
            if at_h > anchor_h + FURTHEST_H || (drop_h.is_some() && wanted.peek().is_none()) {
                break;
            }
        }
        let drop_h = drop_h.unwrap_or(anchor_h + FURTHEST_H);
        if self.follows_clock {
            log_likelihood += self.experience.length.log_density(drop_h.max(0.05).ln());
        }
        let at_end = std::array::from_fn(|c| done[c] * scale[c]);
        let (heat_work, chamber) = now.unwrap_or((at_end, c));
        let imagined =
            Imagined { drop_h, heat_work, chamber_c: Some(chamber), climb_c_per_h: climb_at_drop };
        (imagined, log_likelihood)
    }
}
