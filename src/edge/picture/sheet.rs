//! A page of SVG that knows where text stands, so that no text is drawn over another.

use std::fmt::Write as _;

use super::width::{ASCENT, DESCENT, fitted, text_width};

/// Ink and the few colours; each thing drawn also differs by its form or its word.
pub const INK: &str = "#26221f";
pub const PALE: &str = "#8b837b";
pub const LINE: &str = "#d9d2c9";
pub const PAPER: &str = "#fffdf9";
pub const EMBER: &str = "#a8431f";
pub const STRAW: &str = "#f1dcae";
pub const SLATE: &str = "#31566b";

/// The fonts a viewer may take: all as narrow as the first or narrower.
const FONTS: &str = "DejaVu Sans, Liberation Sans, Helvetica, Arial, sans-serif";

/// A rectangle, from its upper left corner.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Area {
    pub x: f64,
    pub y: f64,
    pub width: f64,
    pub height: f64,
}

/// Which part of a text stands at its x.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    Start,
    Middle,
    End,
}

/// How a text is set.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Type {
    pub size: f64,
    pub bold: bool,
    pub colour: &'static str,
}

/// A page being drawn.
#[derive(Debug, Clone)]
pub struct Sheet {
    width: f64,
    height: f64,
    body: String,
    texts: Vec<Area>,
}

impl Area {
    pub fn right(&self) -> f64 {
        self.x + self.width
    }

    pub fn bottom(&self) -> f64 {
        self.y + self.height
    }

    fn touches(&self, other: &Area) -> bool {
        self.x < other.right()
            && other.x < self.right()
            && self.y < other.bottom()
            && other.y < self.bottom()
    }
}

impl Type {
    pub const fn plain(size: f64) -> Type {
        Type { size, bold: false, colour: INK }
    }
    pub const fn bold(size: f64) -> Type {
        Type { size, bold: true, colour: INK }
    }
    pub const fn pale(size: f64) -> Type {
        Type { size, bold: false, colour: PALE }
    }

    /// The width of a text set so.
    pub fn width(self, text: &str) -> f64 {
        text_width(text, self.size, self.bold)
    }

    /// Where a text set so would stand.
    pub fn area(self, x: f64, baseline: f64, anchor: Anchor, text: &str) -> Area {
        let width = self.width(text);
        let x = match anchor {
            Anchor::Start => x,
            Anchor::Middle => x - 0.5 * width,
            Anchor::End => x - width,
        };
        let height = (ASCENT + DESCENT) * self.size;
        Area { x, y: baseline - ASCENT * self.size, width, height }
    }
}

impl Sheet {
    pub fn new(width: f64, height: f64) -> Sheet {
        let mut sheet = Sheet { width, height, body: String::new(), texts: Vec::new() };
        let whole = Area { x: 0.0, y: 0.0, width, height };
        sheet.fill(whole, PAPER);
        sheet
    }

    /// Whether no text stands here yet, and it is on the page.
    pub fn is_free(&self, area: &Area) -> bool {
        area.x >= 0.0
            && area.y >= 0.0
            && area.right() <= self.width
            && area.bottom() <= self.height
            && !self.texts.iter().any(|text| text.touches(area))
    }

    /// Draws a text whose place is free; a text that would touch another is left out. Says whether
    /// it was drawn.
    pub fn text(&mut self, x: f64, baseline: f64, anchor: Anchor, set: Type, text: &str) -> bool {
        let area = set.area(x, baseline, anchor, text);
        if text.is_empty() || !self.is_free(&area) {
            return false;
        }
        self.texts.push(area);
        let anchor = match anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        let weight = if set.bold { " font-weight=\"bold\"" } else { "" };
        let _ = writeln!(
            self.body,
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\" text-anchor=\"{anchor}\" fill=\"{}\"{weight}>{}</text>",
            short(x),
            short(baseline),
            short(set.size),
            set.colour,
            escaped(text)
        );
        true
    }

    /// The same, cut to a width.
    pub fn text_within(
        &mut self,
        (x, baseline): (f64, f64),
        anchor: Anchor,
        set: Type,
        text: &str,
        width: f64,
    ) -> bool {
        self.text(x, baseline, anchor, set, &fitted(text, set.size, set.bold, width))
    }

    pub fn line(&mut self, from: (f64, f64), to: (f64, f64), colour: &str, width: f64) {
        let _ = writeln!(
            self.body,
            "<path d=\"M{} {}L{} {}\" stroke=\"{colour}\" stroke-width=\"{}\"/>",
            short(from.0),
            short(from.1),
            short(to.0),
            short(to.1),
            short(width)
        );
    }

    pub fn dashed(&mut self, from: (f64, f64), to: (f64, f64), colour: &str) {
        let _ = writeln!(
            self.body,
            "<path d=\"M{} {}L{} {}\" stroke=\"{colour}\" stroke-dasharray=\"4 3\"/>",
            short(from.0),
            short(from.1),
            short(to.0),
            short(to.1)
        );
    }

    /// A line through all these points.
    pub fn polyline(&mut self, points: &[(f64, f64)], colour: &str, width: f64) {
        let path = path(points);
        let _ = writeln!(
            self.body,
            "<path d=\"{path}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"{}\" stroke-linejoin=\"round\"/>",
            short(width)
        );
    }

    /// A filled shape with these corners.
    pub fn polygon(&mut self, points: &[(f64, f64)], fill: &str, stroke: &str) {
        let path = path(points);
        let _ = writeln!(self.body, "<path d=\"{path}Z\" fill=\"{fill}\" stroke=\"{stroke}\"/>");
    }

    pub fn dot(&mut self, (x, y): (f64, f64), radius: f64, fill: &str) {
        let _ = writeln!(
            self.body,
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" fill=\"{fill}\"/>",
            short(x),
            short(y),
            short(radius)
        );
    }

    pub fn fill(&mut self, area: Area, fill: &str) {
        let _ = writeln!(
            self.body,
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"{fill}\"/>",
            short(area.x),
            short(area.y),
            short(area.width.max(0.0)),
            short(area.height.max(0.0))
        );
    }

    pub fn frame(&mut self, area: Area, stroke: &str) {
        let _ = writeln!(
            self.body,
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" rx=\"4\" fill=\"none\" stroke=\"{stroke}\"/>",
            short(area.x),
            short(area.y),
            short(area.width.max(0.0)),
            short(area.height.max(0.0))
        );
    }

    /// The finished picture; `title` is read out by screen readers.
    pub fn svg(&self, title: &str) -> String {
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}\" height=\"{h}\" viewBox=\"0 0 {w} {h}\" font-family=\"{FONTS}\">\n<title>{}</title>\n{}</svg>\n",
            escaped(title),
            self.body,
            w = short(self.width),
            h = short(self.height)
        )
    }
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
