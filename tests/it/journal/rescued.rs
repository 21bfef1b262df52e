//! What becomes of a damaged shop: it goes on, says what is lost and when that was written, and is
//! never mistaken for another.

use std::process::Stdio;

use rusqlite::Connection;
use spyhole::testing::edge::journal::backup;
use spyhole::testing::edge::journal::daily::DailyBackup;
use spyhole::testing::edge::journal::shop_files::backup_folder;

use super::cli::{Bench, Said, Setting, YesAfter, typed, typed_to, words};
use super::exchange::export;
use super::*;
use crate::program::{command, finish, spyhole};
use crate::same_shop::put_in_its_place;

const PAGE: usize = 4096;

/// A shop with North alight since [`LIT`], two hours of readings and a look.
fn burning() -> (TempDir, PathBuf) {
    let (folder, path) = shop_file();
    let mut journal = begun_by_the_program(&path, LIT);
    journal.append(&event(None, LIT, What::KilnSet(Kiln::undescribed("North"))), LIT).unwrap();
    let firing = Some(light(&mut journal, "North"));
    for n in 1..120 {
        let reading = event(firing, minutes(n), reading(20.0 + 4.0 * n as f64));
        journal.append(&reading, minutes(n)).unwrap();
    }
    put(&mut journal, firing, 120, look(Seen::Standing));
    (folder, path)
}

fn at(shop: &Path, minute: i64, line: &str) -> Said {
    typed(shop, &words(line), &Setting::at(minutes(minute)))
}

fn change(path: &Path, how: impl FnOnce(&mut Vec<u8>)) {
    let mut bytes = fs::read(path).unwrap();
    how(&mut bytes);
    fs::write(path, bytes).unwrap();
}

fn rescued(path: &Path) -> PathBuf {
    path.with_file_name("shop.rescued.db")
}

#[test]
fn law_a_destroyed_header_or_first_page_loses_nothing() {
    for destroyed in [16, 60, 100, PAGE] {
        let (_folder, path) = burning();
        let last = Journal::open(&path).unwrap().last_event().unwrap().unwrap().0 as u64;
        change(&path, |bytes| bytes[..destroyed].fill(0xa5));
        let opened = Journal::open_or_rescue(&path, minutes(125)).unwrap();
        let loss = opened.loss.unwrap();
        assert_eq!((loss.saved, loss.lost), (Some(last), 0), "{destroyed} bytes: {loss}");
        let shop = opened.journal.shop().unwrap();
        assert_eq!((shop.open[0].readings.len(), shop.kilns.len()), (119, 1));
        assert_eq!(shop.open[0].looks.len(), 1);
        let stored = opened.journal.event(EventId(last as i64)).unwrap();
        assert_eq!(stored.event.who, Who::Person("Ida".into()));
    }
}

#[test]
fn law_what_is_lost_is_told_from_when_to_when_and_filled_from_a_backup() {
    for backed_up in [false, true] {
        let (_folder, path) = burning();
        if backed_up {
            Journal::open(&path).unwrap().backup(minutes(121), None).unwrap();
        }
        let bytes = fs::read(&path).unwrap();
        let root = page_of(&path, "events");
        // The leaves of the table hang on its root; the second of them has readings only.
        let cell =
            u16::from_be_bytes([bytes[(root - 1) * PAGE + 14], bytes[(root - 1) * PAGE + 15]]);
        let cell = (root - 1) * PAGE + usize::from(cell);
        let leaf = u32::from_be_bytes(bytes[cell..cell + 4].try_into().unwrap()) as usize;
        change(&path, |bytes| bytes[(leaf - 1) * PAGE..leaf * PAGE].fill(0));
        let loss = Journal::open_or_rescue(&path, minutes(125)).unwrap().loss.unwrap();
        if backed_up {
            assert_eq!((loss.lost, loss.from_backup > 0), (0, true), "{loss}");
            continue;
        }
        let [gap] = loss.gaps.as_slice() else { panic!("{loss}") };
        assert_eq!(gap.events, loss.lost);
        let (after, before) = (gap.after.unwrap(), gap.before.unwrap());
        assert!(LIT <= after && after < before && before <= minutes(120), "{loss}");
        assert!(loss.to_string().contains(&format!("{} written between 2026-03-14 ", gap.events)));
    }
}

