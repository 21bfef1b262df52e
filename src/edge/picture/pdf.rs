//! A page as PDF, for printing: set in Helvetica, one of the fonts every viewer has, so that none is
//! put into the file.
//!
//! These fonts have the letters of Western Europe and no others. A text with another letter is
//! refused with a sentence that names it: leaving it out would print a wrong name.

use std::fmt;

use pdf_writer::types::LineJoinStyle;
use pdf_writer::{Content, Finish as _, Name, Pdf, Rect, Ref, Str, TextStr};

use super::fonts::{HELVETICA, HELVETICA_BOLD, byte};
use super::sheet::{Anchor, Area, CORNER, Mark, Sheet, Type};

/// Points (72 to the inch) in a unit of the page (96 to the inch).
const POINTS: f64 = 0.75;

/// A quarter of a circle as a cubic curve: how far its handles reach, in radii.
const HANDLE: f64 = 0.552_284_75;

/// A text a PDF's own fonts cannot set.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NoSuchLetter {
    pub text: String,
    pub letter: char,
}

impl fmt::Display for NoSuchLetter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "the fonts of a PDF have no \"{}\", as in \"{}\"; they have the letters of Western European languages",
            self.letter, self.text
        )
    }
}

impl std::error::Error for NoSuchLetter {}

/// The page as the bytes of a PDF file.
///
/// # Errors
/// [`NoSuchLetter`] for the first text that cannot be set.
pub fn pdf(sheet: &Sheet) -> Result<Vec<u8>, NoSuchLetter> {
    let [catalog, pages, page, content, info] = [1, 2, 3, 4, 5].map(Ref::new);
    let fonts = [(PLAIN, "Helvetica", Ref::new(6)), (BOLD, "Helvetica-Bold", Ref::new(7))];
    let (width, height) = sheet.size();
    let mut pdf = Pdf::new();
    pdf.catalog(catalog).pages(pages);
    pdf.pages(pages).kids([page]).count(1);
    let mut drawn = pdf.page(page);
    drawn.media_box(Rect::new(0.0, 0.0, part(width * POINTS), part(height * POINTS)));
    drawn.parent(pages).contents(content);
    let mut resources = drawn.resources();
    let mut named = resources.fonts();
    for (name, _, id) in fonts {
        named.pair(name, id);
    }
    named.finish();
    resources.finish();
    drawn.finish();
    for (_, font, id) in fonts {
        let mut font_of = pdf.type1_font(id);
        font_of.base_font(Name(font.as_bytes())).encoding_predefined(Name(b"WinAnsiEncoding"));
    }
    pdf.document_info(info).title(TextStr(sheet.title())).creator(TextStr("Spyhole"));
    let mut ink = Ink { content: Content::new() };
    // The page is drawn from its upper left corner, a PDF from its lower left.
    let [scale, up] = [POINTS, height * POINTS].map(part);
    ink.content.transform([scale, 0.0, 0.0, -scale, 0.0, up]);
    for mark in sheet.marks() {
        ink.draw(mark)?;
    }
    pdf.stream(content, &ink.content.finish());
    Ok(pdf.finish())
}

const PLAIN: Name<'static> = Name(b"F1");
const BOLD: Name<'static> = Name(b"F2");

/// A number as PDF has them, to a thousandth of a unit.
fn part(value: f64) -> f32 {
    ((value * 1000.0).round() / 1000.0) as f32
}

struct Ink {
    content: Content,
}

impl Ink {
    fn draw(&mut self, mark: &Mark) -> Result<(), NoSuchLetter> {
        match mark {
            Mark::Text { x, baseline, anchor, set, text } => {
                return self.text((*x, *baseline), *anchor, *set, text);
            }
            Mark::Line { from, to, colour, width } => self.stroke(&[*from, *to], colour, *width),
            Mark::Dashed { from, to, colour } => {
                self.content.set_dash_pattern([4.0, 3.0], 0.0);
                self.stroke(&[*from, *to], colour, 1.0);
                self.content.set_dash_pattern([], 0.0);
            }
            Mark::Polyline { points, colour, width } => {
                self.content.set_line_join(LineJoinStyle::RoundJoin);
                self.stroke(points, colour, *width);
                self.content.set_line_join(LineJoinStyle::MiterJoin);
            }
            Mark::Polygon { points, fill, stroke } => {
                self.path(points);
                self.content.close_path();
                self.paint(fill, stroke);
            }
            Mark::Dot { middle: (x, y), radius: r, fill } => {
                let around = Area { x: x - r, y: y - r, width: 2.0 * r, height: 2.0 * r };
                self.rounded(around, *r);
                self.paint(fill, "none");
            }
            Mark::Fill { area, fill } => {
                let [x, y] = [area.x, area.y].map(part);
                self.content.rect(x, y, part(area.width.max(0.0)), part(area.height.max(0.0)));
                self.paint(fill, "none");
            }
            Mark::Frame { area, stroke } => {
                self.rounded(*area, CORNER);
                self.paint("none", stroke);
            }
        }
        Ok(())
    }

