//! The charts of the review: a series under watch, shares with their intervals, the map of a kiln,
//! bars of money.

use super::axes::{Axis, draw_upright, range};
use super::sheet::{Anchor, Area, EMBER, INK, LINE, PALE, SLATE, STRAW, Sheet, Type};
use crate::review::calendar::Day;
use crate::review::charts::{LAMBDA, ewma};
use crate::review::cost::Costs;
use crate::review::drift::{Drift, Measure};
use crate::review::evenness::Evenness;
use crate::review::outcomes::Outcomes;
use crate::review::table::fixed;
use crate::review::tables::{degrees, letter};
use crate::review::wilson::Share;
use crate::units::{Scale, Span};
use crate::words;

const WIDTH: f64 = 760.0;
const MARGIN: f64 = 36.0;
const ROW: f64 = 34.0;
/// Room for names left of bars.
const NAMES: f64 = 190.0;

fn headed(height: f64, title: &str, below: &str) -> Sheet {
    let mut sheet = Sheet::new(title, WIDTH, height);
    let width = WIDTH - 2.0 * MARGIN;
    sheet.text_within((MARGIN, 38.0), Type::bold(18.0), title, width);
    sheet.text_within((MARGIN, 58.0), Type::pale(12.0), below, width);
    sheet
}

/// One series: every firing a dot, the usual as a band, the average that follows it, and where a
/// change began.
pub fn drift(drift: &Drift, scale: Scale, ahead: Span) -> Sheet {
    let in_degrees = matches!(drift.measure, Measure::FinalClimb | Measure::ProbeHigh);
    let shown = |value: f64| if in_degrees { degrees(value, scale) } else { value };
    let unit = match (drift.measure, scale) {
        (Measure::FinalClimb, Scale::Fahrenheit) => "F/h",
        (Measure::ProbeHigh, Scale::Fahrenheit) => "F",
        (measure, _) => measure.unit(),
    };
    let of = drift.load_type.as_deref().map_or(String::new(), |load| format!(", {load}"));
    let title = format!("{}{of}: {}", drift.kiln, drift.measure.name());
    let anew = words::begun_anew(drift, ahead).map(|anew| anew + " ").unwrap_or_default();
    let finding = anew + &drift_finding(drift, &shown, unit, ahead);
    let mut sheet = headed(400.0, &title, &finding);
    let picture = Area { x: 96.0, y: 88.0, width: WIDTH - 96.0 - MARGIN, height: 250.0 };
    let values: Vec<f64> = drift.values.iter().map(|value| shown(*value)).collect();
    let (low, high) = range(values.iter().copied());
    let height = Axis { low, high, from: picture.bottom(), to: picture.y };
    let last = (values.len().max(2) - 1) as f64;
    let along = Axis { low: 0.0, high: last, from: picture.x + 6.0, to: picture.right() - 6.0 };
    if let Some(chart) = &drift.chart {
        let usual = chart.in_control;
        let limit = crate::review::charts::Chart::limit_sigma() * usual.sigma;
        let top = height.place(shown(usual.mean + limit));
        let bottom = height.place(shown(usual.mean - limit));
        let band = Area { x: picture.x, y: top, width: picture.width, height: bottom - top };
        sheet.fill(band, STRAW);
    }
    draw_upright(&mut sheet, &height, picture, 6, unit);
    for (index, value) in values.iter().enumerate() {
        sheet.dot((along.place(index as f64), height.place(*value)), 2.2, PALE);
    }
    if let Some(chart) = &drift.chart {
        let usual = chart.in_control;
        // The chart itself cuts wild values; the eye wants the average of what is drawn.
        let after = &values[usual.count..];
        let average: Vec<(f64, f64)> = ewma(after, shown(usual.mean), LAMBDA)
            .into_iter()
            .enumerate()
            .map(|(index, mean)| (along.place((index + usual.count) as f64), height.place(mean)))
            .collect();
        sheet.line(&average, EMBER, 2.0);
    }
    if let (Some(signal), Some(since)) = (drift.signal(), drift.since()) {
        let x = along.place(signal.began_at as f64);
        sheet.dashed(x, (picture.y - 4.0, picture.bottom()), SLATE);
        let set = Type { size: 11.0, bold: false, colour: SLATE };
        let text = format!("since {}", Day::of(since, ahead));
        let _drawn = [Anchor::Middle, Anchor::End, Anchor::Start]
            .into_iter()
            .any(|anchor| sheet.text(x, picture.y - 8.0, anchor, set, &text));
    }
    days(&mut sheet, drift, &along, picture, ahead);
    let legend = "dots: firings; line: the average that follows them; band: where it usually stays";
    sheet.text(picture.x, picture.bottom() + 42.0, Anchor::Start, Type::pale(11.0), legend);
    sheet
}

