//! One open firing a kiln: packed, lit and struck by several people at once, and files that were
//! written before this was a rule.

use proptest::prelude::*;
use spyhole::testing::firing::Holding;

use super::cli::{Bench, Setting, YesAfter, typed_to, words};
use super::*;

fn of_north(shop: &[Firing]) -> usize {
    shop.iter().filter(|f| f.kiln == "North" && f.holding() > Holding::Nothing).count()
}

#[test]
fn regress_two_packers_do_not_make_two_firings_of_one_kiln() {
    let (_folder, path, mut journal) = new_shop();
    let mut other = Journal::open(&path).unwrap();
    let seen = journal.last_event().unwrap().unwrap_or(EventId(0));
    let first = journal.append_checked(&event(None, LIT, packed("North")), LIT).unwrap();
    let again = event(None, minutes(3), packed("north"));
    let error = other.append_having_seen(&again, Some(seen), minutes(3)).unwrap_err();
    assert_eq!(
        error.to_string(),
        "North was packed with gold, 40 pieces, by Ida 3 min ago, while this was being entered, and nothing was written: see \"spyhole status\", then enter it again"
    );
    // Whoever claims to know all is told that the kiln is taken.
    let error = other.append_checked(&again, minutes(3)).unwrap_err();
    assert_eq!(
        error.to_string(),
        "North was packed with gold, 40 pieces, by Ida 3 min ago, and a kiln holds one load until it is drawn: to change what was packed use \"spyhole pack North\", or strike the event \"packed\" first"
    );
    let lit_anew = other.append_checked(&event(None, minutes(4), lit("North")), minutes(4));
    assert!(lit_anew.unwrap_err().to_string().starts_with("North was packed with gold"));
    assert_eq!(other.last_event().unwrap(), Some(first.id), "nothing was written");
    assert_eq!(of_north(&other.shop().unwrap().open), 1);
    // Another kiln is another matter, and the same call tried again is the same event.
    other.append_checked(&event(None, LIT, packed("South")), LIT).unwrap();
}

#[test]
fn law_a_packing_or_lighting_entered_on_an_older_state_is_refused() {
    let (_folder, _path, mut journal) = new_shop();
    let packing = journal.append_checked(&event(None, LIT, packed("North")), LIT).unwrap();
    let firing = packing.firing;
    let mut try_it = |seen, at, what| {
        let new = event(firing, minutes(at), what);
        journal.append_having_seen(&new, Some(seen), minutes(at)).map_err(|e| e.to_string())
    };
    let changed = try_it(packing.id, 10, packed("North")).unwrap();
    for what in [packed("North"), lit("North")] {
        let error = try_it(packing.id, 11, what).unwrap_err();
        assert!(error.starts_with("North was packed with gold, 40 pieces, by Ida 1 min ago"));
    }
    let struck = try_it(packing.id, 12, strike(changed.id)).unwrap();
    let error = try_it(changed.id, 12, packed("North")).unwrap_err();
    assert!(error.starts_with("the packing of North with gold was struck by Ida just now"));
    // A strike that is struck brings the packing back, which is news as well.
    let back = try_it(packing.id, 13, strike(struck.id)).unwrap();
    let error = try_it(struck.id, 15, lit("North")).unwrap_err();
    assert!(error.starts_with("North was packed with gold, 40 pieces, by Ida 2 min ago"));
    let burns = try_it(back.id, 15, lit("North")).unwrap();
    let error = try_it(back.id, 16, packed("North")).unwrap_err();
    assert!(error.starts_with("North was lit with gold by Ida 1 min ago"), "{error}");
    // Other events do not make a packing old; that it burns is told by the life of the firing.
    try_it(back.id, 17, reading(100.0)).unwrap();
    let error = try_it(burns.id, 18, packed("North")).unwrap_err();
    assert!(error.starts_with("North has been lit for 3 min, so it cannot be packed now"));
}

#[test]
fn law_a_strike_does_not_bring_a_second_load_into_a_kiln() {
    let (_folder, _path, mut journal) = new_shop();
    let mut put = |firing, at, what| {
        let new = event(firing, minutes(at), what);
        journal.append_checked(&new, minutes(at)).map_err(|error| error.to_string())
    };
    let first = put(None, 0, packed("North")).unwrap();
    let struck = put(first.firing, 1, strike(first.id)).unwrap();
    let second = put(None, 2, packed("North")).unwrap();
    assert_ne!(first.firing, second.firing);
    let error = put(first.firing, 3, strike(struck.id)).unwrap_err();
    assert!(error.starts_with("North was packed with gold"), "{error}");
    // The same where what is struck is that it was drawn.
    put(second.firing, 4, lit("North")).unwrap();
    put(second.firing, 90, What::Off).unwrap();
    let drawn = put(second.firing, 900, What::Drawn).unwrap();
    put(None, 901, lit("North")).unwrap();
    let error = put(second.firing, 902, strike(drawn.id)).unwrap_err();
    assert!(error.starts_with("North is lit already"), "{error}");
}

