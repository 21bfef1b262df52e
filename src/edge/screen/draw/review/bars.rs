//! The bar of a row: a share with its whiskers, an edge over its figure, a place against its kiln,
//! a cost and what of it was lost.

use crate::scene::Bar;

/// The strokes a bar is made of.
pub(super) struct Strokes {
    pub(super) full: char,
    pub(super) light: char,
    pub(super) level: char,
    pub(super) left: char,
    pub(super) right: char,
    pub(super) middle: char,
    pub(super) figure: char,
    /// None, one, two, ... many in a cell.
    pub(super) heap: [char; 5],
}

const UNICODE: Strokes = Strokes {
    full: '█',
    light: '▒',
    level: '─',
    left: '├',
    right: '┤',
    middle: '●',
    figure: '┃',
    heap: [' ', '·', ':', '▪', '█'],
};

const ASCII: Strokes = Strokes {
    full: '=',
    light: ':',
    level: '-',
    left: '[',
    right: ']',
    middle: 'o',
    figure: '#',
    heap: [' ', '.', ':', '+', '#'],
};

pub(super) fn strokes(ascii: bool) -> &'static Strokes {
    if ascii { &ASCII } else { &UNICODE }
}

/// A bar in this many columns: an interval as whiskers, over what is filled, with its middle and its
/// figure.
pub(super) fn bar(bar: Bar, columns: usize, ascii: bool) -> String {
    let strokes = strokes(ascii);
    let mut cells = vec![' '; columns];
    let last = columns.saturating_sub(1);
    let cell = |part: f64| (part.clamp(0.0, 1.0) * last as f64).round() as usize;
    if columns == 0 {
        return String::new();
    }
    if let Some((full, all)) = bar.amounts {
        let counted = |part: f64| ((part * columns as f64).round() as usize).min(columns);
        cells[..counted(all)].fill(strokes.light);
        cells[..counted(full)].fill(strokes.full);
    }
    if let Some((from, to)) = bar.full {
        cells[cell(from)..=cell(to)].fill(strokes.full);
    }
    if let Some((low, high)) = bar.whiskers {
        let between = cells[cell(low)..=cell(high)].iter_mut();
        between.filter(|cell| **cell == ' ').for_each(|cell| *cell = strokes.level);
        cells[cell(low)] = strokes.left;
        cells[cell(high)] = strokes.right;
    }
    for (part, stroke) in [(bar.middle, strokes.middle), (bar.figure, strokes.figure)] {
        if let Some(part) = part {
            cells[cell(part)] = stroke;
        }
    }
    cells.into_iter().collect()
}
