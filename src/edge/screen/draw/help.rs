//! The help panel: the key table, as it is.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};
use ratatui::widgets::Widget;

use super::{Picture, middle};
use crate::edge::screen::key;
use crate::edge::screen::spots::Spot;
use crate::edge::screen::theme::Part;
use crate::words;

/// A column narrower than this cuts the words of the keys.
const LEAST_COLUMNS: u16 = 18;

/// Two columns where one is not tall enough, and pages where those are not.
pub(super) fn render(page: usize, picture: &Picture<'_>, area: Rect, buffer: &mut Buffer) {
    let bindings: Vec<&key::Binding> = key::bindings(picture.app.rehearsal).collect();
    let count = bindings.len() as u16;
    let one_column = area.height >= count + 3;
    let place = if one_column { middle(area, 60, count + 3) } else { area };
    let inside = picture.over(words::KEYS_TITLE.into(), place, buffer);
    let most_rows = inside.height.max(2) - 1;
    let most_columns = (inside.width / LEAST_COLUMNS).max(1);
    let columns = if one_column { 1 } else { count.div_ceil(most_rows).clamp(1, most_columns) };
    let pages = usize::from(count.div_ceil(columns * most_rows).max(1));
    let page = page % pages;
    let rows = if pages == 1 { count.div_ceil(columns) } else { most_rows };
    let width = inside.width / columns;
    let shown = bindings.iter().skip(page * usize::from(columns * rows));
    for (index, binding) in (0..columns * rows).zip(shown) {
        let (column, row) = (index / rows, index % rows);
        let place = Rect::new(inside.x + column * width, inside.y + row, width, 1);
        let text = if columns == 1 && inside.width >= 56 { binding.long } else { binding.short };
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
        let said = match pages {
            1 => words::ANY_KEY.to_owned(),
            _ => words::page_of_keys(page + 1, pages),
        };
        picture.line(said, Part::Quiet, last, buffer);
    }
}
