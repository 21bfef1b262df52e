//! The real program on a real pseudo-terminal of 80x24: when its first frame is there, what memory
//! it takes, and what it costs while nobody touches it.
//!
//! ```text
//! cargo bench --bench terminal                        everything; idle for five minutes
//! cargo bench --bench terminal -- --minutes 60        idle for an hour
//! cargo bench --bench terminal -- --shop FILE         a ten-year shop made before, not a new one
//! cargo bench --bench terminal -- --program FILE      a program built before
//! ```
//!
//! The goals: the first frame of the ten-year shop (24,000 firings, eight kilns burning) within
//! 20 ms and within 1.5 times of that of an empty shop; less than 12 MB resident; idle in
//! `rehearse --speed 1` at most a fifth of the processor time of `htop` on a terminal of the same
//! size in the same minutes, at most 70 wake-ups and 15 kB to the terminal a minute. `htop` is a
//! general-purpose monitor that redraws by the clock; where there is none, only our own figures are
//! printed. Linux only: the figures come from `/proc`.

mod old_shop;

use std::fs;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::{Duration, Instant};

use portable_pty::{Child, CommandBuilder, MasterPty, PtySize, native_pty_system};
use spyhole::testing::edge::journal::{Journal, NewEvent, starters};
use spyhole::testing::firing::What;
use spyhole::testing::kiln::Kiln;

const SIZE: PtySize = PtySize { rows: 24, cols: 80, pixel_width: 0, pixel_height: 0 };
const STARTS: usize = 15;
/// Ticks of processor time a second, as `/proc` counts them on Linux.
const TICKS_PER_SECOND: f64 = 100.0;

fn main() -> io::Result<()> {
    let (mut minutes, mut made) = (5, None);
    let mut program = PROGRAM.to_owned();
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        match word.as_str() {
            "--minutes" => minutes = words.next().and_then(|n| n.parse().ok()).unwrap_or(minutes),
            "--shop" => made = words.next().map(PathBuf::from),
            "--program" => program = words.next().unwrap_or(program),
            // What cargo itself passes.
            "--bench" => {}
            other => panic!("{other} is no word of this benchmark: see the top of its source"),
        }
    }
    let folder = tempfile::tempdir()?;
    let mut out = io::stdout();
    first_frames(&program, folder.path(), made, &mut out)?;
    idle(&program, minutes, &mut out)
}

fn first_frames(
    program: &str,
    folder: &Path,
    made: Option<PathBuf>,
    out: &mut impl Write,
) -> io::Result<()> {
    let (empty, old) = (folder.join("empty.db"), made.unwrap_or_else(|| folder.join("old.db")));
    let now = old_shop::BEGINNING;
    // One kiln with nothing in it: a shop without any asks for the first.
    let kiln = old_shop::person(None, now, What::KilnSet(Kiln::undescribed("North")));
    let begins: Vec<NewEvent> = starters(now).into_iter().chain([kiln]).collect();
    Journal::begin(&empty, &begins, now).expect("a new shop");
    if !old.exists() {
        old_shop::generate(&old, old_shop::MONTHS)?;
    }
    let shown = |path: &Path| vec!["--shop".to_owned(), path.display().to_string()];
    // Alternating, so that a slow moment of the machine hits both.
    let (mut of_empty, mut of_old) = (Vec::new(), Vec::new());
    for _ in 0..STARTS {
        of_empty.push(Terminal::start(program, &shown(&empty))?.first_frame());
        of_old.push(Terminal::start(program, &shown(&old))?.first_frame());
    }
    let (of_empty, of_old) = (median(of_empty), median(of_old));
    let ratio = of_old.as_secs_f64() / of_empty.as_secs_f64();
    writeln!(
        out,
        "first frame: empty shop {of_empty:.1?}, ten-year shop {of_old:.1?}, ratio {ratio:.2}"
    )?;
    for (what, path) in [("empty", &empty), ("ten-year", &old)] {
        let terminal = Terminal::start(program, &shown(path))?;
        terminal.first_frame();
        let first = terminal.resident_mb()?;
        thread::sleep(Duration::from_secs(60));
        let later = terminal.resident_mb()?;
        writeln!(
            out,
            "resident, {what} shop: {first:.1} MB at once, {later:.1} MB after a minute"
        )?;
    }
    Ok(())
}

fn idle(program: &str, minutes: u64, out: &mut impl Write) -> io::Result<()> {
    let ours = ["rehearse", "--speed", "1"].map(str::to_owned);
    let ours = Terminal::start(program, &ours)?;
    ours.first_frame();
    let theirs = Terminal::start("htop", &[]).ok();
    // What starting costs is not part of it.
    thread::sleep(Duration::from_secs(5));
    let before = (ours.spent()?, theirs.as_ref().map(Terminal::spent).transpose()?);
    thread::sleep(Duration::from_secs(60 * minutes));
    let spent = ours.spent()?.since(before.0);
    let a_minute = |figure: f64| figure / minutes as f64;
    writeln!(
        out,
        "idle for {minutes} min, a minute: {:.3} s of processor, {:.0} wake-ups, {:.1} kB written",
        a_minute(spent.processor_s),
        a_minute(spent.wake_ups),
        a_minute(spent.written) / 1000.0,
    )?;
    let (Some(theirs), Some(before)) = (theirs, before.1) else {
        return writeln!(out, "no htop here to compare with");
    };
    let other = theirs.spent()?.since(before);
    writeln!(
        out,
        "htop beside it: {:.3} s of processor, {:.0} wake-ups, {:.1} kB; ours is {:.2} of its time",
        a_minute(other.processor_s),
        a_minute(other.wake_ups),
        a_minute(other.written) / 1000.0,
        spent.processor_s / other.processor_s,
    )
}

