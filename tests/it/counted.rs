//! Outcomes in counts of pieces, and loads that were not fired.

use spyhole::testing::review::cost::{Costs, Lost, cost};
use spyhole::testing::review::outcomes::{By, outcomes, overshoots, went_with};
use spyhole::testing::review::prices::Kind as PriceKind;
use spyhole::testing::review::tolerance::tolerances;

use crate::journal::cli::Bench;
use crate::prelude::*;
use crate::records::read;
use crate::review::made::{Making, gold, judged, kiln, packed, price};

/// Good, under, over, broken and not fired.
fn counted(counts: [u32; 5]) -> Counted {
    let [good, under, over, broken, not_fired] = counts.map(Some);
    Counted { good, under, over, broken, not_fired }
}

/// A firing of 60 pieces worth 300.
fn of_sixty(id: i64, verdict: Verdict, counted: Counted) -> Firing {
    let lit = Making::default().lit + Span::hours(48 * id);
    let mut firing =
        packed(judged(Making { id, lit, ..Making::default() }.firing(), verdict, &[]), 60, 300.0);
    firing.outcome.as_mut().unwrap().1.counted = counted;
    firing
}

fn ledger(firings: &[Firing], load: LoadType) -> Ledger {
    let kilns = vec![kiln("North", Fuel::Gas)];
    Ledger::new(firings, kilns, vec![load], &Corrections::default(), Span::ZERO)
}

/// Three cones at 20 are all that is known to cost anything: firing again costs 60.
fn prices() -> Prices {
    Prices::new(vec![price(PriceKind::Cone, "", 20.0, "")])
}

fn lost(firing: &Firing, under: Miss, over: Miss) -> Option<Lost> {
    let load = LoadType { under, over, ..gold(0.5, 0.5) };
    let ledger = ledger(std::slice::from_ref(firing), load);
    cost(&ledger, &ledger.facts[0], &prices()).lost
}

/// A piece is worth 300 / 60 = 5, and its share of firing again is 60 / 60 = 1.
#[test]
fn law_what_is_lost_is_reckoned_by_the_piece() {
    use Miss::{FireAgain, Lost as Gone};
    use Verdict::{Good, NotFired, Over, Under};
    for (verdict, counts, under, over, expected) in [
        // 8 x 5, and 1 x 5.
        (Over, [51, 0, 8, 1, 0], FireAgain, Gone, [0.0, 40.0, 5.0]),
        // 8 x 1, and 1 x 5.
        (Over, [51, 0, 8, 1, 0], FireAgain, FireAgain, [0.0, 8.0, 5.0]),
        // 20 x 1.
        (Under, [40, 20, 0, 0, 0], FireAgain, Gone, [20.0, 0.0, 0.0]),
        // 20 x 5.
        (Under, [40, 20, 0, 0, 0], Gone, Gone, [100.0, 0.0, 0.0]),
        // 3 x 1, and 2 x 5: both sides at once.
        (Under, [55, 3, 2, 0, 0], FireAgain, Gone, [3.0, 10.0, 0.0]),
        // 2 x 5: a load that is good as a whole.
        (Good, [58, 0, 0, 2, 0], FireAgain, Gone, [0.0, 0.0, 10.0]),
        (NotFired, [0, 0, 0, 0, 60], Gone, Gone, [0.0, 0.0, 0.0]),
    ] {
        let found = lost(&of_sixty(1, verdict, counted(counts)), under, over).unwrap();
        let found = [found.under, found.over, found.broken];
        for (found, expected) in found.into_iter().zip(expected) {
            assert_abs_diff_eq!(found, expected, epsilon = 1e-9);
        }
    }
    // Nothing counted, or the misses not counted: the whole load.
    let none = Counted::default();
    let whole =
        |verdict, counted| lost(&of_sixty(1, verdict, counted), FireAgain, Gone).map(Lost::total);
    assert_eq!(whole(Over, none), Some(300.0));
    assert_eq!(whole(Under, none), Some(60.0));
    assert_eq!((whole(Good, none), whole(NotFired, none)), (Some(0.0), Some(0.0)));
    assert_eq!(whole(Over, Counted { broken: Some(1), ..none }), Some(300.0));
    // What was noted holds, whatever was counted.
    let mut noted = of_sixty(1, Over, counted([51, 0, 8, 1, 0]));
    noted.outcome.as_mut().unwrap().1.loss = Some(12.0);
    assert_eq!(lost(&noted, FireAgain, Gone), Some(Lost { over: 12.0, ..Lost::default() }));
    // Nobody said how many were packed: 10 of the 30 counted, 300 x 10 / 30; and of nobody knows how
    // many.
    let unpacked = |counted| {
        let mut firing = of_sixty(1, Over, counted);
        firing.packing.as_mut().unwrap().pieces = None;
        lost(&firing, FireAgain, Gone)
    };
    let over = Counted { over: Some(10), ..none };
    let found = unpacked(Counted { good: Some(20), ..over }).unwrap();
    assert_abs_diff_eq!(found.over, 100.0, epsilon = 1e-9);
    assert_eq!(unpacked(over), None);
}

