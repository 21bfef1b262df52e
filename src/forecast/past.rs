//! What past firings teach about the next one: how long it takes, how it climbs at the end, how
//! restless the kiln is, and at what computed heat work its target really goes down.

use super::TOLERANCE_C;
use super::climb::{self, RESTLESSNESS, Ruler};
use super::evidence::{Cones, Evidence, GUIDE, Reading, TARGET, chance_of_word};
use super::pooling::{Group, Measured, Predicted, predict};
use super::profile::Profile;
use crate::cone::{Cone, Curve};
use crate::firing::{Firing, Seen};
use crate::units::{Celsius, CelsiusPerHour, Moment};

/// What is taught about a firing.
#[derive(Debug, Clone, PartialEq)]
pub struct Experience {
    /// ln hours from lit to the drop.
    pub length: Predicted,
    /// ln C/h of the climb at the drop.
    pub climb: Predicted,
    /// ln of the heat work reckoned from readings at which the target is really down: 0 when
    /// probe, place and chart agree.
    pub bias: Predicted,
    /// ln weights of the degrees of restlessness, apart from their prior.
    pub restlessness: [f64; RESTLESSNESS.len()],
    /// How this kiln usually climbs, where past readings tell.
    pub profile: Option<Profile>,
    /// How many past firings had a known drop, and how many of them were of this kiln and load.
    pub firings: usize,
    pub own: usize,
    /// Whether anything but a general guess stands behind the length.
    pub length_known: bool,
}

/// What is planned or usual, before any past firing is asked.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Plan {
    /// Hours from lit to the drop by the schedule, and its climb there, C/h.
    pub schedule: Option<(f64, f64)>,
    pub usual_length_h: Option<f64>,
}

/// Guesses, all in ln: how far the mean may lie from plan or habit, and how much one firing
/// differs from the next.
const SCHEDULE_OFF: f64 = 0.10;
const USUAL_LENGTH_OFF: f64 = 0.12;
const ANY_LENGTH: (f64, f64) = (1.8, 0.55);
const LENGTH_SPREAD: f64 = 0.05;
const SCHEDULE_CLIMB_OFF: f64 = 0.25;
const ANY_CLIMB: (f64, f64) = (4.95, 0.35);
const CLIMB_SPREAD: f64 = 0.08;
/// Probe against cones in ln heat work: 8 C at 5 % a degree for a kiln never seen, 2.2 C from
/// firing to firing.
const BIAS_OFF: f64 = 0.40;
const BIAS_SPREAD: f64 = 0.11;

/// A day that is so much slower than usual, ln, climbs so much slower at its end: the same pace
/// all along (a guess).
pub const PACE: f64 = 1.0;
/// The climb by which times near an end point are judged, C/h.
const TYPICAL_CLIMB: f64 = 150.0;
/// From guide to target it takes longer than this, hours.
const LEAST_GAP_H: f64 = 0.02;
/// A cone may have been down so long before somebody said so, or be so far from it, in ln heat
/// work: half of the words for a cone that is nearly down are "down".
const EARLY_AND_LATE: f64 = 0.2;
/// Looks further off than this say nothing of an end point, hours.
const NEAR_H: f64 = 1.0;

/// How alike a past firing is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Likeness {
    KilnAndLoad,
    Kiln,
    Load,
    Shop,
}

/// What one past firing says.
#[derive(Debug, Clone)]
struct Lesson {
    likeness: Likeness,
    target: Cone,
    length: Option<Measured>,
    climb: Option<ClimbSeen>,
    bias: Option<Measured>,
    readings: Vec<Reading>,
}

/// The drop of a past firing lies between two moments.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DropBetween {
    pub after_h: f64,
    pub before_h: f64,
}

/// Nobody had looked shortly before: the drop is taken to lie within this time, hours.
const UNSEEN_H: f64 = 0.3;

/// "Down" is said from 80 degrees on; the tip is level with the base so much later at 150 C/h,
/// hours (from the bending law and the chart: 6.6 % of the heat work, which grows 12 % a minute).
const DOWN_SAID_EARLY_H: f64 = 0.57 / 60.0;

