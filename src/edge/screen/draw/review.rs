//! The review: one page of what past firings teach.
//!
//! ```text
//! Outcomes by load, 1 of 5 | all kilns, all time, 240 firings
//! ####  # #  #  #     219 of 240 loads came out good (87 to 94 %).
//! ####    #   ##      Misses go with late looks: 12 of 31 missed,
//!    #  ###  #  #     without 9 of 209.
//! +-----------------------------------------------------------+
//! | > = gold   72 of 80: 90 % (81 to 95 %)  ======[==--]      |
//! +-----------------------------------------------------------+
//! the chart of the row, or its sentence
//! ```

mod bars;
mod cases;
mod chart;
mod months;
mod why;

use ratatui::layout::Constraint::{Length, Min};
use ratatui::layout::{Layout, Position, Rect};

use super::frame::take;
use super::{Drawing, digits, wrap};
use crate::edge::screen::review::Review;
use crate::edge::screen::theme::{Part, Theme};
use crate::review::bench::CastsBy;
use crate::scene::{Page, ReviewRow, ReviewScene};
use crate::words::{self, Finding, RowWords, Standing};

/// Narrower or lower than this there are no frames and no bars.
const ROOMY: (u16, u16) = (64, 16);
/// Rows of a chart with its frame, at least.
const CHART: u16 = 9;
/// Rows of the months, at most.
const MONTHS: u16 = 10;
/// The sentence of the row below the list.
const SENTENCE: u16 = 2;

pub(super) fn render(review: &Review, picture: &Drawing<'_>, area: Rect) -> Option<Position> {
    let mut rest = area;
    let top = take(&mut rest, 1);
    let scene = review.scene.as_deref();
    let roomy = area.width >= ROOMY.0 && area.height >= ROOMY.1;
    picture.line(page_line(review, scene, roomy), Part::Accent, top);
    let Some(scene) = scene else {
        picture.paragraph(words::NOTHING_READ_YET, Part::Text, rest);
        return None;
    };
    if let (Some(pick), Some(row)) = (&review.why, review.row()) {
        why::render(pick, row, (review, scene), picture, rest);
        return None;
    }
    headline(&words::page_finding(review.page, scene, picture.dial.scale), picture, &mut rest);
    if !roomy {
        rows(review, scene, picture, rest);
        return None;
    }
    let below = match review.page {
        Page::Drift | Page::Bench => CHART.max(rest.height / 2),
        Page::Tolerance => cases::ROWS,
        Page::Outcomes | Page::Cost => (rest.height / 2).min(MONTHS),
        Page::Evenness => SENTENCE,
    };
    let [list, below] = Layout::vertical([Min(3), Length(below)]).areas(rest);
    let inside = picture.framed(words::bars_mean(review.page).into(), Part::Quiet, list);
    rows(review, scene, picture, inside);
    let row = review.row()?;
    match (charted(row, scene), row) {
        (Some(drift), _) => chart::render(drift, scene, picture, below),
        (None, ReviewRow::Edge(row, _)) => cases::render(row, scene, picture, below),
        _ if matches!(review.page, Page::Outcomes | Page::Cost) => {
            months::render(review.page, scene, picture, below);
        }
        _ => {
            let sentence = words::row_sentence(&row, scene, picture.dial.scale);
            picture.paragraph(sentence, Part::Quiet, below);
        }
    }
    None
}

/// The series that is drawn for a row.
fn charted<'a>(
    row: ReviewRow<'a>,
    scene: &'a ReviewScene,
) -> Option<&'a crate::review::drift::Drift> {
    match row {
        ReviewRow::Series(drift) => Some(drift),
        ReviewRow::Probe(probe, _) => scene.probe_series(&probe.kiln),
        ReviewRow::Casts(CastsBy::Mould, casts) => scene.mould_series(&casts.group),
        _ => None,
    }
}

/// `Outcomes by load, 1 of 5 | all kilns, all time, 240 firings`; where there is little room, which
/// page it is and what it is of.
fn page_line(review: &Review, scene: Option<&ReviewScene>, roomy: bool) -> String {
    let name = words::page_name(review.page, review.way);
    let of = format!("{}, {}", words::which_kilns(review.kiln.as_deref()), review.period.name());
    if !roomy {
        return format!("{name} | {of}");
    }
    let bench = scene.and_then(|scene| scene.bench.as_ref());
    let number = words::page_number(review.page, bench.is_some());
    if let (Page::Bench, Some(bench)) = (review.page, bench) {
        let casts = words::how_many_casts(bench.missed().of);
        return format!("{name}, {number} | {}, {casts}", review.period.name());
    }
    let count = scene.map_or_else(String::new, |s| format!(", {}", words::how_many(s.past.len())));
    format!("{name}, {number} | {of}{count}")
}

