//! The view through the spyhole, read back from the drawn cells; the floor of one kiln and of many.

use ratatui::buffer::Buffer;
use ratatui::style::Color;
use spyhole::testing::edge::screen::theme::palette::{contrast, of_index};
use spyhole::testing::edge::screen::theme::{Inks, indexed};
use spyhole::testing::glow::{EYE_ADAPTS, EYE_SEES};
use spyhole::testing::kiln::starter;
use spyhole::testing::words;

use super::desk::{ASCII, Desk, NOW, PLAIN, TRUE_COLOUR, text};
use super::frames::two_cones_down;
use crate::prelude::*;

pub(super) fn cone(name: &str) -> Cone {
    Cone::parse(name).unwrap()
}

/// A desk of so many kilns, each lit with this pack and advised like Heron of the busy desk.
pub(super) fn lit(names: &[&str], pack: ConePack) -> Desk {
    let kiln = |name: &&str| kiln(name, Fuel::Gas);
    let kilns = names.iter().map(kiln).collect();
    let mut memory = Memory::new(kilns, starter::load_types());
    let like = Desk::busy();
    let mut advices: Vec<(FiringId, Advice)> = Vec::new();
    for (number, name) in (1..).zip(names) {
        let lit = lit_with(name, "gold", pack);
        let at = NOW - Span::hours(4);
        let entry = Entry::new(About::NewFiring, at, What::Lit(lit));
        memory.append(&entry, Who::Program, at).unwrap();
        let at = NOW - Span::minutes(8);
        let what = What::Reading(Celsius(690.0));
        let entry = Entry::new(About::Firing(FiringId(number)), at, what);
        memory.append(&entry, Who::Program, at).unwrap();
        advices.push((FiringId(number), like.advices[0].1.clone()));
    }
    let mut desk = Desk::empty();
    (desk.memory, desk.advices) = (memory, advices);
    desk
}

/// One kiln with a target cone only, at this lean and range.
fn leaning(lean_deg: f64, lean_range_deg: (f64, f64), chamber: f64) -> Desk {
    let target = cone("018");
    let pack = ConePack { target, guide: None, guard: None, family: Family::SelfSupporting };
    let mut desk = lit(&["Heron"], pack);
    let forecast = desk.heron().forecast.as_mut().unwrap();
    forecast.cones = vec![ConeNow { cone: target, heat_work: 0.5, lean_deg, lean_range_deg }];
    forecast.chamber = Some(Celsius(chamber));
    desk
}

fn inks(chamber: f64) -> Inks {
    TRUE_COLOUR.inks(Glow::of(Celsius(chamber)).as_ref())
}

/// The quarters of cells in this colour: their middles, in widths of a quarter, y downwards.
fn quarters(buffer: &Buffer, colour: Color) -> Vec<(f64, f64)> {
    const SHAPES: &str = " ▘▝▀▖▌▞▛▗▚▐▜▄▙▟█";
    let mut found = Vec::new();
    for position in buffer.area.positions() {
        let cell = &buffer[position];
        let Some(c) = cell.symbol().chars().next() else { continue };
        let Some(mask) = SHAPES.chars().position(|shape| shape == c) else { continue };
        for at in 0..4u16 {
            let seen = if mask >> at & 1 == 1 { cell.fg } else { cell.bg };
            if seen == colour {
                let x = f64::from(2 * position.x + at % 2) + 0.5;
                let y = f64::from(4 * position.y + 2 * (at / 2)) + 1.0;
                found.push((x, y));
            }
        }
    }
    found
}

/// The direction of the longest extent, degrees from upright to the right.
fn direction_deg(points: &[(f64, f64)]) -> f64 {
    let count = points.len() as f64;
    let mean = |pick: fn(&(f64, f64)) -> f64| points.iter().map(pick).sum::<f64>() / count;
    let (x, y) = (mean(|p| p.0), mean(|p| p.1));
    let sum = |f: &dyn Fn(f64, f64) -> f64| points.iter().map(|p| f(p.0 - x, y - p.1)).sum::<f64>();
    let (across, up, both) = (sum(&|a, _| a * a), sum(&|_, b| b * b), sum(&|a, b| a * b));
    0.5 * (2.0 * both).atan2(up - across).to_degrees()
}