impl Experience {
    pub fn of(past: &[Firing], firing: &Firing, cones: &Cones, plan: &Plan) -> Experience {
        let lessons: Vec<Lesson> = past.iter().filter_map(|p| Lesson::of(p, firing)).collect();
        let target = cones.target;
        let end_c = |cone: Cone| {
            crate::cone::curve(cone, target.family)
                .map_or(700.0, |curve| curve.temperature_ending(CelsiusPerHour(120.0)).0)
        };
        let other_cone = |cone: Cone| ((end_c(target.cone) - 20.0) / (end_c(cone) - 20.0)).ln();
        let length_prior = match (plan.schedule, plan.usual_length_h) {
            (Some((hours, _)), _) => (hours.ln(), SCHEDULE_OFF),
            (None, Some(hours)) => (hours.ln(), USUAL_LENGTH_OFF),
            (None, None) => ANY_LENGTH,
        };
        let between_lengths = |likeness| match likeness {
            Likeness::KilnAndLoad => 0.0,
            Likeness::Kiln => 0.2,
            Likeness::Load => 0.15,
            Likeness::Shop => 0.35,
        };
        let between_climbs = |likeness| match likeness {
            Likeness::KilnAndLoad => 0.0,
            Likeness::Kiln => 0.2,
            Likeness::Load | Likeness::Shop => 0.25,
        };
        let between_biases = |likeness| match likeness {
            Likeness::KilnAndLoad => 0.0,
            Likeness::Kiln => 0.15,
            Likeness::Load | Likeness::Shop => 0.35,
        };
        let lengths = groups(&lessons, between_lengths, |lesson| {
            let (value, error) = lesson.length?;
            Some((value + other_cone(lesson.target), error))
        });
        let climb_prior = match plan.schedule {
            Some((_, climb)) if climb > 1.0 => (climb.ln(), SCHEDULE_CLIMB_OFF),
            _ => ANY_CLIMB,
        };
        let length = predict(length_prior, LENGTH_SPREAD, &lengths);
        let climbs = groups(&lessons, between_climbs, |lesson| {
            let (value, error) = lesson.climb?.measured(usual_gap_h(&lessons, lesson), cones)?;
            Some((value + PACE * lesson.slower_than(&length), error))
        });
        let biases = groups(&lessons, between_biases, |lesson| lesson.bias);
        let profile = profile(&lessons);
        let firings = lessons.iter().filter(|lesson| lesson.length.is_some()).count();
        Experience {
            length,
            climb: predict(climb_prior, CLIMB_SPREAD, &climbs),
            bias: predict((0.0, BIAS_OFF), BIAS_SPREAD, &biases),
            restlessness: restlessness(&lessons, profile.as_ref()),
            profile,
            firings,
            own: lessons
                .iter()
                .filter(|l| l.length.is_some() && l.likeness == Likeness::KilnAndLoad)
                .count(),
            length_known: plan.schedule.is_some() || plan.usual_length_h.is_some() || firings > 0,
        }
    }

    /// Chances of each restlessness given today's readings as well.
    pub fn restlessness_today(
        &self,
        today: &[f64; RESTLESSNESS.len()],
    ) -> [f64; RESTLESSNESS.len()] {
        let mut both = *today;
        for (at, log) in both.iter_mut().enumerate() {
            // Past firings are like today's only so far: their evidence counts for half.
            *log += 0.5 * self.restlessness[at];
        }
        climb::chances(&both)
    }
}

/// ln weights of the degrees of restlessness from all firings of this kiln.
fn restlessness(lessons: &[Lesson], profile: Option<&Profile>) -> [f64; RESTLESSNESS.len()] {
    let ruler = profile.map_or(Ruler::Plain, |profile| Ruler::Usual(profile, LENGTH_SPREAD));
    let mut sums = [0.0; RESTLESSNESS.len()];
    for lesson in lessons.iter().filter(|lesson| lesson.likeness <= Likeness::Kiln) {
        if let Some(states) = climb::filter(&lesson.readings, ruler) {
            for (sum, one) in sums.iter_mut().zip(states.log_likelihood) {
                *sum += one;
            }
        }
    }
    sums
}

/// From firings of this kiln with this load; without enough of them, with any load.
fn profile(lessons: &[Lesson]) -> Option<Profile> {
    [Likeness::KilnAndLoad, Likeness::Kiln].into_iter().find_map(|least| {
        let alike = lessons.iter().filter(|lesson| lesson.likeness <= least);
        Profile::of(alike.map(|lesson| lesson.readings.as_slice()))
    })
}

