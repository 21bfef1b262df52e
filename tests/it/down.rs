//! Whether the target is down: one answer, wherever it is asked, and what is said where looks
//! contradict each other.

use std::sync::Arc;

use proptest::prelude::*;
use spyhole::testing::forecast::past_end::DropBetween;
use spyhole::testing::scene::Floor;
use spyhole::testing::words;

use crate::prelude::*;
use crate::simulator::{gold, pack};

const LIT: Moment = Moment(1_772_352_000_000);

fn at(minutes: i64) -> Moment {
    LIT + Span::minutes(minutes)
}

fn saw(target: Seen) -> What {
    What::Look(Look { target: Some(target), ..Look::default() })
}

/// A firing lit at minute 0, with these events, each at so many minutes; the first is event 2.
fn firing(events: &[(i64, What)]) -> Firing {
    let lit = (LIT, What::Lit(lit_with("North", "gold", pack())));
    firing_of(
        [lit].into_iter().chain(events.iter().map(|(at, what)| (self::at(*at), what.clone()))),
    )
}

/// Read every ten minutes along 150 C/h, up to 10 minutes before the target's end point at minute 300.
fn climbing() -> Vec<(i64, What)> {
    let celsius = |minutes: i64| 734.0 - 2.5 * (300 - minutes) as f64;
    (10..=29).map(|step| (10 * step, What::Reading(Celsius(celsius(10 * step))))).collect()
}

fn advised(firing: &Firing, now: Moment) -> Advice {
    let load = gold(Some(Span::hours(5)));
    advise(&Question { load: Some(&load), ..question(firing, &[], now) })
}

fn scene(firing: &Firing, advice: &Advice, now: Moment) -> Scene {
    let kiln = kiln("North", Fuel::Gas);
    let shop = Shop { kilns: vec![kiln], open: vec![firing.clone()], ..Shop::default() };
    let (shop, advices) = (Arc::new(shop), Arc::new(vec![(firing.id, advice.clone())]));
    Floor { shop, advices, ..Floor::default() }.scene(now)
}

/// Since when the alarm calls to shut off.
fn alarm(firing: &Firing, advice: &Advice, now: Moment) -> Option<Moment> {
    let watched = Watched { firing, advice: Some(advice), plan: &Plan::default() };
    let found = findings(&watched, now);
    found.into_iter().find(|finding| finding.task == Task::ShutOff).map(|finding| finding.since)
}

/// Looks of the target and the guide in the order of time, some at the same minute, and now and
/// then the kiln given up and lit again.
fn happening() -> impl Strategy<Value = Vec<(i64, What)>> {
    let seen = || prop::option::of(prop::sample::select(Seen::ALL.to_vec()));
    let look = (seen(), seen())
        .prop_map(|(target, guide)| What::Look(Look { target, guide, guard: None }));
    let what = prop_oneof![
        8 => look,
        1 => Just(What::Aborted { reason: "gas failed".into() }),
        1 => Just(What::Resumed),
    ];
    let step = (0i64..4, what);
    prop::collection::vec(step, 1..10).prop_map(|steps| {
        let mut minutes = 280;
        let in_order = steps.into_iter().map(|(later, what)| {
            minutes += later;
            (minutes, what)
        });
        in_order.collect()
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, ..ProptestConfig::default() })]

    /// State, forecast, advice, alarm, headline, review and past firings answer alike, at the end
    /// and at every moment before.
    #[test]
    fn law_everybody_who_asks_gets_the_same_answer(events in happening()) {
        for known in 1..=events.len() {
            let events = &events[..known];
            let firing = firing(events);
            let now = at(events[known - 1].0);
            let down = firing.down();
            prop_assert_eq!(down, firing.down_by(now));
            let facts = Facts::of(&firing, 0.0).unwrap();
            prop_assert_eq!(facts.seen_down, down.is_some());
            prop_assert_eq!(firing.seen_down(), down.map(|down| down.first.at));
            let between = down.and_then(|down| down.between());
            prop_assert_eq!(facts.drop.map(|drop| (drop.after, drop.by)), between);
            let off = Firing { off: Some(now), ..firing.clone() };
            if down.is_some() && firing.aborted.is_none() {
                let past = DropBetween::of(&off).map(|drop| drop.before_h);
                prop_assert_eq!(past, between.map(|(_, by)| (by - LIT).as_hours()));
            }
            if !firing.burns() {
                continue;
            }
            prop_assert_eq!(firing.state == State::Dropped, down.is_some());
            let over = matches!(forecast(&question(&firing, &[], now)), Err(Declined::Over));
            prop_assert_eq!(over, down.is_some());
            let advice = advised(&firing, now);
            prop_assert_eq!(advice.say == Task::ShutOff, down.is_some());
            prop_assert_eq!(alarm(&firing, &advice, now), firing.seen_down());
            let scene = scene(&firing, &advice, now);
            let todo = &scene.kilns[0].todo;
            let since = (todo.task == Task::ShutOff).then_some(todo.at);
            prop_assert_eq!(since, firing.seen_down());
            prop_assert_eq!(scene.kilns[0].doubted.map(|doubted| doubted.why), advice.doubt);
        }
    }
}

