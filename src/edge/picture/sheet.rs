//! A picture as SVG that knows where text stands, so that no text is drawn over another.

use std::fmt::Write as _;

/// Ink and the few colours; each thing drawn also differs by its form or its word.
pub const INK: &str = "#26221f";
pub const PALE: &str = "#8b837b";
pub const LINE: &str = "#d9d2c9";
pub const PAPER: &str = "#fffdf9";
pub const EMBER: &str = "#a8431f";
pub const STRAW: &str = "#f1dcae";
pub const SLATE: &str = "#31566b";

/// The fonts a viewer may take.
pub const FONTS: &str = "DejaVu Sans, Liberation Sans, Helvetica, Arial, sans-serif";

/// The width of a letter in parts of the size, plain and bold: that of a digit of DejaVu Sans, the
/// widest of the common fonts. Wider letters even out with narrower ones in any name (a guess).
const LETTER: [f64; 2] = [0.64, 0.7];

/// Part of the size above the baseline, and below it, that a line takes.
const ASCENT: f64 = 0.93;
const DESCENT: f64 = 0.24;

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

/// A picture being drawn. Places and sizes are in 96ths of an inch, colours as in `#a8431f`.
#[derive(Debug, Clone)]
pub struct Sheet {
    width: f64,
    height: f64,
    svg: String,
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

    /// The width of a text set so; letters of double width count twice.
    pub fn width(self, text: &str) -> f64 {
        let columns = ratatui::text::Span::raw(text).width();
        columns as f64 * LETTER[usize::from(self.bold)] * self.size
    }

    /// The text, or as much of its beginning as fits into this width followed by `...`; empty when
    /// not even that fits.
    pub fn fitted(self, text: &str, width: f64) -> String {
        let mut shown = text.to_owned();
        let mut cut = text;
        while self.width(&shown) > width {
            let Some((last, _)) = cut.char_indices().next_back() else { return String::new() };
            cut = &cut[..last];
            shown = format!("{}...", cut.trim_end());
        }
        shown
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
    /// An empty picture of this size; the title is what a viewer calls it and a screen reader reads.
    pub fn new(title: &str, width: f64, height: f64) -> Sheet {
        let (w, h, title) = (short(width), short(height), escaped(title));
        let svg = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}\" height=\"{h}\" viewBox=\"0 0 {w} {h}\" font-family=\"{FONTS}\">\n<title>{title}</title>\n"
        );
        let mut sheet = Sheet { width, height, svg, texts: Vec::new() };
        sheet.fill(Area { x: 0.0, y: 0.0, width, height }, PAPER);
        sheet
    }

    /// The text of an SVG file.
    pub fn svg(&self) -> String {
        format!("{}</svg>\n", self.svg)
    }

    /// Draws a text whose place is free and on the sheet; a text that would touch another is left
    /// out. Says whether it was drawn.
    pub fn text(&mut self, x: f64, baseline: f64, anchor: Anchor, set: Type, text: &str) -> bool {
        let area = set.area(x, baseline, anchor, text);
        let outside = area.x < 0.0
            || area.y < 0.0
            || area.right() > self.width
            || area.bottom() > self.height;
        if text.is_empty() || outside || self.texts.iter().any(|text| text.touches(&area)) {
            return false;
        }
        self.texts.push(area);
        let Type { size, bold, colour } = set;
        let anchor = match anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        let weight = if bold { " font-weight=\"bold\"" } else { "" };
        let (x, y, size, text) = (short(x), short(baseline), short(size), escaped(text));
        self.element(format_args!(
            "<text x=\"{x}\" y=\"{y}\" font-size=\"{size}\" text-anchor=\"{anchor}\" fill=\"{colour}\"{weight}>{text}</text>"
        ));
        true
    }

    /// The same from its left end, cut to a width.
    pub fn text_within(&mut self, (x, y): (f64, f64), set: Type, text: &str, width: f64) -> bool {
        self.text(x, y, Anchor::Start, set, &set.fitted(text, width))
    }

    /// A straight line, or one through all these points.
    pub fn line(&mut self, points: &[(f64, f64)], colour: &str, width: f64) {
        if points.is_empty() {
            return;
        }
        let (path, width) = (path(points), short(width));
        self.element(format_args!(
            "<path d=\"{path}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"{width}\" stroke-linejoin=\"round\"/>"
        ));
    }

    /// An upright line, broken.
    pub fn dashed(&mut self, x: f64, (top, bottom): (f64, f64), colour: &str) {
        let path = path(&[(x, top), (x, bottom)]);
        self.element(format_args!(
            "<path d=\"{path}\" stroke=\"{colour}\" stroke-dasharray=\"4 3\"/>"
        ));
    }

    /// A filled shape with these corners.
    pub fn polygon(&mut self, points: &[(f64, f64)], fill: &str, stroke: &str) {
        let path = path(points);
        self.element(format_args!("<path d=\"{path}Z\" fill=\"{fill}\" stroke=\"{stroke}\"/>"));
    }

    pub fn dot(&mut self, (x, y): (f64, f64), radius: f64, fill: &str) {
        let (x, y, radius) = (short(x), short(y), short(radius));
        self.element(format_args!(
            "<circle cx=\"{x}\" cy=\"{y}\" r=\"{radius}\" fill=\"{fill}\"/>"
        ));
    }

    pub fn fill(&mut self, area: Area, fill: &str) {
        let Area { x, y, width, height } = area;
        let [x, y, width, height] = [x, y, width.max(0.0), height.max(0.0)].map(short);
        self.element(format_args!(
            "<rect x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\" fill=\"{fill}\"/>"
        ));
    }

    fn element(&mut self, element: std::fmt::Arguments<'_>) {
        let _ = writeln!(self.svg, "{element}");
    }
}

fn path(points: &[(f64, f64)]) -> String {
    let places: Vec<String> =
        points.iter().map(|(x, y)| format!("{} {}", short(*x), short(*y))).collect();
    format!("M{}", places.join("L"))
}

/// One decimal, and none where it says nothing.
fn short(value: f64) -> String {
    let text = format!("{value:.1}");
    let text = text.strip_suffix(".0").unwrap_or(&text);
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// Text as it may stand in SVG and HTML; control characters, which XML forbids, become blanks.
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
