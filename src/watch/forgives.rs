//! How long after its drop a load still comes out right.

use crate::cone::{Cone, Equivalent, Family, curve};
use crate::units::{Celsius, CelsiusPerHour, Span};

/// The longest that is reckoned; a load that forgives more is in no hurry.
const LONGEST: Span = Span::hours(6);
/// Climbs slower than this are reckoned as this, C/h: near a soak the chart itself says how soon
/// the next cone goes.
const SLOWEST_C_PER_H: f64 = 15.0;

/// How many cones over the target a steady climb is, so long after the target's drop.
pub fn cones_over(target: Cone, family: Family, climb: CelsiusPerHour, after: Span) -> Option<f64> {
    let climb = climb.0.max(SLOWEST_C_PER_H);
    let end = curve(target, family).ok()?.temperature_ending(CelsiusPerHour(climb));
    let now = Celsius(end.0 + climb * after.as_hours());
    let heat_work: Vec<(Cone, f64)> = family
        .cones()
        .filter_map(|cone| {
            let done = curve(cone, family).ok()?.rate_ending_at(now).0 / climb;
            // Rounding must not put the target itself back up at its own end point.
            Some((cone, if cone == target { done.max(1.0) } else { done }))
        })
        .collect();
    Some(Equivalent::from_heat_work(&heat_work)?.cones_over(target))
}

/// How long after the target's drop, at a steady climb, until the load is `over_cones` too far.
pub fn forgives(
    target: Cone,
    family: Family,
    climb: CelsiusPerHour,
    over_cones: f64,
) -> Option<Span> {
    let over = |span| cones_over(target, family, climb, span).map(|over| over >= over_cones);
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