fn drift_finding(drift: &Drift, shown: &dyn Fn(f64) -> f64, unit: &str, ahead: Span) -> String {
    let count = drift.values.len();
    match (&drift.chart, drift.signal(), drift.since()) {
        (None, ..) => format!("{count} firings: too few to say what is usual"),
        (Some(_), Some(signal), Some(since)) => format!(
            "{}{} {unit} (+- {}) since {}: {}",
            if signal.change > 0.0 { "+" } else { "" },
            fixed(shown(signal.change), 0),
            fixed(shown(signal.plus_or_minus), 0),
            Day::of(since, ahead),
            drift.measure.where_to_look(signal.change > 0.0)
        ),
        (Some(chart), ..) => format!(
            "{count} firings, usually {} {unit} with {} {unit} of scatter; no lasting change",
            fixed(shown(chart.in_control.mean), 0),
            fixed(shown(chart.in_control.sigma), 1)
        ),
    }
}

/// The days of some of the firings under the picture, as many as fit.
fn days(sheet: &mut Sheet, drift: &Drift, along: &Axis, picture: Area, ahead: Span) {
    let steps = 6.min(drift.when.len());
    for step in 0..steps {
        let index = if steps == 1 { 0 } else { step * (drift.when.len() - 1) / (steps - 1) };
        let x = along.place(index as f64);
        let text = Day::of(drift.when[index], ahead).to_string();
        let anchor = match step {
            0 => Anchor::Start,
            _ if step + 1 == steps => Anchor::End,
            _ => Anchor::Middle,
        };
        if sheet.text(x, picture.bottom() + 20.0, anchor, Type::pale(11.0), &text) {
            sheet.line(&[(x, picture.bottom()), (x, picture.bottom() + 5.0)], INK, 1.0);
        }
    }
    sheet.line(&[(picture.x, picture.bottom()), (picture.right(), picture.bottom())], INK, 1.0);
}

/// Under, good and over of each group, with the interval of the good share as a bracket.
pub fn outcomes(by: &str, groups: &[Outcomes]) -> Sheet {
    let height = 120.0 + ROW * groups.len().max(1) as f64;
    let title = format!("Outcomes by {by}");
    let below = "bar: share of good loads; bracket: 95 % interval; grey words: too few to say";
    let mut sheet = headed(height, &title, below);
    let axis = Axis { low: 0.0, high: 100.0, from: MARGIN + NAMES, to: WIDTH - MARGIN - 150.0 };
    for (index, group) in groups.iter().enumerate() {
        let y = 84.0 + ROW * index as f64;
        name(&mut sheet, &group.group, y);
        share_bar(&mut sheet, &axis, group.good, y);
        let counts =
            format!("{} under, {} over of {}", group.under.hits, group.over.hits, group.good.of);
        let room = WIDTH - MARGIN - axis.to - 12.0;
        sheet.text_within((axis.to + 12.0, y + 16.0), Type::plain(11.0), &counts, room);
    }
    let floor = 84.0 + ROW * groups.len().max(1) as f64;
    for tick in axis.ticks(5) {
        let text = format!("{} %", fixed(tick, 0));
        sheet.text(axis.place(tick), floor + 14.0, Anchor::Middle, Type::pale(11.0), &text);
    }
    sheet
}

fn name(sheet: &mut Sheet, text: &str, y: f64) {
    sheet.text_within((MARGIN, y + 16.0), Type::plain(12.0), text, NAMES - 12.0);
}

