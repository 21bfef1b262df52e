//! What goes out with a ring, the same by every way that hands it on to a program or another computer.

use serde::Serialize;

use super::Ring;
use crate::alarm;
use crate::units::Scale;
use crate::words::alarms::response;

/// One ring, as programs get it.
#[derive(Debug, Serialize)]
pub struct Outgoing<'a> {
    pub headline: &'a str,
    pub body: &'a str,
    pub priority: &'static str,
    pub ring: u32,
    pub volume: f64,
    pub late_minutes: Option<i64>,
    pub person: &'a str,
    pub reach: &'a str,
    pub at_ms: i64,
    pub alarms: Vec<OutgoingAlarm<'a>>,
}

/// One of the alarms it is for.
#[derive(Debug, Serialize)]
pub struct OutgoingAlarm<'a> {
    pub alarm: &'static str,
    pub kiln: &'a str,
    pub firing: i64,
    pub priority: &'static str,
    pub since_ms: i64,
    pub raised_ms: i64,
    pub response: String,
}

impl<'a> Outgoing<'a> {
    pub fn of(ring: &'a Ring) -> Outgoing<'a> {
        Outgoing {
            headline: &ring.headline,
            body: &ring.body,
            priority: ring.call.priority.name(),
            ring: ring.call.count,
            volume: ring.call.volume,
            late_minutes: ring.call.late.map(|late| late.as_minutes().round() as i64),
            person: &ring.target.person,
            reach: &ring.target.reach,
            at_ms: ring.call.at.0,
            alarms: ring.call.alarms.iter().map(OutgoingAlarm::of).collect(),
        }
    }

    /// As one JSON object.
    pub fn json(&self) -> String {
        // Texts and numbers alone: nothing that JSON could not hold.
        serde_json::to_string(self).unwrap_or_default()
    }

    /// As environment variables.
    pub fn variables(&self) -> Vec<(&'static str, String)> {
        let list = |of: fn(&OutgoingAlarm<'a>) -> &'a str| {
            self.alarms.iter().map(of).collect::<Vec<_>>().join(",")
        };
        vec![
            ("SPYHOLE_HEADLINE", self.headline.to_owned()),
            ("SPYHOLE_BODY", self.body.to_owned()),
            ("SPYHOLE_ALARM", list(|alarm| alarm.alarm)),
            ("SPYHOLE_KILN", list(|alarm| alarm.kiln)),
            ("SPYHOLE_PRIORITY", self.priority.to_owned()),
            ("SPYHOLE_PERSON", self.person.to_owned()),
            ("SPYHOLE_REACH", self.reach.to_owned()),
            ("SPYHOLE_RING", self.ring.to_string()),
            ("SPYHOLE_LATE_MINUTES", self.late_minutes.unwrap_or(0).to_string()),
        ]
        .into_iter()
        // A NUL cannot be in an environment variable; a kiln's name may hold anything.
        .map(|(name, value)| (name, value.replace('\0', " ")))
        .collect()
    }
}

impl OutgoingAlarm<'_> {
    fn of(alarm: &alarm::Alarm) -> OutgoingAlarm<'_> {
        OutgoingAlarm {
            alarm: alarm.key.task.name(),
            kiln: &alarm.kiln,
            firing: alarm.key.firing.0,
            priority: alarm.key.task.priority().name(),
            since_ms: alarm.since.0,
            raised_ms: alarm.raised.0,
            response: response(alarm, Scale::Celsius),
        }
    }
}
