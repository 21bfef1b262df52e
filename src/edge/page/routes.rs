//! What can be asked for, and by whom: everything but the pairing and what the pages are dressed in only by
//! a device that is paired.

use std::sync::Arc;
use std::sync::mpsc::TrySendError;
use std::time::Duration;

use axum::Router;
use axum::body::Body;
use axum::extract::{DefaultBodyLimit, Extension, Form, Path, Query, Request, State};
use axum::http::StatusCode;
use axum::http::header::{self, HeaderMap, HeaderValue};
use axum::middleware::{Next, from_fn_with_state};
use axum::response::{Html, IntoResponse, Redirect, Response};
use axum::routing::{MethodRouter, get, post};
use serde::Deserialize;
use serde_json::json;
use tokio::sync::{Semaphore, oneshot, watch};

use super::clerk::{Job, Jobs, Picture, Pictures, Reply};
use super::gate::{self, Gate};
use super::noting::Noted;
use super::sent::{self, Sent};
use super::views::{Told, View};
use super::{asking, beside, codes, html, stream, ways};
use crate::alarm::{Key, Task};
use crate::edge::journal::Uid;
use crate::edge::journal::devices::{Device, Digest};
use crate::edge::picture::card;
use crate::edge::shop::clock::{SystemClock, Timekeeper};
use crate::firing::FiringId;
use crate::words;

/// The longest a request's body may be.
const BODY: usize = 16 * 1024;
/// How long a device waits for the file.
const WRITTEN_WITHIN: Duration = Duration::from_secs(8);
/// A browser keeps a cookie for so long at most.
const COOKIE_DAYS: u32 = 400;

/// What every route knows.
#[derive(Debug, Clone)]
pub struct Web {
    port: u16,
    pub pictures: Pictures,
    jobs: Jobs,
    stopped: watch::Receiver<bool>,
    /// Whoever reads what is not in the picture waits for the one before.
    pub reading: Arc<Semaphore>,
}

/// The device that asks.
#[derive(Debug, Clone)]
pub struct Asking {
    pub name: String,
    token: Digest,
}

impl Asking {
    fn device<'p>(&self, picture: &'p Picture) -> Option<&'p Device> {
        picture.devices.iter().find(|device| device.token == self.token)
    }
}

/// Everything behind the gate of this port.
pub fn router(port: u16, pictures: Pictures, jobs: Jobs, stopped: watch::Receiver<bool>) -> Router {
    let web = Web { port, pictures, jobs, stopped, reading: Arc::new(Semaphore::new(1)) };
    let (open, paired): (Vec<&Route>, Vec<&Route>) = ROUTES.iter().partition(|one| one.open);
    let add = |router: Router<Web>, one: &Route| router.route(one.path, (one.serves)());
    let paired = paired.into_iter().fold(Router::new(), add);
    let paired = paired.route_layer(from_fn_with_state(web.clone(), only_paired));
    open.into_iter()
        .fold(Router::new(), add)
        .merge(paired)
        .fallback(|| async { (StatusCode::NOT_FOUND, words::PAGE_NO_SUCH_PLACE) })
        .layer(DefaultBodyLimit::max(BODY))
        .layer(from_fn_with_state(Gate::of(port), gate::keep))
        .with_state(web)
}

/// One place that can be asked for.
#[derive(Debug)]
pub struct Route {
    pub path: &'static str,
    /// Whether it answers a device that is not paired.
    open: bool,
    serves: fn() -> MethodRouter<Web>,
}

const fn open(path: &'static str, serves: fn() -> MethodRouter<Web>) -> Route {
    Route { path, open: true, serves }
}

const fn paired(path: &'static str, serves: fn() -> MethodRouter<Web>) -> Route {
    Route { path, open: false, serves }
}

/// Everything that can be asked for.
pub const ROUTES: &[Route] = &[
    open("/P/{code}", || get(scanned)),
    open("/pair", || get(typed).post(pair)),
    open("/page.css", || get(|| dress("text/css", include_str!("page.css")))),
    open("/card.css", || get(|| async { dress("text/css", card::style()).await })),
    open("/page.js", || get(|| dress("text/javascript", include_str!("page.js")))),
    open("/old.js", || get(|| dress("text/javascript", include_str!("old.js")))),
    open("/w.js", || get(|| dress("text/javascript", include_str!("w.js")))),
    open("/icon.svg", || get(|| dress("image/svg+xml", include_str!("icon.svg")))),
    paired("/", || get(floor)),
    paired("/far", || get(far)),
    paired("/kiln/{name}", || get(kiln)),
    paired("/state", || get(state)),
    paired("/state.json", || get(state_once)),
    paired("/now", || get(now)),
    paired("/answer", || post(answer)),
    paired("/armed", || post(armed)),
    paired("/rang", || post(rang)),
    paired("/shop", || get(shop)),
    paired("/note", || get(form).post(note)),
    paired("/bench", || get(bench)),
    paired("/past", || beside::shown(beside::past)),
    paired("/correct", || beside::shown(beside::correct)),
    paired("/plan", || beside::shown(beside::plan)),
    paired("/card", || beside::shown(beside::card)),
    paired("/review", || beside::shown(beside::review)),
    paired("/ledger", || beside::shown(beside::ledger)),
    paired("/ways", || beside::shown(beside::ways).post(ways::set)),
    paired("/who", || get(who).post(choose)),
];

