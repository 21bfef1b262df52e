//! What is read from the journal as it is asked for, and stands beside what comes first at the kilns: the plan
//! of the day, forms of what happened before, and printed matter: cards, review and ledger.

use std::sync::Arc;

use anyhow::Context;
use axum::http::StatusCode;
use axum::response::IntoResponse;
use axum::routing::{MethodRouter, get};
use tokio::task::spawn_blocking;

use super::clerk::Picture;
use super::html::Html;
use super::routes::{Asked, Web};
use super::sent::Said;
use super::views::{Told, View};
use crate::edge::bell::settings::BellFile;
use crate::edge::journal::{Journal, JournalError};
use crate::edge::picture::chart;
use crate::edge::shop::card as one_card;
use crate::edge::shop::clock::{LocalZone, SystemClock, Timekeeper, ahead};
use crate::edge::shop::day_plan;
use crate::edge::shop::kept::{entries_of, ledger_of, prices_of};
use crate::firing::{EventId, FiringId, Kind};
use crate::plan::DayPlan;
use crate::review::Table;
use crate::review::table::Cell;
use crate::scene::{Page, ReviewQuestion, ReviewScene};
use crate::words::{self, ReviewTable};

/// The ledger shows so many lines at a time.
const LINES: usize = 300;
/// So many pictures stand on a page of the review; of the series under watch the clearest.
const CHARTS: usize = 4;
/// As wide as a line of the day is on a phone, in letters.
const DAY: usize = 44;

