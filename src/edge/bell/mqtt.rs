//! Messages for other programs of the shop, by a broker: a lamp, a siren, a panel on the wall.
//!
//! `spyhole/SHOP/watch` says `here` as long as somebody keeps watch and `gone` otherwise; the broker
//! itself says `gone` when the computer dies, since that was left with it as a will. Every alarm that
//! rings stays at `spyhole/SHOP/alarm/ID` until it is answered. Nothing is read from the broker.
//!
//! Whoever keeps watch on one computer calls itself the same at the broker, which therefore lets go of the
//! one before: so the `gone` of the old never comes after the `here` of the new. Two computers that both
//! keep watch have each a name of their own, and do not push each other off; `here` is said again and again,
//! so that the `gone` of one does not stay while the other watches.

use std::collections::BTreeSet;
use std::fmt;
use std::fs;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, sync_channel};
use std::thread;
use std::time::{Duration, Instant};

use rumqttc::{Client, Connection, Event, LastWill, MqttOptions, Packet, QoS};
use serde::{Deserialize, Serialize};

use super::outgoing::Outgoing;
use super::peer::{self, Peer};
use super::{Ring, Way, WayError};
use crate::alarm::{Key, WayName};
use crate::edge::journal::Uid;

/// Where a broker usually listens without encryption (registered with IANA).
const PORT: u16 = 1883;
/// The broker takes us for dead after one and a half of these.
const KEEP_ALIVE: Duration = Duration::from_secs(10);
/// The pause before a broker that was lost is looked for again.
const RETRY: Duration = Duration::from_secs(3);
/// So many messages, and answers to them, may wait.
const WAITING: usize = 256;
/// The largest message, bytes: some hundred alarms at once.
const LARGEST: usize = 1 << 18;

/// The broker of the shop.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct MqttSettings {
    pub broker: String,
    pub user: String,
    pub secret_file: String,
}

impl MqttSettings {
    /// Whether it can be used.
    ///
    /// # Errors
    /// Why not.
    pub fn check(&self) -> Result<(), String> {
        let peer = Peer::named(&self.broker, "\"broker\"")?;
        if !peer.is_near() {
            return Err(format!(
                "\"broker\" is {}, which is not in the shop's network: it is spoken to unencrypted, and everybody on the way could read along",
                peer.host
            ));
        }
        peer::check_login(&self.user, &self.secret_file)
    }
}

#[derive(Debug)]
pub struct Mqtt {
    settings: MqttSettings,
    /// What every topic begins with.
    topic: String,
    limit: Duration,
    /// While this process keeps watch.
    held: Option<Link>,
    /// Answered, and the broker may not know yet.
    answered: BTreeSet<Key>,
}

/// A connection, and what the broker answers: taken, or why not.
struct Link {
    client: Client,
    answers: Receiver<Result<(), String>>,
    ends: Arc<AtomicBool>,
    watch: Option<String>,
}

impl fmt::Debug for Link {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Link").field("watch", &self.watch).finish_non_exhaustive()
    }
}

/// A message that stays at its topic, an empty one clears it.
type Retained = (String, String);

impl Mqtt {
    pub fn new(settings: MqttSettings, shop: &Path, limit: Duration) -> Mqtt {
        let name = shop.file_stem().unwrap_or_default().to_string_lossy();
        // A part of a topic has none of the signs that parts are made of.
        let name: String =
            name.chars().map(|c| if c.is_alphanumeric() || c == '_' { c } else { '-' }).collect();
        let topic = format!("spyhole/{name}");
        Mqtt { settings, topic, limit, held: None, answered: BTreeSet::new() }
    }

    /// A connection to the broker, that of the watch or one for a single ring.
    fn link(&self, watches: bool) -> Result<Link, WayError> {
        let what = &self.settings.broker;
        let peer = Peer::named(what, "\"broker\"").map_err(|why| WayError::failed(what, why))?;
        let secret = peer::secret(&self.settings.secret_file)?;
        let own = format!("{}-{:x}", self.topic.replace('/', "-"), computer());
        let name = if watches { own } else { format!("{own}-{}", std::process::id()) };
        let mut options = MqttOptions::new(name, peer.host, peer.port.unwrap_or(PORT));
        options.set_keep_alive(KEEP_ALIVE).set_max_packet_size(LARGEST, LARGEST);
        if !secret.is_empty() {
            options.set_credentials(&self.settings.user, secret);
        }
        let watch = watches.then(|| format!("{}/watch", self.topic));
        if let Some(topic) = &watch {
            options.set_last_will(LastWill::new(topic, "gone", QoS::AtLeastOnce, true));
        }
        let (client, connection) = Client::new(options, WAITING);
        let (tell, answers) = sync_channel(WAITING);
        let ends = Arc::new(AtomicBool::new(false));
        let link = Link { client: client.clone(), answers, ends: Arc::clone(&ends), watch };
        let topic = link.watch.clone();
        thread::Builder::new()
            .spawn(move || follow(connection, &client, topic, &ends, &tell))
            .map_err(|error| WayError::failed(what, error))?;
        Ok(link)
    }

