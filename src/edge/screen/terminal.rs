//! The real terminal: taken over, given back whatever happens, and listened to.

use std::io::{self, IsTerminal, Stdout, Write};
use std::mem::ManuallyDrop;
use std::os::unix::net::UnixStream;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use anyhow::{Context, bail};
use crossterm::event::{
    self, DisableMouseCapture, EnableMouseCapture, Event, KeyCode, KeyEventKind, KeyModifiers,
    MouseButton, MouseEventKind,
};
use crossterm::terminal::{EnterAlternateScreen, LeaveAlternateScreen};
use crossterm::{cursor, execute, terminal};
use ratatui::backend::{Backend, CrosstermBackend};
use ratatui::layout::{Position, Rect};
use ratatui::{TerminalOptions, Viewport};
use rustix::event::{PollFd, PollFlags, Timespec};
use signal_hook::consts::{SIGHUP, SIGINT, SIGQUIT, SIGTERM, SIGTSTP};

use super::key::Key;

/// The exit code of a program that panicked.
const PANICKED: i32 = 101;

/// How long the screen has for what it is writing, once its terminal is gone or it is to end.
const LAST_WORDS: Duration = Duration::from_secs(1);

/// How long a terminal has to take what gives it back.
const GIVES_BACK: Duration = Duration::from_millis(100);

/// How often a lost terminal is looked for that did not make itself heard: a pseudo-terminal
/// wakes whoever waits for it, and not every other line does.
const HANG_UP_CHECK: Timespec = Timespec { tv_sec: 30, tv_nsec: 0 };

/// Crossterm does not listen at all for no time.
const LISTENS: Duration = Duration::from_millis(1);
/// Nobody waits longer at once.
const LONGEST: Duration = Duration::from_secs(3600);
/// Crossterm sleeps for the whole milliseconds that are left, and spins for what is left then: for nearly
/// one at each end, were it asked for a round time. It is asked for so much more.
const LEFT_OVER: Duration = Duration::from_micros(100);

/// The terminal while the screen has it. Dropping it gives it back. Ratatui's own drop is left out: it
/// panics where the terminal is lost and errors go there too.
#[derive(Debug)]
pub struct Seat {
    pub terminal: ManuallyDrop<ratatui::Terminal<CrosstermBackend<Stdout>>>,
    leave: Arc<AtomicBool>,
    pause: Arc<AtomicBool>,
}

/// Something the terminal had to say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Heard {
    Key(Key),
    /// A click at this column and row.
    Clicked(u16, u16),
    WheelUp,
    WheelDown,
    Resized,
    /// A signal asked the program to end.
    Leave,
    /// A signal asked it to stop for a while.
    Pause,
    Nothing,
}

impl Seat {
    /// Takes the terminal over.
    ///
    /// # Errors
    /// When there is no terminal, or it cannot be set.
    pub fn take() -> anyhow::Result<Seat> {
        if !io::stdout().is_terminal() || !io::stdin().is_terminal() {
            bail!(
                "the screen needs a terminal for its keys and its picture, and this is a pipe or \
                 a file: run it in a terminal, or use `spyhole status`"
            );
        }
        let (leave, pause) = (Arc::new(AtomicBool::new(false)), Arc::new(AtomicBool::new(false)));
        let (asks, asked) = UnixStream::pair().context("cannot listen for signals")?;
        for signal in [SIGTERM, SIGHUP, SIGINT, SIGQUIT] {
            let asks = asks.try_clone().context("cannot listen for signals")?;
            signal_hook::flag::register(signal, Arc::clone(&leave))
                .and_then(|_| signal_hook::low_level::pipe::register(signal, asks))
                .context("cannot listen for signals")?;
        }
        signal_hook::flag::register(SIGTSTP, Arc::clone(&pause))
            .context("cannot listen for signals")?;
        leave_in_time(Arc::clone(&leave), asked).context("cannot watch the terminal")?;
        give_back_on_panic();
        enter().context("cannot take over the terminal")?;
        let terminal =
            whole().inspect_err(|_| give_back()).context("cannot draw on the terminal")?;
        Ok(Seat { terminal: ManuallyDrop::new(terminal), leave, pause })
    }

    /// Waits for something, no longer than `longest`.
    ///
    /// # Errors
    /// When the terminal can no longer be read.
    pub fn listen(&self, longest: Duration) -> anyhow::Result<Heard> {
        if let Some(signal) = self.signalled() {
            return Ok(signal);
        }
        let longest = longest.clamp(LISTENS, LONGEST);
        let nanos = longest.subsec_nanos().next_multiple_of(1_000_000);
        let ready = match event::poll(Duration::new(longest.as_secs(), nanos) + LEFT_OVER) {
            Ok(ready) => ready,
            Err(error) if error.kind() == io::ErrorKind::Interrupted => false,
            Err(error) => return Err(error).context("cannot read the terminal"),
        };
        if let Some(signal) = self.signalled() {
            return Ok(signal);
        }
        if !ready {
            return Ok(Heard::Nothing);
        }
        Ok(match event::read().context("cannot read the terminal")? {
            Event::Key(key) if key.kind != KeyEventKind::Release => {
                key_of(key.code, key.modifiers).map_or(Heard::Nothing, Heard::Key)
            }
            Event::Resize(_, _) => Heard::Resized,
            Event::Mouse(mouse) => match mouse.kind {
                MouseEventKind::Down(MouseButton::Left) => Heard::Clicked(mouse.column, mouse.row),
                MouseEventKind::ScrollUp => Heard::WheelUp,
                MouseEventKind::ScrollDown => Heard::WheelDown,
                _ => Heard::Nothing,
            },
            _ => Heard::Nothing,
        })
    }

