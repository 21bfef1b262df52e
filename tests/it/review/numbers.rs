//! Published worked examples, through the program's own functions.

use spyhole::testing::review::charts::{cusum, ewma, ewma_half_width};
use spyhole::testing::review::wilson::{Share, Z_95, interval};

use crate::prelude::*;

const NIST: &str = include_str!("../../reference/nist_ewma_cusum.csv");

/// The rows of one example, each as its fields by name.
fn rows(example: &str) -> Vec<Vec<&'static str>> {
    let lines = NIST.lines().skip(1).map(|line| line.split(',').collect::<Vec<_>>());
    lines.filter(|fields| fields[0] == example).collect()
}

fn field(row: &[&str], name: &str) -> Option<f64> {
    let at = NIST.lines().next().unwrap().split(',').position(|n| n == name).unwrap();
    row[at].parse().ok()
}

/// Half a unit in the last place as printed, and a hair for the second rounding.
const PRINTED: f64 = 0.00501;

/// NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4, EWMA control charts.
#[test]
fn published_nist_ewma_example() {
    let rows = rows("ewma");
    let first = &rows[0];
    let (target, sigma, lambda) = (
        field(first, "target").unwrap(),
        field(first, "sigma").unwrap(),
        field(first, "lambda").unwrap(),
    );
    let values: Vec<f64> = rows[1..].iter().map(|row| field(row, "x").unwrap()).collect();
    assert_eq!(values.len(), 20);
    let ours = ewma(&values, target, lambda);
    for (row, ours) in rows[1..].iter().zip(&ours) {
        let (printed, full) =
            (field(row, "ewma_printed").unwrap(), field(row, "ewma_full").unwrap());
        assert!(abs_diff_eq!(*ours, printed, epsilon = PRINTED), "{ours} is printed as {printed}");
        assert!(abs_diff_eq!(*ours, full, epsilon = 1e-9), "{ours} against {full}");
    }
    let half = ewma_half_width(sigma, lambda, 3.0, None);
    // The handbook rounds the factor to 0.4201, so its limits are good to 2e-4.
    assert_abs_diff_eq!(target + half, 52.5884, epsilon = 2e-4);
    assert_abs_diff_eq!(target - half, 47.4115, epsilon = 2e-4);
    // The handbook's finding: no point is outside.
    assert!(ours.iter().all(|v| (v - target).abs() <= half));
    // The exact limits while the chart settles (not in the handbook, computed).
    for (count, upper) in
        [(1, 51.84851), (2, 52.25639), (3, 52.43141), (5, 52.55161), (10, 52.58740)]
    {
        let ours = target + ewma_half_width(sigma, lambda, 3.0, Some(count));
        assert!(abs_diff_eq!(ours, upper, epsilon = 1e-5), "after {count}: {ours} against {upper}");
    }
}

/// NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.3, CUSUM control charts.
#[test]
fn published_nist_cusum_example() {
    let rows = rows("cusum");
    let (target, slack, decision) = (
        field(&rows[0], "target").unwrap(),
        field(&rows[0], "k").unwrap(),
        field(&rows[0], "h").unwrap(),
    );
    let values: Vec<f64> = rows.iter().map(|row| field(row, "x").unwrap()).collect();
    let ours = cusum(&values, target, slack);
    for (row, ours) in rows.iter().zip(&ours) {
        for (value, printed, full) in
            [(ours.high, "s_hi_printed", "s_hi_full"), (ours.low, "s_lo_printed", "s_lo_full")]
        {
            assert_abs_diff_eq!(value, field(row, printed).unwrap(), epsilon = PRINTED);
            assert_abs_diff_eq!(value, field(row, full).unwrap(), epsilon = 1e-9);
        }
    }
    // The handbook's finding: out on the high side from group 14 to the last, never on the low.
    let out: Vec<usize> = (1..=20).filter(|group| ours[group - 1].high > decision).collect();
    assert_eq!(out, (14..=20).collect::<Vec<_>>());
    assert!(ours.iter().all(|sums| sums.low <= decision));
    let h = 2.0 * (1.0_f64 / 0.00135).ln() * slack;
    assert!(abs_diff_eq!(h, decision, epsilon = 1e-4), "the handbook's h from its alpha: {h}");
}

/// Newcombe 1998, Statistics in Medicine 17:857, table I, score method (from memory, recomputed).
#[test]
fn published_wilson_newcombe_1998() {
    for (hits, of, low, high) in [
        (81, 263, 0.255289, 0.366210),
        (15, 148, 0.062386, 0.160487),
        (0, 20, 0.000000, 0.161125),
        (1, 29, 0.006113, 0.171755),
    ] {
        let (l, h) = interval(hits, of, Z_95);
        assert!(
            abs_diff_eq!(l, low, epsilon = 1e-6) && abs_diff_eq!(h, high, epsilon = 1e-6),
            "{hits}/{of}: {l}, {h}"
        );
    }
}

/// Public test vectors with z = 1.96 exactly (Wilson lower and upper bounds as used for ranking).
#[test]
fn published_wilson_vectors_at_1_96() {
    for (hits, of, low, high) in [
        (0, 1, 0.0, 0.7934567085261071),
        (1, 2, 0.09452865480086611, 0.905471345199134),
        (1, 11, 0.016231752262825982, 0.3773646254862038),
        (10, 100, 0.05522854161313612, 0.1743673043676654),
        (25, 100, 0.17545094003724265, 0.3430464637007583),
        (0, 100, 0.0, 0.03699480747600191),
    ] {
        let (l, h) = interval(hits, of, 1.96);
        assert!(
            abs_diff_eq!(l, low, epsilon = 1e-12) && abs_diff_eq!(h, high, epsilon = 1e-12),
            "{hits}/{of}: {l}, {h}"
        );
    }
}

/// Newcombe 1998, Statistics in Medicine 17:873, example (a), 56/70 less 48/80, method 10 (from
/// memory): 0.0524 to 0.3339.
#[test]
fn published_difference_newcombe_1998() {
    let d = Share::new(56, 70).less(Share::new(48, 80)).unwrap();
    assert_abs_diff_eq!(d.difference, 0.2, epsilon = 1e-12);
    assert!(
        abs_diff_eq!(d.low, 0.0524, epsilon = 5e-5) && abs_diff_eq!(d.high, 0.3339, epsilon = 5e-5),
        "{d:?}"
    );
}

#[test]
fn law_small_numbers_say_so() {
    assert_eq!(Share::new(3, 4).text(), "3 of 4: too few to say");
    assert_eq!(Share::new(0, 0).text(), "0 of 0: too few to say");
    assert_eq!(Share::new(46, 50).text(), "46 of 50: 92 % (81 to 97 %)");
    // Half of ten is still between a quarter and three quarters.
    assert!(!Share::new(5, 10).says_something());
    assert!(Share::new(10, 10).says_something());
}
