//! The views beside the floor: each fills the screen between the title and the message.

use ratatui::layout::Constraint::{Fill, Length, Min};
use ratatui::layout::{Layout, Position, Rect};

use super::list::{self, List};
use super::{Drawing, bench, message_lines, plan, review, title_line, wrap};
use crate::edge::own_schedules::Offered;
use crate::edge::plot::{self, Plot};
use crate::edge::screen::key;
use crate::edge::screen::pick::Pick;
use crate::edge::screen::spots::Spot;
use crate::edge::screen::theme::Part;
use crate::edge::screen::view::{EntriesView, LedgerView, Schedules, ShopView, View};
use crate::schedule::check::Limits;
use crate::words::{self, ViewKeys};

/// A line of the ledger with all its columns needs this much.
const WIDE: u16 = 76;

/// ```text
/// title                    time
/// the view
/// message, two rows, and what could not be read
/// the keys of the view
/// ```
pub(super) fn render(picture: &Drawing<'_>, area: Rect) -> Option<Position> {
    let message = picture.app.message.as_ref();
    let tall = |text: &str| wrap::wrap(text, area.width).len() as u16;
    let message_rows =
        message.map_or(0, |message| tall(&message.text).clamp(2, (area.height / 2).max(2)));
    let told_rows = message_rows + picture.unread_rows(area.width, area.height / 3);
    let [top, body, message, hint] =
        Layout::vertical([Length(1), Min(0), Length(told_rows), Length(1)]).areas(area);
    title_line(picture, top);
    message_lines(picture, message);
    let keys = keys(&picture.app.view, picture.schedules);
    picture.line(words::view_keys(keys).into(), Part::Quiet, hint);
    picture.spots.add(hint, Spot::Back);
    match &picture.app.view {
        View::Floor => None,
        View::Ledger(ledger) => self::ledger(ledger, picture, body),
        View::Schedules(schedules) => self::schedules(schedules, picture, body),
        View::Shop(shop) => self::shop(shop, picture, body),
        View::Review(review) => review::render(review, picture, body),
        View::Entries(entered) => entries(entered, picture, body),
        View::Plan(view) => {
            plan::render(view, picture, body);
            None
        }
        View::Bench(view) => {
            bench::render(view, picture, body);
            None
        }
    }
}

/// Every action, over whatever is shown.
pub(super) fn finder(pick: &Pick, picture: &Drawing<'_>, area: Rect) -> Option<Position> {
    let phrases = words::finder_lines(&key::phrases(picture.app.rehearsal), picture.scene);
    let found = pick.with_letters(&phrases);
    let rows = area.height.min(found.len() as u16 + 3);
    picture.spots.clear();
    let place = super::frame::middle(area, 64, rows.max(4));
    picture.clear(place);
    let line: &dyn Fn(usize) -> String = &|nth| phrases[found[nth]].clone();
    let (title, count) = (words::FINDER_TITLE.into(), found.len());
    let list = List { title, count, line, pick, empty: words::NO_SUCH_ACTION };
    let cursor = list::render(&list, picture, place);
    picture.made_up_below(place);
    cursor
}

fn keys(view: &View, known: &[Offered]) -> ViewKeys {
    match view {
        View::Ledger(ledger) if ledger.comparing => ViewKeys::Compare,
        View::Ledger(ledger) if ledger.lists() => ViewKeys::Ledger,
        View::Ledger(_) => ViewKeys::Firing,
        View::Schedules(schedules) if schedules.open.is_some() => {
            match schedules.opened(known).and_then(Offered::schedule) {
                Some(_) => ViewKeys::Schedule,
                None => ViewKeys::Back,
            }
        }
        View::Review(review) if review.why.is_some() => ViewKeys::Why,
        View::Review(_) => ViewKeys::Review,
        View::Plan(_) => ViewKeys::Plan,
        View::Bench(_) => ViewKeys::Bench,
        View::Floor | View::Schedules(_) | View::Shop(_) | View::Entries(_) => ViewKeys::List,
    }
}

fn entries(entered: &EntriesView, picture: &Drawing<'_>, area: Rect) -> Option<Position> {
    let lines = entered.lines(picture.scene.now, &picture.dial);
    let found = entered.pick.with_words(lines.iter().cloned());
    let line: &dyn Fn(usize) -> String = &|nth| lines[found[nth]].clone();
    let title = words::entries_title(&entered.entries.kiln);
    let (count, pick) = (found.len(), &entered.pick);
    let list = List { title, count, line, pick, empty: words::NO_SUCH_ENTRY };
    list::render(&list, picture, area)
}

fn ledger(ledger: &LedgerView, picture: &Drawing<'_>, area: Rect) -> Option<Position> {
    if !ledger.lists() {
        firing(ledger, picture, area);
        return None;
    }
    let (now, dial) = (picture.scene.now, &picture.dial);
    let wide = area.width >= WIDE;
    let worded = if wide { words::past_row } else { words::past_short };
    let found = ledger.found();
    let (count, line) = (found.len(), &|nth: usize| worded(found[nth], now, dial));
    let title = words::ledger_title(ledger.sort, ledger.comparing);
    let empty = match ledger.rows {
        None => words::READING_LEDGER,
        Some(_) => words::NO_SUCH_FIRING,
    };
    list::render(&List { title, count, line, pick: &ledger.pick, empty }, picture, area)
}

