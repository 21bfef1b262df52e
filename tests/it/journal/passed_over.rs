//! Damaged shops by the hundred: whatever is damaged, an answer it changes says so.
//!
//! A few dozen of them here; all of them: `SPYHOLE_DAMAGED=600 cargo test --test it passed_over`.

use std::env;
use std::fmt::Debug;
use std::thread;
use std::time::Duration;

use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;
use rusqlite::Connection;
use spyhole::testing::edge::bell::equip::equip_with;
use spyhole::testing::edge::bell::settings::BellSettings;
use spyhole::testing::edge::bell::terminal::Terminal;
use spyhole::testing::edge::keeper::Keeper;
use spyhole::testing::edge::shop::advised::Counsel;
use spyhole::testing::edge::shop::told::Told;

use super::cli::{Setting, typed, words};
use super::*;

const COUNT: &str = "SPYHOLE_DAMAGED";
const FEW: usize = 40;
const PAGE: usize = 4096;
/// When the shop is asked.
const ASKED: i64 = 230;

/// Three firings that are over, two kilns alight and one packed, in one file without a log.
fn sound_shop(path: &Path) {
    let mut journal = begun_by_the_program(path, minutes(-5_000));
    let mut write =
        |firing: Option<FiringId>, at: i64, what: What| done(&mut journal, firing, at, what).firing;
    for name in ["North", "South", "East", "West"] {
        let fuel = if name == "South" { Fuel::Electric } else { Fuel::Gas };
        let (litres, ceiling, fastest_climb) = (Some(100.0), None, None);
        let kiln = Kiln { name: name.into(), fuel, litres, ceiling, fastest_climb };
        write(None, -4_990, What::KilnSet(kiln));
    }
    for (kiln, begun) in [("North", -4_300), ("South", -2_900), ("North", -1_500)] {
        let firing = write(None, begun, lit(kiln));
        for n in 1..60 {
            write(firing, begun + 4 * n, reading(20.0 + 11.9 * n as f64));
        }
        write(firing, begun + 241, look(Seen::Down));
        write(firing, begun + 242, What::Off);
        write(firing, begun + 900, What::Drawn);
        write(firing, begun + 901, outcome(Verdict::Good));
    }
    let north = write(None, 0, lit("North"));
    let south = write(None, 15, packed("South"));
    write(None, 17, packed("East"));
    write(south, 20, lit("South"));
    for n in 1..55 {
        write(north, 4 * n, reading(20.0 + 11.9 * n as f64));
        write(south, 20 + 3 * n, reading(30.0 + 5.1 * n as f64));
    }
    write(north, 217, What::Note { text: "a long remark ".repeat(400) });
    write(north, 219, look(Seen::Leaning));
    let slip = put(&mut journal, south, 221, look(Seen::Down));
    put(&mut journal, south, 222, strike(slip.id));
}

/// What somebody learns who asks, and whether they are told that something is damaged.
type Answer = (String, bool);
type Ask = fn(&Path) -> Answer;

fn failed(error: impl Debug) -> Answer {
    (format!("{error:?}"), true)
}

fn status(shop: &Path) -> Answer {
    let said = typed(shop, &words("status"), &Setting::at(minutes(ASKED)));
    let told = said.error.is_some()
        || said.warned.contains("is damaged")
        || said.warned.contains("newer Spyhole")
        || said.out.contains("cannot be read");
    (said.out, told)
}

fn screen(shop: &Path) -> Answer {
    let now = minutes(ASKED);
    let mut store = match KeptShop::open(shop, String::new(), PATIENCE, now) {
        Ok(store) => store,
        Err(error) => return failed(error),
    };
    match store.snapshot(now) {
        Ok(floor) => {
            let scene = floor.scene(now);
            let told = !scene.unread.is_empty() || store.line().is_some();
            (format!("{:?}", Scene { unread: Vec::new(), ..scene }), told)
        }
        Err(error) => failed(error),
    }
}

