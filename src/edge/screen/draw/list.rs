//! A list to pick from.
//!
//! ```text
//! + Ledger, the youngest first --+
//! | gold_                        |   what was typed to filter it
//! |   good  Heron gold, Mon 9:40 |
//! | > over  Heron gold, Fri 8:10 |
//! +------------------------------+
//! ```

use ratatui::layout::{Position, Rect};

use super::Drawing;
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
pub(super) fn render(list: &List<'_>, picture: &Drawing<'_>, area: Rect) -> Option<Position> {
    let inside = picture.framed(list.title.clone(), Part::Accent, area);
    let typing = inside.rows().next()?;
    let typed = &list.pick.typed;
    match typed.is_empty() {
        true => picture.line(words::TYPE_TO_FILTER.into(), Part::Quiet, typing),
        false => picture.line(typed.clone(), Part::Text, typing),
    }
    let columns = unicode_columns(typed).min(typing.width.saturating_sub(1));
    let below = Rect { y: inside.y + 1, height: inside.height - 1, ..inside };
    picture.choices(below, (list.count, list.pick.at), list.line);
    if list.count == 0
        && let Some(row) = inside.rows().nth(1)
    {
        picture.line(list.empty.into(), Part::Quiet, row);
    }
    Some(Position::new(typing.x + columns, typing.y))
}

/// The columns a text takes.
fn unicode_columns(text: &str) -> u16 {
    ratatui::text::Line::raw(text).width().try_into().unwrap_or(u16::MAX)
}
