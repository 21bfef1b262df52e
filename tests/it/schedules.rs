//! Schedules: solving back from a cone, following one ideally, and what the trade says.

use std::collections::BTreeMap;

use proptest::prelude::*;
use serde::Deserialize;
use spyhole::testing::cone::{Basis, chart};
use spyhole::testing::schedule::caution::{Hazard, Rule};
use spyhole::testing::schedule::simulate::{Course, Role};
use spyhole::testing::schedule::solve::SolveError;
use spyhole::testing::schedule::{
    Limits, Pace, START, Schedule, Segment, Severity, Ventilate, check, simulate, solve,
};

use crate::prelude::*;

/// Heat work from the closed form, from the simulation and from the slow integrator agree to this.
/// The simulation rounds a leg's length to whole milliseconds.
const HEAT_WORK_TOLERANCE: f64 = 1e-6;

/// Tops found by two roads agree to this, C.
const TOP_TOLERANCE_C: f64 = 1e-4;

fn cone(name: &str) -> Cone {
    Cone::parse(name).unwrap()
}

fn ramp(to_c: f64, rate_c_per_h: f64) -> Segment {
    Segment::Ramp { to: Celsius(to_c), pace: Pace::Rate(CelsiusPerHour(rate_c_per_h)) }
}

fn cool(to_c: f64, rate_c_per_h: f64) -> Segment {
    Segment::Cool { to: Celsius(to_c), rate: CelsiusPerHour(rate_c_per_h) }
}

fn soak(minutes: i64) -> Segment {
    Segment::Soak(Span::minutes(minutes))
}

fn schedule(ware: Ware, target: &str, segments: Vec<Segment>) -> Schedule {
    Schedule {
        name: "Only a test".into(),
        ware,
        target: cone(target),
        family: Family::SelfSupporting,
        start: START,
        segments,
        ventilate: Vec::new(),
        reasoning: String::new(),
    }
}

/// Every cone with two published rates or more, with rates and soaks to try.
fn cases() -> impl Iterator<Item = (&'static Curve, f64, i64)> {
    Family::ALL.into_iter().flat_map(|family| {
        family.cones().flat_map(move |cone| {
            let curve = curve(cone, family).unwrap();
            [15.0, 60.0, 108.0, 150.0, 300.0]
                .into_iter()
                .flat_map(move |rate| [0, 5, 20, 60, 240].map(|minutes| (curve, rate, minutes)))
        })
    })
}

/// The chart gives the end temperature without a soak: wall chart, 2016 edition.
#[test]
fn published_without_a_soak_the_top_is_the_chart_entry() {
    for row in chart::all() {
        let curve = curve(row.cone, row.family).unwrap();
        let top = solve::top(curve, row.rate, Span::ZERO).unwrap();
        assert!(abs_diff_eq!(top.0, row.end.0, epsilon = 1e-9), "{row:?} gave {top:?}");
        assert_eq!(solve::basis(curve, top), Basis::Published, "{row:?}");
    }
}

/// "A soak of 1 to 2 hours takes the next cone down" (from memory). By the chart's own spacing a
/// soak at the end temperature of 60 C/h takes from minutes (cones a few degrees apart) to many
/// hours; the middle one of all cones is three quarters of an hour. So they agree in order of
/// magnitude only, and the test asks no more than that.
#[test]
fn published_a_soak_of_the_order_of_an_hour_takes_the_next_cone_down() {
    let mut hours: Vec<f64> = Family::SelfSupporting
        .cones()
        .filter(|cone| !cone.is_half())
        .filter_map(|cone| {
            let next = curve(cone.hotter()?, Family::SelfSupporting).unwrap();
            let end = curve(cone, Family::SelfSupporting)
                .unwrap()
                .end_point(CelsiusPerHour(60.0))
                .unwrap()
                .end;
            let left = 1.0 - next.rate_ending_at(end).0 / 60.0;
            Some(left / next.heat_work_per_hour(end))
        })
        .collect();
    hours.sort_by(f64::total_cmp);
    let middle = hours[hours.len() / 2];
    assert!((0.5..2.0).contains(&middle), "{middle} h");
}

