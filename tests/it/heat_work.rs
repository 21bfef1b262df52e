//! Heat work one reading at a time: against a high-precision reference, an adaptive quadrature,
//! the chart and the temperature integral; and its laws.

use approx::relative_eq;
use proptest::prelude::*;

use spyhole::testing::cone::chart;
use spyhole::testing::units::KELVIN_AT_ZERO_CELSIUS;

use crate::prelude::*;

pub(crate) type History = Vec<(Moment, Celsius)>;

/// A curve by the names of its cone and family.
pub(crate) fn curve_of(cone: &str, family: &str) -> &'static Curve {
    curve(Cone::parse(cone).unwrap(), Family::parse(family).unwrap()).unwrap()
}

/// Cones with one, two and three published rates, soft and stiff.
pub(crate) fn sample_curves() -> [&'static Curve; 6] {
    [
        curve_of("022", "small"),
        curve_of("018", "self-supporting"),
        curve_of("05.5", "self-supporting"),
        curve_of("03", "large iron-free"),
        curve_of("6", "large"),
        curve_of("10", "self-supporting"),
    ]
}

/// Heat work of a whole history.
fn of_history(curve: &'static Curve, history: &[(Moment, Celsius)]) -> f64 {
    let mut heat_work = HeatWork::new(curve);
    history.iter().for_each(|&(at, temperature)| heat_work.append(at, temperature));
    heat_work.total()
}

/// Readings by hours and C.
pub(crate) fn history(readings: &[(f64, f64)]) -> History {
    let reading = |&(hours, celsius)| (Moment(0) + Span::from_hours(hours), Celsius(celsius));
    readings.iter().map(reading).collect()
}

#[track_caller]
pub(crate) fn assert_close(what: &str, value: f64, expected: f64, tolerance: f64) {
    let equal = relative_eq!(value, expected, epsilon = 0.0, max_relative = tolerance);
    assert!(equal, "{what}: {value:e} instead of {expected:e}");
}

/// One step of the high-precision reference.
pub(crate) struct Step {
    pub(crate) curve: &'static Curve,
    pub(crate) from_c: f64,
    pub(crate) to_c: f64,
    /// Mean of k over the step, which is the heat work of the step taken in one hour.
    pub(crate) mean_per_h: f64,
}

/// `tests/reference/heat_work_mpmath.csv`, made by the script of the same name: 80 digits, built
/// from the chart without any of our code.
pub(crate) fn reference_steps() -> impl Iterator<Item = Step> {
    include_str!("../reference/heat_work_mpmath.csv").lines().skip(1).map(|line| {
        let [cone, family, from_c, to_c, mean_per_h] = line.split(',').collect::<Vec<_>>()[..]
        else {
            panic!("five columns: {line}")
        };
        let number = |text: &str| text.parse().unwrap();
        Step {
            curve: curve_of(cone, family),
            from_c: number(from_c),
            to_c: number(to_c),
            mean_per_h: number(mean_per_h),
        }
    })
}

/// Required relative error of heat work on a straight step.
pub(crate) const STEP_TOLERANCE: f64 = 1e-11;

/// Below this nobody needs eleven digits: a cold cone whose heat work comes near the smallest
/// number there is. It is then only asked to stay as small.
pub(crate) const NEAR_UNDERFLOW: f64 = 1e-280;

#[track_caller]
pub(crate) fn assert_step(way: &str, step: &Step, value: f64) {
    let Step { curve, from_c, to_c, mean_per_h } = *step;
    let what = format!("{way}: {} cone {} from {from_c} to {to_c}", curve.family, curve.cone);
    if mean_per_h > NEAR_UNDERFLOW {
        assert_close(&what, value, mean_per_h, STEP_TOLERANCE);
    } else {
        assert!((0.0..=2.0 * NEAR_UNDERFLOW).contains(&value), "{what}: {value:e}");
    }
}

