//! Appending, striking and reading back.

use super::*;

#[test]
fn law_what_is_written_reads_back() {
    let (_folder, path, mut journal) = new_shop();
    let firing = light(&mut journal, "North");
    let new = event(Some(firing), minutes(61), reading(433.7));
    let id = journal.append(&new, minutes(62)).unwrap().id;
    drop(journal);
    let journal = Journal::open(&path).unwrap();
    let stored = journal.event(id).unwrap();
    assert_eq!(stored.event.what, new.what);
    assert_eq!((stored.event.at, stored.event.written), (minutes(61), minutes(62)));
    assert_eq!((stored.event.who, stored.offset_minutes), (new.who, 60));
    assert_eq!(stored.uid, new.uid);
}

#[test]
fn law_a_write_tried_again_is_the_same_event() {
    let (_folder, _path, mut journal) = new_shop();
    let opening = event(None, LIT, lit("North"));
    let first = journal.append_checked(&opening, LIT).unwrap();
    let again = journal.append_checked(&opening, minutes(1)).unwrap();
    assert_eq!((first.id, first.firing), (again.id, again.firing));
    assert!(again.already && !first.already);
    let new = event(first.firing, minutes(5), What::Off);
    let first = journal.append_checked(&new, minutes(5)).unwrap();
    let again = journal.append_checked(&new, minutes(6)).unwrap();
    assert_eq!(first.id, again.id);
    let other = NewEvent { what: What::Note { text: "draught".into() }, ..new };
    assert!(
        matches!(journal.append(&other, LIT), Err(JournalError::MarkTaken(id)) if id == first.id)
    );
    assert_eq!(journal.last_event().unwrap(), Some(first.id));
}

#[test]
fn law_a_strike_is_taken_back_by_striking_it() {
    let (_folder, _path, mut journal) = new_shop();
    let firing = light(&mut journal, "North");
    let lit = journal.firing(firing).unwrap();
    let off = journal.append_checked(&event(Some(firing), minutes(9), What::Off), LIT).unwrap();
    let is_off = journal.firing(firing).unwrap();
    assert_eq!((lit.state, is_off.state), (State::Lit, State::Off));
    let mut last = off.id;
    for (at, expected) in [(10, &lit), (11, &is_off), (12, &lit), (13, &is_off)] {
        let new = event(None, minutes(at), strike(last));
        last = journal.append_checked(&new, minutes(at)).unwrap().id;
        assert_eq!(&journal.firing(firing).unwrap(), expected, "after minute {at}");
    }
}

#[test]
fn law_events_can_be_neither_changed_nor_deleted() {
    let (_folder, path, mut journal) = new_shop();
    light(&mut journal, "North");
    let raw = rusqlite::Connection::open(path).unwrap();
    for statement in ["UPDATE events SET at_ms = 0", "DELETE FROM events"] {
        let error = raw.execute(statement, []).unwrap_err().to_string();
        assert!(error.contains("strike the event instead"), "{error}");
    }
}

#[test]
fn law_what_could_not_be_read_back_is_not_written() {
    let (_folder, _path, mut journal) = new_shop();
    let firing = Some(light(&mut journal, "North"));
    for (what, message) in [
        (
            What::Note { text: "  ".into() },
            "this cannot be written down: key \"text\": the text is empty",
        ),
        (
            reading(1768.0),
            "this cannot be written down: key \"celsius\" is 1768, outside -40 to 1500: check the number, and whether it is in C or F",
        ),
        (
            reading(f64::NAN),
            "this cannot be written down: key \"celsius\" is missing: add it, for example \"celsius\": 712",
        ),
    ] {
        let error = journal.append(&event(firing, minutes(1), what), minutes(1)).unwrap_err();
        assert_eq!(error.to_string(), message);
    }
    assert_eq!(journal.last_event().unwrap(), Some(EventId(1)));
}

/// One pass over the end of the file against each firing by itself.
#[test]
fn crosscheck_open_firings_folded_at_once_are_each_folded_alone() {
    let (_folder, _path, mut journal) = new_shop();
    let mut events = Vec::new();
    for number in 1..=5 {
        events.push(event(None, minutes(number), lit(&format!("Kiln {number}"))));
    }
    for n in 0..10_010 {
        // Interleaved, and one is entered out of order.
        let firing = FiringId(n % 5 + 1);
        let late = if n == 7_002 { 900 } else { 0 };
        let at = Moment(minutes(10).0 + (n - late) * 1000);
        events.push(event(Some(firing), at, reading((n % 1400) as f64)));
    }
    journal.append_all(&events, minutes(9000)).unwrap();
    let alone = |journal: &Journal, number| journal.firing(FiringId(number)).unwrap();
    let expected: Vec<_> = (1..=5).map(|number| alone(&journal, number)).collect();
    assert_eq!(journal.shop().unwrap().open, expected);
    assert!(expected.iter().all(|firing| firing.readings.len() == 2002));
    // With a strike.
    let sixth = event(None, minutes(5000), lit("Kiln 6"));
    let firing = journal.append(&sixth, minutes(5000)).unwrap().firing;
    let off = put(&mut journal, firing, 5001, What::Off);
    put(&mut journal, None, 5002, strike(off.id));
    assert_eq!(journal.shop().unwrap().open[5], alone(&journal, 6));
    assert_eq!(alone(&journal, 6).state, State::Lit, "the strike is read");
}

/// One whose folder is moved, or lies on a disk that is away for a moment, could not come back.
#[test]
fn law_a_shop_that_is_away_is_not_begun_anew() {
    let (folder, path, journal) = new_shop();
    let address = journal.address();
    let path = folder.path().join("away").join(path.file_name().unwrap());
    let elsewhere = || Journal::open(&path).map(drop);
    let opened = [
        elsewhere(),
        Journal::open_or_rescue(&path, minutes(1)).map(drop),
        Journal::open_or_rescue_unread(&path, minutes(1)).map(drop),
    ];
    for opened in opened {
        assert!(matches!(opened, Err(JournalError::NoShop { .. })), "{opened:?}");
    }
    drop(journal);
    fs::remove_dir_all(folder.path()).unwrap();
    assert!(matches!(address.open(), Err(JournalError::NoShop { .. })));
    assert!(!folder.path().exists());
}
