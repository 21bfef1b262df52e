//! Shops kept from earlier versions, asked again: a copy is opened by the program under test, and what it
//! answers is compared with what it answered then.
//!
//! Each folder of `tests/data/kept` is one version: the shop's file and all that lies beside it, the
//! records it exported, `cases.toml` with what is asked, and `answers` with what was answered.
//! `tests/data/kept/README.md` says what is compared how, and how a version is added.

use std::collections::{BTreeMap, BTreeSet};
use std::process::Command;

use chrono::{DateTime, NaiveDateTime};
use serde::Deserialize;
use serde_json::Map;

use crate::journal::cli::{Setting, typed};
use crate::prelude::*;
use crate::program::{self, Run};

/// Set to have the answers written that are not kept yet. One that is kept is never written over.
const WRITE: &str = "SPYHOLE_WRITE_ANSWERS";
/// Where the folder of a case stands in its arguments and its answer.
const FOLDER: &str = "{folder}";
/// How far a computed number may be from the kept one, of its size: other libraries round the
/// last digits otherwise.
const ROUNDING: f64 = 1e-6;

/// `cases.toml`.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Kept {
    /// The moment at which the cases with `at_now` are asked.
    now: String,
    compared: Compared,
    case: Vec<Case>,
}

/// Keys whose values need not be the same to the letter; `alarms/say` is the key `say` below `alarms`.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Compared {
    /// Sentences for people, which may be put better.
    prose: BTreeSet<String>,
    /// Times of the forecast, with how far they may move, minutes.
    minutes_apart: BTreeMap<String, f64>,
    /// Numbers of the forecast, with how far they may move.
    apart: BTreeMap<String, f64>,
}

/// One question.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Case {
    name: String,
    args: Vec<String>,
    /// The answer depends on the present moment, which the program takes from the computer's clock:
    /// the same command is asked of the library.
    #[serde(default)]
    at_now: bool,
    /// The answer rests on the random draws of a forecast.
    #[serde(default)]
    forecast: bool,
    #[serde(default)]
    code: i32,
    #[serde(default)]
    form: Form,
    /// The file in which the answer is, if it is not on the output.
    file: Option<String>,
    /// Places in the answer that are meant to say something else now, and why.
    #[serde(default)]
    changed: BTreeMap<String, String>,
}

#[derive(Debug, Clone, Copy, Default, Deserialize)]
#[serde(rename_all = "snake_case")]
enum Form {
    #[default]
    Json,
    Jsonl,
    Csv,
    Ics,
}

fn versions() -> Vec<PathBuf> {
    let kept = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/kept");
    let entries = fs::read_dir(kept).unwrap().map(|entry| entry.unwrap().path());
    entries.filter(|path| path.is_dir()).collect()
}

