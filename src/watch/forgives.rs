//! How long after its drop a load still comes out right.

use crate::cone::{Cone, Curve, Equivalent, Family, curve};
use crate::units::{Celsius, CelsiusPerHour, Span};

/// The longest that is reckoned; a load that forgives more is in no hurry.
const LONGEST: Span = Span::hours(6);
/// Climbs slower than this are reckoned as this, C/h: near a soak the chart itself says how soon
/// the next cone goes.
const SLOWEST_C_PER_H: f64 = 15.0;

/// The cones from the target up, and a steady climb through them.
struct Ladder {
    target: Cone,
    curves: Vec<&'static Curve>,
    end: Celsius,
    climb: f64,
}

impl Ladder {
    /// As far as the first cone that is so many above the target. `None` off the chart.
    fn of(target: Cone, family: Family, climb: CelsiusPerHour, cones: f64) -> Option<Ladder> {
        let climb = climb.0.max(SLOWEST_C_PER_H);
        let end = curve(target, family).ok()?.temperature_ending(CelsiusPerHour(climb));
        let mut curves = Vec::new();
        for cone in family.cones().filter(|cone| *cone >= target) {
            curves.extend(curve(cone, family).ok());
            if cone.position() - target.position() >= cones {
                break;
            }
        }
        Some(Ladder { target, curves, end, climb })
    }

    /// How many cones over the target it is, so long after the target's drop.
    fn over(&self, after: Span) -> Option<f64> {
        let now = Celsius(self.end.0 + self.climb * after.as_hours());
        let done = |curve: &&'static Curve| {
            let done = curve.rate_ending_at(now).0 / self.climb;
            // Rounding must not put the target itself back up at its own end point.
            (curve.cone, if curve.cone == self.target { done.max(1.0) } else { done })
        };
        let heat_work: Vec<(Cone, f64)> = self.curves.iter().map(done).collect();
        Some(Equivalent::from_heat_work(&heat_work)?.cones_over(self.target))
    }
}

/// How many cones over the target a steady climb is, so long after the target's drop.
pub fn cones_over(target: Cone, family: Family, climb: CelsiusPerHour, after: Span) -> Option<f64> {
    Ladder::of(target, family, climb, f64::INFINITY)?.over(after)
}

/// How long after the target's drop, at a steady climb, until the load is `over_cones` too far.
pub fn forgives(
    target: Cone,
    family: Family,
    climb: CelsiusPerHour,
    over_cones: f64,
) -> Option<Span> {
    let ladder = Ladder::of(target, family, climb, over_cones)?;
    let over = |span| ladder.over(span).map(|over| over >= over_cones);
    if !over(LONGEST)? {
        return Some(LONGEST);
    }
    let (mut low, mut high) = (Span::ZERO, LONGEST);
    while (high.0 - low.0) > 1000 {
        let middle = Span((low.0 + high.0) / 2);
        if over(middle)? { high = middle } else { low = middle }
    }
    Some(low)
}
