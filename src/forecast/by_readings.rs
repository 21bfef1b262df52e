//! The forecast from readings: the heat work done so far, and a climb that wanders from here on.
//!
//! Unknown: the chamber and its climb at the last reading, how the climb wanders and slows, how
//! far probe, place and chart are apart, and each cone's own tolerance.

use super::climb::{ChamberState, ChamberStates, RESTLESSNESS, time_near};
use super::course::Course;
use super::evidence::{Evidence, Sight, TARGET, log_chance};
use super::normal::{chance_below, heavier_tail};
use super::past::{Experience, Path};
use super::planned::{Planned, Stretch};
use super::sampler::{Model, Point};
use super::{Imagined, TOLERANCE_C};

/// The model of a firing with readings.
#[derive(Debug)]
pub struct ByReadings<'a> {
    experience: &'a Experience,
    path: Path,
    states: ChamberStates,
    /// Cholesky factors of the states' covariances.
    factors: [[[f64; 3]; 3]; RESTLESSNESS.len()],
    /// What is kept of a passing pace from knot to knot, and the part that is new.
    kept: [(f64, f64); KNOTS_H.len()],
    /// Cumulative chances of each restlessness.
    cumulative: [f64; RESTLESSNESS.len()],
    /// What lies ahead of the last reading, and the heat work of the pack on each stretch.
    ahead: Vec<(Stretch, [f64; 3])>,
    /// Where the way ahead begins, C.
    from_c: f64,
    /// Climb of the first stretch, C/h: what the climb now is compared with.
    ahead_climb: f64,
    /// How the climb falls with temperature, ln per C, and how well that is known.
    slowing: (f64, f64),
    follows_clock: bool,
    per_degree: f64,
    /// Sights up to the last reading, with the heat work reckoned for them.
    earlier: Vec<(Sight, [f64; 3])>,
    /// Sights since the last reading.
    later: Vec<Sight>,
    now_h: f64,
}

/// The unknowns, by their place in a point.
const MOOD: usize = 0;
const CHAMBER: [usize; 3] = [1, 2, 3];
const BIAS: usize = 4;
const TOLERANCE: [usize; 3] = [5, 6, 7];
const SLOWING: usize = 8;
const WANDER: usize = 9;
/// When, after the last reading, the wandering climb has its knots, hours.
pub const KNOTS_H: [f64; 5] = [0.2, 0.5, 1.0, 2.0, 4.0];
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
        evidence: &Evidence,
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
        let (earlier, later) = evidence.sights.iter().partition(|sight| sight.at_h <= last.at_h);
        let reckoned = |sight: Sight| (sight, path.heat_work(sight.at_h));
        let earlier = Vec::into_iter(earlier).map(reckoned).collect();
        Some(ByReadings {
            experience,
            path,
            factors: states.states.map(|state| factor(&state)),
            kept: kept(states.passes_h),
            states,
            cumulative,
            ahead,
            from_c: state.c(),
            ahead_climb: course.climb_c_per_h,
            slowing: if course.known { SLOWING_KNOWN } else { SLOWING_UNKNOWN },
            follows_clock: !course.known && experience.length_known,
            per_degree: evidence.cones.per_degree(climb.clamp(20.0, 400.0)),
            earlier,
            later,
            now_h: now_h.max(last.at_h),
        })
    }

    /// Everything the drop time of a point follows from, as plain numbers, for a check by other
    /// means: the head (unknowns, stretches, heat work at the last reading and its hour, per
    /// degree, start C, start climb, slowing and its spread, bias mean, common spread, freedom,
    /// tolerance), then cumulative chances, states (3 means, 6 of the factor), what is kept at
    /// each knot, and the stretches (middle C, hours, heat work of the target).
    pub fn as_numbers(&self) -> Vec<f64> {
        let bias = &self.experience.bias;
        let tolerance = self.per_degree * TOLERANCE_C;
        let mut numbers = vec![
            self.unknowns() as f64,
            self.ahead.len() as f64,
            self.path.last_sum()[TARGET],
            self.path.last_h(),
            self.per_degree,
            self.from_c,
            self.ahead_climb,
            self.slowing.0,
            self.slowing.1,
            bias.mean,
            common_spread(bias.spread, tolerance),
            bias.freedom,
            tolerance,
        ];
        numbers.extend(self.cumulative);
        for (state, factor) in self.states.states.iter().zip(&self.factors) {
            numbers.extend(state.mean);
            numbers.extend([factor[0][0], factor[1][0], factor[1][1]]);
            numbers.extend(factor[2]);
        }
        numbers.extend(self.kept.iter().flat_map(|(kept, new)| [*kept, *new]));
        for (stretch, work) in &self.ahead {
            let middle_c = 0.5 * (stretch.from_c + stretch.to_c);
            numbers.extend([middle_c, stretch.hours, work[TARGET]]);
        }
        numbers
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
        for (knot, (kept, new)) in self.kept.into_iter().enumerate() {
            paces[knot + 1] =
                lasting + (paces[knot] - lasting) * kept + restless * new * point[WANDER + knot];
        }
        paces
    }

    /// A temperature, a lasting and a passing climb drawn from the filter's distribution.
    fn drawn(&self, mood: usize, point: &Point) -> [f64; 3] {
        let factor = &self.factors[mood];
        let mut drawn = self.states.states[mood].mean;
        for (row, value) in drawn.iter_mut().enumerate() {
            *value += (0..=row).map(|k| factor[row][k] * point[CHAMBER[k]]).sum::<f64>();
        }
        drawn
    }
}