    /// Has the broker take these; a connection on which it does not is made anew.
    fn publish(&mut self, messages: &[Retained]) -> Result<(), WayError> {
        let what = self.settings.broker.clone();
        let passing;
        let link = match &self.held {
            Some(link) => link,
            None => {
                passing = self.link(false)?;
                &passing
            }
        };
        let published = link.publish(messages, self.limit);
        if published.is_err() && self.held.is_some() {
            self.held = None;
            self.held = Some(self.link(true)?);
        }
        published.map_err(|reason| match reason {
            Some(reason) => WayError::failed(what, reason),
            None => WayError::TimedOut { what, seconds: self.limit.as_secs() },
        })
    }

    fn topic_of(&self, key: Key) -> String {
        format!("{}/alarm/{}-{}", self.topic, key.firing.0, key.task.name())
    }
}

impl Link {
    /// Why not, or nothing where no answer came.
    fn publish(&self, messages: &[Retained], limit: Duration) -> Result<(), Option<String>> {
        let until = Instant::now() + limit;
        // What was answered before belongs to what was given up.
        self.answers.try_iter().for_each(drop);
        for (topic, text) in messages {
            let sent = self.client.try_publish(topic, QoS::AtLeastOnce, true, text.as_bytes());
            sent.map_err(|_| Some("too many messages wait for it".to_owned()))?;
        }
        for _ in messages {
            let left = until.saturating_duration_since(Instant::now());
            match self.answers.recv_timeout(left) {
                Ok(answer) => answer.map_err(Some)?,
                Err(RecvTimeoutError::Timeout) => return Err(None),
                Err(RecvTimeoutError::Disconnected) => {
                    return Err(Some("its connection has ended".into()));
                }
            }
        }
        Ok(())
    }
}

impl Drop for Link {
    /// Ends without a farewell: a will is only opened for who did not say goodbye.
    fn drop(&mut self) {
        self.ends.store(true, Ordering::Relaxed);
        // Either wakes the thread; one that has no connection wakes by itself.
        let _ = match &self.watch {
            Some(topic) => self.client.try_publish(topic, QoS::AtMostOnce, true, "gone"),
            None => self.client.try_disconnect(),
        };
    }
}

/// A number that no other computer with the same shop has.
fn computer() -> i64 {
    // Copies of one system may have the first in common, and two that were set up alike the second.
    let number = fs::read_to_string("/etc/machine-id").unwrap_or_default();
    let name = rustix::system::uname().nodename().to_string_lossy().into_owned();
    Uid::of_content(&format!("computer {number} {name}")).number()
}

/// Follows a connection until it is to end, and says again that the watch is kept whenever it is made
/// anew, and every now and then.
fn follow(
    mut connection: Connection,
    client: &Client,
    watch: Option<String>,
    ends: &AtomicBool,
    tell: &SyncSender<Result<(), String>>,
) {
    while !ends.load(Ordering::Relaxed) {
        let answer = match connection.recv() {
            Ok(Ok(Event::Incoming(Packet::ConnAck(_) | Packet::PingResp))) => {
                if let Some(topic) = &watch {
                    // With a full queue it is said at the next connection.
                    let _ = client.try_publish(topic, QoS::AtMostOnce, true, "here");
                }
                continue;
            }
            Ok(Ok(Event::Incoming(Packet::PubAck(_)))) => Ok(()),
            Ok(Ok(_)) => continue,
            Ok(Err(error)) => Err(error.to_string()),
            Err(_) => return,
        };
        let lost = answer.is_err();
        // Nobody waits for it where there is no room.
        let _ = tell.try_send(answer);
        if lost {
            thread::sleep(RETRY);
        }
    }
}

impl Way for Mqtt {
    fn name(&self) -> WayName {
        WayName::Mqtt
    }

    fn limit(&self) -> Duration {
        // Its own limit, and time to say so.
        self.limit + Duration::from_secs(1)
    }

    fn ring(&mut self, ring: &Ring) -> Result<String, WayError> {
        let text = Outgoing::of(ring).json();
        let alarms = ring.call.alarms.iter().map(|alarm| (self.topic_of(alarm.key), text.clone()));
        let mut messages: Vec<Retained> = alarms.collect();
        if messages.is_empty() {
            // A test leaves nothing behind.
            let test = format!("{}/test", self.topic);
            messages = vec![(test.clone(), text), (test, String::new())];
        }
        for alarm in &ring.call.alarms {
            self.answered.remove(&alarm.key);
        }
        messages.extend(self.answered.iter().map(|key| (self.topic_of(*key), String::new())));
        self.publish(&messages)?;
        self.answered.clear();
        Ok(format!("the broker {} took it", self.settings.broker))
    }

    fn settle(&mut self, key: Key) {
        self.answered.insert(key);
        // Of a broker that is gone for weeks.
        if self.answered.len() > WAITING / 2 {
            self.answered.pop_first();
        }
        let messages: Vec<Retained> =
            self.answered.iter().map(|key| (self.topic_of(*key), String::new())).collect();
        if self.publish(&messages).is_ok() {
            self.answered.clear();
        }
    }

    fn hold(&mut self, watches: bool) {
        // A secret that cannot be read is told of when it rings.
        self.held = if watches { self.link(true).ok() } else { None };
    }
}
