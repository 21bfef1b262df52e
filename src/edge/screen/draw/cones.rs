//! The cone pack, each cone drawn at the lean it is expected to have.

use ratatui::buffer::Buffer;
use ratatui::layout::{Constraint, Layout, Rect};

use super::Picture;
use super::dots::Dots;
use crate::cone::LEAN_START_DEG;
use crate::edge::screen::theme::Part;
use crate::scene::{ConeScene, KilnScene};

/// One cone beside the other, coolest first, all leaning to the right.
pub(super) fn render(kiln: &KilnScene, picture: &Picture<'_>, area: Rect, buffer: &mut Buffer) {
    if area.height < 2 || kiln.cones.is_empty() {
        return;
    }
    let places = Layout::horizontal(kiln.cones.iter().map(|_| Constraint::Fill(1))).split(area);
    for (cone, place) in kiln.cones.iter().zip(places.iter()) {
        one(cone, picture, *place, buffer);
    }
}

/// Two flanks from a base to a tip: upright it is a narrow triangle, at 90 degrees it lies flat.
fn one(cone: &ConeScene, picture: &Picture<'_>, area: Rect, buffer: &mut Buffer) {
    let mut dots = Dots::new(area);
    let (columns, rows) = dots.size();
    let lean = cone.expected.map_or(LEAN_START_DEG, |now| now.lean_deg).to_radians();
    // A braille dot is about as high as it is wide, so that lengths may be used as they are.
    let length = (rows - 1.0).min(columns - 4.0);
    let (base, floor) = (3.0, rows - 1.0);
    let tip = (base + length * lean.sin(), floor - length * lean.cos());
    dots.line((base - 2.0, floor), tip);
    dots.line((base + 2.0, floor), tip);
    dots.line((base - 2.0, floor), (base + 2.0, floor));
    let part = if cone.expected.is_some() { Part::Accent } else { Part::Quiet };
    dots.render(picture.theme.ascii.then_some("#"), picture.style(part), buffer);
}
