//! What comes next across all kilns: in a column, or in a line.

use ratatui::layout::Rect;

use super::Drawing;
use super::frame::take;
use super::wrap::wrap;
use crate::edge::screen::theme::Part;
use crate::watch::agenda::Errand;
use crate::words;

/// Names are told apart in so many columns, by their number.
const LEAST_NAME: usize = 8;

/// A row each, or two where even a short name leaves too little room, as many as fit whole.
pub(super) fn column(picture: &Drawing<'_>, area: Rect) {
    let inside = picture.framed(words::COMING_TITLE.into(), Part::Text, area);
    let coming = picture.scene.agenda();
    if coming.is_empty() {
        return picture.line(words::NOTHING_COMING.into(), Part::Quiet, inside);
    }
    let mut rest = inside;
    for one in &coming {
        let whole = said(one, picture).chars().count();
        let name = one.kiln.chars().count();
        // A name gives way before what there is to do, which is told whole.
        let columns = (name + usize::from(inside.width)).saturating_sub(whole).max(LEAST_NAME);
        let named = Errand { kiln: words::shortened(&one.kiln, columns), ..one.clone() };
        let lines = wrap(&said(&named, picture), inside.width);
        if lines.len() > usize::from(rest.height) {
            break;
        }
        let rows = take(&mut rest, lines.len() as u16);
        picture.lines(lines.into_iter().map(|line| (line, part(one, picture))), rows);
    }
}

/// All in one row, as many as fit whole.
pub(super) fn line(picture: &Drawing<'_>, area: Rect) {
    const APART: u16 = 3;
    let mut left = area;
    for one in picture.scene.agenda() {
        let text = said(&one, picture);
        let width = text.len() as u16;
        if width > left.width {
            break;
        }
        picture.line(text, part(&one, picture), Rect { width, ..left });
        let step = (width + APART).min(left.width);
        left = Rect { x: left.x + step, width: left.width - step, ..left };
    }
}

fn said(one: &Errand, picture: &Drawing<'_>) -> String {
    words::agenda_line(one, picture.scene.now, &picture.dial)
}

fn part(one: &Errand, picture: &Drawing<'_>) -> Part {
    match one.task.is_at_the_kiln() {
        true if one.at <= picture.scene.now => Part::Urgent,
        true => Part::Text,
        false => Part::Quiet,
    }
}
