//! A column for each month: how many loads and how many of them missed, or what they cost and lost.
//!
//! ```text
//! each month, dark: loads; light: misses      12
//!           :::
//! ###  ###  ###  :::
//! ###  ###  ###  ###
//! 11   12   2026 02
//! ```

use ratatui::layout::Rect;

use crate::edge::screen::draw::Drawing;
use crate::edge::screen::draw::frame::take;
use crate::edge::screen::theme::Part;
use crate::review::outcomes::By;
use crate::review::table::fixed;
use crate::scene::{Page, ReviewScene};
use crate::words;

/// Columns of a month with the gap after it.
const WIDE: u16 = 5;

/// Each month, and the heights of its full and its light part.
fn months(page: Page, scene: &ReviewScene) -> Vec<(&str, f64, f64)> {
    let costs = scene.costs.iter().filter(|(by, _)| page == Page::Cost && *by == By::Month);
    let costs = costs.flat_map(|(_, rows)| rows);
    let costs = costs.map(|row| (row.group.as_str(), row.total, row.lost.total()));
    let loads = scene.outcomes.iter().filter(|(by, _)| page != Page::Cost && *by == By::Month);
    let loads = loads.flat_map(|(_, rows)| rows);
    let loads = loads.map(|row| {
        let (good, of) = (row.good.hits as f64, row.good.of as f64);
        (row.group.as_str(), good, of - good)
    });
    costs.chain(loads).collect()
}

/// Draws the newest months there is room for.
pub(super) fn render(page: Page, scene: &ReviewScene, picture: &Drawing<'_>, area: Rect) {
    let all = months(page, scene);
    let skipped = all.len().saturating_sub(usize::from(area.width / WIDE));
    let shown = &all[skipped..];
    let tallest = shown.iter().map(|(_, full, light)| full + light).fold(0.0, f64::max);
    if tallest <= 0.0 || area.height < 5 {
        return;
    }
    let mut rest = area;
    let said = take(&mut rest, 1);
    let most = words::most_in_a_month(&fixed(tallest, 0));
    picture.line(format!("{}; {most}", words::months_mean(page)), Part::Quiet, said);
    let names = Rect { y: rest.bottom() - 1, height: 1, ..rest };
    let columns = Rect { height: rest.height - 1, ..rest };
    let rows = |value: f64| (value / tallest * f64::from(columns.height)).round() as u16;
    for (at, (name, full, light)) in (0u16..).zip(shown) {
        let left = columns.x + at * WIDE;
        let (full, all) = (rows(*full), rows(full + light));
        for up in 0..all.min(columns.height) {
            let ink = match up < full {
                true => picture.theme.pick("███", "###"),
                false => picture.theme.pick("▒▒▒", ":::"),
            };
            let row = Rect::new(left, columns.bottom() - 1 - up, 3, 1);
            picture.line(ink.into(), Part::Accent, row);
        }
        // `2026-03`: the month, and the year in place of January.
        let (year, number) = name.split_once('-').unwrap_or(("", name));
        let name = if number == "01" { year } else { number };
        let place = Rect { x: left, width: 4, ..names };
        picture.line(name.into(), Part::Quiet, place.intersection(area));
    }
}
