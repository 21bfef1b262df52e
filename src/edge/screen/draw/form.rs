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

use ratatui::layout::{Position, Rect};
use ratatui::text::Span;
use ratatui::widgets::Paragraph;

use super::Drawing;
use super::frame::{middle, take, take_columns};
use super::wrap::{fitting, wrap};
use crate::edge::screen::entry::Problem;
use crate::edge::screen::form::{Choice, Field, Form, NO_KEY, Value};
use crate::edge::screen::spots::Spot;
use crate::edge::screen::theme::Part;
use crate::edge::screen::view::{ShopRow, ShopView};
use crate::words::{self, Title};

/// Columns kept for the names of fields, with the marker before them.
const LABEL_COLUMNS: u16 = 14;

/// On a screen no higher than this the shorter words do.
const SHORT: u16 = 16;
/// A choice with more options than this is opened only where somebody is.
const FEW_OPTIONS: usize = 10;
/// The keys of so many options are worth showing where there is no room for their words.
const FEW_KEYS: usize = 4;
/// So many rows of options are shown before cautions give way, and where there is hardly any room.
const LEAST_OPTIONS: (u16, u16) = (4, 2);

pub(super) fn render(form: &Form, picture: &Drawing<'_>, area: Rect) -> Option<Position> {
    let columns = area.width.min(76);
    let inner_columns = columns.saturating_sub(2).max(1);
    let answer = answer(form, picture);
    let rows = |said: &str| (wrap(said, inner_columns).len() as u16).max(1);
    let least_rows = rows(&answer.least);
    let room = area.height.saturating_sub(least_rows + 3);
    let told = Told::of(form, inner_columns, area.height);
    let fields = Fields::in_room(form, picture, inner_columns, room, told.rows);
    // What is corrected, and what a rehearsal shows at the spyhole, is what the form is about.
    let least = match form.title {
        _ if form.corrects.is_some() => told.rows,
        Title::Look => told.rows.min(2),
        _ => told.rows.min(1),
    };
    let told_rows = told.rows.min(room.saturating_sub(fields.rows)).max(least.min(room / 2));
    let field_rows = fields.rows.min(room.saturating_sub(told_rows));
    // What is in sight in the fields needs no row of its own.
    let left = area.height.saturating_sub(told_rows + field_rows + 3);
    let answer_rows = rows(&answer.said).min(left).max(least_rows);
    let place = middle(area, columns, told_rows + field_rows + answer_rows + 3);
    let title = words::title(form.title, &form.kiln);
    let title = if form.corrects.is_some() { words::correction(&title) } else { title };
    let inside = picture.over(title, place);
    let mut rest = inside;
    if let Some(at) = form.reading.filter(|_| told.rows > told_rows) {
        let page = take(&mut rest, inside.height.saturating_sub(1));
        told.page(at, picture, page);
        picture.line(words::READING_KEYS.into(), Part::Quiet, take(&mut rest, 1));
        return None;
    }
    told.above(form, picture, take(&mut rest, told_rows));
    let cursor = fields.render(form, picture, take(&mut rest, field_rows));
    picture.paragraph(answer.said, answer.part, take(&mut rest, answer_rows));
    picture.line(words::form_keys(form.title).into(), Part::Quiet, take(&mut rest, 1));
    cursor
}

/// What is to be read before a form is confirmed: cautions, and what a rehearsal shows.
struct Told {
    lines: Vec<Vec<String>>,
    /// Rows that all of it takes.
    rows: u16,
}

impl Told {
    fn of(form: &Form, columns: u16, height: u16) -> Told {
        let all = form.notices.iter().chain(&form.called_for);
        let lines = all.map(|text| match height > SHORT {
            true => wrap(text, columns),
            false => wrap(&words::in_brief(text), columns),
        });
        let lines: Vec<Vec<String>> = lines.collect();
        let rows = lines.iter().map(|lines| lines.len() as u16).sum();
        Told { lines, rows }
    }

    /// As much as there is room for; what is left out is counted, with the key that leads there.
    fn above(&self, form: &Form, picture: &Drawing<'_>, area: Rect) {
        let mut rest = area;
        let whole = self.rows <= area.height;
        for (at, lines) in self.lines.iter().enumerate() {
            let room = if whole { rest.height } else { rest.height.saturating_sub(1) };
            if lines.len() > usize::from(room) {
                let left = self.lines.len() - at;
                return picture.line(words::more_to_read(left), Part::Urgent, rest);
            }
            let part = if form.reading == Some(at) { Part::Key } else { Part::Accent };
            for line in lines {
                picture.line(line.clone(), part, take(&mut rest, 1));
            }
        }
    }

