//! The bending of cones against what their maker says of it.
//!
//! "Published" here: T. Frederich of the Orton foundation, 2003, and the foundation's leaflets,
//! figures only; the soak is from memory. The statements are about cones in general, so each is
//! compared with the median over the self-supporting cones at the chart's two usual rates. The
//! clock positions of the leaflets are read with six o'clock as 90 degrees: one o'clock is 15
//! degrees, four o'clock 60.
//!
//! What agrees: the degrees of the last third, how the range splits at four o'clock, and the
//! minutes at 60 C/h. What agrees only in order of magnitude: the whole range (the model starts to
//! lean 10 to 30 % sooner), the minutes at 150 C/h (half), and the soak for the next cone (at 150
//! C/h a fifth).

use spyhole::testing::cone::bending::{LEAN_DOWN_DEG, LEAN_START_DEG, heat_work_at_lean, lean_deg};

use crate::prelude::*;

const ONE_O_CLOCK_DEG: f64 = 15.0;
const FOUR_O_CLOCK_DEG: f64 = 60.0;

/// The chart's two rates for self-supporting cones on which most firings end, C/h.
const SLOW: f64 = 60.0;
const FAST: f64 = 150.0;

fn curves() -> impl Iterator<Item = &'static Curve> {
    let family = Family::SelfSupporting;
    family.cones().map(move |cone| curve(cone, family).unwrap())
}

/// The temperature at which a cone heated steadily leans this far, C.
fn at_lean(curve: &Curve, rate: f64, lean_deg: f64) -> f64 {
    curve.temperature_ending(CelsiusPerHour(rate * heat_work_at_lean(lean_deg))).0
}

/// Degrees C climbed between two leans, the median over the cones.
fn median_climb(rate: f64, from_deg: f64, to_deg: f64) -> f64 {
    median(curves().map(|curve| at_lean(curve, rate, to_deg) - at_lean(curve, rate, from_deg)))
}

fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut sorted: Vec<f64> = values.collect();
    sorted.sort_by(f64::total_cmp);
    sorted[sorted.len() / 2]
}

#[track_caller]
fn assert_within(what: &str, value: f64, low: f64, high: f64) {
    assert!((low..=high).contains(&value), "{what}: {value} is outside {low} to {high}");
}

/// Frederich: 8 of 35 F (4.4 C) from four o'clock to six o'clock. Agrees.
#[test]
fn published_last_third_of_the_bend_takes_about_4_c() {
    for rate in [SLOW, FAST] {
        let climb = median_climb(rate, FOUR_O_CLOCK_DEG, LEAN_DOWN_DEG);
        assert_within(&format!("degrees at {rate} C/h"), climb, 3.4, 5.4);
    }
}

/// Frederich: 27 of 35 F, or 0.77, of the range lie before four o'clock. Agrees: ours is 0.83.
#[test]
fn published_range_splits_at_four_o_clock() {
    for rate in [SLOW, FAST] {
        let share = median(curves().map(|curve| {
            let lean = |lean_deg| at_lean(curve, rate, lean_deg);
            let (one, four) = (lean(ONE_O_CLOCK_DEG), lean(FOUR_O_CLOCK_DEG));
            (four - one) / (lean(LEAN_DOWN_DEG) - one)
        }));
        assert_within(&format!("share at {rate} C/h"), share, 0.70, 0.85);
    }
}

/// Foundation: 15 to 25 minutes from the start of bending to the end point. Agrees at 60 C/h.
#[test]
fn published_minutes_from_first_lean_to_end_point_at_a_slow_rate() {
    let minutes = median_climb(SLOW, ONE_O_CLOCK_DEG, LEAN_DOWN_DEG) / SLOW * 60.0;
    assert_within("minutes", minutes, 15.0, 25.0);
}

/// The same at 150 C/h. Only in order of magnitude: ours is 12 minutes.
#[test]
fn published_minutes_at_a_fast_rate_in_order_of_magnitude() {
    let minutes = median_climb(FAST, ONE_O_CLOCK_DEG, LEAN_DOWN_DEG) / FAST * 60.0;
    assert_within("minutes", minutes, 10.0, 25.0);
}

