//! What can be asked for, and by whom: everything but the pairing and what the pages are dressed in only by
//! a device that is paired.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use axum::Router;
use axum::body::Body;
use axum::extract::{DefaultBodyLimit, Form, FromRequest, Path, Request, State};
use axum::http::StatusCode;
use axum::http::header::{self, HeaderMap, HeaderValue};
use axum::middleware::{Next, from_fn_with_state};
use axum::response::{Html, IntoResponse, Redirect, Response};
use axum::routing::{MethodRouter, get, post};
use serde_json::json;
use tokio::sync::{Semaphore, oneshot, watch};

use super::clerk::{Jobs, Pictures, Serving, Unpaired};
use super::gate::{self, Gate};
use super::noting::Noted;
use super::sent::{Said, Sent};
use super::views::{Told, View};
use super::{asking, beside, codes, html, stream, ways};
use crate::alarm::{Key, Task};
use crate::edge::journal::Uid;
use crate::edge::journal::devices::Digest;
use crate::edge::picture::card;
use crate::edge::shop::clock::{SystemClock, Timekeeper};
use crate::firing::FiringId;
use crate::units::Moment;
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
    /// How many streams each device listens to.
    listening: Arc<Mutex<HashMap<String, usize>>>,
    /// Whoever reads what is not in the picture waits for the one before.
    pub reading: Arc<Semaphore>,
}

/// The device that asks.
#[derive(Debug, Clone)]
struct Asking {
    name: String,
    token: Digest,
}

/// What a device that is paired asks for.
#[derive(Debug)]
pub struct Asked {
    pub web: Web,
    /// The name of the device.
    pub device: String,
    token: Digest,
    /// Whether it is a script that asks.
    by_script: bool,
    pub said: Said,
}

impl FromRequest<Web> for Asked {
    type Rejection = Response;

    async fn from_request(request: Request, web: &Web) -> Result<Asked, Response> {
        let asking = request.extensions().get::<Asking>().cloned();
        let Asking { name: device, token } =
            asking.ok_or_else(|| StatusCode::UNAUTHORIZED.into_response())?;
        let accepts = request.headers().get(header::ACCEPT).and_then(|value| value.to_str().ok());
        let by_script = accepts.is_some_and(|accepts| accepts.starts_with("application/json"));
        let said = Form::from_request(request, web).await;
        let Form(said) = said.map_err(IntoResponse::into_response)?;
        Ok(Asked { web: web.clone(), device, token, by_script, said })
    }
}

/// Everything behind the gate of this port.
pub fn router(port: u16, pictures: Pictures, jobs: Jobs, stopped: watch::Receiver<bool>) -> Router {
    let (listening, reading) = (Arc::default(), Arc::new(Semaphore::new(1)));
    let web = Web { port, pictures, jobs, stopped, listening, reading };
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
    open("/P/{code}", || {
        get(async |headers: HeaderMap, Path(code): Path<String>| pairing(&headers, Some(&code)))
    }),
    open("/pair", || get(async |headers: HeaderMap| pairing(&headers, None)).post(pair)),
    open("/page.css", || get(|| dress("text/css", include_str!("page.css")))),
    open("/card.css", || get(|| async { dress("text/css", card::style()).await })),
    open("/page.js", || get(|| dress("text/javascript", include_str!("page.js")))),
    open("/old.js", || get(|| dress("text/javascript", include_str!("old.js")))),
    open("/w.js", || get(|| dress("text/javascript", include_str!("w.js")))),
    open("/icon.svg", || get(|| dress("image/svg+xml", include_str!("icon.svg")))),
    paired("/", || seen(|_| View::Floor)),
    paired("/far", || seen(|_| View::Far)),
    paired("/shop", || seen(|_| View::Shop)),
    paired("/bench", || seen(|_| View::Bench)),
    paired("/note", || seen(View::of).post(note)),
    paired("/kiln/{name}", || get(kiln)),
    paired("/state", || get(state)),
    paired("/state.json", || get(state_once)),
    paired("/now", || get(async || as_json(&json!({"now": SystemClock.now().0})))),
    paired("/answer", || post(answer)),
    paired("/armed", || post(armed)),
    paired("/rang", || post(rang)),
    paired("/past", || beside::shown(beside::past)),
    paired("/correct", || beside::shown(beside::correct)),
    paired("/plan", || beside::shown(beside::plan)),
    paired("/card", || beside::shown(beside::card)),
    paired("/review", || beside::shown(beside::review)),
    paired("/ledger", || beside::shown(beside::ledger)),
    paired("/ways", || beside::shown(beside::ways).post(ways::set)),
    paired("/who", || get(async |asked: Asked| asked.unlocking(None)).post(choose)),
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
    pub async fn ask<T: Send + 'static>(
        &self,
        does: impl FnOnce(&mut Serving, Moment) -> T + Send + 'static,
    ) -> Result<T, Response> {
        let (reply, heard) = oneshot::channel();
        // What nobody waits for any more is not done: it was told as not saved, and comes again. Otherwise
        // a slow disk would be kept busy with it while what is waited for comes too late as well.
        self.tell(move |clerk, now| {
            if !reply.is_closed() {
                let _ = reply.send(does(clerk, now));
            }
        });
        match tokio::time::timeout(WRITTEN_WITHIN, heard).await {
            Ok(Ok(done)) => Ok(done),
            _ => {
                let said = words::page_not_written(words::PAGE_FILE_SILENT);
                Err((StatusCode::SERVICE_UNAVAILABLE, said).into_response())
            }
        }
    }

    /// Has the clerk do something that nobody waits for.
    fn tell(&self, job: impl FnOnce(&mut Serving, Moment) + Send + 'static) -> StatusCode {
        let told = self.jobs.try_send(Box::new(job));
        told.map_or(StatusCode::SERVICE_UNAVAILABLE, |()| StatusCode::NO_CONTENT)
    }
}

