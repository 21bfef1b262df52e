//! Random keys while kilns become due in turn: what is written is of the kiln that the frame named,
//! and nothing typed is lost. `SPYHOLE_KEYS=100000` presses more of them, from
//! `SPYHOLE_SEED` on.

use std::collections::BTreeMap;
use std::sync::{Arc, OnceLock};

use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;
use ratatui::layout::Rect;
use spyhole::testing::casting::What as Bench;
use spyhole::testing::edge::screen::key;
use spyhole::testing::plan::DayPlan;

use super::desk::{Desk, PLAIN, text};
use super::due::{DUE, both_due, calm, heron_is_due};
use crate::prelude::*;

/// Whatever a frame or an event can be about.
const NAMES: [&str; 5] = ["Heron", "Otter", "Wren", "A1", "B1"];

/// Seeds that found something: on a page, an alarm was answered that its frame had not named; beside a kiln
/// that was chosen, the large letters name a key of their own.
const FOUND: [u64; 2] = [5319, 52152];

/// `SPYHOLE_KEYS` of them, from `SPYHOLE_SEED` on, and those that found something.
fn seeds() -> impl Iterator<Item = u64> {
    let number = |name| std::env::var(name).map(|text| text.parse().expect("a whole number")).ok();
    let first = number("SPYHOLE_SEED").unwrap_or(0);
    FOUND.into_iter().chain(first..first + number("SPYHOLE_KEYS").unwrap_or(60))
}

/// Two moulds on the bench, one of them poured, and a plan of the day.
fn with_pages(mut desk: Desk) -> Desk {
    static DAY: OnceLock<Arc<DayPlan>> = OnceLock::new();
    desk.add_mould("A1");
    desk.add_mould("B1");
    desk.pour("A1", 20);
    desk.plans = Some(Arc::clone(DAY.get_or_init(|| Arc::new(desk.day_plan()))));
    desk.written.clear();
    desk
}

/// Whether this name is a word of a text.
fn is_word_of(text: &str, name: &str) -> bool {
    text.split(|c: char| !c.is_alphanumeric()).any(|word| word == name)
}

/// Those of the names that are words of a text.
fn named_in(text: &str) -> Vec<&'static str> {
    NAMES.into_iter().filter(|name| is_word_of(text, name)).collect()
}

/// Whether a text is about this one, which may be a mould that the keys described, and no other.
fn is_of(text: &str, name: &str) -> bool {
    is_word_of(text, name) && named_in(text).iter().all(|other| *other == name)
}

/// A frame as somebody reads it.
#[derive(Debug, Default)]
struct Seen {
    frame: String,
    /// The title of the form on it, and all that the form says below.
    form: Option<(String, String)>,
}

impl Seen {
    /// The next frame: the screen is told of it.
    fn next(desk: &mut Desk, scene: &Scene) -> Seen {
        desk.app.shows(scene, desk.running);
        let frame = text(&desk.draw_of(scene, Rect::new(0, 0, 80, 24), PLAIN));
        let lines: Vec<Vec<char>> = frame.lines().map(|line| line.chars().collect()).collect();
        // A form is the one frame of this width.
        let edges = |line: &[char]| Some((*line.get(2)?, *line.get(77)?));
        let inside = |line: &[char]| -> String { line[3..77].iter().collect() };
        let top = lines.iter().position(|line| edges(line) == Some(('╭', '╮')));
        let form = top.map(|top| {
            let rest = &lines[top + 1..];
            let body = rest.iter().take_while(|line| edges(line) == Some(('│', '│')));
            let body: Vec<String> = body.map(|line| inside(line)).collect();
            let body = body.join(" ").split_whitespace().collect::<Vec<_>>().join(" ");
            (inside(&lines[top]), body)
        });
        Seen { frame, form }
    }

    fn last_line(&self) -> &str {
        self.frame.lines().last().unwrap_or_default()
    }