/// The closed form against the exact simulation of a whole schedule.
#[test]
fn crosscheck_the_closed_form_top_takes_the_cone_down_at_the_end_of_the_soak() {
    for (curve, rate, minutes) in cases() {
        let top = solve::top(curve, CelsiusPerHour(rate), Span::minutes(minutes)).unwrap();
        let mut segments = vec![ramp(top.0, rate)];
        segments.extend((minutes > 0).then(|| soak(minutes)));
        let plan = schedule(Ware::RawCast, "04", segments);
        let done = Course::new(&plan, curve).total();
        near(
            done,
            1.0,
            HEAT_WORK_TOLERANCE,
            format_args!("{} {}: {rate} C/h, {minutes} min: {done}", curve.family, curve.cone),
        );
    }
}

/// The simulation against Simpson's rule on k(T(t)), which knows nothing of closed forms.
#[test]
fn crosscheck_heat_work_of_a_schedule_by_slow_integration() {
    let plan = schedule(
        Ware::RawCast,
        "04",
        vec![ramp(800.0, 120.0), ramp(1040.0, 75.0), soak(25), cool(980.0, 90.0), soak(30)],
    );
    for name in ["05", "04", "03"] {
        let curve = curve(cone(name), Family::SelfSupporting).unwrap();
        let slow: f64 = plan
            .legs()
            .iter()
            .map(|leg| {
                let (pieces, hours) = (20_000, leg.length.as_hours());
                let k = |part: f64| {
                    let t = leg.from.0 + (leg.to.0 - leg.from.0) * part;
                    curve.heat_work_per_hour(Celsius(t))
                };
                let step = 1.0 / f64::from(pieces);
                (0..pieces)
                    .map(|piece| f64::from(piece) * step)
                    .map(|at| (k(at) + 4.0 * k(at + step / 2.0) + k(at + step)) / 6.0 * step)
                    .sum::<f64>()
                    * hours
            })
            .sum();
        let fast = Course::new(&plan, curve).total();
        near(fast / slow, 1.0, HEAT_WORK_TOLERANCE, format_args!("{name}: {fast} and {slow}"));
    }
}

/// Solving a plain schedule by simulation against the closed form.
#[test]
fn crosscheck_a_solved_schedule_has_the_closed_form_top() {
    for (curve, rate, minutes) in cases().filter(|(_, rate, _)| *rate >= 60.0) {
        let mut segments = vec![ramp(1000.0, rate)];
        segments.extend((minutes > 0).then(|| soak(minutes)));
        let mut plan = schedule(Ware::RawCast, "04", segments);
        (plan.target, plan.family) = (curve.cone, curve.family);
        let solved = solve::solved(&plan).unwrap().top().0;
        let closed = solve::top(curve, CelsiusPerHour(rate), Span::minutes(minutes)).unwrap().0;
        near(solved, closed, TOP_TOLERANCE_C, format_args!("{}: {solved} {closed}", curve.cone));
    }
}

#[test]
fn law_a_slower_end_or_a_longer_soak_needs_a_lower_top() {
    for (curve, rate, minutes) in cases() {
        let top = |rate, minutes| {
            solve::top(curve, CelsiusPerHour(rate), Span::minutes(minutes)).unwrap().0
        };
        let here = top(rate, minutes);
        assert!(top(rate * 0.9, minutes) < here, "{} at {rate}", curve.cone);
        assert!(top(rate, minutes + 5) < here, "{} at {minutes}", curve.cone);
    }
}

