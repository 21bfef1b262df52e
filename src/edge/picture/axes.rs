//! Axes with round ticks, from values to places on the page.

use super::sheet::{Anchor, Area, INK, LINE, Sheet, Type};
use crate::units::{Moment, Span};

/// A stretch of values laid over a stretch of the page.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Axis {
    pub low: f64,
    pub high: f64,
    /// Where `low` and `high` are on the page.
    pub from: f64,
    pub to: f64,
}

impl Axis {
    /// The place of a value; values outside are put on the nearer end.
    pub fn place(&self, value: f64) -> f64 {
        let part = (value.clamp(self.low, self.high) - self.low) / (self.high - self.low);
        self.from + part * (self.to - self.from)
    }

    /// Round values along the axis, at most `most` of them.
    pub fn ticks(&self, most: usize) -> Vec<f64> {
        let step = round_step((self.high - self.low) / most.max(1) as f64, &STEPS);
        let first = (self.low / step - 1e-9).ceil() as i64;
        let last = (self.high / step + 1e-9).floor() as i64;
        (first..=last).map(|index| index as f64 * step).collect()
    }

    /// As many decimals as the ticks need.
    pub fn decimals(&self, most: usize) -> usize {
        let step = round_step((self.high - self.low) / most.max(1) as f64, &STEPS);
        if step >= 1.0 { 0 } else { (-step.log10()).ceil() as usize }
    }
}

/// The steps that ticks are apart: decimals of them stay short.
const STEPS: [f64; 4] = [1.0, 2.0, 5.0, 10.0];

/// The next of these steps times a power of ten that is not below `least`; 1 for nonsense.
pub fn round_step(least: f64, steps: &[f64]) -> f64 {
    if !(least.is_finite() && least > 0.0) {
        return 1.0;
    }
    let power = 10_f64.powf(least.log10().floor());
    let step = steps.iter().find(|step| *step * power >= least * (1.0 - 1e-9));
    step.unwrap_or(&10.0) * power
}

/// Ticks and faint lines across the picture for an upright axis, its labels to the left.
pub fn draw_upright(sheet: &mut Sheet, axis: &Axis, picture: Area, most: usize, unit: &str) {
    let decimals = axis.decimals(most);
    let ticks = axis.ticks(most);
    for (index, tick) in ticks.iter().enumerate() {
        let y = axis.place(*tick);
        sheet.line(&[(picture.x, y), (picture.right(), y)], LINE, 1.0);
        let number = crate::review::table::fixed(*tick, decimals);
        let last = index + 1 == ticks.len();
        let text = if last { format!("{number} {unit}") } else { number };
        sheet.text(picture.x - 6.0, y + 4.0, Anchor::End, Type::pale(11.0), &text);
    }
}

/// The hours by the clock on the wall along the foot of a picture, at most `most` of them; half hours where it
/// shows fewer than `few`.
pub fn draw_hours(
    sheet: &mut Sheet,
    picture: Area,
    ((from, until), ahead): ((Moment, Moment), Span),
    (few, most): (f64, f64),
    says: impl Fn(Moment) -> String,
) {
    let hours = (until - from).as_hours();
    let axis = Axis { low: 0.0, high: hours, from: picture.x, to: picture.right() };
    let mut steps = [1, 2, 3, 4, 6, 8, 12, 24, 48].into_iter().map(Span::hours);
    let step = steps.find(|step| hours / step.as_hours() <= most);
    let step = if hours < few { Span::minutes(30) } else { step.unwrap_or(Span::hours(96)) };
    let mut at = Moment(((from + ahead).0.div_euclid(step.0) + 1) * step.0) - ahead;
    let floor = picture.bottom();
    sheet.line(&[(picture.x, floor), (picture.right(), floor)], INK, 1.0);
    while at <= until {
        let x = axis.place((at - from).as_hours());
        sheet.line(&[(x, floor), (x, floor + 5.0)], INK, 1.0);
        sheet.text(x, floor + 18.0, Anchor::Middle, Type::pale(11.0), &says(at));
        at = at + step;
    }
}