async fn dress(kind: &'static str, text: impl Into<Body>) -> impl IntoResponse {
    ([(header::CONTENT_TYPE, kind)], text.into())
}

impl Web {
    fn cookie_name(&self) -> String {
        // Cookies are shared by all ports of a computer.
        format!("spyhole_{}", self.port)
    }

    fn cookie(&self, token: &str) -> Option<HeaderValue> {
        let (name, age) = (self.cookie_name(), COOKIE_DAYS * 24 * 3_600);
        let cookie = format!("{name}={token}; Path=/; Max-Age={age}; HttpOnly; SameSite=Lax");
        HeaderValue::from_str(&cookie).ok()
    }

    fn shown_token<'h>(&self, headers: &'h HeaderMap) -> Option<&'h str> {
        let name = self.cookie_name();
        let cookies = headers.get_all(header::COOKIE).iter();
        let mut each = cookies.filter_map(|value| value.to_str().ok()).flat_map(|it| it.split(';'));
        each.find_map(|cookie| {
            let (key, value) = cookie.trim().split_once('=')?;
            (key == name).then_some(value)
        })
    }

    /// Has the clerk do something, and waits for what comes of it.
    pub async fn ask<T>(&self, job: impl FnOnce(Reply<T>) -> Job) -> Result<T, Response> {
        let late = || {
            let said = words::page_not_written(words::PAGE_FILE_SILENT);
            (StatusCode::SERVICE_UNAVAILABLE, said).into_response()
        };
        let (reply, heard) = oneshot::channel();
        match self.jobs.try_send(job(reply)) {
            Ok(()) => {}
            Err(TrySendError::Full(_) | TrySendError::Disconnected(_)) => return Err(late()),
        }
        match tokio::time::timeout(WRITTEN_WITHIN, heard).await {
            Ok(Ok(done)) => Ok(done),
            _ => Err(late()),
        }
    }

    /// Has the clerk do something that nobody waits for.
    fn tell(&self, job: Job) -> StatusCode {
        let told = self.jobs.try_send(job);
        told.map_or(StatusCode::SERVICE_UNAVAILABLE, |()| StatusCode::NO_CONTENT)
    }

    fn page(&self, asking: &Asking, view: &View) -> Html<String> {
        self.page_beside(asking, view, |told, html| {
            if let View::Form(kind, name) = view {
                told.form(html, *kind, name);
            }
        })
    }

    pub fn page_beside(
        &self,
        asking: &Asking,
        view: &View,
        beside: impl FnOnce(&Told<'_>, &mut html::Html),
    ) -> Html<String> {
        let picture = Arc::clone(&self.pictures.borrow());
        let mut told = Told::of(&picture, &asking.token, SystemClock.now());
        // Without a mark nothing is noted: the script has its own.
        told.mark = codes::token().unwrap_or_default();
        Html(told.page(view, |html| beside(&told, html)))
    }

    /// The page that asks for the PIN, and says what was wrong with the last one.
    fn unlocking(&self, asking: &Asking, wrong: Option<&str>) -> Response {
        let picture = Arc::clone(&self.pictures.borrow());
        let no_pin = (!picture.has_pin).then_some(words::PAGE_NO_PIN);
        match asking.device(&picture) {
            Some(device) => {
                Html(asking::unlocking(device, SystemClock.now(), wrong.or(no_pin))).into_response()
            }
            None => StatusCode::UNAUTHORIZED.into_response(),
        }
    }
}

/// Lets a device through that is paired, and renews what it shows.
async fn only_paired(State(web): State<Web>, mut request: Request, next: Next) -> Response {
    let token = web.shown_token(request.headers()).map(str::to_owned);
    let known = token.as_ref().and_then(|token| {
        let digest = codes::digest(token);
        let picture = web.pictures.borrow();
        let device = picture.devices.iter().find(|device| device.token == digest)?;
        Some(Asking { name: device.name.clone(), token: digest })
    });
    let (Some(asking), Some(token)) = (known, token) else {
        let page = asking::pairing(None, words::page_device(browser(request.headers())), None);
        return (StatusCode::UNAUTHORIZED, Html(page)).into_response();
    };
    // Where the queue is full it is written down another time.
    let _ = web.jobs.try_send(Job::Here { device: asking.name.clone(), sound: None });
    request.extensions_mut().insert(asking);
    let mut answer = next.run(request).await;
    answer.headers_mut().extend(web.cookie(&token).map(|cookie| (header::SET_COOKIE, cookie)));
    answer
}

