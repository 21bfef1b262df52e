//! Files of every version that was ever released open for ever.

use super::*;

/// A shop as version 1 wrote it: one firing run through with a struck look, one still burning.
const VERSION_1: &str = include_str!("../../data/journal_v1.sql");

#[test]
fn regress_a_shop_of_version_1_opens() {
    let (_folder, path) = shop_file();
    rusqlite::Connection::open(&path).unwrap().execute_batch(VERSION_1).unwrap();
    let mut journal = Journal::open(&path).unwrap();
    assert!(journal.check().unwrap().is_whole());
    let shop = journal.shop().unwrap();
    assert_eq!(
        shop.kilns.iter().map(|kiln| kiln.name.as_str()).collect::<Vec<_>>(),
        ["North", "South"]
    );
    assert_eq!(shop.load_type("gold").unwrap().target.name(), "018");
    assert_eq!(shop.open.len(), 1);
    let closed = journal.firing(FiringId(1)).unwrap();
    assert_eq!((closed.state, closed.looks.len()), (State::Closed, 1));
    assert_eq!(closed.outcome.unwrap().1.verdict, Verdict::Good);
    assert_eq!(closed.readings, [(minutes(60), Celsius(433.7))]);
    let ledger = journal.ledger(&LedgerFilter::default()).unwrap();
    assert_eq!(ledger.len(), 2);
    journal.rebuild_summary().unwrap();
    assert_eq!(journal.ledger(&LedgerFilter::default()).unwrap(), ledger);
    // And it goes on being written.
    done(&mut journal, Some(FiringId(2)), 900, What::Off);
}

/// Who reads the file with another program finds the name of every kind of event in it.
#[test]
fn law_the_file_names_every_kind_of_event() {
    let mut known = Kind::ALL.map(|kind| (kind as i64, kind.name().to_owned())).to_vec();
    known.sort();
    for old in ["", VERSION_1] {
        let (_folder, path) = shop_file();
        if !old.is_empty() {
            rusqlite::Connection::open(&path).unwrap().execute_batch(old).unwrap();
        }
        drop(begun(&path));
        let file = rusqlite::Connection::open(&path).unwrap();
        let mut query = file.prepare("SELECT id, name FROM kinds ORDER BY id").unwrap();
        let rows = query.query_map([], |row| Ok((row.get(0)?, row.get(1)?))).unwrap();
        assert_eq!(rows.collect::<rusqlite::Result<Vec<(i64, String)>>>().unwrap(), known);
    }
}
