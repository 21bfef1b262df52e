//! A page as SVG.

use std::fmt::Write as _;

use super::sheet::{Anchor, Area, CORNER, Mark, Sheet, Type};

/// The fonts a viewer may take: the first is the widest, but for some capitals.
const FONTS: &str = "DejaVu Sans, Liberation Sans, Helvetica, Arial, sans-serif";

/// The page as the text of an SVG file; its title is read out by screen readers.
pub fn svg(sheet: &Sheet) -> String {
    let (width, height) = sheet.size();
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}\" height=\"{h}\" viewBox=\"0 0 {w} {h}\" font-family=\"{FONTS}\">\n<title>{}</title>\n",
        escaped(sheet.title()),
        w = short(width),
        h = short(height)
    );
    for mark in sheet.marks() {
        svg.push_str(&element(mark));
        svg.push('\n');
    }
    svg.push_str("</svg>\n");
    svg
}

fn element(mark: &Mark) -> String {
    match mark {
        Mark::Text { x, baseline, anchor, set, text } => {
            text_element((*x, *baseline), *anchor, *set, text)
        }
        Mark::Line { from, to, colour, width } => format!(
            "<path d=\"{}\" stroke=\"{colour}\" stroke-width=\"{}\"/>",
            path(&[*from, *to]),
            short(*width)
        ),
        Mark::Dashed { from, to, colour } => format!(
            "<path d=\"{}\" stroke=\"{colour}\" stroke-dasharray=\"4 3\"/>",
            path(&[*from, *to])
        ),
        Mark::Polyline { points, colour, width } => format!(
            "<path d=\"{}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"{}\" stroke-linejoin=\"round\"/>",
            path(points),
            short(*width)
        ),
        Mark::Polygon { points, fill, stroke } => {
            format!("<path d=\"{}Z\" fill=\"{fill}\" stroke=\"{stroke}\"/>", path(points))
        }
        Mark::Dot { middle: (x, y), radius, fill } => format!(
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" fill=\"{fill}\"/>",
            short(*x),
            short(*y),
            short(*radius)
        ),
        Mark::Fill { area, fill } => format!("<rect {} fill=\"{fill}\"/>", placed(area)),
        Mark::Frame { area, stroke } => format!(
            "<rect {} rx=\"{}\" fill=\"none\" stroke=\"{stroke}\"/>",
            placed(area),
            short(CORNER)
        ),
    }
}

fn text_element((x, y): (f64, f64), anchor: Anchor, set: Type, text: &str) -> String {
    let anchor = match anchor {
        Anchor::Start => "start",
        Anchor::Middle => "middle",
        Anchor::End => "end",
    };
    let weight = if set.bold { " font-weight=\"bold\"" } else { "" };
    format!(
        "<text x=\"{}\" y=\"{}\" font-size=\"{}\" text-anchor=\"{anchor}\" fill=\"{}\"{weight}>{}</text>",
        short(x),
        short(y),
        short(set.size),
        set.colour,
        escaped(text)
    )
}

fn placed(area: &Area) -> String {
    format!(
        "x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"",
        short(area.x),
        short(area.y),
        short(area.width.max(0.0)),
        short(area.height.max(0.0))
    )
}

fn path(points: &[(f64, f64)]) -> String {
    let mut path = String::new();
    for (index, (x, y)) in points.iter().enumerate() {
        let letter = if index == 0 { 'M' } else { 'L' };
        let _ = write!(path, "{letter}{} {}", short(*x), short(*y));
    }
    path
}

/// One decimal, and none where it says nothing.
fn short(value: f64) -> String {
    let text = format!("{value:.1}");
    let text = text.strip_suffix(".0").unwrap_or(&text);
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// Text as it may stand in XML; control characters, which XML forbids, become blanks.
pub fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            c if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') => out.push(' '),
            c => out.push(c),
        }
    }
    out
}
