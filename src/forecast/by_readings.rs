//! The forecast from readings: the heat work done so far, and a climb that wanders from here on.
//!
//! Unknown: the chamber and its climb at the last reading, how the climb wanders and slows, how
//! far probe, place and chart are apart, and each cone's own tolerance.

use statrs::distribution::{ContinuousCDF, Normal};

use super::ahead::{Ahead, Day, KNOTS_H, Reached, Walked};
use super::climb::{ChamberStates, RESTLESSNESS, time_near};
use super::evidence::{Evidence, Sight, TARGET, log_chance};
use super::past::Experience;
use super::past_end::TYPICAL_CLIMB;
use super::path::Path;
use super::planned::Planned;
use super::pooling::Predicted;
use super::profile::Profile;
use super::sampler::{Model, Point, cholesky};
use super::turns::{TurnEffect, TurnedAt, without_turns};
use super::{Imagined, TOLERANCE_C};

/// The model of a firing with readings.
#[derive(Debug)]
pub struct ByReadings<'a> {
    experience: &'a Experience,
    path: Path,
    moods: [Mood; RESTLESSNESS.len()],
    /// A standard normal number below the first level means the first mood, and so on.
    levels: [f64; RESTLESSNESS.len() - 1],
    /// What is kept of a passing pace from knot to knot, and the part that is new.
    kept: [(f64, f64); KNOTS_H.len()],
    ahead: Ahead,
    /// Where the way ahead begins, C.
    from_c: f64,
    /// How the climb falls with temperature, ln per C, and how well that is known.
    slowing: (f64, f64),
    /// What turns since the last reading do to the pace from each knot on, if there were any.
    turned: Option<[(f64, f64); KNOTS_H.len()]>,
    /// All turns as they count by the clock, where the clock counts.
    by_clock: Option<Vec<TurnedAt>>,
    per_degree: f64,
    /// How many times the bias of a kiln that has taught none is its usual: cones and probe are
    /// behind the chamber by so much more where it climbs faster.
    bias_grows: f64,
    /// Sights up to the last reading, with the heat work reckoned for them.
    earlier: Vec<(Sight, [f64; 3])>,
    /// Sights since the last reading.
    later: Vec<Sight>,
    /// When they were, and now, hours from the last reading.
    moments_h: Vec<f64>,
}

/// The unknowns, by their place in a point.
const MOOD: usize = 0;
const CHAMBER: [usize; 3] = [1, 2, 3];
const BIAS: usize = 4;
const TOLERANCE: [usize; 3] = [5, 6, 7];
const SLOWING: usize = 8;
pub const WANDER: usize = 9;
const TURN: usize = WANDER + KNOTS_H.len();
/// Without a plan: a kiln with steady burners climbs the slower the hotter it is, ln per C (a
/// guess: 12 % less per 100 C, give or take as much again).
const SLOWING_UNKNOWN: (f64, f64) = (-0.0012, 0.0012);
const SLOWING_KNOWN: (f64, f64) = (0.0, 0.00015);
/// How close a kiln comes to its usual pace when a usual turn was made late, ln (a guess).
const RESUMES_SPREAD: f64 = 0.06;
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
        states: &ChamberStates,
        turned: &[TurnedAt],
        now_h: f64,
    ) -> Option<Self> {
        let path = Path::of(evidence)?;
        let chances = experience.restlessness_today(&states.log_likelihood);
        let mut sum = 0.0;
        let levels = std::array::from_fn(|at| {
            sum += chances[at];
            Normal::standard().inverse_cdf(sum.min(1.0))
        });
        let likeliest = (0..chances.len()).max_by(|a, b| chances[*a].total_cmp(&chances[*b]))?;
        let state = states.states[likeliest];
        let climb = state.climb_c_per_h().max(SLOWEST_C_PER_H);
        let cones = &evidence.cones;
        let last = evidence.readings.last()?;
        let near_h = time_near(&evidence.readings);
        let ahead = Ahead::of(state.c(), near_h, (climb, states), planned, experience, cones)?;
        let (earlier, later): (Vec<Sight>, Vec<Sight>) =
            evidence.sights.iter().partition(|sight| sight.at_h <= last.at_h);
        let reckoned = |sight: Sight| (sight, path.heat_work(sight.at_h));
        let moments = later.iter().map(|sight| sight.at_h).chain([now_h.max(last.at_h)]);
        Some(ByReadings {
            experience,
            moods: std::array::from_fn(|mood| Mood {
                restlessness: RESTLESSNESS[mood],
                mean: states.states[mood].mean,
                factor: cholesky(&states.states[mood].covariance, 1e-9),
            }),
            levels,
            kept: kept(states.passes_h, state.c(), experience.profile.as_ref()),
            from_c: state.c(),
            slowing: if ahead.known { SLOWING_KNOWN } else { SLOWING_UNKNOWN },
            turned: turned_since(turned, last.at_h, state.mean[1] / ahead.climb_c_per_h),
            by_clock: (!ahead.known && experience.length_known)
                .then(|| experience.habit.effects(&evidence.turns)),
            ahead,
            per_degree: cones.per_degree(climb.clamp(20.0, 400.0)),
            bias_grows: if experience.bias_learned {
                1.0
            } else {
                (climb / TYPICAL_CLIMB).clamp(1.0, 4.0)
            },
            moments_h: moments.map(|at_h| at_h - last.at_h).collect(),
            earlier: earlier.into_iter().map(reckoned).collect(),
            later,
            path,
        })
    }
}

