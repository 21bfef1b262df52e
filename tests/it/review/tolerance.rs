//! What is learned of how far a load forgives.

use super::made::Chance;
use super::signals::series;
use spyhole::testing::review::tolerance::{Case, FEWEST_TO_WIDEN, edge};

/// Simulated loads of a load type whose true edge is `edge`: overshoot by chance, known with some
/// error, missed by a soft edge of `soft` cones.
fn loads(count: usize, true_edge: f64, soft: f64, spread: f64, chance: &mut Chance) -> Vec<Case> {
    (0..count)
        .map(|_| {
            let beyond = 0.45 * chance.normal();
            let missed = beyond > true_edge + soft * chance.normal();
            Case { beyond: beyond + spread * chance.normal(), spread, missed }
        })
        .collect()
}

#[test]
fn law_the_true_edge_is_within_its_interval() {
    let runs = series();
    for (true_edge, figure, count) in
        [(0.5, 0.5, 60), (0.3, 0.5, 60), (0.8, 0.5, 120), (0.4, 0.8, 30)]
    {
        let mut chance = Chance::seeded(91);
        let inside = (0..runs)
            .filter(|_| {
                let edge = edge(figure, &loads(count, true_edge, 0.1, 0.1, &mut chance));
                edge.p025 <= true_edge && true_edge <= edge.p975
            })
            .count();
        println!("edge {true_edge}, figure {figure}, {count} loads: inside in {inside} of {runs}");
        assert!(inside as f64 >= 0.90 * runs as f64, "{inside} of {runs} for {true_edge}");
    }
}

#[test]
fn law_never_wider_on_few_firings() {
    let mut chance = Chance::seeded(92);
    let mut wider_on_many = 0;
    for _ in 0..200 {
        let all = loads(FEWEST_TO_WIDEN * 4, 1.5, 0.1, 0.05, &mut chance);
        for count in 0..FEWEST_TO_WIDEN {
            let edge = edge(0.2, &all[..count]);
            assert!(edge.suggested().is_none_or(|to| to < 0.2), "{count}: {edge:?}");
        }
        wider_on_many += usize::from(edge(0.2, &all).suggested().is_some_and(|to| to > 0.2));
        if wider_on_many > 20 {
            break;
        }
    }
    assert!(wider_on_many > 20, "with enough evidence it does widen: {wider_on_many}");
}

/// A suggested widening is safe: at the suggested limit no more than a fifth of the loads miss.
#[test]
fn law_a_suggestion_is_on_the_safe_side() {
    let mut chance = Chance::seeded(93);
    let (mut suggested, mut unsafe_ones) = (0, 0);
    for _ in 0..series() {
        let edge = edge(0.2, &loads(80, 0.6, 0.1, 0.05, &mut chance));
        if let Some(to) = edge.suggested() {
            suggested += 1;
            unsafe_ones += usize::from(to > 0.6);
        }
    }
    println!("{suggested} suggestions, {unsafe_ones} beyond the true edge");
    assert!(suggested * 5 > series(), "{suggested}");
    assert!(unsafe_ones * 20 <= suggested, "{unsafe_ones} of {suggested}");
}

/// A tolerance that is too generous is narrowed.
#[test]
fn law_a_generous_figure_is_narrowed() {
    let edge = edge(1.5, &loads(80, 0.3, 0.05, 0.05, &mut Chance::seeded(94)));
    let to = edge.suggested().expect("narrower");
    assert!((0.05..=0.4).contains(&to), "{edge:?}");
}

#[test]
fn law_no_firings_leave_the_figure() {
    let edge = edge(0.5, &[]);
    assert!(edge.suggested().is_none());
    assert!(edge.p025 < 0.5 && 0.5 < edge.p975, "{edge:?}");
}