/// What draws it, once it is read.
type Drawn = Box<dyn FnOnce(&Told<'_>, &mut Html) + Send>;
type Reads = fn(&Journal, &Said, &Picture) -> anyhow::Result<Drawn>;

/// A page that is read on a thread of its own, one after the other.
pub fn shown(reads: Reads) -> MethodRouter<Web> {
    get(async move |asked: Asked| {
        let picture = Arc::clone(&asked.web.pictures.borrow());
        // Held until it is read, also where nobody waits for it any more.
        let turn = Arc::clone(&asked.web.reading).acquire_owned().await;
        let said = asked.said.clone();
        let read = spawn_blocking(move || {
            let journal = picture.journal.as_ref().context(words::PAGE_FILE_SILENT)?.open()?;
            let drawn = reads(&journal, &said, &picture);
            drop(turn);
            drawn
        });
        match read.await {
            Ok(Ok(drawn)) => asked.page(&View::Beside, drawn),
            Ok(Err(error)) => (StatusCode::NOT_FOUND, format!("{error:#}")).into_response(),
            Err(_) => (StatusCode::SERVICE_UNAVAILABLE, words::PAGE_FILE_SILENT).into_response(),
        }
    })
}

pub fn past(_: &Journal, said: &Said, _: &Picture) -> anyhow::Result<Drawn> {
    let kiln = said.text("kiln").to_owned();
    Ok(Box::new(move |told, html| told.on_paper(html, &kiln)))
}

/// The entries of a firing, or the form that corrects one.
pub fn correct(journal: &Journal, said: &Said, _: &Picture) -> anyhow::Result<Drawn> {
    let Some(event) = said.number("event") else {
        let entries = entries_of(journal, FiringId(said.number("firing").unwrap_or_default()))?;
        return Ok(Box::new(move |told, html| told.entries(html, &entries)));
    };
    let was = journal.event(EventId(event))?.event;
    let firing = was.firing.filter(|_| Kind::of(&was.what).is_corrected());
    let firing = firing.ok_or(JournalError::NotCorrected(was.id))?;
    let kiln = journal.firing(firing)?.kiln;
    Ok(Box::new(move |told, html| told.correction(html, (firing, &kiln), &was)))
}

/// The ways to ring that have to be set up, or the form of one.
pub fn ways(journal: &Journal, said: &Said, _: &Picture) -> anyhow::Result<Drawn> {
    let bell = BellFile::read(journal.path())?;
    let way = said.number("way");
    Ok(Box::new(move |told, html| told.ways(html, &bell, way)))
}

pub fn plan(journal: &Journal, _: &Said, _: &Picture) -> anyhow::Result<Drawn> {
    let plan = day_plan::of(journal, Arc::new(LocalZone), SystemClock.now())?;
    Ok(Box::new(move |on, html| day(html, on, &plan)))
}

/// The plan of today and of the next days, with what is said of each lot.
fn day(html: &mut Html, on: &Told<'_>, plan: &DayPlan) {
    let (dial, now) = (on.picture.dial(), on.scene.now);
    let told = words::PlanTold::of(plan, &dial);
    let minute = (now - plan.made_at).as_minutes();
    html.element("h1", &[], &told.plan_title(minute));
    if let Some(deed) = told.next_deed(minute).filter(|_| on.scene.due().is_none()) {
        html.within("p", &[("class", "big")], |html| {
            html.element("b", &[], &deed.time);
            html.element("span", &[], &deed.what);
        });
    }
    html.within("article", &[("class", "kiln")], |html| {
        html.lines("pre", &[], told.timeline(minute, DAY).iter().map(String::as_str));
        html.element("p", &[("class", "caution")], words::PAGE_PLAN_MEANS);
        html.lines("pre", &[], told.next_table().iter().map(String::as_str));
        told.standing_lines().iter().for_each(|line| html.element("p", &[], line));
    });
    let lots = plan.tables.instance.lots.len();
    if lots == 0 {
        html.element("p", &[], words::PAGE_NO_LOTS);
    }
    for lot in 0..lots {
        html.within("article", &[("class", "kiln")], |html| {
            html.element("h2", &[], &told.lot_line(lot));
            html.element("p", &[], &told.lot_why(lot));
        });
    }
}

pub fn card(journal: &Journal, said: &Said, picture: &Picture) -> anyhow::Result<Drawn> {
    let (dial, now) = (picture.dial(), SystemClock.now());
    let prices = prices_of(journal, ahead(now, &LocalZone))?;
    let firing = FiringId(said.number("firing").unwrap_or_default());
    let one = one_card::one(journal, firing, &prices, &dial)?.context(words::NO_SUCH_FIRING)?;
    let sheet = one_card::card(journal, &one, None, (&dial, now), |card| card.sheet())?;
    Ok(Box::new(move |_, html| {
        html.open("link", &[("rel", "stylesheet"), ("href", "/card.css")]);
        html.within("div", &[("class", "paper")], |html| html.card(&sheet));
    }))
}

pub fn review(journal: &Journal, said: &Said, picture: &Picture) -> anyhow::Result<Drawn> {
    let (now, scale) = (SystemClock.now(), picture.dial().scale);
    let ahead = ahead(now, &LocalZone);
    let question = ReviewQuestion { now, ahead, ..ReviewQuestion::default() };
    let prices = prices_of(journal, ahead)?;
    let mut scene = journal.review(&question, &prices, &mut |_, _| {})?;
    scene.drifts = scene.clearest_first().into_iter().cloned().collect();
    let pages = Page::all(scene.bench.is_some());
    let page = pages[said.number("page").unwrap_or(0) % pages.len()];
    let way = said.number("way").unwrap_or(0) % ReviewScene::ways(page);
    Ok(Box::new(move |_, html| {
        html.within("nav", &[], |html| {
            for (number, &page) in pages.iter().enumerate() {
                for way in 0..ReviewScene::ways(page) {
                    let link = format!("/review?page={number}&way={way}");
                    html.element("a", &[("href", &link)], &words::page_name(page, way));
                }
            }
        });
        html.within("div", &[("class", "paper")], |html| {
            for sheet in chart::of_page((page, way), &scene, scale).into_iter().take(CHARTS) {
                html.within("div", &[("class", "wide")], |html| html.picture(&sheet));
            }
            let answers = ReviewTable::of_page(page, way).into_iter();
            let tables = answers.map(|answer| answer.table(&scene, scale));
            let says = tables.filter(|table| !table.rows.is_empty());
            says.for_each(|table| drawn(html, &table, false));
        });
    }))
}

pub fn ledger(journal: &Journal, said: &Said, picture: &Picture) -> anyhow::Result<Drawn> {
    let (mut past, dial, now) = (ledger_of(journal)?, picture.dial(), SystemClock.now());
    let sought = said.text("words").to_owned();
    let words = sought.to_lowercase();
    past.retain(|one| {
        let line = words::past_line(one, now, &dial).to_lowercase();
        words.split_whitespace().all(|word| line.contains(word))
    });
    past.sort_by_key(|one| std::cmp::Reverse(one.begun));
    let more = past.len().saturating_sub(LINES);
    past.truncate(LINES);
    let table = words::ledger_table(&past, more, now, &dial);
    Ok(Box::new(move |_, html| {
        html.within("form", &[("method", "get"), ("action", "/ledger")], |html| {
            html.within("label", &[], |html| {
                html.text(words::PAGE_SOUGHT);
                html.open("input", &[("name", "words"), ("value", &sought)]);
            });
            html.element("button", &[], words::PAGE_SEEK);
        });
        html.within("div", &[("class", "paper")], |html| drawn(html, &table, true));
    }))
}

/// A table, and what is remarked below it; where each row is a firing, it leads to its card.
fn drawn(html: &mut Html, table: &Table, of_firings: bool) {
    html.within("div", &[("class", "wide")], |html| {
        html.within("table", &[], |html| {
            html.element("caption", &[], &table.title);
            html.within("tr", &[], |html| {
                table.columns.iter().for_each(|column| html.element("th", &[], column.heading));
            });
            for row in &table.rows {
                let firing =
                    row.firings.first().filter(|one| of_firings && **one != FiringId::SHOP);
                let mut card = firing.map(|firing| format!("/card?firing={}", firing.0));
                html.within("tr", &[], |html| {
                    for cell in &row.cells {
                        let class = if let Cell::Text(_) = cell { "text" } else { "number" };
                        html.within("td", &[("class", class)], |html| match card.take() {
                            Some(card) => html.element("a", &[("href", &card)], &cell.shown()),
                            None => html.text(&cell.shown()),
                        });
                    }
                });
            }
        });
    });
    table.remarks.iter().for_each(|remark| html.element("p", &[], remark));
}
