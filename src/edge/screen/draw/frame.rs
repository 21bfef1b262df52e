//! Frames around what is shown, and what they say of a made-up shop.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::symbols::border;
use ratatui::text::Line;
use ratatui::widgets::{Block, Borders, Clear, Widget};

use super::super::theme::Part;
use super::{Picture, wrap};
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

impl Picture<'_> {
    /// Says at the end of a row that what is shown is made up, where it is; the answer is what is left.
    pub(super) fn made_up(&self, row: Rect, buffer: &mut Buffer) -> Rect {
        let said = Line::from(format!(" {} ", words::MADE_UP)).right_aligned();
        let columns = if self.app.rehearsal { said.width() as u16 } else { 0 };
        let rest = Rect { width: row.width.saturating_sub(columns), ..row };
        let place = Rect { x: row.x + rest.width, width: row.width - rest.width, ..row };
        said.style(self.style(Part::Accent)).render(place, buffer);
        rest
    }

    /// The same in the lower edge of a frame.
    pub(super) fn made_up_below(&self, framed: Rect, buffer: &mut Buffer) {
        let below = framed.rows().next_back().unwrap_or_default();
        self.made_up(Rect { width: below.width.saturating_sub(1), ..below }, buffer);
    }

    /// A frame over everything else; the answer is the room inside.
    pub(super) fn over(&self, title: String, place: Rect, buffer: &mut Buffer) -> Rect {
        Clear.render(place, buffer);
        buffer.set_style(place, self.style(Part::Text));
        let inside = self.framed(title, Part::Accent, place, buffer);
        self.made_up_below(place, buffer);
        inside
    }

    /// A frame with a title; the answer is the room inside.
    pub(super) fn framed(
        &self,
        title: String,
        part: Part,
        area: Rect,
        buffer: &mut Buffer,
    ) -> Rect {
        let title = wrap::fitting(title, area.width.saturating_sub(4));
        let block = Block::new()
            .borders(Borders::ALL)
            .border_set(if self.theme.ascii { ASCII_BORDER } else { border::ROUNDED })
            .border_style(self.style(Part::Quiet))
            .title(Line::styled(format!(" {title} "), self.style(part)));
        let inside = block.inner(area);
        block.render(area, buffer);
        inside
    }
}

/// A box of at most this size in the middle of an area.
pub(super) fn middle(area: Rect, columns: u16, rows: u16) -> Rect {
    let (width, height) = (columns.min(area.width), rows.min(area.height));
    Rect::new(area.x + (area.width - width) / 2, area.y + (area.height - height) / 2, width, height)
}
