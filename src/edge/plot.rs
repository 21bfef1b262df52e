//! A temperature curve in a terminal, as plain text.
//!
//! Drawn with the screen's own widgets into a buffer that is never shown, so that the command line
//! and the screen draw the same picture.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Color, Style};
use ratatui::symbols::Marker;
use ratatui::widgets::Widget;
use ratatui::widgets::canvas::{Canvas, Context, Line, Points};

use super::picture::axes::round_step;
use crate::scene::FiringScene;
use crate::schedule::simulate::{Role, simulate};
use crate::schedule::{Schedule, Simulation};
use crate::units::{Celsius, Scale, Span};

/// The smallest picture in which anything can be seen, in columns and rows.
pub const SMALLEST: (u16, u16) = (40, 10);

/// The steps that ticks are apart.
const STEPS: [f64; 5] = [1.0, 2.0, 2.5, 5.0, 10.0];

/// Columns left of the picture for the temperatures.
const GUTTER: u16 = 8;

/// Rows below the picture: the axis and the times.
const FOOT: u16 = 2;

/// A curve, and the moments to mark on it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Plot {
    /// Time in hours and temperature in the scale that is shown, in the order of time.
    pub curve: Vec<(f64, f64)>,
    /// Another curve, to be compared with it.
    pub beside: Vec<(f64, f64)>,
    /// What was read in the first one and not believed.
    pub set_aside: Vec<(f64, f64)>,
    pub marks: Vec<Mark>,
    /// What the temperatures are in: `C` or `F`.
    pub unit: &'static str,
}

/// A moment marked by an upright dotted line and its name.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    pub hours: f64,
    pub name: String,
}

impl Plot {
    /// The planned curve of a schedule with the drop of each cone of the pack.
    pub fn of_schedule(schedule: &Schedule, simulation: &Simulation, scale: Scale) -> Plot {
        let curve = schedule.plan().into_iter();
        let curve = curve.map(|(at, t)| (at.as_hours(), t.in_scale(scale))).collect();
        let mark = |role: Role| {
            let course = simulation.cone(role)?;
            let (at, _) = course.down?;
            let name = format!("{} {} down", role.name(), course.cone);
            Some(Mark { hours: at.as_hours(), name })
        };
        let marks = [Role::Guide, Role::Target, Role::Guard].into_iter().filter_map(mark).collect();
        Plot { curve, marks, unit: scale.letter(), ..Plot::default() }
    }

    /// The same of a schedule that was not followed yet; `None` if no cone of its family is known.
    pub fn of_planned(schedule: &Schedule, scale: Scale) -> Option<Plot> {
        let simulation = simulate(schedule, 1).ok()?;
        Some(Plot::of_schedule(schedule, &simulation, scale))
    }

    /// What was read in a firing, with its drop and its end; and in the one laid over it.
    pub fn of_firings(open: &[FiringScene], scale: Scale) -> Plot {
        let points = |points: &[(Span, Celsius)]| -> Vec<(f64, f64)> {
            points.iter().map(|(at, t)| (at.as_hours(), t.in_scale(scale))).collect()
        };
        let curve =
            |place: usize| open.get(place).map(|firing| points(&firing.curve)).unwrap_or_default();
        let mark = |at: Option<Span>, name: &str| {
            at.map(|at| Mark { hours: at.as_hours(), name: name.to_owned() })
        };
        let first = open.first();
        let down = mark(first.and_then(|firing| firing.down), "target seen down");
        let off = mark(first.and_then(|firing| firing.off), "off");
        let marks = down.into_iter().chain(off).collect();
        let set_aside = first.map(|firing| points(&firing.set_aside)).unwrap_or_default();
        Plot { curve: curve(0), beside: curve(1), set_aside, marks, unit: scale.letter() }
    }

    pub fn is_empty(&self) -> bool {
        self.curve.is_empty() && self.beside.is_empty()
    }
}

/// Draws the plot in this many columns and rows, at least [`SMALLEST`]. `ascii` keeps to characters
/// every terminal has.
pub fn curve_plot(plot: &Plot, width: u16, height: u16, ascii: bool) -> String {
    let area = Rect::new(0, 0, width.max(SMALLEST.0), height.max(SMALLEST.1));
    let mut buffer = Buffer::empty(area);
    draw(plot, ascii, area, &mut buffer);
    as_lines(&buffer)
}