    /// One of them, and as many of those after and before it as there is room for.
    fn page(&self, at: usize, picture: &Drawing<'_>, area: Rect) {
        let at = at.min(self.lines.len().saturating_sub(1));
        let height =
            |from: usize, to: usize| -> usize { self.lines[from..to].iter().map(Vec::len).sum() };
        let fits = |from: usize, to: usize| height(from, to) <= usize::from(area.height);
        let to = (at + 1..=self.lines.len()).rev().find(|to| fits(at, *to)).unwrap_or(at + 1);
        let from = (0..=at).find(|from| fits(*from, to)).unwrap_or(at);
        let lines = (from..to.min(self.lines.len())).flat_map(|place| {
            let part = if place == at { Part::Key } else { Part::Accent };
            self.lines[place].iter().map(move |line| (line, part))
        });
        for ((line, part), row) in lines.zip(area.rows()) {
            picture.line(line.clone(), part, row);
        }
    }
}

/// How many rows each field of a form takes, and whether all its options are shown.
struct Fields {
    heights: Vec<(u16, bool)>,
    rows: u16,
}

impl Fields {
    /// The most that fits beside what is told: first all options of every choice, then those of the
    /// field somebody is at, at last a few of them around the one picked.
    fn in_room(form: &Form, picture: &Drawing<'_>, columns: u16, room: u16, told: u16) -> Fields {
        let value_columns = columns.saturating_sub(LABEL_COLUMNS);
        let height = |field: &Field, open: bool| match &field.value {
            Value::Choice { options, chosen } => {
                choices(options, *chosen, picture, value_columns, open).len() as u16
            }
            Value::Text(_) => 1,
        };
        let few = |field: &Field| match &field.value {
            Value::Choice { options, .. } => options.len() <= FEW_OPTIONS,
            Value::Text(_) => true,
        };
        let here = |at: usize| at == form.at_field;
        let all = |open: &dyn Fn(usize, &Field) -> bool| -> Vec<(u16, bool)> {
            let fields = form.shown().iter().enumerate();
            let heights = fields
                .map(|(at, field)| (open(at, field), field))
                .map(|(open, field)| (height(field, open), open));
            // A last line tells of the fields that wait.
            heights.chain(form.folded.map(|_| (1, false))).collect()
        };
        let sum = |heights: &[(u16, bool)]| heights.iter().map(|(rows, _)| rows).sum::<u16>();
        let everything = all(&|at, field| here(at) || few(field));
        let only_here = all(&|at, _| here(at));
        let heights = match sum(&everything) + told <= room {
            true => everything,
            false => only_here,
        };
        let mut fields = Fields { rows: sum(&heights), heights };
        let least = if room > SHORT { LEAST_OPTIONS.0 } else { LEAST_OPTIONS.1 };
        if let (Some((rows, _)), true) =
            (fields.heights.get_mut(form.at_field), fields.rows + told > room)
        {
            let over = (fields.rows + told - room).min(*rows - (*rows).min(least));
            *rows -= over;
            fields.rows -= over;
        }
        fields
    }

