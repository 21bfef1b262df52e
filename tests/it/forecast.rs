//! The forecast: is it honest, is it sharp, do its parts do what they say.

use crate::forecast_trials::{BINS, Calibration, FLAT_BELOW, STATES, Sharpness, crps_normal};
use crate::prelude::*;
use crate::simulator::{Dice, LIT, Reads, SimulatedKiln, after, gold, looked, pack};
use spyhole::testing::forecast::pooling::{Group, predict};

/// Firings for each state of knowledge; the bench takes 2,000.
const FIRINGS: usize = 100;

/// With 100 firings the share inside a true 90 % window lies within 0.79 to 0.98 in 999 of 1000
/// (binomial); the bench holds it to 0.86 to 0.94.
#[test]
fn law_drops_fall_inside_the_window_as_often_as_it_says() {
    for state in STATES {
        let calibration = Calibration::run(state, FIRINGS, 10_000);
        let inside = calibration.inside();
        assert!((0.79..=0.98).contains(&inside), "{}: {inside:.3} inside", state.name);
        let chi_square = calibration.chi_square(BINS);
        assert!(
            chi_square < FLAT_BELOW,
            "{}: chi-square {chi_square:.1}, mean rank {:.3} of {:?}",
            state.name,
            calibration.mean_rank(),
            calibration.histogram(BINS)
        );
    }
}

/// One hour before the drop: with a probe under 18 minutes, with hand readings under 30; the
/// guide just seen down by looks five minutes apart: under 8.
#[test]
fn law_the_window_narrows_with_what_is_known() {
    let probe = Sharpness::run(Reads::Probe, 40, 20_000);
    let by_hand = Sharpness::run(Reads::ByHand, 40, 20_000);
    assert!(probe.width_min < 18.0, "{probe:?}");
    assert!(by_hand.width_min < 30.0, "{by_hand:?}");
    assert!(probe.width_guide_down_min < 8.0, "{probe:?}");
    assert!(by_hand.width_guide_down_min < 8.0, "{by_hand:?}");
    let looks = Sharpness::run(Reads::Nothing, 60, 20_000);
    assert!(looks.width_guide_down_min < 8.5, "6 in the full trials: {looks:?}");
    assert!(probe.crps_min < 0.5 * probe.crps_usual_min, "{probe:?}");
    assert!(by_hand.crps_min < 0.5 * by_hand.crps_usual_min, "{by_hand:?}");
}

/// Gneiting and Raftery 2007, closed form; values evaluated twice independently.
#[test]
fn published_crps_of_a_normal() {
    for (mean, deviation, seen, expected) in [
        (0.0, 1.0, 0.0, 0.233694977255),
        (0.0, 1.0, 1.0, 0.602441357628),
        (0.0, 1.0, -1.0, 0.602441357628),
        (0.0, 1.0, 3.0, 2.436574725086),
        (10.0, 2.0, 11.5, 0.896288504393),
        (1200.0, 8.0, 1190.0, 6.295873224505),
    ] {
        let crps = crps_normal(mean, deviation, seen);
        near(crps, expected, 1e-9, format_args!("({mean}, {deviation}; {seen}): {crps}"));
    }
}

#[test]
fn law_one_odd_value_moves_the_prediction_little() {
    let group = |values: &[f64]| {
        let values = values.iter().map(|value| (*value, 0.0)).collect();
        vec![Group { between: 0.0, values }]
    };
    let usual = predict((0.0, 0.5), 0.05, &group(&[0.00, 0.03, -0.02, 0.01, 0.02, -0.01]));
    let odd = predict((0.0, 0.5), 0.05, &group(&[0.00, 0.03, -0.02, 0.01, 0.02, -0.01, 0.60]));
    let plain_mean_shift = 0.60 / 7.0;
    assert!(odd.mean - usual.mean < 0.25 * plain_mean_shift, "{usual:?} {odd:?}");
    assert!(odd.mean > usual.mean, "it still pulls: {usual:?} {odd:?}");
}

