//! The bell's settings: one small JSON file beside the shop's file, `SHOP.bell.json`.
//!
//! It lies beside the shop, not in a folder of settings, because it belongs to the shop: whoever
//! opens the shop from another machine or another login calls the same people. Without the file
//! whoever is near is called by everything this machine has. A key that is not known is an error
//! that names the nearest one: a misspelt name must not leave somebody uncalled.
//!
//! ```json
//! {
//!   "people": [
//!     {"name": "Ada", "ways": ["sound", "desktop", "terminal"], "on_duty": {"from": "6:00", "to": "18:00"}},
//!     {"name": "Ben", "ways": ["email", "command"], "reach": "ben@example.org"}
//!   ],
//!   "muted": {"from": "22:00", "to": "7:00"},
//!   "command": {"program": "/usr/local/bin/call-somebody", "arguments": [], "time_limit_s": 10},
//!   "webhook": {"url": "https://example.org/kilns", "headers": ["Authorization: Bearer {secret}"], "secret_file": "/home/ada/hook.secret"},
//!   "email": {"server": "mail.example.org", "from": "kilns@example.org", "user": "kilns", "secret_file": "/home/ada/mail.secret"},
//!   "mqtt": {"broker": "192.168.1.5"},
//!   "loudest": 1.0,
//!   "out_of_service": [{"kiln": "North", "alarm": "probe_trouble", "why": "the probe is at the maker's"}]
//! }
//! ```

use std::collections::BTreeSet;
use std::io;
use std::path::{Path, PathBuf};
use std::time::Duration;

use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use super::email::{EmailSettings, mailbox};
use super::mqtt::MqttSettings;
use super::webhook::WebhookSettings;
use crate::alarm::{Hours, MinuteOfDay, Person, Rota, Task, WayName};
use crate::closed::Word;
use crate::edge::nearest::did_you_mean;
use crate::edge::settings_file::{SettingsError, SettingsFile};
use crate::firing::fields::{Field, Of};
use crate::text::marked;
use crate::words::{self, asks};

/// The longest the shop's own command may take, seconds: shorter than the shortest repeat.
pub const LONGEST_COMMAND_S: u64 = 30;
/// How long it may take where nobody says otherwise, seconds.
pub const USUAL_COMMAND_S: u64 = 10;

const FILE: SettingsFile = SettingsFile("bell");

/// What the file says.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BellSettings {
    pub rota: Rota,
    pub command: Option<CommandSettings>,
    pub webhook: Option<WebhookSettings>,
    pub email: Option<EmailSettings>,
    pub mqtt: Option<MqttSettings>,
    /// The loudest the program's own sounds may be, 0 to 1.
    pub loudest: Option<f64>,
    pub out_of_service: Vec<(String, Task)>,
}

/// The shop's own command.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CommandSettings {
    #[serde(default)]
    pub program: String,
    #[serde(default)]
    pub arguments: Vec<String>,
    #[serde(default = "usual_command_s")]
    pub time_limit_s: u64,
}

fn usual_command_s() -> u64 {
    USUAL_COMMAND_S
}

/// The file as it is written, to be read, changed and written again.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BellFile {
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub people: Vec<PersonKeys>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub muted: Option<HoursKeys>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub command: Option<CommandSettings>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub webhook: Option<WebhookSettings>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub email: Option<EmailSettings>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mqtt: Option<MqttSettings>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub loudest: Option<f64>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub out_of_service: Vec<OutKeys>,
}

/// Somebody who is called.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PersonKeys {
    pub name: String,
    pub ways: Vec<String>,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub reach: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on_duty: Option<HoursKeys>,
}

/// A part of the day.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HoursKeys {
    pub from: String,
    pub to: String,
}

/// An alarm of one kiln that is out of service, and why.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OutKeys {
    pub kiln: String,
    pub alarm: String,
    pub why: String,
}

impl CommandSettings {
    pub fn time_limit(&self) -> Duration {
        Duration::from_secs(self.time_limit_s)
    }

    fn check(&self) -> Result<(), String> {
        if self.program.trim().is_empty() {
            return Err("\"command\" has an empty \"program\": name the program to run".into());
        }
        if !(1..=LONGEST_COMMAND_S).contains(&self.time_limit_s) {
            return Err(format!(
                "\"time_limit_s\" is {}, outside 1 to {LONGEST_COMMAND_S}: a slower command would hold up the next ring",
                self.time_limit_s
            ));
        }
        Ok(())
    }
}

impl BellSettings {
    /// Where the settings of this shop are.
    pub fn path(shop: &Path) -> PathBuf {
        FILE.path(shop)
    }

