//! Why a row says what it says: every number of it, how they come about, and the firings behind.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::{take, wrap};
use crate::edge::screen::draw::Picture;
use crate::edge::screen::pick::Pick;
use crate::edge::screen::review::Review;
use crate::edge::screen::theme::Part;
use crate::scene::{ReviewRow, ReviewScene};
use crate::words;

/// A line of a firing with all its columns needs this much.
const WIDE: u16 = 60;

pub(super) fn render(
    pick: &Pick,
    row: ReviewRow<'_>,
    (review, scene): (&Review, &ReviewScene),
    picture: &Picture<'_>,
    area: Rect,
    buffer: &mut Buffer,
) {
    let (now, dial) = (picture.scene.now, &picture.dial);
    let title = words::why_title(&words::review_row(&row, scene, dial.scale, false));
    let mut rest = picture.framed(title, Part::Accent, area, buffer);
    let told = words::why_lines(&row, scene, dial.scale);
    let parts = [Part::Text, Part::Quiet, Part::Accent];
    for (text, part) in told.into_iter().zip(parts) {
        // The firings keep at least two rows, whatever there is to explain.
        let rows = wrap::wrap(&text, rest.width).len() as u16;
        let rows = rows.min(rest.height.saturating_sub(2));
        picture.paragraph(text, part, take(&mut rest, rows), buffer);
    }
    let behind = review.behind();
    for (place, here, is_here) in picture.listed(rest, behind.len(), pick.at) {
        let id = &behind[place];
        let (marker, part) = if is_here { (">", Part::Key) } else { (" ", Part::Text) };
        let line = if rest.width >= WIDE { words::past_line } else { words::past_short };
        let text = scene.past.get(id).map_or_else(String::new, |past| line(past, now, dial));
        picture.line(format!("{marker} {:>5} {}", id.0, text.trim_end()), part, here, buffer);
    }
}