/// It used to be said that North "has been lit for 5 min", which it had not.
#[test]
fn regress_a_packing_is_changed_and_a_kiln_lit_after_it_was_packed() {
    let (_folder, _path, mut journal) = new_shop();
    let first = done(&mut journal, None, 0, packed("North"));
    let refused = |journal: &mut Journal, at, what| {
        let early = event(first.firing, minutes(at), what);
        journal.append_checked(&early, minutes(11)).unwrap_err().to_string()
    };
    let error = refused(&mut journal, -20, packed("North"));
    assert!(error.starts_with("North was packed 20 min after the time given"), "{error}");
    done(&mut journal, first.firing, 10, packed("North"));
    let error = refused(&mut journal, 5, lit("North"));
    let told = "North was packed 5 min after that, so it cannot have been lit then";
    assert!(error.starts_with(told), "{error}");
    done(&mut journal, first.firing, 11, lit("North"));
}

/// What somebody does at North.
#[derive(Debug, Clone, Copy)]
enum Deed {
    Pack,
    Light,
    Off,
    GiveUp,
    Drawn,
    Outcome,
    Strike(usize),
    /// Reads the shop anew.
    Read,
}

fn deeds() -> impl Strategy<Value = Vec<(bool, Deed)>> {
    let deed = prop_oneof![
        3 => Just(Deed::Pack),
        3 => Just(Deed::Light),
        2 => Just(Deed::Off),
        1 => Just(Deed::GiveUp),
        2 => Just(Deed::Drawn),
        1 => Just(Deed::Outcome),
        3 => (0usize..20).prop_map(Deed::Strike),
        3 => Just(Deed::Read),
    ];
    prop::collection::vec((any::<bool>(), deed), 1..40)
}

/// What one of two people last read: the firing in North, and the last event.
type Known = (Option<FiringId>, Option<EventId>);

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    /// Two people, each of whom knows the shop as they read it last.
    #[test]
    fn law_two_writers_never_make_two_open_firings_of_one_kiln(deeds in deeds()) {
        let (_folder, path, first) = new_shop();
        let mut journals = [first, Journal::open(&path).unwrap()];
        let mut known: [Known; 2] = [(None, Some(EventId(0))); 2];
        let mut written: Vec<(Option<FiringId>, EventId)> = Vec::new();
        for (minute, (second, deed)) in deeds.into_iter().enumerate() {
            let at = minutes(minute as i64);
            let who = usize::from(second);
            let (firing, seen) = known[who];
            let (firing, what) = match deed {
                Deed::Read => {
                    let shop = journals[who].shop().unwrap();
                    let there = shop.firing_in("North").filter(|f| f.holding() > Holding::Nothing);
                    known[who] = (there.map(|f| f.id), Some(shop.last_event.unwrap_or(EventId(0))));
                    continue;
                }
                Deed::Strike(place) => match written.get(place) {
                    Some((firing, id)) => (*firing, strike(*id)),
                    None => continue,
                },
                Deed::Pack => (firing, packed("North")),
                Deed::Light => (firing, lit("North")),
                Deed::Off => (firing, What::Off),
                Deed::GiveUp => (firing, What::Aborted { reason: String::new() }),
                Deed::Drawn => (firing, What::Drawn),
                Deed::Outcome => (firing, outcome(Verdict::Good)),
            };
            let new = event(firing, at, what);
            let kept = journals[who].append_having_seen(&new, seen, at);
            if let Ok(appended) = kept {
                written.push((appended.firing, appended.id));
            }
            prop_assert!(of_north(&journals[0].shop().unwrap().open) <= 1);
        }
    }
}

