//! Filled shapes: dots two by four to a cell, each of one kind, drawn as finely as the terminal
//! can: in colour as quarters of a cell, without colour as braille patterns, in ASCII as letters.

use ratatui::buffer::Cell;
use ratatui::layout::Rect;
use ratatui::style::{Color, Style};

use super::Drawing;
use super::dots::{ACROSS, BITS, DOWN};
use crate::edge::screen::theme::{Depth, Inks};

/// What a dot shows; where several meet in the finest shape there is, the later one is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Dot {
    Nothing,
    Glow,
    Rim,
    /// Where a cone may be, but more likely is not.
    Range,
    /// A cone beside the target.
    Beside,
    Target,
}

/// The eight dots of a cell, a row after the other.
type Dots = [[Dot; 2]; 4];

/// Columns and rows of dots in an area.
pub(super) fn size(area: Rect) -> (f64, f64) {
    (f64::from(area.width * ACROSS), f64::from(area.height * DOWN))
}

/// Draws what `dot` says of each place, counted in dots from the upper left of the area.
pub(super) fn render(
    area: Rect,
    inks: &Inks,
    dot: impl Fn(f64, f64) -> Dot,
    picture: &Drawing<'_>,
) {
    let (theme, mut buffer) = (picture.theme, picture.buffer());
    for position in area.intersection(buffer.area).positions() {
        let left = f64::from((position.x - area.x) * ACROSS) + 0.5;
        let top = f64::from((position.y - area.y) * DOWN) + 0.5;
        let dots: Dots = std::array::from_fn(|row| {
            std::array::from_fn(|column| dot(left + column as f64, top + row as f64))
        });
        if dots == [[Dot::Nothing; 2]; 4] {
            continue;
        }
        let cell = &mut buffer[position];
        match (theme.ascii, theme.depth) {
            (true, _) => letter(&dots, inks, cell),
            (false, Depth::None) => braille(&dots, cell),
            (false, _) => quarters(&dots, inks, cell),
        }
    }
}

fn ink(dot: Dot, inks: &Inks) -> Option<Color> {
    match dot {
        Dot::Nothing => None,
        Dot::Glow => Some(inks.glow),
        Dot::Rim => Some(inks.rim),
        Dot::Range => Some(inks.range),
        Dot::Beside | Dot::Target => Some(inks.cone),
    }
}

/// Two kinds to a cell: the foremost, and the one seen most behind it.
fn quarters(dots: &Dots, inks: &Inks, cell: &mut Cell) {
    const SHAPES: [&str; 16] =
        [" ", "▘", "▝", "▀", "▖", "▌", "▞", "▛", "▗", "▚", "▐", "▜", "▄", "▙", "▟", "█"];
    let quarter = |at: usize| {
        let (column, row) = (at % 2, at / 2 * 2);
        dots[row][column].max(dots[row + 1][column])
    };
    let quarters: [Dot; 4] = std::array::from_fn(quarter);
    let front = quarters.into_iter().fold(Dot::Nothing, Dot::max);
    let behind = quarters.into_iter().filter(|dot| *dot != front);
    let behind = behind.max_by_key(|dot| quarters.iter().filter(|other| *other == dot).count());
    let shape: usize = (0..4).filter(|at| quarters[*at] == front).map(|at| 1 << at).sum();
    let style = Style { fg: ink(front, inks), ..Style::default() };
    match behind {
        None => cell.set_symbol(" ").set_style(Style { bg: ink(front, inks), ..style }),
        Some(behind) => {
            cell.set_symbol(SHAPES[shape]).set_style(Style { bg: ink(behind, inks), ..style })
        }
    };
}

/// Full dots for cones and rim, every fourth for where a cone may be.
fn braille(dots: &Dots, cell: &mut Cell) {
    let shown = |row: usize, column: usize| match dots[row][column] {
        Dot::Beside | Dot::Target | Dot::Rim => true,
        Dot::Range => [0, 2].contains(&row) && column == row / 2 % 2,
        Dot::Glow | Dot::Nothing => false,
    };
    let bits: u8 = (0..4)
        .flat_map(|row| (0..2).map(move |column| (row, column)))
        .filter(|(row, column)| shown(*row, *column))
        .map(|(row, column)| BITS[row][column])
        .sum();
    if bits > 0 {
        cell.set_char(char::from_u32(0x2800 + u32::from(bits)).unwrap_or('#'));
    }
}

/// A letter where a kind takes enough of the cell.
fn letter(dots: &Dots, inks: &Inks, cell: &mut Cell) {
    let count = |wanted: Dot| dots.iter().flatten().filter(|dot| **dot == wanted).count();
    // A cone that lies flat is thin: two dots of it are worth a letter.
    let (symbol, front) = if count(Dot::Target) >= 2 {
        ("#", Dot::Target)
    } else if count(Dot::Beside) >= 2 {
        ("%", Dot::Beside)
    } else if count(Dot::Rim) >= 3 {
        ("o", Dot::Rim)
    } else if count(Dot::Range) >= 3 {
        (".", Dot::Target)
    } else {
        (" ", Dot::Glow)
    };
    let inside = count(Dot::Nothing) + count(Dot::Rim) < 5;
    let style = Style { fg: ink(front, inks), ..Style::default() };
    let behind = if inside { ink(Dot::Glow, inks) } else { None };
    cell.set_symbol(symbol).set_style(Style { bg: behind, ..style });
}