/// What is left of the spread of the bias when the target's own tolerance is taken out.
fn common_spread(spread: f64, tolerance: f64) -> f64 {
    (spread * spread - tolerance * tolerance).max(1e-4).sqrt()
}

/// The Cholesky factor of a state's covariance.
fn factor(state: &ChamberState) -> [[f64; 3]; 3] {
    let mut factor = [[0.0; 3]; 3];
    for row in 0..3 {
        for column in 0..=row {
            let inner: f64 = (0..column).map(|k| factor[row][k] * factor[column][k]).sum();
            let rest = state.covariance[row][column] - inner;
            factor[row][column] =
                if row == column { rest.max(1e-9).sqrt() } else { rest / factor[column][column] };
        }
    }
    factor
}

/// From knot to knot: what is kept of a passing pace, and how much of its spread is new.
fn kept(passes_h: f64) -> [(f64, f64); KNOTS_H.len()] {
    let mut before_h = 0.0;
    KNOTS_H.map(|at_h| {
        let kept = (-(at_h - before_h) / passes_h).exp();
        before_h = at_h;
        (kept, (1.0 - kept * kept).sqrt())
    })
}

/// The pace along a day, asked for ever later moments.
struct Pace<'a> {
    paces: &'a [f64; KNOTS_H.len() + 1],
    knot: usize,
}

impl Pace<'_> {
    /// `after_h` hours after the last reading, between its knots.
    fn at(&mut self, after_h: f64) -> f64 {
        while self.knot < KNOTS_H.len() && after_h >= KNOTS_H[self.knot] {
            self.knot += 1;
        }
        let Some(at_h) = KNOTS_H.get(self.knot) else { return self.paces[KNOTS_H.len()] };
        let before_h = if self.knot == 0 { 0.0 } else { KNOTS_H[self.knot - 1] };
        let (from, to) = (self.paces[self.knot], self.paces[self.knot + 1]);
        from + (to - from) * (after_h - before_h) / (at_h - before_h)
    }
}

/// One way the day may go: what a point stands for.
struct Day {
    /// The climb at the last reading, C/h, and how much hotter than thought the chamber is, C.
    climb_c_per_h: f64,
    off_c: f64,
    paces: [f64; KNOTS_H.len() + 1],
    slowing: f64,
    /// What each cone makes of the heat work reckoned from the readings.
    scale: [f64; 3],
}

/// A stretch ahead as it goes that day.
struct Leg<'a> {
    stretch: &'a Stretch,
    start_h: f64,
    hours: f64,
    /// Heat work reckoned for the pack.
    added: [f64; 3],
}

