//! Damaged files: never a panic, always a message, and a shop that goes on.

use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;
use spyhole::testing::edge::journal::backup;

use super::*;

/// A shop of a few firings in one file, its log taken in.
fn sound_shop(folder: &Path) -> (PathBuf, i64) {
    let path = folder.join("sound.db");
    let mut journal = begun_by_the_program(&path, LIT);
    for kiln in ["North", "South", "East"] {
        let firing = Some(light(&mut journal, kiln));
        let events: Vec<NewEvent> =
            (1..200).map(|n| event(firing, minutes(n), reading(20.0 + n as f64 * 3.1))).collect();
        journal.append_all(&events, minutes(200)).unwrap();
        put(&mut journal, firing, 201, What::Off);
    }
    let last = journal.last_event().unwrap().unwrap().0;
    (path, last)
}

fn damage(bytes: &mut Vec<u8>, random: &mut Pcg64Mcg) -> String {
    let at = random.random_range(0..bytes.len());
    match random.random_range(0..5) {
        0 => {
            bytes.truncate(at);
            format!("cut off at {at}")
        }
        1 => {
            let bit = random.random_range(0..8);
            bytes[at] ^= 1 << bit;
            format!("bit {bit} of byte {at} flipped")
        }
        2 => {
            let at = at.min(120);
            bytes[at] ^= 1 << random.random_range(0..8);
            format!("a bit of byte {at} in the header flipped")
        }
        3 => {
            let end = (at + random.random_range(1..5000)).min(bytes.len());
            bytes[at..end].fill_with(|| random.random());
            format!("garbled from {at} to {end}")
        }
        _ => {
            let page = at / 4096 * 4096;
            let end = (page + 4096).min(bytes.len());
            bytes[page..end].fill(0);
            format!("page at {page} empty")
        }
    }
}

#[test]
fn law_a_damaged_file_never_panics_and_the_shop_goes_on() {
    let folder = tempfile::tempdir().unwrap();
    let (sound, last) = sound_shop(folder.path());
    let sound = fs::read(sound).unwrap();
    let mut random = Pcg64Mcg::seed_from_u64(2026);
    let (mut rescued, mut named, mut unnoticed) = (0, 0, 0);
    for round in 0..240 {
        let place = folder.path().join(format!("round{round}"));
        fs::create_dir(&place).unwrap();
        let path = place.join("shop.db");
        let mut bytes = sound.clone();
        let how = damage(&mut bytes, &mut random);
        fs::write(&path, &bytes).unwrap();
        match Journal::open_or_rescue(&path, minutes(300)) {
            Ok(opened) => {
                let mut journal = opened.journal;
                if let Some(loss) = opened.loss {
                    rescued += 1;
                    let text = loss.to_string();
                    assert!(text.contains("is damaged"), "{text}");
                    assert!(text.contains("spyhole journal restore"), "{text}");
                    assert_eq!(fs::read(&path).unwrap(), bytes, "{how}: the file was touched");
                    // What was lost is still missing; what is there is sound.
                    let report = journal.check().unwrap();
                    assert!(report.damage.is_empty() && report.unreadable.is_empty(), "{how}");
                    assert!(report.stale.is_empty(), "{how}");
                    // The kiln goes on being watched.
                    let new = event(None, minutes(301), lit("West"));
                    journal.append_checked(&new, minutes(301)).unwrap();
                } else {
                    unnoticed += usize::from(is_whole_but_less(&journal, last, &how));
                }
            }
            Err(error) => {
                named += 1;
                assert!(error.to_string().contains(": "), "{how}: {error}");
            }
        }
        fs::remove_dir_all(place).unwrap();
    }
    assert!(rescued > 50, "rescued {rescued}, named {named}, unnoticed {unnoticed}");
    // A flipped bit in a place that holds nothing harms nothing; that is all that may go unseen.
    assert_eq!(unnoticed, 0);
}

/// Opened without complaint: then either a check complains, or nothing is missing or changed.
fn is_whole_but_less(journal: &Journal, last: i64, how: &str) -> bool {
    let Ok(report) = journal.check() else { return false };
    if !report.is_whole() || journal.read_only().is_some() {
        return false;
    }
    // A file cut off to nothing is a new shop; it says so when it is begun.
    if report.firings == 0 && how.starts_with("cut off") {
        return false;
    }
    report.events != last as u64
}

/// Garbles the root of the summary's table and everything that points into it: the events are whole.
fn garble_summary(path: &Path) {
    let (mut bytes, page) = (fs::read(path).unwrap(), page_of(path, "open_firings"));
    bytes[(page - 1) * 4096..page * 4096].fill(0x55);
    fs::write(path, bytes).unwrap();
}

