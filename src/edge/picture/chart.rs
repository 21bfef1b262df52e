//! The charts of the review: rows with their bars, and a series under watch.

use std::iter;

use super::axes::{Axis, draw_upright};
use super::sheet::{Anchor, Area, EMBER, INK, LINE, PALE, SLATE, STRAW, Sheet, Type};
use crate::review::drift::Drift;
use crate::scene::{Bar, Control, Page, ReviewRow, ReviewScene};
use crate::units::Scale;
use crate::words;

const WIDTH: f64 = 760.0;
const MARGIN: f64 = 36.0;
const ROW: f64 = 34.0;
/// Room for names left of bars, and for figures right of them.
const SIDES: (f64, f64) = (190.0, 230.0);

fn headed(height: f64, title: &str, below: &str) -> Sheet {
    let mut sheet = Sheet::new(title, WIDTH, height);
    let width = WIDTH - 2.0 * MARGIN;
    sheet.text_within((MARGIN, 38.0), Type::bold(18.0), title, width);
    sheet.text_within((MARGIN, 58.0), Type::pale(12.0), below, width);
    sheet
}

/// The pictures of a page of the review whose rows are told apart in this way.
pub fn of_page((page, way): (Page, usize), scene: &ReviewScene, scale: Scale) -> Vec<Sheet> {
    let rows = scene.rows(page, way);
    let drawn = |title: &str, is_drawn: &dyn Fn(&ReviewRow<'_>) -> bool| {
        let rows: Vec<ReviewRow<'_>> = rows.iter().filter(|row| is_drawn(row)).copied().collect();
        bars((page, title), &rows, scene, scale)
    };
    match page {
        Page::Drift => scene.drifts.iter().map(|one| drift(one, scene, scale)).collect(),
        Page::Evenness => {
            let of_map = |kiln: &str| {
                drawn(
                    &words::hotter_and_colder(kiln),
                    &|row| matches!(row, ReviewRow::Place(of, _) if of.kiln == kiln),
                )
            };
            scene.maps.iter().map(|map| of_map(&map.kiln)).collect()
        }
        Page::Bench => {
            let drifts = scene.bench.iter().flat_map(|bench| &bench.drifts).filter(|_| way == 0);
            let bars = drawn(&words::page_name(page, way), &|_| true);
            iter::once(bars).chain(drifts.map(|one| drift(one, scene, scale))).collect()
        }
        _ => vec![drawn(&words::page_name(page, way), &|row| match row {
            ReviewRow::Outcomes(..) | ReviewRow::Edge(..) => true,
            ReviewRow::Costs(_, group) => !std::ptr::eq(*group, &scene.all_costs),
            _ => false,
        })],
    }
}

