//! The shop's own command: for e-mail, a lamp, a relay on a siren.
//!
//! It gets the alarm as one JSON object on its standard input and in environment variables
//! (`SPYHOLE_HEADLINE`, `SPYHOLE_BODY`, `SPYHOLE_ALARM`, `SPYHOLE_KILN`, `SPYHOLE_PRIORITY`,
//! `SPYHOLE_PERSON`, `SPYHOLE_REACH`, `SPYHOLE_RING`, `SPYHOLE_LATE_MINUTES`). Ending with 0 means
//! delivered; anything else, or taking too long, means failed.

use std::process::Command;
use std::time::Duration;

use serde_json::{Value, json};

use super::settings::CommandSettings;
use super::{Ring, Way, WayError, limited};
use crate::alarm::WayName;
use crate::units::Scale;
use crate::words::alarms::response;

/// What to do about a command that is not there.
const REMEDY: &str = "correct \"program\" in the bell settings, or install it";

#[derive(Debug)]
pub struct OwnCommand {
    settings: CommandSettings,
}

impl OwnCommand {
    pub fn new(settings: CommandSettings) -> Self {
        OwnCommand { settings }
    }
}

impl Way for OwnCommand {
    fn name(&self) -> WayName {
        WayName::Command
    }

    fn limit(&self) -> Duration {
        // The program's own limit, and time to kill it.
        self.settings.time_limit() + Duration::from_secs(1)
    }

    fn ring(&mut self, ring: &Ring) -> Result<String, WayError> {
        let mut command = Command::new(&self.settings.program);
        command.args(&self.settings.arguments).envs(variables(ring));
        let input = format!("{}\n", object(ring)).into_bytes();
        let ended = limited::run(command, input, self.settings.time_limit(), REMEDY)?;
        let what = self.settings.program.clone();
        if ended.status.success() {
            return Ok(what);
        }
        let ending = match ended.status.code() {
            Some(code) => format!("ended with {code}"),
            None => "was killed".to_owned(),
        };
        let said = if ended.complaint.is_empty() { "and said nothing" } else { &ended.complaint };
        Err(WayError::Failed { what, reason: format!("{ending}: {said}") })
    }
}

/// The alarm as the command gets it.
pub fn object(ring: &Ring) -> Value {
    let alarms = ring.call.alarms.iter().map(|alarm| {
        json!({
            "alarm": alarm.key.task.name(),
            "kiln": alarm.kiln,
            "firing": alarm.key.firing.0,
            "priority": alarm.key.task.priority().name(),
            "since_ms": alarm.since.0,
            "raised_ms": alarm.raised.0,
            "response": response(alarm, Scale::Celsius),
        })
    });
    json!({
        "headline": ring.headline,
        "body": ring.body,
        "priority": ring.call.priority.name(),
        "ring": ring.call.count,
        "volume": ring.call.volume,
        "late_minutes": ring.late_minutes(),
        "person": ring.target.person,
        "reach": ring.target.reach,
        "at_ms": ring.call.at.0,
        "alarms": alarms.collect::<Vec<_>>(),
    })
}

fn variables(ring: &Ring) -> Vec<(&'static str, String)> {
    let list = |of: fn(&crate::alarm::Alarm) -> String| {
        ring.call.alarms.iter().map(of).collect::<Vec<_>>().join(",")
    };
    vec![
        ("SPYHOLE_HEADLINE", ring.headline.clone()),
        ("SPYHOLE_BODY", ring.body.clone()),
        ("SPYHOLE_ALARM", list(|alarm| alarm.key.task.name().to_owned())),
        ("SPYHOLE_KILN", list(|alarm| alarm.kiln.clone())),
        ("SPYHOLE_PRIORITY", ring.call.priority.name().to_owned()),
        ("SPYHOLE_PERSON", ring.target.person.clone()),
        ("SPYHOLE_REACH", ring.target.reach.clone()),
        ("SPYHOLE_RING", ring.call.count.to_string()),
        ("SPYHOLE_LATE_MINUTES", ring.late_minutes().unwrap_or(0).to_string()),
    ]
    .into_iter()
    // A NUL cannot be in an environment variable; a kiln's name may hold anything.
    .map(|(name, value)| (name, value.replace('\0', " ")))
    .collect()
}
