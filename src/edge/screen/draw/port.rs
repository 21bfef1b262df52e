//! The view through the spyhole: what should be seen there now, in the glow of the chamber, and
//! beside it what was seen last.
//!
//! ```text
//! + Heron (o) watch -------------------+
//! |    ooooooooo      guide 019        |
//! |  oo         oo    lean 62, 50 to 80|
//! | o  #    .     o   half 6 min ago   |
//! | o  #   . #.   o   target 018       |
//! | o  #    # . ..o   lean 31, 25 to 40|
//! | o ##   #   ###o   not seen yet     |
//! |  oo017 018 019    guard 017        |
//! |    ooooooooo      lean 16, 13 to 21|
//! +------------------------------------+
//! ```

use ratatui::layout::Rect;
use ratatui::style::Style;

use super::Drawing;
use super::blocks::{self, Dot};
use super::cones::Pack;
use super::dots::{ACROSS, DOWN};
use super::wrap::wrap;
use crate::edge::screen::theme::Part;
use crate::glow::Glow;
use crate::scene::KilnScene;
use crate::words;

/// The least room a port is drawn in, its frame left out.
const LEAST: (u16, u16) = (18, 7);
/// Columns of the words beside it.
const WORDS_COLUMNS: u16 = 17;
/// Thickness of the rim in dots.
const RIM: f64 = 2.0;
/// The shelf under the cones and the ends of the pack, in radii from the middle.
const SHELF: f64 = 0.42;
const ENDS: f64 = 0.78;
const TOP: f64 = 0.75;

/// The port in a frame, and what was seen beside it where there is room.
pub(super) fn render(kiln: &KilnScene, picture: &Drawing<'_>, title: String, area: Rect) {
    if area.width < LEAST.0 + 2 || area.height < LEAST.1 + 2 {
        return;
    }
    let inside = picture.framed(title, Part::Text, area);
    // What was seen is worth more than a port as large as there is room for.
    let beside = inside.width >= LEAST.0.max(3 * inside.height / 2) + WORDS_COLUMNS;
    let room = if beside { inside.width - WORDS_COLUMNS } else { inside.width };
    let port = round(Rect { width: room, ..inside });
    let glow = kiln.heat().and_then(Glow::of);
    through(kiln, picture, glow.as_ref(), port);
    if beside {
        let words = Rect { x: inside.right() - WORDS_COLUMNS, width: WORDS_COLUMNS, ..inside };
        said(kiln, picture, words);
    }
    let lean =
        || kiln.cones.iter().any(|cone| cone.expected.is_some()).then(|| words::LEAN_KEY.into());
    let below = words::dark_line(kiln, glow.is_some()).or_else(|| lean().filter(|_| beside));
    if let Some(said) = below {
        let width = (said.len() as u16).min(inside.width);
        let below = Rect::new(inside.x, area.bottom() - 1, width, 1);
        picture.line(said, Part::Quiet, below);
    }
}

/// The largest area in the middle of this one that is as wide as high, in dots.
fn round(area: Rect) -> Rect {
    let rows = area.height.min(area.width * ACROSS / DOWN);
    super::frame::middle(area, rows * DOWN / ACROSS, rows)
}

fn through(kiln: &KilnScene, picture: &Drawing<'_>, glow: Option<&Glow>, area: Rect) {
    let (columns, rows) = blocks::size(area);
    let (radius, middle) = (columns.min(rows) / 2.0, (columns / 2.0, rows / 2.0));
    // The floor is the edge of a row of cells, for the names below it.
    let row = f64::from(DOWN);
    let floor = ((middle.1 + SHELF * radius) / row).round() * row;
    let ends = (middle.0 - ENDS * radius, middle.0 + ENDS * radius);
    let pack = Pack::standing(&kiln.cones, ends, (middle.1 - TOP * radius, floor));
    let dot = |x: f64, y: f64| {
        let away = (x - middle.0).hypot(y - middle.1);
        if away > radius {
            Dot::Nothing
        } else if away > radius - RIM {
            Dot::Rim
        } else {
            pack.dot(x, y).max(Dot::Glow)
        }
    };
    let inks = picture.theme.inks(glow);
    blocks::render(area, &inks, dot, picture);
    pack.labels(area, Style::default().fg(inks.label), picture);
}

/// Each cone by name: how it should lean, and how it was seen.
fn said(kiln: &KilnScene, picture: &Drawing<'_>, area: Rect) {
    let now = picture.scene.now;
    let airy = area.height >= 4 * kiln.cones.len() as u16;
    let mut lines = Vec::new();
    for cone in &kiln.cones {
        lines.push((words::cone_and_role(cone), Part::Text));
        lines.push((words::lean_phrase(cone), Part::Quiet));
        lines.push((words::seen_phrase(cone, now, usize::from(area.width)), Part::Accent));
        if airy {
            lines.push((String::new(), Part::Quiet));
        }
    }
    // Too little room: what was seen is worth more than how it should lean, which is drawn.
    if lines.len() > usize::from(area.height) {
        lines.retain(|(_, part)| *part != Part::Quiet);
    }
    let used = (lines.len() as u16).min(area.height);
    picture.lines(lines, area);
    let rest = Rect { y: area.y + used, height: area.height - used, ..area };
    if kiln.is_lit() && wrap(words::CAUTION_LOOK, rest.width).len() <= usize::from(rest.height) {
        picture.paragraph(words::CAUTION_LOOK, Part::Quiet, rest);
    }
}
