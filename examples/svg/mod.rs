//! A buffer of cells as an SVG picture.

use std::fmt::Write;

use ratatui::buffer::{Buffer, Cell};
use ratatui::style::{Color, Modifier};

/// A cell in the picture's own units; a braille dot and a quarter of a cell come out whole.
const WIDE: f64 = 10.0;
const HIGH: f64 = 20.0;
const FULL: &str = "█";
const INK: &str = "#f0e8dc";
const PAPER: &str = "#14110f";

/// The picture.
pub(crate) fn of(buffer: &Buffer) -> String {
    let (columns, rows) = (f64::from(buffer.area.width), f64::from(buffer.area.height));
    let (width, height) = (columns * WIDE, rows * HIGH);
    let mut svg = String::new();
    let _ = writeln!(
        svg,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" \
         font-family=\"DejaVu Sans Mono, Menlo, Consolas, monospace\" font-size=\"16.6\">\n\
         <rect width=\"{width}\" height=\"{height}\" fill=\"{PAPER}\"/>"
    );
    for (row, places) in (0u32..).zip(buffer.area.rows()) {
        let cells: Vec<&Cell> = places.positions().map(|position| &buffer[position]).collect();
        let top = f64::from(row) * HIGH;
        papers(&cells, top, &mut svg);
        shapes(&cells, top, &mut svg);
        letters(&cells, top, &mut svg);
    }
    svg.push_str("</svg>\n");
    svg
}

fn papers(cells: &[&Cell], top: f64, svg: &mut String) {
    for (left, run) in runs(cells, ground) {
        let paper = ground(run[0]);
        if paper != PAPER {
            rect(svg, left as f64 * WIDE, top, run.len() as f64 * WIDE, HIGH, &paper);
        }
    }
}

/// What fills most of a cell: its paper, or its ink where it is a full block.
fn ground(cell: &Cell) -> String {
    let (ink, paper) = colours(cell);
    if cell.symbol() == FULL { ink } else { paper }
}

/// Blocks, dots and frames, which have to meet their neighbours.
fn shapes(cells: &[&Cell], top: f64, svg: &mut String) {
    for (column, cell) in cells.iter().enumerate() {
        let left = column as f64 * WIDE;
        let ink = colours(cell).0;
        let Some(c) = cell.symbol().chars().next() else { continue };
        if let Some(quarters) = quarters(c).filter(|_| cell.symbol() != FULL) {
            for at in (0..4).filter(|at| quarters >> at & 1 == 1) {
                let (x, y) = (left + f64::from(at % 2) * 5.0, top + f64::from(at / 2) * 10.0);
                rect(svg, x, y, 5.0, 10.0, &ink);
            }
        }
        if let Some(bits) = u32::from(c).checked_sub(0x2800).filter(|bits| *bits < 256) {
            const PLACES: [(f64, f64); 8] = [
                (0.0, 0.0),
                (0.0, 1.0),
                (0.0, 2.0),
                (1.0, 0.0),
                (1.0, 1.0),
                (1.0, 2.0),
                (0.0, 3.0),
                (1.0, 3.0),
            ];
            for (_, (x, y)) in (0..8).zip(PLACES).filter(|(bit, _)| bits >> bit & 1 == 1) {
                let (x, y) = (left + 2.5 + 5.0 * x, top + 2.5 + 5.0 * y);
                let _ = writeln!(svg, "<circle cx=\"{x}\" cy=\"{y}\" r=\"1.9\" fill=\"{ink}\"/>");
            }
        }
        if let Some(path) = frame(c) {
            let _ = writeln!(
                svg,
                "<path transform=\"translate({left} {top})\" d=\"{path}\" stroke=\"{ink}\" \
                 fill=\"none\"/>"
            );
        }
    }
}

/// Words, each placed by itself, so that a font of another width does no harm beyond them.
fn letters(cells: &[&Cell], top: f64, svg: &mut String) {
    let bold = |cell: &Cell| cell.modifier.contains(Modifier::BOLD);
    let style = |cell: &Cell| (colours(cell).0, bold(cell), is_letter(cell));
    for (start, run) in runs(cells, style).into_iter().filter(|(_, run)| is_letter(run[0])) {
        let text: String = run.iter().map(|cell| cell.symbol()).collect();
        let text = text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;");
        let weight = if bold(run[0]) { " font-weight=\"bold\"" } else { "" };
        let (x, y, ink) = (start as f64 * WIDE, top + 15.0, colours(run[0]).0);
        let _ = writeln!(svg, "<text x=\"{x}\" y=\"{y}\" fill=\"{ink}\"{weight}>{text}</text>");
    }
}

/// Whether a cell is written rather than drawn.
fn is_letter(cell: &Cell) -> bool {
    let c = cell.symbol().chars().next().unwrap_or(' ');
    let drawn = quarters(c).is_some() || frame(c).is_some();
    !(c == ' ' || drawn || ('\u{2800}'..'\u{2900}').contains(&c))
}

/// Neighbours alike in something, and where they begin.
fn runs<'a, T: PartialEq>(
    cells: &'a [&'a Cell],
    alike: impl Fn(&Cell) -> T,
) -> Vec<(usize, &'a [&'a Cell])> {
    let mut start = 0;
    let mut runs = Vec::new();
    for run in cells.chunk_by(|a, b| alike(a) == alike(b)) {
        runs.push((start, run));
        start += run.len();
    }
    runs
}

/// Ink and paper.
fn colours(cell: &Cell) -> (String, String) {
    let hex = |colour: Color, or: &str| match colour {
        Color::Rgb(red, green, blue) => format!("#{red:02x}{green:02x}{blue:02x}"),
        _ => or.to_owned(),
    };
    let (ink, paper) = (hex(cell.fg, INK), hex(cell.bg, PAPER));
    if cell.modifier.contains(Modifier::REVERSED) { (paper, ink) } else { (ink, paper) }
}

fn rect(svg: &mut String, x: f64, y: f64, width: f64, height: f64, fill: &str) {
    let _ = writeln!(
        svg,
        "<rect x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\" fill=\"{fill}\" \
         shape-rendering=\"crispEdges\"/>"
    );
}

/// The quarters of a cell a block fills: upper left, upper right, lower left, lower right.
fn quarters(c: char) -> Option<usize> {
    const BLOCKS: &str = "▘▝▀▖▌▞▛▗▚▐▜▄▙▟█";
    BLOCKS.chars().position(|block| block == c).map(|at| at + 1)
}

/// The strokes of a frame.
fn frame(c: char) -> Option<&'static str> {
    Some(match c {
        '─' => "M0 10H10",
        '│' => "M5 0V20",
        '╭' => "M5 20V15Q5 10 10 10",
        '╮' => "M0 10Q5 10 5 15V20",
        '╰' => "M5 0V5Q5 10 10 10",
        '╯' => "M0 10Q5 10 5 5V0",
        '┊' => "M5 1V4M5 6V9M5 11V14M5 16V19",
        _ => return None,
    })
}
