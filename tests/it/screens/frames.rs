//! Golden frames: every screen at three sizes, whole frames compared.
//!
//! One table, `tests/data/frames.toml`. A screen is its name and how somebody gets there, by keys and clicks through
//! the real update; the text of its frames is kept in `tests/frames/NAME.txt`. To add one, add a row, run
//! `SPYHOLE_WRITE_FRAMES=1 cargo test --test it -- screens`, and look at the file before keeping it.
//!
//! One look is kept; that the others show the same is compared as the tests run. Of six screens the
//! styles are kept too, in `tests/frames/styled`: for each row the columns that are not in the
//! commonest style, a letter for each style, and below them what the letters stand for.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;
use std::sync::{Arc, OnceLock};

use ratatui::buffer::Buffer;
use ratatui::layout::Position;
use ratatui::style::{Color, Modifier};
use spyhole::testing::edge::bell::settings::{CommandSettings, HoursKeys, OutKeys, PersonKeys};
use spyhole::testing::edge::shop::store::Settings;
use spyhole::testing::firing::Unread;
use spyhole::testing::forecast::SetAside;
use spyhole::testing::plan::DayPlan;

use super::desk::{Desk, NOW, text};
use super::port::{cone, eight, lit, usual};
use crate::prelude::*;
use crate::review::made::came;

const SIZES: [(u16, u16); 3] = [(40, 12), (80, 24), (120, 40)];

const fn look(depth: Depth, paper: Paper, ascii: bool) -> Theme {
    Theme { depth, paper, ascii }
}

/// The look whose text is kept; in the others the same stands at the same place.
const KEPT: Theme = look(Depth::None, Paper::Dark, false);
/// The look with the most styles of its own.
const TRUE: Theme = look(Depth::True, Paper::Dark, false);

/// Looks that differ from [`TRUE`] in their colours alone.
const COLOURED: [Theme; 4] = [
    look(Depth::Indexed, Paper::Dark, false),
    look(Depth::Sixteen, Paper::Dark, false),
    look(Depth::True, Paper::Bright, false),
    look(Depth::Sixteen, Paper::Bright, false),
];

/// Screens whose styles are kept as well: what rings, a wall view of it, a refusal without colour, a
/// chart, a light ground, and the view through the spyhole.
const STYLED: [(&str, (u16, u16), Theme); 6] = [
    ("look_due", (80, 24), TRUE),
    ("far_view_of_what_rings", (80, 24), COLOURED[0]),
    ("not_saved", (80, 24), KEPT),
    ("review_drift", (80, 24), COLOURED[2]),
    ("eight_kilns", (80, 24), COLOURED[3]),
    ("one_kiln_dark_red", (40, 12), COLOURED[1]),
];

/// Every screen by its name: where somebody begins and what they press, in `tests/data/frames.toml`.
fn screens() -> BTreeMap<String, [String; 2]> {
    data("frames.toml")
}

fn shown([from, keys]: &[String; 2]) -> Desk {
    begun(from).after(keys)
}

/// Where screens and stories begin.
pub(super) fn begun(name: &str) -> Desk {
    match name {
        "" => Desk::busy(),
        "empty" => Desk::empty(),
        "first_start" => {
            let mut desk = Desk::empty();
            desk.hear(Input::Opened);
            desk
        }
        "with_past" => Desk::with_past(),
        "with_a_year" => Desk::with_a_year(),
        "at_the_bench" => Desk::at_the_bench(),
        "countdown" => countdown(),
        "target_leans" => target_leans(),
        "likely_down" => likely_down(),
        "shut_off" => shut_off(),
        "one_kiln" => one_kiln(),
        "dark_red" => dark_red(),
        "two_cones_down" => two_cones_down(),
        "looks_that_disagree" => looks_that_disagree(),
        "eight" => eight(),
        "cannot_be_read" => cannot_be_read(),
        "two_that_ring" => super::lead::two_that_ring(),
        "long_names" => long_names(),
        "fahrenheit_and_twelve_hours" => fahrenheit_and_twelve_hours(),
        "far_view" => far_view(),
        "not_advised_yet" => cooled(),
        "cooled" | "cooled_longer" => {
            let mut desk = cooled();
            desk.now = if name == "cooled" { desk.now } else { NOW + Span::minutes(15) };
            desk.advise_cooling();
            desk
        }
        "not_saved" => not_saved(),
        "the_day" => the_day(),
        "a_quiet_day" => a_quiet_day(),
        "two_firings" => two_firings(),
        "own_schedules" => own_schedules(),
        "with_settings" => with_settings(),
        "garbled_settings" => garbled_settings(),
        "clicks_to_a_choice" => clicks_to_a_choice(),
        "clicks_to_the_shop" => clicks_to_the_shop(),
        other => panic!("no desk is called {other}"),
    }
}

