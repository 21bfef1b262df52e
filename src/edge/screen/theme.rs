//! How the screen looks on this terminal: dark or bright, colours or none, Unicode or plain ASCII.
//!
//! Colour never carries a meaning alone: every state is also a word and a shape, and what is
//! urgent differs from the rest in lightness, which every eye sees. Every pair of [`pair`] and
//! [`pair_of_sixteen`] is at least 4.5 to 1 in contrast (the Web Content Accessibility
//! Guidelines' bound for text), and a test computes it.

use ratatui::style::{Color, Modifier, Style};

use crate::glow::Glow;
use crate::scene::Phase;

pub mod palette;

pub use palette::{Rgb, indexed, pair, pair_of_sixteen};

/// How many colours the terminal shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Depth {
    /// None: bold and reversed text only.
    None,
    /// The sixteen every colour terminal has, whatever its owner made of them.
    Sixteen,
    /// The 256 colours every such terminal has alike from 16 upwards.
    Indexed,
    True,
}

/// What the screen is drawn on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Paper {
    Dark,
    Bright,
}

/// What somebody may ask for on the command line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum Choice {
    /// For a dark kiln room
    Dark,
    /// For a bright shop
    Bright,
    /// Without colours
    None,
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

/// What the screen is drawn with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Theme {
    pub depth: Depth,
    pub paper: Paper,
    pub ascii: bool,
}

/// The colours of a look through the spyhole; without colours they all are the terminal's own.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Inks {
    pub glow: Color,
    /// Where a cone may be, but more likely is not.
    pub range: Color,
    pub cone: Color,
    /// The names below the cones.
    pub label: Color,
    pub rim: Color,
}

impl Theme {
    /// The theme for the terminal this process runs in.
    pub fn of_environment(choice: Option<Choice>) -> Theme {
        Theme::chosen(choice, |name| std::env::var(name).ok())
    }

    /// The theme for an environment: `NO_COLOR` (any value), `COLORTERM`, `TERM`,
    /// `SPYHOLE_ASCII`, and the locale. Asking for a dark or bright theme outweighs `NO_COLOR`.
    pub fn chosen(choice: Option<Choice>, variable: impl Fn(&str) -> Option<String>) -> Theme {
        let set = |name: &str| variable(name).filter(|value| !value.is_empty());
        let term = set("TERM").unwrap_or_default();
        let colourless = match choice {
            Some(choice) => choice == Choice::None,
            None => set("NO_COLOR").is_some(),
        };
        let depth = if colourless { Depth::None } else { depth_of(&term, set("COLORTERM")) };
        let paper = if choice == Some(Choice::Bright) { Paper::Bright } else { Paper::Dark };
        let locale = set("LC_ALL").or_else(|| set("LC_CTYPE")).or_else(|| set("LANG"));
        let unicode = locale.is_some_and(|locale| {
            let locale = locale.to_lowercase();
            locale.contains("utf-8") || locale.contains("utf8")
        });
        let ascii = set("SPYHOLE_ASCII").is_some_and(|v| v != "0") || !unicode;
        Theme { depth, paper, ascii }
    }

    pub fn style(&self, part: Part) -> Style {
        let style = match self.depth {
            Depth::None => Style::default(),
            Depth::Sixteen => {
                let (ink, paper) = pair_of_sixteen(part, self.paper);
                Style::default().fg(Color::Indexed(ink)).bg(Color::Indexed(paper))
            }
            Depth::Indexed | Depth::True => {
                let (ink, paper) = pair(part, self.paper);
                Style::default().fg(self.colour(ink)).bg(self.colour(paper))
            }
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

    /// The nearest this terminal comes to a colour.
    pub fn colour(&self, rgb: Rgb) -> Color {
        match self.depth {
            Depth::None => Color::Reset,
            Depth::Sixteen => palette::nearest_of_sixteen(rgb),
            Depth::Indexed => indexed(rgb),
            Depth::True => Color::Rgb(rgb.0, rgb.1, rgb.2),
        }
    }

    /// The colours of cones standing in this glow: shadows before a bright one, light before a
    /// dim one or none.
    pub fn inks(&self, glow: Option<&Glow>) -> Inks {
        let chamber = glow.map_or(palette::DARK_CHAMBER, Glow::colour);
        let cone = palette::seen_on(chamber, palette::SHAPES);
        Inks {
            glow: self.colour(chamber),
            range: self.colour(palette::between(chamber, cone)),
            cone: self.colour(cone),
            label: self.colour(palette::seen_on(chamber, palette::TEXT)),
            rim: self.style(Part::Quiet).fg.unwrap_or(Color::Reset),
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

/// Kinds of terminal that show sixteen colours and say so by their name alone.
const SIXTEEN: [&str; 9] =
    ["xterm", "screen", "tmux", "linux", "rxvt", "ansi", "konsole", "cygwin", "color"];

fn depth_of(term: &str, colorterm: Option<String>) -> Depth {
    if term == "dumb" || term.is_empty() {
        Depth::None
    } else if colorterm.is_some_and(|c| c == "truecolor" || c == "24bit") {
        Depth::True
    } else if term.contains("256") {
        Depth::Indexed
    } else if SIXTEEN.iter().any(|kind| term.contains(kind)) {
        Depth::Sixteen
    } else {
        Depth::None
    }
}
