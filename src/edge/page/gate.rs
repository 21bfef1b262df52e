//! What is turned away before anything else is asked of a request.
//!
//! A foreign web site may make a browser of the shop send requests here. It gives itself away by the name it
//! calls this computer by (a name that only leads here), and by where a request that changes something comes
//! from.

use std::collections::BTreeSet;
use std::net::IpAddr;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use axum::body::Body;
use axum::extract::{Request, State};
use axum::http::header::{self, HeaderMap, HeaderName, HeaderValue};
use axum::http::{Method, StatusCode, Version};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use super::address;
use crate::words;

/// How long an answer may take to begin.
const ANSWERED_WITHIN: Duration = Duration::from_secs(15);
/// How long the list of own addresses holds.
const ADDRESSES_HOLD: Duration = Duration::from_secs(10);

/// What every answer says of itself.
const HEADERS: [(HeaderName, &str); 6] = [
    (
        header::CONTENT_SECURITY_POLICY,
        "default-src 'none'; script-src 'self'; worker-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; media-src 'self' data:; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
    ),
    (header::X_FRAME_OPTIONS, "DENY"),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    // With a stricter one the page's own forms would be sent as from nowhere.
    (header::REFERRER_POLICY, "same-origin"),
    (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
    (header::CACHE_CONTROL, "no-store"),
];

/// Said where a browser goes by it: over plain http that is at this computer only, and anywhere else it says
/// of each page that it does not.
const OPENER: HeaderName = HeaderName::from_static("cross-origin-opener-policy");
const AT_THE_COMPUTER: [&str; 3] = ["localhost:", "127.0.0.1:", "[::1]:"];

/// The names this computer is called by.
#[derive(Debug, Clone)]
pub struct Gate {
    port: u16,
    own: Arc<Mutex<(Option<Instant>, BTreeSet<String>)>>,
}

impl Gate {
    pub fn of(port: u16) -> Gate {
        Gate { port, own: Arc::default() }
    }

    /// Whether a request may call this computer so.
    fn is_own(&self, host: &str) -> bool {
        let (name, port) = match host.rsplit_once(':') {
            Some((name, port)) if !port.ends_with(']') => (name, port.parse().ok()),
            _ => (host, Some(80)),
        };
        port == Some(self.port) && self.names().contains(&name.to_ascii_lowercase())
    }

    fn names(&self) -> BTreeSet<String> {
        let mut own = self.own.lock().unwrap_or_else(PoisonError::into_inner);
        if own.0.is_none_or(|at| at.elapsed() > ADDRESSES_HOLD) {
            let addresses = address::all().into_iter().map(|one| match one.ip {
                IpAddr::V4(v4) => v4.to_string(),
                IpAddr::V6(v6) => format!("[{v6}]"),
            });
            let named = address::host_name();
            let named = named.into_iter().flat_map(|name| [format!("{name}.local"), name]);
            let names = addresses.chain(named).chain(["localhost".to_owned()]).collect();
            *own = (Some(Instant::now()), names);
        }
        own.1.clone()
    }

    /// What is wrong with a request, if it is to be turned away.
    fn refuses(&self, request: &Request) -> Option<(StatusCode, &'static str)> {
        let misdirected = Some((StatusCode::MISDIRECTED_REQUEST, words::PAGE_NOT_HERE));
        let host = only(request.headers(), header::HOST);
        let whole = request.version() == Version::HTTP_11 && request.uri().authority().is_none();
        let Some(host) = host.filter(|host| whole && self.is_own(host)) else { return misdirected };
        if matches!(*request.method(), Method::GET | Method::HEAD) {
            return None;
        }
        let from_here = format!("http://{host}");
        let origin = only(request.headers(), header::ORIGIN);
        (origin != Some(&from_here)).then_some((StatusCode::FORBIDDEN, words::PAGE_FROM_ELSEWHERE))
    }
}

/// The value of a header that is there once and is plain text.
fn only(headers: &HeaderMap, name: HeaderName) -> Option<&str> {
    let mut values = headers.get_all(name).iter();
    let first = values.next()?;
    if values.next().is_some() { None } else { first.to_str().ok() }
}

/// The address of this computer by which a device comes; `None` where it comes by a name or is this computer.
pub fn address(headers: &HeaderMap) -> Option<IpAddr> {
    let (name, _) = only(headers, header::HOST)?.rsplit_once(':')?;
    let address: IpAddr = name.trim_matches(['[', ']']).parse().ok()?;
    (!address.is_loopback()).then_some(address)
}

/// Lets a request through or turns it away, and puts its headers on every answer.
pub async fn keep(State(gate): State<Gate>, request: Request, next: Next) -> Response {
    let host = only(request.headers(), header::HOST).unwrap_or_default();
    let is_here = AT_THE_COMPUTER.iter().any(|name| host.starts_with(name));
    let answer =
        match gate.refuses(&request) {
            Some(refused) => refused.into_response(),
            None => tokio::time::timeout(ANSWERED_WITHIN, next.run(request)).await.unwrap_or_else(
                |_| (StatusCode::REQUEST_TIMEOUT, words::PAGE_TOO_SLOW).into_response(),
            ),
        };
    with_headers(answer, is_here)
}

fn with_headers(mut answer: Response<Body>, is_here: bool) -> Response<Body> {
    let opener = is_here.then_some((OPENER, "same-origin"));
    for (name, value) in HEADERS.into_iter().chain(opener) {
        answer.headers_mut().insert(name, HeaderValue::from_static(value));
    }
    answer
}
