//! Import and export as somebody uses them: whole files, half-good files, and the same file twice.

use std::iter;

use super::cli::{Said, Setting, typed};
use super::*;
use crate::review::made;

const GOOD: &str = r#"{"at": "2026-03-14T09:10:00+01:00", "event": "lit", "kiln": "North", "load_type": "gold", "cone": "018", "cone_family": "self-supporting"}
{"at": "2026-03-14T13:15:00+01:00", "event": "look", "target": "down"}
{"at": "2026-03-14T13:16:00+01:00", "event": "off"}
"#;

fn run(shop: &Path, line: &[&str]) -> Said {
    let line: Vec<String> = line.iter().map(|word| (*word).to_owned()).collect();
    typed(shop, &line, &Setting::at(minutes(60)))
}

fn import(shop: &Path, files: &[PathBuf], how: &[&str]) -> Said {
    let files = files.iter().map(|file| file.to_str().unwrap());
    let line: Vec<&str> = iter::once("import").chain(files).chain(how.iter().copied()).collect();
    run(shop, &line)
}

pub(super) fn export(shop: &Path, how: &[&str]) -> String {
    let said = run(shop, &[&["export"], how].concat());
    said.error.map_or(said.out, |error| panic!("{error}"))
}

/// What is said of a kiln that a record brings.
const NORTH: &str = "; kilns nobody had described, listed as fired by gas: North (\"spyhole kiln change\" describes them)";

#[test]
fn law_an_import_is_tried_first_and_done_once() {
    let folder = tempfile::tempdir().unwrap();
    let (shop, file) = (folder.path().join("shop.db"), folder.path().join("north.jsonl"));
    fs::write(&file, GOOD).unwrap();
    let files = [file.clone()];
    let name = file.display();
    let said = import(&shop, &files, &["--dry-run"]);
    let new = "1 new firings; 0 events were there already";
    assert_eq!(said.out, format!("{name}: 3 events would be taken in, {new}{NORTH}.\n"));
    let empty = LedgerFilter::default();
    assert!(Journal::open(&shop).unwrap().ledger(&empty).unwrap().is_empty());
    let said = import(&shop, &files, &[]);
    assert_eq!(said.out, format!("{name}: 3 events taken in, {new}{NORTH}.\n"));
    let said = import(&shop, &files, &[]);
    let old = "0 new firings; 3 events were there already";
    assert_eq!(said.out, format!("{name}: 0 events taken in, {old}.\n"));
    let ledger = Journal::open(&shop).unwrap().ledger(&empty).unwrap();
    assert_eq!((ledger.len(), ledger[0].state), (1, State::Off));
}

#[test]
fn law_a_bad_line_is_named_and_only_its_file_is_left_out() {
    let (folder, shop) = shop_file();
    let write = |name: &str, text: &str| {
        let path = folder.path().join(name);
        fs::write(&path, text).unwrap();
        path
    };
    let good = write("good.jsonl", GOOD);
    let bad = write("bad.jsonl", &GOOD.replace("North", "South").replace("\"down\"", "\"dwn\""));
    let orphan = write("orphan.jsonl", GOOD.split_once('\n').unwrap().1);
    let missing = folder.path().join("missing.jsonl");
    let said = import(&shop, &[bad, good, orphan, missing], &[]);
    assert!(said.out.contains("good.jsonl: 3 events taken in"), "{}", said.out);
    let error = said.error.unwrap();
    assert!(error.contains("bad.jsonl: line 2: key \"target\" is \"dwn\""), "{error}");
    assert!(error.contains("orphan.jsonl: line 1: this record never says \"lit\""), "{error}");
    assert!(error.contains("missing.jsonl: it cannot be read"), "{error}");
    let ledger = Journal::open(&shop).unwrap().ledger(&LedgerFilter::default()).unwrap();
    assert_eq!(ledger.len(), 1);
}

#[test]
fn law_a_whole_shop_moves_into_one_file_and_back() {
    let (folder, path, mut journal) = new_shop();
    for kiln in ["North", "South"] {
        let described = What::KilnSet(Kiln::undescribed(kiln));
        journal.append(&event(None, LIT, described), LIT).unwrap();
        let firing = Some(light(&mut journal, kiln));
        journal.append(&event(firing, minutes(5), reading(33.3)), minutes(6)).unwrap();
    }
    let off = journal.append(&event(Some(FiringId(1)), minutes(9), What::Off), LIT).unwrap();
    put(&mut journal, None, 10, strike(off.id));
    drop(journal);
    let exported = export(&path, &[]);
    let file = folder.path().join("whole.jsonl");
    fs::write(&file, &exported).unwrap();
    let other = folder.path().join("other.db");
    // A shop that has nothing yet, not even the starter set.
    drop(begun(&other));
    let lines = crate::records::read(&exported).unwrap();
    let mode = spyhole::testing::edge::journal::Mode::Keep;
    Journal::open(&other).unwrap().import(lines.into_iter().map(Ok), minutes(99), mode).unwrap();
    assert_eq!(export(&other, &[]), exported);
    // Into a shop that has other firings, with new numbers.
    let third = folder.path().join("third.db");
    light(&mut begun(&third), "East");
    assert!(import(&third, &[file], &[]).error.is_none());
    let third = Journal::open(&third).unwrap();
    assert_eq!(third.ledger(&LedgerFilter::default()).unwrap().len(), 3);
    assert_eq!(third.firing(FiringId(2)).unwrap().state, State::Lit, "the strike came along");
}

#[test]
fn law_tables_have_a_line_for_each_firing_and_reading() {
    let (_folder, path, mut journal) = new_shop();
    let firing = Some(light(&mut journal, "North, the old one"));
    journal.append(&event(firing, minutes(5), reading(33.3)), minutes(6)).unwrap();
    put(&mut journal, firing, 6, What::Off);
    drop(journal);
    assert_eq!(
        export(&path, &["--csv", "readings"]),
        "firing,kiln,at,celsius\n1,\"North, the old one\",2026-03-14T08:15:00+00:00,33.3\n"
    );
    let ledger = export(&path, &["--csv", "ledger"]);
    let mut rows = csv::Reader::from_reader(ledger.as_bytes());
    let row = rows.records().next().unwrap().unwrap();
    assert_eq!((&row[1], &row[3], &row[5]), ("North, the old one", "018", "off"));
}

#[test]
fn law_one_firing_or_one_kiln_can_be_exported() {
    let (folder, path, mut journal) = new_shop();
    for kiln in ["North", "South"] {
        let firing = Some(light(&mut journal, kiln));
        journal.append(&event(firing, minutes(5), What::Off), minutes(6)).unwrap();
        let what = What::KilnSet(made::kiln(kiln, Fuel::Electric));
        put(&mut journal, None, 1, what);
    }
    drop(journal);
    let export = |how: [&str; 2]| {
        let output = folder.path().join("out.jsonl");
        let line = [&["export", "--replace", "-o", output.to_str().unwrap()], &how[..]].concat();
        (run(&path, &line), fs::read_to_string(output).unwrap_or_default())
    };
    let (said, record) = export(["--firing", "2"]);
    assert!(said.out.starts_with("2 lines written to "), "{}", said.out);
    assert!(record.contains("South") && !record.contains("North"), "{record}");
    let (_, record) = export(["--kiln", "north"]);
    assert!(record.contains("North") && !record.contains("South"), "{record}");
    let (said, _) = export(["--firing", "99"]);
    let none = "there is no firing 99 in this shop: \"spyhole ledger\" lists them";
    assert_eq!(said.error.unwrap(), none);
}