#[test]
fn law_a_load_not_fired_is_in_no_statistic_and_pieces_have_a_share() {
    let none = Counted::default();
    let fired: Vec<Firing> = (1..10)
        .map(|id| match id {
            4 => of_sixty(id, Verdict::Over, counted([51, 0, 8, 1, 0])),
            7 => of_sixty(id, Verdict::Good, counted([57, 0, 1, 2, 0])),
            _ => of_sixty(id, Verdict::Good, none),
        })
        .collect();
    let mut not_fired = of_sixty(10, Verdict::NotFired, counted([0, 0, 0, 0, 60]));
    not_fired.aborted = not_fired.off.take().map(|at| (at, "gas ran out".into()));
    let all = [&fired[..], &[not_fired]].concat();
    let (fired, all) = (ledger(&fired, gold(0.5, 0.5)), ledger(&all, gold(0.5, 0.5)));
    let of_fired: Vec<&Facts> = fired.facts.iter().collect();
    let of_all: Vec<&Facts> = all.facts.iter().collect();
    assert_eq!(of_all.len(), of_fired.len() + 1);
    let rows = outcomes(Span::ZERO, &of_all, By::LoadType);
    assert_eq!(rows, outcomes(Span::ZERO, &of_fired, By::LoadType));
    assert_eq!((rows[0].good.hits, rows[0].over.hits, rows[0].good.of), (8, 1, 9));
    // 51 of 60 and 57 of 60.
    assert_eq!((rows[0].pieces.hits, rows[0].pieces.of), (108, 120));
    assert_eq!(went_with(&of_all), went_with(&of_fired));
    assert_eq!(overshoots(&of_all), overshoots(&of_fired));
    assert_eq!(tolerances(&all, &of_all), tolerances(&fired, &of_fired));
    let costs = Costs::of("all".into(), &of_fired, &fired, &prices());
    // Two loads at 60 each for 108 good pieces.
    assert_abs_diff_eq!(costs.per_good_piece.unwrap(), 120.0 / 108.0, epsilon = 1e-9);
    // 8 and 1 over at 5 each, 1 and 2 broken.
    assert_abs_diff_eq!(costs.lost.over, 45.0, epsilon = 1e-9);
    assert_abs_diff_eq!(costs.lost.broken, 15.0, epsilon = 1e-9);
    assert_eq!(Costs::of("all".into(), &of_all, &all, &prices()).lost, costs.lost);
}

/// North drawn, with 61 pieces packed.
fn drawn(steps: &[&str]) -> Bench {
    let mut bench = Bench::new();
    bench.say("pack North --load gold --pieces 61 --worth 305");
    for (minute, line) in (1..).zip(["light North"].iter().chain(steps).chain(&["drawn North"])) {
        bench.at(minute).say(line);
    }
    bench.at(10);
    bench
}

fn firing(bench: &Bench) -> Firing {
    Journal::open(&bench.shop()).unwrap().firing(FiringId(1)).unwrap()
}

