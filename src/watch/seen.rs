//! What the last look alone allows: a cone that was seen to move has to be looked at again before the
//! load can be over, whatever clock and readings say of it.

use super::{CLIMB_UNKNOWN_C_PER_H, Question};
use crate::cone::bending::heat_work_at_lean;
use crate::cone::curve;
use crate::firing::event::Look;
use crate::firing::{Looked, Seen};
use crate::units::{CelsiusPerHour, Moment, Span};

/// A climb slower than this is no ground for waiting longer, C/h (a guess).
const SLOWEST_CLIMB: f64 = 60.0;

/// When the target, or the guide down before it, was seen to move, and by when to look again: the
/// least time to the drop from the furthest lean that was meant, and what the load forgives.
/// `None` while nothing was seen to move, or when the target was seen down.
pub(super) fn look_again(
    question: &Question,
    climb: Option<CelsiusPerHour>,
    forgives: Span,
) -> Option<(Moment, Moment)> {
    let firing = question.firing;
    let pack = firing.pack?;
    let tells = |look: &Look| look.target.is_some() || look.guide == Some(Seen::Down);
    let mut looks = firing.looks.iter().rev();
    let Looked { at, look, .. } =
        *looks.find(|looked| looked.at <= question.now && tells(&looked.look))?;
    let moving = match look.target {
        Some(Seen::Down) => return None,
        Some(seen @ (Seen::Leaning | Seen::Half)) => seen,
        _ if look.guide == Some(Seen::Down) => Seen::Standing,
        _ => return None,
    };
    let climb = climb.map_or(CLIMB_UNKNOWN_C_PER_H, |climb| climb.0.max(SLOWEST_CLIMB));
    let curve = curve(pack.target, pack.family).ok()?;
    // Heated steadily at a rate b, so much of the heat work is done where B(T) is that share of b.
    let reached = |done: f64| curve.temperature_ending(CelsiusPerHour(climb * done)).0;
    let to_go = reached(1.0) - reached(heat_work_at_lean(moving.lean_range_deg().1));
    let ahead = Span::from_hours(to_go / climb);
    Some((at, at + ahead + forgives))
}