#[test]
fn crosscheck_every_straight_step_against_high_precision() {
    let (mut up, mut down, mut level, mut tiny, mut long, mut normal) = (0, 0, 0, 0, 0, 0);
    for step in reference_steps() {
        let (from, to) = (Celsius(step.from_c), Celsius(step.to_c));
        assert_step("mean", &step, step.curve.mean_heat_work_per_hour(from, to));
        assert_step(
            "history",
            &step,
            of_history(step.curve, &history(&[(0.0, from.0), (1.0, to.0)])),
        );
        let rise = to.0 - from.0;
        up += usize::from(rise > 0.0);
        down += usize::from(rise < 0.0);
        level += usize::from(rise == 0.0);
        tiny += usize::from(rise != 0.0 && rise.abs() < 1e-6);
        long += usize::from(rise.abs() > 1000.0);
        normal += usize::from(step.mean_per_h > NEAR_UNDERFLOW);
    }
    let total = up + down + level;
    assert!([up, down].into_iter().all(|count| count > 1000), "{up} up, {down} down");
    assert!([level, tiny, long].into_iter().all(|count| count > 250), "{level} {tiny} {long}");
    assert!(normal * 20 > total * 19, "{normal} of {total} are normal numbers");
}

/// The chart: a steady climb at a published rate from a cold kiln does heat work 1 by the
/// published temperature. The tolerance is that of times in whole milliseconds.
#[test]
fn published_a_steady_climb_at_a_chart_rate_ends_at_one() {
    for row in chart::all() {
        let curve = curve(row.cone, row.family).unwrap();
        let climb = history(&[(0.0, 20.0), ((row.end.0 - 20.0) / row.rate.0, row.end.0)]);
        assert_close(&format!("{row:?}"), of_history(curve, &climb), 1.0, 1e-6);
    }
}

/// Adaptive Simpson quadrature (Lyness 1969).
fn integral(f: &dyn Fn(f64) -> f64, from: f64, to: f64, tolerance: f64) -> f64 {
    fn refine(
        f: &dyn Fn(f64) -> f64,
        [a, b]: [f64; 2],
        [fa, fm, fb]: [f64; 3],
        (whole, tolerance, depth): (f64, f64, u32),
    ) -> f64 {
        let m = 0.5 * (a + b);
        let (left_middle, right_middle) = (f(0.5 * (a + m)), f(0.5 * (m + b)));
        let left = (m - a) / 6.0 * (fa + 4.0 * left_middle + fm);
        let right = (b - m) / 6.0 * (fm + 4.0 * right_middle + fb);
        let correction = (left + right - whole) / 15.0;
        if depth == 0 || correction.abs() <= tolerance {
            return left + right + correction;
        }
        refine(f, [a, m], [fa, left_middle, fm], (left, 0.5 * tolerance, depth - 1))
            + refine(f, [m, b], [fm, right_middle, fb], (right, 0.5 * tolerance, depth - 1))
    }
    let values = [f(from), f(0.5 * (from + to)), f(to)];
    let whole = (to - from) / 6.0 * (values[0] + 4.0 * values[1] + values[2]);
    refine(f, [from, to], values, (whole, tolerance, 40))
}