#[test]
fn law_a_command_that_read_an_older_shop_is_refused_with_exit_code_2() {
    let bench = Bench::new();
    let shop = bench.shop();
    for step in ["pack", "light"] {
        let line = words(&format!("{step} North --load 'stoneware glaze' --cone 06"));
        // Somebody else packs while a question waits for its answer.
        let mut input = YesAfter::new(|| {
            let mut journal = Journal::open(&shop).unwrap();
            journal.append_checked(&event(None, LIT, packed("North")), LIT).unwrap();
        });
        let setting = Setting { answers: Some(""), who: "Ada", ..Setting::at(minutes(12)) };
        let said = typed_to(&shop, &line, &setting, &mut input);
        let error = said.error.unwrap();
        let wanted = "North was packed with gold, 40 pieces, by Ida 12 min ago, while this was being entered";
        assert!(error.starts_with(wanted) && said.code == 2 && said.out.is_empty(), "{error}");
        let mut journal = Journal::open(&bench.shop()).unwrap();
        let open = journal.shop().unwrap().open;
        assert_eq!((open.len(), open[0].state), (1, State::Planned));
        let packed = journal.last_event().unwrap().unwrap();
        journal.append_checked(&event(Some(open[0].id), LIT, strike(packed)), LIT).unwrap();
    }
}

/// A shop as earlier versions left it: North was packed by two people, each in a firing of its own.
fn packed_twice(path: &Path) -> Journal {
    let mut journal = Journal::open(path).unwrap();
    for at in [0, 2] {
        put(&mut journal, None, at, packed("North"));
    }
    journal
}

#[test]
fn regress_a_file_with_two_packings_of_one_kiln_goes_on() {
    let mut bench = Bench::new();
    let mut journal = packed_twice(&bench.shop());
    let older = journal.shop().unwrap().open[0].id;
    let status = bench.at(10).say("status");
    let events: Vec<_> =
        stored(&journal, Some(&[older])).iter().map(|one| one.event.id.0).collect();
    let [packing] = events[..] else { panic!("{events:?}") };
    let lines: Vec<&str> = status.lines().collect();
    assert_eq!(
        lines[0],
        format!(
            "North: packed, gold to cone 018. North holds another firing as well, packed or lit after this one: to take this packing back, use \"spyhole strike {packing} --reason TEXT\"."
        )
    );
    assert_eq!(lines[1], "North: packed, gold to cone 018. North is packed and can be lit.");
    // The younger one is meant by the name of the kiln and goes on as ever.
    assert_eq!(bench.json("pack North --pieces 7")["firing"], 2);
    assert_eq!(bench.json("light North")["firing"], 2);
    let lit_too =
        journal.append_checked(&event(Some(older), minutes(11), lit("North")), minutes(11));
    assert!(lit_too.unwrap_err().to_string().starts_with("North is lit already"));
    assert!(bench.say("status").contains("holds another firing as well"));
    bench.say(&format!("strike {packing} --reason twice"));
    let shop = journal.shop().unwrap();
    assert_eq!(shop.open.iter().map(|firing| firing.id).collect::<Vec<_>>(), [FiringId(2)]);
    assert!(!bench.say("status").contains("another firing"));
}

#[test]
fn law_a_record_with_two_packings_of_one_kiln_is_taken_in() {
    let line = |firing: i64, at: &str, rest: &str| {
        format!("{{\"at\": \"2026-03-14T{at}:00+01:00\", \"firing\": {firing}, {rest}}}\n")
    };
    let packed = "\"event\": \"packed\", \"kiln\": \"North\", \"load_type\": \"gold\"";
    let mut bench = Bench::new();
    let record = bench.shop().with_file_name("north.jsonl");
    // Two of one firing are one packing that was changed; that of another firing is kept as it is.
    let lines = [
        line(4, "09:10", packed),
        line(4, "09:20", &format!("{packed}, \"contents\": \"forty cups\"")),
        line(5, "09:30", packed),
    ];
    fs::write(&record, lines.concat()).unwrap();
    let lines = crate::records::read(&fs::read_to_string(&record).unwrap()).unwrap();
    let mut journal = Journal::open(&bench.shop()).unwrap();
    let taken = journal
        .import(lines.into_iter().map(Ok), LIT, spyhole::testing::edge::journal::Mode::Keep)
        .unwrap();
    assert_eq!((taken.events, taken.firings), (3, 2));
    let open = journal.shop().unwrap().open;
    assert_eq!(open[0].packing.as_ref().unwrap().contents, "forty cups");
    assert!(open.iter().all(|firing| firing.oddities.is_empty()));
    let status = bench.at(60).say("status");
    assert_eq!(status.matches("holds another firing as well").count(), 1, "{status}");
    assert_eq!(status.matches("\"spyhole strike ").count(), 2, "{status}");
}
