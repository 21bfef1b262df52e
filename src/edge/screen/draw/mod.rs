//! Drawing: from a scene and the state of the screen to cells. Nothing here decides anything.

mod bench;
mod blocks;
mod cones;
mod curve;
mod digits;
mod dots;
mod far;
mod floor;
mod form;
mod frame;
mod headline;
mod help;
mod list;
mod panel;
mod plan;
mod port;
mod rail;
mod review;
mod views;
mod wrap;

use std::borrow::Cow;
use std::cell::{RefCell, RefMut};
use std::ops::Deref;

use ratatui::buffer::Buffer;
use ratatui::layout::Constraint::{Length, Min};
use ratatui::layout::{Layout, Position, Rect};
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::{Clear, Widget};

use frame::{take, take_columns};

use super::app::{App, DueForm, Tone};
use super::key::{self, Meaning};
use super::spots::{Spot, Spots};
use super::theme::{Part, Theme};
use super::view::View;
use crate::edge::own_schedules::Offered;
use crate::scene::{Happened, KilnScene, Scene};
use crate::text::shown;
use crate::units::Moment;
use crate::words::{self, Dial, Striking, Title};

/// Everything a frame is drawn from.
#[derive(Debug, Clone, Copy)]
pub struct Picture<'a> {
    pub scene: &'a Scene,
    /// The schedules a kiln can be lit with.
    pub schedules: &'a [Offered],
    pub app: &'a App,
    pub dial: Dial<'a>,
    pub theme: Theme,
    pub guidance: Option<&'a str>,
    /// How fast time runs, where that is not 1.
    pub speed: Option<f64>,
    /// Where what can be pointed at is drawn.
    pub spots: &'a Spots,
}

/// A picture, and the cells it is drawn on.
struct Drawing<'a> {
    picture: &'a Picture<'a>,
    cells: RefCell<&'a mut Buffer>,
}

impl<'a> Deref for Drawing<'a> {
    type Target = Picture<'a>;

    fn deref(&self) -> &Picture<'a> {
        self.picture
    }
}

/// Below this there is room for one kiln only.
const SMALL: (u16, u16) = (64, 18);
/// A name is not shortened to less than this, where something else can give way.
const LEAST_NAME: usize = 12;
/// A form has at least so many rows below the large letters, and the row of keys.
const LEAST_FORM: u16 = 13;

/// Draws one frame; the answer is where the cursor belongs while something is typed.
pub fn draw(picture: &Picture<'_>, area: Rect, buffer: &mut Buffer) -> Option<Position> {
    let drawing = Drawing { picture, cells: RefCell::new(buffer) };
    drawing.clear(area);
    let cursor = pages(&drawing, area);
    // Of what a letter carries unseen, nothing turns round the letters after it.
    for cell in &mut drawing.buffer().content {
        if let Cow::Owned(marked) = shown(cell.symbol()) {
            cell.set_symbol(&marked.replace('\u{fffd}', ""));
        }
    }
    cursor
}

/// The page that is open, with what lies over it.
fn pages(picture: &Drawing<'_>, area: Rect) -> Option<Position> {
    if area.width < 10 || area.height < 3 {
        return None;
    }
    picture.spots.clear();
    let mut cursor = None;
    // Above a form stands what is due, whatever it was opened from.
    let due = picture.scene.due().is_some();
    let on_the_floor =
        picture.app.form.as_ref().is_some_and(|form| due || form.title == Title::First);
    if !on_the_floor && picture.shows_a_page() {
        cursor = views::render(picture, area);
    } else if !on_the_floor && picture.app.far {
        far::render(picture, area);
    } else if area.width < SMALL.0 || area.height < SMALL.1 {
        small(picture, area);
    } else {
        floor::render(picture, area);
    }
    if let Some(page) = picture.app.help {
        picture.spots.clear();
        help::render(page, picture, area);
    }
    if let Some(finder) = &picture.app.finder {
        cursor = views::finder(finder, picture, area);
    }
    if picture.app.form.is_some() {
        picture.spots.clear();
    }
    if let Some(open) = &picture.app.form {
        let room = if on_the_floor { below_the_headline(picture, area) } else { area };
        cursor = form::render(open, picture, room);
    } else if picture.app.help.is_some() {
        cursor = None;
    }
    cursor
}