/// Whoever has the damaged file open still could write into it, or into what was exchanged for another.
#[test]
fn law_nothing_goes_into_a_file_in_which_the_shop_does_not_go_on() {
    for way in ["another file", "rescued"] {
        let (_folder, path) = burning();
        let mut known = Journal::open(&path).unwrap();
        let firing = known.shop().unwrap().firing_in("North").map(|firing| firing.id);
        let exchange = || {
            let mut bytes = fs::read(&path).unwrap();
            if way == "rescued" {
                bytes[..100].fill(0);
            }
            put_in_its_place(&path, &bytes);
            drop(Journal::open_or_rescue(&path, minutes(125)).unwrap());
        };
        // An event is in the shop whatever happened between the question and its answer, and once.
        let setting = Setting { answers: Some(""), ..Setting::at(minutes(126)) };
        let line = words("off North");
        let said = typed_to(&path, &line, &setting, &mut YesAfter::new(exchange));
        assert_eq!(said.error, None, "{way}");
        let exported = export(&path, &[]);
        assert_eq!(exported.matches("\"event\":\"off\"").count(), 1, "{way}: {exported}");
        let written = known.append(&event(firing, minutes(127), look(Seen::Down)), minutes(127));
        assert!(matches!(written, Err(JournalError::Exchanged { .. })), "{way}: {written:?}");
    }
}

#[test]
fn law_an_old_rescued_file_is_not_taken_for_the_shop_of_today() {
    let (folder, path) = burning();
    Journal::open(&path).unwrap().backup(minutes(121), None).unwrap();
    for by_hand in [false, true] {
        change(&path, |bytes| bytes[..60].fill(0));
        let status = at(&path, 125, "status");
        assert!(status.warned.contains("goes on in") && status.out.contains("North"), "{status:?}");
        assert!(rescued(&path).exists());
        if by_hand {
            let (_, copy) = backup::list(&path).remove(0);
            let elsewhere = folder.path().join("elsewhere.db");
            fs::copy(copy, &elsewhere).unwrap();
            light(&mut Journal::open(&elsewhere).unwrap(), "West");
            fs::rename(elsewhere, &path).unwrap();
        } else {
            assert_eq!(at(&path, 126, "journal restore").error, None);
            assert!(!rescued(&path).exists(), "it is moved aside");
            light(&mut Journal::open(&path).unwrap(), "West");
        }
        // The shop goes on in its own file, with what the rescued one does not have.
        let status = at(&path, 127, "status");
        assert!(status.out.contains("West") && status.warned.is_empty(), "{by_hand}: {status:?}");
        change(&path, |bytes| bytes[..60].fill(0));
        let status = at(&path, 128, "status");
        assert!(status.out.contains("West") && status.warned.contains("goes on in"), "{status:?}");
        assert_eq!(at(&path, 129, "journal restore").error, None);
    }
}

#[test]
fn law_whoever_opens_a_rescued_shop_goes_on_in_the_same_file() {
    let (_folder, path) = burning();
    let mut screen = KeptShop::open(&path, "Ada".into(), PATIENCE, minutes(121)).unwrap();
    screen.snapshot(minutes(121)).unwrap();
    change(&path, |bytes| bytes[..60].fill(0));
    assert_eq!(at(&path, 122, "read North 560C").error, None);
    // The screen still had the file open, and met no damage itself.
    let floor = screen.snapshot(minutes(123)).unwrap();
    assert_eq!(floor.shop.open[0].readings.len(), 120);
    assert!(screen.line().unwrap().contains("goes on in shop.rescued.db"));
    let entry = Entry::new(About::Firing(FiringId(1)), minutes(124), What::Off);
    screen.append(&entry, minutes(124)).unwrap();
    assert!(at(&path, 125, "status").out.contains("off"), "one shop for all");
}