/// Ramps, soaks and coolings, as hours and C.
pub(crate) fn any_firing() -> impl Strategy<Value = Vec<(f64, f64)>> {
    let leg = (0.01f64..3.0, prop_oneof![Just(None), (20f64..1250.0).prop_map(Some)]);
    (20f64..1250.0, prop::collection::vec(leg, 1..8)).prop_map(|(start, legs)| {
        let mut readings = vec![(0.0, start)];
        for (hours, target) in legs {
            let (at, celsius) = readings[readings.len() - 1];
            readings.push((at + hours, target.unwrap_or(celsius)));
        }
        readings
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn crosscheck_random_firings_against_adaptive_quadrature(firing in any_firing(), which in 0usize..6) {
        const TOLERANCE: f64 = 1e-9;
        let curve = sample_curves()[which];
        let firing = history(&firing);
        let done = of_history(curve, &firing);
        prop_assume!(done > NEAR_UNDERFLOW);
        let mut slow = 0.0;
        for pair in firing.windows(2) {
            let [(start, from), (end, to)] = pair else { unreachable!() };
            let hours = (*end - *start).as_hours();
            let k = |x: f64| curve.heat_work_per_hour(Celsius(from.0 + (to.0 - from.0) * x / hours));
            // In pieces, so that a short hot end is not missed by the first few points.
            for piece in 0..64 {
                let at = |piece: i32| hours * f64::from(piece) / 64.0;
                slow += integral(&k, at(piece), at(piece + 1), 1e-13 * done);
            }
        }
        assert_close("heat work", done, slow, TOLERANCE);
    }

    #[test]
    fn law_hotter_never_does_less(firing in any_firing(), more in prop::collection::vec(0f64..60.0, 8), which in 0usize..6) {
        let hotter: Vec<(f64, f64)> =
            firing.iter().zip(more).map(|(&(at, celsius), more)| (at, celsius + more)).collect();
        let curve = sample_curves()[which];
        let (cool, hot) = (of_history(curve, &history(&firing)), of_history(curve, &history(&hotter)));
        prop_assume!(cool > NEAR_UNDERFLOW);
        prop_assert!(hot >= cool * (1.0 - ROUNDING), "{cool:e} became {hot:e}");
    }

    #[test]
    fn law_longer_never_does_less(
        firing in any_firing(), from in 0usize..8, longer_ms in 0i64..18_000_000, which in 0usize..6,
    ) {
        let short = history(&firing);
        let mut long = short.clone();
        for (at, _) in long.iter_mut().skip(from + 1) {
            *at = *at + Span(longer_ms);
        }
        let (short, long) = (of_history(sample_curves()[which], &short), of_history(sample_curves()[which], &long));
        prop_assume!(short > NEAR_UNDERFLOW);
        prop_assert!(long >= short * (1.0 - ROUNDING), "{short:e} became {long:e}");
    }

    /// The tolerance is that of the temperature at the split, which is rounded: 1e-13 C in the
    /// exponent of the stiffest cone.
    #[test]
    fn law_reading_more_often_on_a_straight_step_changes_nothing(
        from in 20f64..1400.0, to in 20f64..1400.0, which in 0usize..6,
        splits in prop::collection::btree_set(1i64..36_000_000, 0..40),
    ) {
        const TOLERANCE: f64 = 1e-11;
        let curve = sample_curves()[which];
        let end = 36_000_000;
        let straight = [(Moment(0), Celsius(from)), (Moment(end), Celsius(to))];
        let at = |ms: i64| Celsius(from + (to - from) * (ms as f64 / end as f64));
        let mut often = vec![straight[0]];
        often.extend(splits.into_iter().map(|ms| (Moment(ms), at(ms))));
        often.push(straight[1]);
        let (once, often) = (of_history(curve, &straight), of_history(curve, &often));
        prop_assume!(once > NEAR_UNDERFLOW);
        assert_close("split", often, once, TOLERANCE);
    }

    #[test]
    fn law_forwards_and_backwards_are_the_same(from in 20f64..1400.0, to in 20f64..1400.0, which in 0usize..6) {
        let curve = sample_curves()[which];
        let mean = |a, b| curve.mean_heat_work_per_hour(Celsius(a), Celsius(b));
        prop_assert_eq!(mean(from, to), mean(to, from));
    }
}

/// Relative rounding of a sum of a few steps, cold ones included.
const ROUNDING: f64 = 1e-12;

#[test]
fn law_a_reading_not_later_than_the_last_replaces_it() {
    let curve = curve_of("6", "large");
    let done = |readings: &[(f64, f64)]| of_history(curve, &history(readings));
    let corrected = done(&[(0.0, 900.0), (1.0, 1100.0), (1.0, 1150.0), (2.0, 1220.0)]);
    let expected = done(&[(0.0, 900.0), (1.0, 1100.0)]) + done(&[(1.0, 1150.0), (2.0, 1220.0)]);
    assert_close("at the same time", corrected, expected, ROUNDING);
    let earlier = done(&[(0.0, 900.0), (1.0, 1100.0), (0.5, 1150.0), (2.0, 1220.0)]);
    let expected = done(&[(0.0, 900.0), (1.0, 1100.0)]) + done(&[(0.5, 1150.0), (2.0, 1220.0)]);
    assert_close("earlier", earlier, expected, ROUNDING);
}

#[test]
fn law_no_reading_and_one_reading_do_nothing() {
    let curve = curve_of("6", "large");
    assert_eq!(of_history(curve, &[]), 0.0);
    assert_eq!(of_history(curve, &history(&[(3.0, 1300.0)])), 0.0);
}

/// x and p(x) of the temperature integral, p(x) = integral from x to infinity of e^-u/u² du:
/// `tests/reference/temperature_integral.csv`, mpmath at 40 digits, verified by quadrature.
fn temperature_integral() -> Vec<(f64, f64)> {
    let lines = include_str!("../reference/temperature_integral.csv").lines().skip(1);
    let number = |text: Option<&str>| text.unwrap().parse().unwrap();
    lines
        .map(|line| line.split(','))
        .map(|mut row| (number(row.next()), number(row.next())))
        .collect()
}

/// Cones with two published rates: ln B is one straight line in 1/T, by its hotter end (absolute
/// temperature and rate) and its slope.
fn straight_cones() -> Vec<(&'static Curve, f64, f64, f64)> {
    let mut found = Vec::new();
    for family in Family::ALL {
        for cone in family.cones() {
            let [cool, hot] = chart::rows(cone, family) else { continue };
            let [cool_k, hot_k] = [cool, hot].map(|row| row.end.0 + KELVIN_AT_ZERO_CELSIUS);
            let slope_k = (hot.rate.0 / cool.rate.0).ln() / (1.0 / cool_k - 1.0 / hot_k);
            found.push((curve(cone, family).unwrap(), hot_k, hot.rate.0, slope_k));
        }
    }
    assert_eq!(found.len(), 50);
    found
}

/// Neighbouring rows of the table that lie, for this slope, at temperatures a kiln has, as pairs
/// of (absolute temperature, p).
fn table_steps(slope_k: f64) -> Vec<[(f64, f64); 2]> {
    let rows: Vec<(f64, f64)> = temperature_integral()
        .into_iter()
        .map(|(x, p)| (slope_k / x, p))
        .filter(|(kelvin, _)| (500.0..1700.0).contains(kelvin))
        .collect();
    rows.windows(2).map(|pair| [pair[1], pair[0]]).collect()
}

/// On a straight line T² k = rate s e^(s/T_at) e^(-s/T), and the integral of e^(-s/T) from 0 to T
/// is s p(s/T).
#[test]
fn published_temperature_integral_from_the_rate_law() {
    const TOLERANCE: f64 = 1e-11;
    let mut checked = 0;
    for (curve, at_k, rate, slope_k) in straight_cones() {
        for [(cool_k, p_cool), (hot_k, p_hot)] in table_steps(slope_k) {
            let exact = rate * slope_k * (slope_k / at_k).exp() * slope_k * (p_hot - p_cool);
            let k = |kelvin: f64| {
                kelvin * kelvin * curve.heat_work_per_hour(Celsius(kelvin - KELVIN_AT_ZERO_CELSIUS))
            };
            let ours = integral(&k, cool_k, hot_k, 1e-14 * exact);
            assert_close(&format!("{} cone {}", curve.family, curve.cone), ours, exact, TOLERANCE);
            checked += 1;
        }
    }
    assert!(checked > 50, "{checked} pairs of rows");
}

/// A firing that climbs as dT/dt = c/T² turns heat work itself into the temperature integral:
/// J = 1/c times the integral of T² k dT. Read every few hundredths of a degree, so that straight
/// steps follow it to a few parts in 10^7.
#[test]
fn published_temperature_integral_from_a_firing() {
    const TOLERANCE: f64 = 2e-6;
    let mut checked = 0;
    for (curve, at_k, rate, slope_k) in straight_cones().into_iter().step_by(7) {
        for [(cool_k, p_cool), (hot_k, p_hot)] in table_steps(slope_k) {
            let hours = 10.0;
            let c = (hot_k.powi(3) - cool_k.powi(3)) / 3.0 / hours;
            let mut heat_work = HeatWork::new(curve);
            let readings = ((hot_k - cool_k) / 0.03) as i64;
            let end = Span::from_hours(hours).0;
            for at in (0..=readings).map(|reading| Moment(end * reading / readings)) {
                let kelvin = (cool_k.powi(3) + 3.0 * c * (at - Moment(0)).as_hours()).cbrt();
                heat_work.append(at, Celsius(kelvin - KELVIN_AT_ZERO_CELSIUS));
            }
            let exact = rate * slope_k * (slope_k / at_k).exp() * slope_k * (p_hot - p_cool) / c;
            let what = format!("{} cone {}", curve.family, curve.cone);
            assert_close(&what, heat_work.total(), exact, TOLERANCE);
            checked += 1;
        }
    }
    assert!(checked > 5, "{checked} pairs of rows");
}