fn share_bar(sheet: &mut Sheet, axis: &Axis, share: Share, y: f64) {
    let whole = Area { x: axis.from, y: y + 4.0, width: axis.to - axis.from, height: 16.0 };
    sheet.fill(whole, LINE);
    let Some(value) = share.value().filter(|_| share.says_something()) else {
        let text = format!("{} of {}: too few to say", share.hits, share.of);
        sheet.text(axis.from + 8.0, y + 16.0, Anchor::Start, Type::pale(11.0), &text);
        return;
    };
    let to = axis.place(100.0 * value);
    sheet.fill(Area { width: to - axis.from, ..whole }, SLATE);
    let (low, high) = (axis.place(100.0 * share.low), axis.place(100.0 * share.high));
    sheet.line(&[(low, y + 12.0), (high, y + 12.0)], EMBER, 2.0);
    for end in [low, high] {
        sheet.line(&[(end, y + 7.0), (end, y + 17.0)], EMBER, 2.0);
    }
}

/// Each place of a kiln as a bar from the mean: colder to the left, hotter to the right.
pub fn evenness(map: &Evenness, scale: Scale) -> Sheet {
    let height = 130.0 + ROW * map.places.len() as f64;
    let title = format!("{}: hotter and colder places", map.kiln);
    let unit = letter(scale);
    let below = format!(
        "{} {unit} from the coldest to the hottest; {}",
        fixed(degrees(map.spread_c, scale), 0),
        match map.steady.as_slice() {
            [] => "too few cones to say where it is steady".to_owned(),
            steady => format!("nearest the mean: {}", steady.join(", ")),
        }
    );
    let mut sheet = headed(height, &title, &below);
    let reach = map
        .places
        .iter()
        .map(|place| place.differs_c.abs() + place.plus_or_minus_c)
        .fold(1.0, f64::max);
    let reach = degrees(reach, scale);
    let axis = Axis { low: -reach, high: reach, from: MARGIN + NAMES, to: WIDTH - MARGIN - 110.0 };
    for (index, place) in map.places.iter().rev().enumerate() {
        let y = 84.0 + ROW * index as f64;
        name(&mut sheet, &place.place, y);
        let (zero, here) = (axis.place(0.0), axis.place(degrees(place.differs_c, scale)));
        let fill = if here >= zero { EMBER } else { SLATE };
        let bar = Area { x: zero.min(here), y: y + 4.0, width: (here - zero).abs(), height: 16.0 };
        sheet.fill(bar, fill);
        let half = degrees(place.plus_or_minus_c, scale);
        let value = degrees(place.differs_c, scale);
        let (low, high) = (axis.place(value - half), axis.place(value + half));
        sheet.line(&[(low, y + 12.0), (high, y + 12.0)], INK, 1.5);
        let words = format!(
            "{}{} {unit}, {} cones",
            if value > 0.0 { "+" } else { "" },
            fixed(value, 0),
            fixed(place.differs_cones, 1)
        );
        let room = WIDTH - MARGIN - axis.to - 8.0;
        sheet.text_within((axis.to + 8.0, y + 16.0), Type::plain(11.0), &words, room);
    }
    let zero = axis.place(0.0);
    let floor = 84.0 + ROW * map.places.len() as f64;
    sheet.line(&[(zero, 80.0), (zero, floor)], INK, 1.0);
    sheet.text(zero, floor + 16.0, Anchor::Middle, Type::pale(11.0), "mean of the kiln");
    sheet
}

/// Money by group: what the loads cost, and beside it what the misses lost.
pub fn costs(title: &str, rows: &[Costs]) -> Sheet {
    let height = 110.0 + ROW * rows.len().max(1) as f64;
    let below = "dark: what the loads cost; ember: what the misses lost; in the shop's own money";
    let mut sheet = headed(height, title, below);
    let lost = |row: &Costs| row.lost_under + row.lost_over;
    let most = rows.iter().map(|row| row.total.max(lost(row))).fold(1.0, f64::max);
    let axis = Axis { low: 0.0, high: most, from: MARGIN + NAMES, to: WIDTH - MARGIN - 170.0 };
    for (index, row) in rows.iter().enumerate() {
        let y = 84.0 + ROW * index as f64;
        name(&mut sheet, &row.group, y);
        for (value, fill, top) in [(row.total, SLATE, 2.0), (lost(row), EMBER, 13.0)] {
            let width = axis.place(value) - axis.from;
            sheet.fill(Area { x: axis.from, y: y + top, width, height: 9.0 }, fill);
        }
        let words = format!("{}, lost {}", fixed(row.total, 0), fixed(lost(row), 0));
        let room = WIDTH - MARGIN - axis.to - 12.0;
        sheet.text_within((axis.to + 12.0, y + 16.0), Type::plain(11.0), &words, room);
    }
    sheet
}