#[test]
fn law_another_finish_does_the_same_heat_work_and_leads_back() {
    let plan = schedule(Ware::LustreAndGold, "018", vec![ramp(400.0, 100.0), ramp(734.0, 150.0)]);
    let curve = curve(cone("018"), Family::SelfSupporting).unwrap();
    let (slow, long) = (CelsiusPerHour(60.0), Span::minutes(10));
    let other = solve::same_heat_work(&plan, Some(slow), Some(long)).unwrap();
    assert_eq!(other.segments.len(), 3);
    let (before, after) = (Course::new(&plan, curve).total(), Course::new(&other, curve).total());
    assert!(abs_diff_eq!(before, after, epsilon = HEAT_WORK_TOLERANCE), "{before} and {after}");
    let fast = Some(CelsiusPerHour(150.0));
    let back = solve::same_heat_work(&other, fast, Some(Span::ZERO)).unwrap();
    assert_eq!(back.segments.len(), 2);
    assert!(abs_diff_eq!(back.top().0, 734.0, epsilon = TOP_TOLERANCE_C), "{:?}", back.top());
}

/// Half a cone's worth stays half a cone's worth.
#[test]
fn law_an_unfinished_firing_stays_as_unfinished() {
    let plan = schedule(Ware::RawCast, "04", vec![ramp(900.0, 100.0), ramp(1050.0, 120.0)]);
    let curve = curve(cone("04"), Family::SelfSupporting).unwrap();
    let before = Course::new(&plan, curve).total();
    assert!((0.1..0.6).contains(&before), "{before}");
    let other = solve::same_heat_work(&plan, None, Some(Span::minutes(30))).unwrap();
    let after = Course::new(&other, curve).total();
    assert!(abs_diff_eq!(before, after, epsilon = HEAT_WORK_TOLERANCE), "{before} and {after}");
    assert!(other.top() < plan.top());
}

#[test]
fn law_the_peak_is_the_hottest_ramp_and_the_soak_straight_after_it() {
    let peak = |segments| schedule(Ware::RawCast, "04", segments).peak().map(|p| (p.ramp, p.soak));
    assert_eq!(peak(vec![soak(5)]), None);
    assert_eq!(peak(vec![ramp(900.0, 90.0), ramp(1050.0, 90.0), soak(5)]), Some((1, Some(2))));
    let again = vec![ramp(1050.0, 90.0), cool(700.0, 90.0), ramp(800.0, 90.0), soak(60)];
    assert_eq!(peak(again), Some((0, None)));
    let twice = vec![ramp(1050.0, 90.0), cool(700.0, 90.0), ramp(1050.0, 90.0), soak(60)];
    assert_eq!(peak(twice), Some((2, Some(3))));
}

#[test]
fn law_what_cannot_be_solved_says_why() {
    let rows = [
        (
            schedule(Ware::RawCast, "04", vec![soak(10)]),
            "the schedule has no ramp: there is no top to solve for, add one",
        ),
        (
            schedule(Ware::RawCast, "018", vec![ramp(900.0, 100.0), soak(60), ramp(950.0, 100.0)]),
            "cone 018 is down before the last ramp begins at 900 C (1652 F): shorten or cool the segments before it",
        ),
    ];
    for (plan, message) in rows {
        assert_eq!(solve::solved(&plan).unwrap_err().to_string(), message);
    }
    let curve = curve(cone("018"), Family::SelfSupporting).unwrap();
    let long = solve::top(curve, CelsiusPerHour(150.0), Span::hours(25));
    assert_eq!(long, Err(SolveError::Soak(Span::hours(25))));
    assert_eq!(
        long.unwrap_err().to_string(),
        "a soak of 25 h is outside 0 to 24 h: give a shorter soak and a hotter top"
    );
    assert!(solve::top(curve, CelsiusPerHour(601.0), Span::ZERO).is_err());
}

#[test]
fn law_a_cone_is_down_at_the_very_millisecond_and_not_before() {
    let plan =
        schedule(Ware::RawCast, "04", vec![ramp(900.0, 120.0), ramp(1080.0, 90.0), soak(20)]);
    for name in ["05", "04", "03"] {
        let course = Course::new(&plan, curve(cone(name), Family::SelfSupporting).unwrap());
        let (at, t) = course.reaches(1.0).unwrap();
        assert!(course.heat_work_at(at) >= 1.0, "{name}");
        assert!(course.heat_work_at(Span(at.0 - 1)) < 1.0, "{name}");
        assert_eq!(plan.temperature_at(at), Some(t));
    }
    assert!(
        Course::new(&plan, curve(cone("1"), Family::SelfSupporting).unwrap())
            .reaches(1.0)
            .is_none()
    );
}

