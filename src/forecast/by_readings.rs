//! The forecast from readings: the heat work done so far, and a climb that wanders from here on.
//!
//! Unknown: the chamber and its climb at the last reading, how the climb wanders and slows, how
//! far probe, place and chart are apart, and each cone's own tolerance.

use super::climb::{ChamberState, ChamberStates, RESTLESSNESS, time_near};
use super::course::Course;
use super::evidence::{Evidence, Sight, TARGET, log_chance};
use super::lanes::{Block, LANES, Lanes, Task, at_best, coarse_exp, larger, ln};
use super::normal::{chance_below, heavier_tail};
use super::past::Experience;
use super::path::Path;
use super::planned::{Planned, Stretch};
use super::profile::Profile;
use super::sampler::Model;
use super::turns::{Effect, TurnedAt, without_turns};
use super::way::{Days, KNOTS_H, Reached, Walked, Way};
use super::{Imagined, TOLERANCE_C};

/// The model of a firing with readings.
#[derive(Debug)]
pub struct ByReadings<'a> {
    experience: &'a Experience,
    path: Path,
    moods: Moods,
    /// What is kept of a passing pace from knot to knot, and the part that is new.
    kept: [(f64, f64); KNOTS_H.len()],
    /// Cumulative chances of each restlessness.
    cumulative: [f64; RESTLESSNESS.len()],
    /// What lies ahead of the last reading, and the heat work of the pack on each stretch.
    ahead: Vec<(Stretch, [f64; 3])>,
    way: Way,
    /// Where the way ahead begins, C.
    from_c: f64,
    /// Climb of the first stretch, C/h: what the climb now is compared with.
    ahead_climb: f64,
    /// How the climb falls with temperature, ln per C, and how well that is known.
    slowing: (f64, f64),
    /// What turns since the last reading do to the pace from each knot on, if there were any.
    turned: Option<[(f64, f64); KNOTS_H.len()]>,
    /// All turns as they count by the clock, where the clock counts.
    by_clock: Option<Vec<TurnedAt>>,
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
        states: ChamberStates,
        turned: &[TurnedAt],
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
        let ahead: Vec<(Stretch, [f64; 3])> = course
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
            moods: Moods::new(&states, &cumulative),
            kept: kept(states.passes_h, state.c(), experience.profile.as_ref()),
            cumulative,
            way: Way::new(&ahead, state.c()),
            ahead,
            from_c: state.c(),
            ahead_climb: course.climb_c_per_h,
            slowing: if course.known { SLOWING_KNOWN } else { SLOWING_UNKNOWN },
            turned: turned_since(turned, last.at_h, state.mean[1] / course.climb_c_per_h),
            by_clock: (!course.known && experience.length_known)
                .then(|| experience.habit.effects(&evidence.turns)),
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
        for mood in 0..RESTLESSNESS.len() {
            let Moods { mean, factor, .. } = &self.moods;
            numbers.extend(mean.map(|of| of[mood]));
            numbers.extend([factor[0][0], factor[1][0], factor[1][1]].map(|of| of[mood]));
            numbers.extend(factor[2].map(|of| of[mood]));
        }
        numbers.extend(self.kept.iter().flat_map(|(kept, new)| [*kept, *new]));
        for (stretch, work) in &self.ahead {
            let middle_c = 0.5 * (stretch.from_c + stretch.to_c);
            numbers.extend([middle_c, stretch.hours, work[TARGET]]);
        }
        numbers
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
                Effect::Changes { by, spread: one } => (sum + by, spread + one),
                Effect::Resumes { .. } => (-pace.max(0.1).ln(), RESUMES_SPREAD),
            },
        )
    }))
}

/// What is left of the spread of the bias when the target's own tolerance is taken out.
fn common_spread(spread: f64, tolerance: f64) -> f64 {
    (spread * spread - tolerance * tolerance).max(1e-4).sqrt()
}

/// The filter's distribution for each degree of restlessness, made ready for drawing.
#[derive(Debug)]
struct Moods {
    /// A standard normal number below the first level means the first mood, and so on.
    levels: [f64; RESTLESSNESS.len() - 1],
    mean: [OfMood; 3],
    /// Cholesky factors of the covariances.
    factor: [[OfMood; 3]; 3],
}

/// One number for each degree of restlessness.
type OfMood = [f64; RESTLESSNESS.len()];

impl Moods {
    fn new(states: &ChamberStates, cumulative: &OfMood) -> Moods {
        let factors = states.states.map(|state| factor(&state));
        Moods {
            levels: std::array::from_fn(|at| level(cumulative[at])),
            mean: std::array::from_fn(|row| states.states.map(|state| state.mean[row])),
            factor: std::array::from_fn(|row| {
                std::array::from_fn(|column| factors.map(|factor| factor[row][column]))
            }),
        }
    }

