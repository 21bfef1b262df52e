//! Text broken at blanks into lines that fit.

use ratatui::text::Span;

/// A line in so many columns: as many of its clauses as there is room for, or of its words where those
/// would be few, and two points.
pub(super) fn fitting(text: String, columns: u16) -> String {
    let columns = usize::from(columns);
    let width = |text: &str| Span::raw(text).width();
    if width(text.trim_end()) <= columns {
        return text;
    }
    let up_to = |apart: &str| {
        let mut ends = text.rmatch_indices(apart).map(|(at, _)| text[..at].trim_end());
        ends.find(|kept| width(kept) + 2 <= columns && !kept.is_empty())
    };
    let clauses = up_to(", ").max(up_to("; ")).filter(|kept| width(kept) * 2 >= columns);
    let kept = clauses.or(up_to(" ")).map(|kept| match kept.rfind(" (") {
        // No bracket is left open.
        Some(at) if !kept[at..].contains(')') => &kept[..at],
        _ => kept,
    });
    kept.map_or(text.clone(), |kept| format!("{kept}.."))
}

/// A line that `columns` would cut where those beside it are still the same: without most of what they share.
pub(super) fn told_apart(
    line: String,
    beside: impl Iterator<Item = String>,
    columns: u16,
) -> String {
    let fits = |text: &str| Span::raw(text).width() <= usize::from(columns);
    let alike = |other: String| {
        let same = line.char_indices().zip(other.chars()).take_while(|((_, a), b)| a == b);
        same.last().map_or(0, |((at, c), _)| at + c.len_utf8())
    };
    let alike = beside.map(alike).max().unwrap_or(0);
    let end = line[alike..].find(' ').map_or(line.len(), |word| alike + word);
    if fits(&line) || fits(&format!("{}..", &line[..end])) {
        return line;
    }
    let differs = line[..alike].rfind(' ').map_or(0, |blank| blank + 1);
    format!("{} {}", fitting(line[..differs].into(), columns / 3), &line[differs..])
}

/// The lines of a text, each at most so many columns wide; a word too long for a line is cut.
pub(super) fn wrap(text: &str, columns: u16) -> Vec<String> {
    let columns = usize::from(columns.max(1));
    let width = |text: &str| Span::raw(text).width();
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        let mut rest = word;
        let used = lines.last().map_or(0, |line| width(line));
        if used > 0 && used + 1 + width(rest) <= columns {
            if let Some(line) = lines.last_mut() {
                line.push(' ');
                line.push_str(rest);
            }
            continue;
        }
        if used > 0 {
            lines.push(String::new());
        }
        while width(rest) > columns {
            // At least one character a line, however narrow it is.
            let fits = rest.char_indices().map(|(at, c)| at + c.len_utf8());
            let cut = fits.take_while(|end| width(&rest[..*end]) <= columns).last();
            let cut = cut.or_else(|| rest.chars().next().map(char::len_utf8)).unwrap_or(rest.len());
            if let Some(line) = lines.last_mut() {
                line.push_str(&rest[..cut]);
            }
            rest = &rest[cut..];
            lines.push(String::new());
        }
        if let Some(line) = lines.last_mut() {
            line.push_str(rest);
        }
    }
    lines
}
