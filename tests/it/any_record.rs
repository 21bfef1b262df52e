//! Whatever stands in a record, sensible or not: there is advice, and it keeps its order.

use proptest::prelude::*;

use crate::prelude::*;
use crate::simulator::{LIT, gold};

/// Something written down so many minutes after the lighting, by hand or by one of two probes.
type Written = (f64, Option<bool>, What);

fn look() -> impl Strategy<Value = What> {
    let seen = || prop::option::of(prop::sample::select(Seen::ALL.to_vec()));
    let look = |(target, guide, guard)| What::Look(Look { target, guide, guard });
    (seen(), seen(), seen()).prop_map(look)
}

fn anything() -> impl Strategy<Value = What> {
    prop_oneof![
        6 => (-100.0..2500.0).prop_map(|c| What::Reading(Celsius(c))),
        4 => look(),
        1 => prop::sample::select(GlowWord::ALL.to_vec())
            .prop_map(|colour| What::Glow(GlowSeen { colour, room: Room::Dark })),
        2 => prop::sample::select(vec!["high", "medium", "low", "off", "3/4", ""])
            .prop_map(|to| What::Turned { to: to.into() }),
        1 => Just(What::ProbeSilent { reason: String::new() }),
        1 => Just(What::Called),
        1 => Just(What::Aborted { reason: "gas failed".into() }),
        1 => Just(What::Resumed),
    ]
}

fn who() -> impl Strategy<Value = Option<bool>> {
    prop_oneof![3 => Just(None), 1 => any::<bool>().prop_map(Some)]
}

/// Numbers on a ramp that begins anywhere, as often as a pen or a probe takes them, rounded or not.
fn ramp() -> impl Strategy<Value = Vec<Written>> {
    let pauses = prop::sample::select(vec![0.02, 0.5, 7.0, 20.0, 55.0]);
    let shape = (-120.0..600.0, 0.0..900.0, -300.0..900.0, pauses, 0usize..60, who());
    shape.prop_map(|(from_min, from_c, climb, pause, count, who)| {
        let read = |nth: usize| {
            let minutes: f64 = from_min + pause * nth as f64;
            let c: f64 = from_c + climb * (minutes - from_min) / 60.0;
            (minutes, who, What::Reading(Celsius(c.round())))
        };
        (0..count).map(read).collect()
    })
}

fn firing() -> impl Strategy<Value = Firing> {
    let cones = vec!["022", "018", "06", "04", "6", "10"];
    let odd = prop::collection::vec((-30.0..900.0, who(), anything()), 0..12);
    let ramps = prop::collection::vec(ramp(), 0..3);
    (prop::sample::select(cones), ramps, odd).prop_map(|(cone, ramps, odd)| {
        let target = Cone::parse(cone).unwrap();
        let mut firing = Firing { id: FiringId(1), ..Firing::default() };
        let lit =
            What::Lit(lit_with("North", "gold", ConePack::usual(target, Family::SelfSupporting)));
        firing.step(EventId(1), LIT, &Who::Person("Ida".into()), &lit);
        let mut written: Vec<Written> = ramps.concat();
        written.extend(odd);
        written.sort_by(|a, b| a.0.total_cmp(&b.0));
        for (number, (minutes, by, what)) in (2..).zip(written) {
            let who = match by {
                None => Who::Person("Ida".into()),
                Some(top) => Who::Probe(if top { "top" } else { "bottom" }.into()),
            };
            firing.step(EventId(number), after(minutes), &who, &what);
        }
        firing
    })
}

fn after(minutes: f64) -> Moment {
    LIT + Span::from_hours(minutes / 60.0)
}

/// A past firing of any length, whose target was seen to go down or not.
fn past() -> impl Strategy<Value = Firing> {
    let ends = prop::option::of(any::<bool>());
    (firing(), 1.0..2000.0, ends).prop_map(|(mut firing, minutes, seen)| {
        if let Some(before) = seen {
            let look = |target| What::Look(Look { target: Some(target), guide: None, guard: None });
            let who = Who::Person("Ida".into());
            if before {
                firing.step(EventId(900), after(minutes - 9.0), &who, &look(Seen::Standing));
            }
            firing.step(EventId(901), after(minutes), &who, &look(Seen::Down));
        }
        firing.aborted = None;
        firing.off = Some(after(minutes));
        firing.state = State::Closed;
        firing
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(120))]

    #[test]
    fn law_there_is_advice_whatever_was_written_down(
        firing in firing(),
        past in prop::collection::vec(past(), 0..7),
        usual in prop::option::of(0.1..40.0),
        at_min in prop::collection::vec(-10.0..1500.0, 3),
        limit in prop::sample::select(vec![USUAL_LIMIT, 0.5]),
    ) {
        let load = gold(usual.map(Span::from_hours));
        for now in at_min.into_iter().map(after) {
            let question = Question { load: Some(&load), limit, ..question(&firing, &past, now) };
            let advice = advise(&question);
            if let Ok(told) = &advice.forecast {
                prop_assert!(told.p05 <= told.p50 && told.p50 <= told.p95, "{:?}", told);
                prop_assert!((0.0..=1.0).contains(&told.dropped), "{}", told.dropped);
                let all = told.climb.into_iter().map(|c| c.0).chain(told.chamber.map(|c| c.0));
                prop_assert!(all.into_iter().all(f64::is_finite), "{:?}", told);
                prop_assert!(advice.next_look.is_some(), "{:?}", told);
            }
            let plan = Plan::default();
            findings(&Watched { firing: &firing, advice: Some(&advice), plan: &plan }, now);
        }
    }
}