    /// What holds in the mood that a standard normal number stands for.
    #[inline(always)]
    fn pick(&self, of: &OfMood, z: f64) -> f64 {
        let [first, second, third] = self.levels;
        let value = if z < third { of[2] } else { of[3] };
        let value = if z < second { of[1] } else { value };
        if z < first { of[0] } else { value }
    }

    /// Temperature, lasting and passing climb drawn from the filter's distribution.
    #[inline(always)]
    fn drawn(&self, points: &Block) -> [Lanes; 3] {
        let mut drawn = [[0.0; LANES]; 3];
        for (row, drawn) in drawn.iter_mut().enumerate() {
            for i in 0..LANES {
                drawn[i] = self.pick(&self.mean[row], points[MOOD][i]);
            }
            for k in 0..=row {
                for i in 0..LANES {
                    let factor = self.pick(&self.factor[row][k], points[MOOD][i]);
                    drawn[i] += factor * points[CHAMBER[k]][i];
                }
            }
        }
        drawn
    }
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

/// Where a standard normal number has so much of the chance below it.
fn level(chance: f64) -> f64 {
    if chance >= 1.0 - 1e-12 {
        return f64::INFINITY;
    }
    let (mut low, mut high) = (-9.0, 9.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if chance_below(middle) < chance { low = middle } else { high = middle }
    }
    high
}

/// What a block of points stands for: so many ways the day may go.
struct Heads {
    days: Days,
    /// The climb at the last reading, C/h, and how much hotter than thought the chamber is, C.
    climb_c_per_h: Lanes,
    off_c: Lanes,
    /// How much more a cone does in a chamber so much hotter.
    warmer: Lanes,
    /// What each cone makes of the heat work reckoned from the readings.
    scale: [Lanes; 3],
}

/// Works out the [`Heads`] of a block.
struct Heading<'a> {
    model: &'a ByReadings<'a>,
    points: &'a Block,
}

impl Task for Heading<'_> {
    type Output = Heads;

    #[inline(always)]
    fn run(self) -> Heads {
        let Heading { model, points } = self;
        let [mut off_c, lasting, mut climb] = model.moods.drawn(points);
        let usual = model.ahead_climb.ln();
        let mut warmer = [0.0; LANES];
        let mut lasting_pace = [0.0; LANES];
        let mut paces = [[0.0; LANES]; KNOTS_H.len() + 1];
        for i in 0..LANES {
            off_c[i] -= model.from_c;
            warmer[i] = coarse_exp(model.per_degree * off_c[i]);
            climb[i] = larger(lasting[i] + climb[i], SLOWEST_C_PER_H);
            paces[0][i] = ln(climb[i]) - usual;
            lasting_pace[i] = ln(larger(lasting[i], SLOWEST_C_PER_H)) - usual;
        }
        let mut restless = [0.0; LANES];
        for i in 0..LANES {
            restless[i] = model.moods.pick(&RESTLESSNESS, points[MOOD][i]);
        }
        // ln of today's pace against what lies ahead comes back to the lasting one from knot to
        // knot, and wanders about it.
        for (knot, (kept, new)) in model.kept.into_iter().enumerate() {
            let [before, after] = &mut paces[knot..=knot + 1] else { unreachable!("two knots") };
            for i in 0..LANES {
                let wandered = restless[i] * new * points[WANDER + knot][i];
                after[i] = lasting_pace[i] + (before[i] - lasting_pace[i]) * kept + wandered;
            }
        }
        for (pace, (by, spread)) in paces[1..].iter_mut().zip(model.turned.into_iter().flatten()) {
            for i in 0..LANES {
                pace[i] += by + spread * points[TURN][i];
            }
        }
        let bias = &model.experience.bias;
        let tolerance = model.per_degree * TOLERANCE_C;
        let spread = common_spread(bias.spread, tolerance);
        let done = model.path.last_sum()[TARGET];
        let mut scale = [[0.0; LANES]; 3];
        let (mut slowing, mut needed) = ([0.0; LANES], [0.0; LANES]);
        for i in 0..LANES {
            let common = spread * heavier_tail(points[BIAS][i], bias.freedom) + bias.mean;
            for (scale, at) in scale.iter_mut().zip(TOLERANCE) {
                scale[i] = coarse_exp(tolerance * points[at][i] - common);
            }
            needed[i] = (1.0 / scale[TARGET][i] - done) / warmer[i];
            slowing[i] = model.slowing.0 + model.slowing.1 * points[SLOWING][i];
        }
        let days = Days { paces, slowing, needed };
        Heads { days, climb_c_per_h: climb, off_c, warmer, scale }
    }
}

