//! Cones as they were seen, drawn small: a triangle that leans as its word says.

use super::sheet::{INK, Sheet};
use crate::firing::Seen;

/// Base, height, points.
const BASE: f64 = 7.0;
const HEIGHT: f64 = 17.0;

/// How far a cone called so is drawn to lean, degrees from upright.
fn drawn_lean_deg(seen: Seen) -> f64 {
    match seen {
        Seen::Standing => 8.0,
        Seen::Leaning => 28.0,
        Seen::Half => 60.0,
        Seen::Down => 96.0,
    }
}

/// The width to leave for one cone, lean included.
pub const ROOM: f64 = 26.0;
pub const ROOM_HEIGHT: f64 = HEIGHT + 5.0;

/// Draws a cone whose base stands at `(x, floor)`, in the middle; leaning to the right.
pub fn draw(sheet: &mut Sheet, (x, floor): (f64, f64), seen: Seen, fill: &'static str) {
    let lean = drawn_lean_deg(seen).to_radians();
    // A soft cone bends above its foot.
    let foot = (x, floor - 5.0);
    let upper = HEIGHT - 5.0;
    let tip = (foot.0 + upper * lean.sin(), foot.1 - upper * lean.cos());
    let half = 0.5 * BASE;
    let shoulder = 0.34 * BASE;
    let points = [
        (x - half, floor),
        (foot.0 - shoulder * lean.cos(), foot.1 - shoulder * lean.sin()),
        tip,
        (foot.0 + shoulder * lean.cos(), foot.1 + shoulder * lean.sin()),
        (x + half, floor),
    ];
    sheet.polygon(&points, fill, INK);
}
