//! What is read from the journal as it is asked for, and stands beside what comes first at the kilns: the plan
//! of the day, forms of what happened before, and printed matter: cards, review and ledger.

use std::sync::{Arc, Mutex, PoisonError};

use axum::extract::{Extension, Query, State};
use axum::http::StatusCode;
use axum::response::{self, IntoResponse, Response};
use serde::Deserialize;
use tokio::sync::Semaphore;
use tokio::task::spawn_blocking;

use super::html::Html;
use super::routes::{By, Web};
use super::views::{Told, View};
use crate::edge::journal::{Journal, JournalError};
use crate::edge::picture::chart;
use crate::edge::shop::card as one_card;
use crate::edge::shop::clock::{LocalZone, SystemClock, Timekeeper, ahead};
use crate::edge::shop::day_plan::DayPlan;
use crate::edge::shop::kept::{entries_of, ledger_of, prices_of};
use crate::firing::{EventId, FiringId, Kind};
use crate::review::Table;
use crate::review::outcomes::By as GroupedBy;
use crate::review::table::Cell;
use crate::scene::{Page as ReviewPage, PastFiring, ReviewQuestion, ReviewScene, Sort};
use crate::units::{Moment, Scale, Span};
use crate::words::{self, Dial, tables};

/// A page as it is answered.
type Page = response::Html<String>;

/// A plan is shown again for so long, while nothing was noted.
const PLAN_HOLDS: Span = Span::minutes(10);
/// The ledger shows so many lines at a time.
const LINES: usize = 300;
/// So many pictures stand on a page of the review; of the series under watch the clearest.
const CHARTS: usize = 4;
/// As wide as a line of the day is on a phone, in letters.
const DAY: usize = 44;

/// Whoever reads waits for the one before; and the plan that was made last.
#[derive(Debug, Clone)]
pub struct Reading {
    turn: Arc<Semaphore>,
    planned: Arc<Mutex<Option<(Option<EventId>, Arc<DayPlan>)>>>,
}

impl Default for Reading {
    fn default() -> Reading {
        Reading { turn: Arc::new(Semaphore::new(1)), planned: Arc::default() }
    }
}

impl Web {
    /// Reads what is not in the picture, on a thread of its own.
    pub async fn read<T: Send + 'static>(
        &self,
        work: impl FnOnce(&Journal) -> anyhow::Result<T> + Send + 'static,
    ) -> Result<T, Response> {
        let silent = || (StatusCode::SERVICE_UNAVAILABLE, words::PAGE_FILE_SILENT).into_response();
        let address = self.pictures.borrow().journal.clone().ok_or_else(silent)?;
        // Held until it is read, also where nobody waits for it any more.
        let turn = Arc::clone(&self.reading.turn).acquire_owned().await;
        let read = spawn_blocking(move || {
            let read = address.open().map_err(Into::into).and_then(|journal| work(&journal));
            drop(turn);
            read
        });
        match read.await {
            Ok(Ok(read)) => Ok(read),
            Ok(Err(error)) => Err((StatusCode::NOT_FOUND, format!("{error:#}")).into_response()),
            Err(_) => Err(silent()),
        }
    }

    fn dial(&self) -> Dial<'static> {
        self.pictures.borrow().dial()
    }
}

/// Which firing, or which entry of one, something is asked of.
#[derive(Debug, Deserialize)]
pub struct Which {
    firing: Option<i64>,
    event: Option<i64>,
    kiln: Option<String>,
}

pub async fn past(
    State(web): State<Web>,
    Extension(asking): By,
    Query(which): Query<Which>,
) -> Page {
    let kiln = which.kiln.unwrap_or_default();
    web.page_beside(&asking, &View::Beside, |told, html| told.from_paper(html, &kiln))
}

/// The entries of a firing, or the form that corrects one.
pub async fn correct(
    State(web): State<Web>,
    Extension(asking): By,
    Query(which): Query<Which>,
) -> Result<Page, Response> {
    let Some(event) = which.event else {
        let firing = FiringId(which.firing.unwrap_or_default());
        let entries = web.read(move |journal| entries_of(journal, firing)).await?;
        let told = |told: &Told<'_>, html: &mut Html| told.entries(html, &entries);
        return Ok(web.page_beside(&asking, &View::Beside, told));
    };
    let read = move |journal: &Journal| {
        let was = journal.event(EventId(event))?.event;
        let firing = was.firing.filter(|_| Kind::of(&was.what).is_corrected());
        let firing = firing.ok_or(JournalError::NotCorrected(was.id))?;
        Ok((firing, journal.firing(firing)?.kiln, was))
    };
    let (firing, kiln, was) = web.read(read).await?;
    Ok(web.page_beside(&asking, &View::Beside, |told, html| {
        told.correction(html, (firing, &kiln), &was);
    }))
}