#[test]
fn law_counts_above_what_was_packed_are_refused() {
    let bench = drawn(&["off North"]);
    for (counts, says) in [
        (
            "--good 54 --over 8",
            "62 pieces are counted, and 61 were packed in North: check the counts, or correct what was packed with \"spyhole pack North --firing ID --pieces 62 --at TIME\", at a time before it was lit",
        ),
        (
            "--note dull",
            "an outcome says how the load came out: add under, good, over or not-fired, or count its pieces with --good, --under, --over, --broken or --not-fired",
        ),
        ("not-fired", "this firing of North was not given up, so its load"),
        ("good --not-fired 3", "this firing of North was not given up, so its load"),
    ] {
        let said = bench.said(&format!("outcome North {counts}"), false);
        assert!(said.code == 2 && said.error.unwrap().starts_with(says), "{counts}");
    }
    assert_eq!(firing(&bench).outcome, None);
    // As the first sentence advises.
    bench.say("pack North --firing 1 --load gold --pieces 62 --worth 310 --at '10 min ago'");
    bench.say("outcome North --good 54 --over 8");
    assert_eq!(firing(&bench).outcome.unwrap().1.verdict, Verdict::Over);
}

#[test]
fn law_the_word_follows_from_the_counts_and_the_rest_from_what_was_packed() {
    for (line, verdict, counts) in [
        ("--over 8 --broken 1", Verdict::Over, "52 good, 8 over, 1 broken of 61"),
        ("--under 5 --over 3", Verdict::Under, "53 good, 5 under, 3 over of 61"),
        ("--under 3 --over 3", Verdict::Over, "55 good, 3 under, 3 over of 61"),
        ("--broken 2", Verdict::Good, "59 good, 2 broken of 61"),
        ("good --over 8", Verdict::Good, "53 good, 8 over of 61"),
        ("over --good 40", Verdict::Over, "40 good, 21 over of 61"),
        ("under --broken 1", Verdict::Under, "60 under, 1 broken"),
        ("--good 50", Verdict::Good, "50 good of 50"),
    ] {
        let bench = drawn(&["off North"]);
        bench.say(&format!("outcome North {line}"));
        let outcome = firing(&bench).outcome.unwrap().1;
        assert_eq!((outcome.verdict, &*outcome.counted.to_string()), (verdict, counts), "{line}");
    }
    let bench = drawn(&["abort North --reason 'gas ran out'"]);
    let said = bench.say("outcome North --not-fired 61");
    assert!(said.starts_with("North was not fired (61 not fired), noted at "), "{said}");
    assert_eq!(firing(&bench).outcome.unwrap().1.verdict, Verdict::NotFired);
    assert_eq!(bench.json("ledger --result not-fired")["firings"].as_array().unwrap().len(), 1);
}

#[test]
fn law_a_record_with_counts_comes_back_unchanged() {
    let bench = drawn(&["off North"]);
    let answer = bench.json("outcome North --over 8 --broken 1 --note dull");
    assert_eq!((&answer["over"], &answer["good"]), (&8.into(), &Value::Null));
    let record = bench.say("export");
    let line = record.lines().find(|line| line.contains("\"outcome\"")).unwrap();
    let said = r#""result":"over","note":"dull","over":8,"broken":1"#;
    assert!(line.replace(": ", ":").replace(", ", ",").contains(said), "{line}");
    let file = bench.shop().with_file_name("record.jsonl");
    fs::write(&file, &record).unwrap();
    let other = Bench::new();
    other.say(&format!("import {}", file.display()));
    // The number of an event is each shop's own.
    let outcome_of = |record: &str| {
        let line = record.lines().find(|line| line.contains("\"outcome\"")).unwrap();
        let mut object: serde_json::Map<String, Value> = serde_json::from_str(line).unwrap();
        object.remove("id").unwrap();
        object
    };
    assert_eq!(outcome_of(&other.say("export --firing 1")), outcome_of(&record));
    // In a record the word may be left out as well.
    let bare = r#"{"at": "2026-03-15T08:20:00+01:00", "event": "outcome", "good": 3, "under": 1}"#;
    let What::Outcome(outcome) = read(bare).unwrap().remove(0).what else { panic!("no outcome") };
    assert_eq!(outcome.verdict, Verdict::Under);
}