    fn render(&self, form: &Form, picture: &Drawing<'_>, area: Rect) -> Option<Position> {
        let mut cursor = None;
        let heights: Vec<u16> = self.heights.iter().map(|(rows, _)| *rows).collect();
        // With the last field that is shown is seen that others wait.
        let seen = form.at_field + usize::from(form.folded == Some(form.at_field + 1));
        let first = first_shown(&heights, seen, area.height);
        let mut rest = area;
        for (index, (rows, open)) in self.heights.iter().copied().enumerate().skip(first) {
            let rows = take(&mut rest, rows);
            picture.spots.add(rows, Spot::Field(index));
            let Some(field) = form.shown().get(index) else {
                let more = format!("  {:12}{}", words::MORE, form.more().join(", "));
                picture.line(more, Part::Quiet, rows);
                continue;
            };
            let here = index == form.at_field && form.reading.is_none();
            let found = field_lines((index, field), here, open, picture, rows);
            cursor = cursor.or(found.filter(|_| here));
        }
        cursor
    }
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

/// What stands below the fields.
struct Answer {
    said: String,
    /// As much of it as there has to be room for.
    least: String,
    part: Part,
}

impl From<(String, Part)> for Answer {
    fn from((said, part): (String, Part)) -> Answer {
        Answer { least: said.clone(), said, part }
    }
}

/// What was wrong, else what Enter would write, else what is still missing.
fn answer(form: &Form, picture: &Drawing<'_>) -> Answer {
    if let Some(problem) = &form.problem {
        return (problem.clone(), Part::Wrong).into();
    }
    let (scene, dial) = (picture.scene, &picture.dial);
    if let Some((id, said)) = form.struck() {
        let strike = |phrase: &str| words::will_strike(phrase, form.said("reason"));
        return (said.map_or_else(|| words::will_show(id), strike), Part::Text).into();
    }
    if form.title.is_setting() {
        return kept(form, picture).into();
    }
    if form.title == Title::First {
        let made = form.first_shop(picture.app.view.settings(), scene);
        let lacks = made.err().map(Problem::said);
        return (lacks.unwrap_or_else(|| words::WRITES_FIRST.into()), Part::Text).into();
    }
    let untouched = form.title == Title::Reading && form.said("celsius").is_empty();
    match form.entry(scene, dial, picture.schedules) {
        _ if untouched => (form.fields[0].asks.ask.into(), Part::Quiet).into(),
        Ok(entry) => {
            let phrase = entry.phrase(&form.kiln, dial);
            let rest = entry.beside_its_phrase(&scene.load_types, (scene.now, dial));
            let cone = cone_told(form, picture);
            let [least, said] = [&[][..], &rest].map(|rest| {
                cone.clone() + &words::will_write(&phrase, rest, entry.at, (scene.now, dial))
            });
            Answer { said, least, part: Part::Text }
        }
        Err(Problem::Wrong(text)) => (text, Part::Quiet).into(),
        Err(Problem::Unusual(text)) => {
            (format!("{}{text}", cone_told(form, picture)), Part::Accent).into()
        }
    }
}

/// The line of the shop that a form of settings makes, or what is wrong with it.
fn kept(form: &Form, picture: &Drawing<'_>) -> (String, Part) {
    let Some(was) = picture.app.view.settings() else { return (String::new(), Part::Quiet) };
    let becomes = match form.kept(was) {
        Ok(becomes) => becomes,
        Err(problem) => return (problem.said(), Part::Quiet),
    };
    if form.drops() {
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
        Title::Way(way) => ShopRow::Way(way),
        _ => ShopRow::House,
    };
    let after = ShopView { settings: Some(Box::new(becomes)), ..ShopView::default() };
    (words::will_keep(&after.line(row, picture.scene, &picture.dial)), Part::Text)
}

/// What temperature the cone of a light form stands for.
fn cone_told(form: &Form, picture: &Drawing<'_>) -> String {
    form.load_type(&picture.scene.load_types)
        .and_then(|load| form.draft()?.target(load).ok())
        .map(|(cone, family)| format!("{}. ", words::cone_stands_for(cone, family, &picture.dial)))
        .unwrap_or_default()
}

fn field_lines(
    (index, field): (usize, &Field),
    here: bool,
    open: bool,
    picture: &Drawing<'_>,
    row: Rect,
) -> Option<Position> {
    let marker = if here { ">" } else { " " };
    let part = if here { Part::Accent } else { Part::Text };
    let name = Rect { width: LABEL_COLUMNS.min(row.width), ..row };
    picture.line(format!("{marker} {}", field.asks.label), part, name);
    let value = Rect { x: row.x + name.width, width: row.width.saturating_sub(name.width), ..row };
    match &field.value {
        Value::Choice { options, chosen } => {
            let lines = choices(options, *chosen, picture, value.width, open);
            let first = around_the_pick(&lines, *chosen, value.height.into());
            if lines.len() > usize::from(value.height) && value.height > 1 {
                let below = Rect { y: name.y + 1, height: 1, ..name };
                picture.line(words::MORE_OPTIONS.into(), Part::Quiet, below);
            }
            for (line, row) in lines.into_iter().skip(first).zip(value.rows()) {
                let mut rest = row;
                for (option, span) in line {
                    let place = take_columns(&mut rest, span.width() as u16);
                    picture.spots.add(place, Spot::Choice(index, option));
                    picture.draw(span, place);
                }
            }
            None
        }
        Value::Text(input) if input.value().is_empty() => {
            let hint = field.asks.ask;
            picture.line(hint.into(), Part::Quiet, value);
            Some(value.as_position())
        }
        Value::Text(input) => {
            let room = usize::from(value.width.saturating_sub(1));
            let scroll = if here { input.visual_scroll(room) } else { 0 };
            let shown = Paragraph::new(input.value()).scroll((0, scroll as u16));
            picture.draw(shown.style(picture.style(Part::Text)), value);
            let column = input.visual_cursor().saturating_sub(scroll) as u16;
            Some(Position::new(value.x + column.min(value.width), value.y))
        }
    }
}

/// The first line of options to show where not all of them fit: the picked one is among them.
fn around_the_pick(lines: &[Options<'_>], chosen: Option<usize>, rows: usize) -> usize {
    let holds = |line: &Options<'_>| line.iter().any(|(option, _)| Some(*option) == chosen);
    let at = lines.iter().position(holds).unwrap_or(0);
    let end = lines.iter().rposition(holds).map_or(0, |last| (last + 1).saturating_sub(rows));
    at.saturating_sub(rows / 2).max(end).min(lines.len().saturating_sub(rows))
}

/// A line of options, each with its place among them.
type Options<'a> = Vec<(usize, Span<'a>)>;

/// Of many options, closed: the one picked, and how many others there are.
fn picked_of<'a>(
    options: &'a [Choice],
    chosen: Option<usize>,
    picture: &Drawing<'_>,
    columns: u16,
) -> Options<'a> {
    let picked = chosen.and_then(|at| options.get(at).map(|option| (at, option)));
    let span = picked.map(|(at, one)| {
        let name = fitting(one.shown.clone(), columns.saturating_sub(2));
        (at, Span::styled(format!("[{name}] "), picture.style(Part::Key)))
    });
    let others = words::other_options(options.len(), picked.is_some());
    let room = usize::from(columns)
        - span.as_ref().map_or(0, |(_, span)| span.width()).min(columns.into());
    let others = (others.len() <= room || span.is_none()).then_some(others);
    let others = others.map(|said| (usize::MAX, Span::styled(said, picture.style(Part::Quiet))));
    span.into_iter().chain(others).collect()
}

