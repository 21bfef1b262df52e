//! The far view: one sentence and one countdown, as large as the terminal allows.

use ratatui::layout::Constraint::{Length, Min};
use ratatui::layout::{Layout, Rect};
use ratatui::text::Line;

use super::frame::middle;
use super::{Drawing, digits, hint_line, message_lines, told_rows, wrap};
use crate::edge::screen::theme::Part;
use crate::units::{Moment, Span};
use crate::watch::agenda::Errand;
use crate::words::{self, NextDeed};

/// ```text
/// what to do, in letters five rows high where there is room
/// countdown, as large as what is left allows
/// sentence, what could not be read, hints
/// ```
pub(super) fn render(picture: &Drawing<'_>, area: Rect) {
    let scene = picture.scene;
    let first = scene.kilns.first();
    let deed = picture.planned_deed();
    let first_at = deed.as_ref().map_or(Moment(i64::MAX), |(_, at)| *at);
    let at_bench = scene.bench_first().filter(|errand| errand.at <= first_at);
    let beside = picture.beside(at_bench.as_ref(), deed.as_ref().map(|(deed, _)| deed));
    let (phrase, big) = match beside.clone() {
        Some((phrase, large)) => (phrase, Some(large)),
        None => (
            first.map(words::far_phrase).unwrap_or_default(),
            first.and_then(|kiln| words::big_text(kiln, scene.now)),
        ),
    };
    let usual_rows = if area.width < 60 { 3 } else { 2 };
    let sentence_rows = match picture.app.message {
        Some(_) => {
            told_rows(picture, area.width).clamp(usual_rows, (area.height / 2).max(usual_rows))
        }
        None => usual_rows,
    };
    // With a message, the lines below it say this.
    let unread_rows = match picture.app.message {
        Some(_) => 0,
        None => picture.unread_rows(area.width, area.height / 4),
    };
    let room = area.height.saturating_sub(sentence_rows + unread_rows + 1);
    let letters = digits::lines(&phrase, area.width).unwrap_or_default();
    let (scale, step) = letter_size(&letters, area.width, room, big.is_some());
    // Without room for letters the countdown gives way to the word, or stands below it.
    let big = match scale {
        0 if beside.is_none() => first.and_then(|kiln| words::big_word(kiln, scene.now)),
        _ => big,
    };
    let letter_rows = if scale == 0 { 1 } else { letters.len() as u16 * step };
    let [letters_area, big_area, said, unread, hint] = Layout::vertical([
        Length(letter_rows),
        Min(0),
        Length(sentence_rows),
        Length(unread_rows),
        Length(1),
    ])
    .areas(area);
    let part = first.map_or(Part::Text, |kiln| picture.part_of(kiln));
    if scale == 0 {
        let phrase =
            Line::from(wrap::fitting(phrase, area.width)).centered().style(picture.style(part));
        picture.draw(phrase, letters_area);
    }
    for (line, row) in (0u16..).zip(letters.iter().filter(|_| scale > 0)) {
        let row_area =
            Rect { y: letters_area.y + line * step, height: digits::ROWS * scale, ..letters_area };
        let place = middle(row_area, digits::width(row) * scale, digits::ROWS * scale);
        digits::render(row, scale, Part::Text, place, picture);
    }
    if let Some(big) = big {
        let scale = digits::scale(&big, big_area.width, big_area.height);
        let place = middle(big_area, digits::width(&big) * scale, digits::ROWS * scale);
        digits::render(&big, scale, Part::Accent, place, picture);
    }
    match (&picture.app.message, scene.ringing()) {
        (Some(_), _) => message_lines(picture, said),
        (None, Some(alarm)) if !scene.rings_beside() => {
            let headline = words::ringing_line(alarm, false, usize::MAX);
            picture.paragraph(headline, Part::Urgent, said);
        }
        _ => {
            let line = |errand| words::agenda_line(errand, scene.now, &picture.dial);
            let at_bench = at_bench.as_ref().filter(|_| beside.is_some()).map(line);
            let beside = at_bench.map(|line| format!("{}. ", words::alarms::capital(&line)));
            let deed = deed.filter(|_| scene.due().is_none());
            let deed = deed.map(|(deed, _)| words::deed_line(&deed)).unwrap_or_default();
            let headline = beside.unwrap_or_default() + &picture.headline() + &deed;
            picture.paragraph(headline, part, said);
        }
    }
    picture.paragraph(picture.unread(area.width).unwrap_or_default(), Part::Accent, unread);
    hint_line(picture, picture.made_up(hint));
}

impl Drawing<'_> {
    /// What stands large where no kiln wants anything: the errand at the bench, or the deed of the plan.
    fn beside(
        &self,
        at_bench: Option<&Errand>,
        deed: Option<&NextDeed>,
    ) -> Option<(String, String)> {
        let deed = || deed.filter(|_| self.scene.is_quiet());
        match at_bench {
            Some(errand) => words::bench_afar(errand, self.scene.now),
            None => deed().map(|deed| (deed.deed.clone(), deed.time.clone())),
        }
    }

    /// What is to be done next today by the plan, and when.
    fn planned_deed(&self) -> Option<(NextDeed, Moment)> {
        let day = self.app.day.as_ref()?;
        let now_min = (self.scene.now - day.made_at).as_minutes();
        let deed = words::PlanTold::of(day, &self.dial).deed_of_today(now_min)?;
        let at = day.made_at + Span::from_minutes(deed.at);
        Some((deed, at))
    }
}

/// How large the letters are drawn, and the rows a line of them takes; 0 if there is no room. The
/// countdown keeps at least two thirds of the room where there is one, and never less than a line.
fn letter_size(lines: &[String], columns: u16, room: u16, countdown: bool) -> (u16, u16) {
    let count = lines.len() as u16;
    let widest = lines.iter().map(|line| digits::width(line)).max().unwrap_or(0);
    if count == 0 || widest == 0 {
        return (0, 0);
    }
    let line_rows = digits::ROWS + 1;
    let share = if countdown { room / 3 } else { room };
    let fits_once = count * line_rows + if countdown { digits::ROWS } else { 0 } <= room;
    let scale = (columns / widest).min(share / (count * line_rows)).max(u16::from(fits_once));
    (scale, digits::ROWS * scale + u16::from(scale > 0))
}
