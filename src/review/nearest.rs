//! Which past firings went like this one, and how to repeat one of them.

use super::ledger::median;
use crate::firing::{Firing, FiringId};
use crate::schedule::{Pace, Schedule, Segment, Ware};
use crate::units::{Celsius, CelsiusPerHour, Moment, Span};

/// Curves are compared at this many moments, evenly spread over the time both have.
const MOMENTS: usize = 60;
/// Curves that have less than this in common are not compared.
const SHORTEST: Span = Span::minutes(30);
/// This part of the allowed distance may go into making almost level pieces level.
const FLAT_PART: f64 = 1.0 / 3.0;

/// A past firing and how far its curve is from the one in question.
#[derive(Debug, Clone, PartialEq)]
pub struct Near {
    pub id: FiringId,
    /// Root of the mean squared difference of temperature over the time both have, C.
    pub apart_c: f64,
    /// The time compared, from lit.
    pub over: Span,
    /// Whether it has the same kiln and the same load.
    pub same_kiln: bool,
    pub same_load: bool,
}

/// A schedule made from a firing's own curve, and how well it follows it.
#[derive(Debug, Clone, PartialEq)]
pub struct Repeat {
    pub schedule: Schedule,
    /// No reading is further from the schedule than this, C.
    pub furthest_c: f64,
    pub readings: usize,
}

#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum RepeatError {
    #[error(
        "firing {firing} has {count} readings while heating: a schedule needs at least {FEWEST_READINGS}; choose a firing that was read more often"
    )]
    TooFewReadings { firing: FiringId, count: usize },
    #[error(
        "{seen} C is not a distance a schedule can keep: use {low} to {high} C",
        low = TOLERANCE_RANGE_C.0,
        high = TOLERANCE_RANGE_C.1
    )]
    Tolerance { seen: f64 },
    #[error("firing {firing} never named its cone: pack or light it with one")]
    NoCone { firing: FiringId },
}

pub const FEWEST_READINGS: usize = 6;
/// How far a schedule may be from the curve it repeats, C.
pub const TOLERANCE_RANGE_C: (f64, f64) = (2.0, 60.0);

/// The readings of a firing while it heated, by the time since it was lit.
pub fn course(firing: &Firing) -> Vec<(Span, Celsius)> {
    let Some(lit) = firing.lit else { return Vec::new() };
    let end = firing.off.or(firing.aborted.as_ref().map(|(at, _)| *at));
    let heating = |at: Moment| at >= lit && end.is_none_or(|end| at <= end);
    let mut curve: Vec<(Span, Celsius)> = firing
        .readings_as_one()
        .iter()
        .filter(|(at, _)| heating(*at))
        .map(|(at, t)| (*at - lit, *t))
        .collect();
    curve.dedup_by_key(|(at, _)| *at);
    curve
}

/// The temperature at this time; `None` outside the curve.
pub fn temperature(curve: &[(Span, Celsius)], at: Span) -> Option<f64> {
    let next = curve.partition_point(|(t, _)| *t < at);
    let (t1, after) = *curve.get(next)?;
    if t1 == at {
        return Some(after.0);
    }
    let (t0, before) = *curve.get(next.checked_sub(1)?)?;
    let part = (at.0 - t0.0) as f64 / (t1.0 - t0.0) as f64;
    Some(before.0 + (after.0 - before.0) * part)
}

/// The past firings whose curves are nearest to this one's so far, nearest first. A firing is never
/// near itself, and one that shares less than half of the time is left out.
pub fn nearest<'a>(
    now: &Firing,
    past: impl IntoIterator<Item = &'a Firing>,
    count: usize,
) -> Vec<Near> {
    let mine = course(now);
    let mut near: Vec<Near> = past
        .into_iter()
        .filter(|firing| firing.id != now.id)
        .filter_map(|firing| compare(now, &mine, firing))
        .collect();
    near.sort_by(|a, b| a.apart_c.total_cmp(&b.apart_c).then(a.id.cmp(&b.id)));
    near.truncate(count);
    near
}

fn compare(now: &Firing, mine: &[(Span, Celsius)], other: &Firing) -> Option<Near> {
    let theirs = course(other);
    let from = mine.first()?.0.max(theirs.first()?.0);
    let until = mine.last()?.0.min(theirs.last()?.0);
    let over = Span(until.0 - from.0);
    let whole = mine.last()?.0.0 - mine.first()?.0.0;
    if over < SHORTEST || over.0 * 2 < whole {
        return None;
    }
    let mut squares = 0.0;
    for moment in 0..MOMENTS {
        let at = Span(from.0 + over.0 * moment as i64 / (MOMENTS as i64 - 1));
        let apart = temperature(mine, at)? - temperature(&theirs, at)?;
        squares += apart * apart;
    }
    Some(Near {
        id: other.id,
        apart_c: (squares / MOMENTS as f64).sqrt(),
        over,
        same_kiln: other.kiln.eq_ignore_ascii_case(&now.kiln),
        same_load: other.load_type.eq_ignore_ascii_case(&now.load_type),
    })
}