    fn signalled(&self) -> Option<Heard> {
        if self.leave.load(Ordering::Relaxed) {
            return Some(Heard::Leave);
        }
        self.pause.swap(false, Ordering::Relaxed).then_some(Heard::Pause)
    }

    /// Gives the terminal back, stops this process until the shell wakes it, and takes it again.
    ///
    /// # Errors
    /// When the terminal cannot be set again.
    pub fn suspend(&mut self) -> anyhow::Result<()> {
        give_back();
        signal_hook::low_level::emulate_default_handler(SIGTSTP)
            .context("cannot stop for a while")?;
        self.pause.store(false, Ordering::Relaxed);
        enter().context("cannot take the terminal again")?;
        self.forget_picture()
    }

    /// Sends the terminal's bell.
    ///
    /// # Errors
    /// When the terminal can no longer be written to.
    pub fn ring(&mut self) -> anyhow::Result<()> {
        let mut out = io::stdout();
        out.write_all(b"\x07").and_then(|()| out.flush()).context("cannot ring the terminal")
    }

    /// Draws everything anew next time, as large as the terminal is now. Ratatui's own `clear` asks
    /// the terminal where its cursor is and waits for the answer, which not every terminal gives;
    /// `resize` clears as well.
    ///
    /// # Errors
    /// When the terminal cannot be drawn on.
    pub fn forget_picture(&mut self) -> anyhow::Result<()> {
        let size = self.terminal.size().context("cannot measure the terminal")?;
        self.terminal.resize(size.into()).context("cannot draw on the terminal")
    }
}

impl Drop for Seat {
    fn drop(&mut self) {
        give_back();
    }
}

/// The whole terminal to draw on. Its size is measured when it has changed, not before every frame.
fn whole() -> io::Result<ratatui::Terminal<CrosstermBackend<Stdout>>> {
    // The first question begins to listen, so that no change is missed once it is measured.
    event::poll(Duration::ZERO)?;
    let backend = CrosstermBackend::new(io::stdout());
    let viewport = Viewport::Fixed(Rect::from((Position::ORIGIN, backend.size()?)));
    ratatui::Terminal::with_options(backend, TerminalOptions { viewport })
}

fn enter() -> io::Result<()> {
    terminal::enable_raw_mode()?;
    execute!(io::stdout(), EnterAlternateScreen, EnableMouseCapture, cursor::Hide)
        .inspect_err(|_| give_back())
}

/// Leaves the terminal as it was found. Nothing more can be done where that fails.
fn give_back() {
    let _ = execute!(io::stdout(), DisableMouseCapture, LeaveAlternateScreen, cursor::Show);
    let _ = terminal::disable_raw_mode();
}

/// Ends the program when its terminal is gone, or a signal asked for it, though the loop may be held up:
/// by a terminal that takes nothing. Reading from a lost terminal gives nothing for
/// ever, and the reader of keys would take that for something it has to wait for: so this is
/// seen beside it, whether or not the signal of a hang-up is ignored.
fn leave_in_time(leave: Arc<AtomicBool>, asked: UnixStream) -> io::Result<()> {
    std::thread::Builder::new().name("terminal".into()).spawn(move || {
        while !is_to_leave(&asked) {}
        leave.store(true, Ordering::Relaxed);
        std::thread::sleep(LAST_WORDS);
        // This much goes without writing; the rest may never be taken.
        let _ = terminal::disable_raw_mode();
        // Without a thread it is not given back, and the program ends all the same.
        let _ = std::thread::Builder::new().spawn(give_back);
        std::thread::sleep(GIVES_BACK);
        std::process::exit(0);
    })?;
    Ok(())
}

/// Waits until the terminal is gone or a signal came, or for as long as [`HANG_UP_CHECK`].
fn is_to_leave(asked: &UnixStream) -> bool {
    let input = rustix::stdio::stdin();
    let mut waited =
        [PollFd::from_borrowed_fd(input, PollFlags::empty()), PollFd::new(asked, PollFlags::IN)];
    let heard = rustix::event::poll(&mut waited, Some(&HANG_UP_CHECK));
    let gone = PollFlags::HUP | PollFlags::NVAL;
    heard.is_ok() && (waited[0].revents().intersects(gone) || !waited[1].revents().is_empty())
}

/// A panic, in whichever thread, is told on a terminal that shows it, and ends the program: a
/// screen without its terminal cannot go on.
fn give_back_on_panic() {
    let tell = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |panic| {
        give_back();
        tell(panic);
        std::process::exit(PANICKED);
    }));
}

fn key_of(code: KeyCode, modifiers: KeyModifiers) -> Option<Key> {
    Some(match code {
        KeyCode::Char(c) if modifiers.contains(KeyModifiers::CONTROL) => {
            Key::Control(c.to_ascii_lowercase())
        }
        KeyCode::Char(c) => Key::Char(c),
        KeyCode::Enter => Key::Enter,
        KeyCode::Esc => Key::Escape,
        KeyCode::Tab => Key::Tab,
        KeyCode::BackTab => Key::BackTab,
        KeyCode::Backspace => Key::Backspace,
        KeyCode::Delete => Key::Delete,
        KeyCode::Up => Key::Up,
        KeyCode::Down => Key::Down,
        KeyCode::Left => Key::Left,
        KeyCode::Right => Key::Right,
        KeyCode::Home => Key::Home,
        KeyCode::End => Key::End,
        KeyCode::F(number) => Key::Function(number),
        _ => return None,
    })
}