/// The main axis of what is drawn. A cone of some thirty quarters in length, cut off by the floor,
/// shows its lean to 4 degrees; in the smallest port, of nine quarters, to 10.
#[test]
fn law_the_drawn_lean_is_the_forecast_lean() {
    for (columns, rows, tolerance) in [(200, 60, 4.0), (120, 40, 4.0), (80, 24, 10.0)] {
        for lean in [8.0, 15.0, 24.0, 38.0, 52.0, 67.0, 80.0, 90.0] {
            let buffer = leaning(lean, (lean, lean), 700.0).draw(columns, rows, TRUE_COLOUR);
            let drawn = quarters(&buffer, inks(700.0).cone);
            assert!(drawn.len() > 12, "{} quarters at {columns}x{rows}", drawn.len());
            let seen = direction_deg(&drawn);
            let seen = if seen < -45.0 { seen + 180.0 } else { seen };
            near(seen, lean, tolerance, format_args!("{lean} drawn as {seen} at {columns}x{rows}"));
        }
    }
}

/// The range is drawn where the cone may lean, and nowhere else; without a range there is none.
#[test]
fn law_the_drawn_range_is_the_forecast_range() {
    let sure = leaning(40.0, (40.0, 40.0), 700.0).draw(120, 40, TRUE_COLOUR);
    assert!(quarters(&sure, inks(700.0).range).len() <= 4);
    for (least, most) in [(20.0, 60.0), (30.0, 85.0)] {
        let buffer = leaning(40.0, (least, most), 700.0).draw(120, 40, TRUE_COLOUR);
        let cone = quarters(&buffer, inks(700.0).cone);
        let floor = cone.iter().map(|p| p.1).fold(0.0, f64::max) + 1.0;
        let foot: Vec<f64> = cone.iter().filter(|p| p.1 > floor - 2.0).map(|p| p.0).collect();
        let base = foot.iter().sum::<f64>() / foot.len() as f64;
        let angles: Vec<f64> = quarters(&buffer, inks(700.0).range)
            .into_iter()
            .filter(|(x, y)| (x - base).hypot(floor - y) > 12.0)
            .map(|(x, y)| (x - base).atan2(floor - y).to_degrees())
            .collect();
        let (low, high) = (
            angles.iter().copied().fold(f64::INFINITY, f64::min),
            angles.iter().copied().fold(f64::NEG_INFINITY, f64::max),
        );
        assert!(
            abs_diff_eq!(low, least, epsilon = 9.0) && abs_diff_eq!(high, most, epsilon = 9.0),
            "{low} to {high}"
        );
    }
}

/// The colour of most of the port, read back from the cells, against the table of black bodies made
/// elsewhere. Where the eye adapts wholly (752 C and above) it is the table's, 8 bits, one step
/// either way. Below, the same light is darker: the drawn colour has the table's chromaticity, each
/// channel within the rounding of 8 bits, and its largest component the brightness of its luminance.
#[test]
fn crosscheck_the_drawn_glow_is_that_of_a_black_body() {
    let table = include_str!("../../reference/blackbody_xy.csv");
    let (mut adapted, mut dimmed) = (0, 0);
    for row in table.lines().skip(1) {
        let row: Vec<f64> = row.split(',').map(|value| value.parse().unwrap()).collect();
        let (celsius, wanted, luminance) = (row[1], &row[11..14], row[14]);
        let buffer = leaning(20.0, (15.0, 30.0), celsius).draw(120, 40, TRUE_COLOUR);
        let glow = inks(celsius).glow;
        assert!(quarters(&buffer, glow).len() > 600, "{celsius} C");
        let Color::Rgb(red, green, blue) = glow else { panic!("{glow:?} is no true colour") };
        if luminance >= EYE_ADAPTS {
            for (seen, wanted) in [red, green, blue].into_iter().zip(wanted) {
                near(f64::from(seen), *wanted, 1.0, format_args!("{glow} at {celsius} C"));
            }
            adapted += 1;
            continue;
        }
        // Steps that look alike from the least luminance that is seen in colour to the one from
        // which on the eye adapts.
        let share = (luminance / EYE_SEES).log10() / (EYE_ADAPTS / EYE_SEES).log10();
        let largest = f64::from(red.max(green).max(blue));
        assert!(abs_diff_eq!(largest, 255.0 * share, epsilon = 1.0), "{glow} at {celsius} C");
        let linear = |value: f64| match value / 255.0 {
            c if c <= 0.04045 => c / 12.92,
            c => ((c + 0.055) / 1.055).powf(2.4),
        };
        for (seen, wanted) in [red, green, blue].into_iter().zip(&row[8..11]) {
            let (seen, full) = (f64::from(seen), linear(255.0 * share));
            let (low, high) = (linear((seen - 1.0).max(0.0)), linear(seen + 1.0));
            let wanted = wanted.max(0.0) * full;
            assert!(low <= wanted && wanted <= high, "{glow} at {celsius} C");
        }
        dimmed += 1;
    }
    assert_eq!((adapted, dimmed), (17, 3));
}

