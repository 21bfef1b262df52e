//! What went with the misses: Fisher's exact test on published tables, and what is said of few.

use spyhole::testing::review::fisher::{adjusted, by_chance};
use spyhole::testing::review::late::late_looks;
use spyhole::testing::review::outcomes::{Trait, WentWith, went_with};
use spyhole::testing::review::wilson::Share;
use spyhole::testing::words::tables;

use super::made::{Making, gold, judged, kiln, packed};
use crate::prelude::*;

/// The lady tasting tea: R. A. Fisher, The Design of Experiments, 1935, chapter II. Of eight cups,
/// four with the milk in first, she names four; there are 70 ways to do so, one of them all right
/// and 16 with three right. Half of the ways are on either side, so either way is twice one way.
#[test]
fn published_fisher_lady_tasting_tea() {
    let cups = |right: usize| by_chance(Share::new(right, 4), Share::new(4 - right, 4));
    for (right, ways) in [(4, 2.0), (3, 34.0), (2, 70.0), (1, 34.0), (0, 2.0)] {
        near(cups(right), ways / 70.0, 1e-12, format_args!("{right} of 4: {}", cups(right)));
    }
}

/// Convictions of like-sex twins of criminals (Fisher 1934, Statistical Methods for Research
/// Workers, 5th edition, section 21.02): 2 of 17 dizygotic, 10 of 13 monozygotic. One way
/// 619/1330665, as the book has it; either way 0.0005367 as the manual of R's `fisher.test` prints
/// (both from memory).
#[test]
fn published_fisher_convictions_of_twins() {
    let chance = by_chance(Share::new(2, 17), Share::new(10, 13));
    assert_abs_diff_eq!(chance, 0.000_536_7, epsilon = 5e-8);
    let one_way = 619.0 / 1_330_665.0;
    assert!(chance > one_way && chance < 2.0 * one_way, "{chance}");
}

/// Against every way of dealing the hits out, counted one by one.
#[test]
fn crosscheck_fisher_by_counting_every_deal() {
    for (a_of, b_of) in [(1usize, 1usize), (3, 5), (6, 6), (2, 9)] {
        let of = a_of + b_of;
        for hits in 0usize..=of {
            let deals: Vec<u32> =
                (0..1u32 << of).filter(|d| d.count_ones() == hits as u32).collect();
            let in_a = |deal: u32| (deal & ((1 << a_of) - 1)).count_ones() as usize;
            let ways = |k: usize| deals.iter().filter(|deal| in_a(**deal) == k).count();
            for a in hits.saturating_sub(b_of)..=hits.min(a_of) {
                let least = ways(a);
                let as_far: usize = (0..=a_of).map(ways).filter(|w| *w <= least).sum();
                let expected = as_far as f64 / deals.len() as f64;
                let found = by_chance(Share::new(a, a_of), Share::new(hits - a, b_of));
                near(found, expected, 1e-9, format_args!("{a} of {a_of}, {hits} of {of}"));
            }
        }
    }
    assert_eq!(by_chance(Share::new(0, 0), Share::new(3, 5)), 1.0);
    // As many firings as ten years have.
    let many = by_chance(Share::new(900, 9_000), Share::new(1_500, 15_000));
    assert_abs_diff_eq!(many, 1.0, epsilon = 0.05);
    assert!(by_chance(Share::new(1_200, 9_000), Share::new(1_500, 15_000)) < 1e-9);
}

/// Worked by hand: 0.01 * 4, then 0.015 * 3 = 0.045, then 0.03 * 2 = 0.06, then 0.04 held at 0.06.
#[test]
fn law_holms_allowance_for_several_questions() {
    let close = |found: Vec<f64>, expected: [f64; 4]| {
        assert!(
            found.iter().zip(expected).all(|(a, b)| abs_diff_eq!(a, &b, epsilon = 1e-12)),
            "{found:?}"
        );
    };
    close(adjusted(&[0.04, 0.01, 0.03, 0.015]), [0.06, 0.04, 0.06, 0.045]);
    close(adjusted(&[0.9, 0.8, 0.7, 0.6]), [1.0; 4]);
    assert!(adjusted(&[]).is_empty());
}

/// Firings of which each third is over; `dress` says how it was packed and fired.
fn shop(count: i64, dress: impl Fn(i64, bool, &mut Firing)) -> Ledger {
    let firings: Vec<Firing> = (0..count)
        .map(|n| {
            let lit = Moment(1_750_000_000_000) + Span::hours(30 * n);
            let missed = n % 3 == 0;
            let verdict = if missed { Verdict::Over } else { Verdict::Good };
            let making = Making { id: n + 1, lit, seed: n as u64, ..Making::default() };
            let mut firing = judged(packed(making.firing(), 40, 300.0), verdict, &[]);
            dress(n, missed, &mut firing);
            firing
        })
        .collect();
    let kilns = vec![kiln("North", Fuel::Gas)];
    Ledger::new(&firings, kilns, vec![gold(0.5, 0.4)], &Corrections::default(), Span::ZERO)
}

fn rows(ledger: &Ledger) -> Vec<WentWith> {
    went_with(&ledger.facts.iter().collect::<Vec<&Facts>>())
}

fn says(rows: &[WentWith], name: &str) -> String {
    let table = tables::went_with(rows);
    let index = rows.iter().position(|row| row.name() == name).unwrap();
    table.rows[index].cells.last().unwrap().shown()
}

