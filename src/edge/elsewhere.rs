//! The shop as another computer has it: `spyhole --shop http://ADDRESS` shows the floor in this terminal.
//!
//! It comes in by the door of the page: paired once by the code, and then one more device that shows, counts on
//! alone and rings alone. It writes nothing of the shop here, and nothing is noted from it.
//!
//! Reading order: [`known`] (what rings, with the computer and without it), [`door`] (how it is asked), then
//! this (what is drawn, and the loop).

pub mod door;
pub mod known;

use std::io::{self, BufRead, IsTerminal, Write};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{self, Receiver};
use std::thread;
use std::time::Duration;

use anyhow::{Context as _, bail};
use crossterm::event::{self, Event, KeyCode, KeyModifiers};
use ratatui::DefaultTerminal;
use ratatui::style::{Modifier, Style};
use ratatui::text::{Line, Text};
use ratatui::widgets::{Paragraph, Wrap};
use signal_hook::consts::{SIGHUP, SIGTERM};

use crate::edge::shop::clock::{SystemClock, Timekeeper};
use crate::text::shown;
use crate::units::Moment;
use crate::words;
use door::{Door, Heard};
use known::Known;

/// How often the computer is asked.
const ASKED_EVERY: Duration = Duration::from_secs(2);
/// How often it is drawn, and looked what rings.
const DRAWN_EVERY: Duration = Duration::from_millis(250);

/// The address, where the shop is on another computer.
pub fn address(shop: &Path) -> Option<&str> {
    shop.to_str().filter(|text| text.starts_with("http://") || text.starts_with("https://"))
}

/// Shows the shop at this address until somebody leaves it.
///
/// # Errors
/// An address that cannot be used, a computer that does not answer, a code that is none, no terminal.
pub fn run(
    address: &str,
    data: &Path,
    (input, out): (&mut dyn BufRead, &mut dyn Write),
) -> anyhow::Result<()> {
    let mut door = Door::at(address, data)?;
    if !io::stdout().is_terminal() {
        bail!(words::ELSEWHERE_NO_TERMINAL);
    }
    let mut known = loop {
        match door.ask()? {
            Heard::State(state) => break Known::of(*state, SystemClock.now()),
            Heard::NotPaired => {
                let mut asked = |question: &str| -> anyhow::Result<String> {
                    write!(out, "{question} ")?;
                    out.flush()?;
                    let mut typed = String::new();
                    input.read_line(&mut typed).context("cannot read what is typed")?;
                    Ok(typed.trim().to_owned())
                };
                let (code, name) = (asked(words::ELSEWHERE_CODE)?, asked(words::ELSEWHERE_NAME)?);
                door.pair(&code, &name)?;
            }
        }
    };
    let stop = Arc::new(AtomicBool::new(false));
    for signal in [SIGTERM, SIGHUP] {
        signal_hook::flag::register(signal, Arc::clone(&stop))
            .context("cannot listen for being stopped")?;
    }
    let heard = listen(door)?;
    let mut terminal = ratatui::try_init().context("cannot take over the terminal")?;
    let shown = show(&mut terminal, &mut known, &heard, &stop);
    ratatui::restore();
    shown
}

/// Asks again and again, on a thread of its own: a computer that hangs holds up no ring.
fn listen(door: Door) -> io::Result<Receiver<Heard>> {
    let (tell, heard) = mpsc::channel();
    thread::Builder::new().spawn(move || {
        loop {
            thread::sleep(ASKED_EVERY);
            if door.ask().is_ok_and(|answer| tell.send(answer).is_err()) {
                return;
            }
        }
    })?;
    Ok(heard)
}

fn show(
    terminal: &mut DefaultTerminal,
    known: &mut Known,
    heard: &Receiver<Heard>,
    stop: &AtomicBool,
) -> anyhow::Result<()> {
    while !stop.load(Ordering::Relaxed) {
        let now = SystemClock.now();
        for answer in heard.try_iter() {
            match answer {
                Heard::State(state) => known.hear(*state, now),
                Heard::NotPaired => bail!(words::ELSEWHERE_FORGOTTEN),
            }
        }
        if known.rings(now) {
            // Whatever else the terminal does with it, it is the only sound it has.
            io::stdout().write_all(b"\x07")?;
        }
        let text = drawn(known, now);
        terminal.draw(|frame| {
            frame.render_widget(Paragraph::new(text).wrap(Wrap { trim: false }), frame.area());
        })?;
        if !event::poll(DRAWN_EVERY)? {
            continue;
        }
        let Event::Key(key) = event::read()? else { continue };
        let pressed = (key.code, key.modifiers.contains(KeyModifiers::CONTROL));
        if [(KeyCode::Char('q'), false), (KeyCode::Char('c'), true)].contains(&pressed) {
            return Ok(());
        }
    }
    Ok(())
}

/// What rings, and under it the floor.
fn drawn(known: &Known, now: Moment) -> Text<'static> {
    let (large, plain) = (Style::new().add_modifier(Modifier::BOLD), Style::new());
    let loud = large.add_modifier(Modifier::REVERSED);
    let mut lines = Vec::new();
    let mut say = |text: &str, style: Style| {
        lines.push(Line::styled(shown(text).replace('\n', " "), style));
    };
    let there = known.at(now);
    if known.is_lost(now) {
        say(words::PAGE_LOST, loud);
    }
    if let Some(one) = known.due(now) {
        say(&format!(" {} ", one.words), loud);
        say(&one.body, plain);
    }
    for (line, to) in known.floor() {
        let left = to.map(|to| format!("  {}", words::left_text(Moment(to) - there)));
        say(&format!("{line}{}", left.unwrap_or_default()), plain);
    }
    say(words::ELSEWHERE_KEYS, plain);
    Text::from(lines)
}