/// Foundation: usual bending range under 40 F (22 C); Frederich: 35 F (19 C), of it 27 F (15 C)
/// to four o'clock. Only in order of magnitude: ours from one o'clock is 25 to 29 C, since the
/// model's first lean has no sudden start.
#[test]
fn published_bending_range_in_order_of_magnitude() {
    for rate in [SLOW, FAST] {
        let whole = median_climb(rate, ONE_O_CLOCK_DEG, LEAN_DOWN_DEG);
        assert_within(&format!("whole range at {rate} C/h"), whole, 15.0, 30.0);
        let before = median_climb(rate, ONE_O_CLOCK_DEG, FOUR_O_CLOCK_DEG);
        assert_within(&format!("to four o'clock at {rate} C/h"), before, 13.0, 26.0);
    }
}

/// From memory: a soak of 1 to 2 hours takes the next cone down. Only in order of magnitude: held
/// where the first cone went down, ours takes 0.75 h after a climb at 60 C/h and 0.2 h after 150.
#[test]
fn published_soak_for_the_next_cone_in_order_of_magnitude() {
    let soak_h = |rate: f64| {
        median(curves().filter_map(|first| {
            let next = curve(first.cone.hotter()?, first.family).ok()?;
            let hold = Celsius(at_lean(first, rate, LEAN_DOWN_DEG));
            let missing = 1.0 - next.rate_ending_at(hold).0 / rate;
            Some(missing / next.heat_work_per_hour(hold))
        }))
    };
    assert_within("hours after 60 C/h", soak_h(SLOW), 0.5, 2.0);
    assert_within("hours after 150 C/h", soak_h(FAST), 0.15, 2.0);
}

/// The law of bending integrated slowly: da/dJ proportional to sin a, from 8 degrees at 0 to 90
/// at 1, by the midpoint rule, with the constant that the two ends ask for.
#[test]
fn crosscheck_lean_against_its_differential_equation() {
    const STEPS: usize = 200_000;
    const TOLERANCE_DEG: f64 = 1e-6;
    let half_tangent = |lean: f64| (lean / 2.0).to_radians().tan();
    let constant = (half_tangent(LEAN_DOWN_DEG) / half_tangent(LEAN_START_DEG)).ln();
    let mut lean = LEAN_START_DEG.to_radians();
    for step in 0..STEPS {
        let h = 1.0 / STEPS as f64;
        if step % 10_000 == 0 {
            let closed = lean_deg(step as f64 * h);
            near(closed, lean.to_degrees(), TOLERANCE_DEG, format_args!("step {step}: {closed}"));
        }
        let middle = lean + 0.5 * h * constant * lean.sin();
        lean += h * constant * middle.sin();
    }
    assert_abs_diff_eq!(lean.to_degrees(), LEAN_DOWN_DEG, epsilon = TOLERANCE_DEG);
}

#[test]
fn law_lean_and_heat_work_are_inverse() {
    for tenth in 80..=900 {
        let lean = f64::from(tenth) / 10.0;
        near(lean_deg(heat_work_at_lean(lean)), lean, 1e-11, format_args!("{lean} degrees"));
    }
    assert_eq!(lean_deg(-1.0), lean_deg(0.0));
    assert_eq!(lean_deg(7.0), lean_deg(1.0));
    assert_abs_diff_eq!(lean_deg(0.0), LEAN_START_DEG, epsilon = 1e-12);
    assert_abs_diff_eq!(lean_deg(1.0), LEAN_DOWN_DEG, epsilon = 1e-12);
}

/// A cooler cone leans before a hotter one wherever the chart's own numbers keep their order.
#[test]
fn law_in_one_pack_the_guide_leans_more_than_the_guard() {
    let pack = ["019", "018", "017"]
        .map(|name| curve(Cone::parse(name).unwrap(), Family::SelfSupporting).unwrap());
    for tenth in 6000..7600 {
        let at = Celsius(f64::from(tenth) / 10.0);
        let [guide, target, guard] = pack.map(|curve| lean_deg(curve.rate_ending_at(at).0 / FAST));
        assert!(guide >= target && target >= guard, "{at:?}: {guide} {target} {guard}");
    }
}