fn countdown() -> Desk {
    let mut desk = Desk::busy();
    desk.heron().say = Task::NextLook;
    desk.heron().next_look = Some(NOW + Span::seconds(9 * 60 + 41));
    desk
}

/// The next look at Heron is some minutes away, and its target leans.
pub(super) fn target_leans() -> Desk {
    let mut desk = countdown();
    let look = Look { target: Some(Seen::Leaning), ..Look::default() };
    desk.write(1, NOW - Span::minutes(1), What::Look(look));
    desk.heron().watch_opens = Some(NOW + Span::minutes(5));
    desk
}

/// Nobody has looked, and its drop is most likely past.
pub(super) fn likely_down() -> Desk {
    let mut desk = Desk::busy();
    let heron = desk.heron();
    heron.say = Task::Stay;
    let forecast = heron.forecast.as_mut().unwrap();
    forecast.dropped = 0.99;
    forecast.p05 = NOW - Span::minutes(52);
    forecast.p50 = NOW - Span::minutes(47);
    forecast.p95 = NOW - Span::minutes(41);
    desk
}

fn shut_off() -> Desk {
    let mut desk = Desk::busy();
    let look = Look { target: Some(Seen::Down), guide: Some(Seen::Down), guard: None };
    desk.write(1, NOW - Span::seconds(125), What::Look(look));
    let heron = desk.heron();
    heron.say = Task::ShutOff;
    heron.overshoot = Some(Span::seconds(125));
    heron.overshoot_cones = Some(0.11);
    desk
}

/// The target of Heron was seen down, and three minutes later standing.
pub(super) fn looks_that_disagree() -> Desk {
    let mut desk = Desk::busy();
    let look = |target| What::Look(Look { target: Some(target), ..Look::default() });
    desk.write(1, NOW - Span::minutes(5), look(Seen::Down));
    desk.write(1, NOW - Span::minutes(2), look(Seen::Standing));
    let heron = desk.heron();
    heron.say = Task::ShutOff;
    let otherwise = std::mem::replace(&mut heron.forecast, Err(Declined::Over));
    heron.otherwise = otherwise.ok();
    desk
}

fn one_kiln() -> Desk {
    let mut desk = lit(&["Heron"], usual());
    desk.write(1, NOW - Span::minutes(30), What::Reading(Celsius(1190.0)));
    let advice = desk.heron();
    advice.schedule = vec![(Span::ZERO, Celsius(20.0)), (Span::hours(5), Celsius(740.0))];
    let silly = SetAside {
        at: NOW - Span::minutes(30),
        reading: Some(Celsius(1190.0)),
        why: Implausible::Jump,
    };
    advice.forecast.as_mut().unwrap().set_aside = vec![silly];
    desk
}

/// Shortly after its first glow, a look far ahead.
fn dark_red() -> Desk {
    let mut desk = lit(&["Heron"], usual());
    let advice = desk.heron();
    (advice.say, advice.next_look) = (Task::NextLook, Some(NOW + Span::minutes(55)));
    let forecast = advice.forecast.as_mut().unwrap();
    forecast.chamber = Some(Celsius(610.0));
    for cone in &mut forecast.cones {
        (cone.lean_deg, cone.lean_range_deg) = (8.0, (8.0, 9.0));
    }
    desk
}

/// Guide and target lie on the floor, one towards the other.
pub(super) fn two_cones_down() -> Desk {
    let mut desk = lit(&["Heron"], usual());
    let down = |name: &str| ConeNow {
        cone: cone(name),
        heat_work: 1.1,
        lean_deg: 90.0,
        lean_range_deg: (90.0, 90.0),
    };
    let guard =
        ConeNow { cone: cone("017"), heat_work: 0.4, lean_deg: 18.0, lean_range_deg: (16.0, 20.0) };
    let forecast = desk.heron().forecast.as_mut().unwrap();
    forecast.cones = vec![down("019"), down("018"), guard];
    desk
}

