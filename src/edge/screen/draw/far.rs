//! The far view: one sentence and one countdown, as large as the terminal allows.

use ratatui::buffer::Buffer;
use ratatui::layout::{Constraint, Layout, Rect};

use super::{Picture, digits, hint_line, middle};
use crate::edge::screen::theme::Part;
use crate::words;

/// ```text
/// sentence, up to three rows
/// digits
/// hints
/// ```
pub(super) fn render(picture: &Picture<'_>, area: Rect, buffer: &mut Buffer) {
    let sentence_rows = if area.width < 60 { 3 } else { 2 };
    let [said, big_area, hint] = Layout::vertical([
        Constraint::Length(sentence_rows),
        Constraint::Min(0),
        Constraint::Length(1),
    ])
    .areas(area);
    let scene = picture.scene;
    let sentence = words::headline(scene, &picture.dial);
    let part = scene.kilns.first().map_or(Part::Text, |kiln| picture.part_of(kiln));
    picture.paragraph(sentence, part, said, buffer);
    let big = scene.kilns.first().and_then(|kiln| words::big_text(kiln, scene.now));
    if let Some(big) = big {
        let scale = digits::scale(&big, big_area.width, big_area.height);
        let place = middle(big_area, digits::width(&big) * scale, digits::ROWS * scale);
        let style = picture.style(Part::Accent);
        digits::render(&big, scale, place, picture.theme.pick("█", "#"), style, buffer);
    }
    hint_line(picture, hint, buffer);
}
