//! The door of another computer's page: what is asked there, and what this computer shows for it, kept for its
//! owner alone.

use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::time::Duration;

use anyhow::{Context as _, bail};
use ureq::http::StatusCode;
use ureq::http::header::{COOKIE, ORIGIN, SET_COOKIE};
use ureq::{Agent, Body};

use super::known::State;
use crate::edge::bell::peer::Peer;
use crate::edge::plain_file;
use crate::edge::whole_file::{self, own};
use crate::words;

/// How long an answer may take in all.
const ANSWERED_WITHIN: Duration = Duration::from_secs(5);
/// A longer answer is none, bytes (a guess).
const LONGEST: u64 = 1 << 20;

/// Something that was typed and cannot be used.
#[derive(Debug, thiserror::Error)]
#[error("{0}")]
pub struct Unfit(pub String);

/// What came of asking.
#[derive(Debug)]
pub enum Heard {
    State(Box<State>),
    NotPaired,
}

/// The page at one address, and what is shown there.
#[derive(Debug)]
pub struct Door {
    /// `http://192.168.1.5:8766`
    base: String,
    agent: Agent,
    file: PathBuf,
    cookie: String,
}

impl Door {
    /// The door at this address; what is shown there lies in the `data` folder.
    ///
    /// # Errors
    /// [`Unfit`] for an address that is none of the shop's own network.
    pub fn at(address: &str, data: &Path) -> anyhow::Result<Door> {
        let unfit = || Unfit(words::elsewhere_no_address(address));
        let place = address.strip_prefix("http://").ok_or_else(unfit)?.trim_end_matches('/');
        let peer = Peer::named(place, "--shop").map_err(|_| unfit())?;
        let port = peer.port.filter(|_| peer.is_near()).ok_or_else(unfit)?;
        let name = format!("{}_{port}.device", peer.host.replace(':', "-"));
        let file = data.join("devices").join(name);
        let config = Agent::config_builder()
            .max_redirects(0)
            .http_status_as_error(false)
            .proxy(None)
            .timeout_global(Some(ANSWERED_WITHIN))
            .build();
        let mut cookie = String::new();
        if file.exists() {
            let opened = plain_file::open(&file, own().read(true));
            opened
                .and_then(|file| file.take(LONGEST).read_to_string(&mut cookie))
                .with_context(|| format!("cannot read {}", file.display()))?;
        }
        Ok(Door { base: format!("http://{place}"), agent: config.into(), file, cookie })
    }

    /// Hears what is to be seen there.
    ///
    /// # Errors
    /// When no answer comes, or none that can be understood.
    pub fn ask(&self) -> anyhow::Result<Heard> {
        let url = format!("{}/state.json?plain=1", self.base);
        let answer = self.agent.get(&url).header(COOKIE, &self.cookie).call();
        let mut answer = answer.with_context(|| words::elsewhere_silent(&self.base))?;
        match answer.status() {
            StatusCode::OK => {
                let state = serde_json::from_str(&text(answer.body_mut())?);
                Ok(Heard::State(state.with_context(|| words::elsewhere_other(&self.base))?))
            }
            StatusCode::UNAUTHORIZED => Ok(Heard::NotPaired),
            _ => bail!(words::elsewhere_other(&self.base)),
        }
    }

    /// Pairs this computer by the code that is shown there, and keeps what it has to show from then on.
    ///
    /// # Errors
    /// A code that is none, a name that another device has, no answer, or a folder that cannot be written.
    pub fn pair(&mut self, code: &str, name: &str) -> anyhow::Result<()> {
        let request = self.agent.post(format!("{}/pair", self.base)).header(ORIGIN, &self.base);
        let answer = request.send_form([("code", code), ("name", name)]);
        let answer = answer.with_context(|| words::elsewhere_silent(&self.base))?;
        let cookie = answer.headers().get(SET_COOKIE).and_then(|value| value.to_str().ok());
        let cookie = cookie.and_then(|cookie| cookie.split(';').next());
        let why = match (answer.status(), cookie) {
            (StatusCode::SEE_OTHER, Some(cookie)) => {
                cookie.clone_into(&mut self.cookie);
                let kept = self.file.parent().map_or(Ok(()), fs::create_dir_all);
                return kept
                    .and_then(|()| whole_file::write(&self.file, cookie.as_bytes()))
                    .with_context(|| format!("cannot write {}", self.file.display()));
            }
            (StatusCode::CONFLICT, _) if name.is_empty() => words::PAGE_NAME_MISSING.into(),
            (StatusCode::CONFLICT, _) => words::elsewhere_name_taken(name),
            (StatusCode::BAD_REQUEST, _) => words::PAGE_NO_CODE.into(),
            (StatusCode::GONE, _) => words::PAGE_NO_SUCH_CODE.into(),
            _ => words::elsewhere_other(&self.base),
        };
        Err(Unfit(why).into())
    }
}

fn text(body: &mut Body) -> anyhow::Result<String> {
    Ok(body.with_config().limit(LONGEST).read_to_string()?)
}
