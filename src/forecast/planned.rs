//! The plan of a firing: its schedule's corner points, and where the target would drop on it.

use super::evidence::{Cones, TARGET, Turn};
use crate::cone::Curve;
use crate::firing::setting::Way;
use crate::units::{Celsius, CelsiusPerHour, Span};

/// A planned heating, hours since lit against C, up to its last hottest point.
#[derive(Debug, Clone, PartialEq)]
pub struct Planned {
    corners: Vec<(f64, f64)>,
    /// When the target drops on the plan, and the climb there, C/h.
    pub drop_h: f64,
    pub climb_c_per_h: f64,
}

/// A stretch of heating: so many hours from one temperature to the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    pub from_c: f64,
    pub to_c: f64,
    pub hours: f64,
}

impl Stretch {
    pub fn climb_c_per_h(&self) -> f64 {
        (self.to_c - self.from_c) / self.hours
    }
}

/// Rates below this are a soak, C/h.
pub const SOAK_BELOW_C_PER_H: f64 = 5.0;
/// A plan whose end does not take the target down goes on as it ended for at most so long, hours.
const LONGEST_BEYOND_H: f64 = 24.0;
/// Where a plan begins that does not say, C.
const AMBIENT_C: f64 = 20.0;
/// How close to a soak's temperature counts as being in it, C.
const IN_SOAK_C: f64 = 8.0;

impl Planned {
    /// `None` for fewer than two corners, or when nothing on the plan would take the target down.
    pub fn of(corners: &[(Span, Celsius)], cones: &Cones) -> Option<Planned> {
        let mut corners: Vec<(f64, f64)> =
            corners.iter().map(|(at, c)| (at.as_hours(), c.0)).collect();
        // A plan that says nothing of its beginning begins cold.
        if let Some(&(first_h, first_c)) = corners.first()
            && first_h > 1e-6
        {
            corners.insert(0, (0.0, AMBIENT_C.min(first_c)));
        }
        let top = corners.iter().map(|(_, c)| *c).fold(f64::NEG_INFINITY, f64::max);
        let last_hot = corners.iter().rposition(|(_, c)| *c >= top - 0.5)?;
        corners.truncate(last_hot + 1);
        corners.dedup_by(|later, earlier| later.0 - earlier.0 < 1e-6);
        let [.., before, end] = corners[..] else { return None };
        // Whoever minds a kiln goes on as the plan ended until the cone is down.
        let slope = (end.1 - before.1) / (end.0 - before.0);
        corners.push((
            end.0 + LONGEST_BEYOND_H,
            (end.1 + slope.max(0.0) * LONGEST_BEYOND_H).min(1500.0),
        ));
        let mut planned = Planned { corners, drop_h: 0.0, climb_c_per_h: 0.0 };
        let mut sum = 0.0;
        let mut at_h = planned.corners[0].0;
        for stretch in planned.stretches_from(at_h, cones.target) {
            let done = cones.heat_work(stretch.from_c, stretch.to_c, stretch.hours)[TARGET];
            if sum + done >= 1.0 {
                planned.drop_h = at_h + stretch.hours * (1.0 - sum) / done;
                planned.climb_c_per_h = stretch.climb_c_per_h();
                return Some(planned);
            }
            sum += done;
            at_h += stretch.hours;
        }
        None
    }

    pub fn temperature(&self, at_h: f64) -> f64 {
        let next = self.corners.partition_point(|(h, _)| *h <= at_h);
        match (next.checked_sub(1).map(|at| self.corners[at]), self.corners.get(next)) {
            (Some((from_h, from)), Some((to_h, to))) => {
                from + (to - from) * (at_h - from_h) / (to_h - from_h)
            }
            (Some((_, last)), None) => last,
            (None, _) => self.corners[0].1,
        }
    }

    /// Where on the plan a kiln is that has just reached `c` and has stayed near it for `near_h`.
    pub fn place_of(&self, c: f64, near_h: f64) -> Option<f64> {
        let mut soaked_h = None;
        for pair in self.corners.windows(2) {
            let ((from_h, from), (to_h, to)) = (pair[0], pair[1]);
            let soaks = (to - from).abs() <= SOAK_BELOW_C_PER_H * (to_h - from_h);
            if soaks && (c - from).abs() < IN_SOAK_C {
                let part = near_h / (to_h - from_h);
                // Once it is over, what it has climbed since says more.
                let over = c > to && part >= 1.0 || c > to + 0.5 * IN_SOAK_C && part >= 0.5;
                if !over {
                    return Some(from_h + near_h.min(to_h - from_h));
                }
                soaked_h = Some(to_h);
                continue;
            }
            if !soaks && to > c && from <= c {
                let at_h = from_h + (to_h - from_h) * (c - from) / (to - from);
                // Close under a soak it may be in it already.
                let near_top =
                    soaked_h.is_none() && to - c < IN_SOAK_C && near_h > 2.0 * (to_h - at_h);
                return Some(if near_top { to_h + near_h - (to_h - at_h) } else { at_h });
            }
        }
        soaked_h
    }

