//! The code that pairs a device, as it is shown: once, or on a terminal with the address that is chosen there.

use std::io;
use std::iter;
use std::time::Duration;

use anyhow::Context as _;
use crossterm::event::{self, Event, KeyCode, KeyModifiers};
use qrcode::render::unicode::Dense1x2;
use qrcode::{EcLevel, QrCode};
use ratatui::DefaultTerminal;
use ratatui::layout::Constraint::{Length, Min};
use ratatui::layout::Layout;
use ratatui::text::Text;
use ratatui::widgets::{Paragraph, Wrap};
use serde_json::{Value, json};

use super::address::{self, Address};
use super::codes;
use crate::edge::glyph;
use crate::units::Span;
use crate::words;

/// As wide as large letters may be.
const COLUMNS: u16 = 80;

/// Where this computer may be reached, and by what: the likeliest first, its name last.
pub fn places(addresses: &[Address], port: u16) -> Vec<(String, String)> {
    let each = addresses.iter().map(|one| (address::url(one.ip, port), one.by.clone()));
    let name = address::host_name().map(|name| (format!("http://{name}.local:{port}"), name));
    each.chain(name).collect()
}

/// A code, and where it may be used.
#[derive(Debug)]
pub struct Offered {
    pub places: Vec<(String, String)>,
    /// Which of them is shown, counted on over the last.
    pub chosen: usize,
    pub code: codes::Pair,
    pub lasts: Span,
    /// Where the devices were paired before, if this computer is not there any more.
    pub moved: Option<String>,
    pub remarks: Vec<String>,
    /// The terminal is bright: a picture has to be the other way round.
    pub bright: bool,
}

impl Offered {
    fn place(&self) -> (usize, &str, &str) {
        let number = self.chosen % self.places.len();
        let (url, by) = &self.places[number];
        (number, url, by)
    }

    fn scan(&self) -> String {
        format!("{}/P/{}", self.place().1.to_uppercase(), self.code.scanned)
    }

    /// The same for other programs.
    pub fn object(&self) -> Value {
        let (_, url, _) = self.place();
        let others: Vec<&str> = self.places.iter().map(|(other, _)| &**other).skip(1).collect();
        json!({"page": true, "url": format!("{url}/pair"), "scan": self.scan(), "code": self.code.typed, "others": others, "moved_from": self.moved, "valid_s": self.lasts.as_seconds()})
    }

    /// What is shown, line by line.
    ///
    /// # Errors
    /// When the code cannot be drawn.
    pub fn lines(&self) -> anyhow::Result<Vec<String>> {
        let (picture, beside) = (self.picture()?, self.beside(false));
        let width = picture.first().map_or(0, |line| line.chars().count());
        let rows = picture.len().max(beside.len());
        let none = || iter::repeat(String::new());
        let rows =
            picture.into_iter().chain(none()).zip(beside.into_iter().chain(none())).take(rows);
        let rows = rows.map(|(row, line)| format!("{row:width$}  {line}").trim_end().to_owned());
        Ok(self.large().into_iter().chain(rows).chain(self.remarks.iter().cloned()).collect())
    }

    fn picture(&self) -> anyhow::Result<Vec<String>> {
        let picture = QrCode::with_error_correction_level(self.scan(), EcLevel::L);
        let picture = picture.context("cannot draw the code")?;
        // A camera wants dark squares on a bright ground, whatever the terminal has.
        let (dark, light) = match self.bright {
            true => (Dense1x2::Dark, Dense1x2::Light),
            false => (Dense1x2::Light, Dense1x2::Dark),
        };
        let picture = picture.render::<Dense1x2>().dark_color(dark).light_color(light).build();
        Ok(picture.lines().map(str::to_owned).collect())
    }

    /// The address in letters that are read from across the room, where it is another than before.
    fn large(&self) -> Vec<String> {
        let (_, url, _) = self.place();
        let short = url.trim_start_matches("http://");
        let fits = self.moved.is_some() && glyph::width(short) <= COLUMNS;
        if fits { glyph::rows(short) } else { Vec::new() }
    }

    fn beside(&self, chooses: bool) -> Vec<String> {
        let (number, url, by) = self.place();
        let mut lines: Vec<String> = self.moved.iter().map(|was| words::page_was_at(was)).collect();
        lines.extend(words::page_how_to_pair(url, &self.code.said(), self.lasts));
        if self.places.len() > 1 && chooses {
            lines.extend(words::page_next_address((number + 1, self.places.len()), by));
        } else if self.places.len() > 1 {
            lines.extend(words::PAGE_OTHER_ADDRESSES.map(str::to_owned));
            let others = self.places.iter().filter(|(other, _)| other != url);
            lines.extend(others.map(|(other, by)| format!("  {other} ({by})")));
        }
        lines
    }
}

fn told(lines: Vec<String>) -> Paragraph<'static> {
    Paragraph::new(Text::from_iter(lines)).wrap(Wrap { trim: false })
}

/// The terminal, taken over until it is dropped.
#[derive(Debug)]
pub struct OnTerminal(DefaultTerminal);

impl OnTerminal {
    /// # Errors
    /// When the terminal cannot be taken over.
    pub fn take() -> io::Result<OnTerminal> {
        Ok(OnTerminal(ratatui::try_init()?))
    }

    /// Shows what is offered, and another address where a key asks for it; true where one ends it.
    ///
    /// # Errors
    /// When the terminal is gone.
    pub fn show(&mut self, offered: &mut Offered, within: Duration) -> anyhow::Result<bool> {
        let (large, picture) = (offered.large(), offered.picture()?);
        let beside = offered.beside(true);
        self.0.draw(|frame| {
            let width = picture.first().map_or(0, |line| line.chars().count()) as u16;
            let rows = [large.len(), picture.len()].map(|rows| rows as u16);
            let [top, middle, below] =
                Layout::vertical([Length(rows[0]), Length(rows[1]), Min(0)]).areas(frame.area());
            let [left, right] = Layout::horizontal([Length(width + 2), Min(0)]).areas(middle);
            frame.render_widget(told(large), top);
            frame.render_widget(told(picture), left);
            frame.render_widget(told(beside), right);
            frame.render_widget(told(offered.remarks.clone()), below);
        })?;
        if !event::poll(within)? {
            return Ok(false);
        }
        let Event::Key(key) = event::read()? else { return Ok(false) };
        let others = offered.places.len() - 1;
        match key.code {
            KeyCode::Down | KeyCode::Right | KeyCode::Tab => offered.chosen += 1,
            KeyCode::Up | KeyCode::Left | KeyCode::BackTab => offered.chosen += others,
            KeyCode::Char('c') if key.modifiers.contains(KeyModifiers::CONTROL) => return Ok(true),
            KeyCode::Char('q') | KeyCode::Esc => return Ok(true),
            _ => {}
        }
        Ok(false)
    }
}

impl Drop for OnTerminal {
    fn drop(&mut self) {
        ratatui::restore();
    }
}