impl Asked {
    /// A page of this view, with what stands beside it.
    pub fn page(&self, view: &View, beside: impl FnOnce(&Told<'_>, &mut html::Html)) -> Response {
        let picture = Arc::clone(&self.web.pictures.borrow());
        let mut told = Told::of(&picture, &self.token, SystemClock.now());
        // Without a mark nothing is noted: the script has its own.
        told.mark = codes::token().unwrap_or_default();
        Html(told.page(view, |html| beside(&told, html))).into_response()
    }

    fn view(&self, view: &View) -> Response {
        self.page(view, |told, html| {
            if let View::Form(kind, name) = view {
                told.form(html, *kind, name);
            }
        })
    }

    /// The page that asks for the PIN, and says what was wrong with the last one.
    fn unlocking(&self, wrong: Option<&str>) -> Response {
        let picture = Arc::clone(&self.web.pictures.borrow());
        let no_pin = (!picture.has_pin).then_some(words::PAGE_NO_PIN);
        match picture.device(&self.token) {
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
        let token = codes::digest(token);
        let name = web.pictures.borrow().device(&token)?.name.clone();
        Some(Asking { name, token })
    });
    let (Some(asking), Some(token)) = (known, token) else {
        let page = pairing(request.headers(), None);
        return (StatusCode::UNAUTHORIZED, page).into_response();
    };
    // Where the queue is full it is written down another time.
    let device = asking.name.clone();
    let door = gate::address(request.headers());
    web.tell(move |clerk, now| {
        clerk.here(device, None, now);
        clerk.came_by(door, false);
    });
    request.extensions_mut().insert(asking);
    let mut answer = next.run(request).await;
    answer.headers_mut().extend(web.cookie(&token).map(|cookie| (header::SET_COOKIE, cookie)));
    answer
}

/// A view, as it is asked for.
fn seen(view: fn(&Said) -> View) -> MethodRouter<Web> {
    get(async move |asked: Asked| asked.view(&view(&asked.said)))
}

async fn kiln(Path(name): Path<String>, asked: Asked) -> Response {
    asked.view(&View::Kiln(name))
}

async fn state(Asked { web, device, token, said, .. }: Asked) -> impl IntoResponse {
    let known = (web.pictures.clone(), web.stopped.clone());
    stream::stream(View::of(&said), token, known, Listening::of(web, device))
}

/// A device while it listens: one that does not any more would not be heard either.
struct Listening {
    web: Web,
    device: String,
}

impl Listening {
    fn of(web: Web, device: String) -> Listening {
        let listening = Listening { web, device };
        listening.count(|streams| streams + 1);
        listening
    }

