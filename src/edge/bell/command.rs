//! The shop's own command: for e-mail, a lamp, a relay on a siren.
//!
//! It gets the alarm as one JSON object on its standard input and in environment variables
//! (`SPYHOLE_HEADLINE`, `SPYHOLE_BODY`, `SPYHOLE_ALARM`, `SPYHOLE_KILN`, `SPYHOLE_PRIORITY`,
//! `SPYHOLE_PERSON`, `SPYHOLE_REACH`, `SPYHOLE_RING`, `SPYHOLE_LATE_MINUTES`). Ending with 0 means
//! delivered; anything else, or taking too long, means failed.

use std::process::Command;
use std::time::Duration;

use super::outgoing::Outgoing;
use super::settings::CommandSettings;
use super::{Ring, Way, WayError, limited};
use crate::alarm::WayName;

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
        let outgoing = Outgoing::of(ring);
        command.args(&self.settings.arguments).envs(outgoing.variables());
        let input = format!("{}\n", outgoing.json()).into_bytes();
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
        Err(WayError::failed(what, format!("{ending}: {said}")))
    }
}
