//! A control chart: the firings as dots, the average that follows them, and where it usually stays.
//!
//! ```text
//! + North probe: the probe on North reads 9 C more high since 2026-06-03 +
//! |   12 |                      :  .**.*     |
//! |    3 | - - - - - - - - - - -:*** - - - - |   the limits of the average
//! |    0 |  . .**.*.. *.***.*.*.:  .         |
//! |   -3 | - - - - - - - - - - -:- - - - - - |
//! |      2026-01-04      since 2026-06-03    |
//! +------------------------------------------+
//! ```

use ratatui::layout::Constraint::{Length, Min};
use ratatui::layout::{Layout, Rect};
use ratatui::text::Line;

use super::super::dots::{ACROSS, DOWN, Dots};
use crate::edge::screen::draw::Drawing;
use crate::edge::screen::theme::Part;
use crate::review::drift::Drift;
use crate::review::table::fixed;
use crate::scene::{Control, ReviewScene};
use crate::words;

/// Columns left of the chart for its numbers.
const GUTTER: u16 = 7;

pub(super) fn render(drift: &Drift, scene: &ReviewScene, picture: &Drawing<'_>, area: Rect) {
    let sentence = words::drift_sentence(drift, scene, picture.dial.scale);
    let rows = super::wrap::wrap(&sentence, area.width).len().min(2) as u16;
    let [said, chart, days] = Layout::vertical([Length(rows), Min(0), Length(1)]).areas(area);
    picture.paragraph(sentence, Part::Text, said);
    let [gutter, plot] = Layout::horizontal([Length(GUTTER), Min(0)]).areas(chart);
    if plot.height < 3 || plot.width < 10 || drift.values.is_empty() {
        return;
    }
    let frame = Frame { control: Control::of(drift, picture.dial.scale, scene.ahead), plot };
    frame.draw(picture);
    frame.numbers(picture, gutter);
    frame.days(picture, Rect { x: plot.x, width: plot.width, ..days });
}

/// A chart on the cells of the plot.
struct Frame {
    control: Control,
    plot: Rect,
}

impl Frame {
    /// The dot of a firing and a value.
    fn place(&self, index: usize, value: f64) -> (f64, f64) {
        let (columns, rows) = Dots::new(self.plot).size();
        let Control { low, high, values, .. } = &self.control;
        let last = values.len().saturating_sub(1).max(1) as f64;
        let x = index as f64 / last * (columns - 2.0);
        (x, (high - value.clamp(*low, *high)) / (high - low) * (rows - 1.0))
    }

    fn draw(&self, picture: &Drawing<'_>) {
        let control = &self.control;
        let [mut limits, mut dots, mut since, mut line] = [(); 4].map(|()| Dots::new(self.plot));
        let (width, height) = limits.size();
        for value in control.usual.iter().flat_map(|[low, _, high]| [low, high]) {
            let (_, y) = self.place(0, *value);
            limits.dashes((0.0, y), (width, y));
        }
        for (index, value) in control.values.iter().enumerate() {
            let (x, y) = self.place(index, *value);
            dots.set(x, y);
            dots.set(x + 1.0, y);
        }
        if let Some(began) = control.began {
            let (x, _) = self.place(began, control.high);
            since.dashes((x, 0.0), (x, height));
        }
        let (first, average) = &control.average;
        let average = average.iter().enumerate();
        let average: Vec<_> = average.map(|(at, mean)| self.place(at + first, *mean)).collect();
        average.windows(2).for_each(|pair| line.line(pair[0], pair[1]));
        for (dots, mark, part) in [
            (limits, "-", Part::Quiet),
            (dots, ".", Part::Text),
            (since, ":", Part::Text),
            (line, "*", Part::Accent),
        ] {
            dots.render(mark, part, picture);
        }
    }

    /// What is usual and the limits of the average, at their heights.
    fn numbers(&self, picture: &Drawing<'_>, gutter: Rect) {
        let Some([low, usual, high]) = self.control.usual else { return };
        let mut taken = Vec::new();
        for value in [usual, high, low] {
            let row = (self.place(0, value).1 / f64::from(DOWN)) as u16;
            let row = row.min(gutter.height.saturating_sub(1));
            if taken.contains(&row) {
                continue;
            }
            taken.push(row);
            let place = Rect { y: gutter.y + row, height: 1, width: gutter.width - 1, ..gutter };
            let line = Line::from(fixed(value, 0)).right_aligned();
            picture.draw(line.style(picture.style(Part::Quiet)), place);
        }
    }

    /// The first and the last day, and the day since which it has changed, where they do not touch.
    fn days(&self, picture: &Drawing<'_>, area: Rect) {
        let days = &self.control.days;
        let since = self.control.began.map(|at| (at, words::since(&days[at])));
        let ends = [0, days.len() - 1].map(|at| (at, days[at].clone()));
        let mut taken: Vec<(u16, u16)> = Vec::new();
        for (index, text) in since.into_iter().chain(ends) {
            let long = text.chars().count() as u16;
            let middle = (self.place(index, 0.0).0 / f64::from(ACROSS)) as u16;
            let left = middle.saturating_sub(long / 2).min(area.width.saturating_sub(long));
            if taken.iter().any(|(from, to)| left < to + 2 && left + long + 2 > *from) {
                continue;
            }
            taken.push((left, left + long));
            let place = Rect { x: area.x + left, width: long.min(area.width), ..area };
            picture.line(text, Part::Quiet, place);
        }
    }
}
