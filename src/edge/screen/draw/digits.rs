//! Letters five rows high, and as many times as high as there is room for.

use ratatui::layout::Rect;

use super::Drawing;
use crate::edge::screen::theme::Part;

/// Rows of a glyph.
pub(super) const ROWS: u16 = 5;

/// The strokes of a character, a row a string; `#` is ink. Small letters are drawn as capitals,
/// and what is not here is left blank.
fn glyph(c: char) -> [&'static str; 5] {
    match c.to_ascii_uppercase() {
        '0' => ["####", "#  #", "#  #", "#  #", "####"],
        '1' => [" # ", "## ", " # ", " # ", "###"],
        '2' => ["####", "   #", "####", "#   ", "####"],
        '3' => ["####", "   #", " ###", "   #", "####"],
        '4' => ["#  #", "#  #", "####", "   #", "   #"],
        '5' => ["####", "#   ", "####", "   #", "####"],
        '6' => ["####", "#   ", "####", "#  #", "####"],
        '7' => ["####", "   #", "  # ", " #  ", " #  "],
        '8' => ["####", "#  #", "####", "#  #", "####"],
        '9' => ["####", "#  #", "####", "   #", "####"],
        ':' => [" ", "#", " ", "#", " "],
        '.' => [" ", " ", " ", " ", "#"],
        '%' => ["#  #", "  # ", " ## ", " #  ", "#  #"],
        '+' => ["   ", " # ", "###", " # ", "   "],
        '-' => ["   ", "   ", "###", "   ", "   "],
        'A' => [" ## ", "#  #", "####", "#  #", "#  #"],
        'B' => ["### ", "#  #", "### ", "#  #", "### "],
        'C' => [" ###", "#   ", "#   ", "#   ", " ###"],
        'D' => ["### ", "#  #", "#  #", "#  #", "### "],
        'E' => ["####", "#   ", "### ", "#   ", "####"],
        'F' => ["####", "#   ", "### ", "#   ", "#   "],
        'G' => [" ###", "#   ", "# ##", "#  #", " ###"],
        'H' => ["#  #", "#  #", "####", "#  #", "#  #"],
        'I' => ["#", "#", "#", "#", "#"],
        'J' => ["  ##", "   #", "   #", "#  #", " ## "],
        'K' => ["#  #", "# # ", "##  ", "# # ", "#  #"],
        'L' => ["#   ", "#   ", "#   ", "#   ", "####"],
        'M' => ["#   #", "## ##", "# # #", "#   #", "#   #"],
        'N' => ["#   #", "##  #", "# # #", "#  ##", "#   #"],
        'O' => [" ## ", "#  #", "#  #", "#  #", " ## "],
        'P' => ["### ", "#  #", "### ", "#   ", "#   "],
        'Q' => [" ## ", "#  #", "#  #", "# ##", " ###"],
        'R' => ["### ", "#  #", "### ", "# # ", "#  #"],
        'S' => [" ###", "#   ", " ## ", "   #", "### "],
        'T' => ["#####", "  #  ", "  #  ", "  #  ", "  #  "],
        'U' => ["#  #", "#  #", "#  #", "#  #", " ## "],
        'V' => ["#   #", "#   #", "#   #", " # # ", "  #  "],
        'W' => ["#   #", "#   #", "# # #", "## ##", "#   #"],
        'X' => ["#   #", " # # ", "  #  ", " # # ", "#   #"],
        'Y' => ["#   #", " # # ", "  #  ", "  #  ", "  #  "],
        'Z' => ["####", "  # ", " #  ", "#   ", "####"],
        _ => ["  ", "  ", "  ", "  ", "  "],
    }
}

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

/// Columns of a text at its smallest, with one blank column between characters.
pub(super) fn width(text: &str) -> u16 {
    let columns: usize = text.chars().map(|c| glyph(c)[0].len() + 1).sum();
    columns.saturating_sub(1) as u16
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
