//! When a kiln that is off can be drawn.

use proptest::prelude::*;
use spyhole::testing::cooling::{Cooling, Law, TooHot, USUALLY_HOT_FOR};

use crate::prelude::*;

const LIMIT: Celsius = Celsius(100.0);

/// A firing lit at 0 that is off at `off`, with these readings and, if it was drawn, when.
fn firing(id: i64, off: Moment, readings: &[(Moment, f64)], drawn: Option<Moment>) -> Firing {
    let pack = ConePack::usual(Cone::parse("018").unwrap(), Family::SelfSupporting);
    let lit = What::Lit(lit_with("South", "gold", pack));
    let mut told = vec![(off - Span::hours(6), lit), (off, What::Off)];
    told.extend(readings.iter().map(|(at, t)| (*at, What::Reading(Celsius(*t)))));
    told.extend(drawn.map(|at| (at, What::Drawn)));
    told.sort_by_key(|(at, _)| *at);
    Firing { id: FiringId(id), ..firing_of(told) }
}

const OFF: Moment = Moment(1_000_000_000);

/// The coffee of OpenStax, Calculus volume 1, section 6.8 (from memory): poured at 200 F in a room
/// of 70 F, at 180 F after two minutes; T(t) = 130 exp(t (ln 11 - ln 13) / 2) + 70, at 175 F after
/// about 2.56 minutes and at 155 F after about 5.09. Here an hour stands for a minute.
#[test]
fn published_coffee_cools_as_in_the_textbook() {
    let (at, fahrenheit) =
        (|minutes: f64| OFF + Span::from_hours(minutes), Celsius::from_fahrenheit);
    let read = [(at(0.0), fahrenheit(200.0)), (at(2.0), fahrenheit(180.0))];
    let law = Law::through(&read, fahrenheit(70.0)).unwrap();
    for (limit, minutes) in
        [(175.0, 2.0 * (105f64 / 130.0).ln()), (155.0, 2.0 * (85f64 / 130.0).ln())]
    {
        let exact = minutes / (11f64.ln() - 13f64.ln());
        let found = (law.reaches(fahrenheit(limit)).unwrap() - OFF).as_hours();
        assert!(abs_diff_eq!(found, exact, epsilon = 1e-4), "{limit}: {found} instead of {exact}");
    }
    let found = (law.reaches(fahrenheit(175.0)).unwrap() - OFF).as_hours();
    assert_abs_diff_eq!(found, 2.56, epsilon = 0.01);
    let found = (law.reaches(fahrenheit(155.0)).unwrap() - OFF).as_hours();
    assert_abs_diff_eq!(found, 5.09, epsilon = 0.01);
}

proptest! {
    /// Readings that follow the law give it back, and the law is at the limit when it says so.
    #[test]
    fn law_exact_readings_give_the_law_back(
        tau_h in 1.0..12.0f64, from in 300.0..900.0f64, every_min in 20..60i64, count in 2..6usize
    ) {
        let truth = |hours: f64| 20.0 + (from - 20.0) * (-hours / tau_h).exp();
        let read: Vec<(Moment, f64)> = (0..count)
            .map(|step| Span::minutes(every_min * step as i64))
            .map(|since| (OFF + since, truth(since.as_hours())))
            .collect();
        prop_assume!(read.last().unwrap().1 > LIMIT.0);
        let cooling = Cooling::of(&firing(1, OFF, &read, None), &[]).unwrap();
        let cool = cooling.below(LIMIT).unwrap();
        let exact = tau_h * ((from - 20.0) / 80.0).ln();
        prop_assert!(abs_diff_eq!((cool - OFF).as_hours(), exact, epsilon = 0.01), "{cool:?} {exact}");
        prop_assert_eq!(cooling.too_hot(LIMIT, cool + Span::minutes(2)), None);
        prop_assert!(cooling.too_hot(LIMIT, cool - Span::minutes(20)).is_some());
    }
}

