//! What is learned of a probe from the cones.

use super::made::{Chance, Making};
use super::signals::series;
use crate::prelude::*;
use spyhole::testing::review::drift;

/// Ten firings of a kiln whose probe reads `probe_high` C high; cones differ from one to the next
/// by 1 C (the makers' +-2 C as two standard deviations), readings by 1 C, the climb by 10 C/h; near
/// the end somebody looks every three minutes, which at 150 C/h leaves the drop 7.5 C wide.
fn ten(probe_high: f64, chance: &mut Chance) -> Vec<Firing> {
    (0..10)
        .map(|n| {
            let making = Making {
                id: n + 1,
                lit: Moment(1_750_000_000_000) + Span::hours(48 * n),
                climb: 150.0 + 10.0 * chance.normal(),
                probe_high,
                cone_late: chance.normal(),
                off_after: 3.0 + 3.0 * chance.uniform(),
                looks_every_min: 3,
                seed: (chance.uniform() * 1e9) as u64,
                ..Making::default()
            };
            making.firing()
        })
        .collect()
}

fn offset(firings: &[Firing], corrections: &Corrections) -> drift::ProbeOffset {
    let ledger = Ledger::new(firings, vec![], vec![], corrections, Span::ZERO);
    let facts: Vec<&Facts> = ledger.facts.iter().collect();
    drift::probe_offsets(&facts, corrections).remove(0)
}

#[test]
fn law_a_probe_eight_degrees_high_is_found_after_ten_firings() {
    let runs = series() / 2;
    let mut chance = Chance::seeded(81);
    let (mut near, mut covered) = (0, 0);
    for _ in 0..runs {
        let found = offset(&ten(8.0, &mut chance), &Corrections::default());
        near += usize::from(abs_diff_eq!(found.high_c, 8.0, epsilon = 2.0));
        covered += usize::from((found.high_c - 8.0).abs() <= found.plus_or_minus_c);
        let suggestion = found.suggestion.expect("worth a correction");
        assert_eq!(suggestion.evidence.len(), 10);
        match suggestion.change {
            Change::ProbeCorrection { add_c, .. } => assert!((-11.0..=-5.0).contains(&add_c)),
            other => panic!("{other:?}"),
        }
    }
    println!("8 C found within 2 C in {near} of {runs} runs, within its interval in {covered}");
    assert!(near as f64 >= 0.95 * runs as f64, "{near} of {runs}");
    assert!(covered as f64 >= 0.9 * runs as f64);
}

#[test]
fn law_a_true_probe_is_left_alone() {
    let mut chance = Chance::seeded(82);
    let suggested = (0..100)
        .filter(|_| offset(&ten(0.0, &mut chance), &Corrections::default()).suggestion.is_some())
        .count();
    assert!(suggested <= 3, "{suggested} of 100");
}

/// Nothing changes until somebody accepts; then what was accepted is no longer suggested.
#[test]
fn law_a_correction_holds_once_accepted() {
    let firings = ten(8.0, &mut Chance::seeded(83));
    let before = offset(&firings, &Corrections::default());
    let change = before.suggestion.unwrap().change;
    let mut corrections = Corrections::default();
    corrections.accept(Moment(0), &change);
    let after = offset(&firings, &corrections);
    near(after.high_c, 0.0, 2.0, format_args!("{after:?}"));
    assert!(after.suggestion.is_none(), "{after:?}");
    // It holds from its own moment on, for its own kiln.
    assert_eq!(corrections.at("North", Moment(-1)), 0.0);
    assert_eq!(corrections.at("east", Moment(1)), 0.0);
    assert!(corrections.at("north", Moment(1)) < -5.0);
}

/// A probe that was corrected by what it read high, and then went on ageing: what is suggested next
/// takes the place of the first correction and makes up for both; the correction itself is no drift.
#[test]
fn law_a_second_correction_makes_up_for_the_first() {
    let mut chance = Chance::seeded(84);
    let making = |n: i64, probe_high: f64, chance: &mut Chance| {
        let making = Making {
            id: n + 1,
            lit: Moment(1_750_000_000_000) + Span::hours(48 * n),
            probe_high,
            looks_every_min: 3,
            seed: (chance.uniform() * 1e9) as u64,
            ..Making::default()
        };
        making.firing()
    };
    let steady: Vec<Firing> = (0..40).map(|n| making(n, 6.0, &mut chance)).collect();
    let mut corrections = Corrections::default();
    let accept = |add_c: f64| Change::ProbeCorrection { kiln: "North".into(), add_c };
    corrections.accept(steady[32].lit.unwrap(), &accept(-6.0));
    let ledger = Ledger::new(&steady, vec![], vec![], &corrections, Span::ZERO);
    let facts: Vec<&Facts> = ledger.facts.iter().collect();
    assert_eq!((facts[31].correction_c, facts[32].correction_c), (0.0, -6.0));
    let probe = |drift: &&drift::Drift| drift.measure == drift::Measure::ProbeHigh;
    let series = drift::drifts(&facts, &corrections);
    assert!(series.iter().find(probe).unwrap().signal().is_none(), "{series:?}");
    let found = offset(&steady, &corrections);
    near(found.high_c, 0.0, 2.0, format_args!("{found:?}"));
    assert!(found.suggestion.is_none(), "{found:?}");

    let aged: Vec<Firing> = (0..40).map(|n| making(n, 13.0, &mut chance)).collect();
    let found = offset(&aged, &corrections);
    assert!(abs_diff_eq!(found.high_c, 7.0, epsilon = 2.0), "{found:?}");
    match found.suggestion.unwrap().change {
        Change::ProbeCorrection { add_c, .. } => {
            assert!(abs_diff_eq!(add_c, -13.0, epsilon = 2.0), "{add_c}");
        }
        other => panic!("{other:?}"),
    }
}

/// The slow independent road: a probe that is off by d shows d, whatever the climb.
#[test]
fn crosscheck_offset_of_one_clean_firing() {
    for climb in [60.0, 108.0, 150.0, 240.0] {
        for probe_high in [-12.0, 0.0, 8.0, 25.0] {
            let making =
                Making { climb, probe_high, noise: 0.0, looks_every_min: 1, ..Making::default() };
            let facts = Facts::of(&making.firing(), 0.0).unwrap();
            let found = facts.probe_high_c.unwrap();
            // A look a minute leaves half a minute of climb either way, and 0.3 C for the rest.
            let allowed = 0.5 * climb / 60.0 + 0.3;
            near(found.best, probe_high, allowed, format_args!("{climb} C/h: {found:?}"));
            assert!(found.low <= probe_high && probe_high <= found.high);
        }
    }
}