/// Somebody types what the wall chart, 2016 edition, prints: cone 018 at 150 C/h ends at 734 C.
#[test]
fn published_a_chart_value_typed_to_the_degree_is_a_good_plan() {
    for row in chart::all().iter().filter(|row| row.rate.0 >= 60.0) {
        let mut plan = schedule(Ware::RawCast, "04", vec![ramp(row.end.0, row.rate.0)]);
        (plan.target, plan.family) = (row.cone, row.family);
        let simulation = simulate(&plan, 2).unwrap();
        assert_eq!(simulation.equivalent.cones_over(row.cone).floor(), 0.0, "{row:?}");
        let target = simulation.cone(Role::Target).unwrap();
        let (down, _) = target.down.unwrap_or_else(|| panic!("{row:?}: {target:?}"));
        assert!((plan.total().0 - down.0).abs() < 1000, "{row:?}: {target:?}");
    }
}

#[test]
fn law_guide_target_and_guard_go_down_in_that_order() {
    let plan = schedule(Ware::RawCast, "04", vec![ramp(1150.0, 150.0)]);
    let simulation = simulate(&plan, 100).unwrap();
    let down = |role| simulation.cone(role).unwrap().down.unwrap().0;
    assert!(down(Role::Guide) < down(Role::Target) && down(Role::Target) < down(Role::Guard));
    assert_eq!(simulation.samples.len(), 100);
    assert_eq!(simulation.samples[0].temperature, START);
    let last = simulation.samples.last().unwrap();
    assert_eq!((last.elapsed, last.temperature), (simulation.total, Celsius(1150.0)));
    for pair in simulation.samples.windows(2) {
        for (before, after) in pair[0].cones.iter().zip(&pair[1].cones) {
            assert!(before.0 <= after.0 && before.1 <= after.1, "{pair:?}");
        }
    }
}

#[test]
fn law_the_plan_and_the_temperature_agree() {
    let plan = schedule(Ware::RawCast, "04", vec![ramp(620.0, 100.0), soak(30), cool(320.0, 50.0)]);
    let corners = [(0, 20.0), (6, 620.0), (0, 620.0), (0, 320.0)];
    assert_eq!(plan.plan()[1], (Span::hours(corners[1].0), Celsius(corners[1].1)));
    assert_eq!(plan.total(), Span::minutes(6 * 60 + 30 + 6 * 60));
    for (at, t) in plan.plan() {
        assert_eq!(plan.temperature_at(at), Some(t));
    }
    assert_eq!(plan.temperature_at(Span::hours(3)), Some(Celsius(320.0)));
    assert_eq!(plan.temperature_at(Span(-1)), None);
    assert_eq!(plan.temperature_at(plan.total() + Span(1)), None);
    assert_eq!(plan.heating_ends(), Span::minutes(6 * 60 + 30));
}

/// The names of the rules found, remarks left out.
fn found(plan: &Schedule, limits: &Limits) -> Vec<&'static str> {
    let cautions = check(plan, limits).unwrap();
    assert!(cautions.iter().all(|caution| !caution.rule.source().is_empty()));
    let grave = cautions.iter().filter(|caution| caution.rule.severity() != Severity::Remark);
    grave.map(|caution| caution.rule.name()).collect()
}

/// `tests/data/cautions.toml`.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Row {
    name: String,
    ware: String,
    segments: String,
    cautions: Vec<String>,
}

/// A segment as the table writes it: "120@50", "soak 15" or "cool 600@200".
fn segment(text: &str) -> Segment {
    let rated = |text: &str| text.split_once('@').map(|(to, rate)| [to, rate].map(number)).unwrap();
    match text.split_once(' ') {
        Some(("soak", minutes)) => soak(number(minutes) as i64),
        Some((_, cooling)) => cool(rated(cooling)[0], rated(cooling)[1]),
        None => ramp(rated(text)[0], rated(text)[1]),
    }
}

fn number(text: &str) -> f64 {
    text.parse().unwrap()
}

