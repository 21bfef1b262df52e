//! The far view: one sentence and one countdown, as large as the terminal allows.

use ratatui::buffer::Buffer;
use ratatui::layout::{Constraint, Layout, Rect};

use super::{Picture, digits, hint_line, middle};
use crate::edge::screen::theme::Part;
use crate::words;

/// ```text
/// what to do, in letters five rows high where there is room
/// countdown, as large as what is left allows
/// sentence, hints
/// ```
pub(super) fn render(picture: &Picture<'_>, area: Rect, buffer: &mut Buffer) {
    let scene = picture.scene;
    let first = scene.kilns.first();
    let big = first.and_then(|kiln| words::big_text(kiln, scene.now));
    let phrase = first.map(|kiln| words::far_phrase(kiln, scene.now)).unwrap_or_default();
    let sentence_rows = if area.width < 60 { 3 } else { 2 };
    // The countdown keeps at least as much as the letters take.
    let for_countdown = if big.is_some() { digits::ROWS + 1 } else { 0 };
    let letters = digits::lines(&phrase, area.width).filter(|lines| {
        let rows = lines.len() as u16 * (digits::ROWS + 1);
        rows + for_countdown + sentence_rows < area.height
    });
    let letter_rows = letters.as_ref().map_or(0, |lines| lines.len() as u16 * (digits::ROWS + 1));
    let [letters_area, big_area, said, hint] = Layout::vertical([
        Constraint::Length(letter_rows),
        Constraint::Min(0),
        Constraint::Length(sentence_rows),
        Constraint::Length(1),
    ])
    .areas(area);
    let part = first.map_or(Part::Text, |kiln| picture.part_of(kiln));
    let ink = picture.theme.pick("█", "#");
    for (line, top) in letters.into_iter().flatten().zip((letters_area.y..).step_by(6)) {
        let row = Rect { y: top, height: digits::ROWS, ..letters_area };
        let place = middle(row, digits::width(&line), digits::ROWS);
        digits::render(&line, 1, place, ink, picture.style(Part::Text), buffer);
    }
    if let Some(big) = big {
        let scale = digits::scale(&big, big_area.width, big_area.height);
        let place = middle(big_area, digits::width(&big) * scale, digits::ROWS * scale);
        digits::render(&big, scale, place, ink, picture.style(Part::Accent), buffer);
    }
    picture.paragraph(words::headline(scene, &picture.dial), part, said, buffer);
    hint_line(picture, hint, buffer);
}
