//! Text is text: what somebody typed, a file says or an old shop holds is read by people, and never
//! obeyed by a terminal, a table or a list of lines.

use std::io::Read;

use portable_pty::{CommandBuilder, PtySize, native_pty_system};
use serde::Deserialize;
use serde_json::json;
use spyhole::testing::text;

use crate::journal::cli::words;
use crate::prelude::*;
use crate::program::{Run, command, finish};

/// `tests/data/texts.toml`.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Texts {
    steering: Vec<String>,
    formulas: Vec<String>,
    like_north: Vec<String>,
    unlike_north: Vec<String>,
}

/// 219 texts that are none of a potter's.
fn hostile() -> Vec<String> {
    let Texts { steering, formulas, .. } = data("texts.toml");
    let around: [fn(&str) -> String; 7] = [
        |bad| bad.to_owned(),
        |bad| format!("Heron{bad}"),
        |bad| format!("{bad}Heron"),
        |bad| format!("He{bad}ron"),
        |bad| format!("窯{bad}窯"),
        |bad| format!("{bad}{bad}x"),
        |bad| format!("=1{bad}+1"),
    ];
    let mut all: Vec<String> =
        steering.iter().flat_map(|bad| around.map(|placed| placed(bad))).collect();
    for formula in formulas {
        all.extend(["", " ", "\u{a0}", "\t", "x"].map(|before| format!("{before}{formula}")));
    }
    all
}

fn is_raw(c: char) -> bool {
    let turns = matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    (c.is_control() && c != '\n') || matches!(c, '\u{2028}' | '\u{2029}') || turns
}

/// Nothing that came out steers a terminal, or passes for a line of its own.
#[track_caller]
fn assert_plain(run: &Run, of: &str) {
    for said in [&run.out, &run.err] {
        let raw = said.chars().find(|c| is_raw(*c));
        assert!(raw.is_none(), "{raw:?} came out raw of {of:?}: {said:?}");
        let forged = said.lines().find(|line| line.starts_with("FORGED"));
        assert!(forged.is_none(), "a line was forged of {of:?}: {said}");
    }
}

#[track_caller]
fn run(shop: &Path, line: &[&str]) -> Run {
    let run = finish(command().arg("--shop").arg(shop).args(line));
    assert_plain(&run, &format!("{line:?}"));
    run
}

/// The same of a line of words.
#[track_caller]
fn say(shop: &Path, line: &str) -> Run {
    let line = words(line);
    run(shop, &line.iter().map(String::as_str).collect::<Vec<_>>())
}

fn shop_with_a_firing() -> (TempDir, PathBuf) {
    let (folder, shop) = shop_file();
    say(&shop, "kiln add North --fuel gas").ok();
    say(&shop, "light North --load gold").ok();
    (folder, shop)
}

#[test]
fn law_what_is_typed_is_one_line_of_text_or_is_refused() {
    let (folder, shop) = shop_with_a_firing();
    let events = || stored(&Journal::open(&shop).unwrap(), None).len();
    let texts = hostile();
    assert!(texts.len() >= 200, "{}", texts.len());
    for text in &texts {
        let before = events();
        let noted = finish(command().arg("--shop").arg(&shop).args([
            &format!("--who={text}"),
            "note",
            "North",
            "--",
            text,
        ]));
        assert_plain(&noted, text);
        let refused = text::line(text).is_err();
        assert_eq!(noted.code, if refused { 2 } else { 0 }, "{text:?}: {}", noted.err);
        assert_eq!(events() == before, refused, "{text:?}");
    }
    // Each piece at two places at least.
    for text in texts.iter().step_by(3) {
        let path = folder.path().join(format!("{}.db", text.replace('/', "")));
        let told = finish(command().env("SPYHOLE_SHOP", &path).args(["journal", "check"]));
        assert_plain(&told, text);
        assert_eq!(told.code, 2, "{text:?}");
        assert!(!path.exists());
    }
    for (place, words) in [
        &["kiln", "add"][..],
        &["turn", "North"],
        &["look", "North", "--target"],
        &["schedule", "show"],
        &[],
        &["read", "North"],
    ]
    .iter()
    .enumerate()
    {
        // Each entrance has the same door; a part of the texts tries each.
        for text in texts.iter().skip(place).step_by(6) {
            let mut line = words.to_vec();
            line.push(text);
            run(&shop, &line);
        }
    }
    for line in ["status", "history North", "ledger", "kiln list", "alarms", "--json status"] {
        say(&shop, line);
    }
}

