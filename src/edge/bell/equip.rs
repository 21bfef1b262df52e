//! The bell of one shop: its settings, and the ways this machine and the settings offer.

use std::io::{self, IsTerminal};
use std::path::Path;
use std::sync::mpsc::{self, Receiver};
use std::time::Duration;

use super::command::OwnCommand;
use super::desktop::Desktop;
use super::email::Email;
use super::mqtt::Mqtt;
use super::page::OnPage;
use super::settings::BellSettings;
use super::sound::Sound;
use super::speech::Speech;
use super::terminal::Terminal;
use super::webhook::Webhook;
use super::{Bell, Press, Way};
use crate::alarm::WayName;
use crate::edge::settings_file::SettingsError;
use crate::units::Scale;

/// How long a message to another computer may take in all: shorter than the shortest repeat.
const SENT_WITHIN: Duration = Duration::from_secs(30);
/// The same for the broker of the shop, which is near.
const PUBLISHED_WITHIN: Duration = Duration::from_secs(10);
/// How long a device of the page has to say that it sounds (a guess).
const RANG_WITHIN: Duration = Duration::from_secs(5);

/// A bell, what is pressed on its notifications, and the settings it was made after.
#[derive(Debug)]
pub struct Equipment {
    pub bell: Bell,
    pub presses: Receiver<Press>,
    pub settings: BellSettings,
}

/// The bell of this shop with this terminal.
///
/// # Errors
/// When the settings cannot be used.
pub fn equip(shop: &Path, scale: Scale, terminal: Terminal) -> Result<Equipment, SettingsError> {
    Ok(equip_with(BellSettings::read(shop)?, shop, scale, terminal))
}

/// The bell of this shop after these settings.
pub fn equip_with(
    settings: BellSettings,
    shop: &Path,
    scale: Scale,
    terminal: Terminal,
) -> Equipment {
    let (tell, presses) = mpsc::channel();
    let mut shared: Vec<Box<dyn Way>> = vec![
        Box::new(terminal),
        Box::new(Desktop::new(tell)),
        Box::new(Sound::new(settings.loudest.unwrap_or(1.0))),
        Box::new(Speech::new(Sound::new(settings.loudest.unwrap_or(1.0)))),
    ];
    if let Some(mqtt) = &settings.mqtt {
        shared.push(Box::new(Mqtt::new(mqtt.clone(), shop, PUBLISHED_WITHIN)));
    }
    if settings.rota.people.iter().any(|person| person.ways.contains(&WayName::Page)) {
        shared.push(Box::new(OnPage::new(shop.to_owned(), RANG_WITHIN)));
    }
    let of_one = || {
        let command = settings.command.clone().map(|it| boxed(OwnCommand::new(it)));
        let webhook = settings.webhook.clone().map(|it| boxed(Webhook::new(it, SENT_WITHIN)));
        let email = settings.email.clone().map(|it| boxed(Email::new(it, SENT_WITHIN)));
        [command, webhook, email].into_iter().flatten()
    };
    let mut ways: Vec<(String, Box<dyn Way>)> =
        shared.into_iter().map(|way| (String::new(), way)).collect();
    // A way that calls nobody of the rota can still be tried.
    let people = settings.rota.people.iter().map(|person| person.name.clone());
    for person in people.chain([String::new()]) {
        ways.extend(of_one().map(|way| (person.clone(), way)));
    }
    Equipment { bell: Bell::new(ways, scale), presses, settings }
}

fn boxed(way: impl Way + 'static) -> Box<dyn Way> {
    Box::new(way)
}

/// The terminal of a process without a screen: its error output, if that is one.
pub fn plain_terminal() -> Terminal {
    let error = io::stderr();
    let out = error.is_terminal().then(|| Box::new(error) as Box<dyn io::Write + Send>);
    Terminal::new(out, None)
}
