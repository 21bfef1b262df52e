//! What a schedule orders after the cone: falls and holds that begin when the target is down.
//!
//! They are planned from the end of heating; here they run from the look that saw the target down, since
//! the cone ends the heating and not the clock. Until the last of them is over the kiln stays on.

use super::known::Firing;
use crate::schedule::Leg;
use crate::units::{Celsius, Moment, Span};

/// A setting recorded so shortly before its time was made for what was ordered then (a guess).
pub const STEP_EARLY: Span = Span::minutes(15);

/// One order of a schedule after the cone, from when to when.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct After {
    pub leg: Leg,
    pub since: Moment,
    pub until: Moment,
}

/// The legs of a plan up to the cone, where it is last at its highest temperature, and those after it.
pub fn at_the_cone(corners: &[(Span, Celsius)]) -> (Vec<Leg>, Vec<Leg>) {
    let top = corners.iter().map(|(_, t)| t.0).fold(f64::NEG_INFINITY, f64::max);
    let heated = corners.iter().rposition(|(_, t)| t.0 >= top).unwrap_or(0);
    Leg::between(corners).partition(|leg| leg.segment < heated)
}

impl Firing {
    /// What is ordered after the drop, from the first look that saw the target down by `now`.
    pub fn ordered_after(&self, now: Moment) -> Vec<After> {
        let Some(down) = self.down_by(now) else { return Vec::new() };
        let (_, legs) = at_the_cone(&self.plan);
        let Some(ends) = legs.first().map(|leg| leg.starts) else { return Vec::new() };
        let at = |elapsed: Span| down.first.at + Span(elapsed.0 - ends.0);
        let after = |leg: Leg| After { leg, since: at(leg.starts), until: at(leg.ends()) };
        legs.into_iter().map(after).collect()
    }

    /// Whether a setting was recorded for what is ordered after the drop. Until then the kiln goes on as it
    /// heated, and is to be turned down.
    fn is_turned_down(&self, down: Moment, now: Moment) -> bool {
        self.turned.iter().any(|(at, _)| (down - STEP_EARLY..=now).contains(at))
    }

    /// The order after the cone that is followed at `now`, while the kiln is on; nothing where the schedule
    /// ends with the cone, no setting was recorded since, or the last order is over.
    pub fn after_cone(&self, now: Moment) -> Option<After> {
        let down = self.down_by(now)?.first.at;
        self.order_after(now).filter(|_| self.is_turned_down(down, now))
    }

    /// The order of that moment, followed or not.
    pub fn order_after(&self, now: Moment) -> Option<After> {
        self.last_after(now).filter(|after| now < after.until)
    }

    /// The same, or the last order where all are over.
    pub fn last_after(&self, now: Moment) -> Option<After> {
        let orders = self.ordered_after(now);
        orders.iter().find(|after| now < after.until).or(orders.last()).copied()
    }

    /// Since when the kiln is to be turned down: from the drop, while the schedule orders something after it
    /// and no setting is recorded for that.
    pub fn turn_down_from(&self, now: Moment) -> Option<Moment> {
        let down = self.down_by(now)?.first.at;
        self.order_after(now).filter(|_| !self.is_turned_down(down, now)).map(|_| down)
    }

    /// From when the kiln should be off: from the drop, or the end of what is ordered after it.
    pub fn off_from(&self, now: Moment) -> Option<Moment> {
        let down = self.down_by(now)?.first.at;
        let last = self.ordered_after(now).last().map(|after| after.until);
        last.filter(|until| now < *until || self.is_turned_down(down, now)).or(Some(down))
    }

    /// When its heating ended: it was off or given up, or before that turned down for what the schedule
    /// orders after the cone. One that stayed on to the end of that was turned down, recorded or not.
    pub fn heated_to(&self) -> Option<Moment> {
        let off = self.off.or(self.aborted.as_ref().map(|(at, _)| *at));
        let orders = self.ordered_after(Moment(i64::MAX));
        let (Some(first), Some(last)) = (orders.first(), orders.last()) else { return off };
        let from = first.since - STEP_EARLY;
        let turned = self.turned.iter().map(|(at, _)| *at);
        let turned = turned.filter(|at| *at >= from && off.is_none_or(|off| *at <= off)).min();
        let followed = off.is_some_and(|off| off >= last.until - STEP_EARLY);
        let turned = turned.map(|at| at.max(first.since));
        turned.or(followed.then_some(first.since)).or(off)
    }
}