/// A record in which every text is one of these.
fn record(texts: &[String]) -> String {
    let mut lines = Vec::new();
    for (nth, text) in (0..).zip(texts) {
        let at =
            |minute: i64| format!("2026-03-{:02}T{:02}:{minute:02}:00Z", 1 + nth / 24, nth % 24);
        let kiln = format!("{text}{nth}");
        let mut line = |minute, event: &str, mut fields: Value| {
            fields["at"] = at(minute).into();
            fields["event"] = event.into();
            fields["who"] = text.as_str().into();
            if !["kiln", "load_type"].contains(&event) {
                fields["firing"] = nth.into();
            }
            lines.push(fields.to_string());
        };
        let cones = json!({ "name": kiln, "cone": "018", "cone_family": "self-supporting", "under_cones": 0.5,
            "over_cones": 0.5, "under": "lost", "over": "lost", "cautions": [text] });
        line(0, "kiln", json!({ "name": kiln, "fuel": "gas" }));
        line(0, "load_type", cones);
        line(
            1,
            "packed",
            json!({ "kiln": kiln, "load_type": kiln, "contents": text, "packed_by": text, "cones_stand": text }),
        );
        line(
            2,
            "lit",
            json!({ "kiln": kiln, "load_type": kiln, "cone": "018", "cone_family": "self-supporting", "schedule": text }),
        );
        line(3, "reading", json!({ "celsius": 433.5 }));
        line(4, "note", json!({ "text": format!("{text}.") }));
        line(5, "turned", json!({ "to": format!("{text}.") }));
        line(6, "probe_silent", json!({ "reason": text }));
        line(7, "look", json!({ "target": "down" }));
        line(8, "off", json!({}));
        line(9, "drawn", json!({}));
        line(
            10,
            "outcome",
            json!({ "result": "under", "note": text, "loss": 3.5,
            "shelves": [{ "place": format!("{text}."), "cone": "018", "seen": "down" }] }),
        );
    }
    lines.join("\n")
}

/// No cell of a table is a formula.
#[track_caller]
fn assert_no_formula(table: &str) {
    let mut rows =
        csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(table.as_bytes());
    for row in rows.records() {
        for cell in row.unwrap().iter() {
            let works = cell.trim_start().starts_with(['=', '+', '-', '@', '\u{ff1d}']);
            assert!(!works || cell.parse::<f64>().is_ok(), "a formula: {cell:?}");
        }
    }
}

#[test]
fn law_what_is_imported_is_shown_and_never_obeyed() {
    let (folder, shop) = shop_file();
    let file = folder.path().join("record.jsonl");
    let texts = hostile();
    fs::write(&file, record(&texts)).unwrap();
    say(&shop, &format!("import {}", file.display())).ok();
    run(&shop, &["history", &text::marked(format!("{}0", texts[0]))]);
    say(&shop, &format!("advise {}", file.display()));
    let asked = "status|ledger|ledger --all|kiln list|load-type list|alarms|review all|\
        review outcomes --by kiln|review firing 7|--json ledger|--json kiln list";
    asked.split('|').for_each(|line| drop(say(&shop, line)));
    let tables = "export --csv ledger|export --csv readings|review all --csv|\
        review cost --by kiln --csv";
    tables.split('|').for_each(|line| assert_no_formula(&say(&shop, line).ok()));
    // What was made visible is all that changed, and it comes back as it went out.
    let exported = run(&shop, &["export"]);
    let notes = exported.out.lines().filter(|line| line.contains("\"event\":\"note\""));
    let read = |line: &str| serde_json::from_str::<Value>(line).unwrap()["text"].clone();
    let notes: Vec<Value> = notes.map(read).collect();
    let marked: Vec<Value> =
        texts.iter().map(|text| text::marked(format!("{text}.")).into()).collect();
    assert_eq!(notes, marked);
    let (copy, again) = (folder.path().join("copy.db"), folder.path().join("again.jsonl"));
    fs::write(&again, &exported.out).unwrap();
    assert_eq!(run(&copy, &["import", again.to_str().unwrap()]).code, 0);
    let events = |out: &str| out.lines().filter(|line| line.contains("\"firing\":")).count();
    assert_eq!(events(&run(&copy, &["export"]).out), events(&exported.out));
}