/// Draws the plot into part of a buffer: the names of the marks, a row each, the picture, its foot.
/// Draws nothing in less room than [`SMALLEST`].
///
/// ```text
///              target down
///  1000 C |         ....  <- picture
///   500 C |    ....:
///     0 C |....    :
///         +-----------
///         0 h     4 h     <- foot
/// ```
pub fn draw(plot: &Plot, ascii: bool, area: Rect, buffer: &mut Buffer) {
    if area.width < SMALLEST.0 || area.height < SMALLEST.1 {
        return;
    }
    let head = (plot.marks.len() as u16).min(area.height / 3);
    let picture = Rect {
        x: area.x + GUTTER,
        y: area.y + head,
        width: area.width.saturating_sub(GUTTER),
        height: area.height.saturating_sub(FOOT + head),
    };
    let points = || plot.curve.iter().chain(&plot.beside);
    let moments = points().map(|(hours, _)| *hours).chain(plot.marks.iter().map(|mark| mark.hours));
    let hours = moments.fold(0.1, f64::max);
    let hottest = points().map(|(_, t)| *t).fold(1.0, f64::max);
    let step = round_step(hottest / f64::from(picture.height / 3).max(2.0), &STEPS);
    let ceiling = (hottest / step).ceil().max(1.0) * step;
    let (curve_marker, beside_marker, mark_marker) = if ascii {
        (Marker::Custom('*'), Marker::Custom('o'), Marker::Custom(':'))
    } else {
        (Marker::Braille, Marker::Custom('○'), Marker::Dot)
    };
    Canvas::default()
        .x_bounds([0.0, hours])
        .y_bounds([0.0, ceiling])
        .marker(mark_marker)
        .paint(|context| {
            for mark in &plot.marks {
                let rows = i32::from(picture.height);
                let dots: Vec<(f64, f64)> = (0..rows)
                    .step_by(2)
                    .map(|row| (mark.hours, ceiling * f64::from(row) / f64::from(rows - 1)))
                    .collect();
                context.draw(&Points::new(&dots, Color::Reset));
            }
            context.layer();
            context.marker(beside_marker);
            join(context, &plot.beside);
            context.layer();
            context.marker(curve_marker);
            join(context, &plot.curve);
            context.layer();
            context.marker(Marker::Custom('x'));
            let shown = plot.set_aside.iter().copied().map(|(at, t)| (at, t.min(ceiling)));
            context.draw(&Points::new(&shown.collect::<Vec<_>>(), Color::Reset));
        })
        .render(picture, buffer);
    for (row, mark) in plot.marks.iter().take(usize::from(head)).enumerate() {
        let column = (mark.hours / hours * f64::from(picture.width - 1)).round() as u16;
        let words = mark.name.chars().count() as u16;
        // It ends above its line: the drops are near the end, where there is no room to the right.
        let x = picture.x + (column + 1).saturating_sub(words);
        buffer.set_string(x, area.y + row as u16, &mark.name, Style::default());
    }
    axes(plot, ascii, picture, (hours, ceiling, step), buffer);
}

/// Joins the points of a curve by straight lines.
fn join(context: &mut Context<'_>, curve: &[(f64, f64)]) {
    for pair in curve.windows(2) {
        let [(x1, y1), (x2, y2)] = [pair[0], pair[1]];
        context.draw(&Line { x1, y1, x2, y2, color: Color::Reset });
    }
}

fn axes(
    plot: &Plot,
    ascii: bool,
    picture: Rect,
    (hours, ceiling, step): (f64, f64, f64),
    buffer: &mut Buffer,
) {
    let (upright, level, corner) = if ascii { ("|", "-", "+") } else { ("│", "─", "└") };
    let (left, foot) = (picture.x - 1, picture.bottom());
    for y in picture.top()..foot {
        buffer.set_string(left, y, upright, Style::default());
    }
    buffer.set_string(left, foot, corner, Style::default());
    for x in picture.left()..picture.right() {
        buffer.set_string(x, foot, level, Style::default());
    }
    for count in 0..=(ceiling / step).round() as u32 {
        let t = f64::from(count) * step;
        let rows_up = (t / ceiling * f64::from(picture.height - 1)).round() as u16;
        let label = format!("{t:>5.0} {}", plot.unit);
        buffer.set_string(picture.x - GUTTER, foot - 1 - rows_up, label, Style::default());
    }
    let every = round_step(hours / (f64::from(picture.width) / 10.0), &STEPS).max(0.25);
    let mut time = 0.0;
    while time <= hours {
        let label = format!("{time} h");
        let column = (time / hours * f64::from(picture.width - 1)).round() as u16;
        let x = (picture.x + column).min(picture.right().saturating_sub(label.len() as u16));
        buffer.set_string(x, foot + 1, label, Style::default());
        time += every;
    }
}

/// The buffer's text, without blanks at the ends of lines.
fn as_lines(buffer: &Buffer) -> String {
    let width = usize::from(buffer.area.width);
    let mut text = String::new();
    for row in buffer.content().chunks(width) {
        let line: String = row.iter().map(|cell| cell.symbol()).collect();
        text.push_str(line.trim_end_matches([' ', '\u{2800}']));
        text.push('\n');
    }
    text
}