/// ln of what turns from `last_h` on make of the pace at each knot, and its spread; today's pace was
/// this before them.
fn turned_since(
    turned: &[TurnedAt],
    last_h: f64,
    pace: f64,
) -> Option<[(f64, f64); KNOTS_H.len()]> {
    let since = || turned.iter().filter(|(at_h, _)| *at_h >= last_h);
    since().next()?;
    Some(KNOTS_H.map(|knot_h| {
        since().filter(|(at_h, _)| at_h - last_h <= knot_h).fold(
            (0.0, 0.0),
            |(sum, spread), (_, effect)| match effect {
                TurnEffect::Changes { by, spread: one } => (sum + by, spread + one),
                TurnEffect::Resumes { .. } => (-pace.max(0.1).ln(), RESUMES_SPREAD),
            },
        )
    }))
}

/// What is left of the spread of the bias when the target's own tolerance is taken out.
fn common_spread(spread: f64, tolerance: f64) -> f64 {
    (spread * spread - tolerance * tolerance).max(1e-4).sqrt()
}

/// What a standard normal number far out stands for beside its usual share of the bias, ln heat
/// work: one firing in thirty or so has another probe, or has it in another place (a guess: 15 C at 5 % a degree
/// where the number is 2.6).
fn otherwise(z: f64) -> f64 {
    let beyond = (z.abs() - 1.8).max(0.0);
    z.signum() * 0.7 * beyond * beyond
}

/// One degree of restlessness and the filter's distribution for it.
#[derive(Debug)]
struct Mood {
    restlessness: f64,
    mean: [f64; 3],
    /// Cholesky factor of the covariance.
    factor: [[f64; 3]; 3],
}

/// From knot to knot: what is kept of a passing pace, and how much of its spread is new, from a
/// chamber at `c` on.
fn kept(passes_h: f64, c: f64, usual: Option<&Profile>) -> [(f64, f64); KNOTS_H.len()] {
    let usual = usual.filter(|usual| usual.covers(c));
    let mut before_h = 0.0;
    KNOTS_H.map(|at_h| {
        let kept = (-(at_h - before_h) / passes_h).exp();
        let unrest = usual.map_or(1.0, |usual| {
            let here_h = usual.hours_to(c);
            usual.unrest(here_h + before_h, here_h + at_h)
        });
        before_h = at_h;
        (kept, unrest * (1.0 - kept * kept).sqrt())
    })
}

/// What a point stands for: a way the day may go.
struct Head {
    day: Day,
    /// The climb at the last reading, C/h, and how much hotter than thought the chamber is, C.
    climb_c_per_h: f64,
    off_c: f64,
    /// How much more a cone does in a chamber so much hotter.
    warmer: f64,
    /// What each cone makes of the heat work reckoned from the readings.
    scale: [f64; 3],
}

