//! Running another program under a time limit, whatever it does: hang, fail, print without end; and
//! work of our own that another computer may draw out for ever.

use std::io::{self, Read, Write};
use std::os::unix::process::CommandExt;
use std::process::{Child, ChildStderr, Command, ExitStatus, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, mpsc};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use rustix::event::{PollFd, PollFlags, Timespec};

use super::WayError;

/// So much of what a program prints is kept; the rest is read and thrown away.
pub const KEPT_OUTPUT: usize = 2000;
/// How often a running program is looked after.
const LOOK_EVERY: Duration = Duration::from_millis(10);
/// How long the last words of a program that has ended are waited for.
const LAST_WORDS: Duration = Duration::from_millis(200);

/// How often it is asked whether anybody still wants them.
const LOOK_FOR_WORDS: Timespec = Timespec { tv_sec: 0, tv_nsec: 50_000_000 };

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
    command.stdin(Stdio::piped()).stdout(Stdio::null()).stderr(Stdio::piped());
    command.process_group(0);
    let mut child = command.spawn().map_err(|error| match error.kind() {
        io::ErrorKind::NotFound => {
            WayError::Missing { what: what.clone(), remedy: remedy.to_owned() }
        }
        _ => WayError::failed(&what, error),
    })?;
    if let Err(error) = feed(&mut child, input) {
        kill(&mut child);
        return Err(WayError::failed(what, error));
    }
    let over = Arc::new(AtomicBool::new(false));
    let complaint = child.stderr.take().map(|pipe| drain(pipe, Arc::clone(&over)));
    let began = Instant::now();
    let ended = loop {
        match child.try_wait() {
            Ok(Some(status)) => break Ok(status),
            Ok(None) if began.elapsed() < limit => thread::sleep(LOOK_EVERY),
            Ok(None) => {
                kill(&mut child);
                break Err(WayError::TimedOut { what, seconds: limit.as_secs() });
            }
            Err(error) => {
                kill(&mut child);
                break Err(WayError::failed(what, error));
            }
        }
    };
    let said = complaint.and_then(|said| {
        said.recv_timeout(LAST_WORDS)
            .or_else(|_| {
                // What it started lives on and keeps its error output open.
                over.store(true, Ordering::Relaxed);
                said.recv_timeout(LAST_WORDS)
            })
            .ok()
    });
    Ok(Ended { status: ended?, complaint: printable(&said.unwrap_or_default()) })
}

/// Hands over the input from a thread of its own: a program that does not read must not hold us.
fn feed(child: &mut Child, input: Vec<u8>) -> io::Result<()> {
    if let Some(mut pipe) = child.stdin.take() {
        // A program that ends without reading has not failed for that.
        thread::Builder::new().spawn(move || drop(pipe.write_all(&input)))?;
    }
    Ok(())
}

/// Reads on so that the program is never held up, and keeps the beginning, until the end or until it
/// is over for us.
fn drain(mut pipe: ChildStderr, over: Arc<AtomicBool>) -> mpsc::Receiver<Vec<u8>> {
    let (tell, told) = mpsc::channel();
    let reading = thread::Builder::new().spawn(move || {
        let mut kept = Vec::new();
        let mut buffer = [0; 8192];
        while !over.load(Ordering::Relaxed) {
            let mut waited = [PollFd::new(&pipe, PollFlags::IN)];
            if rustix::event::poll(&mut waited, Some(&LOOK_FOR_WORDS)) == Ok(0) {
                continue;
            }
            let Ok(length @ 1..) = pipe.read(&mut buffer) else { break };
            let room = KEPT_OUTPUT.saturating_sub(kept.len()).min(length);
            kept.extend_from_slice(&buffer[..room]);
        }
        // Nobody may be waiting for it any more.
        let _ = tell.send(kept);
    });
    // Without a thread nothing of it is heard.
    drop(reading);
    told
}

/// One line of plain text: a program's output may hold anything.
fn printable(bytes: &[u8]) -> String {
    let text = String::from_utf8_lossy(bytes);
    let plain: String = text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    plain.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Kills a program and what it started.
fn kill(child: &mut Child) {
    if let Some(group) = i32::try_from(child.id()).ok().and_then(rustix::process::Pid::from_raw) {
        // It may have ended in this moment.
        let _ = rustix::process::kill_process_group(group, rustix::process::Signal::KILL);
    }
    let _ = child.kill();
    let _ = child.wait();
}

/// So many pieces of work may hang at a time; more are not begun.
const LOOSE: usize = 4;

/// Work that may hang, each piece on a thread of its own, which is let go of when it is too slow.
#[derive(Debug, Default)]
pub struct Loose {
    hanging: Vec<JoinHandle<()>>,
}

impl Loose {
    /// Waits for the end of this work, but no longer than `limit`.
    ///
    /// # Errors
    /// [`WayError`] when it was too slow, or too much hangs already.
    pub fn run<T: Send + 'static>(
        &mut self,
        what: &str,
        limit: Duration,
        work: impl FnOnce() -> T + Send + 'static,
    ) -> Result<T, WayError> {
        self.hanging.retain(|thread| !thread.is_finished());
        if self.hanging.len() >= LOOSE {
            return Err(WayError::Busy);
        }
        let (tell, told) = mpsc::channel();
        // Nobody may be waiting for it any more.
        let thread = thread::Builder::new()
            .spawn(move || drop(tell.send(work())))
            .map_err(|error| WayError::failed(what, error))?;
        told.recv_timeout(limit).map_err(|_| {
            self.hanging.push(thread);
            WayError::TimedOut { what: what.to_owned(), seconds: limit.as_secs() }
        })
    }
}