/// The room for a form below the large letters or, where that is too little, below a line that says
/// what is due; the last row names the key that leads there and back.
fn below_the_headline(picture: &Drawing<'_>, area: Rect) -> Rect {
    let (app, key) = (picture.app, key::binding(Meaning::Due).label());
    let elsewhere = app.wanted_elsewhere(picture.scene);
    let head = 1 + headline::rows(picture, area);
    let large = area.width >= SMALL.0 && area.height >= SMALL.1.max(head + LEAST_FORM);
    if !large && elsewhere.is_none() {
        return area;
    }
    let [top, room, keys] =
        Layout::vertical([Length(if large { head } else { 1 }), Min(0), Length(1)]).areas(area);
    if let Some(due) = elsewhere.filter(|_| !large) {
        picture.draw(Clear, top);
        due_line(due, picture, top);
    }
    picture.draw(Clear, keys);
    let said = match elsewhere {
        Some(due) => words::to_the_due(key, key::binding(due.meaning).short, &due.kiln.kiln),
        None => app.made_way().map_or_else(String::new, |what| words::made_way(&what, key)),
    };
    picture.line(said, Part::Accent, keys);
    room
}

/// What is due at which kiln, and the key that leads there.
fn due_line(due: DueForm<'_>, picture: &Drawing<'_>, area: Rect) {
    let keys = (key::binding(Meaning::Due).label(), key::binding(due.meaning).short);
    let said = words::due_line(due.kiln, picture.scene.now, keys, area.width.into());
    picture.line(said, Part::Urgent, area);
}

/// ```text
/// kiln, state                 time
/// digits, five rows
/// sentence, as many rows as it takes
/// cones
/// other kilns, as many as fit
/// message
/// hints
/// ```
///
/// What has to be told takes its rows first, from the other kilns, the cones and at last the digits.
fn small(picture: &Drawing<'_>, area: Rect) {
    let [top, body, hint] = Layout::vertical([Length(1), Min(0), Length(1)]).areas(area);
    title_line(picture, top);
    hint_line(picture, hint);
    let Some(kiln) = picture.kiln() else {
        return picture.paragraph(picture.headline(), Part::Text, body);
    };
    let now = picture.scene.now;
    let said = words::say_in_full(kiln, now, &picture.dial, striking());
    let said_rows = (wrap::wrap(&said, area.width).len() as u16).min(body.height);
    let big = words::big_word(kiln, now).is_some();
    let mut told_rows = told_rows(picture, area.width).min(body.height - said_rows);
    let refused = picture.app.message.as_ref().is_some_and(|one| one.tone != Tone::Saved);
    let teaches = picture.app.rehearsal && picture.guidance.is_some();
    // What was saved, or rings by one way less, takes what is left beside the digits; all it needs, where
    // they have no room.
    let beside = body.height.saturating_sub(said_rows + digits::ROWS);
    if big && !refused && !teaches && beside > 0 {
        told_rows = told_rows.min(beside);
    }
    let left = body.height - said_rows - told_rows;
    let has_digits = big && left >= digits::ROWS;
    let digit_rows = if has_digits { digits::ROWS } else { 0 };
    let cone_rows = (left - digit_rows).min(1);
    let [digits_area, sentence, cones, others, message] = Layout::vertical([
        Length(digit_rows),
        Length(said_rows),
        Length(cone_rows),
        Min(0),
        Length(told_rows),
    ])
    .areas(body);
    headline::digits_into(kiln, picture, 1, digits_area);
    picture.paragraph(said, picture.part_of(kiln), sentence);
    let short: Vec<String> = kiln.cones.iter().map(words::cone_short).collect();
    picture.line(short.join(" "), Part::Quiet, cones);
    let rest = picture.scene.kilns.iter().filter(|other| other.kiln != kiln.kiln);
    panel::list(picture, rest, others);
    message_lines(picture, message);
}

