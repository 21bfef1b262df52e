//! What past firings teach about the next one: how long it takes, how it climbs at the end, how
//! restless the kiln is, and at what computed heat work its target really goes down.

use super::climb::{self, RESTLESSNESS, Ruler};
use super::evidence::{Cones, Evidence, Reading, TARGET, Turn};
use super::past_end::{ClimbSeen, DropBetween, Length, TYPICAL_CLIMB};
use super::path::Path;
use super::planned::Planned;
use super::pooling::{Group, LogDensity, Measured, Predicted, predict};
use super::profile::Profile;
use super::rise::{ANY_POWER, POWER_SPREAD, Rise};
use super::turns::{self, Habit};
use crate::cone::Cone;
use crate::cone::bending::heat_work_at_lean;
use crate::firing::{Firing, Seen};
use crate::review::ledger::median;
use crate::review::suggestion::Corrections;
use crate::units::{CelsiusPerHour, Moment};

/// What is taught about a firing.
#[derive(Debug, Clone, PartialEq)]
pub struct Experience {
    /// ln hours from lit to the drop.
    pub length: Predicted,
    by_clock: ByLength,
    /// ln C/h of the climb at the drop.
    pub climb: Predicted,
    /// ln of the heat work reckoned from readings at which the target is really down: 0 when
    /// probe, place and chart agree.
    pub bias: Predicted,
    /// ln weights of the degrees of restlessness, apart from their prior.
    pub restlessness: [f64; RESTLESSNESS.len()],
    /// The power of time that the rise of this kiln goes by (`rise`).
    pub power: Predicted,
    /// How this kiln usually climbs, where past readings tell.
    pub profile: Option<Profile>,
    /// When its burner is usually turned, and what that does.
    pub habit: Habit,
    /// What is to be added to its probe, as accepted, C.
    pub correction_c: Option<f64>,
    /// When its probe was changed or moved, where past firings before that are known.
    pub probe_changed: Option<Moment>,
    /// How many past firings had a known drop.
    pub firings: usize,
    /// Whether any firing of this kiln taught its bias; else it grows with the climb.
    pub bias_learned: bool,
    /// Whether anything but a general guess stands behind the length.
    pub length_known: bool,
    /// Whether a firing of this load in this kiln has borne it out.
    pub length_tried: bool,
}

/// What is planned, usual or agreed, before any past firing is asked.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Beforehand<'a> {
    pub planned: Option<&'a Planned>,
    pub usual_length_h: Option<f64>,
    /// Whether that is the one a load type came with, which nobody of this shop has said.
    pub usual_length_is_a_guess: bool,
    /// Probe corrections, and the moment at which they are asked for.
    pub corrections: Option<(&'a Corrections, Moment)>,
}

impl Beforehand<'_> {
    fn in_force(&self, kiln: &str) -> Option<(Moment, f64)> {
        self.corrections.and_then(|(corrections, now)| corrections.in_force(kiln, now))
    }

    /// The same for the probe that this kiln had at `lit`, if it has another one now.
    fn of_earlier_probe(&self, kiln: &str, lit: Moment) -> Option<Option<(Moment, f64)>> {
        let (corrections, now) = self.corrections?;
        let changed = corrections.probe_since(kiln, now)? > lit;
        changed.then(|| corrections.in_force(kiln, lit))
    }
}

/// Guesses, all in ln: how far the mean may lie from plan or habit, and how much one firing
/// differs from the next.
const SCHEDULE_OFF: f64 = 0.10;
const USUAL_LENGTH_OFF: f64 = 0.12;
const ANY_LENGTH: (f64, f64) = (1.8, 0.55);
/// How often the clock tells nothing of the day: lit at another hour than noted, a load or a burner
/// as never before (a guess).
pub(super) const CLOCK_FAILS: f64 = 0.03;
/// How long a day like none before is against the usual.
const DAY_LIKE_NONE: f64 = 0.35;
/// The most that the clock may speak for a length, ln: more than it ever does near the usual one.
const MOST_AGREEMENT: f64 = 10.0;
const LENGTH_SPREAD: f64 = 0.05;
const SCHEDULE_CLIMB_OFF: f64 = 0.25;
const ANY_CLIMB: (f64, f64) = (4.95, 0.35);
const CLIMB_SPREAD: f64 = 0.08;
/// Probe against cones in ln heat work: 8 C at 5 % a degree for a kiln never seen, 2.4 C from
/// firing to firing.
const BIAS_OFF: f64 = 0.40;
/// The same for a kiln whose probe has an accepted correction, which rests on several firings: 3 C.
const BIAS_CORRECTED_OFF: f64 = 0.15;
/// A probe in its sheath is behind the chamber by this, hours (a guess), and so reads low on a climb.
const PROBE_LAG_H: f64 = 0.02;
const BIAS_SPREAD: f64 = 0.12;