fn browser(headers: &HeaderMap) -> &str {
    headers.get(header::USER_AGENT).and_then(|value| value.to_str().ok()).unwrap_or_default()
}

/// Handed on by [`only_paired`].
pub type By = Extension<Asking>;

async fn floor(State(web): State<Web>, Extension(asking): By) -> Html<String> {
    web.page(&asking, &View::Floor)
}

async fn far(State(web): State<Web>, Extension(asking): By) -> Html<String> {
    web.page(&asking, &View::Far)
}

async fn shop(State(web): State<Web>, Extension(asking): By) -> Html<String> {
    web.page(&asking, &View::Shop)
}

async fn bench(State(web): State<Web>, Extension(asking): By) -> Html<String> {
    web.page(&asking, &View::Bench)
}

async fn kiln(
    State(web): State<Web>,
    Extension(asking): By,
    Path(name): Path<String>,
) -> Html<String> {
    web.page(&asking, &View::Kiln(name))
}

async fn form(
    State(web): State<Web>,
    Extension(asking): By,
    Query(looks): Query<Looks>,
) -> Html<String> {
    web.page(&asking, &looks.view())
}

/// What a stream is asked for.
#[derive(Debug, Deserialize)]
struct Looks {
    far: Option<String>,
    shop: Option<String>,
    bench: Option<String>,
    beside: Option<String>,
    plain: Option<String>,
    kiln: Option<String>,
    kind: Option<String>,
}

impl Looks {
    fn view(self) -> View {
        let kind = self.kind.and_then(|kind| sent::kind_named(&kind));
        let named = [
            (self.far, View::Far),
            (self.shop, View::Shop),
            (self.bench, View::Bench),
            (self.beside, View::Beside),
            (self.plain, View::Plain),
        ];
        match (self.kiln, kind) {
            (Some(name), Some(kind)) => View::Form(kind, name),
            (Some(name), None) => View::Kiln(name),
            (None, _) => {
                let mut named = named.into_iter().filter(|(asked, _)| asked.is_some());
                named.next().map_or(View::Floor, |(_, view)| view)
            }
        }
    }
}

async fn state(
    State(web): State<Web>,
    Extension(asking): By,
    Query(looks): Query<Looks>,
) -> impl IntoResponse {
    stream::stream(looks.view(), asking.token, web.pictures, web.stopped)
}

async fn state_once(
    State(web): State<Web>,
    Extension(asking): By,
    Query(looks): Query<Looks>,
) -> Response {
    let picture = Arc::clone(&web.pictures.borrow());
    let told = Told::of(&picture, &asking.token, SystemClock.now());
    let known = stream::known(&told);
    let mut state = stream::state(&told, &looks.view());
    state["now"] = known["now"].clone();
    state["ring"] = known["ring"].clone();
    as_json(&state)
}

async fn now() -> Response {
    as_json(&json!({"now": SystemClock.now().0}))
}

fn as_json(value: &serde_json::Value) -> Response {
    ([(header::CONTENT_TYPE, "application/json")], value.to_string()).into_response()
}

async fn scanned(headers: HeaderMap, Path(code): Path<String>) -> Html<String> {
    Html(asking::pairing(Some(&code), words::page_device(browser(&headers)), None))
}

async fn typed(headers: HeaderMap) -> Html<String> {
    Html(asking::pairing(None, words::page_device(browser(&headers)), None))
}

#[derive(Debug, Deserialize)]
struct Wanted {
    code: String,
    name: String,
}

async fn pair(State(web): State<Web>, Form(Wanted { code, name }): Form<Wanted>) -> Response {
    let refused = |status: StatusCode, code: Option<&str>, why: &str| {
        (status, Html(asking::pairing(code, &name, Some(why)))).into_response()
    };
    let Some(read) = codes::read(&code) else {
        return refused(StatusCode::BAD_REQUEST, None, words::PAGE_NO_CODE);
    };
    let asked = name.clone();
    match web.ask(|reply| Job::Pair { code: read, name: asked, reply }).await {
        Ok(Ok(token)) => {
            // The PIN is not to be met first when there is something to note.
            let next = if web.pictures.borrow().has_pin { "/who" } else { "/" };
            let mut answer = Redirect::to(next).into_response();
            answer.headers_mut().extend(web.cookie(&token).map(|it| (header::SET_COOKIE, it)));
            answer
        }
        Ok(Err(why)) if why == words::PAGE_NO_SUCH_CODE => refused(StatusCode::GONE, None, &why),
        Ok(Err(why)) => refused(StatusCode::CONFLICT, Some(&code), &why),
        Err(late) => late,
    }
}