fn long_names() -> Desk {
    let names = [
        "The large gas kiln behind the glaze room",
        "Grandmother's electric kiln with the new elements",
        "Wren",
    ];
    lit(&names, usual())
}

fn fahrenheit_and_twelve_hours() -> Desk {
    let mut desk = one_kiln().after("ck");
    assert_eq!((desk.dial.scale, desk.dial.clock), (Scale::Fahrenheit, Clock::TwelveHour));
    desk.heron().say = Task::Stay;
    desk
}

/// Two kilns burn, one is empty; gold and decals wait. The plan is made once for all of them.
fn the_day() -> Desk {
    static DAY: OnceLock<Arc<DayPlan>> = OnceLock::new();
    let lots = ["i1\trims\t40\tfull\t3\n", "i3\tplates\t12\thalf\t3\n"];
    let mut desk = lots.iter().fold(Desk::with_past(), |desk, keys| desk.after(keys));
    desk.plans = Some(Arc::clone(DAY.get_or_init(|| Arc::new(desk.day_plan()))));
    desk.after("7")
}

/// The next morning: what burned is drawn and judged, and gold waits.
fn a_quiet_day() -> Desk {
    static DAY: OnceLock<Arc<DayPlan>> = OnceLock::new();
    let mut desk = Desk::with_past();
    for firing in [1, 2] {
        let drawn = NOW + Span::hours(17);
        desk.write(firing, NOW + Span::minutes(10), What::Off);
        desk.write(firing, drawn, What::Drawn);
        desk.write(firing, drawn, What::Outcome(came(Verdict::Good)));
    }
    desk.advices.clear();
    desk.now = NOW + Span::hours(18);
    let mut desk = desk.after("i1\trims\t40\tfull\t3\n");
    desk.plans = Some(Arc::clone(DAY.get_or_init(|| Arc::new(desk.day_plan()))));
    desk
}

fn far_view() -> Desk {
    let mut desk = Desk::busy().after("v");
    desk.heron().say = Task::NextLook;
    desk.heron().next_look = Some(NOW + Span::minutes(25));
    desk
}

/// Heron is off since yesterday.
pub(super) fn cooled() -> Desk {
    let mut desk = Desk::busy();
    desk.write(1, NOW - Span::minutes(5), What::Off);
    desk.advices.clear();
    desk.now = NOW + Span::hours(16);
    desk.press(Key::Tab);
    while desk.app.kiln(&desk.scene()).is_some_and(|kiln| kiln.kiln != "Heron") {
        desk.press(Key::Tab);
    }
    desk
}

fn not_saved() -> Desk {
    let mut desk = Desk::busy();
    desk.refuses = Some("the disk is full");
    desk.after("r720C\n")
}

fn two_firings() -> Desk {
    Desk::with_past().after("2wren\n\n↓\n")
}

/// Two files of the shop's own, one of them garbled.
pub(super) fn own_schedules() -> Desk {
    let mut desk = Desk::busy();
    let mut own = shipped_schedules::named("lustre_and_gold").unwrap();
    own.name = "Gold on the blue cups".into();
    let at = |name: &str| format!("/shop/schedules/{name}");
    let garbled = schedule_file::from_json("{\"version\": 1,\n \"nmae\": \"Cups\"}");
    let why = garbled.unwrap_err().to_string();
    desk.schedules.extend([
        Offered { reference: at("blue_cups.json"), found: Ok(own), own: true, last_in: Vec::new() },
        Offered {
            reference: at("white_cups.json"),
            found: Err(why),
            own: true,
            last_in: Vec::new(),
        },
    ]);
    desk
}