    fn text(
        &mut self,
        (x, y): (f64, f64),
        anchor: Anchor,
        set: Type,
        text: &str,
    ) -> Result<(), NoSuchLetter> {
        let bytes = encoded(text)?;
        let font = if set.bold { &HELVETICA_BOLD } else { &HELVETICA };
        let width = bytes.iter().map(|byte| font.advance(*byte)).sum::<f64>() * set.size;
        let x = match anchor {
            Anchor::Start => x,
            Anchor::Middle => x - 0.5 * width,
            Anchor::End => x - width,
        };
        let [r, g, b] = rgb(set.colour).unwrap_or_default();
        self.content
            .begin_text()
            .set_fill_rgb(r, g, b)
            .set_font(if set.bold { BOLD } else { PLAIN }, part(set.size))
            // The page is upside down to the letters.
            .set_text_matrix([1.0, 0.0, 0.0, -1.0, part(x), part(y)])
            .show(Str(&bytes))
            .end_text();
        Ok(())
    }

    fn path(&mut self, points: &[(f64, f64)]) {
        for (index, (x, y)) in points.iter().enumerate() {
            let (x, y) = (part(*x), part(*y));
            if index == 0 {
                self.content.move_to(x, y)
            } else {
                self.content.line_to(x, y)
            };
        }
    }

    fn stroke(&mut self, points: &[(f64, f64)], colour: &str, width: f64) {
        if points.is_empty() {
            return;
        }
        self.path(points);
        self.content.set_line_width(part(width));
        self.paint("none", colour);
        self.content.set_line_width(1.0);
    }

    /// The outline of a rectangle whose corners are rounded by this radius.
    fn rounded(&mut self, area: Area, radius: f64) {
        let r = radius.min(0.5 * area.width).min(0.5 * area.height).max(0.0);
        let (left, top, right, bottom) = (area.x, area.y, area.right(), area.bottom());
        let from = r * (1.0 - HANDLE);
        // Each side from where it begins, then the corner at its end.
        let sides = [
            [(right - r, top), (right - from, top), (right, top + from), (right, top + r)],
            [
                (right, bottom - r),
                (right, bottom - from),
                (right - from, bottom),
                (right - r, bottom),
            ],
            [(left + r, bottom), (left + from, bottom), (left, bottom - from), (left, bottom - r)],
            [(left, top + r), (left, top + from), (left + from, top), (left + r, top)],
        ];
        self.content.move_to(part(left + r), part(top));
        for [begin, one, two, end] in sides {
            self.content.line_to(part(begin.0), part(begin.1));
            let [x1, y1, x2, y2, x3, y3] = [one.0, one.1, two.0, two.1, end.0, end.1].map(part);
            self.content.cubic_to(x1, y1, x2, y2, x3, y3);
        }
        self.content.close_path();
    }

    /// Fills and strokes the path that was drawn; `none` leaves that out.
    fn paint(&mut self, fill: &str, stroke: &str) {
        let (fill, stroke) = (rgb(fill), rgb(stroke));
        if let Some([r, g, b]) = fill {
            self.content.set_fill_rgb(r, g, b);
        }
        if let Some([r, g, b]) = stroke {
            self.content.set_stroke_rgb(r, g, b);
        }
        match (fill, stroke) {
            (Some(_), Some(_)) => self.content.fill_nonzero_and_stroke(),
            (Some(_), None) => self.content.fill_nonzero(),
            (None, Some(_)) => self.content.stroke(),
            (None, None) => self.content.end_path(),
        };
    }
}

/// The bytes of a text; control characters become blanks.
fn encoded(text: &str) -> Result<Vec<u8>, NoSuchLetter> {
    let letters = text.chars().map(|letter| match letter {
        letter if letter.is_control() => Ok(b' '),
        letter => byte(letter).ok_or_else(|| NoSuchLetter { text: text.to_owned(), letter }),
    });
    letters.collect()
}

/// `#a8431f` as shares of red, green and blue; `None` of `none`.
fn rgb(colour: &str) -> Option<[f32; 3]> {
    let number = u32::from_str_radix(colour.strip_prefix('#')?, 16).ok()?;
    Some([16, 8, 0].map(|shift| (number >> shift & 0xff) as f32 / 255.0))
}