#[derive(Debug, Deserialize)]
struct Answered {
    alarm: String,
    firing: i64,
    /// The same again is the same answer.
    uid: Option<String>,
}

async fn answer(
    State(web): State<Web>,
    Extension(asking): By,
    headers: HeaderMap,
    Form(said): Form<Answered>,
) -> Response {
    let Some(task) = Task::of_alarm(&said.alarm) else {
        return (StatusCode::BAD_REQUEST, words::PAGE_NOTHING_RINGS).into_response();
    };
    let key = Key { task, firing: FiringId(said.firing) };
    let uid = said.uid.map_or_else(Uid::fresh, |uid| Uid::of_content(&format!("page {uid}")));
    let device = asking.name;
    match web.ask(|reply| Job::Answer { device, key, uid, reply }).await {
        Ok(Ok(done)) if by_script(&headers) => as_json(&json!({"said": done})),
        Ok(Ok(_)) => Redirect::to("/").into_response(),
        Ok(Err(why)) => (StatusCode::CONFLICT, why).into_response(),
        Err(late) => late,
    }
}

fn by_script(headers: &HeaderMap) -> bool {
    let accepts = headers.get(header::ACCEPT).and_then(|value| value.to_str().ok());
    accepts.is_some_and(|accepts| accepts.starts_with("application/json"))
}

async fn note(
    State(web): State<Web>,
    Extension(asking): By,
    headers: HeaderMap,
    Form(fields): Form<Vec<(String, String)>>,
) -> Response {
    let Some(sent) = Sent::read(fields.clone()) else {
        let refused = Noted::Refused(words::PAGE_GARBLED.into());
        return told_of(&refused, &fields, &headers);
    };
    let device = asking.name;
    match web.ask(|reply| Job::Note { device, sent, reply }).await {
        Ok(noted) => told_of(&noted, &fields, &headers),
        Err(late) => late,
    }
}

/// What became of something noted, for a script or as a page.
fn told_of(noted: &Noted, sent: &[(String, String)], headers: &HeaderMap) -> Response {
    let (status, said) = match noted {
        Noted::Saved { id, said, is_strike } => {
            (StatusCode::OK, json!({"saved": id.0, "said": said, "undo": !is_strike}))
        }
        Noted::Asks { question, rev } => {
            (StatusCode::CONFLICT, json!({"asks": question, "rev": rev.0}))
        }
        Noted::Refused(why) => (StatusCode::UNPROCESSABLE_ENTITY, json!({"refused": why})),
        Noted::NoRight => (StatusCode::FORBIDDEN, json!({"refused": words::PAGE_PIN_SAYS})),
    };
    match by_script(headers) {
        true => (status, as_json(&said)).into_response(),
        false => {
            let page = asking::noted(noted, sent, &codes::token().unwrap_or_default());
            (status, Html(page)).into_response()
        }
    }
}

async fn who(State(web): State<Web>, Extension(asking): By) -> Response {
    web.unlocking(&asking, None)
}

#[derive(Debug, Deserialize)]
struct Chosen {
    pin: Option<String>,
    person: String,
}

async fn choose(
    State(web): State<Web>,
    Extension(asking): By,
    headers: HeaderMap,
    Form(Chosen { pin, person }): Form<Chosen>,
) -> Response {
    let device = asking.name.clone();
    match web.ask(|reply| Job::Person { device, pin, person, reply }).await {
        Ok(Ok(())) if by_script(&headers) => StatusCode::NO_CONTENT.into_response(),
        Ok(Ok(())) => Redirect::to("/").into_response(),
        Ok(Err(why)) => (StatusCode::FORBIDDEN, web.unlocking(&asking, Some(&why))).into_response(),
        Err(late) => late,
    }
}

#[derive(Debug, Deserialize)]
struct Armed {
    sound: String,
}

async fn armed(
    State(web): State<Web>,
    Extension(asking): By,
    Form(said): Form<Armed>,
) -> StatusCode {
    let sound = Some(said.sound == "on");
    web.tell(Job::Here { device: asking.name, sound })
}

#[derive(Debug, Deserialize)]
struct Sounding {
    alarm: String,
}

/// A device says that it sounds.
async fn rang(
    State(web): State<Web>,
    Extension(asking): By,
    Form(Sounding { alarm }): Form<Sounding>,
) -> StatusCode {
    web.tell(Job::Rang { device: asking.name, alarm })
}