/// The finding of the page, as large as there is room: beside its sentence, or above it.
fn headline(finding: &Finding, picture: &Drawing<'_>, rest: &mut Rect) {
    let part = if finding.loud { Part::Urgent } else { Part::Text };
    let scale = (rest.height / 17).min(rest.width / 55).max(1);
    let columns = digits::width(&finding.big) * scale;
    let fits = columns <= rest.width && rest.height >= digits::ROWS + 4;
    if !fits {
        let lines = wrap::wrap(&finding.say, rest.width).len().min(3) as u16;
        return picture.paragraph(&finding.say, part, take(rest, lines));
    }
    let beside = rest.width.saturating_sub(columns + 3);
    let said = wrap::wrap(&finding.say, beside.max(1)).len() as u16;
    if beside >= 24 && said <= digits::ROWS * scale {
        let band = take(rest, digits::ROWS * scale);
        digits::render(&finding.big, scale, Part::Accent, band, picture);
        let right = Rect { x: band.x + columns + 3, width: beside, ..band };
        picture.paragraph(&finding.say, part, right);
        take(rest, u16::from(rest.height > 16));
        return;
    }
    digits::render(&finding.big, 1, Part::Accent, take(rest, digits::ROWS), picture);
    let lines = wrap::wrap(&finding.say, rest.width).len().min(3) as u16;
    picture.paragraph(&finding.say, part, take(rest, lines));
}

/// The rows of the page around the one somebody is at.
fn rows(review: &Review, scene: &ReviewScene, picture: &Drawing<'_>, area: Rect) {
    let rows = review.page_rows();
    let roomy = area.width + 2 >= ROOMY.0;
    let scale = picture.dial.scale;
    let told: Vec<RowWords> =
        rows.iter().map(|row| words::review_row(row, scene, scale, area.width >= 100)).collect();
    let widest = |text: fn(&RowWords) -> &str| {
        told.iter().map(|row| text(row).chars().count()).max().unwrap_or(0)
    };
    let names = widest(|row| &row.name).min(usize::from(area.width) / 3);
    let figures = widest(|row| &row.figures);
    let states = widest(|row| row.says.screen);
    let left = usize::from(area.width).saturating_sub(names + figures + states + 10);
    let bar = if roomy && left >= 8 { left.min(40) } else { 0 };
    for (place, here, is_here) in picture.listed(area, rows.len(), review.rows.at) {
        let (row, told) = (&rows[place], &told[place]);
        let standing = told.says.standing;
        let (marker, part) = match standing {
            _ if is_here => (">", Part::Key),
            Standing::Changed | Standing::Suggested | Standing::Down => (" ", Part::Accent),
            Standing::TooFew | Standing::Learning => (" ", Part::Quiet),
            _ => (" ", Part::Text),
        };
        let mark = shape(standing, picture.theme);
        let text = if roomy {
            let drawn = bars::bar(row.bar(scene), bar, picture.theme.ascii);
            let name: String = told.name.chars().take(names).collect();
            format!(
                "{marker} {mark} {name:<names$}  {:<figures$}  {drawn}  {}",
                told.figures, told.says.screen
            )
        } else {
            format!("{marker} {mark} {}: {} {}", told.name, told.figures, told.says.screen)
        };
        picture.line(text.trim_end().to_owned(), part, here);
    }
}

/// The shape that stands beside the word of a standing.
fn shape(standing: Standing, theme: Theme) -> &'static str {
    let (unicode, ascii) = match standing {
        Standing::Steady => ("●", "="),
        Standing::Up => ("▲", "^"),
        Standing::Down => ("▼", "v"),
        Standing::Changed => ("◆", "!"),
        Standing::Suggested => ("◈", "*"),
        Standing::Learning => ("◌", "~"),
        Standing::TooFew => ("?", "?"),
        Standing::Hottest => ("△", "+"),
        Standing::Coldest => ("▽", "-"),
        Standing::Plain => (" ", " "),
    };
    theme.pick(unicode, ascii)
}
