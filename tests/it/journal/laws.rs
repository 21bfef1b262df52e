//! Laws of the fold and of the journal, on firings made up by chance.

use proptest::prelude::*;
use spyhole::testing::edge::cli::exchange::record_line;
use spyhole::testing::edge::journal::past::Past;
use spyhole::testing::edge::journal::{Mode, PAST_FIRINGS};
use spyhole::testing::edge::record;
use spyhole::testing::firing::mark::Mark;
use spyhole::testing::firing::read_by::{ReadBy, Source};
use spyhole::testing::firing::{Fold, OddityKind};

use super::*;

fn anything() -> impl Strategy<Value = What> {
    let seen = || prop::option::of(prop::sample::select(Seen::ALL.to_vec()));
    prop_oneof![
        8 => (-400i32..15000).prop_map(|tenths| reading(f64::from(tenths) / 10.0)),
        3 => (seen(), seen(), seen())
            .prop_map(|(target, guide, guard)| What::Look(Look { target, guide, guard })),
        1 => (prop::sample::select(GlowWord::ALL.to_vec()), any::<bool>())
            .prop_map(|(colour, dark)| {
                let room = if dark { Room::Dark } else { Room::Light };
                What::Glow(GlowSeen { colour, room })
            }),
        1 => Just(packed("North")),
        1 => Just(lit("North")),
        1 => Just(lit("South")),
        1 => Just(What::Off),
        1 => Just(What::Drawn),
        1 => Just(What::Resumed),
        1 => "[a-zäöü ]{1,12}".prop_map(|text| What::Note { text: format!("n{text}") }),
        1 => Just(What::Aborted { reason: "gas failed".into() }),
        1 => Just(What::Called),
        1 => (0i64..200).prop_map(marked),
        1 => Just(What::ProbeSilent { reason: String::new() }),
        1 => Just(What::Shelved { alarm: "look".into(), length: Span::seconds(437) }),
        1 => prop::sample::select(Verdict::ALL.to_vec()).prop_map(outcome),
        2 => (1i64..30).prop_map(|id| strike(EventId(id))),
    ]
}

fn marked(minute: i64) -> What {
    let (p05, p50, p95) = (minute, minute + 7, minute + 11);
    let [p05, p50, p95] = [p05, p50, p95].map(Span::minutes);
    let (when, by, lit) = (When::HourBefore, ForecastBy::Readings, EventId(1));
    What::Marked(Mark { when, by, p05, p50, p95, width: 1.25, lit })
}

/// Somebody at the kiln, or one of two probes in it.
fn anybody() -> impl Strategy<Value = Who> {
    let probe = |name: &str| Who::Probe(name.into());
    prop::sample::select(vec![Who::Person("Ida".into()), probe("top"), probe("bottom")])
}