    /// The settings of this shop; without a file, the usual ones.
    ///
    /// # Errors
    /// [`SettingsError`] with line and column where the text is at fault.
    pub fn read(shop: &Path) -> Result<BellSettings, SettingsError> {
        BellFile::read(shop)?.meant().map_err(|problem| FILE.unusable(shop, problem))
    }

    /// The same; where they cannot be used, the usual ones and what to say of that. A misspelt name
    /// must not leave a shop unwatched.
    pub fn read_or_usual(shop: &Path) -> (BellSettings, Option<String>) {
        match BellSettings::read(shop) {
            Ok(settings) => (settings, None),
            Err(error) => {
                let said = format!("{error}; until it is put right whoever is near is called");
                (BellSettings::default(), Some(said))
            }
        }
    }
}

impl BellFile {
    /// The file of this shop; without one, an empty one.
    ///
    /// # Errors
    /// [`SettingsError`] where it cannot be read as what it is.
    pub fn read(shop: &Path) -> Result<BellFile, SettingsError> {
        FILE.read(shop)
    }

    /// The program, or the other computer, of a way that has to be set up, if it is.
    pub fn leads_to(&self, way: WayName) -> Option<String> {
        match way {
            WayName::Command => self.command.as_ref().map(|command| command.program.clone()),
            WayName::Webhook => self.webhook.as_ref().map(WebhookSettings::host),
            WayName::Email => self.email.as_ref().map(|email| email.server.clone()),
            WayName::Mqtt => self.mqtt.as_ref().map(|mqtt| mqtt.broker.clone()),
            _ => None,
        }
    }

    /// What a way is set up by: each field of its form, with the lines it says.
    pub fn set_up(&self, way: WayName) -> Vec<(&'static Field, Vec<String>)> {
        let set = serde_json::to_value(self).unwrap_or_default();
        let text = |value: &Value| value.as_str().map_or_else(|| value.to_string(), str::to_owned);
        let said = |asks: &'static Field| match &set[way.name()][asks.key] {
            Value::Array(lines) => (asks, lines.iter().map(text).collect()),
            Value::Null => (asks, Vec::new()),
            value => (asks, vec![text(value)]),
        };
        asks::of_way(way).iter().map(said).collect()
    }

    /// The same with a way set up by these lines; without its first field it is not set up.
    ///
    /// # Errors
    /// What is wrong with one of them.
    pub fn with(
        &self,
        way: WayName,
        lines: impl Fn(&str) -> Vec<String>,
    ) -> Result<BellFile, String> {
        let fields = asks::of_way(way);
        let mut said = Map::new();
        for asks in fields {
            let lines = lines(asks.key);
            let value = match (asks.of, lines.first()) {
                (_, None) => continue,
                (Of::Texts, _) => lines.into(),
                (Of::Count, Some(text)) => {
                    let number = text.trim_end_matches([' ', 's']).parse::<u64>();
                    number.map_err(|_| words::not_a_number(text))?.into()
                }
                (_, Some(text)) => text.as_str().into(),
            };
            said.insert(asks.key.to_owned(), value);
        }
        let is_set = fields.first().is_some_and(|first| said.contains_key(first.key));
        let mut file = serde_json::to_value(self).map_err(|error| error.to_string())?;
        file[way.name()] = if is_set { Value::Object(said) } else { Value::Null };
        serde_json::from_value(file).map_err(|error| error.to_string())
    }

    /// The same, if it can be used.
    ///
    /// # Errors
    /// [`SettingsError`].
    pub fn checked(self, shop: &Path) -> Result<BellFile, SettingsError> {
        match self.meant() {
            Ok(_) => Ok(self),
            Err(problem) => Err(FILE.unusable(shop, problem)),
        }
    }

    /// What it means.
    ///
    /// # Errors
    /// Why it cannot be used.
    pub fn meant(&self) -> Result<BellSettings, String> {
        meant(self.clone()).map_err(marked)
    }

    /// Writes the file of this shop, whole or not at all.
    ///
    /// # Errors
    /// Whatever kept it from being written.
    pub fn write(&self, shop: &Path) -> io::Result<()> {
        FILE.write(shop, self)
    }
}