/// A shop that calls two people and has an alarm out of service.
pub(super) fn with_settings() -> Desk {
    let mut desk = Desk::busy();
    let hours = |from: &str, to: &str| Some(HoursKeys { from: from.into(), to: to.into() });
    let bell = BellFile {
        people: vec![
            PersonKeys {
                name: "Ada".into(),
                ways: vec!["sound".into(), "desktop".into(), "terminal".into()],
                reach: String::new(),
                on_duty: hours("6:00", "18:00"),
            },
            PersonKeys {
                name: "Ben".into(),
                ways: vec!["command".into()],
                reach: "ben@example.org".into(),
                on_duty: None,
            },
        ],
        muted: hours("22:00", "7:00"),
        command: Some(CommandSettings {
            program: "/usr/local/bin/call-somebody".into(),
            arguments: vec!["--loud".into()],
            time_limit_s: 10,
        }),
        loudest: Some(0.8),
        out_of_service: vec![OutKeys {
            kiln: "Otter".into(),
            alarm: "probe_trouble".into(),
            why: "the probe is at the maker's".into(),
        }],
        ..BellFile::default()
    };
    desk.settings = Some(Settings { house: Ok(House::default()), bell: Ok(bell) });
    desk
}

fn garbled_settings() -> Desk {
    let mut desk = Desk::busy();
    let why = "the bell settings /shop/shop.db.bell.json, line 1, column 9: unknown key \"peopel\"";
    desk.settings = Some(Settings { house: Ok(House::default()), bell: Err(why.into()) });
    desk
}

/// By the mouse alone: a kiln, the hint that notes a look there, a word for its guide.
fn clicks_to_a_choice() -> Desk {
    let (mut desk, size) = (Desk::busy(), (120, 40));
    desk.click_on(size, "Otter");
    desk.hear(Input::Mouse(Mouse::WheelUp));
    desk.click_on(size, " l  look");
    desk.click_on(size, "half");
    desk
}

/// By the mouse alone: the help, the shop in it, gold, and what becomes of it when under-fired.
fn clicks_to_the_shop() -> Desk {
    let (mut desk, size) = (eight(), (80, 24));
    desk.type_in("?");
    desk.click_on(size, " shop");
    desk.click_on(size, "gold");
    desk.click_on(size, "if under");
    desk.click_on(size, "2 lost");
    desk
}

/// A look that nobody can read any more; everything shown lacks it.
fn cannot_be_read() -> Desk {
    let unread = Unread {
        by_summary: false,
        event: EventId(14),
        firing: Some(FiringId(1)),
        kiln: "Heron".into(),
        at: NOW - Span::minutes(11),
        kind: Some("look"),
        newer: false,
    };
    let mut desk = Desk::with_past();
    desk.unread = vec![unread];
    desk
}

type Styled = (Color, Color, Modifier);

fn style_at(buffer: &Buffer, position: Position) -> Styled {
    let cell = &buffer[position];
    (cell.fg, cell.bg, cell.modifier)
}

/// Where a frame has which style, and what the styles are, the commonest first.
fn styles(buffer: &Buffer) -> String {
    let mut known: Vec<(Styled, usize)> = Vec::new();
    for position in buffer.area.positions() {
        let style = style_at(buffer, position);
        match known.iter_mut().find(|(seen, _)| *seen == style) {
            Some((_, count)) => *count += 1,
            None => known.push((style, 1)),
        }
    }
    // Where two are as common, the one seen first stays first.
    let common = (0..known.len()).rev().max_by_key(|at| known[*at].1).unwrap_or(0);
    known[..=common].rotate_right(1);
    let letter = |index: usize| char::from(b'a' + u8::try_from(index).unwrap());
    let mut told = String::new();
    for (number, row) in buffer.area.rows().enumerate() {
        let mut runs: Vec<(u16, u16, usize)> = Vec::new();
        for position in row.positions() {
            let style = style_at(buffer, position);
            let index = known.iter().position(|(seen, _)| *seen == style).unwrap();
            match runs.last_mut() {
                Some((_, last, of)) if *of == index => *last = position.x,
                _ => runs.push((position.x, position.x, index)),
            }
        }
        runs.retain(|(.., index)| *index > 0);
        if !runs.is_empty() {
            let runs =
                runs.iter().map(|(first, last, at)| format!(" {}{first}-{last}", letter(*at)));
            writeln!(told, "{number:>3}:{}", runs.collect::<String>()).unwrap();
        }
    }
    for (index, ((ink, paper, modifier), _)) in known.iter().enumerate() {
        let how = format!("{modifier:?}").replace("NONE", "").to_lowercase();
        let line = format!("{} = {ink} on {paper} {how}", letter(index));
        writeln!(told, "{}", line.trim_end()).unwrap();
    }
    told
}