/// What comes first in the shop where it is not what is shown, else what rings, else the program or,
/// where there is little room, the kiln; the time of day on the right.
fn title_line(picture: &Drawing<'_>, area: Rect) {
    let scene = picture.scene;
    let made_up = || format!("{}  ", words::made_up(picture.speed.unwrap_or(1.0)));
    let made_up = picture.app.rehearsal.then(made_up).unwrap_or_default();
    let time = picture.dial.time(scene.now);
    let right = Line::from(format!("{made_up}{time}")).right_aligned();
    let room = area.width.saturating_sub(right.width() as u16 + 1);
    picture.draw(right.style(picture.style(Part::Quiet)), area);
    let narrow = area.width < SMALL.0;
    let area = Rect { width: room, ..area };
    let is_unseen = |due: &DueForm<'_>| {
        let beside = picture.kiln().is_some_and(|kiln| kiln.kiln != due.kiln.kiln);
        picture.shows_a_page() || (narrow && beside && due.kiln.rings().is_none())
    };
    if let Some(due) = picture.app.wanted(scene).filter(is_unseen) {
        return due_line(due, picture, area);
    }
    if let Some(alarm) = scene.ringing() {
        let beside = scene.rings_beside();
        let part = if beside { Part::Accent } else { Part::Urgent };
        let said = words::ringing_line(alarm, beside, room.into());
        return picture.line(said, part, area);
    }
    let left = match picture.kiln() {
        Some(kiln) if narrow => picture.name_and_state(kiln, room),
        _ => words::PROGRAM.to_owned(),
    };
    picture.line(left, Part::Accent, area);
}

/// Rows that the message and the line that stays take in so many columns.
fn told_rows(picture: &Drawing<'_>, columns: u16) -> u16 {
    let rows = |text: &str| wrap::wrap(text, columns).len() as u16;
    let message = picture.app.message.as_ref().map_or(0, |message| rows(&message.text));
    message + picture.staying(columns).iter().map(|line| rows(line)).sum::<u16>()
}

/// What was saved or refused last, and below it what stays: what could not be read, a rehearsal's
/// advice, or what else is wrong.
/// Where there is too little room, that something was saved is said in one row.
fn message_lines(picture: &Drawing<'_>, area: Rect) {
    let rows = |text: &str| wrap::wrap(text, area.width).len() as u16;
    let lines = picture.staying(area.width);
    let staying = lines.iter().map(|line| rows(line)).sum();
    let mut rest = area;
    if let Some(message) = &picture.app.message {
        let (part, least) = match message.tone {
            Tone::Saved => (Part::Text, 1),
            Tone::Refused => (Part::Urgent, u16::MAX),
            Tone::Wrong => (Part::Wrong, u16::MAX),
        };
        let room = area.height.saturating_sub(staying).max(least).min(area.height);
        let rows = rows(&message.text).min(room);
        picture.paragraph(&message.text, part, take(&mut rest, rows));
    }
    for line in lines {
        picture.paragraph(&line, Part::Accent, rest);
        take(&mut rest, rows(&line));
    }
}

