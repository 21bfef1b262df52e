//! A request to a web address of the shop's choice, with the ring as JSON or as plain text.
//!
//! An answer of 200 to 299 means that it was taken, not that anybody has seen it. It is tried again 1,
//! 4 and 15 s after a try that failed and may do better, under one and the same `Idempotency-Key`, so
//! that whoever counts can tell. Nothing leads it to another address than the one that was set.

use std::thread;
use std::time::{Duration, Instant};

use serde::{Deserialize, Serialize};
use ureq::http::header::{AUTHORIZATION, CONTENT_TYPE, HeaderName, HeaderValue};
use ureq::http::{StatusCode, Uri};
use ureq::{Agent, Error};

use super::outgoing::Outgoing;
use super::peer::{self, Peer};
use super::{Ring, Way, WayError};
use crate::alarm::WayName;
use crate::closed::Word;
use crate::edge::journal::Uid;

/// What stands in a header for the secret.
const SECRET: &str = "{secret}";
/// The pauses before it is tried again, in thirtieths of the limit.
const PAUSES: [u32; 3] = [1, 4, 15];
/// A single try has this part of the limit.
const TRY: u32 = 6;

closed! {
    /// What is sent.
    pub enum Body {
        Json => "json",
        Text => "text",
    }
}

/// Where a request goes, and what it says of itself.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct WebhookSettings {
    pub url: String,
    /// [`Body`] by its name; `json` if it is not said.
    pub body: String,
    /// `Title: Kilns`; `{secret}` stands for the secret.
    pub headers: Vec<String>,
    pub secret_file: String,
}

impl WebhookSettings {
    /// Whether it can be used.
    ///
    /// # Errors
    /// Why not.
    pub fn check(&self) -> Result<(), String> {
        // What is wrong is not repeated: a secret may stand in it all the same.
        let (scheme, peer) = self.place().ok_or(
            "\"url\" cannot be used: write an address like https://example.org/kilns, without a user in it",
        )?;
        if scheme == "http" && !peer.is_near() {
            return Err(format!(
                "\"url\" is http, and {} is not in the shop's network: use https, or everybody on the way can read along",
                peer.host
            ));
        }
        if !self.body.is_empty() && Body::named(&self.body).is_none() {
            return Err(format!("\"body\" is \"{}\": use json or text", self.body));
        }
        for line in &self.headers {
            let (name, _) = header(line, "").ok_or(
                "one of \"headers\" cannot be used: write a name, a colon and a value in plain letters",
            )?;
            if name == AUTHORIZATION && !line.contains(SECRET) {
                return Err(format!(
                    "\"headers\" has a secret in {name}: keep it in a file of its own, name that as \"secret_file\", and write {SECRET} here"
                ));
            }
        }
        let wants = self.headers.iter().find(|line| line.contains(SECRET));
        peer::check_login(wants.map_or("", |line| line), &self.secret_file)
    }

    /// The scheme of the address, and the computer it leads to.
    fn place(&self) -> Option<(String, Peer)> {
        let uri: Uri = self.url.parse().ok()?;
        let scheme = uri.scheme_str().filter(|scheme| ["http", "https"].contains(scheme))?;
        let plain = uri.authority().filter(|authority| !authority.as_str().contains('@'))?;
        Some((scheme.to_owned(), Peer::named(plain.as_str(), "url").ok()?))
    }

    /// The computer it leads to; the rest of the address may be nobody else's business.
    pub fn host(&self) -> String {
        self.place().map_or_else(|| self.url.clone(), |(_, peer)| peer.host)
    }
}

/// A header as it is sent.
fn header(line: &str, secret: &str) -> Option<(HeaderName, HeaderValue)> {
    let (name, value) = line.split_once(':')?;
    let name = HeaderName::try_from(name.trim()).ok()?;
    let mut value = HeaderValue::try_from(value.trim().replace(SECRET, secret)).ok()?;
    value.set_sensitive(!secret.is_empty());
    Some((name, value))
}

#[derive(Debug)]
pub struct Webhook {
    settings: WebhookSettings,
    limit: Duration,
    agent: Agent,
}

/// Why a try was none, and whether another one may do better.
struct Refused {
    reason: String,
    again: bool,
}

impl Webhook {
    pub fn new(settings: WebhookSettings, limit: Duration) -> Webhook {
        let config = Agent::config_builder()
            .max_redirects(0)
            .http_status_as_error(false)
            .proxy(None)
            // Every ring finds its own way: one that was found before may be gone.
            .max_idle_connections(0)
            .build();
        Webhook { settings, limit, agent: config.into() }
    }

    fn post(
        &self,
        headers: &[(HeaderName, HeaderValue)],
        body: &str,
        within: Duration,
    ) -> Result<u16, Refused> {
        let mut request = self.agent.post(&self.settings.url);
        for (name, value) in headers {
            request = request.header(name, value);
        }
        let answer = request.config().timeout_global(Some(within)).build().send(body);
        match answer.map(|answer| answer.status()) {
            Ok(status) if status.is_success() => Ok(status.as_u16()),
            Ok(status) => Err(Refused {
                reason: format!("it answers {status}"),
                again: status.is_server_error()
                    || [StatusCode::REQUEST_TIMEOUT, StatusCode::TOO_MANY_REQUESTS]
                        .contains(&status),
            }),
            Err(Error::Timeout(_)) => {
                Err(Refused { reason: "it did not answer in time".into(), again: true })
            }
            Err(error) => Err(Refused { reason: error.to_string(), again: true }),
        }
    }

    fn headers(&self, kind: &str) -> Result<Vec<(HeaderName, HeaderValue)>, WayError> {
        let secret = peer::secret(&self.settings.secret_file)?;
        let key = format!("Idempotency-Key: {:x}", Uid::fresh().number());
        let own = [format!("{CONTENT_TYPE}: {kind}"), key];
        let shops = self.settings.headers.iter().cloned();
        Ok(own.into_iter().chain(shops).filter_map(|line| header(&line, &secret)).collect())
    }
}

impl Way for Webhook {
    fn name(&self) -> WayName {
        WayName::Webhook
    }

    fn limit(&self) -> Duration {
        // Its own limit, and time to say so.
        self.limit + Duration::from_secs(1)
    }

    fn ring(&mut self, ring: &Ring) -> Result<String, WayError> {
        let begun = Instant::now();
        let (kind, body) = match Body::named(&self.settings.body).unwrap_or(Body::Json) {
            Body::Json => ("application/json", Outgoing::of(ring).json()),
            Body::Text => {
                ("text/plain; charset=utf-8", format!("{}\n{}", ring.headline, ring.body))
            }
        };
        let headers = self.headers(kind)?;
        let what = self.settings.host();
        let mut pauses = PAUSES.iter().map(|pause| self.limit * *pause / 30);
        loop {
            let left = self.limit.saturating_sub(begun.elapsed());
            let refused = match self.post(&headers, &body, left.min(self.limit / TRY)) {
                Ok(status) => {
                    let plain = self.settings.url.starts_with("http:");
                    let how = if plain {
                        ", by http: who listens in the network can read it"
                    } else {
                        ""
                    };
                    return Ok(format!("{what} took it ({status}){how}"));
                }
                Err(refused) => refused,
            };
            let left = self.limit.saturating_sub(begun.elapsed());
            match pauses.next().filter(|pause| refused.again && *pause < left) {
                Some(pause) => thread::sleep(pause),
                None => return Err(WayError::failed(what, refused.reason)),
            }
        }
    }
}
