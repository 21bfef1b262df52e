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

use ratatui::buffer::Buffer;
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::text::Line;
use ratatui::widgets::Widget;

use super::super::dots::{DOWN, Dots};
use crate::edge::screen::draw::Picture;
use crate::edge::screen::theme::Part;
use crate::review::calendar::Day;
use crate::review::charts::{CUT_SIGMA, Chart, InControl};
use crate::review::drift::Drift;
use crate::scene::ReviewScene;
use crate::words;

/// Columns left of the chart for its numbers.
const GUTTER: u16 = 7;

pub(super) fn render(
    drift: &Drift,
    scene: &ReviewScene,
    picture: &Picture<'_>,
    area: Rect,
    buffer: &mut Buffer,
) {
    let sentence = words::drift_sentence(drift, scene, picture.dial.scale);
    let rows = super::wrap::wrap(&sentence, area.width).len().min(2) as u16;
    let [said, chart, days] =
        Layout::vertical([Constraint::Length(rows), Constraint::Min(0), Constraint::Length(1)])
            .areas(area);
    picture.paragraph(sentence, Part::Text, said, buffer);
    let [gutter, plot] =
        Layout::horizontal([Constraint::Length(GUTTER), Constraint::Min(0)]).areas(chart);
    if plot.height < 3 || plot.width < 10 || drift.values.is_empty() {
        return;
    }
    let frame = Frame::of(drift, plot);
    draw(drift, &frame, picture, plot, buffer);
    numbers(drift, &frame, picture, gutter, buffer);
    self::days(
        drift,
        &frame,
        scene,
        picture,
        Rect { x: plot.x, width: plot.width, ..days },
        buffer,
    );
}

/// The value, or how far it counts if it is further from the usual than that.
fn cut(drift: &Drift, value: f64) -> f64 {
    let Some(chart) = &drift.chart else { return value };
    let InControl { mean, sigma, .. } = chart.in_control;
    value.clamp(mean - CUT_SIGMA * sigma, mean + CUT_SIGMA * sigma)
}

/// From firings and values to dots.
struct Frame {
    low: f64,
    high: f64,
    last: f64,
    size: (f64, f64),
}

impl Frame {
    fn of(drift: &Drift, plot: Rect) -> Frame {
        let limits = drift.chart.iter().flat_map(|chart| {
            let half = Chart::limit_sigma() * chart.in_control.sigma;
            [chart.in_control.mean - half, chart.in_control.mean + half]
        });
        // As the chart itself, the picture takes no single wild firing at its word.
        let values = drift.values.iter().copied().map(|value| cut(drift, value));
        let all = values.chain(limits);
        let (low, high) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
            (low.min(value), high.max(value))
        });
        // A series that never moved still needs some height.
        let margin = (0.04 * (high - low)).max(0.5);
        let last = drift.values.len().saturating_sub(1).max(1) as f64;
        Frame { low: low - margin, high: high + margin, last, size: Dots::new(plot).size() }
    }

    fn place(&self, index: usize, value: f64) -> (f64, f64) {
        let (columns, rows) = self.size;
        let value = value.clamp(self.low, self.high);
        let x = index as f64 / self.last * (columns - 2.0);
        (x, (self.high - value) / (self.high - self.low) * (rows - 1.0))
    }

    /// The row of cells of a value, from the top of the plot.
    fn row(&self, value: f64) -> u16 {
        (self.place(0, value).1 / f64::from(DOWN)) as u16
    }

    /// The column of cells of a firing.
    fn column(&self, index: usize) -> u16 {
        (self.place(index, 0.0).0 / 2.0) as u16
    }
}

fn draw(drift: &Drift, frame: &Frame, picture: &Picture<'_>, plot: Rect, buffer: &mut Buffer) {
    let ascii = |mark| picture.theme.ascii.then_some(mark);
    let width = frame.size.0;
    if let Some(chart) = &drift.chart {
        let half = Chart::limit_sigma() * chart.in_control.sigma;
        let mut limits = Dots::new(plot);
        for value in [chart.in_control.mean - half, chart.in_control.mean + half] {
            let (_, y) = frame.place(0, value);
            limits.dashes((0.0, y), (width, y));
        }
        limits.render(ascii("-"), picture.style(Part::Quiet), buffer);
    }
    let mut dots = Dots::new(plot);
    for (index, value) in drift.values.iter().enumerate() {
        let (x, y) = frame.place(index, *value);
        dots.set(x, y);
        dots.set(x + 1.0, y);
    }
    dots.render(ascii("."), picture.style(Part::Text), buffer);
    let Some(chart) = &drift.chart else { return };
    if let Some(signal) = chart.signal {
        let (x, _) = frame.place(signal.began_at, frame.high);
        let mut since = Dots::new(plot);
        since.dashes((x, 0.0), (x, frame.size.1));
        since.render(ascii(":"), picture.style(Part::Text), buffer);
    }
    let usual = chart.in_control;
    let average = chart
        .ewma_sigma
        .iter()
        .enumerate()
        .map(|(at, sigmas)| frame.place(at + usual.count, usual.mean + sigmas * usual.sigma));
    let average: Vec<(f64, f64)> = average.collect();
    let mut line = Dots::new(plot);
    for pair in average.windows(2) {
        line.line(pair[0], pair[1]);
    }
    line.render(ascii("*"), picture.style(Part::Accent), buffer);
}

/// What is usual and the limits of the average, at their heights.
fn numbers(drift: &Drift, frame: &Frame, picture: &Picture<'_>, gutter: Rect, buffer: &mut Buffer) {
    let Some((high, usual, low)) = words::chart_axis(drift, picture.dial.scale) else { return };
    let Some(chart) = &drift.chart else { return };
    let half = Chart::limit_sigma() * chart.in_control.sigma;
    let mean = chart.in_control.mean;
    let mut taken = Vec::new();
    for (value, text) in [(mean, usual), (mean + half, high), (mean - half, low)] {
        let row = frame.row(value).min(gutter.height.saturating_sub(1));
        if taken.contains(&row) {
            continue;
        }
        taken.push(row);
        let place = Rect { y: gutter.y + row, height: 1, width: gutter.width - 1, ..gutter };
        let line = Line::from(text).right_aligned().style(picture.style(Part::Quiet));
        line.render(place, buffer);
    }
}

/// The first and the last day, and the day since which it has changed, where they do not touch.
fn days(
    drift: &Drift,
    frame: &Frame,
    scene: &ReviewScene,
    picture: &Picture<'_>,
    area: Rect,
    buffer: &mut Buffer,
) {
    let day = |index: usize| drift.when.get(index).map(|at| Day::of(*at, scene.ahead).to_string());
    let last = drift.values.len() - 1;
    let began = drift.signal().map(|signal| signal.began_at);
    let since = began.and_then(|at| Some((at, words::since(&day(at)?))));
    let first = day(0).map(|text| (0, text));
    let newest = day(last).map(|text| (last, text));
    let mut taken: Vec<(u16, u16)> = Vec::new();
    for (index, text) in [since, first, newest].into_iter().flatten() {
        let long = text.chars().count() as u16;
        let middle = frame.column(index);
        let left = middle.saturating_sub(long / 2).min(area.width.saturating_sub(long));
        if taken.iter().any(|(from, to)| left < to + 2 && left + long + 2 > *from) {
            continue;
        }
        taken.push((left, left + long));
        let place = Rect { x: area.x + left, width: long.min(area.width), ..area };
        picture.line(text, Part::Quiet, place, buffer);
    }
}
