//! What the journal keeps of finished firings for the review: it is always what digesting them anew
//! would give, and it is really used.

use std::thread;

use proptest::prelude::*;
use rusqlite::Connection;
use spyhole::testing::review::facts::VERSION;
use spyhole::testing::review::suggestion::Suggestion;

use super::made::{Making, came, cone, judged, packed};
use crate::journal::{event, lit, minutes, new_shop, put, strike};
use crate::prelude::*;

/// Every firing of the shop, digested from its events.
fn fresh(journal: &Journal) -> Vec<Facts> {
    let corrections = journal.shop().unwrap().corrections;
    let rows = journal.ledger(&LedgerFilter::default()).unwrap();
    let firings = rows.iter().map(|row| journal.firing(row.firing).unwrap());
    firings.filter_map(|firing| Ledger::digest(&firing, &corrections)).collect()
}

fn reviewed(journal: &Journal) -> Vec<Facts> {
    let corrections = journal.shop().unwrap().corrections;
    journal.facts(&LedgerFilter::default(), &corrections, &mut |_, _| {}).unwrap()
}

fn raw(path: &Path, sql: &str) -> i64 {
    Connection::open(path).unwrap().query_row(sql, [], |row| row.get(0)).unwrap()
}

/// What may happen next in a shop of two firings, sensible or not.
#[derive(Debug, Clone)]
enum Step {
    Of(i64, i64, Box<What>),
    Accept(i64, f64),
    Review,
}

fn happening() -> impl Strategy<Value = What> {
    let seen = || prop::sample::select(Seen::ALL.to_vec());
    let shelf = seen().prop_map(|seen| ShelfCone { place: "top".into(), cone: cone("017"), seen });
    let outcome = (
        prop::sample::select(Verdict::ALL.to_vec()),
        prop::collection::vec(shelf, 0..3),
        prop::option::of(0.0..500.0),
    );
    prop_oneof![
        6 => (600.0..760.0).prop_map(|c| What::Reading(Celsius(c))),
        3 => seen().prop_map(|seen| What::Look(Look { target: Some(seen), ..Look::default() })),
        1 => (1u32..60, 0.0..900.0).prop_map(|(pieces, worth)| What::Packed(Packing {
            kiln: "North".into(),
            load_type: "gold".into(),
            pieces: Some(pieces),
            worth: Some(worth),
            ..Packing::default()
        })),
        2 => Just(What::Off),
        1 => Just(What::Drawn),
        1 => Just(What::Aborted { reason: "gas failed".into() }),
        2 => outcome.prop_map(|(verdict, shelves, loss)| {
            What::Outcome(Outcome { shelves, loss, ..came(verdict) })
        }),
        1 => (4000.0..5000.0).prop_map(|m3| What::Note { text: format!("meter {m3} m3") }),
        1 => (0.1..9.0).prop_map(|g| What::Note { text: format!("used {g} g gold") }),
        1 => (0u32..101).prop_map(|percent| What::Turned { to: format!("{percent} %") }),
        3 => (1i64..70).prop_map(|id| strike(EventId(id))),
    ]
}