    /// Streams of this device from now on.
    fn count(&self, becomes: fn(usize) -> usize) -> usize {
        let mut all = self.web.listening.lock().unwrap_or_else(PoisonError::into_inner);
        let streams = all.entry(self.device.clone()).or_default();
        *streams = becomes(*streams);
        *streams
    }
}

impl Drop for Listening {
    fn drop(&mut self) {
        if self.count(|streams| streams - 1) == 0 {
            let device = self.device.clone();
            self.web.tell(move |clerk, now| clerk.here(device, Some(false), now));
        }
    }
}

async fn state_once(asked: Asked) -> Response {
    let picture = Arc::clone(&asked.web.pictures.borrow());
    let told = Told::of(&picture, &asked.token, SystemClock.now());
    let known = stream::known(&told);
    let mut state = stream::state(&told, &View::of(&asked.said));
    state["now"] = known["now"].clone();
    state["ring"] = known["ring"].clone();
    as_json(&state)
}

fn as_json(value: &serde_json::Value) -> Response {
    ([(header::CONTENT_TYPE, "application/json")], value.to_string()).into_response()
}

/// Asks for a code, or shows the one in the address.
fn pairing(headers: &HeaderMap, code: Option<&str>) -> Html<String> {
    let browser = headers.get(header::USER_AGENT).and_then(|value| value.to_str().ok());
    Html(asking::pairing(code, (words::page_device(browser.unwrap_or_default()), false), None))
}

async fn pair(State(web): State<Web>, headers: HeaderMap, Form(said): Form<Said>) -> Response {
    let door = gate::address(&headers);
    let (code, name) = (said.text("code").to_owned(), said.text("name").to_owned());
    let refused = |status: StatusCode, code: Option<&str>, why: &str, taken: bool| {
        let page = asking::pairing(code, (said.text("name"), taken), Some(why));
        (status, Html(page)).into_response()
    };
    let Some(read) = codes::read(&code) else {
        return refused(StatusCode::BAD_REQUEST, None, words::PAGE_NO_CODE, false);
    };
    let again = said.of("again").is_some();
    let paired = move |clerk: &mut Serving, now| {
        clerk.pair(&read, (&name, again), now).inspect(|_| clerk.came_by(door, true))
    };
    match web.ask(paired).await {
        Ok(Ok(token)) => {
            // The PIN is not to be met first when there is something to note.
            let next = if web.pictures.borrow().has_pin { "/who" } else { "/" };
            let mut answer = Redirect::to(next).into_response();
            answer.headers_mut().extend(web.cookie(&token).map(|it| (header::SET_COOKIE, it)));
            answer
        }
        Ok(Err(Unpaired::NoSuchCode)) => {
            refused(StatusCode::GONE, None, words::PAGE_NO_SUCH_CODE, false)
        }
        Ok(Err(Unpaired::NameTaken(why))) => refused(StatusCode::CONFLICT, Some(&code), &why, true),
        Ok(Err(Unpaired::Otherwise(why))) => {
            refused(StatusCode::CONFLICT, Some(&code), &why, false)
        }
        Err(late) => late,
    }
}

async fn answer(Asked { web, device, by_script, said, .. }: Asked) -> Response {
    let (task, firing) = (Task::of_alarm(said.text("alarm")), said.number("firing"));
    let (Some(task), Some(firing)) = (task, firing) else {
        return (StatusCode::BAD_REQUEST, words::PAGE_NOTHING_RINGS).into_response();
    };
    let key = Key { task, firing: FiringId(firing) };
    // The same again is the same answer.
    let mark = said.of("uid").map(|uid| Uid::of_content(&format!("page {uid}")));
    let uid = mark.unwrap_or_else(Uid::fresh);
    match web.ask(move |clerk, now| clerk.answer(&device, key, uid, now)).await {
        Ok(Ok(done)) if by_script => as_json(&json!({"said": done})),
        Ok(Ok(_)) => Redirect::to("/").into_response(),
        Ok(Err(why)) => (StatusCode::CONFLICT, why).into_response(),
        Err(late) => late,
    }
}

async fn note(Asked { web, device, by_script, said, .. }: Asked) -> Response {
    let Some(sent) = Sent::read(said.clone()) else {
        return told_of(&Noted::Refused(words::PAGE_GARBLED.into()), &said, by_script);
    };
    match web.ask(move |clerk, now| clerk.note(&device, &sent, now)).await {
        Ok(noted) => told_of(&noted, &said, by_script),
        Err(late) => late,
    }
}

/// What became of something noted, for a script or as a page.
fn told_of(noted: &Noted, sent: &Said, by_script: bool) -> Response {
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
    let page = || Html(asking::noted(noted, sent, &codes::token().unwrap_or_default()));
    match by_script {
        true => (status, as_json(&said)).into_response(),
        false => (status, page()).into_response(),
    }
}

async fn choose(asked: Asked) -> Response {
    let (device, said) = (asked.device.clone(), asked.said.clone());
    let chosen = move |clerk: &mut Serving, now| clerk.choose(&device, &said, now);
    match asked.web.ask(chosen).await {
        Ok(Ok(())) if asked.by_script => StatusCode::NO_CONTENT.into_response(),
        Ok(Ok(())) => Redirect::to("/").into_response(),
        Ok(Err(why)) => (StatusCode::FORBIDDEN, asked.unlocking(Some(&why))).into_response(),
        Err(late) => late,
    }
}

async fn armed(Asked { web, device, said, .. }: Asked) -> StatusCode {
    web.tell(move |clerk, now| clerk.here(device, Some(said.of("sound") == Some("on")), now))
}

/// A device says that it sounds.
async fn rang(Asked { web, device, said, .. }: Asked) -> StatusCode {
    web.tell(move |clerk, now| clerk.rang(&device, said.text("alarm"), now))
}
