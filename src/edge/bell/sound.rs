//! Sounds of our own making, played by whatever player the system has.

use std::env;
use std::ffi::OsStr;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

use super::{Ring, Way, WayError, limited, tone};
use crate::alarm::{Priority, WayName};

/// Players by preference, with what comes before the file's name.
const PLAYERS: [(&str, &[&str]); 4] =
    [("pw-play", &[]), ("paplay", &[]), ("aplay", &["-q"]), ("afplay", &[])];
const REMEDY: &str = "install one of pw-play, paplay, aplay or afplay";
/// The longest burst is 3.3 s; a sound server that wakes up takes a little longer.
const LIMIT: Duration = Duration::from_secs(10);

#[derive(Debug)]
pub struct Sound {
    path: Vec<PathBuf>,
    /// The loudest a ring may be, 0 to 1.
    loudest: f64,
}

impl Sound {
    /// Looks for players where the system looks for programs.
    pub fn new(loudest: f64) -> Sound {
        let path = env::var_os("PATH").unwrap_or_default();
        Sound::with_path(&path, loudest)
    }

    /// Looks for players in these folders.
    pub fn with_path(path: &OsStr, loudest: f64) -> Sound {
        Sound { path: env::split_paths(path).collect(), loudest }
    }

    /// The players that are there, by preference.
    pub fn players(&self) -> Vec<(PathBuf, &'static [&'static str])> {
        PLAYERS
            .iter()
            .filter_map(|(name, arguments)| {
                let found = self.path.iter().map(|folder| folder.join(name)).find(|p| p.is_file());
                found.map(|path| (path, *arguments))
            })
            .collect()
    }

    /// Plays one burst with the first player that can.
    fn play(&self, priority: Priority, volume: f64) -> Result<String, WayError> {
        let players = self.players();
        let file = WavFile::write(&tone::wav(priority, volume * self.loudest))?;
        let mut last = WayError::Missing { what: "a sound player".into(), remedy: REMEDY.into() };
        let each = LIMIT / u32::try_from(players.len().max(1)).unwrap_or(1);
        for (player, arguments) in players {
            match play_with(&player, arguments, &file.0, each.max(Duration::from_secs(4))) {
                Ok(name) => return Ok(name),
                Err(error) => last = error,
            }
        }
        Err(last)
    }
}

fn play_with(
    player: &Path,
    arguments: &[&str],
    file: &Path,
    limit: Duration,
) -> Result<String, WayError> {
    let mut command = Command::new(player);
    command.args(arguments).arg(file);
    let ended = limited::run(command, Vec::new(), limit, REMEDY)?;
    let what = player.file_name().unwrap_or_default().to_string_lossy().into_owned();
    if ended.status.success() {
        return Ok(what);
    }
    let reason =
        if ended.complaint.is_empty() { ended.status.to_string() } else { ended.complaint };
    Err(WayError::Failed { what, reason })
}

impl Way for Sound {
    fn name(&self) -> WayName {
        WayName::Sound
    }

    fn limit(&self) -> Duration {
        // Each player in turn may use its share, and at least four seconds.
        LIMIT + Duration::from_secs(8)
    }

    fn ring(&mut self, ring: &Ring) -> Result<String, WayError> {
        self.play(ring.call.priority, ring.call.volume)
    }
}

/// A sound on the disk for as long as it is played.
struct WavFile(PathBuf);

impl WavFile {
    fn write(wav: &[u8]) -> Result<WavFile, WayError> {
        let failed = |error: std::io::Error| WayError::Failed {
            what: "writing the sound".into(),
            reason: error.to_string(),
        };
        let folder = env::temp_dir().join(format!("spyhole-sound-{}", std::process::id()));
        fs::create_dir_all(&folder).map_err(failed)?;
        let file = WavFile(folder.join("ring.wav"));
        fs::write(&file.0, wav).map_err(failed)?;
        Ok(file)
    }
}

impl Drop for WavFile {
    fn drop(&mut self) {
        // What is left in the folder for temporary files does no harm.
        let _ = fs::remove_file(&self.0);
        let _ = self.0.parent().map(fs::remove_dir);
    }
}
