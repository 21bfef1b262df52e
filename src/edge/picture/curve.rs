//! The curve of one firing, with what happened and the cones as they were seen.
//!
//! ```text
//!      drop 16:48 to 16:52 | off 16:58       marks, each in the first free row
//!   C  ________/|
//!   __/         |                            curve, drop shaded
//!      12:00   14:00   16:00
//!  guide   / / / _                           cones as they were seen
//! ```

use super::axes::{Axis, draw_hours, draw_upright};
use super::of_firing::Card;
use super::sheet::{Anchor, Area, EMBER, INK, LINE, PALE, SLATE, STRAW, Sheet, Type};
use crate::firing::Seen;
use crate::firing::event::Look;
use crate::review::calendar::clock;
use crate::review::drop_seen::DropSeen;
use crate::units::{Moment, Span};

/// Width and height of the picture: with the lines around it, it fits a sheet of A4 or Letter.
const SIZE: (f64, f64) = (702.0, 444.0);
/// The curve's own area.
const CURVE: Area = Area { x: 88.0, y: 66.0, width: 588.0, height: 256.0 };
/// The base and the height of a cone, and the room it takes with its lean.
const CONE: (f64, f64) = (7.0, 17.0);
const CONE_ROOM: (f64, f64) = (26.0, 30.0);

/// A place across for each moment, from lit to somewhat after the end.
struct Time {
    from: Moment,
    until: Moment,
    axis: Axis,
}

impl Time {
    fn of(card: &Card<'_>) -> Time {
        let (facts, firing) = (&card.one.facts, &card.one.firing);
        let from = facts.lit;
        let looked = firing.looks.last().map(|looked| looked.at);
        let last = [facts.off, facts.drop.map(|drop| drop.by), looked];
        let read = firing.readings.last().map(|(at, _)| *at);
        let end = last.into_iter().flatten().max().or(read).unwrap_or(from + Span::hours(1));
        let end = end.max(from + Span::minutes(10));
        let until = end + Span((end - from).0 / 12);
        let high = (until - from).as_hours();
        Time { from, until, axis: Axis { low: 0.0, high, from: CURVE.x, to: CURVE.right() } }
    }

    fn x(&self, at: Moment) -> f64 {
        self.axis.place((at - self.from).as_hours())
    }
}

/// The picture of a card's firing.
pub fn curve(card: &Card<'_>) -> Sheet {
    let time = Time::of(card);
    let mut sheet = Sheet::new(&card.title(), SIZE.0, SIZE.1);
    let readings = card.one.firing.readings.iter();
    let shown: Vec<(Moment, f64)> = readings
        .filter(|(at, _)| (time.from..=time.until).contains(at))
        .map(|(at, t)| (*at, t.in_scale(card.scale)))
        .collect();
    let top = shown.iter().map(|(_, t)| *t).fold(100.0, f64::max) * 1.06;
    let height = Axis { low: 0.0, high: top, from: CURVE.bottom(), to: CURVE.y };
    if let Some(DropSeen { after, by }) = card.one.facts.drop {
        let x = time.x(after.unwrap_or(by));
        let width = (time.x(by) - x).max(1.5);
        sheet.fill(Area { x, width, ..CURVE }, STRAW);
    }
    draw_upright(&mut sheet, &height, CURVE, 8, card.scale.letter());
    let ahead = card.one.ledger.ahead;
    let says = |at| clock(at, ahead);
    draw_hours(&mut sheet, CURVE, ((time.from, time.until), ahead), (3.0, 9.0), says);
    if let Some((what, course)) = card.beside {
        let course = course.iter().take_while(|(since, _)| since.as_hours() <= time.axis.high);
        let places = course.map(|(since, t)| {
            (time.axis.place(since.as_hours()), height.place(t.in_scale(card.scale)))
        });
        sheet.line(&thinned(&places.collect::<Vec<_>>()), PALE, 1.5);
        let place = (CURVE.x + 10.0, CURVE.y + 22.0);
        sheet.text_within(place, Type::pale(11.0), &format!("pale: {what}"), 400.0);
    }
    let points: Vec<(f64, f64)> =
        shown.iter().map(|(at, t)| (time.x(*at), height.place(*t))).collect();
    match points.len() {
        0 => {
            let text = "no readings: followed by the clock and the looks";
            let (x, y) = (CURVE.x + 0.5 * CURVE.width, CURVE.y + 0.5 * CURVE.height);
            sheet.text(x, y, Anchor::Middle, Type::pale(13.0), text);
        }
        few => {
            sheet.line(&thinned(&points), EMBER, 2.0);
            let dotted = if few <= 60 { points.as_slice() } else { &[] };
            dotted.iter().for_each(|point| sheet.dot(*point, 2.6, EMBER));
        }
    }
    marks(&mut sheet, &time, card);
    looks(&mut sheet, &time, card);
    sheet
}

/// The same by itself, with what is left out below it.
pub fn alone(card: &Card<'_>) -> Sheet {
    let mut sheet = curve(card);
    if let Some(left_out) = card.left_out {
        sheet.text_within((CURVE.x, SIZE.1 - 6.0), Type::pale(11.0), left_out, CURVE.width);
    }
    sheet
}