#[test]
fn law_what_files_beside_the_shop_say_is_never_obeyed() {
    let (folder, shop) = shop_with_a_firing();
    let schedules = folder.path().join("schedules");
    fs::create_dir(&schedules).unwrap();
    let good: Value =
        serde_json::from_str(include_str!("../../schedules/lustre_and_gold.json")).unwrap();
    let texts = hostile();
    for (nth, text) in texts.iter().enumerate().take(190) {
        let (key, named) = match nth % 4 {
            0 => ("name", format!("{nth}.json")),
            1 => ("reasoning", format!("{nth}.json")),
            2 => (text.as_str(), format!("{nth}.json")),
            _ => ("name", format!("{}.json", text.replace('/', ""))),
        };
        let mut schedule = good.clone();
        schedule[key] = format!("{text}.").into();
        fs::write(schedules.join(named), schedule.to_string()).unwrap();
    }
    let listed = say(&shop, "schedule list").ok();
    assert!(listed.contains("control character U+001B"), "{listed}");
    run(&shop, &["schedule", "show", schedules.join("1.json").to_str().unwrap()]).ok();
    let people: Vec<Value> =
        texts.iter().map(|text| json!({ "name": text, "ways": ["sound"] })).collect();
    let resting =
        texts.iter().map(|text| json!({ "kiln": text, "alarm": "probe_trouble", "why": text }));
    let bell = json!({ "people": people, "out_of_service": resting.collect::<Vec<_>>() });
    let beside = |ending: &str| PathBuf::from(format!("{}{ending}", shop.display()));
    fs::write(beside(".bell.json"), bell.to_string()).unwrap();
    run(&shop, &["alarms"]);
    for text in texts.iter().step_by(5) {
        fs::write(
            beside(".bell.json"),
            json!({ "people": [{ "name": text, "ways": [text] }] }).to_string(),
        )
        .unwrap();
        run(&shop, &["alarms"]);
        fs::write(beside(".house.json"), json!({ "scale": text, text: 1 }).to_string()).unwrap();
        run(&shop, &["status"]);
    }
    fs::remove_file(beside(".house.json")).unwrap();
    fs::write(folder.path().join("shop.prices.csv"), "from,what,of,value,unit\n2026-01-01,draw,\"N\x1b[31m\",1,\"\x07\"\n2026-01-02,\"\x1b[31m\",,1,\n").unwrap();
    assert_eq!(run(&shop, &["review", "cost"]).code, 2);
}

/// A shop written before anything was marked: its texts steer a terminal, and forge lines.
const STEERING_SHOP: &str = include_str!("../data/journal_steering.sql");

#[test]
fn regress_what_an_old_shop_holds_is_read_and_shown_marked() {
    let (folder, shop) = shop_file();
    rusqlite::Connection::open(&shop).unwrap().execute_batch(STEERING_SHOP).unwrap();
    let kiln = "N␛]0;owned␇orth";
    let history = run(&shop, &["history", kiln]);
    assert!(history.out.contains("line1␊North off at 20:00. Event 99."), "{}", history.out);
    assert_eq!(history.out.lines().count(), 11, "{}", history.out);
    for line in "status|ledger|load-type list|review all|alarms|journal check".split('|') {
        say(&shop, line).ok();
    }
    assert!(say(&shop, "kiln list").ok().contains(kiln));
    // Its kiln is used by the name that is shown, and what was exported then is known again.
    assert_eq!(run(&shop, &["light", kiln, "--load", "gold␛[31m"]).code, 0);
    let then = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/journal_steering.jsonl");
    let again = run(&shop, &["import", then]);
    assert!(again.out.contains("0 events taken in"), "{}{}", again.out, again.err);
    let new = folder.path().join("new.db");
    assert!(run(&new, &["import", then]).out.contains("1 new firings"));
}