fn steps() -> impl Strategy<Value = Vec<Step>> {
    let step = prop_oneof![
        10 => (1i64..3, 0i64..500, happening()).prop_map(|(id, at, what)| Step::Of(id, at, Box::new(what))),
        1 => (0i64..500, -20i32..20).prop_map(|(at, add)| Step::Accept(at, f64::from(add))),
        3 => Just(Step::Review),
    ];
    prop::collection::vec(step, 1..50)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    #[test]
    fn law_what_is_kept_is_what_digesting_anew_gives(steps in steps()) {
        let (_folder, path, mut journal) = new_shop();
        // Both climb past the end of cone 018, are seen down and switched off.
        for (number, kiln) in [(1, "North"), (2, "South")] {
            let at = |minute: i64| minutes(10 * number + minute);
            let readings = (0..30).map(|n| (n * 10, What::Reading(Celsius(20.0 + 25.0 * n as f64))));
            let looks = [(276, Seen::Standing), (285, Seen::Down)];
            let looks = looks.map(|(minute, seen)| {
                (minute, What::Look(Look { target: Some(seen), ..Look::default() }))
            });
            let of_firing = readings.chain(looks).chain([(290, What::Off)]);
            let events: Vec<_> = [event(None, at(0), lit(kiln))]
                .into_iter()
                .chain(of_firing.map(|(m, what)| event(Some(FiringId(number)), at(m), what)))
                .collect();
            journal.append_all(&events, at(300)).unwrap();
        }
        prop_assert_eq!(reviewed(&journal), fresh(&journal));
        for step in steps {
            match step {
                Step::Of(id, at, what) => {
                    // A strike of an event that is not there is refused.
                    let _ = journal.append(&event(Some(FiringId(id)), minutes(at), *what), minutes(at));
                }
                Step::Accept(at, add_c) => {
                    let change = Change::ProbeCorrection { kiln: "North".into(), add_c };
                    let accepted = What::Accepted(Suggestion { change, evidence: Vec::new() });
                    put(&mut journal, None, at, accepted);
                }
                Step::Review => {
                    prop_assert_eq!(reviewed(&journal), fresh(&journal));
                    // What is kept by now is read from the file, and is still the same.
                    prop_assert_eq!(reviewed(&journal), fresh(&journal));
                }
            }
        }
        prop_assert_eq!(reviewed(&journal), fresh(&journal));
        prop_assert!(journal.check().unwrap().stale.is_empty());
        let off = fresh(&journal).iter().filter(|facts| facts.off.is_some()).count();
        prop_assert_eq!(raw(&path, "SELECT count(*) FROM facts"), off as i64);
    }
}

/// A shop with one finished firing and one that still burns.
fn two_firings(journal: &mut Journal) {
    for (n, kiln) in [(1, "North"), (2, "South")] {
        let (id, at) = (Some(FiringId(n)), |minute: i64| minutes(10 * n + minute));
        journal.append(&event(None, at(0), lit(kiln)), at(0)).unwrap();
        let seen = What::Look(Look { target: Some(Seen::Down), ..Look::default() });
        journal.append(&event(id, at(250), seen), at(250)).unwrap();
        if n == 1 {
            journal.append(&event(id, at(251), What::Off), at(251)).unwrap();
        }
    }
}

const CHANGE_WHAT_IS_KEPT: &str =
    "UPDATE facts SET body = replace(body, '\"looks\":1', '\"looks\":41'), seal = NULL";

#[test]
fn law_what_is_kept_is_used_and_an_older_version_of_it_made_anew() {
    let (_folder, path, mut journal) = new_shop();
    two_firings(&mut journal);
    let expected = reviewed(&journal);
    assert_eq!(raw(&path, "SELECT count(*) FROM facts"), 1, "not the one that burns");
    let shop = Connection::open(&path).unwrap();
    assert_eq!(shop.execute(CHANGE_WHAT_IS_KEPT, []).unwrap(), 1);
    let looks = |journal: &Journal| reviewed(journal).iter().map(|f| f.looks).max();
    assert_eq!(looks(&journal), Some(41), "it is read, not the events");
    assert_eq!(journal.check().unwrap().stale, [FiringId(1)]);

    // An older way of digesting, another correction, and what cannot be read at all.
    for spoil in [
        "UPDATE facts SET version = version - 1",
        "UPDATE facts SET correction_c = 3",
        "UPDATE facts SET body = substr(body, 1, 40)",
        "UPDATE facts SET body = replace(body, '018', '999')",
    ] {
        shop.execute(CHANGE_WHAT_IS_KEPT, []).unwrap();
        shop.execute(spoil, []).unwrap();
        assert_eq!(reviewed(&journal), expected, "{spoil}");
        assert_eq!(raw(&path, "SELECT version FROM facts"), VERSION, "{spoil}");
        assert!(journal.check().unwrap().is_whole(), "{spoil}");
    }
    shop.execute(CHANGE_WHAT_IS_KEPT, []).unwrap();
    journal.rebuild_summary().unwrap();
    assert_eq!(reviewed(&journal), expected);
}