/// Without readings of its own it goes by the kiln's past: read then, or drawn then.
#[test]
fn law_the_kilns_own_past_says_how_long_it_takes() {
    let now = firing(9, OFF, &[], None);
    assert_eq!(
        Cooling::of(&now, &[]).unwrap().below(LIMIT),
        None,
        "nothing to go on, nothing said"
    );
    let days = |days: i64| OFF - Span::hours(24 * days);
    let read = |off: Moment| -> Vec<(Moment, f64)> {
        let law = |hours: i64| 20.0 + 700.0 * (-(hours as f64) / 3.0).exp();
        (0..=12).map(|hours| (off + Span::hours(hours), law(hours))).collect()
    };
    let drawn = firing(1, days(9), &[], Some(days(9) + Span::hours(15)));
    let by_drawing = Cooling::of(&now, std::slice::from_ref(&drawn)).unwrap();
    assert_eq!(by_drawing.below(LIMIT), Some(OFF + Span::hours(15)));
    let past: Vec<Firing> = (2..=4).map(|id| firing(id, days(id), &read(days(id)), None)).collect();
    let by_reading = Cooling::of(&now, &past).unwrap().below(LIMIT).unwrap();
    let exact = 3.0 * (700f64 / 80.0).ln();
    near((by_reading - OFF).as_hours(), exact, 0.02, format_args!("{:?}", by_reading - OFF));
    // Another kiln's past says nothing of this one.
    let mut other = drawn.clone();
    other.kiln = "North".into();
    assert_eq!(Cooling::of(&now, &[other]).unwrap().below(LIMIT), None);
}

/// What may be too hot to be drawn, and what is not.
#[test]
fn law_a_hot_kiln_is_told_from_a_cool_one() {
    let hot = |readings: &[(Moment, f64)], after: Span| {
        let cooling = Cooling::of(&firing(1, OFF, readings, None), &[]).unwrap();
        cooling.too_hot(LIMIT, OFF + after)
    };
    assert_eq!(hot(&[], Span::minutes(4)), Some(TooHot::OffFor(Span::minutes(4))));
    assert_eq!(hot(&[], USUALLY_HOT_FOR), None);
    let once = [(OFF + Span::minutes(10), 640.0)];
    assert_eq!(hot(&once, Span::hours(2)), Some(TooHot::Read(once[0].0, Celsius(640.0))));
    let cool = [(OFF + Span::hours(9), 95.0)];
    assert_eq!(hot(&cool, Span::hours(9)), None);
    // Given up before it was ever hot.
    let cold = [(OFF - Span::minutes(5), 60.0)];
    assert_eq!(hot(&cold, Span::minutes(10)), None);
    let burning = Firing { state: State::Lit, ..firing(1, OFF, &[], None) };
    assert_eq!(Cooling::of(&burning, &[]), None);
}

/// A chamber may fall faster after off than any probe could jump before; hotter than it was it cannot
/// be.
#[test]
fn law_a_fast_fall_after_off_is_believed() {
    let heating: Vec<(Moment, f64)> = (0..=12)
        .map(|step| (OFF - Span::minutes(10 * (12 - step)), 480.0 + 20.0 * step as f64))
        .collect();
    let fall = [(OFF + Span::minutes(5), 590.0), (OFF + Span::minutes(10), 520.0)];
    let broken = [(OFF + Span::minutes(15), 1372.0), (OFF + Span::minutes(20), -8.0)];
    let read: Vec<(Moment, f64)> = [&heating[..], &fall, &broken].concat();
    let (good, aside) =
        spyhole::testing::cooling::sifted(&firing(1, OFF, &read, None), Moment(i64::MAX));
    let plain = |read: &[(Moment, f64)]| -> Vec<(Moment, Celsius)> {
        read.iter().map(|(at, t)| (*at, Celsius(*t))).collect()
    };
    assert_eq!(aside, plain(&broken));
    assert_eq!(good, plain(&[&heating[..], &fall].concat()));
}
