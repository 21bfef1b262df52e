//! Running another program under a time limit, whatever it does: hang, fail, print without end.

use std::io::{Read, Write};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::mpsc;
use std::thread;
use std::time::{Duration, Instant};

use super::WayError;

/// So much of what a program prints is kept; the rest is read and thrown away.
pub const KEPT_OUTPUT: usize = 2000;
/// How often a running program is looked after.
const LOOK_EVERY: Duration = Duration::from_millis(10);
/// How long the last words of a program that has ended are waited for.
const LAST_WORDS: Duration = Duration::from_millis(200);

/// How a program ended, and the beginning of what it printed on its error output.
#[derive(Debug)]
pub struct Ended {
    pub status: ExitStatus,
    pub complaint: String,
}

/// Starts `command`, gives it `input`, and waits for its end, but no longer than `limit`: then it
/// and everything it started is killed.
///
/// # Errors
/// [`WayError`] when it cannot be started, or was too slow.
pub fn run(
    mut command: Command,
    input: Vec<u8>,
    limit: Duration,
    remedy: &str,
) -> Result<Ended, WayError> {
    let what = command.get_program().to_string_lossy().into_owned();
    command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    own_group(&mut command);
    let mut child = command.spawn().map_err(|error| match error.kind() {
        std::io::ErrorKind::NotFound => {
            WayError::Missing { what: what.clone(), remedy: remedy.to_owned() }
        }
        _ => WayError::Failed { what: what.clone(), reason: error.to_string() },
    })?;
    feed(&mut child, input);
    let drained = child.stdout.take().map(drain);
    let complaint = child.stderr.take().map(drain);
    let began = Instant::now();
    loop {
        match child.try_wait() {
            Ok(Some(status)) => {
                drop(drained);
                let kept = complaint.and_then(|said| said.recv_timeout(LAST_WORDS).ok());
                let complaint = printable(&kept.unwrap_or_default());
                return Ok(Ended { status, complaint });
            }
            Ok(None) if began.elapsed() < limit => thread::sleep(LOOK_EVERY),
            Ok(None) => {
                kill(&mut child);
                return Err(WayError::TimedOut { what, seconds: limit.as_secs() });
            }
            Err(error) => {
                kill(&mut child);
                return Err(WayError::Failed { what, reason: error.to_string() });
            }
        }
    }
}

/// Hands over the input from a thread of its own: a program that does not read must not hold us.
fn feed(child: &mut Child, input: Vec<u8>) {
    if let Some(mut pipe) = child.stdin.take() {
        // A program that ends without reading has not failed for that.
        thread::spawn(move || drop(pipe.write_all(&input)));
    }
}

/// Reads to the end so that the program is never held up, and keeps the beginning.
fn drain(mut pipe: impl Read + Send + 'static) -> mpsc::Receiver<Vec<u8>> {
    let (tell, told) = mpsc::channel();
    thread::spawn(move || {
        let mut kept = Vec::new();
        let mut buffer = [0; 8192];
        while let Ok(length @ 1..) = pipe.read(&mut buffer) {
            let room = KEPT_OUTPUT.saturating_sub(kept.len()).min(length);
            kept.extend_from_slice(&buffer[..room]);
        }
        // Nobody may be waiting for it any more.
        let _ = tell.send(kept);
    });
    told
}

/// One line of plain text: a program's output may hold anything.
fn printable(bytes: &[u8]) -> String {
    let text = String::from_utf8_lossy(bytes);
    let plain: String = text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    plain.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[cfg(unix)]
fn own_group(command: &mut Command) {
    use std::os::unix::process::CommandExt;
    command.process_group(0);
}

#[cfg(not(unix))]
fn own_group(_: &mut Command) {}

/// Kills a program and, where the system has groups, what it started.
fn kill(child: &mut Child) {
    #[cfg(unix)]
    if let Some(group) = i32::try_from(child.id()).ok().and_then(rustix::process::Pid::from_raw) {
        // It may have ended in this moment.
        let _ = rustix::process::kill_process_group(group, rustix::process::Signal::KILL);
    }
    let _ = child.kill();
    let _ = child.wait();
}
