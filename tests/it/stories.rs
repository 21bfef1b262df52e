//! Stories told in commands, one file a subject in `tests/data/stories/`: what somebody types and when,
//! and what must be answered. Unknown keys are refused.
//!
//! A story begins in a shop with the starter set and one kiln, North, at minute 0. In a line and in what
//! is expected `{last}` is the number of the last event before it, `{last-1}` to `{last-3}` of those before,
//! `{next}` that of the event it writes, and `{folder}` a folder for files.

use std::collections::BTreeMap;

use serde::Deserialize;

use crate::journal::cli::{Bench, Commands, Said, Setting, typed, words};
use crate::journal::minutes;
use crate::prelude::*;
use crate::program::{command, finish};

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
    step: Vec<Step>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Step {
    /// Minutes since the beginning; without it as in the step before.
    at: Option<i64>,
    line: String,
    /// Said to whatever is asked; without it nobody is there to be asked.
    answer: Option<String>,
    /// The whole answer.
    out: Option<String>,
    starts: Option<String>,
    #[serde(default)]
    says: Vec<String>,
    #[serde(default)]
    lacks: Vec<String>,
    /// How often a part is said.
    #[serde(default)]
    times: BTreeMap<String, usize>,
    lines: Option<usize>,
    #[serde(default)]
    warns: Vec<String>,
    #[serde(default)]
    warns_nothing: bool,
    /// The whole refusal, or parts of it. Nothing is written then.
    refused: Option<String>,
    #[serde(default)]
    refused_for: Vec<String>,
    /// Places in the answer for programs, and what stands there.
    #[serde(default)]
    json: BTreeMap<String, Value>,
}

/// What a command answers; those that do not go by the present moment are asked of the program.
fn ask(bench: &Bench, step: &Step, line: &str) -> Said {
    let mut line = words(line);
    let json = !step.json.is_empty();
    if Commands::know(&line) {
        let at = Setting::at(minutes(bench.minute));
        return typed(
            &bench.shop(),
            &line,
            &Setting { json, answers: step.answer.as_deref(), ..at },
        );
    }
    line.extend(json.then(|| "--json".to_owned()));
    let run = finish(command().arg("--shop").arg(bench.shop()).args(line));
    let error = run.err.strip_prefix("spyhole: ").map(|error| error.trim_end().to_owned());
    Said { out: run.out, warned: String::new(), error, code: run.code }
}

fn last_event(bench: &Bench) -> i64 {
    Journal::open(&bench.shop()).unwrap().last_event().unwrap().map_or(0, |event| event.0)
}

/// What is otherwise than the step says.
fn problems(bench: &Bench, step: &Step) -> Vec<String> {
    let last = last_event(bench);
    let folder = bench.shop().parent().unwrap().display().to_string();
    let named = |text: &str| {
        let text = text.replace("{folder}", &folder);
        [("{next}", 1), ("{last}", 0), ("{last-1}", -1), ("{last-2}", -2), ("{last-3}", -3)]
            .iter()
            .fold(text, |text, (name, by)| text.replace(name, &(last + by).to_string()))
    };
    let said = ask(bench, step, &named(&step.line));
    let mut wrong = Vec::new();
    let mut held = |what: &str, holds: bool| {
        if !holds {
            wrong.push(format!("{}: {what}: {said:#?}", step.line));
        }
    };
    let error = said.error.as_deref().unwrap_or_default();
    let refuses = step.refused.is_some() || !step.refused_for.is_empty();
    held("refused or not", said.error.is_some() == refuses);
    held("the exit code", said.code == if refuses { 2 } else { 0 });
    held("written though refused", !refuses || last_event(bench) == last);
    held("the refusal", step.refused.as_ref().is_none_or(|wanted| named(wanted) == error));
    held("all of it", step.out.as_ref().is_none_or(|wanted| named(wanted) == said.out));
    let begins = |wanted: &String| said.out.starts_with(&named(wanted));
    held("the beginning", step.starts.as_ref().is_none_or(begins));
    held("how many lines", step.lines.is_none_or(|lines| said.out.lines().count() == lines));
    held("a warning", !step.warns_nothing || said.warned.is_empty());
    for (text, parts) in
        [(error, &step.refused_for), (&said.out, &step.says), (&said.warned, &step.warns)]
    {
        for part in parts {
            held(part, text.contains(&named(part)));
        }
    }
    for part in &step.lacks {
        held(part, !said.out.contains(&named(part)));
    }
    for (part, times) in &step.times {
        held(part, said.out.matches(&named(part)).count() == *times);
    }
    let answer = (!step.json.is_empty())
        .then(|| serde_json::from_str::<Value>(&said.out).unwrap_or_default());
    for (place, wanted) in &step.json {
        let found = answer.as_ref().and_then(|answer| answer.pointer(place));
        let wanted = wanted.as_str().map_or(wanted.clone(), |text| named(text).into());
        held(place, found.unwrap_or(&Value::Null) == &wanted);
    }
    wrong
}

#[test]
fn regress_every_story_goes_as_its_file_says() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/stories");
    let (mut wrong, mut stories) = (Vec::new(), 0);
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let text = fs::read_to_string(&path).unwrap();
        let name = path.file_stem().unwrap().to_string_lossy().into_owned();
        let file: File = toml::from_str(&text).unwrap_or_else(|error| panic!("{name}: {error}"));
        for story in file.story {
            let mut bench = Bench::new();
            stories += 1;
            for step in &story.step {
                bench.minute = step.at.unwrap_or(bench.minute);
                let told = problems(&bench, step);
                wrong.extend(told.iter().map(|told| format!("{name}, {}: {told}", story.about)));
            }
        }
    }
    assert!(stories > 20, "only {stories} stories");
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
