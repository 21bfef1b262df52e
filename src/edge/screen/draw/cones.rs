//! The cone pack, each cone drawn at the lean it is expected to have, the range it may have
//! shaded around it.
//!
//! ```text
//!   #      .
//!   #    . #  .
//!   #     #  .   ....
//!  ##    #      #######
//!  017  018    019
//! ```
//!
//! The guide stands on the right and falls outwards, as packs are set, so that the cones which
//! are still up are seen clear of those that are down. One that falls towards its neighbour is
//! drawn before it with a gap around, so that two that are down stay two; letters tell the target
//! from the others as well.

use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::Line;

use super::Drawing;
use super::blocks::{self, Dot};
use super::dots::{ACROSS, DOWN};
use crate::cone::{LEAN_DOWN_DEG, LEAN_START_DEG};
use crate::firing::event::Seen;
use crate::glow::Glow;
use crate::scene::{ConeScene, KilnScene, Role};

/// From one base to the next, and half the width of a base, in lengths of a cone.
const APART: f64 = 0.62;
const HALF_BASE: f64 = 0.13;
/// How much narrower a cone is at its tip.
const TAPER: f64 = 0.75;
/// The gap around a cone where it lies before another, in dots: more than a quarter of a cell, the
/// finest shape there is in colour, is high.
const GAP: f64 = 2.5;

/// The pack alone, on a patch of the chamber's glow.
pub(super) fn render(kiln: &KilnScene, picture: &Drawing<'_>, area: Rect) {
    if area.height < 2 || area.width < 6 || kiln.cones.is_empty() {
        return;
    }
    let area = Rect { width: columns(kiln.cones.len(), area.height).min(area.width), ..area };
    let inks = picture.theme.inks(kiln.heat().and_then(Glow::of).as_ref());
    let (columns, _) = blocks::size(area);
    let label_rows = label_rows(area.height);
    let floor = f64::from((area.height - label_rows) * DOWN);
    let pack = Pack::standing(&kiln.cones, (1.0, columns - 1.0), (0.5, floor));
    let dot = |x, y| pack.dot(x, y).max(Dot::Glow);
    blocks::render(area, &inks, dot, picture);
    if label_rows > 0 {
        pack.labels(area, Style::default().fg(inks.label), picture);
    }
}

/// As many columns as so many cones take that are as high as so many rows.
pub(super) fn columns(cones: usize, rows: u16) -> u16 {
    let dots = lengths(cones) * f64::from((rows - label_rows(rows).min(rows)) * DOWN);
    (dots / f64::from(ACROSS)).ceil() as u16 + 1
}

fn label_rows(rows: u16) -> u16 {
    u16::from(rows >= 4)
}

/// The width of a pack in lengths of a cone. The last falls flat to the right of its base.
fn lengths(cones: usize) -> f64 {
    APART * (cones as f64 - 1.0) + 1.0 + 2.0 * HALF_BASE
}

/// Cones standing on a floor, in dots.
#[derive(Debug)]
pub(super) struct Pack<'a> {
    cones: Vec<Standing<'a>>,
    floor: f64,
    length: f64,
}

/// One of them: where it stands, and where it points at its likely, its least and its most lean.
#[derive(Debug)]
struct Standing<'a> {
    cone: &'a ConeScene,
    x: f64,
    lean: Direction,
    range: (Direction, Direction),
}

/// Where a cone points: to the right and upwards, together of length 1.
#[derive(Debug, Clone, Copy)]
struct Direction {
    right: f64,
    up: f64,
}

impl Direction {
    fn leaning(degrees: f64) -> Direction {
        let (right, up) = degrees.to_radians().sin_cos();
        Direction { right, up }
    }
}

