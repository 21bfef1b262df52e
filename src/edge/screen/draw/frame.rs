//! Frames around what is shown, and what they say of a made-up shop.

use ratatui::layout::Rect;
use ratatui::symbols::border;
use ratatui::text::Line;
use ratatui::widgets::{Block, Borders};

use super::super::theme::Part;
use super::{Drawing, wrap};
use crate::words;

const ASCII_BORDER: border::Set<'static> = border::Set {
    top_left: "+",
    top_right: "+",
    bottom_left: "+",
    bottom_right: "+",
    vertical_left: "|",
    vertical_right: "|",
    horizontal_top: "-",
    horizontal_bottom: "-",
};

impl Drawing<'_> {
    /// Says at the end of a row that what is shown is made up, where it is; the answer is what is left.
    pub(super) fn made_up(&self, row: Rect) -> Rect {
        let said = Line::from(format!(" {} ", words::MADE_UP)).right_aligned();
        let columns = if self.app.rehearsal { said.width() as u16 } else { 0 };
        let rest = Rect { width: row.width.saturating_sub(columns), ..row };
        let place = Rect { x: row.x + rest.width, width: row.width - rest.width, ..row };
        self.draw(said.style(self.style(Part::Accent)), place);
        rest
    }

    /// The same in the lower edge of a frame.
    pub(super) fn made_up_below(&self, framed: Rect) {
        let below = framed.rows().next_back().unwrap_or_default();
        self.made_up(Rect { width: below.width.saturating_sub(1), ..below });
    }

    /// A frame over everything else; the answer is the room inside.
    pub(super) fn over(&self, title: String, place: Rect) -> Rect {
        self.clear(place);
        let inside = self.framed(title, Part::Accent, place);
        self.made_up_below(place);
        inside
    }

    /// A frame with a title; the answer is the room inside.
    pub(super) fn framed(&self, title: String, part: Part, area: Rect) -> Rect {
        let title = wrap::fitting(title, area.width.saturating_sub(4));
        let block = Block::new()
            .borders(Borders::ALL)
            .border_set(if self.theme.ascii { ASCII_BORDER } else { border::ROUNDED })
            .border_style(self.style(Part::Quiet))
            .title(Line::styled(format!(" {title} "), self.style(part)));
        let inside = block.inner(area);
        self.draw(block, area);
        inside
    }
}

/// The upper rows of what is left of an area, taken off it.
pub(super) fn take(rest: &mut Rect, rows: u16) -> Rect {
    let taken = Rect { height: rows.min(rest.height), ..*rest };
    *rest = Rect { y: rest.y + taken.height, height: rest.height - taken.height, ..*rest };
    taken
}

/// Its left columns, taken off it.
pub(super) fn take_columns(rest: &mut Rect, columns: u16) -> Rect {
    let taken = Rect { width: columns.min(rest.width), ..*rest };
    *rest = Rect { x: rest.x + taken.width, width: rest.width - taken.width, ..*rest };
    taken
}

/// A box of at most this size in the middle of an area.
pub(super) fn middle(area: Rect, columns: u16, rows: u16) -> Rect {
    let (width, height) = (columns.min(area.width), rows.min(area.height));
    Rect::new(area.x + (area.width - width) / 2, area.y + (area.height - height) / 2, width, height)
}