/// Upright lines for what happened, each with its words in the first row that is free.
fn marks(sheet: &mut Sheet, time: &Time, card: &Card<'_>) {
    let (facts, firing) = (&card.one.facts, &card.one.firing);
    let set = Type { size: 11.0, bold: false, colour: SLATE };
    let mut marks: Vec<(Moment, String)> = Vec::new();
    if let Some(DropSeen { after, by }) = facts.drop {
        let words = match after {
            Some(after) => format!("down between {} and {}", card.clock(after), card.clock(by)),
            None => format!("found down at {}", card.clock(by)),
        };
        marks.push((by, words));
    } else if let Some(down) = firing.down()
        && let Some(other) = down.contradicted()
    {
        let (down, at) = (down.first.at, card.clock(other.at));
        let words = format!("down {}, {} {at}: one is wrong", card.clock(down), other.seen);
        marks.push((down, words));
    }
    marks.extend(facts.off.map(|off| (off, format!("off {}", card.clock(off)))));
    let turned = firing.turned.iter().take(6);
    marks.extend(turned.map(|(at, to)| (*at, set.fitted(&format!("to {to}"), 120.0))));
    for (at, words) in marks {
        let x = time.x(at);
        sheet.dashed(x, (CURVE.y - 4.0, CURVE.bottom()), SLATE);
        let rows = [8.0, 23.0, 38.0, 53.0].map(|up| CURVE.y - up);
        let anchors = [Anchor::Middle, Anchor::End, Anchor::Start];
        let mut places = rows.iter().flat_map(|row| anchors.map(|anchor| (*row, anchor)));
        let _drawn = places.any(|(row, anchor)| sheet.text(x, row, anchor, set, &words));
    }
}

/// The cones as they were seen, one row for each cone of the pack, under their times.
fn looks(sheet: &mut Sheet, time: &Time, card: &Card<'_>) {
    type Pick = fn(&Look) -> Option<Seen>;
    let (pack, looks) = (card.one.facts.pack, &card.one.firing.looks);
    let rows: [(Option<String>, Pick); 3] = [
        (pack.guide.map(|cone| format!("guide {cone}")), |look| look.guide),
        (Some(format!("target {}", pack.target)), |look| look.target),
        (pack.guard.map(|cone| format!("guard {cone}")), |look| look.guard),
    ];
    let mut floor = CURVE.bottom() + 52.0;
    for (name, pick) in rows {
        let Some(name) = name else { continue };
        sheet.text(CURVE.x - 14.0, floor - 3.0, Anchor::End, Type::plain(10.0), &name);
        sheet.line(&[(CURVE.x - 8.0, floor), (CURVE.right(), floor)], LINE, 1.0);
        // From the last to the first: where looks are crowded the later ones matter.
        let mut next = f64::INFINITY;
        for looked in looks.iter().rev() {
            let Some(seen) = pick(&looked.look) else { continue };
            let at = time.x(looked.at);
            if at + CONE_ROOM.0 <= next {
                cone(sheet, (at, floor), seen);
                next = at;
            }
        }
        floor += CONE_ROOM.1;
    }
    if looks.is_empty() {
        let place = (CURVE.x + 0.5 * CURVE.width, CURVE.bottom() + 48.0);
        sheet.text(place.0, place.1, Anchor::Middle, Type::pale(11.0), "nobody looked");
    }
}

/// A cone whose base stands at `(x, floor)`, in the middle; it leans to the right as its word says.
fn cone(sheet: &mut Sheet, (x, floor): (f64, f64), seen: Seen) {
    let lean_deg: f64 = match seen {
        Seen::Standing => 8.0,
        Seen::Leaning => 28.0,
        Seen::Half => 60.0,
        Seen::Down => 96.0,
    };
    let lean = lean_deg.to_radians();
    let (base, height) = CONE;
    // A soft cone bends above its foot.
    let foot = (x, floor - 5.0);
    let upper = height - 5.0;
    let tip = (foot.0 + upper * lean.sin(), foot.1 - upper * lean.cos());
    let (half, shoulder) = (0.5 * base, 0.34 * base);
    let points = [
        (x - half, floor),
        (foot.0 - shoulder * lean.cos(), foot.1 - shoulder * lean.sin()),
        tip,
        (foot.0 + shoulder * lean.cos(), foot.1 + shoulder * lean.sin()),
        (x + half, floor),
    ];
    sheet.polygon(&points, STRAW, INK);
}

/// No more than the first, lowest, highest and last point of each step of the page: 5,000 readings
/// look the same, and the file stays small.
pub fn thinned(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut kept: Vec<(f64, f64)> = Vec::new();
    for here in points.chunk_by(|a, b| a.0.floor() == b.0.floor()) {
        let by_height = |a: &usize, b: &usize| here[*a].1.total_cmp(&here[*b].1);
        let last = here.len() - 1;
        let mut order = [
            0,
            (0..last).min_by(by_height).unwrap_or(0),
            (0..last).max_by(by_height).unwrap_or(0),
            last,
        ];
        order.sort_unstable();
        kept.extend(order.map(|index| here[index]));
        kept.dedup();
    }
    kept
}