#[test]
fn law_half_full_loads_and_schedules_that_miss_are_found() {
    let ledger = shop(36, |n, missed, firing| {
        let full = if missed { Fullness::Half } else { Fullness::ThreeQuarters };
        firing.packing.as_mut().unwrap().full = Some(full);
        firing.schedule = Some(if n % 2 == 0 { "fast gold" } else { "slow gold" }.into());
    });
    let found = rows(&ledger);
    assert_eq!(says(&found, "part load"), "goes with misses");
    let part = found.iter().find(|row| row.what == Trait::PartLoad).unwrap();
    assert_eq!((part.missed_with.hits, part.missed_without.hits), (12, 0));
    // Both schedules missed 6 of 18.
    assert_eq!(says(&found, "schedule fast gold"), "no clear difference");
    assert_eq!(says(&found, "schedule slow gold"), "no clear difference");

    let ledger = shop(36, |_, missed, firing| {
        firing.schedule = missed.then(|| "fast gold".into());
    });
    let found = rows(&ledger);
    assert_eq!(says(&found, "schedule fast gold"), "goes with misses");
    assert_eq!(says(&found, "part load"), "nothing to compare");
    let table = tables::went_with(&found);
    assert_eq!(table.remarks, ["This is what went together, not what caused it."]);

    // A load type that is always fired by the same schedule says nothing about it.
    let ledger = shop(36, |_, missed, firing| {
        firing.load_type = if missed { "decal".into() } else { "gold".into() };
        firing.schedule = Some(firing.load_type.clone());
    });
    assert!(rows(&ledger).iter().all(|row| row.what != Trait::Schedule));
}

#[test]
fn law_few_firings_say_nothing() {
    // Two of two missed when a quarter full, none of four otherwise: one of 15 ways to deal it out.
    let ledger = shop(6, |n, _, firing| {
        let full = if n == 0 || n == 3 { Fullness::Quarter } else { Fullness::Full };
        firing.packing.as_mut().unwrap().full = Some(full);
    });
    let found = rows(&ledger);
    let part = found.iter().find(|row| row.what == Trait::PartLoad).unwrap();
    assert_eq!((part.missed_with.hits, part.missed_with.of), (2, 2));
    assert!(abs_diff_eq!(part.by_chance, 1.0 / 15.0, epsilon = 1e-12), "{part:?}");
    assert_eq!(says(&found, "part load"), "too few to say");
}

/// Lit at seven, down towards noon; on Saturdays lit in the afternoon, and then nobody came in time.
#[test]
fn law_what_late_looks_had_in_common() {
    let begin = Moment(1_750_050_000_000); // Monday 2025-06-16 05:00 UTC
    let firings: Vec<Firing> = (0..48)
        .map(|n| {
            let late = n % 6 == 5;
            let (week, day) = (n / 6, n % 6);
            let hour = if late { 9 } else { 0 };
            let lit = begin + Span::hours(24 * (7 * week + day) + hour);
            let looks_every_min = if late { 28 } else { 4 };
            let making = Making { id: n + 1, lit, looks_every_min, ..Making::default() };
            let making = Making { seed: n as u64, ..making };
            let mut firing = judged(making.firing(), Verdict::Good, &[]);
            firing.kiln = if n % 2 == 0 { "North" } else { "East" }.into();
            firing
        })
        .collect();
    let kilns = vec![kiln("North", Fuel::Gas), kiln("East", Fuel::Gas)];
    let corrections = Corrections::default();
    let ledger = Ledger::new(&firings, kilns, vec![gold(0.5, 0.4)], &corrections, Span::hours(2));
    let rows = late_looks(&ledger, &ledger.facts.iter().collect::<Vec<_>>());
    let row = |name: &str| rows.iter().find(|row| row.name() == name).unwrap();
    let weekend = row("drop at the weekend");
    assert!(weekend.is_clear() && weekend.missed_with.of == 8, "{weekend:?}");
    assert!(weekend.missed_with.hits >= 6 && weekend.missed_without.hits == 0, "{weekend:?}");
    assert!(weekend.firings.iter().all(|id| id.0 % 6 == 0), "{weekend:?}");
    // 5:00 UTC is 7:00 on this wall; the drop is near noon, and on Saturdays near 21:00.
    assert!(row("drop from 18:00 to 24:00").is_clear());
    let names: Vec<String> = rows.iter().map(WentWith::name).collect();
    assert!(!names.contains(&"drop from 0:00 to 6:00".into()), "{names:?}");
    assert!(!names.iter().any(|name| name.starts_with("load")), "one load type: {names:?}");
    // Never two at once, so there is nothing to compare.
    assert!(!names.contains(&"two drops at once".into()), "{names:?}");

    // The same firings, ten of them with one in another kiln at the same time.
    let beside = firings.iter().take(10).map(|firing| {
        let mut other = firing.clone();
        other.id = FiringId(firing.id.0 + 100);
        other.kiln = "West".into();
        other
    });
    let both: Vec<Firing> = firings.iter().cloned().chain(beside).collect();
    let ledger = Ledger::new(&both, Vec::new(), Vec::new(), &corrections, Span::ZERO);
    let rows = late_looks(&ledger, &ledger.facts.iter().collect::<Vec<_>>());
    let at_once = rows.iter().find(|row| row.what == Trait::TwoAtOnce).unwrap();
    assert_eq!((at_once.missed_with.of, at_once.missed_without.of), (20, 38));
    let table = tables::late_looks(&rows);
    assert_eq!(table.rows.len(), rows.len());
}
