//! How wide a text is drawn.
//!
//! The advance widths of DejaVu Sans 2.37, regular and bold, read from the font, in units of 1/2048
//! of the size. It is among the widest of the common sans-serif fonts, so a text that fits by these
//! widths fits in whatever a viewer puts in its place.

/// Units to the size of the font.
const UNITS: f64 = 2048.0;

/// From the blank to the tilde.
const REGULAR: [u16; 95] = [
    651, 821, 942, 1716, 1303, 1946, 1597, 563, 799, 799, 1024, 1716, 651, 739, 651, 690, 1303,
    1303, 1303, 1303, 1303, 1303, 1303, 1303, 1303, 1303, 690, 690, 1716, 1716, 1716, 1087, 2048,
    1401, 1405, 1430, 1577, 1294, 1178, 1587, 1540, 604, 604, 1343, 1141, 1767, 1532, 1612, 1235,
    1612, 1423, 1300, 1251, 1499, 1401, 2025, 1403, 1251, 1403, 799, 690, 799, 1716, 1024, 1024,
    1255, 1300, 1126, 1300, 1260, 721, 1300, 1298, 569, 569, 1186, 569, 1995, 1298, 1253, 1300,
    1300, 842, 1067, 803, 1298, 1212, 1675, 1212, 1212, 1075, 1303, 690, 1303, 1716,
];

const BOLD: [u16; 95] = [
    713, 934, 1067, 1716, 1425, 2052, 1786, 627, 936, 936, 1071, 1716, 778, 850, 778, 748, 1425,
    1425, 1425, 1425, 1425, 1425, 1425, 1425, 1425, 1425, 819, 819, 1716, 1716, 1716, 1188, 2048,
    1585, 1561, 1503, 1700, 1399, 1399, 1681, 1714, 762, 762, 1587, 1305, 2038, 1714, 1741, 1501,
    1741, 1577, 1475, 1397, 1663, 1585, 2259, 1579, 1483, 1485, 936, 748, 936, 1716, 1024, 1024,
    1382, 1466, 1214, 1466, 1389, 891, 1466, 1458, 702, 702, 1362, 702, 2134, 1458, 1407, 1466,
    1466, 1010, 1219, 979, 1458, 1335, 1892, 1321, 1335, 1192, 1458, 748, 1458, 1716,
];

/// Letters beyond the table of the Latin scripts are at most this wide (the widest is 2912).
const LATIN_LETTER: u16 = 1700;
/// Anything else is taken as wide as the widest sign of the font.
const ANYTHING: u16 = 3554;

/// Part of the size above the baseline, and below it, that a line takes.
pub const ASCENT: f64 = 0.93;
pub const DESCENT: f64 = 0.24;

/// What takes the place of what does not fit.
const CUT: &str = "...";

/// The width of one line of text at this size.
pub fn text_width(text: &str, size: f64, bold: bool) -> f64 {
    let table = if bold { &BOLD } else { &REGULAR };
    let advance = |c: char| match c {
        ' '..='~' => table[c as usize - ' ' as usize],
        '\u{a0}'..='\u{24f}' if c.is_lowercase() => LATIN_LETTER,
        '\u{a0}'..='\u{24f}' => 2 * LATIN_LETTER,
        _ => ANYTHING,
    };
    text.chars().map(|c| f64::from(advance(c))).sum::<f64>() * size / UNITS
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