#[test]
fn law_every_caution_is_given_when_it_is_due() {
    let table: BTreeMap<String, Vec<Row>> = data("cautions.toml");
    for Row { name, ware, segments, cautions } in &table["row"] {
        let ware = Ware::ALL.into_iter().find(|known| known.name() == ware).unwrap();
        let target = if ware == Ware::Decals { "018" } else { "04" };
        let mut plan = schedule(ware, target, segments.split(", ").map(segment).collect());
        if ware != Ware::Decals {
            let (from, to, why) = (Celsius(20.0), Celsius(900.0), String::new());
            plan.ventilate = vec![Ventilate { from, to, why }];
        }
        let mut names = found(&plan, &Limits::default());
        names.sort_unstable();
        assert_eq!(names, *cautions, "{name}");
    }
}

#[test]
fn law_remarks_are_given_when_they_apply() {
    let remarks = |plan: &Schedule| -> Vec<Rule> {
        let cautions = check(plan, &Limits::default()).unwrap().into_iter();
        let remarks = cautions.filter(|caution| caution.rule.severity() == Severity::Remark);
        remarks.map(|caution| caution.rule).collect()
    };
    let names = |plan: &Schedule| remarks(plan).iter().map(Rule::name).collect::<Vec<_>>();
    let climb = |rate| vec![ramp(1040.0, rate)];
    let plain = schedule(Ware::GlazedBisque, "04", climb(100.0));
    assert_eq!(names(&plain), ["free_cooling", "opening"]);
    let held = [climb(100.0), vec![cool(580.0, 100.0), cool(500.0, 50.0)]].concat();
    assert_eq!(names(&schedule(Ware::GlazedBisque, "04", held)), ["opening"]);
    let fast = schedule(Ware::GlazedBisque, "04", climb(200.0));
    assert_eq!(names(&fast), ["rate_off_chart", "free_cooling", "opening"]);
    let mut cool_decals = schedule(Ware::Decals, "022", vec![ramp(450.0, 100.0)]);
    let why = "Fumes.".into();
    cool_decals.ventilate = vec![Ventilate { from: Celsius(20.0), to: Celsius(450.0), why }];
    let fumes = Rule::Fumes { up_to: Celsius(450.0) };
    assert_eq!(remarks(&cool_decals), [fumes, Rule::Opening]);
}

#[test]
fn law_the_kiln_limits_what_a_schedule_may_ask() {
    let plan =
        schedule(Ware::GlazedBisque, "04", vec![ramp(900.0, 110.0), ramp(1053.0, 60.0), soak(15)]);
    let limits = |ceiling, fastest| Limits {
        ceiling: Some(Celsius(ceiling)),
        fastest: Some(CelsiusPerHour(fastest)),
    };
    assert_eq!(found(&plan, &limits(1053.0, 110.0)), Vec::<&str>::new());
    assert_eq!(found(&plan, &limits(1052.0, 109.0)), ["faster_than_kiln", "above_ceiling"]);
    let gravest = check(&plan, &limits(1052.0, 109.0)).unwrap()[0];
    assert_eq!(gravest.segment, Some(0));
    assert!(matches!(gravest.rule, Rule::FasterThanKiln { .. }));
}

#[test]
fn law_fumes_are_aired_only_when_every_stretch_is() {
    let mut plan =
        schedule(Ware::LustreAndGold, "018", vec![ramp(400.0, 100.0), ramp(734.1, 150.0)]);
    let stretch = |from, to| Ventilate { from: Celsius(from), to: Celsius(to), why: String::new() };
    assert_eq!(found(&plan, &Limits::default()), ["unventilated"]);
    plan.ventilate = vec![stretch(300.0, 500.0), stretch(20.0, 250.0)];
    assert_eq!(found(&plan, &Limits::default()), ["unventilated"]);
    plan.ventilate = vec![stretch(240.0, 500.0), stretch(20.0, 250.0)];
    assert_eq!(found(&plan, &Limits::default()), Vec::<&str>::new());
    // Raw clay gives off carbon monoxide and sulfur until its carbon is burnt.
    let segments = [(120.0, 50.0), (600.0, 90.0), (900.0, 120.0), (1053.0, 60.0)];
    let ramps = segments.map(|(to, rate)| ramp(to, rate)).into_iter().chain([soak(15)]);
    let mut raw = schedule(Ware::RawCast, "04", ramps.collect());
    assert_eq!(found(&raw, &Limits::default()), ["unventilated"]);
    raw.ventilate = vec![stretch(300.0, 900.0)];
    assert_eq!(found(&raw, &Limits::default()), Vec::<&str>::new());
}

