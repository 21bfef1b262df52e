//! The floor: one kiln, a few side by side, many in a grid or in a list, whichever the shop and the
//! terminal ask for.

use ratatui::layout::Constraint::{Fill, Length, Min};
use ratatui::layout::{Layout, Rect};

use super::{
    Drawing, curve, headline, hint_line, message_lines, panel, port, rail, title_line, told_rows,
};
use crate::edge::screen::theme::Part;
use crate::scene::{KilnScene, Phase};
use crate::words;

/// A panel narrower than this says too little; then only the chosen kiln gets one.
const PANEL_COLUMNS: u16 = 38;
/// Rows of a panel: its frame, eight lines, and the cones drawn three rows high.
const PANEL_ROWS: u16 = 13;
/// A panel of the grid: a line of words, and its frame with three lines and four rows drawn.
const CARD: (u16, u16) = (29, 9);
/// So few kilns are shown side by side; more get a grid.
const FEW: usize = 3;
/// The rail stands in a column of its own where the body is at least this wide.
const WIDE: u16 = 160;
const RAIL_COLUMNS: u16 = 36;

/// ```text
/// title                                  time
/// headline: digits | sentence
/// body
/// message, two rows or as many as it takes
/// hints
/// ```
pub(super) fn render(picture: &Drawing<'_>, area: Rect) {
    let headline_rows = headline::rows(picture, area);
    // Room is kept for the usual message, so that the rest does not jump when one comes.
    let usual = if picture.staying(area.width).is_empty() { 2 } else { 3 };
    let told = told_rows(picture, area.width).clamp(usual, (area.height / 3).max(usual));
    let [top, head, body, message, hint] =
        Layout::vertical([Length(1), Length(headline_rows), Min(0), Length(told), Length(1)])
            .areas(area);
    title_line(picture, top);
    headline::render(picture, head);
    let kilns = picture.scene.kilns.len();
    if let Some(kiln) = alone(picture) {
        one(kiln, picture, body);
    } else if kilns > FEW && grid_columns(kilns as u16, body).is_some() {
        many(picture, body);
    } else if kilns > 0
        && body.width / kilns as u16 >= PANEL_COLUMNS
        && body.height >= PANEL_ROWS + 6
    {
        few(picture, body);
    } else {
        listed(picture, body);
    }
    message_lines(picture, message);
    hint_line(picture, hint);
}

/// The kiln the whole floor is about: the chosen one where that was asked for, else the only one
/// with a firing, unless another was chosen.
pub(super) fn alone<'a>(picture: &Drawing<'a>) -> Option<&'a KilnScene> {
    if picture.app.alone {
        return picture.kiln();
    }
    let mut busy = picture.scene.kilns.iter().filter(|kiln| kiln.phase != Phase::Empty);
    let only = busy.next().filter(|kiln| kiln.is_lit())?;
    let chosen = picture.kiln().is_some_and(|chosen| chosen.kiln == only.kiln);
    (busy.next().is_none() && chosen).then_some(only)
}

/// ```text
/// port, and words | curve
/// beside it       |
/// load, reading   | story
/// ```
fn one(kiln: &KilnScene, picture: &Drawing<'_>, body: Rect) {
    // A port is twice as wide as it is high; beside it stand the words.
    let left_columns = (2 * body.height + 15).min(body.width / 2).max(PANEL_COLUMNS);
    let [left, right] = Layout::horizontal([Length(left_columns), Min(0)]).areas(body);
    let now = picture.scene.now;
    let facts = [
        Some(words::load_line(kiln, now, &picture.dial)),
        words::reading_line(kiln, now, &picture.dial),
    ];
    let facts: Vec<String> = facts.into_iter().flatten().collect();
    let [port_area, below] = Layout::vertical([Min(0), Length(facts.len() as u16)]).areas(left);
    picture.lines(facts.into_iter().map(|fact| (fact, Part::Quiet)), below);
    let title = picture.name_and_state(kiln, port_area.width.saturating_sub(4));
    port::render(kiln, picture, title, port_area);
    let lower_rows = if right.height >= 18 { 10 } else { 0 };
    let [upper, lower] = Layout::vertical([Min(0), Length(lower_rows)]).areas(right);
    curve::render(picture, upper);
    if lower_rows > 0 {
        panel::story(picture, lower);
    }
}