#[test]
fn regress_shops_of_every_kept_version_give_the_same_answers() {
    // The zone of the computer is read once a process: this test runs itself in universal time.
    if std::env::var("TZ").as_deref() != Ok("UTC") {
        let name = "kept_answers::regress_shops_of_every_kept_version_give_the_same_answers";
        let mut again = Command::new(std::env::current_exe().unwrap());
        let output = again.args([name, "--exact"]).env("TZ", "UTC").output().unwrap();
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stdout));
        return;
    }
    let mut wrong = Vec::new();
    for version in versions() {
        let text = fs::read_to_string(version.join("cases.toml")).unwrap();
        let kept: Kept = toml::from_str(&text).unwrap();
        for case in &kept.case {
            let said = case.problems(&version, &kept);
            wrong.extend(said.into_iter().map(|said| format!("{}: {said}", case.name)));
        }
        let asked: BTreeSet<PathBuf> =
            kept.case.iter().map(|case| case.kept_in(&version)).collect();
        for entry in fs::read_dir(version.join("answers")).unwrap() {
            let answer = entry.unwrap().path();
            assert!(asked.contains(&answer), "nothing is asked for {}", answer.display());
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn regress_the_text_of_a_kept_shop_makes_the_same_shop() {
    for version in versions() {
        let folder = copied(&version);
        let made = folder.path().join("made.db");
        let text = fs::read_to_string(version.join("shop.sql")).unwrap();
        rusqlite::Connection::open(&made).unwrap().execute_batch(&text).unwrap();
        let [of_text, of_file] = [&made, &folder.path().join("shop.db")]
            .map(|shop| program::spyhole(&["--shop", shop.to_str().unwrap(), "export"]));
        assert_eq!((of_file.code, of_file.out.is_empty()), (0, false), "{}", of_file.err);
        assert_eq!((of_text.code, of_text.out), (0, of_file.out), "{}", of_text.err);
    }
}

/// A copy of the shop and all that lies beside it.
fn copied(version: &Path) -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    for part in ["", "schedules", "records"] {
        let to = folder.path().join(part);
        fs::create_dir_all(&to).unwrap();
        for entry in fs::read_dir(version.join(part)).unwrap() {
            let from = entry.unwrap().path();
            if from.is_file() {
                fs::copy(&from, to.join(from.file_name().unwrap())).unwrap();
            }
        }
    }
    folder
}

impl Case {
    fn kept_in(&self, version: &Path) -> PathBuf {
        let ending = match self.form {
            Form::Json => "json",
            Form::Jsonl => "jsonl",
            Form::Csv => "csv",
            Form::Ics => "ics",
        };
        version.join("answers").join(format!("{}.{ending}", self.name))
    }

    /// What is otherwise than it was.
    fn problems(&self, version: &Path, kept: &Kept) -> Vec<String> {
        let folder = copied(version);
        let run = self.ask(folder.path(), &kept.now);
        if run.code != self.code {
            return vec![format!("exit code {}, was {}: {}", run.code, self.code, run.err)];
        }
        let out = match &self.file {
            Some(file) => fs::read_to_string(folder.path().join(file)).unwrap(),
            None => run.out.clone(),
        };
        let answer = out.replace(folder.path().to_str().unwrap(), FOLDER);
        let file = self.kept_in(version);
        if self.code != 0 && run.err.trim().is_empty() {
            return vec!["it no longer says why".to_owned()];
        }
        if self.code != 0 && answer.is_empty() && !file.exists() {
            return Vec::new();
        }
        if std::env::var_os(WRITE).is_some() && !file.exists() {
            fs::create_dir_all(file.parent().unwrap()).unwrap();
            fs::write(&file, &answer).unwrap();
        }
        let was = fs::read_to_string(&file).unwrap_or_else(|_| {
            panic!("{} is missing: {WRITE}=1 writes what is not kept yet", file.display())
        });
        let (was, now) = (self.form.read(&was), self.form.read(&answer));
        let mut comparison =
            Comparison { rules: &kept.compared, forecast: self.forecast, found: Vec::new() };
        comparison.compare("", &was, &now);
        let changed = |found: &String| self.changed.keys().any(|place| found.starts_with(place));
        comparison.found.into_iter().filter(|found| !changed(found)).collect()
    }

    fn ask(&self, folder: &Path, now: &str) -> Run {
        let shop = folder.join("shop.db");
        let args: Vec<String> =
            self.args.iter().map(|arg| arg.replace(FOLDER, folder.to_str().unwrap())).collect();
        if self.at_now {
            return ask_at(&shop, &args, now);
        }
        program::finish(program::command().env("TZ", "UTC").arg("--shop").arg(shop).args(args))
    }
}

/// What the library answers at a moment, shown as the shop likes it.
fn ask_at(shop: &Path, args: &[String], now: &str) -> Run {
    let house = House::read(shop).unwrap();
    let setting = Setting {
        json: args.iter().any(|arg| arg == "--json"),
        answers: None,
        now: Moment(DateTime::parse_from_rfc3339(now).unwrap().timestamp_millis()),
        who: "Mira",
        scale: house.scale.unwrap_or_default(),
        clock_face: house.clock.unwrap_or_default(),
    };
    let line: Vec<String> = args.iter().filter(|arg| *arg != "--json").cloned().collect();
    let said = typed(shop, &line, &setting);
    Run { code: said.code, out: said.out, err: said.warned + &said.error.unwrap_or_default() }
}

impl Form {
    /// An answer of this form as a value.
    fn read(self, text: &str) -> Value {
        match self {
            Form::Json => serde_json::from_str(text).unwrap(),
            Form::Jsonl => text.lines().map(|line| Form::Json.read(line)).collect(),
            Form::Csv => {
                let mut table = csv::Reader::from_reader(text.as_bytes());
                table.deserialize().map(|row| Value::Object(row.unwrap())).collect()
            }
            Form::Ics => calendar_events(text),
        }
    }
}

/// The lines of every event of a calendar file (RFC 5545) by their names.
fn calendar_events(text: &str) -> Value {
    let unfolded = text.replace("\r\n", "\n").replace("\n ", "");
    let lines_of = |event: &str| {
        let event = event.split("END:VEVENT").next().unwrap_or_default();
        let lines = event.lines().filter_map(|line| line.split_once(':'));
        // The reminder inside an event has names of its own.
        let mut object = Map::new();
        for (key, value) in lines {
            let twice = object.contains_key(key);
            let key = if twice { format!("REMINDER-{key}") } else { key.to_owned() };
            object.insert(key, value.into());
        }
        Value::Object(object)
    };
    unfolded.split("BEGIN:VEVENT\n").skip(1).map(lines_of).collect()
}

/// Two answers side by side.
struct Comparison<'k> {
    rules: &'k Compared,
    forecast: bool,
    /// In what the later one differs. Keys that are new are none of it.
    found: Vec<String>,
}