impl ByReadings<'_> {
    /// Whether the length of the firing counts already in how well a day agrees.
    pub(super) fn reckons_with_the_clock(&self) -> bool {
        self.by_clock.is_some()
    }

    fn head(&self, point: &Point) -> Head {
        let mood = &self.moods[self.levels.iter().filter(|level| point[MOOD] >= **level).count()];
        // Temperature, lasting and passing climb drawn from the filter's distribution.
        let [c, lasting, passing] = std::array::from_fn(|row| {
            let drawn = (0..=row).map(|k| mood.factor[row][k] * point[CHAMBER[k]]);
            mood.mean[row] + drawn.sum::<f64>()
        });
        let off_c = c - self.from_c;
        let warmer = (self.per_degree * off_c).exp();
        let climb_c_per_h = (lasting + passing).max(SLOWEST_C_PER_H);
        let pace = |climb: f64| (climb / self.ahead.climb_c_per_h).ln();
        let lasting = pace(lasting.max(SLOWEST_C_PER_H));
        // ln of today's pace against what lies ahead comes back to the lasting one from knot to
        // knot, and wanders about it.
        let mut paces = [pace(climb_c_per_h); KNOTS_H.len() + 1];
        for (knot, (kept, new)) in self.kept.into_iter().enumerate() {
            let wandered = mood.restlessness * new * point[WANDER + knot];
            paces[knot + 1] = lasting + (paces[knot] - lasting) * kept + wandered;
        }
        for (pace, (by, spread)) in paces[1..].iter_mut().zip(self.turned.into_iter().flatten()) {
            *pace += by + spread * point[TURN];
        }
        let tolerance = self.per_degree * TOLERANCE_C;
        let common = Predicted {
            mean: self.bias_grows * self.experience.bias.mean,
            spread: common_spread(self.bias_grows * self.experience.bias.spread, tolerance),
            ..self.experience.bias
        };
        let common = common.at(point[BIAS]) + otherwise(point[BIAS]);
        let scale = TOLERANCE.map(|at| (tolerance * point[at] - common).exp());
        let done = self.path.last_sum()[TARGET];
        let day = Day {
            paces,
            slowing: self.slowing.0 + self.slowing.1 * point[SLOWING],
            needed: (1.0 / scale[TARGET] - done) / warmer,
        };
        Head { day, climb_c_per_h, off_c, warmer, scale }
    }

    /// Heat work of the pack at a moment on the way.
    fn heat_work(&self, head: &Head, reached: &Reached) -> [f64; 3] {
        let before = self.path.last_sum();
        std::array::from_fn(|cone| {
            (before[cone] + head.warmer * reached.work[cone]) * head.scale[cone]
        })
    }

    /// Hours from lit to the drop, and the climb there, C/h.
    fn drop(&self, head: &Head, walked: &Walked) -> (f64, f64) {
        let last_h = self.path.last_h();
        if head.day.needed <= 0.0 {
            let dropped_h = self.path.when(TARGET, 1.0 / head.scale[TARGET]);
            return (dropped_h.unwrap_or(last_h), head.climb_c_per_h);
        }
        match walked.drop {
            Some((after_h, climb)) if after_h < FURTHEST_H => (last_h + after_h, climb),
            _ => (last_h + FURTHEST_H, head.climb_c_per_h),
        }
    }

    /// ln of how likely what was seen would be on this day, apart from the length of the firing.
    fn log_likelihood(&self, head: &Head, walked: &Walked) -> f64 {
        let earlier = self.earlier.iter().map(|(sight, done)| {
            log_chance(sight, &std::array::from_fn(|cone| done[cone] * head.scale[cone]))
        });
        // Where the way ends before the drop nobody knows how it goes on; after it the cones lie.
        let known = |reached: &Reached| reached.is_there || walked.drop.is_some();
        let later = self.later.iter().zip(&walked.reached).filter(|(_, reached)| known(reached));
        let later = later.map(|(sight, reached)| log_chance(sight, &self.heat_work(head, reached)));
        earlier.chain(later).sum()
    }
}

impl Model for ByReadings<'_> {
    fn unknowns(&self) -> usize {
        TURN + usize::from(self.turned.is_some())
    }

    fn imagine(&self, point: &Point) -> (Imagined, f64) {
        let head = self.head(point);
        let walked = self.ahead.walked(&head.day, &self.moments_h);
        let (drop_h, climb_c_per_h) = self.drop(&head, &walked);
        let now = &walked.reached[self.later.len()];
        let imagined = Imagined {
            drop_h,
            heat_work: self.heat_work(&head, now),
            chamber_c: now.is_there.then_some(self.from_c + head.off_c + now.rise_c),
            climb_c_per_h,
        };
        let by_clock = self.by_clock.as_ref().map_or(0.0, |turned| {
            let usual_h = without_turns(drop_h, turned);
            self.experience.log_agreement(usual_h)
        });
        (imagined, self.log_likelihood(&head, &walked) + by_clock)
    }
}
