//! A list to pick from.
//!
//! ```text
//! + Ledger, the youngest first --+
//! | gold_                        |   what was typed to filter it
//! |   good  Heron gold, Mon 9:40 |
//! | > over  Heron gold, Fri 8:10 |
//! +------------------------------+
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};

use super::Picture;
use crate::edge::screen::pick::Pick;
use crate::edge::screen::theme::Part;
use crate::words;

/// What a list shows.
pub(super) struct List<'a> {
    pub(super) title: String,
    /// How many lines the filter leaves, and each of them: only those in sight are asked for.
    pub(super) count: usize,
    pub(super) line: &'a dyn Fn(usize) -> String,
    pub(super) pick: &'a Pick,
    /// Said where there is no line.
    pub(super) empty: &'a str,
}

/// Draws a list around the line somebody is at; the answer is where the cursor belongs.
pub(super) fn render(
    list: &List<'_>,
    picture: &Picture<'_>,
    area: Rect,
    buffer: &mut Buffer,
) -> Option<Position> {
    let inside = picture.framed(list.title.clone(), Part::Accent, area, buffer);
    let typing = inside.rows().next()?;
    let typed = &list.pick.typed;
    match typed.is_empty() {
        true => picture.line(words::TYPE_TO_FILTER.into(), Part::Quiet, typing, buffer),
        false => picture.line(typed.clone(), Part::Text, typing, buffer),
    }
    let columns = unicode_columns(typed).min(typing.width.saturating_sub(1));
    let below = Rect { y: inside.y + 1, height: inside.height - 1, ..inside };
    for (place, row, here) in picture.listed(below, list.count, list.pick.at) {
        let line = (list.line)(place);
        let (marker, part) = if here { (">", Part::Key) } else { (" ", Part::Text) };
        picture.line(format!("{marker} {line}"), part, row, buffer);
    }
    if list.count == 0
        && let Some(row) = inside.rows().nth(1)
    {
        picture.line(list.empty.into(), Part::Quiet, row, buffer);
    }
    Some(Position::new(typing.x + columns, typing.y))
}

/// The columns a text takes.
fn unicode_columns(text: &str) -> u16 {
    ratatui::text::Line::raw(text).width().try_into().unwrap_or(u16::MAX)
}
