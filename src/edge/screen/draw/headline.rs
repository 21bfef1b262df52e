//! The most urgent kiln: its countdown in big digits, its sentence beside them.
//!
//! ```text
//! ####  # #     Look at Heron in 23 min, at 13:50.
//! #  #  ###     watch from 13:50, in 23 min
//! ####    #     drop 14:05, likely 13:55 to 14:20
//! to the next look at Heron
//! ```

use ratatui::layout::Constraint::{Length, Min};
use ratatui::layout::{Layout, Rect};

use super::wrap::wrap;
use super::{Drawing, digits};
use crate::edge::screen::theme::Part;
use crate::scene::KilnScene;
use crate::words;

/// Rows of the headline on a screen of this size: less where nothing large can be said.
pub(super) fn rows(picture: &Drawing<'_>, area: Rect) -> u16 {
    let scale = (area.height / 18).min(area.width / 55).max(1);
    if let Some((kiln, big)) = large(picture) {
        let rows = digits::ROWS * scale + 1;
        // A doubt is told whole beside small digits.
        let room = area.width.saturating_sub(columns(picture, kiln, &big, (scale, area.width)).0);
        let told = wrap(&picture.headline(), room).len() as u16;
        let told = told.min(2 * digits::ROWS - 1);
        return if kiln.doubted.is_some() && scale == 1 { rows.max(told) } else { rows };
    }
    let said = wrap(&picture.headline(), area.width).len() as u16;
    match idle(picture, area.width) {
        Some(phrase) => digits::ROWS * scale.min(area.width / digits::width(&phrase)) + said.min(2),
        None => 3,
    }
}

/// The kiln that comes first, with its countdown.
fn large<'s>(picture: &Drawing<'s>) -> Option<(&'s KilnScene, String)> {
    let first = picture.scene.kilns.first()?;
    Some((first, words::big_word(first, picture.scene.now)?))
}

/// The columns of digits and caption, and the caption: a long name gives way to what is said beside it, and the
/// words before it to the name.
fn columns(
    picture: &Drawing<'_>,
    kiln: &KilnScene,
    big: &str,
    (scale, width): (u16, u16),
) -> (u16, String) {
    let caption = words::big_caption(kiln, picture.scene.now);
    let room = (digits::width(big) * scale).max(width / 3);
    let whole = caption.chars().count() <= usize::from(room);
    let caption = if whole { caption } else { words::shortened(&kiln.kiln, room.into()) };
    ((digits::width(big) * scale).max(caption.chars().count() as u16) + 3, caption)
}

/// What is said large while nothing is counted down, where it has room in one line.
fn idle(picture: &Drawing<'_>, columns: u16) -> Option<String> {
    let fits = |text: &String| digits::lines(text, columns).is_some_and(|lines| lines.len() == 1);
    words::large_when_idle(picture.scene).into_iter().find(fits)
}

/// ```text
/// letters
/// sentence
/// ```
fn render_idle(picture: &Drawing<'_>, area: Rect) {
    let first = picture.scene.kilns.first();
    let part = first.map_or(Part::Text, |kiln| picture.part_of(kiln));
    let mut said = area;
    if let Some(phrase) = idle(picture, area.width) {
        let scale = digits::scale(&phrase, area.width, area.height.saturating_sub(1));
        digits::render(&phrase, scale, Part::Accent, area, picture);
        let rows = digits::ROWS * scale;
        said = Rect { y: area.y + rows, height: area.height - rows, ..area };
    }
    picture.paragraph(picture.headline(), part, said);
}

pub(super) fn render(picture: &Drawing<'_>, area: Rect) {
    let scene = picture.scene;
    let sentence = picture.headline();
    let Some((kiln, big)) = large(picture) else {
        return render_idle(picture, area);
    };
    let part = picture.part_of(kiln);
    let scale = (area.height / digits::ROWS).max(1);
    let (columns, caption) = columns(picture, kiln, &big, (scale, area.width));
    let [left, right] = Layout::horizontal([Length(columns), Min(0)]).areas(area);
    digits_into(kiln, picture, scale, left);
    let below = Rect { y: area.y + digits::ROWS * scale, height: 1, ..left };
    picture.line(caption, Part::Quiet, below.intersection(area));
    // A doubt, and how to settle it, takes the rows of the facts.
    let needed = if kiln.doubted.is_some() { wrap(&sentence, right.width).len() as u16 } else { 3 };
    let said_rows = needed.max(3).min(right.height);
    let [said, facts] = Layout::vertical([Length(said_rows), Min(0)]).areas(right);
    picture.paragraph(sentence, part, said);
    let lines = [
        words::watch_line(kiln, scene.now, &picture.dial),
        words::drop_line(kiln, scene.now, &picture.dial),
        words::overshoot_line(kiln).or_else(|| words::forgives_line(kiln)),
        words::rests_on_line(kiln, scene.now, &picture.dial),
        Some(words::CAUTION_ALONE.into()),
    ];
    let wrapped = lines.into_iter().flatten().flat_map(|line| wrap(&line, facts.width));
    picture.lines(wrapped.map(|line| (line, Part::Quiet)), facts);
}

/// The digits alone.
pub(super) fn digits_into(kiln: &KilnScene, picture: &Drawing<'_>, scale: u16, area: Rect) {
    if let Some(big) = words::big_word(kiln, picture.scene.now) {
        digits::render(&big, scale, Part::Accent, area, picture);
    }
}
