//! Heat work in bulk: every vector level against the high-precision reference and against the
//! engine that takes one reading at a time.

use proptest::prelude::*;

use crate::heat_work::{
    NEAR_UNDERFLOW, any_firing, assert_close, assert_step, curve_of, history, reference_steps,
    sample_curves,
};
use spyhole::cone::bulk::BulkError;
use spyhole::cone::heat_work::of_history;
use spyhole::cone::{Bulk, Curve, Histories, VectorLevel};
use spyhole::units::{Celsius, Moment};

/// How far bulk and incremental may differ, relative: both round, in another order. The largest
/// part is the exponent itself, which is up to a few hundred in a kiln far too cold for the cone.
const AGREEMENT: f64 = 3e-12;

/// The same for whole firings, where only the hot end counts.
const FIRING_AGREEMENT: f64 = 1e-14;

fn levels() -> impl Iterator<Item = Bulk> {
    VectorLevel::available().map(|level| Bulk::at_level(level).unwrap())
}

fn of_one(bulk: Bulk, curve: &Curve, readings: &[(Moment, Celsius)]) -> f64 {
    let (times, temperatures): (Vec<Moment>, Vec<Celsius>) = readings.iter().copied().unzip();
    let histories = Histories::new(&times, &temperatures, &[0]).unwrap();
    bulk.heat_work(curve, histories)[0]
}

#[track_caller]
fn assert_agree(bulk: Bulk, curve: &'static Curve, readings: &[(Moment, Celsius)]) {
    let expected = of_history(curve, readings);
    let value = of_one(bulk, curve, readings);
    let what = format!("{} on {} cone {}", bulk.level().name(), curve.family, curve.cone);
    if expected > NEAR_UNDERFLOW {
        assert_close(&what, value, expected, AGREEMENT);
    } else {
        assert!((0.0..=2.0 * NEAR_UNDERFLOW).contains(&value), "{what}: {value:e}");
    }
}

#[test]
fn crosscheck_every_straight_step_at_every_level() {
    for bulk in levels() {
        for step in reference_steps() {
            let readings = history(&[(0.0, step.from_c), (1.0, step.to_c)]);
            assert_step(bulk.level().name(), &step, of_one(bulk, step.curve, &readings));
        }
    }
}

/// A firing of a few thousand noisy readings at uneven times, made by a fixed rule.
fn long_firing(seed: u64, readings: usize, peak_c: f64) -> Vec<(Moment, Celsius)> {
    let mut state = seed;
    let mut noise = || {
        state =
            state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 11) as f64 / (1u64 << 53) as f64 - 0.5
    };
    let mut at = 1_700_000_000_000;
    (0..readings)
        .map(|i| {
            let phase = i as f64 / readings as f64;
            let shape = (1.4 * phase).min(1.0) - (4.0 * (phase - 0.8)).max(0.0);
            at += 20_000 + (20_000.0 * noise()) as i64;
            (Moment(at), Celsius(20.0 + (peak_c - 20.0) * shape + noise()))
        })
        .collect()
}

#[test]
fn law_bulk_agrees_with_incremental_on_whole_firings() {
    for bulk in levels() {
        for (curve, peak_c) in [("018", 735.0), ("05.5", 1030.0), ("6", 1230.0)]
            .map(|(cone, peak_c)| (curve_of(cone, "self-supporting"), peak_c))
        {
            for seed in 0..20 {
                let firing = long_firing(seed, 2500, peak_c);
                let expected = of_history(curve, &firing);
                assert!(expected > 0.3, "the firing does something: {expected}");
                let value = of_one(bulk, curve, &firing);
                assert_close(bulk.level().name(), value, expected, FIRING_AGREEMENT);
            }
        }
    }
}

/// Every length around the size of the inner loop, so that no reading is lost at an edge.
#[test]
fn law_bulk_agrees_with_incremental_at_every_length() {
    let curve = curve_of("018", "self-supporting");
    let firing = long_firing(7, 300, 735.0);
    for bulk in levels() {
        for length in 0..200 {
            assert_agree(bulk, curve, &firing[100..100 + length]);
        }
    }
}