/// Just above the first visible heat the port is darker than at 900 C, and in between it only gets
/// brighter. The first glow is just visible and no more.
#[test]
fn law_the_drawn_glow_grows_from_dark_red() {
    let drawn = |celsius: f64| match inks(celsius).glow {
        Color::Rgb(red, green, blue) => (red, green, blue),
        other => panic!("{other} is no true colour"),
    };
    let (first, dull, full) = (drawn(525.0), drawn(630.0), drawn(900.0));
    assert!((10..40).contains(&first.0) && first.1 == 0 && first.2 == 0, "{first:?}");
    assert!((120..160).contains(&dull.0), "{dull:?}");
    assert_eq!(full.0, 255);
    let steps: Vec<_> = (525..1300).map(|celsius| drawn(f64::from(celsius))).collect();
    assert!(steps.windows(2).all(|pair| pair[0].0 <= pair[1].0 && pair[0].1 <= pair[1].1));
}

/// Guide and target both flat, one towards the other: with the guard they are three shapes that
/// touch nowhere, in colour, and in ASCII the target has a letter of its own.
#[test]
fn law_two_cones_that_are_down_stay_two() {
    for (columns, rows) in [(80, 24), (100, 30), (120, 40), (200, 60), (300, 80)] {
        let buffer = two_cones_down().draw(columns, rows, TRUE_COLOUR);
        let mut left = quarters(&buffer, inks(716.0).cone);
        let mut shapes = Vec::new();
        while let Some(first) = left.pop() {
            let (mut shape, mut edge) = (vec![first], vec![first]);
            while let Some((x, y)) = edge.pop() {
                let touches = |p: &(f64, f64)| (p.0 - x).abs() <= 1.0 && (p.1 - y).abs() <= 2.0;
                let (near, far): (Vec<_>, Vec<_>) = left.into_iter().partition(touches);
                left = far;
                edge.extend(&near);
                shape.extend(near);
            }
            shapes.push(shape.len());
        }
        assert_eq!(shapes.len(), 3, "{shapes:?} at {columns}x{rows}");
        let plain = text(&two_cones_down().draw(columns, rows, ASCII));
        let apart =
            |line: &str| line.rfind('#').is_some_and(|target| line[target..].contains(" %"));
        assert!(plain.lines().any(apart), "{plain}");
    }
}

/// The direct way to the nearest of the 256 colours comes as near as trying them all.
#[test]
fn law_no_colour_of_the_256_is_nearer() {
    let away = |a: (u8, u8, u8), b: (u8, u8, u8)| {
        let square = |a: u8, b: u8| u32::from(a.abs_diff(b)).pow(2);
        square(a.0, b.0) + square(a.1, b.1) + square(a.2, b.2)
    };
    let steps = || (0..=255u8).step_by(15);
    for colour in steps().flat_map(|r| steps().flat_map(move |g| steps().map(move |b| (r, g, b)))) {
        let Color::Indexed(seen) = indexed(colour) else { panic!("{colour:?} has no index") };
        let nearest = (16..=255).map(|index| away(of_index(index), colour)).min();
        assert_eq!(Some(away(of_index(seen), colour)), nearest, "{colour:?}");
    }
}

