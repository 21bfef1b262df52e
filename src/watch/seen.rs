//! What the last look alone allows: a cone that was seen to move has to be looked at again before the
//! load can be over, whatever clock and readings say of it.

use super::{CLIMB_UNKNOWN_C_PER_H, Question, SLOWEST_OF_USUAL};
use crate::cone::bending::heat_work_at_lean;
use crate::cone::{Curve, curve};
use crate::firing::event::Look;
use crate::firing::{Looked, Seen};
use crate::units::{Celsius, CelsiusPerHour, Moment, Span};

/// A climb slower than this is no ground for waiting longer, C/h (a guess).
const SLOWEST_CLIMB: f64 = 60.0;
/// A climb that was read counts up to this, C/h: what reads faster was mistyped.
const FASTEST_CLIMB: f64 = 600.0;

/// From here on nobody calls a cone standing, degrees (a guess).
const PLAINLY_LEANING_DEG: f64 = 28.0;

/// When the target, or the guide before it, was seen to move, and by when to look again: the least
/// time from the furthest lean that was meant to the drop, at the fastest climb there may be, and what
/// the load forgives. `None` while nothing was seen to move, or when the target was seen down.
pub(super) fn look_again(
    question: &Question,
    climb: Option<CelsiusPerHour>,
    usual: CelsiusPerHour,
    forgives: Span,
) -> Option<(Moment, Moment)> {
    let firing = question.firing;
    let pack = firing.pack?;
    let moves = |seen: Option<Seen>| seen.is_some_and(|seen| seen != Seen::Standing);
    let tells = |look: &Look| look.target.is_some() || moves(look.guide);
    let mut looks = firing.looks.iter().rev();
    let Looked { at, look, .. } =
        *looks.find(|looked| looked.at <= question.now && tells(&looked.look))?;
    let (cone, seen) = match (look.target, look.guide) {
        (Some(Seen::Down), _) => return None,
        (Some(seen @ (Seen::Leaning | Seen::Half)), _) => (pack.target, seen),
        (_, Some(Seen::Down)) => (pack.target, Seen::Standing),
        (_, Some(seen @ (Seen::Leaning | Seen::Half))) => (pack.guide?, seen),
        _ => return None,
    };
    let climb = climb.map_or(CLIMB_UNKNOWN_C_PER_H, |climb| climb.0).max(climb_read(question));
    let climb = climb.max(SLOWEST_OF_USUAL * usual.0).max(SLOWEST_CLIMB);
    // Heated steadily at a rate b, so much of a cone's heat work is done where B(T) is that share
    // of b.
    let reached = |cone, done: f64| {
        let curve = curve(cone, pack.family).ok()?;
        Some(curve.temperature_ending(CelsiusPerHour(climb * done)).0)
    };
    let to_go =
        reached(pack.target, 1.0)? - reached(cone, heat_work_at_lean(seen.lean_range_deg().1))?;
    let ahead = Span::from_hours(to_go.max(0.0) / climb);
    // While it was given up and cooled nothing went on.
    let at = firing.resumed_by(question.now).map_or(at, |resumed| at.max(resumed));
    Some((at, at + ahead + forgives))
}

/// The climb over the last half hour of readings as they were written down, believed or not, C/h, by
/// the source that climbs fastest; 0 without.
fn climb_read(question: &Question) -> f64 {
    let climb = |source: usize| {
        let until_now = |(at, _): &(Moment, Celsius)| *at <= question.now;
        let read: Vec<_> = question.firing.readings_of(source).filter(until_now).collect();
        let &(last_at, last) = read.last()?;
        let (at, c) = read.iter().rev().find(|(at, _)| last_at - *at >= Span::minutes(15))?;
        Some((last.0 - c.0) / (last_at - *at).as_hours())
    };
    let climbs = (0..question.firing.sources().len().max(1)).filter_map(climb);
    climbs.fold(0.0, f64::max).min(FASTEST_CLIMB)
}

/// The cone that gives warning of the drop by its first lean: the guide, or the target itself where
/// the last look did not see a guide standing.
#[derive(Debug, Clone, Copy)]
pub struct Warning {
    first: &'static Curve,
    target: &'static Curve,
}

impl Warning {
    /// `None` without cones that are on the chart, and once the target was seen to move.
    pub fn of(question: &Question) -> Option<Warning> {
        let pack = question.firing.pack?;
        let mut looks = question.firing.looks.iter().rev();
        let last = looks.find(|looked| looked.at <= question.now);
        if last.is_some_and(|last| last.look.target.is_some_and(|seen| seen != Seen::Standing)) {
            return None;
        }
        let stands = last.is_none_or(|last| last.look.guide == Some(Seen::Standing));
        let target = curve(pack.target, pack.family).ok()?;
        let guide = pack.guide.filter(|_| stands);
        let first = guide.and_then(|guide| curve(guide, pack.family).ok()).unwrap_or(target);
        Some(Warning { first, target })
    }

    /// Time from its first plain lean to the drop, at this climb. Heated steadily, so much of a cone's
    /// heat work is done where B(T) is that share of the climb.
    pub fn before(&self, climb: CelsiusPerHour) -> Span {
        let moves = CelsiusPerHour(climb.0 * heat_work_at_lean(PLAINLY_LEANING_DEG));
        let rise = self.target.temperature_ending(climb).0 - self.first.temperature_ending(moves).0;
        Span::from_hours(rise.max(0.0) / climb.0)
    }
}