#[test]
fn law_a_prediction_tightens_with_every_value() {
    let mut last = f64::INFINITY;
    for count in [0, 1, 2, 4, 8, 16] {
        let values = (0..count).map(|at| (0.02 * f64::from(at % 3 - 1), 0.0)).collect();
        let spread = predict((0.0, 0.3), 0.05, &[Group { between: 0.0, values }]).spread;
        assert!(spread < last, "{count} values: {spread} after {last}");
        last = spread;
    }
}

#[test]
fn law_neighbours_pull_less_than_the_kilns_own_past() {
    let values = |value: f64| vec![(value, 0.0); 4];
    let own = Group { between: 0.0, values: values(0.2) };
    let neighbours = Group { between: 0.2, values: values(0.2) };
    let by_own = predict((0.0, 0.1), 0.05, &[own]).mean;
    let by_neighbours = predict((0.0, 0.1), 0.05, &[neighbours]).mean;
    assert!(0.0 < by_neighbours && by_neighbours < by_own && by_own < 0.2);
}

/// Same record, same answer.
#[test]
fn law_the_forecast_is_repeatable() {
    let answer = || {
        let dice = &mut Dice::new(3);
        let kiln = SimulatedKiln::new("North", 150.0, dice);
        let fired = kiln.fire(dice);
        let firing = fired.record(&kiln, Reads::ByHand, 4.0, dice);
        let past = vec![kiln.fire(dice).finished(&kiln, Reads::ByHand, dice)];
        let question = question(&firing, &past, after(4.0));
        assert_eq!(firing.pack, Some(pack()));
        forecast(&question)
    };
    assert_eq!(answer(), answer());
}

/// Found down by the first look of all, an hour and a half late, the target was down some time before;
/// seen standing five minutes earlier it was not.
#[test]
fn law_a_target_found_down_by_the_first_look_teaches_only_some_time_before() {
    let look =
        |at_h: f64, target| looked(after(at_h), Look { target: Some(target), ..Look::default() });
    let found = look(5.5, Seen::Down);
    let past = |looks: Vec<Looked>| Firing {
        kiln: "North".into(),
        load_type: "gold".into(),
        pack: Some(pack()),
        lit: Some(LIT),
        looks,
        off: Some(after(5.5)),
        state: State::Closed,
        ..Firing::default()
    };
    let today = Firing { looks: Vec::new(), off: None, state: State::Lit, ..past(Vec::new()) };
    let load = gold(Some(Span::hours(4)));
    let middle = |past: &[Firing]| {
        let question = Question { load: Some(&load), ..question(&today, past, after(1.0)) };
        (forecast(&question).unwrap().p50 - LIT).as_minutes()
    };
    let alone = middle(&[]);
    let late = middle(&[past(vec![found])]);
    let seen = middle(&[past(vec![look(5.4, Seen::Standing), found])]);
    let later = middle(&vec![past(vec![found]); 5]);
    assert!((late - alone).abs() < 4.0 && (later - alone).abs() < 4.0, "{alone} {late} {later}");
    // Less than it was expected to take, it took at most that.
    let soon = look(3.5, Seen::Down);
    let early = middle(&vec![Firing { off: Some(after(3.5)), ..past(vec![soon]) }; 5]);
    assert!(early > 120.0 && early < 215.0 && early < alone - 20.0, "{alone} {early}");
    assert!(seen - alone > 30.0, "{alone} {seen}");
    // Found down each time somebody came for it, it is no ever faster kiln.
    let for_it = look(4.0, Seen::Down);
    let each_time = middle(&vec![Firing { off: Some(after(4.0)), ..past(vec![for_it]) }; 30]);
    assert!((0.0..32.0).contains(&(alone - each_time)), "{alone} {each_time}");
}

