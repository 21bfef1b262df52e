//! The help panel: the key table, as it is.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};
use ratatui::widgets::{Clear, Widget};

use super::{Picture, middle};
use crate::edge::screen::key;
use crate::edge::screen::spots::Spot;
use crate::edge::screen::theme::Part;
use crate::words;

/// Two columns where one is not tall enough.
pub(super) fn render(picture: &Picture<'_>, area: Rect, buffer: &mut Buffer) {
    let bindings: Vec<&key::Binding> = key::bindings(picture.app.rehearsal).collect();
    let count = bindings.len() as u16;
    let one_column = area.height >= count + 3;
    let place = if one_column { middle(area, 60, count + 3) } else { area };
    Clear.render(place, buffer);
    buffer.set_style(place, picture.style(Part::Text));
    let inside = picture.framed(words::KEYS_TITLE.into(), Part::Accent, place, buffer);
    let columns = if one_column { 1 } else { count.div_ceil(inside.height.max(2) - 1).max(1) };
    let rows = count.div_ceil(columns);
    let width = inside.width / columns;
    for (index, binding) in (0u16..).zip(&bindings) {
        let (column, row) = (index / rows, index % rows);
        let place = Rect::new(inside.x + column * width, inside.y + row, width, 1);
        let text = if columns == 1 { binding.long } else { binding.short };
        let label = format!(" {} ", binding.label);
        let line = Line::from(vec![
            Span::styled(label, picture.style(Part::Key)),
            Span::raw(format!(" {text}")),
        ]);
        let place = place.intersection(inside);
        line.render(place, buffer);
        picture.spots.add(place, Spot::Action(binding.meaning));
    }
    if let Some(last) = inside.rows().next_back() {
        picture.line(words::ANY_KEY.into(), Part::Quiet, last, buffer);
    }
}
