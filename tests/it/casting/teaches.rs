//! What casts teach: the review of the bench, and ware that waits for its first firing.

use spyhole::testing::casting::{Casting, Event as Noted, Found, Mould, What as Bench};
use spyhole::testing::review::bench::{BenchReview, CastsBy};
use spyhole::testing::review::ledger::Asked;
use spyhole::testing::ware;

use crate::prelude::*;
use crate::simulator::gold;

/// A Monday at midnight.
const MONDAY: Moment = Moment(1_767_571_200_000);

fn at(day: i64, hour: f64) -> Moment {
    MONDAY + Span::hours(24 * day) + Span::from_hours(hour)
}

/// Casts of these moulds, one every other day: when each was not ready, when it was, and how it came out.
fn casts(rows: &[(&str, i64, f64, f64, Found)]) -> Casting {
    let mut noted = Vec::new();
    for (code, day, not_yet, opened, found) in rows {
        let (day, mould) = (*day, (*code).to_owned());
        let mut note = |hour: f64, what| noted.push(Noted { at: at(day, hour), what });
        note(9.0, Bench::Poured { mould: mould.clone(), body: "white".into() });
        note(9.3, Bench::Drained { mould: mould.clone() });
        note(9.3 + not_yet, Bench::Check { mould: mould.clone(), found: Found::NotYet });
        note(9.3 + opened, Bench::Check { mould, found: *found });
    }
    Casting::new(noted, None, at(400, 0.0)).unwrap()
}

/// A mould that wears lets go later and later; one beside it stays as it is, and is not taken for worn.
#[test]
fn law_a_worn_mould_is_found_by_when_it_lets_go() {
    let mut rows = Vec::new();
    for nth in 0..44_i64 {
        let late = if nth < 30 { 1.0 } else { 1.6 };
        // Some scatter, so that there is a chart.
        let apart = 1.0 + 0.08 * ((nth * 7 % 5) as f64 - 2.0);
        rows.push(("A1", 2 * nth + 270, 20.0 * late * apart, 22.0 * late * apart, Found::Well));
        rows.push(("B2", 2 * nth + 270, 20.0 * apart, 22.0 * apart, Found::Well));
    }
    let review = BenchReview::of(&casts(&rows), &Asked::default(), Span::ZERO);
    let later = |code: &str| {
        let moulds = review.by(CastsBy::Mould);
        moulds.iter().find(|group| group.group == code).unwrap().is_later
    };
    assert!(later("A1"));
    assert!(!later("B2"));
}

/// Worked out by hand: what was poured on Fridays cracks, and what was forced counts as missed.
#[test]
fn law_the_weekday_that_cracks_stands_out() {
    let mut rows = Vec::new();
    for week in 0..12_i64 {
        rows.push(("A1", 7 * week + 300, 20.0, 23.0, Found::Well));
        rows.push(("A1", 7 * week + 302, 20.0, 23.0, Found::Well));
        let friday = if week % 3 == 0 { Found::Forced } else { Found::Cracked };
        rows.push(("A1", 7 * week + 298, 20.0, 40.0, friday));
    }
    let review = BenchReview::of(&casts(&rows), &Asked::default(), Span::ZERO);
    let days = review.by(CastsBy::Weekday);
    let told: Vec<_> =
        days.iter().map(|day| (day.group.as_str(), day.missed.hits, day.is_worse)).collect();
    assert_eq!(told, [("Tue", 0, false), ("Fri", 12, true), ("Sun", 0, false)]);
    assert_eq!((review.missed().hits, review.missed().of), (12, 36));
}

/// What came out waits for the bisque from three days on, until one is lit after that; a lot that a packing
/// names is followed, and teaches how long ware dries here.
#[test]
fn law_what_came_out_waits_for_its_first_firing() {
    let describes =
        Mould { code: "A1".into(), ware: "cup".into(), pieces: Some(2), ..Mould::default() };
    let mut noted = vec![Noted { at: MONDAY, what: Bench::Mould(describes) }];
    for (day, found) in
        [(1, Found::Well), (1, Found::Forced), (2, Found::Cracked), (5, Found::Well)]
    {
        let mould = || "A1".to_owned();
        noted.push(Noted {
            at: at(day, 9.0),
            what: Bench::Poured { mould: mould(), body: "white".into() },
        });
        noted.push(Noted { at: at(day, 15.0), what: Bench::Check { mould: mould(), found } });
    }
    noted[3].at = at(1, 16.0);
    noted[4].at = at(1, 20.0);
    let casting = Casting::new(noted, None, at(9, 0.0)).unwrap();
    let bisque = LoadType { name: "bisque".into(), ..gold(None) };
    let lots_in = |zone: &FixedZone, firings: &[Firing], last| {
        ware::from_moulds((&casting, zone), std::slice::from_ref(&bisque), firings, |_| last)
    };
    let lots = |firings: &[Firing], last| lots_in(&ZONE, firings, last);
    let told = |lots: Vec<ware::Lot>| -> Vec<(String, Option<u32>, Option<Moment>)> {
        lots.into_iter().map(|lot| (lot.name, lot.pieces, lot.ready)).collect()
    };
    let first = ("cup 2026-01-06".to_owned(), Some(4), Some(at(4, 20.0)));
    let last = ("cup 2026-01-10".to_owned(), Some(2), Some(at(8, 15.0)));
    assert_eq!(told(lots(&[], None)), [first.clone(), last.clone()]);
    // Where the clocks show the next day when the last of the first lot comes out.
    let names: Vec<String> =
        lots_in(&FixedZone(Span::hours(5)), &[], None).into_iter().map(|lot| lot.name).collect();
    assert_eq!(names, ["cup 2026-01-06", "cup 2026-01-07", "cup 2026-01-10"]);
    assert_eq!(told(lots(&[], Some(at(6, 0.0)))), [last]);
    assert!(ware::from_moulds((&casting, &ZONE), &[gold(None)], &[], |_| None).is_empty());
    // Lit 4 days and 19 hours after it came out: so long it takes here.
    let packing = Packing { lots: vec!["cup 2026-01-06".into()], ..Packing::default() };
    let lit = Some(at(6, 15.0));
    let firing = Firing { lit, packing: Some(packing), ..Firing::default() };
    let known = told(lots(&[firing], lit));
    assert_eq!(known[0].0, first.0);
    assert_eq!(known[1].2, Some(at(10, 10.0)));
}