/// One number soon after a lighting that was noted far too late, early or not at all as it was: whatever
/// stands there, there is a forecast, and a look in reach.
#[test]
fn law_a_single_number_that_fits_nothing_leaves_a_forecast() {
    let dice = &mut Dice::new(1);
    let kiln = SimulatedKiln::new("North", 150.0, dice);
    let past: Vec<Firing> =
        (0..10).map(|_| kiln.fire(dice).finished(&kiln, Reads::ByHand, dice)).collect();
    for minutes in [0.1, 2.0, 15.0, 90.0] {
        for c in [20.0, 60.0, 264.0, 500.0, 700.0, 1200.0] {
            let at_h = minutes / 60.0;
            let mut firing = kiln.fire(dice).record(&kiln, Reads::Nothing, at_h, dice);
            firing.readings = vec![(after(at_h), Celsius(c))];
            let told = forecast(&question(&firing, &past, after(at_h + 0.2)));
            let told = told.unwrap_or_else(|why| panic!("{c} C after {minutes} min: {why:?}"));
            let order = told.p05 <= told.p50 && told.p50 <= told.p95;
            assert!(
                order && told.p05 < after(24.0),
                "{c} C after {minutes} min: {:?}",
                [told.p05, told.p50, told.p95]
            );
        }
    }
}

/// The chamber at corners, minutes since lit and C.
fn on_the_way(corners: &[(f64, f64)], minutes: f64) -> f64 {
    let leg = corners.windows(2).find(|leg| minutes <= leg[1].0).unwrap();
    let [(from, cooler), (to, hotter)] = [leg[0], leg[1]];
    cooler + (hotter - cooler) * (minutes - from) / (to - from)
}

/// A soak of a quarter of an hour at 500 C, far too dark to see a cone in, in the middle of the way:
/// with a plan, and with past firings that held there too, the forecast stays, and nobody is called.
#[test]
fn law_a_planned_soak_moves_nothing_and_calls_nobody() {
    let corners = [(0.0, 20.0), (120.0, 500.0), (135.0, 500.0), (240.0, 650.0), (330.0, 760.0)];
    // By the chart, on this way.
    let drop_min = 297.0;
    let at = |minutes: f64| after(minutes / 60.0);
    let plan = corners.map(|(minutes, c)| (Span::from_hours(minutes / 60.0), Celsius(c)));
    let read_until = |until_min: f64, every_min: f64| {
        let read = |nth: i32| f64::from(nth) * every_min;
        let read = (1..).map(read).take_while(|minutes| *minutes <= until_min);
        Firing {
            kiln: "North".into(),
            load_type: "gold".into(),
            pack: Some(pack()),
            lit: Some(at(0.0)),
            state: State::Lit,
            readings: read.map(|m| (at(m), Celsius(on_the_way(&corners, m)))).collect(),
            ..Firing::default()
        }
    };
    let seen = |minutes: f64, target| {
        looked(at(minutes), Look { target: Some(target), guide: Some(Seen::Down), guard: None })
    };
    let past = Firing {
        looks: vec![seen(drop_min - 4.0, Seen::Half), seen(drop_min + 1.0, Seen::Down)],
        off: Some(at(drop_min + 1.0)),
        state: State::Closed,
        ..read_until(drop_min, 1.0)
    };
    let past = vec![past; 10];
    let load = gold(None);
    for past in [&[][..], &past[..]] {
        for every_min in [1.0, 10.0] {
            for now_min in (118..=160).map(f64::from) {
                let firing = read_until(now_min, every_min);
                let (load, schedule) = (Some(&load), Some(&plan[..]));
                let asked = question(&firing, past, at(now_min));
                let advice = advise(&Question { load, schedule, ..asked });
                let told = advice.forecast.unwrap();
                let off_min = (told.p50 - at(drop_min)).as_minutes();
                assert!(off_min.abs() < 15.0, "{off_min:.0} min off at {now_min} min");
                assert!((told.p05..=told.p95).contains(&at(drop_min)), "at {now_min} min");
                assert_eq!(advice.say, Task::NextLook, "at {now_min} min");
            }
        }
    }
}
