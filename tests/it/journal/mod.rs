//! The journal: what is written stays, and adds up to the same however it is read.

use spyhole::testing::edge::journal::write::Appended;

use crate::prelude::*;

pub(crate) mod cli;
mod clock;
mod damage;
pub(crate) mod disk;
mod exchange;
mod holding;
mod kept;
mod kilns;
mod laws;
mod life;
mod old;
mod passed_over;
mod rescued;
mod store;

/// 2026-03-14T08:10:00Z, when the made-up firings of these tests are lit.
pub(crate) const LIT: Moment = Moment(1_773_475_800_000);

pub(crate) fn minutes(minutes: i64) -> Moment {
    LIT + Span::minutes(minutes)
}

pub(crate) fn new_shop() -> (TempDir, PathBuf, Journal) {
    let (folder, path) = shop_file();
    let journal = begun(&path);
    (folder, path, journal)
}

pub(crate) fn event(firing: Option<FiringId>, at: Moment, what: What) -> NewEvent {
    let who = Who::Person("Ida".into());
    NewEvent { uid: Uid::fresh(), firing, at, offset_minutes: 60, who, what }
}

pub(crate) fn gold_pack() -> ConePack {
    ConePack::usual(Cone::parse("018").unwrap(), Family::SelfSupporting)
}

pub(crate) fn lit(kiln: &str) -> What {
    What::Lit(lit_with(kiln, "gold", gold_pack()))
}

pub(crate) fn packed(kiln: &str) -> What {
    What::Packed(Packing {
        kiln: kiln.into(),
        load_type: "gold".into(),
        contents: "rims of forty cups".into(),
        pieces: Some(40),
        full: Some(Fullness::ThreeQuarters),
        worth: Some(350.0),
        packed_by: "Ida".into(),
        pack: Some(gold_pack()),
        cones_stand: "middle shelf, left".into(),
        lots: vec!["7".into()],
    })
}

pub(crate) fn reading(celsius: f64) -> What {
    What::Reading(Celsius(celsius))
}

pub(crate) fn look(target: Seen) -> What {
    What::Look(Look { target: Some(target), ..Look::default() })
}

pub(crate) fn outcome(verdict: Verdict) -> What {
    let (note, shelves) = ("bright".into(), vec![]);
    What::Outcome(Outcome {
        verdict,
        note,
        shelves,
        loss: Some(12.5),
        counted: Counted::default(),
        full: None,
    })
}

pub(crate) fn strike(event: EventId) -> What {
    What::Struck { event, reason: "a slip".into(), corrected_by: None }
}

/// Writes what happened at this minute, whether or not it can have happened.
pub(crate) fn put(
    journal: &mut Journal,
    firing: Option<FiringId>,
    minute: i64,
    what: What,
) -> Appended {
    journal.append(&event(firing, minutes(minute), what), minutes(minute)).unwrap()
}

/// Writes what can have happened at this minute.
pub(crate) fn done(
    journal: &mut Journal,
    firing: Option<FiringId>,
    minute: i64,
    what: What,
) -> Appended {
    journal.append_checked(&event(firing, minutes(minute), what), minutes(minute)).unwrap()
}

/// The page on which a table or an index of a shop's file begins.
pub(crate) fn page_of(path: &Path, table: &str) -> usize {
    let sql = "SELECT rootpage FROM sqlite_schema WHERE name = ?1";
    let raw = rusqlite::Connection::open(path).unwrap();
    raw.query_row(sql, [table], |row| row.get::<_, i64>(0)).unwrap() as usize
}

/// Lights a kiln and returns its firing.
pub(crate) fn light(journal: &mut Journal, kiln: &str) -> FiringId {
    journal.append_checked(&event(None, LIT, lit(kiln)), LIT).unwrap().firing.unwrap()
}