    /// Whether the plan holds a temperature hotter than `c`, before its end.
    pub fn soaks_above(&self, c: f64) -> bool {
        held(&self.corners).any(|held| held > c)
    }

    /// Whether readings between these, C, passed a temperature that the plan holds.
    pub fn soaks_between(&self, (least, most): (f64, f64)) -> bool {
        held(&self.corners).any(|held| (least..=most + IN_SOAK_C).contains(&held))
    }

    /// Where the plan changes its climb by more than a tenth: there somebody turns a burner.
    pub fn turns(&self) -> Vec<Turn> {
        let slope = |pair: &[(f64, f64)]| (pair[1].1 - pair[0].1) / (pair[1].0 - pair[0].0);
        let slopes: Vec<f64> = self.corners.windows(2).map(slope).collect();
        let turn = |(at, pair): (usize, &[f64])| {
            let way = if pair[1] > pair[0] { Way::Up } else { Way::Down };
            let other = (pair[1] - pair[0]).abs() > 0.1 * pair[0].abs();
            other.then_some(Turn { at_h: self.corners[at + 1].0, way: Some(way) })
        };
        slopes.windows(2).enumerate().filter_map(turn).collect()
    }

    /// The planned climb at `at_h`, C/h.
    pub fn slope(&self, at_h: f64) -> f64 {
        (self.temperature(at_h + 0.02) - self.temperature(at_h - 0.02)) / 0.04
    }

    pub fn in_soak(&self, at_h: f64) -> bool {
        self.slope(at_h).abs() < SOAK_BELOW_C_PER_H
    }

    /// The plan from `at_h` on, cut so fine that the target's rate hardly changes within one.
    pub fn stretches_from(&self, at_h: f64, target: &Curve) -> Vec<Stretch> {
        let mut stretches = Vec::new();
        for pair in self.corners.windows(2) {
            let ((from_h, _), (to_h, to)) = (pair[0], pair[1]);
            if to_h <= at_h {
                continue;
            }
            let from_h = from_h.max(at_h);
            cut(self.temperature(from_h), to, to_h - from_h, target, &mut stretches);
        }
        stretches
    }

    /// Temperatures that these corners hold for a while.
    pub fn soaks(corners: &[(Span, Celsius)]) -> Vec<Celsius> {
        let corners: Vec<_> = corners.iter().map(|(at, c)| (at.as_hours(), c.0)).collect();
        held(&corners).map(Celsius).collect()
    }
}

/// Temperatures that these corners hold for a while, C.
fn held(corners: &[(f64, f64)]) -> impl Iterator<Item = f64> {
    let soaks = corners.windows(2).filter(|pair| {
        (pair[1].1 - pair[0].1).abs() <= SOAK_BELOW_C_PER_H * (pair[1].0 - pair[0].0)
    });
    soaks.map(|pair| pair[0].1)
}

/// Longest stretch in time, hours; and in temperature where the target works, C.
const LONGEST_H: f64 = 0.25;
const FINE_C: f64 = 10.0;
const COARSE_C: f64 = 30.0;
/// So far below its end point the target hardly works, C.
const WORKS_WITHIN_C: f64 = 120.0;
/// And so far above it has long gone down.
const DOWN_WITHIN_C: f64 = 90.0;

/// Cuts one straight piece of heating into stretches, and stops where the target must be down.
pub fn cut(from_c: f64, to_c: f64, hours: f64, target: &Curve, into: &mut Vec<Stretch>) {
    let end = target.temperature_ending(CelsiusPerHour(120.0)).0;
    let rate = (to_c - from_c) / hours;
    let (mut c, mut left_h) = (from_c, hours);
    while left_h > 1e-9 && c < end + DOWN_WITHIN_C {
        let step_c = if c > end - WORKS_WITHIN_C { FINE_C } else { COARSE_C };
        let step_h =
            if rate.abs() < 1e-6 { LONGEST_H } else { (step_c / rate.abs()).min(LONGEST_H) };
        let step_h = step_h.min(left_h);
        into.push(Stretch { from_c: c, to_c: c + rate * step_h, hours: step_h });
        c += rate * step_h;
        left_h -= step_h;
    }
}