impl ByReadings<'_> {
    fn heads(&self, points: &Block) -> Heads {
        at_best(Heading { model: self, points })
    }

    /// The chamber of each day at moments from the last reading on, in order; at the end of the
    /// way beyond it.
    pub fn chamber_at(&self, points: &Block, times_h: &[f64]) -> Vec<Lanes> {
        let Heads { days, off_c, .. } = self.heads(points);
        let after: Vec<f64> = times_h.iter().map(|h| (h - self.path.last_h()).max(0.0)).collect();
        let reached = self.way.walked(&days, &after).reached;
        let chamber = |reached: &Reached| -> Lanes {
            std::array::from_fn(|i| self.from_c + off_c[i] + reached.rise_c[i])
        };
        reached.iter().map(chamber).collect()
    }

    /// Heat work of the pack on each day at a moment on the way.
    fn heat_work(&self, heads: &Heads, reached: &Reached) -> [Lanes; 3] {
        let before = self.path.last_sum();
        std::array::from_fn(|cone| {
            std::array::from_fn(|day| {
                let since = heads.warmer[day] * reached.work[cone][day];
                (before[cone] + since) * heads.scale[cone][day]
            })
        })
    }

    /// The firing of one day, without what was seen.
    fn imagined(&self, heads: &Heads, walked: &Walked, now: &Now, day: usize) -> Imagined {
        let last_h = self.path.last_h();
        let (drop_h, climb_c_per_h) = if heads.days.needed[day] <= 0.0 {
            let reached = self.path.when(TARGET, 1.0 / heads.scale[TARGET][day]);
            (reached.unwrap_or(last_h), heads.climb_c_per_h[day])
        } else if walked.drop_h[day] < FURTHEST_H {
            (last_h + walked.drop_h[day], walked.drop_climb_c_per_h[day])
        } else {
            (last_h + FURTHEST_H, heads.climb_c_per_h[day])
        };
        let chamber_c = self.from_c + heads.off_c[day] + now.reached.rise_c[day];
        Imagined {
            drop_h,
            heat_work: now.heat_work.each_ref().map(|cone| cone[day]),
            chamber_c: now.reached.is_there(day).then_some(chamber_c),
            climb_c_per_h,
        }
    }

    /// ln of how likely what was seen would be on each day, apart from the length of the firing.
    fn log_likelihood(&self, heads: &Heads, walked: &Walked) -> Lanes {
        let mut sums = [0.0; LANES];
        for (sight, done) in &self.earlier {
            for (day, sum) in sums.iter_mut().enumerate() {
                let done = std::array::from_fn(|cone| done[cone] * heads.scale[cone][day]);
                *sum += log_chance(sight, &done);
            }
        }
        for (sight, reached) in self.later.iter().zip(&walked.reached) {
            let done = self.heat_work(heads, reached);
            for (day, sum) in sums.iter_mut().enumerate().filter(|(day, _)| reached.is_there(*day))
            {
                *sum += log_chance(sight, &done.each_ref().map(|cone| cone[day]));
            }
        }
        sums
    }
}

/// The days at the moment of asking.
struct Now<'a> {
    reached: &'a Reached,
    heat_work: [Lanes; 3],
}

impl Model for ByReadings<'_> {
    type Firing = Imagined;

    fn unknowns(&self) -> usize {
        TURN + usize::from(self.turned.is_some())
    }

    fn imagine(&self, points: &Block) -> Vec<(Imagined, f64)> {
        let heads = self.heads(points);
        let now_h = self.now_h - self.path.last_h();
        let sights_h = self.later.iter().map(|sight| sight.at_h - self.path.last_h());
        let moments_h: Vec<f64> = sights_h.chain([now_h]).collect();
        let walked = self.way.walked(&heads.days, &moments_h);
        let reached = &walked.reached[moments_h.len() - 1];
        let now = Now { reached, heat_work: self.heat_work(&heads, reached) };
        let seen = self.log_likelihood(&heads, &walked);
        let length = &self.experience.length;
        (0..LANES)
            .map(|day| {
                let imagined = self.imagined(&heads, &walked, &now, day);
                let by_clock = self.by_clock.as_ref().map_or(0.0, |turned| {
                    let usual_h = without_turns(imagined.drop_h, turned);
                    length.log_density(usual_h.max(0.05).ln())
                });
                (imagined, seen[day] + by_clock)
            })
            .collect()
    }
}
