//! How wide a text is drawn.
//!
//! A picture is set in whatever sans-serif font a viewer has, a PDF in Helvetica. A text is taken to
//! be as wide as the wider of DejaVu Sans and Helvetica sets each letter, so what fits by these widths
//! fits in either, and in what is commonly put in their place.

use super::fonts::{DEJAVU, DEJAVU_BOLD, HELVETICA, HELVETICA_BOLD, byte};

/// Small letters of the other Latin scripts are at most this wide, in parts of the size (the oe).
const OTHER_SMALL_LETTER: f64 = 1.1;
/// Any other Latin letter is.
const OTHER_LETTER: f64 = 1.56;
/// The widest sign of DejaVu Sans Bold.
const ANYTHING: f64 = 2.02;

/// Part of the size above the baseline, and below it, that a line takes.
pub const ASCENT: f64 = 0.93;
pub const DESCENT: f64 = 0.24;

/// What takes the place of what does not fit.
const CUT: &str = "...";

/// The width of one line of text at this size.
pub fn text_width(text: &str, size: f64, bold: bool) -> f64 {
    let fonts = if bold { [&DEJAVU_BOLD, &HELVETICA_BOLD] } else { [&DEJAVU, &HELVETICA] };
    let advance = |c: char| match (byte(c), c) {
        (Some(byte), _) => fonts[0].advance(byte).max(fonts[1].advance(byte)),
        (None, '\u{100}'..='\u{17f}') if c.is_lowercase() => OTHER_SMALL_LETTER,
        (None, '\u{100}'..='\u{24f}') => OTHER_LETTER,
        _ => ANYTHING,
    };
    text.chars().map(advance).sum::<f64>() * size
}

/// The text, or as much of its beginning as fits into this width followed by `...`; empty when not
/// even that fits.
pub fn fitted(text: &str, size: f64, bold: bool, width: f64) -> String {
    if text_width(text, size, bold) <= width {
        return text.to_owned();
    }
    let mut cut: String = text.to_owned();
    while cut.pop().is_some() {
        let shorter = format!("{}{CUT}", cut.trim_end());
        if text_width(&shorter, size, bold) <= width {
            return shorter;
        }
    }
    String::new()
}

/// The text in at most `most` lines of this width, broken at blanks; the last one is cut if need be.
pub fn wrapped(text: &str, size: f64, bold: bool, width: f64, most: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let mut words = text.split_whitespace().peekable();
    while words.peek().is_some() && lines.len() < most {
        let mut line = String::new();
        let last = lines.len() + 1 == most;
        while let Some(word) = words.peek() {
            let longer =
                if line.is_empty() { (*word).to_owned() } else { format!("{line} {word}") };
            if !last && !line.is_empty() && text_width(&longer, size, bold) > width {
                break;
            }
            line = longer;
            words.next();
        }
        lines.push(fitted(&line, size, bold, width));
    }
    lines
}