#[test]
fn law_what_another_process_writes_meanwhile_is_never_missed() {
    let (_folder, path, mut journal) = new_shop();
    two_firings(&mut journal);
    let writer = thread::spawn({
        let path = path.clone();
        move || {
            let mut journal = Journal::open(&path).unwrap();
            for n in 0..40 {
                let at = minutes(300 + n);
                let note = What::Note { text: format!("used {n} decal") };
                journal.append(&event(Some(FiringId(1)), at, note), at).unwrap();
            }
        }
    });
    while !writer.is_finished() {
        assert_eq!(reviewed(&journal).len(), 2);
    }
    writer.join().unwrap();
    assert_eq!(reviewed(&journal), fresh(&journal));
    assert_eq!(reviewed(&journal).iter().map(|f| f.consumption.used.len()).max(), Some(40));
}

#[test]
fn a_shop_of_version_1_is_reviewed_and_from_then_on_keeps_what_was_digested() {
    let (_folder, path) = shop_file();
    let version_1 = include_str!("../../data/journal_v1.sql");
    Connection::open(&path).unwrap().execute_batch(version_1).unwrap();
    let journal = Journal::open(&path).unwrap();
    assert_eq!(reviewed(&journal), fresh(&journal));
    assert_eq!(raw(&path, "SELECT count(*) FROM facts"), 1);
    assert_eq!(reviewed(&journal), fresh(&journal));
}

/// When this fails because firings are digested differently now, count up `VERSION` in
/// `src/review/facts.rs` and write the new numbers here beside it.
#[test]
fn regress_the_way_of_digesting_is_of_its_version() {
    let digested = [
        Making::default(),
        Making { probe_high: 9.0, off_after: 25.0, target: cone("6"), ..Making::default() },
        Making { off_after: -12.0, climb: 90.0, seed: 5, ..Making::default() },
    ]
    .map(|making| {
        let shelves = [("top", "017", Seen::Half)];
        let firing = judged(packed(making.firing(), 40, 300.0), Verdict::Good, &shelves);
        let facts = Facts::of(&firing, 2.0).unwrap();
        let minutes = |at: Option<Moment>| at.map(|at: Moment| (at - facts.lit).as_minutes());
        let best = |b: Option<spyhole::testing::review::Bounds>| b.map(|b| (b.low, b.best, b.high));
        format!(
            "{:.2?} {:.2?} {:.2?} {:.2?} {:.2?} {:.2?} {:.2?} {:.2?} {:.2?} {:?}",
            minutes(facts.dropped.and_then(|drop| drop.after)),
            facts.minutes_to_drop,
            facts.final_climb.map(|climb| climb.0),
            facts.soak_minutes,
            facts.probe_at_drop.map(|t| t.0),
            best(facts.probe_high_c),
            best(facts.overshoot_minutes),
            best(facts.overshoot_cones),
            facts.consumption.hours,
            facts.basis,
        )
    });
    assert_eq!((VERSION, digested.join("\n").as_str()), (8, DIGESTED));
}

const DIGESTED: &str = "\
Some(281.38) Some(283.88) Some(151.63) Some(0.00) Some(730.46) Some((-11.01, -2.69, 5.63)) Some((2.00, 4.50, 7.00)) Some((0.16, 0.44, 0.73)) Some(4.81) Some(DropAndReadings)
Some(485.05) Some(487.55) Some(150.27) Some(0.00) Some(1250.75) Some((-4.98, 3.28, 11.54)) Some((25.00, 27.50, 30.00)) Some((4.43, 5.02, 5.61)) Some(8.58) Some(DropAndReadings)
None None Some(90.63) Some(0.00) None None None Some((-0.72, -0.41, -0.09)) Some(7.62) Some(Readings)";