/// The bands stand beside their sources in the program; here only that they are sound.
#[test]
fn law_every_hazard_has_a_band_and_somebody_it_concerns() {
    for hazard in Hazard::ALL {
        let (low, high) = hazard.band();
        assert!(low < high);
        assert!(Ware::ALL.iter().any(|ware| ware.usual_pace(hazard).is_some()), "{hazard:?}");
    }
}

#[test]
fn law_a_file_in_fahrenheit_means_the_same_as_one_in_celsius() {
    let file = |start: &str, ramp: &str, cool: &str, air: &str| {
        schedule_file::from_json(&format!(
            r#"{{"version": 1, "name": "Cups", "ware": "decals", "target": "018",
            "family": "self-supporting", {start}, "segments": [{{"ramp": {{{ramp}}}}},
            {{"soak": {{"hours": 0.25}}}}, {{"cool": {{{cool}}}}}],
            "ventilate": [{{{air}, "why": "Fumes."}}], "reasoning": "Only a test."}}"#
        ))
        .unwrap()
    };
    let fahrenheit = file(
        r#""start_f": 50"#,
        r#""to_f": 2732, "rate_f_per_h": 1080"#,
        r#""to_f": 932, "rate_f_per_h": 9"#,
        r#""from_f": -40, "to_f": 932"#,
    );
    let celsius = file(
        r#""start_c": 10"#,
        r#""to_c": 1500, "rate_c_per_h": 600"#,
        r#""to_c": 500, "rate_c_per_h": 5"#,
        r#""from_c": -40, "to_c": 500"#,
    );
    assert_eq!(fahrenheit, celsius);
    assert_eq!(celsius.segments[1], soak(15));
}

/// Any well-formed schedule: a climb, and perhaps a fall after it.
fn any_schedule() -> impl Strategy<Value = Schedule> {
    let step = (1.0..200.0f64, 5.0..600.0f64, proptest::option::of(1i64..10_000_000));
    let steps = proptest::collection::vec(step, 1..7);
    (steps, proptest::option::of((1.0..300.0f64, 5.0..600.0f64)), 0usize..6).prop_map(
        |(steps, fall, ware)| {
            let (mut t, mut segments) = (START.0, Vec::new());
            for (rise, rate, soak) in steps {
                t += rise;
                segments.push(ramp(t, rate));
                segments.extend(soak.map(|length| Segment::Soak(Span(length))));
            }
            segments.extend(fall.map(|(fall, rate)| cool((t - fall).max(0.0), rate)));
            schedule(Ware::ALL[ware], "06", segments)
        },
    )
}

proptest! {
    #[test]
    fn law_a_written_schedule_reads_back_the_same(plan in any_schedule()) {
        let text = schedule_file::to_json(&plan);
        prop_assert_eq!(schedule_file::from_json(&text).unwrap(), plan);
    }

    #[test]
    fn law_heat_work_along_a_schedule_never_falls(plan in any_schedule(), parts in 1i64..50) {
        let course = Course::new(&plan, curve(cone("06"), Family::SelfSupporting).unwrap());
        let total = plan.total().0;
        let mut last = 0.0;
        for part in 0..=parts {
            let done = course.heat_work_at(Span(total / parts * part));
            // Far below a cone a whole leg may add less than a sum can hold.
            prop_assert!(done >= last * (1.0 - 1e-12), "{} after {}", done, last);
            last = done;
        }
        prop_assert!(abs_diff_eq!(course.heat_work_at(Span(total)), course.total(), epsilon = 1e-12 * course.total()));
    }
}