#[test]
fn law_firings_do_not_touch_each_other() {
    let curve = curve_of("6", "large");
    let firings: Vec<Vec<(Moment, Celsius)>> =
        [3, 0, 700, 1, 65, 64, 2].iter().map(|&n| long_firing(n as u64, n, 1230.0)).collect();
    let (times, temperatures): (Vec<Moment>, Vec<Celsius>) =
        firings.iter().flatten().copied().unzip();
    let starts: Vec<usize> = firings
        .iter()
        .scan(0, |at, firing| {
            let start = *at;
            *at += firing.len();
            Some(start)
        })
        .collect();
    let histories = Histories::new(&times, &temperatures, &starts).unwrap();
    for bulk in levels() {
        let together = bulk.heat_work(curve, histories);
        let alone: Vec<f64> = firings.iter().map(|firing| of_one(bulk, curve, firing)).collect();
        assert_eq!(together, alone);
        assert_eq!([together[1], together[3]], [0.0, 0.0]);
    }
}

/// Times that do not ascend, steps of years, and a curve crossed at each reading.
#[test]
fn law_odd_histories_are_taken_as_the_incremental_engine_takes_them() {
    let year_ms = 31_557_600_000;
    for curve in sample_curves() {
        let published = curve.pieces()[0].up_to_c;
        let edge = if published.is_finite() { published } else { 700.0 };
        let crossing: Vec<(Moment, Celsius)> = (0..150)
            .map(|i| (Moment(i * 60_000), Celsius(edge + if i % 2 == 0 { 0.5 } else { -0.5 })))
            .collect();
        let on_the_edge: Vec<(Moment, Celsius)> =
            (0..150).map(|i| (Moment(i * 60_000), Celsius(edge + f64::from(i % 3 == 0)))).collect();
        let backwards: Vec<(Moment, Celsius)> =
            (0..150).map(|i| (Moment(i % 7 * 60_000 - i % 3), Celsius(edge - i as f64))).collect();
        let years: Vec<(Moment, Celsius)> = [-9000, -3, 0, 400_000]
            .map(|year| (Moment(year * year_ms), Celsius(edge - year as f64 * 1e-4)))
            .to_vec();
        for bulk in levels() {
            for odd in [&crossing, &on_the_edge, &backwards, &years] {
                assert_agree(bulk, curve, odd);
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    #[test]
    fn law_bulk_agrees_with_incremental_on_random_firings(firing in any_firing(), which in 0usize..6) {
        for bulk in levels() {
            assert_agree(bulk, sample_curves()[which], &history(&firing));
        }
    }

    #[test]
    fn law_bulk_agrees_with_incremental_on_random_readings(
        readings in prop::collection::vec((-60_000i64..600_000, 20f64..1400.0, -3f64..3.0), 0..200),
        coarse: bool, which in 0usize..6,
    ) {
        let mut at = 0;
        let mut celsius = readings.first().map_or(20.0, |first| first.1);
        let readings: Vec<(Moment, Celsius)> = readings
            .into_iter()
            .map(|(later, anywhere, near)| {
                at += later;
                celsius = if coarse { anywhere } else { celsius + near };
                (Moment(at), Celsius(celsius))
            })
            .collect();
        for bulk in levels() {
            assert_agree(bulk, sample_curves()[which], &readings);
        }
    }
}

#[test]
fn law_the_chosen_level_is_the_best_available_and_has_a_name() {
    let chosen = Bulk::default().level();
    assert_eq!(VectorLevel::available().last(), Some(chosen));
    assert_ne!(chosen, VectorLevel::StandardExp);
    for level in VectorLevel::ALL {
        assert!(!level.name().is_empty());
        match Bulk::at_level(level) {
            Ok(bulk) => assert_eq!(bulk.level(), level),
            Err(error) => assert_eq!(error, BulkError::Level(level)),
        }
    }
}

#[test]
fn law_uneven_or_misplaced_readings_are_refused_with_the_reason() {
    let (times, temperatures) = ([Moment(0); 4], [Celsius(20.0); 4]);
    let check = |times: &[Moment], starts: &[usize], text: &str| {
        let error = Histories::new(times, &temperatures, starts).unwrap_err();
        assert_eq!(error.to_string(), text);
    };
    check(
        &times[..3],
        &[0],
        "every reading needs a time and a temperature: 3 times, 4 temperatures were given",
    );
    check(
        &times,
        &[1, 2],
        "firing 0 starts at reading 1, outside 0 to 0: the starts of firings ascend from 0 and stay within the readings",
    );
    check(
        &times,
        &[0, 3, 2],
        "firing 2 starts at reading 2, outside 3 to 4: the starts of firings ascend from 0 and stay within the readings",
    );
    check(
        &times,
        &[0, 5],
        "firing 1 starts at reading 5, outside 0 to 4: the starts of firings ascend from 0 and stay within the readings",
    );
}