const PROGRAM: &str = env!("CARGO_BIN_EXE_spyhole");

/// A program on a terminal of its own; ended when dropped.
struct Terminal {
    child: Box<dyn Child + Send + Sync>,
    _master: Box<dyn MasterPty + Send>,
    begun: Instant,
    shown: Arc<Mutex<vt100::Parser>>,
    written: Arc<AtomicU64>,
}

/// What a program has used so far, or between two moments.
#[derive(Clone, Copy)]
struct Spent {
    processor_s: f64,
    /// How often it slept and was woken, all its threads together.
    wake_ups: f64,
    /// Bytes to its terminal.
    written: f64,
}

impl Spent {
    fn since(self, before: Spent) -> Spent {
        Spent {
            processor_s: self.processor_s - before.processor_s,
            wake_ups: self.wake_ups - before.wake_ups,
            written: self.written - before.written,
        }
    }
}

impl Terminal {
    fn start(program: &str, arguments: &[String]) -> io::Result<Terminal> {
        let pair = native_pty_system().openpty(SIZE).map_err(io::Error::other)?;
        let mut command = CommandBuilder::new(program);
        command.args(arguments);
        command.env("TERM", "xterm-256color");
        command.env("LC_ALL", "C.UTF-8");
        let mut reader = pair.master.try_clone_reader().map_err(io::Error::other)?;
        let (rows, columns) = (SIZE.rows.try_into(), SIZE.cols.try_into());
        let (rows, columns) = (rows.expect("no size is zero"), columns.expect("no size is zero"));
        let shown = Arc::new(Mutex::new(vt100::Parser::new(rows, columns, 0)));
        let written = Arc::new(AtomicU64::new(0));
        let (feed, count) = (Arc::clone(&shown), Arc::clone(&written));
        thread::spawn(move || {
            let mut bytes = [0; 65_536];
            while let Ok(got @ 1..) = reader.read(&mut bytes) {
                count.fetch_add(got as u64, Ordering::Relaxed);
                feed.lock().expect("no panic holds it").process(&bytes[..got]);
            }
        });
        let begun = Instant::now();
        let child = pair.slave.spawn_command(command).map_err(io::Error::other)?;
        Ok(Terminal { child, _master: pair.master, begun, shown, written })
    }

    /// How long after its start its first whole frame was there.
    fn first_frame(&self) -> Duration {
        loop {
            let shown = self.shown.lock().expect("no panic holds it");
            // A frame is written from the top, and ends with the keys; which ones, depends on what
            // rings by then.
            let keys = shown.screen().rows(0, SIZE.cols).last();
            if keys.is_some_and(|keys| !keys.trim().is_empty()) {
                return self.begun.elapsed();
            }
            let text = shown.screen().contents();
            drop(shown);
            assert!(self.begun.elapsed() < Duration::from_secs(60), "no frame came:\n{text}");
            thread::sleep(Duration::from_micros(200));
        }
    }

    fn process(&self) -> PathBuf {
        let id = self.child.process_id().expect("it runs");
        PathBuf::from(format!("/proc/{id}"))
    }

    fn resident_mb(&self) -> io::Result<f64> {
        let status = fs::read_to_string(self.process().join("status"))?;
        Ok(number_after(&status, "VmRSS:") * 1024.0 / 1e6)
    }

    fn spent(&self) -> io::Result<Spent> {
        let stat = fs::read_to_string(self.process().join("stat"))?;
        // After the name, which may hold blanks: state is the third field, user and system time
        // the fourteenth and fifteenth (proc(5)).
        let after_name = stat.rsplit(')').next().unwrap_or_default();
        let fields: Vec<&str> = after_name.split_whitespace().collect();
        let ticks = |place: usize| fields[place - 3].parse::<f64>().unwrap_or(f64::NAN);
        let mut wake_ups = 0.0;
        for task in fs::read_dir(self.process().join("task"))? {
            let status = fs::read_to_string(task?.path().join("status"))?;
            // The second line of that name counts what the system forced.
            wake_ups += number_after(&status, "\nvoluntary_ctxt_switches:");
        }
        Ok(Spent {
            processor_s: (ticks(14) + ticks(15)) / TICKS_PER_SECOND,
            wake_ups,
            written: self.written.load(Ordering::Relaxed) as f64,
        })
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        // It may have ended already.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn number_after(text: &str, name: &str) -> f64 {
    let rest = text.split(name).nth(1).unwrap_or_default();
    rest.split_whitespace().next().and_then(|word| word.parse().ok()).unwrap_or(f64::NAN)
}

fn median(mut times: Vec<Duration>) -> Duration {
    times.sort_unstable();
    times[times.len() / 2]
}
