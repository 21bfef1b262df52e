//! Renders real frames of the screen to SVG, for the README.
//!
//! ```text
//! cargo run --example pictures             writes assets/picture_*.svg anew
//! cargo run --example pictures -- FOLDER   writes them into another folder
//! ```
//!
//! The shop is made up, its kilns are simulated and forecast as in a rehearsal; what is drawn is
//! what the terminal would get, cell by cell. Blocks and dots are drawn as shapes, so that they
//! meet whatever font the reader has.

#[path = "../tests/it/review/history.rs"]
#[allow(dead_code, reason = "the tests use all of it, the picture a part")]
mod history;
#[path = "../tests/it/review/made.rs"]
#[allow(dead_code, reason = "the tests use all of it, the picture a part")]
mod made;
#[path = "../benches/made_up/mod.rs"]
mod made_up;
#[path = "../tests/it/memory.rs"]
#[allow(dead_code, reason = "the tests use all of it, the picture a part")]
mod memory;
mod svg;

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use made_up::{FLOOR, MadeUp, NOW, Stage};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use spyhole::testing::edge::screen::app::App;
use spyhole::testing::edge::screen::draw::{Picture, draw};
use spyhole::testing::edge::screen::review::Review;
use spyhole::testing::edge::screen::spots::Spots;
use spyhole::testing::edge::screen::theme::{Depth, Paper, Theme};
use spyhole::testing::edge::screen::view::View;
use spyhole::testing::firing::event::Seen;
use spyhole::testing::kiln::Fuel;
use spyhole::testing::scene::{Floor, Page, ReviewQuestion, Scene};
use spyhole::testing::units::{Scale, Span};
use spyhole::testing::words::{Clock, Dial, FixedZone};

const ONE: [MadeUp; 1] = [MadeUp {
    slip: Some(80),
    schedule: Some("Lustre and gold"),
    ..MadeUp::new("Heron", Fuel::Electric, "gold", Stage::Guide(Seen::Half))
}];

const FEW: [MadeUp; 3] = [
    MadeUp::new("Heron", Fuel::Gas, "gold", Stage::Target(Seen::Down)),
    MadeUp::new("Otter", Fuel::Electric, "stoneware glaze", Stage::Minutes(300)),
    MadeUp::new("Wren", Fuel::Gas, "decal", Stage::Empty),
];

/// A picture: its name, the shop, the size and how it is drawn.
struct Frame<'a> {
    name: &'a str,
    kilns: &'a [MadeUp],
    size: (u16, u16),
    far: bool,
    theme: Theme,
}

fn main() -> io::Result<()> {
    let folder = std::env::args().nth(1).map_or_else(|| PathBuf::from("assets"), PathBuf::from);
    let theme = |depth, paper, ascii| Theme { depth, paper, ascii };
    let dark = theme(Depth::True, Paper::Dark, false);
    let bright = theme(Depth::True, Paper::Bright, false);
    let plain = theme(Depth::None, Paper::Dark, true);
    for frame in [
        Frame { name: "floor", kilns: &FLOOR, size: (120, 40), far: false, theme: dark },
        Frame { name: "one_kiln", kilns: &ONE, size: (120, 36), far: false, theme: dark },
        Frame { name: "bright", kilns: &FEW, size: (120, 40), far: false, theme: bright },
        Frame { name: "far", kilns: &ONE, size: (80, 24), far: true, theme: dark },
        Frame { name: "ascii", kilns: &ONE, size: (80, 24), far: false, theme: plain },
    ] {
        write(&frame, &folder)?;
    }
    review(&folder, dark)
}

/// The review of a made-up year: what has drifted.
fn review(folder: &Path, theme: Theme) -> io::Result<()> {
    let memory = history::remembered(&history::firings(NOW));
    let question = ReviewQuestion { now: NOW, ..ReviewQuestion::default() };
    let review = Review {
        page: Page::Drift,
        scene: Some(Box::new(memory.review(&question, &history::prices()))),
        ..Review::default()
    };
    let scene = Floor { shop: memory.shop().into(), ..Floor::default() }.scene(NOW);
    let mut app = App::default();
    app.view = View::Review(Box::new(review));
    draw_into(&folder.join("picture_review.svg"), &scene, &app, theme, (100, 30))
}

fn write(frame: &Frame<'_>, folder: &Path) -> io::Result<()> {
    let scene = made_up::shop(frame.kilns).scene(NOW);
    let mut app = App::default();
    app.far = frame.far;
    let path = folder.join(format!("picture_{}.svg", frame.name));
    draw_into(&path, &scene, &app, frame.theme, frame.size)
}

fn draw_into(
    path: &Path,
    scene: &Scene,
    app: &App,
    theme: Theme,
    (columns, rows): (u16, u16),
) -> io::Result<()> {
    let zone = FixedZone(Span::ZERO);
    let dial = Dial { zone: &zone, clock: Clock::default(), scale: Scale::default() };
    let picture = Picture {
        scene,
        app,
        dial,
        theme,
        schedules: &[],
        guidance: None,
        speed: None,
        spots: &Spots::default(),
    };
    let area = Rect::new(0, 0, columns, rows);
    let mut buffer = Buffer::empty(area);
    draw(&picture, area, &mut buffer);
    fs::write(path, svg::of(&buffer))
}