fn keeper(shop: &Path) -> Answer {
    let now = minutes(ASKED);
    let settings =
        r#"{"people": [{"name": "Ada", "ways": ["command"]}], "command": {"program": "true"}}"#;
    fs::write(shop.with_file_name("shop.db.bell.json"), settings).unwrap();
    let settings = BellSettings::read(shop).unwrap();
    let equipment = equip_with(settings, shop, Scale::default(), Terminal::new(None, None));
    let mut keeper =
        match Keeper::open(shop, (equipment, None), Counsel::default(), ("keep", false), now) {
            Ok(keeper) => keeper,
            Err(error) => return failed(error),
        };
    let mut told = Vec::new();
    // On a busy machine the first steps may be over before its file is read.
    for _ in 0..100 {
        told.extend(keeper.step(now, Span::ZERO));
        if told.iter().any(Told::is_trouble) || !keeper.view().standing.is_empty() {
            break;
        }
        thread::sleep(Duration::from_millis(20));
    }
    let standing = format!("{:?}", keeper.view().standing);
    let rings = keeper.view().standing.iter().any(|alarm| alarm.key.task == Task::ShopFile);
    (standing, rings || told.iter().any(Told::is_trouble))
}

/// Damages the file, and says how.
fn damage(path: &Path, random: &mut Pcg64Mcg) -> String {
    let mut bytes = fs::read(path).unwrap();
    let (at, pages) = (random.random_range(0..bytes.len()), bytes.len() / PAGE);
    let (page, other) = (random.random_range(0..pages), random.random_range(0..pages));
    let how = match random.random_range(0..20) {
        0..9 => {
            let bit = random.random_range(0..8);
            bytes[at] ^= 1 << bit;
            format!("bit {bit} of byte {at} flipped")
        }
        9 | 10 => {
            bytes[page * PAGE..(page + 1) * PAGE].fill(0);
            format!("page {} zeroed", page + 1)
        }
        11 => {
            let end = (at + random.random_range(1..PAGE)).min(bytes.len());
            bytes[at..end].fill_with(|| random.random());
            format!("bytes {at} to {end} garbled")
        }
        12 => {
            bytes.copy_within(other * PAGE..(other + 1) * PAGE, page * PAGE);
            format!("page {} written over by page {}", page + 1, other + 1)
        }
        13 => {
            let at = if random.random_range(0..4) == 0 { 0 } else { at };
            bytes.truncate(at);
            format!("cut off at {at}")
        }
        14 => {
            let end = random.random_range(1..=100);
            bytes[..end].fill_with(|| random.random());
            format!("header garbled up to {end}")
        }
        _ => return damage_event(path, random),
    };
    fs::write(path, bytes).unwrap();
    how
}

/// Changes one column of one event, as a flipped bit in it would.
fn damage_event(path: &Path, random: &mut Pcg64Mcg) -> String {
    let raw = Connection::open(path).unwrap();
    raw.execute_batch("DROP TRIGGER events_are_never_changed").unwrap();
    let last: i64 = raw.query_row("SELECT max(id) FROM events", [], |row| row.get(0)).unwrap();
    // What people did stands at the ends of the firings; most of the rest are readings.
    let deeds = "SELECT id FROM events WHERE kind <> 1 ORDER BY id LIMIT 1 OFFSET ?1";
    let deed = raw.query_row(deeds, [random.random_range(0..30)], |row| row.get(0));
    let id = if random.random() { random.random_range(1..=last) } else { deed.unwrap() };
    let change = [
        "body = replace(body, 'o', 'q'), celsius = celsius + 64",
        "body = substr(body, 1, 9), celsius = -celsius",
        "kind = kind + 1",
        "at_ms = at_ms + 4194304",
        "firing = firing + 1",
        "firing = 0",
        "written_after_ms = written_after_ms + 1048576",
        "version = version + 1",
        "seal = seal + 4",
    ][random.random_range(0..9)];
    // A change that the tables do not allow was none.
    let done = raw.execute(&format!("UPDATE OR IGNORE events SET {change} WHERE id = ?1"), [id]);
    drop(raw);
    format!("event {id}: {change} ({done:?})")
}

/// An event that is in its table, but in no firing by the index, as by one bit of it.
fn hide(path: &Path, firing: i64) {
    let raw = Connection::open(path).unwrap();
    let index = "CREATE UNIQUE INDEX events_of_firing ON events (firing, uid)";
    let down = format!("(SELECT max(id) - 3 FROM events WHERE firing = {firing})");
    let hidden: i64 = raw.query_row(&format!("SELECT {down}"), [], |row| row.get(0)).unwrap();
    raw.execute_batch(&format!(
        "DROP INDEX events_of_firing;
         {index} WHERE id <> {hidden};
         PRAGMA writable_schema = ON;
         UPDATE sqlite_schema SET sql = '{index}' WHERE name = 'events_of_firing';"
    ))
    .unwrap();
}