impl ByReadings<'_> {
    fn day(&self, point: &Point) -> Day {
        let mood = self.restlessness(point[MOOD]);
        let [c, lasting, passing] = self.drawn(mood, point);
        let climb_c_per_h = (lasting + passing).max(SLOWEST_C_PER_H);
        let pace_of = |climb: f64| (climb / self.ahead_climb).ln();
        let lasting = pace_of(lasting.max(SLOWEST_C_PER_H));
        let bias = &self.experience.bias;
        let tolerance = self.per_degree * TOLERANCE_C;
        let common = common_spread(bias.spread, tolerance)
            * heavier_tail(point[BIAS], bias.freedom)
            + bias.mean;
        Day {
            climb_c_per_h,
            off_c: c - self.from_c,
            paces: self.paces(pace_of(climb_c_per_h), lasting, RESTLESSNESS[mood], point),
            slowing: self.slowing.0 + self.slowing.1 * point[SLOWING],
            scale: TOLERANCE.map(|at| (tolerance * point[at] - common).exp()),
        }
    }

    /// The way from the last reading on, as it goes that day.
    fn legs<'a>(&'a self, day: &'a Day) -> impl Iterator<Item = Leg<'a>> {
        let warmer = (self.per_degree * day.off_c).exp();
        let anchor_h = self.path.last_h();
        let mut after_h = 0.0;
        let mut pace = Pace { paces: &day.paces, knot: 0 };
        self.ahead.iter().map_while(move |(stretch, work)| {
            let rise = 0.5 * (stretch.from_c + stretch.to_c) - self.from_c;
            let slower = (-pace.at(after_h) - day.slowing * rise).exp();
            let hours = stretch.hours * slower;
            let leg = Leg {
                stretch,
                start_h: anchor_h + after_h,
                hours,
                added: work.map(|work| work * (slower * warmer)),
            };
            after_h += hours;
            (leg.start_h < anchor_h + FURTHEST_H).then_some(leg)
        })
    }

    /// The chamber at moments from the last reading on, in order; the last known beyond the way.
    pub fn chamber_at(&self, point: &Point, times_h: &[f64]) -> Vec<f64> {
        let day = self.day(point);
        let mut times = times_h.iter().copied().peekable();
        let mut chamber = Vec::with_capacity(times_h.len());
        let mut last_c = 0.0;
        for leg in self.legs(&day) {
            while let Some(time) = times.next_if(|time| *time <= leg.start_h + leg.hours) {
                chamber.push(leg.temperature(time) + day.off_c);
            }
            last_c = leg.stretch.to_c + day.off_c;
        }
        chamber.resize(times_h.len(), last_c);
        chamber
    }
}

impl Leg<'_> {
    fn temperature(&self, at_h: f64) -> f64 {
        let part = ((at_h - self.start_h) / self.hours).clamp(0.0, 1.0);
        self.stretch.from_c + part * (self.stretch.to_c - self.stretch.from_c)
    }
}

impl Model for ByReadings<'_> {
    type Firing = Imagined;

    fn unknowns(&self) -> usize {
        WANDER + KNOTS_H.len()
    }

    fn imagine(&self, point: &Point) -> (Imagined, f64) {
        let day = self.day(point);
        let scaled = |done: &[f64; 3]| std::array::from_fn(|c| done[c] * day.scale[c]);
        let mut log_likelihood: f64 =
            self.earlier.iter().map(|(sight, done)| log_chance(sight, &scaled(done))).sum();
        let mut done = self.path.last_sum();
        let needed = 1.0 / day.scale[TARGET];
        let mut drop_h = if done[TARGET] >= needed { self.path.when(TARGET, needed) } else { None };
        let mut imagined = Imagined {
            drop_h: self.path.last_h() + FURTHEST_H,
            heat_work: [0.0; 3],
            chamber_c: None,
            climb_c_per_h: day.climb_c_per_h,
        };
        let mut sights = self.later.iter().peekable();
        for leg in self.legs(&day) {
            let end_h = leg.start_h + leg.hours;
            let at = |time: f64| {
                let part = (time - leg.start_h) / leg.hours;
                scaled(&std::array::from_fn(|c| done[c] + part * leg.added[c]))
            };
            while let Some(sight) = sights.next_if(|sight| sight.at_h <= end_h) {
                log_likelihood += log_chance(sight, &at(sight.at_h));
            }
            if imagined.chamber_c.is_none() && self.now_h <= end_h {
                imagined.heat_work = at(self.now_h);
                imagined.chamber_c = Some(leg.temperature(self.now_h) + day.off_c);
            }
            if drop_h.is_none() && done[TARGET] + leg.added[TARGET] >= needed {
                let part = (needed - done[TARGET]) / leg.added[TARGET];
                drop_h = Some(leg.start_h + part * leg.hours);
                imagined.climb_c_per_h = (leg.stretch.to_c - leg.stretch.from_c) / leg.hours;
            }
            if drop_h.is_some() && imagined.chamber_c.is_some() && sights.peek().is_none() {
                break;
            }
            for (done, added) in done.iter_mut().zip(leg.added) {
                *done += added;
            }
        }
        if imagined.chamber_c.is_none() {
            imagined.heat_work = scaled(&done);
        }
        imagined.drop_h = drop_h.unwrap_or(imagined.drop_h);
        if self.follows_clock {
            log_likelihood += self.experience.length.log_density(imagined.drop_h.max(0.05).ln());
        }
        (imagined, log_likelihood)
    }
}