/// The text of one screen at every size.
fn texts(desk: &Desk) -> String {
    let frame = |(columns, rows)| {
        format!("=== {columns}x{rows}\n{}", text(&desk.draw(columns, rows, KEPT)))
    };
    SIZES.map(frame).concat()
}

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/frames")
}

/// What is drawn otherwise than it is kept in this file; or writes it anew.
fn difference(file: &str, drawn: &str) -> Option<String> {
    let path = folder().join(file);
    if std::env::var_os("SPYHOLE_WRITE_FRAMES").is_some() {
        fs::write(&path, drawn).unwrap();
    }
    let kept = fs::read_to_string(&path).unwrap_or_default();
    let at = drawn.lines().zip(kept.lines()).take_while(|(drawn, kept)| drawn == kept).count();
    let line = |text: &str| text.lines().nth(at).unwrap_or("nothing").to_owned();
    let found = format!("{file}:{}:\n  drawn {}\n  kept  {}", at + 1, line(drawn), line(&kept));
    (drawn != kept).then_some(found)
}

#[test]
fn regress_every_screen_at_every_size() {
    let all = screens();
    let screens = all.iter().map(|(name, how)| (format!("{name}.txt"), texts(&shown(how))));
    let styled = STYLED.map(|(name, (columns, rows), theme)| {
        (format!("styled/{name}.txt"), styles(&shown(&all[name]).draw(columns, rows, theme)))
    });
    let wrong: Vec<String> =
        screens.chain(styled).filter_map(|(file, drawn)| difference(&file, &drawn)).collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Without colour nothing is lost: every look has the same text, but for the picture in the spyhole,
/// which is drawn in quarters of cells where there is colour and in letters where there is none. What is
/// in one style in true colour is in one style in every other: a look decides nothing of its own. A
/// terminal without other letters gets none.
#[test]
fn law_every_look_says_the_same_at_the_same_places() {
    const QUARTERS: &str = " ▘▝▀▖▌▞▛▗▚▐▜▄▙▟█";
    for (name, how) in screens() {
        let desk = shown(&how);
        for (columns, rows) in SIZES {
            let [plain, finest] = [KEPT, TRUE].map(|theme| desk.draw(columns, rows, theme));
            for position in plain.area.positions() {
                let [without, with] = [&plain, &finest].map(|frame| frame[position].symbol());
                let same = without == with || QUARTERS.contains(with);
                assert!(same, "{name}, {columns}x{rows}, {position}: {without:?} is {with:?}");
            }
            for theme in COLOURED {
                let (frame, mut becomes) = (desk.draw(columns, rows, theme), Vec::new());
                assert_eq!(text(&frame), text(&finest), "{name}");
                for position in finest.area.positions() {
                    let [from, to] = [&finest, &frame].map(|frame| style_at(frame, position));
                    if !becomes.iter().any(|(known, _)| *known == from) {
                        becomes.push((from, to));
                    }
                    let same = becomes.contains(&(from, to));
                    assert!(same, "{name}, {columns}x{rows}, {position}: {theme:?}");
                }
            }
        }
        for (columns, rows) in [(40, 12), (80, 24), (200, 60)] {
            for depth in [Depth::None, Depth::Indexed] {
                let frame = text(&desk.draw(columns, rows, look(depth, Paper::Dark, true)));
                assert!(frame.is_ascii(), "{name} at {columns}x{rows}");
            }
        }
    }
}

/// Every file of frames belongs to a screen of the tables.
#[test]
fn law_no_frames_are_left_over() {
    let kept = |folder: PathBuf| -> BTreeSet<String> {
        let files = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
        let files = files.filter(|path| path.is_file());
        files.map(|path| path.file_stem().unwrap().to_str().unwrap().to_owned()).collect()
    };
    assert_eq!(kept(folder()), screens().into_keys().collect());
    let styled = STYLED.map(|(name, ..)| name.to_owned()).into();
    assert_eq!(kept(folder().join("styled")), styled);
}