#[test]
fn law_a_screen_obeys_no_name() {
    let (folder, shop) = shop_file();
    let file = folder.path().join("record.jsonl");
    fs::write(&file, record(&hostile()[129..])).unwrap();
    run(&shop, &["import", file.to_str().unwrap()]);
    let size = PtySize { rows: 60, cols: 160, pixel_width: 0, pixel_height: 0 };
    let pair = native_pty_system().openpty(size).unwrap();
    let mut command = CommandBuilder::new(env!("CARGO_BIN_EXE_spyhole"));
    command.args(["--shop", shop.to_str().unwrap()]);
    command.env("TERM", "xterm-256color");
    let mut child = pair.slave.spawn_command(command).unwrap();
    drop(pair.slave);
    let (mut out, mut keys) =
        (pair.master.try_clone_reader().unwrap(), pair.master.take_writer().unwrap());
    let (sent, written) = std::sync::mpsc::channel();
    std::thread::spawn(move || {
        let mut bytes = [0; 65_536];
        while let Ok(count @ 1..) = out.read(&mut bytes) {
            let _ = sent.send(bytes[..count].to_vec());
        }
    });
    let (mut shown, mut screen) = (Vec::new(), crate::terminal::parser(160, 60));
    // The kilns, the ledger, one firing and the shop; then it is left. A key that comes together with
    // the Escape before it would be another key: so what that leaves has to be gone first.
    for (pressed, seen, gone) in [
        ("", "All kilns are empty.", "type to filter"),
        ("2", "Ledger, newest first", "Enter another over it"),
        ("\r", "Enter another over it", "type to filter"),
        ("\x1b", "Ledger, newest first", "Enter another over it"),
        ("\x1b", "All kilns are empty.", "type to filter"),
        ("4", "type to filter", "Ledger, newest first"),
        ("\x1b", "All kilns are empty.", "type to filter"),
    ] {
        keys.write_all(pressed.as_bytes()).unwrap();
        let there = |screen: &vt100::Parser| {
            let shown = screen.screen().contents();
            shown.contains(seen) && !shown.contains(gone)
        };
        while !there(&screen) {
            let bytes = written.recv_timeout(Duration::from_secs(60)).expect(seen);
            screen.process(&bytes);
            shown.extend(bytes);
        }
    }
    keys.write_all(b"q").unwrap();
    let left = crate::keeper::patiently("its end", || child.try_wait().unwrap());
    assert!(left.success());
    shown.extend(written.iter().flatten());
    let shown = String::from_utf8_lossy(&shown);
    for bad in
        ["\x1b]", "\x1bP", "\x1bc", "\x07", "\u{9b}", "\u{9d}", "\u{202e}", "\u{2066}", "\u{2028}"]
    {
        assert!(!shown.contains(bad), "{bad:?} came to the screen");
    }
}

/// Names beside each other: which would be taken for one another.
#[test]
fn law_only_a_name_that_looks_like_another_is_asked_about() {
    let texts: Texts = data("texts.toml");
    for like in &texts.like_north {
        assert!(text::look_alike("North", like), "{like:?}");
    }
    for other in &texts.unlike_north {
        assert!(!text::look_alike("North", other), "{other:?}");
        assert_eq!(text::name(other), Ok(other.as_str()));
    }
    let (_folder, shop) = shop_with_a_firing();
    let add = |name: &str| run(&shop, &["kiln", "add", name, "--fuel", "gas"]);
    assert_eq!(add("печь").err, "");
    let asked = add("Nоrth");
    assert!(asked.err.contains("looks like \"North\"") && asked.code == 0, "{}", asked.err);
    let load = run(&shop, &["load-type", "add", "gоld", "--cone", "018"]);
    assert!(load.err.contains("looks like \"gold\""), "{}", load.err);
}

#[test]
fn law_names_and_notes_have_an_end() {
    let (folder, shop) = shop_with_a_firing();
    let add = |name: &str| run(&shop, &["kiln", "add", name, "--fuel", "gas"]);
    assert_eq!((add(&"a".repeat(60)).code, add(&"窯".repeat(30)).code), (0, 0));
    for wide in ["a".repeat(61), "窯".repeat(31)] {
        let said = add(&wide).refused();
        assert!(said.contains("more than the 60"), "{said}");
    }
    run(&shop, &["--who", &"a".repeat(61), "status"]).refused();
    run(&shop, &["note", "North", &"ü".repeat(4_000)]).ok();
    let said = run(&shop, &["note", "North", &"ü".repeat(4_001)]).refused();
    assert!(said.contains("more than the 4000"), "{said}");
    let file = folder.path().join("long.jsonl");
    let note = |letters: usize| {
        format!(
            "{{\"at\": \"2026-03-14T09:10:00Z\", \"event\": \"note\", \"text\": \"{}\"}}\n",
            "a".repeat(letters)
        )
    };
    let lit = r#"{"at": "2026-03-14T09:10:00Z", "event": "lit", "kiln": "N", "load_type": "gold", "cone": "018", "cone_family": "self-supporting"}"#;
    fs::write(&file, format!("{lit}\n{}{}", note(900_000), note(1_100_000))).unwrap();
    let said = say(&shop, &format!("import {}", file.display())).refused();
    assert!(said.contains("line 3: it is longer than 1048576 bytes"), "{said}");
}

/// A name in a command that is suggested is one word to a shell, and that name.
#[test]
fn crosscheck_a_suggested_name_is_one_word_to_a_shell() {
    for name in ["North", "Old Gas", "Ada's North", "$HOME; `ls` \"x\"", "/tmp/a shop.db"] {
        let command = format!("printf '%s.' {}", text::argument(name));
        let run = std::process::Command::new("sh").args(["-c", &command]).output().unwrap();
        assert_eq!(String::from_utf8(run.stdout).unwrap(), format!("{name}."), "{command}");
    }
}
