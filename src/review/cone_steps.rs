//! How many degrees lie between two cones, and between a cone as it was seen and its end point.

use crate::cone::bending::heat_work_at_lean;
use crate::cone::{Cone, Curve, Family, curve};
use crate::firing::Seen;
use crate::units::CelsiusPerHour;

/// The climb taken where none is known, C/h: the middle of the chart in most kilns.
pub const USUAL_CLIMB: CelsiusPerHour = CelsiusPerHour(100.0);

/// The step from this cone to the next hotter whole one at this climb, C; from the next cooler one
/// at the hot end of the chart.
pub fn degrees_per_cone(cone: Cone, family: Family, climb: CelsiusPerHour) -> f64 {
    let climb = CelsiusPerHour(climb.0.clamp(15.0, 300.0));
    let end = |cone: Cone| curve(cone, family).ok().map(|c| c.temperature_ending(climb).0);
    let neighbour = |other: Option<Cone>| {
        let other = other?;
        let step = (end(other)? - end(cone)?) / (other.position() - cone.position());
        (step > 1.0).then_some(step)
    };
    // The usual distance of two cones where the chart has no neighbour in this family.
    const USUAL_STEP_C: f64 = 20.0;
    neighbour(cone.hotter()).or_else(|| neighbour(cone.cooler())).unwrap_or(USUAL_STEP_C)
}

/// How many degrees a cone that looks like this is from its end point at this climb: bounds, both
/// at most 0; an open side is `None`.
pub fn lean_bounds_c(
    curve: &Curve,
    seen: Seen,
    climb: CelsiusPerHour,
) -> (Option<f64>, Option<f64>) {
    let end = curve.temperature_ending(climb).0;
    let below = |lean: f64| {
        let work = heat_work_at_lean(lean);
        (work > 0.0).then(|| curve.temperature_ending(CelsiusPerHour(work * climb.0)).0 - end)
    };
    let (low, high) = seen.lean_range_deg();
    match seen {
        Seen::Standing => (None, below(high)),
        Seen::Leaning | Seen::Half => (below(low), below(high)),
        Seen::Down => (Some(0.0), None),
    }
}
