//! What the program asks for beside looks, and what the colour of the glow counts for.

use spyhole::testing::alarm::Desk;
use spyhole::testing::forecast::evidence::Evidence;
use spyhole::testing::scene::advices;
use spyhole::testing::watch::request::{RUNS_OUT_AFTER, Request, open};

use crate::prelude::*;
use crate::simulator::looked;

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

fn forecast_of(firing: &Firing, at_h: f64) -> Forecast {
    forecast(&question(firing, &past(), after(at_h))).unwrap()
}

fn glowing(at_h: f64, colour: GlowWord, room: Room) -> Firing {
    Firing { glows: vec![(after(at_h), GlowSeen { colour, room })], ..lit() }
}

#[test]
fn law_a_glow_counts_as_one_reading_that_is_as_rough_as_people_judge() {
    for colour in GlowWord::ALL {
        for (room, least) in [(Room::Dark, 60.0), (Room::Light, 100.0)] {
            let firing = glowing(4.0, colour, room);
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
    let mut firing = glowing(4.0, GlowWord::DarkRed, Room::Dark);
    firing.glows.push((after(5.0), GlowSeen { colour: GlowWord::Orange, room: Room::Dark }));
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
    let hot = forecast_of(&glowing(4.0, GlowWord::Orange, Room::Dark), 4.0);
    let cool = forecast_of(&glowing(4.0, GlowWord::VeryDarkRed, Room::Dark), 4.0);
    assert!(hot.p50 < by_the_clock.p50, "{:?}", hot.p50);
    assert!(cool.p50 > hot.p50 + Span::minutes(5), "{:?}", cool.p50);
    assert!(hot.p95 - hot.p05 > Span::minutes(40), "a colour is rough");
    assert!(hot.rests_on.contains(&Ground::Glow { at: after(4.0) }));
    let in_light = forecast_of(&glowing(4.0, GlowWord::Orange, Room::Light), 4.0);
    assert!(in_light.p50 > hot.p50, "a light room tells less");
}

/// Minutes between two questions.
const STEP_MIN: i64 = 5;

/// The requests of a firing, step by step until half an hour before its usual drop.
fn requests(firing: &Firing, past: &[Firing]) -> impl Iterator<Item = (Moment, Request)> {
    let asked = |step: i64| {
        let now = LIT + Span::minutes(STEP_MIN * step);
        open(&question(firing, past, now)).map(|request| (now, request))
    };
    (0..90).filter_map(asked)
}

/// Each request once: what, from when, until when.
fn told(firing: &Firing, past: &[Firing]) -> Vec<(Task, Moment, Moment)> {
    let mut told: Vec<(Task, Moment, Moment)> = Vec::new();
    for (now, Request { asked, since }) in requests(firing, past) {
        match told.last_mut() {
            Some((same, from, until)) if (*same, *from) == (asked, since) => *until = now,
            _ => told.push((asked, since, now)),
        }
    }
    told
}

fn declining(firing: Firing, asked: Task, at_h: f64) -> Firing {
    Firing { acknowledged: vec![(after(at_h), asked.name().into())], ..firing }
}

#[test]
fn law_a_firing_by_the_clock_alone_is_asked_for_two_checks_and_no_more() {
    let told = told(&lit(), &past());
    let [(Task::ReadTemperature, first, first_ends), (Task::NameGlow, second, second_ends)] =
        told[..]
    else {
        panic!("{told:?}")
    };
    assert!((first - after(3.2)).0.abs() < Span::minutes(10).0, "40 in 100 of eight hours");
    for (from, ends) in [(first, first_ends), (second, second_ends)] {
        let open_for = ends - from;
        assert!(
            open_for <= RUNS_OUT_AFTER && open_for + Span::minutes(2 * STEP_MIN) > RUNS_OUT_AFTER
        );
    }
    assert!((second - after(4.4)).0.abs() < Span::minutes(14).0, "55 in 100: {second:?}");
}

#[test]
fn law_a_request_that_is_declined_or_answered_is_not_made_again() {
    let past = past();
    let told = |firing: &Firing| {
        told(firing, &past).into_iter().map(|(asked, ..)| asked).collect::<Vec<Task>>()
    };
    let both = vec![Task::ReadTemperature, Task::NameGlow];
    let declined = declining(lit(), Task::ReadTemperature, 3.4);
    assert_eq!(told(&declined), both);
    let until = requests(&declined, &past).map(|(now, _)| now).find(|at| *at > after(3.4));
    assert!(until > Some(after(4.0)), "nothing is asked right after it was declined");
    let read = Firing { readings: vec![(after(3.4), Celsius(470.0))], ..lit() };
    assert_eq!(told(&read), [Task::ReadTemperature], "a reading answers it");
    let early = Firing { readings: vec![(after(1.0), Celsius(150.0))], ..lit() };
    assert_eq!(told(&early), [], "something was read before");
    assert_eq!(told(&glowing(2.0, GlowWord::BlackRed, Room::Dark)), []);
    let mut both_declined = declined.clone();
    both_declined.acknowledged.push((after(4.5), Task::NameGlow.name().into()));
    let last = requests(&both_declined, &past).last().map(|(now, _)| now);
    assert!(last < Some(after(4.5)), "{last:?}");
    let look = Look { target: Some(Seen::Standing), guide: Some(Seen::Leaning), guard: None };
    let moving = Firing { looks: vec![looked(after(2.0), look)], ..lit() };
    assert_eq!(told(&moving), [], "a cone that moves says more");
}

/// A probe that is silent today, or a temperature that was declined in the kiln's last firing.
#[test]
fn law_a_kiln_without_a_pyrometer_is_asked_for_its_glow_alone() {
    let silent = Firing { silences: vec![(after(0.5), "taken out".into())], ..lit() };
    let only_glow =
        |firing: &Firing, past: &[Firing]| matches!(told(firing, past)[..], [(Task::NameGlow, ..)]);
    assert!(only_glow(&silent, &past()));
    let mut declined = past();
    let last = declined.len() - 1;
    declined[last] = declining(declined[last].clone(), Task::ReadTemperature, -1.0);
    assert!(only_glow(&lit(), &declined));
    let later = LIT + Span::hours(48);
    let read = vec![(later + Span::hours(1), Celsius(100.0))];
    declined.push(Firing { lit: Some(later), readings: read, off: Some(later), ..lit() });
    assert!(!only_glow(&lit(), &declined), "it was read since");
}

#[test]
fn law_a_request_rings_twice_at_most_and_twenty_minutes_apart() {
    let (firing, past) = (lit(), past());
    let (mut desk, mut book, mut rings) = (Desk::default(), Book::default(), Vec::new());
    let plan = Plan::default();
    let noon = MinuteOfDay::new(12, 0).unwrap();
    let first = requests(&firing, &past).next().unwrap().1.since;
    // The advice is made every other minute, the bell steps every two seconds.
    let mut advice = None;
    for second in (0..3_600).step_by(2) {
        let now = first + Span::seconds(second);
        if second % 120 == 0 {
            advice = Some(advise(&question(&firing, &past, now)));
        }
        let watched = Watched { firing: &firing, advice: advice.as_ref(), plan: &plan };
        let alarms = desk.step(&findings(&watched, now), &[], now);
        let calls = book.step(&alarms, &Rota::default(), noon, now);
        let asks = |task| matches!(task, Task::ReadTemperature | Task::NameGlow);
        rings.extend(calls.iter().filter(|call| asks(call.alarms[0].key.task)).map(|_| now));
    }
    let [one, two] = rings[..] else { panic!("{rings:?}") };
    assert!((two - (one + Span::minutes(20))).0.abs() <= Span::seconds(2).0, "{rings:?}");
}

/// While another kiln is watched nobody is asked for anything.
#[test]
fn law_nothing_is_asked_during_another_kilns_watch() {
    let asked = Firing { id: FiringId(1), ..lit() };
    let at = LIT + Span::minutes(200);
    let other = |began: Moment| {
        let lit = Some(began);
        Firing { id: FiringId(2), kiln: "Wren".into(), lit, ..self::lit() }
    };
    let request = |other: Firing| {
        let shop = Shop { open: vec![asked.clone(), other], ..Shop::default() };
        advices(&shop, &past(), |_| None, at)[0].1.request.map(|request| request.asked)
    };
    assert_eq!(request(other(at - Span::minutes(20))), Some(Task::ReadTemperature));
    assert_eq!(request(other(at - Span::minutes(8 * 60 + 5))), None, "Wren is about to drop");
}
