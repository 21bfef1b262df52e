//! How the screen looks on this terminal: colours or none, Unicode or plain ASCII.
//!
//! Colour never carries a meaning alone. Every pair below is at least 4.5 to 1 in contrast (the
//! Web Content Accessibility Guidelines' bound for text), and a test computes it.

use ratatui::style::{Color, Modifier, Style};

use crate::scene::Phase;

/// How many colours the terminal shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Depth {
    /// None: bold and reversed text only.
    None,
    /// The 256 colours every such terminal has alike from 16 upwards.
    Indexed,
    True,
}

/// The part a piece of text plays.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    Text,
    Quiet,
    Accent,
    /// Something to do now.
    Urgent,
    /// The shaded watch window.
    Window,
    Key,
    Wrong,
}

impl Part {
    pub const ALL: [Part; 7] =
        [Part::Text, Part::Quiet, Part::Accent, Part::Urgent, Part::Window, Part::Key, Part::Wrong];
}

type Rgb = (u8, u8, u8);

/// Ink and paper of each part; fired clay and ash, ours alone.
pub fn pair(part: Part) -> (Rgb, Rgb) {
    const PAPER: Rgb = (20, 17, 15);
    match part {
        Part::Text => ((240, 232, 220), PAPER),
        Part::Quiet => ((176, 164, 150), PAPER),
        Part::Accent => ((238, 176, 116), PAPER),
        Part::Urgent => ((20, 17, 15), (255, 205, 130)),
        Part::Window => ((240, 232, 220), (74, 56, 38)),
        Part::Key => ((20, 17, 15), (200, 188, 172)),
        Part::Wrong => ((255, 240, 225), (132, 44, 22)),
    }
}

/// The contrast of two colours, 1 to 21, by the formula of the Web Content Accessibility
/// Guidelines 2 (relative luminance of sRGB).
pub fn contrast(one: Rgb, other: Rgb) -> f64 {
    let luminance = |(r, g, b): Rgb| {
        let linear = |channel: u8| {
            let c = f64::from(channel) / 255.0;
            if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b)
    };
    let (a, b) = (luminance(one), luminance(other));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

/// What the screen is drawn with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Theme {
    pub depth: Depth,
    pub ascii: bool,
}

impl Theme {
    /// The theme for the terminal this process runs in.
    pub fn of_environment() -> Theme {
        Theme::of(|name| std::env::var(name).ok())
    }

    /// The theme for an environment: `NO_COLOR` (any value), `COLORTERM`, `TERM`,
    /// `SPYHOLE_ASCII`, and the locale.
    pub fn of(variable: impl Fn(&str) -> Option<String>) -> Theme {
        let set = |name: &str| variable(name).filter(|value| !value.is_empty());
        let term = set("TERM").unwrap_or_default();
        let depth = if set("NO_COLOR").is_some() || term == "dumb" || term.is_empty() {
            Depth::None
        } else if set("COLORTERM").is_some_and(|c| c == "truecolor" || c == "24bit") {
            Depth::True
        } else if term.contains("256") {
            Depth::Indexed
        } else {
            Depth::None
        };
        let locale = set("LC_ALL").or_else(|| set("LC_CTYPE")).or_else(|| set("LANG"));
        let unicode = locale.is_some_and(|locale| {
            let locale = locale.to_lowercase();
            locale.contains("utf-8") || locale.contains("utf8")
        });
        Theme { depth, ascii: set("SPYHOLE_ASCII").is_some_and(|v| v != "0") || !unicode }
    }

    pub fn style(&self, part: Part) -> Style {
        let (ink, paper) = pair(part);
        let style = match self.depth {
            Depth::None => Style::default(),
            Depth::Indexed => Style::default().fg(indexed(ink)).bg(indexed(paper)),
            Depth::True => Style::default().fg(rgb(ink)).bg(rgb(paper)),
        };
        match part {
            Part::Urgent | Part::Wrong if self.depth == Depth::None => {
                style.add_modifier(Modifier::BOLD | Modifier::REVERSED)
            }
            Part::Key if self.depth == Depth::None => style.add_modifier(Modifier::REVERSED),
            Part::Urgent | Part::Wrong | Part::Accent => style.add_modifier(Modifier::BOLD),
            _ => style,
        }
    }

    /// The shape that stands beside the word of a state.
    pub fn shape(&self, phase: Phase) -> &'static str {
        let (unicode, ascii) = match phase {
            Phase::Empty => ("○", "( )"),
            Phase::Packed => ("◎", "(:)"),
            Phase::Heating => ("▲", "/^\\"),
            Phase::Watch => ("◉", "(o)"),
            Phase::Dropped => ("▼", "\\v/"),
            Phase::Off => ("■", "[#]"),
            Phase::Cooling => ("▽", "[~]"),
            Phase::Drawn => ("□", "[ ]"),
            Phase::Aborted => ("×", "[x]"),
        };
        if self.ascii { ascii } else { unicode }
    }

    pub fn pick(&self, unicode: &'static str, ascii: &'static str) -> &'static str {
        if self.ascii { ascii } else { unicode }
    }
}

fn rgb((r, g, b): Rgb) -> Color {
    Color::Rgb(r, g, b)
}

/// The nearest of the 6 x 6 x 6 cube and the 24 greys of a 256-colour terminal.
pub fn indexed(colour: Rgb) -> Color {
    let nearest = (16..=255u8).min_by_key(|index| distance(of_index(*index), colour));
    Color::Indexed(nearest.unwrap_or(16))
}

/// The colour at an index of 16 or more.
pub fn of_index(index: u8) -> Rgb {
    const STEPS: [u8; 6] = [0, 95, 135, 175, 215, 255];
    if index >= 232 {
        let grey = 8 + 10 * (index - 232);
        return (grey, grey, grey);
    }
    let cube = usize::from(index.saturating_sub(16));
    (STEPS[cube / 36 % 6], STEPS[cube / 6 % 6], STEPS[cube % 6])
}

fn distance(one: Rgb, other: Rgb) -> i32 {
    let square = |a: u8, b: u8| (i32::from(a) - i32::from(b)).pow(2);
    square(one.0, other.0) + square(one.1, other.1) + square(one.2, other.2)
}