fn meant(mut keys: BellFile) -> Result<BellSettings, String> {
    let people: Vec<Person> =
        std::mem::take(&mut keys.people).into_iter().map(person).collect::<Result<_, _>>()?;
    let mut names = BTreeSet::new();
    if let Some(twice) = people.iter().find(|person| !names.insert(person.name.clone())) {
        return Err(format!("\"people\" has {} twice: keep one", twice.name));
    }
    for (way, fields) in &asks::OF_WAYS {
        let mut called = people.iter().filter(|person| person.ways.contains(way));
        if let Some(person) = called.next().filter(|_| keys.leads_to(*way).is_none()) {
            return Err(format!(
                "{} is to be called by {way}, but no \"{way}\" is set up: add it with its \"{}\"",
                person.name, fields[0].key
            ));
        }
    }
    let by_email = |person: &&Person| person.ways.contains(&WayName::Email);
    let unwritable = people.iter().filter(by_email).find(|one| mailbox(&one.reach).is_none());
    if let Some(person) = unwritable {
        return Err(format!(
            "{} is to be called by e-mail, and \"reach\" is \"{}\": write an address like ben@example.org",
            person.name, person.reach
        ));
    }
    keys.command.as_ref().map_or(Ok(()), CommandSettings::check)?;
    keys.webhook.as_ref().map_or(Ok(()), WebhookSettings::check)?;
    keys.email.as_ref().map_or(Ok(()), EmailSettings::check)?;
    keys.mqtt.as_ref().map_or(Ok(()), MqttSettings::check)?;
    if let Some(loudest) = keys.loudest.filter(|loudest| !(0.0..=1.0).contains(loudest)) {
        return Err(format!("\"loudest\" is {loudest}, outside 0 to 1"));
    }
    let muted = keys.muted.take().map(hours).transpose()?;
    let mut rota = Rota { muted, ..Rota::default() };
    if !people.is_empty() {
        rota.people = people;
    } else {
        // An e-mail needs somebody to write to.
        let set =
            asks::OF_WAYS.iter().map(|(way, _)| *way).filter(|way| keys.leads_to(*way).is_some());
        rota.people[0].ways.extend(set.filter(|way| *way != WayName::Email));
    }
    let out_of_service =
        keys.out_of_service.into_iter().map(out_of_service).collect::<Result<_, _>>()?;
    let BellFile { command, webhook, email, mqtt, loudest, .. } = keys;
    Ok(BellSettings { rota, command, webhook, email, mqtt, loudest, out_of_service })
}

fn person(keys: PersonKeys) -> Result<Person, String> {
    if keys.name.trim().is_empty() {
        return Err("one of \"people\" has an empty \"name\": say who it is".into());
    }
    if keys.ways.is_empty() {
        return Err(format!("{} has no \"ways\": name at least one of {}", keys.name, ways()));
    }
    let way = |name: &String| {
        WayName::named(name).ok_or_else(|| {
            let hint = did_you_mean(name, WayName::ALL.map(WayName::name));
            format!("{} has the way \"{name}\", but there are {}{hint}", keys.name, ways())
        })
    };
    Ok(Person {
        ways: keys.ways.iter().map(way).collect::<Result<_, _>>()?,
        hours: keys.on_duty.map(hours).transpose()?,
        name: marked(keys.name),
        reach: keys.reach,
    })
}

fn ways() -> String {
    WayName::ALL.map(WayName::name).join(", ")
}

fn hours(keys: HoursKeys) -> Result<Hours, String> {
    let hours = Hours { from: minute(&keys.from)?, to: minute(&keys.to)? };
    if hours.from == hours.to {
        return Err(format!(
            "\"from\" and \"to\" are both {}, which may be no time at all or the whole day: for always, leave the hours out",
            keys.from
        ));
    }
    Ok(hours)
}

fn minute(text: &str) -> Result<MinuteOfDay, String> {
    let parts = text.trim().split_once(':');
    parts
        .filter(|(_, minute)| minute.len() == 2)
        .and_then(|(hour, minute)| MinuteOfDay::new(hour.parse().ok()?, minute.parse().ok()?))
        .ok_or_else(|| format!("\"{text}\" is no time of day: write it like 6:00 or 22:30"))
}

fn out_of_service(keys: OutKeys) -> Result<(String, Task), String> {
    let known = || crate::alarm::rules::RULES.iter().map(|rule| rule.task.name());
    let task = Task::of_alarm(&keys.alarm).ok_or_else(|| {
        let hint = did_you_mean(&keys.alarm, known());
        format!("there is no alarm \"{}\" to take out of service{hint}", keys.alarm)
    })?;
    if task.priority().longest_shelf().is_none() {
        return Err(format!(
            "{} has the highest priority and stays in service: take it off \"out_of_service\"",
            task.name()
        ));
    }
    if keys.why.trim().is_empty() {
        return Err(format!("{} is out of service, but \"why\" is empty: say why", task.name()));
    }
    Ok((keys.kiln, task))
}
