//! The headline, said aloud twice after the burst, by whatever speaks on this system.
//!
//! One program speaks through the sound system by itself; another one alone ends well where there is
//! no sound system at all, so it only makes a file, and the player is asked whether that was heard.

use std::path::Path;
use std::process::Command;
use std::time::Duration;

use super::sound::{self, Sound, TemporaryFile};
use super::{Ring, Way, WayError};
use crate::alarm::WayName;
use crate::words::alarms as words;

const REMEDY: &str = "install espeak-ng or speech-dispatcher";
/// Two headlines take some eight seconds.
const SPOKEN_WITHIN: Duration = Duration::from_secs(15);
const MADE_WITHIN: Duration = Duration::from_secs(5);
/// The burst, two programs that hang, and the players.
const LIMIT: Duration = Duration::from_secs(50);

#[derive(Debug)]
pub struct Speech {
    sound: Sound,
}

type Speaks = fn(&Speech, &Path, &str) -> Result<String, WayError>;

impl Speech {
    /// By the programs and players that the sound has.
    pub fn new(sound: Sound) -> Speech {
        Speech { sound }
    }

    /// Through the system's own voice.
    fn say(&self, program: &Path, text: &str) -> Result<String, WayError> {
        let mut command = Command::new(program);
        command.args(["-f", "-"]);
        sound::run(command, text.into(), SPOKEN_WITHIN, REMEDY)
    }

    /// Through the service that speaks, which says when it has spoken.
    fn ask_service(&self, program: &Path, text: &str) -> Result<String, WayError> {
        let mut command = Command::new(program);
        command.args(["-w", "--", text]);
        sound::run(command, Vec::new(), SPOKEN_WITHIN, REMEDY)
    }

    /// Into a file, and by a player.
    fn make_and_play(&self, program: &Path, text: &str) -> Result<String, WayError> {
        let file = TemporaryFile::new()?;
        let mut command = Command::new(program);
        command.arg("-w").arg(&file.0).arg("--stdin");
        let made = sound::run(command, text.into(), MADE_WITHIN, REMEDY)?;
        Ok(format!("{made} by {}", self.sound.play(&file.0)?))
    }
}

/// What speaks, by preference.
const SPEAKERS: [(&str, Speaks); 3] =
    [("say", Speech::say), ("spd-say", Speech::ask_service), ("espeak-ng", Speech::make_and_play)];

impl Way for Speech {
    fn name(&self) -> WayName {
        WayName::Speech
    }

    fn limit(&self) -> Duration {
        LIMIT
    }

    fn ring(&mut self, ring: &Ring) -> Result<String, WayError> {
        let text = words::spoken(&ring.headline);
        let speakers = self.sound.there(&SPEAKERS);
        let mut last =
            WayError::Missing { what: "a program that speaks".into(), remedy: REMEDY.into() };
        if !speakers.is_empty() {
            // The words are what counts.
            let _ = self.sound.burst(ring);
        }
        for (program, speaks) in speakers {
            match speaks(self, &program, &text) {
                Ok(by) => return Ok(by),
                Err(error) => last = error,
            }
        }
        Err(last)
    }
}
