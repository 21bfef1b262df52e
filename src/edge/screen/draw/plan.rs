//! The plan of the day.
//!
//! ```text
//! the next deed: its time in large letters, and what it is
//! today: the hours, a line a kiln, the eyes
//! the next days, and what is changed of the plan that is gone by
//! the lots, or why one is where it is, or what is to be drawn
//! ```

use ratatui::layout::Constraint::{Length, Min};
use ratatui::layout::{Layout, Rect};

use super::wrap::wrap;
use super::{Drawing, digits};
use crate::edge::screen::theme::Part;
use crate::edge::screen::view::PlanView;
use crate::words;

/// The lots have at least so many rows; the large letters give way first.
const LEAST_LOTS: u16 = 4;

pub(super) fn render(view: &PlanView, picture: &Drawing<'_>, area: Rect) {
    let dial = &picture.dial;
    let Some(day) = &picture.app.day else {
        let inside = picture.framed(words::PLAN_TITLE.into(), Part::Accent, area);
        return picture.line(words::PLANNING.into(), Part::Quiet, inside);
    };
    let told = words::PlanTold::of(day, dial);
    let now = (picture.scene.now - day.made_at).as_minutes();
    let inside = picture.framed(told.plan_title(now), Part::Accent, area);
    let columns = usize::from(inside.width);
    let today = told.timeline(now, columns);
    let mut days = told.next_table();
    days.extend(told.standing_lines().iter().flat_map(|line| wrap(line, inside.width)));
    let rows = (today.len() + days.len()) as u16;
    let deed = told.next_deed(now).filter(|_| picture.scene.due().is_none());
    let large = inside.height > rows + LEAST_LOTS + digits::ROWS;
    let deed_rows = match (&deed, large) {
        (None, _) => 0,
        (Some(_), true) => digits::ROWS + 1,
        (Some(_), false) => 1,
    };
    let [top, middle, next, lots] = Layout::vertical([
        Length(deed_rows),
        Length(today.len() as u16),
        Length(days.len() as u16),
        Min(0),
    ])
    .areas(inside);
    if let Some(deed) = deed {
        let said = Rect { y: top.y + deed_rows.saturating_sub(1), height: 1, ..top };
        if large {
            let whole = format!("{} {}", deed.time, deed.deed);
            let fits = digits::lines(&whole, inside.width).is_some_and(|lines| lines.len() == 1);
            let shown = if fits { whole } else { deed.time };
            digits::render(&shown, 1, Part::Accent, top, picture);
            picture.line(deed.what, Part::Text, said.intersection(top));
        } else {
            picture.line(format!("{} {}", deed.time, deed.what), Part::Accent, said);
        }
    }
    picture.lines(today.into_iter().map(|line| (line, Part::Text)), middle);
    picture.lines(days.into_iter().map(|line| (line, Part::Quiet)), next);
    if view.drawing {
        return picture.paragraph(told.drawing().join("\n"), Part::Text, lots);
    }
    let count = day.tables.instance.lots.len();
    if view.why && count > 0 {
        let why = told.lot_why(view.pick.at.min(count - 1));
        return picture.paragraph(why, Part::Text, lots);
    }
    picture.choices(lots, (count, view.pick.at), |place| told.lot_line(place));
    if count == 0 {
        picture.paragraph(words::NO_LOTS, Part::Quiet, lots);
    }
}
