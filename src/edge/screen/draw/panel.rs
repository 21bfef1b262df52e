//! One kiln in a panel, several in a list, and the story of one.
//!
//! ```text
//! + > Heron (o) watch ----------------+
//! | LOOK NOW                          |
//! | gold, lit 9:10, gas               |
//! | guide  019 lean 62/90 half, 4 min |
//! | target 018 lean 12/90             |
//! | guard  017 lean 8/90              |
//! | about 690 C, climbing 150 C/h     |
//! | read 688 C 4 min ago              |
//! | drop 14:05, likely 13:55 to 14:20 |
//! |   \_      |      |                |
//! +-----------------------------------+
//! ```

use ratatui::layout::Constraint::{Fill, Length};
use ratatui::layout::{Layout, Rect};

use super::{Drawing, cones, curve};
use crate::edge::screen::theme::Part;
use crate::scene::KilnScene;
use crate::words;

/// The pack in a small panel is no wider: the names of its cones just fit below them.
const PACK_COLUMNS: u16 = 18;

/// Every kiln in a panel, in the order of urgency.
pub(super) fn side_by_side(picture: &Drawing<'_>, area: Rect) {
    let kilns = &picture.scene.kilns;
    let places = Layout::horizontal(kilns.iter().map(|_| Fill(1))).split(area);
    for (kiln, place) in kilns.iter().zip(places.iter()) {
        render(kiln, picture, true, *place);
    }
}

/// One kiln; what to do is left out where it stands beside the panel already.
pub(super) fn render(kiln: &KilnScene, picture: &Drawing<'_>, with_todo: bool, area: Rect) {
    picture.spot_kiln(kiln, area);
    let inside = titled(kiln, picture, area);
    let now = picture.scene.now;
    let mut lines = vec![(words::load_line(kiln, now, &picture.dial), Part::Quiet)];
    if with_todo {
        lines.insert(0, (words::say_short(kiln, now), picture.part_of(kiln)));
    }
    let columns = usize::from(inside.width);
    let cones = kiln.cones.iter().map(|cone| words::cone_line(cone, now, columns));
    lines.extend(cones.map(|line| (line, Part::Text)));
    if kiln.is_lit() && kiln.last_look.is_none() {
        lines.push((words::NOBODY_LOOKED.into(), Part::Quiet));
    }
    let facts = [
        words::drop_short(kiln, now, &picture.dial, columns),
        words::chamber_line(kiln, &picture.dial),
        words::reading_line(kiln, now, &picture.dial),
        words::watch_line(kiln, now, &picture.dial),
        words::cool_line(kiln, now, &picture.dial),
    ];
    lines.extend(facts.into_iter().flatten().map(|fact| (fact, Part::Quiet)));
    let drawn_rows = if inside.height >= 9 { 3 } else { 0 };
    let text_rows = (lines.len() as u16).min(inside.height - drawn_rows.min(inside.height));
    picture.lines(lines, Rect { height: text_rows, ..inside });
    if kiln.is_lit() {
        let below = Rect {
            y: inside.y + text_rows,
            height: drawn_rows.min(inside.height - text_rows),
            ..inside
        };
        cones::render(kiln, picture, below);
    }
}

/// A kiln in a small panel: what to do in how long, its heat and its cones.
///
/// ```text
/// +   Otter /^\ heating ------+
/// | look in 2 h 10 min        |
/// | drop 16:40, 16:10 to 17:20|
/// | gold, cone 018            |
/// |        ..::: |  #         |
/// |    **|.  ::: |  #   #   # |
/// | ***  |   ::: | 017 018 019|
/// +---------------------------+
/// ```
pub(super) fn card(kiln: &KilnScene, picture: &Drawing<'_>, area: Rect) {
    let now = picture.scene.now;
    let inside = titled(kiln, picture, area);
    let todo = (words::say_short(kiln, now), picture.part_of(kiln));
    let drop = words::drop_short(kiln, now, &picture.dial, inside.width.into());
    let facts = [drop, words::load_short(kiln)];
    let facts = facts.into_iter().flatten().map(|fact| (fact, Part::Quiet));
    let lines: Vec<_> = [todo].into_iter().chain(facts).collect();
    let rows = (lines.len() as u16).min(inside.height);
    picture.lines(lines, inside);
    let below = Rect { y: inside.y + rows, height: inside.height - rows, ..inside };
    let pack_columns = match kiln.is_lit() {
        true => cones::columns(kiln.cones.len(), below.height).min(PACK_COLUMNS),
        false => 0,
    };
    let [left, _, right] =
        Layout::horizontal([Fill(1), Length(1), Length(pack_columns)]).areas(below);
    curve::tiny(kiln, picture, left);
    cones::render(kiln, picture, right);
}

/// One row a kiln; if they do not all fit, the most urgent, and how many more there are.
pub(super) fn list<'a>(
    picture: &Drawing<'_>,
    kilns: impl IntoIterator<Item = &'a KilnScene>,
    area: Rect,
) {
    let kilns: Vec<&KilnScene> = kilns.into_iter().collect();
    let all = usize::from(area.height);
    let shown = if kilns.len() > all { all.saturating_sub(1) } else { kilns.len() };
    if let Some(row) = area.rows().nth(shown).filter(|_| shown < kilns.len()) {
        picture.line(words::more_kilns(kilns.len() - shown), Part::Quiet, row);
    }
    for (kiln, row) in kilns.into_iter().take(shown).zip(area.rows()) {
        picture.spot_kiln(kiln, row);
        let (marker, todo) = (marker(kiln, picture), words::say_short(kiln, picture.scene.now));
        let room = row.width.saturating_sub((marker.len() + todo.len() + 2) as u16);
        let text = format!("{marker}{}: {todo}", picture.name_and_state(kiln, room));
        picture.line(text, picture.part_of(kiln), row);
    }
}

/// What happened at the chosen kiln, the newest at the bottom.
pub(super) fn story(picture: &Drawing<'_>, area: Rect) {
    let Some(kiln) = picture.kiln() else { return };
    let inside = picture.framed(words::story_title(&kiln.kiln), Part::Text, area);
    picture.story(&kiln.happened(), (Part::Quiet, kiln.firing.is_none()), inside);
}

/// The frame of a kiln's panel; the answer is the room inside.
fn titled(kiln: &KilnScene, picture: &Drawing<'_>, area: Rect) -> Rect {
    let marker = marker(kiln, picture);
    let room = area.width.saturating_sub(4 + marker.len() as u16);
    let title = format!("{marker}{}", picture.name_and_state(kiln, room));
    let part = if is_chosen(kiln, picture) { Part::Accent } else { Part::Text };
    picture.framed(title, part, area)
}

fn is_chosen(kiln: &KilnScene, picture: &Drawing<'_>) -> bool {
    picture.kiln().is_some_and(|chosen| chosen.kiln == kiln.kiln)
}

fn marker(kiln: &KilnScene, picture: &Drawing<'_>) -> &'static str {
    if is_chosen(kiln, picture) { "> " } else { "  " }
}