#[test]
fn law_any_damaged_page_leaves_a_shop_that_is_read_and_written_by_commands() {
    let (_folder, path) = burning();
    let sound = fs::read(&path).unwrap();
    for page in 0..sound.len() / PAGE {
        let (_folder, path) = shop_file();
        fs::write(&path, &sound).unwrap();
        let fill = if page % 2 == 0 { 0 } else { 0xff };
        change(&path, |bytes| bytes[page * PAGE..page * PAGE + 700].fill(fill));
        for line in ["ledger", "look North --target leaning", "history North"] {
            let said = at(&path, 121, line);
            assert_eq!(said.error, None, "page {}: {line}", page + 1);
        }
        assert!(at(&path, 122, "status").out.contains("North: "), "page {}", page + 1);
    }
}

#[test]
fn law_a_kiln_whose_own_event_is_damaged_stays_on_the_floor() {
    for (kind, named) in [(2, "(kiln, "), (5, "(lit, North, ")] {
        let (_folder, path) = burning();
        let raw = Connection::open(&path).unwrap();
        raw.execute_batch("DROP TRIGGER events_are_never_changed").unwrap();
        let sql = "UPDATE events SET body = replace(body, 'North', 'Norph') WHERE kind = ?1";
        assert_eq!(raw.execute(sql, [kind]).unwrap(), 1);
        drop(raw);
        for line in ["status", "look North --target leaning", "status"] {
            let said = at(&path, 125, line);
            assert_eq!(said.error, None, "{line}");
            let told = said.out.contains("North") && said.out.contains(named);
            assert!(told && said.out.contains("cannot be read"), "{line}: {}", said.out);
        }
        let status = at(&path, 126, "status").out;
        assert!(status.contains("North: ") && status.contains("gold to cone 018"), "{status}");
        let mut screen = KeptShop::open(&path, String::new(), PATIENCE, minutes(126)).unwrap();
        let scene = screen.snapshot(minutes(126)).unwrap().scene(minutes(126));
        let [kiln] = scene.kilns.as_slice() else { panic!("{scene:?}") };
        assert_eq!((kiln.kiln.as_str(), kiln.firing), ("North", Some(FiringId(1))));
        let off = at(&path, 127, "off North");
        assert_eq!(off.error, None);
        assert_eq!(Journal::open(&path).unwrap().firing(FiringId(1)).unwrap().state, State::Off);
    }
}

#[test]
fn law_an_empty_file_is_a_damaged_shop_or_none_at_all() {
    let (_folder, path) = burning();
    Journal::open(&path).unwrap().backup(minutes(121), None).unwrap();
    fs::write(&path, "").unwrap();
    let status = at(&path, 125, "status");
    assert!(status.warned.contains("it is empty") && status.warned.contains("from a backup"));
    assert!(status.out.contains("North: "), "{}", status.out);
    assert_eq!(fs::read(&path).unwrap(), b"", "it is left as it is");
    let folder = tempfile::tempdir().unwrap();
    let name = |name: &str| folder.path().join(name);
    fs::write(name("empty.db"), "").unwrap();
    fs::write(name("notes.txt"), "not a shop ".repeat(900)).unwrap();
    fs::create_dir(name("folder")).unwrap();
    let made = std::process::Command::new("mkfifo").arg(name("pipe")).status().unwrap();
    assert!(made.success());
    for (file, what) in [
        ("empty.db", "an empty file"),
        ("notes.txt", "no shop of Spyhole"),
        ("folder", "a folder"),
        ("pipe", "no file, but a device or a pipe"),
    ] {
        let run = spyhole(&["--shop", name(file).to_str().unwrap(), "status"]);
        let refused = format!("spyhole: no shop: {} is {what}, ", name(file).display());
        assert!(run.code == 2 && run.err.starts_with(&refused), "{file}: {run:?}");
    }
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 4, "nothing is made beside them");
    let (_folder, path) = burning();
    Connection::open(&path).unwrap().pragma_update(None, "user_version", -5).unwrap();
    let status = at(&path, 125, "status");
    assert!(status.warned.contains("it says it is of version -5"), "{status:?}");
    assert!(status.out.contains("North: "), "{}", status.out);
}

