//! Stories told in keys and clicks, one file a subject in `tests/data/screens/`: where somebody begins,
//! what they press, and what must be shown and written. Unknown keys of the files are refused.
//!
//! In keys `\n` is Enter, `\t` Tab, `<` Shift-Tab, `^` Ctrl-U, `!` Escape, and arrows are arrows.

use std::collections::BTreeMap;

use serde::Deserialize;

use super::desk::{Desk, PLAIN, text};
use super::frames::begun;
use crate::prelude::*;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    story: Vec<Story>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Story {
    /// What it shows, in a sentence.
    about: String,
    /// Where it begins; at the busy floor, where nothing else is said.
    #[serde(default)]
    desk: String,
    /// So many keys it takes, but for the letters of this name.
    presses: Option<usize>,
    #[serde(default)]
    name: String,
    step: Vec<Step>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Step {
    #[serde(default)]
    keys: String,
    /// What is clicked on in a frame of 80 columns.
    click_on: Option<String>,
    /// Minutes that pass before the keys.
    #[serde(default)]
    after_min: i64,
    /// The advice on all kilns is made anew before the keys.
    #[serde(default)]
    advised: bool,
    /// The shop cannot write from here on, or can again.
    refuses: Option<bool>,
    /// How likely the forecast of Heron thinks its target down.
    dropped: Option<f64>,
    /// How many events are written by the keys.
    writes: Option<usize>,
    /// Parts of the last event written, as it is told in a trace.
    #[serde(default)]
    wrote: Vec<String>,
    /// The message, as a whole or in part; the same of what a form finds wrong.
    message: Option<String>,
    #[serde(default)]
    message_has: Vec<String>,
    problem: Option<String>,
    #[serde(default)]
    problem_has: Vec<String>,
    /// The open form by its title, or "none".
    form: Option<String>,
    form_kiln: Option<String>,
    /// What stands in the fields of the form.
    #[serde(default)]
    said: BTreeMap<String, String>,
    /// The chosen kiln, the states of kilns, and the cause that rings, or "none".
    kiln: Option<String>,
    #[serde(default)]
    states: BTreeMap<String, String>,
    rings: Option<String>,
    /// The view, by the beginning of its name in a trace.
    view: Option<String>,
    /// What a frame says and does not say, its lines joined by single blanks.
    size: Option<(u16, u16)>,
    begins: Option<String>,
    #[serde(default)]
    shows: Vec<String>,
    #[serde(default)]
    lacks: Vec<String>,
}

/// Takes a step, and returns what is otherwise than it says.
fn problems(desk: &mut Desk, step: &Step) -> Vec<String> {
    desk.now = desk.now + Span::minutes(step.after_min);
    if step.advised {
        desk.advise_cooling();
    }
    if let Some(refuses) = step.refuses {
        desk.refuses = refuses.then_some("the disk is full");
    }
    if let Some(dropped) = step.dropped {
        desk.heron().forecast.as_mut().unwrap().dropped = dropped;
    }
    let before = desk.written.len();
    if let Some(wanted) = &step.click_on {
        desk.click_on((80, 24), wanted);
    }
    desk.type_in(&step.keys);
    let (columns, rows) = step.size.unwrap_or((80, 24));
    let frame = text(&desk.draw(columns, rows, PLAIN));
    let frame = frame.replace(['│', '╭', '╮', '╰', '╯', '─'], " ");
    let frame = frame.split_whitespace().collect::<Vec<_>>().join(" ");
    let (scene, form) = (desk.scene(), desk.app.form.as_ref());
    let message = desk.app.message.as_ref().map_or("", |message| &message.text);
    let problem = form.and_then(|form| form.problem.as_deref()).unwrap_or_default();
    let last = desk.written.last().map_or(String::new(), |what| format!("{what:?}"));
    let title = form.map_or("none".to_owned(), |form| format!("{:?}", form.title));
    let rings = scene.ringing().map_or("none", |alarm| alarm.key.task.name());
    let view = format!("{:?}", desk.app.view);
    let chosen = desk.app.kiln(&scene).map_or("none", |kiln| &kiln.kiln);
    let mut wrong = Vec::new();
    let mut held = |what: &str, wanted: &str, holds: bool, seen: &str| {
        if !holds {
            wrong.push(format!("after {:?}, {what} {wanted:?}: {seen}", step.keys));
        }
    };
    for (what, wanted, seen) in [
        ("message", &step.message, message),
        ("problem", &step.problem, problem),
        ("form", &step.form, &title),
        ("form of", &step.form_kiln, form.map_or("", |form| &form.kiln)),
        ("kiln", &step.kiln, chosen),
        ("rings", &step.rings, rings),
    ] {
        held(
            what,
            wanted.as_deref().unwrap_or(seen),
            wanted.as_deref().unwrap_or(seen) == seen,
            seen,
        );
    }
    for (what, parts, seen) in [
        ("wrote", &step.wrote, &last[..]),
        ("message has", &step.message_has, message),
        ("problem has", &step.problem_has, problem),
        ("shows", &step.shows, &frame),
    ] {
        for part in parts {
            held(what, part, seen.contains(part.as_str()), seen);
        }
    }
    for part in &step.lacks {
        held("lacks", part, !frame.contains(part.as_str()), &frame);
    }
    let begins = step.begins.clone().unwrap_or_default();
    held("begins", &begins, frame.starts_with(&begins), &frame);
    let begins = step.view.clone().unwrap_or_default();
    held("view", &begins, view.starts_with(&begins), &view);
    for (field, wanted) in &step.said {
        let said = form.map(|form| form.said(field)).unwrap_or_default();
        held(field, wanted, said == *wanted, said);
    }
    for (kiln, wanted) in &step.states {
        let shop = desk.memory.shop();
        let state = shop.firing_in(kiln).map_or("none".into(), |one| format!("{:?}", one.state));
        held(kiln, wanted, state == *wanted, &state);
    }
    let writes = desk.written.len() - before;
    let wanted = step.writes.unwrap_or(writes);
    held(
        "writes",
        &wanted.to_string(),
        wanted == writes,
        &format!("{:?}", &desk.written[before..]),
    );
    wrong
}

#[test]
fn regress_every_story_by_keys_goes_as_its_file_says() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/screens");
    let (mut wrong, mut stories) = (Vec::new(), 0);
    for entry in fs::read_dir(folder).unwrap() {
        let name = format!("screens/{}", entry.unwrap().file_name().to_string_lossy());
        for story in data::<File>(&name).story {
            let mut desk = begun(&story.desk);
            stories += 1;
            let keys: String = story.step.iter().map(|step| &*step.keys).collect();
            let presses = keys.replacen(&story.name, "", 1).chars().count();
            if story.presses.is_some_and(|wanted| wanted != presses) {
                wrong.push(format!("{name}, {}: {presses} keys", story.about));
            }
            for step in &story.step {
                let told = problems(&mut desk, step);
                wrong.extend(told.iter().map(|told| format!("{name}, {}: {told}", story.about)));
            }
        }
    }
    assert!(stories > 20, "only {stories} stories");
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
