//! The heat curve of the chosen kiln.
//!
//! ```text
//! + Heat of Heron ------------------------+
//! | 734 C      -----|------::::....:      |   :  watch window, shaded
//! |         --  x ***|  ......::::::::    |   *  readings, x those not believed
//! |      -- ****    |      ::::::::::     |   .  where it may go from here
//! |  20 C ***       |o     :::v::::::     |   o  looks, v the drop, | now, - the schedule
//! |       9:10      now         14:20     |
//! +- x = reading not believed ------------+
//! ```

use ratatui::layout::{Position, Rect};
use ratatui::text::Line;

use super::Drawing;
use super::dots::{DOWN, Dots};
use crate::edge::screen::theme::{Depth, Part};
use crate::scene::{CurveScene, KilnScene};
use crate::units::{Celsius, Moment};
use crate::words;

/// Columns for the temperatures on the left.
const SCALE_COLUMNS: u16 = 7;

pub(super) fn render(picture: &Drawing<'_>, area: Rect) {
    let Some(kiln) = picture.kiln() else { return };
    if area.height < 5 || area.width < SCALE_COLUMNS + 12 {
        return;
    }
    let titles = [words::heat_title(kiln, &picture.dial), words::curve_title(&kiln.kiln)];
    let fits = |title: &String| title.len() + 6 <= usize::from(area.width);
    let short = || {
        let room = usize::from(area.width).saturating_sub(6 + words::curve_title("").len());
        words::curve_title(&words::shortened(&kiln.kiln, room))
    };
    let title = titles.into_iter().find(fits).unwrap_or_else(short);
    let inside = picture.framed(title, Part::Text, area);
    let Some(scale) = Scale::of(&kiln.curve, inside) else {
        return picture.line(words::NO_READINGS.into(), Part::Quiet, inside);
    };
    axes(kiln, picture, &scale, inside);
    inner(kiln, picture, &scale);
    if !kiln.curve.set_aside.is_empty() {
        let key = format!(" {} ", words::SET_ASIDE_KEY);
        let width = (key.len() as u16).min(inside.width);
        let below = Rect::new(inside.x + 1, area.bottom() - 1, width, 1);
        picture.line(key, Part::Text, below.intersection(area));
    }
}

/// The curve alone, without a frame and without numbers, for a small place.
pub(super) fn tiny(kiln: &KilnScene, picture: &Drawing<'_>, area: Rect) {
    let Some((times, temperatures)) = kiln.curve.frame else { return };
    if area.width >= 6 && area.height >= 2 {
        inner(kiln, picture, &Scale { area, times, temperatures });
    }
}

fn inner(kiln: &KilnScene, picture: &Drawing<'_>, scale: &Scale) {
    window(&kiln.curve, picture, scale);
    now_line(kiln, picture, scale);
    lines(&kiln.curve, picture, scale);
    marks(&kiln.curve, picture, scale);
}

/// Where a moment and a temperature lie on the screen.
struct Scale {
    area: Rect,
    times: (Moment, Moment),
    temperatures: (Celsius, Celsius),
}

impl Scale {
    fn of(curve: &CurveScene, inside: Rect) -> Option<Scale> {
        let (times, temperatures) = curve.frame?;
        let area = Rect {
            x: inside.x + SCALE_COLUMNS,
            width: inside.width.checked_sub(SCALE_COLUMNS)?,
            height: inside.height.checked_sub(1)?,
            ..inside
        };
        Some(Scale { area, times, temperatures })
    }

    /// 0 at the left end, 1 at the right.
    fn across(&self, at: Moment) -> f64 {
        (at - self.times.0).0 as f64 / ((self.times.1 - self.times.0).0 as f64).max(1.0)
    }

    /// The column of a moment, if it is shown.
    fn column(&self, at: Moment) -> Option<u16> {
        let share = self.across(at);
        let last = f64::from(self.area.width.saturating_sub(1));
        ((0.0..=1.0).contains(&share)).then(|| self.area.x + (share * last).round() as u16)
    }

    /// The dot of a moment and a temperature.
    fn dot(&self, dots: &Dots, (at, temperature): (Moment, Celsius)) -> (f64, f64) {
        let (columns, rows) = dots.size();
        let (low, high) = (self.temperatures.0.0, self.temperatures.1.0);
        let up = (temperature.0 - low) / (high - low).max(1.0);
        (self.across(at) * (columns - 1.0), (1.0 - up) * (rows - 1.0))
    }
}

