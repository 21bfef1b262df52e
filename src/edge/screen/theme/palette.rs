//! The colours themselves: fired clay, ash and chalk, ours alone.

use ratatui::style::Color;

use super::{Paper, Part};

pub type Rgb = (u8, u8, u8);

/// The chamber before its first glow.
pub const DARK_CHAMBER: Rgb = (6, 5, 5);
/// A cone before a glowing wall: a shadow where that can be seen, else as little lit as can be.
const ON_GLOW: [Rgb; 4] = [(10, 4, 2), (150, 140, 128), (240, 225, 205), (255, 255, 255)];
/// The least contrast of shapes and of text, by the Web Content Accessibility Guidelines 2
/// (success criteria 1.4.11 and 1.4.3).
pub const SHAPES: f64 = 3.0;
pub const TEXT: f64 = 4.5;

/// Ink and paper of each part.
pub fn pair(part: Part, paper: Paper) -> (Rgb, Rgb) {
    match paper {
        Paper::Dark => dark(part),
        Paper::Bright => bright(part),
    }
}

fn dark(part: Part) -> (Rgb, Rgb) {
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

fn bright(part: Part) -> (Rgb, Rgb) {
    const PAPER: Rgb = (250, 246, 238);
    match part {
        Part::Text => ((30, 24, 20), PAPER),
        Part::Quiet => ((92, 82, 72), PAPER),
        Part::Accent => ((138, 62, 12), PAPER),
        Part::Urgent => ((255, 246, 230), (112, 44, 8)),
        Part::Window => ((30, 24, 20), (236, 208, 160)),
        Part::Key => ((255, 250, 242), (84, 72, 62)),
        Part::Wrong => ((255, 246, 236), (120, 18, 18)),
    }
}

/// The same among the sixteen colours, by their number.
pub fn pair_of_sixteen(part: Part, paper: Paper) -> (u8, u8) {
    const BLACK: u8 = 0;
    const RED: u8 = 1;
    const BLUE: u8 = 4;
    const GREY: u8 = 7;
    const YELLOW: u8 = 11;
    const WHITE: u8 = 15;
    match (part, paper) {
        (Part::Text, Paper::Dark) => (WHITE, BLACK),
        (Part::Quiet, Paper::Dark) => (GREY, BLACK),
        (Part::Accent, Paper::Dark) => (YELLOW, BLACK),
        (Part::Urgent, Paper::Dark) => (BLACK, YELLOW),
        (Part::Key, Paper::Dark) => (BLACK, GREY),
        (Part::Text, Paper::Bright) => (BLACK, WHITE),
        (Part::Quiet, Paper::Bright) => (BLUE, WHITE),
        (Part::Accent, Paper::Bright) => (RED, WHITE),
        (Part::Urgent, Paper::Bright) => (WHITE, BLACK),
        (Part::Key, Paper::Bright) => (WHITE, BLUE),
        (Part::Window, Paper::Dark) => (WHITE, BLUE),
        (Part::Window, Paper::Bright) => (BLACK, GREY),
        (Part::Wrong, _) => (WHITE, RED),
    }
}

/// The sixteen colours as two widespread terminals have them: xterm, and the text console of a PC
/// (both from memory).
pub fn of_sixteen(index: u8) -> [Rgb; 2] {
    const XTERM: [u32; 16] = [
        0x000000, 0xcd0000, 0x00cd00, 0xcdcd00, 0x0000ee, 0xcd00cd, 0x00cdcd, 0xe5e5e5, 0x7f7f7f,
        0xff0000, 0x00ff00, 0xffff00, 0x5c5cff, 0xff00ff, 0x00ffff, 0xffffff,
    ];
    const CONSOLE: [u32; 16] = [
        0x000000, 0xaa0000, 0x00aa00, 0xaa5500, 0x0000aa, 0xaa00aa, 0x00aaaa, 0xaaaaaa, 0x555555,
        0xff5555, 0x55ff55, 0xffff55, 0x5555ff, 0xff55ff, 0x55ffff, 0xffffff,
    ];
    let at = usize::from(index % 16);
    [XTERM[at], CONSOLE[at]].map(|colour| {
        let [_, red, green, blue] = u32::to_be_bytes(colour);
        (red, green, blue)
    })
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

/// The ink for what stands before a chamber of this colour, with this contrast at least: of black
/// and white one has always 4.5 to 1.
pub(super) fn seen_on(chamber: Rgb, least: f64) -> Rgb {
    let [shadow, .., white] = ON_GLOW;
    let seen = ON_GLOW.into_iter().find(|ink| contrast(*ink, chamber) >= least);
    let plainer = if contrast(shadow, chamber) > contrast(white, chamber) { shadow } else { white };
    seen.unwrap_or(plainer)
}

/// A colour half way between two.
pub(super) fn between(one: Rgb, other: Rgb) -> Rgb {
    let half = |a: u8, b: u8| ((u16::from(a) + u16::from(b)) / 2) as u8;
    (half(one.0, other.0), half(one.1, other.1), half(one.2, other.2))
}

/// The nearest of the sixteen, as xterm has them.
pub(super) fn nearest_of_sixteen(colour: Rgb) -> Color {
    let nearest = (0..16u8).min_by_key(|index| distance(of_sixteen(*index)[0], colour));
    Color::Indexed(nearest.unwrap_or(0))
}

/// The steps of each channel of the cube.
const STEPS: [u8; 6] = [0, 95, 135, 175, 215, 255];

/// The nearest of the 6 x 6 x 6 cube and the 24 greys of a 256-colour terminal.
pub fn indexed(colour: Rgb) -> Color {
    // The cube is nearest where each channel is; of the greys each is tried.
    let near = |channel: u8| (0..6u8).min_by_key(|at| STEPS[usize::from(*at)].abs_diff(channel));
    let [red, green, blue] = [colour.0, colour.1, colour.2].map(|c| near(c).unwrap_or(0));
    let cube = 16 + 36 * red + 6 * green + blue;
    let nearest = (232..=255u8).fold(cube, |best, grey| {
        if distance(of_index(grey), colour) < distance(of_index(best), colour) {
            grey
        } else {
            best
        }
    });
    Color::Indexed(nearest)
}

/// The colour at an index of 16 or more.
pub fn of_index(index: u8) -> Rgb {
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