/// Every option with its key, over several lines if need be; where there is no room for that, the
/// word of the one picked, and after it the keys of the others.
fn choices<'a>(
    options: &'a [Choice],
    chosen: Option<usize>,
    picture: &Drawing<'_>,
    columns: u16,
    open: bool,
) -> Vec<Options<'a>> {
    if !open && options.len() > FEW_KEYS {
        return vec![picked_of(options, chosen, picture, columns)];
    }
    let wide: usize = options.iter().map(|one| one.shown.len() + 5).sum();
    let in_full = open || wide <= usize::from(columns);
    let mut lines: Vec<Options<'a>> = vec![Vec::new()];
    let mut order: Vec<usize> = (0..options.len()).collect();
    if !in_full {
        order.sort_by_key(|index| chosen != Some(*index));
    }
    for index in order {
        let Choice { key, shown: word, .. } = &options[index];
        let picked = chosen == Some(index);
        // A mark beside the colour: the pick must be seen without it.
        let (before, after) = if picked { ("[", "]") } else { (" ", " ") };
        let key = Some(*key).filter(|key| *key != NO_KEY).map(String::from).unwrap_or_default();
        let text = match in_full || picked {
            true => format!("{before}{key} {word}{after} "),
            false => format!("{before}{key}{after}"),
        };
        let part = if picked { Part::Key } else { Part::Text };
        let mut pieces = vec![Span::styled(text, picture.style(part))];
        if in_full && pieces[0].width() > usize::from(columns) + 1 {
            // One that is longer than a line goes on below.
            let below = wrap(pieces[0].content.trim_end(), columns.saturating_sub(1));
            let indented = below.into_iter().map(|piece| format!(" {}", piece.trim_start()));
            pieces = indented.map(|piece| Span::styled(piece, picture.style(part))).collect();
        }
        let full = |line: &Options<'_>, span: &Span<'_>| {
            let taken: usize = line.iter().map(|(_, span)| span.width()).sum();
            // The blank after the last one may be cut.
            taken > 0 && taken + span.width() > usize::from(columns) + 1
        };
        for span in pieces {
            if in_full && lines.last().is_some_and(|line| full(line, &span)) {
                lines.push(Vec::new());
            }
            if let Some(line) = lines.last_mut() {
                line.push((index, span));
            }
        }
    }
    lines
}