/// A day that is so much slower than usual, ln, climbs so much slower at its end: the same pace
/// all along (a guess).
pub const PACE: f64 = 1.0;

/// How alike a past firing is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Likeness {
    KilnAndLoad,
    Kiln,
    Load,
    Shop,
}

/// How far the mean of firings so alike lies from that of this kiln with this load, in ln, by likeness
/// (guesses).
const LENGTHS_APART: [f64; 4] = [0.0, 0.2, 0.15, 0.35];
const CLIMBS_APART: [f64; 4] = [0.0, 0.2, 0.25, 0.25];
const BIASES_APART: [f64; 4] = [0.0, 0.15, 0.35, 0.35];
const POWERS_APART: [f64; 4] = [0.0, 0.12, 0.12, 0.2];

/// What one past firing says.
#[derive(Debug, Clone)]
struct Lesson {
    likeness: Likeness,
    target: Cone,
    length: Option<Length>,
    climb: Option<ClimbSeen>,
    /// As it would be with the correction that its kiln's probe has now.
    bias: Option<Measured>,
    /// Whether that correction was accepted later.
    before_correction: bool,
    /// Whether today's kiln had another probe then, or had it elsewhere.
    before_change: bool,
    /// The power of time that its rise went by.
    power: Option<Measured>,
    readings: Vec<Reading>,
    turns: Vec<Turn>,
    /// What its turns did to its climb.
    turned: Vec<Measured>,
}

impl Experience {
    pub fn of(past: &[Firing], firing: &Firing, cones: &Cones, before: &Beforehand) -> Experience {
        let lesson = |past| Lesson::of(past, firing, before);
        let lessons: Vec<Lesson> = past.iter().filter_map(lesson).collect();
        let length = expected_length(&lessons, cones, before);
        let climb_prior = match before.planned.map(|planned| planned.climb_c_per_h) {
            Some(climb) if climb > 1.0 => (climb.ln(), SCHEDULE_CLIMB_OFF),
            _ => ANY_CLIMB,
        };
        let climbs = groups(&lessons, CLIMBS_APART, |lesson| {
            let (value, error) = lesson.climb?.measured(usual_gap_h(&lessons, lesson), cones)?;
            Some((value + PACE * lesson.slower_than(&length), error))
        });
        let powers = groups(&lessons, POWERS_APART, |lesson| lesson.power);
        let correction_c = before.in_force(&firing.kiln).map(|(_, add_c)| add_c);
        let profile = profile(&lessons);
        let habit = habit(&lessons, before);
        let known = |lesson: &&Lesson| matches!(lesson.length, Some(Length::About(_)));
        let firings = lessons.iter().filter(known).count();
        let own = |lesson: &Lesson| lesson.likeness == Likeness::KilnAndLoad;
        let length_tried = lessons.iter().any(|lesson| own(lesson) && lesson.length.is_some());
        Experience {
            length,
            length_tried,
            by_clock: ByLength::of(&length, length_tried),
            climb: predict(climb_prior, CLIMB_SPREAD, &climbs),
            power: predict(ANY_POWER, POWER_SPREAD, &powers),
            bias: expected_bias(&lessons, cones, correction_c),
            restlessness: restlessness(&lessons, profile.as_ref(), &habit),
            profile,
            habit,
            correction_c,
            bias_learned: correction_c.is_some()
                || !own_values(&lessons, |lesson| lesson.bias.filter(|_| !lesson.before_change))
                    .is_empty(),
            probe_changed: before.corrections.and_then(|(corrections, now)| {
                let since = corrections.probe_since(&firing.kiln, now)?;
                lessons.iter().any(|lesson| lesson.before_change).then_some(since)
            }),
            firings,
            length_known: before.planned.is_some()
                || before.usual_length_h.is_some()
                || lessons.iter().any(|lesson| lesson.length.is_some()),
        }
    }

    /// The same for a day on which the clock tells next to nothing: lit at another hour than was
    /// written down, or with other cones, or fired quite another way.
    pub fn without_clock(&self) -> Experience {
        let length = like_none(&self.length, self.length_tried);
        let by_clock = ByLength::of(&length, self.length_tried);
        Experience { length, by_clock, ..self.clone() }
    }

    /// ln of how many times likelier a firing of so many hours is by the clock than on a day like none
    /// before, with the chance that today is one.
    pub fn log_agreement(&self, length_h: f64) -> f64 {
        self.by_clock.log_agreement(length_h.max(0.05).ln())
    }