pub async fn plan(State(web): State<Web>, Extension(asking): By) -> Result<Page, Response> {
    let (now, kept) = (SystemClock.now(), Arc::clone(&web.reading.planned));
    let read = move |journal: &Journal| {
        let last = journal.last_event()?;
        let mut kept = kept.lock().unwrap_or_else(PoisonError::into_inner);
        let fresh = |(of, plan): &&(Option<EventId>, Arc<DayPlan>)| {
            *of == last && now - plan.made_at < PLAN_HOLDS
        };
        if let Some((_, plan)) = kept.as_ref().filter(fresh) {
            return Ok(Arc::clone(plan));
        }
        let plan = Arc::new(DayPlan::of(journal, Arc::new(LocalZone), now)?);
        *kept = Some((last, Arc::clone(&plan)));
        Ok(plan)
    };
    let plan = web.read(read).await?;
    Ok(web.page_beside(&asking, &View::Beside, |told, html| day(html, told, &plan)))
}

/// The plan of today and of the next days, with what is said of each lot.
fn day(html: &mut Html, on: &Told<'_>, plan: &DayPlan) {
    let (dial, now) = (on.picture.dial(), on.scene.now);
    let (told, minute) = (plan.told(&dial), (now - plan.made_at).as_minutes());
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
        told.next_days().iter().for_each(|line| html.element("p", &[], line));
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

pub async fn card(
    State(web): State<Web>,
    Extension(asking): By,
    Query(which): Query<Which>,
) -> Result<Page, Response> {
    let (firing, now) = (FiringId(which.firing.unwrap_or_default()), SystemClock.now());
    let picture = Arc::clone(&web.pictures.borrow());
    let read = move |journal: &Journal| {
        let dial = picture.dial();
        let prices = prices_of(journal, ahead(now, &LocalZone))?;
        let one = one_card::one(journal, firing, &prices, &dial)?;
        let one = one.ok_or_else(|| anyhow::anyhow!(words::NO_SUCH_FIRING))?;
        one_card::card(journal, &one, None, (&dial, now), |card| card.sheet())
    };
    let sheet = web.read(read).await?;
    Ok(web.page_beside(&asking, &View::Beside, |_, html| {
        html.open("link", &[("rel", "stylesheet"), ("href", "/card.css")]);
        html.within("div", &[("class", "paper")], |html| html.card(&sheet));
    }))
}

/// What is asked of the review: the number of its page, and in which way its rows are told apart.
#[derive(Debug, Deserialize)]
pub struct Turned {
    page: Option<usize>,
    way: Option<usize>,
}

pub async fn review(
    State(web): State<Web>,
    Extension(asking): By,
    Query(turned): Query<Turned>,
) -> Result<Page, Response> {
    let now = SystemClock.now();
    let read = move |journal: &Journal| {
        let ahead = ahead(now, &LocalZone);
        let question = ReviewQuestion { now, ahead, ..ReviewQuestion::default() };
        Ok(journal.review(&question, &prices_of(journal, ahead)?, &mut |_, _| {})?)
    };
    let (mut scene, scale) = (web.read(read).await?, web.dial().scale);
    scene.drifts = scene.clearest_first().into_iter().cloned().collect();
    let page = ReviewPage::default().further(turned.page.unwrap_or_default());
    let way = turned.way.unwrap_or_default() % ReviewScene::ways(page);
    Ok(web.page_beside(&asking, &View::Beside, |_, html| {
        html.within("nav", &[], |html| {
            for (number, page) in ReviewPage::ALL.into_iter().enumerate() {
                for way in 0..ReviewScene::ways(page) {
                    let link = format!("/review?page={number}&way={way}");
                    html.element("a", &[("href", &link)], &words::page_name(page, way));
                }
            }
        });
        let class = [("class", "paper")];
        html.within("div", &class, |html| reviewed(html, (page, way), &scene, scale));
    }))
}

/// One page of the review: its chart as the command draws it, and its tables.
fn reviewed(html: &mut Html, (page, way): (ReviewPage, usize), scene: &ReviewScene, scale: Scale) {
    for sheet in chart::of_page((page, way), scene, scale).into_iter().take(CHARTS) {
        html.within("div", &[("class", "wide")], |html| html.picture(&sheet));
    }
    let tables = match page {
        ReviewPage::Outcomes => {
            let (by, groups) = &scene.outcomes[way];
            let went_with = tables::went_with(&scene.went_with);
            let windows = tables::windows(&scene.windows);
            vec![
                tables::outcomes(*by, groups),
                tables::overshoots(&scene.overshoots),
                went_with,
                windows,
            ]
        }
        ReviewPage::Drift => vec![
            tables::drift(&scene.drifts, scale, scene.ahead),
            tables::probes(&scene.probes, scale),
        ],
        ReviewPage::Tolerance => vec![tables::tolerance(&scene.tolerances)],
        ReviewPage::Evenness => vec![tables::evenness(&scene.maps, scale)],
        ReviewPage::Cost => {
            let (by, groups) = &scene.costs[way];
            let by: GroupedBy = *by;
            let all = groups.iter().chain([&scene.all_costs]).cloned().collect::<Vec<_>>();
            vec![tables::costs(by, &all), tables::late_looks(&scene.late)]
        }
    };
    tables.iter().filter(|table| !table.rows.is_empty()).for_each(|table| drawn(html, table));
}

fn drawn(html: &mut Html, table: &Table) {
    html.within("div", &[("class", "wide")], |html| {
        html.within("table", &[], |html| {
            html.element("caption", &[], &table.title);
            html.within("tr", &[], |html| {
                table.columns.iter().for_each(|column| html.element("th", &[], column.heading));
            });
            for row in &table.rows {
                html.within("tr", &[], |html| {
                    for cell in &row.cells {
                        let class = [("class", "number")];
                        let class = if matches!(cell, Cell::Text(_)) { &[][..] } else { &class };
                        html.element("td", class, &cell.shown());
                    }
                });
            }
        });
    });
    table.remarks.iter().for_each(|remark| html.element("p", &[], remark));
}

/// What the ledger is asked for.
#[derive(Debug, Deserialize)]
pub struct Sought {
    #[serde(default)]
    words: String,
    sort: Option<usize>,
}

pub async fn ledger(
    State(web): State<Web>,
    Extension(asking): By,
    Query(sought): Query<Sought>,
) -> Result<Page, Response> {
    let (mut past, dial) = (web.read(ledger_of).await?, web.dial());
    let now = SystemClock.now();
    let sort = Sort::ALL[sought.sort.unwrap_or_default() % Sort::ALL.len()];
    let wanted = sought.words.to_lowercase();
    past.retain(|one| {
        let line = words::past_line(one, now, &dial).to_lowercase();
        wanted.split_whitespace().all(|word| line.contains(word))
    });
    sort.sort(&mut past, |one| one);
    Ok(web.page_beside(&asking, &View::Beside, |_, html| {
        html.element("h1", &[], &words::ledger_title(sort, false));
        html.within("form", &[("method", "get"), ("action", "/ledger")], |html| {
            html.within("label", &[], |html| {
                html.text(words::PAGE_SOUGHT);
                html.open("input", &[("name", "words"), ("value", &sought.words)]);
            });
            html.within(
                "select",
                &[("name", "sort"), ("aria-label", words::PAGE_SORTED)],
                |html| {
                    for (number, one) in Sort::ALL.into_iter().enumerate() {
                        let number = number.to_string();
                        let chosen = (one == sort).then_some(("selected", ""));
                        let all = [("value", number.as_str())].into_iter().chain(chosen);
                        let said = words::ledger_title(one, false);
                        html.element("option", &all.collect::<Vec<_>>(), &said);
                    }
                },
            );
            html.element("button", &[], words::PAGE_SEEK);
        });
        let class = [("class", "paper")];
        html.within("div", &class, |html| lines(html, &past, (now, &dial)));
    }))
}

fn lines(html: &mut Html, past: &[PastFiring], (now, dial): (Moment, &Dial<'_>)) {
    html.within("div", &[("class", "wide")], |html| {
        html.within("table", &[], |html| {
            html.within("tr", &[], |html| {
                words::PAGE_LEDGER.iter().for_each(|heading| html.element("th", &[], heading));
            });
            for one in past.iter().take(LINES) {
                html.within("tr", &[], |html| {
                    let when = dial.time_and_day(one.begun, now);
                    let link = format!("/card?firing={}", one.firing.0);
                    match one.firing {
                        FiringId::SHOP => html.element("td", &[], &when),
                        _ => html.within("td", &[], |html| {
                            html.element("a", &[("href", &link)], &when);
                        }),
                    }
                    let cone = one.target.map_or("", |cone| cone.name());
                    let came_out = one.verdict.map_or("", |verdict| verdict.name());
                    for text in [&one.kiln, &one.load_type, cone, came_out, &one.note] {
                        html.element("td", &[], text);
                    }
                });
            }
        });
    });
    if past.is_empty() {
        html.element("p", &[], words::NO_SUCH_FIRING);
    }
    if past.len() > LINES {
        html.element("p", &[], &words::page_more_lines(past.len() - LINES));
    }
}
