//! Why a row says what it says: every number of it, how they come about, and the firings behind.

use ratatui::layout::Rect;

use super::wrap;
use crate::edge::screen::draw::Drawing;
use crate::edge::screen::draw::frame::take;
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
    picture: &Drawing<'_>,
    area: Rect,
) {
    let (now, dial) = (picture.scene.now, &picture.dial);
    let title = words::why_title(&words::review_row(&row, scene, dial.scale, false));
    let mut rest = picture.framed(title, Part::Accent, area);
    let told = words::why_lines(&row, scene, dial.scale);
    let parts = [Part::Text, Part::Quiet, Part::Accent];
    for (text, part) in told.into_iter().zip(parts) {
        // The firings keep at least two rows, whatever there is to explain.
        let rows = wrap::wrap(&text, rest.width).len() as u16;
        let rows = rows.min(rest.height.saturating_sub(2));
        picture.paragraph(text, part, take(&mut rest, rows));
    }
    let behind = review.behind();
    let line = if rest.width >= WIDE { words::past_row } else { words::past_short };
    picture.choices(rest, (behind.len(), pick.at), |place| {
        let id = &behind[place];
        let text = scene.past.get(id).map_or_else(String::new, |past| line(past, now, dial));
        format!("{:>5} {}", id.0, text.trim_end())
    });
}
