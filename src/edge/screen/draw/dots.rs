//! Dots finer than a cell: two by four to a cell with braille patterns, else one character a cell.

use ratatui::layout::Rect;
use ratatui::style::Style;

use super::Drawing;
use crate::edge::screen::theme::Part;

/// Dots to a cell, across and down.
pub(super) const ACROSS: u16 = 2;
pub(super) const DOWN: u16 = 4;

/// The bits of Unicode's braille block: three rows of two, then a fourth row.
pub(super) const BITS: [[u8; 2]; 4] = [[0x01, 0x08], [0x02, 0x10], [0x04, 0x20], [0x40, 0x80]];

/// A sheet of dots the size of an area.
#[derive(Debug, Clone)]
pub(super) struct Dots {
    area: Rect,
    cells: Vec<u8>,
}

impl Dots {
    pub(super) fn new(area: Rect) -> Dots {
        Dots { area, cells: vec![0; usize::from(area.width) * usize::from(area.height)] }
    }

    /// Columns and rows of dots.
    pub(super) fn size(&self) -> (f64, f64) {
        (f64::from(self.area.width * ACROSS), f64::from(self.area.height * DOWN))
    }

    /// Sets the dot at a place counted from the upper left; places outside are left out.
    pub(super) fn set(&mut self, x: f64, y: f64) {
        let (columns, rows) = self.size();
        if !(x >= 0.0 && y >= 0.0 && x < columns && y < rows) {
            return;
        }
        let (x, y) = (x as u16, y as u16);
        let cell = usize::from(y / DOWN) * usize::from(self.area.width) + usize::from(x / ACROSS);
        self.cells[cell] |= BITS[usize::from(y % DOWN)][usize::from(x % ACROSS)];
    }

    /// Sets the dots along a straight line.
    pub(super) fn line(&mut self, from: (f64, f64), to: (f64, f64)) {
        let (columns, rows) = self.size();
        let longest = (to.0 - from.0).abs().max((to.1 - from.1).abs());
        // A line far outside the sheet is not worth more steps than the sheet has dots.
        let steps = longest.ceil().clamp(1.0, 2.0 * (columns + rows)) as u32;
        for step in 0..=steps {
            let share = f64::from(step) / f64::from(steps);
            self.set(from.0 + (to.0 - from.0) * share, from.1 + (to.1 - from.1) * share);
        }
    }

    /// Sets every other pair of dots along a straight line.
    pub(super) fn dashes(&mut self, from: (f64, f64), to: (f64, f64)) {
        let (across, down) = (to.0 - from.0, to.1 - from.1);
        let dots = across.abs().max(down.abs()).ceil().clamp(1.0, 4000.0);
        for step in (0..=dots as u32).filter(|step| step % 4 < 2) {
            let share = f64::from(step) / dots;
            self.set(from.0 + across * share, from.1 + down * share);
        }
    }

    /// Draws the dots over what is there, in ASCII one letter a cell; the background of a cell is kept.
    pub(super) fn render(&self, letter: &str, part: Part, picture: &Drawing<'_>) {
        let (style, mut buffer) = (picture.style(part), picture.buffer());
        for (position, bits) in self.area.positions().zip(&self.cells) {
            if *bits == 0 || !buffer.area.contains(position) {
                continue;
            }
            let cell = &mut buffer[position];
            match picture.theme.ascii {
                true => cell.set_symbol(letter),
                false => {
                    let old = braille_bits(cell.symbol());
                    let pattern = char::from_u32(0x2800 + u32::from(old | *bits)).unwrap_or('.');
                    cell.set_char(pattern)
                }
            };
            cell.set_style(Style { bg: None, ..style });
        }
    }
}

/// The dots a cell shows already, so that lines may cross.
fn braille_bits(symbol: &str) -> u8 {
    symbol
        .chars()
        .next()
        .and_then(|c| u32::from(c).checked_sub(0x2800))
        .and_then(|bits| u8::try_from(bits).ok())
        .unwrap_or(0)
}