fn groups(
    lessons: &[Lesson],
    between: impl Fn(Likeness) -> f64,
    value: impl Fn(&Lesson) -> Option<Measured>,
) -> Vec<Group> {
    [Likeness::KilnAndLoad, Likeness::Kiln, Likeness::Load, Likeness::Shop]
        .map(|likeness| Group {
            between: between(likeness),
            values: lessons
                .iter()
                .filter(|lesson| lesson.likeness == likeness)
                .filter_map(&value)
                .collect(),
        })
        .into()
}

/// The middle one of the times from guide to target on the same kiln, hours.
fn usual_gap_h(lessons: &[Lesson], of: &Lesson) -> Option<f64> {
    let same = |lesson: &&Lesson| lesson.likeness == of.likeness;
    let mut gaps: Vec<f64> =
        lessons.iter().filter(same).filter_map(|lesson| lesson.climb?.gap_h()).collect();
    gaps.sort_by(f64::total_cmp);
    gaps.get(gaps.len() / 2).copied()
}

impl Lesson {
    /// How much longer than usual for this kiln and load it took, ln; 0 where that says nothing.
    fn slower_than(&self, usual: &Predicted) -> f64 {
        match self.length {
            Some((length, _)) if self.likeness == Likeness::KilnAndLoad => length - usual.mean,
            _ => 0.0,
        }
    }

    fn of(past: &Firing, today: &Firing) -> Option<Lesson> {
        let same = |a: &str, b: &str| a.trim().to_lowercase() == b.trim().to_lowercase();
        let same_kiln = same(&past.kiln, &today.kiln);
        let target = past.pack?.target;
        let same_load = same(&past.load_type, &today.load_type)
            && today.pack.is_some_and(|pack| pack.target == target);
        let likeness = match (same_kiln, same_load) {
            (true, true) => Likeness::KilnAndLoad,
            (true, false) => Likeness::Kiln,
            (false, true) => Likeness::Load,
            (false, false) => Likeness::Shop,
        };
        let end = past.off.or(past.drawn).unwrap_or(Moment(i64::MAX));
        let evidence = Evidence::until(past, end, &[])?;
        let drop = DropBetween::of(past)?;
        Some(Lesson {
            likeness,
            target,
            length: drop.length(),
            climb: ClimbSeen::of(&evidence, &drop),
            bias: bias(&evidence, &drop),
            readings: evidence.readings,
        })
    }
}

impl DropBetween {
    /// `None` when nobody saw the target down and the firing was not shut off in the ordinary way.
    pub fn of(firing: &Firing) -> Option<DropBetween> {
        if firing.aborted.is_some() {
            return None;
        }
        let hours = |at: Moment| firing.lit.map(|lit| (at - lit).as_hours());
        let seen_down = firing.looks.iter().find(|(_, look)| look.target == Some(Seen::Down));
        let before_h = hours(seen_down.map(|(at, _)| *at).or(firing.off)?)?;
        let after_h = firing
            .looks
            .iter()
            .rev()
            .filter(|(_, look)| look.target.is_some_and(|seen| seen != Seen::Down))
            .filter_map(|(at, _)| hours(*at))
            .find(|at| *at < before_h);
        let unseen = before_h - UNSEEN_H;
        let after_h = after_h.map_or(unseen, |after| after.max(before_h - 3.0 * UNSEEN_H)).max(0.0);
        let between = DropBetween {
            after_h: after_h + DOWN_SAID_EARLY_H,
            before_h: before_h + DOWN_SAID_EARLY_H,
        };
        (before_h > 0.0).then_some(between)
    }

    pub fn middle_h(&self) -> f64 {
        0.5 * (self.after_h + self.before_h)
    }

    fn variance_h2(&self) -> f64 {
        (self.before_h - self.after_h).powi(2) / 12.0
    }

    fn length(&self) -> Option<Measured> {
        let middle = self.middle_h();
        (middle > 0.1).then(|| (middle.ln(), self.variance_h2() / (middle * middle)))
    }
}

/// What a past firing says of the climb at its drop.
#[derive(Debug, Clone, Copy)]
enum ClimbSeen {
    /// Over the last three quarters of an hour of readings: ln C/h.
    Read(Measured),
    /// From guide to target: hours between them and the variance of that.
    Between { gap_h: f64, variance_h2: f64 },
}

