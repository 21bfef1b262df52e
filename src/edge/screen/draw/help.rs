//! The help panel: the key table, as it is.

use ratatui::layout::Rect;
use ratatui::text::{Line, Span};

use super::Drawing;
use super::frame::middle;
use crate::edge::screen::key;
use crate::edge::screen::spots::Spot;
use crate::edge::screen::theme::Part;
use crate::edge::screen::view::View;
use crate::words;

/// A column narrower than this cuts the words of the keys, or their phrases.
const LEAST_COLUMNS: (u16, u16) = (18, 48);

/// The phrases where all of them have room, else the words: in as many columns as there is need of, and on
/// pages where those are not enough.
pub(super) fn render(page: usize, picture: &Drawing<'_>, area: Rect) {
    let at_bench = matches!(picture.app.view, View::Bench(_));
    let of_bench = key::BENCH.into_iter().filter(|_| at_bench);
    let of_bench = of_bench.map(|(key, _, short, long)| ((key, short, long), None));
    let everywhere = key::bindings(picture.app.rehearsal)
        .filter(|binding| !at_bench || key::EVERY_PAGE.contains(&binding.meaning))
        .map(|of| ((of.label(), of.short, of.long), Some(of.meaning)));
    let bindings: Vec<_> = of_bench.chain(everywhere).collect();
    let count = bindings.len() as u16;
    let one_column = area.height >= count + 3;
    let place = if one_column { middle(area, 60, count + 3) } else { area };
    let inside = picture.over(words::KEYS_TITLE.into(), place);
    let most_rows = inside.height.max(2) - 1;
    let most = |least: u16| (inside.width / least).max(1);
    let in_full = inside.width >= LEAST_COLUMNS.1 && count <= most(LEAST_COLUMNS.1) * most_rows;
    let most_columns = most(if in_full { LEAST_COLUMNS.1 } else { LEAST_COLUMNS.0 });
    let columns = if one_column { 1 } else { count.div_ceil(most_rows).clamp(1, most_columns) };
    let pages = usize::from(count.div_ceil(columns * most_rows).max(1));
    let page = page % pages;
    let rows = if pages == 1 { count.div_ceil(columns) } else { most_rows };
    let width = inside.width / columns;
    let shown = bindings.iter().skip(page * usize::from(columns * rows));
    for (index, ((label, short, long), meaning)) in (0..columns * rows).zip(shown) {
        let (column, row) = (index / rows, index % rows);
        let place = Rect::new(inside.x + column * width, inside.y + row, width, 1);
        let text = if in_full { long } else { short };
        let label = format!(" {label} ");
        let line = Line::from(vec![
            Span::styled(label, picture.style(Part::Key)),
            Span::raw(format!(" {text}")),
        ]);
        let place = place.intersection(inside);
        picture.draw(line, place);
        meaning.iter().for_each(|meaning| picture.spots.add(place, Spot::Action(*meaning)));
    }
    if let Some(last) = inside.rows().next_back() {
        let said = match pages {
            1 => words::ANY_KEY.to_owned(),
            _ => words::page_of_keys(page + 1, pages),
        };
        picture.line(said, Part::Quiet, last);
    }
}