    /// Whose this key is, as the last line says: of an alarm, or of the kiln that all others are for.
    fn whose(&self, key: char) -> Option<&'static str> {
        let hints = self.last_line().split("   ").map(|hint| hint.trim_start());
        let of = |hint: &str| {
            hint.split_once("  ").map(|(label, said)| {
                (label == "a", label.to_owned(), named_in(said).first().copied())
            })
        };
        let hints: Vec<_> = hints.filter_map(of).collect();
        // The sentence beside the large letters names this one.
        if key == 'u' && self.frame.contains("press u") {
            return self.frame.lines().skip(1).find_map(|line| named_in(line).first().copied());
        }
        let exact = hints.iter().find(|(_, label, _)| *label == key.to_string());
        let any = hints.iter().find(|(answers, _, name)| !answers && name.is_some());
        exact.or(any.filter(|_| !"a@".contains(key))).and_then(|(.., name)| *name)
    }
}

/// Lets each of both kilns be due for one thing or another, or not: once in `seldom`, so that pages stay
/// open.
fn turn(desk: &mut Desk, seldom: u64, random: &mut Pcg64Mcg) {
    let tasks = [Task::NextLook, Task::NextLook, Task::LookDue, Task::Stay, Task::ProbablyDown];
    for (_, advice) in &mut desk.advices {
        let stays = random.random_range(0..seldom) > 0;
        let Some(forecast) = advice.forecast.as_mut().ok().filter(|_| !stays) else { continue };
        advice.say = tasks[random.random_range(0..tasks.len())];
        forecast.dropped = if advice.say == Task::ProbablyDown { 0.95 } else { 0.0 };
        let minutes = if advice.say == Task::NextLook { 40 } else { -random.random_range(1..9) };
        advice.next_look = Some(desk.now + Span::minutes(minutes));
    }
}

/// What an entry is about: a kiln, or a mould that is known.
fn about(desk: &Desk, entry: &Entry) -> Option<String> {
    match (&entry.what, entry.about) {
        (What::Lit(lit), _) => Some(lit.kiln.clone()),
        (What::Packed(packing), _) => Some(packing.kiln.clone()),
        (
            What::Bench(
                Bench::Poured { mould, .. } | Bench::Drained { mould } | Bench::Check { mould, .. },
            ),
            _,
        ) => Some(mould.clone()),
        (What::KilnNote { kiln, .. }, _) => Some(kiln.clone()),
        (_, About::Firing(firing)) => Some(desk.memory.firing(firing)?.kiln.clone()),
        _ => None,
    }
}