    /// ln density of a firing of so many hours, by ln hours, with the chance that today is a day like
    /// none before.
    pub fn log_density_of_length(&self, length_h: f64) -> f64 {
        let ln_h = length_h.max(0.05).ln();
        self.by_clock.log_agreement(ln_h) + self.by_clock.like_none.at(ln_h)
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

    /// ln of how likely today's readings are, from how likely each degree of restlessness makes them.
    pub fn log_likelihood_today(&self, today: &[f64; RESTLESSNESS.len()]) -> f64 {
        let before = self.restlessness_today(&[0.0; RESTLESSNESS.len()]);
        let most = today.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let parts = before.iter().zip(today);
        most + parts.map(|(chance, log)| chance * (log - most).exp()).sum::<f64>().ln()
    }
}

/// How likely lengths are, ln hours: by the clock, and on a day like none before.
#[derive(Debug, Clone, Copy, PartialEq)]
struct ByLength {
    usual: LogDensity,
    like_none: LogDensity,
}

impl ByLength {
    fn of(length: &Predicted, tried: bool) -> ByLength {
        let like_none = like_none(length, tried).log_density();
        ByLength { usual: length.log_density(), like_none }
    }

    fn log_agreement(&self, ln_h: f64) -> f64 {
        // Far off on either side one tail is thinner than the other, which tells nothing.
        let by_clock = (self.usual.at(ln_h) - self.like_none.at(ln_h)).min(MOST_AGREEMENT);
        ((1.0 - CLOCK_FAILS) * by_clock.exp() + CLOCK_FAILS).ln()
    }
}

/// ln hours from lit to the drop on a day like none before; where none was before, on any.
fn like_none(length: &Predicted, tried: bool) -> Predicted {
    let spread = if tried { DAY_LIKE_NONE } else { ANY_LENGTH.1 }.max(length.spread);
    Predicted { spread, each: 0.0, freedom: f64::INFINITY, ..*length }
}

/// ln hours from lit to the drop. What only bounds a length is weighed against the others.
fn expected_length(lessons: &[Lesson], cones: &Cones, before: &Beforehand) -> Predicted {
    let target = cones.target;
    let end_c = |cone: Cone| {
        crate::cone::curve(cone, target.family)
            .map_or(700.0, |curve| curve.temperature_ending(CelsiusPerHour(120.0)).0)
    };
    let other_cone = |cone: Cone| ((end_c(target.cone) - 20.0) / (end_c(cone) - 20.0)).ln();
    let prior = match (before.planned, before.usual_length_h) {
        (Some(planned), _) => (planned.drop_h.ln(), SCHEDULE_OFF),
        (None, Some(hours)) if before.usual_length_is_a_guess => (hours.ln(), ANY_LENGTH.1),
        (None, Some(hours)) => (hours.ln(), USUAL_LENGTH_OFF),
        (None, None) => ANY_LENGTH,
    };
    let beside = |expected: Option<Predicted>| {
        let lengths = groups(lessons, LENGTHS_APART, |lesson| {
            let shift = other_cone(lesson.target);
            let (value, error) = match (lesson.length?, expected) {
                (Length::About(measured), _) => measured,
                (Length::Below(ln_h), expected) => {
                    let Predicted { mean, spread, .. } = expected?;
                    let spread = spread.hypot(LENGTHS_APART[lesson.likeness as usize]);
                    Length::found_down(ln_h, mean - shift, spread)?
                }
            };
            Some((value + shift, error))
        });
        predict(prior, LENGTH_SPREAD, &lengths)
    };
    beside(Some(beside(None)))
}

/// ln of the heat work reckoned from readings at which the target is down.
fn expected_bias(lessons: &[Lesson], cones: &Cones, correction_c: Option<f64>) -> Predicted {
    let per_degree = cones.per_degree(TYPICAL_CLIMB);
    let behind_c = PROBE_LAG_H * TYPICAL_CLIMB;
    let prior =
        correction_c.map_or((-per_degree * behind_c, BIAS_OFF), |_| (0.0, BIAS_CORRECTED_OFF));
    let mut biases = groups(lessons, BIASES_APART, |lesson| {
        lesson.bias.filter(|_| !lesson.before_correction && !lesson.before_change)
    });
    // A probe that had to be corrected may have drifted: what it read before counts as little
    // as with another load. What another one read says nothing of it.
    biases.push(Group {
        between: BIASES_APART[Likeness::Kiln as usize],
        values: own_values(lessons, |lesson| lesson.bias.filter(|_| lesson.before_correction)),
    });
    let mut bias = predict(prior, BIAS_SPREAD, &biases);
    // Readings are reckoned with as they were read.
    bias.mean -= per_degree * correction_c.unwrap_or(0.0);
    bias
}

/// ln weights of the degrees of restlessness from all firings of this kiln.
fn restlessness(
    lessons: &[Lesson],
    profile: Option<&Profile>,
    habit: &Habit,
) -> [f64; RESTLESSNESS.len()] {
    let ruler = profile.map_or(Ruler::Plain, |profile| Ruler::Usual(profile, LENGTH_SPREAD));
    let mut sums = [0.0; RESTLESSNESS.len()];
    for lesson in lessons.iter().filter(|lesson| lesson.likeness <= Likeness::Kiln) {
        let turned = habit.turned(&lesson.turns, profile.is_some());
        if let Some(states) = climb::filter(&lesson.readings, ruler, &turned) {
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
    apart: [f64; 4],
    value: impl Fn(&Lesson) -> Option<Measured>,
) -> Vec<Group> {
    let alike =
        |likeness| lessons.iter().filter(move |lesson| lesson.likeness as usize == likeness);
    let group = |(likeness, between)| {
        let values = alike(likeness).filter_map(&value).collect();
        Group { between, values }
    };
    apart.into_iter().enumerate().map(group).collect()
}

/// The values of firings of this kiln, whatever the load.
fn own_values<T>(lessons: &[Lesson], value: impl Fn(&Lesson) -> Option<T>) -> Vec<T> {
    lessons.iter().filter(|lesson| lesson.likeness <= Likeness::Kiln).filter_map(value).collect()
}

fn habit(lessons: &[Lesson], before: &Beforehand) -> Habit {
    let alike = |least| lessons.iter().filter(move |lesson| lesson.likeness == least);
    let own: Vec<&[Turn]> =
        alike(Likeness::KilnAndLoad).map(|lesson| lesson.turns.as_slice()).collect();
    let turned = |least, between| Group {
        between,
        values: alike(least).flat_map(|lesson| lesson.turned.iter().copied()).collect(),
    };
    let sizes = [turned(Likeness::KilnAndLoad, 0.0), turned(Likeness::Kiln, 0.05)];
    Habit::of(&own, before.planned, &sizes)
}

/// The middle one of the times from guide to target on the same kiln, hours.
fn usual_gap_h(lessons: &[Lesson], of: &Lesson) -> Option<f64> {
    let same = |lesson: &&Lesson| lesson.likeness == of.likeness;
    median(lessons.iter().filter(same).filter_map(|lesson| lesson.climb?.gap_h()))
}

impl Lesson {
    /// How much longer than usual for this kiln and load it took, ln; 0 where that says nothing.
    fn slower_than(&self, usual: &Predicted) -> f64 {
        match self.length {
            Some(Length::About((length, _))) if self.likeness == Likeness::KilnAndLoad => {
                length - usual.mean
            }
            _ => 0.0,
        }
    }

    fn of(past: &Firing, today: &Firing, before: &Beforehand) -> Option<Lesson> {
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
        let by_the_glow = evidence.clone().or_by_the_glow(past);
        let drop = DropBetween::of(past)?;
        let earlier_probe = before.of_earlier_probe(&past.kiln, evidence.lit);
        let correction = earlier_probe.unwrap_or_else(|| before.in_force(&past.kiln));
        let corrected =
            correction.map_or(0.0, |(_, add_c)| add_c * evidence.cones.per_degree(TYPICAL_CLIMB));
        let bias = bias(&evidence, &drop).map(|(bias, error)| (bias + corrected, error));
        Some(Lesson {
            likeness,
            target,
            length: drop.length(),
            climb: ClimbSeen::of(&evidence, &drop),
            bias,
            power: drop.length().and_then(Length::about).and_then(|(ln_h, _)| {
                Rise::learned(&by_the_glow.readings, &evidence.cones, ln_h.exp())
            }),
            before_correction: same_kiln
                && earlier_probe.is_none()
                && correction.is_some_and(|(from, _)| past.lit < Some(from)),
            before_change: same_kiln && earlier_probe.is_some(),
            turned: turns::sizes(&evidence.turns, &evidence.readings),
            turns: evidence.turns,
            readings: evidence.readings,
        })
    }
}

/// ln of the target's reckoned heat work at the drop.
fn bias(evidence: &Evidence, drop: &DropBetween) -> Option<Measured> {
    if drop.is_some_time_before() {
        return None;
    }
    let target = Cones { curves: [None, Some(evidence.cones.target), None], ..evidence.cones };
    let path = Path::through(&evidence.readings, target)?;
    let reach = path.last_h() + 0.75;
    if drop.middle_h() > reach {
        return None;
    }
    let at = |h: f64| path.heat_work(h)[TARGET].max(1e-9).ln();
    let (after, before) = (at(drop.after_h), at(drop.before_h));
    let beyond = (drop.middle_h() - path.last_h()).max(0.0);
    let guessed = 5.0 * beyond;
    // What is missing from "down" being said to the end point is heat work, whatever the climb.
    let said = heat_work_at_lean(Seen::Down.lean_range_deg().0).ln();
    Some((at(drop.middle_h()) - said, (before - after).powi(2) / 12.0 + (0.15 * guessed).powi(2)))
}