/// The call stands, and both possibilities are shown, until one of the looks is struck or another
/// settles it.
#[test]
fn law_a_look_that_contradicts_a_down_is_told_and_the_call_stands() {
    let mut events = climbing();
    events.push((293, saw(Seen::Down)));
    events.push((296, saw(Seen::Standing)));
    let contradicted = firing(&events);
    let now = at(297);
    let advice = advised(&contradicted, now);
    assert_eq!((advice.say, advice.overshoot), (Task::ShutOff, Some(Span::minutes(4))));
    assert_eq!(alarm(&contradicted, &advice, now), Some(at(293)));
    let Some(Doubt::StoodUp(other)) = advice.doubt else { panic!("{:?}", advice.doubt) };
    assert_eq!((other.at, other.seen, other.event), (at(296), Seen::Standing, EventId(23)));
    let otherwise = advice.otherwise.as_ref().unwrap();
    assert!(otherwise.p50 > at(296), "made with the look that saw it stand");
    let mut without = events.clone();
    without.remove(without.len() - 2);
    let standing = advised(&firing(&without), now);
    assert_eq!(otherwise.p50, standing.forecast.unwrap().p50, "as if the look had been struck");

    let scene = scene(&contradicted, &advice, now);
    let headline = words::headline(&scene, &DIAL, Striking::ByCommand);
    assert_eq!(
        headline,
        "Shut off North now: the target was seen down at 12:53, 4 min ago. The target was \
         down at 12:53 and standing at 12:56: a cone does not stand up again. Strike the look that \
         is wrong: \"spyhole strike 22 --reason WHY\" for down, \"spyhole strike 23 --reason WHY\" \
         for standing."
    );
    let on_screen = words::headline(&scene, &DIAL, Striking::ByKey("u"));
    assert!(on_screen.ends_with("Press u to strike the wrong look."), "{on_screen}");
    let drop = words::drop_line(&scene.kilns[0], now, &DIAL).unwrap();
    assert!(drop.starts_with("down 12:53, else 1"), "{drop}");

    events.push((298, saw(Seen::Down)));
    let settled = firing(&events);
    let advice = advised(&settled, at(299));
    assert_eq!((advice.say, advice.doubt), (Task::ShutOff, None));
    assert_eq!(advice.overshoot, Some(Span::minutes(6)), "since it was first said");
    assert_eq!(settled.down().unwrap().between(), Some((None, at(298))), "whichever was wrong");
}

/// What nobody settled tells no past firing's drop, and no lean is judged by the look after it.
#[test]
fn law_a_contradiction_that_nobody_settled_teaches_nothing() {
    let mut events = climbing();
    events.extend([(290, saw(Seen::Leaning)), (293, saw(Seen::Down)), (296, saw(Seen::Standing))]);
    events.push((298, What::Off));
    let facts = Facts::of(&firing(&events), 0.0).unwrap();
    assert!(facts.seen_down && facts.drop.is_none() && facts.overshoot_minutes.is_none());
    assert_ne!(facts.basis, Some(spyhole::testing::review::facts::Basis::Lean));
    assert_eq!(DropBetween::of(&firing(&events)), None);
    events.remove(events.len() - 2);
    let drop = Facts::of(&firing(&events), 0.0).unwrap().drop.unwrap();
    assert_eq!((drop.after, drop.by), (Some(at(290)), at(293)), "struck, it is known");
}

/// A target cannot well be down minutes after the guide was standing; hours later nobody wonders.
#[test]
fn law_a_guide_seen_standing_doubts_a_target_that_is_down() {
    let guide = |seen| What::Look(Look { guide: Some(seen), ..Look::default() });
    let doubt = |events: &[(i64, What)]| firing(events).down().unwrap().doubt();
    let soon = [(280, guide(Seen::Standing)), (293, saw(Seen::Down))];
    assert_eq!(doubt(&soon), Some(Doubt::GuideStood(at(280))));
    assert_eq!(doubt(&[(200, guide(Seen::Standing)), (293, saw(Seen::Down))]), None);
    let moved = [(280, guide(Seen::Standing)), (285, guide(Seen::Half)), (293, saw(Seen::Down))];
    assert_eq!(doubt(&moved), None);
    let same =
        What::Look(Look { guide: Some(Seen::Standing), target: Some(Seen::Down), guard: None });
    assert_eq!(doubt(&[(293, same)]), Some(Doubt::GuideStood(at(293))));
    let behind =
        What::Look(Look { guide: Some(Seen::Half), target: Some(Seen::Down), guard: None });
    assert_eq!(doubt(&[(293, behind)]), Some(Doubt::GuideStood(at(293))), "taken for each other");
    let confirmed = [&soon[..], &[(295, saw(Seen::Down))]].concat();
    assert_eq!(doubt(&confirmed), None);
    let doubted = firing(&soon);
    let advice = advised(&doubted, at(294));
    assert_eq!(advice.say, Task::ShutOff, "the call stands meanwhile");
    let scene = scene(&doubted, &advice, at(294));
    let said = words::doubt(&scene.kilns[0], at(294), &DIAL, Striking::ByCommand).unwrap();
    assert_eq!(
        said,
        "The target was down at 12:53, but at 12:40 the guide, which goes first, was still up: \
         read their numbers. Look again, or strike that look if it is wrong: \"spyhole strike 3 --reason WHY\"."
    );
}

/// Readings that leave next to no chance of it doubt a "down" until another look says so again.
#[test]
fn law_readings_far_below_doubt_a_target_that_is_down() {
    let mut events = climbing();
    events.truncate(5);
    events.push((143, saw(Seen::Down)));
    let doubted = firing(&events);
    let advice = advised(&doubted, at(144));
    let Some(Doubt::Unlikely(chance)) = advice.doubt else { panic!("{:?}", advice.doubt) };
    assert!(chance < 0.004, "{chance}");
    assert_eq!(advice.say, Task::ShutOff);
    assert_eq!(alarm(&doubted, &advice, at(144)), Some(at(143)));
    assert!(advice.otherwise.unwrap().p50 > at(270));
    events.push((146, saw(Seen::Down)));
    assert_eq!(advised(&firing(&events), at(147)).doubt, None);
    let mut near = climbing();
    near.push((301, saw(Seen::Down)));
    assert_eq!(advised(&firing(&near), at(302)).doubt, None, "as expected");
}
