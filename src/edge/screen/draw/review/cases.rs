//! The firings a tolerance was learned from, by how far over or under the target they ended, over
//! the load type's own figures and the edges learned.
//!
//! ```text
//! under    . .
//! good        .::+#+:. .
//! over                 . : .
//! edge      [o-]       [-o--]
//! figure      #          #
//! cones  -1        0         1         2
//! ```

use ratatui::layout::Rect;

use super::bars::{Strokes, strokes};
use crate::edge::screen::draw::Drawing;
use crate::edge::screen::theme::Part;
use crate::firing::Verdict;
use crate::review::table::fixed;
use crate::review::tolerance::Tolerance;
use crate::scene::ReviewScene;
use crate::words;

/// Columns left of the lanes for their names.
const GUTTER: u16 = 8;
/// Rows it takes.
pub(super) const ROWS: u16 = 6;
/// Firings further off than this are drawn at the end, cones.
const FURTHEST: f64 = 4.0;

/// From cones to cells.
struct Axis {
    low: f64,
    high: f64,
    columns: usize,
}

impl Axis {
    fn of(row: &Tolerance, cases: &[(f64, Verdict)], columns: usize) -> Axis {
        let under = row.under.p975.max(row.under.figure);
        let over = row.over.p975.max(row.over.figure);
        let ends = cases.iter().map(|(cones, _)| *cones).chain([-under, over]);
        let (low, high) = ends
            .fold((-0.5, 0.5), |(low, high): (f64, f64), cones| (low.min(cones), high.max(cones)));
        Axis { low: low.max(-FURTHEST), high: high.min(FURTHEST), columns }
    }

    fn cell(&self, cones: f64) -> usize {
        let part = (cones.clamp(self.low, self.high) - self.low) / (self.high - self.low);
        (part * self.columns.saturating_sub(1) as f64).round() as usize
    }
}

pub(super) fn render(row: &Tolerance, scene: &ReviewScene, picture: &Drawing<'_>, area: Rect) {
    let columns = usize::from(area.width.saturating_sub(GUTTER + 1));
    if columns < 20 || area.height < ROWS {
        return;
    }
    let cases = scene.cases.get(&row.load_type).map_or(&[] as &[_], Vec::as_slice);
    let axis = Axis::of(row, cases, columns);
    let strokes = strokes(picture.theme.ascii);
    let mut lanes: Vec<(&str, String, Part)> = words::LANES
        .into_iter()
        .map(|(verdict, name)| (name, lane(&axis, cases, verdict, strokes), Part::Text))
        .collect();
    lanes.push((words::EDGE_LANE, edges(&axis, row, strokes), Part::Accent));
    lanes.push((words::FIGURE_LANE, figures(&axis, row, strokes), Part::Accent));
    lanes.push((words::CONES_LANE, numbers(&axis), Part::Quiet));
    for ((name, text, part), here) in lanes.into_iter().zip(area.rows()) {
        picture.line(name.into(), Part::Quiet, Rect { width: GUTTER, ..here });
        let place = Rect { x: here.x + GUTTER, width: columns as u16, ..here };
        picture.line(text, part, place);
    }
}

/// The firings with one verdict; the more there are in a cell, the fuller it is.
fn lane(axis: &Axis, cases: &[(f64, Verdict)], verdict: Verdict, strokes: &Strokes) -> String {
    let mut counts = vec![0_usize; axis.columns];
    for (cones, _) in cases.iter().filter(|(_, seen)| *seen == verdict) {
        counts[axis.cell(*cones)] += 1;
    }
    counts.into_iter().map(|count| strokes.heap[count.min(strokes.heap.len() - 1)]).collect()
}

fn edges(axis: &Axis, row: &Tolerance, strokes: &Strokes) -> String {
    let mut cells = vec![' '; axis.columns];
    for (side, edge) in [(-1.0, &row.under), (1.0, &row.over)] {
        let ends = [axis.cell(side * edge.p025), axis.cell(side * edge.p975)];
        let (from, to) = (ends[0].min(ends[1]), ends[0].max(ends[1]));
        cells[from..=to].fill(strokes.level);
        cells[from] = strokes.left;
        cells[to] = strokes.right;
        cells[axis.cell(side * edge.p50)] = strokes.middle;
    }
    cells.into_iter().collect()
}

fn figures(axis: &Axis, row: &Tolerance, strokes: &Strokes) -> String {
    let mut cells = vec![' '; axis.columns];
    for figure in [-row.under.figure, row.over.figure] {
        cells[axis.cell(figure)] = strokes.figure;
    }
    cells.into_iter().collect()
}

/// Whole cones under and over the target.
fn numbers(axis: &Axis) -> String {
    let mut cells = vec![' '; axis.columns];
    let whole = (axis.low.ceil() as i64)..=(axis.high.floor() as i64);
    for cones in whole {
        let text = if cones > 0 { format!("+{cones}") } else { fixed(cones as f64, 0) };
        let left = axis.cell(cones as f64).saturating_sub(text.len() / 2);
        let left = left.min(axis.columns.saturating_sub(text.len()));
        for (cell, c) in cells[left..].iter_mut().zip(text.chars()) {
            *cell = c;
        }
    }
    cells.into_iter().collect()
}
