//! What the program asks for, and what the colour of the glow counts for.

use spyhole::testing::cone::{Cone, Family};
use spyhole::testing::firing::event::GlowSeen;
use spyhole::testing::firing::{ConePack, Firing, State};
use spyhole::testing::forecast::evidence::Evidence;
use spyhole::testing::forecast::{Forecast, Ground, Question, USUAL_LIMIT, forecast};
use spyhole::testing::glow::GlowWord;
use spyhole::testing::units::{Celsius, Moment, Span};

use crate::simulator::looked;
use spyhole::testing::firing::Seen;
use spyhole::testing::firing::event::Look;

const LIT: Moment = Moment(1_750_000_000_000);

fn after(hours: f64) -> Moment {
    LIT + Span::from_hours(hours)
}

/// A bisque to cone 05 on its way.
fn lit() -> Firing {
    let pack = ConePack::usual(Cone::parse("05").unwrap(), Family::SelfSupporting);
    Firing {
        kiln: "North".into(),
        load_type: "bisque".into(),
        pack: Some(pack),
        lit: Some(LIT),
        state: State::Lit,
        ..Firing::default()
    }
}

/// Ten firings by the clock alone, of eight hours or so each.
fn past() -> Vec<Firing> {
    let at = |minutes: f64, target| {
        let look = Look { target: Some(target), guide: None, guard: None };
        looked(after(8.0 + minutes / 60.0), look)
    };
    let one = |number: i32| {
        let late = f64::from(5 * (number % 5) - 10);
        let (half, down) = (at(late - 3.0, Seen::Half), at(late + 1.0, Seen::Down));
        let off = Some(down.at);
        Firing { looks: vec![half, down], off, state: State::Closed, ..lit() }
    };
    (0..10).map(one).collect()
}

fn question<'a>(firing: &'a Firing, past: &'a [Firing], at_h: f64) -> Question<'a> {
    Question {
        firing,
        load: None,
        kiln: None,
        past,
        schedule: None,
        corrections: None,
        now: after(at_h),
        limit: USUAL_LIMIT,
    }
}

fn forecast_of(firing: &Firing, at_h: f64) -> Forecast {
    forecast(&question(firing, &past(), at_h)).unwrap()
}

fn glowing(at_h: f64, colour: GlowWord, room_dark: bool) -> Firing {
    Firing { glows: vec![(after(at_h), GlowSeen { colour, room_dark })], ..lit() }
}

#[test]
fn law_a_glow_counts_as_one_reading_that_is_as_rough_as_people_judge() {
    for colour in GlowWord::ALL {
        for (room_dark, least) in [(true, 60.0), (false, 100.0)] {
            let firing = glowing(4.0, colour, room_dark);
            let evidence = Evidence::until(&firing, after(5.0), &[]).unwrap();
            let by_glow = evidence.or_by_the_glow(&firing);
            let [one] = by_glow.readings[..] else { panic!("{colour:?} is one reading") };
            assert!(one.noise_c >= least && one.at_h == 4.0, "{one:?}");
            assert_eq!(one.c, colour.middle().0);
        }
    }
}

/// The glow named last holds, one that comes later is not known yet, and a reading outranks it.
#[test]
fn law_a_glow_stands_in_only_where_nothing_was_read() {
    let mut firing = glowing(4.0, GlowWord::DarkRed, true);
    firing.glows.push((after(5.0), GlowSeen { colour: GlowWord::Orange, room_dark: true }));
    let named = |at_h: f64| {
        Evidence::until(&firing, after(at_h), &[]).unwrap().or_by_the_glow(&firing).glow
    };
    assert_eq!([3.9, 4.5, 5.5].map(named), [None, Some(after(4.0)), Some(after(5.0))]);
    firing.readings.push((after(3.0), Celsius(500.0)));
    let evidence = Evidence::until(&firing, after(5.5), &[]).unwrap().or_by_the_glow(&firing);
    assert_eq!((evidence.glow, evidence.readings.len()), (None, 1));
    assert!((evidence.readings[0].c - 500.0).abs() < 0.01);
}

#[test]
fn law_a_hotter_glow_than_usual_brings_the_drop_forward_and_says_so() {
    let by_the_clock = forecast_of(&lit(), 4.0);
    let hot = forecast_of(&glowing(4.0, GlowWord::Orange, true), 4.0);
    let cool = forecast_of(&glowing(4.0, GlowWord::VeryDarkRed, true), 4.0);
    assert!(hot.p50 < by_the_clock.p50 - Span::minutes(10), "{hot:?}");
    assert!(cool.p50 > hot.p50 + Span::minutes(30), "{cool:?}");
    assert!(hot.p95 - hot.p05 > Span::minutes(40), "a colour is rough: {hot:?}");
    assert!(hot.rests_on.contains(&Ground::Glow { at: after(4.0) }));
    let in_light = forecast_of(&glowing(4.0, GlowWord::Orange, false), 4.0);
    assert!(in_light.p50 > hot.p50, "a light room tells less");
}