/// Events of one firing in the order of writing, at any times, sensible or not.
fn events() -> impl Strategy<Value = Vec<Event>> {
    prop::collection::vec((anything(), 0i64..600, anybody()), 1..30).prop_map(|whats| {
        let numbered = whats.into_iter().enumerate();
        numbered
            .map(|(index, (what, minute, who))| Event {
                id: EventId(index as i64 + 1),
                firing: Some(FiringId(1)),
                at: minutes(minute),
                written: minutes(minute + 1),
                who,
                what,
            })
            .collect()
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn law_the_fold_does_not_depend_on_batches_or_their_order(
        events in events(),
        cuts in prop::collection::vec(0usize..30, 0..6),
        turn in 0usize..30,
    ) {
        let whole = Firing::fold(events.clone());
        let mut shuffled = events.clone();
        shuffled.rotate_left(turn % events.len());
        let mut fold = Fold::default();
        let mut cuts: Vec<usize> = cuts.into_iter().map(|cut| cut % events.len()).collect();
        cuts.extend([0, events.len()]);
        cuts.sort_unstable();
        for pair in cuts.windows(2) {
            fold.extend(shuffled[pair[0]..pair[1]].iter().cloned());
        }
        prop_assert_eq!(fold.firing(), &whole);
        let mut one_by_one = Fold::default();
        for event in shuffled {
            one_by_one.apply(event.clone());
            one_by_one.apply(event);
        }
        prop_assert_eq!(one_by_one.firing(), &whole);
    }

    #[test]
    fn law_striking_the_last_event_is_never_having_written_it(events in events()) {
        let (last, before) = events.split_last().unwrap();
        prop_assume!(!matches!(last.what, What::Struck { .. }));
        let mut struck = events.clone();
        struck.push(Event {
            id: EventId(events.len() as i64 + 1),
            at: minutes(700),
            what: strike(last.id),
            ..last.clone()
        });
        let before: Vec<Event> = before
            .iter()
            .filter(|event| !matches!(event.what, What::Struck { event, .. } if event == last.id))
            .cloned()
            .collect();
        struck.retain(|event| {
            event.id.0 > events.len() as i64
                || !matches!(event.what, What::Struck { event, .. } if event == last.id)
        });
        let mut expected = Firing::fold(before);
        expected.id = FiringId(1);
        prop_assert_eq!(Firing::fold(struck), expected);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn crosscheck_readings_are_those_of_their_source(events in events()) {
        let mut fold = Fold::default();
        fold.extend(events);
        let firing = fold.firing();
        let source = |who: &Who| match who {
            Who::Probe(name) => Source::Probe(name.clone()),
            _ => Source::Hand,
        };
        let mut read = Vec::new();
        for event in fold.standing_events() {
            if let What::Reading(celsius) = event.what {
                read.push((source(&event.who), (event.at, celsius)));
            }
        }
        let mut firsts: Vec<&Source> = Vec::new();
        for (source, _) in &read {
            if !firsts.contains(&source) {
                firsts.push(source);
            }
        }
        prop_assert_eq!(firing.sources().iter().collect::<Vec<_>>(), firsts);
        for (place, source) in firing.sources().iter().enumerate() {
            let its: Vec<_> = read.iter().filter(|(by, _)| by == source).map(|(_, r)| *r).collect();
            prop_assert_eq!(firing.readings_of(place).collect::<Vec<_>>(), its);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    #[test]
    fn law_export_then_import_gives_the_same_events_and_fold(events in events()) {
        let (_folder, _path, mut journal) = new_shop();
        let firing = light(&mut journal, "North");
        for of_record in &events {
            let (at, who, what) = (of_record.at, of_record.who.clone(), of_record.what.clone());
            // The journal does not take the strike of an event that is not there.
            let last = journal.last_event().unwrap().unwrap();
            if matches!(&what, What::Struck { event, .. } if *event > last) {
                continue;
            }
            journal.append(&NewEvent { who, ..event(Some(firing), at, what) }, minutes(900)).unwrap();
        }
        let exported = export(&journal);
        let lines = crate::records::read(&exported).unwrap();
        let (_folder, _path, mut other) = new_shop();
        let imported = other.import(lines.iter().cloned().map(Ok), minutes(2000), Mode::Keep).unwrap();
        prop_assert_eq!(imported.events, lines.len());
        prop_assert_eq!(without_kilns(&export(&other)), exported.clone());
        prop_assert_eq!(other.firing(firing).unwrap(), journal.firing(firing).unwrap());
        let again = other.import(lines.iter().cloned().map(Ok), minutes(3000), Mode::Keep).unwrap();
        prop_assert_eq!((again.events, again.firings, again.already), (0, 0, lines.len()));
        prop_assert_eq!(without_kilns(&export(&other)), exported);
    }

    #[test]
    fn law_firings_read_together_or_kept_are_each_read_alone(
        of_north in events(), of_south in events()
    ) {
        let (_folder, _path, mut journal) = new_shop();
        let (north, south) = (light(&mut journal, "North"), light(&mut journal, "South"));
        let past = Past::default();
        let by_turns = of_north.into_iter().zip(of_south);
        let by_turns = by_turns.flat_map(|(one, other)| [(north, one), (south, other)]);
        for (written, (firing, new)) in by_turns.enumerate() {
            // Refused or not, as long as the journal takes it.
            let new = NewEvent { who: new.who, ..event(Some(firing), new.at, new.what) };
            let _ = journal.append(&new, minutes(900));
            if written % 5 == 0 {
                let known = past.read(&journal).unwrap().to_vec();
                prop_assert_eq!(known, journal.past(PAST_FIRINGS).unwrap());
            }
        }
        let (mut alone, together) = (Vec::new(), journal.shop().unwrap().open);
        for firing in &together {
            alone.push(journal.firing(firing.id).unwrap());
        }
        prop_assert_eq!(&together, &alone);
        let without_readings = |mut firing: Firing| {
            firing.readings.clear();
            firing.read_by = ReadBy::default();
            // What is odd about a reading goes with it.
            firing.oddities.clear();
            firing
        };
        let deeds: Vec<Firing> = together.iter().cloned().map(without_readings).collect();
        let glance = journal.glance().unwrap();
        let glanced: Vec<Firing> = glance.open.into_iter().map(without_readings).collect();
        prop_assert_eq!(glanced, deeds);
        prop_assert_eq!(together, journal.shop_seeing(|_| {}).unwrap().open);
        let known = past.read(&journal).unwrap().to_vec();
        prop_assert_eq!(known, journal.past(PAST_FIRINGS).unwrap());
    }

    #[test]
    fn law_what_was_permitted_is_never_odd(events in events()) {
        let (_folder, _path, mut journal) = new_shop();
        let firing = light(&mut journal, "North");
        for new in events {
            // Refused or not, and whenever it happened.
            let _ = journal.append_checked(&event(Some(firing), new.at, new.what), minutes(900));
            let odd = journal.firing(firing).unwrap().oddities;
            let impossible = odd.iter().find(|odd| matches!(odd.kind, OddityKind::Impossible(_)));
            prop_assert!(impossible.is_none(), "{:?}", impossible);
        }
        prop_assert!(journal.check().unwrap().is_whole());
    }
}

fn export(journal: &Journal) -> String {
    let mut out = Vec::new();
    for stored in stored(journal, None) {
        record::write(&mut out, &record_line(stored)).unwrap();
    }
    String::from_utf8(out).unwrap()
}

/// A record without the kilns an import listed by itself.
fn without_kilns(record: &str) -> String {
    let others = record.lines().filter(|line| !line.contains("\"event\":\"kiln\""));
    others.map(|line| format!("{line}\n")).collect()
}