#[test]
fn law_below_the_first_glow_the_port_is_dark_and_says_so() {
    let buffer = leaning(8.0, (8.0, 8.0), 480.0).draw(120, 40, TRUE_COLOUR);
    assert!(quarters(&buffer, inks(480.0).glow).len() > 600);
    let Color::Rgb(red, green, blue) = inks(480.0).glow else { panic!("no true colour") };
    assert!(red.max(green).max(blue) < 16);
    assert!(text(&buffer).contains("dark: nothing glows yet"));
}

/// 3 to 1 is the bound of the Web Content Accessibility Guidelines 2 for what is no text (success
/// criterion 1.4.11), 4.5 to 1 that for the names written below the cones (1.4.3).
#[test]
fn published_contrast_of_cones_in_the_glow() {
    let rgb = |colour| match colour {
        Color::Rgb(red, green, blue) => (red, green, blue),
        other => panic!("{other} is no true colour"),
    };
    for chamber in (0..1450).step_by(3).map(f64::from) {
        let inks = inks(chamber);
        let (glow, cone, label) = (rgb(inks.glow), rgb(inks.cone), rgb(inks.label));
        assert!(contrast(glow, cone) >= 3.0, "{chamber} C: {}", contrast(glow, cone));
        assert!(contrast(glow, label) >= 4.5, "{chamber} C: {}", contrast(glow, label));
    }
}

pub(super) fn usual() -> ConePack {
    ConePack::usual(cone("018"), Family::SelfSupporting)
}

const EIGHT: [&str; 8] = ["Heron", "Otter", "Wren", "Badger", "Finch", "Hare", "Owl", "Stoat"];

/// Eight kilns, each an hour further from its drop than the one before it.
pub(super) fn eight() -> Desk {
    let mut desk = lit(&EIGHT, usual());
    for (hours, (_, advice)) in (0..).zip(&mut desk.advices).skip(1) {
        let later = Span::hours(hours);
        advice.say = Task::NextLook;
        advice.next_look = advice.next_look.map(|at| at + later);
        advice.watch_opens = advice.watch_opens.map(|at| at + later);
        let forecast = advice.forecast.as_mut().unwrap();
        forecast.chamber = Some(Celsius(716.0 - 90.0 * hours as f64));
        forecast.p05 = forecast.p05 + later;
        forecast.p50 = forecast.p50 + later;
        forecast.p95 = forecast.p95 + later;
    }
    desk
}

#[test]
fn law_every_kiln_of_eight_is_on_the_floor() {
    let desk = eight();
    for (columns, rows) in [(80, 24), (120, 40), (200, 60), (300, 80)] {
        for theme in [PLAIN, ASCII] {
            let frame = text(&desk.draw(columns, rows, theme));
            for name in EIGHT {
                assert!(frame.contains(name), "{name} is not in\n{frame}");
            }
        }
    }
}

#[test]
fn law_what_comes_next_is_in_the_order_of_time_and_due_things_stay() {
    let mut desk = eight();
    let coming = desk.scene().agenda();
    assert!(coming.is_sorted_by_key(|one| one.at));
    assert_eq!((coming[0].kiln.as_str(), coming[0].task), ("Heron", Task::LookDue));
    assert_eq!(words::agenda_line(&coming[0], desk.now, &DIAL), "now look at Heron");
    let lines: Vec<String> =
        coming.iter().map(|one| words::agenda_line(one, desk.now, &DIAL)).collect();
    assert!(lines.contains(&"14:37 Otter's watch begins".to_owned()), "{lines:?}");
    assert!(lines.contains(&"14:52 Otter's cone likely drops".to_owned()), "{lines:?}");
    // Heron's likely drop passes; its look stays due.
    desk.now = NOW + Span::minutes(30);
    let coming = desk.scene().agenda();
    assert_eq!((coming[0].kiln.as_str(), coming[0].task), ("Heron", Task::LookDue));
    assert!(!coming.iter().any(|one| one.kiln == "Heron" && one.task == Task::Drop));
}

#[test]
fn law_no_size_breaks_the_floor() {
    let (one, many) = (lit(&["Heron"], usual()), eight());
    let bright = Theme { depth: Depth::Sixteen, paper: Paper::Bright, ascii: false };
    for columns in (0..=320).step_by(19) {
        for rows in (0..=90).step_by(7) {
            for theme in [ASCII, bright] {
                one.draw(columns, rows, theme);
                many.draw(columns, rows, theme);
            }
        }
    }
}
