//! Large letters on the screen, as many times their smallest size as there is room for.

use ratatui::layout::Rect;

use super::Drawing;
use crate::edge::glyph::glyph;
pub(super) use crate::edge::glyph::{ROWS, width};
use crate::edge::screen::theme::Part;

/// The lines a text takes when its letters are drawn at the smallest size, or `None` if a word
/// is too wide or holds a letter there is no glyph for.
pub(super) fn lines(text: &str, columns: u16) -> Option<Vec<String>> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        let known = |c: char| c.is_ascii_alphanumeric() || matches!(c, ':' | '+' | '-');
        if width(word) > columns || !word.chars().all(known) {
            return None;
        }
        match lines.last_mut().map(|line| (format!("{line} {word}"), line)) {
            Some((longer, line)) if width(&longer) <= columns => *line = longer,
            _ => lines.push(word.to_owned()),
        }
    }
    Some(lines)
}

/// How many times its smallest size a text fits into an area; 0 if not at all.
pub(super) fn scale(text: &str, columns: u16, rows: u16) -> u16 {
    (columns / width(text).max(1)).min(rows / ROWS)
}

/// Draws a text into the upper left of an area at a scale.
pub(super) fn render(text: &str, scale: u16, part: Part, area: Rect, picture: &Drawing<'_>) {
    let (ink, style) = (picture.theme.pick("█", "#"), picture.style(part));
    let mut buffer = picture.buffer();
    let inside = area.intersection(buffer.area);
    let mut left = area.x;
    for c in text.chars() {
        let strokes = glyph(c);
        for (row, stroke) in (0u16..).zip(strokes) {
            for (column, _) in (0u16..).zip(stroke.chars()).filter(|(_, mark)| *mark == '#') {
                let (x, y) = (left + column * scale, area.y + row * scale);
                for position in Rect::new(x, y, scale, scale).intersection(inside).positions() {
                    buffer[position].set_symbol(ink).set_style(style);
                }
            }
        }
        left += (strokes[0].len() as u16 + 1) * scale;
    }
}