/// Kilns become more and less urgent than one another between any two keys, before or after the frame
/// that shows it. What is written is of the kiln that the frame under the finger named: in the title of
/// the form, in its line "Enter writes:", and in the last line for the key that opened it. Where
/// another kiln had taken its place meanwhile, the form asks first which is meant.
#[test]
fn law_nothing_is_written_of_a_kiln_that_the_frame_did_not_name() {
    let mut confirmed: BTreeMap<String, u64> = BTreeMap::new();
    // How often both were due and another one came first than the frame had named.
    let mut overtaken = 0;
    for seed in seeds() {
        let mut random = Pcg64Mcg::seed_from_u64(seed);
        let mut desk = with_pages(both_due());
        let seldom = 2 + seed % 3;
        turn(&mut desk, seldom, &mut random);
        desk.type_in(["", "6", "7"][random.random_range(0..3)]);
        desk.hasty = true;
        let (mut seen, mut named) = (Seen::default(), None);
        for press in 0..16 {
            turn(&mut desk, seldom, &mut random);
            desk.running = desk.running + Span(random.random_range(0..2500));
            let scene = desk.scene();
            // Now and then the key is quicker than the frame.
            if press == 0 || random.random_range(0..3) > 0 {
                seen = Seen::next(&mut desk, &scene);
                named = scene.due().map(|due| due.kiln.clone());
                desk.running = desk.running + Span(random.random_range(0..2500));
            }
            let keys = match (&seen.form, &desk.app.view) {
                (Some(_), _) => "sldh21C\n\n\n\n\n\t@!",
                (None, View::Floor) => "lloooaarrdegntpfux6677234\t\t@/",
                (None, View::Bench(_) | View::Plan(_)) => "pdwnfcomruia167@!\t\n",
                (None, _) => "a234567@@!\n",
            };
            let key = char::from(keys.as_bytes()[random.random_range(0..keys.len())]);
            let both = desk.advices.iter().all(|(_, advice)| advice.say.is_at_the_kiln());
            let first = scene.due().map(|due| due.kiln.clone());
            overtaken += u64::from(both && first != named);
            let page = key::binding(desk.app.view.meaning()).short;
            let had_form = desk.app.form.is_some();
            let entries = desk.type_in(&key.to_string());
            let told = format!("seed {seed}, press {press}, {key:?} on\n{}", seen.frame);
            for entry in &entries {
                let Some(name) = about(&desk, entry) else {
                    *confirmed.entry(format!("{page} true")).or_default() += 1;
                    continue;
                };
                let Some((title, body)) = &seen.form else {
                    // The one key that writes without a form is the one that answers.
                    let first = named_in(seen.frame.lines().next().unwrap_or_default());
                    let whose =
                        seen.whose('a').or(first.first().copied().filter(|_| page != "floor"));
                    assert_eq!((key, whose), ('a', Some(&*name)), "{told}");
                    continue;
                };
                assert_eq!(key, '\n', "{told}");
                let struck = matches!(entry.what, What::Struck { .. });
                assert!(struck || is_of(title, &name), "{name}: {told}");
                let writes = body.split_once("Enter writes:").or(body.split_once("Enter strikes"));
                // After a question, asked once, no such line stands.
                if let Some((_, line)) = writes {
                    assert!(is_word_of(line, &name), "{name}: {told}");
                }
                *confirmed.entry(format!("{page} {}", writes.is_some())).or_default() += 1;
            }
            // The driver draws once more before it listens.
            let scene = desk.scene();
            let now = Seen::next(&mut desk, &scene);
            named = scene.due().map(|due| due.kiln.clone());
            if let (false, Some((title, body)), Some(name)) = (had_form, &now.form, seen.whose(key))
                && let [opened] = named_in(title)[..]
            {
                let asks = named_in(body).contains(&name);
                assert!(opened == name || asks, "{told}\nopened\n{}", now.frame);
            }
            seen = now;
        }
    }
    println!("confirmed: {confirmed:?}, overtaken: {overtaken}");
    assert!(overtaken > 0, "no two kilns changed places");
    let pages = ["floor", "bench", "plan"];
    let blind = pages.iter().find(|page| !confirmed.contains_key(&format!("{page} true")));
    assert!(blind.is_none(), "nothing was confirmed on {blind:?}: {confirmed:?}");
}

/// Whatever else is pressed while a kiln becomes due and is no longer: what is being typed, on the floor
/// or on a page, comes back with all that was typed into it.
#[test]
fn law_nothing_typed_is_lost_when_a_kiln_becomes_due() {
    let keys: Vec<char> = "loadsgx234567@@@\t\n!".chars().collect();
    for seed in seeds() {
        let mut random = Pcg64Mcg::seed_from_u64(seed);
        let mut desk = with_pages(calm());
        let begun = [
            ("\tn", Title::Note),
            ("6m", Title::Mould),
            ("6r", Title::Room),
            ("7i1\t", Title::Lot),
        ];
        let (begun, title) = begun[random.random_range(0..begun.len())];
        desk.type_in(begun);
        let field = desk.app.form.as_ref().unwrap().at_field;
        let is_open = |desk: &Desk| {
            desk.app.form.as_ref().is_some_and(|form| form.title == title && form.touched)
        };
        desk.type_in("a");
        let mut typed = "a".to_owned();
        let mut due = false;
        for _ in 0..16 {
            if random.random_range(0..3) == 0 {
                due = !due;
                heron_is_due(&mut desk, due);
            }
            // Now and then the key is quicker than the frame.
            desk.hasty = random.random_range(0..3) == 0;
            let key = keys[random.random_range(0..keys.len())];
            match (key, is_open(&desk)) {
                ('\n' | '!' | '\t', true) => {}
                // What is saved elsewhere is another law's.
                ('\n', false) => {}
                (other, open) => {
                    desk.type_in(&other.to_string());
                    typed.extend((open && other != '@').then_some(other));
                }
            }
        }
        heron_is_due(&mut desk, false);
        desk.hasty = false;
        for _ in 0..40 {
            if is_open(&desk) {
                break;
            }
            desk.press(DUE);
        }
        let form = desk.app.form.as_ref().unwrap();
        assert_eq!((form.title, form.fields[field].said()), (title, &*typed), "seed {seed}");
    }
}
