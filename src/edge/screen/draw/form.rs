//! An open form, over everything else.
//!
//! ```text
//! + What do you see at Heron? ----------------+
//! | Through the spyhole: guide down ...       |
//! | > guide   s standing  l leaning [h half]  |
//! |   target  ...                             |
//! |   when    now (or 9:10, 20 min ago)       |
//! | Enter writes: Heron: guide half, 14:05.   |
//! +-------------------------------------------+
//! ```

use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};
use ratatui::text::Span;
use ratatui::widgets::{Clear, Paragraph, Widget};

use super::wrap::wrap;
use super::{Picture, middle};
use crate::edge::screen::entry::Problem;
use crate::edge::screen::form::{Field, Form, NO_KEY, Value};
use crate::edge::screen::spots::Spot;
use crate::edge::screen::theme::Part;
use crate::edge::screen::view::{ShopRow, ShopView};
use crate::words::{self, Label, Title};

/// Columns kept for the names of fields, with the marker before them.
const LABEL_COLUMNS: u16 = 14;

pub(super) fn render(
    form: &Form,
    picture: &Picture<'_>,
    area: Rect,
    buffer: &mut Buffer,
) -> Option<Position> {
    let columns = area.width.min(76);
    let inner_columns = columns.saturating_sub(2).max(1);
    let tall = |text: &str| wrap(text, inner_columns).len() as u16;
    let answer = answer(form, picture);
    let answer_rows = tall(&answer.0).max(1);
    let value_columns = inner_columns.saturating_sub(LABEL_COLUMNS);
    // Where there is little room, only the field somebody is at shows its words, if they are few.
    let roomy = |here: bool, options: &[(char, String)]| {
        let few = if area.height > 16 { 10 } else { 4 };
        (here && area.height > 30) || (options.len() <= few && (here || area.height > 16))
    };
    let tall_field = |index: usize, field: &Field| match &field.value {
        Value::Choice { options, chosen } => {
            let roomy = roomy(index == form.at_field, options);
            choices(options, *chosen, picture, value_columns, roomy).len() as u16
        }
        Value::Text(_) => 1,
    };
    let field_heights: Vec<u16> =
        form.fields.iter().enumerate().map(|(index, field)| tall_field(index, field)).collect();
    let field_rows: u16 = field_heights.iter().sum();
    let fixed = field_rows + answer_rows + 3;
    // Where there is too little room, the cautions go first; they are also in the manual.
    let notice_room = area.height.saturating_sub(fixed);
    let cautions = form.load_type(&picture.scene.load_types).map(|load| load.cautions.as_slice());
    let notices: Vec<(&str, u16)> = form
        .notices
        .iter()
        .chain(cautions.unwrap_or_default())
        .chain(&form.of_schedule)
        .map(|notice| (notice.as_str(), tall(notice)))
        .collect();
    let wanted: u16 = notices.iter().map(|(_, rows)| rows).sum();
    let place = middle(area, columns, fixed + wanted.min(notice_room));
    Clear.render(place, buffer);
    buffer.set_style(place, picture.style(Part::Text));
    let title = words::title(form.title, &form.kiln);
    let inside = picture.framed(title, Part::Accent, place, buffer);
    let mut rest = inside;
    for (notice, rows) in notices {
        if rows <= rest.height.saturating_sub(fixed - 2) {
            picture.paragraph(notice, Part::Accent, take(&mut rest, rows), buffer);
        }
    }
    let mut cursor = None;
    let room = rest.height.saturating_sub(answer_rows + 1).min(field_rows);
    let mut fields = take(&mut rest, room);
    let first = first_shown(&field_heights, form.at_field, fields.height);
    for (index, field) in form.fields.iter().enumerate().skip(first) {
        let rows = take(&mut fields, field_heights[index]);
        picture.spots.add(rows, Spot::Field(index));
        let here = index == form.at_field;
        let found = field_lines((index, field), here, roomy, picture, rows, buffer);
        cursor = cursor.or(found.filter(|_| here));
    }
    picture.paragraph(answer.0, answer.1, take(&mut rest, answer_rows), buffer);
    picture.line(words::FORM_KEYS.into(), Part::Quiet, take(&mut rest, 1), buffer);
    cursor
}

/// Where there is no room for all fields, those before the one somebody is at go first.
fn first_shown(heights: &[u16], at: usize, room: u16) -> usize {
    let fits = |first: &usize| heights[*first..=at].iter().sum::<u16>() <= room;
    let last = at.min(heights.len().saturating_sub(1));
    if heights.is_empty() || heights.iter().sum::<u16>() <= room {
        return 0;
    }
    (0..=last).find(fits).unwrap_or(last)
}

/// Takes rows off the top of what is left.
fn take(rest: &mut Rect, rows: u16) -> Rect {
    let rows = rows.min(rest.height);
    let taken = Rect { height: rows, ..*rest };
    rest.y += rows;
    rest.height -= rows;
    taken
}

/// What was wrong, else what Enter would write, else what is still missing.
fn answer(form: &Form, picture: &Picture<'_>) -> (String, Part) {
    if let Some(problem) = &form.problem {
        return (problem.clone(), Part::Wrong);
    }
    let dial = &picture.dial;
    if let Some((_, phrase)) = &form.strikes {
        return (words::will_strike(phrase), Part::Text);
    }
    if form.title.is_setting() {
        return kept(form, picture);
    }
    let untouched = form.title == Title::Reading && form.typed(Label::Temperature).is_empty();
    match form.entry(picture.scene, dial, picture.schedules) {
        _ if untouched => (words::placeholder(Label::Temperature).into(), Part::Quiet),
        Ok(entry) => {
            let phrase = words::event_phrase(&entry.what, &form.kiln, dial);
            let sentence = words::will_write(&phrase, entry.at, picture.scene.now, dial);
            (format!("{}{sentence}", cone_told(form, picture)), Part::Text)
        }
        Err(Problem::Wrong(text)) => (text, Part::Quiet),
        Err(Problem::Unusual(text)) => {
            (format!("{}{text}", cone_told(form, picture)), Part::Accent)
        }
    }
}