fn axes(kiln: &KilnScene, picture: &Drawing<'_>, scale: &Scale, inside: Rect) {
    let label = |temperature, y| {
        let place = Rect::new(inside.x, y, SCALE_COLUMNS - 1, 1);
        let text = Line::from(picture.dial.temperature(temperature)).right_aligned();
        picture.draw(text.style(picture.style(Part::Quiet)), place);
    };
    label(scale.temperatures.1, scale.area.y);
    label(scale.temperatures.0, scale.area.bottom().saturating_sub(1));
    let bottom = Rect { y: inside.bottom() - 1, height: 1, ..scale.area };
    let now = picture.scene.now;
    let begin = picture.dial.time_and_day(scale.times.0, now);
    let end = picture.dial.time_and_day(scale.times.1, now);
    let (wide, end_width) = (words::NOW.len() as u16, end.len() as u16);
    let end_left = bottom.right().saturating_sub(end_width).max(bottom.x);
    let column = kiln.is_lit().then(|| scale.column(now)).flatten();
    if let Some(left) = column.map(|column| column.saturating_sub(wide / 2))
        && left > bottom.x + begin.len() as u16
        && left + wide < end_left
    {
        let place = Rect { x: left, width: wide, ..bottom };
        picture.line(words::NOW.into(), Part::Text, place);
    }
    picture.line(begin, Part::Quiet, Rect { width: bottom.width / 2, ..bottom });
    let place = Rect { x: end_left, width: end_width, ..bottom }.intersection(bottom);
    picture.line(end, Part::Quiet, place);
}

fn window(curve: &CurveScene, picture: &Drawing<'_>, scale: &Scale) {
    let Some((opens, closes)) = curve.window else { return };
    let (opens, closes) = (opens.max(scale.times.0), closes.min(scale.times.1));
    let (Some(left), Some(right)) = (scale.column(opens), scale.column(closes)) else { return };
    if right < left {
        return;
    }
    let shaded = Rect { x: left, width: right - left + 1, ..scale.area };
    let symbol = match picture.theme.depth {
        Depth::None => picture.theme.pick("░", ":"),
        Depth::Sixteen | Depth::Indexed | Depth::True => " ",
    };
    let (style, mut buffer) = (picture.style(Part::Window), picture.buffer());
    for position in shaded.intersection(buffer.area).positions() {
        buffer[position].set_symbol(symbol).set_style(style);
    }
}

fn now_line(kiln: &KilnScene, picture: &Drawing<'_>, scale: &Scale) {
    let Some(column) = kiln.is_lit().then(|| scale.column(picture.scene.now)).flatten() else {
        return;
    };
    for y in scale.area.y..scale.area.bottom() {
        if let Some(cell) = picture.buffer().cell_mut(Position::new(column, y)) {
            cell.set_symbol(picture.theme.pick("┊", "|"));
        }
    }
}

fn lines(curve: &CurveScene, picture: &Drawing<'_>, scale: &Scale) {
    let mut schedule_dots = Dots::new(scale.area);
    for pair in curve.schedule.windows(2) {
        let from = scale.dot(&schedule_dots, pair[0]);
        schedule_dots.dashes(from, scale.dot(&schedule_dots, pair[1]));
    }
    schedule_dots.render("-", Part::Quiet, picture);
    let mut fan_dots = Dots::new(scale.area);
    if let Some(fan) = curve.fan {
        let from = scale.dot(&fan_dots, fan.from);
        if let Some(last) = curve.believed().last() {
            fan_dots.line(scale.dot(&fan_dots, last), from);
        }
        for reached in [fan.drop.p05, fan.drop.p50, fan.drop.p95] {
            let to = scale.dot(&fan_dots, (reached, fan.at_drop));
            fan_dots.line(from, to);
        }
    }
    fan_dots.render(".", Part::Quiet, picture);
    let mut read_dots = Dots::new(scale.area);
    let mut before = None;
    for reading in curve.believed() {
        let to = scale.dot(&read_dots, reading);
        read_dots.line(before.unwrap_or(to), to);
        before = Some(to);
    }
    read_dots.render("*", Part::Accent, picture);
}

/// Readings set aside where they were read, and on the lowest row looks, the drop, and the moment
/// it was shut off.
fn marks(curve: &CurveScene, picture: &Drawing<'_>, scale: &Scale) {
    let mut buffer = picture.buffer();
    let floor = scale.area.bottom().saturating_sub(1);
    for (at, temperature) in &curve.set_aside {
        let (_, down) = scale.dot(&Dots::new(scale.area), (*at, *temperature));
        let row = scale.area.y + (down.max(0.0) / f64::from(DOWN)) as u16;
        let place = scale.column(*at).map(|column| Position::new(column, row.min(floor)));
        if let Some(cell) = place.and_then(|place| buffer.cell_mut(place)) {
            cell.set_symbol("x").set_style(picture.style(Part::Text));
        }
    }
    let looks = curve.looks.iter().map(|looked| (looked.at, picture.theme.pick("◉", "o")));
    let off = curve.off.map(|at| (at, picture.theme.pick("■", "#")));
    let down = curve.down.map(|at| (at, picture.theme.pick("▼", "v")));
    for (at, symbol) in looks.chain(down).chain(off) {
        let place = scale.column(at).map(|column| Position::new(column, floor));
        if let Some(cell) = place.and_then(|place| buffer.cell_mut(place)) {
            cell.set_symbol(symbol);
        }
    }
}
