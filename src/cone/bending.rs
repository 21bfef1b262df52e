//! How far a cone leans, from its heat work.
//!
//! A softening cone leaning at angle a under its own weight bends at a rate proportional to
//! k(T) sin a. Integrated from the standard lean at heat work 0 to the end point at heat work 1,
//! tan(a/2) = tan(4 deg)^(1 - J). Nothing is fitted.

/// The lean a cone is set with: face at 82 degrees to the plaque (ASTM C24 practice, from memory).
pub const LEAN_START_DEG: f64 = 8.0;

/// The lean at the end point: tip level with the base.
pub const LEAN_DOWN_DEG: f64 = 90.0;

/// The lean, degrees from upright, at heat work `heat_work` (0 fresh, 1 down). Between
/// [`LEAN_START_DEG`] and [`LEAN_DOWN_DEG`]: past its end point the tip rests on the plaque.
pub fn lean_deg(heat_work: f64) -> f64 {
    let start_half_tangent = (LEAN_START_DEG / 2.0).to_radians().tan();
    let remaining = (1.0 - heat_work).clamp(0.0, 1.0);
    2.0 * start_half_tangent.powf(remaining).atan().to_degrees()
}

/// The heat work at which a cone leans this far: the inverse of [`lean_deg`], for leans from
/// [`LEAN_START_DEG`] to [`LEAN_DOWN_DEG`]; others are taken as the nearer end.
pub fn heat_work_at_lean(lean_deg: f64) -> f64 {
    let lean = lean_deg.clamp(LEAN_START_DEG, LEAN_DOWN_DEG);
    let start_half_tangent = (LEAN_START_DEG / 2.0).to_radians().tan();
    1.0 - (lean / 2.0).to_radians().tan().ln() / start_half_tangent.ln()
}
