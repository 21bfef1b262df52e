//! What is read from outside, as functions of bytes that must hold whatever the bytes are. The fuzz
//! targets call them, and so does every `cargo test`, with the corpus and what is made from it.
#![allow(dead_code, reason = "each target calls one of them")]

use std::path::PathBuf;
use std::{env, fs, process, str, thread};

use spyhole::testing::cone::Cone;
use spyhole::testing::edge::bell::settings::BellFile;
use spyhole::testing::edge::house_file::House;
use spyhole::testing::edge::journal::{Journal, JournalError, LedgerFilter};
use spyhole::testing::edge::{record, schedule_file, time_entry};
use spyhole::testing::firing::{Event, Firing};
use spyhole::testing::schedule::check::{Limits, check};
use spyhole::testing::units::{Moment, Span};
use spyhole::testing::words::{Clock, Meant};

/// 2026-03-14T08:10:00Z.
const NOW: Moment = Moment(1_773_475_800_000);
const CLOCK: (Clock, &chrono::Utc) = (Clock::TwelveHour, &chrono::Utc);

/// A record that can be read is written so that it reads the same, and folds.
pub fn record_line(bytes: &[u8]) {
    let read = |bytes: &[u8]| record::read(bytes, |lines| lines.collect::<Vec<_>>());
    let Ok(lines) = read(bytes) else { return };
    let mut written = Vec::new();
    for line in &lines {
        record::write(&mut written, line).unwrap();
    }
    let raw = |byte: &u8| (*byte < 0x20 && *byte != b'\n') || *byte == 0x7f;
    assert!(!written.iter().any(raw), "it steers a terminal: {written:?}");
    let mut again = read(&written).unwrap();
    for (again, line) in again.iter_mut().zip(&lines) {
        again.line = line.line;
    }
    assert_eq!(again, lines);
    Firing::fold(lines.into_iter().map(Event::from));
}

/// A schedule that can be read is written so that it reads the same, and can be checked.
pub fn schedule(bytes: &[u8]) {
    let Ok(text) = str::from_utf8(bytes) else { return };
    let Ok(schedule) = schedule_file::from_json(text) else { return };
    assert!(!schedule.name.contains(char::is_control), "{:?}", schedule.name);
    let again = schedule_file::from_json(&schedule_file::to_json(&schedule)).unwrap();
    assert_eq!(again.segments.len(), schedule.segments.len());
    let _ = check(&schedule, &Limits::default());
}

/// Settings can be used, or it is said in one line why not.
pub fn settings(bytes: &[u8]) {
    if let Ok(file) = serde_json::from_slice::<BellFile>(bytes)
        && let Err(why) = file.meant()
    {
        assert!(!why.contains(char::is_control), "{why:?}");
    }
    let shop = own_file("settings");
    fs::write(shop.with_extension("db.house.json"), bytes).unwrap();
    if let Err(why) = House::read(&shop) {
        assert!(!why.to_string().is_empty());
    }
}

/// A time that is understood has come, whatever was typed.
pub fn time_entry(bytes: &[u8]) {
    let Ok(text) = str::from_utf8(bytes) else { return };
    if let Ok(time) = time_entry::parse(text, NOW, Meant::Past, CLOCK) {
        assert!(time.moment - NOW <= Span::minutes(1), "{text:?} is still to come: {time}");
    }
    if let Err(why) = time_entry::parse(text, NOW, Meant::Anytime, CLOCK) {
        assert!(!why.to_string().is_empty());
    }
}

/// A cone that is understood is called by its own name.
pub fn cone_name(bytes: &[u8]) {
    let Ok(text) = str::from_utf8(bytes) else { return };
    if let Ok(cone) = Cone::parse(text) {
        assert_eq!(Cone::parse(cone.name()), Ok(cone));
    }
}

/// A shop's file is read, as far as it can be, or refused: never worse.
pub fn journal(bytes: &[u8]) {
    let shop = own_file("journal");
    for ending in ["-wal", "-shm", "-journal"] {
        let _ = fs::remove_file(shop.with_extension(format!("db{ending}")));
    }
    fs::write(&shop, bytes).unwrap();
    let Ok(journal) = Journal::open(&shop) else { return };
    let _ = journal.shop();
    let _ = journal.ledger(&LedgerFilter::default());
    let mut events = 0;
    let _: Result<(), JournalError> = journal.each_event(None, |_| {
        events += 1;
        Ok(())
    });
    let _ = journal.check();
}

/// A file of this thread's own.
fn own_file(what: &str) -> PathBuf {
    let folder = env::temp_dir().join(format!(
        "spyhole-fuzz-{}-{:?}",
        process::id(),
        thread::current().id()
    ));
    fs::create_dir_all(&folder).unwrap();
    folder.join(format!("{what}.db"))
}