/// The corner points of the curve with the fewest straight pieces found such that no point is
/// further than `tolerance_c` from them; corners are points of the curve. Each piece is drawn as
/// far as it can reach: the slopes that pass all points in between form a wedge that only narrows.
pub fn simplified(curve: &[(Span, Celsius)], tolerance_c: f64) -> Vec<(Span, Celsius)> {
    let Some(&first) = curve.first() else { return Vec::new() };
    let (mut corners, mut anchor) = (vec![first], 0);
    while anchor + 1 < curve.len() {
        let reach = furthest(&curve[anchor..], tolerance_c);
        anchor += reach;
        corners.push(curve[anchor]);
    }
    corners
}

/// How many points further the last one is that a straight piece from the first can end at.
fn furthest(curve: &[(Span, Celsius)], tolerance_c: f64) -> usize {
    let (start, from) = curve[0];
    let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
    let mut reach = 1;
    for (index, (at, t)) in curve.iter().enumerate().skip(1) {
        let hours = Span(at.0 - start.0).as_hours();
        let slope = (t.0 - from.0) / hours;
        if (low..=high).contains(&slope) {
            reach = index;
        }
        low = low.max(slope - tolerance_c / hours);
        high = high.min(slope + tolerance_c / hours);
        if low > high {
            break;
        }
    }
    reach
}

/// A schedule that follows the heating of this firing, no reading further from it than
/// `tolerance_c`.
///
/// # Errors
/// [`RepeatError`] when there are too few readings, the tolerance makes no sense, or nothing says
/// which cone the firing went for.
pub fn repeat(
    firing: &Firing,
    name: &str,
    ware: Ware,
    tolerance_c: f64,
) -> Result<Repeat, RepeatError> {
    let (low, high) = TOLERANCE_RANGE_C;
    if !(low..=high).contains(&tolerance_c) {
        return Err(RepeatError::Tolerance { seen: tolerance_c });
    }
    let id = firing.id;
    let pack = firing.pack.ok_or(RepeatError::NoCone { firing: id })?;
    let mut curve = course(firing);
    if curve.len() < FEWEST_READINGS {
        return Err(RepeatError::TooFewReadings { firing: id, count: curve.len() });
    }
    // Before the first reading nothing is known: it starts there, as if lit at that temperature.
    let begins = curve[0].0;
    curve.iter_mut().for_each(|(at, _)| *at = Span(at.0 - begins.0));
    let flat_c = FLAT_PART * tolerance_c;
    let corners = flattened(&simplified(&curve, tolerance_c - flat_c), flat_c);
    let schedule = Schedule {
        name: name.to_owned(),
        ware,
        target: pack.target,
        family: pack.family,
        start: curve[0].1,
        segments: segments(&corners),
        ventilate: Vec::new(),
        reasoning: format!(
            "Made from the readings of firing {id}, none of them further than {tolerance_c} C from it."
        ),
    };
    let furthest_c = curve
        .iter()
        .filter_map(|(at, t)| Some((schedule.temperature_at(*at)?.0 - t.0).abs()))
        .fold(0.0, f64::max);
    Ok(Repeat { schedule, furthest_c, readings: curve.len() })
}

/// Straight pieces as orders: climb, stay, fall.
fn segments(corners: &[(Span, Celsius)]) -> Vec<Segment> {
    let leg = |pair: &[(Span, Celsius)]| {
        let length = Span(pair[1].0.0 - pair[0].0.0);
        let (from, to) = (pair[0].1, pair[1].1);
        if to == from {
            Segment::Soak(length)
        } else if to.0 > from.0 {
            Segment::Ramp { to, pace: Pace::Within(length) }
        } else {
            let rate = CelsiusPerHour((from.0 - to.0) / length.as_hours());
            Segment::Cool { to, rate }
        }
    };
    corners.windows(2).map(leg).collect()
}

/// Corners whose temperature is almost that of the corner before get exactly that temperature, so
/// that a soak is a soak. None is moved by more than `flat_c`.
fn flattened(corners: &[(Span, Celsius)], flat_c: f64) -> Vec<(Span, Celsius)> {
    let mut flat: Vec<(Span, Celsius)> = Vec::with_capacity(corners.len());
    for &(at, t) in corners {
        let near = flat.last().filter(|(_, before)| (t.0 - before.0).abs() < flat_c);
        let t = near.map_or(t, |(_, before)| *before);
        flat.push((at, t));
    }
    flat
}

/// The median over many firings of one kiln and load at each moment: what is usual, to lay one
/// firing over. Moments are `step` apart; it ends where fewer than half of the firings go on.
pub fn usual_curve(firings: &[&Firing], step: Span) -> Vec<(Span, Celsius)> {
    let curves: Vec<Vec<(Span, Celsius)>> = firings.iter().map(|f| course(f)).collect();
    let mut usual = Vec::new();
    if step <= Span::ZERO {
        return usual;
    }
    for index in 0.. {
        let at = Span(step.0 * index);
        if curves.iter().filter(|c| c.last().is_some_and(|(end, _)| *end >= at)).count() * 2
            < curves.len().max(1)
        {
            break;
        }
        let here: Vec<f64> = curves.iter().filter_map(|c| temperature(c, at)).collect();
        if let Some(middle) = median(here) {
            usual.push((at, Celsius(middle)));
        }
    }
    usual
}
