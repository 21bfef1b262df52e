//! Control charts by simulation: how often they cry wolf and how soon they find a real change.
//!
//! `SPYHOLE_SERIES=2000 cargo test --release --test it review::signals -- --nocapture` runs them
//! at full size and prints what it found.

use super::made::Chance;
use crate::prelude::*;
use spyhole::testing::review::charts::{Chart, IN_CONTROL};

pub(crate) fn series() -> usize {
    std::env::var("SPYHOLE_SERIES").ok().and_then(|n| n.parse().ok()).unwrap_or(200)
}

/// How many firings after the in-control period the chart first signals, looking after each one as
/// somebody at the kiln would; `None` if it does not within `most`.
fn first_signal(most: usize, mut next: impl FnMut(usize) -> f64) -> Option<usize> {
    let mut values: Vec<f64> = (0..IN_CONTROL).map(&mut next).collect();
    (1..=most).find(|_| {
        values.push(next(values.len()));
        Chart::of(&values).unwrap().signal.is_some()
    })
}

/// Time to the drop, minutes: 300 with 12 minutes of scatter.
const SCATTER_MIN: f64 = 12.0;

#[test]
fn law_false_signals_are_as_rare_as_stated() {
    let series = series();
    let mut chance = Chance::seeded(71);
    let cried = (0..series)
        .filter(|_| first_signal(100, |_| 300.0 + SCATTER_MIN * chance.normal()).is_some())
        .count();
    println!("a false signal within 100 firings in {cried} of {series} series");
    // Stated: at most 12 of 100; three binomial standard deviations for the smaller run.
    let allowed = 0.12 + 3.0 * (0.12 * 0.88 / series as f64).sqrt();
    assert!((cried as f64) <= allowed * series as f64, "{cried} of {series}");
    assert!(cried > 0, "a chart that never signals by chance would not find anything either");
}

#[test]
fn law_ten_minutes_of_drift_is_found_as_soon_as_stated() {
    let series = series();
    let mut chance = Chance::seeded(72);
    let mut found: Vec<usize> = (0..series)
        .map(|_| {
            let drifted = |at: usize| if at >= IN_CONTROL { 10.0 } else { 0.0 };
            first_signal(200, |at| 300.0 + drifted(at) + SCATTER_MIN * chance.normal())
                .unwrap_or(usize::MAX)
        })
        .collect();
    found.sort_unstable();
    let within = |most: usize| found.iter().filter(|n| **n <= most).count() as f64;
    println!(
        "10 minutes of drift: median after {} firings; within 25: {}, within 60: {} of {series}",
        found[series / 2],
        within(25),
        within(60)
    );
    let slack = 3.0 * (0.25 / series as f64).sqrt();
    assert!(within(60) >= (0.85 - slack) * series as f64, "within 60: {}", within(60));
    assert!(within(25) >= (0.50 - slack) * series as f64, "within 25: {}", within(25));
}

/// The size and beginning of a change that was found are near the truth.
#[test]
fn law_the_change_is_described() {
    let mut chance = Chance::seeded(73);
    let values: Vec<f64> =
        (0..90).map(|at| if at < 60 { 300.0 } else { 314.0 } + 6.0 * chance.normal()).collect();
    let signal = Chart::of(&values).unwrap().signal.unwrap();
    assert!((55..=63).contains(&signal.began_at), "{signal:?}");
    assert!(abs_diff_eq!(signal.change, 14.0, epsilon = signal.plus_or_minus), "{signal:?}");
    assert!(signal.found_at < 75, "{signal:?}");
}

/// One wild firing is no drift.
#[test]
fn law_one_odd_firing_is_no_signal() {
    let mut chance = Chance::seeded(74);
    let mut values: Vec<f64> = (0..60).map(|_| 300.0 + SCATTER_MIN * chance.normal()).collect();
    assert!(Chart::of(&values).unwrap().signal.is_none());
    values[40] = 3000.0;
    assert!(Chart::of(&values).unwrap().signal.is_none());
    values[10] = 9000.0;
    let usual = Chart::of(&values).unwrap().in_control;
    assert!(abs_diff_eq!(usual.mean, 300.0, epsilon = 8.0) && usual.sigma < 20.0, "{usual:?}");
    // Too short or without scatter there is no chart, and no division by nothing.
    assert!(Chart::of(&values[..11]).is_none());
    assert!(Chart::of(&[5.0; 40]).is_none());
}