#[test]
fn law_backups_are_ordered_by_what_they_hold() {
    let (_folder, path) = burning();
    let mut journal = Journal::open(&path).unwrap();
    let years = |years: i64| LIT + Span::hours(24 * 365 * years);
    let wrong = journal.backup(years(4), None).unwrap();
    for day in 1..20 {
        let now = LIT + Span::hours(24 * day);
        journal.append(&event(Some(FiringId(1)), now, reading(600.0)), now).unwrap();
        journal.backup(now, None).unwrap();
    }
    let days = backup::list(&path);
    assert_eq!(days[0].0, LIT + Span::hours(24 * 19), "the fullest comes first");
    assert!((15..=19).contains(&days.len()), "{days:?}");
    assert_eq!(days.last().unwrap().1, wrong, "it holds least of all");
    let at_1970 = journal.backup(Moment(3_600_000), None).unwrap();
    assert!(at_1970.exists(), "the one just made stays");
    journal.append(&event(Some(FiringId(1)), years(1), What::Off), years(1)).unwrap();
    drop(journal);
    let (_, old) = backup::list(&path).pop().unwrap();
    let restored = at(&path, 130, &format!("journal restore '{}'", old.display()));
    assert!(restored.warned.contains("events of the shop are not in"), "{restored:?}");
    assert!(restored.warned.contains("holds") && restored.warned.contains("events more"));
}

#[test]
fn law_a_copy_that_was_broken_off_is_swept_and_never_taken_for_a_backup() {
    let (_folder, path) = burning();
    let journal = Journal::open(&path).unwrap();
    fs::create_dir_all(backup_folder(&path)).unwrap();
    let old = std::time::SystemTime::now() - Duration::from_secs(7_200);
    for ending in ["part", "part-journal"] {
        let part = backup_folder(&path).join(format!("shop.2026-03-01-081000.backup.{ending}"));
        fs::write(&part, "half").unwrap();
        fs::File::options().write(true).open(&part).unwrap().set_modified(old).unwrap();
    }
    assert!(backup::list(&path).is_empty());
    journal.backup(minutes(121), None).unwrap();
    assert_eq!(fs::read_dir(backup_folder(&path)).unwrap().count(), 1);
}

#[test]
fn law_calm_minutes_make_the_file_whole_and_look_at_all_of_it() {
    let (folder, path) = burning();
    let mut journal = Journal::open(&path).unwrap();
    for n in 125..140 {
        put(&mut journal, Some(FiringId(1)), n, reading(700.0));
    }
    let mut daily = DailyBackup::default();
    let copy = folder.path().join("copy.db");
    fs::copy(&path, &copy).unwrap();
    let last = |path: &Path| Journal::open(path).unwrap().last_event().unwrap();
    assert!(last(&copy) < journal.last_event().unwrap(), "the log is not in it");
    daily.look_after(&journal, minutes(140)).unwrap();
    fs::copy(&path, &copy).unwrap();
    assert_eq!(last(&copy), journal.last_event().unwrap());
    // An event of a firing that is over: no answer reads it until it was looked at.
    for (minute, what) in [(150, What::Off), (700, What::Drawn), (701, outcome(Verdict::Good))] {
        put(&mut journal, Some(FiringId(1)), minute, what);
    }
    let raw = Connection::open(&path).unwrap();
    raw.execute_batch("DROP TRIGGER events_are_never_changed").unwrap();
    raw.execute("UPDATE events SET celsius = 1.5 WHERE id = 40", []).unwrap();
    drop(raw);
    assert!(!at(&path, 800, "load-type list").out.contains("cannot be read"));
    for minute in 0..5 {
        daily.look_after(&journal, minutes(800 + minute)).unwrap();
    }
    assert_eq!(journal.unread().list().len(), 1, "the keeper tells it");
    for line in ["status", "load-type list", "ledger"] {
        let said = at(&path, 810, line);
        assert!(said.out.contains("Event 40 (reading, North, firing 1, "), "{line}: {}", said.out);
    }
}

#[test]
fn law_days_without_a_backup_are_told() {
    let later = LIT + Span::hours(24 * 5);
    // Each in a shop of its own: a backup is made beside whoever asks for it.
    let [(_still, quiet), (_folder, mut journal)] = [burning(), burning()].map(|(folder, path)| {
        let journal = Journal::open(&path).unwrap();
        journal.backup(minutes(121), None).unwrap();
        (folder, journal)
    });
    assert_eq!(DailyBackup::default().keep(&quiet, later), None, "nothing was written since");
    journal.append(&event(Some(FiringId(1)), later, What::Off), later).unwrap();
    let told = DailyBackup::default().keep(&journal, later + Span::hours(24 * 3));
    assert!(told.unwrap().unwrap_err().starts_with("none for "));
}