impl<'a> Pack<'a> {
    /// As large as fits between left and right, and between top and floor.
    pub(super) fn standing(
        cones: &'a [ConeScene],
        (left, right): (f64, f64),
        (top, floor): (f64, f64),
    ) -> Pack<'a> {
        let lengths = lengths(cones.len());
        let length = ((right - left) / lengths).min(floor - top);
        let first = left + ((right - left) - lengths * length) / 2.0 + HALF_BASE * length;
        let place = |(at, cone): (usize, &'a ConeScene)| {
            let now = cone.expected;
            let seen = || cone.seen.map_or(LEAN_START_DEG, |(_, seen)| lean_as_seen(seen));
            let lean = now.map_or_else(seen, |now| now.lean_deg);
            let (least, most) = now.map_or((lean, lean), |now| now.lean_range_deg);
            Standing {
                cone,
                x: first + at as f64 * APART * length,
                lean: Direction::leaning(lean),
                range: (Direction::leaning(least), Direction::leaning(most)),
            }
        };
        Pack { cones: cones.iter().rev().enumerate().map(place).collect(), floor, length }
    }

    /// What there is of the pack at a place.
    pub(super) fn dot(&self, x: f64, y: f64) -> Dot {
        if y > self.floor || y < self.floor - 1.1 * self.length {
            return Dot::Nothing;
        }
        let up = self.floor - y;
        let covers = |cone: &Standing<'_>| cone.covers(x, up, self.length);
        if let Some(at) = self.cones.iter().position(covers) {
            let mut before = self.cones[..at].iter();
            return match self.cones[at].cone.role {
                _ if before.any(|cone| cone.clears(x, up, self.length)) => Dot::Nothing,
                Role::Target => Dot::Target,
                Role::Guide | Role::Guard => Dot::Beside,
            };
        }
        let may_cover = |cone: &Standing<'_>| cone.may_cover(x, up, self.length);
        if self.cones.iter().any(may_cover) { Dot::Range } else { Dot::Nothing }
    }

    /// The cones' names on the row below the floor, where there is room for them.
    pub(super) fn labels(&self, area: Rect, style: Style, picture: &Drawing<'_>) {
        let y = area.y + (self.floor / f64::from(DOWN)).round() as u16;
        let names: Vec<&str> = self.cones.iter().map(|one| one.cone.cone.name()).collect();
        let widest = names.iter().map(|name| name.len()).max().unwrap_or(0) as f64;
        if self.cones.len() > 1 && APART * self.length < f64::from(ACROSS) * (widest + 1.0) {
            return;
        }
        for (standing, name) in self.cones.iter().zip(names) {
            let middle = standing.x / f64::from(ACROSS);
            let left = (middle - name.len() as f64 / 2.0).round().max(0.0) as u16;
            let place = Rect::new(area.x + left, y, name.len() as u16, 1).intersection(area);
            picture.draw(Line::styled(name, style), place);
        }
    }
}

/// How a cone is drawn of which only the word is known.
fn lean_as_seen(seen: Seen) -> f64 {
    let (least, most) = seen.lean_range_deg();
    match seen {
        Seen::Standing => LEAN_START_DEG,
        Seen::Down => LEAN_DOWN_DEG,
        Seen::Leaning | Seen::Half => (least + most) / 2.0,
    }
}

impl Standing<'_> {
    /// Whether the cone itself is at this place, `up` above the floor. Its side rests on the
    /// floor when it is down.
    fn covers(&self, x: f64, up: f64, length: f64) -> bool {
        let (share, aside) = self.along_and_aside(x, up, length);
        let wide = HALF_BASE * length * (1.0 - TAPER * share.max(0.0));
        (-HALF_BASE..=1.0).contains(&share) && aside <= wide
    }

    /// Whether nothing of a cone behind this one is drawn at this place: beside all of its length
    /// and a gap further, so that no crumb of the other is left around its tip.
    fn clears(&self, x: f64, up: f64, length: f64) -> bool {
        let (share, aside) = self.along_and_aside(x, up, length);
        let gap = GAP / length;
        (-HALF_BASE - gap..=1.0 + gap).contains(&share) && aside <= HALF_BASE * length + GAP
    }

    /// How far along the cone a place is, in lengths from its base, and how far from its middle,
    /// in dots.
    fn along_and_aside(&self, x: f64, up: f64, length: f64) -> (f64, f64) {
        let Direction { right: across, up: along } = self.lean;
        let (right, up) = (x - self.x, up - HALF_BASE * length * across);
        ((right * across + up * along) / length, (right * along - up * across).abs())
    }

    /// Whether it may lean over this place: within its length, and between the two directions.
    fn may_cover(&self, x: f64, up: f64, length: f64) -> bool {
        let (least, most) = self.range;
        let right = x - self.x;
        right * right + up * up <= length * length
            && right * least.up >= up * least.right
            && right * most.up <= up * most.right
    }
}
