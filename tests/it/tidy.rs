//! The repository tests itself: its boundary, its sizes, its documents.

use crate::prelude::*;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// Every file below `folder` with this ending, as paths from the root of the repository.
pub(crate) fn files(folder: &str, ending: &str) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut folders = vec![root().join(folder)];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(&folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|e| e == ending) {
                found.push(path.strip_prefix(root()).unwrap().to_owned());
            }
        }
    }
    found.sort();
    found
}

/// A source file without its comments.
pub(crate) fn code(path: &Path) -> String {
    let text = fs::read_to_string(root().join(path)).unwrap();
    let lines = text.lines().filter(|line| !line.trim_start().starts_with("//"));
    lines.collect::<Vec<_>>().join("\n")
}

/// Words that would let the outside world into the core.
const OUTSIDE: [&str; 21] = [
    "crate::edge",
    "super::edge",
    "spyhole::edge",
    "std::fs",
    "std::io",
    "std::env",
    "std::net",
    "std::path",
    "std::process",
    "std::thread",
    "std::time",
    "SystemTime",
    "Instant",
    "::now()",
    "println!",
    "rusqlite",
    "ratatui",
    "crossterm",
    "serde_json",
    "csv::",
    "clap",
];

#[test]
fn law_the_core_names_nothing_outside() {
    let core: Vec<PathBuf> = files("src", "rs")
        .into_iter()
        .filter(|path| {
            let outside = ["src/edge", "src/main.rs", "src/testing.rs"];
            !outside.iter().any(|place| path.starts_with(place))
        })
        .collect();
    assert!(core.len() > 10, "the core was found: {core:?}");
    for path in core {
        for (number, line) in code(&path).lines().enumerate() {
            for word in OUTSIDE {
                assert!(
                    !line.contains(word),
                    "{}, code line {}: the core names {word}: {line}",
                    path.display(),
                    number + 1
                );
            }
        }
    }
}

/// It ends the program where the machine has no thread to give.
#[test]
fn law_no_thread_is_taken_for_granted() {
    for path in files("src", "rs") {
        assert!(!code(&path).contains("thread::spawn("), "{}: thread::Builder", path.display());
    }
}

#[test]
fn law_no_source_file_outgrows_its_reader() {
    for path in files("src", "rs") {
        let lines = fs::read_to_string(root().join(&path)).unwrap().lines().count();
        assert!(lines <= 500, "{} has {lines} lines: find the seam", path.display());
    }
}

#[test]
fn law_no_function_outgrows_a_screen() {
    for path in files("src", "rs") {
        let text = fs::read_to_string(root().join(&path)).unwrap();
        let lines: Vec<&str> = text.lines().collect();
        for (at, line) in lines.iter().enumerate() {
            let begun = line.trim_start();
            let words: Vec<&str> = begun.split_whitespace().take(5).collect();
            let is_one = !begun.starts_with("//") && words.contains(&"fn");
            if !is_one || begun.ends_with(';') {
                continue;
            }
            // As formatted, its last line is as far in as its first.
            let end = format!("{}}}", &line[..line.len() - begun.len()]);
            let long = lines[at..].iter().position(|line| line.starts_with(&end)).unwrap_or(0) + 1;
            assert!(long <= 80, "{}:{}: {long} lines: find the seam", path.display(), at + 1);
        }
    }
}

/// The code map names every top-level module, and every path it names exists.
#[test]
fn law_the_code_map_is_in_step() {
    let map = fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    for path in files("src", "rs") {
        let top = path.components().nth(1).unwrap().as_os_str().to_str().unwrap().to_owned();
        assert!(map.contains(&format!("src/{top}")), "DEVELOPERS.md does not name src/{top}");
    }
    for quoted in map.split('`').skip(1).step_by(2) {
        let first = quoted.split('/').next().unwrap();
        if ["src", "tests", "benches", "assets", "schedules"].contains(&first)
            && quoted.contains('/')
            && !quoted.contains([' ', '*', '{'])
        {
            assert!(
                root().join(quoted).exists(),
                "DEVELOPERS.md names {quoted}, which is not there"
            );
        }
    }
}

/// The project's own copy of the chart says how sure each number is.
#[test]
fn law_every_chart_row_carries_its_certainty() {
    use spyhole::testing::cone::chart;
    use spyhole::testing::cone::chart::Certainty;
    let checked =
        chart::all().iter().filter(|row| row.certainty == Certainty::CrossChecked).count();
    assert_eq!((checked, chart::all().len() - checked), (140, 139));
}

/// The rooms of the edge that come to the shop as its guests.
const GUESTS: [&str; 6] = ["screen", "cli", "keeper", "page", "rehearse", "elsewhere"];

/// Only the entrance, `src/edge/program.rs`, knows all of them and leads to each; the shop knows none.
#[test]
fn law_the_guests_of_the_shop_know_nothing_of_each_other() {
    for room in GUESTS.into_iter().chain(["shop"]) {
        let place = PathBuf::from("src/edge").join(room);
        let of_room =
            |path: &PathBuf| path.starts_with(&place) || *path == place.with_extension("rs");
        let files: Vec<PathBuf> = files("src/edge", "rs").into_iter().filter(of_room).collect();
        assert!(!files.is_empty(), "{} was found", place.display());
        let others = GUESTS.into_iter().chain(["program"]).filter(|other| *other != room);
        let mut named: Vec<String> = others
            .flat_map(|other| ["edge", "super"].map(|above| format!("{above}::{other}")))
            .collect();
        // A list of names would hide one of them.
        named.push("edge::{".into());
        for path in files {
            for line in code(&path).lines() {
                let found = named.iter().find(|name| line.contains(name.as_str()));
                assert!(found.is_none(), "{}: it names another room: {line}", path.display());
            }
        }
    }
}
