//! Sounds of our own making, played by whatever player the system has.

use std::env;
use std::ffi::OsStr;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

use super::{Ring, Way, WayError, limited, tone};
use crate::alarm::WayName;
use crate::edge::journal::Uid;

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

    /// The programs of a table that are there.
    pub fn there<T: Copy>(&self, programs: &[(&str, T)]) -> Vec<(PathBuf, T)> {
        let find =
            |name: &str| self.path.iter().map(|folder| folder.join(name)).find(|p| p.is_file());
        programs.iter().filter_map(|(name, how)| Some((find(name)?, *how))).collect()
    }

    /// Plays one burst.
    pub fn burst(&self, ring: &Ring) -> Result<String, WayError> {
        let wav = tone::wav(ring.call.priority, ring.call.volume * self.loudest);
        let file = TemporaryFile::new()?;
        fs::write(&file.0, wav).map_err(not_written)?;
        self.play(&file.0)
    }

    /// Plays a file with the first player that can.
    pub fn play(&self, file: &Path) -> Result<String, WayError> {
        let players = self.there(&PLAYERS);
        let mut last = WayError::Missing { what: "a sound player".into(), remedy: REMEDY.into() };
        let each = LIMIT / u32::try_from(players.len().max(1)).unwrap_or(1);
        for (player, arguments) in players {
            let mut command = Command::new(&player);
            command.args(arguments).arg(file);
            match run(command, Vec::new(), each.max(Duration::from_secs(4)), REMEDY) {
                Ok(name) => return Ok(name),
                Err(error) => last = error,
            }
        }
        Err(last)
    }
}

/// Runs a player or a speaker, which has done its work if it ends well, and says which it was.
pub fn run(
    command: Command,
    input: Vec<u8>,
    limit: Duration,
    remedy: &str,
) -> Result<String, WayError> {
    let program = PathBuf::from(command.get_program());
    let ended = limited::run(command, input, limit, remedy)?;
    let what = program.file_name().unwrap_or_default().to_string_lossy().into_owned();
    if ended.status.success() {
        return Ok(what);
    }
    let reason =
        if ended.complaint.is_empty() { ended.status.to_string() } else { ended.complaint };
    Err(WayError::failed(what, reason))
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
        self.burst(ring)
    }
}

/// A sound on the disk for as long as it is played.
#[derive(Debug)]
pub struct TemporaryFile(pub PathBuf);

impl TemporaryFile {
    /// The place for it, in a folder of its own.
    pub fn new() -> Result<TemporaryFile, WayError> {
        let folder = env::temp_dir().join(format!("spyhole-sound-{:x}", Uid::fresh().number()));
        fs::create_dir_all(&folder).map_err(not_written)?;
        Ok(TemporaryFile(folder.join("ring.wav")))
    }
}

fn not_written(error: std::io::Error) -> WayError {
    WayError::failed("writing the sound", error)
}

impl Drop for TemporaryFile {
    fn drop(&mut self) {
        // What is left in the folder for temporary files does no harm.
        let _ = fs::remove_file(&self.0);
        let _ = self.0.parent().map(fs::remove_dir);
    }
}