/// Flips a bit in the first reading of this temperature.
fn flip_in_reading(path: &Path, celsius: f64) {
    let mut bytes = fs::read(path).unwrap();
    let wanted = celsius.to_be_bytes();
    let at = bytes.windows(8).position(|window| window == wanted).unwrap();
    bytes[at + 3] ^= 0x10;
    fs::write(path, bytes).unwrap();
}

#[test]
fn law_what_can_be_read_of_a_damaged_file_is_saved_and_no_reading_that_was_not_written() {
    for lost in [0, 1] {
        let folder = tempfile::tempdir().unwrap();
        let (path, last) = sound_shop(folder.path());
        if lost == 1 {
            flip_in_reading(&path, 20.0 + 57.0 * 3.1);
        }
        garble_summary(&path);
        let opened = Journal::open_or_rescue(&path, minutes(300)).unwrap();
        let loss = opened.loss.unwrap();
        assert_eq!((loss.saved, loss.lost), (Some(last as u64 - lost), lost));
        let read = |open: Vec<Firing>| open.iter().map(|it| it.readings.len()).sum::<usize>();
        let open = opened.journal.shop().unwrap().open;
        assert_eq!((open.len(), read(open)), (3, 3 * 199 - lost as usize));
        let who = opened.journal.event(EventId(last)).unwrap().event.who;
        assert_eq!(who, Who::Person("Ida".into()));
        drop(opened.journal);
        // The next time it goes on there.
        let again = Journal::open_or_rescue(&path, minutes(400)).unwrap();
        assert_eq!(again.loss.unwrap().saved, None);
        assert_eq!(again.journal.shop().unwrap().open.len(), 3);
    }
}

#[test]
fn law_a_flipped_bit_in_a_reading_is_noticed_and_not_folded() {
    let (_folder, path, mut journal) = new_shop();
    let firing = light(&mut journal, "North");
    put(&mut journal, Some(firing), 1, reading(433.7));
    drop(journal);
    flip_in_reading(&path, 433.7);
    let journal = Journal::open(&path).unwrap();
    assert_eq!(journal.check().unwrap().unreadable, [EventId(2)]);
    assert!(journal.firing(firing).unwrap().readings.is_empty());
    assert!(journal.shop().unwrap().open[0].readings.is_empty(), "folded at once as alone");
    let unread: Vec<EventId> = journal.unread().list().iter().map(|one| one.event).collect();
    assert_eq!(unread, [EventId(2)]);
}

#[test]
fn law_backups_are_dated_verified_and_only_so_many() {
    let (_folder, path, mut journal) = new_shop();
    light(&mut journal, "North");
    for day in 0..5 {
        journal.backup(LIT + Span::hours(24 * day), Some(3)).unwrap();
    }
    let names: Vec<String> = backup::list(&path)
        .iter()
        .map(|(_, path)| path.file_name().unwrap().to_string_lossy().into_owned())
        .collect();
    assert_eq!(
        names,
        [
            "shop.2026-03-18-081000.backup.db",
            "shop.2026-03-17-081000.backup.db",
            "shop.2026-03-16-081000.backup.db"
        ]
    );
    let last = LIT + Span::hours(24 * 4);
    assert_eq!(journal.backup_if_due(last + Span::hours(23), None).unwrap(), None);
    assert!(journal.backup_if_due(last + Span::hours(24), None).unwrap().is_some());
}

#[test]
fn law_a_restore_brings_the_backup_back_and_keeps_what_was_there() {
    let (folder, path, mut journal) = new_shop();
    let firing = Some(light(&mut journal, "North"));
    journal.backup(minutes(1), Some(3)).unwrap();
    put(&mut journal, firing, 2, What::Off);
    let in_use = backup::restore(&path, None, minutes(3)).unwrap_err().to_string();
    assert!(in_use.contains("is in use by another Spyhole"), "{in_use}");
    drop(journal);
    let restored = backup::restore(&path, None, minutes(3)).unwrap();
    assert_eq!(restored.events, 1);
    let replaced = Journal::open(&restored.replaced.unwrap()).unwrap();
    assert_eq!(replaced.last_event().unwrap(), Some(EventId(2)));
    let journal = Journal::open(&path).unwrap();
    assert_eq!(journal.last_event().unwrap(), Some(EventId(1)));
    drop(journal);
    // A damaged backup changes nothing.
    let bad = folder.path().join("bad.db");
    fs::write(&bad, "nothing of the kind").unwrap();
    let error = backup::restore(&path, Some(&bad), minutes(4)).unwrap_err().to_string();
    assert!(error.contains("is damaged itself"), "{error}");
    assert!(Journal::open(&path).unwrap().check().unwrap().is_whole());
}