impl Comparison<'_> {
    fn compare(&mut self, path: &str, was: &Value, now: &Value) {
        let names: Vec<&str> =
            path.split('/').filter(|part| part.parse::<usize>().is_err()).collect();
        let place = names.join("/");
        let named = |key: &String| place.ends_with(&format!("/{key}"));
        match (was, now) {
            (Value::Object(was), Value::Object(now)) => {
                for (key, was) in was {
                    let path = format!("{path}/{key}");
                    match now.get(key) {
                        Some(now) => self.compare(&path, was, now),
                        None => self.found.push(format!("{path} is gone")),
                    }
                }
            }
            _ if self.rules.prose.iter().any(named) && says_as_much(was, now) => {}
            (Value::Array(was), Value::Array(now)) if was.len() == now.len() => {
                for (index, (was, now)) in was.iter().zip(now).enumerate() {
                    self.compare(&format!("{path}/{index}"), was, now);
                }
            }
            _ if was == now || self.near(named, was, now) => {}
            _ => self.found.push(format!("{path} was {was}, is {now}")),
        }
    }

    /// Whether two values that differ are as near as their key asks for.
    fn near(&self, named: impl Fn(&String) -> bool, was: &Value, now: &Value) -> bool {
        let allowed = |table: &BTreeMap<String, f64>| {
            let found = table.iter().find(|(key, _)| named(key));
            found.filter(|_| self.forecast).map(|(_, most)| *most)
        };
        if let Some(most) = allowed(&self.rules.minutes_apart) {
            let (Some(was), Some(now)) = (minutes(was), minutes(now)) else { return false };
            return (was - now).abs() <= most;
        }
        let (Some(was), Some(now)) = (was.as_f64(), now.as_f64()) else { return false };
        (was - now).abs() <= allowed(&self.rules.apart).unwrap_or(ROUNDING * was.abs())
    }
}

/// Where one has a sentence the other has one, in lists as well.
fn says_as_much(was: &Value, now: &Value) -> bool {
    match (was, now) {
        (Value::String(was), Value::String(now)) => was.is_empty() == now.is_empty(),
        (Value::Array(was), Value::Array(now)) => {
            was.is_empty() == now.is_empty() && now.iter().all(Value::is_string)
        }
        _ => was == now,
    }
}

/// A time of JSON or of a calendar file, minutes since 1970.
fn minutes(value: &Value) -> Option<f64> {
    let text = value.as_str()?;
    let json = DateTime::parse_from_rfc3339(text).map(|at| at.timestamp_millis());
    let calendar = || NaiveDateTime::parse_from_str(text, "%Y%m%dT%H%M%SZ");
    let ms = json.or_else(|_| calendar().map(|at| at.and_utc().timestamp_millis())).ok()?;
    Some(ms as f64 / 60_000.0)
}