impl ClimbSeen {
    fn of(evidence: &Evidence, drop: &DropBetween) -> Option<ClimbSeen> {
        let middle = drop.middle_h();
        let near: Vec<&Reading> = evidence
            .readings
            .iter()
            .filter(|r| r.at_h > middle - 0.8 && r.at_h <= drop.before_h)
            .collect();
        if let [first, .., last] = near[..]
            && last.at_h - first.at_h > 0.3
        {
            let climb = (last.c - first.c) / (last.at_h - first.at_h);
            let error = first.noise_c.hypot(last.noise_c) / (last.at_h - first.at_h);
            return (climb > 5.0).then(|| ClimbSeen::Read((climb.ln(), (error / climb).powi(2))));
        }
        let cones = &evidence.cones;
        cones.curves[GUIDE]?;
        let per_h = cones.per_degree(TYPICAL_CLIMB) * TYPICAL_CLIMB;
        let guide = EndPoint::of(evidence, GUIDE, per_h)?;
        let target = EndPoint::of(evidence, TARGET, per_h)?;
        Some(ClimbSeen::Between {
            gap_h: target.at_h - guide.at_h,
            variance_h2: target.variance_h2 + guide.variance_h2,
        })
    }

    fn gap_h(&self) -> Option<f64> {
        match self {
            ClimbSeen::Between { gap_h, .. } => Some(*gap_h),
            ClimbSeen::Read(_) => None,
        }
    }

    /// ln C/h; a gap is judged by how long the kiln usually takes, for the noise of a short one
    /// would look larger than that of a long one.
    fn measured(&self, usual_gap_h: Option<f64>, cones: &Cones) -> Option<Measured> {
        let (gap_h, variance_h2) = match *self {
            ClimbSeen::Read(measured) => return Some(measured),
            ClimbSeen::Between { gap_h, variance_h2 } => (gap_h, variance_h2),
        };
        let (gap_h, usual_h) = (gap_h.max(LEAST_GAP_H), usual_gap_h?.max(LEAST_GAP_H));
        let guide = cones.curves[GUIDE]?;
        let end = |curve: &Curve, climb| curve.temperature_ending(CelsiusPerHour(climb)).0;
        let mut climb = TYPICAL_CLIMB;
        let mut apart_c = 0.0;
        for _ in 0..5 {
            apart_c = end(cones.target, climb) - end(guide, climb);
            climb = (apart_c / gap_h).clamp(5.0, 600.0);
        }
        let own = 2.0 * (TOLERANCE_C / apart_c).powi(2);
        let seen = variance_h2 / (usual_h * usual_h);
        // The mean of a logarithm is lower than the logarithm of the mean.
        Some((climb.ln() - 0.5 * (own + seen), own + seen))
    }
}

/// When a cone reached its end point, from all that was said of it.
struct EndPoint {
    at_h: f64,
    variance_h2: f64,
}

impl EndPoint {
    /// Weighs moments on a grid by the words. Around its end point heat work grows by `per_h`, ln
    /// an hour: a cone seen half soon follows, one that only leans takes longer.
    fn of(evidence: &Evidence, cone: usize, per_h: f64) -> Option<EndPoint> {
        const STEPS: usize = 24;
        let words = || evidence.sights.iter().filter_map(|s| Some((s.at_h, s.seen[cone]?)));
        let (down_h, _) = words().find(|(_, word)| *word == Seen::Down)?;
        let before_h = words().take_while(|(at_h, _)| *at_h < down_h).last()?.0;
        let late_h = EARLY_AND_LATE / per_h;
        let (from_h, to_h) = (before_h - 0.2 * late_h, down_h + late_h);
        let near = || words().filter(|(at_h, _)| (at_h - down_h).abs() < NEAR_H);
        let (mut sum, mut first, mut second) = (0.0, 0.0, 0.0);
        for step in 0..STEPS {
            let at_h = from_h + (to_h - from_h) * (step as f64 + 0.5) / STEPS as f64;
            let weight: f64 = near()
                .map(|(seen_h, word)| chance_of_word(word, (per_h * (seen_h - at_h)).exp()))
                .product();
            sum += weight;
            first += weight * at_h;
            second += weight * at_h * at_h;
        }
        let at_h = first / sum;
        Some(EndPoint { at_h, variance_h2: (second / sum - at_h * at_h).max(0.0) })
    }
}

