//! An e-mail to whoever is called, the whole message in its subject.
//!
//! Handed to the mail server is all that can be known: whether and when it is read, nobody says.
//! Nothing goes out unencrypted unless the server is this computer itself, or the shop says so.

use std::fmt;
use std::io;
use std::time::Duration;

use lettre::message::header::{ContentType, HeaderName, HeaderValue};
use lettre::message::{Mailbox, Message};
use lettre::transport::smtp::Error;
use lettre::transport::smtp::authentication::Credentials;
use lettre::transport::smtp::client::{Tls, TlsParameters};
use lettre::{SmtpTransport, Transport};
use serde::{Deserialize, Serialize};

use super::limited::Loose;
use super::peer::{self, Peer};
use super::{Ring, Way, WayError};
use crate::alarm::WayName;
use crate::closed::Word;

closed! {
    /// How what goes to the mail server is kept from others.
    pub enum Security {
        /// Encrypted from the first byte on.
        Tls => "tls",
        /// Encrypted before anything of worth is said.
        Starttls => "starttls",
        /// Not at all.
        None => "none",
    }
}

impl Security {
    /// The usual port.
    fn port(self) -> u16 {
        match self {
            Security::Tls => 465,
            Security::Starttls => 587,
            Security::None => 25,
        }
    }
}

/// The mail server, and who writes.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct EmailSettings {
    pub server: String,
    pub from: String,
    pub user: String,
    pub secret_file: String,
    /// [`Security`] by its name; what serves best if it is not said.
    pub security: String,
}

impl EmailSettings {
    /// Whether it can be used.
    ///
    /// # Errors
    /// Why not.
    pub fn check(&self) -> Result<(), String> {
        Peer::named(&self.server, "\"server\"")?;
        if mailbox(&self.from).is_none() {
            return Err(format!(
                "\"from\" is \"{}\": write an e-mail address like kilns@example.org",
                self.from
            ));
        }
        if !self.security.is_empty() && Security::named(&self.security).is_none() {
            return Err(format!(
                "\"security\" is \"{}\": use tls, starttls or none",
                self.security
            ));
        }
        peer::check_login(&self.user, &self.secret_file)
    }

    /// Where to knock, in this order.
    fn doors(&self, peer: &Peer) -> Vec<(Security, u16)> {
        let kinds = match (Security::named(&self.security), peer.port) {
            (Some(said), _) => vec![said],
            (None, Some(465)) => vec![Security::Tls],
            (None, _) if peer.is_here() => vec![Security::None],
            (None, Some(_)) => vec![Security::Starttls],
            (None, None) => vec![Security::Tls, Security::Starttls],
        };
        kinds.into_iter().map(|kind| (kind, peer.port.unwrap_or(kind.port()))).collect()
    }
}

/// An address that can be written to.
pub fn mailbox(text: &str) -> Option<Mailbox> {
    text.parse().ok()
}

#[derive(Debug)]
pub struct Email {
    settings: EmailSettings,
    limit: Duration,
    loose: Loose,
}

impl Email {
    pub fn new(settings: EmailSettings, limit: Duration) -> Email {
        Email { settings, limit, loose: Loose::default() }
    }

    fn message(&self, ring: &Ring) -> Result<Message, WayError> {
        let failed = |reason: &dyn fmt::Display| WayError::failed("writing the e-mail", reason);
        let nobody = || failed(&"nobody who is called by e-mail has an address");
        let to = mailbox(&ring.target.reach).ok_or_else(nobody)?;
        let from = mailbox(&self.settings.from).ok_or_else(nobody)?;
        // So that no holiday notice answers it (RFC 3834).
        let automatic = HeaderName::new_from_ascii_str("Auto-Submitted");
        Message::builder()
            .from(from)
            .to(to)
            .subject(format!("{}. {}", ring.headline, ring.body.replace('\n', "; ")))
            .message_id(None)
            .raw_header(HeaderValue::new(automatic, "auto-generated".into()))
            .header(ContentType::TEXT_PLAIN)
            .body(format!("{}\n\n{}\n", ring.headline, ring.body))
            .map_err(|error| failed(&error))
    }
}

/// Hands a message over at the first door that opens.
fn hand_over(
    message: &Message,
    peer: &Peer,
    doors: &[(Security, u16)],
    credentials: Option<&Credentials>,
    patience: Duration,
) -> Result<Security, Error> {
    let (security, port) = doors[0];
    let tls = match security {
        Security::None => Ok(Tls::None),
        Security::Tls => TlsParameters::new(peer.host.clone()).map(Tls::Wrapper),
        Security::Starttls => TlsParameters::new(peer.host.clone()).map(Tls::Required),
    };
    let sent = tls.and_then(|tls| {
        let mut server = SmtpTransport::builder_dangerous(&peer.host)
            .port(port)
            .tls(tls)
            .timeout(Some(patience));
        if let Some(credentials) = credentials {
            server = server.credentials(credentials.clone());
        }
        server.build().send(message)
    });
    match sent {
        Ok(_) => Ok(security),
        // What the server itself refuses, it refuses at the other door as well.
        Err(error) if error.status().is_none() && doors.len() > 1 => {
            hand_over(message, peer, &doors[1..], credentials, patience)
        }
        Err(error) => Err(error),
    }
}

/// Why it was not handed over. A limit that is over is told as what it is.
fn reason(error: &Error) -> String {
    let io = std::error::Error::source(error).and_then(|source| source.downcast_ref::<io::Error>());
    match io.map(io::Error::kind) {
        Some(io::ErrorKind::WouldBlock | io::ErrorKind::TimedOut) => {
            "it did not answer in time".into()
        }
        _ => error.to_string(),
    }
}

impl Way for Email {
    fn name(&self) -> WayName {
        WayName::Email
    }

    fn limit(&self) -> Duration {
        // Its own limit, and time to say so.
        self.limit + Duration::from_secs(1)
    }

    fn ring(&mut self, ring: &Ring) -> Result<String, WayError> {
        let settings = &self.settings;
        let what = settings.server.clone();
        let failed = |reason: String| WayError::failed(&what, reason);
        let peer = Peer::named(&settings.server, "\"server\"").map_err(failed)?;
        let secret = peer::secret(&settings.secret_file)?;
        let message = self.message(ring)?;
        let credentials =
            (!secret.is_empty()).then(|| Credentials::new(settings.user.clone(), secret));
        let (doors, patience) = (settings.doors(&peer), self.limit / 3);
        let is_here = peer.is_here();
        let sent = self.loose.run(&what, self.limit, move || {
            hand_over(&message, &peer, &doors, credentials.as_ref(), patience)
        })?;
        match sent {
            Ok(Security::None) if !is_here => {
                Ok(format!("handed to the mail server {what}, unencrypted"))
            }
            Ok(_) => Ok(format!("handed to the mail server {what}")),
            Err(error) => Err(failed(reason(&error))),
        }
    }
}