/// The three most useful keys here.
fn hint_line(picture: &Drawing<'_>, area: Rect) {
    let (scene, rehearsal) = (picture.scene, picture.app.rehearsal);
    let hints = key::hints(picture.kiln(), rehearsal, scene.ringing().is_some());
    let mut rest = area;
    let mut hints = hints.map(key::binding).to_vec();
    // Where one kiln fills the floor, the way to the others is named as well.
    let hidden = floor::alone(picture).is_some() && scene.kilns.len() > 1;
    if hidden && scene.due().is_none() {
        let next = key::binding(Meaning::NextKiln);
        let named = hints.iter().any(|hint| hint.meaning == next.meaning);
        hints.splice(2..2, (!named).then_some(next));
    }
    // In a shop of several kilns each key says whose it is, as far as there is room for it.
    let own = picture.kiln().filter(|_| scene.kilns.len() > 1).map(|kiln| &kiln.kiln);
    let short = |binding: &key::Binding, columns: usize| {
        let answers = scene.ringing().filter(|_| binding.meaning == Meaning::Acknowledge);
        let answers = answers.map(|alarm| (&alarm.kiln, if columns == 0 { 12 } else { columns }));
        let own = own.filter(|_| columns > 0 && binding.meaning.is_of_a_kiln());
        let named = answers.or(own.map(|own| (own, columns)));
        let name = named.map(|(kiln, columns)| format!(" {}", words::shortened(kiln, columns)));
        format!("{}{}", binding.short, name.unwrap_or_default())
    };
    let around = |binding: &key::Binding| binding.label().chars().count() + 6;
    let width = |columns: usize| -> usize {
        hints.iter().map(|binding| around(binding) + short(binding, columns).chars().count()).sum()
    };
    let columns = [12, 8, 5, 0].into_iter().find(|columns| width(*columns) <= area.width.into());
    for binding in hints {
        let short = short(binding, columns.unwrap_or(0));
        let short_width = short.chars().count();
        let hint = Line::from(vec![
            Span::styled(format!(" {} ", binding.label()), picture.style(Part::Key)),
            Span::raw(format!(" {short}   ")),
        ]);
        let width = hint.width() as u16;
        if around(binding) + short_width > usize::from(rest.width) + 3 {
            break;
        }
        let place = take_columns(&mut rest, width);
        picture.draw(hint.style(picture.style(Part::Text)), place);
        picture.spots.add(place, Spot::Action(binding.meaning));
    }
}

impl<'a> Picture<'a> {
    fn style(&self, part: Part) -> Style {
        self.theme.style(part)
    }

    fn kiln(&self) -> Option<&'a KilnScene> {
        self.app.kiln(self.scene)
    }

    /// Which events could not be read, and what to do about it.
    fn unread(&self, columns: u16) -> Option<String> {
        if columns < SMALL.0 {
            return words::left_out_in_brief(&self.scene.unread);
        }
        words::left_out_and_remedy(&self.scene.unread, self.scene.now, &self.dial)
    }

    /// Rows of that text at a width of `columns`, at most `most`.
    fn unread_rows(&self, columns: u16, most: u16) -> u16 {
        self.unread(columns).map_or(0, |text| wrap::wrap(&text, columns).len() as u16).min(most)
    }

    /// Whether another page than the floor is open.
    fn shows_a_page(&self) -> bool {
        !matches!(self.app.view, View::Floor)
    }

    /// What is shown until it is put right, the most serious first, and what made way for a kiln.
    fn staying(&self, columns: u16) -> Vec<String> {
        let key = key::binding(Meaning::Due).label();
        let aside = self.app.made_way().map(|what| words::made_way(&what, key));
        let told = self.unread(columns).into_iter().chain(self.guidance.map(str::to_owned));
        told.chain(aside).collect()
    }

    /// The sentence of the whole shop.
    fn headline(&self) -> String {
        match self.scene.kilns.is_empty() {
            true if self.app.form.is_some() => words::ANSWER_FIRST.into(),
            true => words::no_kiln_yet(key::binding(Meaning::Shop).label()),
            false => words::headline(self.scene, &self.dial, striking()),
        }
    }

    /// `Heron (o) watch`, in so many columns: a name that is too long gives way, and the word where too
    /// little would be left of the name.
    fn name_and_state(&self, kiln: &KilnScene, columns: u16) -> String {
        let shape = format!(" {}", self.theme.shape(kiln.phase));
        let state = format!("{shape} {}", words::phase_word(kiln.phase));
        let room = |state: &str| usize::from(columns).saturating_sub(state.chars().count());
        let tight = room(&state) < LEAST_NAME.min(kiln.kiln.chars().count());
        let state = if tight { shape } else { state };
        format!("{}{state}", words::shortened(&kiln.kiln, room(&state)))
    }

    /// How loud a kiln is.
    fn part_of(&self, kiln: &KilnScene) -> Part {
        if kiln.task().wants_somebody() { Part::Urgent } else { Part::Text }
    }

    /// Remembers that a kiln is drawn here.
    fn spot_kiln(&self, kiln: &KilnScene, area: Rect) {
        self.spots.add(area, Spot::Kiln(kiln.kiln.clone()));
    }
}

