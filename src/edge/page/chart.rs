//! The heat of one kiln as a picture for a narrow page.

use crate::edge::picture::axes::{Axis, draw_hours, draw_upright};
use crate::edge::picture::curve::thinned;
use crate::edge::picture::sheet::{Anchor, Area, EMBER, PALE, SLATE, STRAW, Sheet, Type};
use crate::edge::shop::clock::ahead;
use crate::scene::KilnScene;
use crate::units::{Celsius, Moment};
use crate::words::{self, Dial};

/// Width and height: letters can be read where it is as wide as a phone.
const SIZE: (f64, f64) = (380.0, 210.0);
const CURVE: Area = Area { x: 46.0, y: 24.0, width: 322.0, height: 156.0 };
const LETTERS: Type = Type { size: 11.0, bold: false, colour: SLATE };

/// The picture; `None` of a kiln in which nothing was lit.
pub fn chart(kiln: &KilnScene, now: Moment, dial: &Dial<'_>) -> Option<Sheet> {
    let curve = &kiln.curve;
    let ((from, until), (low, high)) = curve.frame?;
    let hours = (until - from).as_hours();
    let time = Axis { low: 0.0, high: hours, from: CURVE.x, to: CURVE.right() };
    let (low, high) = (low.in_scale(dial.scale), high.in_scale(dial.scale));
    let height = Axis { low, high: high * 1.05, from: CURVE.bottom(), to: CURVE.y };
    let x = |at: Moment| time.place((at - from).as_hours());
    let place = |(at, t): (Moment, Celsius)| (x(at), height.place(t.in_scale(dial.scale)));
    let mut sheet = Sheet::new(&words::heat_title(kiln, dial), SIZE.0, SIZE.1);
    if let Some((opens, closes)) = curve.window {
        let (left, width) = (x(opens), (x(closes) - x(opens)).max(1.5));
        sheet.fill(Area { x: left, width, ..CURVE }, STRAW);
    }
    draw_upright(&mut sheet, &height, CURVE, 5, dial.scale.letter());
    let by_clock = ((from, until), ahead(from, dial.zone));
    draw_hours(&mut sheet, CURVE, by_clock, (2.0, 5.0), |at| dial.time(at));
    let schedule: Vec<(f64, f64)> = curve.schedule.iter().copied().map(place).collect();
    sheet.line(&schedule, PALE, 1.0);
    if let Some(fan) = curve.fan {
        for drop in [fan.drop.p05, fan.drop.p50, fan.drop.p95] {
            sheet.line(&[place(fan.from), place((drop, fan.at_drop))], SLATE, 1.0);
        }
    }
    let read: Vec<(f64, f64)> = curve.believed().map(place).collect();
    match read.is_empty() {
        true => {
            let (x, y) = (CURVE.x + 0.5 * CURVE.width, CURVE.y + 0.5 * CURVE.height);
            sheet.text(x, y, Anchor::Middle, Type::pale(12.0), words::NO_READINGS);
        }
        false => sheet.line(&thinned(&read), EMBER, 2.5),
    }
    let last = read.last().copied();
    last.iter().for_each(|point| sheet.dot(*point, 3.5, EMBER));
    let is_now = (from..=until).contains(&now).then_some((now, words::NOW));
    let marks = [is_now, curve.down.map(|at| (at, "down")), curve.off.map(|at| (at, "off"))];
    for (at, word) in marks.into_iter().flatten() {
        sheet.dashed(x(at), (CURVE.y, CURVE.bottom()), SLATE);
        sheet.text(x(at), CURVE.y - 6.0, Anchor::Middle, LETTERS, word);
    }
    Some(sheet)
}