/// ln of the target's reckoned heat work at the drop.
fn bias(evidence: &Evidence, drop: &DropBetween) -> Option<Measured> {
    let path = Path::of(evidence)?;
    let reach = path.last_h() + 0.75;
    if drop.middle_h() > reach {
        return None;
    }
    let at = |h: f64| path.heat_work(h)[TARGET].max(1e-9).ln();
    let (after, before) = (at(drop.after_h), at(drop.before_h));
    let beyond = (drop.middle_h() - path.last_h()).max(0.0);
    let guessed = 5.0 * beyond;
    Some((at(drop.middle_h()), (before - after).powi(2) / 12.0 + (0.15 * guessed).powi(2)))
}

/// Heat work of the pack along readings joined by straight pieces, and a little beyond.
#[derive(Debug, Clone)]
pub struct Path {
    cones: Cones,
    readings: Vec<Reading>,
    sums: Vec<[f64; 3]>,
}

impl Path {
    /// `None` without two readings.
    pub fn of(evidence: &Evidence) -> Option<Path> {
        let cones = evidence.cones;
        let readings = evidence.readings.clone();
        let [first, second, ..] = readings[..] else { return None };
        // What was done before the first reading, as if it had climbed there steadily.
        let slope = (second.c - first.c) / (second.at_h - first.at_h).max(0.01);
        let steady = slope.max((first.c - 20.0) / first.at_h.max(0.05)).clamp(20.0, 600.0);
        let before = cones.curves.map(|curve| {
            curve.map_or(0.0, |curve| curve.rate_ending_at(Celsius(first.c)).0 / steady)
        });
        let mut sums = vec![before];
        let mut sum = before;
        for pair in readings.windows(2) {
            let done = cones.heat_work(pair[0].c, pair[1].c, pair[1].at_h - pair[0].at_h);
            for (sum, done) in sum.iter_mut().zip(done) {
                *sum += done;
            }
            sums.push(sum);
        }
        Some(Path { cones, readings, sums })
    }

    pub fn last_h(&self) -> f64 {
        self.readings.last().map_or(0.0, |reading| reading.at_h)
    }

    /// When one cone's heat work reached `level`; `None` when it has not yet.
    pub fn when(&self, cone: usize, level: f64) -> Option<f64> {
        let next = self.sums.partition_point(|sum| sum[cone] < level);
        let to = self.sums.get(next)?;
        let Some(before) = next.checked_sub(1) else { return Some(self.readings[0].at_h) };
        let from = self.sums[before][cone];
        // Heat work grows nearly geometrically from one reading to the next.
        let part = if from > 0.0 {
            (level / from).ln() / (to[cone] / from).ln()
        } else {
            (level - from) / (to[cone] - from)
        };
        let (from_h, to_h) = (self.readings[before].at_h, self.readings[next].at_h);
        Some(from_h + part.clamp(0.0, 1.0) * (to_h - from_h))
    }

    pub fn last_sum(&self) -> [f64; 3] {
        self.sums.last().copied().unwrap_or_default()
    }

    /// Heat work at `at_h`; beyond the last reading as if the last half hour's climb went on.
    pub fn heat_work(&self, at_h: f64) -> [f64; 3] {
        let next = self.readings.partition_point(|reading| reading.at_h <= at_h);
        if next == 0 {
            return [0.0; 3];
        }
        let from = self.readings[next - 1];
        let mut sum = self.sums[next - 1];
        let slope = match self.readings.get(next) {
            Some(to) => (to.c - from.c) / (to.at_h - from.at_h),
            None => {
                let back = self.readings[..next - 1]
                    .iter()
                    .rev()
                    .find(|earlier| from.at_h - earlier.at_h > 0.3)
                    .or(self.readings.first());
                back.map_or(0.0, |back| (from.c - back.c) / (from.at_h - back.at_h).max(0.05))
            }
        };
        let hours = at_h - from.at_h;
        let done = self.cones.heat_work(from.c, from.c + slope * hours, hours);
        for (sum, done) in sum.iter_mut().zip(done) {
            *sum += done;
        }
        sum
    }
}