impl Drawing<'_> {
    fn buffer(&self) -> RefMut<'_, Buffer> {
        RefMut::map(self.cells.borrow_mut(), |cells| &mut **cells)
    }

    fn draw(&self, widget: impl Widget, area: Rect) {
        widget.render(area, &mut self.buffer());
    }

    fn clear(&self, area: Rect) {
        self.draw(Clear, area);
        self.buffer().set_style(area, self.style(Part::Text));
    }

    fn line(&self, text: String, part: Part, area: Rect) {
        self.draw(Line::from(wrap::fitting(text, area.width)).style(self.style(part)), area);
    }

    /// The places of a list of so many lines around the one somebody is at, the row of each, and whether
    /// it is that one; a click on a row picks its line.
    fn listed(
        &self,
        area: Rect,
        count: usize,
        at: usize,
    ) -> impl Iterator<Item = (usize, Rect, bool)> {
        let at = at.min(count.saturating_sub(1));
        let first = (at + 1).saturating_sub(usize::from(area.height).max(1));
        (first..count).zip(area.rows()).map(move |(place, row)| {
            self.spots.add(row, Spot::Line(place));
            (place, row, place == at)
        })
    }

    /// As many of so many lines as there are rows, the one somebody is at with a mark.
    fn choices(&self, area: Rect, (count, at): (usize, usize), line: impl Fn(usize) -> String) {
        for (place, row, here) in self.listed(area, count, at) {
            let (marker, part) = if here { (">", Part::Key) } else { (" ", Part::Text) };
            let beside = [place.wrapping_sub(1), place + 1].into_iter().filter(|one| *one < count);
            let columns = row.width.saturating_sub(2);
            let told = wrap::told_apart(line(place), beside.map(&line), columns);
            self.line(format!("{marker} {told}"), part, row);
        }
    }

    /// As many of these lines as there are rows.
    fn lines(&self, lines: impl IntoIterator<Item = (String, Part)>, area: Rect) {
        for ((line, part), row) in lines.into_iter().zip(area.rows()) {
            self.line(line, part, row);
        }
    }

    /// Where there are too few rows, the last one says by two points that there is more.
    fn paragraph(&self, text: impl AsRef<str>, part: Part, area: Rect) {
        let mut lines = wrap::wrap(text.as_ref(), area.width);
        let last = usize::from(area.height).saturating_sub(1).min(lines.len());
        let rest = lines.split_off(last).join(" ");
        self.lines(lines.into_iter().chain([rest]).map(|line| (line, part)), area);
    }

    /// What happened, as much of its end as there are rows: how it came out stands last, told whole. With
    /// the day where it may be long ago.
    fn story(&self, told: &[(Moment, Happened)], (part, dated): (Part, bool), area: Rect) {
        let mut shown: Vec<(String, Part)> = Vec::new();
        for (at, happened) in told.iter().rev() {
            let time = match dated {
                true => self.dial.time_and_day(*at, self.scene.now),
                false => self.dial.time(*at),
            };
            let mut lead = format!("{time:>8} ");
            let columns = lead.len();
            let said = words::happened_line(happened, &self.dial);
            let lines = wrap::wrap(&said, area.width.saturating_sub(columns as u16));
            if !shown.is_empty() && shown.len() + lines.len() > usize::from(area.height) {
                break;
            }
            let lines = lines
                .into_iter()
                .map(|line| (format!("{:columns$}{line}", std::mem::take(&mut lead)), part));
            shown.splice(..0, lines);
        }
        self.lines(shown, area);
    }
}

/// How an entry is struck here.
fn striking() -> Striking<'static> {
    Striking::ByKey(key::binding(Meaning::Undo).label())
}