#[test]
fn law_an_imported_firing_of_an_unknown_kiln_stands_on_the_floor() {
    let folder = tempfile::tempdir().unwrap();
    let (path, record) = (folder.path().join("shop.db"), folder.path().join("north.jsonl"));
    let lit = r#"{"at": "2026-03-14T09:10:00+01:00", "event": "lit", "kiln": "North", "load_type": "gold", "cone": "018", "cone_family": "self-supporting"}"#;
    fs::write(&record, format!("{lit}\n")).unwrap();
    assert_eq!(at(&path, 60, &format!("import {}", record.display())).error, None);
    assert!(at(&path, 61, "kiln list").out.contains("North"));
    // As a file of an earlier version has it: nobody described the kiln.
    let other = folder.path().join("other.db");
    light(&mut begun(&other), "North");
    for shop in [&path, &other] {
        assert!(at(shop, 62, "status").out.contains("North: "));
        assert_eq!(at(shop, 63, "look North --target leaning").error, None);
        assert_eq!(at(shop, 64, "off North").error, None);
    }
}

#[test]
fn law_a_clock_before_the_newest_entry_is_told_and_asked_about() {
    let mut bench = Bench::new();
    bench.at(10).say("light North --load gold");
    bench.at(200).say("read North 600C");
    bench.at(80);
    let told = |said: &Said| said.warned.contains("one of them is wrong");
    for line in ["status", "ledger", "alarms", "load-type list"] {
        let said = bench.said(line, false);
        assert!(told(&said) && said.error.is_none(), "{line}: {said:?}");
    }
    let refused = bench.said("read North 620C", false);
    assert_eq!(refused.code, 2);
    assert!(refused.error.unwrap().contains("say when it was with --at TIME"));
    assert_eq!(bench.said("read North 120C --at '2 h ago'", false).error, None);
    let look = bench.said("look North --target leaning", false);
    assert!(told(&look) && look.error.is_none(), "{look:?}");
    assert_eq!(bench.said("off North", false).error, None);
    let journal = Journal::open(&bench.shop()).unwrap();
    let firing = journal.firing(FiringId(1)).unwrap();
    assert_eq!((firing.looks[0].at, firing.off), (minutes(200), Some(minutes(200))));
    assert_eq!(firing.oddities.len(), 0, "{:?}", firing.oddities);
    let setting = Setting { answers: Some("yes\n"), ..Setting::at(minutes(80)) };
    assert_eq!(typed(&bench.shop(), &words("note North calm"), &setting).error, None);
    assert!(!told(&bench.said("status", false)), "somebody said that the clock is right");
}

#[test]
fn law_an_entry_of_a_clock_a_year_ahead_does_not_stay_the_newest() {
    let (_folder, _path, mut journal) = new_shop();
    let north = light(&mut journal, "North");
    let firing = Some(north);
    let ahead = minutes(60) + Span::hours(24 * 365);
    journal.append(&event(firing, ahead, reading(600.0)), ahead).unwrap();
    put(&mut journal, firing, 70, reading(620.0));
    let readings = journal.firing(north).unwrap().readings;
    assert_eq!(readings.last(), Some(&(minutes(70), Celsius(620.0))));
    assert_eq!(readings[0].1, Celsius(600.0), "in the order made");
}

#[test]
fn law_an_answer_that_cannot_be_printed_says_what_is_written() {
    let (_folder, path) = burning();
    let full = || Stdio::from(fs::File::options().write(true).open("/dev/full").unwrap());
    let mut read = command();
    read.arg("--shop").arg(&path).args(words("read North 642C --at 2026-03-14T11:15:00+01:00"));
    let run = finish(read.stdout(full()));
    let last = Journal::open(&path).unwrap().last_event().unwrap().unwrap();
    let told = format!("event {last} is written, but the answer could not be");
    assert!(run.code == 1 && run.err.contains(&told), "{run:?}");
}