/// ```text
/// panel | panel | panel
/// rail
/// port | curve | story
/// ```
fn few(picture: &Drawing<'_>, body: Rect) {
    let [panels, line, below] =
        Layout::vertical([Length(PANEL_ROWS), Length(1), Min(0)]).areas(body);
    panel::side_by_side(picture, panels);
    rail::line(picture, line);
    let lit = picture.kiln().filter(|kiln| kiln.is_lit());
    let port_columns = if lit.is_some() { 2 * below.height - 2 } else { 0 };
    let [left, middle, right] =
        Layout::horizontal([Length(port_columns), Fill(2), Fill(1)]).areas(below);
    if let Some(kiln) = lit {
        port::render(kiln, picture, words::port_title(&kiln.kiln), left);
    }
    curve::render(picture, middle);
    panel::story(picture, right);
}

/// The panels of the grid, row by row, and the rail above or beside them.
fn many(picture: &Drawing<'_>, body: Rect) {
    let kilns = &picture.scene.kilns;
    let Some(columns) = grid_columns(kilns.len() as u16, body) else { return };
    let grid = grid_area(body);
    if body.width >= WIDE {
        let beside = Rect { x: grid.right(), width: RAIL_COLUMNS, ..body };
        rail::column(picture, beside);
    } else {
        rail::line(picture, Rect { height: 1, ..body });
    }
    let count = kilns.chunks(usize::from(columns)).len();
    let rows = Layout::vertical(vec![Fill(1); count]).split(grid);
    for (row, kilns) in rows.iter().zip(kilns.chunks(usize::from(columns))) {
        let places = Layout::horizontal(vec![Fill(1); columns.into()]).split(*row);
        for (place, kiln) in places.iter().zip(kilns) {
            panel::card(kiln, picture, *place);
        }
    }
}

fn grid_area(body: Rect) -> Rect {
    if body.width >= WIDE {
        Rect { width: body.width - RAIL_COLUMNS, ..body }
    } else {
        let rail = body.height.min(1);
        Rect { y: body.y + rail, height: body.height - rail, ..body }
    }
}

/// Columns of a grid that holds so many kilns in panels as even as can be, if they all fit.
fn grid_columns(kilns: u16, body: Rect) -> Option<u16> {
    let grid = grid_area(body);
    let most = (grid.width / CARD.0).max(1);
    let rows = kilns.div_ceil(most).max(1);
    (grid.width >= CARD.0 && grid.height / rows >= CARD.1).then(|| kilns.div_ceil(rows))
}

/// ```text
/// list  | curve
/// panel | story
/// ```
fn listed(picture: &Drawing<'_>, body: Rect) {
    let kilns = picture.scene.kilns.len() as u16;
    let [left, right] = Layout::horizontal([Length(PANEL_COLUMNS + 2), Min(0)]).areas(body);
    if usize::from(kilns) > FEW {
        return all_listed(picture, left, right);
    }
    let list_rows = kilns.min(left.height.saturating_sub(9)).max(1);
    let [list, below] = Layout::vertical([Length(list_rows), Min(0)]).areas(left);
    panel::list(picture, &picture.scene.kilns, list);
    if let Some(kiln) = picture.kiln() {
        panel::render(kiln, picture, false, below);
    }
    let story_rows = if right.height >= 18 { right.height / 3 } else { 0 };
    let [upper, lower] = Layout::vertical([Min(0), Length(story_rows)]).areas(right);
    curve::render(picture, upper);
    if story_rows > 0 {
        panel::story(picture, lower);
    }
}

/// All kilns on the left with the rail below them, the chosen one on the right.
fn all_listed(picture: &Drawing<'_>, left: Rect, right: Rect) {
    let kilns = picture.scene.kilns.len() as u16;
    let [list, coming] = Layout::vertical([Length(kilns.min(left.height)), Min(0)]).areas(left);
    panel::list(picture, &picture.scene.kilns, list);
    if coming.height >= 3 {
        rail::column(picture, coming);
    }
    let Some(kiln) = picture.kiln() else { return };
    let panel_rows = if right.height >= PANEL_ROWS + 6 { PANEL_ROWS } else { right.height };
    let [upper, lower] = Layout::vertical([Length(panel_rows), Min(0)]).areas(right);
    panel::render(kiln, picture, false, upper);
    if lower.height > 0 {
        curve::render(picture, lower);
    }
}
