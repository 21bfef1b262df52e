//! The bar of a row: a share with its whiskers, an edge over its figure, a place against its kiln,
//! a cost and what of it was lost.

use crate::review::cost::Costs;
use crate::review::evenness::Evenness;
use crate::review::tolerance::Edge;
use crate::review::wilson::Share;
use crate::scene::{ReviewRow, ReviewScene, side_of};

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

/// The bar of a row in this many columns; blank where a row has none.
pub(super) fn bar(row: &ReviewRow<'_>, scene: &ReviewScene, columns: usize, ascii: bool) -> String {
    let strokes = strokes(ascii);
    let cells = match row {
        _ if columns == 0 => Vec::new(),
        ReviewRow::Outcomes(_, group) => share(group.good, columns, strokes),
        ReviewRow::WentWith(row) => share(row.missed_with, columns, strokes),
        ReviewRow::Edge(row, side) => edge(side_of(row, *side), widest(scene), columns, strokes),
        ReviewRow::Place(map, at) => place(map, *at, columns, strokes),
        ReviewRow::Costs(_, group) => cost(group, scene, columns, strokes),
        ReviewRow::Overshoot(_) | ReviewRow::Probe(_) | ReviewRow::Series(_) => {
            vec![' '; columns]
        }
    };
    cells.into_iter().collect()
}

/// The cell of a part from 0 to 1.
fn cell(part: f64, columns: usize) -> usize {
    let last = columns.saturating_sub(1);
    ((part.clamp(0.0, 1.0) * last as f64).round() as usize).min(last)
}

/// Filled up to the share, with whiskers at both ends of its interval; nothing where there are too
/// few to say a share.
fn share(share: Share, columns: usize, strokes: &Strokes) -> Vec<char> {
    let mut cells = vec![' '; columns];
    let Some(value) = share.value().filter(|_| share.says_something()) else { return cells };
    let (low, high) = (cell(share.low, columns), cell(share.high, columns));
    if value > 0.0 {
        cells[..=cell(value, columns)].fill(strokes.full);
    }
    for cell in &mut cells[low..=high] {
        if *cell == ' ' {
            *cell = strokes.level;
        }
    }
    cells[low] = strokes.left;
    cells[high] = strokes.right;
    cells
}

/// The widest edge of all, so that all load types share one axis, cones.
fn widest(scene: &ReviewScene) -> f64 {
    let both = scene.tolerances.iter().flat_map(|row| [&row.under, &row.over]);
    both.map(|edge| edge.p975.max(edge.figure)).fold(1.0, f64::max)
}

fn edge(edge: &Edge, widest: f64, columns: usize, strokes: &Strokes) -> Vec<char> {
    let mut cells = vec![' '; columns];
    let at = |cones: f64| cell(cones / widest, columns);
    cells[at(edge.p025)..=at(edge.p975)].fill(strokes.level);
    cells[at(edge.p025)] = strokes.left;
    cells[at(edge.p975)] = strokes.right;
    cells[at(edge.p50)] = strokes.middle;
    cells[at(edge.figure)] = strokes.figure;
    cells
}

/// From the middle of the kiln to the left where it is colder, to the right where it is hotter.
fn place(map: &Evenness, at: usize, columns: usize, strokes: &Strokes) -> Vec<char> {
    let mut cells = vec![' '; columns];
    let reach = map.places.iter().map(|place| place.differs_c.abs()).fold(1.0, f64::max);
    let middle = cell(0.5, columns);
    let end = cell(0.5 + 0.5 * map.places[at].differs_c / reach, columns);
    cells[middle.min(end)..=middle.max(end)].fill(strokes.full);
    cells[middle] = strokes.figure;
    cells
}

/// What the loads cost and, beside it, what the misses lost; all groups share one axis.
fn cost(group: &Costs, scene: &ReviewScene, columns: usize, strokes: &Strokes) -> Vec<char> {
    let mut cells = vec![' '; columns];
    let sum = |group: &Costs| group.total + group.lost_under + group.lost_over;
    let whole = sum(&scene.all_costs);
    if whole <= 0.0 {
        return cells;
    }
    let columns_of = |value: f64| (value / whole * columns as f64).round() as usize;
    let (cost, all) = (columns_of(group.total), columns_of(sum(group)));
    cells[..all.min(columns)].fill(strokes.light);
    cells[..cost.min(columns)].fill(strokes.full);
    cells
}
