//! Files that are written where somebody says: over no other unasked, never over the shop's own, and
//! whole or not at all.

use std::os::unix::fs::{FileTypeExt, PermissionsExt, symlink};

use spyhole::testing::edge::whole_file;

use crate::prelude::*;
use crate::program::{Run, at, finish};

/// A shop with a firing that is over and one that burns.
fn shop() -> (TempDir, PathBuf) {
    let (folder, shop) = shop_file();
    let record = folder.path().join("record.jsonl");
    let mut lines = vec![
        r#"{"at": "2026-03-14T08:00:00Z", "event": "kiln", "name": "North", "fuel": "gas"}"#.to_owned(),
        r#"{"at": "2026-03-14T09:00:00Z", "event": "lit", "kiln": "North", "load_type": "gold", "cone": "018", "cone_family": "self-supporting"}"#.into(),
    ];
    for step in 0..28 {
        let (hour, minute, celsius) = (9 + step / 6, step % 6 * 10 + 5, 20 + step * 25);
        lines.push(format!(r#"{{"at": "2026-03-14T{hour:02}:{minute:02}:00Z", "event": "reading", "celsius": {celsius}}}"#));
    }
    lines.push(r#"{"at": "2026-03-14T13:40:00Z", "event": "look", "target": "down"}"#.into());
    lines.push(r#"{"at": "2026-03-14T13:41:00Z", "event": "off"}"#.into());
    lines.push(r#"{"at": "2026-03-15T08:00:00Z", "event": "drawn"}"#.into());
    lines.push(r#"{"at": "2026-03-15T08:10:00Z", "event": "outcome", "result": "good"}"#.into());
    fs::write(&record, lines.join("\n")).unwrap();
    at(&shop, &format!("import {}", record.display())).ok();
    at(&shop, "light North --load gold").ok();
    (folder, shop)
}

/// Every command that writes a file somebody names, and what it is called.
const OUTPUTS: [(&str, &str); 10] = [
    ("export -o", "out.jsonl"),
    ("export --firing 1 -o", "one.jsonl"),
    ("export --csv ledger -o", "ledger.csv"),
    ("export --csv readings -o", "readings.csv"),
    ("review outcomes --picture", "outcomes.svg"),
    ("review cost --picture", "cost.svg"),
    ("review card 1", "card.html"),
    ("review card 1", "card.svg"),
    ("review repeat 1 --ware lustre-and-gold --within 60 --file", "again.json"),
    ("alarms --ics", "kilns.ics"),
];

fn write(shop: &Path, how: &str, file: &Path, replace: bool) -> Run {
    at(shop, &format!("{how} {} {}", file.display(), if replace { "--replace" } else { "" }))
}

#[test]
fn law_nothing_is_written_over_unasked() {
    let (folder, shop) = shop();
    for (how, name) in OUTPUTS {
        let file = folder.path().join(name);
        write(&shop, how, &file, false).ok();
        let first = fs::read(&file).unwrap();
        assert!(!first.is_empty(), "{how}");
        // A calendar of its own is what another program reads again; any other file is somebody's.
        fs::write(&file, "somebody's own").unwrap();
        let said = write(&shop, how, &file, false).refused();
        let why = format!("{} is there already, and was left as it is", file.display());
        assert!(said.contains(&why) && said.contains("--replace"), "{how}: {said}");
        assert_eq!(fs::read(&file).unwrap(), b"somebody's own", "{how}");
        write(&shop, how, &file, true).ok();
        let again = fs::read(&file).unwrap();
        assert_eq!(again.len(), first.len(), "{how}");
        let ours = write(&shop, how, &file, false);
        assert_eq!(ours.code, if name == "kilns.ics" { 0 } else { 2 }, "{how}: {}", ours.err);
        // Nothing is left beside.
        let mut left = fs::read_dir(folder.path()).unwrap().map(|one| one.unwrap().path());
        assert!(left.all(|one| one.extension() != Some("part".as_ref())), "{how}");
    }
}

#[test]
fn law_no_file_of_the_shop_is_written_over() {
    let (folder, shop) = shop();
    fs::create_dir(folder.path().join("links")).unwrap();
    let link = folder.path().join("links/innocent");
    let endings =
        ["", "-wal", "-shm", "-journal", ".watch", ".rings.jsonl", ".bell.json", ".house.json"];
    let mut own: Vec<PathBuf> =
        endings.iter().map(|ending| whole_file::beside(&shop, ending)).collect();
    own.push(folder.path().join("shop.prices.csv"));
    for file in own {
        for (way, there) in [(&file, true), (&link, true), (&file, false)] {
            // What is no write-ahead log the database takes away by itself, and the link leads nowhere.
            let taken = ["-wal", "-shm", "-journal"].map(|end| whole_file::beside(&shop, end));
            let taken = there && taken.contains(&file);
            if taken && way == &link {
                continue;
            }
            let _ = fs::remove_file(&link);
            symlink(&file, &link).unwrap();
            let is_shop = file == shop;
            if !is_shop {
                let _ = fs::remove_file(&file);
            }
            if there && !is_shop {
                fs::write(&file, "kept").unwrap();
            }
            let before = fs::read(&file).ok().filter(|_| !is_shop);
            let said = write(&shop, "export -o", way, true).refused();
            assert!(said.contains("belongs to the shop itself"), "{said}");
            let after = fs::read(&file).ok().filter(|_| !is_shop);
            assert!(taken || after == before, "{}", file.display());
        }
    }
    assert!(at(&shop, "journal check").out.contains("The file is whole."));
}

#[test]
fn law_what_is_no_file_is_written_through() {
    let (folder, shop) = shop();
    let pipe = folder.path().join("pipe");
    assert!(std::process::Command::new("mkfifo").arg(&pipe).status().unwrap().success());
    let read = pipe.clone();
    let reader = std::thread::spawn(move || fs::read_to_string(read).unwrap());
    let said = write(&shop, "export -o", &pipe, false).ok();
    let lines = reader.join().unwrap().lines().count();
    assert!(said.contains(&format!("{lines} lines written")), "{said}");
    assert!(fs::metadata(&pipe).unwrap().file_type().is_fifo());
    let null = folder.path().join("null");
    symlink("/dev/null", &null).unwrap();
    write(&shop, "export -o", &null, true).ok();
    assert!(fs::symlink_metadata(&null).unwrap().is_symlink());
    assert!(fs::metadata("/dev/null").unwrap().file_type().is_char_device());
    let folder_said = write(&shop, "export -o", folder.path(), true);
    assert_eq!(folder_said.code, 1, "{}", folder_said.out);
    let nowhere = write(&shop, "export -o", &folder.path().join("no/such/file"), false);
    assert_eq!(nowhere.code, 1, "{}", nowhere.out);
    assert!(nowhere.err.contains("check its folder and the free space"), "{}", nowhere.err);
}

/// People's names and numbers stand in them, and links that somebody laid there lead elsewhere.
#[test]
fn law_files_of_the_shop_are_its_owners_and_follow_no_link() {
    let (folder, shop) = shop_file();
    let victim = folder.path().join("victim");
    fs::write(&victim, "kept").unwrap();
    let mode = |file: &Path| fs::metadata(file).unwrap().permissions().mode() & 0o777;
    let settings = whole_file::beside(&shop, ".bell.json");
    symlink(&victim, whole_file::beside(&shop, ".bell.json.part")).unwrap();
    BellFile::default().write(&shop).unwrap();
    assert_eq!(mode(&settings), 0o600);
    assert!(!fs::symlink_metadata(&settings).unwrap().is_symlink());
    // Whoever lets others read it goes on doing so.
    fs::set_permissions(&settings, fs::Permissions::from_mode(0o640)).unwrap();
    BellFile::default().write(&shop).unwrap();
    assert_eq!(mode(&settings), 0o640);
    for ending in [".watch", ".rings.jsonl"] {
        let file = whole_file::beside(&shop, ending);
        symlink(&victim, &file).unwrap();
        assert!(whole_file::own().create(true).append(true).open(&file).is_err(), "{ending}");
        fs::remove_file(&file).unwrap();
        whole_file::own().create(true).append(true).open(&file).unwrap();
        assert_eq!(mode(&file), 0o600, "{ending}");
    }
    assert_eq!(fs::read(&victim).unwrap(), b"kept");
}

/// A record of 81 MB goes into a shop and out again with little more memory than one line of it takes.
#[test]
fn law_a_record_is_never_held_as_a_whole() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let (shop, record, again) = (path("shop.db"), path("record.jsonl"), path("again.jsonl"));
    let text = "n".repeat(900_000);
    let mut lines = String::new();
    for firing in 1..=90 {
        let at = format!("2024-{:02}-{:02}T08:00:00Z", 1 + firing / 28, 1 + firing % 28);
        lines += &format!(
            "{{\"at\": \"{at}\", \"event\": \"lit\", \"kiln\": \"N\", \"load_type\": \"gold\", \"cone\": \"018\", \"cone_family\": \"self-supporting\", \"firing\": {firing}}}\n"
        );
        lines += &format!(
            "{{\"at\": \"{at}\", \"event\": \"note\", \"text\": \"{text}\", \"firing\": {firing}}}\n"
        );
        lines += &format!("{{\"at\": \"{at}\", \"event\": \"off\", \"firing\": {firing}}}\n");
    }
    fs::write(&record, lines).unwrap();
    // A limit on all memory, in kB, most of which the program takes for itself.
    let limited = |limit: u32, line: &[&str]| {
        let mut shell = std::process::Command::new("sh");
        let run = format!("ulimit -v {limit} && exec \"$@\"");
        shell.args(["-c", &run, "sh", env!("CARGO_BIN_EXE_spyhole")]);
        finish(shell.args(["--shop", &shop]).args(line))
    };
    let taken = limited(80_000, &["import", &record]);
    assert!(taken.out.contains("270 events taken in"), "{}{}", taken.out, taken.err);
    let written = limited(120_000, &["export", "-o", &again]);
    assert_eq!(written.code, 0, "{}", written.err);
    assert!(fs::metadata(&again).unwrap().len() > 81_000_000);
}