#[test]
fn law_an_event_that_an_index_hides_is_missing_in_no_answer() {
    for ask in [status as Ask, screen] {
        let (_place, shop) = shop_file();
        sound_shop(&shop);
        let sound = fs::read(&shop).unwrap();
        let whole = ask(&shop);
        for firing in 1..=5 {
            let (_place, shop) = shop_file();
            fs::write(&shop, &sound).unwrap();
            hide(&shop, firing);
            let (said, told) = ask(&shop);
            assert!(told || said == whole.0, "firing {firing}: {said}");
        }
    }
}

/// A bit of a leaf of an index: it loses events, finds them twice, or breaks off in the middle.
#[test]
fn law_a_flipped_bit_of_an_index_is_passed_over_in_no_answer() {
    let (_place, shop) = shop_file();
    sound_shop(&shop);
    let (sound, whole) = (fs::read(&shop).unwrap(), screen(&shop));
    // The first byte of a page says what it is, the fourth and fifth how many cells it has.
    let is_large = |page: &&[u8]| page[0] == 10 && u16::from_be_bytes([page[3], page[4]]) > 100;
    let pages: Vec<&[u8]> = sound.chunks(PAGE).filter(is_large).collect();
    assert!(!pages.is_empty(), "the index of the firings' events");
    let mut random = Pcg64Mcg::seed_from_u64(22);
    let mut told = 0;
    let begins = |page: &[u8]| page.as_ptr().addr() - sound.as_ptr().addr();
    let flipped = (0..60).map(|_| {
        let at = begins(pages[random.random_range(0..pages.len())]) + random.random_range(0..400);
        let mut bytes = sound.clone();
        bytes[at] ^= 1 << random.random_range(0..8);
        (at, bytes)
    });
    // Where each of the events lies is said in two bytes from the ninth on: the first are taken for the
    // next, and for one of another firing.
    let taken = pages.iter().flat_map(|page| (8..32).step_by(2).map(|at| (begins(page), at)));
    let taken = taken.flat_map(|(page, at)| [at + 2, 160].map(|other| (page + at, page + other)));
    let taken = taken.map(|(at, other)| {
        let mut bytes = sound.clone();
        bytes.copy_within(other..other + 2, at);
        (at, bytes)
    });
    for (at, bytes) in flipped.chain(taken) {
        let (_place, shop) = shop_file();
        fs::write(&shop, bytes).unwrap();
        let (said, tells) = screen(&shop);
        assert!(tells || said == whole.0, "byte {at}: {said}");
        told += usize::from(tells);
    }
    assert!(told > 10, "{told}");
}

#[test]
fn law_no_damage_that_changes_an_answer_is_passed_over() {
    let folder = tempfile::tempdir().unwrap();
    let sound = folder.path().join("sound.db");
    sound_shop(&sound);
    let sound = fs::read(sound).unwrap();
    let asked: [(&str, Ask); 3] = [("status", status), ("screen", screen), ("keeper", keeper)];
    let ask = |bytes: &[u8], ask: Ask| {
        let (_place, shop) = shop_file();
        fs::write(&shop, bytes).unwrap();
        ask(&shop)
    };
    let whole = asked.map(|(_, how)| ask(&sound, how));
    for (answer, (who, _)) in whole.iter().zip(asked) {
        assert!(!answer.1, "{who} tells of damage where there is none: {}", answer.0);
    }
    assert!(whole.iter().all(|(answer, _)| answer.contains("North")), "{whole:?}");
    let count = env::var(COUNT).map_or(FEW, |count| count.parse().unwrap());
    let mut random = Pcg64Mcg::seed_from_u64(1_600);
    let (mut told, mut harmless, mut passed_over) = (0, 0, Vec::new());
    for round in 0..count {
        let shop = folder.path().join("shop.db");
        fs::write(&shop, &sound).unwrap();
        let how = damage(&shop, &mut random);
        let damaged = fs::read(&shop).unwrap();
        for ((who, how_asked), whole) in asked.into_iter().zip(&whole) {
            let (said, tells) = ask(&damaged, how_asked);
            match (tells, said == whole.0) {
                (true, _) => told += 1,
                (false, true) => harmless += 1,
                (false, false) => {
                    passed_over
                        .push(format!("{round}: {how}: {who}: {said}\ninstead of\n{}", whole.0));
                }
            }
        }
    }
    println!("{count} damaged shops: told {told} times, without effect {harmless} times");
    assert!(passed_over.is_empty(), "{}: {}", passed_over.len(), passed_over.join("\n"));
    assert!(told > count, "told {told} times only of {count} shops asked three times");
}
