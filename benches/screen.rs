//! One frame of the floor with eight lit kilns at 200x60. The goal is less than 1 ms.
//!
//! ```text
//! cargo bench --bench screen
//! ```
//!
//! Each frame is drawn anew from its scene into a buffer as large as the terminal, as the driver
//! does before it sends what has changed. The median and the slowest in a hundred are printed,
//! for the scene (what there is to see at a moment) and for the drawing.

mod made_up;

use std::hint::black_box;
use std::io::{self, Write};
use std::time::{Duration, Instant};

use made_up::{FLOOR, MadeUp, Stage};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use spyhole::testing::edge::screen::app::App;
use spyhole::testing::edge::screen::draw::{Picture, draw};
use spyhole::testing::edge::screen::spots::Spots;
use spyhole::testing::edge::screen::theme::{Depth, Paper, Theme};
use spyhole::testing::firing::event::Seen;
use spyhole::testing::kiln::Fuel;
use spyhole::testing::scene::Scene;
use spyhole::testing::units::{Scale, Span};
use spyhole::testing::words::{Clock, Dial, FixedZone};

/// Eight kilns, all of them lit.
const EIGHT_LIT: [MadeUp; 8] = [
    MadeUp::new("Heron", Fuel::Gas, "gold", Stage::Target(Seen::Leaning)),
    MadeUp::new("Otter", Fuel::Electric, "decal", Stage::Guide(Seen::Half)),
    MadeUp::new("Wren", Fuel::Gas, "china paint", Stage::Minutes(150)),
    MadeUp::new("Badger", Fuel::Gas, "stoneware glaze", Stage::Minutes(420)),
    MadeUp::new("Finch", Fuel::Electric, "earthenware glaze", Stage::Minutes(330)),
    MadeUp::new("Hare", Fuel::Electric, "earthenware bisque", Stage::Minutes(95)),
    MadeUp::new("Owl", Fuel::Gas, "gold", Stage::Minutes(35)),
    MadeUp::new("Stoat", Fuel::Gas, "stoneware bisque", Stage::Minutes(260)),
];

const FRAMES: usize = 2000;

fn main() -> io::Result<()> {
    let snapshot = made_up::shop(&EIGHT_LIT);
    let scene = snapshot.scene(made_up::NOW);
    assert_eq!(scene.kilns.iter().filter(|kiln| kiln.is_lit()).count(), 8);
    let mut out = io::stdout();
    let made = timed(|| {
        black_box(snapshot.scene(black_box(made_up::NOW)));
    });
    report("the scene", made, &mut out)?;
    for (depth, ascii, name) in [
        (Depth::True, false, "eight lit at 200x60, true colour"),
        (Depth::Indexed, false, "eight lit at 200x60, 256 colours"),
        (Depth::None, true, "eight lit at 200x60, ASCII"),
    ] {
        let theme = Theme { depth, paper: Paper::Dark, ascii };
        report(name, drawn(&scene, theme, (200, 60)), &mut out)?;
    }
    let mixed = made_up::shop(&FLOOR).scene(made_up::NOW);
    let theme = Theme { depth: Depth::True, paper: Paper::Dark, ascii: false };
    report("the README's floor at 120x40", drawn(&mixed, theme, (120, 40)), &mut out)
}

fn drawn(scene: &Scene, theme: Theme, (columns, rows): (u16, u16)) -> Vec<Duration> {
    let zone = FixedZone(Span::ZERO);
    let dial = Dial { zone: &zone, clock: Clock::default(), scale: Scale::default() };
    let (app, spots) = (App::default(), Spots::default());
    let picture = Picture {
        scene,
        app: &app,
        dial,
        theme,
        schedules: &[],
        guidance: None,
        speed: None,
        spots: &spots,
    };
    let area = Rect::new(0, 0, columns, rows);
    let mut buffer = Buffer::empty(area);
    timed(|| {
        draw(black_box(&picture), area, &mut buffer);
        black_box(&buffer);
    })
}

fn timed(mut work: impl FnMut()) -> Vec<Duration> {
    let one = |_| {
        let clock = Instant::now();
        work();
        clock.elapsed()
    };
    let mut times: Vec<Duration> = (0..FRAMES).map(one).collect();
    times.sort_unstable();
    times
}

fn report(what: &str, times: Vec<Duration>, out: &mut impl Write) -> io::Result<()> {
    let (median, slow) = (times[FRAMES / 2], times[FRAMES - FRAMES / 100]);
    writeln!(out, "{what}: median {median:.0?}, slowest in a hundred {slow:.0?}")
}
