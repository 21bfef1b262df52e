//! A page that knows where text stands, so that no text is drawn over another.
//!
//! What is drawn is kept as [`Mark`]s; [`super::svg`] and [`super::pdf`] write them down.

use super::width::{ASCENT, DESCENT, fitted, text_width};

/// Ink and the few colours; each thing drawn also differs by its form or its word.
pub const INK: &str = "#26221f";
pub const PALE: &str = "#8b837b";
pub const LINE: &str = "#d9d2c9";
pub const PAPER: &str = "#fffdf9";
pub const EMBER: &str = "#a8431f";
pub const STRAW: &str = "#f1dcae";
pub const SLATE: &str = "#31566b";

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

/// Something drawn. Places and sizes are those of the page, colours as in `#a8431f`, or `none`.
#[derive(Debug, Clone, PartialEq)]
pub enum Mark {
    Text {
        x: f64,
        baseline: f64,
        anchor: Anchor,
        set: Type,
        text: String,
    },
    Line {
        from: (f64, f64),
        to: (f64, f64),
        colour: &'static str,
        width: f64,
    },
    /// Four on, three off, and one wide.
    Dashed {
        from: (f64, f64),
        to: (f64, f64),
        colour: &'static str,
    },
    Polyline {
        points: Vec<(f64, f64)>,
        colour: &'static str,
        width: f64,
    },
    Polygon {
        points: Vec<(f64, f64)>,
        fill: &'static str,
        stroke: &'static str,
    },
    Dot {
        middle: (f64, f64),
        radius: f64,
        fill: &'static str,
    },
    Fill {
        area: Area,
        fill: &'static str,
    },
    /// With corners rounded by [`CORNER`].
    Frame {
        area: Area,
        stroke: &'static str,
    },
}

/// The radius of a frame's corners.
pub const CORNER: f64 = 4.0;

/// A page being drawn.
#[derive(Debug, Clone)]
pub struct Sheet {
    title: String,
    width: f64,
    height: f64,
    marks: Vec<Mark>,
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
    /// An empty page of this size, in 96ths of an inch; the title is what a viewer calls it.
    pub fn new(title: &str, width: f64, height: f64) -> Sheet {
        let (title, marks, texts) = (title.to_owned(), Vec::new(), Vec::new());
        let mut sheet = Sheet { title, width, height, marks, texts };
        sheet.fill(Area { x: 0.0, y: 0.0, width, height }, PAPER);
        sheet
    }

    pub fn title(&self) -> &str {
        &self.title
    }

    /// Width and height.
    pub fn size(&self) -> (f64, f64) {
        (self.width, self.height)
    }

    /// What was drawn, in the order it was.
    pub fn marks(&self) -> &[Mark] {
        &self.marks
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
        self.marks.push(Mark::Text { x, baseline, anchor, set, text: text.to_owned() });
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

    pub fn line(&mut self, from: (f64, f64), to: (f64, f64), colour: &'static str, width: f64) {
        self.marks.push(Mark::Line { from, to, colour, width });
    }

    pub fn dashed(&mut self, from: (f64, f64), to: (f64, f64), colour: &'static str) {
        self.marks.push(Mark::Dashed { from, to, colour });
    }

    /// A line through all these points.
    pub fn polyline(&mut self, points: &[(f64, f64)], colour: &'static str, width: f64) {
        self.marks.push(Mark::Polyline { points: points.to_vec(), colour, width });
    }

    /// A filled shape with these corners.
    pub fn polygon(&mut self, points: &[(f64, f64)], fill: &'static str, stroke: &'static str) {
        self.marks.push(Mark::Polygon { points: points.to_vec(), fill, stroke });
    }

    pub fn dot(&mut self, middle: (f64, f64), radius: f64, fill: &'static str) {
        self.marks.push(Mark::Dot { middle, radius, fill });
    }

    pub fn fill(&mut self, area: Area, fill: &'static str) {
        self.marks.push(Mark::Fill { area, fill });
    }

    pub fn frame(&mut self, area: Area, stroke: &'static str) {
        self.marks.push(Mark::Frame { area, stroke });
    }
}