/// The line of the shop that a form of settings makes, or what is wrong with it.
fn kept(form: &Form, picture: &Picture<'_>) -> (String, Part) {
    let Some(was) = picture.app.view.settings() else { return (String::new(), Part::Quiet) };
    let becomes = match form.kept(was) {
        Ok(becomes) => becomes,
        Err(Problem::Wrong(text) | Problem::Unusual(text)) => return (text, Part::Quiet),
    };
    if form.chosen(Label::Keep) == Some(1) {
        return (words::WILL_DROP.into(), Part::Text);
    }
    let last = |count: usize| form.place.unwrap_or(count.saturating_sub(1));
    let (people, resting) = match &becomes.bell {
        Ok(bell) => (bell.people.len(), bell.out_of_service.len()),
        Err(_) => (0, 0),
    };
    let row = match form.title {
        Title::Person => ShopRow::Person(last(people)),
        Title::Resting => ShopRow::Resting(last(resting)),
        Title::Bell => ShopRow::Bell,
        _ => ShopRow::House,
    };
    let after = ShopView { settings: Some(becomes), ..ShopView::default() };
    (words::will_keep(&after.line(row, picture.scene, &picture.dial)), Part::Text)
}

/// What temperature the cone of a light form stands for.
fn cone_told(form: &Form, picture: &Picture<'_>) -> String {
    form.load_type(&picture.scene.load_types)
        .and_then(|load| form.target(load).ok().map(|cone| (cone, load.family)))
        .map(|(cone, family)| format!("{}. ", words::cone_stands_for(cone, family, &picture.dial)))
        .unwrap_or_default()
}

fn field_lines(
    (index, field): (usize, &Field),
    here: bool,
    roomy: impl Fn(bool, &[(char, String)]) -> bool,
    picture: &Picture<'_>,
    row: Rect,
    buffer: &mut Buffer,
) -> Option<Position> {
    let marker = if here { ">" } else { " " };
    let part = if here { Part::Accent } else { Part::Text };
    let name = Rect { width: LABEL_COLUMNS.min(row.width), ..row };
    picture.line(format!("{marker} {}", words::label(field.label)), part, name, buffer);
    let value = Rect { x: row.x + name.width, width: row.width.saturating_sub(name.width), ..row };
    match &field.value {
        Value::Choice { options, chosen } => {
            let lines = choices(options, *chosen, picture, value.width, roomy(here, options));
            for (line, row) in lines.into_iter().zip(value.rows()) {
                let mut rest = row;
                for (option, span) in line {
                    let width = (span.width() as u16).min(rest.width);
                    let place = Rect { width, ..rest };
                    picture.spots.add(place, Spot::Choice(index, option));
                    span.render(place, buffer);
                    rest = Rect { x: rest.x + width, width: rest.width - width, ..rest };
                }
            }
            None
        }
        Value::Text(input) if input.value().is_empty() => {
            let hint = words::placeholder(field.label);
            picture.line(hint.into(), Part::Quiet, value, buffer);
            Some(value.as_position())
        }
        Value::Text(input) => {
            let room = usize::from(value.width.saturating_sub(1));
            let scroll = if here { input.visual_scroll(room) } else { 0 };
            let shown = Paragraph::new(input.value()).scroll((0, scroll as u16));
            shown.style(picture.style(Part::Text)).render(value, buffer);
            let column = input.visual_cursor().saturating_sub(scroll) as u16;
            Some(Position::new(value.x + column.min(value.width), value.y))
        }
    }
}

/// A line of options, each with its place among them.
type Options<'a> = Vec<(usize, Span<'a>)>;

/// Every option with its key, over several lines if need be; where there is no room for that, the
/// word of the one picked, and after it the keys of the others.
fn choices<'a>(
    options: &'a [(char, String)],
    chosen: Option<usize>,
    picture: &Picture<'_>,
    columns: u16,
    roomy: bool,
) -> Vec<Options<'a>> {
    let wide: usize = options.iter().map(|(_, word)| word.len() + 5).sum();
    let in_full = roomy || wide <= usize::from(columns);
    let mut lines: Vec<Options<'a>> = vec![Vec::new()];
    let mut order: Vec<usize> = (0..options.len()).collect();
    if !in_full {
        order.sort_by_key(|index| chosen != Some(*index));
    }
    for index in order {
        let (key, word) = &options[index];
        let picked = chosen == Some(index);
        // A mark beside the colour: the pick must be seen without it.
        let (before, after) = if picked { ("[", "]") } else { (" ", " ") };
        let key = Some(*key).filter(|key| *key != NO_KEY).map(String::from).unwrap_or_default();
        let text = match in_full || picked {
            true => format!("{before}{key} {word}{after} "),
            false => format!("{before}{key}{after}"),
        };
        let part = if picked { Part::Key } else { Part::Text };
        let span = Span::styled(text, picture.style(part));
        let full = |line: &Options<'_>| {
            let taken: usize = line.iter().map(|(_, span)| span.width()).sum();
            taken > 0 && taken + span.width() > columns.into()
        };
        if in_full && lines.last().is_some_and(full) {
            lines.push(Vec::new());
        }
        if let Some(line) = lines.last_mut() {
            line.push((index, span));
        }
    }
    lines
}