/// The rows of a page, each with its name, its bar and its figures.
pub fn bars(
    (page, title): (Page, &str),
    rows: &[ReviewRow<'_>],
    scene: &ReviewScene,
    scale: Scale,
) -> Sheet {
    let height = 104.0 + ROW * rows.len().max(1) as f64;
    let mut sheet = headed(height, title, words::bars_mean(page));
    let axis = Axis { low: 0.0, high: 1.0, from: MARGIN + SIDES.0, to: WIDTH - MARGIN - SIDES.1 };
    for (index, row) in rows.iter().enumerate() {
        let y = 84.0 + ROW * index as f64;
        let told = words::review_row(row, scene, scale, false);
        let set = Type::plain(12.0);
        sheet.text_within((MARGIN, y + 16.0), set, &told.name, SIDES.0 - 12.0);
        let track = Area { x: axis.from, y: y + 4.0, width: axis.to - axis.from, height: 16.0 };
        sheet.fill(track, LINE);
        bar(&mut sheet, &axis, row.bar(scene), track);
        let place = (axis.to + 12.0, y + 11.0);
        sheet.text_within(place, Type::plain(10.0), &told.figures, SIDES.1 - 12.0);
        let place = (place.0, y + 24.0);
        sheet.text_within(place, Type::pale(10.0), told.says.screen, SIDES.1 - 12.0);
    }
    sheet
}

fn bar(sheet: &mut Sheet, axis: &Axis, bar: Bar, track: Area) {
    let mut fill = |from: f64, to: f64, colour| {
        let (x, to) = (axis.place(from), axis.place(to));
        sheet.fill(Area { x, width: to - x, ..track }, colour);
    };
    if let Some((full, all)) = bar.amounts {
        fill(0.0, full, SLATE);
        fill(full, all, PALE);
    }
    if let Some((from, to)) = bar.full {
        fill(from, to, SLATE);
    }
    let middle = track.y + 0.5 * track.height;
    if let Some((low, high)) = bar.whiskers {
        let (low, high) = (axis.place(low), axis.place(high));
        sheet.line(&[(low, middle), (high, middle)], EMBER, 2.0);
        for end in [low, high] {
            sheet.line(&[(end, middle - 5.0), (end, middle + 5.0)], EMBER, 2.0);
        }
    }
    if let Some(part) = bar.middle {
        sheet.dot((axis.place(part), middle), 3.0, EMBER);
    }
    if let Some(part) = bar.figure {
        let x = axis.place(part);
        sheet.line(&[(x, track.y - 2.0), (x, track.bottom() + 2.0)], INK, 1.5);
    }
}

/// One series: every firing a dot, the usual as a band, the average that follows it, and where a
/// change began.
pub fn drift(drift: &Drift, scene: &ReviewScene, scale: Scale) -> Sheet {
    let (title, _) = words::series_words(drift, scene, scale);
    let mut sheet = headed(400.0, &title, &words::drift_sentence(drift, scene, scale));
    let control = Control::of(drift, scale, scene.ahead);
    let picture = Area { x: 96.0, y: 88.0, width: WIDTH - 96.0 - MARGIN, height: 250.0 };
    let height =
        Axis { low: control.low, high: control.high, from: picture.bottom(), to: picture.y };
    let last = (control.values.len().max(2) - 1) as f64;
    let along = Axis { low: 0.0, high: last, from: picture.x + 6.0, to: picture.right() - 6.0 };
    if let Some([low, _, high]) = control.usual {
        let (y, bottom) = (height.place(high), height.place(low));
        sheet.fill(Area { y, height: bottom - y, ..picture }, STRAW);
    }
    draw_upright(&mut sheet, &height, picture, 6, drift.measure.unit(scale));
    for (index, value) in control.values.iter().enumerate() {
        sheet.dot((along.place(index as f64), height.place(*value)), 2.2, PALE);
    }
    let (first, average) = &control.average;
    let average = average.iter().enumerate();
    let average = average.map(|(at, mean)| (along.place((at + first) as f64), height.place(*mean)));
    sheet.line(&average.collect::<Vec<_>>(), EMBER, 2.0);
    if let Some(began) = control.began {
        let x = along.place(began as f64);
        sheet.dashed(x, (picture.y - 4.0, picture.bottom()), SLATE);
        let set = Type { size: 11.0, bold: false, colour: SLATE };
        let text = words::since(&control.days[began]);
        let _drawn = [Anchor::Middle, Anchor::End, Anchor::Start]
            .into_iter()
            .any(|anchor| sheet.text(x, picture.y - 8.0, anchor, set, &text));
    }
    days(&mut sheet, &control.days, &along, picture);
    let place = (picture.x, picture.bottom() + 42.0);
    sheet.text_within(place, Type::pale(11.0), words::CHART_MEANS, picture.width);
    sheet
}

/// The days of some of the firings under the picture, as many as fit.
fn days(sheet: &mut Sheet, days: &[String], along: &Axis, picture: Area) {
    let steps = 6.min(days.len());
    for step in 0..steps {
        let index = step * (days.len() - 1) / (steps - 1).max(1);
        let x = along.place(index as f64);
        let anchor = match step {
            0 => Anchor::Start,
            _ if step + 1 == steps => Anchor::End,
            _ => Anchor::Middle,
        };
        if sheet.text(x, picture.bottom() + 20.0, anchor, Type::pale(11.0), &days[index]) {
            sheet.line(&[(x, picture.bottom()), (x, picture.bottom() + 5.0)], INK, 1.0);
        }
    }
    sheet.line(&[(picture.x, picture.bottom()), (picture.right(), picture.bottom())], INK, 1.0);
}