/// The curve above, what happened below or, where there is room, beside it.
fn firing(ledger: &LedgerView, picture: &Drawing<'_>, area: Rect) {
    let Some(first) = ledger.open.first() else { return };
    let title = words::firing_title(&ledger.open, picture.scene.now, &picture.dial);
    let inside = picture.framed(title, Part::Accent, area);
    let (curve, story) = curve_and_text(inside);
    let plot = Plot::of_firings(&ledger.open, picture.dial.scale);
    match plot.is_empty() {
        true => picture.line(words::NO_CURVE.into(), Part::Quiet, curve),
        false => plot::draw(&plot, picture.theme.ascii, curve, &mut picture.buffer()),
    }
    picture.story(&first.happened, (Part::Text, false), story);
}

fn schedules(schedules: &Schedules, picture: &Drawing<'_>, area: Rect) -> Option<Position> {
    let known = picture.schedules;
    if let Some(open) = schedules.opened(known) {
        schedule(open, schedules.page, picture, area);
        return None;
    }
    let found = schedules.found(known);
    let (count, line) = (found.len(), &|nth: usize| Schedules::line(&known[found[nth]]));
    let (title, empty) = (words::SCHEDULES_TITLE.to_owned(), words::NO_SUCH_SCHEDULE);
    list::render(&List { title, count, line, pick: &schedules.pick, empty }, picture, area)
}

/// Its curve, what it calls for at the chosen kiln, and its segments; on pages where there is too
/// little room.
fn schedule(offered: &Offered, page: usize, picture: &Drawing<'_>, area: Rect) {
    let schedule = match &offered.found {
        Ok(schedule) => schedule,
        Err(why) => {
            let title = offered.file_name().to_owned();
            let inside = picture.framed(title, Part::Wrong, area);
            let why = words::garbled_schedule(&offered.reference, why);
            return picture.paragraph(why, Part::Text, inside);
        }
    };
    let name = words::schedule_name(schedule, offered.own);
    let inside = picture.framed(name, Part::Accent, area);
    let (curve, text) = curve_and_text(inside);
    let scale = picture.dial.scale;
    if let Some(plot) = Plot::of_planned(schedule, scale) {
        plot::draw(&plot, picture.theme.ascii, curve, &mut picture.buffer());
    }
    let limits = picture.kiln().map(|kiln| Limits::from(&kiln.described)).unwrap_or_default();
    let cautions = words::schedule_cautions(schedule, &limits, &picture.dial);
    let orders = words::schedule_orders(schedule, scale);
    let airing = words::schedule_airing(schedule, scale);
    // The segments keep their columns, and what is written out is broken between words.
    let mut orders = orders.into_iter().map(|line| (line, Part::Text));
    let written = cautions.iter().chain(&airing);
    let written = written.flat_map(|caution| wrap::wrap(caution, text.width));
    let lines: Vec<(String, Part)> = orders
        .next()
        .into_iter()
        .chain(written.map(|line| (line, Part::Accent)))
        .chain(orders)
        .collect();
    let all = lines.len() <= usize::from(text.height);
    let rows = if all { lines.len() } else { usize::from(text.height.max(2)) - 1 };
    let pages = lines.len().div_ceil(rows.max(1)).max(1);
    let page = page % pages;
    picture.lines(lines.into_iter().skip(page * rows).take(rows), text);
    if let Some(last) = text.rows().next_back().filter(|_| !all) {
        picture.line(words::page_of_text(page + 1, pages), Part::Quiet, last);
    }
}

/// Side by side where both have room, else the curve above; no curve where there is no room.
fn curve_and_text(inside: Rect) -> (Rect, Rect) {
    let (least_columns, least_rows) = plot::SMALLEST;
    if inside.width >= 2 * least_columns + 4 {
        let halves = Layout::horizontal([Fill(1), Fill(1)]).spacing(2);
        let [curve, text] = halves.areas(inside);
        return (curve, text);
    }
    let rows = if inside.height >= least_rows + 6 { inside.height - 7 } else { 0 };
    let [curve, text] = Layout::vertical([Length(rows), Min(0)]).areas(inside);
    (curve, text)
}

fn shop(shop: &ShopView, picture: &Drawing<'_>, area: Rect) -> Option<Position> {
    let (scene, dial) = (picture.scene, &picture.dial);
    let found = shop.found(scene, dial);
    let (count, line) = (found.len(), &|nth: usize| shop.line(found[nth], scene, dial));
    let (title, empty) = (words::SHOP_TITLE.to_owned(), words::NO_SUCH_LINE);
    list::render(&List { title, count, line, pick: &shop.pick, empty }, picture, area)
}
